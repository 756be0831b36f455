//! What is simulated: laws, numbers of seals, shares censored and ways of watching. All lives are invented.

use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::random::Stream;
use sealspan_records::{Observation, Sample};

const SEED: u64 = 20_261_125;

/// How failures come to be known.
#[derive(Clone, Copy, PartialEq)]
pub enum Watch {
    /// All seals fitted together and watched to one age.
    OneEnd,
    /// Seals fitted evenly over the time of watching.
    Staggered,
    /// Looked at eight times up to one age.
    Looks,
}

impl Watch {
    pub const ALL: [Self; 3] = [Self::OneEnd, Self::Staggered, Self::Looks];

    pub fn word(self) -> &'static str {
        match self {
            Self::OneEnd => "one-end",
            Self::Staggered => "staggered",
            Self::Looks => "looks",
        }
    }
}

/// One way of watching so many seals of one law.
pub struct Design {
    pub life: Life,
    pub seals: usize,
    pub censored: f64,
    pub watch: Watch,
    /// Age at which watching ends.
    end: f64,
}

impl Design {
    /// `None` for an unknown law, and for staggered seals none of which is censored.
    pub fn new(family: &str, seals: usize, censored: f64, watch: Watch) -> Option<Self> {
        let life = life(family)?;
        let end = end(&life, censored, watch);
        let out = Self {
            life,
            seals,
            censored,
            watch,
            end,
        };
        (watch != Watch::Staggered || censored > 0.0).then_some(out)
    }

    /// Failures expected.
    pub fn failures(&self) -> f64 {
        self.seals as f64 * (1.0 - self.censored)
    }

    /// Sample number `number`; the same number has the same lives in every design of one size.
    pub fn sample(&self, number: u64) -> Sample {
        let mut stream = Stream::new(SEED, number);
        let spacing = if self.end.is_finite() {
            self.end / 8.0
        } else {
            self.life.quantile(0.95) / 8.0
        };
        let rows = (0..self.seals).filter_map(|_| {
            let age = self.life.sample(stream.uniform());
            let last = match self.watch {
                Watch::Staggered => self.end * stream.uniform(),
                _ => self.end,
            };
            if age > last {
                return Observation::right(last, 0.0, 1.0).ok();
            }
            match self.watch {
                Watch::Looks => {
                    let upper = (age / spacing).ceil() * spacing;
                    Observation::interval(upper - spacing, upper, 0.0, 1.0).ok()
                }
                _ => Observation::exact(age, 0.0, 1.0).ok(),
            }
        });
        Sample::new(rows.collect())
    }

    /// The shape (sigma or q where the law has none), the B10 life, and the survival where one seal in four has
    /// failed, with their true values.
    pub fn asked(&self) -> [(Quantity, f64); 3] {
        let life = &self.life;
        let spread = life.parameters();
        let named = match life.family() {
            "weibull" | "gamma" | "three_parameter_weibull" | "weak_fraction_weibull" => "shape",
            "weibull_mixture" => "share_1",
            "generalised_gamma" => "q",
            _ => "sigma",
        };
        let at = spread.iter().position(|p| p.0 == named).unwrap_or(0);
        [
            (Quantity::Parameter(at), spread.get(at).map_or(0.0, |p| p.1)),
            (Quantity::Quantile(0.1), life.quantile(0.1)),
            (Quantity::Survival(life.quantile(0.25)), 0.75),
        ]
    }
}

fn life(family: &str) -> Option<Life> {
    match family {
        "weibull" => Life::weibull(2.0, 1000.0),
        "lognormal" => Life::lognormal(6.5, 0.6),
        "gamma" => Life::parse("gamma:shape=3,scale=300").ok(),
        "generalised_gamma" => Life::parse("generalised_gamma:mu=6.7,sigma=0.55,q=0.6").ok(),
        "three_parameter_weibull" => {
            Life::parse("three_parameter_weibull:shape=1.8,scale=800,failure_free_time=200").ok()
        }
        "weak_fraction_weibull" => {
            Life::parse("weak_fraction_weibull:shape=2.5,scale=400,weak_share=0.6").ok()
        }
        "weibull_mixture" => {
            Life::parse("weibull_mixture:share_1=0.35,shape_1=2,scale_1=200,shape_2=4,scale_2=1200")
                .ok()
        }
        _ => None,
    }
}

/// The end of watching that leaves this share running.
fn end(life: &Life, censored: f64, watch: Watch) -> f64 {
    if censored <= 0.0 {
        return f64::INFINITY;
    }
    if watch != Watch::Staggered {
        return life.quantile(1.0 - censored);
    }
    // Watched for a time even over 0 to `end`: share running is the mean survival.
    let running = |end: f64| {
        (0..400)
            .map(|i| life.survival(end * (f64::from(i) + 0.5) / 400.0))
            .sum::<f64>()
            / 400.0
    };
    let (mut low, mut high) = (1e-3, 1e7);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if running(middle) > censored {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

//! Samples of laws with several peaks, for the studies of their search. All lives are invented.

use sealspan_life::family::Family;
use sealspan_life::life::Life;
use sealspan_life::maximise::LogLikelihood;
use sealspan_life::quantity::Derivatives;
use sealspan_life::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_records::{Observation, Sample};

pub const SEED: u64 = 20_261_126;

/// The ages at which watching ends at the latest; the second where some are to be left running, if six in ten never
/// fail.
const LONGEST: f64 = 5_000.0;
const SHORTER: f64 = 600.0;

/// The laws that lives are drawn from, one sample in turn from each.
pub const TRUTHS: [(&str, &[&str]); 4] = [
    (
        "weibull_mixture",
        &[
            "weibull_mixture:share_1=0.3,shape_1=3,scale_1=200,shape_2=3,scale_2=900",
            "weibull_mixture:share_1=0.1,shape_1=1,scale_1=100,shape_2=2.5,scale_2=700",
            "weibull_mixture:share_1=0.5,shape_1=2,scale_1=400,shape_2=5,scale_2=800",
            "weibull:shape=2,scale=600",
        ],
    ),
    (
        "weak_fraction_weibull",
        &[
            "weak_fraction_weibull:shape=2,scale=300,weak_share=0.2",
            "weak_fraction_weibull:shape=1.2,scale=500,weak_share=0.6",
        ],
    ),
    (
        "three_parameter_weibull",
        &[
            "three_parameter_weibull:shape=1.5,scale=400,failure_free_time=200",
            "three_parameter_weibull:shape=3,scale=600,failure_free_time=100",
        ],
    ),
    (
        "generalised_gamma",
        &[
            "generalised_gamma:mu=6.5,sigma=0.5,q=1.5",
            "generalised_gamma:mu=6.5,sigma=0.5,q=-0.8",
            "lognormal:mu=6.5,sigma=0.5",
        ],
    ),
];

/// Sample `number`: 20, 60 or 200 seals; watched until nearly all have failed that ever do, or to the age at which six in ten have; ages
/// known, or between looks.
pub fn sample(life: &Life, number: u64) -> Sample {
    let mut stream = Stream::new(SEED, number);
    let seals = [20, 60, 200][(number / 4 % 3) as usize];
    let end = if (number / 12).is_multiple_of(2) {
        LONGEST
    } else {
        life.quantile(0.6).min(SHORTER)
    };
    let spacing = (number / 24 % 2 == 1).then(|| life.quantile(0.5) / 6.0);
    let row = |age: f64| match spacing {
        _ if age > end => Observation::right(end, 0.0, 1.0),
        None => Observation::exact(age, 0.0, 1.0),
        Some(spacing) => {
            let upper = (age / spacing).ceil() * spacing;
            Observation::interval(upper - spacing, upper, 0.0, 1.0)
        }
    };
    let rows = (0..seals).filter_map(|_| row(life.sample(stream.uniform())).ok());
    Sample::new(rows.collect())
}

/// A family's likelihood of a sample, to be climbed from any start.
pub struct Whole<'a> {
    /// The family.
    pub family: &'static dyn Family,
    /// The sample's terms.
    pub terms: &'a Terms,
}

impl LogLikelihood for Whole<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        self.family.log_likelihood(x, self.terms)
    }
    fn derivatives(&self, x: &[f64]) -> Derivatives {
        self.family.log_likelihood_derivatives(x, self.terms)
    }
    fn weight(&self) -> f64 {
        self.terms.extent.total
    }
}

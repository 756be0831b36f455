//! The sums of the library that are timed against size, each made ready from invented data.

use crate::gasket::{HANDLING, PRICES, gasket, on_an_uneven_ring};
use crate::lives::{
    censored, defect_fit, histories, levels_and_a_number, lives, looked_at, whole_days,
};
use crate::months::Year;
use polars::prelude::*;
use sealspan_care::costs::Costs;
use sealspan_care::evaluate::Prepared;
use sealspan_care::policy::{CarePolicy, Policy};
use sealspan_care::simulate::{play, simulate};
use sealspan_care::terms::Terms;
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::defects::DefectQuantity;
use sealspan_life::fit::fit;
use sealspan_life::intervals::Intervals;
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_life::refits::Refits;
use sealspan_life::regression::fit_design;
use sealspan_life::{product_limit, turnbull};
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;
use sealspan_records::write::{write_csv, write_parquet};
use sealspan_records::{LoadOptions, Question, Sample, Seen, ask, load};
use std::hint::black_box;
use std::path::{Path, PathBuf};

/// What is timed: made ready for a size, then done as often as asked.
pub type Sum = Box<dyn Fn()>;

/// Makes a sum ready for a size.
pub type Ready = fn(usize) -> Sum;

fn sum<T>(work: impl Fn() -> T + 'static) -> Sum {
    Box::new(move || {
        let _ = black_box(work());
    })
}

/// The sums and how each is made ready.
pub const ALL: [(&str, Ready); 29] = [
    ("read CSV", |n| read(csv(n))),
    ("read Parquet, one file", |n| read(parquet(n))),
    ("reduction to counts, whole days", |n| {
        let sample = whole_days(n);
        sum(move || sample.reduce())
    }),
    ("reduction to counts, all different", |n| {
        let sample = lives(n);
        sum(move || sample.reduce())
    }),
    ("fit exponential", |n| law("exponential", lives(n))),
    ("fit Weibull", |n| law("weibull", lives(n))),
    ("fit Weibull, whole days", |n| {
        law("weibull", whole_days(n).reduce())
    }),
    ("fit lognormal", |n| law("lognormal", lives(n))),
    ("fit log-logistic", |n| law("loglogistic", lives(n))),
    ("fit normal", |n| law("normal", lives(n))),
    ("fit gamma", |n| law("gamma", lives(n))),
    ("fit generalised gamma", |n| {
        law("generalised_gamma", lives(n))
    }),
    ("fit Weibull from an age on", |n| {
        law(
            "three_parameter_weibull",
            censored(n, |s| 100.0 + weibull(s, 1.8, 1000.0)),
        )
    }),
    ("fit Weibull, a fraction weak", |n| {
        let weak = |s: &mut Stream| {
            let life = weibull(s, 1.8, 500.0);
            if s.uniform() < 0.4 {
                life
            } else {
                f64::INFINITY
            }
        };
        law("weak_fraction_weibull", censored(n, weak))
    }),
    ("fit mixture of two Weibull", |n| {
        let either = |s: &mut Stream| {
            let scale = if s.uniform() < 0.3 { 150.0 } else { 1200.0 };
            weibull(s, 3.0, scale)
        };
        law("weibull_mixture", censored(n, either))
    }),
    ("Weibull with profile bounds of three", profile),
    ("regression, 20 levels and a number", |n| {
        let design = levels_and_a_number(&lives(n));
        sum(move || fit_design(by_name("weibull").unwrap(), &design).unwrap())
    }),
    ("bootstrap, 1,000 refits of Weibull", |n| {
        let sample = lives(n);
        let found = fit(by_name("weibull").unwrap(), &sample).unwrap();
        sum(move || Refits::new(&found, &sample, 1_000, 1).unwrap())
    }),
    ("calibrated bounds of three, Weibull", |n| {
        calibrated("weibull", n)
    }),
    ("calibrated bounds of three, gamma", |n| {
        calibrated("gamma", n)
    }),
    ("product limit", |n| {
        let sample = lives(n);
        sum(move || product_limit::curve(&sample, 0.9))
    }),
    ("interval curve (Turnbull)", |n| {
        let sample = looked_at(n, 0.0);
        sum(move || turnbull::curve(&sample, 0.9))
    }),
    ("interval curve, exact days among them", |n| {
        let sample = looked_at(n, 0.1);
        sum(move || turnbull::curve(&sample, 0.9))
    }),
    ("defect model", |n| {
        let list = histories(n);
        sum(move || defect_fit(list.clone()))
    }),
    ("defect model, bounds of the mean delay", |n| {
        let found = defect_fit(histories(n));
        let asked = DefectQuantity::Delay(Quantity::Mean);
        sum(move || found.bounds(asked, 0.9))
    }),
    ("evaluator, policies on an uneven ring", evaluator),
    ("simulator, seals replaced at an age", |n| {
        let costs = Costs::new(PRICES, Clock::Days).unwrap();
        let life = Life::weibull(2.5, 400.0).unwrap();
        sum(move || simulate(&life, Policy::ReplaceAtAge(200.0), &costs, n, 1).unwrap())
    }),
    ("simulator, seals looked at", |n| {
        let costs = Costs::new(PRICES, Clock::Days).unwrap();
        let terms = Terms::new(&costs, &HANDLING).unwrap();
        let (seal, policy) = (gasket(), CarePolicy::inspect_every(50.0));
        sum(move || play(&seal, &policy, &terms, n, 1).unwrap())
    }),
    ("forecast, a year by month", |n| {
        let year = Year::of(n);
        sum(move || year.answer())
    }),
];

fn weibull(stream: &mut Stream, shape: f64, scale: f64) -> f64 {
    scale * stream.exponential().powf(1.0 / shape)
}

fn law(name: &'static str, sample: Sample) -> Sum {
    sum(move || fit(by_name(name).unwrap(), &sample).unwrap())
}

/// Both parameters and the B10 life.
const ASKED: [Quantity; 3] = [
    Quantity::Parameter(0),
    Quantity::Parameter(1),
    Quantity::Quantile(0.1),
];

fn profile(size: usize) -> Sum {
    let sample = lives(size);
    sum(move || {
        let found = fit(by_name("weibull").unwrap(), &sample).unwrap();
        ASKED.map(|q| bounds(&found, q, Method::Profile, 0.9))
    })
}

fn calibrated(law: &'static str, size: usize) -> Sum {
    let sample = lives(size);
    sum(move || {
        let found = fit(by_name(law).unwrap(), &sample).unwrap();
        let intervals = Intervals::new(&found, &sample, Method::Calibrated, 0.9, 1);
        ASKED.map(|q| intervals.of(q).bounds)
    })
}

/// Looks that turn the seal by a quarter, each policy at a step of its own.
fn evaluator(policies: usize) -> Sum {
    let costs = Costs::new(PRICES, Clock::Days).unwrap();
    let terms = Terms::new(&costs, &HANDLING).unwrap();
    let seal = Prepared::new(&on_an_uneven_ring()).unwrap();
    sum(move || {
        for at in 0..policies {
            let step = 20.0 + 180.0 * at as f64 / policies as f64;
            let policy = CarePolicy {
                looks: CarePolicy::inspect_every(step).looks,
                ..CarePolicy::turn_every(step)
            };
            let _ = black_box(seal.evaluate(&policy, &terms).unwrap());
        }
    })
}

/// A table of lives on the disk, gone when the sum is dropped.
struct File(PathBuf);

impl Drop for File {
    fn drop(&mut self) {
        std::fs::remove_file(&self.0).unwrap();
    }
}

fn csv(rows: usize) -> File {
    table(rows, "csv", |frame, path| write_csv(frame, path).unwrap())
}

fn parquet(rows: usize) -> File {
    table(rows, "parquet", |frame, path| {
        write_parquet(frame, path).unwrap()
    })
}

/// Ages to 0.0001 days and how they ended.
fn table(rows: usize, form: &str, write: impl Fn(&mut DataFrame, &Path)) -> File {
    let path = std::env::temp_dir().join(format!("sealspan-sizes-{}.{form}", std::process::id()));
    let sample = lives(rows);
    let time = sample
        .rows()
        .iter()
        .map(|o| ((o.last() * 1e4).round() / 1e4).max(1e-4));
    let status = sample
        .rows()
        .iter()
        .map(|o| i32::from(!matches!(o.seen(), Seen::Right(_))));
    let columns = vec![
        Column::new("time".into(), time.collect::<Vec<f64>>()),
        Column::new("status".into(), status.collect::<Vec<i32>>()),
    ];
    let mut frame = DataFrame::new(rows, columns).unwrap();
    drop(sample);
    write(&mut frame, &path);
    File(path)
}

/// From the file to the observations of one group.
fn read(file: File) -> Sum {
    sum(move || {
        let records = load(&file.0, &LoadOptions::default()).unwrap();
        ask(&records, &Question::default()).unwrap()
    })
}

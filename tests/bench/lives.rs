//! Invented lives that the benchmarks share: Weibull, shape 1.8, scale 1000 days, censored uniformly over 0 to 2000 or
//! looked at now and then.

use sealspan_life::defects::simulate::{LookPlan, simulate};
use sealspan_life::defects::{DefectFit, Model, StageLaw};
use sealspan_life::life::Life;
use sealspan_life::regression::{Design, Line};
use sealspan_life::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_records::history::History;
use sealspan_records::{Observation, Sample, Seen};
use std::sync::Arc;

const SHAPE: f64 = 1.8;
const SCALE: f64 = 1000.0;

/// Right-censored lives with ages that are all different.
pub fn lives(count: usize) -> Sample {
    censored(count, |stream| {
        SCALE * stream.exponential().powf(1.0 / SHAPE)
    })
}

/// Lives drawn one by one, each censored at an age of its own.
pub fn censored(count: usize, mut life: impl FnMut(&mut Stream) -> f64) -> Sample {
    let mut stream = Stream::new(42, 0);
    let rows = (0..count).map(|_| {
        let life = life(&mut stream);
        let censored = 2.0 * SCALE * stream.uniform();
        if life <= censored {
            Observation::exact(life, 0.0, 1.0).unwrap()
        } else {
            Observation::right(censored, 0.0, 1.0).unwrap()
        }
    });
    Sample::new(rows.collect())
}

/// The same lives in whole days.
pub fn whole_days(count: usize) -> Sample {
    let days = |o: &Observation| match o.seen() {
        Seen::Right(t) => Observation::right(t.ceil(), 0.0, 1.0).unwrap(),
        _ => Observation::exact(o.last().ceil(), 0.0, 1.0).unwrap(),
    };
    Sample::new(lives(count).rows().iter().map(days).collect())
}

/// Days of the looks: at most this many distinct ones.
const DAYS: usize = 2_000;

/// Seals looked at up to eight times, at a gap of 1 to 400 days of their own; `noticed` of the failures are noticed on
/// the day itself.
pub fn looked_at(count: usize, noticed: f64) -> Sample {
    let mut stream = Stream::new(42, 1);
    let rows = (0..count).map(|_| {
        let life = SCALE * stream.exponential().powf(1.0 / SHAPE);
        let gap = 1 + stream.below(400);
        let first = 1 + stream.below(gap);
        let looks = 1 + stream.below(8);
        let days = (0..looks).map(|k| (first + k * gap).min(DAYS) as f64);
        let sound = days.clone().take_while(|d| *d < life).last().unwrap_or(0.0);
        match days.clone().find(|d| *d >= life) {
            Some(_) if stream.uniform() < noticed => Observation::exact(life.ceil(), 0.0, 1.0),
            Some(found) => Observation::interval(sound, found, 0.0, 1.0),
            None => Observation::right(sound, 0.0, 1.0),
        }
        .unwrap()
    });
    Sample::new(rows.collect())
}

/// A factor of 20 levels with a number beside it, different for every seal: no two design rows are equal and nothing
/// can be gathered.
pub fn levels_and_a_number(sample: &Sample) -> Design {
    let mut stream = Stream::new(42, 2);
    let lines = sample.rows().iter().enumerate().map(|(at, o)| {
        let number = stream.normal();
        let level = at % 20;
        let mut row = vec![(0, 1.0)];
        row.extend((level > 0).then_some((level, 1.0)));
        row.push((20, number));
        Line {
            row,
            offset: 0.0,
            stratum: 0,
            terms: Arc::new(Terms::new(&Sample::new(vec![*o]))),
        }
    });
    Design {
        names: (0..=20).map(|at| format!("column {at}")).collect(),
        lines: lines.collect(),
        strata: 1,
        penalties: vec![],
    }
}

/// Histories with about ten looks each, in no two alike.
pub fn histories(count: usize) -> Vec<History> {
    let mut stream = Stream::new(42, 1);
    let (defect, delay) = (Life::weibull(2.6, 900.0), Life::weibull(1.8, 150.0));
    let plan = LookPlan {
        every: 60.0,
        jitter: 20.0,
        skipped: 0.0,
        until: (600.0, 1200.0),
        entry: 0.0,
        detection: 0.7,
    };
    let (defect, delay) = (defect.unwrap(), delay.unwrap());
    (0..count)
        .map(|_| simulate(&defect, &delay, &plan, &mut stream).unwrap())
        .collect()
}

/// The two-stage model fitted to histories.
pub fn defect_fit(list: Vec<History>) -> DefectFit {
    let model = Model {
        defect: StageLaw::Weibull,
        delay: StageLaw::Weibull,
        detection: None,
    };
    sealspan_life::defects::fit(model, list).unwrap()
}

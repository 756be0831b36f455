//! Ages drawn within intervals, from a fitted regression or from the interval curve.

use crate::regression::{Place, Regression};
use crate::turnbull::IntervalCurve;
use nalgebra::DVector;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::{Observation, Seen};

/// Seals of one row that get ages of their own; beyond it they share them evenly.
const MOST_AGES: f64 = 200.0;

/// Writes an observation to `out` with its interval, if it has one, replaced by drawn ages: one for each seal of its
/// count, 200 at most, which then share the seals evenly. `draw` is given the interval's ends; an age that it gives
/// outside of (lower, upper] is put in the middle.
///
/// ```
/// use sealspan_life::imputation::completed;
/// use sealspan_records::Observation;
/// let (mut ages, mut out) = ([41.0, 45.0].into_iter(), vec![]);
/// let two = Observation::interval(40.0, 50.0, 0.0, 2.0).unwrap();
/// completed(&two, &mut |_, _| ages.next().unwrap(), &mut out);
/// let one = |age| Observation::exact(age, 0.0, 1.0).unwrap();
/// assert_eq!(out, [one(41.0), one(45.0)]);
/// ```
pub fn completed(
    o: &Observation,
    draw: &mut dyn FnMut(f64, f64) -> f64,
    out: &mut Vec<Observation>,
) {
    let Seen::Interval(lower, upper) = o.seen() else {
        out.push(*o);
        return;
    };
    let count = o.count();
    let parts = count.ceil().clamp(1.0, MOST_AGES);
    let whole = count == count.round();
    for i in 0..parts as usize {
        let (from, to) = (i as f64 * count / parts, (i as f64 + 1.0) * count / parts);
        let share = if whole {
            (to + 1e-6).floor() - (from + 1e-6).floor()
        } else {
            to - from
        };
        let age = draw(lower, upper);
        let inside = age > lower && age <= upper;
        let age = if inside { age } else { 0.5 * (lower + upper) };
        out.extend(Observation::exact(age, o.entry(), share));
    }
}

/// Draws from one law for all, as the interval curve of all lives has it: under the hypothesis of no
/// difference. Within a stretch, whose inside the curve leaves open, evenly.
pub struct FromCurve {
    masses: Vec<(f64, f64, f64)>,
    /// Share before each mass, and after the last.
    before: Vec<f64>,
    stream: Stream,
}

impl FromCurve {
    /// From a curve; `index` numbers the copy.
    #[must_use]
    pub(crate) fn new(curve: &IntervalCurve, seed: u64, index: u64) -> Self {
        let own = curve.masses.iter().map(|m| (m.lower, m.upper, m.share));
        Self::of_masses(own.collect(), seed, index)
    }

    /// From stretches (lower, upper] in order of age, each with the share failing in it.
    #[must_use]
    pub(crate) fn of_masses(masses: Vec<(f64, f64, f64)>, seed: u64, index: u64) -> Self {
        let mut before = vec![0.0];
        let mut sum = 0.0;
        for (.., share) in &masses {
            sum += share;
            before.push(sum);
        }
        Self {
            masses,
            before,
            stream: Stream::new(seed, index),
        }
    }

    /// An age in (lower, upper].
    pub(crate) fn draw(&mut self, lower: f64, upper: f64) -> f64 {
        let up_to = |age: f64| self.masses.partition_point(|m| m.1 <= age);
        let (first, end) = (up_to(lower), up_to(upper));
        let sum = |at: usize| self.before.get(at).copied().unwrap_or(1.0);
        let (from, to) = (sum(first), sum(end));
        let (pick, place) = (self.stream.uniform(), self.stream.uniform());
        let aim = from + pick * (to - from);
        let at = self.before.partition_point(|b| *b <= aim).saturating_sub(1);
        let stretch = self
            .masses
            .get(at.clamp(first, end.saturating_sub(1).max(first)));
        match stretch.filter(|_| to > from) {
            Some((from, to, _)) if from == to => *to,
            Some((from, to, _)) => from + place * (to - from),
            None => lower + place * (upper - lower),
        }
    }
}

/// Draws from the fitted regression: its unknowns are drawn anew for every copy from the normal law of the
/// estimate, so that copies differ by what the fit leaves open too. Between a and b the age is where S falls to
/// S(a) − u (S(a) − S(b)), u uniform.
///
/// ```
/// use sealspan_life::imputation::FromRegression;
/// use sealspan_life::regression::{Cell, Place, regress};
/// use sealspan_life::{laws::by_name, terms::Terms};
/// use sealspan_records::{Observation, Sample};
/// let ages = [0.2e6, 0.6e6, 1.0e6, 2.2e6].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
/// let cell = Cell { row: vec![1.0], terms: Terms::new(&Sample::new(ages.into())).into() };
/// let fit = regress(by_name("exponential").unwrap(), &["intercept".to_owned()], &[cell]).unwrap();
/// let places = [Place { row: vec![(0, 1.0)], offset: 0.0, stratum: 0 }];
/// let mut from = FromRegression::new(&fit, &places, 1, 0).unwrap();
/// // A constant rate of one in a million: failures between 40 and 50 lie evenly there, with the mean 45.
/// let drawn: Vec<f64> = (0..2_000).map(|_| from.draw(0, 40.0, 50.0)).collect();
/// assert!(drawn.iter().all(|age| *age > 40.0 && *age <= 50.0));
/// // Five standard errors of the mean of so many even draws.
/// let error = 10.0 / (12.0 * 2_000.0_f64).sqrt();
/// assert!((drawn.iter().sum::<f64>() / 2_000.0 - 45.0).abs() < 5.0 * error);
/// ```
pub struct FromRegression<'a> {
    fit: Regression,
    places: &'a [Place],
    stream: Stream,
}

impl<'a> FromRegression<'a> {
    /// `index` numbers the copy; `places` are the design rows. `None` where the estimate's covariance is not positive
    /// definite.
    #[must_use]
    pub fn new(fit: &Regression, places: &'a [Place], seed: u64, index: u64) -> Option<Self> {
        let mut stream = Stream::new(seed, index);
        let root = fit.covariance.clone().cholesky()?.l();
        let normal = DVector::from_fn(fit.x.len(), |_, _| stream.normal());
        let off = root * normal;
        let x = fit.x.iter().zip(off.iter()).map(|(x, step)| x + step);
        Some(Self {
            fit: Regression {
                x: x.collect(),
                ..fit.clone()
            },
            places,
            stream,
        })
    }

    /// An age in (lower, upper], but for rounding, of a life with the design row number `design`; drawn evenly where
    /// there is no such row or the law has no number there.
    pub fn draw(&mut self, design: usize, lower: f64, upper: f64) -> f64 {
        let u = self.stream.uniform();
        let even = lower + u * (upper - lower);
        let Some(place) = self.places.get(design) else {
            return even;
        };
        let theta = self.fit.theta(&place.row, place.offset, place.stratum);
        let family = self.fit.family;
        let ln_from = if lower > 0.0 {
            family.ln_survival(&theta, lower)
        } else {
            0.0
        };
        // ln of the share that fails in the interval, of those that reach it.
        let failing = -(family.ln_survival(&theta, upper) - ln_from).exp_m1();
        let ln_share = ln_from + (-u * failing).ln_1p();
        let age = family.ln_age_at(&theta, ln_share).exp();
        if age.is_finite() { age } else { even }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::laws::by_name;
    use crate::regression::{Cell, regress};
    use crate::terms::Terms;
    use sealspan_records::Sample;

    /// A law so steep that it has no number for a stretch far beyond its ages: there ages are drawn evenly.
    #[test]
    fn where_the_law_has_no_number_ages_are_even() {
        let ages = [100.0, 100.1, 100.2, 100.3].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let cell = Cell {
            row: vec![1.0],
            terms: Terms::new(&Sample::new(ages.into())).into(),
        };
        let weibull = by_name("weibull").unwrap();
        let fit = regress(weibull, &["intercept".to_owned()], &[cell]).unwrap();
        let places = [Place {
            row: vec![(0, 1.0)],
            offset: 0.0,
            stratum: 0,
        }];
        let mut from = FromRegression::new(&fit, &places, 1, 0).unwrap();
        let number = 1_000;
        let drawn: Vec<f64> = (0..number).map(|_| from.draw(0, 1e4, 1.5e4)).collect();
        assert!(drawn.iter().all(|age| *age > 1e4 && *age <= 1.5e4));
        // Five standard errors of a mean of so many.
        let error = 5e3 / (12.0 * f64::from(number)).sqrt();
        let mean = drawn.iter().sum::<f64>() / f64::from(number);
        assert!((mean - 1.25e4).abs() < 5.0 * error, "{mean}");
        // Nor are there ages of a row that no place has.
        let age = from.draw(7, 40.0, 50.0);
        assert!(age > 40.0 && age <= 50.0, "{age}");
    }

    /// An age drawn outside its interval (beyond 40, up to 50) gives way to the middle; one at the later look stays.
    #[test]
    fn an_age_drawn_outside_its_interval_becomes_the_middle() {
        let one = Observation::interval(40.0, 50.0, 0.0, 1.0).unwrap();
        for (drawn, want) in [(55.0, 45.0), (12.0, 45.0), (40.0, 45.0), (50.0, 50.0)] {
            let mut out = vec![];
            completed(&one, &mut |_, _| drawn, &mut out);
            assert_eq!(
                out,
                [Observation::exact(want, 0.0, 1.0).unwrap()],
                "{drawn}"
            );
        }
    }

    /// Where the curve has no mass between two looks nothing tells ages in between apart: they are even.
    #[test]
    fn where_the_curve_has_no_mass_ages_are_even() {
        let mut from = FromCurve::of_masses(vec![(10.0, 20.0, 0.5), (60.0, 80.0, 0.5)], 1, 0);
        let number = 1_000;
        let drawn: Vec<f64> = (0..number).map(|_| from.draw(30.0, 50.0)).collect();
        assert!(drawn.iter().all(|age| *age > 30.0 && *age <= 50.0));
        // Five standard errors of a mean of so many.
        let error = 20.0 / (12.0 * f64::from(number)).sqrt();
        let mean = drawn.iter().sum::<f64>() / f64::from(number);
        assert!((mean - 40.0).abs() < 5.0 * error, "{mean}");
    }
}

//! The gamma law's end at shape 0. Where all that is seen sound entered late, the law from each entry on goes over into
//! density e^{−t/s}/t, survival the exponential integral E₁(t/s): nearly all seals fail at once, and the likelihood of
//! those that were still there is finite. Intervals that reach so far end there.

use crate::law::{Age, AtLimit, Limit};
use crate::laws::gamma::Gamma;
use crate::laws::limits::{all_late, constant_share};
use crate::laws::powers::FARTHEST;
use crate::likelihood;
use crate::quantity::Quantity;
use crate::terms::Terms;
use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_numeric::roots::{bracket_from, bracketed};

/// Looks at ln of the scale before the best is searched for more closely.
const LOOKS: usize = 60;
/// Precision of ln of the scale.
const TOLERANCE: f64 = 1e-9;
/// First step outwards from the best scale.
const STEP: f64 = 0.25;
/// Doublings of a step.
const DOUBLINGS: usize = 40;
/// ln of shapes at which laws of the family are held against its end.
const SHAPES: [f64; 12] = [
    -8.0, -6.0, -4.0, -3.0, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0,
];
/// E₁ is summed by its series below this, with so many terms; above it by a continued fraction of so many fractions.
const SERIES: f64 = 2.0;
const TERMS: u32 = 30;
const FRACTIONS: u32 = 80;
const EULER: f64 = 0.577_215_664_901_532_9;

/// The likeliest law at shape 0, for the gamma law's [`crate::law::Law::limits`].
pub(super) fn limits(terms: &Terms) -> Vec<Limit> {
    let Some(nought) = Nought::of(terms) else {
        return constant_share(terms, 1.0).into_iter().collect();
    };
    let words = "every seal that was seen sound entered late, and the likelihood is highest as the shape goes to 0, where nearly all seals fail at once and the few left fail ever more slowly: this law has no estimate";
    vec![Limit {
        value: nought.top().1,
        words,
    }]
}

/// How far a quantity goes over the laws at shape 0 with a log-likelihood of at least `cut`.
pub(super) fn end(quantity: Quantity, terms: &Terms, cut: f64, side: f64) -> Option<AtLimit> {
    let nought = Nought::of(terms)?;
    if nought.top().1 < cut {
        return None;
    }
    let run_off = Some(AtLimit {
        value: side * f64::INFINITY,
        farthest: true,
    });
    match quantity {
        // Shape, mean and every age by which a share fails go to 0; a survival's index grows as it falls to 0.
        Quantity::Parameter(0) | Quantity::Mean | Quantity::Quantile(_) if side < 0.0 => run_off,
        Quantity::Survival(_) if side > 0.0 => run_off,
        Quantity::Parameter(1) => {
            let value = nought.farthest(cut, side)?;
            let beyond = |ln_shape: &f64| {
                let theta = [value + ln_shape, *ln_shape];
                likelihood::value::<2, Gamma>(theta, terms) > cut
            };
            Some(AtLimit {
                value,
                farthest: value.is_infinite() || !SHAPES.iter().any(beyond),
            })
        }
        Quantity::Remaining { age, p } if age > 0.0 => {
            let value = remaining(nought.farthest(cut, side)?, age, p)?;
            Some(AtLimit {
                value,
                farthest: false,
            })
        }
        _ => None,
    }
}

/// Terms all of which entered late.
struct Nought<'a> {
    terms: &'a Terms,
}

impl<'a> Nought<'a> {
    fn of(terms: &'a Terms) -> Option<Self> {
        all_late(terms).then_some(Self { terms })
    }

    /// Log-likelihood at a scale.
    fn value(&self, ln_s: f64) -> f64 {
        let ln_alive = |age: Age| ln_exponential_integral(age.ln - ln_s);
        let density = self.terms.density.iter();
        let density = density.map(|p| p.weight * (-(p.age.ln - ln_s).exp() - p.age.ln));
        let survival = self.terms.survival.iter();
        let survival = survival.map(|p| p.weight * ln_alive(p.age));
        let between = self.terms.interval.iter().filter_map(|s| {
            let (lower, upper) = (ln_alive(s.lower?), ln_alive(s.upper));
            Some(s.weight * (lower + (-(upper - lower).exp_m1()).ln()))
        });
        density.sum::<f64>() + survival.sum::<f64>() + between.sum::<f64>()
    }

    /// ln of the likeliest scale, and the log-likelihood there.
    fn top(&self) -> (f64, f64) {
        let oldest = self.terms.extent.oldest.ln();
        let at = |i: usize| oldest - FARTHEST + 3.0 * FARTHEST * i as f64 / LOOKS as f64;
        let value = |i: &usize| self.value(at(*i));
        let best = (0..=LOOKS).max_by(|a, b| value(a).total_cmp(&value(b)));
        let best = best.unwrap_or(0);
        let (low, high) = (at(best.saturating_sub(1)), at((best + 1).min(LOOKS)));
        let (ln_s, least) = minimise_bracketed(|u| -self.value(u), low, high, TOLERANCE);
        (ln_s, -least)
    }

    /// ln of the least or greatest scale with a log-likelihood of at least `cut`; infinite where so far none is less.
    fn farthest(&self, cut: f64, side: f64) -> Option<f64> {
        let left = |ln_s: f64| (self.value(ln_s) - cut).max(-f64::MAX);
        let (top, _) = self.top();
        match bracket_from(left, top, side * STEP, DOUBLINGS) {
            Some((low, high)) => bracketed(left, low, high, TOLERANCE),
            None => Some(side * f64::INFINITY),
        }
    }
}

/// ln of the time that a share `p` of those of an age have left.
fn remaining(ln_s: f64, age: f64, p: f64) -> Option<f64> {
    let target = ln_exponential_integral(age.ln() - ln_s) + (-p).ln_1p();
    let left = |ln_x: f64| ln_exponential_integral((age + ln_x.exp()).ln() - ln_s) - target;
    let start = age.ln().min(ln_s);
    let step = if left(start) > 0.0 { 1.0 } else { -1.0 };
    let (low, high) = bracket_from(left, start, step, DOUBLINGS)?;
    bracketed(left, low, high, TOLERANCE)
}

/// ln ∫ₓ^∞ e^{−y}/y dy at ln x: by its series for small x, else by its continued fraction (Abramowitz & Stegun 1964,
/// 5.1.11 and 5.1.22, from memory).
fn ln_exponential_integral(ln_x: f64) -> f64 {
    let x = ln_x.exp();
    if x < SERIES {
        let (mut term, mut sum) = (1.0, 0.0);
        for k in 1..TERMS {
            term *= -x / f64::from(k);
            sum -= term / f64::from(k);
        }
        return (sum - ln_x - EULER).ln();
    }
    // e^{−x} / (x + 1 − 1/(x + 3 − 4/(x + 5 − …))), from its far end.
    let mut below = 0.0;
    for k in (1..FRACTIONS).rev() {
        let k = f64::from(k);
        below = k * k / (x + 2.0 * k + 1.0 - below);
    }
    -x - (x + 1.0 - below).ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::law::Law;
    use sealspan_records::{Observation, Sample};

    /// Values of 30-digit arithmetic.
    #[test]
    fn the_exponential_integral_keeps_its_digits() {
        for (x, want) in [
            (1e-30_f64, 4.226_838_666_787_746),
            (0.1, 0.600_441_782_494_886_2),
            (1.0, -1.516_931_959_002_045_6),
            (1.5, -2.302_389_288_098_749),
            (2.0, -3.017_967_438_628_218),
            (2.5, -3.692_288_543_651_162_5),
            (10.0, -12.390_724_371_937_408),
            (700.0, -706.552_505_857_807_8),
        ] {
            let got = ln_exponential_integral(x.ln());
            assert!((got / want - 1.0).abs() < 1e-13, "{x}: {got} {want}");
        }
    }

    /// The law of the family at a shape near 0 has the same likelihood, and lives left like those it gives.
    #[test]
    fn the_end_is_where_the_family_goes() {
        let rows = [
            (100.0, 150.0, true),
            (200.0, 260.0, true),
            (120.0, 400.0, false),
        ];
        let looks = Observation::interval(110.0, 140.0, 80.0, 1.0);
        let rows = rows.iter().map(|(entry, age, failed)| match failed {
            true => Observation::exact(*age, *entry, 1.0),
            false => Observation::right(*age, *entry, 1.0),
        });
        let rows = rows.chain([looks]).filter_map(Result::ok);
        let terms = Terms::new(&Sample::new(rows.collect()));
        let near = |ln_s: f64| likelihood::value::<2, Gamma>([ln_s - 12.0, -12.0], &terms);
        let nought = Nought { terms: &terms };
        for ln_s in [4.0, 5.0, 6.5] {
            let (got, want) = (nought.value(ln_s), near(ln_s));
            assert!((got - want).abs() < 1e-4, "{ln_s}: {got} {want}");
            let theta = [ln_s - 12.0, -12.0];
            let left = remaining(ln_s, 150.0, 0.1)
                .map(f64::exp)
                .unwrap_or(f64::NAN);
            let ln_alive = |t: f64| Gamma::ln_survival(theta, Age::new(t));
            let share = (ln_alive(150.0 + left) - ln_alive(150.0)).exp();
            assert!((share - 0.9).abs() < 1e-5, "{ln_s}: {share}");
        }
        let (ln_s, top) = nought.top();
        let end = |side: f64| nought.farthest(top - 0.5, side).unwrap_or(f64::NAN);
        assert!(end(-1.0) < ln_s && ln_s < end(1.0));
        for side in [-1.0, 1.0] {
            assert!((nought.value(end(side)) - top + 0.5).abs() < 1e-6);
        }
    }

    /// An end of the scale at shape 0 is the farthest where no law of the family with that scale, at whatever shape, is
    /// more likely than the cut.
    #[test]
    fn an_end_of_the_scale_is_held_against_the_family() {
        let mut told = [0, 0];
        for sound in [400.0, 1500.0] {
            let rows = [
                Observation::exact(150.0, 100.0, 1.0),
                Observation::exact(260.0, 200.0, 1.0),
                Observation::right(sound, 120.0, 1.0),
            ];
            let terms = Terms::new(&Sample::new(
                rows.into_iter().filter_map(Result::ok).collect(),
            ));
            let (_, top) = Nought { terms: &terms }.top();
            for (fall, side) in [0.3, 1.35, 4.0]
                .into_iter()
                .flat_map(|f| [(f, -1.0), (f, 1.0)])
            {
                let cut = top - fall;
                let Some(found) = end(Quantity::Parameter(1), &terms, cut, side) else {
                    continue;
                };
                let value = |i: i32| {
                    let ln_shape = 0.05 * f64::from(i);
                    likelihood::value::<2, Gamma>([found.value + ln_shape, ln_shape], &terms)
                };
                let likelier = (-160..=40).any(|i| value(i) > cut);
                assert_eq!(found.farthest, !likelier, "{sound} {fall} {side}");
                told[usize::from(likelier)] += 1;
            }
        }
        assert!(told[0] > 0 && told[1] > 0, "{told:?}");
    }

    /// The ends of the time left over the laws at shape 0 lie where a law of the family with a shape near 0 has just that
    /// likelihood, and leave the share asked for; and where the likelihood hardly falls any more there is no end.
    #[test]
    fn what_is_left_ends_where_a_law_near_shape_0_is_that_likely() {
        let rows = [
            Observation::exact(150.0, 100.0, 1.0),
            Observation::exact(260.0, 200.0, 1.0),
            Observation::right(400.0, 120.0, 1.0),
        ];
        let terms = Terms::new(&Sample::new(
            rows.into_iter().filter_map(Result::ok).collect(),
        ));
        let (ln_s, top) = Nought { terms: &terms }.top();
        let cut = top - 0.5;
        let theta = |ln_s: f64| [ln_s - 14.0, -14.0];
        let left = |ln_s: f64| likelihood::value::<2, Gamma>(theta(ln_s), &terms) - cut;
        for side in [-1.0, 1.0] {
            let (mut inside, mut outside) = (ln_s, ln_s + side * 20.0);
            assert!(left(inside) > 0.0 && left(outside) < 0.0);
            for _ in 0..60 {
                let middle = 0.5 * (inside + outside);
                if left(middle) > 0.0 {
                    inside = middle;
                } else {
                    outside = middle;
                }
            }
            let asked = Quantity::Remaining { age: 150.0, p: 0.1 };
            let found = end(asked, &terms, cut, side).map_or(f64::NAN, |e| e.value);
            let ln_alive = |t: f64| Gamma::ln_survival(theta(inside), Age::new(t));
            let share = (ln_alive(150.0 + found.exp()) - ln_alive(150.0)).exp();
            assert!((share - 0.9).abs() < 1e-4, "{side}: {share}");
        }
        let nought = Nought { terms: &terms };
        assert_eq!(nought.farthest(top - 1e4, 1.0), Some(f64::INFINITY));
    }
}

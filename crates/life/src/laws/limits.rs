//! Laws at the ends of the families' ranges that no parameters reach, with their largest log-likelihoods.

use crate::law::{Age, Limit};
use crate::laws::powers::{FARTHEST, Falling, highest};
use crate::terms::Terms;
use sealspan_numeric::special::{LN_SQRT_TWO_PI, ln_normal_survival};

/// Relative weight that is rounding.
const ROUNDING: f64 = 1e-9;

/// Whether nothing was seen sound that did not enter late: then a law under which nearly all seals fail at once is not
/// excluded.
pub(super) fn all_late(terms: &Terms) -> bool {
    let densities = terms.density.iter().map(|p| p.weight);
    let stretches = terms.interval.iter().filter(|s| s.lower.is_some());
    let known = densities
        .chain(terms.survival.iter().map(|p| p.weight))
        .chain(stretches.map(|s| s.weight))
        .sum::<f64>();
    !terms.survival.is_empty() && known.abs() <= ROUNDING * terms.extent.total
}

/// Largest value of a log-likelihood over ln of a scale.
fn over_scales(terms: &Terms, value: impl Fn(f64) -> f64) -> f64 {
    let oldest = terms.extent.oldest.ln();
    highest(
        |u| Some(value(u)),
        oldest - FARTHEST,
        oldest + 2.0 * FARTHEST,
        &[],
    )
    .unwrap_or(f64::NEG_INFINITY)
}

/// What lies beyond the normal law with mean 0.
pub(super) const MEAN_NOUGHT: &str = "the likelihood is highest with a mean life of 0 or less: survival falls all along, and the normal law has no estimate; use another family";

/// The normal law's end at mean 0, which late entries and failures before a first look can ask for.
pub(super) fn mean_nought(terms: &Terms) -> Vec<Limit> {
    let late = terms.survival.iter().any(|p| p.weight < 0.0);
    if !late && terms.interval.is_empty() {
        return vec![];
    }
    let value = over_scales(terms, |ln_s| {
        let alive = |age: Age| ln_normal_survival((age.ln - ln_s).exp());
        let density = terms.density.iter().map(|p| {
            let z = (p.age.ln - ln_s).exp();
            p.weight * (-0.5 * z * z - LN_SQRT_TWO_PI - ln_s)
        });
        let survival = terms.survival.iter().map(|p| p.weight * alive(p.age));
        let between = terms.interval.iter().map(|s| {
            let upper = alive(s.upper);
            s.weight
                * match s.lower {
                    None => (-upper.exp_m1()).ln(),
                    Some(a) => alive(a) + (-(upper - alive(a)).exp_m1()).ln(),
                }
        });
        density.sum::<f64>() + survival.sum::<f64>() + between.sum::<f64>()
    });
    let nought = Limit {
        value,
        words: MEAN_NOUGHT,
    };
    // The normal law has failed by half at its mean.
    constant_share(terms, 0.5)
        .into_iter()
        .chain([nought])
        .collect()
}

/// Where a scale of ln t grows without limit and a share, at most `most`, fails at once and the rest never: nothing
/// then fails between two ages.
pub(super) fn constant_share(terms: &Terms, most: f64) -> Option<Limit> {
    if !terms.density.is_empty() || terms.interval.iter().any(|s| s.lower.is_some()) {
        return None;
    }
    let failed: f64 = terms.interval.iter().map(|s| s.weight).sum();
    let sound: f64 = terms.survival.iter().map(|p| p.weight).sum();
    let share = (failed / (failed + sound)).min(most);
    let sure = if sound > 0.0 {
        sound * (-share).ln_1p()
    } else {
        0.0
    };
    Some(Limit {
        value: failed * share.ln() + sure,
        words: "the failed were first looked at no later than the sound ones, so that the likelihood is highest where a share fails at once and the rest never: these looks say nothing of how life goes with age; look at the same seals again",
    })
}

/// Where the weak seals of a population all fail at one age and sound seals are older.
pub(super) fn weak_at_one_age(terms: &Terms) -> Option<Limit> {
    let e = &terms.extent;
    let (first, last) = e.exact_range;
    let age = if e.exact > 0.0 {
        first
    } else {
        e.smallest_upper
    };
    let lowest = terms
        .interval
        .iter()
        .filter_map(|s| s.lower)
        .fold(0.0, |a: f64, b| a.max(b.t));
    if (e.exact > 0.0 && first != last) || lowest >= age || e.smallest_upper < age {
        return None;
    }
    let older: f64 = terms
        .survival
        .iter()
        .filter(|p| p.age.t >= age)
        .map(|p| p.weight)
        .sum();
    let share = e.failures / (e.failures + older.max(0.0));
    let sure = if older > 0.0 {
        older * (-share).ln_1p()
    } else {
        0.0
    };
    Some(Limit {
        // The density of exact ages grows without limit.
        value: if e.exact > 0.0 {
            f64::INFINITY
        } else {
            e.failures * share.ln() + sure
        },
        words: "all failures fit one single age, with sound seals older: the shape of the weak seals' life has no finite estimate; look more often, or wait for a second failure age",
    })
}

/// The limits common to all laws of ln t with a scale.
///
/// When everything that is known sound entered late, or failed before its first look: survival as a power of age from
/// each entry on, where a law of ln t goes whose scale grows without limit while nearly all seals fail at once.
pub(super) fn late_entries(terms: &Terms) -> Vec<Limit> {
    if !all_late(terms) {
        return constant_share(terms, 1.0).into_iter().collect();
    }
    // Every age lies beyond this end, and the seals that failed before it cost nothing.
    let end = terms.extent.youngest.min(terms.extent.oldest).ln() - 1.0;
    let survivals = terms.survival.iter().map(|p| p.age.ln);
    let end = survivals.fold(end, f64::min) - 1.0;
    let late = Falling {
        terms,
        early: false,
    };
    let words = "every seal that was seen sound entered late, and the likelihood is highest where this law ends: survival falling as a power of age from each entry on (a Pareto law), whatever came before; the records fix that power alone, and this law has no estimate";
    let value = late.best(end);
    value
        .map(|value| Limit { value, words })
        .into_iter()
        .collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::family::Family;
    use crate::laws::by_name;
    use sealspan_records::observation::{Observation, Sample};

    fn terms(rows: Vec<Observation>) -> Terms {
        Terms::new(&Sample::new(rows))
    }

    fn between(lower: f64, upper: f64, count: f64) -> Observation {
        Observation::interval(lower, upper, 0.0, count).unwrap()
    }

    fn sound(age: f64, count: f64) -> Observation {
        Observation::right(age, 0.0, count).unwrap()
    }

    /// Three of ten failed before one look, seven are sound after it: whatever the weak seals' law, the likeliest share
    /// is 3/10, and the likelihood that of a binomial count.
    #[test]
    fn weak_seals_of_one_age_are_a_binomial_share() {
        let limit = weak_at_one_age(&terms(vec![between(50.0, 100.0, 3.0), sound(120.0, 7.0)]));
        let want = 3.0 * 0.3f64.ln() + 7.0 * 0.7f64.ln();
        assert!((limit.unwrap().value - want).abs() < 1e-12);
        // Sound seals that are younger say nothing: all may be weak.
        let limit = weak_at_one_age(&terms(vec![between(50.0, 100.0, 3.0), sound(40.0, 7.0)]));
        assert_eq!(limit.unwrap().value, 0.0);
        // Exact ages of one day have a density without limit; of two days they fix a shape.
        let exact = |t: f64| Observation::exact(t, 0.0, 1.0).unwrap();
        let limit = weak_at_one_age(&terms(vec![exact(80.0), exact(80.0), sound(120.0, 7.0)]));
        assert_eq!(limit.unwrap().value, f64::INFINITY);
        assert!(weak_at_one_age(&terms(vec![exact(80.0), exact(81.0)])).is_none());
    }

    /// The normal law with mean 0 is that of the family's parameters as the mean goes to 0: its largest likelihood over
    /// the scale by a plain search on the family's own.
    #[test]
    fn a_mean_of_nought_is_the_end_of_the_normal_family() {
        let late = |t: f64, entry: f64| Observation::exact(t, entry, 1.0).unwrap();
        // With many still running the best scale lies far beyond the oldest age.
        for running in [2.0, 30.0] {
            let rows = vec![
                late(110.0, 100.0),
                late(130.0, 100.0),
                late(190.0, 150.0),
                between(0.0, 30.0, 2.0),
                between(60.0, 90.0, 1.0),
                Observation::right(220.0, 150.0, running).unwrap(),
            ];
            let terms = terms(rows);
            let normal: &dyn Family = by_name("normal").unwrap();
            // θ are ln mean and ln of scale over mean: a mean of e^-20 of the ages is as good as 0.
            let at = |ln_scale: f64| normal.log_likelihood(&[-20.0, ln_scale + 20.0], &terms);
            let best = (0..8000)
                .map(|i| at(2.0 + 1e-3 * f64::from(i)))
                .fold(f64::NEG_INFINITY, f64::max);
            let [limit] = mean_nought(&terms).try_into().unwrap();
            assert!((limit.value - best).abs() < 1e-5, "{} {best}", limit.value);
        }
    }

    /// With late entry alone the end is asked for too; with neither late entry nor looks it lies nowhere near.
    #[test]
    fn only_late_entry_and_looks_ask_for_a_mean_of_nought() {
        let row = |t: f64, entry: f64| Observation::exact(t, entry, 1.0).unwrap();
        let late = terms(vec![
            row(110.0, 100.0),
            row(130.0, 100.0),
            row(190.0, 150.0),
        ]);
        let normal: &dyn Family = by_name("normal").unwrap();
        let at = |ln_scale: f64| normal.log_likelihood(&[-20.0, ln_scale + 20.0], &late);
        let best = (0..8000)
            .map(|i| at(2.0 + 1e-3 * f64::from(i)))
            .fold(f64::NEG_INFINITY, f64::max);
        let [limit] = mean_nought(&late).try_into().unwrap();
        assert!((limit.value - best).abs() < 1e-5, "{} {best}", limit.value);
        assert!(mean_nought(&terms(vec![row(110.0, 0.0), row(130.0, 0.0)])).is_empty());
    }
}

//! Where to begin: the first sign of trouble as a life of its own, and delays from short to long.

use super::model::{Model, StageLaw, Theta};
use crate::fit::fit;
use crate::laws::by_name;
use sealspan_records::history::{Ended, History};
use sealspan_records::observation::{Observation, Sample};

/// Delays tried, as shares of the age of first trouble, and detections.
const DELAYS: [f64; 5] = [0.06, 0.2, 0.5, 1.2, 3.0];
const DETECTIONS: [f64; 3] = [0.2, 0.5, 0.85];
/// ln σ of the widest first sign that is begun from: a Weibull of shape 0.37.
const WIDEST: f64 = 1.0;

/// Starts, those of one detection together: blind looks at slow defects and keen looks at quick ones may each be a
/// hill of the likelihood.
pub(super) fn starts(model: Model, histories: &[History]) -> Vec<Vec<Theta>> {
    let (mu, ln_sigma) = first_sign(histories);
    let mut all = vec![];
    for r in DETECTIONS {
        let mut out = vec![];
        for delay in DELAYS {
            // The mean of the two stages stays about where the first sign is.
            let down = (1.0 + 0.5 * delay).ln();
            let theta = [
                on_scale(model.defect, mu - down, ln_sigma),
                on_scale(model.delay, mu - down + delay.ln(), -0.4),
            ];
            let [[a, b], [c, d]] = theta;
            out.push(model.pinned([a, b, c, d, r.ln() - (-r).ln_1p()]));
        }
        all.push(out);
        if model.detection.is_some() {
            break;
        }
    }
    all
}

/// Parameters of one law as those of another with about the same middle.
pub(super) fn translated(from: StageLaw, to: StageLaw, [mu, ln_sigma]: [f64; 2]) -> [f64; 2] {
    if from == to {
        return [mu, ln_sigma];
    }
    let back = match from {
        StageLaw::Exponential | StageLaw::Weibull => [mu, ln_sigma],
        StageLaw::Lognormal => [mu + 0.37 * (ln_sigma - 0.25).exp(), ln_sigma - 0.25],
        StageLaw::LogLogistic => [mu + 0.37 * (ln_sigma + 0.35).exp(), ln_sigma + 0.35],
    };
    on_scale(to, back[0], back[1])
}

/// Weibull parameters as those of a law with about the same middle.
fn on_scale(law: StageLaw, mu: f64, ln_sigma: f64) -> [f64; 2] {
    match law {
        StageLaw::Exponential => [mu, 0.0],
        StageLaw::Weibull => [mu, ln_sigma],
        // The Weibull's median lies at (ln 2)^σ of its scale; its ln life has standard deviation 1.28 σ.
        StageLaw::Lognormal => [mu - 0.37 * ln_sigma.exp(), ln_sigma + 0.25],
        StageLaw::LogLogistic => [mu - 0.37 * ln_sigma.exp(), ln_sigma - 0.35],
    }
}

/// μ and ln σ of a Weibull fitted to the first finding or failure.
fn first_sign(histories: &[History]) -> (f64, f64) {
    let row = |h: &History| {
        let last_look = h.looks().last().copied().unwrap_or(0.0);
        match h.ended() {
            Ended::Failed(t) => Observation::exact(t, h.entry(), h.count()),
            Ended::FailedBetween(a, b) => Observation::interval(a, b, h.entry(), h.count()),
            Ended::Found(t) => Observation::interval(last_look, t, h.entry(), h.count()),
            Ended::Running(t) => Observation::right(t, h.entry(), h.count()),
        }
    };
    let sample = Sample::new(histories.iter().filter_map(|h| row(h).ok()).collect());
    let fitted = by_name("weibull").and_then(|w| fit(w, &sample).ok());
    match fitted.as_ref().map(|f| f.theta.as_slice()) {
        // A wider one has its scale far from every age seen.
        Some([mu, ln_sigma]) if *ln_sigma <= WIDEST => (*mu, ln_sigma.max(-3.0)),
        _ => {
            let mean = sample.oldest().max(f64::MIN_POSITIVE);
            (mean.ln(), -0.5)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// There and back, whatever the two laws.
    #[test]
    fn a_law_translated_back_is_the_law() {
        let laws = [
            StageLaw::Weibull,
            StageLaw::Lognormal,
            StageLaw::LogLogistic,
        ];
        for from in laws {
            for to in laws {
                let there = translated(from, to, [4.0, -0.7]);
                let back = translated(to, from, there);
                let off = (back[0] - 4.0).abs() + (back[1] + 0.7).abs();
                assert!(off < 1e-12, "{from:?} to {to:?}: {back:?}");
            }
        }
    }

    /// Medians: of a Weibull law e^μ (ln 2)^σ, of the two others e^μ.
    #[test]
    fn a_law_translated_keeps_its_median_nearly() {
        let weibull = [4.0, -0.7];
        let median = 4.0 + (-0.7_f64).exp() * 2.0_f64.ln().ln();
        for to in [StageLaw::Lognormal, StageLaw::LogLogistic] {
            let there = translated(StageLaw::Weibull, to, weibull);
            assert!((there[0] - median).abs() < 0.002, "{to:?}: {}", there[0]);
        }
    }

    /// Seals that entered late and failed soon after: the first sign's own law would have its scale at e^−49 days.
    #[test]
    fn a_first_sign_too_wide_for_its_law_is_begun_from_the_ages_seen() {
        let seals: [(f64, &[f64], Ended, f64); 14] = [
            (33.0, &[], Ended::Running(67.0), 1.0),
            (14.0, &[], Ended::Failed(28.0), 2.0),
            (10.0, &[], Ended::FailedBetween(12.0, 21.0), 2.0),
            (26.0, &[60.0, 285.0], Ended::Found(379.0), 2.0),
            (37.0, &[88.0], Ended::Found(138.0), 1.0),
            (89.0, &[], Ended::Failed(178.0), 1.0),
            (56.0, &[], Ended::FailedBetween(56.0, 112.0), 2.0),
            (46.0, &[], Ended::FailedBetween(92.0, 168.0), 3.0),
            (161.0, &[65.0, 175.0], Ended::Found(322.0), 2.0),
            (102.0, &[200.0], Ended::FailedBetween(205.0, 237.0), 3.0),
            (118.0, &[], Ended::Failed(378.0), 1.0),
            (6.0, &[], Ended::Found(13.0), 2.0),
            (8.0, &[8.0], Ended::Found(17.0), 1.0),
            (144.0, &[149.0], Ended::Running(288.0), 2.0),
        ];
        let seals = seals.into_iter();
        let seals = seals.filter_map(|(entry, looks, ended, n)| {
            History::new(entry, looks.to_vec(), ended, n).ok()
        });
        let seals: Vec<History> = seals.collect();
        assert_eq!(seals.len(), 14);
        let (mu, ln_sigma) = first_sign(&seals);
        assert!(
            (mu - 379.0_f64.ln()).abs() < 1e-12 && ln_sigma < 0.0,
            "{mu} {ln_sigma}"
        );
    }

    fn fleet(unit: f64) -> Vec<History> {
        let history = |looks: &[f64], ended: Ended| {
            History::new(0.0, looks.iter().map(|t| unit * t).collect(), ended, 1.0)
        };
        [
            history(&[200.0, 400.0], Ended::Found(unit * 600.0)),
            history(&[200.0], Ended::Found(unit * 400.0)),
            history(&[200.0, 400.0], Ended::Failed(unit * 470.0)),
            history(&[200.0, 400.0, 600.0], Ended::Failed(unit * 790.0)),
            history(&[200.0, 400.0, 600.0], Ended::Running(unit * 650.0)),
        ]
        .into_iter()
        .filter_map(Result::ok)
        .collect()
    }

    fn weibull(detection: Option<f64>) -> Model {
        Model {
            defect: StageLaw::Weibull,
            delay: StageLaw::Weibull,
            detection,
        }
    }

    /// Starts of blind, middling and keen looks where detection is to be found, and of the one stated else.
    #[test]
    fn starts_have_each_detection_or_the_one_stated() {
        let logit = |r: f64| (r / (1.0 - r)).ln();
        let free = starts(weibull(None), &fleet(1.0));
        assert_eq!(free.len(), 3);
        for (list, r) in free.iter().zip([0.2, 0.5, 0.85]) {
            assert_eq!(list.len(), 5);
            assert!(
                list.iter().all(|theta| (theta[4] - logit(r)).abs() < 1e-12),
                "{list:?}"
            );
        }
        let stated = starts(weibull(Some(0.7)), &fleet(1.0));
        assert_eq!(stated.len(), 1);
        assert!(
            stated[0]
                .iter()
                .all(|theta| (theta[4] - logit(0.7)).abs() < 1e-12)
        );
    }

    /// In hours and in years the starts are those in days, but for ln of the unit.
    #[test]
    fn starts_go_with_the_unit_of_age() {
        let days = starts(weibull(None), &fleet(1.0));
        for unit in [24.0, 1000.0, 1.0 / 365.25] {
            let other = starts(weibull(None), &fleet(unit));
            for (a, b) in days.iter().flatten().zip(other.iter().flatten()) {
                let want = [a[0] + unit.ln(), a[1], a[2] + unit.ln(), a[3], a[4]];
                let off = want
                    .iter()
                    .zip(b)
                    .map(|(x, y)| (x - y).abs())
                    .fold(0.0, f64::max);
                assert!(off < 1e-6, "{unit}: {off}");
            }
        }
    }
}

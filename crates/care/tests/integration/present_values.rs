//! Present values and the shares of a cycle against a chain with closed steps, quick enough for every build.

use crate::terms::terms;
use sealspan_care::evaluate::Prepared;
use sealspan_care::policy::CarePolicy;
use sealspan_care::seal::{FailureSign, Seal};
use sealspan_care::terms::Event;
use sealspan_life::life::Life;

const DELTA: f64 = 4e-4;

#[track_caller]
fn close(got: f64, want: f64) {
    assert!((got / want - 1.0).abs() < 1e-7, "{got} against {want}");
}

/// Discounted money of a cycle, and the discounted end of it.
#[derive(Default)]
struct Cycle {
    money: f64,
    end: f64,
}

impl Cycle {
    /// A share comes off when money is worth so much; the equipment is up again after `down`.
    fn comes_off(&mut self, share_worth: f64, event: Event, opening: f64) {
        self.money += share_worth * event.money;
        self.end += share_worth * (-DELTA * (event.down + opening)).exp();
    }

    /// The next cycle starts where this one ends.
    fn for_ever(&self) -> f64 {
        self.money / (1.0 - self.end)
    }
}

/// ∫₀ˣ exp(−rate t) dt.
fn held(rate: f64, x: f64) -> f64 {
    -(-rate * x).exp_m1() / rate
}

/// Sound → defective → failed at constant rates, imperfect looks, damage, an age limit, evident or hidden, all
/// openings taking time off the clock of money.
#[test]
fn looks_at_an_exponential_chain_for_ever() {
    let (onset, delay, every, r, damage) = (1.0 / 300.0, 1.0 / 60.0, 40.0, 0.7, 0.02);
    let (age, looks, t) = (470.0, 11, terms());
    for hidden in [false, true] {
        let mut seal = Seal::two_stage(
            Life::exponential(1.0 / onset).unwrap(),
            Life::exponential(1.0 / delay).unwrap(),
        );
        seal.detection = r;
        seal.handling_damage = damage;
        if hidden {
            seal.failure = FailureSign::Hidden;
        }
        let policy = CarePolicy {
            replace_at: Some(age),
            ..CarePolicy::inspect_every(every)
        };
        let (mut s, mut d, mut u) = (1.0, 0.0, 0.0);
        let mut cycle = Cycle::default();
        for k in 0..=looks {
            let start = every * f64::from(k);
            let x = every.min(age - start);
            let worth = (-DELTA * (start + f64::from(k) * t.opening.down)).exp();
            let (es, ed) = ((-onset * x).exp(), (-delay * x).exp());
            let grown = onset / (delay - onset) * (es - ed);
            let (s2, d2) = (s * es, s * grown + d * ed);
            // Discounted time spent sound and defective, of those sound and of those defective at the start.
            let from_sound =
                onset / (delay - onset) * (held(onset + DELTA, x) - held(delay + DELTA, x));
            let sound_time = s * held(onset + DELTA, x);
            let defective_time = s * from_sound + d * held(delay + DELTA, x);
            if hidden {
                let failed_time = (s + d + u) * held(DELTA, x) - sound_time - defective_time;
                cycle.money += worth * failed_time * t.undetected;
                u += s + d - s2 - d2;
            } else {
                cycle.comes_off(worth * delay * defective_time, t.failed, 0.0);
            }
            (s, d) = (s2, d2);
            let worth = worth * (-DELTA * x).exp();
            if k == looks {
                cycle.comes_off(worth * (s + d), t.planned, 0.0);
                cycle.comes_off(worth * u, t.failed, 0.0);
                break;
            }
            let open = s + d + u;
            cycle.money += worth * open * (t.opening.money + t.look);
            cycle.comes_off(worth * r * d, t.found, t.opening.down);
            cycle.comes_off(worth * r * u, t.failed, t.opening.down);
            d *= 1.0 - r;
            u *= 1.0 - r;
            cycle.comes_off(worth * damage * (s + d + u), t.damaged, t.opening.down);
            for share in [&mut s, &mut d, &mut u] {
                *share *= 1.0 - damage;
            }
        }
        let model = Prepared::new(&seal).unwrap();
        close(
            model.present_value(&policy, &t, DELTA).unwrap(),
            cycle.for_ever(),
        );
    }
}

/// Perfect looks for ever: each starts the chain anew, so that a cycle is a geometric number of stretches.
#[test]
fn perfect_looks_without_an_end() {
    let (onset, delay, every, t) = (1.0 / 300.0, 1.0 / 60.0, 40.0, terms());
    let seal = Seal::two_stage(
        Life::exponential(1.0 / onset).unwrap(),
        Life::exponential(1.0 / delay).unwrap(),
    );
    let (model, policy) = (
        Prepared::new(&seal).unwrap(),
        CarePolicy::inspect_every(every),
    );
    let sound = (-onset * every).exp();
    let worn = onset / (delay - onset) * (sound - (-delay * every).exp());
    let spent = |delta: f64| {
        let both = held(onset + delta, every) - held(delay + delta, every);
        (held(onset + delta, every), onset / (delay - onset) * both)
    };
    let got = model.evaluate(&policy, &t).unwrap();
    let (sound_time, worn_time) = spent(0.0);
    let stretches = 1.0 / (1.0 - sound);
    close(got.mean_service, stretches * (sound_time + worn_time));
    close(got.failed, stretches * delay * worn_time);
    close(got.found, stretches * worn);
    close(got.inspections_per_cycle, stretches * (sound + worn));
    close(got.openings_per_cycle, stretches * (sound + worn));
    let (_, worn_time) = spent(DELTA);
    let worth = (-DELTA * every).exp();
    let mut cycle = Cycle::default();
    cycle.comes_off(delay * worn_time, t.failed, 0.0);
    cycle.comes_off(worth * worn, t.found, t.opening.down);
    cycle.money += worth * (sound + worn) * (t.opening.money + t.look);
    // What is sound at the look goes on, the opening later.
    let on = 1.0 - sound * worth * (-DELTA * t.opening.down).exp();
    cycle.money /= on;
    cycle.end /= on;
    close(
        model.present_value(&policy, &t, DELTA).unwrap(),
        cycle.for_ever(),
    );
}

/// An evident failure at a constant rate, taken off from an age on whenever the equipment is open anyway.
#[test]
fn opportunities_of_an_exponential_life() {
    let (rate, open, from, t) = (1.0 / 200.0, 1.0 / 90.0, 120.0, terms());
    let mut seal = Seal::one_stage(Life::exponential(1.0 / rate).unwrap());
    seal.opportunity_rate = open;
    for last in [None, Some(300.0)] {
        let policy = CarePolicy {
            opportunity_from: Some(from),
            replace_at: last,
            ..CarePolicy::run_to_failure()
        };
        // Time served before the age and after it, plain and discounted.
        let served = |delta: f64| {
            let reached = (-(rate + delta) * from).exp();
            let both = rate + open + delta;
            let (later, left) = match last {
                Some(last) => (held(both, last - from), (-both * (last - from)).exp()),
                None => (1.0 / both, 0.0),
            };
            (held(rate + delta, from), reached * later, reached * left)
        };
        let (before, after, left) = served(0.0);
        let model = Prepared::new(&seal).unwrap();
        let got = model.evaluate(&policy, &t).unwrap();
        close(got.failed, rate * (before + after));
        close(got.opportunity, open * after);
        close(1.0 + got.preventive, 1.0 + left);
        close(got.mean_service, before + after);
        close(got.failed + got.opportunity + got.preventive, 1.0);
        let (before, after, left) = served(DELTA);
        let mut cycle = Cycle::default();
        cycle.comes_off(rate * (before + after), t.failed, 0.0);
        cycle.comes_off(open * after, t.opportunity, 0.0);
        cycle.comes_off(left, t.planned, 0.0);
        close(
            model.present_value(&policy, &t, DELTA).unwrap(),
            cycle.for_ever(),
        );
    }
}

/// A failure after two gamma stages, seen at once: what money is worth then is the product of what it is worth at the end
/// of each, (1 + δθ)^(−shape).
#[test]
fn failures_after_an_onset_and_a_delay() {
    let t = terms();
    let gamma = |shape: f64, scale: f64| {
        let life = Life::parse(&format!("gamma:shape={shape},scale={scale}")).unwrap();
        (life, (1.0 + DELTA * scale).powf(-shape))
    };
    for (onset, delay) in [((1.0, 300.0), (2.0, 40.0)), ((2.5, 120.0), (3.0, 150.0))] {
        let (onset, to_onset) = gamma(onset.0, onset.1);
        let (delay, to_failure) = gamma(delay.0, delay.1);
        let seal = Seal::two_stage(onset, delay);
        let mut cycle = Cycle::default();
        cycle.comes_off(to_onset * to_failure, t.failed, 0.0);
        let model = Prepared::new(&seal).unwrap();
        let policy = CarePolicy::run_to_failure();
        close(
            model.present_value(&policy, &t, DELTA).unwrap(),
            cycle.for_ever(),
        );
    }
}

/// Money that comes once a cycle is worth the cost rate over the discount rate where that is small.
#[test]
fn a_patient_owner_pays_the_cost_rate() {
    let mut seal = Seal::two_stage(
        Life::weibull(2.0, 300.0).unwrap(),
        Life::weibull(1.5, 90.0).unwrap(),
    );
    seal.detection = 0.8;
    for failure in [FailureSign::Evident, FailureSign::Hidden] {
        seal.failure = failure;
        let policy = CarePolicy {
            replace_at: Some(365.0),
            ..CarePolicy::inspect_every(60.0)
        };
        let model = Prepared::new(&seal).unwrap();
        let rate = model.evaluate(&policy, &terms()).unwrap().cost_rate;
        let value = |delta: f64| model.present_value(&policy, &terms(), delta).unwrap();
        // First-order in the discount rate, so that twice the smaller less the larger has none of it.
        let limit = 2.0 * 1e-8 * value(1e-8) - 2e-8 * value(2e-8);
        assert!((limit / rate - 1.0).abs() < 1e-5, "{limit} {rate}");
    }
}

//! The model of the paths in numbers and words.

use super::condition::{ConditionQuestion, Worked};
use crate::number;
use crate::wire::Number;
use crate::wire::condition::{ModelResult, NamedNumber};
use sealspan_life::degradation::choose::{Choice, Model};
use sealspan_life::degradation::mixed::Mixed;
use sealspan_life::degradation::wear::Wear;
use sealspan_life::degradation::{Limit, Scale};
use sealspan_numeric::special::{ln_normal_survival, normal_quantile, student_quantile};

/// Fewer seals than this are called indicative (a rule of ours).
const FEW_SEALS: usize = 10;

/// Share of seals with a rate the other way from which the normal law is called rough (a rule of ours).
const IDLE: f64 = 0.02;

/// The model used, with its parameters.
pub(crate) fn model_result(
    choice: &Choice,
    limit: Limit,
    question: &ConditionQuestion,
) -> ModelResult {
    let (parameters, log_likelihood, more) = match &choice.model {
        Model::Mixed(m) => (
            mixed(m, question),
            Some(m.log_likelihood),
            format!(": {}", m.structure.words()),
        ),
        Model::Wear(w) => (wear(w, limit, question), None, String::new()),
    };
    ModelResult {
        model: choice.kind.word(),
        words: format!("{}{more}", choice.kind.words()),
        parameters,
        log_likelihood,
    }
}

fn mixed(m: &Mixed, question: &ConditionQuestion) -> Vec<NamedNumber> {
    let freedom = (m.seals as f64 - 1.0).max(1.0);
    let t = student_quantile(0.5 + 0.5 * question.confidence, freedom);
    let z = normal_quantile(0.5 + 0.5 * question.confidence);
    let value = match m.scale {
        Scale::Plain => question.measure.clone(),
        Scale::Log => format!("ln {}", question.measure),
    };
    let rate = format!("{value} per {}", singular(question.unit));
    let mean = |name, unit: &str, at: f64, variance: f64| {
        let half = t * variance.sqrt();
        named(name, unit, at, Some((at - half, at + half)), None)
    };
    let spread = |name, unit: &str, variance: f64, error: Option<f64>| {
        let sd = variance.max(0.0).sqrt();
        let ends = error.map(|e| (sd * (-z * e).exp(), sd * (z * e).exp()));
        let reason = ends.is_none().then(|| {
            if sd == 0.0 {
                "no difference among seals can be told from the measurement error".to_owned()
            } else {
                "no interval from the observed information".to_owned()
            }
        });
        named(name, unit, sd, ends, reason)
    };
    let c = m.mean_covariance;
    let [level_error, rate_error] = m.ln_among_errors;
    vec![
        mean("level_when_new", &value, m.mean.x, c.m11),
        mean("rate", &rate, m.mean.y, c.m22),
        spread("level_sd_among_seals", &value, m.among.m11, level_error),
        spread("rate_sd_among_seals", &rate, m.among.m22, rate_error),
        spread(
            "measurement_sd",
            &value,
            m.noise * m.noise,
            m.ln_noise_error,
        ),
    ]
}

fn wear(w: &Wear, limit: Limit, question: &ConditionQuestion) -> Vec<NamedNumber> {
    let z = normal_quantile(0.5 + 0.5 * question.confidence);
    let measure = &question.measure;
    let per = singular(question.unit);
    let around = |name, unit: String, at: f64, error: f64| {
        let (a, b) = (at * (-z * error).exp(), at * (z * error).exp());
        named(name, &unit, at, Some((a.min(b), a.max(b))), None)
    };
    vec![
        around(
            "rate",
            format!("{measure} per {per}"),
            limit.side() * w.shape / w.rate,
            w.ln_mean_error,
        ),
        around(
            "shape_per_age",
            format!("per {per}"),
            w.shape,
            w.ln_errors.0,
        ),
        around(
            "gamma_rate",
            format!("per {measure}"),
            w.rate,
            w.ln_errors.1,
        ),
        named(
            "level_when_new",
            measure,
            w.new_value,
            None,
            Some("the gamma process takes the first values as they are".to_owned()),
        ),
    ]
}

fn named(
    name: &'static str,
    unit: &str,
    estimate: f64,
    ends: Option<(f64, f64)>,
    reason: Option<String>,
) -> NamedNumber {
    NamedNumber {
        name,
        unit: unit.to_owned(),
        number: Number {
            estimate: Some(estimate),
            lower: ends.map(|e| e.0),
            upper: ends.map(|e| e.1),
            reason,
        },
    }
}

/// "days" to "day".
fn singular(unit: &str) -> &str {
    unit.strip_suffix('s').unwrap_or(unit)
}

/// Doubts about a group's model.
pub fn notes(
    one: &Worked,
    choice: &Choice,
    limit: Limit,
    question: &ConditionQuestion,
) -> Vec<String> {
    let mut notes = vec![];
    if one.seals.len() < FEW_SEALS {
        notes.push(format!(
            "only {} seals measured: indicative",
            one.seals.len()
        ));
    }
    let worst = one
        .seals
        .iter()
        .flat_map(|s| s.points.iter().map(|p| limit.side() * p.1))
        .fold(f64::NEG_INFINITY, f64::max);
    let short = limit.side() * limit.value - worst;
    if short > 0.0 {
        notes.push(format!(
            "no measurement has reached the limit yet (nearest {}): every time here is extrapolated along the path",
            number::significant(limit.side() * worst, 3)
        ));
    }
    let rate = choice.model.rate(None, limit);
    if limit.side() * rate <= 0.0 {
        notes.push(
            "on average the property does not move towards the limit: check --direction and the limit"
                .to_owned(),
        );
    }
    if let Model::Mixed(m) = &choice.model {
        let ratio = limit.side() * m.mean.y / m.among.m22.sqrt();
        let idle = ln_normal_survival(ratio).exp();
        if ratio > 0.0 && idle > IDLE {
            notes.push(format!(
                "rates scatter so widely that under their normal law {} of seals would not move to the limit at all: late ages are rough; group by a condition that differs (--by)",
                number::percent(idle)
            ));
        }
        let nearness = m
            .scale
            .to(question.limit)
            .map(|l| limit.side() * (l - m.mean.x));
        if nearness.is_some_and(|n| n <= 0.0) {
            notes.push("a new seal is past the limit on average: check the limit".to_owned());
        }
    }
    notes
}

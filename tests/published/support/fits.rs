//! Every value of the `fits` of an expected file against the fit of the same law to the same lives.

use super::close::Check;
use super::data;
use super::expected;
use super::moments::{plain_error, standard_deviation};
use super::tolerances::{ESTIMATE, PROFILE};
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::few::{Ended, exponential_mean_bounds, lower_bounds};
use sealspan_life::fit::{Fit, fit};
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::special::normal_quantile;
use sealspan_records::Sample;
use sealspan_records::observation::Seen;
use serde_json::Value;

/// Checks all fits of a case; the column `group` splits it where a fit asks for one group.
pub fn check(name: &str, at_least: usize) {
    let mut checks = Check::new(name);
    let case = expected::read(name);
    for wanted in case["fits"].as_array().expect("fits") {
        let (family, group) = (
            wanted["family"].as_str().unwrap(),
            wanted["group"].as_str().unwrap(),
        );
        let sample = match group {
            "all" => data::all(name),
            _ => {
                data::by(name, "group")
                    .into_iter()
                    .find(|g| g.0 == group)
                    .expect(group)
                    .1
            }
        };
        let fit = fit(by_name(family).unwrap(), &sample)
            .unwrap_or_else(|e| panic!("{name} {family} {group}: {e}"));
        let what = format!("{family} {group}");
        values(&mut checks, &what, &fit, &sample, &wanted["values"]);
    }
    checks.finish(at_least);
}

/// Checks every value of a map from fields to numbers against a fit to `sample`.
pub fn values(checks: &mut Check, what: &str, fit: &Fit, sample: &Sample, wanted: &Value) {
    for (field, value) in wanted.as_object().expect("values") {
        let what = format!("{what} {field}");
        one(checks, &what, fit, sample, field, value.as_f64().unwrap());
    }
}

fn one(checks: &mut Check, what: &str, fit: &Fit, sample: &Sample, field: &str, value: f64) {
    let ours = plain(fit, field).or_else(|| of_quantity(fit, sample, field));
    let ours = ours.unwrap_or_else(|| panic!("{what}: this check does not know the field"));
    let tolerance = if field.contains("profile") {
        PROFILE
    } else {
        ESTIMATE
    };
    checks.value(what, ours, value, tolerance);
}

/// Fields of the fit as a whole.
fn plain(fit: &Fit, field: &str) -> Option<f64> {
    let covariance = |i, j| Some(fit.covariance[(i, j)]);
    let reported = |i, j| Some(fit.reported_covariance()[(i, j)]);
    let logs = |i, j| {
        let value = |at| fit.estimate(Quantity::Parameter(at));
        Some(fit.reported_covariance()[(i, j)] / (value(i) * value(j)))
    };
    match field {
        "loglik" => Some(fit.log_likelihood),
        "aic" => Some(fit.aic()),
        "aicc" => fit.aicc(),
        "bic" => Some(fit.bic()),
        "mu" => fit.theta.first().copied(),
        "sigma" => fit.theta.get(1).map(|x| x.exp()),
        "cov.logshape_logshape" => logs(0, 0),
        "cov.logshape_logscale" => logs(0, 1),
        "cov.logscale_logscale" => logs(1, 1),
        "cov.mu_mu" => covariance(0, 0),
        "cov.mu_logsigma" => covariance(0, 1),
        "cov.logsigma_logsigma" => covariance(1, 1),
        "cov.mu_q" => covariance(0, 2),
        "cov.logsigma_q" => covariance(1, 2),
        "cov.q_q" => covariance(2, 2),
        "cov.shape_shape" => reported(0, 0),
        "cov.shape_scale" => reported(0, 1),
        "cov.scale_scale" => reported(1, 1),
        "sd" => Some(standard_deviation(&fit.life())),
        _ => None,
    }
}

/// Fields `QUANTITY` and `QUANTITY.WHAT[.lo|.hi]`.
fn of_quantity(fit: &Fit, sample: &Sample, field: &str) -> Option<f64> {
    if field == "total_time" {
        return Some(total_time(sample));
    }
    let (name, rest) = field.split_once('.').unwrap_or((field, ""));
    let quantity = quantity(fit, name)?;
    let (what, end) = rest.split_once('.').unwrap_or((rest, ""));
    match what {
        "" => return Some(fit.estimate(quantity)),
        "se_log" | "se_z" => return Some(fit.scaled_error(quantity)),
        "se" => return Some(plain_error(fit, quantity)),
        "chi2_time_trunc95" if end == "lo" => return Some(lower_bounds(sample, 1.0, 0.975)?.scale),
        "chi2_onesided_lower95_time_trunc" => return Some(lower_bounds(sample, 1.0, 0.95)?.scale),
        _ => {}
    }
    if let Some(ended) = what.strip_prefix("chi2_") {
        return chi_square(sample, ended, end);
    }
    let digits = what.trim_start_matches(|c: char| !c.is_ascii_digit());
    let level = digits.parse::<f64>().ok()? / 100.0;
    let method = match what.strip_suffix(digits)? {
        kind @ ("waldlin" | "wald_logit") => return plain_wald(fit, quantity, kind, level, end),
        "wald" | "wald_z" => Method::Wald,
        "profile" => Method::Profile,
        _ => return None,
    };
    let found = bounds(fit, quantity, method, level);
    let as_named = fit.family.reported().iter().any(|p| p.name == name);
    let (lower, upper) = match name {
        // The bounds of what is reported in its place: shape = 1/sigma, scale = e^mu.
        "sigma" if !as_named => (found.upper.map(f64::recip), found.lower.map(f64::recip)),
        "mu" if !as_named => (found.lower.map(f64::ln), found.upper.map(f64::ln)),
        _ => (found.lower, found.upper),
    };
    match end {
        "lo" => lower,
        "hi" => upper,
        _ => None,
    }
}

/// Normal ends on the plain scale, or on that of the log odds of a survival, which the library does not offer, from its
/// standard error.
fn plain_wald(fit: &Fit, quantity: Quantity, kind: &str, level: f64, end: &str) -> Option<f64> {
    let z = match end {
        "lo" => -normal_quantile(0.5 + 0.5 * level),
        "hi" => normal_quantile(0.5 + 0.5 * level),
        _ => return None,
    };
    let (estimate, error) = (fit.estimate(quantity), plain_error(fit, quantity));
    if kind == "waldlin" {
        return Some(estimate + z * error);
    }
    let odds = (estimate / (1.0 - estimate)).ln() + z * error / (estimate * (1.0 - estimate));
    Some(1.0 / (1.0 + (-odds).exp()))
}

/// Seal-time watched.
fn total_time(sample: &Sample) -> f64 {
    let watched = sample.rows().iter().map(|o| {
        let end = match o.seen() {
            Seen::Exact(t) | Seen::Right(t) => t,
            Seen::Interval(..) => f64::NAN,
        };
        o.count() * (end - o.entry())
    });
    watched.sum()
}

/// Two-sided 95 % chi-square ends of an exponential mean, `failure_trunc95` or `time_trunc95`.
fn chi_square(sample: &Sample, ended: &str, end: &str) -> Option<f64> {
    let ended = match ended {
        "failure_trunc95" => Ended::AtFailure,
        "time_trunc95" => Ended::AtTime,
        _ => return None,
    };
    let failures = sample.tally().failures();
    let (lower, upper) = exponential_mean_bounds(total_time(sample), failures, 0.975, ended);
    match end {
        "lo" => lower,
        "hi" => upper,
        _ => None,
    }
}

/// `B10` is the age by which 10 % have failed, `R(200)` the survival of age 200; `sigma` and `mu` stand for
/// the shape and scale of a law that reports those.
fn quantity(fit: &Fit, name: &str) -> Option<Quantity> {
    let at = |name: &str| fit.family.reported().iter().position(|p| p.name == name);
    let other = match name {
        "sigma" => "shape",
        "mu" => "scale",
        _ => name,
    };
    if let Some(i) = at(name).or_else(|| at(other)) {
        return Some(Quantity::Parameter(i));
    }
    if name == "mean" {
        return Some(Quantity::Mean);
    }
    if let Some(percent) = name.strip_prefix('B') {
        return Some(Quantity::Quantile(percent.parse::<f64>().ok()? / 100.0));
    }
    let age = name.strip_prefix("R(")?.strip_suffix(')')?;
    Some(Quantity::Survival(age.parse().ok()?))
}

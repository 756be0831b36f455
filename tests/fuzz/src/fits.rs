//! Small samples of every kind of life data, fitted by every law.

use sealspan_life::bounds::{Bounds, Method, bounds};
use sealspan_life::fit::fit as fit_law;
use sealspan_life::quantity::Quantity;
use sealspan_life::{laws, product_limit, turnbull};
use sealspan_records::{Observation, Sample};

/// Bytes that describe one observation.
const ROW: usize = 6;
/// Rows taken at most: the promise is about any sample, and small ones are the hard ones.
const MOST: usize = 24;
/// The laws by the first byte; those of one shape and scale, of which a hundred fits cost what one of the others
/// does, come up twice as often.
const BY_BYTE: [usize; 16] = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 0, 1, 2, 3, 4, 5];

/// The first byte names the law; then six bytes a row: kind and count, unit, three ages in that unit, and
/// whether the last is an entry.
pub fn fit(bytes: &[u8]) {
    let Some((law, rest)) = bytes.split_first() else {
        return;
    };
    let rows = rest.chunks_exact(ROW).take(MOST).filter_map(row).collect();
    let sample = Sample::new(rows);
    let all = laws::all();
    let family = all[BY_BYTE[usize::from(*law) % BY_BYTE.len()]];
    let fitted = match fit_law(family, &sample) {
        Ok(fitted) => fitted,
        Err(why) => return assert!(!why.to_string().is_empty()),
    };
    assert!(
        fitted.log_likelihood.is_finite(),
        "{}: log-likelihood",
        family.name()
    );
    assert!(
        fitted.theta.iter().all(|x| x.is_finite()),
        "{}: θ",
        family.name()
    );
    assert!(
        fitted.covariance.iter().all(|x| x.is_finite()),
        "{}: covariance",
        family.name()
    );
    for p in [0.01, 0.1, 0.5, 0.9] {
        let quantity = Quantity::Quantile(p);
        let value = fitted.estimate(quantity);
        // A law of which a share never fails, or not within the range of numbers, has no such age.
        let never = family.ln_survival(&fitted.theta, 1e300) >= (-p).ln_1p();
        // Nor has a normal law of which the share lies below age 0.
        let before = family.ln_survival(&fitted.theta, 1e-300) <= (-p).ln_1p();
        assert!(
            never || before || value.is_finite() && value >= 0.0,
            "{}: {p}: {value}",
            family.name()
        );
        sound(&bounds(&fitted, quantity, Method::Wald, 0.9), family.name());
    }
    let tenth = Quantity::Quantile(0.1);
    sound(&bounds(&fitted, tenth, Method::Profile, 0.9), family.name());
    for curve in product_limit::curve(&sample, 0.9)
        .iter()
        .flat_map(|c| &c.steps)
    {
        assert!((0.0..=1.0).contains(&curve.survival));
    }
    let _ = turnbull::curve(&sample, 0.9);
}

/// An end is a number, or there is a word why not.
fn sound(bounds: &Bounds, law: &str) {
    for (end, why) in [
        (bounds.lower, bounds.no_lower),
        (bounds.upper, bounds.no_upper),
    ] {
        assert!(end.is_some() != why.is_some(), "{law}: {bounds:?}");
        assert!(end.is_none_or(|x| !x.is_nan()), "{law}: {bounds:?}");
    }
}

fn row(bytes: &[u8]) -> Option<Observation> {
    let &[kind, unit, a, b, c, late] = bytes else {
        return None;
    };
    // Units from 10⁻⁴ to 10⁶: ages of very different size in one sample, too.
    let unit = 10_f64.powi(i32::from(unit % 11) - 4);
    let age = |x: u8| f64::from(x) * unit;
    let entry = if late % 4 == 0 { age(c) } else { 0.0 };
    let count = f64::from(kind / 4 % 8) + if kind >= 128 { 1_000.0 } else { 0.0 };
    match kind % 4 {
        0 => Observation::exact(age(a), entry, count),
        1 => Observation::right(age(a), entry, count),
        2 => Observation::interval(age(a), age(b), entry, count),
        _ => Observation::interval(0.0, age(a), entry, count),
    }
    .ok()
}

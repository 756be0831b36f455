//! Numbers as a reader sees them, in one place.
//!
//! Choices that hold everywhere: a comma every three digits, a point before
//! decimals, the true minus sign, a no-break space between a number and its
//! unit or per cent sign, and no more digits than the interval supports.
//!
//! ```
//! use sealspan_report::number::*;
//! let plain = |text: String| text.replace(NBSP, " ");
//! assert_eq!(fixed(1_234_567.891, 1), "1,234,567.9");
//! assert_eq!(count(10_000_000), "10,000,000");
//! assert_eq!(significant(0.0123456, 3), "0.0123");
//! assert_eq!(to_width(412.34, 124.0), "412"); // an interval 124 wide supports no decimals
//! assert_eq!(plain(percent(0.0421)), "4.2 %");
//! assert_eq!(plain(level(0.995)), "99.5 %");
//! assert_eq!(plain(chance(0.0, 200)), "less than 0.5 %"); // no finer than one case in 200
//! assert_eq!(p_value(1e-12), "p < 0.001");
//! assert_eq!(simulated_p_value(2.0 / 301.0, 300), "p = 0.007");
//! assert_eq!(plain(money(12_430.4, "EUR")), "EUR 12,430");
//! ```

mod estimate;

pub use estimate::{Estimate, IntervalKind, Range, Unit};

/// No-break space, put between a number and its unit.
pub const NBSP: char = '\u{a0}';

/// The most decimals ever written.
const MOST_DECIMALS: i32 = 12;

/// `value` with a fixed number of decimals and a comma every three digits.
///
/// A value that is not finite has no digits and is written as "not a number".
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "not a number".to_owned();
    }
    let plain = format!("{:.decimals$}", value.abs());
    let (whole, fraction) = plain.split_once('.').unwrap_or((&plain, ""));
    let is_zero = plain.bytes().all(|b| b == b'0' || b == b'.');
    let mut text = String::with_capacity(plain.len() + 8);
    if value < 0.0 && !is_zero {
        text.push('\u{2212}');
    }
    text.push_str(&grouped(whole));
    if !fraction.is_empty() {
        text.push('.');
        text.push_str(fraction);
    }
    text
}

/// A whole number with a comma every three digits.
#[must_use]
pub fn count(value: u64) -> String {
    grouped(&value.to_string())
}

fn grouped(digits: &str) -> String {
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// `value` to `digits` significant digits; zeros after them are kept.
///
/// Values of 10^12 and more and those below 10^-6 are written with a power of ten. `digits` outside 1 to 15 are taken
/// as the nearer of these; a value that is not finite is "not a number".
#[must_use]
pub fn significant(value: f64, digits: u32) -> String {
    if value == 0.0 || !value.is_finite() {
        return fixed(value, 0);
    }
    let keep = i32::try_from(digits.clamp(1, 15)).unwrap_or(15) - 1;
    let power = magnitude(value, keep);
    if !(-6..12).contains(&power) {
        return scientific(value, power, keep);
    }
    rounded_to_power(value, power - keep)
}

/// The power of ten of the leading digit once `value` is rounded to
/// `keep + 1` significant digits.
fn magnitude(value: f64, keep: i32) -> i32 {
    let keep = usize::try_from(keep).unwrap_or(0);
    let written = format!("{:.keep$e}", value.abs());
    written
        .split_once('e')
        .and_then(|(_, power)| power.parse().ok())
        .unwrap_or(0)
}

fn scientific(value: f64, power: i32, keep: i32) -> String {
    const RAISED: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    let keep = usize::try_from(keep).unwrap_or(0);
    let written = format!("{:.keep$e}", value.abs());
    let lead = written.split_once('e').map_or("", |(lead, _)| lead);
    let raised: String = power
        .unsigned_abs()
        .to_string()
        .bytes()
        .filter_map(|b| RAISED.get(usize::from(b.wrapping_sub(b'0'))))
        .collect();
    let sign = if value < 0.0 { "\u{2212}" } else { "" };
    let below = if power < 0 { "⁻" } else { "" };
    format!("{sign}{lead}{NBSP}×{NBSP}10{below}{raised}")
}

/// `value` to four significant digits at most, without zeros that say nothing: 730, 629.1, 2.5.
///
/// ```
/// use sealspan_report::number::tidy;
/// assert_eq!((tidy(730.0), tidy(2.5), tidy(12_345.0)), ("730".into(), "2.5".into(), "12,350".into()));
/// ```
#[must_use]
pub fn tidy(value: f64) -> String {
    let text = significant(value, 4);
    if text.contains('.')
        && text
            .bytes()
            .all(|b| b.is_ascii_digit() || b == b'.' || b == b',')
    {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// The same as [`tidy`], rounded up: for a time to be kept at least.
///
/// ```
/// assert_eq!(sealspan_report::number::tidy_up(498.91), "499");
/// ```
#[must_use]
pub fn tidy_up(value: f64) -> String {
    let step = 10f64.powf(value.abs().log10().floor() - 3.0);
    let up = (value / step * (1.0 - 1e-12)).ceil() * step;
    tidy(if up.is_finite() { up } else { value })
}

/// `value` rounded to a multiple of 10^`power`.
fn rounded_to_power(value: f64, power: i32) -> String {
    if power >= 0 {
        let unit = 10f64.powi(power);
        fixed((value / unit).round() * unit, 0)
    } else {
        let decimals = usize::try_from(-power.max(-MOST_DECIMALS)).unwrap_or(0);
        fixed(value, decimals)
    }
}

/// `value` rounded so that the rounding is at most a twentieth of `width`.
///
/// This is how an interval decides the digits of its estimate: with a width
/// of 124 whole numbers are written, with a width of 250 tens. A width that is
/// zero or not finite gives three significant digits. However wide the interval, two significant digits
/// are kept (one below ten): an estimate of 1,015 with an upper end of a million is not 0.
#[must_use]
pub fn to_width(value: f64, width: f64) -> String {
    if !(width.is_finite() && width > 0.0) {
        return significant(value, 3);
    }
    let power = (width / 20.0).log10().floor();
    if value != 0.0 && !(1e-6..1e12).contains(&value.abs()) {
        return significant(value, 3);
    }
    #[expect(clippy::cast_possible_truncation, reason = "a log10 is small")]
    let power = power as i32;
    if value == 0.0 {
        return rounded_to_power(value, power);
    }
    let leading = magnitude(value, 1);
    rounded_to_power(value, power.min((leading - 1).max(leading.min(0))))
}

/// A share between 0 and 1 as per cent, rounded as suits its size: 0.004 is
/// "0.4 %", 0.042 is "4.2 %", 0.42 is "42 %", 0.9996 is "99.96 %"; nearer to 0 or 1 only "less than 0.01 %" or "more than
/// 99.99 %" is said.
#[must_use]
pub fn percent(share: f64) -> String {
    format!("{}{NBSP}%", percent_number(share))
}

/// A chance counted over so many cases: below one of them, or above all but one, only that is said.
#[must_use]
pub fn chance(share: f64, cases: usize) -> String {
    let least = 1.0 / cases.max(1) as f64;
    if share < least {
        format!("less than {}", percent(least))
    } else if share > 1.0 - least {
        format!("more than {}", percent(1.0 - least))
    } else {
        percent(share)
    }
}

pub(crate) fn percent_number(share: f64) -> String {
    let value = share * 100.0;
    let edge = value.abs().min((100.0 - value).abs());
    let decimals = if edge == 0.0 || edge >= 9.95 || !edge.is_finite() {
        0
    } else if edge >= 0.095 {
        1
    } else {
        2
    };
    let text = fixed(value, decimals);
    if edge != 0.0 && edge < 0.005 {
        let bound = if value < 50.0 {
            "less than 0.01"
        } else {
            "more than 99.99"
        };
        return bound.to_owned();
    }
    match text.strip_suffix(".0") {
        Some(whole) => whole.to_owned(),
        None => text,
    }
}

/// A stated share or level such as 0.9 as "90 %", 0.995 as "99.5 %", 0.00001 as "0.001 %": all the digits it has, but
/// for rounding in the last ones a number holds.
#[must_use]
pub fn level(level: f64) -> String {
    let per_cent = level * 100.0;
    let leading = magnitude(per_cent, 11);
    if per_cent > 0.0 && leading < -9 {
        return format!("{}{NBSP}%", significant(per_cent, 3));
    }
    let decimals = usize::try_from((11 - leading).clamp(0, 20)).unwrap_or(0);
    let text = format!("{per_cent:.decimals$}");
    let short = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => &text,
    };
    format!("{short}{NBSP}%")
}

/// A number of things with its word, to one decimal where it is not whole: "1 seal", "2,220 seals".
///
/// ```
/// use sealspan_report::number::counted;
/// assert_eq!((counted(1.0, "seal"), counted(2220.0, "seal")), ("1 seal".into(), "2,220 seals".into()));
/// ```
#[must_use]
pub fn counted(count: f64, one: &str) -> String {
    let decimals = usize::from(count.fract() != 0.0);
    let ending = if count == 1.0 { "" } else { "s" };
    format!("{} {one}{ending}", fixed(count, decimals))
}

/// A p-value: "p = 0.031", "p < 0.001", "p > 0.99"; outside 0 to 1 "p not available".
#[must_use]
pub fn p_value(p: f64) -> String {
    if !(0.0..=1.0).contains(&p) {
        "p not available".to_owned()
    } else if p < 0.001 {
        "p < 0.001".to_owned()
    } else if p > 0.99 {
        "p > 0.99".to_owned()
    } else {
        format!("p = {}", fixed(p, if p < 0.0995 { 3 } else { 2 }))
    }
}

/// A p-value counted among `draws` simulated samples; where none of them is as far off it is only known to be small:
/// "p < 0.004" for 1 / 301.
#[must_use]
pub fn simulated_p_value(p: f64, draws: usize) -> String {
    let least = 1.0 / (draws as f64 + 1.0);
    if p > 0.0 && p < 1.5 * least && least > 0.001 {
        let step = 10_f64.powf(least.log10().floor());
        return format!("p < {}", significant((least / step).ceil() * step, 1));
    }
    p_value(p)
}

/// An amount of money: whole from a hundred on, cents below that, three significant digits below one and from 10^12 on:
/// "EUR 9.50", "EUR 12,430", "EUR 0.00125". Without a currency the number alone.
#[must_use]
pub fn money(amount: f64, currency: &str) -> String {
    if amount != 0.0 && (amount.abs() < 0.995 || amount.abs() >= 1e12) {
        return with_currency(&significant(amount, 3), currency);
    }
    let decimals = usize::from(amount.abs() < 99.995) * 2;
    with_currency(&fixed(amount, decimals), currency)
}

/// An amount of money as exact as its interval is wide, or as `width` says: "EUR 258,000" of 257,709 known to 53,000.
///
/// ```
/// use sealspan_report::number::money_to;
/// assert_eq!(money_to(257_709.0, 53_000.0, ""), "258,000");
/// ```
#[must_use]
pub fn money_to(amount: f64, width: f64, currency: &str) -> String {
    with_currency(&to_width(amount, width), currency)
}

/// Amounts that are parts of a whole, written as [`money_to`] writes the whole, so that what is written adds up: the
/// largest takes what the rounding of the others leaves.
///
/// ```
/// use sealspan_report::number::{money_parts, money_to};
/// assert_eq!(money_to(440_412.0, 100_000.0, ""), "440,000");
/// assert_eq!(money_parts(&[280_812.0, 159_600.0], 100_000.0, ""), ["280,000", "160,000"]);
/// ```
#[must_use]
pub fn money_parts(parts: &[f64], width: f64, currency: &str) -> Vec<String> {
    let whole: f64 = parts.iter().sum();
    let rounded = |x: f64| {
        to_width(x, width)
            .replace(',', "")
            .parse::<f64>()
            .unwrap_or(x)
    };
    let step = (width / 20.0).log10().floor();
    let unit = if step > 0.0 { 10f64.powf(step) } else { 1.0 };
    let near = |x: f64| (x / unit).round() * unit;
    let largest = (0..parts.len()).max_by(|a, b| {
        let at = |i: &usize| parts.get(*i).copied().unwrap_or(0.0);
        at(a).total_cmp(&at(b))
    });
    let others = parts.iter().zip(0..).filter(|(_, i)| Some(*i) != largest);
    let others: f64 = others.map(|(x, _)| near(*x)).sum();
    let each = parts
        .iter()
        .zip(0..)
        .map(|(x, i)| match Some(i) == largest {
            true => rounded(whole) - others,
            false => near(*x),
        });
    each.map(|x| money_to(x, width, currency)).collect()
}

fn with_currency(number: &str, currency: &str) -> String {
    if currency.is_empty() {
        number.to_owned()
    } else {
        format!("{currency}{NBSP}{number}")
    }
}

#[cfg(test)]
mod tests;

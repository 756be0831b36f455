//! `fit`: life models by group.

mod modes;

use crate::Answer;
use crate::args::Fit;
use crate::failure::Failure;
use crate::input::{self, Asked};
use crate::output::{Format, Output};
use crate::progress::Progress;
use crate::table::table;
use sealspan_life::bounds::NoEnd;
use sealspan_report::number::{self, Unit};
use sealspan_report::wire::Number;
use sealspan_report::wire::fit::{
    Ends, FamilyFit, FitDocument, FitOptions, GroupFit, Refitted, by_mode, document, missing,
};

pub fn run(args: &Fit) -> Answer {
    let families = input::families(&args.family)?;
    if args.shape.is_some() && !families.iter().any(|f| f.name() == "weibull") {
        return Err(Failure::argument(
            "--shape states a Weibull shape",
            "add weibull to --family",
        ));
    }
    let Asked {
        records,
        question,
        answer,
    } = input::asked(&args.input, &args.question)?;
    let options = FitOptions {
        unit: question.clock.unit(),
        families,
        bounds: args.bounds.map(Into::into),
        confidence: args.confidence,
        quantiles: args.quantile.clone(),
        at: args.at.clone(),
        ages_now: args.age.clone(),
        shape: args.shape,
        residuals: args.residuals,
        refitted: Refitted::Every,
        seed: args.seed,
    };
    let _progress = Progress::start("fitting");
    let mut document = document(&records, &answer, &options);
    if args.modes {
        let family = options.families.first().copied();
        let family = family.map_or_else(|| input::family("weibull"), Ok)?;
        document.modes = by_mode(&records, &question, family, &options)?;
    }
    // Nothing estimated and nothing bounded anywhere: the data do not answer.
    let silent =
        |g: &GroupFit| g.assumed_shapes.is_empty() && !g.fits.iter().any(|f| f.bounds.is_some());
    let status = u8::from(document.groups.iter().all(silent));
    if status == 1 && args.format.format == Format::Text {
        let why = document
            .groups
            .first()
            .and_then(|g| g.fits.first())
            .and_then(|f| f.reason.clone());
        return Err(Failure::unanswerable(
            why.unwrap_or_else(|| "there is nothing to fit".to_owned()),
            "see `sealspan check` for what was read and set aside",
        ));
    }
    Ok(Output::new(args.format.format, document, text).with_status(status))
}

/// A number with its interval, or why not.
fn cell(n: &Number, ends: Ends, unit: &Unit) -> String {
    let write = |x: f64, width: Option<f64>| match (unit, width) {
        (Unit::Share, _) => number::percent(x),
        (_, Some(width)) => number::to_width(x, width),
        _ => number::significant(x, 3),
    };
    let width = n.lower.zip(n.upper).map(|(l, u)| u - l);
    let lower = n
        .lower
        .map_or_else(|| missing(ends.no_lower).to_owned(), |x| write(x, width));
    let upper = n
        .upper
        .map_or_else(|| missing(ends.no_upper).to_owned(), |x| write(x, width));
    match (n.estimate, n.lower, n.upper) {
        (Some(e), None, None) if ends.no_lower == Some(NoEnd::Stated) => {
            format!("{} (stated)", write(e, None))
        }
        (Some(e), ..) => format!("{} ({lower} to {upper})", write(e, width)),
        (None, None, None) => "none".to_owned(),
        (None, Some(l), None) => format!("at least {}", write(l, None)),
        (None, None, Some(u)) => format!("at most {}", write(u, None)),
        // No less than nothing and no more than all say nothing.
        (None, Some(l), Some(1.0)) if *unit == Unit::Share => {
            format!("at least {}", write(l, None))
        }
        (None, Some(0.0), Some(u)) => format!("at most {}", write(u, None)),
        (None, Some(_), Some(_)) => format!("between {lower} and {upper}"),
    }
}

fn text(d: &FitDocument) -> String {
    let mut out = format!(
        "{} rows read, {} set aside; ages in {}; {} intervals in brackets (two-sided: each end by itself is a {} bound)\n",
        d.rows_read,
        d.set_aside,
        d.unit,
        number::level(d.confidence),
        number::level(0.5 + 0.5 * d.confidence),
    );
    for g in &d.groups {
        out.push_str(&format!("\n{}\n", group_text(g, d)));
    }
    for g in &d.modes {
        out.push_str(&format!("\n{}", modes::text(g, d)));
    }
    out
}

fn group_text(g: &GroupFit, d: &FitDocument) -> String {
    let c = &g.counts;
    let failed = c.exact + c.left + c.interval;
    let mut out = format!(
        "{}: {} seals, {} failed ({} at a known age, {} between looks, {} before the first look), {} not\n",
        g.group.words(),
        c.total,
        failed,
        c.exact,
        c.interval,
        c.left,
        c.right
    );
    if !g.ladder.is_empty() {
        out.push_str(&format!("  {}\n", g.ladder));
    }
    let mut rows: Vec<Vec<String>> = vec![];
    for fit in &g.fits {
        rows.extend(family_rows(fit));
    }
    if !rows.is_empty() {
        out.push_str(&table(&["model", "quantity", "estimate"], &rows));
        out.push('\n');
    }
    if !g.assumed_shapes.is_empty() {
        out.push_str(&format!(
            "  with fewer than 5 failures no shape is trusted; {} lower bounds (one-sided) of life in {} if the shape were known (watching taken to end at a stated time):\n",
            number::level(g.assumed_shapes[0].one_sided_confidence),
            d.unit
        ));
        let head: Vec<String> = g.assumed_shapes[0]
            .quantiles
            .iter()
            .map(|q| format!("{} failed by, at least", number::percent(q.p)))
            .collect();
        let head: Vec<&str> = ["shape", "characteristic life, at least"]
            .into_iter()
            .chain(head.iter().map(String::as_str))
            .collect();
        let rows: Vec<Vec<String>> = g
            .assumed_shapes
            .iter()
            .map(|a| {
                let quantiles = a.quantiles.iter().map(|q| number::significant(q.lower, 3));
                [
                    number::significant(a.shape, 2),
                    number::significant(a.scale_lower, 3),
                ]
                .into_iter()
                .chain(quantiles)
                .collect()
            })
            .collect();
        out.push_str(&table(&head, &rows));
        out.push('\n');
    }
    for fit in &g.fits {
        out.push_str(&below(fit));
    }
    if let Some(choice) = &g.choice {
        out.push_str(&format!("  {}\n", choice.sentence));
    }
    out
}

/// What stands below the table: how the intervals were made, and doubts.
fn below(fit: &FamilyFit) -> String {
    let mut out = String::new();
    let mut say = |text: String| out.push_str(&format!("  {}: {text}\n", fit.family));
    if let Some(method) = fit.bounds.filter(|_| !fit.withheld) {
        let error = fit.simulation_error.map_or_else(String::new, |e| {
            format!(
                "; simulation error of each end's confidence {}",
                number::percent(e)
            )
        });
        let draws = fit.effective_draws.map_or_else(String::new, |n| {
            format!("; effective draws {}", number::fixed(n, 0))
        });
        say(format!("intervals by {}{error}{draws}", method.words()));
    }
    if let Some(bands) = bands(fit) {
        say(bands);
    }
    if let Some(priors) = &fit.priors {
        say(format!("priors: {priors}"));
    }
    if let Some(why) = fit.bounds_reason.filter(|_| fit.converged && !fit.withheld) {
        say(format!("asked for another interval: {why}"));
    }
    for b in fit.profile_beside.iter().filter(|_| !fit.withheld) {
        let end = |x: Option<f64>, why| {
            x.map_or_else(|| missing(why).to_owned(), |x| number::significant(x, 3))
        };
        say(format!(
            "profile-likelihood interval of {}: {} to {}",
            b.of,
            end(b.lower, b.ends.no_lower),
            end(b.upper, b.ends.no_upper)
        ));
    }
    if let Some(shape) = fit.bias_reduced_shape.filter(|_| !fit.withheld) {
        say(format!(
            "shape with its small-sample bias taken off: {}",
            number::significant(shape, 3)
        ));
    }
    for warning in &fit.warnings {
        say(warning.clone());
    }
    out
}

/// The band of survival at the ages asked about.
fn bands(fit: &FamilyFit) -> Option<String> {
    let parts: Vec<String> = fit
        .survival
        .iter()
        .filter(|_| !fit.withheld)
        .filter_map(|s| {
            Some(format!(
                "{} to {} survive {}",
                number::percent(s.band_lower?),
                number::percent(s.band_upper?),
                number::significant(s.time, 4)
            ))
        })
        .collect();
    (!parts.is_empty()).then(|| {
        format!(
            "at all ages at once (band by the likelihood of all parameters together, not calibrated): {}",
            parts.join(", ")
        )
    })
}

fn family_rows(fit: &FamilyFit) -> Vec<Vec<String>> {
    if fit.withheld {
        return vec![vec![
            fit.family.to_owned(),
            "not shown".to_owned(),
            "fewer than 5 failures fix no shape: see the shapes taken as known below".to_owned(),
        ]];
    }
    if let Some(reason) = fit.reason.as_ref().filter(|_| fit.bounds.is_none()) {
        let mut rows = vec![vec![
            fit.family.to_owned(),
            "no estimate".to_owned(),
            reason.clone(),
        ]];
        rows.extend(numbers(fit).into_iter().filter(|row| row[2] != "none"));
        return rows;
    }
    let mut rows = numbers(fit);
    if let Some(first) = rows.first_mut() {
        first[0] = fit.family.to_owned();
    }
    if let (Some(l), Some(aicc)) = (fit.log_likelihood, fit.aicc) {
        rows.push(vec![
            String::new(),
            "log-likelihood; AICc".to_owned(),
            format!("{}; {}", number::fixed(l, 2), number::fixed(aicc, 2)),
        ]);
    }
    if let Some(g) = &fit.goodness {
        rows.push(vec![
            String::new(),
            "Anderson–Darling test of fit".to_owned(),
            number::p_value(g.p_value),
        ]);
    }
    rows
}

fn numbers(fit: &FamilyFit) -> Vec<Vec<String>> {
    let row = |name: String, n: &Number, ends: Ends, unit: &Unit| {
        vec![String::new(), name, cell(n, ends, unit)]
    };
    let mut rows: Vec<Vec<String>> = fit
        .parameters
        .iter()
        .map(|p| row(p.name.to_owned(), &p.number, p.ends, &Unit::None))
        .collect();
    rows.extend(fit.quantiles.iter().map(|q| {
        row(
            format!("{} failed by", number::percent(q.p)),
            &q.number,
            q.ends,
            &Unit::None,
        )
    }));
    rows.push(row(
        "mean life".to_owned(),
        &fit.mean_life,
        fit.mean_life_ends,
        &Unit::None,
    ));
    rows.extend(fit.survival.iter().map(|s| {
        row(
            format!("share surviving {}", number::significant(s.time, 4)),
            &s.number,
            s.ends,
            &Unit::Share,
        )
    }));
    rows.extend(fit.remaining.iter().map(|r| {
        let name = format!(
            "{} of those aged {} fail within",
            number::percent(r.p),
            number::significant(r.age, 4)
        );
        row(name, &r.number, r.ends, &Unit::None)
    }));
    rows
}

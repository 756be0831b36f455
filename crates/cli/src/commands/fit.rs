//! `fit`: life models by group.

mod below;
mod choice;
mod curve;
mod few;
mod modes;
mod overview;

use crate::Answer;
use crate::args::Fit;
use crate::failure::Failure;
use crate::input::{self, Asked};
use crate::output::Output;
use crate::progress::Progress;
use crate::table::table;
use sealspan_life::bounds::NoEnd;
use sealspan_report::number::{self, Unit};
use sealspan_report::wire::Number;
use sealspan_report::wire::fit::{
    Detail, Ends, FamilyFit, FitDocument, FitOptions, GroupFit, Refitted, Remaining, by_mode,
    document, missing,
};
use sealspan_report::wire::mode_tests::mode_tests;

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
    } = input::asked(&args.input, &args.question, args.modes, args.residuals)?;
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
        detail: Detail::Whole,
        seed: args.seed,
    };
    let progress = Progress::start(format!(
        "fitting {} to {}",
        number::counted(options.families.len() as f64, "law"),
        number::counted(answer.groups.len() as f64, "group")
    ));
    let mut document = document(&records, &answer, &options);
    if args.modes {
        progress.now("fitting each failure mode");
        let family = options.families.first().copied();
        let family = family.map_or_else(|| input::family("weibull"), Ok)?;
        document.modes = by_mode(&records, &question, family, &options)?;
        document.mode_tests = mode_tests(&records, &question, options.seed)?;
    }
    // Nothing estimated and nothing bounded anywhere: the data do not answer.
    let silent =
        |g: &GroupFit| g.assumed_shapes.is_empty() && !g.fits.iter().any(|f| f.bounds.is_some());
    let status = u8::from(document.groups.iter().all(silent));
    if status == 1 && args.format.format.is_for_people() && args.curve.is_none() {
        let first = document.groups.first().and_then(|g| g.fits.first());
        let why = first.and_then(|f| f.reason.clone());
        let weibull = options.families.iter().any(|f| f.name() == "weibull");
        let simpler = if weibull {
            ""
        } else {
            "ask for a simpler law (--family weibull), or "
        };
        return Err(Failure::unanswerable(
            why.unwrap_or_else(|| "there is nothing to fit".to_owned()),
            format!(
                "{simpler}see what the records say without a law (--curve); `sealspan check` says what was read and set aside"
            ),
        ));
    }
    drop(progress);
    let rows = args.curve;
    Ok(Output::new(args.format.format, document, move |d| text(d, rows)).with_status(status))
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

fn text(d: &FitDocument, curve_rows: Option<usize>) -> String {
    let mut out = format!(
        "{} read, {}; ages in {}; {} intervals in brackets, how they are made below\n",
        number::counted(d.rows_read as f64, "row"),
        aside(d),
        d.unit,
        number::level(d.confidence),
    );
    if let Some(note) = &d.unit_note {
        out.push_str(&format!("{note}\n"));
    }
    out.push_str(&overview::text(d));
    for g in &d.groups {
        out.push_str(&format!("\n{}", group_text(g, d, curve_rows)));
    }
    for g in &d.modes {
        out.push_str(&format!("\n{}", modes::text(g, d)));
    }
    out.push_str(&modes::tests(d));
    if curve_rows.is_none() {
        out.push_str("\nthe curve without a family: --curve; every number: --format json\n");
    }
    out
}

/// Rows set aside, with the reason of the first.
fn aside(d: &FitDocument) -> String {
    let Some(first) = d.first_set_aside.first() else {
        return "none set aside".to_owned();
    };
    let others = if d.set_aside > 1 && first.file.is_some() {
        "; more: --format json"
    } else if d.set_aside > 1 {
        "; the others: sealspan check"
    } else {
        ""
    };
    let file = first.file.as_ref().map(|f| format!("{f}, "));
    format!(
        "{} set aside ({}row {}: {}{others})",
        number::count(d.set_aside),
        file.unwrap_or_default(),
        first.row,
        first.reason
    )
}

fn group_text(g: &GroupFit, d: &FitDocument, curve_rows: Option<usize>) -> String {
    let c = &g.counts;
    let failed = c.exact + c.left + c.interval;
    let mut out = format!(
        "{}: {}, {} failed ({} at a known age, {} between looks, {} before the first look), {} not\n",
        g.group.words(),
        number::counted(c.total, "seal"),
        failed,
        c.exact,
        c.interval,
        c.left,
        c.right
    );
    if !g.ladder.is_empty() {
        out.push_str(&format!("  {}\n", g.ladder));
    }
    let rows: Vec<Vec<String>> = g.fits.iter().flat_map(|f| family_rows(f, d.unit)).collect();
    if !rows.is_empty() {
        out.push_str(&table(&["model", "quantity", "estimate"], &rows));
        out.push('\n');
    }
    if !g.assumed_shapes.is_empty() {
        out.push_str(&few::text(&g.assumed_shapes, d));
    }
    for fit in &g.fits {
        out.push_str(&below::text(fit, d.unit));
    }
    if let Some(line) = &g.rank_line {
        out.push_str(&format!(
            "  line through the median ranks ({}): shape {}, characteristic life {} {}\n",
            line.note,
            number::significant(line.shape, 3),
            number::significant(line.scale, 3),
            d.unit
        ));
    }
    if let Some(choice) = &g.choice {
        out.push_str(&choice::text(choice, d));
    }
    if let Some(rows) = curve_rows {
        out.push_str(&curve::text(&g.empirical, rows, d));
    }
    out
}

fn family_rows(fit: &FamilyFit, unit: &str) -> Vec<Vec<String>> {
    let empty = |what: &str| {
        vec![
            fit.family.to_owned(),
            what.to_owned(),
            "see below".to_owned(),
        ]
    };
    if fit.withheld {
        return vec![empty("not shown")];
    }
    if fit.reason.is_some() && fit.bounds.is_none() {
        let mut rows = vec![empty("no estimate")];
        rows.extend(
            numbers(fit, unit)
                .into_iter()
                .filter(|row| row.get(2).is_some_and(|cell| cell != "none")),
        );
        return rows;
    }
    let mut rows = numbers(fit, unit);
    if let Some(name) = rows.first_mut().and_then(|row| row.first_mut()) {
        *name = fit.family.to_owned();
    }
    if let (Some(l), Some(aicc)) = (fit.log_likelihood, fit.aicc) {
        rows.push(vec![
            String::new(),
            "log-likelihood; AICc".to_owned(),
            format!("{}; {}", number::fixed(l, 2), number::fixed(aicc, 2)),
        ]);
    }
    if let Some(g) = &fit.goodness {
        for (test, p) in [
            ("Anderson–Darling", g.p_value),
            ("Cramér–von Mises", g.p_value_cramer_von_mises),
        ] {
            rows.push(vec![
                String::new(),
                format!("{test} test of fit"),
                number::simulated_p_value(p, g.refits),
            ]);
        }
    }
    rows
}

/// What a number is of, with its unit where it has one.
fn in_unit(name: &str, unit: &str) -> String {
    if unit.is_empty() {
        name.to_owned()
    } else {
        format!("{name}, {unit}")
    }
}

/// The time that is left to seals of an age, in words.
fn left_to(r: &Remaining, unit: &str) -> String {
    format!(
        "{} of those aged {} {unit} fail within",
        number::level(r.p),
        number::tidy(r.age)
    )
}

fn numbers(fit: &FamilyFit, time: &str) -> Vec<Vec<String>> {
    let row = |name: String, n: &Number, ends: Ends, unit: &Unit| {
        vec![String::new(), name, cell(n, ends, unit)]
    };
    let mut rows: Vec<Vec<String>> = fit
        .parameters
        .iter()
        .map(|p| row(in_unit(p.name, &p.unit), &p.number, p.ends, &Unit::None))
        .collect();
    rows.extend(fit.quantiles.iter().map(|q| {
        row(
            in_unit(&format!("{} failed by", number::level(q.p)), time),
            &q.number,
            q.ends,
            &Unit::None,
        )
    }));
    rows.push(row(
        in_unit("mean life", time),
        &fit.mean_life,
        fit.mean_life_ends,
        &Unit::None,
    ));
    rows.extend(fit.survival.iter().map(|s| {
        row(
            format!("share surviving {} {time}", number::tidy(s.time)),
            &s.number,
            s.ends,
            &Unit::Share,
        )
    }));
    rows.extend(fit.remaining.iter().map(|r| {
        let name = in_unit(&left_to(r, time), time);
        row(name, &r.number, r.ends, &Unit::None)
    }));
    rows
}

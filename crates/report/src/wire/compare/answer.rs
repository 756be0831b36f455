//! From groups and a question to the whole answer.

use super::asked::{Asked, clusters, ratios};
use super::{
    CompareDocument, CompareOptions, Keyed, Plan, RegressionResult, levels, ln_life, many, pairs,
    predict, seals, shown, temperature, tests,
};
use crate::wire::frailty::shared_frailty;
use crate::wire::hazards::{HazardsQuestion, ProportionalHazards, proportional_hazards};
use crate::wire::separated;
use sealspan_life::hazards::Source;
use sealspan_life::imputation::copies;
use sealspan_life::regression::{Place, Regression, Robust, fit_design};
use sealspan_records::Cell;

/// A comparison with what its figures are drawn from.
pub struct Compared {
    /// The answer.
    pub document: CompareDocument,
    /// The regression, where it has an answer.
    pub fitted: Option<Fitted>,
    /// The question.
    pub options: CompareOptions,
    /// The cells that the seals hold which stand in the way of a regression, where a column is at fault.
    pub in_the_way: Vec<Cell>,
}

/// A fitted regression with its seals.
pub struct Fitted {
    /// The groups fitted.
    pub groups: Vec<Keyed>,
    /// Their design rows, in the same order.
    pub places: Vec<Place>,
    /// How a key becomes a design row.
    pub plan: Plan,
    /// The fit.
    pub regression: Regression,
    /// The covariance that allows for like seals of a cluster.
    pub robust: Option<Robust>,
}

/// Compares the groups.
///
/// # Errors
/// In words, when a column does not hold what the question needs.
pub fn compare(
    unit: &'static str,
    groups: &[Keyed],
    options: &CompareOptions,
) -> Result<CompareDocument, String> {
    compared(unit, groups, options).map(|c| c.document)
}

/// The same with what figures are drawn from.
///
/// # Errors
/// As [`compare`].
pub fn compared(
    unit: &'static str,
    groups: &[Keyed],
    options: &CompareOptions,
) -> Result<Compared, String> {
    let (groups, mut warnings) = seals::complete(groups, options);
    if groups.is_empty() {
        return Err(warnings.join("; "));
    }
    options.check_bases()?;
    if let Some(column) = many::factor(&groups, options) {
        return Ok(Compared {
            document: many::compare(unit, &groups, options, &column, warnings)?,
            fitted: None,
            options: options.clone(),
            in_the_way: vec![],
        });
    }
    let mut asked = Asked::new(unit, &groups, options)?;
    warnings.append(&mut asked.plan.remarks);
    warnings.extend(asked.doubts(&groups, options));
    warnings.extend(temperature::implausible(&asked, options));
    let fitting = fit_design(options.family, &asked.design)
        .map_err(|why| separated::reason(&groups, options, &asked.plan, &asked.design, &why));
    let robust = fitting
        .as_ref()
        .ok()
        .and_then(|fitting| asked.robust(&fitting.regression, &groups, options));
    if let Ok(fitting) = &fitting {
        warnings.extend(clusters(robust.as_ref(), asked.plan.names.len(), options));
        warnings.extend(temperature::backwards(
            &asked.plan,
            &fitting.regression,
            options,
        ));
    }
    let alone = options.more.regression_only;
    let (tests, drawn_ages) = options
        .by
        .as_ref()
        .filter(|_| !alone)
        .map(|by| tests(&groups, by, options))
        .unwrap_or_default();
    let life_ratios = match (&options.by, &fitting) {
        (Some(by), Ok(fitting)) if !options.compared_within_others() => ratios(
            fitting,
            robust.as_ref(),
            by,
            &levels(&groups, by, &options.base)?,
            options,
        ),
        _ => vec![],
    };
    if life_ratios.len() > 1 && !alone {
        warnings.push(format!(
            "{} pairs are compared: each interval is for its pair alone, and the p-value for all of them is Holm's (1979)",
            life_ratios.len()
        ));
    }
    let predictions = match &fitting {
        Ok(fitting) => predict::predictions(
            &asked.plan,
            &asked.design,
            fitting,
            robust.as_ref(),
            options,
        )?,
        Err(_) => vec![],
    };
    let pairwise = match (&options.by, &fitting) {
        (Some(by), Ok(fitting)) if !alone && !options.compared_within_others() => {
            pairs(&groups, by, &fitting.regression, options)?
        }
        _ => None,
    };
    let rows = asked.rows();
    let names = &asked.plan.names;
    let frailty = options
        .more
        .frailty
        .as_ref()
        .map(|column| shared_frailty(&groups, names, &rows, column, options.confidence));
    let (regression_reason, in_the_way) = match &fitting {
        Ok(_) => (None, vec![]),
        Err(why) => (Some(why.words.clone()), why.cells.clone()),
    };
    let regression = fitting
        .as_ref()
        .ok()
        .map(|fitting| asked.result(fitting, robust.as_ref(), options));
    let together = regression.as_ref().and_then(|r| r.collinearity.as_ref());
    warnings.extend(together.map(|c| c.words.clone()).unwrap_or_default());
    let hazards = if alone {
        Err("not asked for here".to_owned())
    } else {
        let own = fitting.as_ref().ok().map(|f| &f.regression);
        let held = own.is_none().then(|| asked.held(options)).flatten();
        let fit = own.or(held.as_ref());
        cross_check(&asked, &groups, regression.as_ref(), fit, options)
    };
    let document = CompareDocument {
        schema: "sealspan.compare.v1",
        unit,
        confidence: options.confidence,
        tests,
        drawn_ages,
        mode_test: None,
        regression_reason,
        regression_rows: None,
        regression,
        proportional_hazards_reason: hazards.as_ref().err().cloned(),
        proportional_hazards: hazards.ok(),
        frailty,
        life_ratios,
        pairwise,
        predictions,
        warnings,
        cautions: crate::cautions::always(),
    };
    Ok(Compared {
        document,
        fitted: fitting.ok().map(|fitting| Fitted {
            groups,
            places: asked.places,
            plan: asked.plan,
            regression: fitting.regression,
            robust,
        }),
        options: options.clone(),
        in_the_way,
    })
}

/// The cross-check by proportional hazards, in the user's words.
fn cross_check(
    asked: &Asked,
    groups: &[Keyed],
    told: Option<&RegressionResult>,
    fit: Option<&Regression>,
    options: &CompareOptions,
) -> Result<ProportionalHazards, String> {
    let ln_lives = told.map(|told| ln_life(told, fit, asked, options.confidence));
    let question = HazardsQuestion {
        groups,
        names: &asked.plan.names,
        rows: &asked.centred_rows(),
        cluster: options.more.cluster.as_deref(),
        confidence: options.confidence,
        regression: ln_lives.as_ref(),
        held: told.is_none(),
        source: fit.map(|regression| Source {
            regression,
            places: &asked.places,
            copies: copies(groups.iter().flat_map(|(_, s)| s.rows())),
            seed: options.more.seed,
        }),
    };
    let factors: Vec<&String> = options.by.iter().chain(&options.given).collect();
    let mut found = proportional_hazards(&question).map_err(|why| {
        // A level without failures is the plainer reason: every rate is without end against it.
        separated::level_without_failures(groups, &factors).map_or_else(
            || asked.plan.in_words(&why),
            |why| {
                why.words
                    .replace(
                        "how much longer they last has no upper limit",
                        "their failure rate has no lower limit",
                    )
                    .replace(", or state --penalty to hold effects near 0", "")
            },
        )
    })?;
    shown::restate(&mut found, asked);
    Ok(found)
}

//! Options of `care` that the question asked leaves without a use: refused, so that nobody takes them as heeded.

use crate::args::Care;
use crate::failure::Failure;
use crate::input::Asked;
use sealspan_records::{Form, Study};

/// Refuses options that nothing here would heed.
///
/// # Errors
/// Naming the option and what it is for.
pub fn refuse(args: &Care, asked: Option<&Asked>, study: &Study) -> Result<(), Failure> {
    let seals = asked.is_some_and(|a| a.records.form == Form::Seals);
    if asked.is_none()
        && let Some(option) = of_records(args)
    {
        return Err(Failure::argument(
            format!("{option} is for records, and a life was stated"),
            "leave it out, or give a study or table of records",
        ));
    }
    if !seals && let Some(option) = of_plans(args) {
        return Err(Failure::argument(
            format!(
                "{option} is for plans from records of seals; here a life is taken as it stands"
            ),
            "leave it out, or give records of seals",
        ));
    }
    let measured = args.weigh.measure.is_some() || study.condition.measure.is_some();
    if (args.weigh.functional_limit.is_some() || args.weigh.measured_limit.is_some()) && !measured {
        return Err(Failure::argument(
            "a limit was given and no property is named",
            "name it with --measure, or [condition] measure in the study",
        ));
    }
    let shortest = args.weigh.least_between_openings.unwrap_or(0.0);
    let given = [
        ("--inspect-every", args.policy.steps.inspect_every),
        ("--turn-every", args.policy.steps.turn_every),
        ("--replace-at", args.policy.steps.replace_at),
    ];
    for (option, choice) in given {
        if let Some(sealspan_care::plan::Choice::At(every)) = choice
            && every < shortest
        {
            return Err(Failure::argument(
                format!(
                    "{option} {every} is sooner than --least-between-openings {shortest} allows"
                ),
                "change one of the two",
            ));
        }
    }
    Ok(())
}

/// That a detection was given which nothing can use.
pub fn detection(args: &Care) -> Option<String> {
    let idle = args.handling.detection.is_some()
        && args.delay.is_none()
        && args.handling.undetected_cost.is_none();
    idle.then(|| {
        "--detection is not used: a life that fails without warning, and shows its failure, has nothing for a look to find. State --defect and --delay, or --undetected-cost.".to_owned()
    })
}

/// An option given that only records have a use for.
fn of_records(args: &Care) -> Option<&'static str> {
    let q = &args.question;
    [
        ("--by", !q.by.is_empty()),
        ("--mode", q.mode.is_some()),
        ("--cut-off", q.cut_off.is_some()),
        ("--family", args.family.is_some()),
    ]
    .into_iter()
    .find_map(|(option, given)| given.then_some(option))
}

/// An option given that only plans from records of seals have a use for.
fn of_plans(args: &Care) -> Option<&'static str> {
    let w = &args.weigh;
    [
        ("--calendar", w.calendar.is_some()),
        (
            "--least-between-openings",
            w.least_between_openings.is_some(),
        ),
        ("--price-range", w.price_range.is_some()),
        ("--one-stage", w.one_stage),
        ("--measure", w.measure.is_some()),
        ("--functional-limit", w.functional_limit.is_some()),
        ("--measured-limit", w.measured_limit.is_some()),
    ]
    .into_iter()
    .find_map(|(option, given)| given.then_some(option))
}

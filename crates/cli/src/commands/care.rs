//! `care`: how often to inspect and turn a seal and when to replace it, from records or stated lives.

mod plan_text;
mod seal;
mod text;
mod unused;
mod whole_text;

use crate::Answer;
use crate::args::{Care, GoalArg, PriceArgs};
use crate::failure::Failure;
use crate::input::{self, Asked};
use crate::output::Output;
use crate::progress::Progress;
use rayon::prelude::*;
use sealspan_care::costs::{Costs, HOURS_PER_DAY, Prices};
use sealspan_care::plan::{Limits, Request, StopGap};
use sealspan_care::replacement::Goal;
use sealspan_records::{Clock, Form, Study};
use sealspan_report::analysis::lives::{GroupLife, groups, together};
use sealspan_report::analysis::plans::{Evidence, whole};
use sealspan_report::analysis::prices;
use sealspan_report::cautions;
use sealspan_report::wire::care::{CareBlock, CareDocument, GroupCare, PlanQuestion, plan_block};

pub fn run(args: &Care) -> Answer {
    let (clock, study, asked) = source(args)?;
    let costs = Costs::new(prices_of(args, &study)?, clock)?;
    unused::refuse(args, asked.as_ref(), &study)?;
    let question = question(args, &study, &costs)?;
    let _progress = Progress::start("weighing inspections, turns and replacement ages");
    let (all, groups) = match asked {
        None => {
            let seal = seal::stated(args)?;
            let mut all = plan_block(&seal, &[], None, &question)?;
            all.notes.extend(unused::detection(args));
            (Ok(all), vec![])
        }
        Some(asked) => from_records(&asked, args, &study, &question)?,
    };
    let document = CareDocument {
        schema: "sealspan.care.v1",
        unit: clock.unit(),
        goal: question.request.goal,
        reason: all.as_ref().err().map(Failure::message),
        all: all.ok(),
        groups,
        cautions: cautions::always(),
    };
    let currency = study.currency.unwrap_or_default();
    Ok(Output::new(args.format.format, document, move |d| {
        text::text(d, &currency)
    }))
}

/// The clock, the study's costs, and the records if there are any.
fn source(args: &Care) -> Result<(Clock, Study, Option<Asked>), Failure> {
    match (&args.input, args.life.as_ref().or(args.defect.as_ref())) {
        (Some(input), None) => {
            let asked = input::asked_by_study(input, &args.question)?;
            Ok((
                asked.question.clock,
                asked.records.study.clone(),
                Some(asked),
            ))
        }
        (None, Some(_)) => {
            let clock = args.question.clock.map_or(Clock::Days, Into::into);
            Ok((clock, Study::default(), None))
        }
        _ => Err(Failure::argument(
            "there is no life to decide on",
            "give a study or table of records, or state a life with --life, or --defect and --delay",
        )),
    }
}

fn prices_of(args: &Care, study: &Study) -> Result<Prices, Failure> {
    let mut given = with_arguments(prices::replacement(study), &args.prices);
    if args.handling.undetected_cost.is_some() {
        // A hidden failure that is found costs a replacement like any other unless told.
        if given.failure_cost == 0.0 {
            given.failure_cost = given.planned_cost;
        }
        if given.planned_cost == 0.0 {
            given.planned_cost = given.failure_cost;
        }
    }
    if given.failure_cost <= 0.0 && given.failure_hours * given.downtime_cost <= 0.0 {
        return Err(Failure::argument(
            "what a failure costs is not known",
            "give --planned-cost and --failure-cost (or hours down and --downtime-cost), or a study with [costs]",
        ));
    }
    Ok(given)
}

fn with_arguments(prices: Prices, args: &PriceArgs) -> Prices {
    Prices {
        planned_cost: args.planned_cost.unwrap_or(prices.planned_cost),
        failure_cost: args.failure_cost.unwrap_or(prices.failure_cost),
        planned_hours: args.planned_hours.unwrap_or(prices.planned_hours),
        failure_hours: args.failure_hours.unwrap_or(prices.failure_hours),
        downtime_cost: args.downtime_cost.unwrap_or(prices.downtime_cost),
        discount_rate: args.discount_rate.unwrap_or(prices.discount_rate),
    }
}

fn question<'a>(args: &Care, study: &Study, costs: &'a Costs) -> Result<PlanQuestion<'a>, Failure> {
    let policy = &args.policy;
    Ok(PlanQuestion {
        costs,
        handling: seal::handling(args, study),
        request: Request {
            turn_by: args.handling.turn_by,
            goal: match policy.goal {
                GoalArg::Cost => Goal::Cost,
                GoalArg::Availability => Goal::Availability,
            },
            limits: Limits {
                least_availability: policy.least_availability,
                most_failure_probability: policy.most_failure_probability,
            },
            ..policy.steps.request()
        },
        confidence: args.confidence,
        seed: args.seed,
        block: args.more.block,
        opportunity_every: args.more.opportunity_every,
        horizon: args.more.horizon,
        stop_gap: stop_gap(args, costs)?,
        currency: study.currency.clone().unwrap_or_default(),
    })
}

fn stop_gap(args: &Care, costs: &Costs) -> Result<Option<StopGap>, Failure> {
    let (Some(days), Some(age)) = (args.more.stop_gap_days, args.more.age) else {
        return Ok(None);
    };
    let hours = costs.hours_per_unit().ok_or_else(|| {
        Failure::argument(
            "days cannot be turned into cycles",
            "ask with lives in days or hours",
        )
    })?;
    Ok(Some(StopGap {
        age,
        wait: days * HOURS_PER_DAY / hours,
        sound_at: args.more.sound_at.unwrap_or(0.0),
        sector: args.more.worn_sector,
    }))
}

/// The answer for all seals together, which may be out of reach where those of some groups are not, and by group.
type Answers = (Result<CareBlock, Failure>, Vec<GroupCare>);

fn from_records(
    asked: &Asked,
    args: &Care,
    study: &Study,
    question: &PlanQuestion,
) -> Result<Answers, Failure> {
    let family = input::family(args.family.as_deref().unwrap_or("weibull"))?;
    let by = &asked.question.by;
    let facts = seal::facts(args, study, asked.question.mode.as_deref());
    let evidence = (asked.records.form == Form::Seals)
        .then(|| Evidence::read(&asked.records, by, asked.question.clock, &facts));
    let answer = |group: &GroupLife| -> Result<CareBlock, Failure> {
        let fitted = group.trusted().map_err(|why| {
            Failure::unanswerable(why, "wait for more failures, or state a life with --life")
        })?;
        let own = question
            .costs
            .dearer(prices::dearer(&study.costs, &group.key));
        let question = &PlanQuestion {
            costs: &own,
            ..question.clone()
        };
        match &evidence {
            Some(evidence) => Ok(whole(group, evidence, &facts, question)?),
            None => {
                let seal = seal::of_life(fitted.life.clone(), args, study)?;
                let oldest = Some(group.sample.oldest());
                Ok(plan_block(&seal, &fitted.draws, oldest, question)?)
            }
        }
    };
    if by.is_empty() {
        let all = answer(&together(&asked.answer, family, args.seed))?;
        return Ok((Ok(all), vec![]));
    }
    let one = |group: &GroupLife| {
        let result = answer(group);
        GroupCare {
            group: group.key.clone(),
            reason: result.as_ref().err().map(Failure::message),
            block: result.ok(),
        }
    };
    let (all, groups): (_, Vec<GroupCare>) = rayon::join(
        || answer(&together(&asked.answer, family, args.seed)),
        || {
            let groups = groups(&asked.answer, family, args.seed);
            groups.par_iter().map(one).collect()
        },
    );
    if groups.iter().all(|g| g.block.is_none()) {
        return Ok((Ok(all?), groups));
    }
    Ok((all, groups))
}

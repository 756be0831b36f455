//! Material advice: what the tables exclude, what the user's own records show, what it costs.

use super::materials_field::{Field, alike, cost, field_of};
use super::materials_words::{apart, for_here};
use crate::cautions::{Service, for_service};
use crate::wire::Number;
use crate::wire::materials::{
    AssetHistory, FieldBy, FieldLife, Lives, MaterialResult, MaterialsDocument, MediumAsked,
    RemarkResult,
};
use sealspan_care::costs::Prices;
use sealspan_care::screening::{Exposure, Remark, Tables, Verdict, screen, verdict};
use sealspan_records::words::{Material, nearest};
use std::collections::BTreeMap;

/// What is asked.
#[derive(Debug, Clone)]
pub struct MaterialsQuestion {
    /// Temperature, °C.
    pub celsius: Option<f64>,
    /// Media as the user names them.
    pub media: Vec<String>,
    /// Two-sided level of the intervals, between 0 and 1.
    pub confidence: f64,
    /// Prices of one seal of single materials, in place of the study's one price.
    pub prices: BTreeMap<Material, f64>,
    /// Seed of the draws behind the cost intervals.
    pub seed: u64,
}

/// The prices of a study.
#[derive(Debug, Clone, Default)]
pub struct Money {
    /// Currency.
    pub currency: Option<String>,
    /// Price of one seal, where the study gives it.
    pub seal_price: Option<f64>,
    /// Prices of a replacement, where there are any.
    pub prices: Option<Prices>,
}

/// Fewest failures from which a life is ranked (as elsewhere, a rule of ours).
pub const RANKED_FROM: f64 = 5.0;

/// Fewest failures that stand against a table's word.
const SURE_FROM: f64 = 10.0;
const TOO_FEW: &str = "too few failures of your own to rank by";

/// The records' word on one asset or exposure.
#[derive(Debug, Clone)]
pub struct Here {
    /// The asset, where one was asked for.
    pub asset: Option<AssetHistory>,
    /// Lives at the conditions; or why there are none.
    pub lives: Result<Lives, String>,
}

/// The advice. Families are ranked by what a position costs a year by the user's own lives in that exposure, of those with
/// [`RANKED_FROM`] failures or more; one with fewer only where the most that it can cost is below every estimate. An
/// excluded family is ranked only against a limit that is not hard, and from ten failures of one's own (rules of ours).
///
/// ```
/// use sealspan_care::screening::Tables;
/// use sealspan_records::{LoadOptions, load};
/// use sealspan_report::analysis::materials::{MaterialsQuestion, Money, materials};
/// use sealspan_report::analysis::{materials_field::{Where, field}, materials_here::here};
/// # use std::fmt::Write as _;
/// // Invented: at 60, 75 and 90 °C, and each life of FKM is twice one of EPDM.
/// let mut text = "time,status,material,temperature_c\n".to_owned();
/// for (material, times) in [("EPDM", 1), ("FKM", 2)] {
///     for (celsius, more) in [(60, 4), (75, 2), (90, 1)] {
///         for age in [10, 20, 30, 40, 50, 60] {
///             writeln!(text, "{},failed,{material},{celsius}", age * times * more)?;
///         }
///     }
/// }
/// # let path = std::env::temp_dir().join(format!("sealspan-doc-materials-{}.csv", std::process::id()));
/// # std::fs::write(&path, text)?;
/// let records = load(&path, &LoadOptions::default())?;
/// let mut question = MaterialsQuestion {
///     celsius: Some(60.0),
///     media: vec![],
///     confidence: 0.9,
///     prices: Default::default(),
///     seed: 1,
/// };
/// let place = Where {
///     temperature: Some("temperature_c".to_owned()),
///     media: vec![],
///     within: 10.0,
///     by: vec![],
/// };
/// let (tables, money) = (Tables::with_own(vec![])?, Money::default());
/// // Of each material the six lives near 60 °C are taken, none at 75 or 90 °C.
/// let near = field(&records, &tables, &question, &place)?;
/// let failed = |at: usize| near.groups[at].sample.tally().failures();
/// assert_eq!((near.groups.len(), failed(0), failed(1)), (2, 6.0, 6.0));
/// let at = here(&records, &mut question, None, &place, &money)?.unwrap();
/// let lives = at.lives.clone()?;
/// assert_eq!(lives.conditions_or_none(), "60 °C");
/// // By the regression FKM lives twice as long there, as the log was made.
/// let mean = |name: &str| lives.lives.iter().find(|l| l.material == name).unwrap().mean_life.estimate.unwrap();
/// assert!((mean("FKM") / mean("EPDM") - 2.0).abs() < 1e-3);
/// let advice = materials(&tables, Some(&near), &money, &question, Some(at));
/// let row = |name: &str| advice.materials.iter().find(|m| m.material == name).unwrap();
/// assert!(row("EPDM").field.is_some() && row("FKM").field.is_some());
/// assert!(row("EPDM").rank.is_none()); // nothing is ranked by cost without prices
/// # std::fs::remove_file(&path)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn materials(
    tables: &Tables,
    field: Option<&Field>,
    money: &Money,
    question: &MaterialsQuestion,
    here: Option<Here>,
) -> MaterialsDocument {
    let exposure = Exposure {
        celsius: question.celsius,
        media: question
            .media
            .iter()
            .map(|m| (m.clone(), tables.medium(m)))
            .collect(),
    };
    let mut families = tables.materials();
    if let Some(field) = field {
        families.extend(field.groups.iter().map(|g| g.material));
    }
    families.sort_unstable();
    families.dedup();
    families.retain(|m| *m != Material::Other);
    let mut rows: Vec<MaterialResult> = families
        .into_iter()
        .map(|m| row(tables, m, &exposure, field, money, question))
        .collect();
    rank(&mut rows);
    let at = |place: usize| rows.iter().find(|r| r.rank == Some(place));
    let first_two_p_value = field.zip(at(1)).zip(at(2));
    let first_two_p_value =
        first_two_p_value.and_then(|((f, a), b)| alike(f, &a.material, &b.material, question.seed));
    let mut told = vec![];
    if let Some(here) = &here {
        told.extend(for_here(here, &rows, question, money));
    }
    told.extend(advice(&rows, first_two_p_value, money));
    told.extend(here.as_ref().and_then(|here| apart(here, &rows)));
    let advice = told;
    let mut not_known = not_known(&rows, field, money);
    let (asset, lives) = match here {
        Some(here) => (here.asset, Some(here.lives)),
        None => (None, None),
    };
    if let Some(Ok(lives)) = &lives {
        not_known.extend(
            lives
                .left_out
                .iter()
                .map(|why| format!("what the regression leaves out, {why}")),
        );
        not_known.push("whether materials suffer alike from each condition: the regression takes effects to multiply; what the records say against that stands below its table".to_owned());
    }
    let mut service = vec![Service::Chemicals];
    if question.celsius.is_some_and(|c| c >= HOT) {
        service.push(Service::Heat);
    }
    let cautions = for_service(&service);
    let heat = question.celsius;
    let doubt = heat.and_then(|c| super::celsius::doubt("the temperature asked for", c, c));
    MaterialsDocument {
        schema: "sealspan.materials.v1",
        temperature_c: question.celsius,
        media: exposure
            .media
            .iter()
            .map(|(asked, medium)| medium_asked(tables, asked, medium.as_deref()))
            .collect(),
        field: field.map(|f| f.choice.clone()),
        confidence: question.confidence,
        currency: money.currency.clone(),
        materials: rows,
        first_two_p_value,
        field_by: field
            .map(|f| f.split.as_slice())
            .unwrap_or_default()
            .iter()
            .map(|(key, lives)| FieldBy {
                material: lives.material.word().to_owned(),
                group: key.clone(),
                life: field_of(lives, question.confidence),
            })
            .collect(),
        asset,
        at_conditions_reason: lives.as_ref().and_then(|l| l.as_ref().err().cloned()),
        at_conditions: lives.and_then(Result::ok),
        advice,
        not_known,
        notes: doubt.into_iter().chain([
            "Screening only. The tables hold for elastomer families and classes of media, many entries are from memory or second-hand; compound, concentration, temperature and time decide. Confirm by immersion test or with the maker.".to_owned(),
            "Edit datasets/materials/*.csv, or give a maker's table with --limits FILE: its rows take the place of ours that answer the same question.".to_owned(),
        ]).collect(),
        cautions: cautions.iter().map(|c| c.text.to_owned()).collect(),
    }
}

/// From this temperature the cautions of hot equipment are shown (a rule of ours).
const HOT: f64 = 50.0;

fn medium_asked(tables: &Tables, asked: &str, medium: Option<&str>) -> MediumAsked {
    let words: Vec<&str> = tables.words.iter().map(|w| w.word.as_str()).collect();
    MediumAsked {
        asked: asked.to_owned(),
        medium: medium.map(str::to_owned),
        reason: medium.is_none().then(|| {
            let near = nearest(asked, &words).filter(|n| a_slip_of(asked, n));
            let near = near.map_or(String::new(), |n| {
                format!("; did you mean \"{}\"?", n.replace('_', " "))
            });
            format!("the tables do not know \"{asked}\"{near}")
        }),
    }
}

/// Whether one word may be a slip of the pen for the other: they begin alike. `lager` is no slip of `water`.
fn a_slip_of(asked: &str, word: &str) -> bool {
    let first = |w: &str| w.trim().chars().next().map(|c| c.to_ascii_lowercase());
    first(asked) == first(word)
}

fn row(
    tables: &Tables,
    material: Material,
    exposure: &Exposure,
    field: Option<&Field>,
    money: &Money,
    question: &MaterialsQuestion,
) -> MaterialResult {
    let remarks = screen(tables, material, exposure);
    let verdict = verdict(&remarks);
    let group = field.and_then(|f| f.groups.iter().find(|g| g.material == material));
    let life = group.map(|g| field_of(g, question.confidence));
    let price = question.prices.get(&material).copied().or(money.seal_price);
    let cost = group
        .zip(life.as_ref())
        .map(|(g, _)| cost(g, money, price, question));
    let met = field.is_none_or(|f| f.choice.media_met);
    let rank_reason = rank_reason(verdict, &remarks, life.as_ref(), cost.as_ref(), met);
    MaterialResult {
        material: material.word().to_owned(),
        verdict: verdict.word(),
        rank: None,
        rank_reason,
        remarks: remarks.iter().map(remark).collect(),
        field_reason: life.is_none().then(|| match field {
            Some(_) => "no seal of this material in that exposure".to_owned(),
            None => "no records given".to_owned(),
        }),
        field: life,
        cost_per_year: cost,
        price,
    }
}

fn remark(r: &Remark) -> RemarkResult {
    RemarkResult {
        verdict: r.verdict.word(),
        text: r.text.clone(),
        conflict: r.conflict,
        facts: r.facts.clone(),
    }
}

/// Why a family is not ranked; `None` when it is.
fn rank_reason(
    verdict: Verdict,
    remarks: &[Remark],
    life: Option<&FieldLife>,
    cost: Option<&Number>,
    met: bool,
) -> Option<String> {
    let hard = remarks
        .iter()
        .any(|r| r.verdict == Verdict::Excluded && r.hard);
    let why = if verdict == Verdict::Excluded && hard {
        "excluded by a limit"
    } else {
        match (life, cost) {
            (Some(_), _) if !met && verdict != Verdict::Excluded => {
                "no seal of yours met all the media asked for"
            }
            (Some(l), _) if verdict == Verdict::Excluded && (!met || l.failures < SURE_FROM) => {
                "excluded by the tables; your records say too little against it"
            }
            (None, _) if verdict == Verdict::Excluded => "excluded by the tables",
            (None, _) => "no field life of your own",
            (_, Some(c)) if c.estimate.is_some() => return None,
            (Some(l), Some(c)) if l.failures < RANKED_FROM && c.upper.is_some() => TOO_FEW,
            (Some(l), _) if l.failures < RANKED_FROM => TOO_FEW,
            (_, Some(c)) => return c.reason.clone(),
            _ => "no cost",
        }
    };
    Some(why.to_owned())
}

/// Cost per year by which a row is ranked: its estimate, or the most it can cost where that is less than every
/// estimate.
fn ranked_cost(r: &MaterialResult) -> Option<f64> {
    let cost = r.cost_per_year.as_ref()?;
    cost.estimate
        .or(cost.upper)
        .filter(|_| r.rank_reason.is_none())
}

/// Ranks by cost per year; the others follow, the excluded last.
fn rank(rows: &mut [MaterialResult]) {
    let least = rows
        .iter()
        .filter_map(ranked_cost)
        .fold(f64::INFINITY, f64::min);
    for row in rows.iter_mut() {
        let most = row.cost_per_year.as_ref().and_then(|c| c.upper);
        if row.rank_reason.as_deref() == Some(TOO_FEW) && most.is_some_and(|m| m < least) {
            row.rank_reason = None;
        }
    }
    let cost = ranked_cost;
    let order = |r: &MaterialResult| match r.verdict {
        "passes" => 0,
        "with_care" => 1,
        "not_known" => 2,
        _ => 3,
    };
    rows.sort_by(|a, b| {
        let (x, y) = (cost(a), cost(b));
        let ranked = x.is_none().cmp(&y.is_none());
        ranked
            .then(x.unwrap_or(0.0).total_cmp(&y.unwrap_or(0.0)))
            .then(order(a).cmp(&order(b)))
            .then(a.material.cmp(&b.material))
    });
    let mut place = 0;
    for row in rows.iter_mut() {
        if row.rank_reason.is_none() {
            place += 1;
            row.rank = Some(place);
        }
    }
}

fn advice(rows: &[MaterialResult], alike: Option<f64>, money: &Money) -> Vec<String> {
    let mut out = vec![];
    let ranked: Vec<&MaterialResult> = rows.iter().filter(|r| r.rank.is_some()).collect();
    let currency = money.currency.as_deref().unwrap_or("");
    if let Some(best) = ranked.first() {
        out.push(format!(
            "By your own records {}.{}",
            costs_least(best, currency),
            ranked.get(1).map_or_else(
                || " No other material has failures enough to compare.".to_owned(),
                |next| next_best(best, next, alike, currency)
            )
        ));
        out.extend(against_tables(&ranked));
    }
    let open: Vec<&str> = rows
        .iter()
        .filter(|r| r.rank.is_none() && matches!(r.verdict, "passes" | "with_care"))
        .map(|r| r.material.as_str())
        .collect();
    if !open.is_empty() {
        out.push(format!(
            "Without field lives of your own, the tables leave open: {}. A trial of a few seals would tell.",
            open.join(", ")
        ));
    }
    let differ: Vec<&str> = rows
        .iter()
        .filter(|r| r.remarks.iter().any(|m| m.conflict))
        .map(|r| r.material.as_str())
        .collect();
    if !differ.is_empty() {
        out.push(format!(
            "Sources differ on {}: each is shown with how it is known.",
            differ.join(", ")
        ));
    }
    out
}

/// What the first costs.
fn costs_least(best: &MaterialResult, currency: &str) -> String {
    let money = |x: f64| crate::number::money(x, currency);
    let cost = best.cost_per_year.as_ref();
    match (cost.and_then(|c| c.estimate), cost.and_then(|c| c.upper)) {
        (Some(e), _) => format!(
            "{} costs least: {} per position and year",
            best.material,
            money(e)
        ),
        (None, upper) => format!(
            "{} costs least: {} per position and year if its failures came at one rate whatever the age and each seal were left to fail, for only {} of {} failed, too few to tell how they wear out",
            best.material,
            upper.map_or_else(String::new, money),
            best.field.as_ref().map_or(0.0, |f| f.failures),
            best.field.as_ref().map_or(0.0, |f| f.seals)
        ),
    }
}

/// What the second costs, and whether the two can be told apart.
fn next_best(
    best: &MaterialResult,
    next: &MaterialResult,
    alike: Option<f64>,
    currency: &str,
) -> String {
    let few = |m: &MaterialResult| m.cost_per_year.as_ref().and_then(|c| c.estimate).is_none();
    let apart = best
        .cost_per_year
        .as_ref()
        .zip(next.cost_per_year.as_ref())
        .is_some_and(|(b, n)| dearer(b, n));
    let at = match (few(best), few(next)) {
        (true, true) => ", likewise",
        (false, true) => ", as if at one rate whatever the age,",
        (_, false) => " at",
    };
    format!(
        " Next is {}{at} {}{}.",
        next.material,
        ranked_cost(next).map_or_else(String::new, |x| crate::number::money(x, currency)),
        if few(best) != few(next) {
            match alike.filter(|p| *p < 0.05) {
                Some(p) => format!(
                    ", on another footing: their failures differ (log-rank test, {}), by how much money the records do not tell yet",
                    crate::number::p_value(p)
                ),
                None => ", on another footing: the records do not tell yet how far apart they are"
                    .to_owned(),
            }
        } else if apart {
            ", and the records tell them apart".to_owned()
        } else {
            ", and the records do not tell them apart".to_owned()
        }
    )
}

/// Whether the second costs surely more than the first, the two fitted apart: the interval of the ratio of the
/// costs lies above 1. Its distance from the estimate is the root of the summed squares of theirs on the log scale
/// (Zou & Donner 2008, from memory), which for symmetric intervals is the difference over the root of the summed
/// variances. Where one has only a most or a least, that must lie beyond the other's interval.
fn dearer(best: &Number, next: &Number) -> bool {
    let (Some(upper), Some(lower)) = (best.upper, next.lower) else {
        return false;
    };
    let (Some(a), Some(b)) = (best.estimate, next.estimate) else {
        return upper < lower;
    };
    let (up, down) = ((upper / a).ln(), (b / lower).ln());
    (b / a).ln() > up.hypot(down)
}

/// Where the tables doubt a material that the user's own records rank.
fn against_tables(ranked: &[&MaterialResult]) -> Vec<String> {
    let mut out = vec![];
    for r in ranked.iter().filter(|r| r.verdict == "with_care") {
        let doubts: Vec<&str> = r
            .remarks
            .iter()
            .filter(|m| m.verdict == "with_care")
            .map(|m| m.text.as_str())
            .collect();
        let failures = r.field.as_ref().map_or(0.0, |f| f.failures);
        out.push(format!(
            "{} asks for care ({}); your own {failures:.0} failures in that exposure {}.",
            r.material,
            doubts.join("; "),
            if failures < SURE_FROM {
                "are too few to settle it"
            } else {
                "stand beside that"
            }
        ));
    }
    for r in ranked.iter().filter(|r| r.verdict == "excluded") {
        out.push(format!(
                "The tables speak against {}, yet your records hold its lives there: both are shown, your records decide.",
                r.material
            ));
    }
    out
}

fn not_known(rows: &[MaterialResult], field: Option<&Field>, money: &Money) -> Vec<String> {
    let mut out = vec![];
    let unrated: Vec<String> = rows
        .iter()
        .flat_map(|r| {
            let open = r.remarks.iter().filter(|m| m.verdict == "not_known");
            open.map(move |m| format!("{} {}", r.material, m.text))
        })
        .collect();
    if !unrated.is_empty() {
        out.push(unrated.join("; "));
    }
    if field.is_none() {
        out.push("how long any material lasts with you: no records were given".to_owned());
    }
    if money.prices.is_none() {
        out.push("what a replacement and a failure cost: no study with costs was given".to_owned());
    }
    out.push(
        "the compound, its hardness and cure, the groove and squeeze: a family is not a seal"
            .to_owned(),
    );
    if rows.iter().filter(|r| r.rank.is_some()).count() > 1
        && rows.iter().all(|r| r.price == money.seal_price)
        && money.seal_price.is_some()
    {
        out.push("what a seal of each material costs: the study's one price is taken for all (--price MATERIAL=PRICE)".to_owned());
    }
    if field.is_some() {
        out.push("how seals taken off worn would have gone on: they count as sound up to that day, so lives here are on the long side; the command defects reads them rightly".to_owned());
        out.push("what differs between materials inside the range of temperatures taken, beyond what the regression allows for".to_owned());
        out.push("whether materials were fitted by chance: if one was sent to the harder places, its life here is not what it would be elsewhere".to_owned());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cost(estimate: f64, lower: f64, upper: f64) -> Number {
        Number {
            estimate: Some(estimate),
            lower: Some(lower),
            upper: Some(upper),
            reason: None,
        }
    }

    /// Factors of 1.3 either way: the ratio is known within 1.3^√2 = 1.449, though the intervals of 100 and 150
    /// overlap.
    #[test]
    fn overlapping_costs_may_differ() {
        let best = cost(100.0, 100.0 / 1.3, 130.0);
        assert!(dearer(&best, &cost(150.0, 150.0 / 1.3, 195.0)));
        assert!(!dearer(&best, &cost(144.0, 144.0 / 1.3, 187.2)));
        let most = Number {
            upper: Some(90.0),
            ..Number::default()
        };
        assert!(dearer(&most, &cost(120.0, 100.0, 150.0)));
        assert!(!dearer(&most, &cost(100.0, 80.0, 120.0)));
    }
}

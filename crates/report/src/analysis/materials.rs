//! Material advice: what the tables exclude, what the user's own records show, what it costs.

use super::materials_field::{Field, cost, field_of};
use crate::cautions::{Service, for_service};
use crate::wire::Number;
use crate::wire::materials::{
    FieldBy, FieldLife, MaterialResult, MaterialsDocument, MediumAsked, RemarkResult,
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
    /// Two-sided level.
    pub confidence: f64,
    /// Prices of single materials, in place of the study's one price.
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

/// The advice.
#[must_use]
pub fn materials(
    tables: &Tables,
    field: Option<&Field>,
    money: &Money,
    question: &MaterialsQuestion,
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
    let advice = advice(&rows, money);
    let not_known = not_known(&rows, field, money);
    let mut service = vec![Service::Chemicals];
    if question.celsius.is_some_and(|c| c >= HOT) {
        service.push(Service::Heat);
    }
    let cautions = for_service(&service);
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
        advice,
        not_known,
        notes: vec![
            "Screening only. The tables hold for elastomer families and classes of media, many entries are from memory or second-hand; compound, concentration, temperature and time decide. Confirm by immersion test or with the maker.".to_owned(),
            "Edit datasets/materials/*.csv, or give a maker's table with --limits FILE: its rows take the place of ours that answer the same question.".to_owned(),
        ],
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
            let near = nearest(asked, &words).map_or(String::new(), |n| {
                format!("; did you mean \"{}\"?", n.replace('_', " "))
            });
            format!("the tables do not know \"{asked}\"{near}")
        }),
    }
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
        .filter(|(_, l)| l.failures >= RANKED_FROM)
        .map(|(g, _)| cost(g, money, price, question));
    let rank_reason = rank_reason(verdict, &remarks, life.as_ref(), cost.as_ref());
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
) -> Option<String> {
    let hard = remarks
        .iter()
        .any(|r| r.verdict == Verdict::Excluded && r.hard);
    let why = if verdict == Verdict::Excluded && hard {
        "excluded by a limit"
    } else {
        match (life, cost.map(|c| c.estimate)) {
            (None, _) if verdict == Verdict::Excluded => "excluded by the tables",
            (None, _) => "no field life of your own",
            (Some(l), _) if l.failures < RANKED_FROM => "too few failures of your own to rank by",
            (_, Some(Some(_))) => return None,
            (_, Some(None)) => {
                return cost.and_then(|c| c.reason.clone());
            }
            _ => "no cost",
        }
    };
    Some(why.to_owned())
}

/// Ranks by cost per year; the others follow, the excluded last.
fn rank(rows: &mut [MaterialResult]) {
    let cost = |r: &MaterialResult| {
        r.cost_per_year
            .as_ref()
            .and_then(|c| c.estimate)
            .filter(|_| r.rank_reason.is_none())
    };
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

fn advice(rows: &[MaterialResult], money: &Money) -> Vec<String> {
    let mut out = vec![];
    let ranked: Vec<&MaterialResult> = rows.iter().filter(|r| r.rank.is_some()).collect();
    let cost = |r: &MaterialResult| r.cost_per_year.as_ref().and_then(|c| c.estimate);
    let currency = money.currency.as_deref().unwrap_or("");
    if let Some(best) = ranked.first()
        && let Some(money) = cost(best)
    {
        let own = format!(
            "By your own records {} costs least: {} per position and year",
            best.material,
            crate::number::money(money, currency)
        );
        let next = ranked.get(1).and_then(|next| Some((next, cost(next)?)));
        out.push(match next {
            Some((next, second)) => {
                let apart = best.cost_per_year.as_ref().and_then(|c| c.upper)
                    < next.cost_per_year.as_ref().and_then(|c| c.lower);
                format!(
                    "{own}; next is {} at {}{}.",
                    next.material,
                    crate::number::money(second, currency),
                    if apart {
                        ", and their intervals are apart"
                    } else {
                        ", and their intervals overlap: the records do not tell them apart"
                    }
                )
            }
            None => format!("{own}; no other material has failures enough to compare."),
        });
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
        out.push(format!(
            "{} asks for care ({}); your own {} failures there say more than the tables.",
            r.material,
            doubts.join("; "),
            r.field
                .as_ref()
                .map_or_else(String::new, |f| crate::number::fixed(f.failures, 0))
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
    if field.is_some() {
        out.push("whether materials were fitted by chance: if one was sent to the harder places, its life here is not what it would be elsewhere".to_owned());
    }
    out
}

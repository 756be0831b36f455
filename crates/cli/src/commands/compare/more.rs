//! What the regression says beyond its coefficients, for reading.

use crate::table::table;
use sealspan_report::number;
use sealspan_report::wire::compare::{
    CompareDocument, EnergyEstimate, PredictedLife, RegressionResult, StressResult,
};

/// The coefficients.
pub fn coefficients(r: &RegressionResult, unit: &str) -> String {
    let robust = r.robust.is_some();
    let rows: Vec<Vec<String>> = r
        .coefficients
        .iter()
        .map(|c| {
            let own = &c.own;
            let width = own.upper - own.lower;
            let mut row = vec![
                own.name.clone(),
                number::to_width(own.estimate, width),
                number::to_width(own.std_error, width),
                interval(own.lower, own.upper),
                number::p_value(own.p_value),
            ];
            if let Some(r) = &c.robust {
                row.push(interval(r.lower, r.upper));
            }
            row
        })
        .collect();
    let mut head = vec![
        "coefficient",
        "estimate",
        "std. error",
        "interval",
        "p-value",
    ];
    if robust {
        head.push("robust interval");
    }
    let mut out = format!(
        "{} regression of ln life in {unit}\n{}\n",
        r.family,
        table(&head, &rows)
    );
    let units: Vec<String> = r
        .coefficients
        .iter()
        .filter(|c| c.unit != "ln life ratio" && !c.unit.starts_with("ln "))
        .chain(
            r.coefficients
                .iter()
                .filter(|c| c.unit.starts_with("ln life per")),
        )
        .map(|c| match c.unit.as_str() {
            "pure number" => format!("{} a pure number", c.own.name),
            unit => format!("{} in {unit}", c.own.name),
        })
        .collect();
    if !units.is_empty() {
        out.push_str(&format!("  units: {}\n", units.join(", ")));
    }
    spread(r, &mut out);
    typical(r, &mut out);
    many(r, &mut out);
    if r.bounds == "profile" {
        out.push_str("  intervals from the likelihood ratio; errors and p-values from the normal approximation\n");
    }
    if let Some(robust) = &r.robust {
        out.push_str(&format!(
            "  robust intervals allow for like seals of one {} ({} of them); small-sample correction: {}\n",
            robust.cluster, robust.clusters, robust.small_sample
        ));
    }
    out
}

/// Effects that hang on another column, at its typical value.
fn typical(r: &RegressionResult, out: &mut String) {
    if r.at_typical.is_empty() {
        return;
    }
    out.push_str("  above, a coefficient whose column stands in a product holds where its partner is 0 (for 1/T: endless heat); at typical conditions life is\n");
    for e in &r.at_typical {
        let width = e.upper - e.lower;
        out.push_str(&format!(
            "    {} times as long ({}; {}) for {}, at {}\n",
            number::to_width(e.life_ratio, width),
            interval(e.lower, e.upper),
            number::p_value(e.p_value),
            e.of,
            e.at.join(", ")
        ));
    }
}

/// Levels shown at each end of a factor that is taken as draws.
const ENDS: usize = 3;

/// A factor of very many levels.
fn many(r: &RegressionResult, out: &mut String) {
    let Some(random) = &r.random else {
        return;
    };
    let factor = |ln: f64| number::significant(ln.exp(), 3);
    let ends = match (random.lower, random.upper, random.reason) {
        (Some(l), Some(u), _) => format!("{} to {}", factor(l), factor(u)),
        (Some(l), None, _) => format!("{} without an upper end", factor(l)),
        (None, _, why) => why.unwrap_or("no interval").to_owned(),
    };
    out.push_str(&format!(
        "  levels of {} lie apart by a factor of about {} ({ends}); drawn towards the middle, the shortest and the longest lives:\n",
        random.column,
        factor(random.spread),
    ));
    let last = random.levels.len().saturating_sub(ENDS);
    for (at, l) in random.levels.iter().enumerate() {
        if at < ENDS || at >= last {
            out.push_str(&format!(
                "    {}: {} times the middle ({} to {}; {} of {} failed)\n",
                l.level,
                number::significant(l.life_ratio, 3),
                number::significant(l.lower, 3),
                number::significant(l.upper, 3),
                number::count(l.failures as u64),
                number::count(l.seals as u64)
            ));
        }
    }
}

fn spread(r: &RegressionResult, out: &mut String) {
    let one = |s: &sealspan_report::wire::compare::Sigma| {
        let width = s.upper - s.lower;
        format!(
            "{} ({})",
            number::to_width(s.estimate, width),
            interval(s.lower, s.upper)
        )
    };
    if let Some(s) = &r.sigma {
        out.push_str(&format!("  spread of ln life {}; ", one(s)));
    } else if r.sigmas.is_empty() {
        out.push_str("  ");
    } else {
        let each: Vec<String> = r
            .sigmas
            .iter()
            .map(|s| format!("{} {}", s.level, one(&s.sigma)))
            .collect();
        out.push_str(&format!("  spread of ln life: {}; ", each.join(", ")));
    }
    out.push_str(&format!(
        "log-likelihood {}\n",
        number::fixed(r.log_likelihood, 2)
    ));
}

fn interval(lower: f64, upper: f64) -> String {
    let width = upper - lower;
    format!(
        "{} to {}",
        number::to_width(lower, width),
        number::to_width(upper, width)
    )
}

/// Stress terms, the prior and the penalty.
pub fn stresses(r: &RegressionResult) -> String {
    let mut out = String::new();
    for s in &r.stresses {
        out.push_str(&stress(s));
    }
    if let Some(p) = &r.prior {
        let told = |e: &EnergyEstimate| match (e.estimate, e.lower, e.upper) {
            (Some(x), Some(l), Some(u)) => {
                format!("{} eV ({})", number::to_width(x, u - l), interval(l, u))
            }
            _ => format!(
                "none ({})",
                e.reason.as_deref().unwrap_or("no reason known")
            ),
        };
        out.push_str(&format!(
            "  stated activation energy {} ± {} eV; with it {}, from these records alone {}\n",
            number::to_width(p.mean_ev, 2.0 * p.sd_ev),
            number::significant(p.sd_ev, 2),
            told(&p.with),
            told(&p.without)
        ));
        if let Some(off) = p.disagreement.filter(|d| d.abs() > 2.0) {
            out.push_str(&format!(
                "  the two disagree by {} standard errors: find out why before using either\n",
                number::fixed(off.abs(), 1)
            ));
        }
    }
    if let Some(how) = &r.penalised {
        out.push_str(&format!("  {how}\n"));
    }
    out
}

/// p-value below which a bend is spoken of.
const BENT: f64 = 0.05;

/// What an activation energy is of.
fn held(constant: &[String]) -> String {
    let with = match constant {
        [] => "nothing else".to_owned(),
        some => some.join(", "),
    };
    format!(
        "for E this regression holds constant: {with}; with other columns held (--given, or the report's) E is another number"
    )
}

fn stress(s: &StressResult) -> String {
    let mut out = format!(
        "  {}: {}; seen from {} to {} {}\n",
        s.column,
        s.formula,
        number::significant(s.tested_from, 4),
        number::significant(s.tested_to, 4),
        s.unit
    );
    if let (Some(ev), Some(kj)) = (s.activation_energy_ev, s.activation_energy_kj_per_mol) {
        let at = match s.energy_at.as_slice() {
            [] => String::new(),
            some => format!(" at {}", some.join(", ")),
        };
        out.push_str(&format!(
            "  activation energy E{at} {} eV ({}), which is {} kJ/mol ({})\n",
            number::to_width(ev.estimate, ev.upper - ev.lower),
            interval(ev.lower, ev.upper),
            number::to_width(kj.estimate, kj.upper - kj.lower),
            interval(kj.lower, kj.upper)
        ));
    }
    if let (Some(scatter), Some(e)) = (
        &s.scatter,
        s.activation_energy_allowing_for_scatter_kj_per_mol,
    ) {
        out.push_str(&format!(
            "  the {} temperatures scatter about the line more than chance has it ({}), as where something else differs between them; allowing for that E is {} kJ/mol ({}): go by this interval\n",
            scatter.temperatures,
            number::p_value(scatter.p_value),
            number::to_width(e.estimate, e.upper - e.lower),
            interval(e.lower, e.upper)
        ));
    }
    if s.activation_energy_ev.is_some() {
        out.push_str(&format!("  {}\n", held(&s.held_constant)));
    }
    if let Some(c) = &s.curvature {
        match (c.p_value, &c.reason) {
            (Some(p), _) => out.push_str(&format!(
                "  a bend of the line in 1/T: {} (likelihood ratio){}\n",
                number::p_value(p),
                if p < BENT {
                    "; it bends, or something not held constant that goes with temperature makes it seem so: do not go beyond the temperatures seen"
                } else {
                    ""
                }
            )),
            (None, Some(why)) => {
                out.push_str(&format!("  a bend of the line in 1/T: not tested, {why}\n"))
            }
            (None, None) => {}
        }
    }
    out
}

/// Predicted lives.
pub fn predictions(d: &CompareDocument) -> String {
    let mut out = String::new();
    for p in &d.predictions {
        let at: Vec<String> = p.at.iter().map(|(c, v)| format!("{c} {v}")).collect();
        out.push_str(&format!("\nlife in {} at {}\n", d.unit, at.join(", ")));
        for life in &p.life {
            out.push_str(&format!("  {}\n", predicted(life, d.confidence)));
        }
        for why in &p.extrapolation {
            out.push_str(&format!("  extrapolated: {why}\n"));
        }
    }
    out
}

fn predicted(life: &PredictedLife, level: f64) -> String {
    let name = match life.quantity {
        "b10_life" => "10 % failed by (B10 life)",
        "median_life" => "half failed by",
        _ => "mean life",
    };
    let (Some(x), Some(l), Some(u)) = (life.estimate, life.lower, life.upper) else {
        return format!(
            "{name}: none, {}",
            life.reason.as_deref().unwrap_or_default()
        );
    };
    let robust = match (life.robust_lower, life.robust_upper) {
        (Some(l), Some(u)) => format!("; robust {}", interval(l, u)),
        _ => String::new(),
    };
    format!(
        "{name} {} ({} confidence interval {}{robust})",
        number::to_width(x, u - l),
        number::level(level),
        interval(l, u)
    )
}

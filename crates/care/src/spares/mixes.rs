//! The best mix of a few parts within a budget, exactly.

use super::budget::{Mix, Part, Tail};

/// More undominated mixes than this, and the exact way is given up.
const MOST_MIXES: usize = 40_000;
/// More parts than this are not tried.
const MOST_PARTS: usize = 12;
/// Levels of one part.
const MOST_LEVELS: usize = 400;
/// A seal that takes off less than this of its part's backorders ends the part's list.
const NONE_LEFT: f64 = 1e-13;

/// (spent, backorders) of every level of one part that the budget pays.
fn levels(part: &Part, budget: f64) -> Option<Vec<(f64, f64)>> {
    let mut tail = Tail::new(part.on_order);
    let mut out = vec![(0.0, part.weight * part.on_order)];
    while let Some((spent, waiting)) = out.last().copied() {
        let gain = part.weight * tail.above();
        let next = spent + part.price;
        if next > budget * (1.0 + 1e-12) || gain <= NONE_LEFT * part.weight * part.on_order {
            break;
        }
        out.push((next, (waiting - gain).max(0.0)));
        tail.step();
        if out.len() > MOST_LEVELS {
            return None;
        }
    }
    Some(out)
}

/// Merges the parts' lists one after another and keeps what no cheaper mix beats; `None` when there are too many.
pub(super) fn best(parts: &[Part], budget: f64) -> Option<Mix> {
    if parts.len() > MOST_PARTS {
        return None;
    }
    let mut mixes = vec![Mix {
        stock: vec![],
        spent: 0.0,
        backorders: 0.0,
    }];
    for part in parts {
        let levels = levels(part, budget)?;
        if mixes.len() * levels.len() > 50 * MOST_MIXES {
            return None;
        }
        let mut next: Vec<(f64, f64, usize, u32)> = vec![];
        for (i, mix) in mixes.iter().enumerate() {
            for (level, (spent, waiting)) in (0u32..).zip(&levels) {
                let cost = mix.spent + spent;
                if cost <= budget * (1.0 + 1e-12) {
                    next.push((cost, mix.backorders + waiting, i, level));
                }
            }
        }
        next.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut least = f64::INFINITY;
        next.retain(|m| {
            let better = m.1 < least;
            least = least.min(m.1);
            better
        });
        if next.len() > MOST_MIXES {
            return None;
        }
        mixes = next
            .into_iter()
            .filter_map(|(spent, backorders, i, level)| {
                let mut stock = mixes.get(i)?.stock.clone();
                stock.push(level);
                Some(Mix {
                    stock,
                    spent,
                    backorders,
                })
            })
            .collect();
    }
    mixes.pop()
}

//! The best mix of a few parts within a budget, exactly.

use super::budget::{Mix, Part, Tail};

/// More undominated mixes than this, and the exact way is given up.
const MOST_MIXES: usize = 40_000;
/// More parts than this are not tried.
const MOST_PARTS: usize = 12;
/// Levels of one part.
const MOST_LEVELS: usize = 400;
/// A seal that takes off no more than this share of its part's backorders ends the part's list.
const NONE_LEFT: f64 = 1e-13;

/// (spent, backorders) of every level of one part that the budget pays.
fn levels(part: &Part, budget: f64) -> Option<Vec<(f64, f64)>> {
    let mut tail = Tail::new(part.on_order);
    let mut out = vec![(0.0, part.weight * part.on_order)];
    while let Some((spent, waiting)) = out.last().copied() {
        let (gain, next) = (tail.above(), spent + part.price);
        if next > budget * (1.0 + 1e-12) || gain <= NONE_LEFT * part.on_order {
            break;
        }
        out.push((next, (waiting - part.weight * gain).max(0.0)));
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

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A part's list goes on as far as the budget pays or a seal takes off a share of its backorders, whatever they
    /// weigh and however few or many are on order.
    #[test]
    fn a_list_ends_by_its_part_s_own_backorders() {
        for on_order in [1e-7, 0.5, 30.0] {
            let length = |weight: f64, budget: f64| {
                let part = Part {
                    on_order,
                    price: 3.0,
                    weight,
                };
                levels(&part, budget).unwrap().len()
            };
            // The mean number above the stock, summed apart: a seal takes off P(X > stock).
            let chance = |k: u32| {
                let logs = (1..=k).map(|i| (on_order / f64::from(i)).ln());
                (logs.sum::<f64>() - on_order).exp()
            };
            let above = |stock: u32| (stock + 1..stock + 200).map(chance).sum::<f64>();
            let share = |stock: u32| above(stock) / on_order;
            let last = (0..).find(|stock| share(*stock) <= NONE_LEFT).unwrap();
            for weight in [1e-9, 1.0, 1e9] {
                assert_eq!(
                    length(weight, 1e6),
                    1 + last as usize,
                    "{on_order} {weight}"
                );
                assert_eq!(length(weight, 6.0), 3.min(1 + last as usize));
            }
        }
    }
}

//! What an ordinary place would have used up over the same time: the renewal function along the time that a place
//! was watched, with the kinds of seal that sat there and the changes that were planned there.
//!
//! A place that eats its seals has young ones only, and the hazard they lived through is small: that number answers
//! another question (how fast seals fail at the ages they reached, see [`super::hungry`]). Here every failure of the
//! ordinary place is followed by a new seal at once, so that m(t) = f(t) + ∫ f(t − u) m(u) du piece by piece (renewal
//! equation, e.g. Barlow & Proschan 1965; from memory), solved by the midpoint rule.

/// A stretch of watched time with one seal of the records in place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Age at its start of the seal put there whatever went before: the first one, or one that follows a planned
    /// change or a gap. `None` where the records' seal only replaced one that had failed, which need not have failed
    /// at an ordinary place.
    pub placed: Option<f64>,
    /// Its length, in the unit of the ages.
    pub length: f64,
}

/// Cells beyond which the step is widened.
const MOST_CELLS: f64 = 5000.0;
/// Share of seals still sitting below which they are forgotten.
const FORGOTTEN: f64 = 1e-10;

/// Seals of the ordinary place that were fitted together.
struct Fitted {
    /// The piece whose kind they are of.
    piece: usize,
    /// Their age now, the age at which they came under watch, and how many still sit.
    age: f64,
    entry: f64,
    weight: f64,
    left: f64,
}

/// Expected failures of an ordinary place over `pieces`, in order. `ln_survival` of a seal of a piece's kind by age;
/// `step` is the width of a cell, a twentieth of a characteristic life or less for an error of some tenths of a per
/// cent.
///
/// ```
/// use sealspan_life::recurrence::ordinary::{Piece, expected};
/// // A constant rate: the rate times the time, whatever was planned.
/// let pieces = [Piece { placed: Some(3.0), length: 40.0 }, Piece { placed: None, length: 60.0 }];
/// assert!((expected(&pieces, |_, age| -0.02 * age, 2.0) - 2.0).abs() < 1e-3);
/// ```
#[must_use]
pub fn expected(pieces: &[Piece], ln_survival: impl Fn(usize, f64) -> f64, step: f64) -> f64 {
    let whole: f64 = pieces.iter().map(|p| p.length).sum();
    let step = step.max(whole / MOST_CELLS);
    let mut sitting: Vec<Fitted> = vec![];
    let mut sum = 0.0;
    for (piece, p) in pieces.iter().enumerate() {
        if let Some(age) = p.placed {
            sitting.clear();
            sitting.push(Fitted {
                piece,
                age,
                entry: age,
                weight: 1.0,
                left: 1.0,
            });
        }
        let cells = (p.length / step).ceil().max(1.0);
        let width = p.length / cells;
        let half = (0.5 * width).max(f64::MIN_POSITIVE);
        // Of those fitted in the middle of a cell, the share that fails before its end.
        let again = (-ln_survival(piece, half).exp_m1()).min(0.9);
        for _ in 0..cells as u64 {
            let failed: f64 = sitting
                .iter_mut()
                .map(|f| f.fail(width, &ln_survival))
                .sum();
            // Those that replace one that failed may fail in the same cell, and so on.
            let failed = failed / (1.0 - again);
            sum += failed;
            sitting.retain(|f| f.weight * f.left > FORGOTTEN);
            sitting.push(Fitted {
                piece,
                age: half,
                entry: 0.0,
                weight: failed,
                left: 1.0 - again,
            });
        }
    }
    sum
}

impl Fitted {
    /// Failures among them while they grow older by `width`.
    fn fail(&mut self, width: f64, ln_survival: &impl Fn(usize, f64) -> f64) -> f64 {
        self.age += width;
        let gone = ln_survival(self.piece, self.age) - ln_survival(self.piece, self.entry);
        let left = gone.exp().min(self.left);
        let failed = self.weight * (self.left - left);
        self.left = left;
        if failed.is_finite() { failed } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sealspan_numeric::renewal::on_grid;

    fn weibull(shape: f64) -> impl Fn(usize, f64) -> f64 {
        move |_, age: f64| -age.powf(shape)
    }

    /// Against the renewal function of the numeric crate, whose own checks are closed forms.
    #[test]
    fn one_new_seal_and_nothing_planned() {
        for (shape, horizon) in [(1.0, 4.0), (2.2, 3.0), (3.0, 6.0), (0.8, 3.0)] {
            let whole = on_grid(|t: f64| -(-t.powf(shape)).exp_m1(), horizon);
            let want = whole.last().copied().unwrap_or(0.0);
            let short = horizon / 7.0;
            // In one piece, and cut into seven at failures that an ordinary place need not have had.
            let mut cut = [Piece {
                placed: None,
                length: short,
            }; 7];
            if let Some(first) = cut.first_mut() {
                first.placed = Some(0.0);
            }
            let one = [Piece {
                placed: Some(0.0),
                length: horizon,
            }];
            for pieces in [&one[..], &cut[..]] {
                let got = expected(pieces, weibull(shape), 0.05);
                assert!((got / want - 1.0).abs() < 0.004, "{shape}: {got} {want}");
            }
        }
    }

    /// A planned change makes the place new: the pieces on either side add up.
    #[test]
    fn planned_changes_start_anew() {
        let one = |length| {
            [Piece {
                placed: Some(0.0),
                length,
            }]
        };
        let both = [one(1.0), one(1.5)].concat();
        let sum = expected(&one(1.0), weibull(2.0), 0.05) + expected(&one(1.5), weibull(2.0), 0.05);
        let got = expected(&both, weibull(2.0), 0.05);
        assert!((got - sum).abs() < 1e-12, "{got} {sum}");
        assert!(sum < expected(&one(2.5), weibull(2.0), 0.05));
    }

    /// An old seal is nearer its end than a new one, and what has outlived nearly everything is finite.
    #[test]
    fn old_seals() {
        let at = |age| {
            let p = [Piece {
                placed: Some(age),
                length: 0.5,
            }];
            expected(&p, weibull(3.0), 0.05)
        };
        assert!(at(1.0) > 2.0 * at(0.0));
        assert!(at(50.0).is_finite() && at(50.0) > at(1.0));
    }

    /// A seal placed at an age fails by what is left of its law from there; in so short a time a new one hardly fails.
    #[test]
    fn a_seal_placed_at_an_age_fails_from_there() {
        let one = [Piece {
            placed: Some(1.5),
            length: 0.1,
        }];
        let got = expected(&one, weibull(3.0), 0.002);
        let want = -(-(1.6_f64.powi(3) - 1.5_f64.powi(3))).exp_m1();
        // The new seal's own hazard is below 0.1³.
        assert!((got - want).abs() < 1e-3, "{got} {want}");
    }
}

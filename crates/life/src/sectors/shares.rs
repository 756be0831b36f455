//! Shares of failures by sector at each door, drawn towards the fleet.
//!
//! Most doors stand in line and share their failures evenly; a few do not, and their shares may be anything.
//! So a door's counts come with probability 1 − q from the even multinomial and with probability q from a
//! Dirichlet-multinomial with ½ in each sector (Jeffreys); the data of all doors give q. A door's shares are
//! its posterior mean: near even for an ordinary door however odd its three failures look, near its own
//! counts for a door that is plainly out of line.

use sealspan_numeric::special::ln_gamma;

/// Prior weight of each sector at a door out of line.
pub const PRIOR: f64 = 0.5;

/// What the fleet says of a door.
#[derive(Debug, Clone, PartialEq)]
pub struct Shares {
    /// Probability that the door is out of line.
    pub out_of_line: f64,
    /// Posterior mean share of each sector; they sum to 1.
    pub shares: Vec<f64>,
}

/// ln of the probability of counts out of line over that of the same counts in line.
fn ln_odds(counts: &[u32]) -> f64 {
    let k = counts.len() as f64;
    let n: f64 = counts.iter().map(|c| f64::from(*c)).sum();
    let own: f64 = counts
        .iter()
        .map(|c| ln_gamma(f64::from(*c) + PRIOR) - ln_gamma(PRIOR))
        .sum();
    own + ln_gamma(k * PRIOR) - ln_gamma(n + k * PRIOR) + n * k.ln()
}

fn probability(q: f64, ln_odds: f64) -> f64 {
    1.0 / (1.0 + (-(q / (1.0 - q)).ln() - ln_odds).exp())
}

/// Shares of every door, and the estimated part q of doors out of line. Half a door out of line and half
/// a door in line are added to the fleet, so that q stays inside (0, 1) however few doors there are.
///
/// ```
/// use sealspan_life::sectors::shares::shares;
/// let (part, doors) = shares(&[vec![3, 3, 2, 4], vec![12, 0, 1, 0]]);
/// assert!(part > 0.0 && part < 1.0);
/// assert!(doors[0].out_of_line < 0.5 && doors[1].out_of_line > 0.9);
/// ```
#[must_use]
pub fn shares(doors: &[Vec<u32>]) -> (f64, Vec<Shares>) {
    let odds: Vec<f64> = doors.iter().map(|d| ln_odds(d)).collect();
    let mut q = 0.5;
    for _ in 0..500 {
        let sum: f64 = odds.iter().map(|o| probability(q, *o)).sum();
        let next = (sum + 0.5) / (doors.len() as f64 + 1.0);
        let done = (next - q).abs() < 1e-12;
        q = next;
        if done {
            break;
        }
    }
    let one = |(counts, odds): (&Vec<u32>, &f64)| {
        let (k, out) = (counts.len() as f64, probability(q, *odds));
        let n: f64 = counts.iter().map(|c| f64::from(*c)).sum();
        let share = |c: &u32| out * (f64::from(*c) + PRIOR) / (n + k * PRIOR) + (1.0 - out) / k;
        Shares {
            out_of_line: out,
            shares: counts.iter().map(share).collect(),
        }
    };
    (q, doors.iter().zip(&odds).map(one).collect())
}

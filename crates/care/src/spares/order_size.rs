//! The economic order quantity, a rule of thumb beside the exact order sizes.

use crate::error::{Result, not_negative, positive};

/// The quantity that balances order and holding costs when demand is steady and shelves never empty,
/// √(2 D K / h), and its cost per unit of time, √(2 D K h) (Harris 1913, from memory): `demand` units per
/// time, `order_cost` money per order, `holding_cost` money per unit and time.
///
/// # Errors
/// When demand or order cost is negative, or the holding cost not above zero.
///
/// ```
/// let (quantity, cost) = sealspan_care::spares::order_size::economic(24.0, 80.0, 4.0)?;
/// assert!((quantity - 960f64.sqrt()).abs() < 1e-12 && (cost - 15360f64.sqrt()).abs() < 1e-12);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn economic(demand: f64, order_cost: f64, holding_cost: f64) -> Result<(f64, f64)> {
    not_negative("the demand", demand)?;
    not_negative("the order cost", order_cost)?;
    positive("the holding cost", holding_cost)?;
    let twice = 2.0 * demand * order_cost;
    Ok(((twice / holding_cost).sqrt(), (twice * holding_cost).sqrt()))
}

/// The same where demands may wait at `shortage_cost` per unit short and time: √(2 D K (h + b) / (h b))
/// (textbooks, from memory).
///
/// # Errors
/// As [`economic`], and when the shortage cost is not above zero.
///
/// ```
/// use sealspan_care::spares::order_size::{cost_of_missing, economic_with_waiting};
/// // 2 · 24 · 80 · (4 + 12)/(4 · 12) = 1280.
/// assert!((economic_with_waiting(24.0, 80.0, 4.0, 12.0)? - 1280f64.sqrt()).abs() < 1e-12);
/// // Twice or half the best quantity costs a quarter more.
/// assert_eq!((cost_of_missing(2.0), cost_of_missing(0.5)), (1.25, 1.25));
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn economic_with_waiting(
    demand: f64,
    order_cost: f64,
    holding_cost: f64,
    shortage_cost: f64,
) -> Result<f64> {
    let (quantity, _) = economic(demand, order_cost, holding_cost)?;
    positive("the shortage cost", shortage_cost)?;
    Ok(quantity * ((holding_cost + shortage_cost) / shortage_cost).sqrt())
}

/// What ordering `share` times the best quantity of [`economic`] costs over the least: (share + 1/share) / 2, from D K/q +
/// h q/2. [`economic_with_waiting`] has an example.
#[must_use]
pub fn cost_of_missing(share: f64) -> f64 {
    0.5 * (share + 1.0 / share)
}

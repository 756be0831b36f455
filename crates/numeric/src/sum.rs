//! Sums whose bytes do not depend on the number of threads.

use rayon::prelude::*;
use std::ops::Add;

/// Rows a task takes at a time; fixed, so the order of additions is fixed.
const CHUNK: usize = 8192;

/// Sums `term(row)` over `rows`, starting from `zero`; chunks run in parallel and are added in their
/// order, so the result is the same for any number of threads.
///
/// ```
/// let total = sealspan_numeric::sum::fixed_order(&[1.0, 2.0, 3.0], 0.0, |x| x * x);
/// assert_eq!(total, 14.0);
/// ```
pub fn fixed_order<T: Sync, A: Copy + Send + Sync + Add<Output = A>>(
    rows: &[T],
    zero: A,
    term: impl Fn(&T) -> A + Sync,
) -> A {
    let chunk = |chunk: &[T]| chunk.iter().fold(zero, |total, row| total + term(row));
    if rows.len() <= CHUNK {
        return chunk(rows);
    }
    let parts: Vec<A> = rows.par_chunks(CHUNK).map(chunk).collect();
    parts.into_iter().fold(zero, Add::add)
}

#[cfg(test)]
mod tests {
    #[test]
    fn same_bytes_for_any_threads() {
        let rows: Vec<f64> = (0..100_000).map(|i| f64::from(i).sin()).collect();
        let run = |n| {
            rayon::ThreadPoolBuilder::new()
                .num_threads(n)
                .build()
                .map(|pool| pool.install(|| super::fixed_order(&rows, 0.0, |x| *x)))
                .ok()
        };
        assert_eq!(run(1), run(3));
    }
}

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

/// Sum of products of two lists, as far as both reach; four sums side by side, so that a processor may add them at once.
///
/// ```
/// assert_eq!(sealspan_numeric::sum::of_products(&[1.0, 2.0, 3.0], &[4.0, 5.0]), 14.0);
/// ```
#[must_use]
pub fn of_products(a: &[f64], b: &[f64]) -> f64 {
    let both = a.len().min(b.len());
    let (a, b) = (
        a.get(..both).unwrap_or_default(),
        b.get(..both).unwrap_or_default(),
    );
    let (fours, rest) = a.as_chunks::<4>();
    let (others, last) = b.as_chunks::<4>();
    let mut sums = [0.0; 4];
    for (x, y) in fours.iter().zip(others) {
        for ((sum, x), y) in sums.iter_mut().zip(x).zip(y) {
            *sum += x * y;
        }
    }
    let tail: f64 = rest.iter().zip(last).map(|(x, y)| x * y).sum();
    sums.iter().sum::<f64>() + tail
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

//! Sums whose bytes do not depend on the number of threads.

use rayon::prelude::*;

/// Rows a task takes at a time; fixed, so the order of additions is fixed.
const CHUNK: usize = 8192;

/// Sums `term(row)` over `rows`, each term an array of `N` numbers; chunks run in parallel and are
/// added in their order, so the result is the same for any number of threads.
///
/// ```
/// let total = sealspan_numeric::sum::fixed_order(&[1.0, 2.0, 3.0], |x| [*x, x * x]);
/// assert_eq!(total, [6.0, 14.0]);
/// ```
pub fn fixed_order<T: Sync, const N: usize>(
    rows: &[T],
    term: impl Fn(&T) -> [f64; N] + Sync,
) -> [f64; N] {
    let chunk = |chunk: &[T]| {
        let mut total = [0.0; N];
        for row in chunk {
            add(&mut total, &term(row));
        }
        total
    };
    if rows.len() <= CHUNK {
        return chunk(rows);
    }
    let parts: Vec<[f64; N]> = rows.par_chunks(CHUNK).map(chunk).collect();
    let mut total = [0.0; N];
    for part in &parts {
        add(&mut total, part);
    }
    total
}

fn add<const N: usize>(total: &mut [f64; N], part: &[f64; N]) {
    for (t, p) in total.iter_mut().zip(part) {
        *t += p;
    }
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
                .map(|pool| pool.install(|| super::fixed_order(&rows, |x| [*x])))
                .ok()
        };
        assert_eq!(run(1), run(3));
    }
}

//! Reads the small tables of expected values.

/// Rows of a table of numbers with `#` comments and one header line.
pub fn rows<const N: usize>(text: &str) -> Vec<[f64; N]> {
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| {
            let cells: Vec<f64> = line
                .split(',')
                .map(|cell| cell.parse().expect("a number"))
                .collect();
            cells.try_into().expect("as many cells as the header")
        })
        .collect()
}

/// Asserts a relative difference below `rel` (absolute when `want` is 0).
#[track_caller]
pub fn close(got: f64, want: f64, rel: f64) {
    let scale = if want == 0.0 { 1.0 } else { want.abs() };
    assert!((got - want).abs() <= rel * scale, "{got} against {want}");
}

//! Small pictures of a row of numbers in one line of text.

/// One bar a value, from 0 to `top`, an eighth of a line a step, the least above 0 one step; a dot where a value is
/// missing.
pub fn bars(values: impl IntoIterator<Item = Option<f64>>, top: f64) -> String {
    const BARS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
    let bar = |value: Option<f64>| {
        let share = value.filter(|v| v.is_finite() && top > 0.0)? / top;
        let least = if share > 0.0 { 1.0 } else { 0.0 };
        let step = (share * 8.0).round().clamp(least, 8.0);
        let at = BARS.iter().zip(0..).find(|(_, n)| f64::from(*n) == step);
        at.map(|(bar, _)| *bar)
    };
    values.into_iter().map(|v| bar(v).unwrap_or('·')).collect()
}

#[cfg(test)]
mod tests {
    use super::bars;

    #[test]
    fn bars_rise_with_the_values() {
        let values = [Some(0.0), Some(0.01), Some(4.0), Some(8.0), None];
        assert_eq!(bars(values, 8.0), " ▁▄█·");
    }
}

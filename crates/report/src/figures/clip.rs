//! Clipping to the plot's frame, since SVG marks are not clipped to axes.

use super::shape::{Point, Rect};

/// Keeps a line that runs along the frame itself, whatever the rounding.
const ROUNDING: f64 = 1e-6;

/// The pieces of a polyline that lie inside the frame (Liang & Barsky 1984,
/// segment by segment).
pub(super) fn polyline(points: &[Point], frame: Rect) -> Vec<Vec<Point>> {
    let frame = frame.grown(ROUNDING);
    let mut pieces: Vec<Vec<Point>> = Vec::new();
    let mut open: Vec<Point> = Vec::new();
    for (from, to) in points.iter().zip(points.iter().skip(1)) {
        let Some((a, b)) = segment(*from, *to, frame) else {
            close(&mut open, &mut pieces);
            continue;
        };
        if open.last() != Some(&a) {
            close(&mut open, &mut pieces);
            open.push(a);
        }
        open.push(b);
        if b != *to {
            close(&mut open, &mut pieces);
        }
    }
    close(&mut open, &mut pieces);
    pieces
}

fn close(open: &mut Vec<Point>, pieces: &mut Vec<Vec<Point>>) {
    if open.len() > 1 {
        pieces.push(std::mem::take(open));
    } else {
        open.clear();
    }
}

fn segment(from: Point, to: Point, frame: Rect) -> Option<(Point, Point)> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let (mut enter, mut leave) = (0.0f64, 1.0f64);
    for (step, room) in [
        (-dx, from.0 - frame.left),
        (dx, frame.right - from.0),
        (-dy, from.1 - frame.top),
        (dy, frame.bottom - from.1),
    ] {
        if step == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if step < 0.0 {
            enter = enter.max(room / step);
        } else {
            leave = leave.min(room / step);
        }
    }
    let at = |t: f64| (from.0 + t * dx, from.1 + t * dy);
    let start = if enter == 0.0 { from } else { at(enter) };
    let end = if leave == 1.0 { to } else { at(leave) };
    (enter <= leave).then_some((start, end))
}

/// The part of a polygon inside the frame (Sutherland & Hodgman 1974).
pub(super) fn polygon(points: &[Point], frame: Rect) -> Vec<Point> {
    let mut points = points.to_vec();
    let sides: [fn(Point, Rect) -> f64; 4] = [
        |p, f| p.0 - f.left,
        |p, f| f.right - p.0,
        |p, f| p.1 - f.top,
        |p, f| f.bottom - p.1,
    ];
    for inside in sides {
        points = cut(&points, |p| inside(p, frame));
    }
    points
}

/// The part of a polygon where `inside` is not negative.
fn cut(points: &[Point], inside: impl Fn(Point) -> f64) -> Vec<Point> {
    let mut kept = Vec::with_capacity(points.len() + 4);
    let next = points.iter().cycle().skip(1);
    for (from, to) in points.iter().zip(next) {
        let (a, b) = (inside(*from), inside(*to));
        if a >= 0.0 {
            kept.push(*from);
        }
        if (a < 0.0) != (b < 0.0) {
            let t = a / (a - b);
            kept.push((from.0 + t * (to.0 - from.0), from.1 + t * (to.1 - from.1)));
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Rect = Rect {
        left: 0.0,
        top: 0.0,
        right: 10.0,
        bottom: 10.0,
    };

    #[test]
    fn a_line_that_leaves_and_returns_gives_two_pieces() {
        let line = [(1.0, 5.0), (5.0, -5.0), (9.0, 5.0)];
        let pieces = polyline(&line, FRAME);
        let close = |a: Point, b: Point| (a.0 - b.0).hypot(a.1 - b.1) < 1e-5;
        assert_eq!(pieces.len(), 2);
        assert!(close(pieces[0][1], (3.0, 0.0)), "{pieces:?}");
        assert!(close(pieces[1][0], (7.0, 0.0)), "{pieces:?}");
    }

    #[test]
    fn a_line_along_the_edge_stays() {
        let edge = [(2.0, -1e-9), (8.0, -1e-9)];
        assert_eq!(polyline(&edge, FRAME), [edge.to_vec()]);
    }

    #[test]
    fn lines_outside_vanish_and_inside_stay_whole() {
        assert!(polyline(&[(11.0, 0.0), (12.0, 9.0)], FRAME).is_empty());
        let inside = vec![(1.0, 1.0), (2.0, 8.0), (9.0, 9.0)];
        assert_eq!(polyline(&inside, FRAME), std::slice::from_ref(&inside));
    }

    #[test]
    fn polygons_are_cut_at_the_frame() {
        let cut = polygon(&[(-5.0, 2.0), (5.0, 2.0), (5.0, 20.0), (-5.0, 20.0)], FRAME);
        let area: f64 = cut
            .iter()
            .zip(cut.iter().cycle().skip(1))
            .map(|(a, b)| a.0 * b.1 - b.0 * a.1)
            .sum();
        assert!((area.abs() / 2.0 - 40.0).abs() < 1e-9, "{cut:?}");
        assert!(cut.iter().all(|p| FRAME.holds(*p)));
    }
}

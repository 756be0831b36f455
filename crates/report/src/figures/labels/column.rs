//! Labels in a column right of the frame, at the height where their curves
//! run out of it, pushed apart as little as needed.

use super::{
    Anchor, BODY, Block, GAP, Label, Place, Plot, Rect, Sketch, Target, right_end, text, write,
};

/// A label may stand this far from its curve's end, in line heights.
const FARTHEST: f64 = 2.6;
/// Free height between two labels.
const BETWEEN: f64 = 1.0;

/// A label of the column: its text, and the centre it wants.
struct Entry {
    label: Label,
    block: Block,
    wanted: f64,
}

/// Place the labels of all curves that leave the frame on the right; give
/// back the other ones, and all of them where the column has no room.
pub(super) fn place(sketch: &mut Sketch, plot: &Plot, labels: Vec<Label>, edge: f64) -> Vec<Label> {
    let left = plot.frame.right + GAP + 1.0;
    let (mut column, mut rest) = (Vec::new(), Vec::new());
    for label in labels {
        let end = match &label.target {
            Target::Curve(pieces) => right_end(pieces, plot),
            _ => None,
        };
        match end.zip(fitting(&label.text, edge - left)) {
            Some(((_, wanted), block)) => column.push(Entry {
                label,
                block,
                wanted,
            }),
            None => rest.push(label),
        }
    }
    column.sort_by(|a, b| a.wanted.total_cmp(&b.wanted));
    let (top, bottom) = (plot.frame.top - 6.0, plot.frame.bottom + 7.0);
    let centres = apart(&column, top, bottom);
    for (entry, centre) in column.into_iter().zip(centres) {
        if (centre - entry.wanted).abs() > FARTHEST * BODY {
            rest.push(entry.label);
            continue;
        }
        let rect = Rect {
            left,
            top: centre - entry.block.height / 2.0,
            right: left + entry.block.width,
            bottom: centre + entry.block.height / 2.0,
        };
        let place = Place {
            rect,
            anchor: Anchor::Start,
            cost: 0.0,
        };
        write(sketch, &entry.label, &entry.block, &place);
    }
    rest
}

/// The label on one line or broken over up to three, if it fits beside the frame.
fn fitting(label: &str, room: f64) -> Option<Block> {
    let whole = text::width(label, BODY, false);
    if whole > 3.0 * room {
        return None;
    }
    let block = Block::new(text::wrap(label, BODY, false, room), 0.0);
    (whole <= room || (room > 50.0 && block.lines.len() <= 3)).then_some(block)
}

/// Centres near the wanted ones, without overlap and inside `top..bottom`:
/// neighbours that would overlap share their displacement evenly.
fn apart(column: &[Entry], top: f64, bottom: f64) -> Vec<f64> {
    struct Run {
        first: f64,
        height: f64,
        pull: f64,
        size: f64,
    }
    let mut runs: Vec<(Run, Vec<f64>)> = Vec::new();
    for entry in column {
        let height = entry.block.height + BETWEEN;
        let run = Run {
            first: (entry.wanted - height / 2.0).clamp(top, (bottom - height).max(top)),
            height,
            pull: entry.wanted - height / 2.0,
            size: 1.0,
        };
        runs.push((run, vec![height]));
        while let [.., (above, _), (below, _)] = runs.as_slice() {
            if above.first + above.height <= below.first {
                break;
            }
            let Some((below, heights)) = runs.pop() else {
                break;
            };
            let Some((above, members)) = runs.last_mut() else {
                break;
            };
            above.pull += below.pull - above.height * below.size;
            above.size += below.size;
            above.height += below.height;
            above.first = (above.pull / above.size).clamp(top, (bottom - above.height).max(top));
            members.extend(heights);
        }
    }
    let mut centres = Vec::with_capacity(column.len());
    for (run, heights) in runs {
        let mut y = run.first;
        for height in heights {
            centres.push(y + height / 2.0);
            y += height;
        }
    }
    centres
}

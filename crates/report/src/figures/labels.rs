//! Labels beside what they name, without ever touching a curve, a mark,
//! another text or the edge. What finds no place goes to the legend.

mod column;

use super::palette::Paint;
use super::shape::{Anchor, Point, Rect, Word};
use super::sketch::{Label, Sketch, Target};
use super::text::{self, LINE};
use super::{BODY, plot::Plot};

/// Gap between a label and what it names.
const GAP: f64 = 6.0;
/// How many places along a curve are tried.
const STATIONS: usize = 28;

/// A label broken into lines.
struct Block {
    lines: Vec<String>,
    width: f64,
    height: f64,
    cost: f64,
}

/// A place where a block may stand, and how far from ideal it is.
struct Place {
    rect: Rect,
    anchor: Anchor,
    cost: f64,
}

/// Place every label of the sketch; give back those that found no room.
/// `edge` is the right edge of the page that labels may reach.
pub(super) fn place_all(sketch: &mut Sketch, plot: &Plot, edge: f64) -> Vec<Label> {
    let mut waiting = std::mem::take(&mut sketch.labels);
    waiting.sort_by_key(freedom);
    let mut homeless = Vec::new();
    let waiting = column::place(sketch, plot, waiting, edge);
    for label in waiting {
        match best(sketch, plot, &label, edge) {
            Some((block, place)) => write(sketch, &label, &block, &place),
            None => homeless.push(label),
        }
    }
    homeless.sort_by_key(|label| label.owner);
    homeless
}

/// Labels with the fewest places come first.
fn freedom(label: &Label) -> u8 {
    match &label.target {
        Target::Zone(_) => 1,
        Target::Upright(_) => 2,
        Target::Level(_) => 3,
        Target::Curve(_) => 4,
        Target::Marks(_) | Target::Plot => 5,
    }
}

/// The end of a curve that runs to the right edge of the frame.
pub(super) fn right_end(pieces: &[Vec<Point>], plot: &Plot) -> Option<Point> {
    let end = *pieces.last()?.last()?;
    (end.0 > plot.frame.right - 1.0).then_some(end)
}

fn best(sketch: &Sketch, plot: &Plot, label: &Label, edge: f64) -> Option<(Block, Place)> {
    let mut found: Option<(f64, Block, Place)> = None;
    for block in blocks(&label.text, plot) {
        for place in places(label, &block, plot) {
            let Some(crowd) = judge(sketch, plot, label, &place, edge) else {
                continue;
            };
            let cost = place.cost + block.cost + crowd;
            if found.as_ref().is_none_or(|(least, ..)| cost < *least) {
                found = Some((cost, block.copy(), place));
            }
        }
    }
    found.map(|(_, block, place)| (block, place))
}

impl Block {
    fn new(lines: Vec<String>, cost: f64) -> Self {
        let widths = lines.iter().map(|line| text::width(line, BODY, false));
        let width = widths.fold(0.0, f64::max);
        let height = lines.len() as f64 * BODY * LINE;
        Self {
            lines,
            width,
            height,
            cost,
        }
    }

    fn copy(&self) -> Self {
        Self {
            lines: self.lines.clone(),
            ..*self
        }
    }
}

/// The label on one line, and broken over two or three when long.
fn blocks(label: &str, plot: &Plot) -> Vec<Block> {
    let whole = text::width(label, BODY, false);
    let most = plot.frame.width() * 0.62;
    let mut blocks = Vec::new();
    if whole > 4.0 * most {
        return blocks;
    }
    if whole <= most {
        blocks.push(Block::new(vec![label.to_owned()], 0.0));
    }
    for (parts, cost) in [(2.0, 5.0), (3.0, 9.0)] {
        let room = (whole / parts * 1.18).min(most);
        let lines = text::wrap(label, BODY, false, room);
        if whole > 90.0 * (parts - 1.0) && lines.len() <= 4 && lines.len() > 1 {
            blocks.push(Block::new(lines, cost));
        }
    }
    blocks
}

fn places(label: &Label, block: &Block, plot: &Plot) -> Vec<Place> {
    match &label.target {
        Target::Curve(pieces) => curve_places(pieces, block),
        Target::Marks(points) => around(points, block, 3.0),
        Target::Zone(area) => zone_places(*area, block),
        Target::Upright(x) => upright_places(*x, block, plot),
        Target::Level(y) => level_places(*y, block, plot),
        Target::Plot => corner_places(block, plot),
    }
}

fn at(left: f64, top: f64, block: &Block, anchor: Anchor, cost: f64) -> Place {
    Place {
        rect: Rect {
            left,
            top,
            right: left + block.width,
            bottom: top + block.height,
        },
        anchor,
        cost,
    }
}

fn curve_places(pieces: &[Vec<Point>], block: &Block) -> Vec<Place> {
    let mut places = Vec::new();
    let stations = stations(pieces);
    let most = stations.len().max(1) as f64;
    for (i, station) in stations.iter().enumerate() {
        let along = (i as f64 / most - 0.75).abs() * 8.0;
        for mut place in around(&[*station], block, 0.0) {
            place.cost += along;
            places.push(place);
        }
    }
    places
}

/// Points at even distances along the visible pieces of a curve.
fn stations(pieces: &[Vec<Point>]) -> Vec<Point> {
    let segments: Vec<(Point, Point)> = pieces
        .iter()
        .flat_map(|piece| piece.iter().copied().zip(piece.iter().skip(1).copied()))
        .collect();
    let length = |(a, b): &(Point, Point)| (b.0 - a.0).hypot(b.1 - a.1);
    let total: f64 = segments.iter().map(length).sum();
    let mut stations = Vec::new();
    let (mut walked, mut next) = (0.0, 0.0);
    for segment in &segments {
        let long = length(segment);
        while next <= walked + long && stations.len() <= STATIONS {
            let t = if long > 0.0 {
                (next - walked) / long
            } else {
                0.0
            };
            let (a, b) = segment;
            stations.push((a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1)));
            next += (total / STATIONS as f64).max(1.0);
        }
        walked += long;
    }
    stations
}

/// Eight places around each point.
fn around(points: &[Point], block: &Block, extra: f64) -> Vec<Place> {
    let every = points.len().div_ceil(STATIONS).max(1);
    let (w, h, gap) = (block.width, block.height, GAP + extra);
    let mut places = Vec::new();
    for (x, y) in points.iter().step_by(every).copied() {
        let (right, left) = (x + gap, x - gap - w);
        let (above, below) = (y - gap * 0.5 - h, y + gap * 0.5);
        let (middle, centre) = (y - h / 2.0, x - w / 2.0);
        places.extend([
            at(right, middle, block, Anchor::Start, 0.0),
            at(right, above, block, Anchor::Start, 0.5),
            at(right, below, block, Anchor::Start, 0.5),
            at(left, middle, block, Anchor::End, 1.0),
            at(left, above, block, Anchor::End, 1.0),
            at(left, below, block, Anchor::End, 1.0),
            at(centre, above, block, Anchor::Middle, 1.5),
            at(centre, below, block, Anchor::Middle, 1.5),
        ]);
    }
    places
}

fn zone_places(area: Rect, block: &Block) -> Vec<Place> {
    let centre = (area.left + area.right - block.width) / 2.0;
    let spill = (block.width - area.width() + 8.0).max(0.0);
    let mut places = Vec::new();
    for step in 0..14 {
        let down = f64::from(step) / 14.0;
        let top = area.top + GAP + down * (area.height() - block.height);
        let cost = down * 14.0;
        let inside = cost + if spill > 0.0 { 8.0 } else { 0.0 };
        let (right, left) = (area.right + GAP, area.left - GAP - block.width);
        places.push(at(centre, top, block, Anchor::Middle, inside));
        places.push(at(right, top, block, Anchor::Start, cost + 5.0));
        places.push(at(left, top, block, Anchor::End, cost + 6.0));
    }
    places
}

fn upright_places(x: f64, block: &Block, plot: &Plot) -> Vec<Place> {
    let frame = plot.frame;
    let mut places = Vec::new();
    for step in 0..16 {
        let down = f64::from(step) / 16.0;
        let top = frame.top + 2.0 + down * (frame.height() - block.height);
        let cost = down * 12.0;
        places.push(at(x + GAP, top, block, Anchor::Start, cost));
        places.push(at(
            x - GAP - block.width,
            top,
            block,
            Anchor::End,
            cost + 1.0,
        ));
    }
    places
}

fn level_places(y: f64, block: &Block, plot: &Plot) -> Vec<Place> {
    let frame = plot.frame;
    let room = frame.width() - block.width - 4.0;
    let mut places = Vec::new();
    for step in 0..16 {
        let back = f64::from(step) / 16.0;
        let left = frame.right - 2.0 - block.width - back * room;
        let above = y - 3.0 - block.height;
        places.push(at(left, above, block, Anchor::End, back * 8.0));
        places.push(at(left, y + 3.0, block, Anchor::End, back * 8.0 + 2.0));
    }
    places
}

fn corner_places(block: &Block, plot: &Plot) -> Vec<Place> {
    let frame = plot.frame;
    let right = frame.right - block.width - 2.0;
    vec![
        at(right, frame.top, block, Anchor::End, 0.0),
        at(frame.left + 8.0, frame.top, block, Anchor::Start, 1.0),
    ]
}

/// None when the place is taken; otherwise how crowded it is.
fn judge(sketch: &Sketch, plot: &Plot, label: &Label, place: &Place, edge: f64) -> Option<f64> {
    let allowed = Rect {
        left: plot.frame.left + 2.0,
        top: plot.frame.top - 7.0,
        right: edge,
        bottom: plot.frame.bottom - 1.0,
    };
    let tight = place.rect.grown(1.5);
    let taken = |text: &Rect| text.grown(3.0).overlaps(place.rect);
    if !allowed.contains(place.rect) || sketch.texts.iter().any(taken) {
        return None;
    }
    let near = place.rect.grown(11.0);
    let mut crowd = 0.0;
    for (point, owner) in &sketch.obstacles {
        if tight.holds(*point) {
            return None;
        }
        if *owner != label.owner && near.holds(*point) {
            crowd += 0.8;
        }
    }
    let crossed = sketch.edges.iter().filter(|point| tight.holds(**point));
    Some(crowd + 1.5 * crossed.count() as f64)
}

fn write(sketch: &mut Sketch, label: &Label, block: &Block, place: &Place) {
    let x = match place.anchor {
        Anchor::Start => place.rect.left,
        Anchor::Middle => (place.rect.left + place.rect.right) / 2.0,
        Anchor::End => place.rect.right,
    };
    for (i, line) in block.lines.iter().enumerate() {
        sketch.word(Word {
            text: line.clone(),
            at: (x, place.rect.top + (i as f64 + 0.5) * BODY * LINE),
            size: BODY,
            bold: false,
            anchor: place.anchor,
            paint: Paint::Text(label.tone),
        });
    }
}

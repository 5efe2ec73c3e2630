//! What a page will draw, as plain values: tests read these, `draw` turns them into pixels.

use super::style::{COLUMNS, Ink, PLOT_HEIGHT, Size, Stroke, Tone, Y_LABELS, fixed, raised};

/// A page: rows of cells under a heading, small print at the foot.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Page {
    /// Heading.
    pub title: String,
    /// Lines under the heading; broken where they are too long.
    pub subtitle: Vec<String>,
    /// What to look at before anything else, one line each; broken where they are too long.
    pub alarms: Vec<String>,
    /// From top to bottom.
    pub rows: Vec<Row>,
    /// Small print; broken where it is too long.
    pub foot: Vec<String>,
}

/// Cells side by side.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// From left to right.
    pub cells: Vec<Cell>,
}

/// A part of a row.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// Share of the width, relative to the other cells.
    pub weight: f64,
    /// What stands in it.
    pub content: Content,
}

/// What a cell can hold.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// A plot or a drawing.
    Panel(Box<Panel>),
    /// A small table.
    Table(Table),
    /// Paragraphs under a heading.
    Words(Words),
    /// A heading over a column of cells.
    Heading(String),
    /// Nothing.
    Empty,
}

impl Row {
    /// Cells of equal width.
    pub fn of(contents: impl IntoIterator<Item = Content>) -> Self {
        Self {
            cells: contents
                .into_iter()
                .map(|content| Cell { weight: 1.0, content })
                .collect(),
        }
    }
    /// Cells with shares of the width.
    pub fn weighted(contents: impl IntoIterator<Item = (f64, Content)>) -> Self {
        Self {
            cells: contents
                .into_iter()
                .map(|(weight, content)| Cell { weight, content })
                .collect(),
        }
    }
}

impl From<Panel> for Content {
    fn from(p: Panel) -> Self {
        Content::Panel(Box::new(p))
    }
}
impl From<Table> for Content {
    fn from(t: Table) -> Self {
        Content::Table(t)
    }
}
impl From<Words> for Content {
    fn from(w: Words) -> Self {
        Content::Words(w)
    }
}

impl Page {
    /// All panels, in reading order.
    pub fn panels(&self) -> impl Iterator<Item = &Panel> {
        self.rows
            .iter()
            .flat_map(|r| &r.cells)
            .filter_map(|c| match &c.content {
                Content::Panel(p) => Some(&**p),
                _ => None,
            })
    }
    /// All tables, in reading order.
    pub fn tables(&self) -> impl Iterator<Item = &Table> {
        self.rows
            .iter()
            .flat_map(|r| &r.cells)
            .filter_map(|c| match &c.content {
                Content::Table(t) => Some(t),
                _ => None,
            })
    }
}

/// A plot, or a drawing to scale.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// Its name, in bold at the top left.
    pub name: String,
    /// Horizontal axis.
    pub x: Axis,
    /// Vertical axis; its label stands at the top beside the name, horizontally.
    pub y: Axis,
    /// Height of the plot without its labels, px.
    pub height: f64,
    /// No axes: a drawing.
    pub bare: bool,
    /// One unit is as long along x as along y: ranges are widened as needed.
    pub equal: bool,
    /// Room right of the plot for the words of its horizontal rules, px; without it they stand inside.
    pub beside_px: f64,
    /// Stretches of x, shaded and named.
    pub bands: Vec<Band>,
    /// Areas between two curves.
    pub fills: Vec<Fill>,
    /// Straight lines right across.
    pub rules: Vec<Rule>,
    /// Curves.
    pub series: Vec<Series>,
    /// Points with a few words.
    pub marks: Vec<Mark>,
    /// Everything else, in the order of drawing.
    pub shapes: Vec<Shape>,
    /// Small words under the heading.
    pub notes: Vec<String>,
    /// What to say in the middle if there is nothing to draw.
    pub empty: Option<String>,
}

impl Panel {
    /// A plot with two axes and nothing in it.
    pub fn new(name: impl Into<String>, x: Axis, y: Axis) -> Self {
        Self {
            name: name.into(),
            x,
            y,
            height: PLOT_HEIGHT,
            bare: false,
            equal: false,
            beside_px: 0.0,
            bands: Vec::new(),
            fills: Vec::new(),
            rules: Vec::new(),
            series: Vec::new(),
            marks: Vec::new(),
            shapes: Vec::new(),
            notes: Vec::new(),
            empty: None,
        }
    }

    /// A drawing to scale, without axes.
    pub fn drawing(name: impl Into<String>, x: (f64, f64), y: (f64, f64)) -> Self {
        Self {
            bare: true,
            equal: true,
            ..Self::new(name, Axis::new("", x), Axis::new("", y))
        }
    }

    /// What the key shows: named series, fills and signs, each name once.
    pub fn key(&self) -> Vec<Key> {
        let mut out: Vec<Key> = Vec::new();
        let series = self.series.iter().map(|s| Key {
            name: s.name.clone(),
            sample: Sample::Line(s.ink, s.stroke),
        });
        let fills = self.fills.iter().map(|f| Key {
            name: f.name.clone(),
            sample: Sample::Area(f.tone),
        });
        let signs = self.shapes.iter().filter_map(|s| match s {
            Shape::Sign { sign, name, .. } => Some(Key {
                name: name.clone(),
                sample: Sample::Sign(*sign),
            }),
            _ => None,
        });
        for key in series.chain(fills).chain(signs) {
            if !key.name.is_empty() && !out.iter().any(|k| k.name == key.name) {
                out.push(key);
            }
        }
        out
    }
}

/// An entry of a key.
#[derive(Clone, Debug, PartialEq)]
pub struct Key {
    /// What it is.
    pub name: String,
    /// What it looks like.
    pub sample: Sample,
}

/// What an entry of a key looks like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sample {
    /// A line.
    Line(Ink, Stroke),
    /// An area.
    Area(Tone),
    /// A sign.
    Sign(Sign),
}

/// A sign that tells whose a point is: by form, colour and filling, so that grey print tells it too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sign {
    /// Form.
    pub form: Form,
    /// Filled, or an outline.
    pub filled: bool,
    /// Colour.
    pub ink: Ink,
}

/// Form of a sign.
#[allow(missing_docs)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    Disc,
    Square,
    Triangle,
    Diamond,
    Wedge,
}

impl Form {
    /// All.
    pub const ALL: [Form; 5] = [
        Form::Disc,
        Form::Square,
        Form::Triangle,
        Form::Diamond,
        Form::Wedge,
    ];

    /// Its corners about its middle (right, down) at radius 1; none for a disc.
    pub fn corners(self) -> &'static [(f64, f64)] {
        match self {
            Form::Disc => &[],
            Form::Square => &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
            Form::Triangle => &[(0.0, -1.25), (1.15, 0.85), (-1.15, 0.85)],
            Form::Diamond => &[(0.0, -1.3), (1.1, 0.0), (0.0, 1.3), (-1.1, 0.0)],
            Form::Wedge => &[(0.0, 1.25), (1.15, -0.85), (-1.15, -0.85)],
        }
    }
}

/// An axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// Quantity and unit: `time, s`.
    pub label: String,
    /// From, to.
    pub range: (f64, f64),
    /// Where numbers stand, and which.
    pub ticks: Vec<Tick>,
    /// Ticks without numbers: another panel under this one carries them.
    pub quiet: bool,
    /// Room for the numbers left of a vertical axis, px.
    pub labels_px: f64,
}

/// A tick of an axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Tick {
    /// Where.
    pub at: f64,
    /// What it says.
    pub text: String,
}

/// Ticks wanted on a y axis.
const Y_TICKS: usize = 5;
/// Ticks wanted on an x axis.
const X_TICKS: usize = 8;

impl Axis {
    /// An axis with ticks at round numbers.
    pub fn new(label: impl Into<String>, range: (f64, f64)) -> Self {
        Self::with_ticks(label, range, Y_TICKS)
    }

    /// An axis with about so many ticks.
    pub fn with_ticks(label: impl Into<String>, range: (f64, f64), count: usize) -> Self {
        let range = spread(range);
        let ticks = ticks(range, count);
        Self {
            label: label.into(),
            range,
            labels_px: labels_px(&ticks),
            ticks,
            quiet: false,
        }
    }

    /// A horizontal axis that covers its values to the ends.
    pub fn along(label: impl Into<String>, values: &[f64]) -> Self {
        let (lo, hi) = extent(values.iter().copied()).unwrap_or((0.0, 1.0));
        Self::with_ticks(label, (lo, hi), X_TICKS)
    }

    /// A vertical axis for values: with room below and above them, and with zero if `zero`.
    pub fn around(label: impl Into<String>, values: impl IntoIterator<Item = f64>, zero: bool) -> Self {
        Self::around_at_least(label, values, zero, 0.0)
    }

    /// The same with a least span: what hardly changes should look as if it hardly changes. A span that
    /// starts at zero grows away from it, any other to both sides.
    pub fn around_at_least(
        label: impl Into<String>,
        values: impl IntoIterator<Item = f64>,
        zero: bool,
        least: f64,
    ) -> Self {
        let (mut lo, mut hi) = extent(values).unwrap_or((0.0, 1.0));
        if zero {
            (lo, hi) = (lo.min(0.0), hi.max(0.0));
        }
        let more = (least - (hi - lo)).max(0.0);
        match (zero && lo == 0.0, zero && hi == 0.0) {
            (true, _) => hi += more,
            (false, true) => lo -= more,
            _ => (lo, hi) = (lo - 0.5 * more, hi + 0.5 * more),
        }
        let (lo, hi) = spread((lo, hi));
        let room = hi - lo;
        let below = if zero && lo == 0.0 { 0.0 } else { 0.06 * room };
        let above = if zero && hi == 0.0 {
            0.02 * room
        } else {
            0.10 * room
        };
        Self::new(label, (lo - below, hi + above))
    }

    /// With room for a line of words beyond each of some peaks, on a plot of some height.
    pub fn with_room(mut self, height: f64, peaks: impl IntoIterator<Item = f64>) -> Self {
        let (lo, hi) = self.range;
        let words = 1.5 * Size::Label.px();
        let room = (hi - lo) * words / (height - words).max(words);
        for peak in peaks {
            self.range = if peak < 0.0 {
                (lo - room, self.range.1)
            } else {
                (self.range.0, hi + room)
            };
        }
        let ticks = ticks(self.range, Y_TICKS);
        Self {
            labels_px: labels_px(&ticks),
            ticks,
            ..self
        }
    }

    /// Without ticks: there is nothing to read off.
    pub fn blank(mut self) -> Self {
        self.ticks.clear();
        self
    }

    /// Without numbers.
    pub fn quietly(mut self) -> Self {
        self.quiet = true;
        self
    }
}

/// Smallest and largest of the values that are known.
pub fn extent(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    values.into_iter().filter(|v| v.is_finite()).fold(None, |e, v| {
        Some(e.map_or((v, v), |(lo, hi): (f64, f64)| (lo.min(v), hi.max(v))))
    })
}

/// A range that has some width, also if it had none.
fn spread((lo, hi): (f64, f64)) -> (f64, f64) {
    if !(lo.is_finite() && hi.is_finite()) {
        return (0.0, 1.0);
    }
    let (lo, hi) = (lo.min(hi), lo.max(hi));
    let size = lo.abs().max(hi.abs());
    if hi - lo > 1e-9 * size && hi > lo {
        return (lo, hi);
    }
    if size < 1e-12 {
        (-1.0, 1.0)
    } else {
        (lo - 0.1 * size, hi + 0.1 * size)
    }
}

/// Ticks at 1, 2 or 5 times a power of ten, about `count` of them.
pub fn ticks((lo, hi): (f64, f64), count: usize) -> Vec<Tick> {
    let rough = (hi - lo) / count.max(1) as f64;
    if !(rough.is_finite() && rough > 0.0) {
        return Vec::new();
    }
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .map(|m| m * power)
        .into_iter()
        .find(|s| *s >= rough * 0.72)
        .unwrap_or(10.0 * power);
    every(step, (lo, hi))
}

/// Ticks at the multiples of a step.
pub fn every(step: f64, (lo, hi): (f64, f64)) -> Vec<Tick> {
    let (from, to) = ((lo / step - 1e-6).ceil(), (hi / step + 1e-6).floor());
    if !(from.is_finite() && to.is_finite()) || to - from > 1000.0 {
        return Vec::new();
    }
    let exponent = (step * 1.000001).log10().floor() as i32;
    let decimals = (-exponent).max(0) as usize;
    let plain = decimals <= 4 && lo.abs().max(hi.abs()) < 1e6;
    // numbers out of the common range share the step's power of ten
    let mantissa = if plain { 0 } else { exponent };
    (from as i64..=to as i64)
        .map(|k| {
            let at = k as f64 * step;
            let text = if plain {
                fixed(at, decimals)
            } else if k == 0 {
                "0".to_owned()
            } else {
                format!("{}·10{}", fixed(at / 10_f64.powi(mantissa), 0), raised(mantissa))
            };
            Tick { at, text }
        })
        .collect()
}

/// Room that the numbers of a vertical axis need, px: usually the same, so that plots line up.
fn labels_px(ticks: &[Tick]) -> f64 {
    let longest = ticks.iter().map(|t| t.text.chars().count()).max().unwrap_or(0);
    Y_LABELS.max(0.6 * Size::Tick.px() * longest as f64 + 24.0)
}

/// A stretch of x, shaded, with a word in a strip over the plot.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// From, to along x.
    pub x: (f64, f64),
    /// Colour.
    pub tone: Tone,
    /// Its name; left out where there is no room.
    pub word: String,
    /// A sign that stands for the name where that has no room.
    pub sign: char,
}

/// An area between two curves.
#[derive(Clone, Debug, PartialEq)]
pub struct Fill {
    /// For the key; empty for none.
    pub name: String,
    /// x, lower y, upper y in turn; a gap is NaN.
    pub edges: Vec<(f64, f64, f64)>,
    /// Colour.
    pub tone: Tone,
}

impl Fill {
    /// Between two curves over the same x, thinned if long.
    pub fn between(name: impl Into<String>, x: &[f64], a: &[f64], b: &[f64], tone: Tone) -> Self {
        let n = x.len().min(a.len()).min(b.len());
        let bucket = n.div_ceil(COLUMNS).max(1);
        let mut edges = Vec::with_capacity(n.div_ceil(bucket));
        for start in (0..n).step_by(bucket) {
            let frames = start..(start + bucket).min(n);
            let known = |i: &usize| (a[*i] - b[*i]).is_finite();
            if frames.clone().any(|i| !known(&i)) {
                edges.push((x[start], f64::NAN, f64::NAN));
            }
            if let Some(i) = frames
                .filter(known)
                .max_by(|i, j| (a[*i] - b[*i]).abs().total_cmp(&(a[*j] - b[*j]).abs()))
            {
                edges.push((x[i], a[i], b[i]));
            }
        }
        Self {
            name: name.into(),
            edges,
            tone,
        }
    }
}

/// A straight line right across a plot.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    /// Where.
    pub at: At,
    /// Words at its end; empty for none.
    pub text: String,
    /// Colour.
    pub ink: Ink,
    /// Line.
    pub stroke: Stroke,
}

/// Where a rule stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum At {
    /// Vertical.
    X(f64),
    /// Horizontal.
    Y(f64),
}

/// A curve; a gap is NaN and stays open.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// For the key; empty for none.
    pub name: String,
    /// Points in turn.
    pub points: Vec<(f64, f64)>,
    /// Colour.
    pub ink: Ink,
    /// Line.
    pub stroke: Stroke,
}

impl Series {
    /// A curve over increasing x, thinned if long: extremes and gaps are kept.
    pub fn over(name: impl Into<String>, x: &[f64], y: &[f64], ink: Ink, stroke: Stroke) -> Self {
        // dashes of a curve that fills whole columns of pixels would only be noise
        let stroke = if is_thinned(x.len()) {
            Stroke {
                width: stroke.width.min(2.0),
                dash: None,
            }
        } else {
            stroke
        };
        Self {
            name: name.into(),
            points: thin(x, y, COLUMNS),
            ink,
            stroke,
        }
    }
    /// A curve through points as they are.
    pub fn through(name: impl Into<String>, points: Vec<(f64, f64)>, ink: Ink, stroke: Stroke) -> Self {
        Self {
            name: name.into(),
            points,
            ink,
            stroke,
        }
    }
}

/// Whether a series of so many frames is thinned before it is drawn.
pub fn is_thinned(frames: usize) -> bool {
    frames > 2 * COLUMNS
}

/// Thins a curve over increasing x to at most about three points for each of `columns`: the extremes of every
/// stretch stay, and so does an opening wherever a value is missing.
pub fn thin(x: &[f64], y: &[f64], columns: usize) -> Vec<(f64, f64)> {
    let n = x.len().min(y.len());
    if n <= 2 * columns {
        return (0..n).map(|i| (x[i], y[i])).collect();
    }
    let bucket = n.div_ceil(columns);
    let mut out = Vec::with_capacity(3 * columns);
    for start in (0..n).step_by(bucket) {
        let frames = start..(start + bucket).min(n);
        let known = || frames.clone().filter(|i| y[*i].is_finite());
        let low = known().min_by(|i, j| y[*i].total_cmp(&y[*j]));
        let high = known().max_by(|i, j| y[*i].total_cmp(&y[*j]));
        if let (Some(low), Some(high)) = (low, high) {
            out.push((x[low.min(high)], y[low.min(high)]));
            if low != high {
                out.push((x[low.max(high)], y[low.max(high)]));
            }
        }
        if known().count() < frames.len() {
            out.push((x[frames.end - 1], f64::NAN));
        }
    }
    out
}

/// A point with a few words, placed where they cover least.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Where.
    pub at: (f64, f64),
    /// Its value, in bold; both empty for a dot alone.
    pub value: String,
    /// More words after it.
    pub text: String,
    /// Colour.
    pub ink: Ink,
}

/// A piece of a drawing, in the panel's units unless it says px.
#[allow(missing_docs)]
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A line through points.
    Line {
        points: Vec<(f64, f64)>,
        ink: Ink,
        stroke: Stroke,
    },
    /// A straight arrow.
    Arrow {
        from: (f64, f64),
        to: (f64, f64),
        ink: Ink,
        stroke: Stroke,
    },
    /// A part of a circle, counter-clockwise for a positive sweep; angles from +x in rad.
    Arc {
        centre: (f64, f64),
        radius_px: f64,
        from: f64,
        sweep: f64,
        ink: Ink,
        stroke: Stroke,
        head: bool,
    },
    /// A disc, filled or open.
    Disc {
        centre: (f64, f64),
        radius_px: f64,
        ink: Ink,
        filled: bool,
    },
    /// A sign; its name stands in the key, unless it is empty.
    Sign {
        at: (f64, f64),
        sign: Sign,
        name: String,
    },
    /// A filled area.
    Area { points: Vec<(f64, f64)>, tone: Tone },
    /// Words; `offset_px` to the right and up.
    Text {
        at: (f64, f64),
        offset_px: (f64, f64),
        text: String,
        size: Size,
        bold: bool,
        ink: Ink,
        anchor: Anchor,
    },
}

/// Which end of a line of words is put in place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// The left end.
    Start,
    /// The middle.
    Middle,
    /// The right end.
    End,
}

/// A small table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// Its name.
    pub name: String,
    /// Heads of the columns: quantity and unit, one line each.
    pub head: Vec<(String, String)>,
    /// Cells; the first column is set to the left, the others to the right.
    pub rows: Vec<Vec<String>>,
    /// Small words under it.
    pub note: String,
}

/// Paragraphs under a heading; broken where they are too long.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Words {
    /// Heading.
    pub name: String,
    /// Paragraphs.
    pub lines: Vec<String>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_ticks_are_round_and_inside() {
        let texts = |range, n| ticks(range, n).into_iter().map(|t| t.text).collect::<Vec<_>>();
        assert_eq!(texts((0.0, 1.0), 5), ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
        assert_eq!(texts((-7.0, 24.0), 5), ["\u{2212}5", "0", "5", "10", "15", "20"]);
        assert_eq!(texts((-35.0, 70.0), 5), ["\u{2212}20", "0", "20", "40", "60"]);
        assert_eq!(
            texts((-0.3, 0.1), 5),
            ["\u{2212}0.3", "\u{2212}0.2", "\u{2212}0.1", "0.0", "0.1"]
        );
        for range in [(3.0, 3.0), (f64::NAN, 1.0), (0.0, f64::INFINITY)] {
            assert!(!Axis::new("", range).ticks.is_empty(), "{range:?}");
        }
    }

    #[test]
    fn property_thinning_keeps_extremes_and_gaps() {
        let n = 720_000;
        let x: Vec<f64> = (0..n).map(|i| i as f64 * 0.005).collect();
        let mut y: Vec<f64> = x.iter().map(|t| (t * 2.0).sin()).collect();
        y[123_457] = 9.0;
        y[500_001] = -7.0;
        y[300_000] = f64::NAN;
        let thin = thin(&x, &y, COLUMNS);
        assert!(thin.len() <= 3 * COLUMNS);
        assert!(thin.contains(&(x[123_457], 9.0)) && thin.contains(&(x[500_001], -7.0)));
        assert_eq!(thin.iter().filter(|p| p.1.is_nan()).count(), 1);
        assert!(thin.windows(2).all(|w| w[0].0 <= w[1].0));
        let fill = Fill::between("", &x, &y, &vec![0.0; n], Tone::Dynamic);
        assert!(fill.edges.len() <= COLUMNS + 1 && fill.edges.iter().any(|e| e.1.is_nan()));
    }

    #[test]
    fn property_axes_cover_their_values() {
        let a = Axis::around("moment, N·m", [2.0, f64::NAN, 30.0], true);
        assert!(a.range.0 == 0.0 && a.range.1 > 30.0);
        let a = Axis::around("angle, °", [-95.0, -3.0], false);
        assert!(a.range.0 < -95.0 && a.range.1 > -3.0 && a.range.1 < 10.0);
        let a = Axis::around("nothing", [f64::NAN], true);
        assert!(a.range.0 < a.range.1);
    }

    #[test]
    fn property_axes_have_a_least_span() {
        let of = |values: &[f64], zero| {
            Axis::around_at_least("angle, °", values.iter().copied(), zero, 10.0).range
        };
        assert!(of(&[0.0, 0.0], true).0 == 0.0 && of(&[0.0, 0.0], true).1 >= 10.0);
        assert!(of(&[-0.05, 0.05], true).0 <= -5.0 && of(&[-0.05, 0.05], true).1 >= 5.0);
        assert!(of(&[-0.05, -0.02], true).0 <= -10.0 && of(&[-0.05, -0.02], true).1 < 1.0);
        assert!(of(&[85.0, 85.1], false).0 <= 80.5 && of(&[85.0, 85.1], false).1 >= 90.0);
        assert_eq!(
            of(&[0.0, 90.0], true),
            Axis::around("angle, °", [0.0, 90.0], true).range
        );
    }
}

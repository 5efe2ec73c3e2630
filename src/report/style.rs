//! What pages look like: sizes, palette, number formats. One place, so that all pages agree.
//!
//! Sizes are pixels of a page that prints at 300 dots per inch on a thesis column 152 mm wide: 100 px are 24
//! pt. Inks differ in lightness as well as in hue, so that they survive grey printing and colour-blindness;
//! where a hue is all that tells two things apart, a dash or a word says it too.

/// Width of a page, px.
pub const PAGE_WIDTH: f64 = 1800.0;
/// White space around a page, px.
pub const MARGIN: f64 = 64.0;
/// White space between cells of a row, px.
pub const GUTTER: f64 = 56.0;
/// White space between rows, px.
pub const ROW_GAP: f64 = 40.0;
/// Room for the labels of a y axis, px.
pub const Y_LABELS: f64 = 92.0;
/// Room right of a plot for half a label of the x axis, px.
pub const RIGHT_PAD: f64 = 30.0;
/// Height of the strip that names phases, px.
pub const STRIP: f64 = 30.0;
/// Usual height of a plot, px.
pub const PLOT_HEIGHT: f64 = 330.0;
/// Pages are drawn this many times larger and averaged down.
pub const SUPERSAMPLING: u32 = 2;
/// Columns a long series is thinned to before it is drawn: two for each pixel of the widest plot.
pub const COLUMNS: usize = 3200;

/// Least span of an axis of angles, °: noise of a joint at rest should not fill a plot.
pub const LEAST_ANGLES_DEG: f64 = 10.0;
/// Least span of an axis of angular velocities, °/s.
pub const LEAST_VELOCITIES_DEG_S: f64 = 20.0;
/// Least span of an axis of moments, N·m.
pub const LEAST_MOMENTS_N_M: f64 = 0.2;
/// Least span of an axis of forces, N: about what a flexor needs for the least span of moments.
pub const LEAST_FORCES_N: f64 = 5.0;
/// Least span of an axis of power, W.
pub const LEAST_POWERS_W: f64 = 0.1;
/// Least span of an axis of places, m.
pub const LEAST_PLACES_M: f64 = 0.05;

/// Sizes of text, px per em.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// Heading of the page.
    Title,
    /// Name of a panel.
    Head,
    /// Labels of axes, keys, marks.
    Label,
    /// Numbers at ticks, cells of tables.
    Tick,
    /// Foot of the page.
    Small,
}

impl Size {
    /// px per em
    pub fn px(self) -> f64 {
        match self {
            Size::Title => 46.0,
            Size::Head => 31.0,
            Size::Label => 28.0,
            Size::Tick => 27.0,
            Size::Small => 24.0,
        }
    }
    /// Distance of base lines, px.
    pub fn leading(self) -> f64 {
        (1.36 * self.px()).round()
    }
}

/// A colour, sRGB.
pub type Rgb = (u8, u8, u8);

/// Colours of lines, dots and words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Words, axes.
    Text,
    /// What a page is about: darkest line.
    Strong,
    /// What it is compared with.
    Second,
    /// A third line.
    Third,
    /// A fourth line.
    Fourth,
    /// Things that stand back: notes, units, many curves at once.
    Quiet,
    /// Many curves behind one.
    Pale,
    /// What has to be seen before anything else.
    Alarm,
    /// Grid lines.
    Faint,
    /// Paper.
    Paper,
}

impl Ink {
    /// Its colour.
    pub fn rgb(self) -> Rgb {
        match self {
            Ink::Text => (0x22, 0x26, 0x2b),
            Ink::Strong => (0x14, 0x2f, 0x56),
            Ink::Second => (0xd2, 0x6a, 0x1b),
            Ink::Third => (0x2b, 0x8a, 0x86),
            Ink::Fourth => (0x8b, 0x5f, 0xa8),
            Ink::Quiet => (0x66, 0x6d, 0x75),
            Ink::Pale => (0xb6, 0xbc, 0xc4),
            Ink::Alarm => (0x9a, 0x20, 0x16),
            Ink::Faint => (0xd9, 0xdc, 0xe0),
            Ink::Paper => (0xff, 0xff, 0xff),
        }
    }
}

/// Colours of areas.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Frames of a lift.
    Lift,
    /// Frames of a lower.
    Lower,
    /// Frames of a hold.
    Hold,
    /// Between a total and its static part.
    Dynamic,
    /// How sure a curve is.
    Band,
    /// What is missing.
    Missing,
    /// What was repaired.
    Repaired,
    /// Neutral.
    Plain,
    /// What one of several muscles does, by its number.
    Muscle(usize),
}

impl Tone {
    /// Its colour as an area behind lines.
    pub fn rgb(self) -> Rgb {
        match self {
            Tone::Lift => (0xe9, 0xef, 0xf7),
            Tone::Lower => (0xf8, 0xf3, 0xea),
            Tone::Hold => (0xe4, 0xe7, 0xe3),
            Tone::Dynamic => (0xf2, 0xc5, 0x9c),
            Tone::Band => (0xd2, 0xc8, 0xe4),
            Tone::Missing => (0xb2, 0x3a, 0x2e),
            Tone::Repaired => (0x8f, 0xb3, 0xd9),
            Tone::Plain => (0xee, 0xef, 0xf1),
            Tone::Muscle(i) => MUSCLES[i % MUSCLES.len()],
        }
    }
    /// Its colour where it carries a word.
    pub fn strip_rgb(self) -> Rgb {
        match self {
            Tone::Lift => (0xc3, 0xd3, 0xe8),
            Tone::Lower => (0xea, 0xdb, 0xbf),
            Tone::Hold => (0xbd, 0xc5, 0xbb),
            other => other.rgb(),
        }
    }
}

/// Areas of muscles that are stacked: neighbours differ in lightness, for grey print.
const MUSCLES: [Rgb; 8] = [
    (0xb0, 0x5b, 0x4a),
    (0xe3, 0xb4, 0x9b),
    (0x7d, 0x3f, 0x3a),
    (0x6f, 0x9a, 0xb8),
    (0xbf, 0xd6, 0xe3),
    (0x9a, 0x8f, 0x5c),
    (0xd9, 0xd2, 0xa6),
    (0x5f, 0x6f, 0x66),
];

/// Thickness and dash of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// px
    pub width: f64,
    /// Lengths of dash and space, px; none for an unbroken line.
    pub dash: Option<(f64, f64)>,
}

impl Stroke {
    /// What a page is about.
    pub const STRONG: Stroke = Stroke {
        width: 4.5,
        dash: None,
    };
    /// An ordinary curve.
    pub const PLAIN: Stroke = Stroke {
        width: 3.0,
        dash: None,
    };
    /// One of many.
    pub const THIN: Stroke = Stroke {
        width: 1.6,
        dash: None,
    };
    /// A line that is compared with an unbroken one.
    pub const DASHED: Stroke = Stroke {
        width: 3.4,
        dash: Some((15.0, 7.0)),
    };
    /// A third kind of line.
    pub const DOTTED: Stroke = Stroke {
        width: 3.2,
        dash: Some((4.5, 7.0)),
    };
    /// Axes and rules.
    pub const HAIR: Stroke = Stroke {
        width: 1.5,
        dash: None,
    };
}

/// Writes a number with a given count of decimals, a true minus sign and no negative zero; a dash for what is
/// not known.
pub fn fixed(x: f64, decimals: usize) -> String {
    if !x.is_finite() {
        return "–".to_owned();
    }
    let text = format!("{x:.decimals$}");
    let zero = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if zero {
        text.replace('-', "")
    } else {
        text.replace('-', "\u{2212}")
    }
}

/// Writes a number with about three significant digits: what a reader of a picture needs.
pub fn short(x: f64) -> String {
    let size = x.abs();
    if !x.is_finite() {
        return fixed(x, 0);
    }
    if size != 0.0 && !(1e-3..1e6).contains(&size) {
        return scientific(x);
    }
    let decimals = match size {
        s if s >= 99.95 || s == 0.0 => 0,
        s if s >= 9.995 => 1,
        s if s >= 0.9995 => 2,
        s if s >= 0.09995 => 3,
        s if s >= 0.009995 => 4,
        _ => 5,
    };
    fixed(x, decimals)
}

/// Writes a number as a power of ten.
pub fn scientific(x: f64) -> String {
    if x == 0.0 || !x.is_finite() {
        return fixed(x, 0);
    }
    let text = format!("{x:.2e}");
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    format!(
        "{}·10{}",
        mantissa.replace('-', "\u{2212}"),
        raised(exponent.parse().unwrap_or(0))
    )
}

/// An exponent, raised.
pub fn raised(exponent: i32) -> String {
    const DIGITS: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    exponent
        .to_string()
        .chars()
        .map(|c| c.to_digit(10).map_or('⁻', |d| DIGITS[d as usize]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_numbers_read_as_in_print() {
        for (x, text) in [
            (24.3456, "24.3"),
            (-1.2345, "\u{2212}1.23"),
            (0.0, "0"),
            (123.4, "123"),
            (-0.0004, "\u{2212}4.00·10⁻⁴"),
            (2.5e7, "2.50·10⁷"),
        ] {
            assert_eq!(short(x), text);
        }
        assert_eq!(fixed(-0.0001, 2), "0.00");
        assert_eq!(fixed(f64::NAN, 2), "–");
    }

    /// Relative luminance.
    ///
    /// # Source
    /// IEC 61966-2-1 (sRGB) and ITU-R BT.709 weights.
    fn luminance((r, g, b): Rgb) -> f64 {
        let linear = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
    }

    #[test]
    fn published_inks_keep_apart_in_grey_and_words_are_legible() {
        // WCAG 2.1, success criteria 1.4.3 and 1.4.11: contrast of text at least 4.5, of graphics at least 3
        let contrast = |a: Rgb, b: Rgb| {
            let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
            a.max(b) / a.min(b)
        };
        for ink in [Ink::Text, Ink::Strong, Ink::Quiet, Ink::Alarm] {
            assert!(contrast(ink.rgb(), Ink::Paper.rgb()) >= 4.5, "{ink:?}");
        }
        for ink in [Ink::Second, Ink::Third, Ink::Fourth] {
            assert!(contrast(ink.rgb(), Ink::Paper.rgb()) >= 3.0, "{ink:?}");
        }
        assert!(contrast(Ink::Strong.rgb(), Ink::Second.rgb()) >= 3.0);
        for tone in [Tone::Lift, Tone::Lower, Tone::Hold] {
            assert!(contrast(Ink::Text.rgb(), tone.strip_rgb()) >= 4.5, "{tone:?}");
        }
    }
}

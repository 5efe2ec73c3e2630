//! Numbers with units as people write them: `10 kg`, `22 lb`, `98 N`, `30 cm`, `90 deg`, `40 N m`, or `? kg`
//! for the one to be found.

use crate::ground::closest;
use std::borrow::Cow;

/// What a quantity measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// kg
    Mass,
    /// N
    Force,
    /// m
    Length,
    /// rad
    Angle,
    /// N·m
    Moment,
    /// m/s²
    Acceleration,
    /// m²
    Area,
}

impl Dimension {
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Dimension::Mass => "a mass",
            Dimension::Force => "a force",
            Dimension::Length => "a length",
            Dimension::Angle => "an angle",
            Dimension::Moment => "a moment",
            Dimension::Acceleration => "an acceleration",
            Dimension::Area => "an area",
        }
    }

    /// How such a quantity may be written.
    pub fn example(self) -> &'static str {
        match self {
            Dimension::Mass => "10 kg, 500 g or 22 lb",
            Dimension::Force => "98 N, 1.2 kN or 22 lbf",
            Dimension::Length => "30 cm, 0.3 m or 12 in",
            Dimension::Angle => "90 deg or 1.57 rad",
            Dimension::Moment => "40 N·m, 4000 N cm or 350 lbf·in",
            Dimension::Acceleration => "9.8 m/s²",
            Dimension::Area => "7 cm² or 1.1 in²",
        }
    }

    /// The unit used inside.
    pub fn si(self) -> Unit {
        match self {
            Dimension::Mass => KG,
            Dimension::Force => NEWTON,
            Dimension::Length => METRE,
            Dimension::Angle => Unit::new("rad", Dimension::Angle, 1.0),
            Dimension::Moment => Unit::new("N·m", Dimension::Moment, 1.0),
            Dimension::Acceleration => Unit::new("m/s²", Dimension::Acceleration, 1.0),
            Dimension::Area => Unit::new("m²", Dimension::Area, 1.0),
        }
    }
}

/// A unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    /// As it is printed.
    pub symbol: Cow<'static, str>,
    /// What it measures.
    pub dimension: Dimension,
    /// SI units in one of it.
    pub si: f64,
}

impl Unit {
    /// A unit of the list.
    pub const fn new(symbol: &'static str, dimension: Dimension, si: f64) -> Self {
        Self {
            symbol: Cow::Borrowed(symbol),
            dimension,
            si,
        }
    }

    /// Force times length.
    pub fn moment(force: &Unit, length: &Unit) -> Self {
        Self {
            symbol: format!("{}·{}", force.symbol, length.symbol).into(),
            dimension: Dimension::Moment,
            si: force.si * length.si,
        }
    }

    /// An SI value in this unit.
    pub fn of_si(&self, si: f64) -> f64 {
        si / self.si
    }
}

/// kilogram
pub const KG: Unit = Unit::new("kg", Dimension::Mass, 1.0);
/// pound: exact by definition (international yard and pound agreement, 1959)
pub const POUND: Unit = Unit::new("lb", Dimension::Mass, 0.453_592_37);
/// newton
pub const NEWTON: Unit = Unit::new("N", Dimension::Force, 1.0);
/// pound-force: one pound under standard gravity, exact by definition
pub const POUND_FORCE: Unit = Unit::new("lbf", Dimension::Force, 0.453_592_37 * 9.80665);
/// metre
pub const METRE: Unit = Unit::new("m", Dimension::Length, 1.0);
/// centimetre
pub const CENTIMETRE: Unit = Unit::new("cm", Dimension::Length, 0.01);
/// inch: exact by definition (international yard and pound agreement, 1959)
pub const INCH: Unit = Unit::new("in", Dimension::Length, 0.0254);
/// square centimetre
pub const SQUARE_CENTIMETRE: Unit = Unit::new("cm²", Dimension::Area, 1e-4);
/// degree
pub const DEGREE: Unit = Unit::new("deg", Dimension::Angle, std::f64::consts::PI / 180.0);

/// Spellings (lower case) of every simple unit; moments are products of two of them.
static UNITS: &[(&[&str], Unit)] = &[
    (&["kg", "kgs", "kilogram", "kilograms", "kilo", "kilos"], KG),
    (&["g", "gram", "grams"], Unit::new("g", Dimension::Mass, 0.001)),
    (&["lb", "lbs", "pound", "pounds"], POUND),
    (
        &["oz", "ounce", "ounces"],
        Unit::new("oz", Dimension::Mass, 0.453_592_37 / 16.0),
    ),
    (&["n", "newton", "newtons"], NEWTON),
    (
        &["kn", "kilonewton", "kilonewtons"],
        Unit::new("kN", Dimension::Force, 1000.0),
    ),
    (&["lbf", "lbsf", "poundforce"], POUND_FORCE),
    (&["kgf", "kp"], Unit::new("kgf", Dimension::Force, 9.80665)),
    (&["m", "metre", "metres", "meter", "meters"], METRE),
    (
        &["cm", "centimetre", "centimetres", "centimeter", "centimeters"],
        CENTIMETRE,
    ),
    (
        &["mm", "millimetre", "millimetres", "millimeter", "millimeters"],
        Unit::new("mm", Dimension::Length, 0.001),
    ),
    (&["in", "inch", "inches", "\"", "″"], INCH),
    (
        &["ft", "foot", "feet", "'", "′"],
        Unit::new("ft", Dimension::Length, 0.3048),
    ),
    (&["deg", "degree", "degrees", "°"], DEGREE),
    (
        &["rad", "radian", "radians"],
        Unit::new("rad", Dimension::Angle, 1.0),
    ),
    (
        &["m/s²", "m/s^2", "m/s2", "n/kg"],
        Unit::new("m/s²", Dimension::Acceleration, 1.0),
    ),
    (
        &["ft/s²", "ft/s^2", "ft/s2"],
        Unit::new("ft/s²", Dimension::Acceleration, 0.3048),
    ),
    (&["cm²", "cm^2", "cm2"], SQUARE_CENTIMETRE),
    (&["mm²", "mm^2", "mm2"], Unit::new("mm²", Dimension::Area, 1e-6)),
    (&["m²", "m^2", "m2"], Unit::new("m²", Dimension::Area, 1.0)),
    (
        &["in²", "in^2", "in2"],
        Unit::new("in²", Dimension::Area, 0.0254 * 0.0254),
    ),
];

fn simple_unit(text: &str) -> Option<Unit> {
    UNITS
        .iter()
        .find(|(names, _)| names.contains(&text))
        .map(|(_, u)| u.clone())
}

/// A factor of a moment: pounds in such a product are pounds-force.
fn moment_factors(a: &str, b: &str) -> Option<Unit> {
    let read = |t: &str| simple_unit(t).map(|u| if u == POUND { POUND_FORCE } else { u });
    let (a, b) = (read(a)?, read(b)?);
    match (a.dimension, b.dimension) {
        (Dimension::Force, Dimension::Length) => Some(Unit::moment(&a, &b)),
        (Dimension::Length, Dimension::Force) => Some(Unit::moment(&b, &a)),
        _ => None,
    }
}

/// A unit as written; `None` if nobody knows it.
pub fn unit(text: &str) -> Option<Unit> {
    let lower = text.trim().to_lowercase().replace('⋅', "·");
    if let Some(u) = simple_unit(&lower) {
        return Some(u);
    }
    let parts: Vec<&str> = lower
        .split(['·', '*', '×', '-', ' ', '.'])
        .filter(|p| !p.is_empty())
        .collect();
    match parts.as_slice() {
        [a, b] => moment_factors(a, b),
        // "Nm", "Ncm", "kNm": every cut that leaves a force and a length
        [word] => word
            .char_indices()
            .skip(1)
            .find_map(|(i, _)| moment_factors(&word[..i], &word[i..])),
        _ => None,
    }
}

/// A number with a unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantity {
    /// In SI.
    pub si: f64,
    /// As it was written.
    pub unit: Unit,
    /// Number in the unit, as it was written (`4.00`).
    pub digits: String,
    /// Written as a fraction or in two units (`½ kg`, `5 ft 7 in`): its digits say nothing of its figures.
    pub exact: bool,
}

impl Quantity {
    /// Of a number that nobody wrote.
    pub fn computed(si: f64, unit: Unit) -> Self {
        Self {
            si,
            digits: sig(unit.of_si(si), 6),
            unit,
            exact: false,
        }
    }

    /// `4.00 kg`
    pub fn text(&self) -> String {
        with_unit(&self.digits, &self.unit)
    }

    /// Significant figures meant by whoever wrote the number; at least 3 for a whole number or a fraction,
    /// which are read as exact enough.
    pub fn significant_figures(&self) -> usize {
        if self.exact {
            return 3;
        }
        let mantissa = self.digits.split(['e', 'E']).next().unwrap_or("");
        let count = mantissa
            .chars()
            .filter(char::is_ascii_digit)
            .skip_while(|c| *c == '0')
            .count();
        if mantissa.contains('.') {
            count
        } else {
            count.max(3)
        }
    }
}

/// A number and a unit: `90°`, `30 cm`, `−3 N`.
pub fn with_unit(number: &str, unit: &Unit) -> String {
    let number = typeset(number);
    if *unit == DEGREE {
        format!("{number}°")
    } else {
        format!("{number} {}", unit.symbol)
    }
}

/// A number as it is printed: one minus sign everywhere.
pub fn typeset(number: &str) -> String {
    number.replace('-', "\u{2212}")
}

/// Fractions that have a sign of their own.
const FRACTIONS: [(char, f64); 9] = [
    ('½', 0.5),
    ('¼', 0.25),
    ('¾', 0.75),
    ('⅓', 1.0 / 3.0),
    ('⅔', 2.0 / 3.0),
    ('⅛', 0.125),
    ('⅜', 0.375),
    ('⅝', 0.625),
    ('⅞', 0.875),
];

/// A number at the start of a text: its value, its digits as they are to be printed, whether it is a
/// fraction, and the rest of the text.
///
/// Reads `4.00`, `½`, `2½`, `1/2`, `1 1/2`.
fn leading_number(text: &str) -> Option<(f64, String, bool, &str)> {
    let fraction = |t: &str| {
        t.chars()
            .next()
            .and_then(|c| FRACTIONS.iter().find(|f| f.0 == c).map(|f| (f.1, c.len_utf8())))
    };
    let (sign, bare) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, text),
    };
    let of = |value: f64, rest| Some((sign * value, sig(sign * value, 10), true, rest));
    if let Some((value, end)) = fraction(bare) {
        return of(value, &bare[end..]);
    }
    let end = number_length(text)?;
    let (digits, rest) = (&text[..end], &text[end..]);
    let whole: f64 = digits.parse().ok()?;
    if !digits.contains(['.', 'e', 'E']) {
        if let Some((value, end)) = fraction(rest.trim_start()) {
            return of(whole.abs() + value, &rest.trim_start()[end..]);
        }
        let over = |top: &str, rest: &'_ str| -> Option<(f64, usize)> {
            let below = rest.strip_prefix('/')?;
            let digits = below.chars().take_while(char::is_ascii_digit).count();
            let (top, below): (f64, f64) = (top.parse().ok()?, below[..digits].parse().ok()?);
            (below > 0.0).then(|| (top / below, digits + 1))
        };
        if let Some((value, used)) = over(digits.trim_start_matches('-'), rest) {
            return of(value, &rest[used..]);
        }
        let next = rest.trim_start();
        let count = next.chars().take_while(char::is_ascii_digit).count();
        if count > 0
            && rest.starts_with(' ')
            && let Some((value, used)) = over(&next[..count], &next[count..])
        {
            return of(whole.abs() + value, &next[count + used..]);
        }
    }
    Some((whole, digits.to_owned(), false, rest))
}

/// `5 ft 7 in` after its first number: the value in SI, and the last unit.
fn in_two_units(first: f64, rest: &str) -> Option<(f64, Unit)> {
    let at = rest
        .char_indices()
        .find(|(_, c)| c.is_ascii_digit() || FRACTIONS.iter().any(|f| f.0 == *c))?
        .0;
    let (large, second) = (unit(rest[..at].trim())?, &rest[at..]);
    let (number, _, _, left) = leading_number(second)?;
    let small = unit(left.trim())?;
    let fits = large.dimension == small.dimension
        && large.si > small.si
        && number >= 0.0
        && number * small.si < large.si;
    // a minus sign holds for both parts
    fits.then(|| {
        (
            first.signum() * (first.abs() * large.si + number * small.si),
            small,
        )
    })
}

/// A number, or the mark of the one to be found.
#[derive(Clone, Debug, PartialEq)]
pub enum Written {
    /// Given.
    Known(Quantity),
    /// `?`, with the unit the answer should have, if one is named.
    Unknown(Option<Unit>),
}

/// Why a text is not a quantity: what it is, and what to do.
#[derive(Clone, Debug, PartialEq)]
pub struct NotAQuantity {
    /// What was found.
    pub found: String,
    /// What to do.
    pub hint: String,
}

fn names_of(dimensions: &[Dimension]) -> String {
    dimensions
        .iter()
        .map(|d| d.words())
        .collect::<Vec<_>>()
        .join(" or ")
}

fn examples_of(dimensions: &[Dimension]) -> String {
    dimensions
        .iter()
        .map(|d| d.example())
        .collect::<Vec<_>>()
        .join("; ")
}

/// Length of the longest start of `text` that is a number.
fn number_length(text: &str) -> Option<usize> {
    if !text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.')) {
        return None;
    }
    text.char_indices()
        .map(|(i, c)| i + c.len_utf8())
        .filter(|&end| text[..end].parse::<f64>().is_ok_and(f64::is_finite))
        .max()
}

/// Reads a quantity of one of the dimensions.
///
/// # Errors
/// Anything that is not a number with a known unit of one of the dimensions.
pub fn parse(text: &str, dimensions: &[Dimension]) -> Result<Written, NotAQuantity> {
    let text = text.trim().replace('−', "-");
    let wrong = |found: String, hint: String| Err(NotAQuantity { found, hint });
    let write = || format!("write {}", examples_of(dimensions));
    if let Some(rest) = text.strip_prefix('?') {
        let rest = rest.trim();
        if rest.is_empty() {
            return Ok(Written::Unknown(None));
        }
        return match unit(rest) {
            Some(u) if dimensions.contains(&u.dimension) => Ok(Written::Unknown(Some(u))),
            Some(u) => wrong(
                format!("\"{text}\", {}", u.dimension.words()),
                format!("the answer there can only be {}", names_of(dimensions)),
            ),
            None => wrong(
                format!("\"{text}\""),
                format!("\"?\" alone, or with a unit for the answer; {}", write()),
            ),
        };
    }
    let Some((number, digits, exact, rest)) = leading_number(&text) else {
        return wrong(format!("the text \"{text}\""), write());
    };
    let rest = rest.trim();
    if rest.starts_with(',') {
        return wrong(
            format!("\"{text}\""),
            format!("decimals stand after a point, not a comma; {}", write()),
        );
    }
    if rest.is_empty() {
        return wrong(
            format!("the bare number {digits}"),
            format!("a unit is needed, it is never guessed; {}", write()),
        );
    }
    let (si, u, digits, exact) = match (unit(rest), in_two_units(number, rest)) {
        (Some(u), _) => (number * u.si, u, digits, exact),
        (None, Some((si, u))) => (si, u.clone(), sig(u.of_si(si), 10), true),
        (None, None) => {
            let known = UNITS
                .iter()
                .filter(|(_, u)| dimensions.contains(&u.dimension))
                .map(|(names, _)| names[0]);
            let hint = match closest(rest, known) {
                Some(k) => format!("did you mean {k}? {}", write()),
                None => write(),
            };
            return wrong(format!("\"{text}\", and nobody knows the unit \"{rest}\""), hint);
        }
    };
    if !dimensions.contains(&u.dimension) {
        let mut hint = format!("{} is needed: {}", names_of(dimensions), write());
        if u == POUND && dimensions.contains(&Dimension::Force) {
            hint.push_str("; lb is a mass, lbf is a force");
        }
        return wrong(format!("\"{text}\", {}", u.dimension.words()), hint);
    }
    Ok(Written::Known(Quantity {
        si,
        unit: u,
        digits,
        exact,
    }))
}

/// Decimal places at which a number shows `figures` significant figures; negative for tens, hundreds.
pub fn places(x: f64, figures: usize) -> i32 {
    if x == 0.0 || !x.is_finite() {
        return 0;
    }
    let scientific = format!(
        "{:.*e}",
        figures.saturating_sub(1),
        x * (1.0 + 4.0 * f64::EPSILON)
    );
    let exponent: i32 = scientific
        .split('e')
        .nth(1)
        .and_then(|e| e.parse().ok())
        .unwrap_or(0);
    figures as i32 - 1 - exponent
}

/// A number rounded to a decimal place (0: whole; -1: tens), a half away from zero; the value that is
/// printed.
pub fn to_place(x: f64, place: i32) -> f64 {
    let k = 10_f64.powi(place.abs());
    let scaled = x * (1.0 + 4.0 * f64::EPSILON);
    if place >= 0 {
        (scaled * k).round() / k
    } else {
        (scaled / k).round() * k
    }
}

/// The same as text, zeros kept.
pub fn placed(x: f64, place: i32) -> String {
    let value = to_place(x, place);
    // no minus before a zero
    format!(
        "{:.*}",
        place.max(0) as usize,
        if value == 0.0 { 0.0 } else { value }
    )
}

/// A number with up to `figures` significant figures, without needless zeros.
pub fn sig(x: f64, figures: usize) -> String {
    let fixed = rounded(x, figures);
    if fixed.contains('.') && !fixed.contains('e') {
        let t = fixed.trim_end_matches('0').trim_end_matches('.');
        return if t == "-0" { "0".into() } else { t.to_owned() };
    }
    fixed
}

/// A number rounded to `figures` significant figures, zeros kept: 0.5 to three is `0.500`.
pub fn rounded(x: f64, figures: usize) -> String {
    if x == 0.0 || !x.is_finite() {
        return if x == 0.0 { "0".into() } else { "undefined".into() };
    }
    // a half goes away from zero, as by hand: 1225 to three figures is 1230
    let scientific = format!(
        "{:.*e}",
        figures.saturating_sub(1),
        x * (1.0 + 4.0 * f64::EPSILON)
    );
    let exponent: i32 = scientific
        .split('e')
        .nth(1)
        .and_then(|e| e.parse().ok())
        .unwrap_or(0);
    if !(-6..=12).contains(&exponent) {
        return scientific;
    }
    let decimals = figures as i32 - 1 - exponent;
    let value: f64 = scientific.parse().unwrap_or(x);
    format!("{value:.*}", decimals.max(0) as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known(text: &str, d: Dimension) -> f64 {
        match parse(text, &[d]) {
            Ok(Written::Known(q)) => q.si,
            other => panic!("{text}: {other:?}"),
        }
    }

    #[test]
    fn published_conversions_are_exact() {
        // International yard and pound agreement (1959): 1 in = 0.0254 m, 1 lb = 0.45359237 kg; 1 lbf =
        // 4.4482216152605 N (NIST SP 811, appendix B)
        assert_eq!(known("1 in", Dimension::Length), 0.0254);
        assert_eq!(known("1 ft", Dimension::Length), 0.3048);
        assert_eq!(known("1 lb", Dimension::Mass), 0.45359237);
        assert!((known("1 lbf", Dimension::Force) - 4.4482216152605).abs() < 1e-14);
        // NIST SP 811: 1 lbf·in = 0.1129848 N·m, 1 lbf·ft = 1.355818 N·m
        assert!((known("1 lbf·in", Dimension::Moment) - 0.1129848).abs() < 5e-8);
        assert!((known("1 ft-lb", Dimension::Moment) - 1.355818).abs() < 5e-7);
    }

    #[test]
    fn property_many_spellings_one_value() {
        for t in [
            "40 N·m",
            "40 N m",
            "40 Nm",
            "40N*m",
            "4000 N cm",
            "4000 Ncm",
            "0.04 kN·m",
            "40 newton metres",
        ] {
            assert!((known(t, Dimension::Moment) - 40.0).abs() < 1e-12, "{t}");
        }
        for t in ["90 deg", "90°", "90 degrees"] {
            assert!(
                (known(t, Dimension::Angle) - std::f64::consts::FRAC_PI_2).abs() < 1e-12,
                "{t}"
            );
        }
        assert_eq!(known("1e1kg", Dimension::Mass), 10.0);
        assert_eq!(known("−3 cm", Dimension::Length), -0.03);
        assert_eq!(known("500 g", Dimension::Mass), 0.5);
        for t in ["½ kg", "0.5kg", "1/2 kg", "500 g"] {
            assert_eq!(known(t, Dimension::Mass), 0.5, "{t}");
        }
        assert_eq!(
            [
                known("2½ kg", Dimension::Mass),
                known("1 3/4 kg", Dimension::Mass),
                known("-½ kg", Dimension::Mass)
            ],
            [2.5, 1.75, -0.5]
        );
        for t in ["5 ft 7 in", "5ft7in", "5'7\"", "67 in", "5 feet 7 inches"] {
            assert!((known(t, Dimension::Length) - 67.0 * 0.0254).abs() < 1e-15, "{t}");
        }
        assert!((known("6 lb 4 oz", Dimension::Mass) - 6.25 * 0.45359237).abs() < 1e-15);
        assert!((known("7 cm²", Dimension::Area) - 7e-4).abs() < 1e-18);
        assert_eq!(known("9.8 m/s2", Dimension::Acceleration), 9.8);
    }

    #[test]
    fn property_figures_survive() {
        let figures = |t: &str| match parse(t, &[Dimension::Mass]) {
            Ok(Written::Known(q)) => q.significant_figures(),
            other => panic!("{other:?}"),
        };
        assert_eq!(
            [
                figures("4.00 kg"),
                figures("0.600 kg"),
                figures("0.05 kg"),
                figures("10 kg"),
                figures("1225 kg")
            ],
            [3, 3, 1, 3, 4]
        );
        assert_eq!(
            (
                sig(470.4, 6),
                sig(3675.0000000001, 6),
                sig(0.1, 6),
                sig(1_234_567.8, 4)
            ),
            ("470.4".into(), "3675".into(), "0.1".into(), "1235000".into())
        );
        assert_eq!(
            (
                rounded(470.4, 3),
                rounded(1836.4, 2),
                rounded(0.5, 3),
                rounded(9.996, 3)
            ),
            ("470".into(), "1800".into(), "0.500".into(), "10.0".into())
        );
        assert_eq!(sig(-1e-15, 6), "-1.00000e-15");
    }

    #[test]
    fn property_nonsense_is_told_what_to_do() {
        for (text, word) in [
            ("30", "unit"),
            ("0,3 m", "comma"),
            ("30 kg", "a length"),
            ("thirty cm", "write"),
            ("", "write"),
            ("nan m", "write"),
            ("inf m", "write"),
            ("30 cmm", "cm"),
            ("? kg", "a length"),
            ("5 ft 14 in", "write"),
            ("5 in 2 ft", "write"),
            ("1/0 m", "write"),
        ] {
            let e = parse(text, &[Dimension::Length]).expect_err(text);
            assert!(e.hint.contains(word), "{text}: {e:?}");
        }
        assert!(
            parse("22 lb", &[Dimension::Force])
                .expect_err("mass")
                .hint
                .contains("lbf")
        );
    }
}

//! A file of muscles of the user's own: TOML or CSV.

use super::areas::cross_section;
use super::curves::{CURVES, curve, plain_name};
use super::settings::{LONGEST_ARM_M, read_line};
use super::{Arm, Line, MOST_MUSCLES, Muscle};
use crate::ground::form::FormError;
use crate::ground::form::keys::{Keys, Record, number_list};
use crate::ground::form::tree::{self, Value};
use crate::ground::place::Place;
use std::path::Path;

/// Largest cross-section, cm².
const LARGEST_CM2: f64 = 200.0;
/// Flexion within which points of a curve lie, deg.
const FLEXION_DEG: (f64, f64) = (-30.0, 180.0);
const SQUARE_CM: f64 = 1e-4;
const CM: f64 = 0.01;

/// Reads a file of muscles; `named_at` is where the sheet names it.
///
/// # Errors
/// What can't be read, what is missing, twofold or out of range, each with its place in the file.
pub(super) fn read(path: &Path, named_at: &Place) -> Result<Vec<Muscle>, FormError> {
    let file = Place::file(path.display().to_string());
    let text = std::fs::read(path)
        .map_err(|e| e.to_string())
        .and_then(|b| String::from_utf8(b).map_err(|e| format!("not UTF-8 text: {e}")))
        .map_err(|reason| FormError::Conflict {
            place: named_at.clone(),
            what: format!("muscles.file: can't read {}: {reason}", path.display()),
            hint: "the path counts from the folder of the sheet".into(),
        })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    let is_csv = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("csv"));
    let all = if is_csv {
        of_csv(text, &file)?
    } else {
        of_toml(text, &file)?
    };
    if all.is_empty() || all.len() > MOST_MUSCLES {
        return Err(FormError::Conflict {
            place: file,
            what: format!("the file has {} muscles; expected 1 to {MOST_MUSCLES}", all.len()),
            hint: "docs/muscles.md shows both formats".into(),
        });
    }
    let mut names: Vec<String> = all.iter().map(Muscle::column).collect();
    names.sort();
    if let Some(w) = names.windows(2).find(|w| w[0] == w[1]) {
        return Err(FormError::Conflict {
            place: file,
            what: format!("two muscles are called \"{}\"", w[0]),
            hint: "give each a name of its own: results are written under it".into(),
        });
    }
    Ok(all)
}

fn of_toml(text: &str, file: &Place) -> Result<Vec<Muscle>, FormError> {
    let root = Keys::root(tree::parse(text, file)?, Record::default())?;
    let all = root.tables("muscle")?.into_iter().map(muscle).collect();
    root.finish()?;
    all
}

/// One `[[muscle]]`.
fn muscle(k: Keys) -> Result<Muscle, FormError> {
    let of_curve = match k.text("curve")? {
        None => None,
        Some(name) => Some(
            curve(&name)
                .ok_or_else(|| k.unknown_choice("curve", &name, &CURVES.each_ref().map(|c| c.name)))?,
        ),
    };
    let name = match (k.text("name")?, of_curve) {
        (Some(name), _) if !name.trim().is_empty() => name,
        (None, Some(c)) => c.name.to_owned(),
        _ => return Err(k.missing("name", "the muscle's name, a text")),
    };
    let line = if k.has("origin_m") || k.has("insertion_m") {
        read_line(&k)?
    } else {
        Line::AlongHumerus
    };
    let given = [
        ("moment_arm_cm", constant(&k, "moment_arm_cm")?),
        ("moment_arms_cm", points(&k, "moment_arms_cm")?),
        ("curve", of_curve.map(Arm::of)),
    ];
    let by_line = line != Line::AlongHumerus;
    let arm = one_arm(&k, given, by_line)?.ok_or_else(|| {
        k.missing(
            "moment_arm_cm",
            "the moment arm: moment_arm_cm, moment_arms_cm = [[flexion in °, arm in cm], ...], curve, or origin_m and insertion_m",
        )
    })?;
    let given = [
        ("pronation_arm_cm", constant(&k, "pronation_arm_cm")?),
        ("pronation_arms_cm", points(&k, "pronation_arms_cm")?),
    ];
    let pronation = one_arm(&k, given, by_line)?;
    let area = k.positive("cross_section_cm2", LARGEST_CM2, "cm²")?;
    let known = of_curve.and_then(|c| cross_section(c.name));
    let source = k.text("source")?;
    let (area_cm2, area_source) = match (area, known) {
        (Some(a), _) => (
            a,
            source.unwrap_or_else(|| "the user's file, no source stated".into()),
        ),
        (None, Some(c)) => (c.area_cm2, c.source.to_owned()),
        (None, None) => return Err(k.missing("cross_section_cm2", "the cross-section in cm²")),
    };
    k.finish()?;
    Ok(Muscle {
        name,
        arm,
        pronation,
        area: area_cm2 * SQUARE_CM,
        area_source,
        line,
    })
}

/// The one arm that is given, or that of the line.
fn one_arm<const N: usize>(
    k: &Keys,
    given: [(&str, Option<Arm>); N],
    by_line: bool,
) -> Result<Option<Arm>, FormError> {
    let mut given = given.into_iter().filter_map(|(key, arm)| Some((key, arm?)));
    match (given.next(), given.next()) {
        (Some((a, _)), Some((b, _))) => Err(FormError::Conflict {
            place: k.place_of(b),
            what: format!("both {} and {} are given", k.path_of(a), k.path_of(b)),
            hint: "say the moment arm in one way".into(),
        }),
        (Some((_, arm)), None) => Ok(Some(arm)),
        (None, _) => Ok(by_line.then_some(Arm::OfLine)),
    }
}

fn constant(k: &Keys, key: &str) -> Result<Option<Arm>, FormError> {
    let longest = LONGEST_ARM_M / CM;
    let r = k.number_within(key, -longest, longest, "cm")?;
    Ok(r.map(|r| Arm::Constant(r * CM)))
}

/// Points of a curve: flexion in degrees, arm in cm.
fn points(k: &Keys, key: &str) -> Result<Option<Arm>, FormError> {
    const EXPECTED: &str =
        "at least two rows [flexion in °, moment arm in cm], like [[0, 2.1], [60, 3.4], [120, 4.0]]";
    let Some(node) = k.node(key) else { return Ok(None) };
    let Value::List(items) = &node.value else {
        return Err(FormError::WrongKind {
            place: node.place.clone(),
            key: k.path_of(key),
            found: node.value.describe(),
            expected: EXPECTED.into(),
        });
    };
    let mut rows = Vec::new();
    for item in items {
        let row = number_list(item).and_then(|r| <[f64; 2]>::try_from(r).ok());
        let Some([deg, cm]) = row else {
            return Err(FormError::WrongKind {
                place: item.place.clone(),
                key: k.path_of(key),
                found: item.value.describe(),
                expected: "a row of two numbers, [flexion in °, moment arm in cm]".into(),
            });
        };
        check_point(deg, cm, rows.last()).map_err(|(found, expected)| FormError::OutOfRange {
            place: item.place.clone(),
            key: k.path_of(key),
            found,
            expected,
        })?;
        rows.push((deg, cm));
    }
    if rows.len() < 2 {
        return Err(k.out_of_range(key, format!("a list of {} rows", rows.len()), EXPECTED));
    }
    Ok(Some(curve_through(&rows)))
}

/// Whether a point can follow another; what was found and what was expected if not.
fn check_point(deg: f64, cm: f64, before: Option<&(f64, f64)>) -> Result<(), (String, String)> {
    let longest = LONGEST_ARM_M / CM;
    if !(FLEXION_DEG.0..=FLEXION_DEG.1).contains(&deg) {
        return Err((
            format!("a flexion of {deg}°"),
            format!("{} to {}°, 0 = straight", FLEXION_DEG.0, FLEXION_DEG.1),
        ));
    }
    if !(-longest..=longest).contains(&cm) {
        return Err((
            format!("a moment arm of {cm} cm"),
            format!("{} to {longest} cm, flexor (pronator) +", -longest),
        ));
    }
    match before {
        Some((d, _)) if deg <= *d => Err((
            format!("{deg}° after {d}°"),
            "flexions that increase from row to row".into(),
        )),
        _ => Ok(()),
    }
}

fn curve_through(rows: &[(f64, f64)]) -> Arm {
    Arm::Points(rows.iter().map(|(deg, cm)| (deg.to_radians(), cm * CM)).collect())
}

/// Columns of a CSV file of muscles, the last ones may be left out.
const COLUMNS: [&str; 6] = [
    "muscle",
    "cross_section_cm2",
    "flexion_deg",
    "moment_arm_cm",
    "pronation_arm_cm",
    "source",
];

/// One muscle of a CSV file as it is read.
struct Rows {
    name: String,
    first_line: usize,
    area_cm2: f64,
    source: String,
    flexion: Vec<(f64, f64)>,
    pronation: Vec<(f64, f64)>,
}

fn of_csv(text: &str, file: &Place) -> Result<Vec<Muscle>, FormError> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.as_bytes());
    let bad = |line: usize, what: String| FormError::Conflict {
        place: file.at_line(line),
        what,
        hint: format!("columns: {}; the last two may be left out", COLUMNS.join(",")),
    };
    let head: Vec<String> = match reader.headers() {
        Ok(h) => h.iter().map(plain_name).map(|n| n.replace(' ', "_")).collect(),
        Err(e) => return Err(bad(1, e.to_string())),
    };
    if let Some(unknown) = head.iter().find(|h| !COLUMNS.contains(&h.as_str())) {
        return Err(bad(1, format!("unknown column '{unknown}'")));
    }
    let place = |name: &str| head.iter().position(|h| h == name);
    if let Some(missing) = COLUMNS[..4].iter().find(|c| place(c).is_none()) {
        return Err(bad(1, format!("the column '{missing}' is missing")));
    }
    let mut all: Vec<Rows> = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| bad(e.position().map_or(1, |p| p.line() as usize), e.to_string()))?;
        let line = record.position().map_or(0, |p| p.line() as usize);
        let cell = |name: &str| place(name).and_then(|i| record.get(i)).unwrap_or("");
        row(&cell, line, &mut all).map_err(|(column, found, expected)| FormError::OutOfRange {
            place: file
                .at_line(line)
                .at_column(place(column).map_or(1, |i| i + 1), Some(column)),
            key: column.into(),
            found,
            expected,
        })?;
    }
    all.into_iter().map(|r| made(r, file)).collect()
}

/// What is wrong with a cell: column, found, expected.
type Wrong = (&'static str, String, String);

/// Takes one row in.
fn row<'a>(cell: &impl Fn(&str) -> &'a str, line: usize, all: &mut Vec<Rows>) -> Result<(), Wrong> {
    let number = |column: &'static str| -> Result<f64, Wrong> {
        let text = cell(column);
        let value = text.parse::<f64>().ok().filter(|x| x.is_finite());
        value.ok_or((
            column,
            format!("\"{text}\""),
            "a number with a decimal point".into(),
        ))
    };
    let name = cell("muscle");
    if name.is_empty() {
        return Err(("muscle", "empty".into(), "the muscle's name".into()));
    }
    let area_cm2 = number("cross_section_cm2")?;
    if !(area_cm2 > 0.0 && area_cm2 <= LARGEST_CM2) {
        return Err((
            "cross_section_cm2",
            area_cm2.to_string(),
            format!("more than 0 and at most {LARGEST_CM2} cm²"),
        ));
    }
    let (deg, cm) = (number("flexion_deg")?, number("moment_arm_cm")?);
    let i = match all.iter().position(|r| r.name == name) {
        Some(i) => i,
        None => {
            all.push(Rows {
                name: name.to_owned(),
                first_line: line,
                area_cm2,
                source: cell("source").to_owned(),
                flexion: Vec::new(),
                pronation: Vec::new(),
            });
            all.len() - 1
        }
    };
    let of = &mut all[i];
    if of.area_cm2 != area_cm2 {
        return Err((
            "cross_section_cm2",
            format!("{area_cm2}, and {} in line {}", of.area_cm2, of.first_line),
            "one cross-section for all rows of a muscle".into(),
        ));
    }
    let found = |column: &'static str| move |(found, expected): (String, String)| (column, found, expected);
    check_point(deg, 0.0, of.flexion.last()).map_err(found("flexion_deg"))?;
    check_point(deg, cm, None).map_err(found("moment_arm_cm"))?;
    if !cell("pronation_arm_cm").is_empty() {
        let cm = number("pronation_arm_cm")?;
        check_point(deg, cm, None).map_err(found("pronation_arm_cm"))?;
        of.pronation.push((deg, cm));
    }
    of.flexion.push((deg, cm));
    Ok(())
}

/// A muscle of its rows: one row is a constant.
fn made(r: Rows, file: &Place) -> Result<Muscle, FormError> {
    let arm = |rows: &[(f64, f64)]| match rows {
        [(_, cm)] => Arm::Constant(cm * CM),
        rows => curve_through(rows),
    };
    if !r.pronation.is_empty() && r.pronation.len() != r.flexion.len() {
        return Err(FormError::Conflict {
            place: file.at_line(r.first_line),
            what: format!("{} has pronation_arm_cm in some of its rows only", r.name),
            hint: "give it in every row of the muscle, or in none".into(),
        });
    }
    Ok(Muscle {
        pronation: (!r.pronation.is_empty()).then(|| arm(&r.pronation)),
        arm: arm(&r.flexion),
        name: r.name,
        area: r.area_cm2 * SQUARE_CM,
        area_source: if r.source.is_empty() {
            "the user's file, no source stated".into()
        } else {
            r.source
        },
        line: Line::AlongHumerus,
    })
}

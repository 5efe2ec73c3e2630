//! `armload tables`

use super::Failure;
use super::say::Talk;
use crate::anatomy::tables::{self, ALL, Part, Table};
use crate::ground::inertia;
use crate::ground::names::Sex;
use crate::ground::place::Fault;
use crate::muscles::areas::{CROSS_SECTIONS, TENSION_SOURCE, cross_section};
use crate::muscles::curves::{CURVE_RANGE_DEG, CURVE_SOURCE, CURVES, Curve, CurveOf, curve, listed};
use crate::report::text::{Line, columns, number};
use serde_json::{Value, json};
use thiserror::Error;

/// Arguments of `armload tables`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  armload tables\n  armload tables deleva-1996\n  armload tables deleva-1996 dempster-winter --sex female --body-mass-kg 64.2 --stature-m 1.71\n  armload tables biceps"
)]
pub struct Args {
    /// Tables or muscle curves; two tables stand side by side [default: a list of all]
    #[arg(value_name = "NAME", num_args = 0..=2)]
    pub names: Vec<String>,
    /// Column of the table: female or male
    #[arg(long, value_name = "SEX", help_heading = "Participant", value_parser = sex)]
    pub sex: Option<Sex>,
    /// Body mass, kg: shows masses and inertia of this person
    #[arg(long, value_name = "KG", help_heading = "Participant", value_parser = positive)]
    pub body_mass_kg: Option<f64>,
    /// Stature, m: scales lengths that are not given
    #[arg(long, value_name = "M", help_heading = "Participant", value_parser = positive)]
    pub stature_m: Option<f64>,
    /// Shoulder to elbow, m
    #[arg(long, value_name = "M", help_heading = "Participant", value_parser = positive)]
    pub upper_arm_m: Option<f64>,
    /// Elbow to wrist, m
    #[arg(long, value_name = "M", help_heading = "Participant", value_parser = positive)]
    pub forearm_m: Option<f64>,
    /// Wrist to knuckles, m
    #[arg(long, value_name = "M", help_heading = "Participant", value_parser = positive)]
    pub hand_m: Option<f64>,
}

fn sex(text: &str) -> Result<Sex, String> {
    [Sex::Female, Sex::Male]
        .into_iter()
        .find(|s| s.name() == text)
        .ok_or_else(|| "expected female or male".to_owned())
}

fn positive(text: &str) -> Result<f64, String> {
    text.parse()
        .ok()
        .filter(|x: &f64| x.is_finite() && *x > 0.0)
        .ok_or_else(|| "expected a number above 0".to_owned())
}

/// What can be wrong with the request.
#[derive(Debug, Error)]
enum TablesError {
    #[error("there is no table or curve '{found}'; expected one of: {}", known.join(", "))]
    Unknown { found: String, known: Vec<String> },
    #[error("table {table} has a column for each sex; expected --sex with --body-mass-kg")]
    NoSex { table: &'static str },
    #[error("no length of the {part} for {table}: it has none of its own to scale, and none is given")]
    NoLength { table: &'static str, part: &'static str },
}

impl Fault for TablesError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            TablesError::Unknown { found, known } => {
                match crate::ground::closest(found, known.iter().map(String::as_str)) {
                    Some(s) => format!("did you mean '{s}'?"),
                    None => "`armload tables` lists them".into(),
                }
            }
            TablesError::NoSex { .. } => "add --sex female or --sex male".into(),
            TablesError::NoLength { .. } => "add --stature-m, or --upper-arm-m, --forearm-m, --hand-m".into(),
        })
    }
}

fn part_words(part: Part) -> &'static str {
    match part {
        Part::UpperArm => "upper arm",
        Part::Forearm => "forearm",
        Part::Hand => "hand",
        Part::ForearmAndHand => "forearm + hand",
    }
}

/// Upper arm, forearm and hand as fractions of stature.
///
/// # Source
/// Drillis & Contini (1966), as tabulated by Winter, Biomechanics and Motor Control of Human Movement; from
/// memory.
const STATURE_FRACTIONS: [f64; 3] = [0.186, 0.146, 0.108];

/// One segment of a person after a table.
struct OwnSegment {
    part: Part,
    length_m: f64,
    length_from: &'static str,
    mass_kg: f64,
    com_m: f64,
    /// kg·m² about x, y, z
    inertia: [f64; 3],
}

fn length(args: &Args, table: &'static Table, part: Part) -> Result<(f64, &'static str), TablesError> {
    let (given, fraction) = match part {
        Part::UpperArm => (args.upper_arm_m, STATURE_FRACTIONS[0]),
        Part::Forearm | Part::ForearmAndHand => (args.forearm_m, STATURE_FRACTIONS[1]),
        Part::Hand => (args.hand_m, STATURE_FRACTIONS[2]),
    };
    if let Some(l) = given {
        return Ok((l, "given"));
    }
    match (
        table.length_by_stature(part, args.sex, args.stature_m),
        args.stature_m,
    ) {
        (Some((l, true)), _) => Ok((l, "table's, scaled by stature (its sample's stature from memory)")),
        (Some((l, false)), None) => Ok((l, "table's sample, not scaled")),
        (_, Some(own)) => Ok((
            fraction * own,
            "fraction of stature, Drillis & Contini (1966), from memory",
        )),
        (None, None) => Err(TablesError::NoLength {
            table: table.name,
            part: part_words(part),
        }),
    }
}

fn person(args: &Args, table: &'static Table, body_mass_kg: f64) -> Result<Vec<OwnSegment>, TablesError> {
    if table.by_sex && args.sex.is_none() {
        return Err(TablesError::NoSex { table: table.name });
    }
    let rows = [Part::UpperArm, Part::Forearm, Part::Hand, Part::ForearmAndHand]
        .into_iter()
        .filter_map(|p| table.row(p, args.sex));
    rows.map(|row| {
        let (length_m, length_from) = length(args, table, row.part)?;
        let mass_kg = row.mass_fraction() * body_mass_kg;
        let i = inertia::from_radii(mass_kg, length_m, row.radii());
        Ok(OwnSegment {
            part: row.part,
            length_m,
            length_from,
            mass_kg,
            com_m: row.com_fraction() * length_m,
            inertia: [i[(0, 0)], i[(1, 1)], i[(2, 2)]],
        })
    })
    .collect()
}

fn cells(texts: &[&str]) -> Vec<String> {
    texts.iter().map(|t| (*t).to_owned()).collect()
}

/// The list of everything.
fn list() -> Vec<Line> {
    let mut out = vec![Line::Heading("Segment inertia".into())];
    let rows: Vec<Vec<String>> = ALL.iter().map(|t| cells(&[t.name, t.title])).collect();
    out.extend(columns("ll", &rows));
    out.push(Line::Heading("Muscles of the elbow".into()));
    let mut rows = vec![cells(&[
        "curve of",
        "moment arm at 90° cm",
        "cross-section cm²",
        "source of the cross-section",
    ])];
    for c in &CURVES {
        let area = cross_section(c.name);
        let (area, source) = match (&c.of, area) {
            (_, Some(a)) => (number(a.area_cm2, 1), a.source.to_owned()),
            (CurveOf::Together(names), None) => (String::new(), format!("{} together", listed(names))),
            _ => (String::new(), "none read: needs one of your own".into()),
        };
        rows.push(vec![
            c.name.to_owned(),
            number(100.0 * c.moment_arm(std::f64::consts::FRAC_PI_2), 2),
            area,
            source,
        ]);
    }
    out.extend(columns("lrrl", &rows));
    out.push(Line::Fine(format!(
        "Moment arms over flexion, flexors +: {CURVE_SOURCE}."
    )));
    out.push(Line::Fine(format!("What muscle can bear: {TENSION_SOURCE}.")));
    out.push(Line::Fine(
        "`armload tables NAME` prints one with its source; --sex, --body-mass-kg, --stature-m show what it makes of a person.".into(),
    ));
    out
}

fn about(t: &Table) -> Vec<Line> {
    vec![
        Line::Heading(format!("{}: {}", t.name, t.title)),
        Line::Paragraph(format!("Source: {}", t.source)),
        Line::Paragraph(format!("Status: {}", t.status)),
    ]
}

fn printed(args: &Args, t: &Table) -> Vec<Line> {
    let mut out = about(t);
    let mut rows = vec![
        cells(&["", "", "", "mass", "centre", "radii %", "", "", "sample's"]),
        cells(&[
            "segment",
            "sex",
            "from - to",
            "% body",
            "% length",
            "about x",
            "y",
            "z",
            "length mm",
        ]),
    ];
    for r in t
        .rows
        .iter()
        .filter(|r| args.sex.is_none() || r.sex.is_none() || r.sex == args.sex)
    {
        let [x, y, z] = r.radii_percent;
        rows.push(vec![
            part_words(r.part).into(),
            r.sex.map_or("all", Sex::name).into(),
            format!("{} - {}", r.endpoints.0, r.endpoints.1),
            number(r.mass_percent, 2),
            number(r.com_percent, 2),
            number(x, 1),
            if t.one_radius { "none".into() } else { number(y, 1) },
            number(z, 1),
            number(r.reference_length_mm.unwrap_or(f64::NAN), 1),
        ]);
    }
    out.extend(columns("lllrrrrrr", &rows));
    out.push(Line::Fine("Mass centre from the end nearer to the trunk. Radii in percent of the length, about axes through the mass centre: x forward (sagittal), y along the segment (longitudinal), z sideways (transverse).".into()));
    if t.one_radius {
        out.push(Line::Fine(
            "One radius for x and z; none for the long axis, which counts as 0.".into(),
        ));
    }
    out
}

fn person_lines(
    args: &Args,
    chosen: &[&'static Table],
    people: &[Vec<OwnSegment>],
    body_mass_kg: f64,
) -> Vec<Line> {
    let mut who = format!("A person of {body_mass_kg} kg");
    if let Some(s) = args.stature_m {
        who += &format!(", {s} m");
    }
    if let Some(s) = args.sex {
        who += &format!(", {}", s.name());
    }
    let mut out = vec![Line::Heading(who)];
    let mut rows = vec![cells(&[
        "",
        "table",
        "mass kg",
        "length m",
        "centre m",
        "Ix g·m²",
        "Iy",
        "Iz",
    ])];
    let mut origins: Vec<String> = Vec::new();
    for part in [Part::UpperArm, Part::Forearm, Part::Hand, Part::ForearmAndHand] {
        for (t, segments) in chosen.iter().zip(people) {
            let Some(s) = segments.iter().find(|s| s.part == part) else {
                continue;
            };
            let [x, y, z] = s.inertia.map(|i| number(i * 1e3, 3));
            rows.push(vec![
                part_words(part).into(),
                t.name.into(),
                number(s.mass_kg, 3),
                number(s.length_m, 4),
                number(s.com_m, 4),
                x,
                y,
                z,
            ]);
            let origin = format!("{}: length {}", t.name, s.length_from);
            if !origins.contains(&origin) {
                origins.push(origin);
            }
        }
    }
    out.extend(columns("llrrrrrr", &rows));
    out.extend(origins.into_iter().map(Line::Fine));
    out.push(Line::Fine("Centre: mass centre from the end nearer to the trunk. Moments of inertia about the mass centre. Cutting planes differ between tables: never mix their rows.".into()));
    out
}

/// Steps of a printed curve, °.
const CURVE_STEP_DEG: usize = 20;

fn curve_lines(c: &'static Curve) -> Vec<Line> {
    let mut out = vec![
        Line::Heading(format!("{}: moment arm over elbow flexion", c.name)),
        Line::Paragraph(format!("Source: {CURVE_SOURCE}")),
    ];
    let (coefficients, argument) = match &c.of {
        CurveOf::Radians(k) => (Some(k), "rad"),
        CurveOf::Degrees(k) => (Some(k), "°"),
        CurveOf::Together(_) => (None, ""),
    };
    out.push(Line::Paragraph(match coefficients {
        Some(k) => {
            let k: Vec<String> = k.iter().map(f64::to_string).collect();
            format!(
                "r = c0 + c1 a + ... cm, a = flexion in {argument}; c = {}",
                k.join(", ")
            )
        }
        None => format!("r = Σ A r / Σ A, A the cross-sections: {}", c.words()),
    }));
    for a in CROSS_SECTIONS.iter().filter(|a| c.muscles().contains(&a.name)) {
        out.push(Line::Paragraph(format!(
            "Cross-section of the {}: {} cm² ({}).",
            a.name, a.area_cm2, a.source
        )));
    }
    let mut rows = vec![cells(&["flexion °", "moment arm cm"])];
    for deg in (CURVE_RANGE_DEG.0 as usize..=CURVE_RANGE_DEG.1 as usize).step_by(CURVE_STEP_DEG) {
        rows.push(vec![
            deg.to_string(),
            number(100.0 * c.moment_arm((deg as f64).to_radians()), 2),
        ]);
    }
    out.extend(columns("rr", &rows));
    out.push(Line::Fine(format!(
        "The curve's own range is not stated; used from {}° to {}°.",
        CURVE_RANGE_DEG.0, CURVE_RANGE_DEG.1
    )));
    out
}

fn table_json(t: &Table, own: Option<&Vec<OwnSegment>>) -> Value {
    let rows: Vec<Value> = t
        .rows
        .iter()
        .map(|r| {
            json!({
                "segment": part_words(r.part), "sex": r.sex.map(Sex::name), "from": r.endpoints.0, "to": r.endpoints.1,
                "mass_percent": r.mass_percent, "com_percent": r.com_percent,
                "radii_percent": { "x": r.radii_percent[0], "y": if t.one_radius { Value::Null } else { json!(r.radii_percent[1]) }, "z": r.radii_percent[2] },
                "reference_length_mm": r.reference_length_mm,
            })
        })
        .collect();
    let mut o =
        json!({ "name": t.name, "title": t.title, "source": t.source, "status": t.status, "rows": rows });
    if let Some(own) = own {
        o["person"] = own
            .iter()
            .map(|s| {
                json!({
                    "segment": part_words(s.part), "length_m": s.length_m, "length_from": s.length_from, "mass_kg": s.mass_kg,
                    "com_from_proximal_m": s.com_m, "inertia_kg_m2": s.inertia,
                })
            })
            .collect();
    }
    o
}

fn curve_json(c: &Curve) -> Value {
    let (coefficients, argument) = match &c.of {
        CurveOf::Radians(k) => (json!(k), json!("rad")),
        CurveOf::Degrees(k) => (json!(k), json!("deg")),
        CurveOf::Together(_) => (Value::Null, Value::Null),
    };
    let areas: Vec<Value> = CROSS_SECTIONS
        .iter()
        .filter(|a| c.muscles().contains(&a.name))
        .map(|a| json!({ "muscle": a.name, "cross_section_cm2": a.area_cm2, "source": a.source }))
        .collect();
    json!({
        "name": c.name, "coefficients_cm": coefficients, "of_flexion_in": argument, "cross_sections": areas,
        "range_used_deg": [CURVE_RANGE_DEG.0, CURVE_RANGE_DEG.1], "source": CURVE_SOURCE,
    })
}

/// Runs the command.
pub fn run(args: &Args, talk: &Talk) -> Result<(), Failure> {
    let (mut chosen, mut curves): (Vec<&'static Table>, Vec<&'static Curve>) = (Vec::new(), Vec::new());
    for name in &args.names {
        match (tables::find(name), curve(name)) {
            (Some(t), _) => chosen.push(t),
            (None, Some(c)) => curves.push(c),
            (None, None) => {
                let known = tables::names()
                    .into_iter()
                    .chain(CURVES.iter().map(|c| c.name))
                    .map(str::to_owned)
                    .collect();
                return Err(TablesError::Unknown {
                    found: name.clone(),
                    known,
                }
                .into());
            }
        }
    }
    let everything = args.names.is_empty();
    // a person without a table named: every table side by side
    if everything {
        chosen = ALL.to_vec();
    }
    let people: Option<Vec<Vec<OwnSegment>>> = args
        .body_mass_kg
        .map(|m| {
            chosen
                .iter()
                .map(|t| person(args, t, m))
                .collect::<Result<_, _>>()
        })
        .transpose()?;
    let mut lines = Vec::new();
    match (&people, args.body_mass_kg) {
        (Some(people), Some(mass)) if !chosen.is_empty() => {
            chosen.iter().for_each(|t| lines.extend(about(t)));
            lines.extend(person_lines(args, &chosen, people, mass));
        }
        _ if everything => lines = list(),
        _ => chosen.iter().for_each(|t| lines.extend(printed(args, t))),
    }
    curves.iter().for_each(|c| lines.extend(curve_lines(c)));
    talk.lines(&lines);
    if everything {
        curves = CURVES.iter().collect();
    }
    talk.json(&json!({
        "tables": chosen.iter().enumerate().map(|(i, t)| table_json(t, people.as_ref().map(|p| &p[i]))).collect::<Vec<_>>(),
        "curves": curves.iter().map(|c| curve_json(c)).collect::<Vec<_>>(),
    }));
    Ok(())
}

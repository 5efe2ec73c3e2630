//! Muscles of a sheet.

use super::*;

/// How several muscles share.
pub(super) fn read_sharing(k: &Keys) -> Result<Option<Sharing>, StaticsError> {
    let Some(text) = k.text("sharing")? else {
        return Ok(None);
    };
    match Sharing::parse(&text) {
        Some(rule) => Ok(Some(rule)),
        None => Err(k.out_of_range("sharing", format!("\"{text}\""), RULES).into()),
    }
}

/// Muscles without a name of their own are numbered where there are several; two of one name are told apart.
pub(super) fn name_apart(muscles: &mut [MuscleGiven]) {
    for acts in [Acts::Flexes, Acts::Extends] {
        let mut side: Vec<&mut MuscleGiven> = muscles.iter_mut().filter(|m| m.acts == acts).collect();
        let names: Vec<String> = side.iter().map(|m| m.name.clone()).collect();
        for (i, m) in side.iter_mut().enumerate() {
            if names.iter().filter(|n| **n == m.name).count() > 1 {
                m.name = format!("{} {}", m.name, i + 1);
            }
        }
    }
}

pub(super) const ASSUMED_LINE: &str =
    "is taken as parallel to the upper arm; that decides the direction of the joint force, nothing else.";

/// The cross-section of a muscle: given, or published under its name; and the source of a published one. A muscle alone
/// needs none.
fn read_area(
    k: &Keys,
    name: &str,
    alone: bool,
) -> Result<(Option<Quantity>, Option<&'static str>), StaticsError> {
    let area = known(k, "area", &[Dimension::Area])?;
    if let Some(q) = &area
        && !(q.si > 0.0 && q.si <= 0.1)
    {
        return Err(k
            .out_of_range("area", q.text(), "more than 0 and at most 1000 cm²")
            .into());
    }
    let published = cross_section(name);
    let area_source = if area.is_none() && !alone {
        published.map(|c| c.source)
    } else {
        None
    };
    let area = area.or_else(|| {
        published
            .filter(|_| !alone)
            .map(|c| Quantity::computed(c.area_cm2 * 1e-4, SQUARE_CENTIMETRE))
    });
    if area.is_none() && !alone {
        return Err(k
            .missing(
                "area",
                &format!(
                    "the cross-section, like \"7 cm²\", by which several muscles share; or a name with a published one: {}",
                    names_with_area().join(", ")
                ),
            )
            .into());
    }
    Ok((area, area_source))
}

/// Lengths that a lever can be made of, and the name of a curve.
struct LeverParts {
    /// `Some(None)`: asked for; and so the insertion.
    arm: Option<Option<Quantity>>,
    insertion: Option<Option<Quantity>>,
    origin: Option<Quantity>,
    curve: Option<&'static Curve>,
}

/// The lever of a muscle, said in one way.
fn choose_lever(
    k: &Keys,
    (acts, name): (Acts, &str),
    parts: LeverParts,
    line: &LineGiven,
    reading: &mut Reading,
) -> Result<LeverGiven, StaticsError> {
    let conflict = |a: &str, b: &str| -> StaticsError {
        FormError::Conflict {
            place: k.place_of(b),
            what: format!("both {} and {} are given", k.path_of(a), k.path_of(b)),
            hint: "say the muscle's lever in one way: moment_arm, or insertion with line, or insertion with origin, or curve".into(),
        }
        .into()
    };
    let has_line = !matches!(line, LineGiven::Assumed);
    let assumed_line = format!("The pull of the {name} {ASSUMED_LINE}");
    let LeverParts {
        arm,
        insertion,
        origin,
        curve,
    } = parts;
    Ok(match (arm, insertion, origin, curve) {
        (Some(_), Some(_), _, _) => return Err(conflict("moment_arm", "insertion")),
        (Some(_), _, Some(_), _) => return Err(conflict("moment_arm", "origin")),
        (Some(_), _, _, Some(_)) => return Err(conflict("moment_arm", "curve")),
        (_, Some(_), _, Some(_)) => return Err(conflict("insertion", "curve")),
        (_, _, Some(_), Some(_)) => return Err(conflict("origin", "curve")),
        (_, Some(_), Some(_), _) if has_line => return Err(conflict("origin", "line")),
        (None, Some(i), Some(o), None) => LeverGiven::Points(i, o),
        (None, None, Some(_), None) => {
            return Err(k
                .missing(
                    "insertion",
                    "the insertion's distance from the elbow, beside the origin",
                )
                .into());
        }
        (None, Some(i), None, None) => {
            if !has_line {
                return Err(k
                    .missing(
                        "line",
                        "the line of action: an angle to the forearm like \"75 deg\", \"upper arm\", \"vertical\"; or an origin",
                    )
                    .into());
            }
            LeverGiven::Insertion(i)
        }
        (Some(a), None, None, None) => {
            if !has_line {
                reading.assumptions.push(assumed_line);
            }
            LeverGiven::MomentArm(a)
        }
        (None, None, None, Some(curve)) => {
            reading.assumptions.push(format!(
                "Moment arm of the {name} from {} over the elbow angle ({CURVE_SOURCE}); used from {}° to {}°, the curve's own range is not stated.",
                curve.words(), CURVE_RANGE_DEG.0, CURVE_RANGE_DEG.1
            ));
            if !has_line {
                reading.assumptions.push(assumed_line);
            }
            LeverGiven::Curve(curve)
        }
        (None, None, None, None) => {
            let what = format!(
                "the {}'s lever: moment_arm, or insertion with line, or insertion with origin, or curve",
                acts.words()
            );
            return Err(k.missing("moment_arm", &what).into());
        }
    })
}

/// A published curve, of a muscle of this side.
fn read_curve(k: &Keys, acts: Acts) -> Result<Option<&'static Curve>, StaticsError> {
    let Some(name) = k.text("curve")? else {
        return Ok(None);
    };
    let of_side: Vec<&str> = CURVES
        .iter()
        .filter(|c| c.extends() == (acts == Acts::Extends))
        .map(|c| c.name)
        .collect();
    match curve_named(&name) {
        Some(c) if of_side.contains(&c.name) => Ok(Some(c)),
        Some(c) => Err(FormError::Conflict {
            place: k.place_of("curve"),
            what: format!(
                "{} is \"{name}\": the {} {} the elbow",
                k.path_of("curve"),
                c.name,
                if c.extends() { "extends" } else { "flexes" }
            ),
            hint: format!("curves of this side: {}", of_side.join(", ")),
        }
        .into()),
        None => Err(k.unknown_choice("curve", &name, &of_side).into()),
    }
}

pub(super) fn read_muscle(
    k: &Keys,
    acts: Acts,
    index: usize,
    alone: bool,
    reading: &mut Reading,
) -> Result<MuscleGiven, StaticsError> {
    let arm = length_or_mark(
        k,
        "moment_arm",
        LONGEST_FLEXOR_M,
        MarkOf::MomentArm(index),
        reading,
    )?;
    let insertion = length_or_mark(
        k,
        "insertion",
        LONGEST_FLEXOR_M,
        MarkOf::Insertion(index),
        reading,
    )?;
    let origin = length(k, "origin", 1.0)?;
    let curve = read_curve(k, acts)?;
    let line = read_line(k, index, reading)?;
    let given_name = k.text("name")?;
    let name = given_name
        .clone()
        .or(curve.map(|c| c.name.to_owned()))
        .unwrap_or_else(|| acts.words().to_owned());
    let (area, area_source) = read_area(k, &name, alone)?;
    let parts = LeverParts {
        arm,
        insertion,
        origin,
        curve,
    };
    let lever = choose_lever(k, (acts, &name), parts, &line, reading)?;
    Ok(MuscleGiven {
        name,
        acts,
        lever,
        line,
        area,
        area_source,
    })
}

pub(super) fn read_line(k: &Keys, index: usize, reading: &mut Reading) -> Result<LineGiven, StaticsError> {
    let Some(node) = k.node("line") else {
        return Ok(LineGiven::Assumed);
    };
    if let Value::Text(t) = &node.value {
        match t.trim().to_lowercase().replace(['-', '_'], " ").as_str() {
            "upper arm" => return Ok(LineGiven::UpperArm),
            "vertical" => return Ok(LineGiven::Vertical),
            _ => {}
        }
    }
    let Some(written) = written(k, "line", &[Dimension::Angle]).map_err(|e| match e {
        StaticsError::Quantity {
            place,
            key,
            found,
            hint,
            ..
        } => StaticsError::Quantity {
            place,
            key,
            found,
            expected: "an angle to the forearm, \"upper arm\" or \"vertical\"".into(),
            hint,
        },
        e => e,
    })?
    else {
        return Ok(LineGiven::Assumed);
    };
    let q = match written {
        Written::Known(q) => q,
        Written::Unknown(unit) => {
            reading.mark(k, "line", MarkOf::Line(index), unit);
            return Ok(LineGiven::ToForearm(None));
        }
    };
    let deg = q.si.to_degrees();
    if !(0.0..=180.0).contains(&deg) {
        return Err(k
            .out_of_range(
                "line",
                q.text(),
                "0 to 180 deg, between the line of action and the forearm, on the elbow's side",
            )
            .into());
    }
    Ok(LineGiven::ToForearm(Some(q)))
}

/// Every muscle of a sheet, and the forces that are given of them.
pub(super) fn read_muscles(
    root: &Keys,
    sharing: Option<Sharing>,
    targets: &mut Vec<Given>,
    reading: &mut Reading,
) -> Result<Vec<MuscleGiven>, StaticsError> {
    let mut muscles = Vec::new();
    for acts in [Acts::Flexes, Acts::Extends] {
        let several = matches!(root.node(acts.words()).map(|n| n.value), Some(Value::List(_)));
        let all = if several {
            root.tables(acts.words())?
        } else {
            root.table(acts.words())?.into_iter().collect()
        };
        let alone = all.len() == 1;
        for k in all {
            read_force(&k, acts, alone, targets, reading)?;
            muscles.push(read_muscle(&k, acts, muscles.len(), alone, reading)?);
            k.finish()?;
        }
    }
    name_apart(&mut muscles);
    let of_side = |a: Acts| muscles.iter().filter(|m| m.acts == a).count();
    if of_side(Acts::Flexes) > 1 || of_side(Acts::Extends) > 1 {
        reading.assumptions.push(sharing.unwrap_or_default().words());
    }
    Ok(muscles)
}

//! Muscles of a sheet.

use super::*;

/// How several muscles share: `"equal stress"`, or a power above 1 like `"p = 3"`.
pub(super) fn read_sharing(k: &Keys) -> Result<Option<Sharing>, StaticsError> {
    let Some(text) = k.text("sharing")? else {
        return Ok(None);
    };
    let lower = text.to_lowercase().replace(['-', '_'], " ");
    if lower.trim() == "equal stress" {
        return Ok(Some(Sharing::EqualStress));
    }
    let power = lower
        .trim()
        .trim_start_matches('p')
        .trim_start()
        .trim_start_matches('=')
        .trim()
        .parse::<f64>();
    match power {
        Ok(p) if p > 1.0 && p <= 100.0 => Ok(Some(Sharing::Power(p))),
        _ => Err(k
            .out_of_range(
                "sharing",
                format!("\"{text}\""),
                "\"equal stress\", or a power above 1 like \"p = 3\"",
            )
            .into()),
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
        let names: Vec<&str> = CROSS_SECTIONS.iter().map(|c| c.name).collect();
        return Err(k
            .missing(
                "area",
                &format!(
                    "the cross-section, like \"7 cm²\", by which several muscles share; or a name with a published one: {}",
                    names.join(", ")
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
    curve: Option<&'static str>,
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
        (None, None, None, Some(name)) => {
            reading.assumptions.push(format!(
                "Moment arm of the {name} from a published curve of the elbow angle ({CURVE_SOURCE}); used from {}° to {}°, the curve's own range is not stated.",
                CURVE_RANGE_DEG.0, CURVE_RANGE_DEG.1
            ));
            if !has_line {
                reading.assumptions.push(assumed_line);
            }
            LeverGiven::Curve(name)
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
    let curve = k.choice("curve", &CURVES.each_ref().map(|c| (c.name, c.name)))?;
    if acts == Acts::Extends && curve.is_some() {
        return Err(FormError::Conflict {
            place: k.place_of("curve"),
            what: format!("{} names a flexor's curve; there is none of an extensor", k.path_of("curve")),
            hint: "give its moment arm: about 2 cm for the triceps (2.4 cm at 30°, 1.7 cm at 110° of flexion; Sugisaki et al. 2010, J Biomech 43:2844, abstract)".into(),
        }
        .into());
    }
    let line = read_line(k, index, reading)?;
    let given_name = k.text("name")?;
    let name = given_name
        .clone()
        .or(curve.map(str::to_owned))
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

//! Weights and pulls of a sheet.

use super::*;

/// `20 cm = 0 N; 40 cm = 35 N`: places and forces of a cable or a band.
pub(super) fn read_table(k: &Keys, text: &str) -> Result<Vec<(Quantity, Quantity)>, StaticsError> {
    let wrong = |found: String, hint: String| StaticsError::Quantity {
        place: k.place_of("amount"),
        key: k.path_of("amount"),
        found,
        expected: "a force table, like \"20 cm = 0 N; 40 cm = 35 N\"".into(),
        hint,
    };
    let read = |text: &str, d: &[Dimension]| match quantity::parse(text, d) {
        Ok(Written::Known(q)) => Ok(q),
        Ok(Written::Unknown(_)) => Err(wrong(
            format!("\"{text}\""),
            "a table says every force; \"?\" can't stand in it".into(),
        )),
        Err(e) => Err(wrong(e.found, e.hint)),
    };
    let mut table: Vec<(Quantity, Quantity)> = Vec::new();
    for row in text.split(';').map(str::trim).filter(|r| !r.is_empty()) {
        let Some((x, f)) = row.split_once('=') else {
            return Err(wrong(
                format!("\"{row}\""),
                "write each row as place = force: \"20 cm = 0 N\"".into(),
            ));
        };
        let (x, f) = (
            read(x, &[Dimension::Length, Dimension::Angle])?,
            read(f, &[Dimension::Force])?,
        );
        if !(f.si >= 0.0 && f.si <= HEAVIEST_N) {
            return Err(k
                .out_of_range("amount", f.text(), "0 or more, and less than 20 kN")
                .into());
        }
        if let Some(last) = table.last()
            && (last.0.unit.dimension != x.unit.dimension || last.0.si >= x.si)
        {
            return Err(wrong(
                format!("{} after {}", x.text(), last.0.text()),
                "places rise from row to row, all of them lengths of the line or all of them elbow angles"
                    .into(),
            ));
        }
        table.push((x, f));
    }
    if table.len() < 2 {
        return Err(wrong(
            format!("\"{text}\""),
            "a table has two rows or more, apart by \";\"".into(),
        ));
    }
    Ok(table)
}

/// `60 cm, -80 cm` or `60 cm, -80 cm from the shoulder`: where a line is led.
pub(super) fn read_towards(k: &Keys) -> Result<Option<PullGiven>, StaticsError> {
    let Some(node) = k.node("towards") else {
        return Ok(None);
    };
    let joints = [("elbow", Joint::Elbow), ("shoulder", Joint::Shoulder)];
    let mut from = k.choice("towards_from", &joints)?;
    let wrong = |found: String, hint: String| StaticsError::Quantity {
        place: node.place.clone(),
        key: k.path_of("towards"),
        found,
        expected: "a place as two lengths, forward and up, like \"60 cm, -80 cm\"".into(),
        hint,
    };
    let mut parts = match &node.value {
        Value::Text(t) => split_list(t),
        _ => crate::ground::form::keys::text_list(&node).ok_or_else(|| {
            wrong(
                node.value.describe(),
                "write it in quotes, with units: \"60 cm, -80 cm\"".into(),
            )
        })?,
    };
    if let Some(last) = parts.last_mut() {
        for (name, joint) in joints {
            for ending in [format!(" from the {name}"), format!(" from {name}")] {
                if let Some(rest) = last.strip_suffix(&ending) {
                    from = Some(joint);
                    *last = rest.trim().to_owned();
                    break;
                }
            }
        }
    }
    let mut lengths = Vec::new();
    for t in &parts {
        match quantity::parse(t, &[Dimension::Length]) {
            Ok(Written::Known(q)) if q.si.abs() <= FURTHEST_M => lengths.push(q),
            Ok(Written::Known(q)) => {
                return Err(k.out_of_range("towards", q.text(), "at most 10 m away").into());
            }
            Ok(Written::Unknown(_)) => {
                return Err(wrong(
                    format!("\"{t}\""),
                    "where a line is led can't be the unknown".into(),
                ));
            }
            Err(e) => return Err(wrong(e.found, e.hint)),
        }
    }
    match <[Quantity; 2]>::try_from(lengths) {
        Ok(to) => Ok(Some(PullGiven::Towards {
            to,
            from: from.unwrap_or(Joint::Elbow),
        })),
        Err(_) => Err(wrong(
            format!("{} parts", parts.len()),
            "write forward and up: \"60 cm, -80 cm\"; below is negative".into(),
        )),
    }
}

/// Which way a load pulls.
pub(super) fn read_pull(k: &Keys, index: usize, reading: &mut Reading) -> Result<PullGiven, StaticsError> {
    let towards = read_towards(k)?;
    let direction = written(k, "direction", &[Dimension::Angle])?;
    Ok(match (direction, towards) {
        (Some(_), Some(_)) => {
            return Err(FormError::Conflict {
                place: k.place_of("direction"),
                what: format!(
                    "both {} and {} are given",
                    k.path_of("direction"),
                    k.path_of("towards")
                ),
                hint: "keep one: a direction, or a place that the line is led to".into(),
            }
            .into());
        }
        (None, Some(towards)) => towards,
        (Some(Written::Known(q)), None) => {
            if !(-360.0..=360.0).contains(&q.si.to_degrees()) {
                return Err(k
                    .out_of_range(
                        "direction",
                        q.text(),
                        "-360 to 360 deg; 0 is straight forwards, 90 deg straight up",
                    )
                    .into());
            }
            PullGiven::Along(Some(q))
        }
        (Some(Written::Unknown(unit)), None) => {
            reading.mark(k, "direction", MarkOf::Direction(index), unit);
            PullGiven::Along(None)
        }
        (None, None) => PullGiven::Hangs,
    })
}

/// How much it is: a mass, a force, a table of forces, or what is asked for.
#[allow(clippy::type_complexity)]
fn read_amount(
    k: &Keys,
    index: usize,
    reading: &mut Reading,
) -> Result<(Option<Quantity>, Vec<(Quantity, Quantity)>), StaticsError> {
    let mut table = Vec::new();
    if let Some(Value::Text(t)) = k.node("amount").map(|n| n.value)
        && t.contains('=')
    {
        table = read_table(k, &t)?;
    }
    let amount = if table.is_empty() {
        let amount = written(k, "amount", &[Dimension::Mass, Dimension::Force])?.ok_or_else(|| {
            k.missing(
                "amount",
                "a mass or a weight, like \"10 kg\" or \"98 N\", or \"?\"",
            )
        })?;
        match amount {
            Written::Known(q) => {
                if !(q.si >= 0.0 && q.si <= HEAVIEST_N) {
                    return Err(k
                        .out_of_range("amount", q.text(), "0 or more, and less than 20 kN")
                        .into());
                }
                Some(q)
            }
            Written::Unknown(unit) => {
                reading.mark(k, "amount", MarkOf::Weight(index), unit);
                None
            }
        }
    } else {
        None
    };
    Ok((amount, table))
}

/// Where along its link it acts, and where that comes from if not from the sheet.
fn read_place(
    k: &Keys,
    index: usize,
    participant: Option<&Participant>,
    reading: &mut Reading,
) -> Result<(Option<Quantity>, Option<String>), StaticsError> {
    let mut source = None;
    let in_hand =
        k.has("at") && matches!(k.node("at").map(|n| n.value), Some(Value::Text(t)) if t.trim() == "hand");
    let at = if in_hand {
        let hand = participant.and_then(|p| p.hand_at.clone()).ok_or_else(|| StaticsError::Incomplete {
            place: k.place_of("at"),
            what: format!("'{}' is \"hand\", but no table says where the hand's mass centre is", k.path_of("at")),
            hint: "add [participant] with sex and body_mass (a table with a hand of its own), or give a distance".into(),
        })?;
        source = Some("at the hand's mass centre".into());
        Some(hand)
    } else {
        match written(k, "at", &[Dimension::Length])?.ok_or_else(|| {
            k.missing(
                "at",
                "the distance along the link, like \"30 cm\", \"hand\" or \"?\"",
            )
        })? {
            Written::Known(q) => {
                if !(q.si >= 0.0 && q.si <= LONGEST_M) {
                    return Err(k
                        .out_of_range(
                            "at",
                            q.text(),
                            &format!("0 to {LONGEST_M} m, along the link from its joint"),
                        )
                        .into());
                }
                Some(q)
            }
            Written::Unknown(unit) => {
                reading.mark(k, "at", MarkOf::Distance(index), unit);
                None
            }
        }
    };
    Ok((at, source))
}

pub(super) fn read_weight(
    k: Keys,
    index: usize,
    participant: Option<&Participant>,
    reading: &mut Reading,
) -> Result<Weight, StaticsError> {
    let name = k.text("name")?.unwrap_or_else(|| format!("weight {}", index + 1));
    let on = k
        .choice(
            "on",
            &[
                ("forearm", Link::Forearm),
                ("hand", Link::Forearm),
                ("upper arm", Link::UpperArm),
                ("upper_arm", Link::UpperArm),
            ],
        )?
        .unwrap_or(Link::Forearm);
    let (amount, table) = read_amount(&k, index, reading)?;
    let (at, source) = read_place(&k, index, participant, reading)?;
    let pull = read_pull(&k, index, reading)?;
    if table
        .first()
        .is_some_and(|r| r.0.unit.dimension == Dimension::Length)
        && !matches!(pull, PullGiven::Towards { .. })
    {
        return Err(k
            .missing("towards", "the place its line is led to, like \"60 cm, -80 cm\" (forward, up): the table runs over the line's length")
            .into());
    }
    let is_mass = amount
        .as_ref()
        .is_some_and(|q| q.unit.dimension == Dimension::Mass);
    if is_mass && matches!(pull, PullGiven::Along(_)) {
        return Err(StaticsError::Incomplete {
            place: k.place_of("amount"),
            what: format!("'{}' is a mass, and a mass pulls straight down, not in a direction of its own", k.path_of("amount")),
            hint: "give its pull as a force, like \"80 N\"; or lead its line to a pulley: towards = \"60 cm, -80 cm\"".into(),
        });
    }
    k.finish()?;
    Ok(Weight {
        name,
        on,
        amount,
        table,
        at,
        pull,
        source,
    })
}

/// The force of a muscle: given, or to be found.
pub(super) fn read_force(
    k: &Keys,
    acts: Acts,
    alone: bool,
    targets: &mut Vec<(String, Target, Quantity, Place)>,
    reading: &mut Reading,
) -> Result<(), StaticsError> {
    match written(k, "force", &[Dimension::Force])? {
        Some(Written::Known(q)) => {
            if !(0.0..=1e6).contains(&q.si) {
                return Err(k.out_of_range("force", q.text(), "0 to 1000 kN").into());
            }
            if !alone {
                return Err(StaticsError::Incomplete {
                    place: k.place_of("force"),
                    what: format!(
                        "'{}' is given, but several {}s share the moment",
                        k.path_of("force"),
                        acts.words()
                    ),
                    hint: format!(
                        "keep one {}, or give the elbow moment instead: given.elbow_moment (--elbow-moment)",
                        acts.words()
                    ),
                });
            }
            let target = if acts == Acts::Flexes {
                Target::FlexorForce(q.si)
            } else {
                Target::ExtensorForce(q.si)
            };
            targets.push((k.path_of("force"), target, q, k.place_of("force")));
        }
        Some(Written::Unknown(unit)) => {
            reading.mark(k, "force", MarkOf::Force, unit);
        }
        None => {}
    }
    Ok(())
}

/// Every weight of a sheet, segments of a participant among them, and the upper arm's length.
pub(super) fn read_weights(
    root: &Keys,
    reading: &mut Reading,
) -> Result<(Vec<Weight>, Option<Quantity>), StaticsError> {
    let place = root.place();
    let participant = root.table("participant")?.map(read_participant).transpose()?;
    let mut weights = Vec::new();
    for k in root.tables("weight")? {
        weights.push(read_weight(k, weights.len(), participant.as_ref(), reading)?);
    }
    let mut upper_arm_length = None;
    if let Some(k) = root.table("upper_arm")? {
        upper_arm_length = length(&k, "length", 1.0)?;
        k.finish()?;
    }
    if let Some(p) = &participant {
        if upper_arm_length.is_none() {
            upper_arm_length = p.upper_arm_length.clone();
        }
        weights.extend(p.weights(upper_arm_length.as_ref())?);
        reading.assumptions.extend(p.notes.iter().cloned());
    }
    if weights.is_empty() {
        return Err(StaticsError::Incomplete {
            place: place.clone(),
            what: "there is no load in the problem".into(),
            hint: "add [[weight]] with amount and at, or --load \"10 kg at 30 cm\"".into(),
        });
    }
    if upper_arm_length.is_none() && weights.iter().any(|w| w.on == Link::UpperArm) {
        return Err(StaticsError::Incomplete {
            place: place.clone(),
            what: "a weight sits on the upper arm, but the upper arm's length is not given".into(),
            hint: "add [upper_arm] length = \"30 cm\", or --upper-arm-length \"30 cm\"".into(),
        });
    }
    Ok((weights, upper_arm_length))
}

/// A place that is counted from the elbow can't be one if the elbow moves.
pub(super) fn check_places(
    unknown: Unknown,
    has_shoulder: bool,
    weights: &[Weight],
    place: &Place,
) -> Result<(), StaticsError> {
    let moves_elbow = matches!(unknown, Unknown::Angle { held, .. } if held != Angle::UpperArm);
    let from_elbow = |w: &Weight| {
        matches!(
            w.pull,
            PullGiven::Towards {
                from: Joint::Elbow,
                ..
            }
        )
    };
    if moves_elbow && has_shoulder && weights.iter().any(from_elbow) {
        return Err(StaticsError::Incomplete {
            place: place.clone(),
            what: "the elbow moves with the angle to be found, and a load is led to a place that is counted from the elbow".into(),
            hint: "count that place from the shoulder: towards_from = \"shoulder\", or --load \"80 N at 30 cm, to 40 cm, -90 cm from the shoulder\"".into(),
        });
    }
    Ok(())
}

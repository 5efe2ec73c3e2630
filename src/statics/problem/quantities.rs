//! Quantities of a sheet: read with their units, or marked as what is asked for.

use super::*;

/// A quantity or a mark under a key.
pub(super) fn written(
    k: &Keys,
    key: &str,
    dimensions: &[Dimension],
) -> Result<Option<Written>, StaticsError> {
    let Some(node) = k.node(key) else { return Ok(None) };
    let expected = dimensions
        .iter()
        .map(|d| d.words())
        .collect::<Vec<_>>()
        .join(" or ");
    let text = match &node.value {
        Value::Text(t) => t.clone(),
        Value::Number(n) => n.to_string(),
        other => {
            return Err(StaticsError::Quantity {
                place: node.place.clone(),
                key: k.path_of(key),
                found: other.describe(),
                expected,
                hint: format!(
                    "write it in quotes, with its unit: \"{}\"",
                    dimensions[0].example().split([',', ';']).next().unwrap_or("")
                ),
            });
        }
    };
    quantity::parse(&text, dimensions)
        .map(Some)
        .map_err(|e| StaticsError::Quantity {
            place: node.place.clone(),
            key: k.path_of(key),
            found: e.found,
            expected,
            hint: e.hint,
        })
}

/// A quantity that can't be the unknown.
pub(super) fn known(k: &Keys, key: &str, dimensions: &[Dimension]) -> Result<Option<Quantity>, StaticsError> {
    match written(k, key, dimensions)? {
        None => Ok(None),
        Some(Written::Known(q)) => Ok(Some(q)),
        Some(Written::Unknown(_)) => Err(StaticsError::Quantity {
            place: k.place_of(key),
            key: k.path_of(key),
            found: "\"?\"".into(),
            expected: dimensions[0].words().into(),
            hint: "\"?\" can stand for a load's amount, at or direction, an angle of [posture], a muscle's force, moment_arm, insertion or line, or a moment of [given]"
                .into(),
        }),
    }
}

/// A moment of `[given]`; a mark asks for it.
pub(super) fn moment(k: &Keys, key: &str, reading: &mut Reading) -> Result<Option<Quantity>, StaticsError> {
    Ok(match written(k, key, &[Dimension::Moment])? {
        Some(Written::Known(q)) => Some(q),
        Some(Written::Unknown(unit)) => {
            reading.mark(k, key, MarkOf::NetMoment, unit);
            None
        }
        None => None,
    })
}

/// A length above zero, or a mark.
pub(super) fn length_or_mark(
    k: &Keys,
    key: &str,
    limit_m: f64,
    what: MarkOf,
    reading: &mut Reading,
) -> Result<Option<Option<Quantity>>, StaticsError> {
    if let Some(Written::Unknown(unit)) = written(k, key, &[Dimension::Length])? {
        reading.mark(k, key, what, unit);
        return Ok(Some(None));
    }
    Ok(length(k, key, limit_m)?.map(Some))
}

/// A length above zero.
pub(super) fn length(k: &Keys, key: &str, limit_m: f64) -> Result<Option<Quantity>, StaticsError> {
    let q = known(k, key, &[Dimension::Length])?;
    if let Some(q) = &q
        && !(q.si > 0.0 && q.si <= limit_m)
    {
        return Err(k
            .out_of_range(key, q.text(), &format!("more than 0 and at most {limit_m} m"))
            .into());
    }
    Ok(q)
}

/// What `find` can say; everything else is marked by `?` where it stands.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Find {
    NetMoment,
    FlexorForce,
    ExtensorForce,
    MuscleForce,
    JointForce,
}

pub(super) fn read_find(k: &Keys) -> Result<Option<Find>, StaticsError> {
    let Some(text) = k.text("find")? else {
        return Ok(None);
    };
    let lower = text.to_lowercase().replace(['-', '_'], " ");
    Ok(Some(match lower.as_str() {
        "net moment" | "moment" => Find::NetMoment,
        "flexor force" => Find::FlexorForce,
        "extensor force" => Find::ExtensorForce,
        "muscle force" | "muscle forces" => Find::MuscleForce,
        "joint force" => Find::JointForce,
        "load" | "weight" | "distance" | "angle" | "elbow angle" | "forearm angle" | "upper arm angle"
        | "moment arm" | "insertion" => {
            return Err(FormError::Conflict {
                place: k.place_of("find"),
                what: format!("'{}' can't be \"{text}\"", k.path_of("find")),
                hint: "mark the value to be found by \"?\" where it stands: amount = \"?\", at = \"? cm\", elbow = \"?\", moment_arm = \"?\", --load \"? at 30 cm\"".into(),
            }
            .into());
        }
        _ => {
            return Err(k
                .unknown_choice(
                    "find",
                    &text,
                    &["flexor force", "extensor force", "joint force", "net moment"],
                )
                .into());
        }
    }))
}

/// Parts of a list; a comma between two digits is a decimal comma and stays.
pub fn split_list(text: &str) -> Vec<String> {
    let chars: Vec<char> = text.chars().collect();
    let mut parts = vec![String::new()];
    for (i, c) in chars.iter().enumerate() {
        let digit = |k: Option<usize>| k.and_then(|k| chars.get(k)).is_some_and(char::is_ascii_digit);
        match (c, parts.last_mut()) {
            (',', _) if !(digit(i.checked_sub(1)) && digit(Some(i + 1))) => parts.push(String::new()),
            (c, Some(last)) => last.push(*c),
            _ => {}
        }
    }
    parts.into_iter().map(|p| p.trim().to_owned()).collect()
}

/// `[problem]`
pub(super) struct Head {
    pub(super) id: String,
    pub(super) title: Option<String>,
    pub(super) find: Option<Find>,
    pub(super) gravity: Quantity,
    pub(super) gravity_given: bool,
    pub(super) sharing: Option<Sharing>,
}

impl Head {
    /// Reads it; `name` is the problem's if it has none of its own.
    pub(super) fn read(root: &Keys, name: &str) -> Result<Self, StaticsError> {
        let mut head = Self {
            id: name.to_owned(),
            title: None,
            find: None,
            gravity: Quantity {
                si: STANDARD_GRAVITY_M_S2,
                unit: Dimension::Acceleration.si(),
                digits: STANDARD_GRAVITY_M_S2.to_string(),
                exact: false,
            },
            gravity_given: false,
            sharing: None,
        };
        let Some(k) = root.table("problem")? else {
            return Ok(head);
        };
        if let Some(given) = k.text("id")? {
            k.check_folder_name("id", &given)?;
            head.id = given;
        }
        head.title = k.text("title")?;
        head.find = read_find(&k)?;
        head.sharing = read_sharing(&k)?;
        if let Some(g) = known(&k, "gravity", &[Dimension::Acceleration])? {
            if !(0.1..=100.0).contains(&g.si) {
                return Err(k.out_of_range("gravity", g.text(), "0.1 to 100 m/s²").into());
            }
            (head.gravity, head.gravity_given) = (g, true);
        }
        k.finish()?;
        Ok(head)
    }
}

/// A moment or a force that is given, with its key, its value as written, and its place.
pub(super) type Given = (String, Target, Quantity, Place);

/// Reads `[given]`.
pub(super) fn read_given(
    root: &Keys,
    has_shoulder: bool,
    targets: &mut Vec<Given>,
    reading: &mut Reading,
) -> Result<(), StaticsError> {
    let Some(k) = root.table("given")? else {
        return Ok(());
    };
    if let Some(q) = moment(&k, "elbow_moment", reading)? {
        let place = k.place_of("elbow_moment");
        targets.push(("given.elbow_moment".into(), Target::ElbowMoment(q.si), q, place));
    }
    let marks = reading.marks.len();
    let shoulder = moment(&k, "shoulder_moment", reading)?;
    let place = k.place_of("shoulder_moment");
    if !has_shoulder && (shoulder.is_some() || reading.marks.len() > marks) {
        return Err(StaticsError::Incomplete {
            place,
            what: "a shoulder moment is given, but the upper arm's length is not".into(),
            hint: "add [upper_arm] length = \"30 cm\", or --upper-arm-length \"30 cm\"".into(),
        });
    }
    if let Some(q) = shoulder {
        targets.push((
            "given.shoulder_moment".into(),
            Target::ShoulderMoment(q.si),
            q,
            place,
        ));
    }
    k.finish()?;
    Ok(())
}

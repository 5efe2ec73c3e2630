//! What is asked for, and in which units the answer is given.

use super::*;

/// The error for a muscle that is spoken of and not there.
fn needs(acts: Acts, what: &str, place: &Place) -> StaticsError {
    StaticsError::Incomplete {
        place: place.clone(),
        what: format!("{what}, but the problem has no {}", acts.words()),
        hint: match acts {
            Acts::Flexes => "add [flexor] with moment_arm, or --flexor \"4 cm\"".into(),
            Acts::Extends => "add [extensor] with moment_arm, or --extensor \"2 cm\"".into(),
        },
    }
}

/// The unknown that a mark stands for.
fn unknown_of(mark: &Mark, posture: &Posture) -> Unknown {
    match mark.what {
        MarkOf::Force => Unknown::MuscleForce,
        MarkOf::NetMoment => Unknown::NetMoment,
        MarkOf::Weight(i) => Unknown::Weight(i),
        MarkOf::Distance(i) => Unknown::Distance(i),
        MarkOf::Direction(i) => Unknown::Direction(i),
        MarkOf::Angle(which) => Unknown::Angle {
            which,
            held: posture.held,
        },
        MarkOf::MomentArm(i) => Unknown::MomentArm(i),
        MarkOf::Insertion(i) => Unknown::Insertion(i),
        MarkOf::Line(i) => Unknown::LineAngle(i),
    }
}

/// What is asked for by a mark, held against everything else that is said.
fn marked(
    mark: &Mark,
    unknown: Unknown,
    find: Option<Find>,
    muscles: &[MuscleGiven],
    targets: &[Given],
    place: &Place,
) -> Result<(Unknown, Option<Unit>), StaticsError> {
    let same = match find {
        None => true,
        Some(Find::NetMoment) => unknown == Unknown::NetMoment,
        Some(Find::JointForce) => false,
        Some(_) => unknown == Unknown::MuscleForce,
    };
    if !same {
        return Err(StaticsError::TwoUnknowns {
            first: "problem.find".into(),
            first_place: place.clone(),
            second: mark.key.clone(),
            second_place: mark.place.clone(),
        });
    }
    if matches!(unknown, Unknown::MuscleForce | Unknown::NetMoment) {
        if let Some((key, _, _, p)) = targets.first() {
            return Err(StaticsError::NothingUnknown {
                place: p.clone(),
                what: format!(
                    "'{key}' is given, but the moment follows from the loads already; the muscle force with it"
                ),
            });
        }
        return Ok((unknown, mark.unit.clone()));
    }
    if let Unknown::MomentArm(i) | Unknown::Insertion(i) | Unknown::LineAngle(i) = unknown {
        check_lever(mark, muscles, muscles[i].acts, targets)?;
        return Ok((unknown, mark.unit.clone()));
    }
    let has = |acts: Acts| muscles.iter().any(|m| m.acts == acts);
    match targets {
        [] => Err(StaticsError::NoTarget {
            place: mark.place.clone(),
            unknown: mark.key.clone(),
        }),
        [(_, t, ..)] if t.acts().is_some_and(|a| !has(a)) => {
            let acts = t.acts().unwrap_or(Acts::Flexes);
            Err(needs(
                acts,
                &format!("the force of the {} is given", acts.words()),
                place,
            ))
        }
        _ => Ok((unknown, mark.unit.clone())),
    }
}

/// A lever is settled by the force of its muscle alone.
fn check_lever(
    mark: &Mark,
    muscles: &[MuscleGiven],
    acts: Acts,
    targets: &[Given],
) -> Result<(), StaticsError> {
    if muscles.iter().filter(|m| m.acts == acts).count() > 1 {
        return Err(StaticsError::Incomplete {
            place: mark.place.clone(),
            what: format!(
                "'{}' is to be found, but several {}s share the moment",
                mark.key,
                acts.words()
            ),
            hint: format!("keep one {}: its force then settles its lever", acts.words()),
        });
    }
    match targets {
        [] => Err(StaticsError::NoTarget {
            place: mark.place.clone(),
            unknown: mark.key.clone(),
        }),
        [(_, t, ..)] if t.acts() == Some(acts) => Ok(()),
        [(key, _, _, p), ..] => Err(StaticsError::Incomplete {
            place: p.clone(),
            what: format!(
                "'{key}' does not settle '{}': the moment follows from the loads, and only the muscle's force is left to give",
                mark.key
            ),
            hint: format!("give the {0}'s force: {0}.force (--{0}-force)", acts.words()),
        }),
    }
}

/// The one unknown, from marks, `find` and what there is.
pub(super) fn choose_unknown(
    marks: &[Mark],
    find: Option<Find>,
    posture: &Posture,
    muscles: &[MuscleGiven],
    targets: &[Given],
    place: &Place,
) -> Result<(Unknown, Option<Unit>), StaticsError> {
    // both moments may be asked for: they are found together
    let distinct: Vec<&Mark> = match marks {
        [first, second] if first.what == MarkOf::NetMoment && second.what == MarkOf::NetMoment => vec![first],
        all => all.iter().collect(),
    };
    if let [first, second, ..] = distinct.as_slice() {
        return Err(StaticsError::TwoUnknowns {
            first: first.key.clone(),
            first_place: first.place.clone(),
            second: second.key.clone(),
            second_place: second.place.clone(),
        });
    }
    if let Some(mark) = distinct.first() {
        return marked(mark, unknown_of(mark, posture), find, muscles, targets, place);
    }
    let has = |acts: Acts| muscles.iter().any(|m| m.acts == acts);
    if let Some((key, _, q, p)) = targets.first() {
        return Err(StaticsError::NothingUnknown {
            place: p.clone(),
            what: format!("'{key}' is given as {} and so is everything else", q.text()),
        });
    }
    match find {
        Some(Find::FlexorForce) if !has(Acts::Flexes) => {
            Err(needs(Acts::Flexes, "the flexor force is to be found", place))
        }
        Some(Find::ExtensorForce) if !has(Acts::Extends) => {
            Err(needs(Acts::Extends, "the extensor force is to be found", place))
        }
        Some(Find::JointForce) if muscles.is_empty() => {
            Err(needs(Acts::Flexes, "the joint force is to be found", place))
        }
        Some(Find::MuscleForce) if muscles.is_empty() => {
            Err(needs(Acts::Flexes, "the muscle force is to be found", place))
        }
        Some(Find::NetMoment) => Ok((Unknown::NetMoment, None)),
        Some(Find::JointForce) => Ok((Unknown::JointForce, None)),
        None if muscles.is_empty() => Ok((Unknown::NetMoment, None)),
        Some(_) | None => Ok((Unknown::MuscleForce, None)),
    }
}

/// Whether a unit is one of pounds, inches and feet.
pub fn is_pound_inch(unit: &Unit) -> bool {
    ["lb", "oz", "lbf", "in", "ft"].contains(&unit.symbol.as_ref())
}

/// Units of the solution, all of one system: that of the first load, or of what is asked for. A length keeps
/// its unit if it is of that system; a moment is never a pound-force times a metre or a newton times an inch.
pub(super) fn choose_units(
    weights: &[Weight],
    muscles: &[MuscleGiven],
    target: Option<&Quantity>,
    answer: Option<&Unit>,
) -> Units {
    let amounts = weights
        .iter()
        .filter(|w| w.source.is_none())
        .filter_map(|w| w.amount.as_ref().or(w.table.first().map(|r| &r.1)));
    let first = amounts.chain(target).map(|q| &q.unit).chain(answer).find(|u| {
        matches!(
            u.dimension,
            Dimension::Mass | Dimension::Force | Dimension::Moment
        )
    });
    let pounds =
        |u: &Unit| is_pound_inch(u) || (u.dimension == Dimension::Moment && u.symbol.starts_with("lbf"));
    let lengths = || {
        let of_muscles = muscles.iter().filter_map(|m| match &m.lever {
            LeverGiven::MomentArm(Some(q)) | LeverGiven::Insertion(Some(q)) | LeverGiven::Points(_, q) => {
                Some(q)
            }
            _ => None,
        });
        weights
            .iter()
            .filter(|w| w.source.is_none())
            .filter_map(|w| w.at.as_ref())
            .chain(of_muscles)
            .map(|q| &q.unit)
    };
    let imperial = match first {
        Some(u) => pounds(u),
        None => lengths().next().is_some_and(is_pound_inch),
    };
    let force = match first {
        Some(u) if u.dimension == Dimension::Force => u.clone(),
        _ if imperial => POUND_FORCE,
        _ => NEWTON,
    };
    let length = lengths()
        .find(|u| is_pound_inch(u) == imperial)
        .cloned()
        .unwrap_or(if imperial { INCH } else { CENTIMETRE });
    let moment = Unit::moment(&force, &length);
    Units {
        force,
        length,
        moment,
    }
}

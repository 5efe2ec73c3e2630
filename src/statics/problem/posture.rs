//! The posture of a sheet.

use super::*;

/// The posture, as far as it is known.
pub(super) struct Posture {
    pub(super) given: BTreeMap<&'static str, Quantity>,
    pub(super) forearm: f64,
    pub(super) upper_arm: f64,
    /// Where an angle is the unknown: which one stays.
    pub(super) held: Angle,
}

/// A right angle, rad.
const QUARTER: f64 = std::f64::consts::FRAC_PI_2;

/// Angles as they are given, and those that are asked for.
#[derive(Default)]
struct Angles {
    given: BTreeMap<&'static str, Quantity>,
    marks: Vec<Angle>,
}

impl Angles {
    fn value(&self, a: Angle) -> Option<f64> {
        self.given.get(a.key()).map(|q| q.si)
    }

    /// Reads the table.
    fn read(k: &Keys, reading: &mut Reading) -> Result<Self, StaticsError> {
        let Self { mut given, mut marks } = Self::default();
        let ranges = [
            (Angle::Forearm, -180.0, 180.0),
            (Angle::Elbow, 0.0, 180.0),
            (Angle::UpperArm, -180.0, 180.0),
        ];
        for (angle, low, high) in ranges {
            match written(k, angle.key(), &[Dimension::Angle])? {
                Some(Written::Known(q)) => {
                    if !(low..=high).contains(&(q.si.to_degrees())) {
                        return Err(k
                            .out_of_range(angle.key(), q.text(), &format!("{low} to {high} deg"))
                            .into());
                    }
                    given.insert(angle.key(), q);
                }
                Some(Written::Unknown(unit)) => {
                    marks.push(angle);
                    reading.mark(k, angle.key(), MarkOf::Angle(angle), unit);
                }
                None => {}
            }
        }
        if let Some(q) = known(k, "elbow_included", &[Dimension::Angle])? {
            if given.contains_key("elbow") || marks.contains(&Angle::Elbow) {
                return Err(FormError::Conflict {
                    place: k.place_of("elbow_included"),
                    what: "both posture.elbow (flexion, 0 = straight) and posture.elbow_included (180 = straight) are given".into(),
                    hint: "keep one of them".into(),
                }
                .into());
            }
            if !(0.0..=180.0).contains(&q.si.to_degrees()) {
                return Err(k.out_of_range("elbow_included", q.text(), "0 to 180 deg").into());
            }
            let flexion = Quantity::computed(std::f64::consts::PI - q.si, DEGREE);
            reading.assumptions.push(format!(
                "An included elbow angle of {} is a flexion of {}.",
                q.text(),
                flexion.text()
            ));
            given.insert("elbow", flexion);
        }
        Ok(Self { given, marks })
    }

    /// Three angles have to fit together.
    fn check_fit(&self, at: &Place) -> Result<(), StaticsError> {
        let (f, e, u) = (
            self.value(Angle::Forearm),
            self.value(Angle::Elbow),
            self.value(Angle::UpperArm),
        );
        if let (Some(f), Some(e), Some(u)) = (f, e, u)
            && (f + QUARTER - u - e).abs() > ANGLES_AGREE
        {
            return Err(StaticsError::Incomplete {
                place: at.clone(),
                what: format!(
                    "the three angles do not fit together: with the forearm at {:.2}° and the upper arm at {:.2}° the elbow is flexed {:.2}°, not {:.2}°",
                    f.to_degrees(),
                    u.to_degrees(),
                    (f + QUARTER - u).to_degrees(),
                    e.to_degrees()
                ),
                hint: "flexion = forearm + 90° - upper arm; give two of the three".into(),
            });
        }
        Ok(())
    }

    /// Forearm and upper arm where one angle is asked for, and the angle that stays meanwhile.
    fn with_one_asked(
        &self,
        angle: &Angle,
        at: &Place,
        reading: &mut Reading,
    ) -> Result<(f64, f64, Angle), StaticsError> {
        let given = &self.given;
        let others: Vec<Angle> = [Angle::UpperArm, Angle::Forearm, Angle::Elbow]
            .into_iter()
            .filter(|a| a != angle && given.contains_key(a.key()))
            .collect();
        if others.len() > 1 {
            return Err(StaticsError::NothingUnknown {
                place: at.clone(),
                what: format!("the {} follows from the two other angles", angle.words()),
            });
        }
        let held = match (others.first(), angle) {
            (Some(a), _) => *a,
            (None, Angle::UpperArm) => {
                return Err(StaticsError::Incomplete {
                    place: at.clone(),
                    what: "the upper arm's angle is to be found, but neither the elbow's nor the forearm's is given".into(),
                    hint: "give one of them: it stays as the upper arm moves".into(),
                });
            }
            (None, _) => {
                reading
                    .assumptions
                    .push("The upper arm hangs straight down (0°) and stays there.".into());
                Angle::UpperArm
            }
        };
        let stay = given.get(held.key()).map_or(0.0, |q: &Quantity| q.si);
        let (forearm, upper_arm) = match held {
            Angle::UpperArm => (0.0, stay),
            Angle::Forearm => (stay, 0.0),
            Angle::Elbow => (stay - QUARTER, 0.0),
        };
        Ok((forearm, upper_arm, held))
    }

    /// Forearm and upper arm from what is given; what is not is assumed, and said.
    fn as_given(&self, reading: &mut Reading) -> (f64, f64) {
        let mut assume = |text: &str| reading.assumptions.push(text.to_owned());
        let (f, e, u) = (
            self.value(Angle::Forearm),
            self.value(Angle::Elbow),
            self.value(Angle::UpperArm),
        );
        match (f, e, u) {
            (Some(f), _, Some(u)) => (f, u),
            (Some(f), Some(e), None) => (f, f + QUARTER - e),
            (None, Some(e), Some(u)) => (e - QUARTER + u, u),
            (Some(f), None, None) => {
                assume("The upper arm hangs straight down (0°).");
                (f, 0.0)
            }
            (None, Some(e), None) => {
                assume("The upper arm hangs straight down (0°).");
                (e - QUARTER, 0.0)
            }
            (None, None, Some(u)) => {
                assume("The forearm is horizontal (0°).");
                (0.0, u)
            }
            (None, None, None) => {
                assume(
                    "The upper arm hangs straight down (0°) and the forearm is horizontal: the elbow is flexed 90°.",
                );
                (0.0, 0.0)
            }
        }
    }
}

pub(super) fn read_posture(
    keys: Option<Keys>,
    reading: &mut Reading,
    place: &Place,
) -> Result<Posture, StaticsError> {
    let (mut angles, mut at) = (Angles::default(), place.clone());
    if let Some(k) = keys {
        at = k.place().clone();
        angles = Angles::read(&k, reading)?;
        k.finish()?;
    }
    angles.check_fit(&at)?;
    let (forearm, upper_arm, held) = match angles.marks.first() {
        Some(angle) => angles.with_one_asked(angle, &at, reading)?,
        None => {
            let (forearm, upper_arm) = angles.as_given(reading);
            (forearm, upper_arm, Angle::UpperArm)
        }
    };
    let elbow = (forearm + QUARTER - upper_arm).to_degrees();
    if angles.marks.is_empty() && !(-1e-9..=180.0 + 1e-9).contains(&elbow) {
        return Err(StaticsError::Incomplete {
            place: at,
            what: format!("the angles put the elbow at a flexion of {elbow:.2}°; expected 0° to 180°"),
            hint: "flexion = forearm + 90° - upper arm; forearm to the horizontal, upper arm from hanging"
                .into(),
        });
    }
    Ok(Posture {
        given: angles.given,
        forearm,
        upper_arm,
        held,
    })
}

//! A force measured at a handle: own file, own rate.

use super::clock;
use super::direction;
use super::signal::{Columns, FileKeys, Part, Signal};
use super::{
    AT_HAND_KEY, AT_KEY, Acting, At, FASTENED_M, HandMotion, Held, Kind, LoadKind, LoadSeries, PointFinder,
    ReadyAt, Review, Setting, TIME_OFFSET_KEY,
};
use crate::ground::axes::{AxialVector, LabIntoScene, Vector};
use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;
use crate::ground::scene::PointId;
use crate::ground::warning::Warning;
use crate::kinetics::KineticsError;
use crate::smoothing::derivative;
use nalgebra::Vector3;
use std::ops::Range;

/// Groups of columns, in order.
const FORCE: usize = 0;
const MOMENT: usize = 1;
const POINT: usize = 2;

/// A point of application farther than this from the hand is worth a word, m.
const FAR_FROM_HAND_M: f64 = 0.5;

/// Axes the numbers are resolved in.
#[derive(Clone, Copy, Debug, PartialEq)]
enum ResolvedIn {
    Lab,
    Hand,
}

/// What the numbers act on.
#[derive(Clone, Copy, Debug, PartialEq)]
enum ForceOn {
    Body,
    Instrument,
}

/// A recorded force as the sheet states it.
struct RecordedForce {
    file: FileKeys,
    resolved_in: ResolvedIn,
    force_on: ForceOn,
    at: At,
    at_is_stated: bool,
    into_scene: LabIntoScene,
    metres_per_unit: f64,
}

/// What is registered of it.
pub(super) const KIND: Kind = Kind {
    name: "recorded-force",
    table: "[[load]] kind = \"recorded-force\"",
    about: "A force measured by a handle or a force platform, in a file of its own rate and clock.",
    keys: &[
        Key {
            key: "load.*.file",
            kind: "text",
            unit: "",
            default: "required",
            meaning: "Force file, from the sheet's folder: columns time_s, fx, fy, fz in N, perhaps mx, my, mz in N·m and px, py, pz in markers.length_unit; or a C3D file.",
            example: "\"handle.csv\"",
        },
        Key {
            key: "load.*.platform",
            kind: "whole number",
            unit: "",
            default: "none; the only platform of a C3D file",
            meaning: "Force platform of a C3D file, counted from 1.",
            example: "1",
        },
        Key {
            key: "load.*.channels",
            kind: "list of three or six texts",
            unit: "",
            default: "none; the columns of the table, or the platform",
            meaning: "Labels of the analog channels of a C3D file that are the force in N (and the moment in N·m).",
            example: "[\"Fx\", \"Fy\", \"Fz\"]",
        },
        Key {
            key: "load.*.resolved_in",
            kind: "\"lab\" or \"hand\"",
            unit: "",
            default: "required; \"lab\" for a platform",
            meaning: "Axes of the numbers: those of the marker file, or those of the hand (x to the palm, y towards the elbow, z to the thumb).",
            example: "\"lab\"",
        },
        Key {
            key: "load.*.force_on",
            kind: "\"body\" or \"instrument\"",
            unit: "",
            default: "required",
            meaning: "Sign of the numbers: what acts on the hand, or what the hand does to the instrument (what platforms report).",
            example: "\"body\"",
        },
        AT_KEY,
        AT_HAND_KEY,
        TIME_OFFSET_KEY,
    ],
    read,
};

fn read(keys: &Keys, setting: &Setting<'_>) -> Result<Box<dyn LoadKind>, FormError> {
    let expected = "the force file: columns time_s, fx, fy, fz in N, or a C3D file with a force platform";
    let mut file = FileKeys::read(keys, setting.dir)?.ok_or_else(|| keys.missing("file", expected))?;
    file.part = Part::read(keys, &file.path)?;
    let resolved_in = read_axes(keys, &file.part)?;
    if matches!(file.part, Part::Platform { .. }) && keys.has("at") {
        return Err(FormError::Conflict {
            place: keys.place_of("at"),
            what: "`at` with a force platform, which knows where it is (its corners in the lab) and what its moment is about".into(),
            hint: "remove `at`; a handle that moves with the hand is named by its channels: channels = [\"Fx\", \"Fy\", \"Fz\"]".into(),
        });
    }
    let choices = [("body", ForceOn::Body), ("instrument", ForceOn::Instrument)];
    let force_on = keys.choice("force_on", &choices)?.ok_or_else(|| {
        keys.missing(
            "force_on",
            "\"body\" (what the handle does to the hand) or \"instrument\" (what the hand does to the handle; what force platforms report)",
        )
    })?;
    Ok(Box::new(RecordedForce {
        file,
        resolved_in,
        force_on,
        at: At::read(keys, setting.sides)?,
        at_is_stated: keys.has("at"),
        into_scene: setting.into_scene(),
        metres_per_unit: setting.markers.metres_per_unit,
    }))
}

/// Reads `resolved_in`; a platform's corners give its axes in the lab, so there it may be left out.
fn read_axes(keys: &Keys, part: &Part) -> Result<ResolvedIn, FormError> {
    let stated = keys.choice(
        "resolved_in",
        &[("lab", ResolvedIn::Lab), ("hand", ResolvedIn::Hand)],
    )?;
    match (stated, part) {
        (Some(ResolvedIn::Hand), Part::Platform { .. }) => Err(FormError::Conflict {
            place: keys.place_of("resolved_in"),
            what: "resolved_in = \"hand\" with a force platform, whose corners are given in the lab".into(),
            hint:
                "set resolved_in = \"lab\"; a handle that moves with the hand is named by its channels: channels = [\"Fx\", \"Fy\", \"Fz\"]"
                    .into(),
        }),
        (Some(axes), _) => Ok(axes),
        (None, Part::Platform { .. }) => {
            keys.note_default("resolved_in", "lab", "the corners of a force platform are given in the lab");
            Ok(ResolvedIn::Lab)
        }
        (None, _) => {
            Err(keys.missing("resolved_in", "\"lab\" (axes of the marker file) or \"hand\" (x palmar, y proximal, z towards the thumb)"))
        }
    }
}

impl LoadKind for RecordedForce {
    fn name(&self) -> &'static str {
        "recorded-force"
    }

    fn is_recorded(&self) -> bool {
        true
    }

    fn words(&self) -> String {
        let on = match self.force_on {
            ForceOn::Body => "on the body",
            ForceOn::Instrument => "on the instrument (negated)",
        };
        let axes = match self.resolved_in {
            ResolvedIn::Lab => "lab axes",
            ResolvedIn::Hand => "hand axes",
        };
        let at = if let Part::Platform { .. } = self.file.part {
            "moment about the middle of its surface".into()
        } else if self.at_is_stated {
            self.at.words()
        } else {
            "at the file's px, py, pz if it has them, else at the grip".into()
        };
        format!("force recorded in {}, {on}, in {axes}, {at}", self.file.words())
    }

    fn thing(&self) -> Option<String> {
        Some(self.file.thing())
    }

    fn prepare(&self, points: &mut PointFinder<'_, '_>) -> Result<Box<dyn Acting>, KineticsError> {
        let may_lack = match self.resolved_in {
            ResolvedIn::Lab => points.absent_axis,
            ResolvedIn::Hand => None,
        };
        let table = self.file.table(points.warnings)?;
        // a file that says its unit is believed
        let metres_per_unit = table.stated.metres_per_unit().unwrap_or(self.metres_per_unit);
        if let (Part::Platform { .. }, ForceOn::Body) = (&self.file.part, self.force_on) {
            points.warnings.push(Warning::PlatformOnBody {
                file: table.place.file.clone(),
            });
        }
        let columns = [
            Columns {
                names: &["fx", "fy", "fz"],
                scale: 1.0,
                needed: true,
                steers: true,
                may_lack,
            },
            Columns {
                names: &["mx", "my", "mz"],
                scale: 1.0,
                needed: false,
                steers: true,
                may_lack: None,
            },
            Columns {
                names: &["px", "py", "pz"],
                scale: metres_per_unit,
                needed: false,
                steers: false,
                may_lack: points.absent_axis,
            },
        ];
        let mut signal = Signal::of(table, &self.file, &columns, points.max_gap_s, points.warnings)?;
        let at = if signal.has(POINT) && !self.at_is_stated {
            PointOfForce::Recorded {
                origin: polar(&self.into_scene, signal.take_levers(FORCE, POINT)),
                into_scene: self.into_scene,
            }
        } else {
            if signal.has(POINT) {
                points.warnings.push(Warning::LoadPointIgnored {
                    file: signal.file.clone(),
                });
            }
            PointOfForce::At(self.at.prepare(points)?)
        };
        let sign = if self.force_on == ForceOn::Instrument {
            -1.0
        } else {
            1.0
        };
        let axes = match self.resolved_in {
            ResolvedIn::Lab => Axes::Lab(self.into_scene.signed(sign)),
            ResolvedIn::Hand => Axes::Hand { sign },
        };
        Ok(Box::new(ReadyForce {
            signal,
            at,
            axes,
            into_scene: self.into_scene,
        }))
    }
}

/// From the file's components into the mirrored scene. Hand components are those of the mirrored right arm already
/// (METHOD section 1).
enum Axes {
    Lab(LabIntoScene),
    Hand { sign: f64 },
}

/// A place or a force of the lab in the mirrored scene.
fn polar(into_scene: &LabIntoScene, lab: Vector3<f64>) -> Vector3<f64> {
    into_scene.polar(Vector::from_components(lab)).components()
}

/// A moment of the lab in the mirrored scene.
fn moment(into_scene: &LabIntoScene, lab: Vector3<f64>) -> Vector3<f64> {
    into_scene.axial(AxialVector::from_components(lab)).components()
}

enum PointOfForce {
    /// Columns px, py, pz: with the force they are a moment about a fixed point, in the axes of the world.
    Recorded {
        origin: Vector3<f64>,
        into_scene: LabIntoScene,
    },
    At(ReadyAt),
}

struct ReadyForce {
    signal: Signal,
    at: PointOfForce,
    axes: Axes,
    into_scene: LabIntoScene,
}

impl ReadyForce {
    fn positions(&self, hand: &HandMotion<'_>) -> Vec<Vector3<f64>> {
        match &self.at {
            PointOfForce::Recorded { into_scene, .. } => hand
                .frames
                .clone()
                .map(|f| polar(into_scene, self.signal.acts_at(f).0))
                .collect(),
            PointOfForce::At(at) => at.positions(hand),
        }
    }

    fn turn(&self, hand: &HandMotion<'_>, group: usize) -> Vec<Vector3<f64>> {
        let frames = hand.frames.clone().map(|f| self.signal.vector(group, f));
        match (&self.axes, group) {
            (Axes::Lab(lab), FORCE) => frames.map(|v| polar(lab, v)).collect(),
            (Axes::Lab(lab), _) => frames.map(|v| moment(lab, v)).collect(),
            (Axes::Hand { sign }, _) => frames.zip(hand.r_wh).map(|(v, r)| r * v * *sign).collect(),
        }
    }

    /// Adds the moment that the lever of a recorded point brings along, about the points `at`.
    ///
    /// # Equation
    /// M_O = sum over i of (L e_i) x (A T_i), with L from lab to world, A from the force's axes to the world,
    /// T_i row i of the smoothed (p - O) Fᵀ. The same wrench about another point p: M_p = M_O - (p - O) x F.
    /// What p is does not matter to any joint.
    fn add_levers(
        &self,
        hand: &HandMotion<'_>,
        at: &[Vector3<f64>],
        force: &[Vector3<f64>],
        moment: &mut [Vector3<f64>],
    ) {
        let PointOfForce::Recorded { origin, into_scene } = &self.at else {
            return;
        };
        for (i, f) in hand.frames.clone().enumerate() {
            let turn = |v: Vector3<f64>| match &self.axes {
                Axes::Lab(lab) => polar(lab, v),
                Axes::Hand { sign } => hand.r_wh[i] * v * *sign,
            };
            let levers = self.signal.levers(POINT, f);
            let about_origin: Vector3<f64> = levers
                .iter()
                .enumerate()
                .map(|(k, t)| into_scene.lab_axis(k).components().cross(&turn(*t)))
                .sum();
            moment[i] += about_origin - (at[i] - origin).cross(&force[i]);
        }
    }

    fn clock_warning(&self, name: &str, hand: &HandMotion<'_>, frames: Range<usize>) -> Option<Warning> {
        let part = frames.start - hand.frames.start..frames.end - hand.frames.start;
        let (_, acceleration) = derivative::twice(hand.grip, hand.rate_hz);
        let force: Vec<Vector3<f64>> = frames.map(|f| self.signal.vector(FORCE, f)).collect();
        let better = clock::better_lag(&force, &acceleration[part], hand.gravity, hand.rate_hz)?;
        Some(Warning::OffsetSuggested {
            load: name.to_owned(),
            file: self.signal.file.clone(),
            stated_s: self.signal.offset_s,
            suggested_s: self.signal.offset_s + better.shift_s,
            mass_kg: better.mass_kg,
            fit: better.fit,
            fit_as_stated: better.fit_as_stated,
        })
    }
}

impl ReadyForce {
    fn turned_warning(&self, name: &str, hand: &HandMotion<'_>, frames: Range<usize>) -> Option<Warning> {
        let part = frames.start - hand.frames.start..frames.end - hand.frames.start;
        let (_, acceleration) = derivative::twice(hand.grip, hand.rate_hz);
        let weight: Vec<Vector3<f64>> = acceleration[part.clone()]
            .iter()
            .map(|a| hand.gravity - a)
            .collect();
        let force = &self.turn(hand, FORCE)[part.clone()];
        // the same numbers, read in the other axes a sheet can name
        let numbers = frames.map(|f| self.signal.vector(FORCE, f));
        let (other, axes): (Vec<Vector3<f64>>, _) = match &self.axes {
            Axes::Lab(_) => (
                numbers.zip(&hand.r_wh[part]).map(|(v, r)| r * v).collect(),
                "if it were read in the hand's axes",
            ),
            Axes::Hand { .. } => (
                numbers.map(|v| self::polar(&self.into_scene, v)).collect(),
                "if it were read in lab axes",
            ),
        };
        let turned = direction::better_turned(force, (&other, axes), &weight)?;
        Some(Warning::ForceTurned {
            load: name.to_owned(),
            file: self.signal.file.clone(),
            suggestion: turned.words,
            mass_kg: turned.mass_kg,
            fit: turned.fit,
            fit_as_stated: turned.fit_as_stated,
        })
    }
}

impl Acting for ReadyForce {
    /// # Equation
    /// The recorded force and moment, turned into world axes; the same in the static part.
    fn act(&self, hand: &HandMotion<'_>) -> LoadSeries {
        let force = self.turn(hand, FORCE);
        let mut moment = if self.signal.has(MOMENT) {
            self.turn(hand, MOMENT)
        } else {
            vec![Vector3::zeros(); force.len()]
        };
        let at = self.positions(hand);
        self.add_levers(hand, &at, &force, &mut moment);
        let nowhere = match self.at {
            PointOfForce::Recorded { .. } => hand.frames.clone().map(|f| !self.signal.acts_at(f).1).collect(),
            PointOfForce::At(_) => Vec::new(),
        };
        LoadSeries {
            at,
            nowhere,
            static_force: force.clone(),
            static_moment: moment.clone(),
            force,
            moment,
            energy: Vec::new(),
        }
    }

    fn points(&self) -> Vec<PointId> {
        match &self.at {
            PointOfForce::At(at) => at.points(),
            PointOfForce::Recorded { .. } => Vec::new(),
        }
    }

    fn held(&self, hand: &HandMotion<'_>) -> Option<Held> {
        match &self.at {
            PointOfForce::At(at) => Held::of(at, hand, FASTENED_M),
            PointOfForce::Recorded { .. } => None,
        }
    }

    fn signal(&mut self) -> Option<&mut Signal> {
        Some(&mut self.signal)
    }

    fn has_signal(&self) -> bool {
        true
    }

    fn moves_with_hand(&self) -> bool {
        false
    }

    fn has_review(&self) -> bool {
        true
    }

    fn review(&self, name: &str, hand: &HandMotion<'_>, frames: Range<usize>) -> Review {
        let mut warnings: Vec<Warning> = self
            .signal
            .missing_warning(name, frames.clone(), |f| hand.view.scene().time(f))
            .into_iter()
            .collect();
        warnings.extend(self.clock_warning(name, hand, frames.clone()));
        warnings.extend(self.turned_warning(name, hand, frames.clone()));
        if let PointOfForce::Recorded { .. } = self.at {
            let away = self
                .positions(hand)
                .iter()
                .zip(hand.grip)
                .map(|(p, g)| (p - g).norm())
                .collect::<Vec<_>>();
            let counts = frames.clone().filter(|f| self.signal.acts_at(*f).1);
            let near = counts
                .map(|f| away[f - hand.frames.start])
                .fold(f64::NAN, f64::min);
            if near > FAR_FROM_HAND_M {
                warnings.push(Warning::LoadFarFromHand {
                    load: name.to_owned(),
                    file: self.signal.file.clone(),
                    nearest_m: near,
                });
            }
        }
        Review {
            warnings,
            unknown: self.signal.absent(frames),
        }
    }
}

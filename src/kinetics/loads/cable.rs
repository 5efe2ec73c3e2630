//! A cable that runs from the hand to a pulley.

use super::line::{FarEnd, Line, PULL_LIMIT_N};
use super::signal::{Columns, FileKeys, Part, Signal};
use super::{
    AT_HAND_KEY, AT_KEY, Acting, At, HandMotion, Held, Kind, LoadKind, LoadSeries, PointFinder, Review,
    Setting, TIME_OFFSET_KEY,
};
use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;
use crate::ground::scene::PointId;
use crate::ground::warning::Warning;
use crate::kinetics::KineticsError;
use std::ops::Range;

/// The group of the column `tension`.
const TENSION: usize = 0;
/// A cable can't push: tension below minus this is worth a word, N.
const PUSH_LIMIT_N: f64 = 1.0;

/// A cable as the sheet states it.
struct Cable {
    tension: Tension,
    at: At,
    pulley: FarEnd,
}

enum Tension {
    Constant(f64),
    Recorded(FileKeys),
}

/// What is registered of it.
pub(super) const KIND: Kind = Kind {
    name: "cable",
    table: "[[load]] kind = \"cable\"",
    about: "A pull of known tension from the hand towards a pulley.",
    keys: &[
        Key {
            key: "load.*.tension_n",
            kind: "number",
            unit: "N",
            default: "none; tension_n or file is required",
            meaning: "A constant tension.",
            example: "40.0",
        },
        Key {
            key: "load.*.file",
            kind: "text",
            unit: "",
            default: "none; see tension_n",
            meaning: "Recorded tension, from the sheet's folder: columns time_s, tension in N; or a C3D file.",
            example: "\"handle.csv\"",
        },
        Key {
            key: "load.*.channels",
            kind: "list of one text",
            unit: "",
            default: "none; required of a C3D file",
            meaning: "Label of the analog channel that is the tension in N.",
            example: "[\"Tension\"]",
        },
        TIME_OFFSET_KEY,
        Key {
            key: "load.*.pulley",
            kind: "text, or list of three numbers, two in a planar recording",
            unit: "markers.length_unit",
            default: "required",
            meaning: "Where the cable goes: a point of the recording, or a place in the lab.",
            example: "[0.0, 900.0, 200.0]",
        },
        AT_KEY,
        AT_HAND_KEY,
    ],
    read,
};

fn read(keys: &Keys, setting: &Setting<'_>) -> Result<Box<dyn LoadKind>, FormError> {
    let constant = keys.number_within("tension_n", 0.0, PULL_LIMIT_N, "N")?;
    let tension = match (constant, FileKeys::read(keys, setting.dir)?) {
        (Some(n), None) => Tension::Constant(n),
        (None, Some(file)) => Tension::Recorded(FileKeys {
            part: Part::read_tension(keys, &file.path)?,
            ..file
        }),
        (None, None) => {
            return Err(
                keys.missing("tension_n", "the tension in N, or `file` with the columns time_s, tension (of a C3D file: its `channels`)")
            );
        }
        (Some(_), Some(_)) => {
            return Err(FormError::Conflict {
                place: keys.place_of("file"),
                what: "a cable with both tension_n and file".into(),
                hint: "keep tension_n for a constant tension, or `file` for a recorded one".into(),
            });
        }
    };
    Ok(Box::new(Cable {
        tension,
        at: At::read(keys, setting.sides)?,
        pulley: FarEnd::read(keys, "pulley", setting)?,
    }))
}

impl LoadKind for Cable {
    fn name(&self) -> &'static str {
        "cable"
    }

    fn words(&self) -> String {
        let tension = match &self.tension {
            Tension::Constant(n) => format!("tension {n} N"),
            Tension::Recorded(file) => format!("tension recorded in {}", file.words()),
        };
        format!(
            "cable from the hand to {}, {tension}, {}",
            self.pulley.words(),
            self.at.words()
        )
    }

    fn thing(&self) -> Option<String> {
        match &self.tension {
            Tension::Constant(_) => None,
            Tension::Recorded(file) => Some(file.thing()),
        }
    }

    fn prepare(&self, points: &mut PointFinder<'_, '_>) -> Result<Box<dyn Acting>, KineticsError> {
        let tension = match &self.tension {
            Tension::Constant(n) => ReadyTension::Constant(*n),
            Tension::Recorded(file) => {
                let column = Columns {
                    names: &["tension"],
                    scale: 1.0,
                    needed: true,
                    steers: true,
                    may_lack: None,
                };
                ReadyTension::Recorded(Box::new(Signal::read(
                    file,
                    &[column],
                    points.max_gap_s,
                    points.warnings,
                )?))
            }
        };
        Ok(Box::new(ReadyCable {
            tension,
            line: Line::prepare(&self.at, &self.pulley, points)?,
        }))
    }
}

enum ReadyTension {
    Constant(f64),
    Recorded(Box<Signal>),
}

struct ReadyCable {
    tension: ReadyTension,
    line: Line,
}

impl Acting for ReadyCable {
    fn act(&self, hand: &HandMotion<'_>) -> LoadSeries {
        self.line.act(hand, |i, _| match &self.tension {
            ReadyTension::Constant(n) => *n,
            ReadyTension::Recorded(signal) => signal.scalar(TENSION, hand.frames.start + i),
        })
    }

    fn points(&self) -> Vec<PointId> {
        self.line.points()
    }

    fn held(&self, hand: &HandMotion<'_>) -> Option<Held> {
        Some(self.line.held(hand))
    }

    fn signal(&mut self) -> Option<&mut Signal> {
        match &mut self.tension {
            ReadyTension::Constant(_) => None,
            ReadyTension::Recorded(signal) => Some(signal),
        }
    }

    fn has_signal(&self) -> bool {
        matches!(self.tension, ReadyTension::Recorded(_))
    }

    fn has_review(&self) -> bool {
        matches!(self.tension, ReadyTension::Recorded(_))
    }

    fn review(&self, name: &str, hand: &HandMotion<'_>, frames: Range<usize>) -> Review {
        let ReadyTension::Recorded(signal) = &self.tension else {
            return Review::default();
        };
        let mut warnings: Vec<Warning> = signal
            .missing_warning(name, frames.clone(), |f| hand.view.scene().time(f))
            .into_iter()
            .collect();
        let pushing = frames
            .clone()
            .map(|f| signal.scalar(TENSION, f))
            .filter(|t| *t < -PUSH_LIMIT_N);
        let (count, lowest) = pushing.fold((0, 0.0_f64), |(n, low), t| (n + 1, low.min(t)));
        if count > 0 {
            warnings.push(Warning::CablePushes {
                load: name.to_owned(),
                file: signal.file.clone(),
                frames: count,
                lowest_n: lowest,
            });
        }
        Review {
            warnings,
            unknown: signal.absent(frames),
        }
    }
}

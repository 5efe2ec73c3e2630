//! An elastic band between the hand and an anchor.

use super::line::{FarEnd, Line, PULL_LIMIT_N};
use super::{
    AT_HAND_KEY, AT_KEY, Acting, At, HandMotion, Held, Kind, LoadKind, LoadSeries, PointFinder, Review,
    Setting,
};
use crate::ground::form::FormError;
use crate::ground::form::keys::{Keys, number_list};
use crate::ground::form::registry::Key;
use crate::ground::form::tree::Value;
use crate::ground::runs;
use crate::ground::scene::PointId;
use crate::ground::warning::Warning;
use crate::kinetics::KineticsError;
use std::ops::Range;

/// Longest band taken for one, m.
const LENGTH_LIMIT_M: f64 = 50.0;
/// Lengths this close to an end of the table count as that end, m: below what any marker can tell.
const END_TOLERANCE_M: f64 = 1e-9;

/// A measured force-length table.
///
/// # Equation
/// Linear between rows (the band's own curve between two measured lengths is not known). Below the first
/// length zero if its force is zero (slack), else unknown; beyond the last length unknown: a band stiffens
/// before it tears, so nothing is extrapolated.
#[derive(Clone, Debug, PartialEq)]
struct ForceLength(Vec<(f64, f64)>);

impl ForceLength {
    fn read(keys: &Keys) -> Result<Self, FormError> {
        const EXPECTED: &str =
            "at least two rows [length in m, force in N], like [[0.30, 0.0], [0.60, 41.5], [0.90, 72.0]]";
        let Some(node) = keys.node("force_length") else {
            return Err(keys.missing("force_length", EXPECTED));
        };
        let key = || keys.path_of("force_length");
        let Value::List(items) = &node.value else {
            return Err(FormError::WrongKind {
                place: node.place.clone(),
                key: key(),
                found: node.value.describe(),
                expected: EXPECTED.into(),
            });
        };
        let mut rows: Vec<(f64, f64)> = Vec::new();
        for item in items {
            let Some([length, force]) = number_list(item)
                .as_deref()
                .and_then(|r| <[f64; 2]>::try_from(r).ok())
            else {
                return Err(FormError::WrongKind {
                    place: item.place.clone(),
                    key: key(),
                    found: item.value.describe(),
                    expected: "a row of two numbers, [length in m, force in N]".into(),
                });
            };
            let wrong = |found: String, expected: String| FormError::OutOfRange {
                place: item.place.clone(),
                key: key(),
                found,
                expected,
            };
            if !(0.0..=LENGTH_LIMIT_M).contains(&length) {
                return Err(wrong(
                    format!("a length of {length} m"),
                    format!("a length from 0 to {LENGTH_LIMIT_M} m, in metres"),
                ));
            }
            if !(0.0..=PULL_LIMIT_N).contains(&force) {
                return Err(wrong(
                    format!("a force of {force} N"),
                    format!("a force from 0 to {PULL_LIMIT_N} N: a band can't push"),
                ));
            }
            if let Some((before, _)) = rows.last()
                && length <= *before
            {
                return Err(wrong(
                    format!("{length} m after {before} m"),
                    "lengths that increase from row to row".into(),
                ));
            }
            rows.push((length, force));
        }
        if rows.len() < 2 {
            return Err(keys.out_of_range(
                "force_length",
                format!("a table of {} rows", rows.len()),
                EXPECTED,
            ));
        }
        Ok(Self(rows))
    }

    fn span_m(&self) -> (f64, f64) {
        (self.0[0].0, self.0[self.0.len() - 1].0)
    }

    /// Force at a length, N; missing where the table does not reach.
    fn force(&self, length: f64) -> f64 {
        let (first, last) = self.span_m();
        if length < first && self.0[0].1 == 0.0 {
            return 0.0;
        }
        if !(first - END_TOLERANCE_M..=last + END_TOLERANCE_M).contains(&length) {
            return f64::NAN;
        }
        let i = self
            .0
            .partition_point(|r| r.0 <= length)
            .clamp(1, self.0.len() - 1);
        let ((x0, y0), (x1, y1)) = (self.0[i - 1], self.0[i]);
        y0 + (y1 - y0) * ((length - x0) / (x1 - x0)).clamp(0.0, 1.0)
    }
}

/// A band as the sheet states it.
struct ElasticBand {
    table: ForceLength,
    at: At,
    anchor: FarEnd,
}

/// What is registered of it.
pub(super) const KIND: Kind = Kind {
    name: "elastic-band",
    table: "[[load]] kind = \"elastic-band\"",
    about: "A band between the hand and an anchor, with its measured force over length.",
    keys: &[
        Key {
            key: "load.*.force_length",
            kind: "list of rows of two numbers",
            unit: "m, N",
            default: "required",
            meaning: "Measured force of the band at each length, at least two rows; straight lines between them, unknown beyond the last.",
            example: "[[0.30, 0.0], [0.60, 41.5], [0.90, 72.0]]",
        },
        Key {
            key: "load.*.anchor",
            kind: "text, or list of three numbers, two in a planar recording",
            unit: "markers.length_unit",
            default: "required",
            meaning: "Where the band is tied: a point of the recording, or a place in the lab.",
            example: "[0.0, 900.0, 200.0]",
        },
        AT_KEY,
        AT_HAND_KEY,
    ],
    read,
};

fn read(keys: &Keys, setting: &Setting<'_>) -> Result<Box<dyn LoadKind>, FormError> {
    Ok(Box::new(ElasticBand {
        table: ForceLength::read(keys)?,
        at: At::read(keys, setting.sides)?,
        anchor: FarEnd::read(keys, "anchor", setting)?,
    }))
}

impl LoadKind for ElasticBand {
    fn name(&self) -> &'static str {
        "elastic-band"
    }

    fn words(&self) -> String {
        let (first, last) = self.table.span_m();
        format!(
            "elastic band from the hand to {}, {}, force by a table of {} rows from {first} to {last} m, linear between them",
            self.anchor.words(),
            self.at.words(),
            self.table.0.len()
        )
    }

    fn prepare(&self, points: &mut PointFinder<'_, '_>) -> Result<Box<dyn Acting>, KineticsError> {
        Ok(Box::new(ReadyBand {
            table: self.table.clone(),
            line: Line::prepare(&self.at, &self.anchor, points)?,
        }))
    }
}

struct ReadyBand {
    table: ForceLength,
    line: Line,
}

impl Acting for ReadyBand {
    fn act(&self, hand: &HandMotion<'_>) -> LoadSeries {
        self.line.act(hand, |_, length| self.table.force(length))
    }

    fn points(&self) -> Vec<PointId> {
        self.line.points()
    }

    fn held(&self, hand: &HandMotion<'_>) -> Option<Held> {
        Some(self.line.held(hand))
    }

    fn has_review(&self) -> bool {
        true
    }

    fn review(&self, name: &str, hand: &HandMotion<'_>, frames: Range<usize>) -> Review {
        let (_, ways) = self.line.ways(hand);
        let lengths: Vec<f64> = ways[frames.start - hand.frames.start..frames.end - hand.frames.start]
            .iter()
            .map(|w| w.norm())
            .collect();
        let (first, last) = self.table.span_m();
        let off = |l: f64| l.is_finite() && self.table.force(l).is_nan();
        let beyond: Vec<f64> = lengths.iter().copied().filter(|l| off(*l)).collect();
        let warnings = if beyond.is_empty() {
            Vec::new()
        } else {
            vec![Warning::BandOffTable {
                load: name.to_owned(),
                frames: beyond.len(),
                of: hand.view.scene().pauses.rows_in(frames.clone()),
                shortest_m: beyond.iter().copied().fold(f64::INFINITY, f64::min),
                longest_m: beyond.iter().copied().fold(0.0, f64::max),
                first_m: first,
                last_m: last,
            }]
        };
        let unknown = runs(lengths.len(), |i| off(lengths[i]))
            .into_iter()
            .map(|r| r.start + frames.start..r.end + frames.start)
            .collect();
        Review { warnings, unknown }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_the_table_is_linear_inside_slack_below_and_unknown_beyond() {
        let t = ForceLength(vec![(0.3, 0.0), (0.5, 20.0), (0.9, 40.0)]);
        assert_eq!(t.force(0.1), 0.0);
        assert_eq!(t.force(0.3), 0.0);
        assert!((t.force(0.4) - 10.0).abs() < 1e-12 && (t.force(0.7) - 30.0).abs() < 1e-12);
        assert_eq!(t.force(0.9), 40.0);
        assert!(t.force(0.91).is_nan() && t.force(f64::NAN).is_nan());
        let stretched = ForceLength(vec![(0.3, 5.0), (0.5, 20.0)]);
        assert!(stretched.force(0.2).is_nan());
        assert_eq!(stretched.force(0.3), 5.0);
    }
}

//! Every movement counts once, every participant is one person: what several sheets must not say.

use super::AgreementError;
use crate::ground::names::Side;
use crate::ground::place::Place;
use crate::results::{ArmResults, Positions, TrialResults};
use crate::sheet::TrialSheet;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::Path;

/// Two joint centres nearer to each other than this stand in one place, m: rounding to a tenth of a
/// millimetre, less than anyone repeats a movement by.
const ONE_PLACE_M: f64 = 1e-4;
/// Frames with the same time that have to agree before two movements are called one.
const FEWEST_FRAMES: usize = 20;
/// Share of them that has to agree: smoothing differs near the ends of a file that was cut.
const SHARE: f64 = 0.95;
/// Times nearer to each other than this are the same, s.
const SAME_TIME_S: f64 = 1e-6;

/// An arm that was counted.
struct Counted {
    sheet: String,
    file: Place,
    side: Side,
    content: u64,
    time_s: Vec<f64>,
    /// Elbow and wrist centre of every frame, m.
    places: Vec<[[f64; 3]; 2]>,
}

/// What has been counted so far.
#[derive(Default)]
pub struct Once {
    arms: Vec<Counted>,
}

impl Once {
    /// Counts the arms of a trial.
    ///
    /// # Errors
    /// An arm whose movement another sheet has brought already: from a file with the same content (whatever
    /// its name) at overlapping times, or from one in which its joint centres stand in the same places at the
    /// same times (packed, rounded, renamed, cut).
    pub fn count(&mut self, sheet: &TrialSheet, results: &TrialResults) -> Result<(), AgreementError> {
        let content = content_of(&sheet.markers.file);
        let name = sheet.path.display().to_string();
        let fresh: Vec<Counted> = results
            .arms
            .iter()
            .map(|arm| Counted {
                sheet: name.clone(),
                file: sheet.markers.file_place.clone(),
                side: arm.side,
                content,
                time_s: results.time_s.clone(),
                places: places(arm),
            })
            .collect();
        for new in &fresh {
            if let Some((old, how)) = self
                .arms
                .iter()
                .find_map(|old| Some((old, how_the_same(old, new)?)))
            {
                return Err(AgreementError::SameMovement {
                    place: new.file.clone(),
                    side: new.side,
                    first: old.file.clone(),
                    first_side: old.side,
                    how: how.into(),
                });
            }
        }
        self.arms.extend(fresh);
        Ok(())
    }
}

/// A number that stands for what a file holds.
fn content_of(file: &Path) -> u64 {
    let mut hasher = DefaultHasher::new();
    match std::fs::read(file) {
        Ok(bytes) => bytes.hash(&mut hasher),
        // it was read a moment ago; now only its name is known
        Err(_) => file.hash(&mut hasher),
    }
    hasher.finish()
}

fn places(arm: &ArmResults) -> Vec<[[f64; 3]; 2]> {
    let Some(p) = &arm.positions else {
        return Vec::new();
    };
    (0..p.xyz.ncols())
        .map(|f| [p.at(Positions::ELBOW, f), p.at(Positions::WRIST, f)])
        .collect()
}

fn how_the_same(old: &Counted, new: &Counted) -> Option<&'static str> {
    if old.sheet == new.sheet {
        return None;
    }
    let ends = |c: &Counted| Some((*c.time_s.first()?, *c.time_s.last()?));
    let overlap = matches!((ends(old), ends(new)), (Some(a), Some(b)) if a.0.max(b.0) < a.1.min(b.1));
    if old.content == new.content && old.side == new.side && overlap {
        return Some("the two files have the same content, and the times overlap");
    }
    let (mut shared, mut agreeing) = (0_usize, 0_usize);
    let (mut i, mut k) = (0, 0);
    while i < old.places.len().min(old.time_s.len()) && k < new.places.len().min(new.time_s.len()) {
        let later = new.time_s[k] - old.time_s[i];
        if later > SAME_TIME_S {
            i += 1;
        } else if later < -SAME_TIME_S {
            k += 1;
        } else {
            let apart = (0..2)
                .flat_map(|p| (0..3).map(move |x| (p, x)))
                .map(|(p, x)| (old.places[i][p][x] - new.places[k][p][x]).abs());
            let apart = apart.fold(0.0, |a: f64, b| {
                if a.is_nan() || b.is_nan() {
                    f64::NAN
                } else {
                    a.max(b)
                }
            });
            if apart.is_finite() {
                shared += 1;
                agreeing += usize::from(apart < ONE_PLACE_M);
                // most pairs are told apart by their first frames
                if shared == FEWEST_FRAMES && agreeing == 0 {
                    return None;
                }
            }
            (i, k) = (i + 1, k + 1);
        }
    }
    let same = shared >= FEWEST_FRAMES && agreeing as f64 >= SHARE * shared as f64;
    same.then_some("elbow and wrist stand in the same places at the same times")
}

/// Refuses sheets that give one participant two sexes, masses or statures.
///
/// # Errors
/// With both places.
pub fn one_person_each(sheets: &[TrialSheet]) -> Result<(), AgreementError> {
    for (i, b) in sheets.iter().enumerate() {
        for a in &sheets[..i] {
            let (p, q) = (&a.participant, &b.participant);
            let Some(id) = p.id.as_ref().filter(|id| Some(*id) == q.id.as_ref()) else {
                continue;
            };
            let differs = |x: Option<f64>, y: Option<f64>| matches!((x, y), (Some(x), Some(y)) if x != y);
            let (what, one, other, places) = if let (Some(x), Some(y)) = (p.sex, q.sex)
                && x != y
            {
                (
                    "sex",
                    x.name().to_owned(),
                    y.name().to_owned(),
                    (&p.places.sex, &q.places.sex),
                )
            } else if p.body_mass_kg != q.body_mass_kg {
                let words = |m: f64| format!("{m} kg");
                (
                    "body_mass_kg",
                    words(p.body_mass_kg),
                    words(q.body_mass_kg),
                    (&p.places.body_mass, &q.places.body_mass),
                )
            } else if differs(p.stature_m, q.stature_m) {
                let words = |m: Option<f64>| m.map_or(String::new(), |m| format!("{m} m"));
                (
                    "stature_m",
                    words(p.stature_m),
                    words(q.stature_m),
                    (&p.places.stature, &q.places.stature),
                )
            } else {
                continue;
            };
            return Err(AgreementError::TwoPersons {
                place: places.1.clone(),
                id: id.clone(),
                what,
                found: other,
                first: places.0.clone(),
                expected: one,
            });
        }
    }
    Ok(())
}

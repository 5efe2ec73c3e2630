//! Names of landmarks and joint centres.
//!
//! # Source
//! Abbreviations: Wu et al. (2005) J Biomech 38:981. SJC, EJC, WJC for joint centres given directly: de Leva
//! (1996) J Biomech 29:1223.

use super::closest;
use super::form::FormError;
use super::names::{Segment, Side};
use super::place::Place;

/// Midline landmarks: no side.
pub const MIDLINE: [&str; 4] = ["IJ", "PX", "C7", "T8"];
/// Landmarks and centres that exist once for each side.
pub const SIDED: [&str; 16] = [
    "AC", "AA", "TS", "AI", "PC", "GH", "SJC", "EL", "EM", "EJC", "RS", "US", "WJC", "MCP2", "MCP3", "MCP5",
];

/// A point that is computed, not recorded: `right.SJC (functional)`. It stands in for the landmark and
/// belongs to the same segment.
pub fn made(side: Side, landmark: &str, how: &str) -> String {
    format!("{side}.{landmark} ({how})")
}

/// The segment whose cluster a landmark follows.
pub fn segment_of(landmark: &str) -> Option<Segment> {
    Some(match landmark.split(" (").next().unwrap_or(landmark) {
        "IJ" | "PX" | "C7" | "T8" => Segment::Thorax,
        "AC" | "AA" | "TS" | "AI" | "PC" => Segment::Scapula,
        "GH" | "SJC" | "EL" | "EM" | "EJC" => Segment::UpperArm,
        "RS" | "US" | "WJC" => Segment::Forearm,
        "MCP2" | "MCP3" | "MCP5" => Segment::Hand,
        _ => return None,
    })
}

/// Name of a sided landmark: `right.EL`.
pub fn sided(side: Side, landmark: &str) -> String {
    format!("{side}.{landmark}")
}

/// Our name for a point of a file: a bare sided landmark belongs to the only arm of the trial.
pub fn own_name(file_name: &str, sides: &[Side]) -> String {
    match sides {
        [only] if SIDED.contains(&file_name) => sided(*only, file_name),
        _ => file_name.to_owned(),
    }
}

/// A name that is no landmark.
pub struct UnknownLandmark {
    found: String,
    choices: Vec<String>,
}

impl UnknownLandmark {
    /// As an error of the sheet.
    pub fn at(self, place: Place, key: &str) -> FormError {
        let suggestion = closest(&self.found, self.choices.iter().map(String::as_str)).map(str::to_owned);
        FormError::UnknownChoice {
            place,
            key: key.to_owned(),
            found: self.found,
            choices: self.choices,
            suggestion,
        }
    }
}

/// Checks a landmark name as a sheet may write it and gives it its side.
pub fn canonical(text: &str, sides: &[Side]) -> Result<String, UnknownLandmark> {
    let name = own_name(text, sides);
    let known = match name.split_once('.') {
        Some((side, landmark)) => Side::ALL.iter().any(|s| s.name() == side) && SIDED.contains(&landmark),
        None => MIDLINE.contains(&name.as_str()),
    };
    if known {
        return Ok(name);
    }
    let choices = MIDLINE
        .iter()
        .map(|m| (*m).to_owned())
        .chain(sides.iter().flat_map(|s| {
            SIDED.iter().map(|l| {
                if sides.len() == 1 {
                    (*l).to_owned()
                } else {
                    sided(*s, l)
                }
            })
        }))
        .collect();
    Err(UnknownLandmark {
        found: text.to_owned(),
        choices,
    })
}

//! The classroom's route: static free-body problems of elbow and shoulder, solved in closed form and
//! explained.
//!
//! The second, independent way to a static moment: it must not call kinetics and shares no code with the
//! Newton-Euler pass.
//!
//! # Frames and units
//! One vertical plane: X forward (to the right on paper), Y up; SI inside. A moment is + counter-clockwise:
//! it flexes the elbow and raises the arm forwards.
//!
//! | quantity | convention |
//! |---|---|
//! | forearm angle θ | to the horizontal, + with the hand above the elbow |
//! | upper-arm angle φ | from hanging down, + forwards |
//! | elbow flexion ε | 0 = straight; ε = θ + 90° - φ, so any two fix the third |
//! | distance d of a weight | along its link: from the elbow on the forearm and hand (in line with it), from the shoulder on the upper arm |
//! | lever x of a weight | horizontal distance from the joint, + in front of it; on the forearm d cos θ |
//! | load that does not hang | its direction α counts from straight forwards, + upwards; its lever x is the perpendicular distance of its line, + where muscles have to flex (raise): x = d sin(θ - α) |
//! | net moment M | what muscles must give: internal, acting on the distal segment, about the joint centre; M = Σ W x |
//! | muscle's line of action | direction of its pull on the forearm; the angle β between it and the bone towards the elbow is measured at the insertion: 90° is square to the forearm, 0° straight towards the elbow. An extensor is inserted behind the elbow, in line with the forearm |
//! | muscle's moment arm r | perpendicular distance from the joint to the line of action, + on the muscle's own side: given, or d sin β, or from insertion and origin by the law of cosines, or a published curve of ε |
//! | which side pulls | flexors where M flexes, extensors where it extends; a muscle never pushes, and the other side rests |
//! | joint force J | bone on bone, acting on the forearm by the upper arm: J = - (sum of loads) - ΣF u |
//!
//! Where a muscle is given by its moment arm (a number or a curve), its pull is taken as parallel to the
//! upper arm unless the problem says otherwise: that decides the direction of the joint force and nothing
//! else.
//!
//! [`problem`] reads, [`solve`] finds the one unknown, [`balance`] has the physics, [`worked`] writes the
//! solution, [`render`] prints it, [`sweep`] runs through the elbow angle, [`practice`] makes problem sheets.
//! The pages are drawn by [`report`](crate::report).

// An error is built once a run: its size costs nothing.
#![allow(clippy::result_large_err)]

pub mod balance;
pub mod practice;
pub mod problem;
pub mod quantity;
pub mod recorded;
pub mod render;
pub mod solve;
pub mod sweep;
pub mod worked;

use crate::ground::form::FormError;
use crate::ground::place::{Fault, Place};
use solve::NoAnswer;
use thiserror::Error;

/// What can be wrong with a problem.
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
#[derive(Clone, Debug, Error)]
pub enum StaticsError {
    /// The file can't be read.
    #[error("{place}: can't read the problem sheet: {reason}")]
    Unreadable { place: Place, reason: String },
    /// Something the sheet's reader found.
    #[error(transparent)]
    Sheet(#[from] FormError),
    /// A text that is not a quantity of the right kind.
    #[error("{place}: '{key}' is {found}; expected {expected}")]
    Quantity {
        place: Place,
        key: String,
        found: String,
        expected: String,
        hint: String,
    },
    /// Two things asked for.
    #[error("{second_place}: a second unknown, '{second}'; '{first}' ({first_place}) is one already")]
    TwoUnknowns {
        first: String,
        first_place: Place,
        second: String,
        second_place: Place,
    },
    /// Nothing asked for.
    #[error("{place}: nothing is left to find: {what}")]
    NothingUnknown { place: Place, what: String },
    /// An unknown without the condition that fixes it.
    #[error("{place}: '{unknown}' is to be found, but nothing says what it has to bring about")]
    NoTarget { place: Place, unknown: String },
    /// More conditions than unknowns.
    #[error("{place}: '{first}' and '{second}' are both given; one condition is enough for one unknown")]
    TwoTargets {
        place: Place,
        first: String,
        second: String,
    },
    /// The sheet is complete but can't be solved as it stands.
    #[error("{place}: {what}")]
    Incomplete {
        place: Place,
        what: String,
        hint: String,
    },
    /// There is no answer.
    #[error("{place}: {reason}")]
    NoAnswer { place: Place, reason: NoAnswer },
}

impl Fault for StaticsError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            StaticsError::Unreadable { .. } => "check the path; `armload statics --help` shows a problem given by flags alone".into(),
            StaticsError::Sheet(e) => return e.hint(),
            StaticsError::Quantity { hint, .. } | StaticsError::Incomplete { hint, .. } => hint.clone(),
            StaticsError::TwoUnknowns { .. } => {
                "keep one \"?\" and give a value to the other; a rigid body in balance settles one unknown here".into()
            }
            StaticsError::NothingUnknown { .. } => "put \"?\" in place of the value to be found".into(),
            StaticsError::NoTarget { .. } => {
                "give one of: flexor.force (--flexor-force), extensor.force (--extensor-force), given.elbow_moment (--elbow-moment), given.shoulder_moment (--shoulder-moment); a muscle's own lever follows from its force"
                    .into()
            }
            StaticsError::TwoTargets { .. } => "leave one of them out".into(),
            StaticsError::NoAnswer { reason, .. } => reason.hint().into(),
        })
    }

    fn place(&self) -> Option<&Place> {
        match self {
            StaticsError::Unreadable { place, .. }
            | StaticsError::Quantity { place, .. }
            | StaticsError::NothingUnknown { place, .. }
            | StaticsError::NoTarget { place, .. }
            | StaticsError::TwoTargets { place, .. }
            | StaticsError::Incomplete { place, .. }
            | StaticsError::NoAnswer { place, .. } => Some(place),
            StaticsError::Sheet(e) => e.place(),
            StaticsError::TwoUnknowns { first_place, .. } => Some(first_place),
        }
    }
}

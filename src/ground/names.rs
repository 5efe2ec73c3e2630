//! Names everybody shares: sides, sexes of the tables, segments, joints.

use schemars::JsonSchema;
use serde::Serialize;
use std::fmt;

/// Which arm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Right arm: computed as it is.
    Right,
    /// Left arm: mirrored through the sagittal plane, computed as a right arm, mapped back.
    Left,
}

impl Side {
    /// Both, in the order of output.
    pub const ALL: [Side; 2] = [Side::Right, Side::Left];
    /// `right` or `left`.
    pub fn name(self) -> &'static str {
        match self {
            Side::Right => "right",
            Side::Left => "left",
        }
    }
    /// The other arm.
    pub fn other(self) -> Self {
        match self {
            Side::Right => Side::Left,
            Side::Left => Side::Right,
        }
    }
    /// Factor on world Z that mirrors this side onto a right arm.
    pub fn mirror(self) -> f64 {
        match self {
            Side::Right => 1.0,
            Side::Left => -1.0,
        }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// Column of an anthropometric table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sex {
    /// Women's column.
    Female,
    /// Men's column.
    Male,
}

impl Sex {
    /// `female` or `male`.
    pub fn name(self) -> &'static str {
        match self {
            Sex::Female => "female",
            Sex::Male => "male",
        }
    }
}

/// A rigid segment of the model.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Segment {
    /// Trunk: gives axes, carries no mass here.
    Thorax,
    /// Shoulder blade: carries landmarks only.
    Scapula,
    /// Shoulder centre to elbow centre.
    UpperArm,
    /// Elbow centre to wrist centre.
    Forearm,
    /// Wrist centre to the middle of the knuckles.
    Hand,
}

impl Segment {
    /// All, proximal to distal.
    pub const ALL: [Segment; 5] = [
        Segment::Thorax,
        Segment::Scapula,
        Segment::UpperArm,
        Segment::Forearm,
        Segment::Hand,
    ];
    /// As a sheet writes it.
    pub fn name(self) -> &'static str {
        match self {
            Segment::Thorax => "thorax",
            Segment::Scapula => "scapula",
            Segment::UpperArm => "upper_arm",
            Segment::Forearm => "forearm",
            Segment::Hand => "hand",
        }
    }
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Segment::UpperArm => "upper arm",
            other => other.name(),
        }
    }
}

/// A joint of the model; loads there act on the distal segment by the proximal one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Joint {
    /// Hand on forearm.
    Wrist,
    /// Forearm on upper arm.
    Elbow,
    /// Upper arm on trunk.
    Shoulder,
}

impl Joint {
    /// As an output column writes it.
    pub fn name(self) -> &'static str {
        match self {
            Joint::Wrist => "wrist",
            Joint::Elbow => "elbow",
            Joint::Shoulder => "shoulder",
        }
    }
}

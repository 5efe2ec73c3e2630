//! Anthropometric tables: segment masses, mass centres and radii of gyration as fractions.
//!
//! To add a table: write its rows below and list it in [`ALL`].

use crate::ground::names::Sex;
use nalgebra::Vector3;

/// A body part a row describes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// Shoulder centre to elbow centre.
    UpperArm,
    /// Elbow centre to wrist centre.
    Forearm,
    /// Wrist centre to third metacarpal head.
    Hand,
    /// Elbow to wrist, with the hand's mass.
    ForearmAndHand,
}

/// One row of a table, in percent as printed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Column for women or men; `None` if the table has one for all.
    pub sex: Option<Sex>,
    /// Body part.
    pub part: Part,
    /// Endpoints as the source names them.
    pub endpoints: (&'static str, &'static str),
    /// Length of the source's sample, mm, where printed.
    pub reference_length_mm: Option<f64>,
    /// Percent of body mass.
    pub mass_percent: f64,
    /// Mass centre from the proximal end, percent of length.
    pub com_percent: f64,
    /// Radii of gyration about the mass centre, percent of length: about X (sagittal, antero-posterior axis),
    /// Y (longitudinal), Z (transverse, medio-lateral axis).
    pub radii_percent: [f64; 3],
}

impl Row {
    /// Fraction of body mass.
    pub fn mass_fraction(&self) -> f64 {
        self.mass_percent / 100.0
    }
    /// Fraction of the length from the proximal end.
    pub fn com_fraction(&self) -> f64 {
        self.com_percent / 100.0
    }
    /// Radii as fractions of the length, in inertia axes.
    pub fn radii(&self) -> Vector3<f64> {
        Vector3::from(self.radii_percent) / 100.0
    }
}

/// A table.
#[derive(Debug)]
pub struct Table {
    /// As a sheet names it.
    pub name: &'static str,
    /// For people.
    pub title: &'static str,
    /// Where it was published.
    pub source: &'static str,
    /// How the numbers came here.
    pub status: &'static str,
    /// Whether rows differ by sex.
    pub by_sex: bool,
    /// Whether X and Z share one radius and Y has none.
    pub one_radius: bool,
    /// Stature of the source's sample, m: women, men; from memory.
    pub reference_stature_m: Option<[f64; 2]>,
    /// The rows.
    pub rows: &'static [Row],
}

impl Table {
    /// The row for a body part.
    pub fn row(&self, part: Part, sex: Option<Sex>) -> Option<&'static Row> {
        self.rows
            .iter()
            .find(|r| r.part == part && (r.sex.is_none() || r.sex == sex))
    }

    /// Whether the hand's row ends at a point that has a landmark here.
    pub fn hand_can_be_segment(&self) -> bool {
        self.rows.iter().any(|r| r.part == Part::Hand)
    }

    /// Mean length of a segment in the table's sample, m; scaled to a person's stature if both statures are known, and
    /// whether it was. `None` if the table prints no length.
    ///
    /// # Equation
    /// length = printed length x stature / stature of the sample
    pub fn length_by_stature(
        &self,
        part: Part,
        sex: Option<Sex>,
        stature_m: Option<f64>,
    ) -> Option<(f64, bool)> {
        let printed_m = self.row(part, sex)?.reference_length_mm? * 1e-3;
        Some(match self.reference_stature(sex).zip(stature_m) {
            Some((sample_m, own_m)) => (printed_m * own_m / sample_m, true),
            None => (printed_m, false),
        })
    }

    /// Stature of the source's sample for a sex, m.
    pub fn reference_stature(&self, sex: Option<Sex>) -> Option<f64> {
        let [female, male] = self.reference_stature_m?;
        Some(match sex? {
            Sex::Female => female,
            Sex::Male => male,
        })
    }
}

#[allow(clippy::too_many_arguments)] // one printed row, in the order of the page
const fn row(
    sex: Sex,
    part: Part,
    endpoints: (&'static str, &'static str),
    [mm, mass, com, sagittal, transverse, longitudinal]: [f64; 6],
) -> Row {
    Row {
        sex: Some(sex),
        part,
        endpoints,
        reference_length_mm: Some(mm),
        mass_percent: mass,
        com_percent: com,
        radii_percent: [sagittal, longitudinal, transverse],
    }
}

/// Table 4 of de Leva (1996), the rows used here.
pub static DELEVA_1996: Table = Table {
    name: "deleva-1996",
    title: "adjustments to segment inertia parameters of young adults",
    source: "de Leva P (1996) J Biomech 29:1223-1230, table 4",
    status: "two separate copies agree; reference statures 1.735 m (women) and 1.741 m (men) from memory",
    by_sex: true,
    one_radius: false,
    reference_stature_m: Some([1.735, 1.741]),
    rows: &[
        row(
            Sex::Female,
            Part::UpperArm,
            ("SJC", "EJC"),
            [275.1, 2.55, 57.54, 27.8, 26.0, 14.8],
        ),
        row(
            Sex::Female,
            Part::Forearm,
            ("EJC", "WJC"),
            [264.3, 1.38, 45.59, 26.1, 25.7, 9.4],
        ),
        row(
            Sex::Female,
            Part::Hand,
            ("WJC", "MET3"),
            [78.0, 0.56, 74.74, 53.1, 45.4, 33.5],
        ),
        row(
            Sex::Male,
            Part::UpperArm,
            ("SJC", "EJC"),
            [281.7, 2.71, 57.72, 28.5, 26.9, 15.8],
        ),
        row(
            Sex::Male,
            Part::Forearm,
            ("EJC", "WJC"),
            [268.9, 1.62, 45.74, 27.6, 26.5, 12.1],
        ),
        row(
            Sex::Male,
            Part::Hand,
            ("WJC", "MET3"),
            [86.2, 0.61, 79.0, 62.8, 51.3, 40.1],
        ),
    ],
};

const fn one_radius(
    part: Part,
    endpoints: (&'static str, &'static str),
    mass: f64,
    com: f64,
    rg: f64,
) -> Row {
    Row {
        sex: None,
        part,
        endpoints,
        reference_length_mm: None,
        mass_percent: mass,
        com_percent: com,
        radii_percent: [rg, 0.0, rg],
    }
}

/// Dempster as tabulated by Winter. The hand's own row ends at a knuckle that has no landmark here, so only
/// forearm + hand is carried.
pub static DEMPSTER_WINTER: Table = Table {
    name: "dempster-winter",
    title: "cadaver data of Dempster as tabulated by Winter",
    source: "Winter DA, Biomechanics and Motor Control of Human Movement, table 4.1 (Dempster 1955)",
    status: "one copy; radii about the proximal end agree with the parallel-axis theorem to 3 digits",
    by_sex: false,
    one_radius: true,
    reference_stature_m: None,
    rows: &[
        one_radius(
            Part::UpperArm,
            ("glenohumeral axis", "elbow axis"),
            2.8,
            43.6,
            32.2,
        ),
        one_radius(Part::Forearm, ("elbow axis", "ulnar styloid"), 1.6, 43.0, 30.3),
        one_radius(
            Part::ForearmAndHand,
            ("elbow axis", "ulnar styloid"),
            2.2,
            68.2,
            46.8,
        ),
    ],
};

/// Every table.
pub static ALL: [&Table; 2] = [&DELEVA_1996, &DEMPSTER_WINTER];
/// The table used when none is named.
pub static DEFAULT: &Table = &DELEVA_1996;

/// A table by name.
pub fn find(name: &str) -> Option<&'static Table> {
    ALL.into_iter().find(|t| t.name == name)
}

/// All names.
pub fn names() -> Vec<&'static str> {
    ALL.iter().map(|t| t.name).collect()
}

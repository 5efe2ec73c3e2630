//! Stage 7: from the net moment to muscles and joint: how hard muscles have to pull, and what the elbow bears. Estimates
//! on top of an equilibrium fact.
//!
//! [`Muscles`] is the model of a trial: one equivalent muscle a side, or several that share by a rule ([`sharing`], with
//! pronation [`two_degrees`]). Moment arms are [`curves`] of the elbow's flexion, constants, or those of straight lines
//! between points; cross-sections are [`areas`]; `[muscles]` of a sheet is read by [`settings`], a file of muscles by
//! `own.rs`.

pub mod areas;
pub mod curves;
mod own;
pub mod settings;
pub mod sharing;
pub mod two_degrees;

use curves::{Curve, listed};
use nalgebra::{Matrix3, Vector3};
use sharing::Sharing;
use std::fmt::Write;
use two_degrees::Two;

/// Where a moment arm comes from; flexor (pronator) +.
#[derive(Clone, Debug, PartialEq)]
pub enum Arm {
    /// The same at every angle, m.
    Constant(f64),
    /// A published curve of the flexion: its name, and its polynomial in rad and m.
    Curve(&'static str, [f64; 6]),
    /// Points (flexion in rad, arm in m) with straight lines between them; unknown beyond.
    Points(Vec<(f64, f64)>),
    /// That of the straight line from insertion to origin.
    OfLine,
}

impl Arm {
    fn of(curve: &Curve) -> Self {
        Arm::Curve(curve.name, curve.polynomial_m())
    }

    /// Moment arm at a flexion (rad), m; `None` where it is that of a line in space.
    pub fn at(&self, flexion: f64) -> Option<f64> {
        Some(match self {
            Arm::Constant(r) if flexion.is_finite() => *r,
            Arm::Constant(_) => f64::NAN,
            Arm::Curve(_, c) => curves::polynomial(c, flexion),
            Arm::Points(points) => {
                let i = points.partition_point(|p| p.0 <= flexion);
                match (points.get(i.wrapping_sub(1)), points.get(i)) {
                    (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (flexion - a.0) / (b.0 - a.0),
                    (Some(a), None) if a.0 == flexion => a.1,
                    _ => f64::NAN,
                }
            }
            Arm::OfLine => return None,
        })
    }

    /// For people.
    fn words(&self) -> String {
        match self {
            Arm::Constant(r) => format!("a constant moment arm of {:.2} cm", 100.0 * r.abs()),
            Arm::Curve(name, _) => curves::curve(name).map_or_else(|| (*name).to_owned(), Curve::words),
            Arm::Points(p) => format!("a curve through {} points of the file", p.len()),
            Arm::OfLine => "the moment arm of the straight line between its points".into(),
        }
    }
}

/// Where a muscle pulls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Line {
    /// Along the humerus towards the shoulder: the classroom's simplification.
    AlongHumerus,
    /// Straight from insertion to origin.
    Points {
        /// m from the elbow centre in the upper arm's axes (forwards, towards the shoulder, outwards).
        origin: Vector3<f64>,
        /// m from the elbow centre in the forearm's axes.
        insertion: Vector3<f64>,
    },
}

/// A muscle of the model.
#[derive(Clone, Debug, PartialEq)]
pub struct Muscle {
    /// Its name.
    pub name: String,
    /// About flexion.
    pub arm: Arm,
    /// About pronation.
    pub pronation: Option<Arm>,
    /// Cross-section, m².
    pub area: f64,
    /// Where the cross-section is from.
    pub area_source: String,
    /// Where it pulls.
    pub line: Line,
}

impl Muscle {
    /// As a column names it.
    pub fn column(&self) -> String {
        let part = |c: char| {
            if c.is_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '_'
            }
        };
        self.name.chars().map(part).collect()
    }
}

/// How many muscles there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Model {
    /// One equivalent flexor, and one equivalent extensor where the net moment extends.
    Single,
    /// Several that share.
    Shared,
}

/// The muscles of a trial.
#[derive(Clone, Debug, PartialEq)]
pub struct Muscles {
    /// Which model.
    pub model: Model,
    /// Every muscle, flexors first where they are published ones.
    pub list: Vec<Muscle>,
    /// How they share.
    pub rule: Sharing,
    /// Whether pronation is balanced, too.
    pub pronation: bool,
    /// Part of the net moment by which antagonists are assumed to pull against it; 0: none.
    pub cocontraction: f64,
    /// Factor on all moment arms; 1 unless a doubt is looked at.
    pub arms_times: f64,
}

/// An arm in one instant.
///
/// # Frames and units
/// Mirrored world axes; the forearm's axes are those of its angles (Y from the ulnar styloid to the elbow centre). rad,
/// N·m, N.
#[derive(Clone, Copy, Debug)]
pub struct Instant {
    /// Elbow flexion.
    pub flexion: f64,
    /// Net moment about flexion and pronation.
    pub moment: Two,
    /// Net force on the forearm by the upper arm.
    pub force: Vector3<f64>,
    /// Upper arm.
    pub r_wu: Matrix3<f64>,
    /// Forearm.
    pub r_wf: Matrix3<f64>,
}

/// Rows of what muscles do in a frame: first the force of each, then the moment arm of each, then these.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Row {
    /// Force of a muscle, N.
    Force(usize),
    /// Moment arm of a muscle about flexion, m.
    Arm(usize),
    /// Contact force on the forearm by the upper arm along an axis of the forearm, N.
    ContactForearm(usize),
    /// The same along an axis of the upper arm, N.
    ContactHumerus(usize),
    /// Force of all muscles added up with the assumed co-contraction, N.
    CocontractedForce,
    /// Size of the contact force with it, N.
    CocontractedContact,
    /// Lever of everything that the forearm holds at rest, m.
    LoadArm,
    /// Size of that: forearm, hand and loads, N.
    Held,
}

/// Rows beside those of the muscles.
const OTHER_ROWS: usize = 10;

impl Muscles {
    /// Index of a row.
    pub fn row(&self, row: Row) -> usize {
        let n = self.list.len();
        match row {
            Row::Force(i) => i,
            Row::Arm(i) => n + i,
            Row::ContactForearm(k) => 2 * n + k,
            Row::ContactHumerus(k) => 2 * n + 3 + k,
            Row::CocontractedForce => 2 * n + 6,
            Row::CocontractedContact => 2 * n + 7,
            Row::LoadArm => 2 * n + 8,
            Row::Held => 2 * n + 9,
        }
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        2 * self.list.len() + OTHER_ROWS
    }

    /// Whether a row needs the posture alone.
    pub fn of_posture(&self, row: usize) -> bool {
        let n = self.list.len();
        (n..2 * n).contains(&row) || row >= self.row(Row::LoadArm)
    }

    /// Direction in which a muscle pulls on the forearm.
    ///
    /// # Equation
    /// Along the humerus: the upper arm's Y. Between points: from insertion to origin, o - i over its length.
    pub fn direction(&self, i: usize, at: &Instant) -> Vector3<f64> {
        match &self.list[i].line {
            Line::AlongHumerus => at.r_wu.column(1).into(),
            Line::Points { origin, insertion } => (at.r_wu * origin - at.r_wf * insertion).normalize(),
        }
    }

    /// Moment of a unit pull about flexion (the upper arm's Z) and pronation (the forearm's Y), m.
    ///
    /// # Equation
    /// (i x u) · axis with i the insertion from the elbow centre and u the direction of the pull.
    fn arm_of_line(&self, m: usize, at: &Instant) -> Two {
        let Line::Points { insertion, .. } = &self.list[m].line else {
            return [f64::NAN; 2];
        };
        let moment = (at.r_wf * insertion).cross(&self.direction(m, at));
        [moment.dot(&at.r_wu.column(2)), moment.dot(&at.r_wf.column(1))]
    }

    /// Moment arms about flexion, m.
    fn arms(&self, at: &Instant, out: &mut [f64]) {
        for (i, (m, r)) in self.list.iter().zip(out.iter_mut()).enumerate() {
            *r = self.arms_times * m.arm.at(at.flexion).unwrap_or_else(|| self.arm_of_line(i, at)[0]);
        }
    }

    /// Moment arm of a muscle about pronation, m.
    pub fn pronation_arm(&self, i: usize, at: &Instant) -> f64 {
        let given = self.list[i].pronation.as_ref().map(|p| p.at(at.flexion));
        self.arms_times
            * match given {
                Some(Some(r)) => r,
                Some(None) => self.arm_of_line(i, at)[1],
                None => f64::NAN,
            }
    }

    /// Moment arm of the flexors together: what a net moment of 1 N·m takes in force, the other way round, m.
    pub fn flexor_arm(&self, arms: &[f64]) -> f64 {
        let mut forces = vec![0.0; arms.len()];
        if arms.iter().any(|r| r.is_nan()) || !self.share(1.0, arms, &mut forces) {
            return f64::NAN;
        }
        1.0 / forces.iter().sum::<f64>()
    }

    fn share(&self, moment: f64, arms: &[f64], out: &mut [f64]) -> bool {
        // muscles are few: their cross-sections fit on the stack
        let mut areas = [0.0; MOST_MUSCLES];
        for (a, m) in areas.iter_mut().zip(&self.list) {
            *a = m.area;
        }
        self.rule.share(moment, arms, &areas[..arms.len()], out)
    }

    /// Forces of all muscles; missing where the moment or an arm is, or no muscle can balance it.
    fn forces(&self, at: &Instant, arms: &[f64], out: &mut [f64]) {
        let known = at.moment[0].is_finite() && arms.iter().all(|r| r.is_finite());
        let found = known
            && if self.pronation {
                let both: Vec<Two> = (0..arms.len())
                    .map(|i| [arms[i], self.pronation_arm(i, at)])
                    .collect();
                let areas: Vec<f64> = self.list.iter().map(|m| m.area).collect();
                let known = at.moment[1].is_finite() && both.iter().all(|r| r[1].is_finite());
                match known
                    .then(|| two_degrees::forces(self.rule, at.moment, &both, &areas))
                    .flatten()
                {
                    Some(f) => {
                        out.copy_from_slice(&f);
                        true
                    }
                    None => false,
                }
            } else {
                self.share(at.moment[0], arms, out)
            };
        if !found {
            out.fill(f64::NAN);
        }
    }

    /// What is left for bone and ligaments: contact force on the forearm by the upper arm.
    ///
    /// # Equation
    /// C = F_net - sum F_i u_i
    fn contact(&self, at: &Instant, forces: &[f64]) -> Vector3<f64> {
        (0..forces.len())
            .filter(|i| forces[*i] != 0.0)
            .fold(at.force, |c, i| c - self.direction(i, at) * forces[i])
    }

    /// Writes the rows of one instant.
    ///
    /// # Shape
    /// [`Self::rows`] values, as [`Self::row`] has them; what is held at rest and its lever are the caller's.
    pub fn write(&self, at: &Instant, out: &mut [f64]) {
        let n = self.list.len();
        let (forces, rest) = out.split_at_mut(n);
        let (arms, rest) = rest.split_at_mut(n);
        self.arms(at, arms);
        self.forces(at, arms, forces);
        let contact = self.contact(at, forces);
        let (of_forearm, of_humerus) = (at.r_wf.tr_mul(&contact), at.r_wu.tr_mul(&contact));
        rest[..3].copy_from_slice(of_forearm.as_slice());
        rest[3..6].copy_from_slice(of_humerus.as_slice());
        let [force, contact] = self.cocontracted(at, arms, forces);
        (rest[6], rest[7]) = (force, contact);
    }

    /// Force of all muscles added up and size of the contact force if the other side pulled against the net moment;
    /// missing without such an assumption.
    ///
    /// # Equation
    /// With c the assumed fraction the side at work gives (1 + c) M and the other side -c M, each shared by the rule.
    fn cocontracted(&self, at: &Instant, arms: &[f64], forces: &[f64]) -> [f64; 2] {
        if self.cocontraction == 0.0 || forces.iter().any(|f| f.is_nan()) {
            return [f64::NAN; 2];
        }
        let mut against = vec![0.0; arms.len()];
        if !self.share(-self.cocontraction * at.moment[0], arms, &mut against) {
            return [f64::NAN; 2];
        }
        for (a, f) in against.iter_mut().zip(forces) {
            *a += (1.0 + self.cocontraction) * f;
        }
        [against.iter().sum(), self.contact(at, &against).norm()]
    }

    /// What is known of the model, for reports: one sentence a thing.
    pub fn words(&self) -> String {
        let mut out = match self.model {
            Model::Single => {
                let of = |i: usize| self.list[i].arm.words();
                format!(
                    "one equivalent flexor with {}; where the net moment extends one equivalent extensor with {}",
                    of(0),
                    of(1)
                )
            }
            Model::Shared => {
                let each: Vec<&str> = self.list.iter().map(|m| m.name.as_str()).collect();
                let over = if self.pronation {
                    "flexion and pronation balanced together"
                } else {
                    "those of the side that the net moment asks for"
                };
                format!("{}, {over}, sharing by {}", listed(&each), self.rule.name())
            }
        };
        if self.list.iter().any(|m| matches!(m.arm, Arm::Curve(..))) {
            let _ = write!(
                out,
                " ({}; used from {}° to {}° of flexion, the curves' own range is not stated)",
                curves::CURVE_SOURCE,
                curves::CURVE_RANGE_DEG.0,
                curves::CURVE_RANGE_DEG.1
            );
        }
        out
    }

    /// Where the muscles pull, for reports.
    pub fn line_words(&self) -> String {
        let by_points: Vec<&str> = self
            .list
            .iter()
            .filter(|m| m.line != Line::AlongHumerus)
            .map(|m| m.name.as_str())
            .collect();
        let along = "pull along the humerus towards the shoulder (the classroom's simplification: it decides the direction of the contact force and nothing else; the brachioradialis really runs along the forearm)";
        match by_points.len() {
            0 => format!("All muscles {along}."),
            n if n == self.list.len() => {
                "Muscles pull straight from insertion to origin; none wraps around bone.".into()
            }
            _ => format!(
                "{} pull straight from insertion to origin, the others {along}.",
                listed(&by_points)
            ),
        }
    }

    /// The model with all moment arms times a factor and the cross-section of one muscle times another.
    pub fn varied(&self, arms_times: f64, area: Option<(usize, f64)>) -> Self {
        let mut out = self.clone();
        out.arms_times *= arms_times;
        if let Some((i, times)) = area {
            out.list[i].area *= times;
        }
        out
    }
}

/// Most muscles of a model.
pub const MOST_MUSCLES: usize = 24;

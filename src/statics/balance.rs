//! The physics: two links in a vertical plane, loads on them, muscles on both sides of the elbow. Everything
//! known, everything computed. SI.
//!
//! The conventions are those of [the module](super).

use crate::muscles::curves::Curve;
use crate::muscles::sharing::Sharing;

/// Below this moment arm a muscle counts as having no lever, m: forces would be more rounding than physics.
pub const SHORTEST_LEVER_M: f64 = 1e-6;
/// Nearer than this to where it is led, m, a line has no direction.
const SHORTEST_LINE_M: f64 = 1e-3;

/// A link that carries a load.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    /// Distances are from the elbow, towards the hand. The hand is in line with the forearm.
    Forearm,
    /// Distances are from the shoulder, towards the elbow.
    UpperArm,
}

/// A joint that places are counted from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Joint {
    /// The elbow.
    Elbow,
    /// The shoulder.
    Shoulder,
}

impl Joint {
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Joint::Elbow => "elbow",
            Joint::Shoulder => "shoulder",
        }
    }
}

/// Which way a load pulls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pull {
    /// Straight down, as a weight does.
    Hangs,
    /// In a direction, rad from straight forwards, + counter-clockwise: 90° is straight up.
    Along(f64),
    /// Along a line to a pulley or an anchor.
    Towards {
        /// Forward and up, m.
        to: Plane,
        /// Counted from here.
        from: Joint,
    },
}

/// What a force table runs over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TableOf {
    /// Length of the line from the point of action to where it is led, m.
    Length,
    /// Elbow flexion, rad.
    Elbow,
}

/// Forces of a cable or a band, straight lines between its points. Nothing is said beyond its ends.
#[derive(Clone, Debug, PartialEq)]
pub struct ForceTable {
    /// What it runs over.
    pub of: TableOf,
    /// Rising places and their forces (N).
    pub points: Vec<(f64, f64)>,
}

impl ForceTable {
    /// The force at a place, N; missing outside of the table.
    ///
    /// # Equation
    /// Linear interpolation between neighbours.
    pub fn at(&self, x: f64) -> Option<f64> {
        // ends belong to the table, rounding included
        let near = |a: f64| (x - a).abs() <= 1e-9 * a.abs().max(1e-3);
        if let Some(end) = self.points.iter().find(|p| near(p.0)) {
            return Some(end.1);
        }
        self.points
            .windows(2)
            .find(|w| (w[0].0..=w[1].0).contains(&x))
            .map(|w| {
                let t = (x - w[0].0) / (w[1].0 - w[0].0);
                w[0].1 + t * (w[1].1 - w[0].1)
            })
    }
}

/// A load at a point of a link: a weight, or a pull in another direction.
#[derive(Clone, Debug, PartialEq)]
pub struct PointWeight {
    /// Which link.
    pub on: Link,
    /// N, along its pull; not used where there is a table.
    pub weight: f64,
    /// m along the link.
    pub at: f64,
    /// Which way it pulls.
    pub pull: Pull,
    /// Its force where that depends on the posture.
    pub table: Option<ForceTable>,
}

impl PointWeight {
    /// Something that hangs.
    pub fn hanging(on: Link, weight: f64, at: f64) -> Self {
        Self {
            on,
            weight,
            at,
            pull: Pull::Hangs,
            table: None,
        }
    }
}

/// The line a muscle pulls along, from its insertion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Line {
    /// Parallel to the upper arm, towards the shoulder.
    UpperArm,
    /// Straight up.
    Vertical,
    /// At this angle to the forearm, rad: 0 pulls straight along the bone towards the elbow, 90° square to
    /// it.
    ToForearm(f64),
}

/// Where a muscle's lever comes from.
#[derive(Clone, Copy, Debug)]
pub enum Course {
    /// A moment arm given once for all angles, m.
    MomentArm(f64, Line),
    /// Insertion (m from the elbow) and line of action.
    Insertion(f64, Line),
    /// Insertion and origin, m from the elbow.
    Points {
        /// On the forearm; of an extensor, behind the elbow.
        insertion: f64,
        /// On the upper arm.
        origin: f64,
    },
    /// A published curve of the elbow angle.
    Curve(&'static Curve, Line),
}

/// What a muscle does to the elbow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Acts {
    /// Flexes.
    Flexes,
    /// Extends.
    Extends,
}

impl Acts {
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Acts::Flexes => "flexor",
            Acts::Extends => "extensor",
        }
    }
    /// Sign of its moment.
    pub fn sign(self) -> f64 {
        match self {
            Acts::Flexes => 1.0,
            Acts::Extends => -1.0,
        }
    }
}

/// A muscle.
#[derive(Clone, Copy, Debug)]
pub struct Muscle {
    /// What it does.
    pub acts: Acts,
    /// Where its lever comes from.
    pub course: Course,
    /// Cross-section, m²; matters where several share.
    pub area: f64,
}

/// A direction or a point in the plane: forward, up.
pub type Plane = [f64; 2];

fn cross(a: Plane, b: Plane) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

fn dot(a: Plane, b: Plane) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn minus(a: Plane, b: Plane) -> Plane {
    [a[0] - b[0], a[1] - b[1]]
}

fn times(k: f64, a: Plane) -> Plane {
    [k * a[0], k * a[1]]
}

/// A problem in which everything is known.
#[derive(Clone, Debug)]
pub struct Setting {
    /// What is carried, and what else pulls.
    pub weights: Vec<PointWeight>,
    /// Forearm to the horizontal, rad; + with the hand above the elbow.
    pub forearm: f64,
    /// Upper arm from hanging, rad; + forwards.
    pub upper_arm: f64,
    /// Shoulder to elbow, m; without it there is no shoulder problem.
    pub upper_arm_length: Option<f64>,
    /// The muscles of the problem.
    pub muscles: Vec<Muscle>,
    /// How several of one side share.
    pub sharing: Sharing,
}

/// A muscle's lever in a posture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lever {
    /// Perpendicular distance from the elbow to the line of action, m; + on the muscle's own side.
    pub moment_arm: f64,
    /// Direction of the pull on the forearm.
    pub direction: Plane,
    /// Place of the insertion along the forearm, m, where the problem has one; an extensor's is behind the
    /// elbow, below zero.
    pub insertion: Option<f64>,
    /// Angle between the line of action and the bone towards the elbow, rad.
    pub angle_to_forearm: f64,
}

/// A load in a posture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Acting {
    /// Where it acts, m from the elbow.
    pub at: Plane,
    /// Unit vector of its pull.
    pub direction: Plane,
    /// N
    pub size: f64,
    /// Length of the line to where it is led, m.
    pub line: Option<f64>,
}

impl Acting {
    /// N
    pub fn force(&self) -> Plane {
        times(self.size, self.direction)
    }
    /// Lever about a point, m: what muscles have to give for each newton, + if they have to flex or raise.
    ///
    /// # Equation
    /// x = - (p × u) with p from the point to where the load acts and u its direction; for a weight the
    /// horizontal distance.
    pub fn lever_about(&self, point: Plane) -> f64 {
        -cross(minus(self.at, point), self.direction)
    }
}

impl Setting {
    /// Elbow flexion, rad: 0 = straight.
    ///
    /// # Equation
    /// flexion = forearm + 90° - upper arm
    pub fn elbow(&self) -> f64 {
        self.forearm + std::f64::consts::FRAC_PI_2 - self.upper_arm
    }

    /// Direction of the forearm, elbow to hand.
    pub fn forearm_direction(&self) -> Plane {
        [self.forearm.cos(), self.forearm.sin()]
    }

    /// Direction from the elbow to the shoulder.
    pub fn towards_shoulder(&self) -> Plane {
        [-self.upper_arm.sin(), self.upper_arm.cos()]
    }

    /// The shoulder, m from the elbow.
    pub fn shoulder(&self) -> Option<Plane> {
        Some(times(self.upper_arm_length?, self.towards_shoulder()))
    }

    /// A load in this posture; `None` where its line has no direction or its table says nothing.
    pub fn acting(&self, w: &PointWeight) -> Option<Acting> {
        let at = match w.on {
            Link::Forearm => times(w.at, self.forearm_direction()),
            Link::UpperArm => times(self.upper_arm_length? - w.at, self.towards_shoulder()),
        };
        let (direction, line) = match w.pull {
            Pull::Hangs => ([0.0, -1.0], None),
            Pull::Along(a) => ([a.cos(), a.sin()], None),
            Pull::Towards { to, from } => {
                let origin = match from {
                    Joint::Elbow => [0.0, 0.0],
                    Joint::Shoulder => self.shoulder()?,
                };
                let way = minus([origin[0] + to[0], origin[1] + to[1]], at);
                let length = way[0].hypot(way[1]);
                if length < SHORTEST_LINE_M {
                    return None;
                }
                (times(1.0 / length, way), Some(length))
            }
        };
        let size = match &w.table {
            None => w.weight,
            Some(t) => t.at(match t.of {
                TableOf::Length => line?,
                TableOf::Elbow => self.elbow(),
            })?,
        };
        Some(Acting {
            at,
            direction,
            size,
            line,
        })
    }

    /// The first load that can't be had in this posture.
    pub fn unknown_load(&self) -> Option<usize> {
        self.weights.iter().position(|w| self.acting(w).is_none())
    }

    /// Whether a load hangs and all its lever is a horizontal distance.
    pub fn all_hang(&self) -> bool {
        self.weights.iter().all(|w| w.pull == Pull::Hangs)
    }

    /// Lever of a load about the elbow, m; only loads beyond the elbow have one.
    pub fn elbow_lever(&self, w: &PointWeight) -> Option<f64> {
        if w.on == Link::UpperArm {
            return None;
        }
        Some(self.acting(w)?.lever_about([0.0, 0.0]))
    }

    /// Lever of a load about the shoulder, m.
    pub fn shoulder_lever(&self, w: &PointWeight) -> Option<f64> {
        Some(self.acting(w)?.lever_about(self.shoulder()?))
    }

    fn beyond(&self, joint: Joint) -> impl Iterator<Item = &PointWeight> {
        self.weights
            .iter()
            .filter(move |w| joint == Joint::Shoulder || w.on == Link::Forearm)
    }

    /// Net moment at the elbow, N·m; + flexes. Not a number where a load is not known.
    ///
    /// # Equation
    /// M = sum W x
    pub fn elbow_moment(&self) -> f64 {
        self.beyond(Joint::Elbow)
            .map(|w| {
                self.acting(w)
                    .map_or(f64::NAN, |a| a.size * a.lever_about([0.0, 0.0]))
            })
            .sum()
    }

    /// Net moment at the shoulder, N·m; + raises the arm forwards.
    ///
    /// # Equation
    /// M = sum W x
    pub fn shoulder_moment(&self) -> Option<f64> {
        let shoulder = self.shoulder()?;
        Some(
            self.weights
                .iter()
                .map(|w| {
                    self.acting(w)
                        .map_or(f64::NAN, |a| a.size * a.lever_about(shoulder))
                })
                .sum(),
        )
    }

    /// All loads beyond a joint together, N.
    pub fn loads(&self, joint: Joint) -> Plane {
        self.beyond(joint)
            .map(|w| self.acting(w).map_or([f64::NAN; 2], |a| a.force()))
            .fold([0.0, 0.0], |s, f| [s[0] + f[0], s[1] + f[1]])
    }

    /// Size of all loads beyond the elbow together, N.
    pub fn supported(&self) -> f64 {
        let sum = self.loads(Joint::Elbow);
        sum[0].hypot(sum[1])
    }

    /// A muscle's lever; `None` where a curve is not stated or a line has no direction.
    ///
    /// # Equation
    /// Direction u of the pull from its line; r = ± p × u with p the insertion from the elbow (+ for a
    /// flexor, - for an extensor, whose insertion is behind the elbow). With an origin, u points from
    /// insertion to origin, which gives r = a b sin(flexion) / sqrt(a² + b² ± 2 a b cos(flexion)) (law of
    /// cosines; the angle at the elbow is 180° - flexion for a flexor, the flexion for an extensor).
    pub fn lever_of(&self, m: &Muscle) -> Option<Lever> {
        let f = self.forearm_direction();
        let side = m.acts.sign();
        // the bone from the insertion towards the elbow, and square to it on the side of the upper arm
        let (home, square) = (times(-side, f), [-f[1], f[0]]);
        let along = |line: Line| match line {
            Line::UpperArm => self.towards_shoulder(),
            Line::Vertical => [0.0, 1.0],
            Line::ToForearm(b) => [
                b.cos() * home[0] + b.sin() * square[0],
                b.cos() * home[1] + b.sin() * square[1],
            ],
        };
        let lever = |u: Plane, r: f64, insertion: Option<f64>| Lever {
            moment_arm: r,
            direction: u,
            insertion,
            angle_to_forearm: dot(u, square).atan2(dot(u, home)),
        };
        match m.course {
            Course::MomentArm(r, line) => Some(lever(along(line), r, None)),
            Course::Curve(curve, line) => {
                let r = side * curve.moment_arm(self.elbow());
                r.is_finite().then(|| lever(along(line), r, None))
            }
            Course::Insertion(b, line) => {
                let u = along(line);
                Some(lever(u, b * cross(f, u), Some(side * b)))
            }
            Course::Points {
                insertion: b,
                origin: a,
            } => {
                let d = minus(times(a, self.towards_shoulder()), times(side * b, f));
                let length = d[0].hypot(d[1]);
                if length <= SHORTEST_LEVER_M {
                    return None;
                }
                let u = times(1.0 / length, d);
                Some(lever(u, b * cross(f, u), Some(side * b)))
            }
        }
    }

    /// The side that holds the loads: flexors where the net moment flexes, extensors where it extends;
    /// without a moment the side that the problem has.
    pub fn side_at_work(&self) -> Acts {
        let m = self.elbow_moment();
        let has = |acts: Acts| self.muscles.iter().any(|m| m.acts == acts);
        let without = if has(Acts::Flexes) || !has(Acts::Extends) {
            Acts::Flexes
        } else {
            Acts::Extends
        };
        // the dust of a cosine at 90° is no moment
        let scale: f64 = self
            .beyond(Joint::Elbow)
            .filter_map(|w| Some(self.acting(w)?.size * w.at))
            .sum();
        if m.abs() <= 1e-12 * scale {
            without
        } else if m > 0.0 {
            Acts::Flexes
        } else {
            Acts::Extends
        }
    }

    /// Muscles at work, by their index.
    pub fn at_work(&self) -> Vec<usize> {
        let side = self.side_at_work();
        (0..self.muscles.len())
            .filter(|i| self.muscles[*i].acts == side)
            .collect()
    }

    /// The muscle at work, or the first of them.
    pub fn lead(&self) -> Option<&Muscle> {
        self.at_work()
            .first()
            .map(|i| &self.muscles[*i])
            .or(self.muscles.first())
    }

    /// Its lever.
    pub fn lever(&self) -> Option<Lever> {
        self.lever_of(self.lead()?)
    }

    /// Force of every muscle, N: 0 for the side that is not at work. `None` where nothing on the side at work
    /// has a lever.
    ///
    /// # Equation
    /// F = |M| / r; several share as [`Sharing`] says. One that has no lever here pulls in vain and is left
    /// at 0.
    pub fn muscle_forces(&self) -> Option<Vec<f64>> {
        let m = self.elbow_moment();
        if !m.is_finite() {
            return None;
        }
        let mut at_work = Vec::new();
        for i in self.at_work() {
            let r = self.lever_of(&self.muscles[i])?.moment_arm;
            if r > SHORTEST_LEVER_M {
                at_work.push((i, r));
            }
        }
        let mut all = vec![0.0; self.muscles.len()];
        match at_work.as_slice() {
            [] => return None,
            [(i, r)] => all[*i] = m.abs() / r,
            several => {
                let (arms, areas): (Vec<f64>, Vec<f64>) =
                    several.iter().map(|(i, r)| (*r, self.muscles[*i].area)).unzip();
                for ((i, _), f) in several.iter().zip(self.sharing.forces(m.abs(), &arms, &areas)) {
                    all[*i] = f;
                }
            }
        }
        Some(all)
    }

    /// Forces of all muscles at work added up, N.
    pub fn muscle_force(&self) -> Option<f64> {
        Some(self.muscle_forces()?.iter().sum())
    }

    /// Bone-on-bone force at the elbow, acting on the forearm, N.
    ///
    /// # Equation
    /// J = - sum L - sum F u
    pub fn joint_force(&self) -> Option<Plane> {
        let loads = self.loads(Joint::Elbow);
        let mut joint = times(-1.0, loads);
        for (m, f) in self
            .muscles
            .iter()
            .zip(self.muscle_forces()?)
            .filter(|(_, f)| *f != 0.0)
        {
            joint = minus(joint, times(f, self.lever_of(m)?.direction));
        }
        Some(joint)
    }

    /// The joint force along the forearm (+ away from the elbow: the upper arm presses on it) and square to
    /// it (+ on the flexor side), N.
    pub fn joint_force_on_forearm(&self) -> Option<Plane> {
        let (j, f) = (self.joint_force()?, self.forearm_direction());
        Some([dot(j, f), cross(f, j)])
    }

    /// A point on a muscle's line of action, m from the elbow: the insertion where the problem has one, else
    /// the foot of the perpendicular from the joint.
    pub fn attachment(&self, m: &Muscle) -> Option<Plane> {
        let lever = self.lever_of(m)?;
        let r = m.acts.sign() * lever.moment_arm;
        Some(match lever.insertion {
            Some(b) => times(b, self.forearm_direction()),
            None => [r * lever.direction[1], -r * lever.direction[0]],
        })
    }

    /// What is left over of the forearm's equilibrium when torques are summed about any point (m from the
    /// elbow): moment (N·m) and force (N). An independent check: it never uses that torques were balanced
    /// about the elbow.
    pub fn residual(&self, about: Plane) -> Option<(f64, Plane)> {
        let mut all = vec![([0.0, 0.0], self.joint_force()?)];
        for (m, force) in self
            .muscles
            .iter()
            .zip(self.muscle_forces()?)
            .filter(|(_, f)| *f != 0.0)
        {
            all.push((self.attachment(m)?, times(force, self.lever_of(m)?.direction)));
        }
        for w in self.beyond(Joint::Elbow) {
            let a = self.acting(w)?;
            all.push((a.at, a.force()));
        }
        let moment = all.iter().map(|(p, q)| cross(minus(*p, about), *q)).sum();
        Some((
            moment,
            [all.iter().map(|l| l.1[0]).sum(), all.iter().map(|l| l.1[1]).sum()],
        ))
    }
}

/// Kind of lever.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LeverClass {
    /// Joint between effort and load.
    First,
    /// Load between joint and effort.
    Second,
    /// Effort between joint and load.
    Third,
}

impl LeverClass {
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            LeverClass::First => "first class (the joint lies between effort and load)",
            LeverClass::Second => "second class (the load lies between joint and effort)",
            LeverClass::Third => "third class (the effort lies between joint and load)",
        }
    }
    /// `1`, `2`, `3`
    pub fn number(self) -> u8 {
        match self {
            LeverClass::First => 1,
            LeverClass::Second => 2,
            LeverClass::Third => 3,
        }
    }
}

/// How muscles and loads share the lever.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeverSystem {
    /// Class; only where every load is a weight on the forearm.
    pub class: Option<LeverClass>,
    /// Moment arm of the effort, m: of several muscles, their moment over the sum of their forces.
    pub effort_arm: f64,
    /// Moment arm of the loads' resultant, m; + where flexors hold it.
    pub load_arm: f64,
    /// Moment arm of the effort over that of the resistance.
    pub mechanical_advantage: f64,
    /// Muscle force over the load it holds.
    pub force_ratio: f64,
}

impl Setting {
    /// The elbow as a lever; `None` where nothing pulls on it.
    pub fn lever_system(&self) -> Option<LeverSystem> {
        let (force, load) = (self.muscle_force()?, self.supported());
        let moment = self.elbow_moment();
        let (effort_arm, load_arm) = (moment.abs() / force, moment / load);
        if !(load > 0.0 && load_arm.abs() > SHORTEST_LEVER_M && effort_arm > SHORTEST_LEVER_M) {
            return None;
        }
        // A flexor pulls in front of the joint, on the side of a weight in front of it; an extensor behind
        // it, on the side away from the forearm.
        let class = match self.side_at_work() {
            Acts::Extends => LeverClass::First,
            Acts::Flexes if load_arm < effort_arm => LeverClass::Second,
            Acts::Flexes => LeverClass::Third,
        };
        Some(LeverSystem {
            class: self.all_hang().then_some(class),
            effort_arm,
            load_arm,
            mechanical_advantage: effort_arm / load_arm.abs(),
            force_ratio: force / load,
        })
    }
}

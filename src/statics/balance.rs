//! The physics: two links in a vertical plane, weights on them, one flexor. Everything known, everything computed. SI.
//!
//! The conventions are those of [the module](super).

use crate::muscles::{Curve, Flexor as MomentArm};

/// Below this moment arm a flexor counts as having no lever, m: forces would be more rounding than physics.
pub const SHORTEST_LEVER_M: f64 = 1e-6;

/// A link that carries a weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    /// Distances are from the elbow, towards the hand. The hand is in line with the forearm.
    Forearm,
    /// Distances are from the shoulder, towards the elbow.
    UpperArm,
}

/// A weight at a point of a link.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointWeight {
    /// Which link.
    pub on: Link,
    /// N, down.
    pub weight: f64,
    /// m along the link.
    pub at: f64,
}

/// The line a flexor pulls along, from its insertion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Line {
    /// Parallel to the upper arm, towards the shoulder.
    UpperArm,
    /// Straight up.
    Vertical,
    /// At this angle to the forearm, rad: 0 pulls straight towards the elbow, 90° square to the forearm on the flexor side.
    ToForearm(f64),
}

/// Where the flexor's lever comes from.
#[derive(Clone, Copy, Debug)]
pub enum Flexor {
    /// A moment arm given once for all angles, m.
    MomentArm(f64, Line),
    /// Insertion on the forearm (m from the elbow) and line of action.
    Insertion(f64, Line),
    /// Insertion on the forearm and origin on the upper arm, m from the elbow.
    Points {
        /// On the forearm.
        insertion: f64,
        /// On the upper arm.
        origin: f64,
    },
    /// A published curve of the elbow angle.
    Curve(&'static Curve, Line),
}

/// A direction or a point in the plane: forward, up.
pub type Plane = [f64; 2];

fn cross(a: Plane, b: Plane) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

/// A problem in which everything is known.
#[derive(Clone, Debug)]
pub struct Setting {
    /// What is carried.
    pub weights: Vec<PointWeight>,
    /// Forearm to the horizontal, rad; + with the hand above the elbow.
    pub forearm: f64,
    /// Upper arm from hanging, rad; + forwards.
    pub upper_arm: f64,
    /// Shoulder to elbow, m; without it there is no shoulder problem.
    pub upper_arm_length: Option<f64>,
    /// The flexor, if there is one in the problem.
    pub flexor: Option<Flexor>,
}

/// The flexor's lever in a posture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lever {
    /// Perpendicular distance from the elbow to the line of action, m; + flexes.
    pub moment_arm: f64,
    /// Direction of the pull on the forearm.
    pub direction: Plane,
    /// Distance of the insertion along the forearm, m, where the problem has one.
    pub insertion: Option<f64>,
    /// Angle between the line of action and the forearm (elbow side), rad.
    pub angle_to_forearm: f64,
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

    /// Lever of a weight about the elbow, m forward; only weights beyond the elbow have one.
    ///
    /// # Equation
    /// x = d cos(forearm)
    pub fn elbow_lever(&self, w: &PointWeight) -> Option<f64> {
        (w.on == Link::Forearm).then(|| w.at * self.forearm.cos())
    }

    /// Lever of a weight about the shoulder, m forward.
    ///
    /// # Equation
    /// x = d sin(upper arm) on the upper arm; L sin(upper arm) + d cos(forearm) on the forearm
    pub fn shoulder_lever(&self, w: &PointWeight) -> Option<f64> {
        let length = self.upper_arm_length?;
        Some(match w.on {
            Link::UpperArm => w.at * self.upper_arm.sin(),
            Link::Forearm => length * self.upper_arm.sin() + w.at * self.forearm.cos(),
        })
    }

    /// Net moment at the elbow, N·m; + flexes.
    ///
    /// # Equation
    /// M = sum W x
    pub fn elbow_moment(&self) -> f64 {
        self.weights.iter().filter_map(|w| Some(w.weight * self.elbow_lever(w)?)).sum()
    }

    /// Net moment at the shoulder, N·m; + raises the arm forwards.
    ///
    /// # Equation
    /// M = sum W x
    pub fn shoulder_moment(&self) -> Option<f64> {
        self.upper_arm_length?;
        Some(self.weights.iter().filter_map(|w| Some(w.weight * self.shoulder_lever(w)?)).sum())
    }

    /// Net force at a joint, N, up: the weights beyond it.
    pub fn supported(&self, shoulder: bool) -> f64 {
        self.weights.iter().filter(|w| shoulder || w.on == Link::Forearm).map(|w| w.weight).sum()
    }

    /// The flexor's lever; `None` without a flexor or where a curve is not stated.
    ///
    /// # Equation
    /// Direction u of the pull from its line; r = f × u times the insertion distance, f the forearm's direction. With an origin, u points
    /// from insertion to origin, which gives r = a b sin(flexion) / sqrt(a² + b² + 2 a b cos(flexion)) (law of cosines; the angle in the triangle is 180° - flexion).
    pub fn lever(&self) -> Option<Lever> {
        let f = self.forearm_direction();
        let along = |line: Line| match line {
            Line::UpperArm => self.towards_shoulder(),
            Line::Vertical => [0.0, 1.0],
            Line::ToForearm(b) => [-b.cos() * f[0] - b.sin() * f[1], -b.cos() * f[1] + b.sin() * f[0]],
        };
        let angle = |u: Plane| cross(f, u).atan2(-(f[0] * u[0] + f[1] * u[1]));
        match self.flexor? {
            Flexor::MomentArm(r, line) => {
                let u = along(line);
                Some(Lever { moment_arm: r, direction: u, insertion: None, angle_to_forearm: angle(u) })
            }
            Flexor::Curve(curve, line) => {
                let r = MomentArm::Curve(curve).moment_arm(self.elbow());
                let u = along(line);
                r.is_finite().then(|| Lever { moment_arm: r, direction: u, insertion: None, angle_to_forearm: angle(u) })
            }
            Flexor::Insertion(b, line) => {
                let u = along(line);
                Some(Lever { moment_arm: b * cross(f, u), direction: u, insertion: Some(b), angle_to_forearm: angle(u) })
            }
            Flexor::Points { insertion: b, origin: a } => {
                let up = self.towards_shoulder();
                let d = [a * up[0] - b * f[0], a * up[1] - b * f[1]];
                let length = d[0].hypot(d[1]);
                if length <= SHORTEST_LEVER_M {
                    return None;
                }
                let u = [d[0] / length, d[1] / length];
                Some(Lever { moment_arm: b * cross(f, u), direction: u, insertion: Some(b), angle_to_forearm: angle(u) })
            }
        }
    }

    /// Force of the flexor, N; `None` where it has no lever. Negative where the weights extend nothing a flexor could hold.
    ///
    /// # Equation
    /// F = M / r
    pub fn flexor_force(&self) -> Option<f64> {
        let r = self.lever()?.moment_arm;
        (r > SHORTEST_LEVER_M).then(|| self.elbow_moment() / r)
    }

    /// Bone-on-bone force at the elbow, acting on the forearm, N.
    ///
    /// # Equation
    /// J = (0, sum W) - F u
    pub fn joint_force(&self) -> Option<Plane> {
        let (force, lever) = (self.flexor_force()?, self.lever()?);
        Some([-force * lever.direction[0], self.supported(false) - force * lever.direction[1]])
    }

    /// A point on the flexor's line of action, m from the elbow: the insertion where the problem has one, else the foot of the perpendicular from the joint.
    pub fn attachment(&self) -> Option<Plane> {
        let lever = self.lever()?;
        let f = self.forearm_direction();
        Some(match lever.insertion {
            Some(b) => [b * f[0], b * f[1]],
            None => [lever.moment_arm * lever.direction[1], -lever.moment_arm * lever.direction[0]],
        })
    }

    /// What is left over of the forearm's equilibrium when torques are summed about any point (m from the elbow): moment (N·m) and force (N).
    /// An independent check: it never uses that torques were balanced about the elbow.
    pub fn residual(&self, about: Plane) -> Option<(f64, Plane)> {
        let (force, lever, joint, at) = (self.flexor_force()?, self.lever()?, self.joint_force()?, self.attachment()?);
        let f = self.forearm_direction();
        let mut loads = vec![([0.0, 0.0], joint), (at, [force * lever.direction[0], force * lever.direction[1]])];
        loads.extend(self.weights.iter().filter(|w| w.on == Link::Forearm).map(|w| ([w.at * f[0], w.at * f[1]], [0.0, -w.weight])));
        let moment = loads.iter().map(|(p, q)| cross([p[0] - about[0], p[1] - about[1]], *q)).sum();
        Some((moment, [loads.iter().map(|l| l.1[0]).sum(), loads.iter().map(|l| l.1[1]).sum()]))
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

/// How the flexor and the weights share the lever.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeverSystem {
    /// Class.
    pub class: LeverClass,
    /// Moment arm of the effort, m.
    pub effort_arm: f64,
    /// Moment arm of the weights' resultant, m.
    pub load_arm: f64,
    /// Moment arm of the effort over that of the resistance.
    pub mechanical_advantage: f64,
    /// Flexor force over the weight it holds up.
    pub force_ratio: f64,
}

impl Setting {
    /// The elbow as a lever; `None` where nothing pulls on it.
    pub fn lever_system(&self) -> Option<LeverSystem> {
        let (effort_arm, weight) = (self.lever()?.moment_arm, self.supported(false));
        let load_arm = self.elbow_moment() / weight;
        if !(weight > 0.0 && load_arm.abs() > SHORTEST_LEVER_M && effort_arm > SHORTEST_LEVER_M) {
            return None;
        }
        // A flexor pulls up in front of the joint: same side as a weight in front of it.
        let class = match load_arm {
            x if x < 0.0 => LeverClass::First,
            x if x < effort_arm => LeverClass::Second,
            _ => LeverClass::Third,
        };
        Some(LeverSystem {
            class,
            effort_arm,
            load_arm,
            mechanical_advantage: effort_arm / load_arm,
            force_ratio: self.flexor_force()? / weight,
        })
    }
}

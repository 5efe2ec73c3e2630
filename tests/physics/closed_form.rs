//! Closed-form physics with analytic kinematics, straight into the Newton-Euler pass.
//!
//! Sources: the equations of plane and spatial rigid-body motion as any mechanics textbook derives them; the
//! named results (compound pendulum, conical pendulum of a uniform rod, torque-free symmetric top) from
//! memory, each derived in its test.

use crate::common::Worst;
use armload::anatomy::arm::ArmPose;
use armload::anatomy::body::{ArmBody, Rigid};
use armload::ground::names::{Segment, Side};
use armload::ground::rotation::unknown;
use armload::kinematics::{ArmMotion, SegmentMotion};
use armload::kinetics::loads::LoadSeries;
use armload::kinetics::newton_euler::{Applied, JointLoad, Pass, SegmentState, pass, proximal_load};
use nalgebra::{Matrix3, Rotation3, Vector3};

/// METHOD section 10: closed-form physics with analytic kinematics, relative to the largest term of the sum.
const CLOSED_FORM_REL: f64 = 1e-9;
const G: f64 = 9.80665;

fn down() -> Vector3<f64> {
    Vector3::new(0.0, -G, 0.0)
}

/// An arm whose joints are locked: one rigid body that turns about the shoulder, which itself may accelerate.
struct LockedArm {
    /// Axes of upper arm, forearm and hand in the world.
    r: [Matrix3<f64>; 3],
    /// Lengths of upper arm and forearm, m.
    lengths: [f64; 2],
    /// Masses, kg.
    masses: [f64; 3],
    /// Mass centres from the proximal joints, m.
    coms: [f64; 3],
    /// Principal moments about the mass centres, kg·m².
    moments: [Vector3<f64>; 3],
    omega: Vector3<f64>,
    alpha: Vector3<f64>,
    shoulder_acceleration: Vector3<f64>,
}

impl LockedArm {
    /// An arm of plausible size, straight, its long axis as given by `r` (Y from distal to proximal).
    fn straight(r: Matrix3<f64>) -> Self {
        Self {
            r: [r; 3],
            lengths: [0.28, 0.26],
            masses: [1.9, 1.1, 0.43],
            coms: [0.161, 0.118, 0.066],
            moments: [
                Vector3::new(0.012, 0.0035, 0.011),
                Vector3::new(0.0066, 0.0012, 0.0061),
                Vector3::new(0.0013, 0.0005, 0.0009),
            ],
            omega: Vector3::zeros(),
            alpha: Vector3::zeros(),
            shoulder_acceleration: Vector3::zeros(),
        }
    }

    fn body(&self) -> ArmBody {
        let rigid = |i: usize, segment, length_m| Rigid {
            segment,
            length_m,
            mass_kg: self.masses[i],
            com_m: self.coms[i],
            inertia_kg_m2: Matrix3::from_diagonal(&self.moments[i]),
            source: "made up".into(),
        };
        ArmBody {
            side: Side::Right,
            upper_arm: rigid(0, Segment::UpperArm, self.lengths[0]),
            forearm: rigid(1, Segment::Forearm, self.lengths[1]),
            hand: Some(rigid(2, Segment::Hand, 0.09)),
            straight_hand_com_m: self.coms[2],
        }
    }

    /// Shoulder, elbow, wrist with the shoulder at the origin.
    fn joints(&self) -> [Vector3<f64>; 3] {
        let long = |i: usize| Vector3::from(self.r[i].column(1));
        let e = -long(0) * self.lengths[0];
        [Vector3::zeros(), e, e - long(1) * self.lengths[1]]
    }

    /// Mass centres.
    fn centres(&self) -> [Vector3<f64>; 3] {
        let p = self.joints();
        [0, 1, 2].map(|i| p[i] - Vector3::from(self.r[i].column(1)) * self.coms[i])
    }

    /// Acceleration of a point of the rigid body.
    fn acceleration(&self, at: Vector3<f64>) -> Vector3<f64> {
        self.shoulder_acceleration + self.alpha.cross(&at) + self.omega.cross(&self.omega.cross(&at))
    }

    /// Joint loads in the order wrist, elbow, shoulder.
    fn loads(&self, external: &[LoadSeries]) -> [JointLoad; 3] {
        let (p, c) = (self.joints(), self.centres());
        let motion = |i: usize| SegmentMotion {
            omega: vec![self.omega],
            alpha: vec![self.alpha],
            com: vec![c[i]],
            com_velocity: vec![self.omega.cross(&c[i])],
            com_acceleration: vec![self.acceleration(c[i])],
        };
        let pose = ArmPose {
            frames: 0..1,
            p_s: vec![p[0]],
            p_e: vec![p[1]],
            p_w: vec![p[2]],
            p_k: vec![p[2]],
            r_wt: vec![Matrix3::identity()],
            r_wu: vec![self.r[0]],
            // anatomical axes of the forearm must not enter the pass: only its inertia axes do
            r_wf: vec![unknown()],
            r_wu_body: None,
            r_wf_inertia: vec![self.r[1]],
            r_wh: vec![self.r[2]],
        };
        let motion = ArmMotion {
            upper_arm: motion(0),
            forearm: motion(1),
            hand: Some(motion(2)),
            omega_thorax: vec![Vector3::zeros()],
            elbow_velocity: vec![self.omega.cross(&p[1])],
        };
        let out = pass(Pass::Total, &pose, &motion, &self.body(), external, down());
        [out.wrist[0], out.elbow[0], out.shoulder[0]]
    }
}

/// A mass held at a point that moves with the arm.
fn held(mass: f64, at: Vector3<f64>, acceleration: Vector3<f64>) -> LoadSeries {
    LoadSeries {
        at: vec![at],
        force: vec![(down() - acceleration) * mass],
        moment: vec![Vector3::zeros()],
        static_force: vec![down() * mass],
        static_moment: Vec::new(),
        energy: Vec::new(),
        nowhere: Vec::new(),
    }
}

fn compare(worst: &mut Worst, what: &str, found: Vector3<f64>, expected: Vector3<f64>, scale: f64) {
    worst.note(what, (found - expected).norm(), CLOSED_FORM_REL * scale);
}

#[test]
fn oracle_hanging_arm_pulls_straight_down_without_any_moment() {
    let arm = LockedArm::straight(Matrix3::identity());
    let bell = 7.5;
    let loads = arm.loads(&[held(bell, arm.centres()[2], Vector3::zeros())]);
    let mut worst = Worst::default();
    let mut weight = bell * G;
    for (i, name) in [(2, "wrist"), (1, "elbow"), (0, "shoulder")] {
        weight += arm.masses[i] * G;
        compare(
            &mut worst,
            &format!("{name} force"),
            loads[2 - i].force,
            Vector3::new(0.0, weight, 0.0),
            weight,
        );
        compare(
            &mut worst,
            &format!("{name} moment"),
            loads[2 - i].moment,
            Vector3::zeros(),
            weight * 0.3,
        );
    }
    worst.judge("hanging arm");
}

#[test]
fn oracle_level_arm_carries_the_sum_of_weights_times_lever_arms() {
    // long axis along -X: the arm points forwards; the moment that holds it up is about +Z (flexion)
    let arm = LockedArm::straight(
        *Rotation3::from_axis_angle(&Vector3::z_axis(), std::f64::consts::FRAC_PI_2).matrix(),
    );
    let (bell, reach) = (4.0, 0.28 + 0.26 + 0.08);
    let loads = arm.loads(&[held(bell, Vector3::new(reach, 0.0, 0.0), Vector3::zeros())]);
    let x = [0.161, 0.28 + 0.118, 0.54 + 0.066];
    let shoulder = G * (1.9 * x[0] + 1.1 * x[1] + 0.43 * x[2] + bell * reach);
    let elbow = G * (1.1 * 0.118 + 0.43 * (0.26 + 0.066) + bell * 0.34);
    let wrist = G * (0.43 * 0.066 + bell * 0.08);
    let mut worst = Worst::default();
    for (load, moment, name) in [
        (loads[0], wrist, "wrist"),
        (loads[1], elbow, "elbow"),
        (loads[2], shoulder, "shoulder"),
    ] {
        compare(
            &mut worst,
            name,
            load.moment,
            Vector3::new(0.0, 0.0, moment),
            moment,
        );
    }
    worst.judge("level arm");
}

#[test]
fn oracle_an_accelerating_shoulder_is_a_tilted_gravity() {
    // d'Alembert: an arm at rest in a frame that accelerates by a feels gravity g - a
    let mut arm = LockedArm::straight(*Rotation3::from_euler_angles(0.4, -0.3, 1.1).matrix());
    arm.shoulder_acceleration = Vector3::new(1.7, -2.9, 0.6);
    let felt = down() - arm.shoulder_acceleration;
    let centres = arm.centres();
    let moment: Vector3<f64> = (0..3).map(|i| -centres[i].cross(&(felt * arm.masses[i]))).sum();
    let loads = arm.loads(&[]);
    let mut worst = Worst::default();
    compare(
        &mut worst,
        "shoulder moment",
        loads[2].moment,
        moment,
        moment.norm(),
    );
    let mass: f64 = arm.masses.iter().sum();
    compare(
        &mut worst,
        "shoulder force",
        loads[2].force,
        -felt * mass,
        mass * felt.norm(),
    );
    worst.judge("accelerating shoulder");
}

#[test]
fn oracle_compound_pendulum_needs_no_moment_at_its_pivot() {
    // theta'' = -M g d sin(theta) / I_pivot: then the shoulder is a free hinge; at the locked elbow M_E = sum
    // over the distal parts of (I_c + m s x) theta'' + m g s sin(theta), s from the elbow, x from the
    // shoulder
    let mut worst = Worst::default();
    for (theta, rate) in [(0.3_f64, 0.0), (1.2, 2.5), (-0.8, -4.0), (2.9, 7.0)] {
        let mut arm = LockedArm::straight(*Rotation3::from_axis_angle(&Vector3::z_axis(), theta).matrix());
        let x = [0.161, 0.28 + 0.118, 0.54 + 0.066];
        let first_moment: f64 = (0..3).map(|i| arm.masses[i] * x[i]).sum();
        let second_moment: f64 = (0..3)
            .map(|i| arm.moments[i].z + arm.masses[i] * x[i] * x[i])
            .sum();
        let acceleration = -first_moment * G * theta.sin() / second_moment;
        arm.omega = Vector3::z() * rate;
        arm.alpha = Vector3::z() * acceleration;
        let loads = arm.loads(&[]);
        let scale = first_moment * G;
        compare(
            &mut worst,
            "pivot moment",
            loads[2].moment,
            Vector3::zeros(),
            scale,
        );
        let elbow: f64 = (1..3)
            .map(|i| {
                let s = x[i] - 0.28;
                (arm.moments[i].z + arm.masses[i] * s * x[i]) * acceleration
                    + arm.masses[i] * G * s * theta.sin()
            })
            .sum();
        compare(
            &mut worst,
            "elbow moment",
            loads[1].moment,
            Vector3::z() * elbow,
            scale,
        );
        // along the arm (towards the pivot) and across it
        let mass: f64 = arm.masses.iter().sum();
        let towards = Vector3::new(-theta.sin(), theta.cos(), 0.0);
        let across = Vector3::new(theta.cos(), theta.sin(), 0.0);
        let expected = towards * (mass * G * theta.cos() + first_moment * rate * rate)
            + across * (mass * G * theta.sin() + first_moment * acceleration);
        compare(
            &mut worst,
            "pivot force",
            loads[2].force,
            expected,
            mass * G + first_moment * rate * rate,
        );
    }
    worst.judge("compound pendulum");
}

#[test]
fn oracle_whirl_at_constant_rate_pulls_inwards_and_needs_no_moment_about_the_axle() {
    let mut arm = LockedArm::straight(
        *Rotation3::from_axis_angle(&Vector3::z_axis(), std::f64::consts::FRAC_PI_2).matrix(),
    );
    let rate = 6.5;
    arm.omega = Vector3::y() * rate;
    let (bell, reach) = (2.0, 0.61);
    let at = Vector3::new(reach, 0.0, 0.0);
    let loads = arm.loads(&[held(bell, at, arm.acceleration(at))]);
    let x = [0.161, 0.28 + 0.118, 0.54 + 0.066];
    let first_moment = (0..3).map(|i| arm.masses[i] * x[i]).sum::<f64>() + bell * reach;
    let mass = arm.masses.iter().sum::<f64>() + bell;
    let mut worst = Worst::default();
    // m r w² towards the axle, the weight upwards
    let force = Vector3::new(-first_moment * rate * rate, mass * G, 0.0);
    compare(&mut worst, "force", loads[2].force, force, force.norm());
    compare(
        &mut worst,
        "moment",
        loads[2].moment,
        Vector3::new(0.0, 0.0, first_moment * G),
        first_moment * rate * rate,
    );
    let tension = rate * rate * (1.1 * x[1] + 0.43 * x[2] + bell * reach);
    worst.note(
        "tension in the elbow",
        (loads[1].force.x + tension).abs(),
        CLOSED_FORM_REL * tension,
    );
    worst.judge("whirl at constant rate");
}

#[test]
fn oracle_conical_pendulum_of_a_uniform_rod_hangs_free() {
    // a uniform rod of length L on a free hinge circles at the angle theta when w² = 3 g / (2 L cos theta)
    let mut worst = Worst::default();
    for theta in [0.2_f64, 0.7, 1.3] {
        let length = 0.6;
        let mut rod = LockedArm::straight(*Rotation3::from_axis_angle(&Vector3::z_axis(), theta).matrix());
        // cut into three pieces of the same rod: together they must behave as one
        let (mass, piece) = (3.0, length / 3.0);
        rod.lengths = [piece; 2];
        rod.masses = [mass / 3.0; 3];
        rod.coms = [piece / 2.0; 3];
        rod.moments = [Vector3::new(1.0, 0.0, 1.0) * (mass / 3.0 * piece * piece / 12.0); 3];
        let rate = (3.0 * G / (2.0 * length * theta.cos())).sqrt();
        rod.omega = Vector3::y() * rate;
        let loads = rod.loads(&[]);
        compare(
            &mut worst,
            "hinge moment",
            loads[2].moment,
            Vector3::zeros(),
            mass * G * length,
        );
        let inwards = mass * rate * rate * length / 2.0 * theta.sin();
        compare(
            &mut worst,
            "hinge force",
            loads[2].force,
            Vector3::new(-inwards, mass * G, 0.0),
            mass * G + inwards,
        );
    }
    worst.judge("conical pendulum of a uniform rod");
}

#[test]
fn oracle_torque_free_top_needs_no_moment() {
    // symmetric top: nutation constant, precession L / I1 about the fixed L, spin L cos(theta) (1/I3 - 1/I1)
    // about its own axis
    let mut worst = Worst::default();
    for (i_across, i_along, theta) in [(0.031, 0.0087, 0.5_f64), (0.004, 0.0071, 1.1)] {
        let l = 0.12;
        let (precession, spin) = (l / i_across, l * theta.cos() * (1.0 / i_along - 1.0 / i_across));
        let body = Rigid {
            segment: Segment::Hand,
            length_m: 0.1,
            mass_kg: 2.0,
            com_m: 0.05,
            inertia_kg_m2: Matrix3::from_diagonal(&Vector3::new(i_across, i_along, i_across)),
            source: "made up".into(),
        };
        for time in [0.0, 0.13, 0.71] {
            // L along world Y; own axis is body Y
            let r = Rotation3::from_axis_angle(&Vector3::y_axis(), precession * time)
                * Rotation3::from_axis_angle(&Vector3::x_axis(), theta)
                * Rotation3::from_axis_angle(&Vector3::y_axis(), spin * time);
            let own = r * Vector3::y();
            let omega = Vector3::y() * precession + own * spin;
            let alpha = Vector3::y().cross(&own) * (precession * spin);
            let com = Vector3::new(0.3, -0.1, 0.2);
            let state = SegmentState {
                body: &body,
                r: r.matrix(),
                com,
                com_acceleration: down(),
                omega,
                alpha,
                proximal: com,
            };
            let load = proximal_load(&state, None, std::iter::empty(), down());
            compare(
                &mut worst,
                "moment",
                load.moment,
                Vector3::zeros(),
                l * precession,
            );
            compare(
                &mut worst,
                "force in free fall",
                load.force,
                Vector3::zeros(),
                body.mass_kg * G,
            );
            // and the spin axis does wander: the test is not of a top at rest
            assert!(alpha.norm() > 1.0 && (own.dot(&Vector3::y()) - theta.cos()).abs() < 1e-12);
        }
    }
    worst.judge("torque-free top");
}

#[test]
fn oracle_external_force_and_free_moment_pass_through_to_the_joint() {
    // a weightless segment at rest: the joint load is the negative of what is applied, carried to the joint
    let body = Rigid {
        segment: Segment::Hand,
        length_m: 0.1,
        mass_kg: 0.0,
        com_m: 0.05,
        inertia_kg_m2: Matrix3::zeros(),
        source: "weightless".into(),
    };
    let (proximal, com) = (Vector3::new(0.1, 0.2, -0.3), Vector3::new(0.15, 0.1, -0.2));
    let zero = Vector3::zeros();
    let state = SegmentState {
        body: &body,
        r: &Matrix3::identity(),
        com,
        com_acceleration: zero,
        omega: zero,
        alpha: zero,
        proximal,
    };
    let applied = Applied {
        force: Vector3::new(12.0, -30.0, 7.0),
        moment: Vector3::new(0.4, 0.9, -1.5),
        at: Vector3::new(0.3, 0.05, -0.1),
    };
    let load = proximal_load(&state, None, std::iter::once(applied), down());
    let mut worst = Worst::default();
    compare(
        &mut worst,
        "force",
        load.force,
        -applied.force,
        applied.force.norm(),
    );
    let moment = -(applied.moment + (applied.at - proximal).cross(&applied.force));
    compare(&mut worst, "moment", load.moment, moment, moment.norm());
    worst.judge("external force");
}

#[test]
fn oracle_bent_locked_arm_obeys_the_rate_of_angular_momentum_of_the_whole() {
    // about the fixed shoulder: M_S = d/dt (I_S w) - sum c x m g, with the whole arm's tensor by the
    // parallel-axis theorem
    let mut worst = Worst::default();
    for (omega, alpha) in [
        (Vector3::new(1.0, -2.0, 3.0), Vector3::new(-9.0, 4.0, 2.0)),
        (Vector3::new(-4.0, 0.5, 1.5), Vector3::zeros()),
    ] {
        let upper = *Rotation3::from_euler_angles(0.3, 0.8, -0.5).matrix();
        let fore = upper * Rotation3::from_euler_angles(-0.1, 0.9, 1.4).matrix();
        let hand = fore * Rotation3::from_euler_angles(0.2, -0.3, 0.35).matrix();
        let mut arm = LockedArm::straight(upper);
        arm.r = [upper, fore, hand];
        arm.omega = omega;
        arm.alpha = alpha;
        let c = arm.centres();
        let whole: Matrix3<f64> = (0..3)
            .map(|i| {
                arm.r[i] * Matrix3::from_diagonal(&arm.moments[i]) * arm.r[i].transpose()
                    + (Matrix3::identity() * c[i].norm_squared() - c[i] * c[i].transpose()) * arm.masses[i]
            })
            .sum();
        let weights: Vector3<f64> = (0..3).map(|i| c[i].cross(&(down() * arm.masses[i]))).sum();
        let moment = whole * alpha + omega.cross(&(whole * omega)) - weights;
        compare(
            &mut worst,
            "shoulder moment",
            arm.loads(&[])[2].moment,
            moment,
            moment.norm() + weights.norm(),
        );
    }
    worst.judge("bent locked arm");
}

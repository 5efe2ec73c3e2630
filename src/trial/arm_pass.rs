//! Stages 3 to 5 for one arm over a block of frames: pose, motion, loads, joint loads, and what the tables
//! carry of them.
//!
//! Blocks are independent: each looks at a few frames more on both sides, so that differences at its edges
//! see the same neighbours as in one long pass.

use crate::anatomy::arm::{ArmPlan, ArmPose, CarriedAxes, HandPoints, pose};
use crate::anatomy::body::ArmBody;
use crate::ground::axes::Mirror;
use crate::ground::names::Joint;
use crate::ground::rotation;
use crate::ground::scene::MirroredScene;
use crate::ground::scene::Scene;
use crate::kinematics::angles::{self, JointAngles};
use crate::kinematics::{ArmMotion, SegmentMotion};
use crate::kinetics::loads::elsewhere::LoadsElsewhere;
use crate::kinetics::loads::{Acting, HandMotion, LoadSeries, Review};
use crate::kinetics::newton_euler::{ArmLoads, JointLoad, Pass, pass};
use crate::muscles::{self, Instant, Muscles};
use crate::phases::windows::Windows;
use crate::results::{self as q, VectorOf, first_row};
use crate::smoothing::{derivative, slope};
use nalgebra::{Matrix3, Vector3};
use ndarray::{ArrayViewMut1, ArrayViewMut2};
use rayon::prelude::*;
use std::ops::Range;

/// Frames looked at beyond a block on each side: enough for a difference of a difference, and for telling a
/// short stretch from a long one.
pub const HALO: usize = 4 * derivative::FEWEST_FRAMES;

/// One arm, ready to be computed.
pub struct ReadyArm<'a> {
    /// Which points.
    pub plan: &'a ArmPlan,
    /// Which segments.
    pub body: &'a ArmBody,
    /// Loads on the hand with their labels.
    pub loads: &'a [(String, Box<dyn Acting>)],
    /// Flexion axes of an arm known by its joint centres alone.
    pub carried: &'a CarriedAxes,
    /// Mirrored world axes, m/s².
    pub gravity: Vector3<f64>,
    /// How the loads differ from what the sheet says.
    pub elsewhere: LoadsElsewhere,
    /// Lines that rest is judged from.
    pub windows: Windows,
    /// Muscles of the elbow.
    pub muscles: &'a Muscles,
}

/// Where a block of frames is written to: one column a frame.
pub struct Out<'a> {
    /// One row for each of [`q::QUANTITIES`].
    pub data: ArrayViewMut2<'a, f64>,
    /// One row for each of [`ReadyArm::detail_names`], or none.
    pub details: ArrayViewMut2<'a, f64>,
    /// As [`q::Positions`] has them, or none.
    pub positions: ArrayViewMut2<'a, f64>,
    /// As [`Muscles::row`] has them.
    pub muscles: ArrayViewMut2<'a, f64>,
}

/// Everything known of one arm over a block and its halo (mirrored world axes).
pub struct ArmBlock {
    /// Pose.
    pub pose: ArmPose,
    /// Motion.
    pub motion: ArmMotion,
    /// External loads.
    pub loads: Vec<LoadSeries>,
    /// Joint loads.
    pub total: ArmLoads,
    /// Joint loads without motion.
    pub statics: ArmLoads,
    /// Gravity.
    pub gravity: Vector3<f64>,
    /// Where the hand holds what it holds.
    pub grip: Vec<Vector3<f64>>,
}

/// Under this a recorded force is none: the hand is empty, N.
const EMPTY_HAND_N: f64 = 5.0;
/// One load in one frame, at rest.
pub struct LoadLook {
    /// Size of its force on the hand, N.
    pub force_n: f64,
    /// Size of its moment about the grip, free moment included, N·m.
    pub moment_at_grip_n_m: f64,
    /// What the hand holds of it.
    pub held: Option<HeldLook>,
}

/// What a hand holds of a load, in one frame.
pub struct HeldLook {
    /// In words.
    pub words: String,
    /// Distance from the grip, m.
    pub from_grip_m: f64,
    /// Distance from the elbow centre, m.
    pub from_elbow_m: f64,
    /// Farthest it can be, m.
    pub limit_m: f64,
    /// How much the distance can vary, m.
    pub steady_m: f64,
    /// Distance from the grip to the far end of a line, m.
    pub line_m: Option<f64>,
}

/// The fastest that an arm moves.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Fastest {
    /// Angular speed of the upper arm, rad/s.
    pub upper_arm_rad_s: f64,
    /// Angular speed of the forearm, rad/s.
    pub forearm_rad_s: f64,
    /// Angular acceleration of the forearm, rad/s².
    pub forearm_rad_s2: f64,
    /// Speed of the wrist centre, m/s.
    pub wrist_m_s: f64,
    /// Acceleration of the wrist centre, m/s².
    pub wrist_m_s2: f64,
}

impl Fastest {
    fn or(self, other: Self) -> Self {
        Self {
            upper_arm_rad_s: self.upper_arm_rad_s.max(other.upper_arm_rad_s),
            forearm_rad_s: self.forearm_rad_s.max(other.forearm_rad_s),
            forearm_rad_s2: self.forearm_rad_s2.max(other.forearm_rad_s2),
            wrist_m_s: self.wrist_m_s.max(other.wrist_m_s),
            wrist_m_s2: self.wrist_m_s2.max(other.wrist_m_s2),
        }
    }
}

impl ReadyArm<'_> {
    /// Computes a range of frames.
    pub fn block(&self, scene: &Scene, frames: Range<usize>) -> ArmBlock {
        let (pose, motion) = self.moving(scene, frames.clone());
        let gravity = self.gravity;
        let rate_hz = scene.rate_hz;
        let (loads, grip): (Vec<LoadSeries>, _) = self.on_hand(scene, frames, &pose, &motion, |hand| {
            (
                self.loads
                    .iter()
                    .map(|(_, l)| {
                        self.elsewhere
                            .apply(l.act(hand), l.has_signal(), hand.r_wh, rate_hz)
                    })
                    .collect(),
                hand.grip.to_vec(),
            )
        });
        let total = pass(Pass::Total, &pose, &motion, self.body, &loads, gravity);
        let statics = pass(Pass::Static, &pose, &motion, self.body, &loads, gravity);
        ArmBlock {
            pose,
            motion,
            loads,
            total,
            statics,
            gravity,
            grip,
        }
    }

    /// What the loads have to say of the frames in `window`, one review a load, knowing the whole recording.
    pub fn review(&self, scene: &Scene, window: Range<usize>) -> Vec<Review> {
        if !self.loads.iter().any(|(_, l)| l.has_review()) {
            return vec![Review::default(); self.loads.len()];
        }
        let all = 0..scene.frames();
        let (pose, motion) = self.moving(scene, all.clone());
        self.on_hand(scene, all, &pose, &motion, |hand| {
            self.loads
                .iter()
                .map(|(label, l)| l.review(&format!("{} {label}", self.plan.side), hand, window.clone()))
                .collect()
        })
    }

    /// One load as it stands in one frame, at rest.
    pub fn look_at_load(&self, scene: &Scene, load: usize, frame: usize) -> LoadLook {
        let frames = frame..frame + 1;
        let pose = pose(
            self.plan,
            MirroredScene::new(scene, self.plan.side),
            self.carried,
            frames.clone(),
        );
        let grip = self.grip(&pose);
        let unknown = [Vector3::repeat(f64::NAN)];
        let view = MirroredScene::new(scene, self.plan.side);
        let hand = HandMotion {
            view,
            frames,
            p_w: &pose.p_w,
            r_wh: &pose.r_wh,
            omega: &unknown,
            alpha: &unknown,
            grip: &grip,
            gravity: self.gravity,
            rate_hz: scene.rate_hz,
        };
        let acting = &self.loads[load].1;
        let applied = acting.act(&hand).applied(Pass::Static, 0);
        let held = acting.held(&hand).map(|h| HeldLook {
            from_grip_m: (h.at[0] - grip[0]).norm(),
            from_elbow_m: (h.at[0] - pose.p_e[0]).norm(),
            line_m: h.far_end.map(|far| (far[0] - grip[0]).norm()),
            words: h.words,
            limit_m: h.limit_m,
            steady_m: h.steady_m,
        });
        let moment_at_grip_n_m = ((applied.at - grip[0]).cross(&applied.force) + applied.moment).norm();
        LoadLook {
            force_n: applied.force.norm(),
            moment_at_grip_n_m,
            held,
        }
    }

    /// The fastest that the arm moves in the frames of the window that count.
    pub fn fastest(
        &self,
        scene: &Scene,
        window: Range<usize>,
        counts: impl Fn(usize) -> bool + Sync,
    ) -> Fastest {
        let starts: Vec<usize> = window.clone().step_by(super::BLOCK).collect();
        let blocks = starts.into_par_iter().map(|start| {
            let inner = start..(start + super::BLOCK).min(window.end);
            let outer = inner.start.saturating_sub(HALO)..(inner.end + HALO).min(scene.frames());
            let (pose, motion) = self.moving(scene, outer.clone());
            let (velocity, acceleration) = derivative::twice(&pose.p_w, scene.rate_hz);
            let largest = |series: &[Vector3<f64>]| {
                inner
                    .clone()
                    .filter(|f| counts(*f))
                    .map(|f| series[f - outer.start].norm())
                    .filter(|x| x.is_finite())
                    .fold(0.0, f64::max)
            };
            Fastest {
                upper_arm_rad_s: largest(&motion.upper_arm.omega),
                forearm_rad_s: largest(&motion.forearm.omega),
                forearm_rad_s2: largest(&motion.forearm.alpha),
                wrist_m_s: largest(&velocity),
                wrist_m_s2: largest(&acceleration),
            }
        });
        blocks.reduce(Fastest::default, Fastest::or)
    }

    /// Where the hand holds what it holds.
    fn grip(&self, pose: &ArmPose) -> Vec<Vector3<f64>> {
        match self.plan.hand {
            HandPoints::None => pose
                .p_w
                .iter()
                .zip(&pose.r_wh)
                .map(|(w, r)| w - r.column(1) * self.body.straight_hand_com_m)
                .collect(),
            _ => pose.p_k.clone(),
        }
    }

    fn moving(&self, scene: &Scene, frames: Range<usize>) -> (ArmPose, ArmMotion) {
        let pose = pose(
            self.plan,
            MirroredScene::new(scene, self.plan.side),
            self.carried,
            frames,
        );
        let motion = ArmMotion::of(&pose, self.body, scene.rate_hz);
        (pose, motion)
    }

    /// Does something with the hand as a load sees it.
    fn on_hand<T>(
        &self,
        scene: &Scene,
        frames: Range<usize>,
        pose: &ArmPose,
        motion: &ArmMotion,
        then: impl FnOnce(&HandMotion<'_>) -> T,
    ) -> T {
        let view = MirroredScene::new(scene, self.plan.side);
        let own_hand;
        let (omega, alpha): (&[Vector3<f64>], &[Vector3<f64>]) = match (&motion.hand, self.plan.hand) {
            (Some(hand), _) => (&hand.omega, &hand.alpha),
            // a lumped hand with markers still tells how the load turns
            (None, HandPoints::Knuckles { .. } | HandPoints::Third { .. }) => {
                own_hand = crate::kinematics::angular(&pose.r_wh, scene.rate_hz);
                (&own_hand.0, &own_hand.1)
            }
            (None, HandPoints::None) => (&motion.forearm.omega, &motion.forearm.alpha),
        };
        let grip = self.grip(pose);
        let gravity = self.gravity;
        then(&HandMotion {
            view,
            frames,
            p_w: &pose.p_w,
            r_wh: &pose.r_wh,
            omega,
            alpha,
            grip: &grip,
            gravity,
            rate_hz: scene.rate_hz,
        })
    }

    /// Computes the frames `inner` and writes their rows.
    ///
    /// # Shape
    /// One column of each part of `out` for each frame of `inner`.
    pub fn write(&self, scene: &Scene, inner: Range<usize>, out: Out<'_>) {
        let Out {
            data: mut out,
            mut details,
            positions,
            mut muscles,
        } = out;
        let halo = HALO.max(self.windows.longest());
        let outer = inner.start.saturating_sub(halo)..(inner.end + halo).min(scene.frames());
        let skip = inner.start - outer.start;
        // rows that this arm does not have stay missing
        out.fill(f64::NAN);
        let block = self.block(scene, outer);
        let (energy_rate, power_in) = self.energy_and_power(&block, scene.rate_hz);
        let joint_angles: Vec<JointAngles> = (0..block.pose.p_e.len())
            .map(|i| angles::joint_angles(self.plan, &block.pose, i))
            .collect();
        let mut flexion: Vec<f64> = joint_angles.iter().map(|a| a.elbow_flexion).collect();
        rotation::unwrap(&mut flexion);
        let flexion_velocity = derivative::once(&flexion, scene.rate_hz);
        let [rest_turning, rest_speed] = self.rest(&block, scene.rate_hz);
        for k in 0..inner.len() {
            let i = skip + k;
            let mut column = out.column_mut(k);
            self.write_frame(&block, i, &joint_angles[i], &mut column);
            column[q::FLEXION_VELOCITY] = flexion_velocity[i];
            column[q::ENERGY_RATE] = energy_rate[i];
            column[q::POWER_IN] = power_in[i];
            column[q::REST_TURNING] = rest_turning[i];
            column[q::REST_SPEED] = rest_speed[i];
            // the first frame of the recording has nothing before it
            column[q::LOAD_TRAVEL] = if i == 0 {
                self.start_of_travel(&block, 0)
            } else {
                self.step_of_travel((&block, i - 1), (&block, i))
            };
            column[q::RECORDED_FORCE] = self.recorded_force(&block, i);
            self.write_muscles(&block, i, &mut column, &mut muscles.column_mut(k));
        }
        if positions.nrows() > 0 {
            self.write_positions(&block, skip, positions);
        }
        if details.nrows() > 0 {
            for k in 0..inner.len() {
                let row = self.detail_values(&block, skip + k);
                for (cell, value) in details.column_mut(k).iter_mut().zip(row) {
                    *cell = value;
                }
            }
        }
    }

    /// What muscles do in a frame, and what the equivalent flexor does.
    fn write_muscles(
        &self,
        block: &ArmBlock,
        i: usize,
        column: &mut ArrayViewMut1<'_, f64>,
        out: &mut ArrayViewMut1<'_, f64>,
    ) {
        let at = self.instant(block, i, column[q::ELBOW_FLEXION]);
        let mut rows = vec![f64::NAN; self.muscles.rows()];
        self.muscles.write(&at, &mut rows);
        let statics = &block.statics.elbow[i];
        rows[self.muscles.row(muscles::Row::LoadArm)] = at_rest_arm(statics, &at);
        rows[self.muscles.row(muscles::Row::Held)] = statics.force.norm();
        let (forces, arms) = rows[..2 * self.muscles.list.len()].split_at(self.muscles.list.len());
        column[q::FLEXOR_MOMENT_ARM] = self.muscles.flexor_arm(arms);
        column[q::FLEXOR_FORCE] = flexing(forces, arms);
        out.iter_mut().zip(rows).for_each(|(cell, value)| *cell = value);
    }

    /// An arm as its muscles see it.
    pub fn instant(&self, block: &ArmBlock, i: usize, flexion: f64) -> Instant {
        let (elbow, pose) = (&block.total.elbow[i], &block.pose);
        Instant {
            flexion,
            moment: [
                elbow.moment.dot(&axis(&pose.r_wu[i], 2)),
                elbow.moment.dot(&axis(&pose.r_wf[i], 1)),
            ],
            force: elbow.force,
            r_wu: pose.r_wu[i],
            r_wf: pose.r_wf[i],
        }
    }

    /// Joint centres and points of action, mapped back to the arm's own side.
    fn write_positions(&self, block: &ArmBlock, skip: usize, mut positions: ArrayViewMut2<'_, f64>) {
        let pose = &block.pose;
        let mirror = Mirror::of(self.plan.side);
        let axes: Vec<Vector3<f64>> = pose.r_wu.iter().map(|r| axis(r, 2)).collect();
        let joints = [&pose.p_s, &pose.p_e, &pose.p_w, &pose.p_k, &axes];
        let places: Vec<Vec<Vector3<f64>>> = block
            .loads
            .iter()
            .map(|l| (0..l.at.len()).map(|i| l.place(i)).collect())
            .collect();
        let points = joints.into_iter().chain(&places);
        for (point, series) in points.enumerate() {
            // the axis of a rotation is no place
            let of_axis = point == q::Positions::FLEXION_AXIS;
            for (k, p) in series.iter().skip(skip).take(positions.ncols()).enumerate() {
                let p = if of_axis {
                    mirror.bare_axial(*p)
                } else {
                    mirror.bare_polar(*p)
                };
                for row in 0..3 {
                    positions[(3 * point + row, k)] = p[row];
                }
            }
        }
    }

    fn write_frame(&self, block: &ArmBlock, i: usize, a: &JointAngles, column: &mut ArrayViewMut1<'_, f64>) {
        let pose = &block.pose;
        for (row, value) in [
            (q::ELBOW_FLEXION, a.elbow_flexion),
            (q::ELBOW_CARRYING, a.elbow_carrying),
            (q::ELBOW_PRONATION, a.elbow_pronation),
            (q::SHOULDER_PLANE, a.shoulder_plane),
            (q::SHOULDER_ELEVATION, a.shoulder_elevation),
            (q::SHOULDER_AXIAL, a.shoulder_axial),
            (q::WRIST_FLEXION, a.wrist_flexion),
            (q::WRIST_DEVIATION, a.wrist_deviation),
        ] {
            column[row] = value;
        }
        self.write_joints(block, i, column);
        let (elbow, shoulder) = (&block.total.elbow[i], &block.total.shoulder[i]);
        let (elbow_static, shoulder_static) = (&block.statics.elbow[i], &block.statics.shoulder[i]);
        // along the joint axes: the same for both arms
        let (z_u, y_u, y_f) = (
            axis(&pose.r_wu[i], 2),
            axis(&pose.r_wu[i], 1),
            axis(&pose.r_wf[i], 1),
        );
        let floating = y_f.cross(&z_u).normalize();
        let (x_t, y_t, z_t) = (
            axis(&pose.r_wt[i], 0),
            axis(&pose.r_wt[i], 1),
            axis(&pose.r_wt[i], 2),
        );
        column[q::ELBOW_FLEXION_MOMENT] = elbow.moment.dot(&z_u);
        column[q::ELBOW_TURNED_FLEXION_MOMENT] = self.turned_flexion_moment(pose, elbow, i);
        column[q::ELBOW_CARRYING_MOMENT] = elbow.moment.dot(&floating);
        column[q::ELBOW_PRONATION_MOMENT] = elbow.moment.dot(&y_f);
        column[q::ELBOW_STATIC_FLEXION_MOMENT] = elbow_static.moment.dot(&z_u);
        let raising = angles::raising_axis(a, &y_t, &y_u);
        for (total, statics, along) in [
            (q::SHOULDER_ABDUCTION_MOMENT, q::SHOULDER_STATIC_ABDUCTION, -x_t),
            (q::SHOULDER_HORIZONTAL_MOMENT, q::SHOULDER_STATIC_HORIZONTAL, y_t),
            (q::SHOULDER_FLEXION_MOMENT, q::SHOULDER_STATIC_FLEXION_MOMENT, z_t),
            (q::SHOULDER_AXIAL_MOMENT, q::SHOULDER_STATIC_AXIAL, y_u),
            (
                q::SHOULDER_ELEVATION_MOMENT,
                q::SHOULDER_STATIC_ELEVATION,
                raising,
            ),
        ] {
            column[total] = shoulder.moment.dot(&along);
            column[statics] = shoulder_static.moment.dot(&along);
        }
        let of_loads = |centre: &Vector3<f64>, z: &Vector3<f64>| -> f64 {
            block.loads.iter().map(|l| static_share(l, i, centre, z)).sum()
        };
        column[q::ELBOW_STATIC_LOAD] = of_loads(&pose.p_e[i], &z_u);
        column[q::SHOULDER_STATIC_LOAD] = of_loads(&pose.p_s[i], &z_t);
        let m = &block.motion;
        column[q::ELBOW_POWER] = elbow.moment.dot(&(m.forearm.omega[i] - m.upper_arm.omega[i]));
        column[q::SHOULDER_POWER] = shoulder.moment.dot(&(m.upper_arm.omega[i] - m.omega_thorax[i]));
        if let (Some(hand), Some(wrist)) = (&m.hand, block.total.wrist.get(i)) {
            column[q::WRIST_POWER] = wrist.moment.dot(&(hand.omega[i] - m.forearm.omega[i]));
        }
        column[q::TURNING] = m.forearm.omega[i].dot(&z_u);
    }

    /// Forces and moments of the joints in the world.
    fn write_joints(&self, block: &ArmBlock, i: usize, column: &mut ArrayViewMut1<'_, f64>) {
        let mirror = Mirror::of(self.plan.side);
        let mut joint = |joint, total: &JointLoad, statics: &JointLoad| {
            for (of, values) in [
                (VectorOf::Force, mirror.polar(total.force_in_scene()).components()),
                (
                    VectorOf::Moment,
                    mirror.axial(total.moment_in_scene()).components(),
                ),
                (
                    VectorOf::StaticMoment,
                    mirror.axial(statics.moment_in_scene()).components(),
                ),
            ] {
                let row = first_row(joint, of);
                for (k, v) in values.iter().enumerate() {
                    column[row + k] = *v;
                }
            }
        };
        if let (Some(total), Some(statics)) = (block.total.wrist.get(i), block.statics.wrist.get(i)) {
            joint(Joint::Wrist, total, statics);
        }
        joint(Joint::Elbow, &block.total.elbow[i], &block.statics.elbow[i]);
        joint(
            Joint::Shoulder,
            &block.total.shoulder[i],
            &block.statics.shoulder[i],
        );
    }

    /// What rest is judged from: the larger angular speed of upper arm and forearm, the larger speed of elbow
    /// centre and grip.
    ///
    /// # Frames and units
    /// Sizes of whole vectors, in the world; rad/s and m/s.
    fn rest(&self, block: &ArmBlock, rate_hz: f64) -> [Vec<f64>; 2] {
        let larger = |a: Vec<Vector3<f64>>, b: Vec<Vector3<f64>>| -> Vec<f64> {
            // missing if one of them is
            a.iter()
                .zip(&b)
                .map(|(a, b)| {
                    if b.x.is_nan() {
                        f64::NAN
                    } else {
                        a.norm().max(b.norm()) + 0.0 * a.x
                    }
                })
                .collect()
        };
        let turning = |r: &[Matrix3<f64>]| slope::turning(r, self.windows.turning_half, rate_hz);
        let speed = |p: &[Vector3<f64>]| slope::slopes(p, self.windows.place_half, rate_hz);
        [
            larger(
                turning(block.pose.upper_arm_body()),
                turning(&block.pose.r_wf_inertia),
            ),
            larger(speed(&block.pose.p_e), speed(&block.grip)),
        ]
    }

    /// The load that the hand feels most at rest in a frame; `None` for an empty hand.
    fn felt(&self, block: &ArmBlock, i: usize) -> Option<usize> {
        // a force that is not known counts as larger than any: what it does is not known either
        let size = |k: &usize| {
            Some(block.loads[*k].static_force[i].norm())
                .filter(|s| !s.is_nan())
                .unwrap_or(f64::INFINITY)
        };
        (0..block.loads.len())
            .max_by(|a, b| size(a).total_cmp(&size(b)))
            .filter(|k| size(k) > EMPTY_HAND_N)
    }

    /// Where the load stands and which way its force at rest points: an empty hand is pulled down.
    fn place_of_load(&self, block: &ArmBlock, load: Option<usize>, i: usize) -> (Vector3<f64>, Vector3<f64>) {
        match load {
            Some(k) => {
                let at = if self.loads[k].1.moves_with_hand() {
                    &block.loads[k].at
                } else {
                    &block.grip
                };
                (at[i], block.loads[k].static_force[i].normalize())
            }
            None => (block.grip[i], -Vector3::y()),
        }
    }

    /// How far the load goes against its force from one frame to another, m.
    ///
    /// # Equation
    /// -(p_b - p_a) · (u_a + u_b) / |u_a + u_b|, u the direction of the force that the load at rest puts on
    /// the hand: the change in height of a weight, in length of a cable or band. A load that is taken up or
    /// put down in between goes with the grip.
    pub fn step_of_travel(&self, a: (&ArmBlock, usize), b: (&ArmBlock, usize)) -> f64 {
        let (before, now) = (self.felt(a.0, a.1), self.felt(b.0, b.1));
        let ((p_a, u_a), (p_b, u_b)) = if before == now {
            (
                self.place_of_load(a.0, now, a.1),
                self.place_of_load(b.0, now, b.1),
            )
        } else {
            let (block, i) = if now.is_some() { b } else { a };
            let u = self.place_of_load(block, now.or(before), i).1;
            ((a.0.grip[a.1], u), (b.0.grip[b.1], u))
        };
        (p_a - p_b).dot(&(u_a + u_b).normalize())
    }

    /// 0 where the load's place is known, at the start of what is known.
    fn start_of_travel(&self, block: &ArmBlock, i: usize) -> f64 {
        let (p, u) = self.place_of_load(block, self.felt(block, i), i);
        0.0 * p.dot(&u)
    }

    /// Size of the sum of the recorded forces, N; missing without any.
    fn recorded_force(&self, block: &ArmBlock, i: usize) -> f64 {
        let recorded = || {
            self.loads
                .iter()
                .zip(&block.loads)
                .filter(|((_, l), _)| l.has_signal())
                .map(|(_, s)| s.static_force[i])
        };
        if recorded().next().is_none() {
            f64::NAN
        } else {
            recorded().sum::<Vector3<f64>>().norm()
        }
    }

    /// What the elbow's flexion moment would be if the arm had a carrying angle of 10° that nobody measured;
    /// missing where the axis is measured.
    ///
    /// # Equation
    /// Zu' = cos d Zu + sin d Xu (see [`CarriedAxes::doubt`]): M · Zu'. With a centre beside one epicondyle,
    /// the centre moves along: about E' = E + h (Zu - Zu'), h positive from the centre towards a lateral
    /// marker, it is (M + h (Zu' - Zu) x F) · Zu'.
    fn turned_flexion_moment(&self, pose: &ArmPose, elbow: &JointLoad, i: usize) -> f64 {
        let Some(turn) = self.carried.doubt.get(pose.frames.start + i) else {
            return f64::NAN;
        };
        let (x_u, z_u) = (axis(&pose.r_wu[i], 0), axis(&pose.r_wu[i], 2));
        let turned = z_u * turn.cos() + x_u * turn.sin();
        let moved = self
            .plan
            .beside_m
            .map_or(Vector3::zeros(), |h| ((turned - z_u) * h).cross(&elbow.force));
        (elbow.moment + moved).dot(&turned)
    }

    /// Rate of energy of forearm, hand and load, and the power put into them.
    ///
    /// # Equation
    /// d/dt (kinetic + potential energy) = M_E · w_F + F_E · v_Ej + M_W · (w_H - w_F) + sum over other
    /// external forces of (F_e · v_e + M_e · w_H), v_e = v_Wj + w_H x (p_e - Wj): the speed of the hand
    /// itself where the force acts. A point of application that wanders over the hand does no work by that.
    fn energy_and_power(&self, block: &ArmBlock, rate_hz: f64) -> (Vec<f64>, Vec<f64>) {
        let (pose, m) = (&block.pose, &block.motion);
        let n = pose.p_e.len();
        let segment = |body: &crate::anatomy::body::Rigid, r: &Matrix3<f64>, s: &SegmentMotion, i: usize| {
            let w = r.tr_mul(&s.omega[i]);
            0.5 * body.mass_kg * s.com_velocity[i].norm_squared() + 0.5 * w.dot(&(body.inertia_kg_m2 * w))
                - body.mass_kg * block.gravity.dot(&s.com[i])
        };
        let energy: Vec<f64> = (0..n)
            .map(|i| {
                let mut e = segment(&self.body.forearm, &pose.r_wf_inertia[i], &m.forearm, i);
                if let (Some(body), Some(hand)) = (&self.body.hand, &m.hand) {
                    e += segment(body, &pose.r_wh[i], hand, i);
                }
                e + block.loads.iter().filter_map(|l| l.energy.get(i)).sum::<f64>()
            })
            .collect();
        let outside: Vec<&LoadSeries> = block.loads.iter().filter(|l| l.energy.is_empty()).collect();
        let wrist_velocity = if outside.is_empty() {
            Vec::new()
        } else {
            derivative::once(&pose.p_w, rate_hz)
        };
        let power_in = (0..n)
            .map(|i| {
                let elbow = &block.total.elbow[i];
                let mut p = elbow.moment.dot(&m.forearm.omega[i]) + elbow.force.dot(&m.elbow_velocity[i]);
                let mut omega_h = m.forearm.omega[i];
                if let (Some(hand), Some(wrist)) = (&m.hand, block.total.wrist.get(i)) {
                    p += wrist.moment.dot(&(hand.omega[i] - m.forearm.omega[i]));
                    omega_h = hand.omega[i];
                }
                for load in outside.iter().filter(|load| !load.rests(i)) {
                    let velocity = wrist_velocity[i] + omega_h.cross(&(load.at[i] - pose.p_w[i]));
                    p += load.force[i].dot(&velocity) + load.moment[i].dot(&omega_h);
                }
                p
            })
            .collect();
        (derivative::once(&energy, rate_hz), power_in)
    }

    fn joints(&self) -> &'static [Joint] {
        if self.body.hand.is_some() {
            &[Joint::Elbow, Joint::Shoulder, Joint::Wrist]
        } else {
            &[Joint::Elbow, Joint::Shoulder]
        }
    }

    /// Contributors to the static moment of a joint: the segments beyond it, then the loads.
    fn contributors(&self, joint: Joint) -> Vec<String> {
        let mut out = Vec::new();
        if joint == Joint::Shoulder {
            out.push("upper_arm".to_owned());
        }
        if joint != Joint::Wrist {
            out.push("forearm".to_owned());
        }
        if self.body.hand.is_some() {
            out.push("hand".to_owned());
        }
        out.extend(self.loads.iter().map(|l| l.0.clone()));
        out
    }

    /// Names of the rows of `details`, without side.
    pub fn detail_names(&self) -> Vec<String> {
        let mut names = Vec::new();
        for joint in self.joints() {
            let joint = joint.name();
            for part in ["moment", "static_moment"] {
                for frame in ["proximal", "distal"] {
                    names.extend(["x", "y", "z"].map(|a| format!("{joint}.{part}_{frame}_{a}_n_m")));
                }
            }
        }
        if !self.carried.doubt.is_empty() {
            names.push(q::QUANTITIES[q::ELBOW_TURNED_FLEXION_MOMENT].name.to_owned());
        }
        for joint in self.joints() {
            names.extend(
                self.contributors(*joint)
                    .iter()
                    .map(|c| format!("{}.static.{c}_flexion_n_m", joint.name())),
            );
        }
        names
    }

    /// Moments and their static parts in segment axes, the elbow's flexion moment with a carrying angle that
    /// nobody measured (only where joint centres tell the axis), and each contributor's share of the static
    /// moment along the joint's flexion axis.
    ///
    /// # Equation
    /// Share of a weight or load: -((c - P) x F + M) · z, with z the proximal segment's Z: the shares add up
    /// to the static moment.
    fn detail_values(&self, block: &ArmBlock, i: usize) -> Vec<f64> {
        let pose = &block.pose;
        let mut out = Vec::new();
        let axes_of = |joint: Joint| match joint {
            Joint::Wrist => (&pose.r_wf[i], &pose.r_wh[i]),
            Joint::Elbow => (&pose.r_wu[i], &pose.r_wf[i]),
            Joint::Shoulder => (&pose.r_wt[i], &pose.r_wu[i]),
        };
        let unknown = JointLoad {
            force: Vector3::repeat(f64::NAN),
            moment: Vector3::repeat(f64::NAN),
        };
        for joint in self.joints() {
            let (proximal, distal) = axes_of(*joint);
            for pass in [&block.total, &block.statics] {
                let load = match joint {
                    Joint::Wrist => pass.wrist.get(i).unwrap_or(&unknown),
                    Joint::Elbow => &pass.elbow[i],
                    Joint::Shoulder => &pass.shoulder[i],
                };
                for r in [proximal, distal] {
                    out.extend(r.tr_mul(&load.moment).iter());
                }
            }
        }
        if !self.carried.doubt.is_empty() {
            out.push(self.turned_flexion_moment(pose, &block.total.elbow[i], i));
        }
        for joint in self.joints() {
            let centre = match joint {
                Joint::Wrist => pose.p_w[i],
                Joint::Elbow => pose.p_e[i],
                Joint::Shoulder => pose.p_s[i],
            };
            let z = axis(axes_of(*joint).0, 2);
            let weight =
                |mass: f64, com: Vector3<f64>| -(com - centre).cross(&(block.gravity * mass)).dot(&z);
            if *joint == Joint::Shoulder {
                out.push(weight(self.body.upper_arm.mass_kg, block.motion.upper_arm.com[i]));
            }
            if *joint != Joint::Wrist {
                out.push(weight(self.body.forearm.mass_kg, block.motion.forearm.com[i]));
            }
            if let (Some(body), Some(hand)) = (&self.body.hand, &block.motion.hand) {
                out.push(weight(body.mass_kg, hand.com[i]));
            }
            out.extend(block.loads.iter().map(|load| static_share(load, i, &centre, &z)));
        }
        out
    }
}

/// Force of all muscles that flex, N.
pub fn flexing(forces: &[f64], arms: &[f64]) -> f64 {
    forces
        .iter()
        .zip(arms)
        .filter(|(_, r)| **r >= 0.0 || r.is_nan())
        .map(|f| f.0)
        .sum()
}

/// Lever of everything that forearm and hand hold at rest: its moment about the flexion axis over its size, m.
fn at_rest_arm(statics: &JointLoad, at: &Instant) -> f64 {
    statics.moment.dot(&at.r_wu.column(2)) / statics.force.norm()
}

/// Share of a load in the static moment about `centre` along `z`: what the joint has to give against it.
fn static_share(load: &LoadSeries, i: usize, centre: &Vector3<f64>, z: &Vector3<f64>) -> f64 {
    let e = load.applied(Pass::Static, i);
    -((e.at - centre).cross(&e.force) + e.moment).dot(z)
}

fn axis(r: &Matrix3<f64>, k: usize) -> Vector3<f64> {
    r.column(k).into()
}

//! A trial as it might have been: smoothed otherwise, points elsewhere, other segments, loads and another plumb line. The
//! moments of such a trial go through the same filter, poses and passes as those of the trial itself.

use super::BLOCK;
use super::arm_pass::{HALO, ReadyArm};
use super::prepare::Prepared;
use crate::anatomy::arm::{CarriedAxes, Centre, pose};
use crate::anatomy::body::{ArmBody, Lengths};
use crate::ground::axes::Mirror;
use crate::ground::median;
use crate::ground::names::Joint;
use crate::ground::scene::{MirroredScene, PointId, Scene};
use crate::kinematics::angles;
use crate::kinetics::loads::elsewhere::LoadsElsewhere;
use crate::muscles::{Model, Row};
use crate::points::clusters::ClusterReport;
use crate::results::{ArmResults, LinkedArmFound, OtherCutoffs};
use crate::smoothing::residual::NOISE_BAND;
use crate::smoothing::{scene, spline};
use nalgebra::{Rotation3, Vector3};
use ndarray::parallel::prelude::*;
use ndarray::{Array2, Axis};
use std::borrow::Cow;

/// What is otherwise than the sheet and the recording say; by default nothing.
#[derive(Clone, Debug)]
pub struct Variation {
    /// Factor on the cutoff of the markers, or on the frequencies that their splines pass.
    pub cutoff: f64,
    /// Added to the points before they are smoothed, m; world axes, rows as [`Scene::xyz`] has them.
    pub moved: Option<Array2<f64>>,
    /// The points are not smoothed.
    pub as_it_is: bool,
    /// Curves are as smooth as those of the trial itself, coordinate by coordinate; otherwise that is found anew, and
    /// bodies are smoothed as wholes.
    pub as_found: bool,
    /// Upper arm, forearm, hand.
    pub segments: [SegmentElsewise; 3],
    /// The plumb line turned by a small rotation, rad; world axes.
    pub tilt: Vector3<f64>,
    /// Loads of every arm.
    pub loads: LoadsElsewhere,
    /// Factor on the moment arms of all muscles.
    pub moment_arms: f64,
    /// Factor on the cross-section of a muscle.
    pub cross_section: Option<(usize, f64)>,
}

/// How a segment differs from the model's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SegmentElsewise {
    /// Factor on its mass.
    pub mass: f64,
    /// Its mass centre lies so much farther from the proximal joint, part of its length.
    pub com: f64,
    /// Factor on its radii of gyration.
    pub radii: f64,
}

impl Default for SegmentElsewise {
    fn default() -> Self {
        Self {
            mass: 1.0,
            com: 0.0,
            radii: 1.0,
        }
    }
}

impl Default for Variation {
    fn default() -> Self {
        Self {
            cutoff: 1.0,
            moved: None,
            as_it_is: false,
            as_found: false,
            segments: [SegmentElsewise::default(); 3],
            tilt: Vector3::zeros(),
            loads: LoadsElsewhere::default(),
            moment_arms: 1.0,
            cross_section: None,
        }
    }
}

/// What is looked at of an arm, over the window; one row each, one column a frame.
pub type Curves = Array2<f64>;

/// Elbow flexion moment, N·m.
pub const ELBOW: usize = 0;
/// Its static part, N·m.
pub const ELBOW_STATIC: usize = 1;
/// Shoulder flexion moment, N·m.
pub const SHOULDER: usize = 2;
/// Size of the whole shoulder moment, N·m.
pub const SHOULDER_SIZE: usize = 3;
/// Power of the elbow, W.
pub const ELBOW_POWER: usize = 4;
/// Power of the shoulder, W.
pub const SHOULDER_POWER: usize = 5;
/// Force of all muscles of the elbow added up, N.
pub const MUSCLE_FORCE: usize = 6;
/// Size of the contact force at the elbow, N.
pub const CONTACT: usize = 7;
/// Force of the first muscle, N; the others follow.
pub const FIRST_MUSCLE: usize = 8;

/// Factors on the cutoff whose peaks are always told.
pub const OTHER_CUTOFFS: [f64; 2] = [0.7, 1.3];

impl Prepared<'_> {
    /// Curves of every arm under a variation.
    pub fn varied(&self, v: &Variation) -> Vec<Curves> {
        let scene = self.scene_varied(v);
        (0..self.bodies.len())
            .into_par_iter()
            .map(|i| self.arm_varied(i, v, &scene))
            .collect()
    }

    /// Whether anything acts on a hand, and whether a force of it comes from a file.
    pub fn acts_on_hands(&self) -> (bool, bool) {
        let mut loads = self.loads.iter().flatten();
        (
            self.loads.iter().any(|l| !l.is_empty()),
            loads.any(|(_, l)| l.has_signal()),
        )
    }

    /// Number of muscles that share a moment; 0 where one bears it alone.
    pub fn sharing_muscles(&self) -> usize {
        match self.sheet.muscles.model {
            Model::Single => 0,
            Model::Shared => self.sheet.muscles.list.len(),
        }
    }

    /// The cutoff of the markers, Hz, of splines the median of their half-power frequencies; `None` where they are not
    /// smoothed.
    pub fn cutoff_hz(&self) -> Option<f64> {
        match &self.smoothed.how.splines {
            Some(found) => median(found.iter().map(|s| s.half_power_hz)),
            None => self.smoothed.how.cutoff_hz,
        }
    }

    /// The cutoff of the markers times a factor, as far as the sampling rate can follow, Hz.
    fn cutoff_varied(&self, factor: f64) -> Option<f64> {
        let hz = self.smoothed.how.cutoff_hz?;
        Some((factor * hz).min((NOISE_BAND.1 * self.scene.rate_hz).max(hz)))
    }

    fn scene_varied(&self, v: &Variation) -> Cow<'_, Scene> {
        if v.cutoff == 1.0 && v.moved.is_none() {
            return Cow::Borrowed(&self.scene);
        }
        let mut out = self.smoothed.filled.clone();
        if let Some(moved) = &v.moved {
            out.xyz += moved;
        }
        if v.as_it_is {
            return Cow::Owned(out);
        }
        let (smoothed, filter) = (&self.smoothed, &self.sheet.filter);
        smoothed.again(
            &mut out,
            filter,
            (v.cutoff, v.as_found),
            self.cutoff_varied(v.cutoff),
        );
        if let Some(moved) = v.moved.as_ref().filter(|_| !v.as_found) {
            // points that bodies and linked arms have put back to their places
            for point in smoothed.placed() {
                let rows = ndarray::s![3 * point..3 * point + 3, ..];
                let mut place = out.xyz.slice_mut(rows);
                place += &moved.slice(rows);
            }
        }
        let needed = scene::fewest_frames(smoothed.how.method, filter.cutoff);
        scene::set_short_aside(
            &mut out,
            &mut smoothed.points.clone(),
            &smoothed.stretches,
            needed,
        );
        Cow::Owned(out)
    }

    /// The segments of an arm. Their lengths change with the points: mass centres and radii are parts of them.
    fn body_varied(&self, i: usize, v: &Variation, scene: &Scene) -> ArmBody {
        let mut body = self.bodies[i].body.clone();
        let (was, is) = (
            self.bodies[i].moving,
            v.moved.as_ref().map(|_| Lengths::measure(&self.plans[i], scene)),
        );
        let longer = |was: Option<f64>, is: Option<Option<f64>>| match (was, is.flatten()) {
            (Some(was), Some(is)) => is / was,
            _ => 1.0,
        };
        let ratios = [
            longer(was.upper_arm, is.map(|l| l.upper_arm)),
            longer(was.forearm, is.map(|l| l.forearm)),
            longer(was.hand, is.map(|l| l.hand)),
        ];
        let segments = [
            Some(&mut body.upper_arm),
            Some(&mut body.forearm),
            body.hand.as_mut(),
        ];
        for ((segment, ratio), other) in segments.into_iter().zip(ratios).zip(v.segments) {
            let Some(segment) = segment else { continue };
            segment.length_m *= ratio;
            segment.com_m = segment.com_m * ratio + other.com * segment.length_m;
            segment.mass_kg *= other.mass;
            segment.inertia_kg_m2 *= other.mass * (ratio * other.radii).powi(2);
        }
        body
    }

    fn arm_varied(&self, i: usize, v: &Variation, scene: &Scene) -> Curves {
        let plan = &self.plans[i];
        let carried = CarriedAxes::of(plan, MirroredScene::new(scene, plan.side));
        let body = self.body_varied(i, v, scene);
        let mut ready = self.ready(i, &carried, self.windows(i));
        let turned = Rotation3::from_scaled_axis(v.tilt) * Vector3::new(0.0, -ready.gravity.norm(), 0.0);
        ready.gravity = Mirror::of(plan.side).bare_polar(turned);
        ready.body = &body;
        ready.elsewhere = v.loads;
        let muscles = ready.muscles.varied(v.moment_arms, v.cross_section);
        ready.muscles = &muscles;
        let mut out = Array2::zeros((FIRST_MUSCLE + muscles.list.len(), self.window.len()));
        let blocks: Vec<_> = out.axis_chunks_iter_mut(Axis(1), BLOCK).enumerate().collect();
        blocks.into_par_iter().for_each(|(b, out)| {
            let start = self.window.start + b * BLOCK;
            write(&ready, scene, start, out);
        });
        out
    }

    /// Peaks with markers smoothed more and less; `None` where they are not smoothed.
    pub(super) fn other_cutoffs(&self, arms: &[ArmResults]) -> Option<OtherCutoffs> {
        let hz = self.cutoff_hz()?;
        let cutoffs_hz = OTHER_CUTOFFS.map(|factor| match self.smoothed.how.splines {
            Some(_) => factor * hz,
            None => self.cutoff_varied(factor).unwrap_or(f64::NAN),
        });
        let curves = OTHER_CUTOFFS.map(|cutoff| {
            self.varied(&Variation {
                cutoff,
                ..Variation::default()
            })
        });
        let peaks = |row: usize| {
            let of_arm = |(i, arm)| [0, 1].map(|k| peak(arm, &curves[k][i], row));
            arms.iter().enumerate().map(of_arm).collect()
        };
        Some(OtherCutoffs {
            cutoffs_hz,
            elbow_n_m: peaks(ELBOW),
            shoulder_n_m: peaks(SHOULDER_SIZE),
        })
    }

    /// Peaks about the elbows that linked arms were fitted to turn about.
    pub(super) fn about_fitted(&self, arms: &[ArmResults], linked: &mut [LinkedArmFound]) {
        for found in linked {
            let Some(i) = self.plans.iter().position(|p| p.side == found.side) else {
                continue;
            };
            let variation = Variation {
                moved: Some(self.centre_moved(i, Joint::Elbow, found.elbow_off_m.into())),
                ..Variation::default()
            };
            let curves = self.arm_varied(i, &variation, &self.scene_varied(&variation));
            found.elbow_peak_about_fitted_n_m = peak(&arms[i], &curves, ELBOW);
        }
    }

    /// What to add to the points so that they are the most likely movement: each coordinate's spline, or the curves that have
    /// smoothed the trial.
    pub fn likely(&self) -> Array2<f64> {
        let smoothed = &self.smoothed;
        if smoothed.how.splines.is_some() {
            return &self.scene.xyz - &smoothed.filled.xyz;
        }
        let mut out = smoothed.filled.clone();
        scene::smooth_by_splines(&mut out, &smoothed.stretches, &smoothed.points, |_| {
            spline::MOST_LIKELY
        });
        out.xyz - &smoothed.filled.xyz
    }

    /// Points on skin that move over bone together: those that a cluster carries, every other one alone. Points of loads are
    /// on no skin.
    pub fn plates(&self) -> Vec<Vec<PointId>> {
        let mut on_skin: Vec<PointId> = self
            .plans
            .iter()
            .flat_map(|p| [p.arm_points(), p.thorax_points()].concat())
            .collect();
        on_skin.sort_unstable();
        on_skin.dedup();
        let carried = |c: &ClusterReport| -> Vec<PointId> {
            let rebuilt = c.rebuilt.iter().filter(|r| r.1 == c.residual().0);
            rebuilt.filter_map(|r| self.scene.index(&r.0)).collect()
        };
        let mut out: Vec<Vec<PointId>> = self.clusters.iter().map(carried).collect();
        out.retain(|plate| !plate.is_empty());
        let alone = on_skin.into_iter().filter(|p| !out.iter().any(|o| o.contains(p)));
        let alone: Vec<Vec<PointId>> = alone.map(|p| vec![p]).collect();
        out.extend(alone);
        out
    }

    /// What to add to the points so that a joint centre of an arm lies elsewhere: `by` metres in the axes of the upper
    /// arm (an elbow centre) or the trunk (a shoulder centre), of a left arm mirrored. The points that give the centre
    /// go with it, all alike; where the axes are not known nothing moves.
    pub fn centre_moved(&self, i: usize, joint: Joint, by: Vector3<f64>) -> Array2<f64> {
        let (plan, scene) = (&self.plans[i], &self.scene);
        let view = MirroredScene::new(scene, plan.side);
        let carried = CarriedAxes::of(plan, view);
        let pose = pose(plan, view, &carried, 0..scene.frames());
        let (axes, centre): (_, &Centre) = match joint {
            Joint::Elbow => (&pose.r_wu, &plan.elbow),
            Joint::Shoulder => (&pose.r_wt, &plan.shoulder),
            Joint::Wrist => (&pose.r_wf, &plan.wrist),
        };
        let mut out = Array2::zeros(scene.xyz.dim());
        let mirror = Mirror::of(plan.side);
        for (f, r) in axes.iter().enumerate() {
            let d = mirror.bare_polar(r * by);
            if d.iter().any(|x| x.is_nan()) {
                continue;
            }
            for point in centre.points() {
                for k in 0..3 {
                    out[(3 * point + k, f)] = d[k];
                }
            }
        }
        out
    }
}

/// The largest value of a row by size, by the rule that peaks are found by; missing if nothing is known.
pub fn peak(arm: &ArmResults, curves: &Curves, row: usize) -> f64 {
    let series = curves.row(row);
    let series = series.to_slice().expect("a row of curves lies in one piece");
    arm.largest_trusted(series, 0..series.len())
        .map_or(f64::NAN, |f| series[f])
}

/// Computes one block of curves.
fn write(ready: &ReadyArm<'_>, scene: &Scene, start: usize, mut out: ndarray::ArrayViewMut2<'_, f64>) {
    let inner = start..start + out.ncols();
    let outer = inner.start.saturating_sub(HALO)..(inner.end + HALO).min(scene.frames());
    let skip = inner.start - outer.start;
    let block = ready.block(scene, outer);
    let motion = &block.motion;
    let mut rows = vec![f64::NAN; ready.muscles.rows()];
    for (k, mut column) in out.columns_mut().into_iter().enumerate() {
        let i = skip + k;
        let z_u: Vector3<f64> = block.pose.r_wu[i].column(2).into();
        let z_t: Vector3<f64> = block.pose.r_wt[i].column(2).into();
        let (elbow, shoulder) = (&block.total.elbow[i], &block.total.shoulder[i]);
        column[ELBOW] = elbow.moment.dot(&z_u);
        column[ELBOW_STATIC] = block.statics.elbow[i].moment.dot(&z_u);
        column[SHOULDER] = shoulder.moment.dot(&z_t);
        column[SHOULDER_SIZE] = shoulder.moment.norm();
        let upper_arm = motion.upper_arm.omega[i];
        column[ELBOW_POWER] = elbow.moment.dot(&(motion.forearm.omega[i] - upper_arm));
        column[SHOULDER_POWER] = shoulder.moment.dot(&(upper_arm - motion.omega_thorax[i]));
        let flexion = angles::joint_angles(ready.plan, &block.pose, i).elbow_flexion;
        ready.muscles.write(&ready.instant(&block, i, flexion), &mut rows);
        let forces = &rows[..ready.muscles.list.len()];
        column[MUSCLE_FORCE] = forces.iter().sum();
        let contact = ready.muscles.row(Row::ContactForearm(0));
        column[CONTACT] = Vector3::from_column_slice(&rows[contact..contact + 3]).norm();
        for (k, force) in forces.iter().enumerate() {
            column[FIRST_MUSCLE + k] = *force;
        }
    }
}

//! Every quantity over time of a prepared trial.

use super::arm_pass::{ArmBlock, Out, ReadyArm};
use super::prepare::{Prepared, PreparedBody};
use super::smooth::Smoothed;
use super::{BLOCK, Extras, flags};
use crate::anatomy::arm::{ArmPlan, CarriedAxes};
use crate::anatomy::body::ArmBody;
use crate::ground::names::Side;
use crate::ground::rotation;
use crate::ground::scene::{MirroredScene, PointId, Scene};
use crate::ground::warning::Warning;
use crate::kinetics::loads::elsewhere::LoadsElsewhere;
use crate::phases::windows::Windows;
use crate::results::muscles::MuscleSeries;
use crate::results::{self as q, ArmResults, Audit, Needs, Positions, QUANTITIES, Smoothing, TrialResults};
use crate::sheet::TrialSheet;
use crate::smoothing::lowpass::ZeroLag;
use crate::smoothing::scene::PointReport;
use nalgebra::Vector3;
use ndarray::parallel::prelude::*;
use ndarray::{Array2, Axis, s};
use std::ops::Range;

impl<'a> Prepared<'a> {
    /// The sheet.
    pub fn sheet(&self) -> &'a TrialSheet {
        self.sheet
    }

    /// Points in use.
    pub fn points(&self) -> &[PointReport] {
        &self.smoothed.points
    }

    /// How markers and load files were smoothed.
    pub fn smoothing(&self) -> &Smoothing {
        &self.smoothed.how
    }

    /// Which points make which joint, the segments, and the standard deviations of their lengths (upper arm,
    /// forearm, hand; m): one an arm.
    pub fn arms(&self) -> impl Iterator<Item = (&ArmPlan, &ArmBody, [f64; 3])> {
        self.plans
            .iter()
            .zip(&self.bodies)
            .map(|(plan, b)| (plan, &b.body, b.moving.sd))
    }

    /// Everything worth knowing, each once: what [`Prepared::compute`] says. Doubts about results need them,
    /// so this computes them.
    pub fn warnings(&self) -> Vec<Warning> {
        let arms = (0..self.bodies.len())
            .into_par_iter()
            .map(|i| self.arm(i, Extras::default()).1);
        let mut all: Vec<Warning> = self.warnings.clone();
        all.extend(arms.collect::<Vec<_>>().into_iter().flatten());
        each_once(all)
    }

    /// Unbroken stretches of a point after filling, as they were smoothed.
    pub fn stretches(&self, point: PointId) -> &[Range<usize>] {
        &self.smoothed.stretches[point]
    }

    /// Frames at each end of a stretch in which smoothing and differences know less.
    pub fn edge_frames(&self) -> usize {
        self.smoothed.edge_frames(self.scene.rate_hz)
    }

    /// Everything known of every arm in one frame; with it, the block's own index of that frame.
    ///
    /// # Shape
    /// A block of a few frames around it, as the whole trial sees them: the same differences, the same
    /// values.
    pub fn look_at<T>(
        &self,
        frame: usize,
        mut then: impl FnMut(&ReadyArm<'_>, &ArmBlock, usize) -> T,
    ) -> Vec<T> {
        let from = frame.saturating_sub(super::arm_pass::HALO);
        let to = (frame + 1 + super::arm_pass::HALO).min(self.scene.frames());
        (0..self.bodies.len())
            .map(|i| {
                let carried = CarriedAxes::of(
                    &self.plans[i],
                    MirroredScene::new(&self.scene, self.plans[i].side),
                );
                let ready = self.ready(i, &carried, self.windows(i));
                then(&ready, &ready.block(&self.scene, from..to), frame - from)
            })
            .collect()
    }

    /// The lines that rest of one arm is judged from.
    pub(super) fn windows(&self, i: usize) -> Windows {
        let noise = super::rest::noise(
            &self.plans[i],
            &self.bodies[i].body,
            &self.scene,
            &self.smoothed.points,
        );
        let low_pass = self
            .smoothed
            .how
            .cutoff_hz
            .and_then(|hz| Some((ZeroLag::design(hz, self.scene.rate_hz).ok()?, hz)));
        Windows::choose(
            noise,
            &self.sheet.phases,
            self.scene.rate_hz,
            low_pass.as_ref().map(|(f, hz)| (f, *hz)),
        )
    }

    pub(super) fn ready<'b>(&'b self, i: usize, carried: &'b CarriedAxes, windows: Windows) -> ReadyArm<'b> {
        ReadyArm {
            plan: &self.plans[i],
            body: &self.bodies[i].body,
            loads: &self.loads[i],
            carried,
            gravity: Vector3::new(0.0, -self.sheet.model.gravity_m_s2, 0.0),
            elsewhere: LoadsElsewhere::default(),
            windows,
            muscles: &self.sheet.muscles,
        }
    }

    /// Computes every quantity over time.
    pub fn compute(&self, extras: Extras) -> TrialResults {
        let computed: Vec<(ArmResults, Vec<Warning>)> = (0..self.bodies.len())
            .into_par_iter()
            .map(|i| self.arm(i, extras))
            .collect();
        let mut arms = Vec::new();
        let settings = super::effects::settings(self.sheet, &self.idle, &self.warnings);
        let mut warnings = self.warnings.clone();
        for (arm, of_arm) in computed {
            arms.push(arm);
            warnings.extend(of_arm);
        }
        let other_cutoffs = extras.other_cutoffs.then(|| self.other_cutoffs(&arms)).flatten();
        let mut smoothing = self.smoothed.how.clone();
        if extras.other_cutoffs {
            self.about_fitted(&arms, &mut smoothing.linked);
        }
        TrialResults {
            time_s: self.window.clone().map(|f| self.scene.time(f)).collect(),
            separators: self
                .scene
                .pauses
                .separators()
                .filter(|s| self.window.contains(s))
                .map(|s| s - self.window.start)
                .collect(),
            pauses: self.scene.pauses.spans(self.scene.start_s, self.scene.rate_hz),
            rate_hz: self.scene.rate_hz,
            window: self.window.clone(),
            arms,
            other_cutoffs,
            sensitivity: Vec::new(),
            uncertainty: None,
            points: self.smoothed.points.clone(),
            clusters: self.clusters.clone(),
            smoothing,
            jitter_s: self.jitter_s,
            warnings: each_once(warnings),
            settings,
        }
    }

    /// One arm: every quantity over time, then what needs the whole series.
    fn arm(&self, i: usize, extras: Extras) -> (ArmResults, Vec<Warning>) {
        let (sheet, scene, plan, loads) = (self.sheet, &self.scene, &self.plans[i], &self.loads[i]);
        let PreparedBody {
            body,
            moving,
            warnings,
        } = &self.bodies[i];
        let mut warnings = warnings.clone();
        let carried = CarriedAxes::of(plan, MirroredScene::new(scene, plan.side));
        let windows = self.windows(i);
        warnings.extend(super::rest::unclear(plan.side, &windows, &sheet.phases));
        let ready = self.ready(i, &carried, windows);
        let computed = compute(&ready, scene, &self.smoothed, extras);
        let (mut data, details, positions) = (computed.data, computed.details, computed.positions);
        let muscles = self.muscles_of(plan.side, computed.muscles);
        super::rest::travel(&ready, scene, &mut data);
        let reviews = ready.review(scene, self.window.clone());
        let flags = flags::of_frames(&flags::Known {
            plan,
            loads,
            scene,
            smoothed: &self.smoothed,
            rebuilt: &self.rebuilt,
            carried: &carried,
            data: &data,
            reviews: &reviews,
            spoilt: &self.spoilt,
        });
        warnings.extend(reviews.iter().flat_map(|r| r.warnings.clone()));
        warnings.extend(axis_carried(plan, &carried, scene.frames()));
        let window = self.window.clone();
        if window.len() < scene.frames() {
            data = data.slice(s![.., window.clone()]).to_owned();
        }
        warnings.extend(self.doubts(&ready, &data, &flags));
        let in_window = |row: ndarray::ArrayView1<'_, f64>| row.slice(s![window.clone()]).to_vec();
        let names = if extras.details {
            ready.detail_names()
        } else {
            Vec::new()
        };
        let details = names
            .into_iter()
            .zip(details.rows())
            .map(|(name, row)| (name, in_window(row)))
            .collect();
        let positions = extras.positions.then(|| Positions {
            xyz: positions.slice(s![.., window.clone()]).to_owned(),
        });
        unwrap_angles(&mut data);
        let changes = super::rest::load_changes(loads, scene, &window);
        let phases = super::rest::phases(&data, &changes, &windows, sheet, scene.rate_hz);
        warnings.extend(super::empty::columns(&super::empty::Computed {
            plan,
            body,
            scene,
            carried: &carried,
            reviews: &reviews,
            loads: loads.iter().map(|l| l.0.as_str()).collect(),
            window: window.clone(),
            data: &data,
        }));
        let results = ArmResults {
            side: plan.side,
            has_wrist: body.hand.is_some(),
            centres: plan.centres.clone(),
            loads: words_of_loads(sheet, plan.side),
            audit: audit(&data),
            data,
            phases,
            flags: flags[window.clone()].to_vec(),
            details,
            positions,
            muscles: muscles.windowed(window.clone()),
            length_sd_m: moving.sd,
            axis_trusted_from: carried.trusted_from,
            body: body.clone(),
        };
        (results, warnings)
    }

    /// What muscles do, with what is known of the person and the loads beside it.
    fn muscles_of(&self, side: Side, rows: Array2<f64>) -> MuscleSeries {
        let sheet = self.sheet;
        let held = sheet
            .loads
            .iter()
            .filter(|l| l.side == side)
            .filter_map(|l| l.kind.as_ref());
        MuscleSeries {
            of: sheet.muscles.clone(),
            rows,
            body_weight_n: sheet.participant.body_mass_kg * sheet.model.gravity_m_s2,
            all_hang: held.into_iter().all(|k| k.weight_kg().is_some()),
        }
    }

    /// What is doubtful about an arm's loads and about its results in the window.
    fn doubts(
        &self,
        ready: &ReadyArm<'_>,
        data: &Array2<f64>,
        flags: &[crate::results::flag::Flags],
    ) -> Vec<Warning> {
        let (sheet, scene, window) = (self.sheet, &self.scene, &self.window);
        let mut warnings = Vec::new();
        warnings.extend(super::doubts::held::doubted_holding(
            ready,
            scene,
            window.clone(),
            sheet.participant.body_mass_kg,
        ));
        warnings.extend(super::doubts::results::doubted_results(
            ready,
            scene,
            window.clone(),
            data,
            &flags[window.clone()],
            &sheet.participant,
        ));
        warnings
    }
}

/// How much of an arm's flexion axis was carried over.
fn axis_carried(plan: &ArmPlan, carried: &CarriedAxes, of: usize) -> Option<Warning> {
    let frames = carried.carried.iter().filter(|c| **c).count();
    let from = carried.trusted_from.filter(|_| frames > 0)?;
    Some(Warning::AxisCarried {
        side: plan.side,
        frames,
        of,
        below_deg: from.to_degrees(),
    })
}

/// Labels of the loads on an arm with what they are.
fn words_of_loads(sheet: &TrialSheet, side: crate::ground::names::Side) -> Vec<(String, String)> {
    let of_side = sheet.loads.iter().filter(|l| l.side == side);
    of_side
        .filter_map(|l| Some((l.label.clone(), l.words()?)))
        .collect()
}

/// Every warning once, in the order of first mention, grave ones first.
fn each_once(warnings: Vec<Warning>) -> Vec<Warning> {
    let mut out: Vec<Warning> = Vec::new();
    for w in warnings {
        if !out.contains(&w) {
            out.push(w);
        }
    }
    out.sort_by_key(|w| !w.is_grave());
    out
}

/// Everything of one arm over time: one column a frame.
struct Computed {
    data: Array2<f64>,
    details: Array2<f64>,
    positions: Array2<f64>,
    muscles: Array2<f64>,
}

/// Computes all quantities of one arm, block by block.
fn compute(ready: &ReadyArm<'_>, scene: &Scene, smoothed: &Smoothed, extras: Extras) -> Computed {
    let frames = scene.frames();
    let detail_rows = if extras.details {
        ready.detail_names().len()
    } else {
        0
    };
    let position_rows = if extras.positions {
        Positions::rows(ready.loads.len())
    } else {
        0
    };
    let fill = |scene: &Scene| {
        // zeros cost nothing until a block is written, and then its own thread
        let empty = |rows| Array2::zeros((rows, frames));
        let mut all = Computed {
            data: empty(QUANTITIES.len()),
            details: empty(detail_rows),
            positions: empty(position_rows),
            muscles: empty(ready.muscles.rows()),
        };
        let blocks: Vec<_> = all
            .data
            .axis_chunks_iter_mut(Axis(1), BLOCK)
            .zip(all.details.axis_chunks_iter_mut(Axis(1), BLOCK))
            .zip(all.positions.axis_chunks_iter_mut(Axis(1), BLOCK))
            .zip(all.muscles.axis_chunks_iter_mut(Axis(1), BLOCK))
            .enumerate()
            .collect();
        blocks
            .into_par_iter()
            .for_each(|(b, (((data, details), positions), muscles))| {
                let out = Out {
                    data,
                    details,
                    positions,
                    muscles,
                };
                ready.write(scene, b * BLOCK..((b + 1) * BLOCK).min(frames), out);
            });
        all
    };
    let mut all = fill(scene);
    if let Some(with_short) = &smoothed.with_short {
        // postures and static parts of stretches too short to smooth
        let posture = fill(with_short);
        for (row, quantity) in QUANTITIES.iter().enumerate() {
            if quantity.needs == Needs::Posture {
                all.data.row_mut(row).assign(&posture.data.row(row));
            }
        }
        for row in (0..ready.muscles.rows()).filter(|r| ready.muscles.of_posture(*r)) {
            all.muscles.row_mut(row).assign(&posture.muscles.row(row));
        }
        all.positions = posture.positions;
    }
    all
}

/// Makes angles run on beyond 180° instead of jumping.
fn unwrap_angles(data: &mut Array2<f64>) {
    for (row, quantity) in QUANTITIES.iter().enumerate() {
        if quantity.unit == q::Unit::Degrees && row != q::SHOULDER_ELEVATION {
            let mut series = data.row_mut(row);
            rotation::unwrap(series.as_slice_mut().expect("a row of results lies in one piece"));
        }
    }
}

/// Energy audit over all frames in which both sides are known.
fn audit(data: &Array2<f64>) -> Option<Audit> {
    let (mut ss, mut n, mut peak) = (0.0, 0, 0.0_f64);
    for (e, p) in data.row(q::ENERGY_RATE).iter().zip(data.row(q::POWER_IN)) {
        if (e - p).is_finite() {
            ss += (e - p).powi(2);
            n += 1;
            peak = peak.max(p.abs());
        }
    }
    (n > 0).then(|| Audit {
        rms_w: (ss / n as f64).sqrt(),
        peak_power_w: peak,
    })
}

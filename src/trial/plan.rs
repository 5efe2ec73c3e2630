//! Which points make which part of which arm, what acts on each hand, and which points have to be made.

use super::TrialError;
use super::recordings::Recordings;
use crate::anatomy::arm::{ArmPlan, Catalog, Centre, trunk_axes};
use crate::anatomy::posture::{self, Posture};
use crate::ground::median;
use crate::ground::names::Side;
use crate::ground::place::Place;
use crate::ground::scene::MirroredScene;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::Warning;
use crate::kinetics::loads::{Acting, PointFinder};
use crate::points::clusters::{ClusterReport, follows};
use crate::points::made::{self, Found, HalfWidthFits, ShoulderAndWrist, Sources, ToMake};
use crate::sheet::TrialSheet;
use nalgebra::Matrix3;

/// A load with its label, ready to act.
pub type ReadyLoad = (String, Box<dyn Acting>);

/// What is to be made of the recordings.
pub struct Plan {
    /// One an arm, in the order of the sheet.
    pub arms: Vec<ArmPlan>,
    /// Loads of each of them.
    pub loads: Vec<Vec<ReadyLoad>>,
    /// Points to be made, of all arms.
    pub to_make: Vec<ToMake>,
    /// Their names.
    pub made: Vec<String>,
    /// Names of all points in use.
    pub names: Vec<String>,
}

/// What points can be made from.
pub fn sources<'a>(
    sheet: &'a TrialSheet,
    described: &'a Place,
    recordings: &'a Recordings,
    available: &'a dyn Fn(&str) -> bool,
) -> Sources<'a> {
    Sources {
        sheet: described,
        shoulder: sheet.model.shoulder.as_ref(),
        elbow: &sheet.model.elbow,
        clusters: sheet.clusters(),
        calibrated: sheet.calibration.is_some(),
        markers: &sheet.markers,
        recording: &recordings.trial,
        statics: recordings.statics.as_ref(),
        motions: &recordings.motions,
        available,
    }
}

impl Plan {
    /// Points whose accelerations carry a load: those of each arm from the elbow on, and those that loads stand on.
    pub fn points_that_carry(&self) -> Vec<PointId> {
        let mut out: Vec<PointId> = self.arms.iter().flat_map(ArmPlan::points_from_elbow).collect();
        out.extend(self.loads.iter().flatten().flat_map(|(_, load)| load.points()));
        out.sort_unstable();
        out.dedup();
        out
    }

    /// Chooses the points, and gets the loads ready.
    ///
    /// # Errors
    /// Joint centres, or places of loads, that can't be had from the points there are.
    pub fn choose(sheet: &TrialSheet, recordings: &Recordings) -> Result<(Self, Vec<Warning>), TrialError> {
        let mut warnings = Vec::new();
        let recording = &recordings.trial;
        let clusters = sheet.clusters();
        let carried = |name: &str| clusters.iter().any(|c| follows(c, name));
        let in_static = |name: &str| {
            recordings
                .statics
                .as_ref()
                .is_some_and(|s| s.index(name).is_some())
        };
        let available = |name: &str| recording.index(name).is_some() || (in_static(name) && carried(name));
        let described = Place::file(sheet.path.display().to_string());
        let sources = sources(sheet, &described, recordings, &available);
        let decided = sheet
            .trial
            .sides
            .iter()
            .map(|side| sources.decide(*side))
            .collect::<Result<Vec<_>, _>>()?;
        let made: Vec<String> = decided.iter().flat_map(|(made, _)| made.names()).collect();
        let with_made = |name: &str| available(name) || made.iter().any(|m| m == name);
        let mut catalog = Catalog::new(&with_made);
        let (mut arms, mut loads, mut to_make) = (Vec::new(), Vec::new(), Vec::new());
        for (side, (made, of_side)) in sheet.trial.sides.iter().zip(decided) {
            let mut arm = ArmPlan::choose(
                *side,
                sheet.model.shoulder.as_ref(),
                &made,
                &mut catalog,
                recording.absent_axis.is_some(),
                recordings.file(),
            )?;
            place_trunk(&mut arm, sheet);
            for name in of_side.iter().flat_map(ToMake::needs) {
                catalog.id(&name);
            }
            to_make.extend(of_side);
            loads.push(ready_loads(sheet, recordings, &arm, &mut catalog, &mut warnings)?);
            arms.push(arm);
        }
        let names = catalog.names;
        let (words, of_methods) = made::of_methods(&to_make);
        warnings.extend(of_methods);
        for (side, words) in words {
            for arm in arms.iter_mut().filter(|a: &&mut ArmPlan| a.side == side) {
                arm.centres.made.push(words.clone());
            }
        }
        let plan = Self {
            arms,
            loads,
            to_make,
            made,
            names,
        };
        Ok((plan, warnings))
    }
}

/// The loads of an arm, their points looked up and their files read.
fn ready_loads(
    sheet: &TrialSheet,
    recordings: &Recordings,
    arm: &ArmPlan,
    catalog: &mut Catalog<'_>,
    warnings: &mut Vec<Warning>,
) -> Result<Vec<ReadyLoad>, TrialError> {
    let recording = &recordings.trial;
    let known: Vec<String> = recording.points.iter().map(|p| p.name.clone()).collect();
    let mut ready = Vec::new();
    for load in sheet.loads.iter().filter(|l| l.side == arm.side) {
        let mut finder = PointFinder {
            place: &load.place,
            file: recordings.file(),
            catalog,
            known: &known,
            absent_axis: recording.absent_axis,
            max_gap_s: sheet.filter.max_gap_s,
            warnings,
        };
        if let Some(acting) = load.prepare(&mut finder)? {
            ready.push((load.label.clone(), acting));
        }
    }
    if !sheet.loads.iter().any(|l| l.side == arm.side) {
        warnings.push(Warning::NoLoad { side: arm.side });
    }
    Ok(ready)
}

/// Gives a plan without trunk landmarks the trunk axes of the stated posture.
fn place_trunk(plan: &mut ArmPlan, sheet: &TrialSheet) {
    let trunk = sheet
        .participant
        .posture
        .and_then(|p| p.trunk(&sheet.markers.axes));
    plan.trunk = trunk.map_or_else(Matrix3::identity, |r| posture::mirrored(&r, plan.side));
    if let (Centre::Below(..), None) = (plan.shoulder, plan.thorax) {
        plan.centres.shoulder += if trunk.is_some() {
            " (as participant.posture says)"
        } else {
            " (taken as vertical)"
        };
    }
}

/// Adds to the words on joint centres what functional methods found.
pub fn say_found(arms: &mut [ArmPlan], found: Vec<Found>) {
    for found in found {
        let Some(arm) = arms.iter_mut().find(|a| a.side == found.fit.side) else {
            continue;
        };
        let note = if found.fit.axis_residual_deg.is_some() {
            &mut arm.centres.elbow
        } else {
            &mut arm.centres.shoulder
        };
        *note += &found.words;
        arm.centres.made.push(found.short);
        arm.centres.fits.push(found.fit);
    }
}

/// Adds to the words on joint centres which of their points were rebuilt from which cluster.
pub fn say_rebuilt(plans: &mut [ArmPlan], reports: &[ClusterReport], scene: &Scene) {
    for plan in plans {
        let centres = [
            (plan.shoulder, &mut plan.centres.shoulder),
            (plan.elbow, &mut plan.centres.elbow),
            (plan.wrist, &mut plan.centres.wrist),
        ];
        for (centre, words) in centres {
            let points = centre.points();
            let of_report = |r: &ClusterReport| {
                let rebuilt =
                    |p: &PointId| r.rebuilt.iter().find(|(n, _)| *n == scene.names[*p]).map(|x| x.1);
                let frames = points.iter().filter_map(rebuilt).max()?;
                let part = if frames == scene.recorded_frames() {
                    "throughout".to_owned()
                } else {
                    format!("in {frames} frames")
                };
                Some(format!(", rebuilt from the cluster {} {part}", r.name))
            };
            words.extend(reports.iter().filter_map(of_report));
        }
    }
}

/// Turns a fraction of the distance between the acromia into a length: its median over the static trial if
/// that shows both, else over the moving one.
pub fn set_acromial_drops(plans: &mut [ArmPlan], statics: Option<&Scene>, moving: &Scene) {
    for plan in plans {
        if let (Some((a, b, fraction)), Centre::Below(ac, _)) = (plan.acromia, plan.shoulder) {
            let distance = |s: &Scene| median((0..s.frames()).map(|f| (s.p(a, f) - s.p(b, f)).norm()));
            let d = statics
                .and_then(distance)
                .or_else(|| distance(moving))
                .unwrap_or(f64::NAN);
            plan.shoulder = Centre::Below(ac, fraction * d);
            plan.centres.shoulder += &format!(" ({:.1} mm)", fraction * d * 1e3);
        }
    }
}

/// Shoulder and wrist centres of an arm in every frame of a scene, for what is found between them.
pub fn shoulder_and_wrist(arms: &[ArmPlan], side: Side, scene: &Scene) -> Option<ShoulderAndWrist> {
    let arm = arms.iter().find(|a| a.side == side)?;
    let view = MirroredScene::new(scene, side);
    let trunk: Vec<_> = (0..scene.frames()).map(|f| trunk_axes(arm, view, f)).collect();
    let centre = |c: Centre| (0..scene.frames()).map(|f| c.at(view, f, &trunk[f])).collect();
    Some(ShoulderAndWrist {
        shoulder: centre(arm.shoulder),
        wrist: centre(arm.wrist),
    })
}

/// Notes in how many frames a stated half width fits.
pub fn say_half_widths(arms: &mut [ArmPlan], fits: &[HalfWidthFits]) {
    for f in fits {
        for arm in arms.iter_mut().filter(|a| a.side == f.side) {
            arm.centres.half_width_fits = Some([f.fits, f.of]);
        }
    }
}

/// Warnings that follow from which points there are.
pub fn warn_of_model(arms: &[ArmPlan], stated: Option<Posture>) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for plan in arms {
        if plan.planar {
            warnings.push(Warning::Planar);
        }
        if plan.thorax.is_none() {
            warnings.extend(match stated {
                Some(Posture::Leaning) => Some(Warning::TrunkUnknown {
                    centre: matches!(plan.shoulder, Centre::Below(..)),
                }),
                Some(p) => Some(Warning::TrunkFromPosture {
                    posture: p.name(),
                    words: p.words(),
                }),
                None => (!plan.planar).then_some(Warning::NoThorax),
            });
        }
        if plan.centres_only() && !plan.planar {
            warnings.push(Warning::CentresOnly { side: plan.side });
        }
    }
    warnings
}

/// Share of the body mass in one hand above which it is doubted (common practice, no source).
const HEAVY_LOAD: f64 = 0.75;

/// Loads that hardly anybody holds in one hand.
pub fn heavy_loads(sheet: &TrialSheet) -> impl Iterator<Item = Warning> + '_ {
    sheet.trial.sides.iter().filter_map(|side| {
        let mass_kg: f64 = sheet
            .loads
            .iter()
            .filter(|l| l.side == *side)
            .filter_map(|l| l.kind.as_ref()?.weight_kg())
            .sum();
        let part = mass_kg / sheet.participant.body_mass_kg;
        (part > HEAVY_LOAD).then_some(Warning::LoadImplausible {
            side: *side,
            mass_kg,
            percent: 100.0 * part,
        })
    })
}

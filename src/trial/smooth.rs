//! How the points of a trial are smoothed: gaps filled, a way chosen, every stretch passed through it, and the recorded
//! series of the loads.

use super::linked::{LinkedArm, Look};
use super::plan::Plan;
use super::prepare::keep;
use super::recordings::Recordings;
use super::{TrialError, doubts, seen_twice, signals};
use crate::anatomy::arm::{ArmPlan, Centre};
use crate::ground::bodies::{RigidBody, follows};
use crate::ground::names::Segment;
use crate::ground::place::Place;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::Warning;
use crate::results::{ElbowSeenTwice, Smoothing, SplineFound};
use crate::sheet::TrialSheet;
use crate::smoothing::judge::{self, JudgedBody};
use crate::smoothing::lowpass::{self, ZeroLag};
use crate::smoothing::scene::{self, ChosenCutoff, FoundOfRows, PointReport, Stretches};
use crate::smoothing::settings::{Cutoff, FilterSettings, Method};
use crate::smoothing::{SmoothingError, choice, derivative, rigid, spline};

/// What smoothing leaves behind.
pub(super) struct Smoothed {
    pub points: Vec<PointReport>,
    pub how: Smoothing,
    /// The points with gaps filled, not smoothed yet.
    pub filled: Scene,
    /// Unbroken stretches of every point.
    pub stretches: Stretches,
    /// The scene with stretches that are too short to smooth, if there are any: good for posture and static
    /// parts only.
    pub with_short: Option<Scene>,
    /// Bodies that are smoothed as wholes.
    pub bodies: Vec<RigidBody>,
    /// Arms that are smoothed as linked segments.
    pub linked: Vec<LinkedArm>,
    /// Points with the highest half-power frequency that their curves may have, Hz.
    pub limits: Vec<(PointId, f64)>,
    /// What curves found.
    pub found: Option<FoundByCurves>,
}

/// What curves found: of each row of the scene, and of the six coordinates of each body.
#[derive(Clone, Debug)]
pub(super) struct FoundByCurves {
    rows: FoundOfRows,
    bodies: Vec<FoundOfRows>,
}

impl Smoothed {
    /// Frames at each end of a stretch in which smoothing and differences know less.
    pub fn edge_frames(&self, rate_hz: f64) -> usize {
        self.how
            .cutoff_hz
            .map_or(derivative::ORDER / 2, |hz| lowpass::edge_frames(hz, rate_hz))
    }

    /// Points whose places come from bodies or linked arms.
    pub fn placed(&self) -> Vec<PointId> {
        let by_bodies = self.bodies.iter().flat_map(|b| b.followers.iter().map(|f| f.0));
        by_bodies
            .chain(self.linked.iter().flat_map(LinkedArm::points))
            .collect()
    }

    /// Smooths points as those of the trial were: by curves, of which `looser` is a factor on the frequencies, or by a
    /// low-pass at `cutoff_hz`. What curves have found before stays if `as_found`. With it, what they found.
    pub fn again(
        &self,
        scene: &mut Scene,
        filter: &FilterSettings,
        (looser, as_found): (f64, bool),
        cutoff_hz: Option<f64>,
    ) -> Option<FoundByCurves> {
        let curves = Curves {
            // points that have been moved each by itself are no body: their own coordinates' curves stand in
            bodies: if as_found { &[] } else { &self.bodies },
            linked: if as_found { &[] } else { &self.linked },
            limits: &self.limits,
            max_gap_s: filter.max_gap_s,
            looser,
            known: self
                .found
                .as_ref()
                .filter(|_| as_found || !self.linked.is_empty())
                .map(|f| &f.rows),
        };
        match self.how.method {
            Method::Spline | Method::Rigid | Method::Linked => {
                Some(curves.smooth(scene, &self.stretches, &self.points))
            }
            Method::Butterworth | Method::Auto => {
                if let Some(Ok(low_pass)) = cutoff_hz.map(|hz| ZeroLag::design(hz, scene.rate_hz)) {
                    scene::smooth_stretches(scene, &self.stretches, &low_pass);
                }
                None
            }
        }
    }
}

/// How points are smoothed by curves.
struct Curves<'a> {
    /// Smoothed as wholes.
    bodies: &'a [RigidBody],
    /// Smoothed as linked segments.
    linked: &'a [LinkedArm],
    limits: &'a [(PointId, f64)],
    max_gap_s: f64,
    looser: f64,
    /// Of each row: it is not looked for again.
    known: Option<&'a FoundOfRows>,
}

impl Curves<'_> {
    fn smooth(&self, scene: &mut Scene, stretches: &Stretches, points: &[PointReport]) -> FoundByCurves {
        let highest_hz = |p: PointId| {
            let limit = self.limits.iter().find(|l| l.0 == p);
            limit.map_or(f64::INFINITY, |l| l.1)
        };
        let pass = |row: usize| spline::Pass {
            looser: self.looser,
            highest_hz: highest_hz(row / 3),
            known_hz: self.known.and_then(|k| Some(k[row]?.f0_hz)),
        };
        let rows = scene::smooth_by_splines(scene, stretches, points, pass);
        let mut of_bodies = Vec::new();
        for body in self.bodies {
            let how = rigid::How {
                max_gap_s: self.max_gap_s,
                pass: spline::Pass {
                    looser: self.looser,
                    ..spline::MOST_LIKELY
                },
            };
            of_bodies.push(rigid::place_followers(body, scene, how, highest_hz));
        }
        self.linked.iter().for_each(|arm| arm.place(scene, self.looser));
        FoundByCurves {
            rows,
            bodies: of_bodies,
        }
    }
}

/// What curves found, by name; rows that do not move, or too little is known of, are left out, and so are those of points
/// that follow a body. Noise of a turn as it moves the followers, m (root mean square over them).
fn by_name(found: &FoundByCurves, bodies: &[RigidBody], scene: &Scene) -> Vec<SplineFound> {
    let axes = ["x", "y", "z"];
    let of_points = found
        .rows
        .iter()
        .enumerate()
        .filter(|(i, _)| !follows(bodies, i / 3))
        .filter_map(|(i, f)| Some(named(format!("{} {}", scene.names[i / 3], axes[i % 3]), (*f)?)));
    let of_bodies = bodies.iter().zip(&found.bodies).flat_map(|(body, six)| {
        let lever_m = rigid::lever_m(body);
        six.iter().enumerate().filter_map(move |(k, f)| {
            let mut f = (*f)?;
            f.noise *= if k < 3 { 1.0 } else { lever_m };
            let what = if k < 3 { "place" } else { "turn" };
            Some(named(format!("{} {what} {}", body.name, axes[k % 3]), f))
        })
    });
    of_points.chain(of_bodies).collect()
}

/// The same with the coordinates of linked arms in place of those of their points.
fn with_linked(found: Vec<SplineFound>, linked: &[LinkedArm], scene: &Scene) -> Vec<SplineFound> {
    let placed: Vec<&str> = linked
        .iter()
        .flat_map(LinkedArm::points)
        .map(|p| scene.names[p].as_str())
        .collect();
    let own = |f: &SplineFound| {
        let point = f.name.rsplit_once(' ').map_or("", |n| n.0);
        !placed.contains(&point)
    };
    let others = found.into_iter().filter(own);
    others.chain(linked.iter().flat_map(LinkedArm::named)).collect()
}

/// What each arm is looked at by as linked segments; `near` has each coordinate smoothed by its own spline.
fn looks<'a>(
    plan: &'a Plan,
    filled: &'a Scene,
    near: &'a Scene,
    points: &'a [PointReport],
    clusters: &'a [RigidBody],
) -> Vec<Look<'a>> {
    let carried =
        |i: usize| -> Vec<PointId> { plan.loads[i].iter().flat_map(|(_, load)| load.points()).collect() };
    let of_arm = |(i, arm): (usize, &'a ArmPlan)| {
        let arms = (0..plan.arms.len()).filter(|k| *k != i);
        let others: Vec<PointId> = arms
            .flat_map(|k| [plan.arms[k].arm_points(), carried(k)].concat())
            .chain(arm.arm_points())
            .collect();
        let mut loads = carried(i);
        loads.retain(|p| !others.contains(p));
        loads.sort_unstable();
        loads.dedup();
        Look {
            loads,
            plan: arm,
            filled,
            near,
            points,
            clusters,
        }
    };
    plan.arms.iter().enumerate().map(of_arm).collect()
}

/// Every arm as linked segments, or none of them, and why.
fn link(looks: &[Look<'_>]) -> (Vec<LinkedArm>, Vec<Warning>) {
    let mut linked = Vec::new();
    for look in looks {
        match look.arm() {
            Ok(arm) => linked.push(arm),
            Err(why) => {
                let refused = Warning::NotLinked {
                    side: look.plan.side,
                    why: why.to_string(),
                };
                return (Vec::new(), vec![refused]);
            }
        }
    }
    (linked, Vec::new())
}

fn named(name: String, found: spline::Found) -> SplineFound {
    SplineFound {
        name,
        noise_m: found.noise,
        half_power_hz: spline::HALF_POWER * found.f0_hz,
    }
}

/// Segments that their own landmarks show as bodies, three or more of them: the trunk, and upper arms whose shoulder centre
/// was recorded.
fn segments_as_bodies(plan: &Plan, scene: &Scene, clusters: &[RigidBody]) -> Vec<RigidBody> {
    let measured = |p: &PointId| !follows(clusters, *p) && !plan.made.contains(&scene.names[*p]);
    let mut of_segments: Vec<(String, Vec<PointId>)> = Vec::new();
    for arm in &plan.arms {
        let trunk = arm.thorax_points();
        if of_segments.iter().all(|s| s.1 != trunk) {
            of_segments.push((Segment::Thorax.name().into(), trunk));
        }
        if let (Centre::Point(shoulder), Some((a, b))) = (&arm.shoulder, arm.epicondyles) {
            let name = crate::ground::landmarks::sided(arm.side, Segment::UpperArm.name());
            of_segments.push((name, vec![*shoulder, a, b]));
        }
    }
    let of_segment = |(name, ids): (String, Vec<PointId>)| {
        if ids.len() < 3 || !ids.iter().all(measured) {
            return None;
        }
        RigidBody::of_points(name, &ids, scene)
    };
    of_segments.into_iter().filter_map(of_segment).collect()
}

/// Ways of smoothing, judged by the clusters of the arms.
fn judged(
    bodies: &[RigidBody],
    cutoff_hz: Option<f64>,
    max_gap_s: f64,
    by_arm: Option<judge::ByArm<'_>>,
) -> Vec<JudgedBody> {
    let of_arms = bodies.iter().filter(|b| b.name != Segment::Thorax.name());
    of_arms
        .filter_map(|b| judge::judge(b, cutoff_hz, max_gap_s, by_arm))
        .collect()
}

/// The low-pass at the chosen cutoff over every stretch, and what is doubted of it.
fn low_pass(
    plan: &Plan,
    scene: &mut Scene,
    stretches: &Stretches,
    chosen: &ChosenCutoff,
) -> Result<Vec<Warning>, SmoothingError> {
    let mut warnings = Vec::new();
    let seen = match &chosen.analysis {
        Some(_) => None,
        None => scene::analyse(scene, stretches),
    };
    if let Some(noise) = chosen.analysis.as_ref().or(seen.as_ref()) {
        let cutoff_hz = chosen.cutoff_hz;
        warnings = doubts::smoothing::doubted_cutoff(&plan.arms, scene, stretches, noise, cutoff_hz);
    }
    if let Some(hz) = chosen.cutoff_hz {
        let zero_lag = ZeroLag::design(hz, scene.rate_hz)?;
        scene::smooth_stretches(scene, stretches, &zero_lag);
    }
    Ok(warnings)
}

/// Points with their gaps filled, and how they will be smoothed.
struct Chosen {
    points: Vec<PointReport>,
    stretches: Stretches,
    filled: Scene,
    method: Method,
    bodies: Vec<RigidBody>,
    linked: Vec<LinkedArm>,
    found: Option<FoundByCurves>,
    cutoff: ChosenCutoff,
    judged: Vec<JudgedBody>,
}

/// Each coordinate smoothed by its own spline, and what was found.
fn near(filled: &Scene, stretches: &Stretches, points: &[PointReport]) -> (Scene, FoundByCurves) {
    let mut near = filled.clone();
    let rows = scene::smooth_by_splines(&mut near, stretches, points, |_| spline::MOST_LIKELY);
    let bodies = Vec::new();
    (near, FoundByCurves { rows, bodies })
}

/// A stated cutoff that curves have no use for.
fn without_effect(filter: &FilterSettings, method: Method) -> Option<Warning> {
    (filter.cutoff != Cutoff::Auto).then(|| Warning::CutoffWithoutEffect {
        stated: filter.cutoff.to_string(),
        method: method.word(),
    })
}

/// Bodies that are smoothed as wholes: those with points that follow them, markers weighed.
fn rigid_bodies(clusters: Vec<RigidBody>, of_segments: Vec<RigidBody>) -> (Vec<RigidBody>, Vec<Warning>) {
    let with_followers = |b: &RigidBody| !b.followers.is_empty();
    let mut bodies: Vec<RigidBody> = clusters
        .into_iter()
        .chain(of_segments)
        .filter(with_followers)
        .collect();
    bodies.iter_mut().for_each(RigidBody::weigh);
    let warnings = if bodies.is_empty() {
        vec![Warning::NothingRigid]
    } else {
        Vec::new()
    };
    (bodies, warnings)
}

/// Fills gaps, judges ways of smoothing where clusters allow it, and chooses.
fn choose(
    sheet: &TrialSheet,
    plan: &Plan,
    recording: Scene,
    clusters: Vec<RigidBody>,
    file: &Place,
) -> Result<(Chosen, Vec<Warning>), TrialError> {
    let filter = &sheet.filter;
    let of_segments = segments_as_bodies(plan, &recording, &clusters);
    let (filled, points, stretches) = scene::fill(recording, filter.max_gap_s);
    let arm_points = plan.arms.iter().map(ArmPlan::arm_points);
    scene::check_long_enough(arm_points, &stretches, &filled, filter).map_err(|error| {
        TrialError::Smoothing {
            place: file.clone(),
            error,
        }
    })?;
    let mut warnings = scene::gaps_left(&points, filter.max_gap_s);
    let carrying = plan.points_that_carry();
    let near = (filter.method == Method::Linked).then(|| near(&filled, &stretches, &points));
    let looks = near
        .iter()
        .flat_map(|(near, _)| looks(plan, &filled, near, &points, &clusters))
        .collect::<Vec<_>>();
    let linked = keep(link(&looks), &mut warnings);
    let by_curves = matches!(filter.method, Method::Spline | Method::Rigid) || !linked.is_empty();
    let (mut cutoff, of_cutoff) = if by_curves {
        (ChosenCutoff::default(), None)
    } else {
        scene::choose_cutoff(filter.cutoff, &filled, &stretches, &points, &carrying)
    };
    let low_pass_hz = match by_curves {
        true if !clusters.is_empty() => {
            choice::least_error(&filled, &stretches, &points, &carrying).map(|c| c.cutoff_hz)
        }
        _ => cutoff.cutoff_hz,
    };
    let by_arm = |cluster: &str, marker: usize| {
        let mut mine = looks.iter().filter(|l| cluster.starts_with(l.plan.side.name()));
        mine.find_map(|l| l.foretold(cluster, marker))
    };
    let by_arm: Option<judge::ByArm<'_>> = if looks.is_empty() { None } else { Some(&by_arm) };
    let judged = judged(&clusters, low_pass_hz, filter.max_gap_s, by_arm);
    let ways = judge::ways(&judged);
    let best = judge::best(&ways);
    let method = match (filter.method, best.map_or("", |w| w.method)) {
        (Method::Auto, "spline") => Method::Spline,
        (Method::Auto, "rigid") => Method::Rigid,
        (Method::Auto, _) => Method::Butterworth,
        (Method::Linked, _) if linked.is_empty() => Method::Butterworth,
        (stated, _) => stated,
    };
    if filter.method == Method::Auto && judged.is_empty() {
        warnings.push(Warning::NothingToJudgeBy);
    }
    if method == Method::Butterworth {
        warnings.extend(of_cutoff);
    } else {
        cutoff = ChosenCutoff::default();
        warnings.extend(without_effect(filter, method));
    }
    let bodies = match method {
        Method::Rigid => keep(rigid_bodies(clusters, of_segments), &mut warnings),
        _ => Vec::new(),
    };
    let chosen = Chosen {
        points,
        stretches,
        filled,
        method,
        bodies,
        found: near.filter(|_| !linked.is_empty()).map(|(_, found)| found),
        linked,
        cutoff,
        judged,
    };
    Ok((chosen, warnings))
}

/// Low-passes that let through what clusters do not agree on, by half as much again or more.
fn faster_than_joint(how: &Smoothing, cutoff_hz: Option<f64>) -> Vec<Warning> {
    let used_hz = cutoff_hz.unwrap_or(f64::INFINITY);
    let of_elbow = |e: &ElbowSeenTwice| {
        let agree_hz = e.agree_up_to_hz.filter(|hz| used_hz > 1.5 * hz)?;
        Some(Warning::FasterThanJoint {
            side: e.side,
            agree_hz,
            used_hz,
        })
    };
    how.elbows
        .iter()
        .filter(|_| used_hz.is_finite())
        .filter_map(of_elbow)
        .collect()
}

/// Smooths the points of a trial and the recorded series of its loads.
pub(super) fn smooth(
    sheet: &TrialSheet,
    recordings: &Recordings,
    plan: &mut Plan,
    recording: Scene,
    clusters: Vec<RigidBody>,
) -> Result<((Scene, Smoothed), Vec<Warning>), TrialError> {
    let filter = &sheet.filter;
    let file = recordings.trial.table.place.clone();
    let elbows = seen_twice::elbows(&plan.arms, &clusters);
    let limits = seen_twice::limits(&plan.arms, &clusters, &elbows);
    let (chosen, mut warnings) = choose(sheet, plan, recording, clusters, &file)?;
    let mut scene = chosen.filled.clone();
    let mut smoothed = Smoothed {
        points: chosen.points,
        filled: chosen.filled,
        how: Smoothing {
            method: chosen.method,
            asked: filter.method,
            cutoff_hz: None,
            analysis: None,
            choice: None,
            splines: None,
            signals: Vec::new(),
            judged: chosen.judged,
            elbows,
            linked: chosen.linked.iter().map(|a| a.found.clone()).collect(),
        },
        stretches: chosen.stretches,
        with_short: None,
        bodies: chosen.bodies,
        linked: chosen.linked,
        limits,
        found: chosen.found,
    };
    let mut cutoff = chosen.cutoff;
    if chosen.method != Method::Butterworth {
        smoothed.found = smoothed.again(&mut scene, filter, (1.0, false), None);
        let found = smoothed
            .found
            .as_ref()
            .map_or(Vec::new(), |f| by_name(f, &smoothed.bodies, &scene));
        let hz = scene::like_low_pass_hz(found.iter().map(SplineFound::found), scene.rate_hz);
        cutoff.cutoff_hz = Some(hz);
        smoothed.how.splines = Some(with_linked(found, &smoothed.linked, &scene));
    }
    let bring = signals::bring(sheet, plan, &scene, cutoff.cutoff_hz)?;
    let signals = keep(bring, &mut warnings);
    cutoff.cutoff_hz = signals.cutoff_hz;
    if chosen.method == Method::Butterworth {
        let place = match filter.cutoff {
            Cutoff::Hz(_) => filter.cutoff_place.clone(),
            _ => file,
        };
        let doubts = low_pass(plan, &mut scene, &smoothed.stretches, &cutoff);
        warnings.extend(doubts.map_err(|error| TrialError::Smoothing { place, error })?);
    }
    let needed = scene::fewest_frames(chosen.method, filter.cutoff);
    smoothed.with_short = keep(
        scene::set_short_aside(&mut scene, &mut smoothed.points, &smoothed.stretches, needed),
        &mut warnings,
    );
    if chosen.method == Method::Butterworth {
        warnings.extend(faster_than_joint(&smoothed.how, cutoff.cutoff_hz));
    }
    smoothed.how.cutoff_hz = cutoff.cutoff_hz;
    smoothed.how.analysis = cutoff.analysis;
    smoothed.how.choice = cutoff.choice;
    smoothed.how.signals = signals.files;
    Ok(((scene, smoothed), warnings))
}

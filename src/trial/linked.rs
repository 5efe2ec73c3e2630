//! Arms smoothed as linked segments: from the points of a plan to a chain, and back.

use crate::anatomy::arm::{ArmPlan, ArmPose, CarriedAxes, Centre, HandPoints, pose, trunk_axes};
use crate::anatomy::linked::{ArmChain, FOREARM, HAND, UPPER_ARM};
use crate::ground::axes::Mirror;
use crate::ground::bodies::RigidBody;
use crate::ground::landmarks::sided;
use crate::ground::names::{Segment, Side};
use crate::ground::rotation::{self, Registration, goes_on, log, register};
use crate::ground::scene::{MirroredScene, PointId, Scene};
use crate::ground::{median, runs};
use crate::results::{LinkedArmFound, SplineFound};
use crate::smoothing::linked::{self, Chain, Curves, Failed, Measured};
use crate::smoothing::noise;
use crate::smoothing::scene::PointReport;
use nalgebra::Vector3;
use ndarray::Axis;
use std::fmt;
use std::ops::Range;

/// What is left of markers may go with the frame before by as much, ...
const LAG_MOST: f64 = 0.15;
/// ... and be so many times their white noise, at least and at most: else it is no noise but skin.
const NOISE_TIMES: (f64, f64) = (0.8, 1.15);
/// A middle angle of elbow or wrist beyond this is near the pole of its neighbours, °; a turn of the upper arm from its mean
/// beyond ...
const POLE_DEG: f64 = 75.0;
/// ... this is near a whole turn, °.
const TURN_DEG: f64 = 150.0;
/// Frames of the shortest piece that is smoothed as an arm.
const FEWEST_FRAMES: usize = 40;
/// Frames that joints are fitted to.
const FIT_FRAMES: usize = 300;
/// How firmly joints and places of markers are held to where the landmarks put them, m.
const HELD_M: f64 = 0.01;
/// A point that stays so near its mean place in the hand goes with it, root mean square, m.
const HELD_WITHIN_M: f64 = 0.002;
/// Under this noise there is nothing to smooth by, m.
const LEAST_NOISE_M: f64 = 2e-6;
/// Markers' noise is taken to differ by no more than this factor from that in their middle.
const NOISE_APART: f64 = 4.0;

/// Why an arm is not smoothed as linked segments.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Refused {
    /// No epicondyles or styloids.
    Landmarks,
    /// No stretch long enough.
    TooShort,
    /// No noise to tell from movement.
    NoNoise,
    /// Skin: lag, and times the white noise.
    Coloured(f64, f64),
    /// A joint near a pole.
    Pole,
    /// The numbers.
    Failed(Failed),
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Refused::Landmarks => f.write_str("it needs both epicondyles and both styloids, or clusters that carry them, in three coordinates"),
            Refused::TooShort => write!(f, "no piece of the recording shows all of its points in {FEWEST_FRAMES} frames"),
            Refused::NoNoise => f.write_str("the markers have hardly any noise to take away"),
            Refused::Coloured(lag, times) => write!(
                f,
                "markers stand off the linked arm by {times:.1} times their white noise, and from one frame to the next alike (correlation {lag:.2}): skin that moves, or joints that are none"
            ),
            Refused::Pole => f.write_str("a joint turns so far that its angles are ill-defined"),
            Refused::Failed(Failed::Undetermined) => f.write_str("its markers do not determine it"),
            Refused::Failed(Failed::NotFinite) => f.write_str("the curves did not settle"),
        }
    }
}

/// One unbroken stretch.
#[derive(Clone, Debug)]
struct Piece {
    frames: Range<usize>,
    measured: Measured,
    curves: Curves,
    q: Vec<f64>,
}

/// An arm that is smoothed as linked segments.
#[derive(Clone, Debug)]
pub(super) struct LinkedArm {
    side: Side,
    chain: ArmChain,
    /// Points that the chain places: on which segment, and where.
    followers: Vec<(PointId, usize, Vector3<f64>)>,
    /// Point and distance below it, where that is how the shoulder centre is known.
    below: Option<(PointId, f64)>,
    trunk: ArmPlan,
    pieces: Vec<Piece>,
    pub found: LinkedArmFound,
}

/// A marker of the chain and where its places come from.
enum Source<'a> {
    /// A point of the scene.
    Point(PointId),
    /// The shoulder centre below a point.
    Shoulder,
    /// A marker of a cluster.
    Cluster(&'a RigidBody, usize),
}

/// What is left of markers in the piece that is worst in it.
struct Worst {
    /// Largest correlation with the frame before.
    lag: f64,
    /// Largest and smallest noise over the markers' own.
    most: f64,
    least: f64,
}

/// Curves of an arm.
struct Curved<'a> {
    chain: ArmChain,
    markers: Vec<(Source<'a>, usize)>,
    pieces: Vec<Piece>,
    worst: Worst,
    half_power_hz: Vec<f64>,
}

/// Points of an arm by segment.
fn points_of(plan: &ArmPlan) -> Vec<(PointId, usize)> {
    let pair = |p: Option<(PointId, PointId)>| p.map_or(Vec::new(), |(a, b)| vec![a, b]);
    let mut out = Vec::new();
    let mut add = |points: Vec<PointId>, segment: usize| {
        for p in points {
            if !out.iter().any(|(q, _)| *q == p) {
                out.push((p, segment));
            }
        }
    };
    if let Centre::Point(p) = plan.shoulder {
        add(vec![p], UPPER_ARM);
    }
    add(pair(plan.epicondyles), UPPER_ARM);
    add(plan.elbow.points(), UPPER_ARM);
    add(pair(plan.styloids), FOREARM);
    add(plan.wrist.points(), FOREARM);
    match plan.hand {
        HandPoints::None => {}
        HandPoints::Knuckles { mcp2, mcp5 } => add(vec![mcp2, mcp5], HAND),
        HandPoints::Third { mcp3 } => add(vec![mcp3], HAND),
    }
    out
}

/// Clusters of an arm with their segments.
fn clusters_of(side: Side, clusters: &[RigidBody]) -> Vec<(&RigidBody, usize)> {
    let of = |(segment, number): (Segment, usize)| {
        let name = sided(side, segment.name());
        clusters.iter().find(|b| b.name == name).map(|b| (b, number))
    };
    [
        (Segment::UpperArm, UPPER_ARM),
        (Segment::Forearm, FOREARM),
        (Segment::Hand, HAND),
    ]
    .into_iter()
    .filter_map(of)
    .collect()
}

/// What an arm is looked at by.
pub(super) struct Look<'a> {
    pub plan: &'a ArmPlan,
    /// Gaps filled, not smoothed.
    pub filled: &'a Scene,
    /// Each coordinate smoothed by its own spline.
    pub near: &'a Scene,
    pub points: &'a [PointReport],
    pub clusters: &'a [RigidBody],
    /// Points of what this arm alone carries.
    pub loads: Vec<PointId>,
}

impl<'a> Look<'a> {
    /// The arm's curves, whatever its markers stand off by.
    ///
    /// # Errors
    /// [`Refused`].
    fn curves(&self) -> Result<Curved<'a>, Refused> {
        let plan = self.plan;
        if plan.planar || plan.epicondyles.is_none() || plan.styloids.is_none() {
            return Err(Refused::Landmarks);
        }
        let view = MirroredScene::new(self.near, plan.side);
        let pose = pose(plan, view, &CarriedAxes::of(plan, view), 0..self.near.frames());
        let (stretches, frames) = self.stretches(&pose);
        if stretches.is_empty() {
            return Err(Refused::TooShort);
        }
        let markers = self.markers(&pose, &frames);
        let noise_m = self.noise(&markers)?;
        let mut chain = self.chain(&pose, &markers, &frames);
        let measure = |frames: &mut dyn Iterator<Item = usize>| Measured {
            rate_hz: self.near.rate_hz,
            places: frames
                .flat_map(|f| markers.iter().map(move |(from, _)| (from, f)))
                .map(|(from, f)| self.place(from, f))
                .collect(),
            noise_m: noise_m.clone(),
        };
        self.fit(&mut chain, &pose, &frames, &measure);
        let pieces: Vec<(Range<usize>, Measured)> = stretches
            .into_iter()
            .map(|frames| (frames.clone(), measure(&mut { frames })))
            .collect();
        let (pieces, worst, half_power_hz) = smooth_pieces(&chain, &pose, pieces)?;
        Ok(Curved {
            chain,
            markers,
            pieces,
            worst,
            half_power_hz,
        })
    }

    /// Smooths an arm.
    ///
    /// # Errors
    /// [`Refused`].
    pub fn arm(&self) -> Result<LinkedArm, Refused> {
        let plan = self.plan;
        let Curved {
            chain,
            markers,
            pieces,
            worst,
            half_power_hz,
        } = self.curves()?;
        if worst.lag > LAG_MOST || worst.most > NOISE_TIMES.1 || worst.least < NOISE_TIMES.0 {
            return Err(Refused::Coloured(worst.lag, worst.most));
        }
        let followers = self.followers(&chain, &markers);
        let below = match plan.shoulder {
            Centre::Below(p, drop) => Some((p, drop)),
            _ => None,
        };
        let middle = |of: &Centre| {
            let places = of.points();
            let at = |p: &PointId| {
                followers
                    .iter()
                    .find(|f| f.0 == *p)
                    .map_or(Vector3::zeros(), |f| f.2)
            };
            places.iter().map(at).sum::<Vector3<f64>>() / places.len() as f64
        };
        let off = [
            chain.joints[0] - middle(&plan.elbow),
            chain.joints[1] - middle(&plan.wrist),
        ];
        Ok(LinkedArm {
            side: plan.side,
            found: LinkedArmFound {
                side: plan.side,
                noise_times: worst.most,
                lag_1: worst.lag,
                half_power_hz,
                elbow_off_m: off[0].into(),
                wrist_off_m: off[1].into(),
                elbow_peak_about_fitted_n_m: f64::NAN,
            },
            chain,
            followers,
            below,
            trunk: plan.clone(),
            pieces,
        })
    }

    /// Pieces of the recording that go on without a pause, and their frames in which the pose is known.
    fn stretches(&self, pose: &ArmPose) -> (Vec<Range<usize>>, Vec<usize>) {
        let ids = self.plan.arm_points();
        let known = |f: usize| ids.iter().all(|p| self.near.has(*p, f)) && pose.r_wh[f][(0, 0)].is_finite();
        // absent markers are absent; only a pause of the recording parts what goes on
        let mut stretches: Vec<Range<usize>> = runs(self.near.frames(), |f| self.near.is_row(f))
            .into_iter()
            .filter_map(|r| Some(r.clone().find(|f| known(*f))?..r.rev().find(|f| known(*f))? + 1))
            .collect();
        stretches.retain(|r| r.clone().filter(|f| known(*f)).count() >= FEWEST_FRAMES);
        let frames = stretches
            .iter()
            .cloned()
            .flatten()
            .filter(|f| known(*f))
            .collect();
        (stretches, frames)
    }

    /// Whether a point goes with the hand.
    fn is_held(&self, point: PointId, pose: &ArmPose, frames: &[usize]) -> bool {
        let view = MirroredScene::new(self.near, self.plan.side);
        let in_hand = |f: usize| pose.r_wh[f].tr_mul(&(view.p(point, f) - pose.p_w[f]));
        let places: Vec<Vector3<f64>> = frames
            .iter()
            .map(|f| in_hand(*f))
            .filter(|x| !x.x.is_nan())
            .collect();
        let n = places.len() as f64;
        let mean = places.iter().sum::<Vector3<f64>>() / n;
        let off = places.iter().map(|x| (x - mean).norm_squared()).sum::<f64>() / n;
        self.plan.hand != HandPoints::None && off.sqrt() < HELD_WITHIN_M
    }

    /// Markers with their segments: those of clusters, every point that no cluster of the arm carries, and those of loads that
    /// go with the hand.
    fn markers(&self, pose: &ArmPose, frames: &[usize]) -> Vec<(Source<'a>, usize)> {
        let clusters = clusters_of(self.plan.side, self.clusters);
        let carried = |p: PointId| clusters.iter().any(|(b, _)| b.followers.iter().any(|f| f.0 == p));
        let mut out: Vec<(Source<'a>, usize)> = Vec::new();
        if matches!(self.plan.shoulder, Centre::Below(..)) {
            out.push((Source::Shoulder, UPPER_ARM));
        }
        let points = points_of(self.plan).into_iter().filter(|p| !carried(p.0));
        out.extend(points.map(|(p, s)| (Source::Point(p), s)));
        let held = self.loads.iter().filter(|p| self.is_held(**p, pose, frames));
        out.extend(held.map(|p| (Source::Point(*p), HAND)));
        for (body, segment) in clusters {
            out.extend((0..body.shape.len()).map(|k| (Source::Cluster(body, k), segment)));
        }
        out
    }

    /// Where a marker was measured, in the mirrored scene; NaN where it was not.
    fn place(&self, from: &Source<'_>, frame: usize) -> Vector3<f64> {
        let view = MirroredScene::new(self.filled, self.plan.side);
        let unseen = |p: PointId| self.points[p].gaps.filled.iter().any(|g| g.contains(&frame));
        match from {
            Source::Point(p) if unseen(*p) => Vector3::repeat(f64::NAN),
            Source::Point(p) => view.p(*p, frame),
            Source::Shoulder => {
                let r_wt = trunk_axes(self.plan, MirroredScene::new(self.near, self.plan.side), frame);
                self.plan.shoulder.at(view, frame, &r_wt)
            }
            Source::Cluster(body, k) => MirroredScene::new(&body.markers, self.plan.side).p(*k, frame),
        }
    }

    /// White noise of each marker, m.
    fn noise(&self, markers: &[(Source<'_>, usize)]) -> Result<Vec<f64>, Refused> {
        let of = |from: &Source<'_>| match from {
            Source::Point(p) => self.points[*p].noise_m,
            Source::Shoulder => self.points[self.plan.shoulder.points()[0]].noise_m,
            Source::Cluster(body, k) => {
                let rows = [0, 1, 2].map(|a| body.markers.xyz.row(3 * k + a));
                noise::of_point(rows.iter().map(|row| row.to_slice().unwrap_or(&[])))
            }
        };
        let mut all: Vec<f64> = markers.iter().map(|m| of(&m.0)).collect();
        let middle = median(all.iter().copied().filter(|s| s.is_finite())).unwrap_or(0.0);
        if middle < LEAST_NOISE_M {
            return Err(Refused::NoNoise);
        }
        for s in &mut all {
            let known = if s.is_finite() { *s } else { middle };
            *s = known.clamp(middle / NOISE_APART, middle * NOISE_APART);
        }
        Ok(all)
    }

    /// The arm as the smoothed points have it in the mean.
    fn chain(&self, pose: &ArmPose, markers: &[(Source<'_>, usize)], frames: &[usize]) -> ArmChain {
        let mean_of = |at: &dyn Fn(usize) -> Vector3<f64>| {
            let known = frames.iter().map(|f| at(*f)).filter(|x| !x.x.is_nan());
            let (sum, n) = known.fold((Vector3::zeros(), 0.0), |(s, n), x| (s + x, n + 1.0));
            sum / f64::max(n, 1.0)
        };
        let of = |segment: usize, f: usize| match segment {
            UPPER_ARM => (pose.r_wu[f], pose.p_s[f]),
            FOREARM => (pose.r_wf_inertia[f], pose.p_e[f]),
            _ => (pose.r_wh[f], pose.p_w[f]),
        };
        let local = |from: &Source<'_>, segment: usize| {
            mean_of(&|f| {
                let (r, origin) = of(segment, f);
                r.tr_mul(&(self.place(from, f) - origin))
            })
        };
        let wrist_turns = match (self.plan.hand, markers.iter().filter(|m| m.1 == HAND).count()) {
            (_, 0) => 0,
            (HandPoints::Third { .. }, 1) => 2,
            _ => 3,
        };
        ArmChain {
            home: mean_of(&|f| pose.p_s[f]),
            mean: rotation::mean(frames.iter().map(|f| pose.r_wu[*f]))
                .unwrap_or_else(nalgebra::Matrix3::identity),
            wrist_turns,
            joints: [
                mean_of(&|f| pose.r_wu[f].tr_mul(&(pose.p_e[f] - pose.p_s[f]))),
                mean_of(&|f| pose.r_wf_inertia[f].tr_mul(&(pose.p_w[f] - pose.p_e[f]))),
            ],
            markers: markers.iter().map(|(from, s)| (*s, local(from, *s))).collect(),
        }
    }

    /// Fits joints and markers' places to frames that show all markers; where that fails they stay.
    fn fit(
        &self,
        chain: &mut ArmChain,
        pose: &ArmPose,
        frames: &[usize],
        measure: &dyn Fn(&mut dyn Iterator<Item = usize>) -> Measured,
    ) {
        let step = frames.len().div_ceil(FIT_FRAMES);
        let some: Vec<usize> = frames.iter().copied().step_by(step).collect();
        let whole: Vec<usize> = some
            .into_iter()
            .filter(|f| {
                measure(&mut std::iter::once(*f))
                    .places
                    .iter()
                    .all(|p| !p.x.is_nan())
            })
            .collect();
        let q: Vec<Vec<f64>> = whole
            .iter()
            .flat_map(|f| coordinates(chain, pose, *f..*f + 1))
            .collect();
        if let Some(fitted) = chain.fit(&measure(&mut whole.into_iter()), q, HELD_M) {
            *chain = fitted;
        }
    }

    /// Measure a cluster's own axes, mirrored as the arm is, into those of its segment.
    fn to_segment(
        &self,
        body: &RigidBody,
        chain: &ArmChain,
        markers: &[(Source<'_>, usize)],
    ) -> Option<Registration> {
        let mine = markers.iter().zip(&chain.markers);
        let places: Vec<Vector3<f64>> = mine
            .filter(|(m, _)| matches!(m.0, Source::Cluster(b, _) if std::ptr::eq(b, body)))
            .map(|(_, (_, r))| *r)
            .collect();
        let mirror = Mirror::of(self.plan.side);
        let shape: Vec<Vector3<f64>> = body.shape.iter().map(|s| mirror.bare_polar(*s)).collect();
        register(&shape, &places)
    }

    /// Where the linked arm has a marker of a cluster that it has not seen, in every frame, m; world axes, NaN where it is
    /// not known. `None` where there is no such arm or cluster; markers may stand off it by whatever they do.
    pub fn foretold(&self, cluster: &str, marker: usize) -> Option<Vec<Vector3<f64>>> {
        let mut clusters = self.clusters.to_vec();
        let reduced = clusters.iter_mut().find(|b| b.name == cluster)?;
        let place = reduced.shape.remove(marker);
        reduced.markers.names.remove(marker);
        for _ in 0..3 {
            reduced.markers.xyz.remove_index(Axis(0), 3 * marker);
        }
        let look = Look {
            clusters: &clusters,
            loads: self.loads.clone(),
            ..*self
        };
        let found = look.curves().ok()?;
        let (body, segment) = clusters_of(self.plan.side, &clusters)
            .into_iter()
            .find(|(b, _)| b.name == cluster)?;
        let mirror = Mirror::of(self.plan.side);
        let r = look
            .to_segment(body, &found.chain, &found.markers)?
            .apply(mirror.bare_polar(place));
        let mut out = vec![Vector3::repeat(f64::NAN); self.near.frames()];
        let n = found.chain.coordinates();
        for piece in &found.pieces {
            for (f, q) in piece.frames.clone().zip(piece.q.chunks_exact(n)) {
                let at = found.chain.placed(q);
                out[f] = mirror.bare_polar(at.point(segment, &r));
            }
        }
        Some(out)
    }

    /// Points that the chain places.
    fn followers(
        &self,
        chain: &ArmChain,
        markers: &[(Source<'_>, usize)],
    ) -> Vec<(PointId, usize, Vector3<f64>)> {
        let mut out = Vec::new();
        for ((from, segment), (_, r)) in markers.iter().zip(&chain.markers) {
            if let Source::Point(p) = from {
                out.push((*p, *segment, *r));
            }
        }
        for (body, segment) in clusters_of(self.plan.side, self.clusters) {
            let mirror = Mirror::of(self.plan.side);
            let Some(into) = self.to_segment(body, chain, markers) else {
                continue;
            };
            for (point, place) in &body.followers {
                if points_of(self.plan).iter().any(|(p, _)| p == point) {
                    out.push((*point, segment, into.apply(mirror.bare_polar(*place))));
                }
            }
        }
        out
    }
}

/// Coordinates of a chain in frames of a pose; straight on where a pose is not known.
fn coordinates(chain: &ArmChain, pose: &ArmPose, frames: Range<usize>) -> Vec<Vec<f64>> {
    let mut last = Vector3::zeros();
    let mut out: Vec<Vec<f64>> = frames
        .map(|f| {
            let turn = log(&chain.mean.tr_mul(&pose.r_wu[f]));
            if turn.x.is_finite() {
                last = goes_on(turn, last);
            }
            chain.coordinates_of(
                pose.p_s[f],
                [&pose.r_wu[f], &pose.r_wf_inertia[f], &pose.r_wh[f]],
                last,
            )
        })
        .collect();
    for d in 6..chain.coordinates() {
        let mut angles: Vec<f64> = out.iter().map(|q| q[d]).collect();
        rotation::unwrap(&mut angles);
        out.iter_mut().zip(angles).for_each(|(q, a)| q[d] = a);
    }
    for d in 0..chain.coordinates() {
        straight_on(&mut out, d);
    }
    out
}

/// Fills what is not known of a coordinate by straight lines.
fn straight_on(q: &mut [Vec<f64>], d: usize) {
    let known: Vec<usize> = (0..q.len()).filter(|f| q[*f][d].is_finite()).collect();
    for w in known.windows(2) {
        let (from, to) = (q[w[0]][d], q[w[1]][d]);
        let step = (to - from) / (w[1] - w[0]) as f64;
        for (k, q) in q[w[0]..w[1]].iter_mut().enumerate().skip(1) {
            q[d] = from + step * k as f64;
        }
    }
    if let (Some(first), Some(last)) = (known.first(), known.last()) {
        let (a, b) = (q[*first][d], q[*last][d]);
        q[..*first].iter_mut().for_each(|q| q[d] = a);
        q[last + 1..].iter_mut().for_each(|q| q[d] = b);
    }
}

/// Pieces smoothed, what is left of their markers, and half-power frequencies.
type Smoothed = (Vec<Piece>, Worst, Vec<f64>);

/// Smooths every piece.
fn smooth_pieces(
    chain: &ArmChain,
    pose: &ArmPose,
    measured: Vec<(Range<usize>, Measured)>,
) -> Result<Smoothed, Refused> {
    let mut pieces = Vec::new();
    let mut worst = Worst {
        lag: f64::NEG_INFINITY,
        most: 0.0,
        least: f64::INFINITY,
    };
    let mut half_power_hz = vec![0.0_f64; chain.coordinates()];
    for (frames, measured) in measured {
        let start = coordinates(chain, pose, frames.clone());
        let found = linked::smooth(chain, &measured, &start.concat()).map_err(Refused::Failed)?;
        worst.lag = worst.lag.max(found.lag_1);
        worst.most = worst.most.max(found.noise_times);
        worst.least = worst.least.min(found.noise_times);
        let highest = half_power_hz.iter_mut().zip(&found.half_power_hz);
        highest.for_each(|(a, b)| *a = a.max(*b));
        if near_pole(&found.q, chain) {
            return Err(Refused::Pole);
        }
        pieces.push(Piece {
            frames,
            measured,
            curves: found.curves,
            q: found.q,
        });
    }
    Ok((pieces, worst, half_power_hz))
}

fn near_pole(q: &[f64], chain: &ArmChain) -> bool {
    let n = chain.coordinates();
    q.chunks_exact(n).any(|q| {
        let turn = Vector3::new(q[3], q[4], q[5]).norm();
        let middles = [7, 10].into_iter().filter(|d| *d < n);
        turn > TURN_DEG.to_radians() || middles.into_iter().any(|d| q[d].abs() > POLE_DEG.to_radians())
    })
}

/// Coordinates in words, as far as an arm has them.
const COORDINATES: [&str; 12] = [
    "shoulder x",
    "shoulder y",
    "shoulder z",
    "upper arm, turn x",
    "upper arm, turn y",
    "upper arm, turn z",
    "elbow flexion",
    "elbow carrying",
    "elbow pronation",
    "wrist flexion",
    "wrist deviation",
    "wrist turn",
];

impl LinkedArm {
    /// Points whose places come from the arm.
    pub fn points(&self) -> impl Iterator<Item = PointId> + '_ {
        self.followers.iter().map(|f| f.0).chain(self.below.map(|b| b.0))
    }

    /// What curves found of each coordinate; the noise is that of the markers.
    pub fn named(&self) -> impl Iterator<Item = SplineFound> + '_ {
        let noise = self
            .pieces
            .iter()
            .flat_map(|p| p.measured.noise_m.iter().copied());
        let noise_m = self.found.noise_times * median(noise).unwrap_or(f64::NAN);
        self.found
            .half_power_hz
            .iter()
            .zip(COORDINATES)
            .map(move |(hz, what)| SplineFound {
                name: format!("{} {what}", self.side),
                noise_m,
                half_power_hz: *hz,
            })
    }

    /// Puts the points of the arm where its curves have them; those curves may pass frequencies `looser` times as high.
    pub fn place(&self, scene: &mut Scene, looser: f64) {
        let mirror = Mirror::of(self.side);
        let n = self.chain.coordinates();
        for piece in &self.pieces {
            let otherwise = (looser != 1.0)
                .then(|| linked::again(&self.chain, &piece.measured, &piece.curves, looser).ok())
                .flatten();
            let q = otherwise.as_ref().unwrap_or(&piece.q);
            for (f, q) in piece.frames.clone().zip(q.chunks_exact(n)) {
                let at = self.chain.placed(q);
                for &(point, segment, r) in &self.followers {
                    if !scene.has(point, f) {
                        continue;
                    }
                    scene.set(point, f, mirror.bare_polar(at.point(segment, &r)));
                }
                if let Some((point, drop)) = self.below.filter(|b| scene.has(b.0, f)) {
                    let r_wt = trunk_axes(&self.trunk, MirroredScene::new(scene, self.side), f);
                    let x = at.origins[UPPER_ARM] + r_wt.column(1) * drop;
                    scene.set(point, f, mirror.bare_polar(x));
                }
            }
        }
    }
}

//! From points to joint centres and segment axes, frame by frame.
//!
//! Everything here is in world axes of the mirrored scene: a left arm's Z is negated on reading, so that one
//! code path serves both arms (see [`Side::mirror`]).

use super::AnatomyError;
pub use super::carried::CarriedAxes;
use crate::ground::landmarks::sided;
pub use crate::ground::median;
use crate::ground::names::Side;
use crate::ground::rotation::{axes_from_long_and_lateral, axes_from_long_and_z};
use crate::ground::scene::{MirroredScene, PointId};
use crate::points::fits::FunctionalFit;
use crate::points::settings::ShoulderMethod;
use crate::points::{MadeElbow, MadePoints, PointsError};
use nalgebra::{Matrix3, Vector3};
use std::ops::Range;

/// The points that are wanted, numbered as they are asked for.
pub struct Catalog<'a> {
    available: &'a dyn Fn(&str) -> bool,
    /// Names, in order of [`PointId`].
    pub names: Vec<String>,
}

impl<'a> Catalog<'a> {
    /// A catalog over the points that exist or can be rebuilt.
    pub fn new(available: &'a dyn Fn(&str) -> bool) -> Self {
        Self {
            available,
            names: Vec::new(),
        }
    }

    /// Whether a point exists.
    pub fn has(&self, name: &str) -> bool {
        (self.available)(name)
    }

    /// Number of a point, if it exists.
    pub fn id(&mut self, name: &str) -> Option<PointId> {
        if let Some(i) = self.names.iter().position(|n| n == name) {
            return Some(i);
        }
        if !self.has(name) {
            return None;
        }
        self.names.push(name.to_owned());
        Some(self.names.len() - 1)
    }
}

/// A joint centre as points give it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Centre {
    /// A point of its own.
    Point(PointId),
    /// Midpoint of two.
    Middle(PointId, PointId),
    /// Below a point along the trunk's long axis, m.
    Below(PointId, f64),
}

impl Centre {
    /// The points it stands on.
    pub fn points(&self) -> Vec<PointId> {
        match *self {
            Centre::Point(p) | Centre::Below(p, _) => vec![p],
            Centre::Middle(a, b) => vec![a, b],
        }
    }

    /// Where it is in a frame; `r_wt` are the trunk's axes then.
    pub fn at(&self, view: MirroredScene<'_>, frame: usize, r_wt: &Matrix3<f64>) -> Vector3<f64> {
        match *self {
            Centre::Point(p) => view.p(p, frame),
            Centre::Middle(a, b) => (view.p(a, frame) + view.p(b, frame)) * 0.5,
            Centre::Below(p, drop) => view.p(p, frame) - r_wt.column(1) * drop,
        }
    }
}

/// How the hand's axes are known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum HandPoints {
    /// Not at all: straight on from the forearm.
    None,
    /// From both outer knuckles.
    Knuckles {
        /// Second metacarpal head.
        mcp2: PointId,
        /// Fifth metacarpal head.
        mcp5: PointId,
    },
    /// From the third knuckle; the palm faces as the styloids say, or the forearm's axes where there are
    /// none.
    Third {
        /// Third metacarpal head.
        mcp3: PointId,
    },
}

/// Trunk landmarks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThoraxPoints {
    ij: PointId,
    px: PointId,
    c7: PointId,
    t8: PointId,
}

/// How the joint centres of an arm were found, in words, and the fits behind them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CentreNotes {
    /// Shoulder.
    pub shoulder: String,
    /// Elbow.
    pub elbow: String,
    /// Wrist.
    pub wrist: String,
    /// Centres that no marker shows, in a few words each.
    pub made: Vec<String>,
    /// What functional methods found.
    pub fits: Vec<FunctionalFit>,
    /// With a half width: frames in which a centre fits it exactly, and frames in which its points are known.
    pub half_width_fits: Option<[usize; 2]>,
}

impl CentreNotes {
    /// Each joint with how its centre was found, proximal to distal.
    pub fn each(&self) -> [(&'static str, &str); 3] {
        [
            ("shoulder", &self.shoulder),
            ("elbow", &self.elbow),
            ("wrist", &self.wrist),
        ]
    }
}

/// Which points make which part of one arm.
#[derive(Clone, Debug)]
pub struct ArmPlan {
    /// Which arm.
    pub side: Side,
    /// Shoulder centre.
    pub shoulder: Centre,
    /// Elbow centre.
    pub elbow: Centre,
    /// Wrist centre.
    pub wrist: Centre,
    /// Lateral and medial epicondyle.
    pub epicondyles: Option<(PointId, PointId)>,
    /// Radial and ulnar styloid.
    pub styloids: Option<(PointId, PointId)>,
    /// Hand.
    pub hand: HandPoints,
    /// Trunk landmarks.
    pub thorax: Option<ThoraxPoints>,
    /// Trunk axes without them, in the arm's mirrored scene: those of a stated posture, or the world's.
    pub trunk: Matrix3<f64>,
    /// Two coordinates only: the plane's normal is the flexion axis.
    pub planar: bool,
    /// How the joint centres were found, for the reports.
    pub centres: CentreNotes,
    /// How far the only epicondyle's marker stands off the elbow centre along the upper arm's Z, m, where
    /// that gives the centre.
    pub beside_m: Option<f64>,
    /// Distance between the acromia is needed: their points and the fraction of it.
    pub acromia: Option<(PointId, PointId, f64)>,
}

impl ArmPlan {
    /// Chooses the points for one arm, in METHOD's order of preference.
    ///
    /// # Errors
    /// Joint centres that can't be had from the points there are.
    pub fn choose(
        side: Side,
        method: Option<&ShoulderMethod>,
        made: &MadePoints,
        catalog: &mut Catalog<'_>,
        planar: bool,
        file: &str,
    ) -> Result<Self, AnatomyError> {
        let mut choice = Choice { side, file, catalog };
        let (elbow, elbow_words, epicondyles) = choice.elbow(made)?;
        let styloids = choice.pair("RS", "US");
        let (wrist, wrist_words) = choice.wrist(styloids)?;
        let (shoulder, shoulder_words, acromia) = choice.shoulder(method, made)?;
        let hand = choice.hand();
        let thorax = if planar { None } else { choice.thorax() };
        let beside_m = match made.elbow {
            Some(MadeElbow::Centre { beside_m, .. }) => Some(beside_m),
            _ => None,
        };
        let centres = CentreNotes {
            shoulder: shoulder_words,
            elbow: elbow_words,
            wrist: wrist_words,
            ..CentreNotes::default()
        };
        // in a picture both points of a pair lie on the line of sight or anywhere: across every segment is
        // the plane's normal
        let (epicondyles, styloids) = if planar {
            (None, None)
        } else {
            (epicondyles, styloids)
        };
        Ok(Self {
            side,
            shoulder,
            elbow,
            wrist,
            epicondyles,
            styloids,
            hand,
            thorax,
            trunk: Matrix3::identity(),
            planar,
            centres,
            beside_m,
            acromia,
        })
    }

    /// Points of elbow, forearm and hand.
    pub fn points_from_elbow(&self) -> Vec<PointId> {
        let mut out: Vec<PointId> = [self.elbow, self.wrist].iter().flat_map(Centre::points).collect();
        let pairs = [self.epicondyles, self.styloids];
        out.extend(pairs.into_iter().flatten().flat_map(|(a, b)| [a, b]));
        match self.hand {
            HandPoints::None => {}
            HandPoints::Knuckles { mcp2, mcp5 } => out.extend([mcp2, mcp5]),
            HandPoints::Third { mcp3 } => out.push(mcp3),
        }
        out
    }

    /// Points whose absence empties the moments of this arm.
    pub fn arm_points(&self) -> Vec<PointId> {
        let mut out = self.points_from_elbow();
        out.extend(self.shoulder.points());
        if matches!(self.shoulder, Centre::Below(..)) {
            out.extend(self.thorax_points());
        }
        out.sort_unstable();
        out.dedup();
        out
    }

    /// Trunk landmarks in use.
    pub fn thorax_points(&self) -> Vec<PointId> {
        self.thorax.map_or(Vec::new(), |t| vec![t.ij, t.px, t.c7, t.t8])
    }

    /// Front and back landmark at the upper end of the trunk.
    pub fn upper_trunk(&self) -> Option<(PointId, PointId)> {
        self.thorax.map(|t| (t.ij, t.c7))
    }

    /// Whether the upper arm's axes come from joint centres alone.
    pub fn centres_only(&self) -> bool {
        self.epicondyles.is_none()
    }
}

/// Two points.
type Pair = (PointId, PointId);

/// Chooses among the points there are, for one arm.
struct Choice<'c, 'a> {
    side: Side,
    file: &'c str,
    catalog: &'c mut Catalog<'a>,
}

impl Choice<'_, '_> {
    fn has(&self, name: &str) -> bool {
        self.catalog.has(&sided(self.side, name))
    }

    fn id(&mut self, name: &str) -> Option<PointId> {
        self.catalog.id(&sided(self.side, name))
    }

    /// Both of two landmarks, or neither: one alone is not asked for.
    fn pair(&mut self, a: &str, b: &str) -> Option<Pair> {
        if !(self.has(a) && self.has(b)) {
            return None;
        }
        self.id(a).zip(self.id(b))
    }

    fn found(&self, names: &[&str]) -> Vec<String> {
        names
            .iter()
            .filter(|n| self.has(n))
            .map(|n| sided(self.side, n))
            .collect()
    }

    fn other_side(&self) -> Side {
        match self.side {
            Side::Right => Side::Left,
            Side::Left => Side::Right,
        }
    }

    /// What to do about a landmark that is not there, told by one that goes with it.
    fn hint(&self, example: &str) -> String {
        let other = self.other_side();
        if self.catalog.has(&sided(other, example)) {
            format!("the file has the {other} arm: is trial.sides right?")
        } else if self.catalog.has(example) {
            format!(
                "the file names '{example}' without a side: with two arms write {}",
                sided(self.side, example)
            )
        } else {
            "name the points in markers.rename, or calibrate a cluster that carries them".into()
        }
    }

    fn missing(&self, what: String, needed: String, found: &[&str], hint: String) -> AnatomyError {
        PointsError::PointMissing {
            file: self.file.to_owned(),
            what,
            needed,
            found: self.found(found),
            hint,
        }
        .into()
    }

    fn given_words(&self, name: &str) -> String {
        format!("given by the point {}", sided(self.side, name))
    }

    fn between_words(&self, a: &str, b: &str) -> String {
        let side = self.side;
        format!("midpoint of {side}.{a} and {side}.{b}")
    }

    /// Elbow centre: a made one, a given one, between the epicondyles; and these.
    fn elbow(&mut self, made: &MadePoints) -> Result<(Centre, String, Option<Pair>), AnatomyError> {
        let side = self.side;
        let mut epicondyles = None;
        let chosen = match &made.elbow {
            Some(MadeElbow::Centre { point, words, .. }) => {
                self.catalog.id(point).map(|p| (Centre::Point(p), words.clone()))
            }
            Some(MadeElbow::Axis {
                lateral,
                medial,
                words,
            }) => {
                epicondyles = self.catalog.id(lateral).zip(self.catalog.id(medial));
                epicondyles.map(|(l, m)| (Centre::Middle(l, m), words.clone()))
            }
            None => {
                epicondyles = self.pair("EL", "EM");
                match (self.id("EJC"), epicondyles) {
                    (Some(p), _) => Some((Centre::Point(p), self.given_words("EJC"))),
                    (None, Some((el, em))) => Some((Centre::Middle(el, em), self.between_words("EL", "EM"))),
                    (None, None) => None,
                }
            }
        };
        let (centre, words) = chosen.ok_or_else(|| {
            let epicondyles = ["EL", "EM"];
            let hint = if self.found(&epicondyles).is_empty() {
                self.hint("EL")
            } else {
                "with one epicondyle set model.elbow_centre = { method = \"half-width\", half_width_m = ... }, or method = \"functional\" with clusters on upper arm and forearm".into()
            };
            let needed = format!("{side}.EL and {side}.EM, or {side}.EJC");
            self.missing(format!("{side} elbow centre"), needed, &epicondyles, hint)
        })?;
        Ok((centre, words, epicondyles))
    }

    /// Wrist centre: a given one, or between the styloids.
    fn wrist(&mut self, styloids: Option<Pair>) -> Result<(Centre, String), AnatomyError> {
        let side = self.side;
        match (self.id("WJC"), styloids) {
            (Some(p), _) => Ok((Centre::Point(p), self.given_words("WJC"))),
            (None, Some((rs, us))) => Ok((Centre::Middle(rs, us), self.between_words("RS", "US"))),
            (None, None) => {
                let needed = format!("{side}.RS and {side}.US, or {side}.WJC");
                let hint = self.hint("RS");
                Err(self.missing(format!("{side} wrist centre"), needed, &["RS", "US"], hint))
            }
        }
    }

    /// Shoulder centre by the method; and the acromia with the fraction of their distance, where that is it.
    #[allow(clippy::type_complexity)]
    fn shoulder(
        &mut self,
        method: Option<&ShoulderMethod>,
        made: &MadePoints,
    ) -> Result<(Centre, String, Option<(PointId, PointId, f64)>), AnatomyError> {
        let side = self.side;
        match method {
            Some(ShoulderMethod::BelowAcromion { drop_m }) => {
                let words = format!(
                    "{:.1} mm below {side}.AC along the trunk's long axis",
                    drop_m * 1e3
                );
                Ok((Centre::Below(self.acromion()?, *drop_m), words, None))
            }
            Some(ShoulderMethod::BelowAcromionFraction { drop_fraction }) => {
                let ac = self.acromion()?;
                let Some(other) = self.catalog.id(&sided(self.other_side(), "AC")) else {
                    let what = format!("{side} shoulder centre by drop_fraction");
                    let needed =
                        "right.AC and left.AC: the fraction is one of the distance between them".into();
                    let hint = "give drop_m, a length, instead".into();
                    return Err(self.missing(what, needed, &["AC"], hint));
                };
                let words = format!(
                    "{:.1} % of the distance between the acromia below {side}.AC along the trunk's long axis",
                    drop_fraction * 100.0
                );
                Ok((
                    Centre::Below(ac, f64::NAN),
                    words,
                    Some((ac, other, *drop_fraction)),
                ))
            }
            // what is made has been found possible before
            _ => {
                let stands_in = made.shoulder.as_ref();
                let stands_in = stands_in
                    .and_then(|(point, words)| Some((Centre::Point(self.catalog.id(point)?), words.clone())));
                let (centre, words) = match stands_in {
                    Some(x) => x,
                    None => self.given_shoulder(method.is_some())?,
                };
                Ok((centre, words, None))
            }
        }
    }

    /// A shoulder centre that is a point of the file; `stated` if the sheet says that it is one.
    fn given_shoulder(&mut self, stated: bool) -> Result<(Centre, String), AnatomyError> {
        let side = self.side;
        for name in ["SJC", "GH"] {
            if let Some(p) = self.id(name) {
                return Ok((Centre::Point(p), self.given_words(name)));
            }
        }
        if !stated {
            return Err(AnatomyError::NoShoulder {
                file: self.file.to_owned(),
                side,
            });
        }
        let what = format!("{side} shoulder centre, with method = \"given\",");
        let needed = format!("{side}.SJC or {side}.GH");
        let hint = self.hint("GH");
        Err(self.missing(what, needed, &["AC"], hint))
    }

    fn acromion(&mut self) -> Result<PointId, AnatomyError> {
        let name = sided(self.side, "AC");
        self.catalog.id(&name).ok_or_else(|| {
            let what = format!("{} shoulder centre below the acromion", self.side);
            let hint = "name the acromion in markers.rename".into();
            self.missing(what, name, &[], hint)
        })
    }

    fn hand(&mut self) -> HandPoints {
        match self.pair("MCP2", "MCP5") {
            Some((mcp2, mcp5)) => HandPoints::Knuckles { mcp2, mcp5 },
            // asked for only if it is needed: a point nobody uses may be missing and has no say in the cutoff
            None => match self.id("MCP3") {
                Some(mcp3) => HandPoints::Third { mcp3 },
                None => HandPoints::None,
            },
        }
    }

    /// Trunk landmarks: all of them, or none is asked for.
    fn thorax(&mut self) -> Option<ThoraxPoints> {
        if !["IJ", "PX", "C7", "T8"].iter().all(|n| self.catalog.has(n)) {
            return None;
        }
        Some(ThoraxPoints {
            ij: self.catalog.id("IJ")?,
            px: self.catalog.id("PX")?,
            c7: self.catalog.id("C7")?,
            t8: self.catalog.id("T8")?,
        })
    }
}

/// Trunk axes from its landmarks.
///
/// # Equation
/// Y from mid(PX,T8) to mid(IJ,C7); Z normal to the plane of IJ, C7, mid(PX,T8), to the right; X = Y x Z.
///
/// # Source
/// Wu et al. (2005) J Biomech 38:981, thorax.
pub fn thorax_axes(ij: Vector3<f64>, px: Vector3<f64>, c7: Vector3<f64>, t8: Vector3<f64>) -> Matrix3<f64> {
    let y = ((ij + c7) * 0.5 - (px + t8) * 0.5).normalize();
    let z = (ij - c7).cross(&y).normalize();
    Matrix3::from_columns(&[y.cross(&z), y, z])
}

/// Trunk axes: from its landmarks, or those of the plan where none show it.
pub fn trunk_axes(plan: &ArmPlan, view: MirroredScene<'_>, frame: usize) -> Matrix3<f64> {
    match plan.thorax {
        Some(t) => {
            // a mirrored thorax keeps its landmarks: they are on the midline
            thorax_axes(
                view.p(t.ij, frame),
                view.p(t.px, frame),
                view.p(t.c7, frame),
                view.p(t.t8, frame),
            )
        }
        None => plan.trunk,
    }
}

/// Joint centres and segment axes over a range of frames (mirrored world axes, m).
#[derive(Clone, Debug)]
pub struct ArmPose {
    /// Frames of the scene these are.
    pub frames: Range<usize>,
    /// Shoulder centre.
    pub p_s: Vec<Vector3<f64>>,
    /// Elbow centre.
    pub p_e: Vec<Vector3<f64>>,
    /// Wrist centre.
    pub p_w: Vec<Vector3<f64>>,
    /// Middle of the knuckles (or the third); missing without hand markers.
    pub p_k: Vec<Vector3<f64>>,
    /// Trunk axes.
    pub r_wt: Vec<Matrix3<f64>>,
    /// Upper arm: anatomical axes.
    pub r_wu: Vec<Matrix3<f64>>,
    /// Forearm: anatomical axes (long axis from the ulnar styloid).
    pub r_wf: Vec<Matrix3<f64>>,
    /// Upper arm: the axes angular velocity is taken from; `None` if they are the anatomical ones.
    pub r_wu_body: Option<Vec<Matrix3<f64>>>,
    /// Forearm: inertia axes (long axis between joint centres).
    pub r_wf_inertia: Vec<Matrix3<f64>>,
    /// Hand axes; those of the forearm without hand markers.
    pub r_wh: Vec<Matrix3<f64>>,
}

/// The forearm in a frame, from elbow, wrist and the upper arm's Z: anatomical axes, and those of its inertia.
fn forearm(
    plan: &ArmPlan,
    view: MirroredScene<'_>,
    carried: &CarriedAxes,
    f: usize,
    (e, w, z_u): (Vector3<f64>, Vector3<f64>, Vector3<f64>),
) -> (Matrix3<f64>, Matrix3<f64>) {
    match plan.styloids {
        Some((rs, us)) => {
            let (rs, us) = (view.p(rs, f), view.p(us, f));
            (
                axes_from_long_and_lateral(e - us, rs - us),
                axes_from_long_and_lateral(e - w, rs - us),
            )
        }
        None => {
            let anatomical = axes_from_long_and_z(e - w, z_u);
            (
                anatomical,
                carried
                    .body_axis
                    .as_ref()
                    .map_or(anatomical, |b| axes_from_long_and_z(e - w, b[f])),
            )
        }
    }
}

/// The middle of the knuckles and the hand's axes in a frame; without hand markers the forearm's.
fn hand(
    plan: &ArmPlan,
    view: MirroredScene<'_>,
    f: usize,
    w: Vector3<f64>,
    (z_u, r_wf_inertia): (Vector3<f64>, &Matrix3<f64>),
) -> (Vector3<f64>, Matrix3<f64>) {
    match plan.hand {
        HandPoints::None => (Vector3::repeat(f64::NAN), *r_wf_inertia),
        HandPoints::Knuckles { mcp2, mcp5 } => {
            let (a, b) = (view.p(mcp2, f), view.p(mcp5, f));
            let k = (a + b) * 0.5;
            (
                k,
                if plan.planar {
                    axes_from_long_and_z(w - k, z_u)
                } else {
                    axes_from_long_and_lateral(w - k, a - b)
                },
            )
        }
        HandPoints::Third { mcp3 } => {
            let k = view.p(mcp3, f);
            match plan.styloids {
                Some((rs, us)) => (
                    k,
                    axes_from_long_and_lateral(w - k, view.p(rs, f) - view.p(us, f)),
                ),
                None => (k, axes_from_long_and_z(w - k, r_wf_inertia.column(2).into())),
            }
        }
    }
}

/// Poses of an arm over `frames`.
///
/// # Equation
/// Segment axes after Wu et al. (2005), METHOD section 3.
///
/// # Frames and units
/// Mirrored world axes; m.
pub fn pose(plan: &ArmPlan, view: MirroredScene<'_>, carried: &CarriedAxes, frames: Range<usize>) -> ArmPose {
    let n = frames.len();
    let empty_m = || Vec::with_capacity(n);
    let mut out = ArmPose {
        frames: frames.clone(),
        p_s: Vec::with_capacity(n),
        p_e: Vec::with_capacity(n),
        p_w: Vec::with_capacity(n),
        p_k: Vec::with_capacity(n),
        r_wt: empty_m(),
        r_wu: empty_m(),
        r_wf: empty_m(),
        r_wu_body: carried.body_axis.as_ref().map(|_| empty_m()),
        r_wf_inertia: empty_m(),
        r_wh: empty_m(),
    };
    for f in frames {
        let r_wt = trunk_axes(plan, view, f);
        let (s, e, w) = (
            plan.shoulder.at(view, f, &r_wt),
            plan.elbow.at(view, f, &r_wt),
            plan.wrist.at(view, f, &r_wt),
        );
        let r_wu = match plan.epicondyles {
            Some((el, em)) => axes_from_long_and_lateral(s - e, view.p(el, f) - view.p(em, f)),
            None => axes_from_long_and_z(s - e, carried.flexion_axis[f]),
        };
        let z_u: Vector3<f64> = r_wu.column(2).into();
        let (r_wf, r_wf_inertia) = forearm(plan, view, carried, f, (e, w, z_u));
        let (k, r_wh) = hand(plan, view, f, w, (z_u, &r_wf_inertia));
        if let (Some(body), Some(axis)) = (&mut out.r_wu_body, &carried.body_axis) {
            body.push(axes_from_long_and_z(s - e, axis[f]));
        }
        out.p_s.push(s);
        out.p_e.push(e);
        out.p_w.push(w);
        out.p_k.push(k);
        out.r_wt.push(r_wt);
        out.r_wu.push(r_wu);
        out.r_wf.push(r_wf);
        out.r_wf_inertia.push(r_wf_inertia);
        out.r_wh.push(r_wh);
    }
    out
}

impl ArmPose {
    /// The upper arm's axes that angular velocity is taken from.
    pub fn upper_arm_body(&self) -> &[Matrix3<f64>] {
        self.r_wu_body.as_deref().unwrap_or(&self.r_wu)
    }
}

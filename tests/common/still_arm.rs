//! A right arm that stands still, as landmarks: world axes X forward, Y up, Z right; m.

use super::Markers;
use nalgebra::{Matrix3, Rotation3, Vector3};

/// Posture and lengths of a right arm; segment axes as METHOD section 3 names them.
#[derive(Clone)]
pub struct StillArm {
    /// Axes of the upper arm in the world.
    pub r_wu: Matrix3<f64>,
    /// Axes of the forearm in those of the upper arm.
    pub r_uf: Matrix3<f64>,
    /// Axes of the hand in those of the forearm.
    pub r_fh: Matrix3<f64>,
    /// Shoulder to elbow centre, elbow to wrist centre, wrist centre to the middle of the knuckles.
    pub lengths: [f64; 3],
    /// Whether the forearm's axes are those of its ISB frame (long axis from the ulnar styloid), or of its
    /// inertia (between joint centres).
    pub isb_forearm: bool,
}

/// Rotation about one of the axes by degrees.
pub fn turn(axis: char, degrees: f64) -> Matrix3<f64> {
    let axis = match axis {
        'x' => Vector3::x_axis(),
        'y' => Vector3::y_axis(),
        _ => Vector3::z_axis(),
    };
    *Rotation3::from_axis_angle(&axis, degrees.to_radians()).matrix()
}

const EPICONDYLES_M: f64 = 0.035;
const STYLOIDS_M: f64 = 0.027;
const KNUCKLES_M: f64 = 0.036;

impl StillArm {
    /// Upper arm hanging, forearm level, straight hand.
    pub fn level_forearm(lengths: [f64; 3]) -> Self {
        Self {
            r_wu: Matrix3::identity(),
            r_uf: turn('z', 90.0),
            r_fh: Matrix3::identity(),
            lengths,
            isb_forearm: false,
        }
    }

    /// Landmarks in world axes, m.
    pub fn landmarks(&self) -> Vec<(&'static str, Vector3<f64>)> {
        let [l_u, l_f, l_h] = self.lengths;
        let s = Vector3::new(0.02, 1.38, 0.18);
        let (r_wu, r_wf) = (self.r_wu, self.r_wu * self.r_uf);
        let r_wh = r_wf * self.r_fh;
        let (y, z) = (
            |r: &Matrix3<f64>| Vector3::from(r.column(1)),
            |r: &Matrix3<f64>| Vector3::from(r.column(2)),
        );
        let e = s - y(&r_wu) * l_u;
        let (rs, us) = if self.isb_forearm {
            let us = e - y(&r_wf) * l_f;
            (us + z(&r_wf) * 2.0 * STYLOIDS_M, us)
        } else {
            let w = e - y(&r_wf) * l_f;
            (w + z(&r_wf) * STYLOIDS_M, w - z(&r_wf) * STYLOIDS_M)
        };
        let k = (rs + us) * 0.5 - y(&r_wh) * l_h;
        vec![
            ("IJ", Vector3::new(0.07, 1.40, 0.0)),
            ("C7", Vector3::new(-0.07, 1.40, 0.0)),
            ("PX", Vector3::new(0.09, 1.20, 0.0)),
            ("T8", Vector3::new(-0.09, 1.20, 0.0)),
            ("SJC", s),
            ("EL", e + z(&r_wu) * EPICONDYLES_M),
            ("EM", e - z(&r_wu) * EPICONDYLES_M),
            ("RS", rs),
            ("US", us),
            ("MCP2", k + z(&r_wh) * KNUCKLES_M),
            ("MCP5", k - z(&r_wh) * KNUCKLES_M),
        ]
    }

    /// A motionless recording of 20 frames at 100 Hz.
    pub fn markers(&self) -> Markers {
        let frames = 20;
        let points = self
            .landmarks()
            .into_iter()
            .map(|(n, p)| (n.to_owned(), vec![[p.x, p.y, p.z]; frames]))
            .collect();
        Markers {
            time: (0..frames).map(|i| i as f64 / 100.0).collect(),
            points,
        }
    }
}

/// A sheet for such a recording (metres, world axes, no smoothing); `more` is added at the end.
pub fn sheet(sex: &str, body_mass_kg: f64, gravity_m_s2: f64, model: &str, more: &str) -> String {
    format!(
        "[trial]\nid = \"still\"\nsides = [\"right\"]\n\n[participant]\nsex = \"{sex}\"\nbody_mass_kg = {body_mass_kg}\n{model_person}\n\
         [model]\ngravity_m_s2 = {gravity_m_s2:?}\n{model}\n\n[markers]\nfile = \"curl_markers.csv\"\nlength_unit = \"m\"\nup = \"+y\"\nforward = \"+x\"\n\n\
         [filter]\ncutoff_hz = \"none\"\n\n{more}\n",
        model_person = "stature_m = 1.741\n"
    )
}

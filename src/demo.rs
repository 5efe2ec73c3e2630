//! Made-up recordings: forward kinematics of two invented participants, with a fixed seed.
//!
//! The scenario: the strength evening of a quayside rowing club. Participants Q07 and Q12 do not exist; every
//! number here is invented.

use crate::ground::names::Side;
use nalgebra::{Matrix3, Rotation3, Vector3};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use std::f64::consts::PI;
use std::fmt::Write;

/// Sampling rate, Hz.
const RATE_HZ: f64 = 100.0;
/// Seed of the marker noise.
const SEED: u64 = 7;
/// Marker noise of the second trial, mm (standard deviation per coordinate).
const NOISE_MM: f64 = 0.4;

/// A file of the demonstration.
pub struct DemoFile {
    /// Name.
    pub name: &'static str,
    /// Content.
    pub text: String,
}

/// Names of the trial sheets among [`files`].
pub const SHEETS: [&str; 2] = ["q07-clean.toml", "q12-both-arms.toml"];

/// Smooth step from 0 to 1 over 0..1: position, speed, acceleration and jerk are continuous.
///
/// # Equation
/// 35 u⁴ - 84 u⁵ + 70 u⁶ - 20 u⁷
fn step(u: f64) -> f64 {
    let u = u.clamp(0.0, 1.0);
    u.powi(4) * (35.0 - 84.0 * u + 70.0 * u * u - 20.0 * u.powi(3))
}

/// A path through stops: (time, value); between two stops a smooth step, so that every stop is a rest.
fn path(stops: &[(f64, f64)], t: f64) -> f64 {
    let mut value = stops[0].1;
    for w in stops.windows(2) {
        value += (w[1].1 - w[0].1) * step((t - w[0].0) / (w[1].0 - w[0].0));
    }
    value
}

/// Length of the recordings, s.
const LENGTH_S: f64 = 16.0;

/// Elbow flexion of Q07: three curls, the last one quick, then a hold at 90 degrees (92 about the elbow
/// axis; the angle reported goes by the ulnar line and is about 2 less), then the arm goes down. (s, °)
const THREE_CURLS: [(f64, f64); 15] = [
    (0.6, 14.0),
    (1.9, 128.0),
    (2.2, 128.0),
    (3.8, 14.0),
    (4.2, 14.0),
    (5.4, 130.0),
    (5.6, 130.0),
    (7.1, 14.0),
    (7.4, 14.0),
    (8.45, 126.0),
    (8.7, 126.0),
    (10.1, 14.0),
    (11.6, 92.0),
    (13.8, 92.0),
    (15.4, 14.0),
];
/// Elbow flexion of Q12, right: a curl with a pause below the middle of the way up, a quick one with a pause
/// on the way down. (s, °)
const PAUSES: [(f64, f64); 12] = [
    (0.7, 20.0),
    (2.1, 72.0),
    (3.1, 72.0),
    (4.2, 121.0),
    (4.6, 121.0),
    (6.5, 20.0),
    (8.8, 20.0),
    (9.9, 124.0),
    (10.8, 124.0),
    (12.2, 64.0),
    (13.4, 64.0),
    (14.8, 20.0),
];
/// Elbow flexion of Q12, left: two curls while the right arm rests or pauses, the second not so high and held
/// longer. (s, °)
const IN_TURN: [(f64, f64); 8] = [
    (4.9, 26.0),
    (6.3, 116.0),
    (7.2, 116.0),
    (8.9, 26.0),
    (10.6, 26.0),
    (12.1, 98.0),
    (13.4, 98.0),
    (15.1, 26.0),
];

/// Who moves.
struct Body {
    /// Lengths relative to those of Q07.
    size: f64,
    /// What the trunk leans with: elbow flexion that it leans back against. (s, °)
    lead: &'static [(f64, f64)],
}

/// How one arm moves.
struct Manner {
    side: Side,
    /// Elbow flexion. (s, °)
    stops: &'static [(f64, f64)],
    /// Elbow carrying angle, °.
    carrying: f64,
    /// The upper arm swings forward by, ° over a whole curl.
    swing: f64,
    /// Pronation at the start, and how much of it a whole curl takes back, °.
    palm: (f64, f64),
}

/// Points of one arm at a time (world axes, m), for a right arm.
fn arm_points(
    t: f64,
    manner: &Manner,
    size: f64,
    r_wt: &Matrix3<f64>,
    p_trunk: Vector3<f64>,
) -> Vec<(&'static str, Vector3<f64>)> {
    let rest = manner.stops[0].1;
    let flexion = path(manner.stops, t);
    let raised = (flexion - rest) / 115.0;
    let z = |deg: f64| Rotation3::from_axis_angle(&Vector3::z_axis(), deg * PI / 180.0);
    let x = |deg: f64| Rotation3::from_axis_angle(&Vector3::x_axis(), deg * PI / 180.0);
    let y = |deg: f64| Rotation3::from_axis_angle(&Vector3::y_axis(), deg * PI / 180.0);
    // the forearm turns the palm up on the way; the upper arm swings forward a little with every curl, as
    // most people's does
    let r_wu = r_wt * (z(4.0 + manner.swing * raised) * x(-14.0) * y(6.0 * raised)).matrix();
    let r_wf = r_wu * (z(flexion) * x(manner.carrying) * y(manner.palm.0 - manner.palm.1 * raised)).matrix();
    let r_wh = r_wf * (z(6.0 * raised) * x(-3.0)).matrix();
    let s = p_trunk + r_wt * (Vector3::new(0.005, 0.168 + 0.006 * raised, 0.176) * size);
    let along = |r: &Matrix3<f64>, length: f64| -(r.column(1) * (length * size));
    let across = |r: &Matrix3<f64>, half: f64| r.column(2) * (half * size);
    let e = s + along(&r_wu, 0.288);
    let w = e + along(&r_wf, 0.251);
    let k = w + along(&r_wh, 0.079);
    let grip = k + r_wh * Vector3::new(0.028, 0.0, 0.0);
    vec![
        ("SJC", s),
        ("EL", e + across(&r_wu, 0.034)),
        ("EM", e - across(&r_wu, 0.034)),
        ("RS", w + across(&r_wf, 0.026)),
        ("US", w - across(&r_wf, 0.026)),
        ("MCP2", k + across(&r_wh, 0.031)),
        ("MCP5", k - across(&r_wh, 0.031)),
        ("bell_thumb_side", grip + across(&r_wh, 0.115)),
        ("bell_little_side", grip - across(&r_wh, 0.115)),
    ]
}

/// All points at a time in world axes, m.
fn points(t: f64, body: &Body, arms: &[Manner]) -> Vec<(String, Vector3<f64>)> {
    // the trunk leans back a little against each lift
    let lead = path(body.lead, t);
    let lean = 1.5 + 2.0 * (lead - body.lead[0].1) / 115.0;
    let r_wt = *Rotation3::from_axis_angle(&Vector3::z_axis(), lean * PI / 180.0).matrix();
    let p = Vector3::new(
        0.02 * (0.35 * t).sin(),
        1.18 * body.size,
        0.012 * (0.27 * t).cos(),
    );
    let at = |x: f64, y: f64| r_wt * (Vector3::new(x, y, 0.0) * body.size);
    let high = p + at(0.0, 0.215);
    let mut out = vec![
        ("IJ".to_owned(), high + at(0.062, -0.021)),
        ("C7".to_owned(), high - at(0.062, -0.021)),
        ("PX".to_owned(), p + at(0.094, 0.008)),
        ("T8".to_owned(), p - at(0.094, 0.008)),
    ];
    for manner in arms {
        for (name, mut at) in arm_points(t, manner, body.size, &r_wt, p) {
            at.z = p.z + manner.side.mirror() * (at.z - p.z);
            let name = if name.starts_with("bell") {
                format!("{}_{name}", manner.side)
            } else {
                format!("{}.{name}", manner.side)
            };
            out.push((name, at));
        }
    }
    out
}

/// Missing stretches of the second trial: point, from, to (s).
const GAPS: [(&str, f64, f64); 5] = [
    ("right.EM", 1.30, 1.36),
    ("left.RS", 2.75, 2.83),
    ("right.MCP5", 4.95, 5.03),
    ("left.MCP2", 7.50, 7.92),
    ("C7", 8.90, 8.96),
];

/// The marker file of a trial: lab axes x forward, y to the left, z up; mm.
fn markers(
    body: &Body,
    arms: &[Manner],
    noise_mm: f64,
    gaps: &[(&str, f64, f64)],
    decimals: usize,
) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let normal = Normal::new(0.0, noise_mm.max(f64::MIN_POSITIVE)).ok();
    let mut text =
        String::from("# made up by `armload demo`: an invented participant, no real recording\ntime_s");
    for (name, _) in points(0.0, body, arms) {
        let _ = write!(text, ",{name}_x,{name}_y,{name}_z");
    }
    text.push('\n');
    for i in 0..=(LENGTH_S * RATE_HZ) as usize {
        let t = i as f64 / RATE_HZ;
        let _ = write!(text, "{t:.2}");
        for (name, p) in points(t, body, arms) {
            let missing = gaps
                .iter()
                .any(|(n, from, to)| *n == name && t >= from - 1e-9 && t <= to + 1e-9);
            for v in [p.x, -p.z, p.y] {
                let shake = if noise_mm > 0.0 {
                    normal.map_or(0.0, |n| n.sample(&mut rng))
                } else {
                    0.0
                };
                if missing {
                    text.push(',');
                } else {
                    let _ = write!(text, ",{:.decimals$}", v * 1e3 + shake);
                }
            }
        }
        text.push('\n');
    }
    text
}

/// A trial sheet of the demonstration.
fn sheet(id: &str, participant: &str, sides: &[Side], loads: &[(Side, f64)], comment: &str) -> String {
    let list = sides
        .iter()
        .map(|s| format!("\"{s}\""))
        .collect::<Vec<_>>()
        .join(", ");
    let who = participant.split('"').nth(1).unwrap_or("");
    let mut text = format!(
        "# {comment}\n# Participant {who} of a quayside rowing club is invented.\n\n[trial]\nid = \"{id}\"\nsides = [{list}]\n\n\
         [participant]\n{participant}\n\n\
         [model]\nanthropometry = \"deleva-1996\"    # table of segment masses, mass centres and radii of gyration\nhand = \"segment\"                 # the hand is its own segment\n\
         shoulder_centre = {{ method = \"given\" }}   # the points SJC\n\n\
         [markers]\nfile = \"{id}_markers.csv\"        # relative to this sheet\nlength_unit = \"mm\"\nup = \"+z\"                        # lab axis against gravity\nforward = \"+x\"                   # lab axis the participant faces\n\n\
         [filter]\ncutoff_hz = \"auto\"               # where the least error is expected; or a number, or \"none\"\n\n\
         [muscles]\nmodel = \"shared\"                 # biceps, brachialis, brachioradialis; or \"single\": one equivalent flexor\n"
    );
    for (side, mass) in loads {
        let _ = write!(
            text,
            "\n[[load]]\nkind = \"free-weight\"\nside = \"{side}\"\nmass_kg = {mass:.1}\nat = [\"{side}_bell_thumb_side\", \"{side}_bell_little_side\"]   # its mass centre is their mean\n"
        );
    }
    text
}

/// Everything the demonstration writes.
pub fn files() -> Vec<DemoFile> {
    let q07 = Body {
        size: 1.0,
        lead: &THREE_CURLS[..14],
    };
    let q12 = Body {
        size: 1.07,
        lead: &PAUSES,
    };
    let three = Manner {
        side: Side::Right,
        stops: &THREE_CURLS,
        carrying: -9.0,
        swing: 11.0,
        palm: (34.0, 26.0),
    };
    let right = Manner {
        side: Side::Right,
        stops: &PAUSES,
        carrying: -7.0,
        swing: 6.0,
        palm: (12.0, 4.0),
    };
    let left = Manner {
        side: Side::Left,
        stops: &IN_TURN,
        carrying: -8.0,
        swing: 15.0,
        palm: (20.0, 14.0),
    };
    vec![
        DemoFile {
            name: SHEETS[0],
            text: sheet(
                "q07-clean",
                "id = \"Q07\"\nsex = \"female\"\nbody_mass_kg = 66.0\nstature_m = 1.72",
                &[Side::Right],
                &[(Side::Right, 7.5)],
                "Three curls and a hold at 90 degrees with one dumbbell: clean markers.",
            ),
        },
        DemoFile {
            name: "q07-clean_markers.csv",
            text: markers(&q07, &[three], 0.0, &[], 4),
        },
        DemoFile {
            name: SHEETS[1],
            text: sheet(
                "q12-both-arms",
                "id = \"Q12\"\nsex = \"male\"\nbody_mass_kg = 81.5\nstature_m = 1.84",
                &[Side::Right, Side::Left],
                &[(Side::Right, 10.0), (Side::Left, 8.0)],
                "Curls with pauses, one arm after the other, as a laboratory gets them: marker noise, short gaps, and one gap too long to fill.",
            ),
        },
        DemoFile {
            name: "q12-both-arms_markers.csv",
            text: markers(&q12, &[right, left], NOISE_MM, &GAPS, 3),
        },
    ]
}

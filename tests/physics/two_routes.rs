//! The same number by two routes: statics in a hold, shares and their sum, mirror image, moved scene, long
//! recordings in blocks.

use crate::common::{Markers, Worst, column, curl_sheet, detail, farthest, peak, peak_of_vector, run_good};
use armload::results::{QUANTITIES, TrialResults};
use nalgebra::{Rotation3, Vector3};

/// METHOD section 10: statics' closed form against the dynamic pass in a true hold, relative.
const HOLD_REL: f64 = 1e-6;
/// METHOD section 10: static parts sum, static + dynamic = total; relative to the peak.
const SUM_REL: f64 = 1e-9;
/// METHOD section 10: left arm against the mirrored right arm; relative to the peak.
const MIRROR_REL: f64 = 1e-12;
/// METHOD section 10: rigid motion of the whole scene with gravity moved along; relative to the peak.
const MOVED_REL: f64 = 1e-9;
/// Frames of the engine's complete rest (1.28 to 1.86 s), inside by the reach of the differences.
const REST: std::ops::Range<usize> = 131..184;

/// Peak of the vector or angle a column belongs to: what rounding errors of the column scale with.
fn scale(results: &TrialResults, name: &str) -> f64 {
    let (head, vector) = match name.split('.').collect::<Vec<_>>().as_slice() {
        [side, joint, quantity] => {
            let what = if quantity.ends_with("_n") {
                "force"
            } else {
                "moment"
            };
            (
                format!("{side}.{joint}.{what}"),
                quantity.ends_with("_n") || quantity.ends_with("_n_m"),
            )
        }
        _ => (String::new(), false),
    };
    if vector {
        let unit = if head.ends_with("force") { "n" } else { "n_m" };
        let [x, y, z] = ["x", "y", "z"].map(|a| column(results, &format!("{head}_{a}_{unit}")));
        return peak_of_vector(&x, &y, &z);
    }
    peak(&column(results, name)).max(1e-3)
}

fn written() -> impl Iterator<Item = &'static str> {
    QUANTITIES.iter().filter(|q| q.written).map(|q| q.name)
}

#[test]
fn cross_statics_by_hand_in_the_hold() {
    // weights times lever arms, from table values and marker positions alone:
    // de Leva P (1996) J Biomech 29:1223-1230, table 4, women; 63.5 kg; a dumbbell of 6 kg
    let (body_mass, g) = (63.5, 9.80665);
    let upper_arm = (0.0255 * body_mass, 0.5754);
    let forearm = (0.0138 * body_mass, 0.4559);
    let hand = (0.0056 * body_mass, 0.7474);
    let bell = 6.0;
    let m = Markers::curl();
    let results = run_good(&curl_sheet(&[]), &m);
    let [elbow, elbow_static, shoulder, shoulder_static] = [
        "elbow.flexion_moment_n_m",
        "elbow.static_flexion_moment_n_m",
        "shoulder.flexion_moment_n_m",
        "shoulder.static_flexion_moment_n_m",
    ]
    .map(|q| column(&results, &format!("right.{q}")));
    // lab x = right, y = forward, z = up; metres
    let at = |name: &str, f: usize| {
        let p = m.of(name)[f];
        Vector3::new(p[1], p[2], p[0]) * 1e-3
    };
    let middle = |a: &str, b: &str, f: usize| (at(a, f) + at(b, f)) * 0.5;
    let mut worst = Worst::default();
    for f in REST {
        let (s, e, w, k) = (
            at("SJC", f),
            middle("EL", "EM", f),
            middle("RS", "US", f),
            middle("MCP2", "MCP5", f),
        );
        let weights = [
            (s + (e - s) * upper_arm.1, upper_arm.0),
            (e + (w - e) * forearm.1, forearm.0),
            (w + (k - w) * hand.1, hand.0),
            (middle("bell_in", "bell_out", f), bell),
        ];
        // weight (0, -m g, 0) at r about a centre: moment r x F; the joint gives the opposite
        let held = |centre: Vector3<f64>, parts: &[(Vector3<f64>, f64)]| -> Vector3<f64> {
            parts
                .iter()
                .map(|(c, mass)| Vector3::new(-(c.z - centre.z), 0.0, c.x - centre.x) * (mass * g))
                .sum()
        };
        let across = at("EL", f) - at("EM", f);
        let long = (s - e).normalize();
        let z_u = (across - long * across.dot(&long)).normalize();
        let low = middle("PX", "T8", f);
        let z_t = (at("IJ", f) - low).cross(&(at("C7", f) - low)).normalize();
        let z_t = if z_t.z < 0.0 { -z_t } else { z_t };
        let (by_hand_e, by_hand_s) = (held(e, &weights[1..]).dot(&z_u), held(s, &weights).dot(&z_t));
        for (what, found, expected) in [
            ("elbow total", elbow[f], by_hand_e),
            ("elbow static", elbow_static[f], by_hand_e),
            ("shoulder total", shoulder[f], by_hand_s),
            ("shoulder static", shoulder_static[f], by_hand_s),
        ] {
            worst.note(
                format!("{what} in frame {f}"),
                (found / expected - 1.0).abs(),
                HOLD_REL,
            );
        }
    }
    worst.judge("statics by hand in the hold");
    // a check that can fail: right before the rest the two differ
    assert!((elbow[110] - elbow_static[110]).abs() > 0.05);
}

#[test]
fn cross_total_is_static_in_the_hold_and_the_hold_is_found() {
    let results = run_good(&curl_sheet(&[]), &Markers::curl());
    let mut worst = Worst::default();
    for joint in ["wrist", "elbow", "shoulder"] {
        for axis in ["x", "y", "z"] {
            let total = column(&results, &format!("right.{joint}.moment_{axis}_n_m"));
            let statics = column(&results, &format!("right.{joint}.static_moment_{axis}_n_m"));
            let limit = HOLD_REL * scale(&results, &format!("right.{joint}.moment_{axis}_n_m"));
            worst.note(format!("{joint} {axis}"), farthest(&total, &statics, REST), limit);
        }
    }
    worst.judge("total and static in the hold");
    let holds = &results.arms[0].phases.holds;
    assert_eq!(holds.len(), 1, "{holds:?}");
    // the engine's speeds are under the thresholds from frame 121 to 194; 0.1 s are cut off at each end
    assert!(
        (118..=REST.start).contains(&holds[0].start) && (REST.end..=197).contains(&holds[0].end),
        "{holds:?}"
    );
}

#[test]
fn cross_static_shares_add_up_to_the_static_moment() {
    let second = "\n[[load]]\nkind = \"free-weight\"\nmass_kg = 1.25\n\n[[load]]\nkind = \"shared-bar\"\nmass_kg = 3.0\nat = [\"bell_out\"]\n";
    let results = run_good(&(curl_sheet(&[]) + second), &Markers::curl());
    let mut worst = Worst::default();
    for joint in ["elbow", "shoulder"] {
        let whole = column(&results, &format!("right.{joint}.static_flexion_moment_n_m"));
        let shares: Vec<Vec<f64>> = results.arms[0]
            .details
            .iter()
            .filter(|(n, _)| n.starts_with(&format!("{joint}.static.")))
            .map(|(n, _)| detail(&results, &format!("right.{n}")))
            .collect();
        // forearm, hand, two free weights, one bar; the shoulder also has the upper arm
        assert_eq!(shares.len(), if joint == "elbow" { 5 } else { 6 });
        let sum: Vec<f64> = (0..whole.len())
            .map(|f| shares.iter().map(|s| s[f]).sum())
            .collect();
        worst.note(
            joint,
            farthest(&sum, &whole, 0..whole.len()),
            SUM_REL * peak(&whole),
        );
    }
    worst.judge("static shares");
}

#[test]
fn cross_static_plus_the_same_motion_without_gravity_is_the_total() {
    // the equations are linear in gravity: without it only the dynamic part is left
    let whole = run_good(&curl_sheet(&[]), &Markers::curl());
    let weightless = run_good(
        &curl_sheet(&[("gravity_m_s2 = 9.80665", "gravity_m_s2 = 0")]),
        &Markers::curl(),
    );
    let mut worst = Worst::default();
    for joint in ["wrist", "elbow", "shoulder"] {
        for axis in ["x", "y", "z"] {
            let name = format!("right.{joint}.moment_{axis}_n_m");
            let statics = column(&whole, &format!("right.{joint}.static_moment_{axis}_n_m"));
            let sum: Vec<f64> = statics
                .iter()
                .zip(column(&weightless, &name))
                .map(|(a, b)| a + b)
                .collect();
            worst.note(
                &name,
                farthest(&sum, &column(&whole, &name), 0..sum.len()),
                SUM_REL * scale(&whole, &name),
            );
        }
    }
    worst.judge("static + dynamic = total");
}

#[test]
fn cross_moments_in_segment_axes_are_the_world_moments_turned() {
    let results = run_good(&curl_sheet(&[]), &Markers::curl());
    let mut worst = Worst::default();
    for joint in ["wrist", "elbow", "shoulder"] {
        let norm = |names: [String; 3], get: &dyn Fn(&str) -> Vec<f64>| -> Vec<f64> {
            let [x, y, z] = names.map(|n| get(&n));
            (0..x.len())
                .map(|f| (x[f].powi(2) + y[f].powi(2) + z[f].powi(2)).sqrt())
                .collect()
        };
        let world = norm(
            ["x", "y", "z"].map(|a| format!("right.{joint}.moment_{a}_n_m")),
            &|n| column(&results, n),
        );
        for frame in ["proximal", "distal"] {
            let turned = norm(
                ["x", "y", "z"].map(|a| format!("right.{joint}.moment_{frame}_{a}_n_m")),
                &|n| detail(&results, n),
            );
            worst.note(
                format!("{joint} {frame}"),
                farthest(&world, &turned, 0..world.len()),
                SUM_REL * peak(&world),
            );
        }
    }
    // the components that also stand in moments.csv
    for (of_detail, of_table) in [
        (
            "right.elbow.moment_proximal_z_n_m",
            "right.elbow.flexion_moment_n_m",
        ),
        (
            "right.elbow.moment_distal_y_n_m",
            "right.elbow.pronation_moment_n_m",
        ),
        (
            "right.shoulder.moment_proximal_z_n_m",
            "right.shoulder.flexion_moment_n_m",
        ),
        (
            "right.shoulder.moment_proximal_y_n_m",
            "right.shoulder.horizontal_moment_n_m",
        ),
        (
            "right.shoulder.moment_distal_y_n_m",
            "right.shoulder.axial_moment_n_m",
        ),
    ] {
        let (a, b) = (detail(&results, of_detail), column(&results, of_table));
        worst.note(of_detail, farthest(&a, &b, 0..a.len()), SUM_REL * peak(&b));
    }
    worst.judge("moments in segment axes");
}

/// What a column of a right arm becomes for the mirrored left arm: METHOD section 1.
fn mirror_sign(quantity: &str) -> f64 {
    let turns = ["moment_x_n_m", "moment_y_n_m", "force_z_n"];
    if turns.iter().any(|t| quantity.ends_with(t)) {
        -1.0
    } else {
        1.0
    }
}

/// The engine's recording as a left arm: mirrored about the sagittal plane (lab x points to the right).
fn mirrored() -> Markers {
    let midline = ["IJ", "PX", "C7", "T8", "bell_in", "bell_out"];
    Markers::curl().moved(|[x, y, z]| [-x, y, z]).renamed(|n| {
        if midline.contains(&n) {
            n.to_owned()
        } else {
            format!("left.{n}")
        }
    })
}

#[test]
fn cross_left_arm_is_the_mirrored_right_arm() {
    for filter in ["\"none\"", "\"auto\""] {
        let filter = ("cutoff_hz = \"none\"", format!("cutoff_hz = {filter}"));
        let right = run_good(&curl_sheet(&[(filter.0, &filter.1)]), &Markers::curl());
        let left = run_good(
            &curl_sheet(&[(filter.0, &filter.1), ("\"right\"", "\"left\"")]),
            &mirrored(),
        );
        let mut worst = Worst::default();
        for q in written() {
            let (r, l) = (
                column(&right, &format!("right.{q}")),
                column(&left, &format!("left.{q}")),
            );
            let expected: Vec<f64> = r.iter().map(|x| x * mirror_sign(q)).collect();
            assert!(
                r.iter().zip(&l).all(|(a, b)| a.is_nan() == b.is_nan()),
                "{q}: presence differs"
            );
            let known = (0..r.len()).filter(|f| r[*f].is_finite());
            worst.note(
                q,
                farthest(&l, &expected, known),
                MIRROR_REL * scale(&right, &format!("right.{q}")),
            );
        }
        for (name, values) in &right.arms[0].details {
            let l = detail(&left, &format!("left.{name}"));
            worst.note(
                name,
                farthest(&l, values, 0..l.len()),
                MIRROR_REL * peak(values).max(1e-3),
            );
        }
        worst.judge("mirrored arm");
    }
}

#[test]
fn cross_both_arms_of_one_recording_are_each_arm_alone() {
    // without trunk landmarks both mirror images can stand in one file
    let trunk = ["IJ", "PX", "C7", "T8"];
    let right = Markers::curl().without(&trunk).renamed(|n| {
        if n.starts_with("bell") {
            n.to_owned()
        } else {
            format!("right.{n}")
        }
    });
    let left = mirrored().without(&trunk).renamed(|n| {
        if n.starts_with("bell") {
            format!("other_{n}")
        } else {
            n.to_owned()
        }
    });
    let load = curl_sheet(&[]).split_once("[[load]]").unwrap().1.to_owned();
    let other = load
        .replace("\"right\"", "\"left\"")
        .replace("\"bell", "\"other_bell");
    let both = run_good(
        &format!(
            "{}\n[[load]]{other}",
            curl_sheet(&[("sides = [\"right\"]", "sides = [\"left\", \"right\"]")])
        ),
        &right.clone().with(left),
    );
    let alone = run_good(&curl_sheet(&[]), &right);
    assert_eq!(
        both.arms.iter().map(|a| a.side.name()).collect::<Vec<_>>(),
        ["left", "right"]
    );
    let mut worst = Worst::default();
    for q in written() {
        let expected = column(&alone, &format!("right.{q}"));
        let limit = MIRROR_REL * scale(&alone, &format!("right.{q}"));
        let mirror: Vec<f64> = expected.iter().map(|x| x * mirror_sign(q)).collect();
        let known = || (0..expected.len()).filter(|f| expected[*f].is_finite());
        worst.note(
            format!("right {q}"),
            farthest(&column(&both, &format!("right.{q}")), &expected, known()),
            limit,
        );
        worst.note(
            format!("left {q}"),
            farthest(&column(&both, &format!("left.{q}")), &mirror, known()),
            limit,
        );
    }
    worst.judge("both arms in one file");
}

#[test]
fn property_a_rigid_motion_of_the_scene_changes_nothing() {
    let still = run_good(&curl_sheet(&[]), &Markers::curl());
    for (angles, shift) in [
        ([0.4, -1.2, 2.7], [310.0, -870.0, 1500.0]),
        ([-2.9, 0.6, 0.1], [-5.0, 40.0, -2200.0]),
    ] {
        let r = Rotation3::from_euler_angles(angles[0], angles[1], angles[2]);
        let moved = Markers::curl().moved(|p| {
            let q = r * Vector3::from(p) + Vector3::from(shift);
            [q.x, q.y, q.z]
        });
        let (up, forward) = (r * Vector3::z(), r * Vector3::y());
        let vector = |v: Vector3<f64>| format!("[{}, {}, {}]", v.x, v.y, v.z);
        // `forward` may lean: it is made perpendicular to `up`
        let leaning = forward + up * 0.3;
        let sheet = curl_sheet(&[
            ("up = \"+z\"", &format!("up = {}", vector(up * 2.0))),
            ("forward = \"+y\"", &format!("forward = {}", vector(leaning))),
        ]);
        let results = run_good(&sheet, &moved);
        let mut worst = Worst::default();
        for q in written() {
            let name = format!("right.{q}");
            let expected = column(&still, &name);
            let known = (0..expected.len()).filter(|f| expected[*f].is_finite());
            worst.note(
                &name,
                farthest(&column(&results, &name), &expected, known),
                MOVED_REL * scale(&still, &name),
            );
        }
        worst.judge("moved scene");
    }
}

#[test]
fn property_every_lab_axis_and_unit_gives_the_same_answer() {
    let still = run_good(&curl_sheet(&[]), &Markers::curl());
    let expected = column(&still, "right.shoulder.moment_x_n_m");
    // new lab axes as (up, forward) and the unit's length in mm
    for (up, forward, unit, mm) in [
        ("-x", "+z", "m", 1000.0),
        ("+y", "-x", "cm", 10.0),
        ("-z", "-y", "in", 25.4),
        ("Y", "z", "um", 1e-3),
        ("+x", "-y", "ft", 304.8),
    ] {
        let axis = |a: &str| {
            let i = "xyz".find(&a.to_lowercase()[a.len() - 1..]).unwrap();
            let mut v = Vector3::zeros();
            v[i] = if a.starts_with('-') { -1.0 } else { 1.0 };
            v
        };
        let (u, f) = (axis(up), axis(forward));
        let right = f.cross(&u);
        let moved = Markers::curl().moved(|p| {
            let q = (u * p[2] + f * p[1] + right * p[0]) / mm;
            [q.x, q.y, q.z]
        });
        let sheet = curl_sheet(&[
            ("\"mm\"", &format!("{unit:?}")),
            ("up = \"+z\"", &format!("up = {up:?}")),
            ("forward = \"+y\"", &format!("forward = {forward:?}")),
        ]);
        let found = column(&run_good(&sheet, &moved), "right.shoulder.moment_x_n_m");
        assert!(
            farthest(&found, &expected, 0..found.len()) < MOVED_REL * peak(&expected),
            "{up} {forward} {unit}"
        );
    }
}

#[test]
fn property_a_long_recording_in_blocks_repeats_a_short_one() {
    // forwards and backwards again and again: 4,161 frames are more than two blocks of the computation
    let short = Markers::curl();
    let n = short.time.len();
    let frames = 13 * (n - 1) + 1;
    let at = |i: usize| {
        let k = i % (2 * n - 2);
        if k < n { k } else { 2 * n - 2 - k }
    };
    let long = Markers {
        time: (0..frames).map(|i| i as f64 / 100.0).collect(),
        points: short
            .points
            .iter()
            .map(|(name, p)| (name.clone(), (0..frames).map(|i| p[at(i)]).collect()))
            .collect(),
    };
    let (once, often) = (
        run_good(&curl_sheet(&[]), &short),
        run_good(&curl_sheet(&[]), &long),
    );
    let mut worst = Worst::default();
    for q in written().filter(|q| !q.ends_with("power_w")) {
        let (a, b) = (
            column(&once, &format!("right.{q}")),
            column(&often, &format!("right.{q}")),
        );
        // second derivatives do not know forwards from backwards; turning points have kinks
        let expected: Vec<f64> = (0..frames).map(|i| a[at(i)]).collect();
        let error = farthest(
            &b,
            &expected,
            (0..frames).filter(|i| (3..n - 3).contains(&at(*i))),
        );
        worst.note(q, error, SUM_REL * peak(&a).max(1.0));
    }
    worst.judge("blocks");
}

//! The shoulder's moment along the axes of its angles, and the trunk as landmarks or a stated posture give
//! it.

use crate::common::still_arm::{StillArm, sheet, turn};
use crate::common::{Markers, Worst, column, curl_sheet, farthest, peak, peak_of_vector, run, run_good};
use armload::findings::{self, Component};
use armload::ground::warning::Warning;
use armload::results::TrialResults;
use nalgebra::{Matrix3, Rotation3, Vector3};
use std::f64::consts::FRAC_1_SQRT_2;

/// N·m beside 20 N·m: sums of a handful of products in double precision, and a file that carries every digit.
const ROUNDING_N_M: f64 = 1e-9;
/// The power of the moment against that of its components along the rates of the angles, relative to the
/// peak: fourth-order differences of angles at 100 Hz against those of axes.
const POWER_REL: f64 = 2e-3;
/// N
const WEIGHT_N: f64 = 5.0 * 9.8;

/// A still arm of a side: a left one is the mirror image of the right one.
fn still(arm: &StillArm, side: &str) -> TrialResults {
    let left = side == "left";
    let markers = arm
        .markers()
        .renamed(|n| {
            if TRUNK.contains(&n) {
                n.to_owned()
            } else {
                format!("{side}.{n}")
            }
        })
        .moved(|[x, y, z]| [x, y, if left { -z } else { z }]);
    let load = format!("[[load]]\nkind = \"free-weight\"\nside = \"{side}\"\nmass_kg = 5.0\n");
    // weightless segments: the load alone is in the closed form
    let weightless: String = ["upper_arm", "forearm", "hand"]
        .map(|s| format!("[model.override.{side}.{s}]\nmass_kg = 0.0\n"))
        .concat();
    let text = sheet("female", 60.0, 9.8, &weightless, &load)
        .replace("sides = [\"right\"]", &format!("sides = [\"{side}\"]"));
    run_good(&text, &markers)
}

fn straight(r_wu: Matrix3<f64>) -> StillArm {
    StillArm {
        r_wu,
        r_uf: Matrix3::identity(),
        r_fh: Matrix3::identity(),
        lengths: [0.30, 0.25, 0.08],
        isb_forearm: false,
    }
}

#[test]
fn oracle_elevation_moment_of_an_arm_held_out() {
    // a straight level arm of 0.63 m to the grip, the load at its end: the joint raises it with weight times
    // length, whichever way it points
    let full = WEIGHT_N * 0.63;
    let part = full * FRAC_1_SQRT_2;
    // the way it points as turns of a hanging arm: sideways about X, forwards about Z; then about the
    // vertical
    let cases = [
        ("forwards", turn('z', 90.0), [full, 0.0], Component::Flexion),
        ("sideways", turn('x', -90.0), [0.0, full], Component::Abduction),
        (
            "between",
            turn('y', 45.0) * turn('x', -90.0),
            [part, part],
            Component::Elevation,
        ),
        ("backwards", turn('z', -90.0), [-full, 0.0], Component::Flexion),
    ];
    let mut worst = Worst::default();
    for side in ["right", "left"] {
        for (what, r_wu, [flexion, abduction], named) in cases {
            let found = still(&straight(r_wu), side);
            let at = |q: &str| column(&found, &format!("{side}.shoulder.{q}_n_m"))[10];
            for (q, truth) in [
                ("elevation_moment", full),
                ("flexion_moment", flexion),
                ("abduction_moment", abduction),
                ("horizontal_moment", 0.0),
            ] {
                worst.note(format!("{side} {what}: {q}"), (at(q) - truth).abs(), ROUNDING_N_M);
            }
            // what is said names the component and the whole size
            let peak = findings::find(&found, 60.0)[0].shoulder_peak.unwrap();
            let whole = peak.whole.unwrap();
            assert_eq!(whole.main_component, named, "{side} {what}");
            worst.note(
                format!("{side} {what}: size"),
                (peak.moment_vector_n_m - full).abs(),
                ROUNDING_N_M,
            );
            worst.note(
                format!("{side} {what}: static size"),
                (whole.static_vector_n_m - full).abs(),
                ROUNDING_N_M,
            );
            worst.note(
                format!("{side} {what}: raised"),
                (whole.arm_raised_deg - 90.0).abs(),
                1e-9,
            );
        }
        // a hanging arm has no plane it could be raised in
        let hanging = still(&straight(turn('z', 4.0)), side);
        assert!(
            column(&hanging, &format!("{side}.shoulder.elevation_moment_n_m"))
                .iter()
                .all(|x| x.is_nan())
        );
        assert!(
            column(&hanging, &format!("{side}.shoulder.flexion_moment_n_m"))
                .iter()
                .all(|x| x.is_finite())
        );
        // half way up: sine of the elevation, and a load that swings the forearm outwards is carried by the
        // axial part
        let half = still(&straight(turn('x', -30.0)), side);
        worst.note(
            format!("{side} at 30°"),
            (column(&half, &format!("{side}.shoulder.elevation_moment_n_m"))[10] - 0.5 * full).abs(),
            ROUNDING_N_M,
        );
    }
    worst.judge("elevation moment");
}

#[test]
fn cross_power_is_the_sum_over_the_rates_of_the_angles() {
    // M · w = a' M_y - b' M_elevation + c' M_axial, with Euler angles a, b, c of the shoulder (plane,
    // elevation, axial rotation)
    for side in ["right", "left"] {
        let mirror = if side == "left" { -1.0 } else { 1.0 };
        // the engine's curl turned sideways by 40°, so that the arm is well away from the pole
        let lab = Rotation3::from_axis_angle(&Vector3::y_axis(), -0.7);
        let keep = TRUNK;
        let m = Markers::curl();
        let trunk = m.clone().without(
            &m.points
                .iter()
                .map(|(n, _)| n.as_str())
                .filter(|n| !keep.contains(n))
                .collect::<Vec<_>>(),
        );
        let arm = m.without(&keep).moved(|p| {
            let q = lab * Vector3::from(p);
            [q.x * mirror, q.y, q.z]
        });
        let text = curl_sheet(&[
            ("sides = [\"right\"]", &format!("sides = [\"{side}\"]")),
            ("side = \"right\"", &format!("side = \"{side}\"")),
        ]);
        let found = run_good(&text, &trunk.with(arm));
        let of = |q: &str| column(&found, &format!("{side}.shoulder.{q}"));
        let rate = |q: &str| -> Vec<f64> {
            let x = of(q);
            // fourth-order central differences at 100 Hz, rad/s
            (0..x.len())
                .map(|i| match (i.checked_sub(2).map(|j| x[j]), x.get(i + 2)) {
                    (Some(a), Some(b)) => {
                        ((a - b) / 12.0 + (x[i + 1] - x[i - 1]) * 2.0 / 3.0).to_radians() * 100.0
                    }
                    _ => f64::NAN,
                })
                .collect()
        };
        let (plane, elevation, axial) = (
            rate("plane_of_elevation_deg"),
            rate("elevation_deg"),
            rate("axial_rotation_deg"),
        );
        let (m_y, m_e, m_a) = (
            of("horizontal_moment_n_m"),
            of("elevation_moment_n_m"),
            of("axial_moment_n_m"),
        );
        let sum: Vec<f64> = (0..m_y.len())
            .map(|i| plane[i] * m_y[i] - elevation[i] * m_e[i] + axial[i] * m_a[i])
            .collect();
        let power = of("power_w");
        let inside = 2..power.len() - 2;
        assert!(
            m_e.iter().all(|x| x.is_finite()),
            "the arm stays away from the pole"
        );
        assert!(peak(&power) > 1.0, "the shoulder moves");
        let off = farthest(&power, &sum, inside);
        assert!(
            off < POWER_REL * peak(&power),
            "{side}: {off} beside {}",
            peak(&power)
        );
    }
}

/// The engine's curl with trunk landmarks in the middle that stand exactly along the lab's axes (x right, y
/// forward, z up; mm), and an acromion.
fn square_trunk(side: &str) -> Markers {
    let mirror = if side == "left" { -1.0 } else { 1.0 };
    let arm = Markers::curl()
        .without(&TRUNK)
        .moved(|[x, y, z]| [x * mirror, y, z]);
    let frames = arm.time.len();
    let still = |n: &str, p: [f64; 3]| (n.to_owned(), vec![p; frames]);
    let trunk = vec![
        still("IJ", [0.0, 70.0, 1400.0]),
        still("C7", [0.0, -70.0, 1400.0]),
        still("PX", [0.0, 90.0, 1200.0]),
        still("T8", [0.0, -90.0, 1200.0]),
        // 50 mm from the shoulder centre along the trunk
        (
            "AC".to_owned(),
            arm.of("SJC").iter().map(|[x, y, z]| [*x, *y, z + 50.0]).collect(),
        ),
    ];
    arm.clone().with(Markers {
        time: arm.time,
        points: trunk,
    })
}

/// Trunk landmarks, which have no side.
const TRUNK: [&str; 4] = ["IJ", "PX", "C7", "T8"];

const SHOULDER: [&str; 9] = [
    "flexion_moment_n_m",
    "abduction_moment_n_m",
    "horizontal_moment_n_m",
    "axial_moment_n_m",
    "elevation_moment_n_m",
    "static_flexion_moment_n_m",
    "plane_of_elevation_deg",
    "elevation_deg",
    "axial_rotation_deg",
];

#[test]
fn cross_a_stated_posture_is_as_good_as_trunk_landmarks_that_stand_as_it_says() {
    // each posture turns the whole scene, arm and trunk; gravity stays
    let about = |axis: Vector3<f64>, degrees: f64| Rotation3::from_scaled_axis(axis * degrees.to_radians());
    let right = Vector3::x();
    let cases = [
        ("\"supine\"", about(right, 90.0)),
        ("\"prone\"", about(right, -90.0)),
        ("\"standing\"", about(right, 0.0)),
        ("\"seated\"", about(right, 0.0)),
        // an incline bench: leaning back by 40°
        ("[0.0, -0.642787609686539, 0.766044443118978]", about(right, 40.0)),
        // head down, on the back
        ("[0.0, -2.0, -2.0]", about(right, 135.0)),
        // bent to the right by 30°
        ("[0.5, 0.0, 0.866025403784439]", about(Vector3::y(), 30.0)),
        // lying on the right side, facing forward
        ("[1.0, 0.0, 0.0]", about(Vector3::y(), 90.0)),
    ];
    let mut worst = Worst::default();
    for side in ["right", "left"] {
        for (posture, r) in &cases {
            for method in ["method = \"given\"", "method = \"below-acromion\", drop_m = 0.05"] {
                let text = curl_sheet(&[
                    ("sides = [\"right\"]", &format!("sides = [\"{side}\"]")),
                    ("side = \"right\"", &format!("side = \"{side}\"")),
                    ("method = \"given\"", method),
                    ("[participant]", &format!("[participant]\nposture = {posture}")),
                ]);
                let markers = square_trunk(side).moved(|p| (r * Vector3::from(p)).into());
                let with = run_good(&text, &markers);
                let without = run_good(&text, &markers.without(&TRUNK));
                let of = |found: &TrialResults, q: &str| column(found, &format!("{side}.shoulder.{q}"));
                let [x, y, z] = ["x", "y", "z"].map(|a| of(&with, &format!("moment_{a}_n_m")));
                let top = peak_of_vector(&x, &y, &z);
                for q in SHOULDER {
                    let (a, b) = (of(&with, q), of(&without, q));
                    let scale = if q.ends_with("deg") { 100.0 } else { top };
                    let known: Vec<usize> = (0..a.len()).filter(|i| a[*i].is_finite()).collect();
                    assert_eq!(
                        known,
                        (0..b.len()).filter(|i| b[*i].is_finite()).collect::<Vec<_>>(),
                        "{side} {posture} {q}"
                    );
                    worst.note(
                        format!("{side} {posture} {method} {q}"),
                        farthest(&a, &b, known.into_iter()),
                        1e-9 * scale,
                    );
                }
                for found in [&with, &without] {
                    let grave: Vec<String> = found
                        .warnings
                        .iter()
                        .filter(|w| w.is_grave())
                        .map(|w| w.to_string())
                        .collect();
                    assert!(grave.is_empty(), "{side} {posture}: {grave:?}");
                }
                assert!(
                    without
                        .warnings
                        .iter()
                        .any(|w| matches!(w, Warning::TrunkFromPosture { .. }))
                );
                assert!(
                    !without.warnings.contains(&Warning::NoThorax)
                        && !with
                            .warnings
                            .iter()
                            .any(|w| matches!(w, Warning::TrunkFromPosture { .. }))
                );
            }
        }
    }
    worst.judge("postures");
}

#[test]
fn property_what_the_recorded_trunk_contradicts_is_said_aloud() {
    let lying = |degrees: f64| {
        let r = Rotation3::from_axis_angle(&Vector3::x_axis(), degrees.to_radians());
        square_trunk("right").moved(move |p| (r * Vector3::from(p)).into())
    };
    let warnings = |markers: &Markers, posture: &str, forward: &str| {
        let text = curl_sheet(&[
            ("[participant]", &format!("[participant]\n{posture}")),
            ("forward = \"+y\"", &format!("forward = \"{forward}\"")),
        ]);
        run_good(&text, markers).warnings
    };
    let contradicted = |w: &[Warning]| {
        w.iter()
            .find(|w| matches!(w, Warning::PostureContradicted { .. }))
            .map(|w| (w.to_string(), w.is_grave()))
    };
    let (upright, back, belly) = (lying(0.0), lying(90.0), lying(-90.0));
    for (markers, posture, says) in [
        (&upright, "supine", "is upright"),
        (&upright, "prone", "is upright"),
        (&back, "standing", "lies on its back"),
        (&back, "prone", "lies on its back"),
        (&belly, "seated", "lies on its belly"),
        (&belly, "supine", "lies on its belly"),
        (&lying(170.0), "supine", "has its head down"),
    ] {
        let (text, grave) = contradicted(&warnings(markers, &format!("posture = \"{posture}\""), "+y"))
            .unwrap_or_else(|| panic!("{posture} {says}"));
        assert!(grave && text.contains(posture) && text.contains(says), "{text}");
    }
    let (text, _) = contradicted(&warnings(&upright, "posture = [0, -1, 0]", "+y")).unwrap();
    assert!(text.contains("90° away"), "{text}");
    for (markers, posture) in [
        (&upright, "standing"),
        (&upright, "leaning"),
        (&back, "supine"),
        (&back, "leaning"),
        (&belly, "prone"),
    ] {
        let all = warnings(markers, &format!("posture = \"{posture}\""), "+y");
        assert!(!all.iter().any(Warning::is_grave), "{posture}: {all:?}");
    }
    // unsaid, a lying trunk is doubted as ever
    assert!(
        warnings(&back, "", "+y")
            .iter()
            .any(|w| matches!(w, Warning::UpImplausible { .. }) && w.is_grave())
    );
    // `forward` the wrong way round for one who lies
    for (markers, posture, says) in [
        (&back, "supine", "where the feet point"),
        (&belly, "prone", "where the head points"),
    ] {
        let all = warnings(markers, &format!("posture = \"{posture}\""), "-y");
        assert!(
            all.iter().any(|w| matches!(w, Warning::FacesElsewhere { .. })
                && w.is_grave()
                && w.to_string().contains(says)),
            "{posture}: {all:?}"
        );
    }
    // leaning alone tells nothing of where: said aloud, the world's axes taken
    let all = warnings(&back.clone().without(&["C7"]), "posture = \"leaning\"", "+y");
    assert!(
        all.iter()
            .any(|w| matches!(w, Warning::TrunkUnknown { centre: false }) && w.is_grave()),
        "{all:?}"
    );
    assert!(!all.contains(&Warning::NoThorax));
}

#[test]
fn property_arms_without_a_trunk_lie_on_their_sides_of_each_other_in_every_posture() {
    let both = |degrees: f64, axis: Vector3<f64>| {
        let r = Rotation3::from_scaled_axis(axis * degrees.to_radians());
        let named = |side: &str| {
            square_trunk(side)
                .without(&TRUNK)
                .renamed(|n| format!("{side}.{n}"))
        };
        named("right")
            .with(named("left"))
            .moved(move |p| (r * Vector3::from(p)).into())
    };
    let text = |posture: &str| {
        let sheet = curl_sheet(&[
            ("sides = [\"right\"]", "sides = [\"right\", \"left\"]"),
            ("[participant]", &format!("[participant]\nposture = {posture}")),
        ]);
        sheet.split("[[load]]").next().unwrap().to_owned()
            + "[[load]]\nkind = \"none\"\nside = \"right\"\n[[load]]\nkind = \"none\"\nside = \"left\"\n"
    };
    for (posture, degrees, axis) in [
        ("\"supine\"", 90.0, Vector3::x()),
        ("\"prone\"", -90.0, Vector3::x()),
        ("[1, 0, 0]", 90.0, Vector3::y()),
    ] {
        let markers = both(degrees, axis);
        let doubted = |m: &Markers| {
            run_good(&text(posture), m)
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::SideImplausible { .. }))
        };
        assert!(!doubted(&markers), "{posture}");
        let exchanged = markers.clone().renamed(|n| match n.split_once('.') {
            Some(("right", rest)) => format!("left.{rest}"),
            Some((_, rest)) => format!("right.{rest}"),
            None => n.to_owned(),
        });
        assert!(doubted(&exchanged), "{posture}");
    }
}

#[test]
fn cli_a_posture_that_is_none_is_refused_with_what_to_write() {
    let refused = |posture: &str| {
        run(
            &curl_sheet(&[("[participant]", &format!("[participant]\nposture = {posture}"))]),
            &Markers::curl().csv(),
        )
        .err()
        .unwrap()
        .text
    };
    let text = refused("\"lying\"");
    assert!(
        text.contains("participant.posture")
            && text.contains("supine")
            && text.contains("prone")
            && text.contains("line 6"),
        "{text}"
    );
    assert!(refused("\"supin\"").contains("did you mean \"supine\"?"));
    assert!(refused("[0, 0, 0]").contains("from the pelvis to the head"));
    assert!(refused("[0, 1]").contains("participant.posture"));
    assert!(refused("3").contains("[x, y, z] in lab axes"));
    // who lies on the back does not face along `up`
    let text = run(
        &curl_sheet(&[("forward = \"+y\"", "forward = \"+z\"")]),
        &Markers::curl().csv(),
    )
    .err()
    .unwrap()
    .text;
    assert!(text.contains("on the back where the feet point"), "{text}");
}

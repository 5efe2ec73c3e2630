//! Published numbers: tables row by row, worked examples through the whole pipeline, formulas, conventions.
//! Each printed value is asserted at its printed precision: half of the last digit.

mod common;

use armload::anatomy::body::Rigid;
use armload::anatomy::tables::{self, Part, Table};
use armload::ground::names::Sex;
use armload::ground::{STANDARD_GRAVITY_M_S2, units};
use armload::muscles::curves::{CurveOf, curve};
use armload::results::TrialResults;
use armload::smoothing::derivative;
use armload::smoothing::lowpass::ZeroLag;
use common::still_arm::{StillArm, sheet, turn};
use common::{Worst, column, detail, run_good};
use nalgebra::Matrix3;
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};
use std::f64::consts::PI;

/// Percent: numbers copied from a page have to be the very numbers.
const COPIED: f64 = 1e-12;

fn assert_printed(what: &str, found: f64, printed: f64, half_of_last_digit: f64) {
    assert!(
        (found - printed).abs() <= half_of_last_digit * (1.0 + 1e-9),
        "{what}: {found}, printed {printed}"
    );
}

// ---------------------------------------------------------------- tables

/// de Leva P (1996) J Biomech 29:1223-1230, table 4, the rows of the arm (two separate copies agree): length
/// in mm, mass % of body mass, mass centre % of length, radii of gyration % of length (sagittal, transverse,
/// longitudinal). The female hand's sagittal radius is 53.1: a circulating copy prints 63.1, against which
/// the row to the third fingertip speaks (24.4 x 170.1 / 78.0 = 53.2).
const DE_LEVA: [(Sex, Part, &str, &str, [f64; 6]); 6] = [
    (
        Sex::Female,
        Part::UpperArm,
        "SJC",
        "EJC",
        [275.1, 2.55, 57.54, 27.8, 26.0, 14.8],
    ),
    (
        Sex::Female,
        Part::Forearm,
        "EJC",
        "WJC",
        [264.3, 1.38, 45.59, 26.1, 25.7, 9.4],
    ),
    (
        Sex::Female,
        Part::Hand,
        "WJC",
        "MET3",
        [78.0, 0.56, 74.74, 53.1, 45.4, 33.5],
    ),
    (
        Sex::Male,
        Part::UpperArm,
        "SJC",
        "EJC",
        [281.7, 2.71, 57.72, 28.5, 26.9, 15.8],
    ),
    (
        Sex::Male,
        Part::Forearm,
        "EJC",
        "WJC",
        [268.9, 1.62, 45.74, 27.6, 26.5, 12.1],
    ),
    (
        Sex::Male,
        Part::Hand,
        "WJC",
        "MET3",
        [86.2, 0.61, 79.0, 62.8, 51.3, 40.1],
    ),
];

/// Winter DA, Biomechanics and Motor Control of Human Movement, table 4.1 (Dempster 1955), one copy:
/// fractions of body mass and of length: mass, mass centre from the proximal end, radius of gyration about
/// the mass centre, about the proximal end.
const WINTER: [(Part, [f64; 4]); 3] = [
    (Part::UpperArm, [0.028, 0.436, 0.322, 0.542]),
    (Part::Forearm, [0.016, 0.430, 0.303, 0.526]),
    (Part::ForearmAndHand, [0.022, 0.682, 0.468, 0.827]),
];

#[test]
fn published_de_leva_rows() {
    let table = tables::find("deleva-1996").unwrap();
    assert_eq!(
        (table.rows.len(), table.by_sex, table.one_radius),
        (DE_LEVA.len(), true, false)
    );
    for (sex, part, proximal, distal, [mm, mass, com, sagittal, transverse, longitudinal]) in DE_LEVA {
        let row = table.row(part, Some(sex)).unwrap();
        assert_eq!(row.endpoints, (proximal, distal));
        assert_eq!(row.reference_length_mm, Some(mm));
        for (found, printed) in [
            (row.mass_fraction() * 100.0, mass),
            (row.com_fraction() * 100.0, com),
            // sagittal = about the antero-posterior axis X, longitudinal = Y, transverse = about the
            // medio-lateral axis Z
            (row.radii().x * 100.0, sagittal),
            (row.radii().y * 100.0, longitudinal),
            (row.radii().z * 100.0, transverse),
        ] {
            assert!(
                (found - printed).abs() < COPIED,
                "{sex:?} {part:?}: {found}, printed {printed}"
            );
        }
    }
    // the hand's two rows describe one body: radius times length is the same for both endpoints (170.1 mm,
    // 24.4 %)
    let hand = table.row(Part::Hand, Some(Sex::Female)).unwrap();
    assert_printed(
        "female hand, sagittal",
        hand.radii().x * 78.0,
        0.244 * 170.1,
        0.0005 * (170.1 + 78.0),
    );
    // reference statures: 1.735 m women, 1.741 m men; from memory
    assert_eq!(
        (
            table.reference_stature(Some(Sex::Female)),
            table.reference_stature(Some(Sex::Male))
        ),
        (Some(1.735), Some(1.741))
    );
}

#[test]
fn published_winter_rows() {
    let table = tables::find("dempster-winter").unwrap();
    assert_eq!(
        (
            table.rows.len(),
            table.by_sex,
            table.one_radius,
            table.hand_can_be_segment()
        ),
        (WINTER.len(), false, true, false)
    );
    for (part, [mass, com, about_com, about_proximal]) in WINTER {
        for sex in [None, Some(Sex::Female), Some(Sex::Male)] {
            let row = table.row(part, sex).unwrap();
            for (found, printed) in [
                (row.mass_fraction(), mass),
                (row.com_fraction(), com),
                (row.radii().x, about_com),
                (row.radii().z, about_com),
                (row.radii().y, 0.0),
            ] {
                assert!(
                    (found - printed).abs() < COPIED,
                    "{part:?}: {found}, printed {printed}"
                );
            }
            // parallel axes: the printed proximal radius follows from the other two
            assert_printed(
                "radius about the proximal end",
                row.radii().x.hypot(row.com_fraction()),
                about_proximal,
                0.001,
            );
        }
    }
    assert!(table.row(Part::Hand, None).is_none());
}

#[test]
fn published_units_and_gravity() {
    // standard gravity: 3rd CGPM (1901), exact; inch and foot: international yard and pound agreement (1959),
    // exact
    assert_eq!(STANDARD_GRAVITY_M_S2, 9.80665);
    for (unit, metres) in [
        ("m", 1.0),
        ("cm", 0.01),
        ("mm", 0.001),
        ("um", 1e-6),
        ("in", 0.0254),
        ("ft", 0.3048),
    ] {
        assert_eq!(units::metres_per(unit), Some(metres));
    }
    assert_eq!(units::metres_per("yd"), None);
}

/// A motionless arm of the table's reference lengths; `hand_markers` or a lumped hand.
fn reference_arm(sex: Sex, hand_markers: bool) -> (StillArm, common::Markers) {
    let mm = |part| {
        tables::find("deleva-1996")
            .unwrap()
            .row(part, Some(sex))
            .unwrap()
            .reference_length_mm
            .unwrap()
            * 1e-3
    };
    let arm = StillArm::level_forearm([mm(Part::UpperArm), mm(Part::Forearm), mm(Part::Hand)]);
    let markers = if hand_markers {
        arm.markers()
    } else {
        arm.markers().without(&["MCP2", "MCP5"])
    };
    (arm, markers)
}

#[test]
fn published_rows_reach_the_segments() {
    // one participant for each column, reference lengths: mass, mass centre and the three moments from the
    // printed row
    let mut worst = Worst::default();
    for (sex, name) in [(Sex::Female, "female"), (Sex::Male, "male")] {
        let mass = 68.0;
        let results = run_good(
            &sheet(
                name,
                mass,
                9.81,
                "hand = \"segment\"",
                "[[load]]\nkind = \"none\"",
            ),
            &reference_arm(sex, true).1,
        );
        let body = &results.arms[0].body;
        for (row, rigid) in DE_LEVA.iter().filter(|r| r.0 == sex).zip([
            &body.upper_arm,
            &body.forearm,
            body.hand.as_ref().unwrap(),
        ]) {
            check_segment(&mut worst, rigid, row.4, mass);
        }
    }
    worst.judge("segments of the reference lengths");
}

fn check_segment(
    worst: &mut Worst,
    rigid: &Rigid,
    [mm, mass, com, sagittal, transverse, longitudinal]: [f64; 6],
    body_mass: f64,
) {
    let (m, l) = (mass / 100.0 * body_mass, mm / 1000.0);
    let name = rigid.segment.name();
    let mut note = |what: &str, found: f64, expected: f64| {
        worst.note(
            format!("{name} {what}"),
            (found - expected).abs(),
            1e-9 * expected,
        )
    };
    note("length", rigid.length_m, l);
    note("mass", rigid.mass_kg, m);
    note("mass centre", rigid.com_m, com / 100.0 * l);
    for (i, radius) in [sagittal, longitudinal, transverse].into_iter().enumerate() {
        note(
            "moment",
            rigid.inertia_kg_m2[(i, i)],
            m * (radius / 100.0 * l).powi(2),
        );
    }
}

// ---------------------------------------------------------------- worked examples through the whole pipeline

fn at_rest(results: &TrialResults, name: &str) -> f64 {
    let series = column(results, name);
    assert!(
        series
            .iter()
            .all(|x| (x - series[10]).abs() < 1e-9 * (1.0 + x.abs())),
        "{name} is not constant in a motionless recording"
    );
    series[10]
}

#[test]
fn published_static_forearm_and_hand_with_a_load_at_the_hands_mass_centre() {
    // derived from de Leva's table (reference lengths, g = 9.81): 73.0 kg man 2.90 N·m and 3.31 N·m per kg;
    // 61.9 kg woman 2.11 and 3.16
    for (sex, name, mass, own, per_kg) in [
        (Sex::Male, "male", 73.0, 2.90, 3.31),
        (Sex::Female, "female", 61.9, 2.11, 3.16),
    ] {
        let stature = tables::find("deleva-1996")
            .unwrap()
            .reference_stature(Some(sex))
            .unwrap();
        let hand_com = {
            let [mm, _, com, ..] = DE_LEVA
                .iter()
                .find(|r| r.0 == sex && r.1 == Part::Hand)
                .unwrap()
                .4;
            mm * com * 1e-5
        };
        // hand as a segment with the load at its mass centre; lumped hand without markers, whose default grip
        // is that point
        for (hand, markers, at) in [
            (
                "segment",
                true,
                format!("at = {{ hand_m = [0.0, -{hand_com}, 0.0] }}\n"),
            ),
            ("lumped", false, String::new()),
        ] {
            let (_, recording) = reference_arm(sex, markers);
            let run = |more: &str| {
                let text = sheet(name, mass, 9.81, &format!("hand = \"{hand}\""), more)
                    .replace("stature_m = 1.741", &format!("stature_m = {stature}"));
                let results = run_good(&text, &recording);
                // motionless: the dynamic route and the static one are the same
                let (total, statics) = (
                    at_rest(&results, "right.elbow.flexion_moment_n_m"),
                    at_rest(&results, "right.elbow.static_flexion_moment_n_m"),
                );
                assert!((total - statics).abs() < 1e-9 * total.abs());
                assert!((at_rest(&results, "right.elbow.flexion_deg") - 90.0).abs() < 0.5);
                total
            };
            let alone = run("[[load]]\nkind = \"none\"");
            let with = run(&format!("[[load]]\nkind = \"free-weight\"\nmass_kg = 1.0\n{at}"));
            let with_five = run(&format!("[[load]]\nkind = \"free-weight\"\nmass_kg = 5.0\n{at}"));
            println!("{name}, {hand}: {alone:.4} N·m, {:.4} N·m per kg", with - alone);
            assert_printed(&format!("{name}, {hand}: forearm and hand"), alone, own, 0.005);
            assert_printed(&format!("{name}, {hand}: each kg"), with - alone, per_kg, 0.005);
            assert!((with_five - alone - 5.0 * (with - alone)).abs() < 1e-9);
        }
    }
}

#[test]
fn published_level_upper_arm_alone_differs_between_tables() {
    // derived from the tables: 73 kg man, L = 0.2817 m, g = 9.81: 3.16 N·m (de Leva) or 2.46 N·m (Winter) at
    // the shoulder
    for (table, hand, printed) in [
        ("deleva-1996", "segment", 3.16),
        ("dempster-winter", "lumped", 2.46),
    ] {
        let (mut arm, _) = reference_arm(Sex::Male, true);
        arm.r_wu = turn('z', 90.0);
        arm.r_uf = Matrix3::identity();
        let model = format!("anthropometry = \"{table}\"\nhand = \"{hand}\"");
        let results = run_good(
            &sheet("male", 73.0, 9.81, &model, "[[load]]\nkind = \"none\""),
            &arm.markers(),
        );
        let share = detail(&results, "right.shoulder.static.upper_arm_flexion_n_m")[10];
        println!("{table}: {share:.4} N·m");
        assert_printed(table, share, printed, 0.005);
    }
}

/// A forearm of stated mass and mass centre, level; a weight at a stated distance; a flexor of constant
/// moment arm.
struct Problem {
    forearm: (f64, f64),
    weight: (f64, f64),
    moment_arm_m: f64,
    gravity: f64,
}

impl Problem {
    /// Net elbow moment and flexor force.
    fn solve(&self) -> (f64, f64) {
        let (_, markers) = reference_arm(Sex::Male, false);
        let l_f = 0.2689;
        let over = format!(
            "hand = \"lumped\"\n[model.override.right.forearm]\nmass_kg = {}\ncom_fraction = {:?}\n[model.override.right.hand]\nmass_kg = 0",
            self.forearm.0,
            self.forearm.1 / l_f
        );
        let more = format!(
            "[muscles]\nmodel = \"single\"\nmoment_arm_m = {}\n[[load]]\nkind = \"free-weight\"\nmass_kg = {}\nat = {{ hand_m = [0, {}, 0] }}",
            self.moment_arm_m,
            self.weight.0,
            l_f - self.weight.1
        );
        let results = run_good(&sheet("male", 80.0, self.gravity, &over, &more), &markers);
        (
            at_rest(&results, "right.elbow.flexion_moment_n_m"),
            at_rest(&results, "right.flexor_force_n"),
        )
    }
}

#[test]
fn published_forearm_holding_a_book() {
    // OpenStax College Physics, section 9.6: flexor 470 N (unrounded 470.4 N; net moment 18.816 N·m), 7.38
    // times the supported weight
    let p = Problem {
        forearm: (2.50, 0.160),
        weight: (4.00, 0.380),
        moment_arm_m: 0.0400,
        gravity: 9.80,
    };
    let (moment, force) = p.solve();
    assert_printed("net moment", moment, 18.816, 0.0005);
    assert_printed("flexor", force, 470.4, 0.05);
    assert_printed("ratio", force / (6.50 * 9.80), 7.38, 0.005);
    // bone force at the elbow: what the flexor lifts too much
    assert_printed("bone force", force - 6.50 * 9.80, 406.7, 0.05);
}

#[test]
fn published_heavy_ball() {
    // Giancoli, Physics, 7th ed., ch. 9 problem 37 (one copy of a solution): about 1800 N (1836.4 N; net
    // moment 88.69 N·m); the flexor pulls at 75° to the forearm, 0.05 m from the elbow
    let p = Problem {
        forearm: (2.0, 0.15),
        weight: (25.0, 0.35),
        moment_arm_m: 0.05 * 75_f64.to_radians().sin(),
        gravity: 9.8,
    };
    let (moment, force) = p.solve();
    assert_printed("net moment", moment, 88.69, 0.005);
    assert_printed("flexor", force, 1836.4, 0.05);
}

#[test]
fn published_small_ball() {
    // textbook problem, one copy: 113.96 N, printed 114 N
    let p = Problem {
        forearm: (1.00, 0.185),
        weight: (0.600, 0.370),
        moment_arm_m: 0.0350,
        gravity: 9.8,
    };
    assert_printed("flexor", p.solve().1, 113.96, 0.005);
}

#[test]
fn published_elbow_centre_error_times_force() {
    // derived in the reference: 10 mm along the forearm with 10 kg in the hand changes the elbow moment by
    // 0.98 N·m
    let moment = |shift: f64| {
        let (_, markers) = reference_arm(Sex::Male, true);
        // the weight hangs from the wrist, so only its own lever arm changes
        let over = "hand = \"segment\"\n[model.override.right.forearm]\nmass_kg = 0\n[model.override.right.hand]\nmass_kg = 0";
        let mut markers = markers;
        for (name, at) in &mut markers.points {
            if name == "EL" || name == "EM" {
                at.iter_mut().for_each(|p| p[0] -= shift);
            }
        }
        let load = "[[load]]\nkind = \"free-weight\"\nmass_kg = 10\nat = { hand_m = [0, 0, 0] }";
        at_rest(
            &run_good(&sheet("male", 73.0, 9.80665, over, load), &markers),
            "right.elbow.static_moment_z_n_m",
        )
    };
    assert_printed("10 mm", moment(0.010) - moment(0.0), 0.98, 0.005);
}

// ---------------------------------------------------------------- conventions

/// Angles of a posture in degrees: flexion, carrying, pronation; plane, elevation, axial rotation; wrist
/// flexion, deviation.
fn angles(arm: &StillArm) -> [f64; 8] {
    let results = run_good(
        &sheet(
            "female",
            60.0,
            9.81,
            "hand = \"segment\"",
            "[[load]]\nkind = \"none\"",
        ),
        &arm.markers(),
    );
    [
        "elbow.flexion_deg",
        "elbow.carrying_deg",
        "elbow.pronation_deg",
        "shoulder.plane_of_elevation_deg",
        "shoulder.elevation_deg",
        "shoulder.axial_rotation_deg",
        "wrist.flexion_deg",
        "wrist.deviation_deg",
    ]
    .map(|q| column(&results, &format!("right.{q}"))[10])
}

fn close(found: f64, expected: f64) -> bool {
    (found - expected).abs() < 1e-6
}

#[test]
fn published_joint_angle_conventions() {
    // Wu et al. (2005) J Biomech 38:981: elbow Z-X-Y (flexion +, pronation +), shoulder Y-X-Y (plane 0° =
    // abduction, 90° = forward flexion; elevation negative for a raised arm; internal rotation +)
    let isb = |r_wu: Matrix3<f64>, r_uf: Matrix3<f64>, r_fh: Matrix3<f64>| StillArm {
        r_wu,
        r_uf,
        r_fh,
        lengths: [0.28, 0.25, 0.08],
        isb_forearm: true,
    };
    let one = Matrix3::identity();
    // elbow: each angle alone and all together
    for (flexion, carrying, pronation) in [
        (90.0, 0.0, 0.0),
        (35.0, -12.0, 0.0),
        (0.0, 0.0, 80.0),
        (70.0, -9.0, 60.0),
        (130.0, 4.0, -20.0),
    ] {
        let a = angles(&isb(
            one,
            turn('z', flexion) * turn('x', carrying) * turn('y', pronation),
            one,
        ));
        assert!(
            close(a[0], flexion) && close(a[1], carrying) && close(a[2], pronation),
            "{a:?}"
        );
    }
    // flexing brings the hanging forearm forwards, pronating turns the thumb side inwards
    let wrist = |arm: &StillArm| arm.landmarks().into_iter().find(|l| l.0 == "US").unwrap().1;
    assert!(wrist(&isb(one, turn('z', 45.0), one)).x > 0.1);
    let thumb_side = |pronation: f64| {
        isb(one, turn('y', pronation), one)
            .landmarks()
            .into_iter()
            .find(|l| l.0 == "RS")
            .unwrap()
            .1
            - wrist(&isb(one, one, one))
    };
    assert!(thumb_side(0.0).z > 0.05 && thumb_side(90.0).x > 0.05);
    // shoulder: arm level sideways, level forwards, forwards and up, with and without rotation about its own
    // axis
    for (plane, elevation, axial) in [
        (0.0, -90.0, 0.0),
        (90.0, -90.0, 0.0),
        (90.0, -120.0, 0.0),
        (40.0, -60.0, 25.0),
        (60.0, -35.0, -50.0),
    ] {
        let r = turn('y', plane) * turn('x', elevation) * turn('y', axial);
        let a = angles(&isb(r, turn('z', 20.0), one));
        assert!(
            close(a[3], plane) && close(a[4], elevation) && close(a[5], axial),
            "{:?}",
            &a[3..6]
        );
    }
    let elbow = |r: Matrix3<f64>| -r.column(1);
    assert!(
        (elbow(turn('x', -90.0)).z - 1.0).abs() < 1e-12,
        "plane 0°: straight out to the right"
    );
    assert!(
        (elbow(turn('y', 90.0) * turn('x', -90.0)).x - 1.0).abs() < 1e-12,
        "plane 90°: straight forwards"
    );
    // wrist Z-X: palmar flexion + and ulnar deviation + (palm faces forwards in the anatomical posture)
    let hand =
        |flexion: f64, deviation: f64| isb(one, turn('z', 20.0), turn('z', flexion) * turn('x', deviation));
    for (flexion, deviation) in [(30.0, 0.0), (0.0, 15.0), (-25.0, -8.0)] {
        let a = angles(&hand(flexion, deviation));
        assert!(close(a[6], flexion) && close(a[7], deviation), "{:?}", &a[6..]);
    }
    let knuckle = |a: &StillArm| {
        let l = a.landmarks();
        (l[9].1 + l[10].1 - l[7].1 - l[8].1) * 0.5
    };
    let straight = knuckle(&hand(0.0, 0.0));
    assert!(
        knuckle(&hand(0.0, 20.0)).z < straight.z - 0.01,
        "ulnar deviation brings the hand towards the body in the anatomical posture"
    );
    assert!(
        (knuckle(&hand(30.0, 0.0)) - straight).dot(&(turn('z', 20.0) * nalgebra::Vector3::x())) > 0.01,
        "palmar flexion"
    );
}

#[test]
fn published_elevation_near_the_poles_leaves_plane_and_rotation_empty() {
    // METHOD section 3: within 10° of elevation 0° or 180° the first and third angle are not separable
    for (elevation, empty) in [
        (-2.0, true),
        (-9.9, true),
        (-10.1, false),
        (-169.9, false),
        (-170.1, true),
    ] {
        let arm = StillArm {
            r_wu: turn('y', 50.0) * turn('x', elevation),
            r_uf: turn('z', 40.0),
            r_fh: Matrix3::identity(),
            lengths: [0.28, 0.25, 0.08],
            isb_forearm: true,
        };
        let a = angles(&arm);
        assert_eq!((a[3].is_nan(), a[5].is_nan()), (empty, empty), "{elevation}");
        assert!(close(a[4], elevation));
    }
}

#[test]
fn published_positive_senses_of_the_joint_components() {
    // FORMATS: abduction raises the arm sideways, horizontal swings a raised arm forwards, flexion raises it
    // forwards
    let moment = |r_wu: Matrix3<f64>, gravity_up: (&str, &str)| {
        let arm = StillArm {
            r_wu,
            r_uf: Matrix3::identity(),
            r_fh: Matrix3::identity(),
            lengths: [0.28, 0.25, 0.08],
            isb_forearm: false,
        };
        let text = sheet(
            "female",
            60.0,
            9.81,
            "hand = \"segment\"",
            "[[load]]\nkind = \"none\"",
        );
        let text = text.replace(
            "up = \"+y\"\nforward = \"+x\"",
            &format!("up = \"{}\"\nforward = \"{}\"", gravity_up.0, gravity_up.1),
        );
        let results = run_good(&text, &arm.markers());
        ["abduction", "horizontal", "flexion", "axial"]
            .map(|q| column(&results, &format!("right.shoulder.{q}_moment_n_m"))[10])
    };
    let sideways = turn('x', -90.0);
    let forwards = turn('y', 90.0) * turn('x', -90.0);
    let [abduction, horizontal, flexion, axial] = moment(sideways, ("+y", "+x"));
    assert!(abduction > 3.0 && horizontal.abs() < 1e-9 && flexion.abs() < 1e-9 && axial.abs() < 1e-9);
    let [abduction, horizontal, flexion, axial] = moment(forwards, ("+y", "+x"));
    assert!(flexion > 3.0 && horizontal.abs() < 1e-9 && abduction.abs() < 1e-9 && axial.abs() < 1e-9);
    // lying on the back: gravity pulls the sideways arm backwards, the joint has to swing it forwards
    let [abduction, horizontal, flexion, _] = moment(sideways, ("+x", "-y"));
    assert!(
        horizontal > 3.0 && abduction.abs() < 1e-9 && flexion.abs() < 1e-9,
        "{horizontal}"
    );
}

// ---------------------------------------------------------------- smoothing

#[test]
fn published_effective_cutoff_is_the_half_power_point_of_both_passes() {
    // Winter, Biomechanics and Motor Control of Human Movement, 4th ed., ch. 3: the stated cutoff is where
    // both passes together leave 1/sqrt(2) of the amplitude (-3 dB); C = (sqrt(2) - 1)^(1/4) = 0.8022
    for (rate, cutoff) in [(100.0, 6.0), (200.0, 4.0), (60.0, 12.0)] {
        let n = (40.0 * rate) as usize;
        let mut x: Vec<f64> = (0..n)
            .map(|i| (2.0 * PI * cutoff * i as f64 / rate).sin())
            .collect();
        let before: f64 = x[n / 4..3 * n / 4].iter().map(|v| v * v).sum();
        ZeroLag::design(cutoff, rate).unwrap().smooth(&mut [&mut x]);
        let after: f64 = x[n / 4..3 * n / 4].iter().map(|v| v * v).sum();
        assert!(
            ((after / before).sqrt() - 0.5_f64.sqrt()).abs() < 1e-6,
            "{rate} {cutoff}: {}",
            (after / before).sqrt()
        );
    }
    assert_printed("C", (2_f64.sqrt() - 1.0).powf(0.25), 0.8022, 0.00005);
}

/// White noise of 0.5 mm at 100 Hz, fixed seed.
fn white_noise(n: usize) -> Vec<f64> {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(20260506);
    let normal = Normal::new(0.0, 0.0005).unwrap();
    (0..n).map(|_| normal.sample(&mut rng)).collect()
}

fn rms(x: &[f64]) -> f64 {
    (x.iter().map(|v| v * v).sum::<f64>() / x.len() as f64).sqrt()
}

#[test]
fn published_acceleration_noise_after_an_ideal_low_pass() {
    // derived in the reference: s (2 pi fc)² sqrt(2 fc / (5 fs)); 0.5 mm, 6 Hz, 100 Hz -> 0.11 m/s²
    let (s, fc, fs) = (0.0005, 6.0, 100.0);
    let formula = s * (2.0 * PI * fc).powi(2) * (2.0 * fc / (5.0 * fs)).sqrt();
    assert_printed("formula", formula, 0.11, 0.005);
    // the ideal filter by a sum of cosines: all harmonics of the record up to fc
    let n = 3000;
    let x = white_noise(n);
    let w = 2.0 * PI / n as f64;
    let mut kept = vec![0.0; n];
    for k in 1..=(fc / fs * n as f64) as usize {
        let (mut a, mut b) = (0.0, 0.0);
        let turn = |i: usize| (w * ((k * i) % n) as f64).sin_cos();
        for (i, v) in x.iter().enumerate() {
            let (sin, cos) = turn(i);
            a += v * cos;
            b += v * sin;
        }
        for (i, v) in kept.iter_mut().enumerate() {
            let (sin, cos) = turn(i);
            *v += 2.0 / n as f64 * (a * cos + b * sin);
        }
    }
    let acceleration = derivative::twice(&kept, fs).1;
    let found = rms(&acceleration[10..n - 10]);
    println!("acceleration noise: {found:.4} m/s², formula {formula:.4}");
    // 180 harmonics, the highest of which count most: a few percent of scatter
    assert!((found / formula - 1.0).abs() < 0.08, "{found}");
}

#[test]
fn oracle_acceleration_noise_after_the_butterworth_filter() {
    // variance = 2 s²/fs · integral over 0..fs/2 of |both passes|² |second difference|²: the Butterworth gain
    // after the bilinear transform is 1 / (1 + (C tan(pi f/fs) / tan(pi fc/fs))^4), the difference of order 4
    // is fs² (30 - 32 cos + 2 cos 2)/12
    let (fc, fs) = (6.0, 100.0);
    let c = (2_f64.sqrt() - 1.0).powf(0.25);
    let steps = 20_000;
    let integral: f64 = (0..steps)
        .map(|i| {
            let w = PI * (i as f64 + 0.5) / steps as f64; // 2 pi f / fs
            let gain = 1.0 / (1.0 + (c * (0.5 * w).tan() / (PI * fc / fs).tan()).powi(4));
            let difference = fs * fs * (30.0 - 32.0 * w.cos() + 2.0 * (2.0 * w).cos()) / 12.0;
            (gain * difference).powi(2) / steps as f64
        })
        .sum();
    let expected = 0.0005 * integral.sqrt();
    let mut x = white_noise(60_000);
    ZeroLag::design(fc, fs).unwrap().smooth(&mut [&mut x]);
    let acceleration = derivative::twice(&x, fs).1;
    let found = rms(&acceleration[100..59_900]);
    println!("acceleration noise of the filter: {found:.4} m/s², expected {expected:.4}");
    assert!((found / expected - 1.0).abs() < 0.03, "{found} {expected}");
}

// ---------------------------------------------------------------- muscles

#[test]
fn published_moment_arm_curves() {
    // r = sum c_k a^k in cm, a in rad: an academic institute's page, one copy (primary paper not confirmed)
    let printed = [
        ("biceps", [1.963, -1.44, 3.031, 0.887, -1.418, 0.285]),
        ("brachialis", [1.554, 0.0813, -1.689, 3.523, -1.811, 0.276]),
        ("brachioradialis", [2.015, -0.458, 3.058, -1.081, 0.159, -0.0187]),
        ("ECRL", [1.195, 0.17, -1.318, 2.49, -1.207, 0.177]),
        ("pronator teres", [0.682, -0.459, 1.266, -0.356, -0.149, 0.0468]),
        ("FCR", [0.0987, 0.415, -0.446, 0.343, -0.145, 0.0212]),
        ("triceps", [-2.365, -1.015, 1.92, -1.035, 0.257, -0.0262]),
    ];
    for (name, coefficients) in printed {
        let curve = curve(name).unwrap();
        assert!(
            matches!(&curve.of, CurveOf::Radians(c) if *c == coefficients),
            "{name}"
        );
        // term by term, not by Horner's rule as the project does
        for degrees in [0.0, 45.0, 90.0, 140.0_f64] {
            let a = degrees.to_radians();
            let r: f64 = coefficients
                .iter()
                .enumerate()
                .map(|(k, c)| c * a.powi(k as i32))
                .sum();
            assert!((curve.moment_arm(a) - r * 0.01).abs() < 1e-12, "{name}");
        }
    }
    // the anconeus alone is a polynomial of degrees
    let printed = [
        -0.5345,
        -0.022841,
        0.00084297,
        -1.4329e-05,
        1.0448e-07,
        -2.7306e-10,
    ];
    let r: f64 = (0..6).map(|k| printed[k] * 90_f64.powi(k as i32)).sum();
    assert!((curve("anconeus").unwrap().moment_arm(90_f64.to_radians()) - 0.01 * r).abs() < 1e-12);
}

#[test]
fn property_every_table_states_where_it_comes_from() {
    for table in tables::ALL {
        let Table {
            name,
            source,
            status,
            rows,
            ..
        } = table;
        assert!(
            !source.is_empty() && !status.is_empty() && !rows.is_empty(),
            "{name}"
        );
        for row in *rows {
            assert!(
                row.mass_fraction() > 0.0
                    && row.mass_fraction() < 0.06
                    && row.com_fraction() > 0.3
                    && row.com_fraction() < 0.9
            );
            let r = row.radii().map(|r| r * r);
            assert!(
                r.x <= r.y + r.z + 1e-12 && r.z <= r.x + r.y + 1e-12 && r.y <= r.x + r.z,
                "{name}: triangle inequality"
            );
        }
    }
}

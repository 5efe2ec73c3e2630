//! From net moment to muscle and joint: against a general-purpose optimiser, against sums worked from the markers alone,
//! against the classroom's route.

use crate::common::still_arm::{self, StillArm};
use crate::common::{Folder, Markers, Worst, column, curl_sheet, fixture_json, numbers, run, run_good};
use armload::muscles::Row;
use armload::muscles::sharing::Sharing;
use armload::muscles::two_degrees;
use armload::results::muscles::MuscleSeries;
use armload::results::{FigureOf, TrialResults};
use armload::sheet::TrialSheet;
use armload::statics::problem::Problem;
use armload::trial;
use armload::uncertainty::bands;
use nalgebra::Vector3;

/// Equilibrium of moments and forces, relative to the largest of them.
const BALANCE_REL: f64 = 1e-9;
/// Where scipy's iterations stop, relative to the largest force (fixtures/muscles/make_sharing.py).
const OPTIMISER_REL: f64 = 1e-6;

fn muscles(results: &TrialResults) -> &MuscleSeries {
    &results.arms[0].muscles
}

fn with(muscles: &str) -> String {
    curl_sheet(&[]) + &format!("\n[muscles]\n{muscles}\n")
}

#[test]
fn engine_sharing_against_a_general_purpose_optimiser() {
    // scipy's SLSQP (p = 2, 3) and linear programming (least stress) on 1,000 random problems
    let all = fixture_json("muscles/sharing.json");
    let (mut worst, mut unsolved) = (Worst::default(), 0);
    for (k, p) in all["problems"].as_array().unwrap().iter().enumerate() {
        let rule = Sharing::parse(p["rule"].as_str().unwrap()).unwrap();
        let arms: Vec<Vec<f64>> = p["arms"].as_array().unwrap().iter().map(numbers).collect();
        let (areas, moment) = (numbers(&p["areas"]), numbers(&p["moment"]));
        let found = if moment.len() == 1 {
            let arms: Vec<f64> = arms.iter().map(|r| r[0]).collect();
            let mut f = vec![0.0; arms.len()];
            rule.share(moment[0], &arms, &areas, &mut f).then_some(f)
        } else {
            let arms: Vec<[f64; 2]> = arms.iter().map(|r| [r[0], r[1]]).collect();
            two_degrees::forces(rule, [moment[0], moment[1]], &arms, &areas)
        };
        if p["forces"].is_null() {
            unsolved += 1;
            assert!(found.is_none(), "problem {k}: {found:?} where there is no answer");
            continue;
        }
        let found = found.unwrap_or_else(|| panic!("problem {k}: no answer"));
        let scipy = numbers(&p["forces"]);
        let largest = scipy.iter().copied().fold(0.0, f64::max);
        assert!(found.iter().all(|f| *f >= 0.0), "problem {k}: {found:?}");
        for axis in 0..moment.len() {
            let given: f64 = arms.iter().zip(&found).map(|(r, f)| r[axis] * f).sum();
            let size = moment.iter().fold(0.0_f64, |s, m| s.max(m.abs()));
            worst.note(
                format!("balance of problem {k}"),
                (given - moment[axis]).abs() / size,
                BALANCE_REL,
            );
        }
        if rule == Sharing::LeastStress {
            // several forces may share one least largest stress: that is what is compared
            let stress = |f: &[f64]| f.iter().zip(&areas).map(|(f, a)| f / a).fold(0.0, f64::max);
            worst.note(
                format!("least stress of problem {k}"),
                (stress(&found) / stress(&scipy) - 1.0).abs(),
                OPTIMISER_REL,
            );
        } else {
            for (a, b) in found.iter().zip(&scipy) {
                worst.note(
                    format!("forces of problem {k}"),
                    (a - b).abs() / largest,
                    OPTIMISER_REL,
                );
            }
        }
    }
    assert!(unsolved > 10, "{unsolved}");
    worst.judge("sharing against scipy");
}

#[test]
fn property_muscles_balance_the_moment_and_the_elbow_its_forces() {
    // lab x = right, y = forward, z = up; frames of humerus and forearm from the markers alone
    let m = Markers::curl();
    let at = |name: &str, f: usize| {
        let p = m.of(name)[f];
        Vector3::new(p[1], p[2], p[0]) * 1e-3
    };
    let mut worst = Worst::default();
    for rule in ["p = 2", "p = 3", "p = 7.5", "equal stress", "least stress"] {
        let results = run_good(&with(&format!("model = \"shared\"\nsharing = \"{rule}\"")), &m);
        let (found, moment) = (
            muscles(&results),
            column(&results, "right.elbow.flexion_moment_n_m"),
        );
        let net = ["x", "y", "z"].map(|a| column(&results, &format!("right.elbow.force_{a}_n")));
        let mut known = 0;
        for f in (0..moment.len()).filter(|f| found.force(*f).is_finite()) {
            known += 1;
            let given: f64 = (0..found.count()).map(|i| found.moment(i, f)).sum();
            worst.note(
                format!("moment, {rule}"),
                (given - moment[f]).abs() / moment[f].abs().max(1.0),
                BALANCE_REL,
            );
            let shares: f64 = (0..found.count()).map(|i| found.share_percent(i, f)).sum();
            worst.note(
                format!("shares, {rule}"),
                (shares / 100.0 - 1.0).abs(),
                BALANCE_REL,
            );
            let (s, e) = (at("SJC", f), (at("EL", f) + at("EM", f)) * 0.5);
            let humerus = (s - e).normalize();
            let forearm = (e - at("US", f)).normalize();
            let net = Vector3::new(net[0][f], net[1][f], net[2][f]);
            let contact = net - humerus * found.force(f);
            let scale = contact.norm().max(1.0);
            for (what, is, wanted) in [
                ("size", found.contact(f), contact.norm()),
                (
                    "along the humerus",
                    found.contact_humerus(f)[1],
                    contact.dot(&humerus),
                ),
                (
                    "along the forearm",
                    found.contact_forearm(f)[1],
                    contact.dot(&forearm),
                ),
                ("compression", found.compression(f), -contact.dot(&forearm)),
                (
                    "shear",
                    found.shear(f),
                    (contact - forearm * contact.dot(&forearm)).norm(),
                ),
            ] {
                worst.note(
                    format!("contact {what}, {rule}"),
                    (is - wanted).abs() / scale,
                    BALANCE_REL,
                );
            }
        }
        assert!(known > 300, "{rule}: {known}");
    }
    worst.judge("balance of muscles and elbow");
}

#[test]
fn cross_single_is_the_curve_and_equal_stress_its_sum() {
    let m = Markers::curl();
    let single = run_good(&curl_sheet(&[]), &m);
    let shared = run_good(&with("model = \"shared\"\nsharing = \"equal stress\""), &m);
    let moment = column(&single, "right.elbow.flexion_moment_n_m");
    let flexion = column(&single, "right.elbow.flexion_deg");
    let (force, arm) = (
        column(&single, "right.flexor_force_n"),
        column(&single, "right.flexor_moment_arm_m"),
    );
    let c = armload::muscles::curves::curve("flexors").unwrap();
    let mut compared = 0;
    for f in (0..moment.len()).filter(|f| force[*f].is_finite()) {
        let r = c.moment_arm(flexion[f].to_radians());
        assert!((arm[f] - r).abs() < 1e-12);
        assert!((force[f] - (moment[f] / r).max(0.0)).abs() < 1e-9 * force[f].max(1.0));
        // equal stress: sum of forces M sum A / sum r A = M over the curve weighted by cross-section
        let together = muscles(&shared).force(f);
        if moment[f] > 0.0 {
            assert!((together / force[f] - 1.0).abs() < BALANCE_REL, "{f}");
            compared += 1;
        } else {
            // the extensors pull, and the flexor force is 0
            assert!(force[f] == 0.0 && together > 0.0);
        }
    }
    assert!(compared > 200, "{compared}");
    let constant = run_good(&with("moment_arm_m = 0.04"), &m);
    let force = column(&constant, "right.flexor_force_n");
    assert!(
        (0..force.len())
            .filter(|f| force[*f] > 0.0)
            .all(|f| (force[f] - moment[f] / 0.04).abs() < 1e-9 * force[f])
    );
}

#[test]
fn cross_statics_gives_the_same_numbers_for_a_held_posture() {
    let arm = StillArm::level_forearm([0.28, 0.26, 0.08]);
    for (rule, more) in [
        ("p = 3", ""),
        ("p = 2", ""),
        ("equal stress", ""),
        ("least stress", ""),
    ] {
        let load = "[[load]]\nkind = \"free-weight\"\nside = \"right\"\nmass_kg = 6.0\n";
        let sheet = still_arm::sheet(
            "male",
            73.0,
            9.81,
            "hand = \"segment\"",
            &format!("{load}\n[muscles]\nmodel = \"shared\"\nsharing = \"{rule}\"\n{more}"),
        );
        let results = run_good(&sheet, &arm.markers());
        let moment = column(&results, "right.elbow.flexion_moment_n_m")[10];
        let net = column(&results, "right.elbow.force_y_n")[10];
        let found = muscles(&results);
        // the same moment and the same force by one weight at its lever
        let text = format!(
            "[problem]\nsharing = \"{rule}\"\n[posture]\nelbow = \"90 deg\"\nupper_arm = \"0 deg\"\n[[weight]]\nname = \"all\"\namount = \"{net:.17e} N\"\nat = \"{:.17e} m\"\n\
             [[flexor]]\ncurve = \"biceps\"\n[[flexor]]\ncurve = \"brachialis\"\n[[flexor]]\ncurve = \"brachioradialis\"\n",
            moment / net
        );
        let solved = Problem::from_text(&text, "held").unwrap().solve().unwrap();
        let forces = solved.setting.muscle_forces().unwrap();
        for (i, f) in forces.iter().enumerate() {
            let of_trial = found.series(Row::Force(i))[10];
            assert!(
                (f / of_trial - 1.0).abs() < BALANCE_REL,
                "{rule} {i}: {f} {of_trial}"
            );
        }
        let joint = solved.setting.joint_force().unwrap();
        let size = joint[0].hypot(joint[1]);
        assert!(
            (found.contact(10) / size - 1.0).abs() < BALANCE_REL,
            "{rule}: {} {size}",
            found.contact(10)
        );
    }
}

#[test]
fn property_left_is_the_mirrored_right() {
    let sheet = with(
        "model = \"shared\"\ncocontraction_fraction = 0.2\n[muscles.line.biceps]\norigin_m = [0.01, 0.25, 0.02]\ninsertion_m = [0.005, -0.05, -0.01]",
    );
    let right = run_good(&sheet, &Markers::curl());
    let mirrored = Markers::curl().moved(|[x, y, z]| [-x, y, z]);
    let left = run_good(&sheet.replace("\"right\"", "\"left\""), &mirrored);
    let (a, b) = (&muscles(&right).rows, &muscles(&left).rows);
    assert_eq!(a.dim(), b.dim());
    let scale = a
        .iter()
        .filter(|x| x.is_finite())
        .fold(0.0_f64, |m, x| m.max(x.abs()));
    for (x, y) in a.iter().zip(b) {
        assert!(
            (x - y).abs() <= 1e-12 * scale || (x.is_nan() && y.is_nan()),
            "{x} {y}"
        );
    }
}

#[test]
fn oracle_points_of_a_muscle_by_vectors() {
    // upper arm hanging, forearm level: origin 25 cm up the humerus, insertion 5 cm along the forearm
    let arm = StillArm::level_forearm([0.28, 0.26, 0.08]);
    let folder = Folder::new();
    folder.write("curl_markers.csv", arm.markers().csv());
    folder.write(
        "own.toml",
        "[[muscle]]\nname = \"my flexor\"\ncross_section_cm2 = 10.0\norigin_m = [0.0, 0.25, 0.0]\ninsertion_m = [0.0, -0.05, 0.0]\n",
    );
    let load = "[[load]]\nkind = \"free-weight\"\nside = \"right\"\nmass_kg = 6.0\n";
    let sheet = still_arm::sheet(
        "male",
        73.0,
        9.81,
        "",
        &format!("{load}\n[muscles]\nmodel = \"shared\"\nfile = \"own.toml\"\n"),
    );
    folder.write("sheet.toml", sheet);
    let results = folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text));
    let found = muscles(&results);
    // world X forward, Y up, Z right; the forearm's Y runs from the ulnar styloid (27 mm inwards) to the elbow centre
    let toward_elbow = -Vector3::new(0.26, 0.0, -0.027).normalize();
    let (origin, insertion) = (Vector3::new(0.0, 0.25, 0.0), toward_elbow * -0.05);
    let pull = (origin - insertion).normalize();
    let r = insertion.cross(&pull).z;
    assert!(
        (found.series(Row::Arm(0))[10] - r).abs() < 1e-12,
        "{} {r}",
        found.series(Row::Arm(0))[10]
    );
    let moment = column(&results, "right.elbow.flexion_moment_n_m")[10];
    let force = moment / r;
    assert!((found.force(10) / force - 1.0).abs() < BALANCE_REL);
    let net = Vector3::new(0.0, column(&results, "right.elbow.force_y_n")[10], 0.0);
    let contact = net - pull * force;
    assert!((found.contact(10) / contact.norm() - 1.0).abs() < BALANCE_REL);
    // the upper arm hangs: its axes are the world's
    for (k, is) in found.contact_humerus(10).into_iter().enumerate() {
        assert!((is - contact[k]).abs() < BALANCE_REL * contact.norm(), "{k}");
    }
    // weight of forearm, hand and load at its lever
    let held = found.held(10);
    assert!(
        (held / net.y - 1.0).abs() < BALANCE_REL && (found.load_arm(10) - moment / held).abs() < BALANCE_REL
    );
    assert_eq!(found.lever(10).map(|l| l.0), Some(Some(3)));
    assert!((found.lever(10).unwrap().1 - r / (moment / held)).abs() < 1e-9);
}

#[test]
fn property_two_moments_are_balanced_together() {
    let folder = Folder::with(
        &with(
            "model = \"shared\"\nfile = \"own.csv\"\nbalance = \"flexion and pronation\"\nsharing = \"p = 2\"",
        ),
        &Markers::curl().csv(),
    );
    // invented arms: one that supinates as it flexes, one that does not turn, two that pronate, one that extends
    folder.write(
        "own.csv",
        "# invented\nmuscle,cross_section_cm2,flexion_deg,moment_arm_cm,pronation_arm_cm\n\
         one,4.6,-20,2.0,-0.8\none,4.6,150,4.5,-1.2\ntwo,7,0,2.5,0\nthree,3.4,-20,0.7,0.9\nthree,3.4,150,1.2,0.9\nfour,2,0,-0.1,0.7\nfive,15,0,-2.0,0\nsix,2,0,0.1,-0.9\n",
    );
    let results = folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text));
    let found = muscles(&results);
    let flexion = column(&results, "right.elbow.flexion_deg");
    let moments = ["flexion", "pronation"].map(|q| column(&results, &format!("right.elbow.{q}_moment_n_m")));
    let mut known = 0;
    for f in (0..flexion.len()).filter(|f| found.force(*f).is_finite()) {
        known += 1;
        // straight lines between the rows of the file; one row holds throughout
        let line = |a: f64, b: f64| a + (b - a) * (flexion[f] + 20.0) / 170.0;
        let arms = [
            [line(2.0, 4.5), line(-0.8, -1.2)],
            [2.5, 0.0],
            [line(0.7, 1.2), 0.9],
            [-0.1, 0.7],
            [-2.0, 0.0],
            [0.1, -0.9],
        ];
        for k in 0..2 {
            let given: f64 = (0..6)
                .map(|i| 0.01 * arms[i][k] * found.series(Row::Force(i))[f])
                .sum();
            let scale = moments[0][f].abs().max(moments[1][f].abs()).max(1.0);
            assert!(
                (given - moments[k][f]).abs() < 1e-8 * scale,
                "frame {f}, {k}: {given} {}",
                moments[k][f]
            );
        }
    }
    assert!(known > 250, "{known}");
}

#[test]
fn oracle_cocontraction_by_hand() {
    let m = Markers::curl();
    let plain = run_good(&with("model = \"shared\""), &m);
    let with_it = run_good(&with("model = \"shared\"\ncocontraction_fraction = 0.25"), &m);
    let (a, b) = (muscles(&plain), muscles(&with_it));
    assert!(a.series(Row::CocontractedForce).iter().all(|x| x.is_nan()));
    let moment = column(&plain, "right.elbow.flexion_moment_n_m");
    let f = (0..moment.len())
        .find(|f| moment[*f] > 5.0 && a.force(*f).is_finite())
        .unwrap();
    assert_eq!(a.force(f), b.force(f));
    // 1.25 times the flexors, and triceps and anconeus against a quarter of the moment: F = M A √(rA) / Σ rA √(rA)
    let arms = [3, 4].map(|i| a.series(Row::Arm(i))[f].abs());
    let areas = [14.9, 2.5];
    let g = [0, 1].map(|i| (arms[i] * areas[i]).sqrt());
    let sum = (0..2).map(|i| arms[i] * areas[i] * g[i]).sum::<f64>();
    let against: f64 = (0..2).map(|i| 0.25 * moment[f] * areas[i] * g[i] / sum).sum();
    let wanted = 1.25 * a.force(f) + against;
    assert!((b.series(Row::CocontractedForce)[f] / wanted - 1.0).abs() < BALANCE_REL);
    assert!(b.series(Row::CocontractedContact)[f] > b.contact(f));
}

#[test]
fn oracle_a_moment_arm_that_is_not_known_widens_forces_alone() {
    let zero = "[uncertainty]\ndraws = 2\nmarker_noise_mm = 0.0\nskin_mm = 0.0\nelbow_centre_mm = 0.0\nshoulder_centre_mm = 0.0\nsegment_mass_percent = 0.0\nmass_centre_percent = 0.0\ngyration_percent = 0.0\nload_percent = 0.0\nload_place_mm = 0.0\ntilt_deg = 0.0\n";
    let sheet =
        with("model = \"shared\"") + zero + "moment_arm_percent = 10.0\ncross_section_percent = 0.0\n";
    let folder = Folder::with(&sheet, &Markers::curl().csv());
    let sheet = TrialSheet::read(
        &folder.path("sheet.toml"),
        &["filter.cutoff_hz=\"none\"".to_owned()],
    )
    .unwrap();
    let prepared = trial::prepare(&sheet).unwrap();
    let results = prepared.compute(Default::default());
    let u = bands::of_trial(&prepared, &results.arms, &sheet.uncertainty, 2, bands::figures);
    let figure = |of| u.arms[0].figure(of).unwrap_or_else(|| panic!("{of:?}"));
    // F goes with 1 / r: half of the difference of 1/0.9 and 1/1.1
    let part = 1.959_963_984_540_054 * 0.5 * (1.0 / 0.9 - 1.0 / 1.1);
    for of in [FigureOf::MuscleForce, FigureOf::Muscle(0), FigureOf::Muscle(1)] {
        let f = figure(of);
        assert!(
            (f.half / f.value / part - 1.0).abs() < 1e-6,
            "{of:?}: {} {}",
            f.half / f.value,
            part
        );
        assert_eq!(
            f.shares.iter().position(|s| *s > 0.999),
            Some(7),
            "{:?}",
            f.shares
        );
    }
    assert!(figure(FigureOf::Contact).half > 0.5 * part * figure(FigureOf::Contact).value);
    assert!(figure(FigureOf::ElbowPeak).half < 1e-9);
    // cross-sections alone: a sum of forces hangs on them little, single muscles much
    let sheet = TrialSheet::read(
        &folder.path("sheet.toml"),
        &[
            "uncertainty.moment_arm_percent=0",
            "uncertainty.cross_section_percent=20",
            "filter.cutoff_hz=\"none\"",
        ]
        .map(str::to_owned),
    )
    .unwrap();
    let u = bands::of_trial(&prepared, &results.arms, &sheet.uncertainty, 2, bands::figures);
    let relative = |of| {
        let f = u.arms[0].figure(of).unwrap();
        f.half / f.value
    };
    assert!(
        relative(FigureOf::Muscle(0)) > 0.15,
        "{}",
        relative(FigureOf::Muscle(0))
    );
    assert!(
        relative(FigureOf::MuscleForce) < 0.1,
        "{}",
        relative(FigureOf::MuscleForce)
    );
}

#[test]
fn property_what_can_not_be_is_refused_with_what_to_do() {
    for (muscles, words) in [
        (
            "moment_arm = \"triceps\"",
            vec!["'muscles.moment_arm'", "flexors, biceps"],
        ),
        (
            "moment_arm = \"biceps\"\nmoment_arm_m = 0.04",
            vec!["both", "keep one"],
        ),
        (
            "sharing = \"p = 3\"",
            vec!["muscles.sharing belongs to muscles.model = \"shared\""],
        ),
        (
            "model = \"shared\"\nmoment_arm_m = 0.04",
            vec!["muscles.moment_arm_m belongs to muscles.model = \"single\""],
        ),
        ("model = \"shared\"\nsharing = \"p = 1\"", vec!["above 1"]),
        (
            "model = \"shared\"\nalso = [\"FCR\"]",
            vec!["a moment-arm curve and no cross-section", "muscles.file"],
        ),
        (
            "model = \"shared\"\nalso = [\"supinator\"]",
            vec!["a cross-section and no moment-arm curve"],
        ),
        (
            "model = \"shared\"\nalso = [\"pronator\"]",
            vec!["pronator teres"],
        ),
        (
            "model = \"shared\"\nalso = [\"biceps\"]",
            vec!["in the model already"],
        ),
        (
            "model = \"shared\"\nbalance = \"flexion and pronation\"",
            vec!["none about pronation of: biceps", "pronation_arm_cm"],
        ),
        (
            "model = \"shared\"\nfile = \"none.toml\"",
            vec!["can't read", "none.toml", "folder of the sheet"],
        ),
        (
            "[muscles.line.biceps]\norigin_m = [0, 0.2, 0]",
            vec!["muscles.line.biceps.insertion_m"],
        ),
        (
            "[muscles.line.soleus]\norigin_m = [0, 0.2, 0]\ninsertion_m = [0, -0.05, 0]",
            vec!["soleus", "flexors, extensors"],
        ),
        (
            "model = \"shared\"\n[muscles.line.biceps]\norigin_m = [0, 250, 0]\ninsertion_m = [0, -50, 0]",
            vec!["in metres"],
        ),
        ("cocontraction_fraction = -0.1", vec!["0 to 5"]),
    ] {
        let refused = run(&with(muscles), &Markers::curl().csv());
        let text = refused
            .err()
            .unwrap_or_else(|| panic!("{muscles} was taken"))
            .text;
        for w in words {
            assert!(text.contains(w), "{muscles}:\n{text}\nhas no {w:?}");
        }
    }
    let also = run(
        &with("model = \"shared\"\nalso = [\"Pronator-Teres\", \"ecrl\"]"),
        &Markers::curl().csv(),
    )
    .unwrap();
    assert_eq!(muscles(&also).count(), 7);
}

#[test]
fn property_a_file_of_muscles_is_read_or_refused_at_its_place() {
    let head = "muscle,cross_section_cm2,flexion_deg,moment_arm_cm,pronation_arm_cm,source\n";
    for (name, text, words) in [
        (
            "m.csv",
            format!("{head}a,5,0,x,,\n"),
            vec!["m.csv, line 2", "moment_arm_cm", "\"x\"", "decimal point"],
        ),
        (
            "m.csv",
            format!("{head}a,5,0,2,,\na,6,10,2,,\n"),
            vec!["m.csv, line 3", "6, and 5 in line 2"],
        ),
        (
            "m.csv",
            format!("{head}a,5,10,2,,\na,5,10,2,,\n"),
            vec!["10° after 10°", "increase"],
        ),
        (
            "m.csv",
            format!("{head}a,5,0,200,,\n"),
            vec!["200 cm", "-20 to 20"],
        ),
        (
            "m.csv",
            format!("{head}a,5,0,2,1,\na,5,10,2,,\n"),
            vec!["some of its rows"],
        ),
        (
            "m.csv",
            "muscle,area\n".into(),
            vec!["unknown column 'area'", "cross_section_cm2"],
        ),
        ("m.csv", head.into(), vec!["0 muscles"]),
        (
            "m.toml",
            "[[muscle]]\nname = \"a\"\n".into(),
            vec!["moment_arm_cm", "origin_m"],
        ),
        (
            "m.toml",
            "[[muscle]]\nname = \"a\"\nmoment_arm_cm = 3\n".into(),
            vec!["cross_section_cm2"],
        ),
        (
            "m.toml",
            "[[muscle]]\nname = \"a\"\nmoment_arm_cm = 3\ncurve = \"biceps\"\n".into(),
            vec!["both"],
        ),
        (
            "m.toml",
            "[[muscle]]\ncurve = \"FCR\"\n".into(),
            vec!["cross_section_cm2"],
        ),
        (
            "m.toml",
            "[[muscle]]\nname = \"a\"\nmoment_arms_cm = [[0, 2], [0, 3]]\ncross_section_cm2 = 3\n".into(),
            vec!["m.toml, line 3", "0° after 0°"],
        ),
        (
            "m.toml",
            "[[muscle]]\nname = \"a\"\nmoment_arm_cm = 3\ncross_section_cm2 = 3\nmass = 2\n".into(),
            vec!["unknown key 'muscle.0.mass'"],
        ),
        (
            "m.toml",
            "[[muscle]]\ncurve = \"biceps\"\n[[muscle]]\ncurve = \"biceps\"\n".into(),
            vec!["two muscles", "biceps"],
        ),
    ] {
        let folder = Folder::with(
            &with(&format!("model = \"shared\"\nfile = \"{name}\"")),
            &Markers::curl().csv(),
        );
        folder.write(name, &text);
        let said = folder
            .run(&[])
            .err()
            .unwrap_or_else(|| panic!("taken: {text}"))
            .text;
        for w in words {
            assert!(said.contains(w), "{text}\n{said}\nhas no {w:?}");
        }
    }
    let folder = Folder::with(
        &with("model = \"shared\"\nfile = \"m.toml\""),
        &Markers::curl().csv(),
    );
    folder.write(
        "m.toml",
        "[[muscle]]\ncurve = \"biceps\"\n[[muscle]]\nname = \"FCR\"\ncurve = \"FCR\"\ncross_section_cm2 = 2.0\nsource = \"invented\"\n[[muscle]]\ncurve = \"triceps\"\n",
    );
    let results = folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text));
    let of = &muscles(&results).of;
    assert_eq!(of.list[1].area_source, "invented");
    assert!((of.list[0].area - 4.6e-4).abs() < 1e-12 && of.list[2].column() == "triceps");
}

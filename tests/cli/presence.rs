//! What is there and what is empty: METHOD section 5, through gaps at the start, in the middle and at the
//! end, and recordings that are short in time or in points.

use crate::common::still_arm::turn;
use crate::common::{Folder, Markers, Worst, column, curl_sheet, farthest, peak, run, run_good};
use armload::ground::warning::Warning;
use armload::results::{QUANTITIES, TrialResults, flag};
use nalgebra::Vector3;
use std::ops::Range;

/// Of the joint's peak: a spline over a tenth of a second of a curl is off by a few hundredths of a
/// millimetre.
const FILLED_OF_PEAK: f64 = 0.02;
const ARM_MOMENTS: [&str; 5] = [
    "wrist.moment_z_n_m",
    "elbow.moment_z_n_m",
    "elbow.flexion_moment_n_m",
    "shoulder.moment_x_n_m",
    "shoulder.force_y_n",
];
const STATICS: [&str; 4] = [
    "wrist.static_moment_z_n_m",
    "elbow.static_flexion_moment_n_m",
    "shoulder.static_flexion_moment_n_m",
    "shoulder.static_moment_x_n_m",
];

fn empty_frames(results: &TrialResults, quantity: &str) -> Vec<usize> {
    column(results, &format!("right.{quantity}"))
        .iter()
        .enumerate()
        .filter(|(_, x)| x.is_nan())
        .map(|x| x.0)
        .collect()
}

fn expect_empty(results: &TrialResults, quantities: &[&str], frames: Range<usize>) {
    for q in quantities {
        assert_eq!(
            empty_frames(results, q),
            frames.clone().collect::<Vec<_>>(),
            "{q}"
        );
    }
}

fn flags(results: &TrialResults, bit: flag::Flags) -> Vec<usize> {
    results.arms[0]
        .flags
        .iter()
        .enumerate()
        .filter(|(_, f)| *f & bit != 0)
        .map(|x| x.0)
        .collect()
}

fn gaps_left(results: &TrialResults, of: &str) -> usize {
    results
        .warnings
        .iter()
        .map(|w| match w {
            Warning::GapsLeft { point, frames, .. } if point == of => *frames,
            _ => 0,
        })
        .sum()
}

#[test]
fn property_a_whole_recording_has_a_value_in_every_cell() {
    let results = run_good(&curl_sheet(&[]), &Markers::curl());
    for q in QUANTITIES.iter().filter(|q| q.written) {
        assert!(empty_frames(&results, q.name).is_empty(), "{}", q.name);
    }
}

#[test]
fn property_long_gaps_leave_exactly_their_own_frames_empty() {
    // ends are never filled, however short; a gap of 11 frames at 100 Hz is longer than 0.1 s
    for gap in [0..4, 150..161, 100..140, 318..321, 0..120] {
        let results = run_good(&curl_sheet(&[]), &Markers::curl().lost("EL", gap.clone()));
        expect_empty(
            &results,
            &[
                "elbow.flexion_deg",
                "elbow.moment_z_n_m",
                "elbow.flexion_moment_n_m",
                "shoulder.moment_x_n_m",
            ],
            gap.clone(),
        );
        expect_empty(
            &results,
            &[
                "elbow.static_flexion_moment_n_m",
                "shoulder.static_flexion_moment_n_m",
                "flexor_force_n",
            ],
            gap.clone(),
        );
        // the hand does not stand on the epicondyles
        expect_empty(
            &results,
            &[
                "wrist.moment_z_n_m",
                "wrist.force_y_n",
                "wrist.static_moment_z_n_m",
            ],
            0..0,
        );
        assert_eq!(flags(&results, flag::GAP), gap.clone().collect::<Vec<_>>());
        assert_eq!(gaps_left(&results, "right.EL"), gap.len());
        // nothing beyond the differences' reach is touched
        let whole = run_good(&curl_sheet(&[]), &Markers::curl());
        let (a, b) = (
            column(&whole, "right.shoulder.moment_x_n_m"),
            column(&results, "right.shoulder.moment_x_n_m"),
        );
        let far = (0..a.len()).filter(|f| *f + 5 < gap.start || *f >= gap.end + 5);
        assert!(farthest(&a, &b, far) < 1e-9 * peak(&a), "{gap:?}");
    }
}

#[test]
fn property_gaps_of_each_point_empty_what_depends_on_it() {
    let gap = 150..175;
    let lost = |name: &str| run_good(&curl_sheet(&[]), &Markers::curl().lost(name, gap.clone()));
    // trunk: shoulder angles and trunk components only
    let results = lost("T8");
    expect_empty(
        &results,
        &[
            "shoulder.elevation_deg",
            "shoulder.flexion_moment_n_m",
            "shoulder.abduction_moment_n_m",
            "shoulder.static_flexion_moment_n_m",
            "shoulder.power_w",
        ],
        gap.clone(),
    );
    expect_empty(
        &results,
        &[
            "shoulder.moment_x_n_m",
            "shoulder.static_moment_x_n_m",
            "shoulder.axial_moment_n_m",
            "elbow.moment_z_n_m",
            "elbow.power_w",
        ],
        0..0,
    );
    // shoulder centre: the upper arm, so also the elbow's own components, but not its moment in the world
    let results = lost("SJC");
    expect_empty(
        &results,
        &[
            "shoulder.moment_x_n_m",
            "shoulder.force_y_n",
            "elbow.flexion_deg",
            "elbow.flexion_moment_n_m",
            "elbow.power_w",
        ],
        gap.clone(),
    );
    expect_empty(
        &results,
        &[
            "elbow.moment_z_n_m",
            "elbow.pronation_moment_n_m",
            "elbow.force_x_n",
            "wrist.power_w",
        ],
        0..0,
    );
    // hand, and a marker of the load: everything
    for point in ["MCP5", "bell_in", "RS"] {
        let results = lost(point);
        expect_empty(&results, &ARM_MOMENTS, gap.clone());
        expect_empty(&results, &STATICS, gap.clone());
    }
    expect_empty(
        &lost("bell_in"),
        &["elbow.flexion_deg", "wrist.flexion_deg"],
        0..0,
    );
    expect_empty(&lost("MCP5"), &["elbow.flexion_deg"], 0..0);
}

#[test]
fn property_short_gaps_are_filled_and_said() {
    let whole = run_good(&curl_sheet(&[]), &Markers::curl());
    let gap = 70..80;
    let results = run_good(
        &curl_sheet(&[]),
        &Markers::curl().lost("US", gap.clone()).lost("bell_out", 200..203),
    );
    let mut worst = Worst::default();
    for q in ARM_MOMENTS {
        let (a, b) = (
            column(&whole, &format!("right.{q}")),
            column(&results, &format!("right.{q}")),
        );
        worst.note(q, farthest(&a, &b, 0..a.len()), FILLED_OF_PEAK * peak(&a));
    }
    worst.judge("gaps of 10 and of 3 frames");
    assert_eq!(
        flags(&results, flag::FILLED),
        (70..80).chain(200..203).collect::<Vec<_>>()
    );
    assert!(flags(&results, flag::GAP).is_empty());
    let point = results.points.iter().find(|p| p.name == "right.US").unwrap();
    assert_eq!((point.gaps.filled.clone(), point.gaps.left.len()), (vec![gap], 0));
    // the limit is a setting
    let none = run_good(
        &curl_sheet(&[("cutoff_hz = \"none\"", "cutoff_hz = \"none\"\nmax_gap_s = 0.09")]),
        &Markers::curl().lost("US", 70..80),
    );
    expect_empty(&none, &ARM_MOMENTS, 70..80);
    let more = run_good(
        &curl_sheet(&[("cutoff_hz = \"none\"", "cutoff_hz = \"none\"\nmax_gap_s = 0.2")]),
        &Markers::curl().lost("US", 70..90),
    );
    expect_empty(&more, &ARM_MOMENTS, 0..0);
}

#[test]
fn property_one_missing_coordinate_is_a_missing_point() {
    let mut markers = Markers::curl();
    markers.points.iter_mut().find(|p| p.0 == "EM").unwrap().1[150..170]
        .iter_mut()
        .for_each(|p| p[1] = f64::NAN);
    expect_empty(
        &run_good(&curl_sheet(&[]), &markers),
        &["elbow.moment_z_n_m", "elbow.flexion_deg"],
        150..170,
    );
}

#[test]
fn property_stretches_too_short_give_static_parts_only() {
    // US stands alone over frames 150..158 between two long gaps: 8 frames, and a filter needs 10
    let markers = Markers::curl().lost("US", 120..150).lost("US", 158..190);
    let results = run_good(&curl_sheet(&[("\"none\"", "6")]), &markers);
    expect_empty(&results, &ARM_MOMENTS, 120..190);
    let gaps: Vec<usize> = (120..150).chain(158..190).collect();
    for q in STATICS
        .iter()
        .chain(&["elbow.flexion_deg", "elbow.pronation_deg", "wrist.flexion_deg"])
    {
        assert_eq!(empty_frames(&results, q), gaps, "{q}");
    }
    assert_eq!(flags(&results, flag::SHORT), (150..158).collect::<Vec<_>>());
    assert!(
        results
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::ShortStretches { point, frames: 8 } if point == "right.US"))
    );
    // without smoothing 8 frames are enough for accelerations, 5 are not
    let results = run_good(&curl_sheet(&[]), &markers);
    assert_eq!(empty_frames(&results, "elbow.moment_z_n_m"), gaps);
    let results = run_good(
        &curl_sheet(&[]),
        &Markers::curl().lost("US", 120..150).lost("US", 155..190),
    );
    expect_empty(&results, &ARM_MOMENTS, 120..190);
    assert_eq!(
        empty_frames(&results, "elbow.static_flexion_moment_n_m").len(),
        65
    );
    // stretches that only together are too short: no point alone is, the forearm is
    let results = run_good(
        &curl_sheet(&[]),
        &Markers::curl().lost("US", 120..150).lost("RS", 153..190),
    );
    expect_empty(
        &results,
        &["elbow.moment_z_n_m", "shoulder.moment_x_n_m"],
        120..190,
    );
    let statics: Vec<usize> = (120..150).chain(153..190).collect();
    assert_eq!(empty_frames(&results, "elbow.static_flexion_moment_n_m"), statics);
}

#[test]
fn property_twelve_frames_are_a_trial() {
    for cutoff in ["\"none\"", "6", "\"auto\""] {
        let results = run_good(&curl_sheet(&[("\"none\"", cutoff)]), &Markers::curl().first(12));
        expect_empty(&results, &ARM_MOMENTS, 0..0);
        assert_eq!(results.time_s.len(), 12);
        // too little to find a cutoff by: said, not hidden
        let guessed = results
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::CutoffGuessed { .. }));
        assert_eq!(guessed, cutoff == "\"auto\"");
    }
}

#[test]
fn property_few_rows_left_out_are_gaps_and_many_are_a_pause() {
    let without = |rows: std::ops::RangeInclusive<usize>| -> String {
        Markers::curl()
            .csv()
            .lines()
            .enumerate()
            .filter(|(i, _)| !rows.contains(i))
            .map(|(_, l)| format!("{l}\n"))
            .collect()
    };
    // as many as are filled; one more
    let results = run(&curl_sheet(&[]), &without(151..=160)).unwrap();
    assert_eq!((results.time_s.len(), results.rows()), (321, 321));
    expect_empty(&results, &ARM_MOMENTS, 0..0);
    assert!(
        results
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::RowsMissing { rows: 10, .. }))
    );
    let results = run(&curl_sheet(&[]), &without(151..=161)).unwrap();
    assert_eq!((results.time_s.len(), results.rows()), (311, 310));
    expect_empty(&results, &ARM_MOMENTS, 150..151);
    assert!(
        results
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::RecordingPauses { pauses, .. } if pauses.len() == 1))
    );
    assert!(
        !results
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::RowsMissing { .. }))
    );
}

#[test]
fn property_no_trunk_landmarks_means_the_trunk_is_the_world() {
    let whole = run_good(&curl_sheet(&[]), &Markers::curl());
    let results = run_good(&curl_sheet(&[]), &Markers::curl().without(&["C7"]));
    assert!(results.warnings.contains(&Warning::NoThorax));
    for q in [
        "elbow.flexion_moment_n_m",
        "elbow.power_w",
        "shoulder.moment_x_n_m",
        "shoulder.axial_moment_n_m",
    ] {
        let (a, b) = (
            column(&whole, &format!("right.{q}")),
            column(&results, &format!("right.{q}")),
        );
        assert!(farthest(&a, &b, 0..a.len()) < 1e-12 * peak(&a), "{q}");
    }
    // trunk components are the world's then
    for (along_trunk, in_world, sign) in [
        ("abduction", "x", -1.0),
        ("horizontal", "y", 1.0),
        ("flexion", "z", 1.0),
    ] {
        let a = column(&results, &format!("right.shoulder.{along_trunk}_moment_n_m"));
        let b: Vec<f64> = column(&results, &format!("right.shoulder.moment_{in_world}_n_m"))
            .iter()
            .map(|x| sign * x)
            .collect();
        assert!(farthest(&a, &b, 0..a.len()) < 1e-12 * peak(&b), "{along_trunk}");
    }
}

/// Midpoints of the engine's landmarks as joint centres.
fn centres() -> Markers {
    let m = Markers::curl();
    let mid = |a: &str, b: &str| -> Vec<[f64; 3]> {
        m.of(a)
            .iter()
            .zip(m.of(b))
            .map(|(p, q)| [0, 1, 2].map(|k| 0.5 * (p[k] + q[k])))
            .collect()
    };
    let points = vec![
        ("SJC".to_owned(), m.of("SJC").to_vec()),
        ("EJC".to_owned(), mid("EL", "EM")),
        ("WJC".to_owned(), mid("RS", "US")),
    ];
    Markers {
        time: m.time.clone(),
        points,
    }
}

#[test]
fn property_joint_centres_alone_give_moments_of_the_three_dimensional_motion() {
    let sheet = curl_sheet(&[
        ("hand = \"segment\"", "hand = \"lumped\""),
        (
            "at = [\"bell_in\", \"bell_out\"]\ninertia_kg_m2 = [0.031, 0.0087, 0.031]",
            "",
        ),
    ]);
    let results = run_good(&sheet, &centres());
    expect_empty(
        &results,
        &[
            "elbow.flexion_deg",
            "elbow.moment_z_n_m",
            "elbow.flexion_moment_n_m",
            "shoulder.moment_x_n_m",
        ],
        0..0,
    );
    // carrying angle and pronation are not measured
    expect_empty(&results, &["elbow.carrying_deg", "elbow.pronation_deg"], 0..321);
    assert!(!results.arms[0].has_wrist);
    // flexion is the angle between the long axes
    let c = centres();
    let v = |a: &str, b: &str, f: usize| Vector3::from(c.of(a)[f]) - Vector3::from(c.of(b)[f]);
    let flexion = column(&results, "right.elbow.flexion_deg");
    for (f, flexion) in flexion.iter().enumerate() {
        let angle = v("SJC", "EJC", f).angle(&v("EJC", "WJC", f)).to_degrees();
        assert!((flexion - angle).abs() < 1e-9, "{f}");
    }
    // forces and world moments do not need the flexion axis: close to those with all landmarks, a lumped hand
    // apart
    let full = Markers::curl().without(&["MCP2", "MCP5", "bell_in", "bell_out"]);
    let with_landmarks = run_good(&sheet, &full);
    for q in [
        "elbow.force_y_n",
        "shoulder.force_y_n",
        "elbow.moment_z_n_m",
        "shoulder.moment_z_n_m",
    ] {
        let (a, b) = (
            column(&with_landmarks, &format!("right.{q}")),
            column(&results, &format!("right.{q}")),
        );
        // spin about the long axes counts as zero: what that changes is small
        assert!(
            farthest(&a, &b, 0..a.len()) < 0.01 * peak(&a),
            "{q}: {}",
            farthest(&a, &b, 0..a.len()) / peak(&a)
        );
    }
}

#[test]
fn property_planar_recordings_of_joint_centres() {
    // a level forearm swings in the plane of up and forward; lab y is up, x forward, no z
    let frames = 150;
    let angle = |i: usize| 0.6 + 0.5 * (i as f64 * 0.06).sin();
    let at = |i: usize| {
        let e = [310.0, 1100.0];
        let w = [e[0] + 250.0 * angle(i).sin(), e[1] - 250.0 * angle(i).cos()];
        [[300.0, 1380.0], e, w]
    };
    let mut csv = String::from("time,SJC_X,SJC_Y,EJC_X,EJC_Y,WJC_X,WJC_Y\n");
    for i in 0..frames {
        let p = at(i);
        csv += &format!(
            "{},{}\n",
            i as f64 / 100.0,
            p.iter()
                .flatten()
                .map(f64::to_string)
                .collect::<Vec<_>>()
                .join(",")
        );
    }
    let sheet = curl_sheet(&[
        ("up = \"+z\"", "up = \"+y\""),
        ("forward = \"+y\"", "forward = \"+x\""),
        ("hand = \"segment\"", "hand = \"lumped\""),
        (
            "at = [\"bell_in\", \"bell_out\"]\ninertia_kg_m2 = [0.031, 0.0087, 0.031]",
            "",
        ),
    ]);
    let results = run(&sheet, &csv).unwrap_or_else(|e| panic!("{}", e.text));
    assert!(results.warnings.contains(&Warning::Planar));
    // with up or forward the wrong way round the elbow seems to bend backwards
    let doubted = |r: &TrialResults| {
        r.warnings
            .iter()
            .any(|w| matches!(w, Warning::PlaneImplausible { .. }) && w.is_grave())
    };
    assert!(!doubted(&results));
    for wrong in [
        sheet.replace("up = \"+y\"", "up = \"-y\""),
        sheet.replace("forward = \"+x\"", "forward = \"-x\""),
    ] {
        assert!(
            doubted(&run(&wrong, &csv).unwrap_or_else(|e| panic!("{}", e.text))),
            "{wrong}"
        );
    }
    // an arm twice as long as people's is in every report, not in inspect alone
    let long = run(
        &sheet.replace(
            "length_unit = \"mm\"",
            "length_unit = \"px\"\nscale = { length_px = 1000.0, length_m = 1.7 }",
        ),
        &csv,
    );
    let long = long.unwrap_or_else(|e| panic!("{}", e.text));
    assert!(
        long.warnings
            .iter()
            .any(|w| matches!(w, Warning::LengthImplausible { .. }) && w.is_grave()),
        "{:?}",
        long.warnings
    );
    let flexion = column(&results, "right.elbow.flexion_deg");
    let upper = Vector3::new(-10.0, 280.0, 0.0);
    for (i, f) in flexion.iter().enumerate() {
        let p = at(i);
        let fore = Vector3::new(p[1][0] - p[2][0], p[1][1] - p[2][1], 0.0);
        assert!((f - upper.angle(&fore).to_degrees()).abs() < 1e-9, "{i}");
    }
    for q in [
        "elbow.flexion_moment_n_m",
        "shoulder.flexion_moment_n_m",
        "elbow.static_flexion_moment_n_m",
        "elbow.power_w",
    ] {
        assert!(empty_frames(&results, q).is_empty(), "{q}");
    }
    let (m, z) = (
        column(&results, "right.elbow.flexion_moment_n_m"),
        column(&results, "right.elbow.moment_z_n_m"),
    );
    assert!(farthest(&m, &z, 0..frames) < 1e-12 * peak(&z) && m[75] > 1.0);
    assert!(results.arms[0].audit.unwrap().relative() < 0.005);
}

#[test]
fn property_shoulder_below_the_acromion() {
    // the engine's shoulder centre, put back by an acromion exactly above it along the trunk's long axis
    let m = Markers::curl();
    let drop_mm = 61.0;
    let at = |n: &str, f: usize| Vector3::from(m.of(n)[f]);
    let up: Vec<Vector3<f64>> = (0..321)
        .map(|f| ((at("IJ", f) + at("C7", f)) * 0.5 - (at("PX", f) + at("T8", f)) * 0.5).normalize())
        .collect();
    let acromion: Vec<[f64; 3]> = (0..321)
        .map(|f| (at("SJC", f) + up[f] * drop_mm).into())
        .collect();
    let other: Vec<[f64; 3]> = acromion.iter().map(|p| [p[0] - 305.0, p[1], p[2]]).collect();
    let markers = Markers {
        time: m.time.clone(),
        points: vec![("AC".into(), acromion), ("left.AC".into(), other)],
    };
    let markers = m.clone().without(&["SJC"]).with(markers);
    let given = run_good(&curl_sheet(&[]), &m);
    for method in ["drop_m = 0.061", "drop_fraction = 0.2"] {
        let results = run_good(
            &curl_sheet(&[(
                "method = \"given\"",
                &format!("method = \"below-acromion\", {method}"),
            )]),
            &markers,
        );
        for q in [
            "shoulder.moment_x_n_m",
            "shoulder.flexion_moment_n_m",
            "elbow.flexion_moment_n_m",
            "shoulder.power_w",
        ] {
            let (a, b) = (
                column(&given, &format!("right.{q}")),
                column(&results, &format!("right.{q}")),
            );
            assert!(
                farthest(&a, &b, 0..a.len()) < 1e-6 * peak(&a),
                "{method} {q}: {}",
                farthest(&a, &b, 0..a.len()) / peak(&a)
            );
        }
        assert!(
            results.arms[0].centres.shoulder.contains("61.0 mm"),
            "{}",
            results.arms[0].centres.shoulder
        );
    }
}

#[test]
fn property_lumped_hands_with_and_without_markers() {
    let load = (
        "at = [\"bell_in\", \"bell_out\"]\ninertia_kg_m2 = [0.031, 0.0087, 0.031]\n",
        "",
    );
    let lumped = curl_sheet(&[("hand = \"segment\"", "hand = \"lumped\""), load]);
    let with = run_good(&lumped, &Markers::curl());
    let without = run_good(&lumped, &Markers::curl().without(&["MCP2", "MCP5"]));
    for r in [&with, &without] {
        assert!(!r.arms[0].has_wrist && r.arms[0].body.hand.is_none());
        expect_empty(
            r,
            &[
                "elbow.flexion_moment_n_m",
                "shoulder.moment_x_n_m",
                "elbow.power_w",
            ],
            0..0,
        );
    }
    // masses are those of forearm and hand together
    let body = &with.arms[0].body;
    assert!((body.forearm.mass_kg - 63.5 * (0.0138 + 0.0056)).abs() < 1e-12);
    // with markers the grip is between the knuckles, without it is the straight hand's mass centre: two
    // readings of one thing
    let (a, b) = (
        column(&with, "right.elbow.flexion_moment_n_m"),
        column(&without, "right.elbow.flexion_moment_n_m"),
    );
    let apart = farthest(&a, &b, 0..a.len()) / peak(&a);
    assert!(apart > 1e-3 && apart < 0.15, "{apart}");
    // nothing stated: the markers decide, and that is said
    let undecided = curl_sheet(&[("hand = \"segment\"\n", ""), load]);
    let by_markers = run_good(&undecided, &Markers::curl());
    assert!(
        by_markers.arms[0].has_wrist
            && by_markers.warnings.iter().any(|w| matches!(
                w,
                Warning::HandChosen {
                    chosen: "segment",
                    ..
                }
            ))
    );
    let by_lack = run_good(&undecided, &Markers::curl().without(&["MCP2", "MCP5"]));
    assert!(
        !by_lack.arms[0].has_wrist
            && by_lack
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::HandChosen { chosen: "lumped", .. }))
    );
    // a segment without markers is straight on from the forearm
    let straight = run_good(&curl_sheet(&[load]), &Markers::curl().without(&["MCP2", "MCP5"]));
    assert!(
        straight.arms[0].has_wrist
            && straight
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::StraightHand { .. }))
    );
    let (a, b) = (
        column(&straight, "right.elbow.flexion_moment_n_m"),
        column(&without, "right.elbow.flexion_moment_n_m"),
    );
    assert!(farthest(&a, &b, 0..0).eq(&0.0) && (a[160] / b[160] - 1.0).abs() < 0.05);
    // the forearm + hand row of the other table
    let winter = curl_sheet(&[
        ("hand = \"segment\"", "hand = \"lumped\""),
        ("deleva-1996", "dempster-winter"),
        load,
    ]);
    let results = run_good(&winter, &Markers::curl());
    let forearm = &results.arms[0].body.forearm;
    assert!(
        (forearm.mass_kg - 0.022 * 63.5).abs() < 1e-12
            && (forearm.com_m / forearm.length_m - 0.682).abs() < 1e-12
    );
}

#[test]
fn property_a_third_knuckle_alone_carries_the_hand() {
    let m = Markers::curl();
    let third: Vec<[f64; 3]> = m
        .of("MCP2")
        .iter()
        .zip(m.of("MCP5"))
        .map(|(p, q)| [0, 1, 2].map(|k| 0.5 * (p[k] + q[k])))
        .collect();
    let both = run_good(&curl_sheet(&[]), &m);
    let markers = m.clone().without(&["MCP2", "MCP5"]).with(Markers {
        time: m.time.clone(),
        points: vec![("MCP3".into(), third.clone())],
    });
    let one = run_good(&curl_sheet(&[]), &markers);
    // same long axis and length; spin comes from the styloids
    let (a, b) = (
        column(&both, "right.wrist.static_moment_z_n_m"),
        column(&one, "right.wrist.static_moment_z_n_m"),
    );
    assert!(farthest(&a, &b, 0..321) < 1e-9 * peak(&a));
    // with the outer knuckles there, the third is not needed: it may even be lost throughout
    let lost = Markers {
        time: m.time.clone(),
        points: vec![("MCP3".into(), vec![[f64::NAN; 3]; 321])],
    };
    let results = run_good(&curl_sheet(&[]), &m.with(lost));
    assert_eq!(
        column(&results, "right.elbow.moment_z_n_m"),
        column(&both, "right.elbow.moment_z_n_m")
    );
}

/// A recording with technical markers on upper arm and forearm, and the static trial that calibrates them.
pub fn clustered() -> (Markers, Markers) {
    let m = Markers::curl();
    let on = |a: &str, b: &str, c: &str, at: [f64; 3], f: usize| {
        // axes of three points of the segment
        let [p, q, r] = [a, b, c].map(|n| Vector3::from(m.of(n)[f]));
        let x = (q - p).normalize();
        let z = x.cross(&(r - p)).normalize();
        let v = p + x * at[0] + z.cross(&x) * at[1] + z * at[2];
        [v.x, v.y, v.z]
    };
    let mut points = Vec::new();
    for (k, at) in [
        [20.0, 60.0, 30.0],
        [70.0, 70.0, 45.0],
        [30.0, 130.0, 40.0],
        [75.0, 140.0, 20.0],
    ]
    .into_iter()
    .enumerate()
    {
        points.push((
            format!("ua{k}"),
            (0..321).map(|f| on("EL", "EM", "SJC", at, f)).collect(),
        ));
    }
    let elbow: Vec<[f64; 3]> = m
        .of("EL")
        .iter()
        .zip(m.of("EM"))
        .map(|(p, q)| [0, 1, 2].map(|k| 0.5 * (p[k] + q[k])))
        .collect();
    let mut with_elbow = m.clone();
    with_elbow.points.push(("E".into(), elbow));
    for (k, at) in [
        [10.0, 50.0, 30.0],
        [40.0, 60.0, 35.0],
        [15.0, 110.0, 32.0],
        [45.0, 120.0, 28.0],
    ]
    .into_iter()
    .enumerate()
    {
        let [p, q, r] = ["RS", "US", "E"];
        let place = |f: usize| {
            let [p, q, r] = [p, q, r].map(|n| Vector3::from(with_elbow.of(n)[f]));
            let x = (q - p).normalize();
            let z = x.cross(&(r - p)).normalize();
            let v = p + x * at[0] + z.cross(&x) * at[1] + z * at[2];
            [v.x, v.y, v.z]
        };
        points.push((format!("fa{k}"), (0..321).map(place).collect()));
    }
    let all = m.with(Markers {
        time: Vec::new(),
        points,
    });
    // the person stands still somewhere else, turned
    let r = turn('z', 40.0);
    let still = all.clone().first(30).moved(|p| {
        let v = r * Vector3::from(p) + Vector3::new(500.0, -200.0, 10.0);
        [v.x, v.y, v.z]
    });
    (all, still)
}

#[test]
fn property_clusters_rebuild_landmarks_that_the_moving_trial_lacks() {
    let (moving, still) = clustered();
    let whole = run_good(&curl_sheet(&[]), &moving);
    let sheet = curl_sheet(&[]).replace("[[load]]", "[calibration]\nfile = \"still.csv\"\nclusters = { \"right.upper_arm\" = [\"ua0\", \"ua1\", \"ua2\", \"ua3\"], \"right.forearm\" = [\"fa0\", \"fa1\", \"fa2\", \"fa3\"] }\n\n[[load]]");
    let run = |markers: &Markers| {
        let folder = Folder::with(&sheet, &markers.csv());
        folder.write("still.csv", still.csv());
        folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text))
    };
    // µm: the engine's landmarks are rigid with their segments; what is left are six printed decimals and the
    // seven digits that the static trial's posture leaves in them
    let same = |results: &TrialResults, what: &str| {
        for q in [
            "elbow.flexion_moment_n_m",
            "elbow.flexion_deg",
            "shoulder.moment_x_n_m",
            "elbow.power_w",
            "elbow.pronation_deg",
        ] {
            let (a, b) = (
                column(&whole, &format!("right.{q}")),
                column(results, &format!("right.{q}")),
            );
            assert!(
                farthest(&a, &b, 0..a.len()) < 1e-5 * peak(&a),
                "{what}, {q}: {}",
                farthest(&a, &b, 0..a.len()) / peak(&a)
            );
        }
    };
    let rebuilt = run(&moving.clone().without(&["EM", "US"]));
    same(&rebuilt, "landmarks left out");
    let frames = |r: &TrialResults, point: &str| {
        r.clusters
            .iter()
            .flat_map(|c| &c.rebuilt)
            .find(|x| x.0 == point)
            .map(|x| x.1)
    };
    assert_eq!(
        (
            frames(&rebuilt, "right.EM"),
            frames(&rebuilt, "right.US"),
            frames(&rebuilt, "right.EL")
        ),
        (Some(321), Some(321), None)
    );
    assert!(
        rebuilt
            .clusters
            .iter()
            .all(|c| c.residual_m.iter().all(|r| *r < 1e-8)),
        "the clusters are rigid to the printed digits"
    );
    // a long gap of a landmark that is there: rebuilt, whatever the length, and flagged; one cluster marker
    // may be missing too
    let gappy = run(&moving.clone().lost("EL", 100..180).lost("ua1", 120..160));
    same(&gappy, "a gap in a landmark");
    assert_eq!(flags(&gappy, flag::REBUILT), (100..180).collect::<Vec<_>>());
    // with two of the cluster's markers gone there is no rebuilding
    let lost = run(&moving
        .clone()
        .lost("EL", 100..180)
        .lost("ua1", 120..160)
        .lost("ua2", 120..160));
    expect_empty(
        &lost,
        &["elbow.moment_z_n_m", "elbow.static_flexion_moment_n_m"],
        120..160,
    );
    // an elbow that is never seen but calibrated, named by a cluster of landmarks
    let named = sheet.replace("\"ua0\", \"ua1\", \"ua2\", \"ua3\"", "\"SJC\", \"ua0\", \"ua3\"");
    let folder = Folder::with(&named, &moving.clone().without(&["EM", "EL"]).csv());
    folder.write("still.csv", still.csv());
    same(
        &folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text)),
        "a landmark as cluster marker",
    );
}

//! Trials as they might have been, against what mechanics says of them.

use crate::common::still_arm::{self, StillArm, turn};
use crate::common::{Folder, Markers, column, curl_sheet};
use armload::ground::names::Joint;
use armload::results::{Positions, TrialResults};
use armload::sheet::TrialSheet;
use armload::trial::varied::{
    Curves, ELBOW, ELBOW_STATIC, SHOULDER, SHOULDER_SIZE, SegmentElsewise, Variation,
};
use armload::trial::{self, Extras};
use armload::uncertainty::sensitivity::of_trial;
use nalgebra::{Rotation3, Vector3};

const LOAD_KG: f64 = 6.0;
const G: f64 = 9.80665;
/// Rounding of sums of a few N·m.
const TOLERANCE_N_M: f64 = 1e-9;

/// An arm without weight: what is left is the load.
fn weightless() -> Variation {
    let nothing = SegmentElsewise {
        mass: 0.0,
        ..SegmentElsewise::default()
    };
    Variation {
        segments: [nothing; 3],
        ..Variation::default()
    }
}

/// The engine's curl, computed, and under variations.
fn curl(variations: &dyn Fn(&trial::Prepared<'_>) -> Vec<Variation>) -> (TrialResults, Vec<Curves>) {
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let sheet = TrialSheet::read(&folder.path("sheet.toml"), &[]).unwrap();
    assert_eq!(sheet.loads[0].kind.as_ref().unwrap().weight_kg(), Some(LOAD_KG));
    let prepared = trial::prepare(&sheet).unwrap();
    let results = prepared.compute(Extras {
        positions: true,
        ..Extras::default()
    });
    let curves = variations(&prepared)
        .iter()
        .map(|v| prepared.varied(v).remove(0))
        .collect();
    (results, curves)
}

fn farthest(a: impl IntoIterator<Item = f64>, b: impl IntoIterator<Item = f64>) -> f64 {
    a.into_iter()
        .zip(b)
        .map(|(a, b)| (a - b).abs())
        .filter(|d| d.is_finite())
        .fold(0.0, f64::max)
}

#[test]
fn property_a_trial_varied_by_nothing_is_the_trial() {
    let (results, curves) = curl(&|_| vec![Variation::default()]);
    for (row, name) in [
        (ELBOW, "right.elbow.flexion_moment_n_m"),
        (ELBOW_STATIC, "right.elbow.static_flexion_moment_n_m"),
        (SHOULDER, "right.shoulder.flexion_moment_n_m"),
    ] {
        assert!(farthest(curves[0].row(row).to_vec(), column(&results, name)) < TOLERANCE_N_M);
    }
    let [x, y, z] = ["x", "y", "z"].map(|a| column(&results, &format!("right.shoulder.moment_{a}_n_m")));
    let size = (0..x.len()).map(|f| (x[f].powi(2) + y[f].powi(2) + z[f].powi(2)).sqrt());
    assert!(farthest(curves[0].row(SHOULDER_SIZE).to_vec(), size) < TOLERANCE_N_M);
}

#[test]
fn closed_form_an_elbow_centre_elsewhere_moves_the_moment_by_force_times_distance() {
    let arm = StillArm {
        r_wu: turn('z', 20.0),
        r_uf: turn('z', 60.0),
        ..StillArm::level_forearm([0.30, 0.26, 0.08])
    };
    let load = format!("[[load]]\nkind = \"free-weight\"\nmass_kg = {LOAD_KG:?}\n");
    let text = still_arm::sheet("male", 75.0, G, "", &load);
    let folder = Folder::with(&text, &arm.markers().csv());
    let sheet = TrialSheet::read(&folder.path("sheet.toml"), &[]).unwrap();
    let prepared = trial::prepare(&sheet).unwrap();
    let at = |v: &Variation| prepared.varied(v)[0][(ELBOW, 10)];
    let before = at(&weightless());
    // within the arm's plane: out of it the flexion axis would turn too
    for d in [Vector3::new(0.010, 0.0, 0.0), Vector3::new(0.0, -0.010, 0.0)] {
        let moved = Some(prepared.centre_moved(0, Joint::Elbow, d));
        let after = at(&Variation {
            moved,
            ..weightless()
        });
        // about E + d the weight W turns by d x W less, and the joint has to hold so much less against it
        let expected = (arm.r_wu * d).cross(&Vector3::new(0.0, -LOAD_KG * G, 0.0)).z;
        assert!(
            (after - before - expected).abs() < TOLERANCE_N_M,
            "{d:?}: {before} {after} {expected}"
        );
    }
}

#[test]
fn closed_form_loads_and_plumb_line() {
    let tilt = Vector3::new(0.0, 0.0, 0.02);
    let (results, curves) = curl(&|_| {
        let mut heavier = weightless();
        heavier.loads.gain = 1.1;
        let tilted = Variation { tilt, ..weightless() };
        let mut all = vec![weightless(), heavier, tilted];
        for k in 0..3 {
            let mut elsewhere = weightless();
            elsewhere.loads.place_m[k] = 0.01;
            all.push(elsewhere);
        }
        all
    });
    let frames = results.time_s.len();
    let times = |factor: f64, row: usize| (0..frames).map(move |f| (factor, row, f));
    for row in [ELBOW, ELBOW_STATIC, SHOULDER] {
        let expected = times(1.1, row).map(|(x, row, f)| x * curves[0][(row, f)]);
        assert!(farthest(curves[1].row(row).to_vec(), expected) < TOLERANCE_N_M);
    }
    let places = results.arms[0].positions.as_ref().unwrap();
    let weight = Vector3::new(0.0, -LOAD_KG * G, 0.0);
    let turned = Rotation3::from_scaled_axis(tilt) * weight;
    let expected = (0..frames).map(|f| {
        let [e, at] = [Positions::ELBOW, Positions::LOADS].map(|p| Vector3::from(places.at(p, f)));
        -(at - e)
            .cross(&turned)
            .dot(&Vector3::from(places.at(Positions::FLEXION_AXIS, f)))
    });
    assert!(farthest(curves[2].row(ELBOW_STATIC).to_vec(), expected) < TOLERANCE_N_M);
    // along three directions at right angles the changes are the components of d (W x z)
    for f in 0..frames {
        let z = Vector3::from(places.at(Positions::FLEXION_AXIS, f));
        let squares: f64 = (3..6)
            .map(|k| (curves[k][(ELBOW_STATIC, f)] - curves[0][(ELBOW_STATIC, f)]).powi(2))
            .sum();
        assert!((squares.sqrt() - 0.01 * weight.cross(&z).norm()).abs() < TOLERANCE_N_M);
    }
}

#[test]
fn cross_a_late_force_is_a_clock_that_shows_too_little() {
    let sheet = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/families/trials/handle_force/sheet.toml");
    let delay_s = 0.004;
    let of = |sets: &[String], variation: &Variation| {
        let sheet = TrialSheet::read(&sheet, sets).unwrap();
        trial::prepare(&sheet).unwrap().varied(variation).remove(0)
    };
    let stated: toml::Table = std::fs::read_to_string(&sheet).unwrap().parse().unwrap();
    let loads = stated["load"].as_array().unwrap();
    let number = loads
        .iter()
        .position(|l| l["kind"].as_str() == Some("recorded-force"))
        .unwrap();
    let offset_s = loads[number]
        .get("time_offset_s")
        .map_or(0.0, |x| x.as_float().unwrap());
    let fixed = |offset_s: f64| {
        [
            "filter.cutoff_hz=6".to_owned(),
            "filter.force_cutoff_hz=6".to_owned(),
            format!("load.{number}.time_offset_s={offset_s}"),
        ]
    };
    let now = of(&fixed(offset_s), &Variation::default());
    let later = of(&fixed(offset_s + delay_s), &Variation::default());
    let mut late = Variation::default();
    late.loads.delay_s = delay_s;
    let varied = of(&fixed(offset_s), &late);
    let row = |c: &Curves| c.row(ELBOW).to_vec();
    let (change, off) = (
        farthest(row(&later), row(&now)),
        farthest(row(&later), row(&varied)),
    );
    // a line between frames in place of a spline through the force's own rows
    assert!(change > 0.01 && off < 0.05 * change, "{change} {off}");
}

#[test]
fn closed_form_a_percent_of_everything_is_a_percent_of_the_peak() {
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let sheet = TrialSheet::read(&folder.path("sheet.toml"), &[]).unwrap();
    let prepared = trial::prepare(&sheet).unwrap();
    let results = prepared.compute(Extras::default());
    let found = of_trial(&prepared, &results.arms).remove(0);
    // moments are linear in masses (METHOD section 6): load and segments one percent heavier each
    let (mut elbow, mut shoulder) = (0.0, 0.0);
    for c in &found.sources {
        if c.source.starts_with("mass of the") || c.source.starts_with("mass or force") {
            elbow += c.elbow_per_unit_n_m;
            shoulder += c.shoulder_per_unit_n_m;
        }
    }
    assert!(
        (elbow / (0.01 * found.elbow_peak_n_m) - 1.0).abs() < 1e-6,
        "{elbow}"
    );
    // the size of a vector is linear only to first order: central differences leave the cube of a percent
    assert!(
        (shoulder / (0.01 * found.shoulder_peak_n_m) - 1.0).abs() < 1e-4,
        "{shoulder}"
    );
    // and what is usual is as many times one unit, where things are linear
    let gain = found
        .sources
        .iter()
        .find(|c| c.source.starts_with("mass or force"))
        .unwrap();
    let [less, more] = gain.elbow_if_usual_n_m;
    let expected = gain.usual * gain.elbow_per_unit_n_m;
    assert!(
        (more - expected).abs() < 1e-9 && (less + expected).abs() < 1e-9,
        "{gain:?}"
    );
}

#[test]
fn property_sensitivity_does_not_depend_on_threads() {
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let sheet = TrialSheet::read(&folder.path("sheet.toml"), &[]).unwrap();
    let prepared = trial::prepare(&sheet).unwrap();
    let results = prepared.compute(Extras::default());
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| format!("{:?}", of_trial(&prepared, &results.arms)))
    };
    assert_eq!(with(1), with(8));
}

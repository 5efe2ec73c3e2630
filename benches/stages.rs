//! Each stage and the whole on a recording of 20,000 frames: time for one pass, throughput in frames.
//!
//! The recording is the engine's curl of `fixtures/engine`, forwards and backwards again and again, with 0.02
//! mm of noise, at 200 Hz.

use armload::anatomy::arm::{ArmPlan, CarriedAxes, Catalog};
use armload::anatomy::body::ArmBody;
use armload::capture::Recording;
use armload::capture::points::MarkerReading;
use armload::ground::landmarks;
use armload::ground::names::Side;
use armload::ground::scene::MirroredScene;
use armload::ground::scene::Scene;
use armload::kinetics::loads::{Acting, PointFinder};
use armload::phases::windows::Windows;
use armload::points::MadePoints;
use armload::report::tables;
use armload::results::QUANTITIES;
use armload::sheet::TrialSheet;
use armload::smoothing::lowpass::ZeroLag;
use armload::smoothing::residual;
use armload::trial::{self, arm_pass::ReadyArm};
use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use ndarray::{Array2, s};
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

const FRAMES: usize = 20_000;
const RATE_HZ: f64 = 200.0;
const NOISE_MM: f64 = 0.02;
const CUTOFF_HZ: f64 = 6.0;
/// Frames of one pass of the mechanics: what the trial takes at once.
const BLOCK: usize = 2048;

/// Writes the recording and a sheet for it; returns the sheet's path.
fn write_recording(dir: &Path) -> PathBuf {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/engine");
    let text = std::fs::read_to_string(fixtures.join("curl_markers.csv")).expect("fixture");
    let mut lines = text.lines();
    let header = lines.next().expect("header");
    let rows: Vec<Vec<f64>> = lines
        .map(|l| l.split(',').skip(1).map(|c| c.parse().expect("number")).collect())
        .collect();
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
    let noise = Normal::new(0.0, NOISE_MM).expect("positive");
    let mut out = format!("{header}\n");
    for i in 0..FRAMES {
        let k = i % (2 * rows.len() - 2);
        let row = &rows[if k < rows.len() { k } else { 2 * rows.len() - 2 - k }];
        write!(out, "{:.3}", i as f64 / RATE_HZ).expect("memory");
        for x in row {
            write!(out, ",{:.3}", x + noise.sample(&mut rng)).expect("memory");
        }
        out.push('\n');
    }
    std::fs::write(dir.join("curl_markers.csv"), out).expect("written");
    let sheet = dir.join("sheet.toml");
    std::fs::copy(fixtures.join("curl.toml"), &sheet).expect("written");
    sheet
}

/// The wanted points in world axes, m.
fn gather(recording: &Recording, sheet: &TrialSheet, names: &[String]) -> Scene {
    let mut scene = Scene::missing(
        names.to_vec(),
        recording.time.frames,
        recording.time.start_s,
        recording.time.rate_hz,
    );
    for (i, name) in names.iter().enumerate() {
        let point = recording.index(name).expect("point");
        for axis in 0..3 {
            let mut row = scene.xyz.row_mut(3 * i + axis);
            let out = row.as_slice_mut().expect("rows are contiguous");
            recording.world_coordinate(
                point,
                axis,
                &sheet.markers.axes,
                sheet.markers.metres_per_unit,
                out,
            );
        }
    }
    scene
}

fn stages(c: &mut Criterion) {
    let dir = tempfile::tempdir().expect("folder");
    let path = write_recording(dir.path());
    let sheet_with =
        |cutoff: &str| TrialSheet::read(&path, &[format!("filter.cutoff_hz={cutoff}")]).expect("sheet");
    let (fixed, auto) = (sheet_with("6"), sheet_with("auto"));
    let how = MarkerReading {
        rename: &fixed.markers.rename,
        sides: &fixed.trial.sides,
        rate_hz: None,
        max_gap_s: fixed.filter.max_gap_s,
        claims: None,
    };
    let read = || Recording::read(&fixed.markers.file, &how, &mut Vec::new()).expect("recording");
    let recording = read();
    let available = |n: &str| recording.index(n).is_some();
    let mut catalog = Catalog::new(&available);
    let plan = ArmPlan::choose(
        Side::Right,
        None,
        &MadePoints::default(),
        &mut catalog,
        false,
        "bench",
    )
    .expect("plan");
    let known: Vec<String> = recording.points.iter().map(|p| p.name.clone()).collect();
    let loads: Vec<(String, Box<dyn Acting>)> = fixed
        .loads
        .iter()
        .map(|l| {
            let mut finder = PointFinder {
                place: &l.place,
                file: "bench",
                catalog: &mut catalog,
                known: &known,
                absent_axis: None,
                max_gap_s: fixed.filter.max_gap_s,
                warnings: &mut Vec::new(),
            };
            (
                l.label.clone(),
                l.kind
                    .as_ref()
                    .expect("a load")
                    .prepare(&mut finder)
                    .expect("points"),
            )
        })
        .collect();
    assert!(catalog.names.contains(&landmarks::sided(Side::Right, "EL")));
    let raw = gather(&recording, &fixed, &catalog.names);
    let filter = ZeroLag::design(CUTOFF_HZ, RATE_HZ).expect("cutoff");
    let smooth = |scene: &mut Scene| {
        let mut rows: Vec<&mut [f64]> = scene
            .xyz
            .rows_mut()
            .into_iter()
            .map(|r| r.into_slice().expect("contiguous"))
            .collect();
        filter.smooth(&mut rows);
    };
    let mut scene = raw.clone();
    smooth(&mut scene);
    let results = trial::run(&fixed, trial::Extras::default()).expect("trial");
    let body: ArmBody = results.arms[0].body.clone();
    let carried = CarriedAxes::of(&plan, MirroredScene::new(&scene, Side::Right));
    let (windows, gravity_m_s2) = (Windows::usual(RATE_HZ), fixed.model.gravity_m_s2);
    let ready = ReadyArm {
        plan: &plan,
        body: &body,
        loads: &loads,
        carried: &carried,
        gravity_m_s2,
        windows,
    };
    let table = tables::moments(&results).expect("table");

    let mut group = c.benchmark_group("stages");
    group
        .throughput(Throughput::Elements(FRAMES as u64))
        .sample_size(10)
        .warm_up_time(Duration::from_millis(300))
        .measurement_time(Duration::from_secs(2));
    group.bench_function("1 read markers", |b| b.iter(read));
    group.bench_function("2 gather into world axes", |b| {
        b.iter(|| gather(&recording, &fixed, &catalog.names))
    });
    group.bench_function("3 low-pass of all coordinates", |b| {
        b.iter_batched_ref(|| raw.clone(), smooth, BatchSize::LargeInput)
    });
    let coordinates: Vec<(String, &[f64])> = raw
        .xyz
        .rows()
        .into_iter()
        .map(|r| (String::new(), r.to_slice().expect("contiguous")))
        .collect();
    group.bench_function("4 residual analysis (4000 frames of each coordinate)", |b| {
        b.iter(|| residual::analyse(&coordinates, RATE_HZ))
    });
    group.bench_function("5 pose, motion, Newton-Euler, angles, power (one thread)", |b| {
        let mut out = Array2::zeros((QUANTITIES.len(), FRAMES));
        b.iter(|| {
            for start in (0..FRAMES).step_by(BLOCK) {
                let frames = start..(start + BLOCK).min(FRAMES);
                let none = || Array2::zeros((0, frames.len()));
                ready.write(
                    &scene,
                    frames.clone(),
                    out.slice_mut(s![.., frames.clone()]),
                    none().view_mut(),
                    none().view_mut(),
                );
            }
        });
    });
    group.bench_function("6 table of results", |b| {
        b.iter(|| tables::moments(&results).expect("table"))
    });
    group.bench_function("7 write moments.csv", |b| {
        b.iter_batched_ref(
            || table.clone(),
            |t| tables::write_csv(t, &dir.path().join("moments.csv")).expect("written"),
            BatchSize::LargeInput,
        );
    });
    group.finish();

    let mut group = c.benchmark_group("whole");
    group
        .throughput(Throughput::Elements(FRAMES as u64))
        .sample_size(10)
        .warm_up_time(Duration::from_millis(300))
        .measurement_time(Duration::from_secs(2));
    group.bench_function("trial, cutoff stated", |b| {
        b.iter(|| trial::run(&fixed, trial::Extras::default()).expect("trial"))
    });
    group.bench_function("trial, cutoff by residual analysis", |b| {
        b.iter(|| trial::run(&auto, trial::Extras::default()).expect("trial"))
    });
    group.bench_function("trial with moments.csv", |b| {
        b.iter(|| {
            let results = trial::run(&auto, trial::Extras::default()).expect("trial");
            tables::write_csv(
                &mut tables::moments(&results).expect("table"),
                &dir.path().join("moments.csv"),
            )
            .expect("written");
        });
    });
    group.finish();
}

criterion_group!(benches, stages);
criterion_main!(benches);

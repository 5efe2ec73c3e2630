//! Each stage and the whole on a recording of 20,000 frames: time for one pass, throughput in frames.
//!
//! The recording is the engine's curl of `fixtures/engine`, forwards and backwards again and again, with 0.02
//! mm of noise, at 200 Hz.

use armload::anatomy::arm::CarriedAxes;
use armload::anatomy::body::ArmBody;
use armload::ground::scene::{MirroredScene, Scene};
use armload::muscles::{Muscles, sharing::Sharing};
use armload::phases::windows::Windows;
use armload::report::tables;
use armload::results::QUANTITIES;
use armload::sheet::TrialSheet;
use armload::smoothing::{self, lowpass::ZeroLag};
use armload::trial::{self, arm_pass::Out, arm_pass::ReadyArm, plan::Plan, recordings::Recordings};
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

fn stages(c: &mut Criterion) {
    let dir = tempfile::tempdir().expect("folder");
    let path = write_recording(dir.path());
    let sheet_with =
        |cutoff: &str| TrialSheet::read(&path, &[format!("filter.cutoff_hz={cutoff}")]).expect("sheet");
    let (fixed, auto) = (sheet_with("6"), sheet_with("auto"));
    // the steps of a trial, one after the other
    let read = || Recordings::read(&fixed).expect("recording").0;
    let recordings = read();
    let (plan, _) = Plan::choose(&fixed, &recordings).expect("plan");
    let gather = || recordings.trial.scene(&plan.names, &fixed.markers);
    let raw = gather();
    let filter = ZeroLag::design(CUTOFF_HZ, RATE_HZ).expect("cutoff");
    let (_, reports, stretches) = smoothing::scene::fill(raw.clone(), fixed.filter.max_gap_s);
    let smooth = |scene: &mut Scene| smoothing::scene::smooth_stretches(scene, &stretches, &filter);
    let mut scene = raw.clone();
    smooth(&mut scene);
    let results = trial::run(&fixed, trial::Extras::default()).expect("trial");
    let body: ArmBody = results.arms[0].body.clone();
    let arm = &plan.arms[0];
    let carried = CarriedAxes::of(arm, MirroredScene::new(&scene, arm.side));
    let (windows, gravity_m_s2) = (Windows::usual(RATE_HZ), fixed.model.gravity_m_s2);
    let ready = ReadyArm {
        plan: arm,
        body: &body,
        loads: &plan.loads[0],
        carried: &carried,
        gravity: nalgebra::Vector3::new(0.0, -gravity_m_s2, 0.0),
        elsewhere: Default::default(),
        windows,
        muscles: &fixed.muscles,
    };
    let table = tables::moments(&results).expect("table");

    let mut group = c.benchmark_group("stages");
    group
        .throughput(Throughput::Elements(FRAMES as u64))
        .sample_size(10)
        .warm_up_time(Duration::from_millis(300))
        .measurement_time(Duration::from_secs(2));
    group.bench_function("1 read markers", |b| b.iter(read));
    group.bench_function("2 gather into world axes (both cores)", |b| b.iter(gather));
    group.bench_function("3 low-pass of all coordinates (both cores)", |b| {
        b.iter_batched_ref(|| raw.clone(), smooth, BatchSize::LargeInput)
    });
    group.bench_function("4 residual analysis (4000 frames of each coordinate)", |b| {
        b.iter(|| smoothing::scene::analyse(&raw, &stretches))
    });
    group.bench_function("4 least expected error (4000 frames of each coordinate)", |b| {
        let points: Vec<usize> = (0..raw.names.len()).collect();
        b.iter(|| smoothing::choice::least_error(&raw, &stretches, &reports, &points))
    });
    let shared = Muscles::shared(Sharing::default());
    for (name, muscles) in [
        (
            "5 pose, motion, Newton-Euler, angles, power, single muscle (one thread)",
            &fixed.muscles,
        ),
        ("5 the same with muscles that share (one thread)", &shared),
    ] {
        let ready = ReadyArm { muscles, ..ready };
        group.bench_function(name, |b| {
            let mut data = Array2::zeros((QUANTITIES.len(), FRAMES));
            let mut of_muscles = Array2::zeros((muscles.rows(), FRAMES));
            b.iter(|| {
                for start in (0..FRAMES).step_by(trial::BLOCK) {
                    let frames = start..(start + trial::BLOCK).min(FRAMES);
                    let (mut details, mut positions) =
                        (Array2::zeros((0, frames.len())), Array2::zeros((0, frames.len())));
                    let out = Out {
                        data: data.slice_mut(s![.., frames.clone()]),
                        details: details.view_mut(),
                        positions: positions.view_mut(),
                        muscles: of_muscles.slice_mut(s![.., frames.clone()]),
                    };
                    ready.write(&scene, frames.clone(), out);
                }
            });
        });
    }
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
    group.bench_function("trial, cutoff found", |b| {
        b.iter(|| trial::run(&auto, trial::Extras::default()).expect("trial"))
    });
    group.bench_function("trial, linked arm (one)", |b| {
        let linked = TrialSheet::read(&path, &["filter.method=\"linked\"".into()]).expect("sheet");
        b.iter(|| trial::run(&linked, trial::Extras::default()).expect("trial"))
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

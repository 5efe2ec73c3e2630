//! Numeric building blocks against scipy: `fixtures/scipy`, with the script that made it.

use crate::common::{Worst, fixture_json, numbers};
use armload::anatomy::linked::ArmChain;
use armload::ground::rotation::{cardan_zxy, euler_yxy, log, quaternion, register, span_a_plane};
use armload::ground::spline::CubicSpline;
use armload::smoothing::linked::{self, Chain};
use armload::smoothing::lowpass::{ZeroLag, design_cutoff_hz};
use armload::smoothing::{residual, spline};
use nalgebra::{Matrix3, Vector3};
use serde_json::Value;
use std::f64::consts::{PI, TAU};

/// METHOD section 5: relative to the largest value, against scipy's `sosfiltfilt`.
const FILTER_REL: f64 = 1e-9;
/// rad; unit quaternions and matrices are printed with 17 digits.
const ROTATION_RAD: f64 = 1e-9;
/// Relative to the largest value; both solve the same tridiagonal system.
const SPLINE_REL: f64 = 1e-12;
/// m and (for the matrix) 1; well-conditioned clusters.
const REGISTRATION: f64 = 1e-9;
/// The same for markers on nearly one line: rounding is magnified by the ratio of the spreads, 20 here.
const REGISTRATION_THIN: f64 = 1e-7;
/// Hz; scipy's side steps by 0.25 Hz and ours by 6 %, both interpolate linearly between steps.
const RESIDUAL_HZ: f64 = 0.1;

fn matrix(v: &Value) -> Matrix3<f64> {
    let rows: Vec<Vec<f64>> = v.as_array().unwrap().iter().map(numbers).collect();
    Matrix3::from_fn(|i, j| rows[i][j])
}

fn points(v: &Value) -> Vec<Vector3<f64>> {
    v.as_array()
        .unwrap()
        .iter()
        .map(|p| Vector3::from_vec(numbers(p)))
        .collect()
}

fn cases(file: &str) -> Vec<Value> {
    fixture_json(file)["cases"].as_array().unwrap().clone()
}

fn from_quaternion(q: &[f64]) -> Matrix3<f64> {
    *nalgebra::UnitQuaternion::from_quaternion(nalgebra::Quaternion::new(q[0], q[1], q[2], q[3]))
        .to_rotation_matrix()
        .matrix()
}

#[test]
fn engine_scipy_zero_lag_low_pass() {
    let mut worst = Worst::default();
    for c in cases("scipy/butterworth.json") {
        let (rate, cutoff) = (c["rate_hz"].as_f64().unwrap(), c["cutoff_hz"].as_f64().unwrap());
        let title = format!("{cutoff} Hz at {rate} Hz");
        let design = c["design_hz"].as_f64().unwrap();
        worst.note(
            format!("{title}: design"),
            (design_cutoff_hz(cutoff, rate) / design - 1.0).abs(),
            FILTER_REL,
        );
        let (mut x, y) = (numbers(&c["input"]), numbers(&c["output"]));
        let scale = y.iter().fold(0.0_f64, |a, b| a.max(b.abs()));
        ZeroLag::design(cutoff, rate).unwrap().smooth(&mut [&mut x]);
        let error = x.iter().zip(&y).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        worst.note(title, error, FILTER_REL * scale);
    }
    worst.judge("scipy filter");
}

#[test]
fn property_rows_filtered_side_by_side_do_not_see_each_other() {
    let case = &cases("scipy/butterworth.json")[3];
    let x = numbers(&case["input"]);
    let filter = ZeroLag::design(6.0, 100.0).unwrap();
    let mut alone = x.clone();
    filter.smooth(&mut [&mut alone]);
    let mut rows: Vec<Vec<f64>> = (0..11)
        .map(|k| x.iter().map(|v| v * (k as f64 - 3.0)).collect())
        .collect();
    rows[4].fill(f64::NAN);
    filter.smooth(&mut rows.iter_mut().map(Vec::as_mut_slice).collect::<Vec<_>>());
    // a factor of 1 and of 2 is exact in binary
    assert_eq!(
        (
            &rows[5].iter().map(|v| v / 2.0).collect::<Vec<_>>(),
            rows[4].iter().all(|v| v.is_nan())
        ),
        (&alone, true)
    );
}

#[test]
fn engine_scipy_rotations() {
    let mut worst = Worst::default();
    for (i, c) in cases("scipy/rotations.json").iter().enumerate() {
        let r = matrix(&c["first_matrix"]);
        let (q1, q2) = (
            numbers(&c["first_quaternion_wxyz"]),
            numbers(&c["second_quaternion_wxyz"]),
        );
        let (first, second) = (from_quaternion(&q1), from_quaternion(&q2));
        worst.note(format!("{i}: matrix"), (first - r).norm(), ROTATION_RAD);
        let found = quaternion(&r);
        worst.note(
            format!("{i}: quaternion"),
            (0..4).map(|k| (found[k] - q1[k]).abs()).fold(0.0, f64::max),
            ROTATION_RAD,
        );
        let vector = Vector3::from_vec(numbers(&c["relative_rotation_vector"]));
        worst.note(
            format!("{i}: logarithm"),
            (log(&(first.transpose() * second)) - vector).norm(),
            ROTATION_RAD,
        );
        let turn = |a: f64, b: f64| {
            let d = (a - b).rem_euclid(TAU);
            d.min(TAU - d)
        };
        for (k, (found, expected)) in cardan_zxy(&r)
            .into_iter()
            .zip(numbers(&c["first_zxy_rad"]))
            .enumerate()
        {
            worst.note(format!("{i}: Cardan {k}"), turn(found, expected), ROTATION_RAD);
        }
        // scipy's middle angle is 0..pi; the ISB sign for a raised arm is its negative
        let e = numbers(&c["first_yxy_rad"]);
        for (k, (found, expected)) in euler_yxy(&r)
            .into_iter()
            .zip([e[0] + PI, -e[1], e[2] - PI])
            .enumerate()
        {
            worst.note(format!("{i}: Euler {k}"), turn(found, expected), ROTATION_RAD);
        }
    }
    worst.judge("scipy rotations");
}

#[test]
fn engine_scipy_not_a_knot_splines() {
    let mut worst = Worst::default();
    for (i, c) in cases("scipy/splines.json").iter().enumerate() {
        let (x, y, at, expected) = (
            numbers(&c["x"]),
            numbers(&c["y"]),
            numbers(&c["at"]),
            numbers(&c["not_a_knot"]),
        );
        let s = CubicSpline::through(&x, &y).unwrap();
        let scale = expected.iter().fold(0.0_f64, |a, b| a.max(b.abs()));
        let error = at
            .iter()
            .zip(&expected)
            .map(|(t, e)| (s.value(*t) - e).abs())
            .fold(0.0, f64::max);
        worst.note(format!("set {i}"), error, SPLINE_REL * scale);
    }
    worst.judge("scipy splines");
}

#[test]
fn engine_scipy_rigid_registration() {
    let mut worst = Worst::default();
    for (i, c) in cases("scipy/registration.json").iter().enumerate() {
        let (body, seen) = (points(&c["body"]), points(&c["seen"]));
        let kind = c["kind"].as_str().unwrap();
        let limit = if kind == "nearly_collinear" {
            REGISTRATION_THIN
        } else {
            REGISTRATION
        };
        let title = format!("{i} ({kind}, {} markers)", body.len());
        let Some(found) = register(&body, &seen) else {
            assert!(
                kind == "nearly_collinear" && !span_a_plane(&body),
                "{title}: refused"
            );
            continue;
        };
        worst.note(
            format!("{title}: rotation"),
            (found.r - matrix(&c["rotation"])).norm(),
            limit,
        );
        worst.note(
            format!("{title}: proper"),
            (found.r.determinant() - 1.0).abs(),
            1e-12,
        );
        worst.note(
            format!("{title}: translation"),
            (found.t - Vector3::from_vec(numbers(&c["translation"]))).norm(),
            limit,
        );
        worst.note(
            format!("{title}: residual"),
            (found.residual - c["rms_residual_m"].as_f64().unwrap()).abs(),
            limit,
        );
    }
    worst.judge("scipy registration");
}

/// Of the noise: the search for the likeliest frequency stops within 0.1 % of it, and the curve moves by less than that.
const SMOOTHER_OF_NOISE: f64 = 1e-3;

#[test]
fn engine_scipy_smoothing_spline() {
    let mut worst = Worst::default();
    for c in cases("scipy/smoother.json") {
        let rate = c["rate_hz"].as_f64().unwrap();
        let mut x = numbers(&c["input"]);
        let hidden: Vec<_> = c["hidden"]
            .as_array()
            .unwrap()
            .iter()
            .map(|h| h[0].as_u64().unwrap() as usize..h[1].as_u64().unwrap() as usize)
            .collect();
        let noise = c["noise_found"].as_f64().unwrap();
        let found = spline::smooth(&mut x, &hidden, rate, spline::MOST_LIKELY).unwrap();
        worst.note(
            format!("noise at {rate} Hz"),
            (found.noise / noise - 1.0).abs(),
            1e-4,
        );
        worst.note(
            format!("frequency at {rate} Hz"),
            (found.f0_hz / c["f0_hz"].as_f64().unwrap() - 1.0).abs(),
            2e-3,
        );
        for (i, (a, b)) in x.iter().zip(numbers(&c["curve"])).enumerate() {
            worst.note(
                format!("curve at {rate} Hz, frame {i}"),
                (a - b).abs(),
                SMOOTHER_OF_NOISE * noise,
            );
        }
    }
    worst.judge("scipy smoothing spline");
}

#[test]
fn engine_scipy_residual_analysis() {
    let mut worst = Worst::default();
    for c in cases("scipy/residual.json") {
        let rate = c["rate_hz"].as_f64().unwrap();
        let x = numbers(&c["input"]);
        for (cutoff, expected) in numbers(&c["grid_hz"])
            .into_iter()
            .zip(numbers(&c["residual_rms"]))
        {
            let mut y = x.clone();
            ZeroLag::design(cutoff, rate).unwrap().smooth(&mut [&mut y]);
            let rms = (x.iter().zip(&y).map(|(a, b)| (a - b).powi(2)).sum::<f64>() / x.len() as f64).sqrt();
            worst.note(
                format!("residual at {cutoff} Hz"),
                (rms - expected).abs(),
                FILTER_REL,
            );
        }
        let found = residual::analyse(&[("x".to_owned(), &x)], rate).unwrap();
        worst.note(
            format!("cutoff at {rate} Hz"),
            (found.curves[0].cutoff_hz - c["cutoff_hz"].as_f64().unwrap()).abs(),
            RESIDUAL_HZ,
        );
        // relative; a line through 11 points of the noise band here, through every whole hertz of it there
        let noise = c["line_intercept"].as_f64().unwrap();
        worst.note(
            format!("noise at {rate} Hz"),
            (found.curves[0].noise / noise - 1.0).abs(),
            0.01,
        );
    }
    worst.judge("scipy residual analysis");
}

#[test]
fn engine_prototype_linked_smoother() {
    // NumPy and SciPy, with knots, angles and steps of its own (fixtures/scipy/make_linked.py)
    let of = fixture_json("scipy/linked.json");
    let rows = |key: &str| -> Vec<Vec<f64>> { of[key].as_array().unwrap().iter().map(numbers).collect() };
    let places = |key: &str| -> Vec<Vector3<f64>> {
        let all: Vec<f64> = rows(key).concat().iter().map(|x| 1e-3 * x).collect();
        all.chunks_exact(3).map(Vector3::from_column_slice).collect()
    };
    let segments: Vec<usize> = numbers(&of["segments"]).iter().map(|s| *s as usize).collect();
    let lengths = numbers(&of["lengths_mm"]);
    let noise_m = 1e-3 * of["noise_mm"].as_f64().unwrap();
    let (measured, truth, prototype) = (places("measured_mm"), places("truth_mm"), places("prototype_mm"));
    let m = segments.len();
    let chain = ArmChain {
        home: measured[0],
        mean: matrix(&of["mean"]),
        wrist_turns: 3,
        joints: [0, 1].map(|k| Vector3::new(0.0, -1e-3 * lengths[k], 0.0)),
        markers: segments.into_iter().zip(places("places_mm")).collect(),
    };
    // start: elbow bent halfway, everything else at rest; the first steps have to find the arm
    let mut start = [0.0; 12];
    start[6] = 1.1;
    let n = measured.len() / m;
    let found = linked::smooth(
        &chain,
        &linked::Measured {
            rate_hz: of["rate_hz"].as_f64().unwrap(),
            places: measured.clone(),
            noise_m: vec![noise_m; m],
        },
        &start.repeat(n),
    )
    .unwrap();
    let mut mine = Vec::new();
    for q in found.q.chunks_exact(12) {
        let (mut x, mut change) = (vec![Vector3::zeros(); m], vec![Vector3::zeros(); 12 * m]);
        chain.place(q, &mut x, &mut change);
        mine.extend(x);
    }
    let off = |a: &[Vector3<f64>], b: &[Vector3<f64>]| {
        let squares: f64 = a.iter().zip(b).map(|(a, b)| (a - b).norm_squared()).sum();
        (squares / (3 * a.len()) as f64).sqrt()
    };
    // what the markers are off by, the prototype, and this one; knots and steps are others, so curves differ by a part of
    // what either is off by
    let (raw, theirs, ours) = (
        off(&measured, &truth),
        off(&prototype, &truth),
        off(&mine, &truth),
    );
    assert!(
        ours < 1.1 * theirs && ours < 0.35 * raw,
        "{raw:e} {theirs:e} {ours:e}"
    );
    assert!(
        off(&mine, &prototype) < 0.6 * theirs,
        "{:e}",
        off(&mine, &prototype)
    );
    let theirs = 1e-3 * of["found_noise_mm"].as_f64().unwrap();
    // a standard error of the noise is 1.3 %, and both have the same markers
    assert!(
        (found.noise_times * noise_m / theirs - 1.0).abs() < 0.01,
        "{}",
        found.noise_times
    );
    assert!(
        (found.lag_1 - of["lag_1"].as_f64().unwrap()).abs() < 0.03,
        "{}",
        found.lag_1
    );
}

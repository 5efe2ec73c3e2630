//! Loads on the hand: recorded forces, cables, elastic bands, loads that begin or end within the trial.

use armload::ground::warning::Warning;
use armload::results::{self as q, TrialResults, flag};
use armload::sheet::TrialSheet;
use armload::smoothing::derivative;
use armload::trial;
use nalgebra::{Rotation3, Vector3};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

type V = Vector3<f64>;

/// Relative difference of two routes that differ by rounding alone.
const ROUNDING: f64 = 1e-9;
/// Left arm against the mirrored right arm, relative (METHOD section 10; the file's decimal numbers are the
/// same but for the sign).
const MIRROR: f64 = 1e-12;
/// Agreement with a multibody engine on clean data at 100 Hz, relative to the peak (METHOD section 10).
const ENGINE: f64 = 1e-3;

const RATE_HZ: f64 = 100.0;
const FRAMES: usize = 401;
const G: f64 = 9.80665;
const SHOULDER: [f64; 3] = [0.05, 1.35, 0.18];
const UPPER_M: f64 = 0.29;
const FOREARM_M: f64 = 0.25;
const KNUCKLES_M: f64 = 0.08;

/// An arm whose elbow bends and whose forearm turns; lab axes are world axes (up +y, forward +x), the file is
/// in mm.
#[derive(Clone, Copy)]
struct Arm {
    left: bool,
    flexion: fn(f64) -> f64,
    pronation: fn(f64) -> f64,
}

fn curl(t: f64) -> f64 {
    1.2 + 0.7 * (2.0 * t + 0.3).sin() + 0.25 * (4.6 * t).sin()
}

fn turn(t: f64) -> f64 {
    0.4 + 0.3 * (1.7 * t).sin()
}

const MOVING: Arm = Arm {
    left: false,
    flexion: curl,
    pronation: turn,
};
const STILL: Arm = Arm {
    left: false,
    flexion: |_| 1.1,
    pronation: |_| 0.4,
};

impl Arm {
    fn elbow(&self) -> V {
        V::from(SHOULDER) - V::y() * UPPER_M
    }
    fn hand_axes(&self, t: f64) -> Rotation3<f64> {
        Rotation3::from_axis_angle(&V::z_axis(), (self.flexion)(t))
            * Rotation3::from_axis_angle(&V::y_axis(), (self.pronation)(t))
    }
    /// A place in the hand (from the wrist), as the right arm has it.
    fn in_hand(&self, t: f64, r: V) -> V {
        self.elbow() + self.hand_axes(t) * (r - V::y() * FOREARM_M)
    }
    fn grip(&self, t: f64) -> V {
        self.in_hand(t, -V::y() * KNUCKLES_M)
    }
    fn points(&self, t: f64) -> Vec<(&'static str, V)> {
        let e = self.elbow();
        vec![
            ("IJ", V::new(0.07, 1.40, 0.0)),
            ("C7", V::new(-0.06, 1.43, 0.0)),
            ("PX", V::new(0.10, 1.20, 0.0)),
            ("T8", V::new(-0.07, 1.18, 0.0)),
            ("SJC", V::from(SHOULDER)),
            ("EL", e + V::z() * 0.035),
            ("EM", e - V::z() * 0.035),
            ("RS", self.in_hand(t, V::z() * 0.027)),
            ("US", self.in_hand(t, -V::z() * 0.027)),
            ("MCP2", self.in_hand(t, V::new(0.0, -KNUCKLES_M, 0.03))),
            ("MCP5", self.in_hand(t, V::new(0.0, -KNUCKLES_M, -0.03))),
        ]
    }
}

fn mirrored(p: V) -> V {
    V::new(p.x, p.y, -p.z)
}

fn marker_time(i: usize) -> f64 {
    i as f64 / RATE_HZ
}

/// A folder with a trial.
struct Trial {
    dir: TempDir,
    arm: Arm,
    gravity: f64,
    filter: String,
    extra: Vec<(&'static str, Vec<Option<V>>)>,
    loads: String,
    noise_m: f64,
}

impl Trial {
    fn new(arm: Arm) -> Self {
        let dir = tempfile::tempdir().unwrap();
        Self {
            dir,
            arm,
            gravity: G,
            filter: "cutoff_hz = \"none\"".into(),
            extra: Vec::new(),
            loads: String::new(),
            noise_m: 0.0,
        }
    }

    fn gravity(mut self, g: f64) -> Self {
        self.gravity = g;
        self
    }

    fn filter(mut self, text: &str) -> Self {
        self.filter = text.into();
        self
    }

    /// A point beside the arm's own, in world coordinates of the right arm.
    fn point(mut self, name: &'static str, at: impl Fn(usize) -> Option<V>) -> Self {
        self.extra.push((name, (0..FRAMES).map(at).collect()));
        self
    }

    fn load(mut self, text: &str) -> Self {
        let side = if self.arm.left { "left" } else { "right" };
        write!(self.loads, "\n[[load]]\nside = \"{side}\"\n{text}\n").unwrap();
        self
    }

    fn file(self, name: &str, header: &str, rows: impl IntoIterator<Item = Vec<f64>>) -> Self {
        let mut text = format!("{header}\n");
        for row in rows {
            text += &row
                .iter()
                .map(|x| if x.is_nan() { String::new() } else { x.to_string() })
                .collect::<Vec<_>>()
                .join(",");
            text.push('\n');
        }
        std::fs::write(self.dir.path().join(name), text).unwrap();
        self
    }

    fn write(&self) -> PathBuf {
        let side = |p: V| if self.arm.left { mirrored(p) } else { p };
        let mut noise = Noise(7);
        let mut text = String::from("time_s");
        let names: Vec<&str> = self
            .arm
            .points(0.0)
            .iter()
            .map(|p| p.0)
            .chain(self.extra.iter().map(|e| e.0))
            .collect();
        for n in &names {
            write!(text, ",{n}_x,{n}_y,{n}_z").unwrap();
        }
        for i in 0..FRAMES {
            let t = marker_time(i);
            write!(text, "\n{t}").unwrap();
            let own = self.arm.points(t).into_iter().map(|p| Some(p.1));
            for p in own.chain(self.extra.iter().map(|e| e.1[i])) {
                match p.map(|p| side(p) * 1000.0) {
                    Some(p) => {
                        let [x, y, z] = [p.x, p.y, p.z].map(|c| {
                            if self.noise_m > 0.0 {
                                c + 1e3 * self.noise_m * noise.next()
                            } else {
                                c
                            }
                        });
                        write!(text, ",{x},{y},{z}").unwrap();
                    }
                    None => text += ",,,",
                }
            }
        }
        std::fs::write(self.dir.path().join("markers.csv"), text + "\n").unwrap();
        let sheet = format!(
            "[trial]\nid = \"t\"\nsides = [\"{}\"]\n[participant]\nsex = \"female\"\nbody_mass_kg = 61.0\nstature_m = 1.68\n[model]\nhand = \"segment\"\ngravity_m_s2 = {}\n\
             [markers]\nfile = \"markers.csv\"\nlength_unit = \"mm\"\nup = \"+y\"\nforward = \"+x\"\n[filter]\n{}\n{}",
            if self.arm.left { "left" } else { "right" },
            self.gravity,
            self.filter,
            self.loads
        );
        let path = self.dir.path().join("sheet.toml");
        std::fs::write(&path, sheet).unwrap();
        path
    }

    fn run(&self) -> TrialResults {
        let sheet = TrialSheet::read(&self.write(), &[]).unwrap_or_else(|e| panic!("{e}"));
        trial::run(&sheet, trial::Extras::default()).unwrap_or_else(|e| panic!("{e}"))
    }
}

/// A repeatable row of numbers with standard deviation 1 (sum of twelve uniform ones).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        (0..12)
            .map(|_| {
                self.0 = self
                    .0
                    .wrapping_mul(6364136223846793005)
                    .wrapping_add(1442695040888963407);
                (self.0 >> 11) as f64 / (1_u64 << 53) as f64
            })
            .sum::<f64>()
            - 6.0
    }
}

fn vector(r: &TrialResults, first: usize, i: usize) -> V {
    V::from_fn(|k, _| r.arms[0].series(first + k)[i])
}

const MOMENTS: [usize; 3] = [q::WRIST_MOMENT_X, q::ELBOW_MOMENT_X, q::SHOULDER_MOMENT_X];
const STATIC_MOMENTS: [usize; 3] = [
    q::WRIST_STATIC_MOMENT_X,
    q::ELBOW_STATIC_MOMENT_X,
    q::SHOULDER_STATIC_MOMENT_X,
];
const FORCES: [usize; 3] = [q::WRIST_FORCE_X, q::ELBOW_FORCE_X, q::SHOULDER_FORCE_X];

/// Largest difference of the vectors of two trials over some frames, relative to the peak.
fn difference(
    a: &TrialResults,
    b: &TrialResults,
    rows: &[usize],
    frames: impl Iterator<Item = usize> + Clone,
) -> f64 {
    rows.iter()
        .map(|row| {
            let peak = frames
                .clone()
                .map(|i| vector(b, *row, i).norm())
                .fold(0.0, f64::max);
            let worst = frames
                .clone()
                .map(|i| (vector(a, *row, i) - vector(b, *row, i)).norm());
            worst.fold(
                0.0,
                |m, d| if d.is_nan() { f64::INFINITY } else { f64::max(m, d) },
            ) / peak
        })
        .fold(0.0, f64::max)
}

fn all() -> std::ops::Range<usize> {
    0..FRAMES
}

/// Warnings of this work, without those about the model and about what these tests do on purpose: forces that
/// never change, no gravity.
fn about_loads(r: &TrialResults) -> Vec<&Warning> {
    // a still upper arm hangs: its plane of elevation is known nowhere
    let on_purpose = |w: &Warning| match w {
        Warning::HandEndpoint { .. }
        | Warning::NoLoad { .. }
        | Warning::NoValues { .. }
        | Warning::ChannelDead { .. } => true,
        Warning::Unusual { what, .. } => what.starts_with("gravity"),
        _ => false,
    };
    r.warnings.iter().filter(|w| !on_purpose(w)).collect()
}

fn rows(rate: f64, from: f64, to: f64, row: impl Fn(f64) -> Vec<f64>) -> Vec<Vec<f64>> {
    let n = ((to - from) * rate).round() as usize;
    (0..=n)
        .map(|i| {
            let t = ((from + i as f64 / rate) * 1e6).round() / 1e6;
            let mut r = vec![t];
            r.extend(row(t));
            r
        })
        .collect()
}

const LAB_BODY: &str =
    "kind = \"recorded-force\"\nfile = \"f.csv\"\nresolved_in = \"lab\"\nforce_on = \"body\"";

fn wavy(t: f64) -> V {
    V::new(
        12.0 + 9.0 * (3.1 * t).sin(),
        -40.0 + 15.0 * (4.0 * t + 1.0).cos(),
        6.0 * (2.2 * t).sin(),
    )
}

fn twist(t: f64) -> V {
    V::new(0.6 * (2.0 * t).sin(), 0.4, -0.5 * (3.0 * t).cos())
}

fn list(v: V) -> Vec<f64> {
    vec![v.x, v.y, v.z]
}

#[test]
fn oracle_a_still_hand_with_a_known_force_and_free_moment() {
    let (f, m) = (V::new(7.0, -31.0, 12.0), V::new(0.4, -0.7, 0.9));
    let (e, g) = (STILL.elbow(), STILL.grip(0.0));
    // equilibrium without weight: the joint takes up what the handle does
    let (want_force, want_moment) = (-f, -((g - e).cross(&f) + m));
    let lab = Trial::new(STILL).gravity(0.0).file(
        "f.csv",
        "time_s,fx,fy,fz,mx,my,mz",
        rows(250.0, 0.0, 4.0, |_| [list(f), list(m)].concat()),
    );
    let hand = STILL.hand_axes(0.0).inverse();
    let in_hand = Trial::new(STILL).gravity(0.0).file(
        "f.csv",
        "time,FX,FY,FZ,MX,MY,MZ",
        rows(250.0, 0.0, 4.0, |_| [list(hand * f), list(hand * m)].concat()),
    );
    let hand_text = LAB_BODY.replace("\"lab\"", "\"hand\"");
    for r in [lab.load(LAB_BODY).run(), in_hand.load(&hand_text).run()] {
        for i in all() {
            for (row, want) in [
                (q::ELBOW_FORCE_X, want_force),
                (q::ELBOW_MOMENT_X, want_moment),
                (q::ELBOW_STATIC_MOMENT_X, want_moment),
            ] {
                assert!(
                    (vector(&r, row, i) - want).norm() < ROUNDING * want.norm(),
                    "{row} {i}: {} {want}",
                    vector(&r, row, i)
                );
            }
        }
    }
}

#[test]
fn oracle_a_recorded_point_of_application_in_the_markers_unit_and_a_point_in_the_hand() {
    let f = V::new(7.0, -31.0, 12.0);
    let (e, p) = (STILL.elbow(), STILL.in_hand(0.0, V::new(0.03, -0.09, 0.02)));
    let want = -(p - e).cross(&f);
    let from_file = Trial::new(STILL)
        .gravity(0.0)
        .file(
            "f.csv",
            "time_s,fx,fy,fz,px,py,pz",
            rows(250.0, 0.0, 4.0, |_| [list(f), list(p * 1000.0)].concat()),
        )
        .load(LAB_BODY)
        .run();
    let fixed = Trial::new(STILL)
        .gravity(0.0)
        .file("f.csv", "time_s,fx,fy,fz", rows(250.0, 0.0, 4.0, |_| list(f)))
        .load(&format!("{LAB_BODY}\nat = {{ hand_m = [0.03, -0.09, 0.02] }}"))
        .run();
    for r in [from_file, fixed] {
        assert!((vector(&r, q::ELBOW_MOMENT_X, 200) - want).norm() < ROUNDING * want.norm());
        assert!(about_loads(&r).is_empty(), "{:?}", r.warnings);
    }
}

#[test]
fn engine_a_handle_that_pushes_and_turns_the_hand() {
    // fixtures/engine/make_engine.py: Pinocchio, cross-checked by MuJoCo
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/engine");
    let r = trial::run(
        &TrialSheet::read(&dir.join("curl_handle.toml"), &[]).unwrap(),
        trial::Extras::default(),
    )
    .unwrap();
    let mut reader = csv::Reader::from_path(dir.join("curl_handle_truth.csv")).unwrap();
    let names: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let truth: Vec<Vec<f64>> = reader
        .records()
        .map(|row| row.unwrap().iter().map(|c| c.parse().unwrap()).collect())
        .collect();
    assert_eq!(truth.len(), r.time_s.len());
    for row in MOMENTS.into_iter().chain(FORCES) {
        let columns: Vec<usize> = (0..3)
            .map(|k| {
                names
                    .iter()
                    .position(|n| *n == format!("right.{}", q::QUANTITIES[row + k].name))
                    .unwrap()
            })
            .collect();
        let of = |i: usize| V::from_fn(|k, _| truth[i][columns[k]]);
        let peak = (0..truth.len()).map(|i| of(i).norm()).fold(0.0, f64::max);
        let worst = (0..truth.len())
            .map(|i| (vector(&r, row, i) - of(i)).norm())
            .fold(0.0, f64::max);
        assert!(
            worst < ENGINE * peak,
            "{}: {worst} of {peak}",
            q::QUANTITIES[row].name
        );
    }
    // the energy audit needs no reference: what the handle puts in is counted
    assert!(r.arms[0].audit.unwrap().relative() < ENGINE);
}

#[test]
fn cross_a_free_weight_written_down_as_a_recorded_force() {
    const MASS: f64 = 7.5;
    let weight = Trial::new(MOVING)
        .load(&format!("kind = \"free-weight\"\nmass_kg = {MASS}"))
        .run();
    let grip: Vec<V> = (0..FRAMES).map(|i| MOVING.grip(marker_time(i))).collect();
    let (_, a) = derivative::twice(&grip, RATE_HZ);
    let by_differences = rows(RATE_HZ, 0.0, 4.0, |t| {
        list((-V::y() * G - a[(t * RATE_HZ).round() as usize]) * MASS)
    });
    let recorded = Trial::new(MOVING)
        .file("f.csv", "time_s,fx,fy,fz", by_differences)
        .load(LAB_BODY)
        .run();
    let d = difference(&recorded, &weight, &[MOMENTS, FORCES].concat(), all());
    assert!(d < ROUNDING, "{d}");
    // the same from accelerations by differences a thousand times a second, away from the ends
    let h = 1e-4;
    let exact = |t: f64| {
        list(
            (-V::y() * G - (MOVING.grip(t + h) - 2.0 * MOVING.grip(t) + MOVING.grip(t - h)) / (h * h)) * MASS,
        )
    };
    let fast = Trial::new(MOVING)
        .file("f.csv", "time_s,fx,fy,fz", rows(1000.0, -0.05, 4.05, exact))
        .load(LAB_BODY)
        .run();
    let d = difference(&fast, &weight, &MOMENTS, 5..FRAMES - 5);
    assert!(d < ENGINE, "{d}");
}

#[test]
fn property_on_the_instrument_is_minus_on_the_body() {
    let file = |sign: f64| {
        rows(500.0, -0.1, 4.1, move |t| {
            [list(wavy(t) * sign), list(twist(t) * sign)].concat()
        })
    };
    let body = Trial::new(MOVING)
        .file("f.csv", "time_s,fx,fy,fz,mx,my,mz", file(1.0))
        .load(LAB_BODY)
        .run();
    let text = LAB_BODY.replace("\"body\"", "\"instrument\"");
    let instrument = Trial::new(MOVING)
        .file("f.csv", "time_s,fx,fy,fz,mx,my,mz", file(-1.0))
        .load(&text)
        .run();
    assert!(
        difference(
            &instrument,
            &body,
            &[MOMENTS, STATIC_MOMENTS, FORCES].concat(),
            all()
        ) < MIRROR
    );
}

#[test]
fn property_hand_axes_and_lab_axes_are_the_same_force() {
    let lab = rows(RATE_HZ, 0.0, 4.0, |t| [list(wavy(t)), list(twist(t))].concat());
    let hand = rows(RATE_HZ, 0.0, 4.0, |t| {
        let r = MOVING.hand_axes(t).inverse();
        [list(r * wavy(t)), list(r * twist(t))].concat()
    });
    let header = "time_s,fx,fy,fz,mx,my,mz";
    let a = Trial::new(MOVING).file("f.csv", header, lab).load(LAB_BODY).run();
    let b = Trial::new(MOVING)
        .file("f.csv", header, hand)
        .load(&LAB_BODY.replace("\"lab\"", "\"hand\""))
        .run();
    assert!(difference(&b, &a, &[MOMENTS, STATIC_MOMENTS, FORCES].concat(), all()) < ROUNDING);
}

#[test]
fn property_a_left_arm_is_the_mirrored_right_arm() {
    let header = "time_s,fx,fy,fz,mx,my,mz,px,py,pz";
    let right = rows(500.0, 0.0, 4.0, |t| {
        [list(wavy(t)), list(twist(t)), list(MOVING.grip(t) * 1e3)].concat()
    });
    // a mirror turns forces and places like arrows, moments the other way
    let left = rows(500.0, 0.0, 4.0, |t| {
        [
            list(mirrored(wavy(t))),
            list(-mirrored(twist(t))),
            list(mirrored(MOVING.grip(t) * 1e3)),
        ]
        .concat()
    });
    let pulled = |z: f64| format!("kind = \"cable\"\ntension_n = 55\npulley = [620, 310, {z}]");
    let band = |z: f64| {
        format!("kind = \"elastic-band\"\nanchor = [-200, 90, {z}]\nforce_length = [[0.2, 0], [2.5, 120]]")
    };
    // numbers in hand axes are the same on both sides
    let in_hand = "kind = \"recorded-force\"\nfile = \"h.csv\"\nresolved_in = \"hand\"\nforce_on = \"instrument\"\nat = { hand_m = [0.02, -0.07, 0.03] }";
    let hand_file = || rows(200.0, 0.0, 4.0, |t| [list(wavy(t)), list(twist(t))].concat());
    let trial = |arm: Arm, file: Vec<Vec<f64>>, z: f64| {
        Trial::new(arm)
            .file("f.csv", header, file)
            .file("h.csv", "time_s,fx,fy,fz,mx,my,mz", hand_file())
            .load(LAB_BODY)
            .load(in_hand)
            .load(&pulled(z))
            .load(&band(-z))
            .run()
    };
    let (a, b) = (
        trial(MOVING, right, 140.0),
        trial(Arm { left: true, ..MOVING }, left, -140.0),
    );
    for (rows, axial) in [(MOMENTS, -1.0), (STATIC_MOMENTS, -1.0), (FORCES, 1.0)] {
        for row in rows {
            let peak = all().map(|i| vector(&a, row, i).norm()).fold(0.0, f64::max);
            for i in all() {
                let d = (mirrored(vector(&b, row, i)) * axial - vector(&a, row, i)).norm();
                assert!(d < MIRROR * peak, "{row} {i}: {d} of {peak}");
            }
        }
    }
}

#[test]
fn property_an_offset_shifts_the_files_clock() {
    let trial = |shift: f64| {
        let rows = rows(1000.0, -0.3, 4.3, |t| list(wavy(t)))
            .into_iter()
            .map(|mut r| {
                r[0] -= shift;
                r
            });
        Trial::new(MOVING)
            .file("f.csv", "time_s,fx,fy,fz", rows)
            .load(&format!("{LAB_BODY}\ntime_offset_s = {shift}"))
            .run()
    };
    assert!(difference(&trial(0.137), &trial(0.0), &MOMENTS, all()) < ROUNDING);
}

#[test]
fn property_outside_of_the_files_time_and_in_its_gaps_nothing_is_given() {
    let file = rows(500.0, 1.0, 3.0, |t| {
        let x = if (1.5..1.7).contains(&t) || (2.0..2.02).contains(&t) {
            f64::NAN
        } else {
            wavy(t).x
        };
        vec![x, wavy(t).y, wavy(t).z]
    });
    let r = Trial::new(MOVING)
        .file("f.csv", "time_s,fx,fy,fz", file)
        .load(LAB_BODY)
        .run();
    // 0.2 s is longer than max_gap_s, 0.02 s is filled
    let expected = |i: usize| (100..=300).contains(&i) && !(150..170).contains(&i);
    for i in all() {
        for row in MOMENTS.into_iter().chain(STATIC_MOMENTS) {
            assert_eq!(vector(&r, row, i).x.is_finite(), expected(i), "{row} {i}");
        }
        assert_eq!(r.arms[0].flags[i] & flag::NO_LOAD != 0, !expected(i), "{i}");
        assert!(r.arms[0].series(q::ELBOW_FLEXION)[i].is_finite());
    }
    let told = r.warnings.iter().find_map(|w| match w {
        Warning::LoadMissing {
            missing,
            frames,
            outside,
            from_s,
            to_s,
            ..
        } => Some((*missing, *frames, *outside, *from_s, *to_s)),
        _ => None,
    });
    assert_eq!(told, Some((220, FRAMES, 200, 1.0, 3.0)));
}

#[test]
fn oracle_the_effective_cutoff_takes_3_db_at_the_files_own_rate() {
    let fc = 6.0;
    let wave = move |t: f64| vec![0.0, 50.0 + 20.0 * (std::f64::consts::TAU * fc * t).sin(), 0.0];
    let r = Trial::new(STILL)
        .gravity(0.0)
        .filter("cutoff_hz = 6")
        .file("f.csv", "time_s,fx,fy,fz", rows(1000.0, 0.0, 4.0, wave))
        .load(LAB_BODY)
        .run();
    let y: Vec<f64> = (100..300).map(|i| vector(&r, q::ELBOW_FORCE_X, i).y).collect();
    let amplitude =
        0.5 * (y.iter().copied().fold(f64::MIN, f64::max) - y.iter().copied().fold(f64::MAX, f64::min));
    // -3 dB: 1/sqrt(2); the wave is read 16.7 times a period, so its top is missed by up to 2 %
    assert!((amplitude / 20.0 - 0.5_f64.sqrt()).abs() < 0.015, "{amplitude}");
    assert_eq!(r.smoothing.signals[0].cutoff_hz, Some(6.0));
    // separated: the force's own
    let r = Trial::new(STILL)
        .filter("cutoff_hz = 6\nforce_cutoff_hz = 20")
        .file("f.csv", "time_s,fx,fy,fz", rows(1000.0, 0.0, 4.0, wave))
        .load(LAB_BODY)
        .run();
    assert_eq!(
        (r.smoothing.cutoff_hz, r.smoothing.signals[0].cutoff_hz),
        (Some(6.0), Some(20.0))
    );
}

#[test]
fn property_automatic_cutoffs_are_apart_unless_one_is_asked_for() {
    let mut noise = Noise(3);
    let quick: Vec<Vec<f64>> = rows(500.0, 0.0, 4.0, |t| {
        list(wavy(t) + V::new(0.0, 8.0 * (60.0 * t).sin(), 0.0))
    })
    .into_iter()
    .map(|mut r| {
        r[1..].iter_mut().for_each(|x| *x += 0.05 * noise.next());
        r
    })
    .collect();
    let mut trial = Trial::new(MOVING)
        .filter("cutoff_hz = \"auto\"\nforce_cutoff_hz = \"same\"")
        .file("f.csv", "time_s,fx,fy,fz", quick.clone())
        .load(LAB_BODY);
    trial.noise_m = 0.0008;
    let r = trial.run();
    let markers = r.smoothing.choice.as_ref().unwrap().cutoff_hz;
    let force = r.smoothing.signals[0].analysis.as_ref().unwrap().cutoff_hz;
    assert!(force > markers + 1.0, "{force} {markers}");
    assert_eq!(
        (r.smoothing.cutoff_hz, r.smoothing.signals[0].cutoff_hz),
        (Some(force), Some(force))
    );
    assert!(
        r.warnings
            .iter()
            .any(|w| matches!(w, Warning::CutoffOfForce { .. }))
    );
    // each has its own, said or not
    for filter in [
        "cutoff_hz = \"auto\"\nforce_cutoff_hz = \"auto\"",
        "cutoff_hz = \"auto\"",
    ] {
        let mut trial = Trial::new(MOVING)
            .filter(filter)
            .file("f.csv", "time_s,fx,fy,fz", quick.clone())
            .load(LAB_BODY);
        trial.noise_m = 0.0008;
        let r = trial.run();
        assert_eq!(
            (r.smoothing.cutoff_hz, r.smoothing.signals[0].cutoff_hz),
            (Some(markers), Some(force)),
            "{filter}"
        );
    }
}

#[test]
fn property_a_force_that_would_fold_is_low_passed_and_told_a_clean_one_is_read_as_it_is() {
    let folds = |r: &TrialResults| r.warnings.iter().any(|w| matches!(w, Warning::ForceFolds { .. }));
    // 95 Hz read 100 times a second would look like 5 Hz
    let hum = |t: f64| vec![0.0, 50.0 + 5.0 * (std::f64::consts::TAU * 95.0 * t).sin(), 0.0];
    let r = Trial::new(STILL)
        .gravity(0.0)
        .file("f.csv", "time_s,fx,fy,fz", rows(1000.0, 0.0, 4.0, hum))
        .load(LAB_BODY)
        .run();
    assert!(folds(&r));
    let worst = (50..350)
        .map(|i| (vector(&r, q::ELBOW_FORCE_X, i).y + 50.0).abs())
        .fold(0.0, f64::max);
    assert!(worst < 0.1, "{worst}");
    let clean = Trial::new(STILL)
        .gravity(0.0)
        .file(
            "f.csv",
            "time_s,fx,fy,fz",
            rows(1000.0, 0.0, 4.0, |t| list(wavy(t))),
        )
        .load(LAB_BODY)
        .run();
    assert!(!folds(&clean));
    let worst = all()
        .map(|i| (vector(&clean, q::ELBOW_FORCE_X, i) + wavy(marker_time(i))).norm())
        .fold(0.0, f64::max);
    assert!(worst < 1e-7, "{worst}");
}

#[test]
fn property_a_wrong_clock_is_pointed_out_and_nothing_is_shifted() {
    let h = 1e-4;
    let held = |t: f64| {
        (-V::y() * G - (MOVING.grip(t + h) - 2.0 * MOVING.grip(t) + MOVING.grip(t - h)) / (h * h)) * 6.0
    };
    let late = |by: f64, stated: f64| {
        let file = rows(1000.0, -1.0, 5.0, move |t| list(held(t - by)));
        Trial::new(MOVING)
            .file("f.csv", "time_s,fx,fy,fz", file)
            .load(&format!("{LAB_BODY}\ntime_offset_s = {stated}"))
            .run()
    };
    let suggestion = |r: &TrialResults| {
        r.warnings.iter().find_map(|w| match w {
            Warning::OffsetSuggested {
                suggested_s, mass_kg, ..
            } => Some((*suggested_s, *mass_kg)),
            _ => None,
        })
    };
    let r = late(0.083, 0.0);
    let (offset, mass) = suggestion(&r).expect("a suggestion");
    assert!(
        (offset + 0.083).abs() < 0.002 && (mass - 6.0).abs() < 0.1,
        "{offset} {mass}"
    );
    let at = 150;
    let unshifted = -held(marker_time(at) - 0.083);
    let arm_free = Trial::new(MOVING).load("kind = \"none\"").run();
    let part = vector(&r, q::WRIST_FORCE_X, at) - vector(&arm_free, q::WRIST_FORCE_X, at);
    assert!((part - unshifted).norm() < 1e-3, "{part} {unshifted}");
    // well stated, or nothing that moves like a weight: silence
    assert_eq!(suggestion(&late(0.083, -0.083)), None);
    let other = Trial::new(MOVING)
        .file(
            "f.csv",
            "time_s,fx,fy,fz",
            rows(1000.0, -1.0, 5.0, |t| list(wavy(t))),
        )
        .load(LAB_BODY)
        .run();
    assert_eq!(suggestion(&other), None);
}

#[test]
fn oracle_a_cable_pulls_along_its_line() {
    let post = V::new(0.8, 0.2, -0.3);
    let (e, g) = (STILL.elbow(), STILL.grip(0.0));
    let tension = 64.0;
    let f = (post - g).normalize() * tension;
    let want = -(g - e).cross(&f);
    let file = || rows(200.0, -0.5, 4.5, move |t| vec![tension + 0.0 * t]);
    let fixed = "pulley = [800, 200, -300]";
    for (text, marker) in [
        (format!("tension_n = {tension}\n{fixed}"), false),
        (format!("tension_n = {tension}\npulley = \"post\""), true),
        (format!("file = \"t.csv\"\ntime_offset_s = 0.2\n{fixed}"), false),
    ] {
        let mut trial = Trial::new(STILL)
            .gravity(0.0)
            .file("t.csv", "time_s,tension", file());
        if marker {
            trial = trial.point("post", |_| Some(post));
        }
        let r = trial.load(&format!("kind = \"cable\"\n{text}")).run();
        for row in [q::ELBOW_MOMENT_X, q::ELBOW_STATIC_MOMENT_X] {
            assert!(
                (vector(&r, row, 200) - want).norm() < ROUNDING * want.norm(),
                "{text}"
            );
        }
    }
}

#[test]
fn property_a_recorded_tension_is_read_at_the_marker_times() {
    let tension = |t: f64| 40.0 + 12.0 * (5.0 * t).sin();
    let r = Trial::new(STILL)
        .gravity(0.0)
        .file(
            "t.csv",
            "time_s,tension",
            rows(500.0, -0.5, 4.5, |t| vec![tension(t + 0.123)]),
        )
        .load("kind = \"cable\"\nfile = \"t.csv\"\ntime_offset_s = 0.123\npulley = [800, 200, -300]")
        .run();
    for i in all() {
        assert!(
            (vector(&r, q::WRIST_FORCE_X, i).norm() - tension(marker_time(i))).abs() < 1e-6,
            "{i}"
        );
    }
    let pushes = Trial::new(STILL)
        .file(
            "t.csv",
            "time_s,tension",
            rows(500.0, 0.0, 4.0, |t| vec![-tension(t)]),
        )
        .load("kind = \"cable\"\nfile = \"t.csv\"\npulley = [800, 200, -300]")
        .run();
    assert!(
        pushes
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::CablePushes { frames: FRAMES, .. }))
    );
}

#[test]
fn oracle_an_elastic_band_by_its_table() {
    let anchor = V::new(0.3, 0.0, 0.3);
    let length = |i: usize| (anchor - MOVING.grip(marker_time(i))).norm();
    let (low, high) = all()
        .map(length)
        .fold((f64::MAX, 0.0_f64), |(a, b), l| (a.min(l), b.max(l)));
    let (first, last) = (low + 0.3 * (high - low), low + 0.8 * (high - low));
    let mid = 0.5 * (first + last);
    let text = format!(
        "kind = \"elastic-band\"\nanchor = [300, 0, 300]\nforce_length = [[{first}, 0], [{mid}, 30], [{last}, 40]]"
    );
    let arm = Trial::new(MOVING).load("kind = \"none\"").run();
    let r = Trial::new(MOVING).load(&text).run();
    let mut seen = [0; 3];
    for i in all() {
        let l = length(i);
        let got = (vector(&r, q::WRIST_FORCE_X, i) - vector(&arm, q::WRIST_FORCE_X, i)).norm();
        if l > last {
            seen[2] += 1;
            assert!(got.is_nan() && r.arms[0].flags[i] & flag::NO_LOAD != 0);
            continue;
        }
        let pull = match l {
            l if l < first => 0.0,
            l if l < mid => 30.0 * (l - first) / (mid - first),
            l => 30.0 + 10.0 * (l - mid) / (last - mid),
        };
        seen[usize::from(l >= first)] += 1;
        assert!((got - pull).abs() < 1e-7, "{i}: {got} {pull}");
    }
    assert!(seen.iter().all(|n| *n > 10), "{seen:?}");
    assert!(
        r.warnings
            .iter()
            .any(|w| matches!(w, Warning::BandOffTable { frames, .. } if *frames == seen[2]))
    );
}

#[test]
fn property_a_load_acts_between_from_s_and_to_s() {
    let inertia = "inertia_kg_m2 = [0.02, 0.005, 0.02]";
    let weight = format!("kind = \"free-weight\"\nmass_kg = 5\nat = [\"bell_a\", \"bell_b\"]\n{inertia}");
    // the weight is seen only around the time in which it is held
    let bell = |z: f64, i: usize| {
        (90..=320)
            .contains(&i)
            .then(|| MOVING.in_hand(marker_time(i), V::new(0.02, -0.08, z)))
    };
    let trial = |text: &str| {
        Trial::new(MOVING)
            .point("bell_a", move |i| bell(0.12, i))
            .point("bell_b", move |i| bell(-0.12, i))
            .load(text)
            .run()
    };
    let (held, throughout) = (
        trial(&format!("{weight}\nfrom_s = 1.0\nto_s = 3.0")),
        trial(&weight),
    );
    let none = Trial::new(MOVING).load("kind = \"none\"").run();
    let rows = [MOMENTS, STATIC_MOMENTS, FORCES].concat();
    assert!(difference(&held, &throughout, &rows, 100..301) < ROUNDING);
    assert!(difference(&held, &none, &rows, (0..100).chain(301..FRAMES)) < ROUNDING);
    assert!(held.arms[0].flags.iter().all(|f| f & flag::GAP == 0));
    assert!(
        held.arms[0].audit.unwrap().relative() < ENGINE,
        "{:?}",
        held.arms[0].audit
    );
    let never = trial(&format!("{weight}\nfrom_s = 30.0"));
    assert!(difference(&never, &none, &rows, all()) < ROUNDING);
    assert!(
        never
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::LoadNeverActs { .. }))
    );
    // a force file need not reach beyond the time in which it counts
    let short = Trial::new(MOVING)
        .file("f.csv", "time_s,fx,fy,fz", rows_of_force(1.0, 3.0))
        .load(&format!("{LAB_BODY}\nfrom_s = 1\nto_s = 3"))
        .run();
    assert!(about_loads(&short).is_empty(), "{:?}", short.warnings);
    assert!(all().all(|i| vector(&short, q::ELBOW_MOMENT_X, i).x.is_finite()));
}

fn rows_of_force(from: f64, to: f64) -> Vec<Vec<f64>> {
    rows(500.0, from, to, |t| list(wavy(t)))
}

#[test]
fn property_several_loads_add_up_and_are_told_apart() {
    let cable = |x: f64| format!("kind = \"cable\"\ntension_n = 50\npulley = [{x}, 900, 300]");
    let (one, other) = (
        Trial::new(MOVING).load(&cable(900.0)).run(),
        Trial::new(MOVING).load(&cable(-900.0)).run(),
    );
    let (both, none) = (
        Trial::new(MOVING).load(&cable(900.0)).load(&cable(-900.0)).run(),
        Trial::new(MOVING).load("kind = \"none\"").run(),
    );
    for row in MOMENTS {
        for i in all() {
            let sum = vector(&one, row, i) + vector(&other, row, i) - vector(&none, row, i);
            assert!((vector(&both, row, i) - sum).norm() < 1e-9);
        }
    }
    let labels: Vec<&str> = both.arms[0].loads.iter().map(|l| l.0.as_str()).collect();
    assert_eq!(labels, ["cable-1", "cable-2"]);
}

#[test]
fn property_a_planar_recording_needs_no_force_across_its_plane() {
    let dir = tempfile::tempdir().unwrap();
    let mut text = String::from("time_s,SJC_x,SJC_y,EJC_x,EJC_y,WJC_x,WJC_y\n");
    for i in 0..50 {
        writeln!(text, "{},0,1.4,0,1.1,0.25,1.1", marker_time(i)).unwrap();
    }
    std::fs::write(dir.path().join("m.csv"), text).unwrap();
    std::fs::write(
        dir.path().join("f.csv"),
        "time_s,fx,fy,px,py\n-0.5,5,-40,0.31,1.12\n0,5,-40,0.31,1.12\n0.5,5,-40,0.31,1.12\n1,5,-40,0.31,1.12\n",
    )
    .unwrap();
    let sheet = format!(
        "[trial]\nid = \"t\"\nsides = [\"right\"]\n[participant]\nsex = \"male\"\nbody_mass_kg = 70\nstature_m = 1.75\n[model]\ngravity_m_s2 = 0\n\
         [markers]\nfile = \"m.csv\"\nlength_unit = \"m\"\nup = \"+y\"\nforward = \"+x\"\n[filter]\ncutoff_hz = \"none\"\n[[load]]\n{LAB_BODY}\n"
    );
    let sheet =
        TrialSheet::from_text(&sheet, &dir.path().join("sheet.toml"), &[]).unwrap_or_else(|e| panic!("{e}"));
    let r = trial::run(&sheet, trial::Extras::default()).unwrap_or_else(|e| panic!("{e}"));
    // -(r x F) in the plane: -(0.31 * -40 - 0.02 * 5)
    assert!((vector(&r, q::ELBOW_MOMENT_X, 25).z - 12.5).abs() < ROUNDING * 12.5);
}

/// A place in the plane of a recording takes the two coordinates that the recording has: statics by hand, and the same
/// as with three numbers; a recording in space wants all three.
#[test]
fn oracle_pulleys_and_anchors_of_a_planar_recording_take_two_numbers() {
    let dir = tempfile::tempdir().unwrap();
    // z forward, y up: x is the axis that is not there
    let mut text = String::from("time_s,SJC_y,SJC_z,EJC_y,EJC_z,WJC_y,WJC_z,ring_y,ring_z\n");
    for i in 0..50 {
        writeln!(text, "{},1.4,0,1.1,0,1.1,0.25,1.1,0.30", marker_time(i)).unwrap();
    }
    std::fs::write(dir.path().join("m.csv"), text).unwrap();
    let run = |load: &str| {
        let sheet = format!(
            "[trial]\nid = \"t\"\nsides = [\"left\"]\n[participant]\nsex = \"male\"\nbody_mass_kg = 70\nstature_m = 1.75\n[model]\ngravity_m_s2 = 0\n\
             [markers]\nfile = \"m.csv\"\nlength_unit = \"m\"\nup = \"+y\"\nforward = \"+z\"\n[filter]\ncutoff_hz = \"none\"\n[[load]]\n{load}\n"
        );
        let sheet = TrialSheet::from_text(&sheet, &dir.path().join("sheet.toml"), &[])
            .unwrap_or_else(|e| panic!("{e}"));
        let results = trial::run(&sheet, trial::Extras::default()).unwrap_or_else(|e| panic!("{e}"));
        vector(&results, q::ELBOW_MOMENT_X, 25).z
    };
    let cable = "kind = \"cable\"\nside = \"left\"\ntension_n = 50.0\nat = [\"ring\"]\npulley = ";
    let (two, three) = (
        run(&format!("{cable}[0.1, 0.30]")),
        run(&format!("{cable}[0, 0.1, 0.30]")),
    );
    // straight down, 0.30 m in front of the elbow: the elbow holds 50 x 0.30 N·m
    assert!((two - 15.0).abs() < ROUNDING * 15.0, "{two}");
    assert_eq!(two, three);
    let band = "kind = \"elastic-band\"\nside = \"left\"\nforce_length = [[0.0, 0.0], [2.0, 100.0]]\nat = [\"ring\"]\nanchor = ";
    // 1.0 m long: 50 N
    assert!((run(&format!("{band}[0.1, 0.30]")) - 15.0).abs() < ROUNDING * 15.0);
    let (status, said) = refused("", "kind = \"cable\"\ntension_n = 50.0\npulley = [0.0, 0.1]");
    assert_eq!(status, 1);
    assert!(
        said.contains("pulley has two numbers") && said.contains("pulley = [x, y, z]"),
        "{said}"
    );
    for wrong in ["[1.0]", "[1.0, 2.0, 3.0, 4.0]", "[\"a\", \"b\"]"] {
        let (status, said) = refused(
            "",
            &format!("kind = \"cable\"\ntension_n = 50.0\npulley = {wrong}"),
        );
        assert!(status == 1 && said.contains("three numbers"), "{said}");
    }
    let (status, said) = refused("", "kind = \"cable\"\ntension_n = 50.0\npulley = [0.0, 900000.0]");
    assert!(status == 1 && said.contains("within 100 m"), "{said}");
}

/// Runs the program on a trial with one load and returns exit status and standard error.
fn refused(file: &str, load: &str) -> (i32, String) {
    let trial = Trial::new(STILL).load(load);
    let sheet = trial.write();
    std::fs::write(trial.dir.path().join("f.csv"), file).unwrap();
    let out = assert_cmd::Command::cargo_bin("armload")
        .unwrap()
        .arg("moments")
        .arg(&sheet)
        .args(["--no-plots", "--out"])
        .arg(trial.dir.path().join("out"))
        .output()
        .unwrap();
    let text = String::from_utf8(out.stderr)
        .unwrap()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    (out.status.code().unwrap_or(-1), text)
}

#[test]
fn cli_faults_in_loads_name_place_found_expected_and_hint() {
    let good = "time_s,fx,fy,fz\n0,1,2,3\n0.01,1,2,3\n";
    let cable = "kind = \"cable\"\npulley = [0, 0, 0]";
    let band = "kind = \"elastic-band\"\nanchor = [0, 0, 0]";
    for (file, load, words) in [
        (
            "time_s,fx,fy\n0,1,2\n0.01,1,2\n",
            LAB_BODY,
            &[
                "f.csv, line 1",
                "the column 'fz' is missing",
                "expected time_s, fx, fy, fz; optional mx, my, mz",
            ][..],
        ),
        (
            "time_s,fx,fy,fz,mx\n0,1,2,3,4\n0.01,1,2,3,4\n",
            LAB_BODY,
            &["the column 'my' is missing", "stand together or not at all"],
        ),
        (
            "fx,fy,fz\n1,2,3\n1,2,3\n",
            LAB_BODY,
            &["line 1", "the column 'time_s' is missing"],
        ),
        (
            "time_s,force_x,fy,fz\n0,1,2,3\n0.01,1,2,3\n",
            LAB_BODY,
            &["the column 'fx' is missing"],
        ),
        (
            "time_s,fx,fy,fz\n0,1,2,3\n0.01,1,oops,3\n",
            LAB_BODY,
            &[
                "f.csv, line 3, column 3 (fy)",
                "found 'oops'",
                "expected a number",
            ],
        ),
        (
            "time_s,fx,fy,fz\n0,1,2,3\n0,1,2,3\n",
            LAB_BODY,
            &["line 3, column 1 (time_s)", "expected time to increase"],
        ),
        ("time_s,fx,fy,fz\n", LAB_BODY, &["there is a header but no rows"]),
        ("", LAB_BODY, &["the file is empty"]),
        (
            good,
            &LAB_BODY.replace("f.csv", "g.csv"),
            &["g.csv", "can't read the file", "relative to the trial sheet"],
        ),
        (
            good,
            "kind = \"recorded-force\"\nfile = \"f.csv\"\nforce_on = \"body\"",
            &["sheet.toml, line", "'load.0.resolved_in' is missing", "palmar"],
        ),
        (
            good,
            "kind = \"recorded-force\"\nfile = \"f.csv\"\nresolved_in = \"lab\"",
            &["'load.0.force_on' is missing", "instrument"],
        ),
        (
            good,
            &LAB_BODY.replace("\"lab\"", "\"laboratory\""),
            &["\"laboratory\"", "expected one of: lab, hand"],
        ),
        (
            good,
            &LAB_BODY.replace("recorded-force", "recorded_force"),
            &["did you mean \"recorded-force\"?", "elastic-band"],
        ),
        (
            good,
            &format!("{LAB_BODY}\nat = [\"gripp\"]"),
            &["the load's point 'gripp' is not in"],
        ),
        (
            good,
            &format!("{LAB_BODY}\ntime_ofset_s = 0.1"),
            &[
                "unknown key 'load.0.time_ofset_s'",
                "did you mean 'time_offset_s'?",
            ],
        ),
        (
            good,
            &format!("{LAB_BODY}\nfrom_s = 2\nto_s = 1"),
            &["'load.0.to_s' is 1", "a time after from_s = 2 s"],
        ),
        (
            good,
            cable,
            &["'load.0.tension_n' is missing", "columns time_s, tension"],
        ),
        (
            good,
            &format!("{cable}\ntension_n = 5\nfile = \"f.csv\""),
            &["both tension_n and file"],
        ),
        (
            good,
            &format!("{cable}\ntension_n = -5"),
            &["'load.0.tension_n' is -5", "0 to 20000 N"],
        ),
        (
            good,
            &format!("{cable}\nfile = \"f.csv\""),
            &["the column 'tension' is missing"],
        ),
        (
            good,
            "kind = \"cable\"\ntension_n = 5\npulley = \"post\"",
            &[
                "the load's point 'post' is not in",
                "pulley or anchor = [x, y, z]",
            ],
        ),
        (
            good,
            "kind = \"cable\"\ntension_n = 5\npulley = \"MCP2\"\nat = [\"MCP2\"]",
            &[
                "from the point 'right.MCP2' to the same point",
                "another point, or lab coordinates",
            ],
        ),
        (
            good,
            "kind = \"cable\"\ntension_n = 5\npulley = 3",
            &["'load.0.pulley' is the number 3", "markers.length_unit (mm)"],
        ),
        (
            good,
            "kind = \"cable\"\ntension_n = 5\npulley = [0, 0, 1e9]",
            &["within 100 m of the lab's origin"],
        ),
        (
            good,
            "kind = \"cable\"\ntension_n = 5",
            &["'load.0.pulley' is missing"],
        ),
        (
            good,
            band,
            &["'load.0.force_length' is missing", "[length in m, force in N]"],
        ),
        (
            good,
            &format!("{band}\nforce_length = [[0.3, 0]]"),
            &["a table of 1 rows", "at least two rows"],
        ),
        (
            good,
            &format!("{band}\nforce_length = [[0.3, 0], [0.2, 5]]"),
            &["0.2 m after 0.3 m", "lengths that increase"],
        ),
        (
            good,
            &format!("{band}\nforce_length = [[0.3, 0], [0.5, -5]]"),
            &["a force of -5 N", "a band can't push"],
        ),
        (
            good,
            &format!("{band}\nforce_length = [[0.3, 0], [500, 5]]"),
            &["a length of 500 m", "in metres"],
        ),
        (
            good,
            &format!("{band}\nforce_length = [[0.3, 0], [0.5]]"),
            &["a list of 1", "a row of two numbers"],
        ),
        (
            good,
            &format!("{band}\nforce_length = 5"),
            &["the number 5", "at least two rows"],
        ),
    ] {
        let (status, text) = refused(file, load);
        assert_eq!(status, 1, "{load}\n{text}");
        for w in words {
            assert!(text.contains(w), "{load}\n{text}\nlacks: {w}");
        }
    }
    // a cutoff that the force file's rate can't carry
    let trial = Trial::new(STILL)
        .filter("cutoff_hz = 6")
        .file(
            "f.csv",
            "time_s,fx,fy,fz",
            rows(10.0, 0.0, 4.0, |t| list(wavy(t))),
        )
        .load(LAB_BODY);
    let e = trial::run(
        &TrialSheet::read(&trial.write(), &[]).unwrap(),
        trial::Extras::default(),
    )
    .err()
    .unwrap()
    .to_string();
    assert!(
        e.contains("f.csv: the cutoff of 6 Hz is not below half the sampling rate (10 Hz / 2)"),
        "{e}"
    );
}

/// A push that comes at 1 s and goes at 3 s, and nothing outside of that; its point wanders over the hand by
/// centimetres.
fn push(t: f64) -> V {
    // comes and goes within a tenth of a second
    let u = ((1.0 - (t - 2.0).abs()) / 0.1).clamp(0.0, 1.0);
    let s = u * u * (3.0 - 2.0 * u);
    V::new(25.0, -60.0, 10.0 + 8.0 * (5.0 * t).sin()) * s
}

fn wandering(t: f64) -> V {
    MOVING.in_hand(
        t,
        V::new(0.02 * (3.0 * t).sin(), -0.07 + 0.03 * (2.3 * t).cos(), 0.02),
    )
}

const POINT_HEADER: &str = "time_s,fx,fy,fz,px,py,pz";

/// Where the push is said to act at a time; `None`: nothing is said.
type Place<'a> = &'a dyn Fn(f64) -> Option<V>;

/// Rows of the push with its point as `point` writes it, mm; `None` leaves the cells empty.
fn pushed(rate_hz: f64, point: impl Fn(f64) -> Option<V>) -> Vec<Vec<f64>> {
    rows(rate_hz, 0.0, 4.0, |t| {
        [
            list(push(t)),
            list(point(t).map_or(V::repeat(f64::NAN), |p| p * 1e3)),
        ]
        .concat()
    })
}

/// Where the push is less than this its point can be anything, N: the force that counts.
const COUNTS_N: f64 = 5.0;
/// What holding the last point that counts may do: 5 N whose lever is off by what a hand moves in 15 ms, 20
/// mm, in parts of 7 N·m.
const HELD: f64 = 0.015;

#[test]
fn oracle_what_stands_as_a_point_of_application_outside_of_contact_changes_nothing() {
    // the joint's answer to a push: minus the moment of the push about the elbow, whose place is known here
    let trial = |filter: &str, file: Vec<Vec<f64>>| {
        Trial::new(MOVING)
            .gravity(0.0)
            .filter(filter)
            .file("f.csv", POINT_HEADER, file)
            .load(LAB_BODY)
            .run()
    };
    let counts = |t: f64| push(t).norm() > COUNTS_N;
    for filter in [
        "cutoff_hz = \"none\"",
        "cutoff_hz = \"none\"\nforce_cutoff_hz = 8",
    ] {
        let everywhere = trial(filter, pushed(200.0, |t| Some(wandering(t))));
        let nowhere: [(&str, Place<'_>); 3] = [
            ("zero", &|t| {
                Some(if counts(t) { wandering(t) } else { V::zeros() })
            }),
            ("nothing", &|t| counts(t).then(|| wandering(t))),
            ("wild", &|t| {
                Some(if counts(t) {
                    wandering(t)
                } else {
                    V::new(40.0 * (91.0 * t).sin(), -7.0, 3.0)
                })
            }),
        ];
        for (what, point) in nowhere {
            let found = trial(filter, pushed(200.0, point));
            let d = difference(&found, &everywhere, &MOMENTS, all());
            assert!(d < HELD, "{what}, {filter}: {d}");
            assert!(about_loads(&found).is_empty(), "{what}: {:?}", found.warnings);
            assert!(
                all().all(|i| found.arms[0].flags[i] & flag::NO_LOAD == 0),
                "{what}: frames are lost"
            );
        }
        if filter == "cutoff_hz = \"none\"" {
            // against the same arm without a force: what it does to itself is no part of this
            let bare = Trial::new(MOVING)
                .gravity(0.0)
                .filter(filter)
                .load("kind = \"none\"")
                .run();
            for i in all().step_by(7) {
                let t = marker_time(i);
                let want = -(wandering(t) - MOVING.elbow()).cross(&push(t));
                let got = vector(&everywhere, q::ELBOW_MOMENT_X, i) - vector(&bare, q::ELBOW_MOMENT_X, i);
                assert!((got - want).norm() < 1e-6, "{i}: {got} {want}");
            }
        }
    }
}

#[test]
fn cross_a_force_in_hand_axes_at_a_point_of_the_lab_is_the_same_wrench() {
    let in_hand = rows(200.0, 0.0, 4.0, |t| {
        let p = if push(t).norm() > COUNTS_N {
            list(wandering(t) * 1e3)
        } else {
            vec![f64::NAN; 3]
        };
        [list(MOVING.hand_axes(t).inverse() * push(t)), p].concat()
    });
    let lab = Trial::new(MOVING)
        .file("f.csv", POINT_HEADER, pushed(200.0, |t| Some(wandering(t))))
        .load(LAB_BODY)
        .run();
    let hand = Trial::new(MOVING)
        .file("f.csv", POINT_HEADER, in_hand)
        .load(&LAB_BODY.replace("\"lab\"", "\"hand\""))
        .run();
    let d = difference(&hand, &lab, &[MOMENTS, STATIC_MOMENTS].concat(), all());
    assert!(d < HELD, "{d}");
    // smoothed in the hand's axes and smoothed in the lab's are not quite the same, but the lever must not
    // come in by itself
    let smooth = "cutoff_hz = \"none\"\nforce_cutoff_hz = 8";
    let lab = Trial::new(MOVING)
        .filter(smooth)
        .file("f.csv", POINT_HEADER, pushed(200.0, |t| Some(wandering(t))))
        .load(LAB_BODY)
        .run();
    let in_hand = rows(200.0, 0.0, 4.0, |t| {
        [
            list(MOVING.hand_axes(t).inverse() * push(t)),
            if push(t).norm() > COUNTS_N {
                list(wandering(t) * 1e3)
            } else {
                vec![0.0; 3]
            },
        ]
        .concat()
    });
    let hand = Trial::new(MOVING)
        .filter(smooth)
        .file("f.csv", POINT_HEADER, in_hand)
        .load(&LAB_BODY.replace("\"lab\"", "\"hand\""))
        .run();
    let d = difference(&hand, &lab, &MOMENTS, 20..FRAMES - 20);
    assert!(d < 0.02, "{d}");
}

#[test]
fn property_a_point_that_is_missing_while_the_force_counts_is_missing_data() {
    // 0.3 s of it while the push is at its largest, and 0.05 s later on, which is filled
    let lost = |t: f64| (1.8..2.1).contains(&t) || (2.3..2.35).contains(&t);
    for zero in [false, true] {
        let file = pushed(200.0, |t| {
            if lost(t) {
                zero.then(V::zeros)
            } else {
                Some(wandering(t))
            }
        });
        let r = Trial::new(MOVING)
            .file("f.csv", POINT_HEADER, file)
            .load(LAB_BODY)
            .run();
        for i in all() {
            let is_missing = (180..210).contains(&i);
            assert_eq!(r.arms[0].flags[i] & flag::NO_LOAD != 0, is_missing, "{zero} {i}");
            assert_eq!(
                vector(&r, q::ELBOW_MOMENT_X, i).x.is_finite(),
                !is_missing,
                "{zero} {i}"
            );
        }
        assert!(
            r.warnings
                .iter()
                .any(|w| matches!(w, Warning::LoadMissing { missing: 30, .. })),
            "{:?}",
            r.warnings
        );
    }
}

#[test]
fn property_the_energy_of_a_point_that_wanders_over_the_hand_adds_up() {
    // the point itself moves at centimetres a second beside what it touches; only what it touches does work
    let r = Trial::new(MOVING)
        .file("f.csv", POINT_HEADER, pushed(200.0, |t| Some(wandering(t))))
        .load(LAB_BODY)
        .run();
    let audit = r.arms[0].audit.unwrap();
    assert!(audit.relative() < ENGINE, "{}", audit.relative());
    assert!(audit.peak_power_w > 1.0, "{}", audit.peak_power_w);
}

#[test]
fn property_a_point_far_from_the_hand_is_judged_where_the_force_counts() {
    let far = |w: &Warning| matches!(w, Warning::LoadFarFromHand { .. });
    let away = V::new(0.0, 0.0, 2.0);
    let counts = |t: f64| push(t).norm() > COUNTS_N;
    let only_idle_is_far = pushed(200.0, |t| {
        Some(if counts(t) {
            wandering(t)
        } else {
            wandering(t) + away
        })
    });
    let only_idle_is_near = pushed(200.0, |t| {
        Some(if counts(t) {
            wandering(t) + away
        } else {
            wandering(t)
        })
    });
    for (file, said) in [(only_idle_is_far, false), (only_idle_is_near, true)] {
        let r = Trial::new(MOVING)
            .file("f.csv", POINT_HEADER, file)
            .load(LAB_BODY)
            .run();
        assert_eq!(r.warnings.iter().any(far), said, "{:?}", r.warnings);
    }
}

#[test]
fn property_the_place_of_a_force_is_shown_where_it_is_known() {
    let trial = Trial::new(MOVING)
        .file("f.csv", POINT_HEADER, pushed(200.0, |t| Some(wandering(t))))
        .load(LAB_BODY);
    let sheet = TrialSheet::read(&trial.write(), &[]).unwrap();
    let r = trial::run(
        &sheet,
        trial::Extras {
            details: false,
            positions: true,
            other_cutoffs: false,
        },
    )
    .unwrap();
    let positions = r.arms[0].positions.as_ref().unwrap();
    for i in all() {
        let p = V::from(positions.at(q::Positions::LOADS, i));
        let t = marker_time(i);
        if push(t).norm() > 1.1 * COUNTS_N {
            assert!((p - wandering(t)).norm() < 1e-6, "{i}: {p}");
        } else if push(t).norm() < 0.9 * COUNTS_N {
            assert!(p.x.is_nan(), "{i}: {p}");
        }
    }
}

#[test]
fn property_a_pause_in_a_force_file_is_bridged_nowhere() {
    let file = rows(500.0, -0.5, 4.5, |t| list(wavy(t)))
        .into_iter()
        .filter(|r| !(1.5..2.0).contains(&r[0]));
    let r = Trial::new(MOVING)
        .file("f.csv", "time_s,fx,fy,fz", file)
        .load(LAB_BODY)
        .run();
    let whole = Trial::new(MOVING)
        .file(
            "f.csv",
            "time_s,fx,fy,fz",
            rows(500.0, -0.5, 4.5, |t| list(wavy(t))),
        )
        .load(LAB_BODY)
        .run();
    assert_eq!(r.time_s.len(), FRAMES);
    for i in all() {
        let is_missing = (150..200).contains(&i);
        assert_eq!(vector(&r, q::ELBOW_MOMENT_X, i).x.is_finite(), !is_missing, "{i}");
    }
    let d = difference(
        &r,
        &whole,
        &MOMENTS,
        (0..145).chain(205..FRAMES).collect::<Vec<_>>().into_iter(),
    );
    assert!(d < 1e-6, "{d}");
    assert!(
        r.warnings
            .iter()
            .any(|w| matches!(w, Warning::RecordingPauses { file, .. } if file.ends_with("f.csv"))),
        "{:?}",
        r.warnings
    );
}

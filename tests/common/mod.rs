//! What the integration tests share: recordings that are held as numbers, sheets, runs in a folder of their
//! own, error bookkeeping.
#![allow(dead_code)]

pub mod still_arm;

use armload::ground::place::Fault;
use armload::results::{QUANTITIES, TrialResults};
use armload::sheet::TrialSheet;
use armload::trial;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// A file of `fixtures/`.
pub fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(name)
}

/// Text of a file of `fixtures/`.
pub fn fixture_text(name: &str) -> String {
    std::fs::read_to_string(fixture(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// JSON of a file of `fixtures/`.
pub fn fixture_json(name: &str) -> serde_json::Value {
    serde_json::from_str(&fixture_text(name)).unwrap()
}

/// Numbers of a JSON list.
pub fn numbers(v: &serde_json::Value) -> Vec<f64> {
    v.as_array()
        .unwrap_or_else(|| panic!("{v}"))
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect()
}

/// A comma-separated table as text cells.
pub struct Cells {
    /// Column names.
    pub names: Vec<String>,
    columns: HashMap<String, Vec<String>>,
}

impl Cells {
    /// From text.
    pub fn parse(text: &str) -> Self {
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let names: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
        let mut columns: HashMap<String, Vec<String>> =
            names.iter().map(|n| (n.clone(), Vec::new())).collect();
        for row in reader.records() {
            for (name, cell) in names.iter().zip(&row.unwrap()) {
                columns.get_mut(name).unwrap().push(cell.to_owned());
            }
        }
        Self { names, columns }
    }

    /// From a file.
    pub fn read(path: &Path) -> Self {
        Self::parse(&std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display())))
    }

    /// Cells of a column.
    pub fn text(&self, name: &str) -> &[String] {
        self.columns
            .get(name)
            .unwrap_or_else(|| panic!("no column {name}"))
    }

    /// Numbers of a column; empty is NaN.
    pub fn numbers(&self, name: &str) -> Vec<f64> {
        self.text(name)
            .iter()
            .map(|c| {
                if c.is_empty() {
                    f64::NAN
                } else {
                    c.parse().unwrap_or_else(|_| panic!("{name}: {c}"))
                }
            })
            .collect()
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.columns[&self.names[0]].len()
    }
}

/// Points over time, as a marker file carries them (any unit, any lab axes); a missing point has NaN.
#[derive(Clone)]
pub struct Markers {
    /// s
    pub time: Vec<f64>,
    /// Name and positions.
    pub points: Vec<(String, Vec<[f64; 3]>)>,
}

impl Markers {
    /// The engine's curl: mm, lab z up, lab y forward, 321 frames at 100 Hz.
    pub fn curl() -> Self {
        let cells = Cells::parse(&fixture_text("engine/curl_markers.csv"));
        let names: Vec<String> = cells
            .names
            .iter()
            .filter_map(|n| n.strip_suffix("_x"))
            .map(str::to_owned)
            .collect();
        let points = names
            .into_iter()
            .map(|n| {
                let [x, y, z] = ["x", "y", "z"].map(|a| cells.numbers(&format!("{n}_{a}")));
                let at = (0..x.len()).map(|i| [x[i], y[i], z[i]]).collect();
                (n, at)
            })
            .collect();
        Self {
            time: cells.numbers("time_s"),
            points,
        }
    }

    /// The first `frames` frames.
    pub fn first(mut self, frames: usize) -> Self {
        self.time.truncate(frames);
        self.points.iter_mut().for_each(|(_, p)| p.truncate(frames));
        self
    }

    /// Every position changed.
    pub fn moved(mut self, f: impl Fn([f64; 3]) -> [f64; 3]) -> Self {
        self.points
            .iter_mut()
            .for_each(|(_, p)| p.iter_mut().for_each(|x| *x = f(*x)));
        self
    }

    /// Every name changed.
    pub fn renamed(mut self, f: impl Fn(&str) -> String) -> Self {
        self.points.iter_mut().for_each(|(n, _)| *n = f(n));
        self
    }

    /// Without some points.
    pub fn without(mut self, names: &[&str]) -> Self {
        self.points.retain(|(n, _)| !names.contains(&n.as_str()));
        self
    }

    /// Points of both.
    pub fn with(mut self, other: Markers) -> Self {
        self.points.extend(other.points);
        self
    }

    /// Positions of a point.
    pub fn of(&self, name: &str) -> &[[f64; 3]] {
        &self
            .points
            .iter()
            .find(|(n, _)| n == name)
            .unwrap_or_else(|| panic!("no point {name}"))
            .1
    }

    /// Loses a point over some frames.
    pub fn lost(mut self, name: &str, frames: std::ops::Range<usize>) -> Self {
        let point = self
            .points
            .iter_mut()
            .find(|(n, _)| n == name)
            .unwrap_or_else(|| panic!("no point {name}"));
        point.1[frames].fill([f64::NAN; 3]);
        self
    }

    /// Two points carry each other's names over some frames.
    pub fn exchanged(mut self, a: &str, b: &str, frames: std::ops::Range<usize>) -> Self {
        let index = |name: &str| {
            self.points
                .iter()
                .position(|(n, _)| n == name)
                .unwrap_or_else(|| panic!("no point {name}"))
        };
        let (a, b) = (index(a), index(b));
        for f in frames {
            let p = self.points[a].1[f];
            self.points[a].1[f] = self.points[b].1[f];
            self.points[b].1[f] = p;
        }
        self
    }

    /// A shake of every coordinate, evenly spread over plus and minus `half`, the same for the same seed.
    pub fn shaken(mut self, half: f64, seed: u64) -> Self {
        // a linear congruential generator (Knuth's MMIX constants): no statistics are asked of it
        let mut state = seed;
        for x in self.points.iter_mut().flat_map(|(_, p)| p.iter_mut().flatten()) {
            state = state
                .wrapping_mul(6364136223846793005)
                .wrapping_add(1442695040888963407);
            *x += half * ((state >> 11) as f64 / (1u64 << 52) as f64 - 1.0);
        }
        self
    }

    /// Every `step`-th frame at the old rate: the same movement, so many times as fast.
    pub fn faster(mut self, step: usize) -> Self {
        self.points
            .iter_mut()
            .for_each(|(_, p)| *p = p.iter().step_by(step).copied().collect());
        let frames = self.points[0].1.len();
        self.time.truncate(frames);
        self
    }

    /// As a marker file; every number reads back exactly.
    pub fn csv(&self) -> String {
        let mut out = String::from("time_s");
        for (n, _) in &self.points {
            out += &format!(",{n}_x,{n}_y,{n}_z");
        }
        out.push('\n');
        for (i, t) in self.time.iter().enumerate() {
            out += &format!("{t}");
            for (_, p) in &self.points {
                for x in p[i] {
                    out += &if x.is_nan() {
                        ",".to_owned()
                    } else {
                        format!(",{x}")
                    };
                }
            }
            out.push('\n');
        }
        out
    }
}

/// The engine's sheet with text replaced; every old text has to be there.
pub fn curl_sheet(edits: &[(&str, &str)]) -> String {
    edits
        .iter()
        .fold(fixture_text("engine/curl.toml"), |text, (old, new)| {
            assert!(text.contains(old), "the sheet has no {old:?}");
            text.replace(old, new)
        })
}

/// A folder of its own with a sheet and a marker file.
pub struct Folder {
    dir: tempfile::TempDir,
}

impl Folder {
    /// An empty one.
    pub fn new() -> Self {
        Self {
            dir: tempfile::tempdir().unwrap(),
        }
    }

    /// With `sheet.toml` and the engine's marker file name.
    pub fn with(sheet: &str, markers: &str) -> Self {
        let f = Self::new();
        f.write("sheet.toml", sheet);
        f.write("curl_markers.csv", markers);
        f
    }

    /// Path of a file in it.
    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// Writes a file.
    pub fn write(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, text).unwrap();
        path
    }

    /// Runs `sheet.toml` inside this process.
    pub fn run(&self, sets: &[&str]) -> Result<TrialResults, Refused> {
        let sets: Vec<String> = sets.iter().map(|s| (*s).to_owned()).collect();
        let sheet = TrialSheet::read(&self.path("sheet.toml"), &sets).map_err(|e| Refused::of(&e))?;
        trial::run(
            &sheet,
            trial::Extras {
                details: true,
                positions: false,
                other_cutoffs: false,
            },
        )
        .map_err(|e| Refused::of(&e))
    }
}

/// A refusal as a user reads it.
#[derive(Debug)]
pub struct Refused {
    /// Message and hint.
    pub text: String,
}

impl Refused {
    fn of(e: &dyn Fault) -> Self {
        Self {
            text: format!("{e}\nhint: {}", e.hint().unwrap_or_default()),
        }
    }
}

/// Runs a sheet with a marker file inside this process.
pub fn run(sheet: &str, markers: &str) -> Result<TrialResults, Refused> {
    Folder::with(sheet, markers).run(&[])
}

/// Runs a sheet with a marker file that have to be good.
pub fn run_good(sheet: &str, markers: &Markers) -> TrialResults {
    run(sheet, &markers.csv()).unwrap_or_else(|e| panic!("{}", e.text))
}

/// A written column of a trial (`right.elbow.flexion_deg`), in the unit of its name.
pub fn column(results: &TrialResults, name: &str) -> Vec<f64> {
    let (side, quantity) = name.split_once('.').unwrap();
    let arm = results
        .arms
        .iter()
        .find(|a| a.side.name() == side)
        .unwrap_or_else(|| panic!("no {side} arm"));
    let row = QUANTITIES
        .iter()
        .position(|q| q.name == quantity)
        .unwrap_or_else(|| panic!("no quantity {quantity}"));
    arm.series(row)
        .iter()
        .map(|x| x * QUANTITIES[row].unit.scale())
        .collect()
}

/// A column of `details.csv`.
pub fn detail(results: &TrialResults, name: &str) -> Vec<f64> {
    let (side, rest) = name.split_once('.').unwrap();
    let arm = results.arms.iter().find(|a| a.side.name() == side).unwrap();
    arm.details
        .iter()
        .find(|(n, _)| n == rest)
        .unwrap_or_else(|| panic!("no detail {rest}"))
        .1
        .clone()
}

/// Largest size of a vector whose components are columns.
pub fn peak_of_vector(x: &[f64], y: &[f64], z: &[f64]) -> f64 {
    (0..x.len())
        .map(|i| (x[i] * x[i] + y[i] * y[i] + z[i] * z[i]).sqrt())
        .fold(0.0, f64::max)
}

/// Largest absolute value.
pub fn peak(x: &[f64]) -> f64 {
    x.iter().map(|v| v.abs()).fold(0.0, f64::max)
}

/// Largest distance of two series over some frames; missing values count as infinitely far.
pub fn farthest(a: &[f64], b: &[f64], frames: impl Iterator<Item = usize>) -> f64 {
    frames
        .map(|i| {
            let d = (a[i] - b[i]).abs();
            if d.is_nan() { f64::INFINITY } else { d }
        })
        .fold(0.0, f64::max)
}

/// Collects errors as multiples of their limits and fails at the end with the worst of them.
#[derive(Default)]
pub struct Worst {
    entries: Vec<(f64, String)>,
}

impl Worst {
    /// Notes an error.
    pub fn note(&mut self, what: impl Into<String>, error: f64, limit: f64) {
        let ratio = if error.is_nan() {
            f64::INFINITY
        } else {
            error / limit
        };
        self.entries.push((
            ratio,
            format!("{} is off by {error:.3e}, limit {limit:.3e}", what.into()),
        ));
    }

    /// Fails if any is beyond its limit; says the worst otherwise (seen with `--nocapture`).
    pub fn judge(mut self, title: &str) {
        self.entries.sort_by(|a, b| b.0.total_cmp(&a.0));
        let (ratio, text) = self.entries.first().expect("nothing was compared");
        let beyond: Vec<&str> = self
            .entries
            .iter()
            .filter(|e| e.0 > 1.0)
            .map(|e| e.1.as_str())
            .collect();
        assert!(
            beyond.is_empty(),
            "{title}: {} of {} beyond their limits:\n{}",
            beyond.len(),
            self.entries.len(),
            beyond.join("\n")
        );
        println!(
            "{title}: worst of {}: {text} ({:.2} % of the limit)",
            self.entries.len(),
            100.0 * ratio
        );
    }
}

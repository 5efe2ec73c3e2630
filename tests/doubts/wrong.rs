//! Recordings and sheets that are physically wrong, made from good ones by one change each.

use crate::common::Markers;
use armload::demo;
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// A trial as files: the sheet, the markers, and what else it names.
#[derive(Clone)]
pub struct Files {
    /// Text of the sheet.
    pub sheet: String,
    /// The marker file, unless `others` has a file of its name.
    pub markers: Markers,
    /// Other files by name.
    pub others: BTreeMap<String, Vec<u8>>,
}

/// What has to become of a wrong trial.
pub enum Becomes {
    /// Refused with a message that holds this.
    Refused(&'static str),
    /// Doubted by a warning of this kind, which turns the verdict.
    Doubted(&'static str),
    /// Remarked by the verdict in these words.
    Remarked(&'static str),
}

use Becomes::{Doubted, Refused, Remarked};

/// A wrong trial.
pub struct Wrong {
    /// What is wrong.
    pub name: &'static str,
    /// The trial.
    pub files: Files,
    /// What has to become of it.
    pub becomes: Becomes,
}

/// Frames of the demonstration in use: a quick lift and a slow lower.
const FRAMES: std::ops::Range<usize> = 725..1015;
/// Lab axes of the demonstration: x forward, y left, z up; mm.
const GRAVITY_MM_S2: f64 = 9806.65;
const RATE_HZ: f64 = 100.0;

fn parse(text: &str) -> Markers {
    let lines: Vec<Vec<&str>> = text
        .lines()
        .filter(|l| !l.starts_with('#'))
        .map(|l| l.split(',').collect())
        .collect();
    let names: Vec<&str> = lines[0].iter().filter_map(|n| n.strip_suffix("_x")).collect();
    let rows = &lines[1..][FRAMES];
    let number = |cell: &str| {
        if cell.is_empty() {
            f64::NAN
        } else {
            cell.parse().unwrap()
        }
    };
    let points = names.iter().enumerate().map(|(i, n)| {
        let at = rows
            .iter()
            .map(|r| [0, 1, 2].map(|k| number(r[1 + 3 * i + k])))
            .collect();
        ((*n).to_owned(), at)
    });
    Markers {
        time: rows.iter().map(|r| r[0].parse().unwrap()).collect(),
        points: points.collect(),
    }
}

fn demo_text(name: &str) -> &'static str {
    static FILES: OnceLock<Vec<demo::DemoFile>> = OnceLock::new();
    &FILES
        .get_or_init(demo::files)
        .iter()
        .find(|f| f.name == name)
        .unwrap()
        .text
}

impl Files {
    fn demo(id: &str) -> Self {
        let sheet = demo_text(&format!("{id}.toml")).replace(&format!("{id}_markers.csv"), "markers.csv");
        Self {
            sheet,
            markers: parse(demo_text(&format!("{id}_markers.csv"))),
            others: BTreeMap::new(),
        }
    }

    /// The demonstration's right arm with a dumbbell.
    pub fn one() -> Self {
        Self::demo("q07-clean")
    }

    /// Both arms, with marker noise.
    pub fn both() -> Self {
        Self::demo("q12-both-arms")
    }

    /// Without the trunk's landmarks.
    pub fn without_trunk(mut self) -> Self {
        self.markers = self.markers.without(&["IJ", "PX", "C7", "T8"]);
        self
    }

    /// The loads replaced.
    pub fn load(mut self, text: &str) -> Self {
        let end = self.sheet.find("[[load]]").unwrap();
        self.sheet.truncate(end);
        self.sheet += text;
        self
    }

    /// The dumbbell as a handle would have recorded it: fx, fy, fz on the body in lab axes, N; no free moment
    /// to speak of.
    pub fn force() -> Self {
        let mut out = Self::one();
        let table = out.handle(7.5, |f, _| f, |t| t);
        out.others.insert("handle.csv".into(), table.into());
        out.load(&recorded("handle.csv", "right"))
    }

    /// A force table of a mass that moves with the dumbbell; `on` changes force and moment of each row, `at`
    /// its time.
    fn handle(
        &self,
        mass_kg: f64,
        on: impl Fn([f64; 3], usize) -> [f64; 3],
        at: impl Fn(f64) -> f64,
    ) -> String {
        let middle = self.middle(&["right_bell_thumb_side", "right_bell_little_side"]);
        let n = middle.len();
        let acceleration = |i: usize, k: usize| {
            let i = i.clamp(2, n - 3);
            let p = |j: usize| middle[j][k];
            // fourth-order central difference
            (-p(i - 2) + 16.0 * p(i - 1) - 30.0 * p(i) + 16.0 * p(i + 1) - p(i + 2)) / 12.0
                * RATE_HZ
                * RATE_HZ
        };
        let mut out = String::from("time_s,fx,fy,fz,mx,my,mz\n");
        for i in 0..n {
            let f = [0, 1, 2]
                .map(|k| -mass_kg * 1e-3 * (acceleration(i, k) + if k == 2 { GRAVITY_MM_S2 } else { 0.0 }));
            let f = on(f, i);
            let m = [0.31, -0.12, 0.05].map(|m: f64| m * (1.0 + 0.2 * (i as f64 * 0.05).sin()));
            out += &format!(
                "{},{},{},{},{},{},{}\n",
                at(self.markers.time[i]),
                f[0],
                f[1],
                f[2],
                m[0],
                m[1],
                m[2]
            );
        }
        out
    }

    fn middle(&self, names: &[&str]) -> Vec<[f64; 3]> {
        let n = names.len() as f64;
        (0..self.markers.time.len())
            .map(|i| [0, 1, 2].map(|k| names.iter().map(|p| self.markers.of(p)[i][k]).sum::<f64>() / n))
            .collect()
    }

    /// A cable to a low pulley in front.
    pub fn cable() -> Self {
        Self::one().load("[[load]]\nkind = \"cable\"\nside = \"right\"\ntension_n = 60.0\npulley = [900.0, -180.0, 60.0]\n")
    }

    /// A band to the floor.
    pub fn band() -> Self {
        Self::one().load(
            "[[load]]\nkind = \"elastic-band\"\nside = \"right\"\nanchor = [150.0, -180.0, 20.0]\nforce_length = [[0.40, 0.0], [0.80, 40.0], [1.20, 75.0], [1.60, 105.0]]\n",
        )
    }

    /// The right hand's share of a bar with a marker in its middle, 0.35 m to the left.
    pub fn bar() -> Self {
        let mut out = Self::one();
        let middle = out.middle(&["right_bell_thumb_side", "right_bell_little_side"]);
        out.markers.points.push((
            "bar".into(),
            middle.into_iter().map(|[x, y, z]| [x, y + 350.0, z]).collect(),
        ));
        out.load("[[load]]\nkind = \"shared-bar\"\nside = \"right\"\nmass_kg = 14.0\nshare = 0.5\nat = [\"bar\"]\n")
    }

    /// Joint centres of the right arm in a picture: pixels, y down.
    pub fn picture() -> Self {
        let mut out = Self::one();
        let two = |out: &Self, a: &str, b: &str| out.middle(&[a, b]);
        let m = Markers {
            time: out.markers.time.clone(),
            points: vec![
                ("SJC".into(), out.markers.of("right.SJC").to_vec()),
                ("EJC".into(), two(&out, "right.EL", "right.EM")),
                ("WJC".into(), two(&out, "right.RS", "right.US")),
            ],
        };
        let mut csv = String::from("time_s,SJC_x,SJC_y,EJC_x,EJC_y,WJC_x,WJC_y\n");
        for (i, t) in m.time.iter().enumerate() {
            csv += &format!("{t}");
            for (_, p) in &m.points {
                csv += &format!(",{:.2},{:.2}", 600.0 + 0.8 * p[i][0], 1500.0 - 0.8 * p[i][2]);
            }
            csv.push('\n');
        }
        out.others.insert("markers.csv".into(), csv.into());
        out.load("[[load]]\nkind = \"free-weight\"\nside = \"right\"\nmass_kg = 7.5\n")
            .set(
                "length_unit = \"mm\"",
                "length_unit = \"px\"\nscale = { length_px = 400.0, length_m = 0.5 }",
            )
            .set("up = \"+z\"", "up = \"-y\"")
            .set("hand = \"segment\"", "hand = \"lumped\"")
    }

    /// The curl as a Motion-BIDS recording with a time column (LATENCY) and a stated rate.
    pub fn bids(stated_hz: f64) -> Self {
        let mut out = Self::one();
        let stem = "sub-Q07_task-curl_tracksys-markers";
        let mut channels =
            String::from("name\tcomponent\ttype\ttracked_point\tunits\ntime\tn/a\tLATENCY\tn/a\ts\n");
        for (name, _) in &out.markers.points {
            for axis in ["x", "y", "z"] {
                channels += &format!("{name}_{axis}\t{axis}\tPOS\t{name}\tmm\n");
            }
        }
        let rows = out.markers.csv().split_once('\n').unwrap().1.replace(',', "\t");
        out.others.insert(format!("{stem}_motion.tsv"), rows.into());
        out.others.insert(format!("{stem}_channels.tsv"), channels.into());
        out.others.insert(
            format!("{stem}_motion.json"),
            format!("{{\"SamplingFrequency\": {stated_hz}}}").into(),
        );
        out.set("file = \"markers.csv\"", &format!("file = \"{stem}_motion.tsv\""))
    }

    /// Text of the sheet replaced; it has to be there.
    pub fn set(mut self, old: &str, new: &str) -> Self {
        assert!(
            self.sheet.contains(old),
            "the sheet has no {old:?}:\n{}",
            self.sheet
        );
        self.sheet = self.sheet.replace(old, new);
        self
    }

    /// A line added after another.
    fn after(self, line: &str, more: &str) -> Self {
        self.set(line, &format!("{line}\n{more}"))
    }

    /// Tables added before the loads.
    fn table(self, text: &str) -> Self {
        self.set("[muscles]", &format!("{text}\n[muscles]"))
    }

    fn times(mut self, f: impl Fn(usize, f64) -> f64) -> Self {
        self.markers.time = self
            .markers
            .time
            .iter()
            .enumerate()
            .map(|(i, t)| f(i, *t))
            .collect();
        self
    }

    /// Without the time column.
    fn timeless(mut self) -> Self {
        let csv: String = self
            .markers
            .csv()
            .lines()
            .map(|l| l.split_once(',').unwrap().1.to_owned() + "\n")
            .collect();
        self.others.insert("markers.csv".into(), csv.into());
        self
    }

    fn point(mut self, name: &str, f: impl Fn(usize, [f64; 3]) -> [f64; 3]) -> Self {
        let p = self
            .markers
            .points
            .iter_mut()
            .find(|(n, _)| n == name)
            .unwrap_or_else(|| panic!("no point {name}"));
        p.1.iter_mut().enumerate().for_each(|(i, x)| *x = f(i, *x));
        self
    }

    /// A point takes the place of another.
    fn onto(self, name: &str, other: &str) -> Self {
        let there = self.markers.of(other).to_vec();
        self.point(name, |i, _| there[i])
    }

    fn moved(mut self, f: impl Fn([f64; 3]) -> [f64; 3]) -> Self {
        self.markers = self.markers.moved(f);
        self
    }

    /// The handle's table changed.
    fn forces(mut self, on: impl Fn([f64; 3], usize) -> [f64; 3], at: impl Fn(f64) -> f64) -> Self {
        let table = self.handle(7.5, on, at);
        self.others.insert("handle.csv".into(), table.into());
        self
    }

    /// A text file changed.
    fn file(mut self, name: &str, f: impl Fn(String) -> String) -> Self {
        let text = String::from_utf8(self.others[name].clone()).unwrap();
        self.others.insert(name.into(), f(text).into());
        self
    }
}

/// A recorded force in lab axes at the grip.
pub fn recorded(file: &str, side: &str) -> String {
    format!(
        "[[load]]\nkind = \"recorded-force\"\nside = \"{side}\"\nfile = \"{file}\"\nresolved_in = \"lab\"\nforce_on = \"body\"\n"
    )
}

/// Columns of a table of numbers changed, by name.
fn columns(text: String, f: impl Fn(&str, f64, usize) -> f64) -> String {
    let (header, rows) = text.split_once('\n').unwrap();
    let names: Vec<&str> = header.split(',').collect();
    let changed = rows.lines().enumerate().map(|(i, l)| {
        let cells: Vec<String> = l
            .split(',')
            .zip(&names)
            .map(|(c, n)| f(n, c.parse().unwrap(), i).to_string())
            .collect();
        cells.join(",") + "\n"
    });
    format!("{header}\n{}", changed.collect::<String>())
}

/// A C3D fixture as a trial of its own; `f` changes its bytes.
pub fn c3d(more: &str, f: impl Fn(&mut Vec<u8>)) -> Files {
    let mut bytes = std::fs::read(crate::common::fixture("c3d/arm_and_handle.c3d")).unwrap();
    f(&mut bytes);
    let sheet = format!(
        "[trial]\nid = \"c3d\"\nsides = [\"right\"]\n[participant]\nsex = \"female\"\nbody_mass_kg = 61.0\nstature_m = 1.68\n\
         [markers]\nfile = \"trial.c3d\"\nlength_unit = \"mm\"\nup = \"+z\"\nforward = \"+y\"\n{more}\n[filter]\ncutoff_hz = \"none\"\n[[load]]\nkind = \"none\"\n"
    );
    let markers = Markers {
        time: Vec::new(),
        points: Vec::new(),
    };
    Files {
        sheet,
        markers,
        others: BTreeMap::from([("trial.c3d".to_owned(), bytes)]),
    }
}

const AT: &str = "at = [\"right_bell_thumb_side\", \"right_bell_little_side\"]";
const MASS: &str = "mass_kg = 7.5";

/// Everything wrong that is tried.
pub fn all() -> Vec<Wrong> {
    let mut out = Vec::new();
    let mut add = |name, becomes, files| out.push(Wrong { name, files, becomes });
    time(&mut add);
    person(&mut add);
    loads(&mut add);
    forces(&mut add);
    lines(&mut add);
    places(&mut add);
    movement(&mut add);
    out
}

type Add<'a> = &'a mut dyn FnMut(&'static str, Becomes, Files);

fn time(add: Add<'_>) {
    let one = Files::one;
    let counts = "counts rows";
    add(
        "frames counted from 0",
        Refused(counts),
        one().times(|i, _| i as f64),
    );
    add(
        "frames counted from 1",
        Refused(counts),
        one().times(|i, _| i as f64 + 1.0),
    );
    add(
        "frames counted from 4001",
        Refused(counts),
        one().times(|i, _| i as f64 + 4001.0),
    );
    add(
        "frames counted, one left out",
        Refused(counts),
        one().times(|i, _| if i > 200 { i as f64 + 1.0 } else { i as f64 }),
    );
    add(
        "every second frame number",
        Refused("apart on average"),
        one().times(|i, _| 2.0 * i as f64),
    );
    add(
        "milliseconds",
        Refused("apart on average"),
        one().times(|_, t| 1e3 * t),
    );
    add(
        "milliseconds at 1000 Hz",
        Refused(counts),
        one().times(|i, _| 250.0 + i as f64),
    );
    add(
        "milliseconds at 2000 Hz",
        Doubted("slow-sampling"),
        one().times(|i, _| 0.5 * i as f64),
    );
    add(
        "whole seconds with jitter of 1 Hz",
        Refused("1 a second"),
        one().times(|i, _| i as f64 + if i % 2 == 0 { 2e-4 } else { 0.0 }),
    );
    add(
        "microseconds",
        Refused("apart on average"),
        one().times(|_, t| 1e6 * t),
    );
    add(
        "times ten",
        Doubted("slow-sampling"),
        one().times(|_, t| 10.0 * t),
    );
    add(
        "times eight",
        Doubted("slow-sampling"),
        one().times(|_, t| 8.0 * t),
    );
    add(
        "time divided by ten",
        Doubted("unusual"),
        one().times(|_, t| 0.1 * t),
    );
    add(
        "time divided by three",
        Doubted("unusual"),
        one().times(|_, t| t / 3.0),
    );
    add(
        "time in minutes",
        Doubted("smoothing-takes-movement"),
        one().times(|_, t| t / 60.0),
    );
    add(
        "time in hours",
        Refused("apart on average"),
        one().times(|_, t| t / 3600.0),
    );
    add(
        "rate_hz ten times too high",
        Doubted("unusual"),
        one().timeless().after("length_unit = \"mm\"", "rate_hz = 1000"),
    );
    add(
        "rate_hz eight times too low",
        Doubted("slow-sampling"),
        one().timeless().after("length_unit = \"mm\"", "rate_hz = 12.5"),
    );
    add(
        "rate_hz of 1",
        Doubted("slow-sampling"),
        one().timeless().after("length_unit = \"mm\"", "rate_hz = 1"),
    );
    add(
        "rate_hz against the time column",
        Doubted("rate-differs"),
        one().after("length_unit = \"mm\"", "rate_hz = 50"),
    );
    add(
        "a BIDS description of another rate",
        Refused("SamplingFrequency"),
        Files::bids(50.0),
    );
    add(
        "rate_hz against a BIDS description",
        Refused("markers.rate_hz"),
        Files::bids(100.0).after("length_unit = \"mm\"", "rate_hz = 200"),
    );
    // the header's rate is the real in words 11 and 12 (C3D user guide, from memory)
    add(
        "a C3D header of another rate",
        Refused("the rate"),
        c3d("", |b| b[20..24].copy_from_slice(&50.0_f32.to_le_bytes())),
    );
    add(
        "rate_hz against a C3D file",
        Refused("markers.rate_hz"),
        c3d("rate_hz = 200", |_| ()),
    );
    add(
        "a force file that counts rows",
        Refused(counts),
        Files::force().forces(|f, _| f, |t| (t * RATE_HZ).round()),
    );
    add(
        "a force file in ms",
        Refused("apart on average"),
        Files::force().forces(|f, _| f, |t| 1e3 * t),
    );
    add(
        "a force file ten times too slow",
        Refused("no moment in common"),
        Files::force().forces(|f, _| f, |t| 10.0 * t),
    );
    add(
        "a force file ten times too fast",
        Refused("no moment in common"),
        Files::force().forces(|f, _| f, |t| 0.1 * t),
    );
    add(
        "a force file 0.2 s late",
        Doubted("offset-suggested"),
        Files::force().forces(|f, _| f, |t| t + 0.2),
    );
}

fn person(add: Add<'_>) {
    let one = Files::one;
    let mass = "body_mass_kg = 66.0";
    let stature = "stature_m = 1.72";
    let over = |text: &str| one().table(&format!("[model.override.right.{text}\n"));
    add(
        "body mass in pounds",
        Doubted("unusual"),
        one().set(mass, "body_mass_kg = 145.5"),
    );
    add(
        "body mass of 400 kg",
        Doubted("unusual"),
        one().set(mass, "body_mass_kg = 400.0"),
    );
    add(
        "body mass of 200 kg",
        Doubted("unusual"),
        one().set(mass, "body_mass_kg = 200.0"),
    );
    add(
        "body mass in stones",
        Doubted("unusual"),
        one().set(mass, "body_mass_kg = 10.4"),
    );
    add(
        "body mass in g",
        Refused("body_mass_kg"),
        one().set(mass, "body_mass_kg = 66000.0"),
    );
    add(
        "body weight in N",
        Refused("body_mass_kg"),
        one().set(mass, "body_mass_kg = 647.0"),
    );
    add(
        "body mass of 32 kg",
        Doubted("unusual"),
        one().set(mass, "body_mass_kg = 32.0"),
    );
    add(
        "body mass of 300 kg without stature",
        Doubted("unusual"),
        one().set(mass, "body_mass_kg = 300.0").set(stature, ""),
    );
    add(
        "mass and stature exchanged",
        Refused("stature_m"),
        one()
            .set(mass, "body_mass_kg = 1.72")
            .set(stature, "stature_m = 66"),
    );
    add(
        "stature in cm",
        Refused("stature_m"),
        one().set(stature, "stature_m = 172"),
    );
    add(
        "stature of 2.72 m",
        Doubted("unusual"),
        one().set(stature, "stature_m = 2.72"),
    );
    add(
        "stature of 1.02 m",
        Doubted("unusual"),
        one().set(stature, "stature_m = 1.02"),
    );
    add(
        "a forearm of 50 kg",
        Doubted("unusual"),
        over("forearm]\nmass_kg = 50"),
    );
    add(
        "a forearm of 10 kg",
        Doubted("unusual"),
        over("forearm]\nmass_kg = 10"),
    );
    add(
        "a forearm in pounds",
        Doubted("unusual"),
        over("forearm]\nmass_kg = 2.2"),
    );
    add(
        "an upper arm of 0.2 kg",
        Doubted("unusual"),
        over("upper_arm]\nmass_kg = 0.2"),
    );
    add("a hand of 4 kg", Doubted("unusual"), over("hand]\nmass_kg = 4"));
    add(
        "a hand of 37 g as kg",
        Doubted("unusual"),
        over("hand]\nmass_kg = 37"),
    );
    add(
        "a mass centre beyond the wrist",
        Doubted("unusual"),
        over("forearm]\ncom_fraction = 1.2"),
    );
    add(
        "a mass centre from the wrong end",
        Doubted("unusual"),
        over("forearm]\ncom_fraction = 0.05"),
    );
    add(
        "radii in tens of percent",
        Doubted("unusual"),
        over("forearm]\nradii_of_gyration_fraction = { x = 1.6, y = 1.0, z = 1.6 }"),
    );
    add(
        "a segment's inertia in kg cm²",
        Doubted("unusual"),
        over("forearm]\ninertia_kg_m2 = [58.0, 9.0, 60.0]"),
    );
    add(
        "no gravity",
        Doubted("unusual"),
        one().after("hand = \"segment\"", "gravity_m_s2 = 0.0"),
    );
    add(
        "gravity of the moon",
        Doubted("unusual"),
        one().after("hand = \"segment\"", "gravity_m_s2 = 1.62"),
    );
    add(
        "gravity with two digits exchanged",
        Doubted("unusual"),
        one().after("hand = \"segment\"", "gravity_m_s2 = 8.91"),
    );
    add(
        "gravity in ft/s²",
        Refused("gravity_m_s2"),
        one().after("hand = \"segment\"", "gravity_m_s2 = 32.2"),
    );
    add(
        "gravity in g",
        Doubted("unusual"),
        one().after("hand = \"segment\"", "gravity_m_s2 = 1.0"),
    );
    add(
        "gravity turned",
        Refused("gravity_m_s2"),
        one().after("hand = \"segment\"", "gravity_m_s2 = -9.81"),
    );
    add(
        "a moment arm of 19 cm",
        Doubted("unusual"),
        one().set("model = \"shared\"", "moment_arm_m = 0.19"),
    );
    add(
        "a moment arm in cm",
        Refused("moment_arm_m"),
        one().set("model = \"shared\"", "moment_arm_m = 4.0"),
    );
    add(
        "a moment arm of 4 mm",
        Doubted("unusual"),
        one().set("model = \"shared\"", "moment_arm_m = 0.004"),
    );
}

fn loads(add: Add<'_>) {
    let one = Files::one;
    let inertia = |v: &str| one().after(AT, &format!("inertia_kg_m2 = {v}"));
    add(
        "a load in g",
        Refused("mass_kg"),
        one().set(MASS, "mass_kg = 7500"),
    );
    add(
        "a load of 75 kg",
        Doubted("load-implausible"),
        one().set(MASS, "mass_kg = 75"),
    );
    add(
        "a load of 45 kg",
        Doubted("unusual"),
        one().set(MASS, "mass_kg = 45"),
    );
    add(
        "a load of 7.5 g",
        Doubted("load-does-nothing"),
        one().set(MASS, "mass_kg = 0.0075"),
    );
    add(
        "a load's inertia in kg cm²",
        Doubted("unusual"),
        inertia("[310.0, 87.0, 310.0]"),
    );
    add(
        "a load's inertia in g m²",
        Doubted("unusual"),
        inertia("[31.0, 8.7, 31.0]"),
    );
    add(
        "a load's inertia ten times too large",
        Doubted("unusual"),
        inertia("[3.1, 0.87, 3.1]"),
    );
    add(
        "a load's inertia in t m²",
        Doubted("unusual"),
        inertia("[3.1e-5, 8.7e-6, 3.1e-5]"),
    );
    let hand = |p: &str| one().set(AT, &format!("at = {{ hand_m = {p} }}"));
    add(
        "a load two metres below the hand",
        Doubted("load-off-hand"),
        hand("[0.0, -2.0, 0.0]"),
    );
    add(
        "a load above the elbow",
        Doubted("load-off-hand"),
        hand("[0.0, 0.6, 0.0]"),
    );
    add(
        "a load in cm from the wrist",
        Refused("hand_m"),
        hand("[2.8, -7.9, 0.0]"),
    );
    add(
        "a load at C7",
        Doubted("load-off-hand"),
        one().set(AT, "at = [\"C7\"]"),
    );
    add(
        "a load at the shoulder",
        Doubted("load-off-hand"),
        one().set(AT, "at = [\"right.SJC\"]"),
    );
    add(
        "a load at the elbow",
        Doubted("unusual"),
        one().set(AT, "at = [\"right.EL\", \"right.EM\"]"),
    );
    add(
        "a load between a bell and the trunk",
        Doubted("load-off-hand"),
        one().set(AT, "at = [\"right_bell_thumb_side\", \"IJ\"]"),
    );
    let bells = ["right_bell_thumb_side", "right_bell_little_side"];
    let each = |files: Files, f: &dyn Fn(usize, [f64; 3]) -> [f64; 3]| {
        bells.iter().fold(files, |files, b| files.point(b, f))
    };
    add(
        "a load at the origin throughout",
        Doubted("load-off-hand"),
        each(one(), &|_, _| [0.0; 3]),
    );
    add(
        "a load in metres",
        Doubted("load-off-hand"),
        each(one(), &|_, p| p.map(|x| 1e-3 * x)),
    );
    add(
        "a load in other axes",
        Doubted("load-off-hand"),
        each(one(), &|_, [x, y, z]| [z, x, y]),
    );
    let frozen = |files: Files, from: usize| {
        bells.iter().fold(files, |files, b| {
            let p = files.markers.of(b).to_vec();
            files.point(b, |i, x| if i > from { p[from] } else { x })
        })
    };
    add("a frozen load", Doubted("load-off-hand"), frozen(one(), 0));
    add(
        "a load that freezes on the way",
        Doubted("load-off-hand"),
        frozen(one(), 70),
    );
    let late = |files: Files, by: usize| {
        bells.iter().fold(files, |files, b| {
            let p = files.markers.of(b).to_vec();
            files.point(b, |i, _| p[(i + by).min(p.len() - 1)])
        })
    };
    add(
        "a load of another take",
        Doubted("load-off-hand"),
        late(one(), 60),
    );
    add("a load 0.2 s late", Doubted("load-off-hand"), late(one(), 20));
    let both = Files::both;
    let left = "at = [\"left_bell_thumb_side\", \"left_bell_little_side\"]";
    add(
        "the other hand's load",
        Doubted("load-off-hand"),
        both().set(AT, left),
    );
    add("the loads of both hands exchanged", Doubted("load-off-hand"), {
        let held = both().set(AT, "at = [\"swap\"]").set(left, AT);
        held.set("at = [\"swap\"]", left)
    });
    let weight = "[[load]]\nkind = \"free-weight\"\nside = \"right\"\nmass_kg = 7.5\n";
    add(
        "the same load twice",
        Doubted("load-twice"),
        one().load(&weight.repeat(2)),
    );
    add("the same load twice, with its points", Doubted("load-twice"), {
        let block = format!("{weight}{AT}\n");
        one().load(&block.repeat(2))
    });
    add(
        "a load that never acts",
        Doubted("load-never-acts"),
        one().after(AT, "from_s = 100.0"),
    );
    let bar = Files::bar;
    add(
        "a bar's middle at the origin",
        Doubted("load-off-hand"),
        bar().point("bar", |_, _| [0.0; 3]),
    );
    add("a frozen bar", Doubted("load-off-hand"), {
        let p = bar().markers.of("bar")[0];
        bar().point("bar", |_, _| p)
    });
    add(
        "a bar's middle at the trunk",
        Doubted("load-off-hand"),
        bar().set("at = [\"bar\"]", "at = [\"C7\"]"),
    );
    add(
        "a bar of 140 kg",
        Doubted("load-implausible"),
        bar().set("mass_kg = 14.0", "mass_kg = 140.0"),
    );
}

fn forces(add: Add<'_>) {
    let force = Files::force;
    let scaled = |by: f64| force().forces(|f, _| f.map(|x| by * x), |t| t);
    add("a force in mN", Doubted("unusual"), scaled(1e3));
    add(
        "a force a hundred times too large",
        Doubted("unusual"),
        scaled(1e2),
    );
    add("a force ten times too large", Doubted("unusual"), scaled(10.0));
    add("a force in kN", Doubted("load-does-nothing"), scaled(1e-3));
    let moments = |by: f64| {
        force().file("handle.csv", |t| {
            columns(t, |n, x, _| if n.starts_with('m') { by * x } else { x })
        })
    };
    add("moments in N mm", Doubted("unusual"), moments(1e3));
    add("moments in N cm, larger ones", Doubted("unusual"), moments(2e2));
    let channel = |f: &dyn Fn(&str, f64, usize) -> f64| {
        force().file("handle.csv", |t| {
            columns(t, |n, x, i| if n == "time_s" { x } else { f(n, x, i) })
        })
    };
    add(
        "all channels dead",
        Doubted("channel-dead"),
        channel(&|_, _, _| 0.0),
    );
    add(
        "all channels stuck",
        Doubted("channel-dead"),
        channel(&|n, _, _| if n == "fz" { -73.0 } else { 0.4 }),
    );
    add(
        "a dead channel",
        Doubted("channel-dead"),
        channel(&|n, x, _| if n == "fz" { 0.0 } else { x }),
    );
    add(
        "a stuck channel",
        Doubted("channel-dead"),
        channel(&|n, x, _| if n == "fx" { 3.7 } else { x }),
    );
    add(
        "a stuck moment",
        Doubted("channel-dead"),
        channel(&|n, x, _| if n == "mx" { 3.7 } else { x }),
    );
    let turned = "force-turned";
    add("a force with its sign turned", Doubted(turned), scaled(-1.0));
    add(
        "a force on the instrument",
        Doubted(turned),
        force().set("force_on = \"body\"", "force_on = \"instrument\""),
    );
    add(
        "a force with fx and fz exchanged",
        Doubted(turned),
        force().forces(|[x, y, z], _| [z, y, x], |t| t),
    );
    add(
        "a force with axes in turn",
        Doubted(turned),
        force().forces(|[x, y, z], _| [y, z, x], |t| t),
    );
    add(
        "a lab's force read in the hand",
        Doubted(turned),
        force().set("resolved_in = \"lab\"", "resolved_in = \"hand\""),
    );
    add("a marker file as force file", Refused("column"), {
        let mut f = force();
        f.others.insert("handle.csv".into(), f.markers.csv().into());
        f
    });
    let with_point = |f: &dyn Fn([f64; 3]) -> [f64; 3]| {
        let mut files = force();
        let p = files.middle(&["right_bell_thumb_side", "right_bell_little_side"]);
        let table = String::from_utf8(files.others["handle.csv"].clone()).unwrap();
        let rows = table.lines().enumerate().map(|(i, l)| match i {
            0 => format!("{l},px,py,pz\n"),
            i => {
                let [x, y, z] = f(p[i - 1]);
                format!("{l},{x},{y},{z}\n")
            }
        });
        files
            .others
            .insert("handle.csv".into(), rows.collect::<String>().into());
        files
    };
    add(
        "points of application in m",
        Doubted("load-far-from-hand"),
        with_point(&|p| p.map(|x| 1e-3 * x)),
    );
    add(
        "points of application in other axes",
        Doubted("load-far-from-hand"),
        with_point(&|[x, y, z]| [z, x, y]),
    );
    add(
        "points of application 0.9 m beside",
        Doubted("load-far-from-hand"),
        with_point(&|[x, y, z]| [x, y - 900.0, z]),
    );
    add("points of application 0.4 m in front", Doubted("unusual"), {
        // a hand does not hold 73 N with that lever: 29 N·m at the grip, and its sensor says so in moments
        // that are 0.3 N·m
        let f = with_point(&|[x, y, z]| [x + 450.0, y, z]);
        f.file("handle.csv", |t| {
            columns(t, |n, x, _| if n.starts_with('f') { 2.0 * x } else { x })
        })
    });
    add("one force on both hands", Doubted("load-twice"), {
        let mut f = Files::both();
        let table = Files::force().others["handle.csv"].clone();
        f.others.insert("handle.csv".into(), table);
        f.load(&(recorded("handle.csv", "right") + &recorded("handle.csv", "left")))
    });
    add(
        "a force at the shoulder",
        Doubted("load-off-hand"),
        force().after("force_on = \"body\"", "at = [\"right.SJC\"]"),
    );
}

fn lines(add: Add<'_>) {
    let cable = Files::cable;
    let tension = "tension_n = 60.0";
    add(
        "a tension of 20,000 N",
        Doubted("unusual"),
        cable().set(tension, "tension_n = 20000"),
    );
    add(
        "a tension of 6,000 N",
        Doubted("unusual"),
        cable().set(tension, "tension_n = 6000"),
    );
    add(
        "a tension of 900 N",
        Doubted("unusual"),
        cable().set(tension, "tension_n = 900"),
    );
    add(
        "a tension in kN",
        Doubted("load-does-nothing"),
        cable().set(tension, "tension_n = 0.06"),
    );
    add(
        "a tension of nothing",
        Doubted("load-does-nothing"),
        cable().set(tension, "tension_n = 0.0"),
    );
    add(
        "a tension that pushes",
        Refused("tension_n"),
        cable().set(tension, "tension_n = -60"),
    );
    let pulley = "[900.0, -180.0, 60.0]";
    add(
        "a pulley 90 m away",
        Doubted("unusual"),
        cable().set(pulley, "[90000.0, -180.0, 60.0]"),
    );
    add(
        "a pulley on the hand",
        Doubted("line-end-on-hand"),
        cable().set(pulley, "\"right.MCP2\""),
    );
    add(
        "a cable held at the shoulder",
        Doubted("load-off-hand"),
        cable().set(tension, "tension_n = 60.0\nat = [\"right.SJC\"]"),
    );
    let recorded = |f: &dyn Fn(usize) -> f64| {
        let mut files = cable().set(tension, "file = \"tension.csv\"");
        let rows = files
            .markers
            .time
            .iter()
            .enumerate()
            .map(|(i, t)| format!("{t},{}\n", f(i)));
        let table = String::from("time_s,tension\n") + &rows.collect::<String>();
        files.others.insert("tension.csv".into(), table.into());
        files
    };
    add(
        "a recorded tension that is stuck",
        Doubted("channel-dead"),
        recorded(&|_| 61.0),
    );
    add(
        "a recorded tension with its sign turned",
        Doubted("cable-pushes"),
        recorded(&|i| -60.0 - 5.0 * (0.03 * i as f64).sin()),
    );
    add(
        "a recorded tension in mN",
        Doubted("unusual"),
        recorded(&|i| 6e4 + 5e3 * (0.03 * i as f64).sin()),
    );
    add(
        "a recorded tension in kN",
        Doubted("load-does-nothing"),
        recorded(&|i| 0.06 + 5e-3 * (0.03 * i as f64).sin()),
    );
    let band = Files::band;
    let table = "[[0.40, 0.0], [0.80, 40.0], [1.20, 75.0], [1.60, 105.0]]";
    add(
        "a band that is never taut",
        Doubted("load-does-nothing"),
        band().set(table, "[[4.0, 0.0], [8.0, 40.0]]"),
    );
    add(
        "a band's lengths in cm",
        Refused("force_length"),
        band().set(table, "[[40, 0.0], [80, 40.0], [120, 75.0]]"),
    );
    add(
        "a band's forces in mN",
        Refused("force_length"),
        band().set(table, "[[0.4, 0.0], [0.8, 40000.0], [1.6, 105000.0]]"),
    );
    add(
        "a band's forces a hundred times too large",
        Doubted("unusual"),
        band().set(table, "[[0.4, 0.0], [0.8, 4000.0], [1.6, 10500.0]]"),
    );
    add(
        "a band's forces in kN",
        Doubted("load-does-nothing"),
        band().set(table, "[[0.4, 0.0], [0.8, 0.04], [1.6, 0.105]]"),
    );
    add(
        "a band that is too short",
        Doubted("band-off-table"),
        band().set(table, "[[0.1, 0.0], [0.3, 40.0]]"),
    );
    add(
        "a band's anchor on the hand",
        Doubted("line-end-on-hand"),
        band().set("[150.0, -180.0, 20.0]", "\"right.MCP5\""),
    );
}

fn places(add: Add<'_>) {
    let one = Files::one;
    let together = "in one place";
    add(
        "both epicondyles in one place",
        Refused(together),
        one().onto("right.EM", "right.EL"),
    );
    add(
        "both styloids in one place",
        Refused(together),
        one().onto("right.RS", "right.US"),
    );
    add(
        "both knuckles in one place",
        Refused(together),
        one().onto("right.MCP2", "right.MCP5"),
    );
    add(
        "two points of the trunk in one place",
        Refused(together),
        one().onto("IJ", "C7"),
    );
    add(
        "front and back of the trunk in one place",
        Refused(together),
        one().onto("PX", "T8"),
    );
    add(
        "an epicondyle at the wrist",
        Refused(together),
        one().onto("right.EM", "right.US"),
    );
    add(
        "a knuckle at the wrist",
        Refused(together),
        one().onto("right.MCP5", "right.US"),
    );
    add(
        "the shoulder at the neck",
        Refused(together),
        one().onto("right.SJC", "C7"),
    );
    add(
        "both epicondyles in one place now and then",
        Doubted("points-meet"),
        {
            let p = one().markers.of("right.EL").to_vec();
            one().point("right.EM", |i, x| if (120..180).contains(&i) { p[i] } else { x })
        },
    );
    add(
        "up reversed",
        Doubted("up-implausible"),
        one().set("up = \"+z\"", "up = \"-z\""),
    );
    add(
        "forward reversed",
        Doubted("faces-elsewhere"),
        one().set("forward = \"+x\"", "forward = \"-x\""),
    );
    let posture = "posture-implausible";
    let no_trunk = || one().without_trunk();
    add(
        "up reversed without a trunk",
        Doubted(posture),
        no_trunk().set("up = \"+z\"", "up = \"-z\""),
    );
    add(
        "forward reversed without a trunk",
        Doubted(posture),
        no_trunk().set("forward = \"+x\"", "forward = \"-x\""),
    );
    add(
        "up forward without a trunk",
        Doubted(posture),
        no_trunk()
            .set("up = \"+z\"", "up = \"+x\"")
            .set("forward = \"+x\"", "forward = \"+z\""),
    );
    add(
        "up to the left without a trunk",
        Doubted(posture),
        no_trunk().set("up = \"+z\"", "up = \"+y\""),
    );
    add(
        "up reversed, both arms without a trunk",
        Doubted(posture),
        Files::both()
            .without_trunk()
            .set("up = \"+z\"", "up = \"-z\"")
            .set("forward = \"+x\"", "forward = \"+x\""),
    );
    let centres = || {
        let mut f = no_trunk();
        let (e, w) = (
            f.middle(&["right.EL", "right.EM"]),
            f.middle(&["right.RS", "right.US"]),
        );
        f.markers = f.markers.without(&[
            "right.EL",
            "right.EM",
            "right.RS",
            "right.US",
            "right.MCP2",
            "right.MCP5",
        ]);
        f.markers
            .points
            .extend([("right.EJC".to_owned(), e), ("right.WJC".to_owned(), w)]);
        f.set("hand = \"segment\"", "hand = \"lumped\"")
    };
    add(
        "up reversed, joint centres only",
        Doubted(posture),
        centres().set("up = \"+z\"", "up = \"-z\""),
    );
    add(
        "a picture with y up",
        Doubted("plane-implausible"),
        Files::picture().set("up = \"-y\"", "up = \"+y\""),
    );
    add(
        "a picture from the other side",
        Doubted("plane-implausible"),
        Files::picture().set("forward = \"+x\"", "forward = \"-x\""),
    );
    add(
        "a picture's scale ten times too large",
        Refused("long"),
        Files::picture().set("length_m = 0.5", "length_m = 5.0"),
    );
    add(
        "a picture's scale too large by half",
        Doubted("length-implausible"),
        Files::picture().set("length_m = 0.5", "length_m = 0.75"),
    );
    add(
        "markers in cm",
        Refused("long"),
        one().set("length_unit = \"mm\"", "length_unit = \"cm\""),
    );
    add(
        "markers in inches",
        Refused("long"),
        one().set("length_unit = \"mm\"", "length_unit = \"in\""),
    );
    add(
        "a mirrored lab",
        Doubted("pair-implausible"),
        one().moved(|[x, y, z]| [x, -y, z]),
    );
    add(
        "x and y exchanged",
        Doubted("faces-elsewhere"),
        one().moved(|[x, y, z]| [y, x, z]),
    );
    add(
        "y and z exchanged",
        Doubted("up-implausible"),
        one().moved(|[x, y, z]| [x, z, y]),
    );
    add(
        "axes in turn",
        Doubted("up-implausible"),
        one().moved(|[x, y, z]| [y, z, x]),
    );
    add("the right arm called left", Doubted("pair-implausible"), {
        let mut f = one();
        f.markers = f.markers.renamed(|n| n.replace("right", "left"));
        f.sheet = f.sheet.replace("right", "left");
        f
    });
    add("right and left exchanged", Doubted("side-implausible"), {
        let mut f = Files::both();
        f.markers = f.markers.renamed(|n| match n.split_once('.') {
            Some(("right", p)) => format!("left.{p}"),
            Some(("left", p)) => format!("right.{p}"),
            _ => n.to_owned(),
        });
        f
    });
    let all = FRAMES.len();
    let swapped = |a: &str, b: &str| {
        let mut f = one();
        f.markers = f.markers.exchanged(a, b, 0..all);
        f
    };
    add(
        "epicondyles exchanged",
        Doubted("pair-implausible"),
        swapped("right.EL", "right.EM"),
    );
    add(
        "styloids exchanged",
        Doubted("pair-implausible"),
        swapped("right.RS", "right.US"),
    );
    add(
        "knuckles exchanged",
        Doubted("pair-implausible"),
        swapped("right.MCP2", "right.MCP5"),
    );
    add(
        "elbow and wrist exchanged",
        Refused("long"),
        swapped("right.EL", "right.RS"),
    );
    add(
        "shoulder and elbow exchanged",
        Doubted("length-varies"),
        swapped("right.SJC", "right.EM"),
    );
    add("neck and breastbone exchanged", Doubted("faces-elsewhere"), {
        let mut f = one();
        f.markers = f
            .markers
            .exchanged("IJ", "C7", 0..all)
            .exchanged("PX", "T8", 0..all);
        f
    });
    add("upper and lower trunk exchanged", Doubted("up-implausible"), {
        let mut f = one();
        f.markers = f
            .markers
            .exchanged("IJ", "PX", 0..all)
            .exchanged("C7", "T8", 0..all);
        f
    });
    add("a wrist that freezes", Doubted("length-varies"), {
        let p = one().markers.of("right.RS")[70];
        one().point("right.RS", |i, x| if i > 70 { p } else { x })
    });
    add(
        "one coordinate in cm",
        Refused("long"),
        one().point("right.US", |_, [x, y, z]| [x, y, 0.1 * z]),
    );
    add(
        "a wrist in another column's place",
        Refused("long"),
        one().point("right.US", |_, [x, y, z]| [z, y, x]),
    );
    add(
        "a participant of another stature",
        Doubted("length-implausible"),
        one().set("stature_m = 1.72", "stature_m = 1.30"),
    );
}

fn movement(add: Add<'_>) {
    let one = Files::one;
    let cutoff = |hz: &str| one().set("cutoff_hz = \"auto\"", &format!("cutoff_hz = {hz}"));
    add(
        "a cutoff of 0.3 Hz",
        Doubted("smoothing-takes-movement"),
        cutoff("0.3"),
    );
    add(
        "a cutoff of 0.6 Hz",
        Doubted("smoothing-takes-movement"),
        cutoff("0.6"),
    );
    add(
        "a cutoff of 1 Hz",
        Doubted("smoothing-takes-movement"),
        cutoff("1.0"),
    );
    let noisy = |mm: f64, hz: &str| {
        let mut f = cutoff(hz);
        f.markers = f.markers.shaken(mm, 11);
        f
    };
    add(
        "noise of 1.7 mm and no smoothing",
        Doubted("noise-in-accelerations"),
        noisy(3.0, "\"none\""),
    );
    add(
        "noise of 0.6 mm and no smoothing",
        Doubted("noise-in-accelerations"),
        noisy(1.0, "\"none\""),
    );
    add(
        "noise of 1.7 mm and a cutoff of 40 Hz",
        Doubted("noise-in-accelerations"),
        noisy(3.0, "40"),
    );
    add("noise of 6 mm", Remarked("noise of"), noisy(10.0, "6"));
    add(
        "twice as fast as the demonstration, thrice again",
        Doubted("unusual"),
        {
            let mut f = one();
            f.markers = f.markers.faster(6);
            f
        },
    );
}

/// Trials that are right, some of them at the border of what is usual: none of them may be doubted.
pub fn right() -> Vec<(&'static str, Files)> {
    let one = Files::one;
    let person = |mass: &str, stature: &str| {
        one()
            .set("body_mass_kg = 66.0", &format!("body_mass_kg = {mass}"))
            .set("stature_m = 1.72", &format!("stature_m = {stature}"))
    };
    let gravity = |g: &str| one().after("hand = \"segment\"", &format!("gravity_m_s2 = {g}"));
    let cutoff = |f: Files, hz: &str| f.set("cutoff_hz = \"auto\"", &format!("cutoff_hz = {hz}"));
    let shaken = |mut f: Files, mm: f64| {
        f.markers = f.markers.shaken(mm, 5);
        f
    };
    vec![
        ("one arm", one()),
        ("both arms", Files::both()),
        ("a recorded force", Files::force()),
        ("a cable", Files::cable()),
        ("a band", Files::band()),
        ("a bar", Files::bar()),
        ("a picture", Files::picture()),
        ("no trunk", one().without_trunk()),
        ("both arms, no trunk", Files::both().without_trunk()),
        ("BIDS with times", Files::bids(100.0)),
        // an effective rate is measured, a nominal one is meant
        ("BIDS with a nominal rate", Files::bids(100.4)),
        ("C3D", c3d("", |_| ())),
        ("C3D with its rate in the sheet", c3d("rate_hz = 100", |_| ())),
        ("9.8", gravity("9.8")),
        ("9.81", gravity("9.81")),
        ("10", gravity("10")),
        ("the equator", gravity("9.78")),
        ("the pole", gravity("9.832")),
        ("a light person", person("45", "1.62")),
        ("a heavy person", person("125", "1.78")),
        ("a tall person", person("88", "1.82")),
        ("a heavy dumbbell", one().set(MASS, "mass_kg = 14")),
        ("a light cup", one().set(MASS, "mass_kg = 0.3")),
        ("a dumbbell's own inertia", one().after(AT, "inertia_kg_m2 = [0.031, 0.0087, 0.031]")),
        ("a long bar in one hand", one().after(AT, "inertia_kg_m2 = [1.5, 0.004, 1.5]")),
        ("a load fixed in the hand", one().set(AT, "at = { hand_m = [0.028, -0.079, 0.0] }")),
        ("a club of 0.4 m", one().set(AT, "at = { hand_m = [0.028, -0.079, 0.4] }")),
        ("two plates", one().load("[[load]]\nkind = \"free-weight\"\nmass_kg = 2.5\n[[load]]\nkind = \"free-weight\"\nmass_kg = 1.25\n")),
        ("a load put down", one().after(AT, "to_s = 9.0")),
        ("a load lost when put down", {
            // it acts until 9 s and lies still from then on
            let f = one().after(AT, "to_s = 9.0");
            let stays = |f: Files, name: &str| {
                let p = f.markers.of(name)[180];
                f.point(name, |i, x| if i > 180 { p } else { x })
            };
            stays(stays(f, "right_bell_thumb_side"), "right_bell_little_side")
        }),
        ("a measured forearm", one().table("[model.override.right.forearm]\nmass_kg = 1.1\ncom_fraction = 0.43\n")),
        // radii at the borders of what simulated arms have: thick hands, thick forearms
        ("a thick hand", one().table("[model.override.right.hand]\nradii_of_gyration_fraction = { x = 0.56, y = 0.40, z = 0.50 }\n")),
        ("a thick forearm", one().table("[model.override.right.forearm]\nradii_of_gyration_fraction = { x = 0.27, y = 0.24, z = 0.26 }\n")),
        ("noise of 0.6 mm", shaken(one(), 1.0)),
        ("noise of 0.6 mm, smoothed at 6 Hz", cutoff(shaken(one(), 1.0), "6")),
        ("smoothed at 4 Hz", cutoff(one(), "4")),
        ("not smoothed", cutoff(one(), "\"none\"")),
        ("half as fast", one().times(|_, t| 2.0 * t)),
        ("half as fast again", one().times(|_, t| t / 1.5)),
        ("25 frames a second", one().times(|_, t| 4.0 * t)),
        (
            "a force on the instrument",
            Files::force().forces(|f, _| f.map(|x| -x), |t| t).set("force_on = \"body\"", "force_on = \"instrument\""),
        ),
        // a stack that goes up while the hand goes down: the handle pulls up with m (g - a)
        ("a push-down", Files::force().forces(|[x, y, z], _| [0.1 * x, 0.1 * y, z + 2.0 * 7.5 * 1e-3 * GRAVITY_MM_S2], |t| t)),
        ("a handle with one axis", Files::force().forces(|[_, _, z], _| [0.0, 0.0, z], |t| t)),
        ("a handle without moments", Files::force().file("handle.csv", |t| columns(t, |n, x, _| if n.starts_with('m') { 0.0 } else { x }))),
    ]
}

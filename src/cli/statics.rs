//! `armload statics`

// An error is built once a run: its size costs nothing.
#![allow(clippy::result_large_err)]

use super::say::Talk;
use super::{CAUTIONS, Failure};
use crate::estimate::{self, Beside};
use crate::ground::form::tree::{self, Node, Value};
use crate::ground::place::Place;
use crate::muscles::curves::{Curve, curve};
use crate::report::{self, WriteError, aside, draw};
use crate::statics::practice::System;
use crate::statics::problem::{Problem, empty_sheet, read_sheet, split_list};
use crate::statics::{StaticsError, practice, render, sweep, worked};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// How to write a problem, with examples.
fn help_text() -> String {
    let examples = [
        "armload statics --load \"10 kg at 30 cm\" --forearm \"5 kg at 15 cm\" --flexor \"3 cm\" --elbow \"90 deg\" --g \"9.8 m/s²\"",
        "armload statics --load \"10 kg at 30 cm\" --upper-arm \"180 deg\" --elbow \"90 deg\" --extensor \"2 cm\"",
        "armload statics --load \"80 N at 30 cm, -60 deg\" --forearm \"1.5 kg at 14 cm\" --flexor \"4 cm\"",
        "armload statics --load \"80 N at 30 cm, to 40 cm, -90 cm\" --flexor \"4 cm\"",
        "armload statics --load \"band: 40 cm = 0 N; 60 cm = 45 N; 80 cm = 80 N at 32 cm, to 0 cm, -60 cm\" --flexor \"4 cm\"",
        "armload statics --load \"8 kg at 33 cm\" --curve biceps --curve brachialis --curve brachioradialis",
        "armload statics --load \"? kg at 35 cm\" --forearm \"1.5 kg at 14 cm\" --flexor \"4 cm\" --flexor-force \"900 N\"",
        "armload statics --load \"5 kg at 30 cm\" --elbow \"?\" --elbow-moment \"12 N·m\"",
        "armload statics --load \"5 kg at 30 cm\" --insertion \"5 cm\" --line \"?\" --flexor-force \"450 N\"",
        "armload statics --load \"4 kg at hand\" --sex female --body-mass \"62 kg\" --stature \"5 ft 7 in\" --upper-arm \"45 deg\" --elbow \"60 deg\" --curve biceps",
        "armload statics hold.toml --set flexor.moment_arm=\"4.5 cm\" --out results",
        "armload statics --practice 8 --seed 7 --level 3 --units pound-inch --out handout",
        "armload statics --from try/q07-clean.toml --at 7.78",
    ];
    format!(
        "Quantities carry their units: 10 kg, ½ kg, 22 lb (a mass), 22 lbf, 98 N, 30 cm, 0.3 m, 12 in, 5 ft 7 in, 90 deg, 40 N·m. Put \"?\" in place of the one value to be found: \
         a load's amount, distance or direction, an angle, a muscle's force, moment arm, insertion or line, or --elbow-moment \"?\"; \
         without it the muscle force is found (without a muscle, the net moment).\n\n\
         A load hangs unless it says otherwise: \"80 N at 30 cm, 30 deg\" pulls in a direction (0° straight forwards, + upwards), \"80 N at 30 cm, to 60 cm, -80 cm\" along a line to a pulley or \
         anchor (forward and up from the elbow; add \"from the shoulder\" to count from there). A cable or band may give its force as a table over the length of that line or over the elbow's flexion. \
         Flexors hold what extends the elbow, extensors what bends it. Several muscles of a side share so that the sum of (force / cross-section)³ is the smallest (--sharing for other rules).\n\nExamples:\n  {}\n\n\
         The folder gets solution.md, summary.json, statics.csv (sweep over the elbow angle), freebody.png and statics.png.\n\n\
         A sheet has [problem] (id, title, find, gravity, sharing), [posture] (forearm, elbow or elbow_included, upper_arm), [[weight]] (name, amount, at, on, direction, or towards with towards_from), \
         [flexor] and [extensor], or several as [[flexor]] and [[extensor]] (name, moment_arm, or insertion with line or origin, or curve; force, area), [upper_arm] (length), [given] (elbow_moment, shoulder_moment) and \
         [participant] (sex, body_mass, stature, table, forearm_length, hand_length, upper_arm_length).\n\n{CAUTIONS}",
        examples.join("\n  ")
    )
}

/// Arguments of `armload statics`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = help_text()
)]
pub struct Args {
    /// Problem sheet (TOML); flags add to it or replace its keys
    pub sheet: Option<PathBuf>,
    /// A held load at a distance from the elbow along the forearm, "10 kg at 30 cm", or with a direction or a
    /// place its line is led to; may be repeated
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "AMOUNT at DISTANCE",
        help_heading = "The problem"
    )]
    pub load: Vec<String>,
    /// The forearm's own weight, "5 kg at 15 cm"
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "AMOUNT at DISTANCE",
        help_heading = "The problem"
    )]
    pub forearm: Option<String>,
    /// Another weight on forearm or hand, "watch: 80 g at 24 cm"; may be repeated
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "NAME: AMOUNT at DISTANCE",
        help_heading = "The problem"
    )]
    pub weight: Vec<String>,
    /// A weight on the upper arm, from the shoulder, "2 kg at 13 cm"; may be repeated
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "AMOUNT at DISTANCE",
        help_heading = "The problem"
    )]
    pub upper_arm_weight: Vec<String>,
    /// Shoulder to elbow; asks the shoulder problem too
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "LENGTH",
        help_heading = "The problem"
    )]
    pub upper_arm_length: Option<String>,
    /// Gravity [default: 9.80665 m/s²]
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "ACCELERATION",
        help_heading = "The problem"
    )]
    pub g: Option<String>,
    /// Which of the results is asked: "flexor force", "extensor force", "joint force", "net moment"
    #[arg(long, value_name = "WHAT", help_heading = "The problem")]
    pub find: Option<String>,
    /// Elbow flexion, 0 = straight
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "ANGLE",
        help_heading = "Posture"
    )]
    pub elbow: Option<String>,
    /// Forearm to the horizontal, + with the hand above the elbow
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "ANGLE",
        help_heading = "Posture"
    )]
    pub forearm_angle: Option<String>,
    /// Upper arm from hanging, + forwards
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "ANGLE",
        help_heading = "Posture"
    )]
    pub upper_arm: Option<String>,
    /// A flexor's moment arm, "4 cm"; several share: "biceps: 4 cm, 4.6 cm²"; may be repeated
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "NAME: LENGTH, AREA",
        help_heading = "Muscles"
    )]
    pub flexor: Vec<String>,
    /// An extensor's moment arm on its own side, "2 cm"; may be repeated
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "NAME: LENGTH, AREA",
        help_heading = "Muscles"
    )]
    pub extensor: Vec<String>,
    /// The flexor's insertion on the forearm, from the elbow; with --line or --origin
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "LENGTH",
        help_heading = "Muscles"
    )]
    pub insertion: Option<String>,
    /// The flexor's origin on the upper arm, from the elbow
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "LENGTH",
        help_heading = "Muscles"
    )]
    pub origin: Option<String>,
    /// Line of action of the flexor (without one, of the extensor): an angle to the forearm, "upper arm" or
    /// "vertical"
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "LINE",
        help_heading = "Muscles"
    )]
    pub line: Option<String>,
    /// A muscle with a published moment-arm curve: flexors (together), biceps, brachialis, brachioradialis, pronator teres,
    /// ECRL, extensors (together), triceps, anconeus; may be repeated
    #[arg(long, value_name = "MUSCLE", help_heading = "Muscles")]
    pub curve: Vec<String>,
    /// How several muscles of a side share: "p = 3" or another power above 1, "equal stress", or "least stress"
    /// [default: p = 3]
    #[arg(long, value_name = "RULE", help_heading = "Muscles")]
    pub sharing: Option<String>,
    /// A flexor force to be reached
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "FORCE",
        help_heading = "What the unknown must bring about"
    )]
    pub flexor_force: Option<String>,
    /// An extensor force to be reached
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "FORCE",
        help_heading = "What the unknown must bring about"
    )]
    pub extensor_force: Option<String>,
    /// A net elbow moment to be reached, or "?"
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "MOMENT",
        help_heading = "What the unknown must bring about"
    )]
    pub elbow_moment: Option<String>,
    /// A net shoulder moment to be reached, or "?"
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "MOMENT",
        help_heading = "What the unknown must bring about"
    )]
    pub shoulder_moment: Option<String>,
    /// Segment weights from a table: female or male
    #[arg(long, value_name = "SEX", help_heading = "Participant")]
    pub sex: Option<String>,
    /// Body mass for the table
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "MASS",
        help_heading = "Participant"
    )]
    pub body_mass: Option<String>,
    /// Stature, to scale the table's lengths
    #[arg(
        long,
        allow_hyphen_values = true,
        value_name = "LENGTH",
        help_heading = "Participant"
    )]
    pub stature: Option<String>,
    /// Anthropometric table
    #[arg(long, value_name = "NAME", help_heading = "Participant")]
    pub table: Option<String>,
    /// A problem sheet for a class with this many problems, with answer key and worked solutions (Markdown)
    #[arg(
        long,
        value_name = "N",
        help_heading = "Practice",
        value_parser = clap::value_parser!(u16).range(1..=practice::MOST as i64),
        conflicts_with_all = OF_A_PROBLEM, conflicts_with_all = ["set"]
    )]
    pub practice: Option<u16>,
    /// Which sheet: the same number gives the same problems
    #[arg(
        long,
        value_name = "S",
        default_value_t = 1,
        requires = "practice",
        help_heading = "Practice"
    )]
    pub seed: u64,
    /// 1 one weight at 90°, 2 with the forearm's weight, 3 any angle, 4 shoulder or another unknown, 5 flexors that share [default:
    /// rising]
    #[arg(long, value_name = "1..5", requires = "practice", help_heading = "Practice", value_parser = clap::value_parser!(u8).range(1..=5))]
    pub level: Option<u8>,
    /// Units of the sheet for the class
    #[arg(long, value_name = "metric|pound-inch", requires = "practice", help_heading = "Practice", value_enum, default_value_t = ClassUnits::Metric)]
    pub units: ClassUnits,
    /// A trial sheet: the problem that a student would have set for one instant of it, beside what was
    /// recorded
    #[arg(long, value_name = "TRIAL.toml", help_heading = "From a recording", requires = "at", conflicts_with_all = OF_A_PROBLEM, conflicts_with_all = ["practice"])]
    pub from: Option<PathBuf>,
    /// The instant, in seconds of the recording
    #[arg(
        long,
        value_name = "SECONDS",
        allow_hyphen_values = true,
        help_heading = "From a recording",
        requires = "from"
    )]
    pub at: Option<f64>,
    /// Which arm of the recording [default: the only one, or the right]
    #[arg(
        long,
        value_name = "SIDE",
        help_heading = "From a recording",
        requires = "from"
    )]
    pub side: Option<String>,
    /// Folder for the results [default: reports/{problem id}; --practice prints unless it is given]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Override a key of the sheet by its dotted path; may be repeated
    #[arg(long, value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// Skip the PNG pages
    #[arg(long)]
    pub no_plots: bool,
}

/// Flags that say a problem.
const OF_A_PROBLEM: [&str; 26] = [
    "load",
    "forearm",
    "weight",
    "upper_arm_weight",
    "upper_arm_length",
    "g",
    "find",
    "elbow",
    "forearm_angle",
    "upper_arm",
    "flexor",
    "extensor",
    "insertion",
    "origin",
    "line",
    "curve",
    "sharing",
    "flexor_force",
    "extensor_force",
    "elbow_moment",
    "shoulder_moment",
    "sex",
    "body_mass",
    "stature",
    "table",
    "sheet",
];

/// Units of a problem sheet for a class.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum ClassUnits {
    /// kg, cm, N, N·m
    Metric,
    /// lb, in, lbf, lbf·in
    PoundInch,
}

/// A text with the flag as its place.
fn text_node(flag: &str, value: &str) -> Node {
    Node {
        place: Place::file(format!("--{flag} \"{value}\"")),
        value: Value::Text(value.to_owned()),
    }
}

/// The table under a key, made if it is not there.
fn table<'a>(
    root: &'a mut Node,
    name: &str,
    place: &Place,
) -> Option<&'a mut BTreeMap<String, (Place, Node)>> {
    let Value::Table(t) = &mut root.value else {
        return None;
    };
    let entry = t.entry(name.to_owned()).or_insert_with(|| {
        (
            place.clone(),
            Node {
                place: place.clone(),
                value: Value::Table(BTreeMap::new()),
            },
        )
    });
    if let Value::Table(t) = &mut entry.1.value {
        Some(t)
    } else {
        None
    }
}

fn put(root: &mut Node, section: &str, key: &str, flag: &str, value: &str) {
    put_node(root, section, key, text_node(flag, value));
}

fn put_node(root: &mut Node, section: &str, key: &str, node: Node) {
    // a section that is no table is refused by the reader, with its place
    if let Some(t) = table(root, section, &node.place) {
        t.insert(key.to_owned(), (node.place.clone(), node));
    }
}

/// What stands after a load's distance.
enum Pulls<'a> {
    Direction(&'a str),
    Towards(String),
}

/// `30 cm`, `30 cm, 30 deg` or `30 cm, to 60 cm, -80 cm`: the distance and which way the load pulls.
fn distance_and_pull(parts: &[String]) -> Option<(&str, Option<Pulls<'_>>)> {
    match parts {
        [at] => Some((at, None)),
        [at, way] if !way.starts_with("to ") => Some((at, Some(Pulls::Direction(way)))),
        [at, to, up] => {
            let to = to.strip_prefix("to ")?;
            let to = [
                "a pulley ",
                "the pulley ",
                "an anchor ",
                "the anchor ",
                "a point ",
                "pulley ",
                "anchor ",
            ]
            .iter()
            .find_map(|w| to.strip_prefix(w))
            .unwrap_or(to);
            let to = to.strip_prefix("at ").unwrap_or(to);
            Some((at, Some(Pulls::Towards(format!("{to}, {up}")))))
        }
        _ => None,
    }
}

/// Adds `NAME: AMOUNT at DISTANCE` to the list of weights.
fn add_weight(root: &mut Node, flag: &str, value: &str, name: &str, on: &str) -> Result<(), StaticsError> {
    let place = Place::file(format!("--{flag} \"{value}\""));
    let (name, rest) = match value.split_once(':') {
        Some((n, rest)) if !n.trim().is_empty() => (n.trim(), rest),
        _ => (name, value),
    };
    let incomplete = |what: &str, hint: String| StaticsError::Incomplete {
        place: place.clone(),
        what: what.into(),
        hint,
    };
    let Some((amount, rest)) = rest.split_once(" at ").or_else(|| rest.split_once('@')) else {
        return Err(incomplete(
            "a weight needs an amount and a distance",
            format!("write --{flag} \"10 kg at 30 cm\""),
        ));
    };
    let parts = split_list(rest);
    let Some((at, pull)) = distance_and_pull(&parts) else {
        return Err(incomplete(
            "after the distance a load can have one direction, or one place that its line is led to",
            format!(
                "write --{flag} \"80 N at 30 cm, 30 deg\" or --{flag} \"80 N at 30 cm, to 60 cm, -80 cm\" (forward, up)"
            ),
        ));
    };
    let text = |t: &str| Node {
        place: place.clone(),
        value: Value::Text(t.trim().to_owned()),
    };
    let mut keys = vec![
        ("name", text(name)),
        ("amount", text(amount)),
        ("at", text(at)),
        ("on", text(on)),
    ];
    match &pull {
        Some(Pulls::Direction(d)) => keys.push(("direction", text(d))),
        Some(Pulls::Towards(t)) => keys.push(("towards", text(t))),
        None => {}
    }
    push(root, "weight", &place, keys);
    Ok(())
}

/// Adds a table to a list of tables; one that stands alone so far becomes the first.
fn push(root: &mut Node, list: &str, place: &Place, keys: Vec<(&str, Node)>) {
    let entry: BTreeMap<String, (Place, Node)> = keys
        .into_iter()
        .map(|(k, n)| (k.to_owned(), (place.clone(), n)))
        .collect();
    let entry = Node {
        place: place.clone(),
        value: Value::Table(entry),
    };
    let Value::Table(t) = &mut root.value else { return };
    let held = t.entry(list.to_owned()).or_insert_with(|| {
        (
            place.clone(),
            Node {
                place: place.clone(),
                value: Value::List(Vec::new()),
            },
        )
    });
    // what is neither is refused by the reader, with its place
    match &mut held.1.value {
        Value::List(l) => l.push(entry),
        Value::Table(_) => {
            let first = std::mem::replace(&mut held.1.value, Value::List(Vec::new()));
            let first = Node {
                place: held.1.place.clone(),
                value: first,
            };
            held.1.value = Value::List(vec![first, entry]);
        }
        _ => {}
    }
}

/// Muscles given by flags: `NAME: MOMENT ARM, AREA`. A single one adds to the sheet's own table or replaces
/// its moment arm.
fn add_muscles(root: &mut Node, args: &Args) {
    let several = |n: usize| n > 1;
    let extends = |name: &str| curve(name).is_some_and(Curve::extends);
    let of_extensors = args.curve.iter().filter(|c| extends(c)).count();
    let flexors = args.flexor.len() + args.curve.len() - of_extensors;
    let extensors = args.extensor.len() + of_extensors;
    for (table_name, all, count) in [
        ("flexor", &args.flexor, flexors),
        ("extensor", &args.extensor, extensors),
    ] {
        for v in all {
            let (name, rest) = v
                .split_once(':')
                .map_or((None, v.as_str()), |(n, r)| (Some(n.trim()), r));
            let parts = split_list(rest);
            let area = (parts.len() > 1).then(|| parts[1..].join(", "));
            let keys = [
                ("moment_arm", Some(parts[0].as_str())),
                ("name", name),
                ("area", area.as_deref()),
            ];
            let keys = keys
                .into_iter()
                .filter_map(|(k, t)| Some((k, text_node_of(table_name, v, t?))));
            if several(count) {
                push(
                    root,
                    table_name,
                    &Place::file(format!("--{table_name} \"{v}\"")),
                    keys.collect(),
                );
            } else {
                for (key, node) in keys {
                    put_node(root, table_name, key, node);
                }
            }
        }
    }
    for v in &args.curve {
        let node = text_node("curve", v);
        let (table_name, count) = if extends(v) {
            ("extensor", extensors)
        } else {
            ("flexor", flexors)
        };
        if several(count) {
            push(root, table_name, &node.place.clone(), vec![("curve", node)]);
        } else {
            put_node(root, table_name, "curve", node);
        }
    }
}

/// A part of a flag's value, with the whole flag as its place.
fn text_node_of(flag: &str, value: &str, part: &str) -> Node {
    Node {
        place: Place::file(format!("--{flag} \"{value}\"")),
        value: Value::Text(part.to_owned()),
    }
}

/// Puts a key of a muscle: into its table, or into each of a list.
fn put_muscle(root: &mut Node, section: &str, key: &str, flag: &str, value: &str) {
    let node = text_node(flag, value);
    if let Value::Table(t) = &mut root.value
        && let Some((
            _,
            Node {
                value: Value::List(l),
                ..
            },
        )) = t.get_mut(section)
    {
        for entry in l {
            if let Value::Table(t) = &mut entry.value {
                t.insert(key.to_owned(), (node.place.clone(), node.clone()));
            }
        }
        return;
    }
    put_node(root, section, key, node);
}

/// The sheet with flags and `--set` worked in.
fn gather(args: &Args) -> Result<(Node, String), StaticsError> {
    let (mut root, name) = match &args.sheet {
        Some(path) => (
            read_sheet(path)?,
            path.file_stem()
                .map_or_else(|| "statics".into(), |s| s.to_string_lossy().into_owned()),
        ),
        None => (empty_sheet(), "statics".to_owned()),
    };
    for (i, v) in args.load.iter().enumerate() {
        let name = if args.load.len() > 1 {
            format!("load {}", i + 1)
        } else {
            "load".into()
        };
        add_weight(&mut root, "load", v, &name, "forearm")?;
    }
    if let Some(v) = &args.forearm {
        add_weight(&mut root, "forearm", v, "forearm", "forearm")?;
    }
    for v in &args.weight {
        add_weight(&mut root, "weight", v, "weight", "forearm")?;
    }
    for v in &args.upper_arm_weight {
        add_weight(&mut root, "upper-arm-weight", v, "upper arm", "upper arm")?;
    }
    add_muscles(&mut root, args);
    let line_of = if args.flexor.is_empty()
        && args.curve.is_empty()
        && args.insertion.is_none()
        && !args.extensor.is_empty()
    {
        "extensor"
    } else {
        "flexor"
    };
    let of_muscles = [
        ("flexor", "insertion", "insertion", &args.insertion),
        ("flexor", "origin", "origin", &args.origin),
        (line_of, "line", "line", &args.line),
        ("flexor", "force", "flexor-force", &args.flexor_force),
        ("extensor", "force", "extensor-force", &args.extensor_force),
    ];
    for (section, key, flag, value) in of_muscles {
        if let Some(v) = value {
            put_muscle(&mut root, section, key, flag, v);
        }
    }
    let flags = [
        ("upper_arm", "length", "upper-arm-length", &args.upper_arm_length),
        ("problem", "gravity", "g", &args.g),
        ("problem", "find", "find", &args.find),
        ("posture", "elbow", "elbow", &args.elbow),
        ("posture", "forearm", "forearm-angle", &args.forearm_angle),
        ("posture", "upper_arm", "upper-arm", &args.upper_arm),
        ("problem", "sharing", "sharing", &args.sharing),
        ("given", "elbow_moment", "elbow-moment", &args.elbow_moment),
        (
            "given",
            "shoulder_moment",
            "shoulder-moment",
            &args.shoulder_moment,
        ),
        ("participant", "sex", "sex", &args.sex),
        ("participant", "body_mass", "body-mass", &args.body_mass),
        ("participant", "stature", "stature", &args.stature),
        ("participant", "table", "table", &args.table),
    ];
    for (section, key, flag, value) in flags {
        if let Some(v) = value {
            put(&mut root, section, key, flag, v);
        }
    }
    for s in &args.set {
        tree::set(&mut root, s)?;
    }
    Ok((root, name))
}

fn write_text(path: &Path, text: &str) -> Result<(), WriteError> {
    aside::write(path, |out| {
        out.write_all(text.as_bytes()).map_err(|e| e.to_string())
    })
}

/// Problem sheets: printed, or written as what the class gets and what the teacher keeps, with a picture of
/// each problem and of each free body.
fn run_practice(count: usize, args: &Args, talk: &Talk) -> Result<(), Failure> {
    let system = match args.units {
        ClassUnits::Metric => System::Metric,
        ClassUnits::PoundInch => System::PoundInch,
    };
    let all = practice::sheet(count, args.seed, args.level, system)?;
    let pictures = args.out.is_some() && !args.no_plots;
    let problems = format!(
        "{}\n{CAUTIONS}\n",
        practice::problems(&all, args.seed, system, pictures)
    );
    let answers = practice::answers(&all, args.seed, system, pictures);
    talk.json(&serde_json::json!({
        "command": "statics --practice",
        "seed": args.seed,
        "problems": all.iter().map(|e| serde_json::json!({
            "level": e.level, "text": e.prose, "sheet": e.sheet, "asked": e.asked, "solution": e.worked,
        })).collect::<Vec<_>>(),
        "cautions": CAUTIONS,
    }));
    match &args.out {
        None => talk.line(&format!("{problems}\n{}", answers.trim_end())),
        Some(dir) => {
            aside::make_folder(dir)?;
            write_text(&dir.join("problems.md"), &problems)?;
            write_text(&dir.join("answers.md"), &answers)?;
            if pictures {
                for (i, e) in all.iter().enumerate() {
                    let title = format!("Problem {}", i + 1);
                    draw::save_png(
                        &report::freebody::sketch_page(&e.problem, &title),
                        &dir.join(practice::sketch_file(i)),
                    )?;
                    draw::save_png(
                        &report::freebody::key_page(&e.problem, &e.solution, &title),
                        &dir.join(practice::key_file(i)),
                    )?;
                }
            }
            let drawn = if pictures {
                ", a picture of each problem and of each free body"
            } else {
                ""
            };
            talk.line(&format!(
                "Written to {}: problems.md for the class, answers.md with key and worked solutions{drawn}",
                dir.display()
            ));
        }
    }
    Ok(())
}

/// Runs the command.
pub fn run(args: &Args, talk: &Talk) -> Result<(), Failure> {
    if let Some(count) = args.practice {
        return run_practice(usize::from(count), args, talk);
    }
    if let (Some(trial), Some(at_s)) = (&args.from, args.at) {
        let beside = estimate::of_trial(trial, &args.set, at_s, args.side.as_deref())?;
        beside.warnings.iter().for_each(|w| talk.warning(&w.to_string()));
        let problem = Problem::from_text(&beside.sheet, "the problem made from the recording")?;
        return show(&problem, args, talk, Some(&beside));
    }
    let (node, name) = gather(args)?;
    let problem = Problem::from_node(node, &name)?;
    show(&problem, args, talk, None)
}

/// Solves a problem, says it and writes its folder; `beside` is what a recording says of the same instant.
pub fn show(problem: &Problem, args: &Args, talk: &Talk, beside: Option<&Beside>) -> Result<(), Failure> {
    let solution = problem.solve()?;
    let worked = worked::write(problem, &solution);
    let names: Vec<String> = problem.muscles.iter().map(|m| m.name.clone()).collect();
    let swept = sweep::sweep(&solution.setting, &names);
    let mut json = render::json(problem, &worked, CAUTIONS);
    if let Some(b) = beside {
        json["recorded"] = b.json();
    }
    for line in render::text(&worked) {
        match line {
            render::Line::Heading(t) => talk.heading(&t),
            render::Line::Text(t) => talk.line(&t),
        }
    }
    if let Some(b) = beside {
        talk.heading("Beside the recording");
        b.lines().iter().for_each(|l| talk.line(&format!("  {l}")));
        talk.line("");
    }
    talk.line(CAUTIONS);
    talk.json(&json);

    let dir = args
        .out
        .clone()
        .unwrap_or_else(|| Path::new("reports").join(&problem.id));
    aside::make_folder(&dir)?;
    let recorded = beside.map_or(String::new(), Beside::markdown);
    write_text(
        &dir.join("solution.md"),
        &format!("{}{recorded}\n{CAUTIONS}\n", render::markdown(&worked, 1)),
    )?;
    write_text(&dir.join("summary.json"), &format!("{json:#}\n"))?;
    write_text(&dir.join("statics.csv"), &sweep::csv(&swept))?;
    let mut files = "solution.md, summary.json, statics.csv".to_owned();
    if let Some(b) = beside {
        write_text(&dir.join("problem.toml"), &b.sheet)?;
        files = format!("problem.toml, {files}");
    }
    if !args.no_plots {
        draw::save_png(
            &report::freebody::page(problem, &solution, &worked),
            &dir.join("freebody.png"),
        )?;
        draw::save_png(
            &report::statics::page(problem, &swept, &worked),
            &dir.join("statics.png"),
        )?;
        files += ", freebody.png, statics.png";
    }
    talk.line("");
    talk.line(&format!("Written to {}: {files}", dir.display()));
    Ok(())
}

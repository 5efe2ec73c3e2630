//! `armload statics`

// An error is built once a run: its size costs nothing.
#![allow(clippy::result_large_err)]

use super::say::Talk;
use super::{CAUTIONS, Failure};
use crate::ground::place::Place;
use crate::report::{self, WriteError, aside, draw};
use crate::sheet::tree::{self, Node, Value};
use crate::statics::problem::{Problem, empty_sheet, read_sheet};
use crate::statics::{StaticsError, practice, render, sweep, worked};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// How to write a problem, with examples.
fn help_text() -> String {
    let examples = [
        "armload statics --load \"10 kg at 30 cm\" --forearm \"5 kg at 15 cm\" --flexor \"3 cm\" --elbow \"90 deg\" --g \"9.8 m/s²\"",
        "armload statics --load \"? kg at 35 cm\" --forearm \"1.5 kg at 14 cm\" --flexor \"4 cm\" --flexor-force \"900 N\"",
        "armload statics --load \"5 kg at 30 cm\" --elbow \"?\" --elbow-moment \"12 N·m\"",
        "armload statics --load \"4 kg at hand\" --sex female --body-mass \"62 kg\" --upper-arm \"45 deg\" --elbow \"60 deg\" --curve biceps",
        "armload statics hold.toml --set flexor.moment_arm=\"4.5 cm\" --out results",
        "armload statics --practice 8 --seed 7 --level 3 --out handout",
    ];
    format!(
        "Quantities carry their units: 10 kg, 22 lb (a mass), 22 lbf, 98 N, 30 cm, 0.3 m, 12 in, 90 deg, 40 N·m. Put \"?\" in place of the one value to be found; \
         without it the flexor force is found (without a flexor, the net moment).\n\nExamples:\n  {}\n\n\
         The folder gets solution.md, summary.json, statics.csv (sweep over the elbow angle), freebody.png and statics.png.\n\n\
         A sheet has [problem] (id, title, find, gravity), [posture] (forearm, elbow or elbow_included, upper_arm), [[weight]] (name, amount, at, on), \
         [flexor] (moment_arm, or insertion with line or origin, or curve; force), [upper_arm] (length), [given] (elbow_moment, shoulder_moment) and \
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
    /// A held load at a distance from the elbow along the forearm, "10 kg at 30 cm"; may be repeated
    #[arg(long, allow_hyphen_values = true, value_name = "AMOUNT at DISTANCE", help_heading = "The problem")]
    pub load: Vec<String>,
    /// The forearm's own weight, "5 kg at 15 cm"
    #[arg(long, allow_hyphen_values = true, value_name = "AMOUNT at DISTANCE", help_heading = "The problem")]
    pub forearm: Option<String>,
    /// Another weight on forearm or hand, "watch: 80 g at 24 cm"; may be repeated
    #[arg(long, allow_hyphen_values = true, value_name = "NAME: AMOUNT at DISTANCE", help_heading = "The problem")]
    pub weight: Vec<String>,
    /// A weight on the upper arm, from the shoulder, "2 kg at 13 cm"; may be repeated
    #[arg(long, allow_hyphen_values = true, value_name = "AMOUNT at DISTANCE", help_heading = "The problem")]
    pub upper_arm_weight: Vec<String>,
    /// Shoulder to elbow; asks the shoulder problem too
    #[arg(long, allow_hyphen_values = true, value_name = "LENGTH", help_heading = "The problem")]
    pub upper_arm_length: Option<String>,
    /// Gravity [default: 9.80665 m/s²]
    #[arg(long, allow_hyphen_values = true, value_name = "ACCELERATION", help_heading = "The problem")]
    pub g: Option<String>,
    /// Which of the results is asked: "flexor force", "joint force", "net moment"
    #[arg(long, value_name = "WHAT", help_heading = "The problem")]
    pub find: Option<String>,
    /// Elbow flexion, 0 = straight
    #[arg(long, allow_hyphen_values = true, value_name = "ANGLE", help_heading = "Posture")]
    pub elbow: Option<String>,
    /// Forearm to the horizontal, + with the hand above the elbow
    #[arg(long, allow_hyphen_values = true, value_name = "ANGLE", help_heading = "Posture")]
    pub forearm_angle: Option<String>,
    /// Upper arm from hanging, + forwards
    #[arg(long, allow_hyphen_values = true, value_name = "ANGLE", help_heading = "Posture")]
    pub upper_arm: Option<String>,
    /// The flexor's moment arm
    #[arg(long, allow_hyphen_values = true, value_name = "LENGTH", help_heading = "Flexor")]
    pub flexor: Option<String>,
    /// The flexor's insertion on the forearm, from the elbow; with --line or --origin
    #[arg(long, allow_hyphen_values = true, value_name = "LENGTH", help_heading = "Flexor")]
    pub insertion: Option<String>,
    /// The flexor's origin on the upper arm, from the elbow
    #[arg(long, allow_hyphen_values = true, value_name = "LENGTH", help_heading = "Flexor")]
    pub origin: Option<String>,
    /// Line of action: an angle to the forearm, "upper arm" or "vertical"
    #[arg(long, allow_hyphen_values = true, value_name = "LINE", help_heading = "Flexor")]
    pub line: Option<String>,
    /// Published moment-arm curve: biceps, brachialis, brachioradialis
    #[arg(long, value_name = "MUSCLE", help_heading = "Flexor")]
    pub curve: Option<String>,
    /// A flexor force to be reached
    #[arg(long, allow_hyphen_values = true, value_name = "FORCE", help_heading = "What the unknown must bring about")]
    pub flexor_force: Option<String>,
    /// A net elbow moment to be reached
    #[arg(long, allow_hyphen_values = true, value_name = "MOMENT", help_heading = "What the unknown must bring about")]
    pub elbow_moment: Option<String>,
    /// A net shoulder moment to be reached
    #[arg(long, allow_hyphen_values = true, value_name = "MOMENT", help_heading = "What the unknown must bring about")]
    pub shoulder_moment: Option<String>,
    /// Segment weights from a table: female or male
    #[arg(long, value_name = "SEX", help_heading = "Participant")]
    pub sex: Option<String>,
    /// Body mass for the table
    #[arg(long, allow_hyphen_values = true, value_name = "MASS", help_heading = "Participant")]
    pub body_mass: Option<String>,
    /// Stature, to scale the table's lengths
    #[arg(long, allow_hyphen_values = true, value_name = "LENGTH", help_heading = "Participant")]
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
        conflicts_with_all = ["sheet", "load", "forearm", "weight", "upper_arm_weight", "upper_arm_length", "g", "find", "elbow", "forearm_angle", "upper_arm", "flexor", "insertion", "origin", "line", "curve", "flexor_force", "elbow_moment", "shoulder_moment", "sex", "body_mass", "stature", "table", "set"]
    )]
    pub practice: Option<u16>,
    /// Which sheet: the same number gives the same problems
    #[arg(long, value_name = "S", default_value_t = 1, requires = "practice", help_heading = "Practice")]
    pub seed: u64,
    /// 1 one weight at 90°, 2 with the forearm's weight, 3 any angle, 4 shoulder or another unknown [default: rising]
    #[arg(long, value_name = "1..4", requires = "practice", help_heading = "Practice", value_parser = clap::value_parser!(u8).range(1..=4))]
    pub level: Option<u8>,
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

/// A text with the flag as its place.
fn text_node(flag: &str, value: &str) -> Node {
    Node { place: Place::file(format!("--{flag} \"{value}\"")), value: Value::Text(value.to_owned()) }
}

/// The table under a key, made if it is not there.
fn table<'a>(root: &'a mut Node, name: &str, place: &Place) -> Option<&'a mut BTreeMap<String, (Place, Node)>> {
    let Value::Table(t) = &mut root.value else { return None };
    let entry =
        t.entry(name.to_owned()).or_insert_with(|| (place.clone(), Node { place: place.clone(), value: Value::Table(BTreeMap::new()) }));
    if let Value::Table(t) = &mut entry.1.value { Some(t) } else { None }
}

fn put(root: &mut Node, section: &str, key: &str, flag: &str, value: &str) {
    let node = text_node(flag, value);
    // a section that is no table is refused by the reader, with its place
    if let Some(t) = table(root, section, &node.place) {
        t.insert(key.to_owned(), (node.place.clone(), node));
    }
}

/// Adds `NAME: AMOUNT at DISTANCE` to the list of weights.
fn add_weight(root: &mut Node, flag: &str, value: &str, name: &str, on: &str) -> Result<(), StaticsError> {
    let place = Place::file(format!("--{flag} \"{value}\""));
    let (name, rest) = match value.split_once(':') {
        Some((n, rest)) if !n.trim().is_empty() => (n.trim(), rest),
        _ => (name, value),
    };
    let Some((amount, at)) = rest.split_once(" at ").or_else(|| rest.split_once('@')) else {
        return Err(StaticsError::Incomplete {
            place,
            what: "a weight needs an amount and a distance".into(),
            hint: format!("write --{flag} \"10 kg at 30 cm\""),
        });
    };
    let text = |t: &str| Node { place: place.clone(), value: Value::Text(t.trim().to_owned()) };
    let entry: BTreeMap<String, (Place, Node)> = [("name", text(name)), ("amount", text(amount)), ("at", text(at)), ("on", text(on))]
        .map(|(k, n)| (k.to_owned(), (place.clone(), n)))
        .into();
    let entry = Node { place: place.clone(), value: Value::Table(entry) };
    let Value::Table(t) = &mut root.value else { return Ok(()) };
    let list =
        t.entry("weight".to_owned()).or_insert_with(|| (place.clone(), Node { place: place.clone(), value: Value::List(Vec::new()) }));
    if let Value::List(l) = &mut list.1.value {
        l.push(entry);
    }
    Ok(())
}

/// The sheet with flags and `--set` worked in.
fn gather(args: &Args) -> Result<(Node, String), StaticsError> {
    let (mut root, name) = match &args.sheet {
        Some(path) => (read_sheet(path)?, path.file_stem().map_or_else(|| "statics".into(), |s| s.to_string_lossy().into_owned())),
        None => (empty_sheet(), "statics".to_owned()),
    };
    for (i, v) in args.load.iter().enumerate() {
        let name = if args.load.len() > 1 { format!("load {}", i + 1) } else { "load".into() };
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
    let flags = [
        ("upper_arm", "length", "upper-arm-length", &args.upper_arm_length),
        ("problem", "gravity", "g", &args.g),
        ("problem", "find", "find", &args.find),
        ("posture", "elbow", "elbow", &args.elbow),
        ("posture", "forearm", "forearm-angle", &args.forearm_angle),
        ("posture", "upper_arm", "upper-arm", &args.upper_arm),
        ("flexor", "moment_arm", "flexor", &args.flexor),
        ("flexor", "insertion", "insertion", &args.insertion),
        ("flexor", "origin", "origin", &args.origin),
        ("flexor", "line", "line", &args.line),
        ("flexor", "curve", "curve", &args.curve),
        ("flexor", "force", "flexor-force", &args.flexor_force),
        ("given", "elbow_moment", "elbow-moment", &args.elbow_moment),
        ("given", "shoulder_moment", "shoulder-moment", &args.shoulder_moment),
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
    aside::write(path, |out| out.write_all(text.as_bytes()).map_err(|e| e.to_string()))
}

/// Problem sheets: printed, or written as what the class gets and what the teacher keeps.
fn run_practice(count: usize, args: &Args, talk: &Talk) -> Result<(), Failure> {
    let all = practice::sheet(count, args.seed, args.level)?;
    let problems = format!("{}\n{CAUTIONS}\n", practice::problems(&all, args.seed));
    let answers = practice::answers(&all, args.seed);
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
            talk.line(&format!("Written to {}: problems.md for the class, answers.md with key and worked solutions", dir.display()));
        }
    }
    Ok(())
}

/// Runs the command.
pub fn run(args: &Args, talk: &Talk) -> Result<(), Failure> {
    if let Some(count) = args.practice {
        return run_practice(usize::from(count), args, talk);
    }
    let (node, name) = gather(args)?;
    let problem = Problem::from_node(node, &name)?;
    let solution = problem.solve()?;
    let worked = worked::write(&problem, &solution);
    let swept = sweep::sweep(&solution.setting);
    let json = render::json(&problem, &worked, CAUTIONS);
    for line in render::text(&worked) {
        match line {
            render::Line::Heading(t) => talk.heading(&t),
            render::Line::Text(t) => talk.line(&t),
        }
    }
    talk.line(CAUTIONS);
    talk.json(&json);

    let dir = args.out.clone().unwrap_or_else(|| Path::new("reports").join(&problem.id));
    aside::make_folder(&dir)?;
    write_text(&dir.join("solution.md"), &format!("{}\n{CAUTIONS}\n", render::markdown(&worked, 1)))?;
    write_text(&dir.join("summary.json"), &format!("{json:#}\n"))?;
    write_text(&dir.join("statics.csv"), &sweep::csv(&swept))?;
    let mut files = "solution.md, summary.json, statics.csv".to_owned();
    if !args.no_plots {
        draw::save_png(&report::freebody::page(&problem, &solution, &worked), &dir.join("freebody.png"))?;
        draw::save_png(&report::statics::page(&problem, &swept, &worked), &dir.join("statics.png"))?;
        files += ", freebody.png, statics.png";
    }
    talk.line("");
    talk.line(&format!("Written to {}: {files}", dir.display()));
    Ok(())
}

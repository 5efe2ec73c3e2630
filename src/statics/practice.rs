//! Problem sheets for a class: reproducible from a seed, every problem solved by the same code as any other.

use super::StaticsError;
use super::problem::Problem;
use super::worked::{self, Worked};
use super::{quantity, render};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use std::fmt::Write;

/// Gravity of every problem: what is used by hand.
const GRAVITY: &str = "9.8 m/s²";
/// Most problems of one sheet.
pub const MOST: usize = 500;
/// Tries to draw a problem that has an answer before giving up; one in two draws has one at the worst.
const TRIES: usize = 200;

/// One problem.
#[derive(Clone, Debug)]
pub struct Exercise {
    /// 1 to 4.
    pub level: u8,
    /// What the student reads.
    pub prose: String,
    /// The same as a problem sheet.
    pub sheet: String,
    /// The solution.
    pub worked: Worked,
    /// Names of the answers asked for.
    pub asked: Vec<&'static str>,
}

/// Draws whole numbers, the same for a seed on every machine and with every version of the random-number library's helpers.
struct Dice(ChaCha8Rng);

impl Dice {
    /// A whole number from `low` to `high`.
    fn whole(&mut self, low: i64, high: i64) -> i64 {
        let span = (high - low + 1).max(1) as u64;
        low + (self.0.next_u64() % span) as i64
    }
    /// A multiple of `step` from `low` to `high`, as text with `decimals`.
    fn number(&mut self, low: f64, high: f64, step: f64, decimals: usize) -> String {
        let k = self.whole((low / step).round() as i64, (high / step).round() as i64);
        format!("{:.decimals$}", k as f64 * step)
    }
    fn pick<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.whole(0, all.len() as i64 - 1) as usize]
    }
}

/// Who holds what: invented.
const PEOPLE: [&str; 8] =
    ["A baker", "A gardener", "A stagehand", "A potter", "A librarian", "A boat builder", "A beekeeper", "A physiotherapy student"];
const THINGS: [&str; 8] = [
    "a sack of flour",
    "a watering can",
    "a stage lamp",
    "a block of clay",
    "a stack of atlases",
    "a toolbox",
    "a frame of honeycomb",
    "a kettle weight",
];

/// Text of a problem sheet under construction.
#[derive(Default)]
struct Sheet {
    weights: String,
    posture: String,
    rest: String,
}

impl Sheet {
    fn weight(&mut self, name: &str, amount: &str, at: &str, on: &str) {
        let _ = write!(self.weights, "\n[[weight]]\nname = \"{name}\"\namount = \"{amount}\"\nat = \"{at}\"\non = \"{on}\"\n");
    }
    fn text(&self, find: Option<&str>) -> String {
        let find = find.map_or(String::new(), |f| format!("find = \"{f}\"\n"));
        format!("[problem]\n{find}gravity = \"{GRAVITY}\"\n{}\n[posture]\n{}{}", self.weights, self.posture, self.rest)
    }
}

/// What one draw gives before it is solved.
struct Draft {
    prose: String,
    sheet: String,
    asked: Vec<&'static str>,
}

fn object(thing: &str) -> &str {
    thing.trim_start_matches("an ").trim_start_matches("a ")
}

fn level_1(d: &mut Dice) -> Draft {
    let (who, thing) = (d.pick(&PEOPLE), d.pick(&THINGS));
    let (m, at, r) = (d.number(1.0, 12.0, 0.5, 2), d.number(28.0, 38.0, 1.0, 1), d.number(3.0, 5.0, 0.5, 2));
    let mut s = Sheet { posture: "elbow = \"90 deg\"\nupper_arm = \"0 deg\"\n".into(), ..Sheet::default() };
    s.weight(object(thing), &format!("{m} kg"), &format!("{at} cm"), "forearm");
    s.rest = format!("\n[flexor]\nmoment_arm = \"{r} cm\"\nline = \"vertical\"\n");
    Draft {
        prose: format!(
            "{who} holds {thing} of {m} kg still with the elbow bent 90°, upper arm hanging, forearm horizontal. Its weight acts {at} cm from the elbow. \
             The flexor pulls straight up at a moment arm of {r} cm. Leave the forearm's own weight out. Find the net elbow moment and the force of the flexor."
        ),
        sheet: s.text(None),
        asked: vec!["elbow_moment", "flexor_force"],
    }
}

fn level_2(d: &mut Dice) -> Draft {
    let (who, thing) = (d.pick(&PEOPLE), d.pick(&THINGS));
    let (m, at, r) = (d.number(1.0, 12.0, 0.5, 2), d.number(28.0, 38.0, 1.0, 1), d.number(3.0, 5.0, 0.5, 2));
    let (mf, af) = (d.number(1.2, 2.2, 0.1, 2), d.number(13.0, 18.0, 0.5, 1));
    let mut s = Sheet { posture: "elbow = \"90 deg\"\nupper_arm = \"0 deg\"\n".into(), ..Sheet::default() };
    s.weight(object(thing), &format!("{m} kg"), &format!("{at} cm"), "forearm");
    s.weight("forearm and hand", &format!("{mf} kg"), &format!("{af} cm"), "forearm");
    s.rest = format!("\n[flexor]\nmoment_arm = \"{r} cm\"\nline = \"vertical\"\n");
    Draft {
        prose: format!(
            "{who} holds {thing} of {m} kg still, {at} cm from the elbow, which is bent 90°; the upper arm hangs and the forearm is horizontal. Forearm and hand have a mass of {mf} kg, \
             their mass centre is {af} cm from the elbow. The flexor pulls straight up at a moment arm of {r} cm. Find the force of the flexor, the joint force with its direction, \
             and the ratio of the flexor force to the weight it supports."
        ),
        sheet: s.text(None),
        asked: vec!["flexor_force", "joint_force", "force_ratio"],
    }
}

fn level_3(d: &mut Dice) -> Draft {
    let (who, thing) = (d.pick(&PEOPLE), d.pick(&THINGS));
    let (m, at) = (d.number(1.0, 8.0, 0.5, 2), d.number(28.0, 36.0, 1.0, 1));
    let (mf, af) = (d.number(1.2, 2.2, 0.1, 2), d.number(13.0, 18.0, 0.5, 1));
    let elbow = 5 * d.whole(7, 24);
    let forearm = elbow - 90;
    let a = d.number(3.5, 5.5, 0.5, 2);
    let slope = match forearm {
        0 => "horizontal".into(),
        f if f > 0 => format!("{f}° above the horizontal"),
        f => format!("{}° below the horizontal", -f),
    };
    let mut s = Sheet { posture: format!("elbow = \"{elbow} deg\"\nupper_arm = \"0 deg\"\n"), ..Sheet::default() };
    s.weight(object(thing), &format!("{m} kg"), &format!("{at} cm"), "forearm");
    s.weight("forearm and hand", &format!("{mf} kg"), &format!("{af} cm"), "forearm");
    let line = match d.whole(0, 2) {
        0 => {
            s.rest = format!("\n[flexor]\ninsertion = \"{a} cm\"\nline = \"upper arm\"\n");
            format!("The flexor is inserted {a} cm from the elbow on the forearm and pulls parallel to the upper arm.")
        }
        1 => {
            let beta = 5 * d.whole(9, 17);
            s.rest = format!("\n[flexor]\ninsertion = \"{a} cm\"\nline = \"{beta} deg\"\n");
            format!(
                "The flexor is inserted {a} cm from the elbow on the forearm; its line of action makes an angle of {beta}° with the forearm, on the elbow's side."
            )
        }
        _ => {
            let b = d.number(24.0, 30.0, 1.0, 1);
            s.rest = format!("\n[flexor]\ninsertion = \"{a} cm\"\norigin = \"{b} cm\"\n");
            format!(
                "The flexor runs straight from its origin on the upper arm, {b} cm from the elbow, to its insertion on the forearm, {a} cm from the elbow."
            )
        }
    };
    Draft {
        prose: format!(
            "{who} holds {thing} of {m} kg still, {at} cm from the elbow along the forearm. The upper arm hangs, the elbow is flexed {elbow}° (0° = straight), so the forearm is {slope}. \
             Forearm and hand: {mf} kg, mass centre {af} cm from the elbow. {line} Find the moment arm of the flexor, its force, and the joint force with its direction."
        ),
        sheet: s.text(None),
        asked: vec!["moment_arm", "flexor_force", "joint_force"],
    }
}

fn level_4(d: &mut Dice) -> Draft {
    let (who, thing) = (d.pick(&PEOPLE), d.pick(&THINGS));
    let (mf, af) = (d.number(1.2, 2.2, 0.1, 2), d.number(13.0, 18.0, 0.5, 1));
    let (m, at, r) = (d.number(1.0, 8.0, 0.5, 2), d.number(28.0, 36.0, 1.0, 1), d.number(3.0, 5.0, 0.5, 2));
    let own = format!("Forearm and hand: {mf} kg, mass centre {af} cm from the elbow.");
    let hanging = "upper_arm = \"0 deg\"\n";
    let mut s = Sheet::default();
    let add_own = |s: &mut Sheet| s.weight("forearm and hand", &format!("{mf} kg"), &format!("{af} cm"), "forearm");
    match d.whole(0, 3) {
        0 => {
            let (upper, elbow) = (5 * d.whole(3, 16), 5 * d.whole(4, 18));
            let (length, mu, au) = (d.number(27.0, 32.0, 1.0, 1), d.number(1.6, 2.4, 0.1, 2), d.number(12.0, 15.0, 0.5, 1));
            s.posture = format!("elbow = \"{elbow} deg\"\nupper_arm = \"{upper} deg\"\n");
            s.weight(object(thing), &format!("{m} kg"), &format!("{at} cm"), "forearm");
            add_own(&mut s);
            s.weight("upper arm", &format!("{mu} kg"), &format!("{au} cm"), "upper arm");
            s.rest = format!("\n[upper_arm]\nlength = \"{length} cm\"\n");
            Draft {
                prose: format!(
                    "{who} holds {thing} of {m} kg still, {at} cm from the elbow along the forearm, with the upper arm raised {upper}° forwards from hanging and the elbow flexed {elbow}° (0° = straight). \
                     {own} The upper arm is {length} cm long and has a mass of {mu} kg, mass centre {au} cm from the shoulder. Find the net moments at the elbow and at the shoulder."
                ),
                sheet: s.text(Some("net moment")),
                asked: vec!["elbow_moment", "shoulder_moment"],
            }
        }
        1 => {
            let force = 50 * d.whole(8, 36);
            s.posture = format!("elbow = \"90 deg\"\n{hanging}");
            s.weight(object(thing), "? kg", &format!("{at} cm"), "forearm");
            add_own(&mut s);
            s.rest = format!("\n[flexor]\nmoment_arm = \"{r} cm\"\nline = \"vertical\"\nforce = \"{force} N\"\n");
            Draft {
                prose: format!(
                    "{who} wants to hold {thing} {at} cm from the elbow, the upper arm hanging and the forearm horizontal. {own} The flexor pulls straight up at a moment arm of {r} cm, \
                     and in this problem with {force} N. How heavy is the {}, in kg?",
                    object(thing)
                ),
                sheet: s.text(None),
                asked: vec!["mass", "elbow_moment"],
            }
        }
        2 => {
            let moment = d.whole(8, 24);
            s.posture = format!("elbow = \"90 deg\"\n{hanging}");
            s.weight(object(thing), &format!("{m} kg"), "? cm", "forearm");
            add_own(&mut s);
            s.rest = format!("\n[given]\nelbow_moment = \"{moment} N·m\"\n");
            Draft {
                prose: format!(
                    "{who} holds {thing} of {m} kg still, the upper arm hanging and the forearm horizontal. {own} At what distance from the elbow does its weight act if the net elbow moment is {moment} N·m?"
                ),
                sheet: s.text(None),
                asked: vec!["distance"],
            }
        }
        _ => {
            let moment = d.whole(6, 20);
            s.posture = format!("elbow = \"?\"\n{hanging}");
            s.weight(object(thing), &format!("{m} kg"), &format!("{at} cm"), "forearm");
            add_own(&mut s);
            s.rest = format!("\n[given]\nelbow_moment = \"{moment} N·m\"\n");
            Draft {
                prose: format!(
                    "{who} holds {thing} of {m} kg, {at} cm from the elbow along the forearm, still at one elbow angle after another; the upper arm hangs. {own} \
                     At which elbow flexions (0° = straight) is the net elbow moment {moment} N·m?"
                ),
                sheet: s.text(None),
                asked: vec!["elbow_angle", "elbow_angle_2"],
            }
        }
    }
}

/// Whether an answer is one a person would meet: no load of 60 kg at arm's length, no hand behind the elbow.
fn plausible(w: &Worked) -> bool {
    w.answers.iter().all(|a| match a.name.as_str() {
        "mass" => (0.5..=25.0).contains(&a.stated.si),
        "distance" => (0.15..=0.42).contains(&a.stated.si),
        "elbow_angle" | "elbow_angle_2" => (0.2..=2.5).contains(&a.stated.si),
        "flexor_force" => (20.0..=4000.0).contains(&a.stated.si),
        "moment_arm" => a.stated.si >= 0.012,
        _ => true,
    })
}

/// Draws the problems of a sheet. Without a level they rise from 1 to 4.
///
/// # Errors
/// None in practice: a draw that has no answer is drawn again.
pub fn sheet(count: usize, seed: u64, level: Option<u8>) -> Result<Vec<Exercise>, StaticsError> {
    let mut dice = Dice(ChaCha8Rng::seed_from_u64(seed));
    (0..count)
        .map(|i| {
            let level = level.unwrap_or(1 + (i * 4 / count.max(1)) as u8);
            let mut last = None;
            for _ in 0..TRIES {
                let draft = match level {
                    1 => level_1(&mut dice),
                    2 => level_2(&mut dice),
                    3 => level_3(&mut dice),
                    _ => level_4(&mut dice),
                };
                let solved = Problem::from_text(&draft.sheet, "practice").and_then(|p| p.solve().map(|s| worked::write(&p, &s)));
                match solved {
                    Ok(mut w) => {
                        w.title = format!("Problem {}", i + 1);
                        if plausible(&w) {
                            return Ok(Exercise { level, prose: draft.prose, sheet: draft.sheet, worked: w, asked: draft.asked });
                        }
                    }
                    Err(e) => last = Some(e),
                }
            }
            Err(last.unwrap_or(StaticsError::Incomplete {
                place: Default::default(),
                what: format!("no plausible problem of level {level} came up"),
                hint: "try another seed".into(),
            }))
        })
        .collect()
}

/// What the class gets.
pub fn problems(all: &[Exercise], seed: u64) -> String {
    let mut out = String::from("# Practice: arms in balance\n\n");
    out += &format!(
        "Work in one vertical plane with g = {GRAVITY}. Sketch the forearm cut free at the elbow, draw every force with its lever, sum the torques about the joint, then the forces. \
         Give results to three figures, with units and, for forces, directions.\n\n"
    );
    for (i, e) in all.iter().enumerate() {
        out += &format!("**{}.** (level {}) {}\n\n", i + 1, e.level, e.prose);
    }
    out += &format!("Sheet {seed}, {} problems.\n", all.len());
    out
}

/// The value of an asked answer, to three figures.
fn key_line(e: &Exercise) -> String {
    let answers = e.asked.iter().filter_map(|name| e.worked.answers.iter().find(|a| a.name == *name));
    answers
        .map(|a| {
            let unit = quantity::unit(&a.stated.unit);
            let number = quantity::rounded(a.stated.value, 3);
            let value = unit.map_or(number.clone(), |u| quantity::with_unit(&number, &u));
            let what = a.what.split(" (").next().unwrap_or("");
            format!("{what} {} = {value}", a.stated.symbol)
        })
        .collect::<Vec<_>>()
        .join("; ")
}

/// What the teacher keeps: key and worked solutions.
pub fn answers(all: &[Exercise], seed: u64) -> String {
    let mut out = format!("# Answer key\n\nSheet {seed}, {} problems, g = {GRAVITY}.\n\n", all.len());
    for (i, e) in all.iter().enumerate() {
        out += &format!("{}. {}\n", i + 1, key_line(e));
    }
    out += "\n# Worked solutions\n\n";
    for e in all {
        out += &render::markdown(&e.worked, 2);
        out.push('\n');
    }
    out
}

//! Problem sheets for a class: reproducible from a seed, every problem solved by the same code as any other.

use super::StaticsError;
use super::problem::{Problem, Solution};
use super::quantity::{placed, places, typeset};
use super::render;
use super::worked::{self, Worked};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use std::fmt::Write;

/// Most problems of one sheet.
pub const MOST: usize = 500;
/// Tries to draw a problem that has an answer before giving up; one in three draws has one at the worst.
const TRIES: usize = 400;

/// The units that a class speaks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum System {
    /// Kilograms, centimetres, newtons, newton metres.
    #[default]
    Metric,
    /// Pounds, inches, pounds-force, pound-force inches.
    PoundInch,
}

impl System {
    /// Gravity of every problem: what is used by hand; under the standard one a pound weighs a pound-force.
    fn gravity(self) -> &'static str {
        match self {
            System::Metric => "9.8 m/s²",
            System::PoundInch => "9.80665 m/s²",
        }
    }
    fn gravity_words(self) -> &'static str {
        match self {
            System::Metric => "g = 9.8 m/s²",
            System::PoundInch => {
                "standard gravity, under which a mass of one pound (lb) weighs one pound-force (lbf)"
            }
        }
    }
    fn force(self) -> &'static str {
        match self {
            System::Metric => "N",
            System::PoundInch => "lbf",
        }
    }
    fn moment(self) -> &'static str {
        match self {
            System::Metric => "N·m",
            System::PoundInch => "lbf·in",
        }
    }
    fn mass(self) -> &'static str {
        match self {
            System::Metric => "kg",
            System::PoundInch => "lb",
        }
    }
    fn area(self) -> &'static str {
        match self {
            System::Metric => "cm²",
            System::PoundInch => "in²",
        }
    }
    fn length(self) -> &'static str {
        match self {
            System::Metric => "cm",
            System::PoundInch => "in",
        }
    }
}

/// One problem.
#[derive(Clone, Debug)]
pub struct Exercise {
    /// 1 to 5.
    pub level: u8,
    /// What the student reads.
    pub prose: String,
    /// The same as a problem sheet.
    pub sheet: String,
    /// The solution.
    pub worked: Worked,
    /// Names of the answers asked for.
    pub asked: Vec<&'static str>,
    /// The problem, for its sketch.
    pub problem: Problem,
    /// Its answer, for the free body.
    pub solution: Solution,
}

/// Draws whole numbers, the same for a seed on every machine and with every version of the random-number
/// library's helpers.
struct Dice(ChaCha8Rng);

/// From, to, step.
type Range = (f64, f64, f64);

impl Dice {
    /// A whole number from `low` to `high`.
    fn whole(&mut self, low: i64, high: i64) -> i64 {
        let span = (high - low + 1).max(1) as u64;
        low + (self.0.next_u64() % span) as i64
    }
    /// A multiple of a step as text with three figures: what is given to a class.
    fn number(&mut self, (low, high, step): Range) -> String {
        let k = self.whole((low / step).round() as i64, (high / step).round() as i64);
        let x = k as f64 * step;
        placed(x, places(x, 3).max(0))
    }
    fn pick<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.whole(0, all.len() as i64 - 1) as usize]
    }
}

/// Draws quantities in the units of the class.
struct Drawn {
    dice: Dice,
    system: System,
}

impl Drawn {
    fn of(&mut self, metric: Range, pounds: Range, units: fn(System) -> &'static str) -> String {
        let range = if self.system == System::Metric {
            metric
        } else {
            pounds
        };
        format!("{} {}", self.dice.number(range), units(self.system))
    }
    fn load(&mut self, most_kg: f64) -> String {
        self.of(
            (1.0, most_kg, 0.5),
            (3.0, (2.0 * most_kg).round(), 1.0),
            System::mass,
        )
    }
    /// Where a hand holds something, from the elbow.
    fn in_hand(&mut self) -> String {
        self.of((28.0, 38.0, 1.0), (11.0, 15.0, 0.5), System::length)
    }
    fn forearm(&mut self) -> (String, String) {
        (
            self.of((1.2, 2.2, 0.1), (2.6, 4.8, 0.2), System::mass),
            self.of((13.0, 18.0, 0.5), (5.0, 7.0, 0.25), System::length),
        )
    }
    fn arm(&mut self) -> String {
        self.of((3.0, 5.0, 0.5), (1.2, 2.0, 0.1), System::length)
    }
    fn triceps_arm(&mut self) -> String {
        self.of((1.8, 2.4, 0.1), (0.7, 0.95, 0.05), System::length)
    }
    fn insertion(&mut self) -> String {
        self.of((3.5, 5.5, 0.5), (1.4, 2.2, 0.1), System::length)
    }
    fn force(&mut self, metric: (i64, i64, i64), pounds: (i64, i64, i64)) -> String {
        let (low, high, step) = if self.system == System::Metric {
            metric
        } else {
            pounds
        };
        format!(
            "{} {}",
            step * self.dice.whole(low / step, high / step),
            self.system.force()
        )
    }
}

/// Who holds what: invented.
const PEOPLE: [&str; 8] = [
    "A baker",
    "A gardener",
    "A stagehand",
    "A potter",
    "A librarian",
    "A boat builder",
    "A beekeeper",
    "A physiotherapy student",
];
const THINGS: [&str; 8] = [
    "a sack of flour",
    "a watering can",
    "a stage lamp",
    "a block of clay",
    "a stack of atlases",
    "a toolbox",
    "a frame of honeycomb",
    "a kettle of water",
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
        let _ = write!(
            self.weights,
            "\n[[weight]]\nname = \"{name}\"\namount = \"{amount}\"\nat = \"{at}\"\non = \"{on}\"\n"
        );
    }
    fn text(&self, system: System) -> String {
        format!(
            "[problem]\ngravity = \"{}\"\n{}\n[posture]\n{}{}",
            system.gravity(),
            self.weights,
            self.posture,
            self.rest
        )
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

fn bent_square() -> Sheet {
    Sheet {
        posture: "elbow = \"90 deg\"\nupper_arm = \"0 deg\"\n".into(),
        ..Sheet::default()
    }
}

fn level_1(d: &mut Drawn) -> Draft {
    let (who, thing) = (d.dice.pick(&PEOPLE), d.dice.pick(&THINGS));
    let (m, at, r) = (d.load(12.0), d.in_hand(), d.arm());
    let (moment, force) = (d.system.moment(), d.system.force());
    let mut s = bent_square();
    s.weight(object(thing), &m, &at, "forearm");
    s.rest = format!(
        "\n[flexor]\nmoment_arm = \"{r}\"\nline = \"vertical\"\n\n[given]\nelbow_moment = \"? {moment}\"\n"
    );
    Draft {
        prose: format!(
            "{who} holds {thing} of {m} still with the elbow bent 90°, upper arm hanging, forearm horizontal. Its weight acts {at} from the elbow. \
             The flexor pulls straight up at a moment arm of {r}. Leave the forearm's own weight out. Find the net elbow moment (in {moment}) and the force of the flexor (in {force})."
        ),
        sheet: s.text(d.system),
        asked: vec!["elbow_moment", "flexor_force"],
    }
}

fn level_2(d: &mut Drawn) -> Draft {
    let (who, thing) = (d.dice.pick(&PEOPLE), d.dice.pick(&THINGS));
    let (m, at, r) = (d.load(12.0), d.in_hand(), d.arm());
    let (mf, af) = d.forearm();
    let force = d.system.force();
    let mut s = bent_square();
    s.weight(object(thing), &m, &at, "forearm");
    s.weight("forearm and hand", &mf, &af, "forearm");
    s.rest = format!("\n[flexor]\nmoment_arm = \"{r}\"\nline = \"vertical\"\n");
    Draft {
        prose: format!(
            "{who} holds {thing} of {m} still, {at} from the elbow, which is bent 90°; the upper arm hangs and the forearm is horizontal. Forearm and hand have a mass of {mf}, \
             their mass centre is {af} from the elbow. The flexor pulls straight up at a moment arm of {r}. Find the force of the flexor and the joint force with its direction (in {force}), \
             and the ratio of the flexor force to the weight it supports."
        ),
        sheet: s.text(d.system),
        asked: vec!["flexor_force", "joint_force", "force_ratio"],
    }
}

fn level_3(d: &mut Drawn) -> Draft {
    let (who, thing) = (d.dice.pick(&PEOPLE), d.dice.pick(&THINGS));
    let (m, at) = (d.load(8.0), d.in_hand());
    let (mf, af) = d.forearm();
    let elbow = 5 * d.dice.whole(7, 24);
    let forearm = elbow - 90;
    let a = d.insertion();
    let (force, length) = (d.system.force(), d.system.length());
    let slope = match forearm {
        0 => "horizontal".into(),
        f if f > 0 => format!("{f}° above the horizontal"),
        f => format!("{}° below the horizontal", -f),
    };
    let mut s = Sheet {
        posture: format!("elbow = \"{elbow} deg\"\nupper_arm = \"0 deg\"\n"),
        ..Sheet::default()
    };
    s.weight(object(thing), &m, &at, "forearm");
    s.weight("forearm and hand", &mf, &af, "forearm");
    let line = match d.dice.whole(0, 2) {
        0 => {
            s.rest = format!("\n[flexor]\ninsertion = \"{a}\"\nline = \"upper arm\"\n");
            format!(
                "The flexor is inserted {a} from the elbow on the forearm and pulls parallel to the upper arm."
            )
        }
        1 => {
            let beta = 5 * d.dice.whole(9, 17);
            s.rest = format!("\n[flexor]\ninsertion = \"{a}\"\nline = \"{beta} deg\"\n");
            format!(
                "The flexor is inserted {a} from the elbow on the forearm; its line of action makes an angle of {beta}° with the forearm, on the elbow's side."
            )
        }
        _ => {
            let b = d.of((24.0, 30.0, 1.0), (9.5, 12.0, 0.5), System::length);
            s.rest = format!("\n[flexor]\ninsertion = \"{a}\"\norigin = \"{b}\"\n");
            format!(
                "The flexor runs straight from its origin on the upper arm, {b} from the elbow, to its insertion on the forearm, {a} from the elbow."
            )
        }
    };
    Draft {
        prose: format!(
            "{who} holds {thing} of {m} still, {at} from the elbow along the forearm. The upper arm hangs, the elbow is flexed {elbow}° (0° = straight), so the forearm is {slope}. \
             Forearm and hand: {mf}, mass centre {af} from the elbow. {line} Find the moment arm of the flexor (in {length}), its force, and the joint force with its direction (both in {force})."
        ),
        sheet: s.text(d.system),
        asked: vec!["moment_arm", "flexor_force", "joint_force"],
    }
}

fn level_4(d: &mut Drawn) -> Draft {
    let (who, thing) = (d.dice.pick(&PEOPLE), d.dice.pick(&THINGS));
    let own = d.forearm();
    let held = Held {
        who,
        thing,
        own,
        mass: d.load(8.0),
        at: d.in_hand(),
        arm: d.arm(),
    };
    match d.dice.whole(0, 5) {
        0 => two_joints(d, &held),
        1 => weight_from_pull(d, &held),
        2 => distance_from_moment(d, &held),
        3 => angle_from_moment(d, &held),
        4 => overhead(d, &held),
        _ => cable_pull(d, &held),
    }
}

/// Somebody with a thing in the hand.
struct Held {
    who: &'static str,
    thing: &'static str,
    /// Mass and mass centre of forearm and hand.
    own: (String, String),
    mass: String,
    /// Distance of the thing from the elbow.
    at: String,
    /// Moment arm of the flexor.
    arm: String,
}

impl Held {
    fn own_in_words(&self) -> String {
        let (mass, at) = &self.own;
        format!("Forearm and hand: {mass}, mass centre {at} from the elbow.")
    }
    /// A sheet with the thing, then forearm and hand; a mark may stand for what is asked.
    fn sheet(&self, mass: &str, at: &str) -> Sheet {
        let mut s = Sheet::default();
        s.weight(object(self.thing), mass, at, "forearm");
        self.add_own(&mut s);
        s
    }
    fn add_own(&self, s: &mut Sheet) {
        s.weight("forearm and hand", &self.own.0, &self.own.1, "forearm");
    }
}

/// Both joints, the upper arm raised.
fn two_joints(d: &mut Drawn, held: &Held) -> Draft {
    let Held {
        who,
        thing,
        mass: m,
        at,
        ..
    } = held;
    let own = held.own_in_words();
    let sys = d.system;
    let moment = sys.moment();
    let (upper, elbow) = (5 * d.dice.whole(3, 16), 5 * d.dice.whole(4, 18));
    let long = d.of((27.0, 32.0, 1.0), (10.5, 12.5, 0.5), System::length);
    let mu = d.of((1.6, 2.4, 0.1), (3.6, 5.2, 0.2), System::mass);
    let au = d.of((12.0, 15.0, 0.5), (4.5, 6.0, 0.25), System::length);
    let mut s = held.sheet(m, at);
    s.posture = format!("elbow = \"{elbow} deg\"\nupper_arm = \"{upper} deg\"\n");
    s.weight("upper arm", &mu, &au, "upper arm");
    s.rest = format!("\n[upper_arm]\nlength = \"{long}\"\n\n[given]\nelbow_moment = \"? {moment}\"\n");
    Draft {
        prose: format!(
            "{who} holds {thing} of {m} still, {at} from the elbow along the forearm, with the upper arm raised {upper}° forwards from hanging and the elbow flexed {elbow}° (0° = straight). \
             {own} The upper arm is {long} long and has a mass of {mu}, mass centre {au} from the shoulder. Find the net moments at the elbow and at the shoulder (in {moment})."
        ),
        sheet: s.text(sys),
        asked: vec!["elbow_moment", "shoulder_moment"],
    }
}

/// The mass that a given pull holds.
fn weight_from_pull(d: &mut Drawn, held: &Held) -> Draft {
    let Held {
        who,
        thing,
        at,
        arm: r,
        ..
    } = held;
    let own = held.own_in_words();
    let sys = d.system;
    let mass = sys.mass();
    let pull = d.force((400, 1800, 50), (90, 400, 10));
    let mut s = held.sheet(&format!("? {mass}"), at);
    s.posture = bent_square().posture;
    s.rest = format!("\n[flexor]\nmoment_arm = \"{r}\"\nline = \"vertical\"\nforce = \"{pull}\"\n");
    Draft {
        prose: format!(
            "{who} wants to hold {thing} {at} from the elbow, the upper arm hanging and the forearm horizontal. {own} The flexor pulls straight up at a moment arm of {r}, \
             and in this problem with {pull}. What mass (in {mass}) may the {} have?",
            object(thing)
        ),
        sheet: s.text(sys),
        asked: vec!["mass"],
    }
}

/// The place at which a load brings a given moment about.
fn distance_from_moment(d: &mut Drawn, held: &Held) -> Draft {
    let Held {
        who, thing, mass: m, ..
    } = held;
    let own = held.own_in_words();
    let sys = d.system;
    let length = sys.length();
    let moment = sys.moment();
    // a moment that some place of the load within the hand's reach brings about
    let needed = d.dice.number(if sys == System::Metric {
        (8.0, 32.0, 0.5)
    } else {
        (70.0, 280.0, 5.0)
    });
    let mut s = held.sheet(m, &format!("? {length}"));
    s.posture = bent_square().posture;
    s.rest = format!("\n[given]\nelbow_moment = \"{needed} {moment}\"\n");
    Draft {
        prose: format!(
            "{who} holds {thing} of {m} still, the upper arm hanging and the forearm horizontal. {own} At what distance from the elbow (in {length}) does its weight act if the net elbow moment is {needed} {moment}?"
        ),
        sheet: s.text(sys),
        asked: vec!["distance"],
    }
}

/// The angles at which a load brings a given moment about.
fn angle_from_moment(d: &mut Drawn, held: &Held) -> Draft {
    let Held {
        who,
        thing,
        mass: m,
        at,
        ..
    } = held;
    let own = held.own_in_words();
    let sys = d.system;
    let moment = sys.moment();
    let needed = d.dice.number(if sys == System::Metric {
        (6.0, 20.0, 0.5)
    } else {
        (55.0, 180.0, 5.0)
    });
    let mut s = held.sheet(m, at);
    s.posture = "elbow = \"?\"\nupper_arm = \"0 deg\"\n".into();
    s.rest = format!("\n[given]\nelbow_moment = \"{needed} {moment}\"\n");
    Draft {
        prose: format!(
            "{who} holds {thing} of {m}, {at} from the elbow along the forearm, still at one elbow angle after another; the upper arm hangs. {own} \
             At which elbow flexions (in degrees, 0° = straight) is the net elbow moment {needed} {moment}?"
        ),
        sheet: s.text(sys),
        asked: vec!["elbow_angle", "elbow_angle_2"],
    }
}

/// Held behind the head: the extensor pulls.
fn overhead(d: &mut Drawn, held: &Held) -> Draft {
    let Held {
        who,
        thing,
        mass: m,
        at,
        ..
    } = held;
    let own = held.own_in_words();
    let sys = d.system;
    let force = sys.force();
    let r = d.triceps_arm();
    let elbow = 5 * d.dice.whole(12, 22);
    let mut s = held.sheet(m, at);
    s.posture = format!("elbow = \"{elbow} deg\"\nupper_arm = \"180 deg\"\n");
    s.rest = format!("\n[extensor]\nmoment_arm = \"{r}\"\nline = \"upper arm\"\n");
    Draft {
        prose: format!(
            "{who} holds {thing} of {m} still behind the head: the upper arm points straight up, the elbow is flexed {elbow}° (0° = straight), and the weight acts {at} from the elbow along the forearm. \
             {own} The extensor of the elbow pulls parallel to the upper arm at a moment arm of {r}. Find its force and the joint force with its direction (both in {force})."
        ),
        sheet: s.text(sys),
        asked: vec!["extensor_force", "joint_force"],
    }
}

/// A cable that pulls forwards and down.
fn cable_pull(d: &mut Drawn, held: &Held) -> Draft {
    let Held { who, at, arm: r, .. } = held;
    let own = held.own_in_words();
    let sys = d.system;
    let force = sys.force();
    let pull = d.force((40, 150, 5), (10, 34, 2));
    let alpha = -5 * d.dice.whole(6, 16);
    let mut s = Sheet {
        posture: bent_square().posture,
        ..Sheet::default()
    };
    let _ = write!(
        s.weights,
        "\n[[weight]]\nname = \"cable handle\"\namount = \"{pull}\"\nat = \"{at}\"\ndirection = \"{alpha} deg\"\n"
    );
    held.add_own(&mut s);
    s.rest = format!("\n[flexor]\nmoment_arm = \"{r}\"\nline = \"vertical\"\n");
    Draft {
        prose: format!(
            "{who} holds the handle of a cable still, {at} from the elbow, the upper arm hanging and the forearm horizontal. The cable pulls with {pull}, forwards and down, {}° below the horizontal. \
             {own} The flexor pulls straight up at a moment arm of {r}. Find the force of the flexor and the joint force with its direction (both in {force}).",
            -alpha
        ),
        sheet: s.text(sys),
        asked: vec!["flexor_force", "joint_force"],
    }
}

/// Three flexors share the moment by a rule.
fn level_5(d: &mut Drawn) -> Draft {
    let (who, thing) = (d.dice.pick(&PEOPLE), d.dice.pick(&THINGS));
    let (m, at) = (d.load(8.0), d.in_hand());
    let (mf, af) = d.forearm();
    let force = d.system.force();
    let mut s = bent_square();
    s.weight(object(thing), &m, &at, "forearm");
    s.weight("forearm and hand", &mf, &af, "forearm");
    let (sharing, rule) = match d.dice.whole(0, 2) {
        0 => (
            "equal stress",
            "the stress (force over cross-section) is the same in all three",
        ),
        1 => (
            "p = 2",
            "the sum of the squares of their stresses (force over cross-section) is the smallest",
        ),
        _ => (
            "p = 3",
            "the sum of the cubes of their stresses (force over cross-section) is the smallest",
        ),
    };
    let mut each = Vec::new();
    // moment arms about those of the published curves at 90°, cross-sections about those of the tables
    for (name, arm, arm_in, area, area_in) in [
        (
            "biceps",
            (4.0, 5.2, 0.1),
            (1.6, 2.0, 0.05),
            (3.5, 6.0, 0.1),
            (0.55, 0.95, 0.05),
        ),
        (
            "brachialis",
            (2.2, 3.2, 0.1),
            (0.85, 1.25, 0.05),
            (5.5, 8.5, 0.1),
            (0.85, 1.3, 0.05),
        ),
        (
            "brachioradialis",
            (4.6, 6.2, 0.1),
            (1.8, 2.4, 0.05),
            (1.0, 2.0, 0.1),
            (0.15, 0.3, 0.05),
        ),
    ] {
        let r = d.of(arm, arm_in, System::length);
        let a = d.of(area, area_in, System::area);
        let _ = write!(
            s.rest,
            "\n[[flexor]]\nname = \"{name}\"\nmoment_arm = \"{r}\"\narea = \"{a}\"\nline = \"vertical\"\n"
        );
        each.push(format!("{name} {r} and {a}"));
    }
    let sheet = s
        .text(d.system)
        .replacen("[problem]\n", &format!("[problem]\nsharing = \"{sharing}\"\n"), 1);
    Draft {
        prose: format!(
            "{who} holds {thing} of {m} still, {at} from the elbow along the forearm; the elbow is bent 90° and the upper arm hangs. Forearm and hand: {mf}, mass centre {af} from the elbow. \
             Three flexors pull straight up; moment arm and cross-section: {}. They share the moment so that {rule}. Find the force of each, their sum, and the joint force with its direction (all in {force}).",
            each.join(", ")
        ),
        sheet,
        asked: vec![
            "biceps_force",
            "brachialis_force",
            "brachioradialis_force",
            "flexor_force",
            "joint_force",
        ],
    }
}

/// Whether an answer is one a class believes: no load of 60 kg at arm's length, nothing held at mid-forearm,
/// no hand behind the elbow.
fn plausible(w: &Worked) -> bool {
    w.answers.iter().all(|a| match a.name.as_str() {
        "mass" => (0.5..=25.0).contains(&a.stated.si),
        "distance" => (0.26..=0.40).contains(&a.stated.si),
        "elbow_angle" | "elbow_angle_2" => (0.2..=2.5).contains(&a.stated.si),
        "flexor_force" | "extensor_force" => (20.0..=4000.0).contains(&a.stated.si),
        "moment_arm" => a.stated.si >= 0.012,
        _ => true,
    })
}

/// Draws the problems of a sheet. Without a level they rise from 1 to 5.
///
/// # Errors
/// None in practice: a draw that has no answer is drawn again.
pub fn sheet(
    count: usize,
    seed: u64,
    level: Option<u8>,
    system: System,
) -> Result<Vec<Exercise>, StaticsError> {
    let mut drawn = Drawn {
        dice: Dice(ChaCha8Rng::seed_from_u64(seed)),
        system,
    };
    (0..count)
        .map(|i| {
            let level = level.unwrap_or(1 + (i * 5 / count.max(1)) as u8);
            let mut last = None;
            for _ in 0..TRIES {
                let draft = match level {
                    1 => level_1(&mut drawn),
                    2 => level_2(&mut drawn),
                    3 => level_3(&mut drawn),
                    4 => level_4(&mut drawn),
                    _ => level_5(&mut drawn),
                };
                let solved = Problem::from_text(&draft.sheet, "practice").and_then(|p| Ok((p.solve()?, p)));
                match solved {
                    Ok((solution, problem)) => {
                        let mut w = worked::write(&problem, &solution);
                        w.title = format!("Problem {}", i + 1);
                        if plausible(&w) {
                            let Draft { prose, sheet, asked } = draft;
                            return Ok(Exercise {
                                level,
                                prose: typeset_prose(&prose),
                                sheet,
                                worked: w,
                                asked,
                                problem,
                                solution,
                            });
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

/// Hyphens between words stay; a minus before a number is one.
fn typeset_prose(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let minus = |i: usize| {
        chars[i] == '-'
            && chars.get(i + 1).is_some_and(char::is_ascii_digit)
            && (i == 0 || !chars[i - 1].is_alphanumeric())
    };
    (0..chars.len())
        .map(|i| {
            if minus(i) {
                typeset("-")
            } else {
                chars[i].to_string()
            }
        })
        .collect()
}

/// Name of the picture of a problem.
pub fn sketch_file(i: usize) -> String {
    format!("problem-{}.png", i + 1)
}

/// Name of the free body of a problem's answer.
pub fn key_file(i: usize) -> String {
    format!("answer-{}.png", i + 1)
}

/// What the class gets; with pictures it names their files.
pub fn problems(all: &[Exercise], seed: u64, system: System, pictures: bool) -> String {
    let mut out = String::from("# Practice: arms in balance\n\n");
    out += &format!(
        "Work in one vertical plane with {}. Sketch the forearm cut free at the elbow, draw every force with its lever, sum the torques about the joint, then the forces. \
         Give results to three figures in the units asked for and, for forces, directions.\n\n",
        system.gravity_words()
    );
    for (i, e) in all.iter().enumerate() {
        out += &format!("**{}.** (level {}) {}\n\n", i + 1, e.level, e.prose);
        if pictures {
            out += &format!(
                "![Problem {}: the arm with what is given]({})\n\n",
                i + 1,
                sketch_file(i)
            );
        }
    }
    out += &format!(
        "Sheet {seed}, {} problem{}.\n",
        all.len(),
        if all.len() == 1 { "" } else { "s" }
    );
    out
}

/// The values of the asked answers, rounded as in the solution: forces add up as printed.
fn key_line(e: &Exercise) -> String {
    let answers = e
        .asked
        .iter()
        .filter_map(|name| e.worked.answers.iter().find(|a| a.name == *name));
    answers
        .map(|a| {
            let what = a.what.split(" (").next().unwrap_or("");
            format!("{what} {} = {}", a.stated.symbol, a.rounded)
        })
        .collect::<Vec<_>>()
        .join("; ")
}

/// What the teacher keeps: key and worked solutions; with pictures the free body of each.
pub fn answers(all: &[Exercise], seed: u64, system: System, pictures: bool) -> String {
    let mut out = format!(
        "# Answer key\n\nSheet {seed}, {} problem{}, ",
        all.len(),
        if all.len() == 1 { "" } else { "s" }
    );
    out += &format!(
        "{}. Forces stand at one decimal place, so that they add up as printed wherever rounding allows; three figures are enough of a student.\n\n",
        system.gravity_words()
    );
    for (i, e) in all.iter().enumerate() {
        out += &format!("{}. {}\n", i + 1, key_line(e));
    }
    out += "\n# Worked solutions\n\n";
    for (i, e) in all.iter().enumerate() {
        out += &render::markdown(&e.worked, 2);
        if pictures {
            out += &format!("\n![Problem {}: free body]({})\n", i + 1, key_file(i));
        }
        out.push('\n');
    }
    out
}

//! `[muscles]`: which muscles, how they share, where they pull.

use super::areas::{CROSS_SECTIONS, cross_section};
use super::curves::{CURVE_SOURCE, CURVES, Curve, EXTENSORS, FLEXORS, MINOR, curve, plain_name};
use super::sharing::{RULES, Sharing};
use super::{Arm, Line, Model, Muscle, Muscles, own, two_degrees};
use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;
use std::path::Path;

/// Farthest that a muscle's point lies from the elbow, m.
pub(super) const FURTHEST_M: f64 = 0.6;
/// Longest moment arm, m.
pub(super) const LONGEST_ARM_M: f64 = 0.2;
const SQUARE_CM: f64 = 1e-4;

/// Keys of `[muscles]`.
pub const KEYS: &[Key] = &[
    Key {
        key: "muscles.model",
        kind: "\"single\" or \"shared\"",
        unit: "",
        default: "\"single\"",
        meaning: "One equivalent flexor carries the whole moment (the classroom's model; an equivalent extensor where the moment extends), or biceps, brachialis and brachioradialis, triceps and anconeus share it.",
        example: "\"shared\"",
    },
    Key {
        key: "muscles.moment_arm",
        kind: "\"flexors\", \"biceps\", \"brachialis\" or \"brachioradialis\"",
        unit: "",
        default: "\"flexors\"",
        meaning: "Published curve of the single flexor's moment arm over elbow flexion; \"flexors\" is that of the three together, weighted by cross-section.",
        example: "\"brachialis\"",
    },
    Key {
        key: "muscles.moment_arm_m",
        kind: "number",
        unit: "m",
        default: "none; the curve is used",
        meaning: "A constant moment arm of the single flexor, in place of the curve.",
        example: "0.04",
    },
    Key {
        key: "muscles.sharing",
        kind: "\"p = 3\", \"p = 2\" or another power above 1, \"equal stress\" or \"least stress\"",
        unit: "",
        default: "\"p = 3\"",
        meaning: "How several muscles share: the smallest sum of (force / cross-section) to a power, the same stress in all, or the largest stress as small as it can be.",
        example: "\"p = 2\"",
    },
    Key {
        key: "muscles.also",
        kind: "list of \"pronator teres\", \"ECRL\"",
        unit: "",
        default: "[]; the three flexors",
        meaning: "Further flexors of the published tables that share, too.",
        example: "[\"pronator teres\"]",
    },
    Key {
        key: "muscles.file",
        kind: "text",
        unit: "",
        default: "none; published muscles",
        meaning: "Muscles of your own in place of the published ones: TOML or CSV, see docs/muscles.md.",
        example: "\"my_muscles.toml\"",
    },
    Key {
        key: "muscles.balance",
        kind: "\"flexion\" or \"flexion and pronation\"",
        unit: "",
        default: "\"flexion\"",
        meaning: "Which moments the muscles balance. Pronation needs muscles of your own with moment arms about both: none is published here.",
        example: "\"flexion and pronation\"",
    },
    Key {
        key: "muscles.cocontraction_fraction",
        kind: "number",
        unit: "",
        default: "0.0; nothing is assumed",
        meaning: "What the elbow would bear if the other side pulled against the net moment by this part of it: an assumption, shown beside the estimate.",
        example: "0.2",
    },
    Key {
        key: "muscles.line.*.origin_m",
        kind: "list of three numbers",
        unit: "m",
        default: "none; along the humerus",
        meaning: "Where a muscle begins: from the elbow centre in the upper arm's axes (forwards, towards the shoulder, outwards). It pulls there straight from its insertion; its moment arm stays what it is. Give both or none.",
        example: "[0.01, 0.28, 0.0]",
    },
    Key {
        key: "muscles.line.*.insertion_m",
        kind: "list of three numbers",
        unit: "m",
        default: "none; along the humerus",
        meaning: "Where it ends: from the elbow centre in the forearm's axes (forwards, towards the elbow, outwards).",
        example: "[0.01, -0.04, 0.0]",
    },
];

/// A published muscle, or several together.
fn published(c: &Curve) -> Muscle {
    let names = c.muscles();
    let areas = names.iter().filter_map(|n| cross_section(n));
    let sources: Vec<String> = areas
        .clone()
        .map(|a| format!("{}: {}", a.name, a.source))
        .collect();
    Muscle {
        name: c.name.to_owned(),
        arm: Arm::of(c),
        pronation: None,
        area: areas.map(|a| a.area_cm2).sum::<f64>() * SQUARE_CM,
        area_source: sources.join("; "),
        line: Line::AlongHumerus,
    }
}

fn named(name: &str) -> Muscle {
    published(curve(name).unwrap_or(&CURVES[0]))
}

impl Default for Muscles {
    fn default() -> Self {
        Self {
            model: Model::Single,
            list: vec![named("flexors"), named("extensors")],
            rule: Sharing::default(),
            pronation: false,
            cocontraction: 0.0,
            arms_times: 1.0,
        }
    }
}

impl Muscles {
    /// The published muscles that share, by a rule.
    pub fn shared(rule: Sharing) -> Self {
        Self {
            model: Model::Shared,
            list: FLEXORS.iter().chain(EXTENSORS).map(|n| named(n)).collect(),
            rule,
            ..Self::default()
        }
    }

    /// Reads `[muscles]`; files are looked for from `dir`.
    ///
    /// # Errors
    /// Unknown names, keys of the other model, a file that can't be read, muscles that can't balance what is asked.
    pub fn read(keys: Keys, dir: &Path) -> Result<Self, FormError> {
        let model = keys.choice_or(
            "model",
            &[("single", Model::Single), ("shared", Model::Shared)],
            ("single", Model::Single),
            "one equivalent flexor: the classroom's model",
        )?;
        let mut out = match model {
            Model::Single => single(&keys)?,
            Model::Shared => shared(&keys, dir)?,
        };
        refuse_other_model(&keys, model)?;
        let given = keys.number_within("cocontraction_fraction", 0.0, 5.0, "")?;
        if out.pronation && given.is_some_and(|c| c != 0.0) {
            return Err(FormError::Conflict {
                place: keys.place_of("cocontraction_fraction"),
                what: "muscles.cocontraction_fraction beside muscles.balance = \"flexion and pronation\""
                    .into(),
                hint:
                    "with two moments muscles of both sides are in the balance already; remove one of the two"
                        .into(),
            });
        }
        let why = "nothing is assumed of the other side: a net moment does not show it";
        out.cocontraction = keys.or("cocontraction_fraction", given, 0.0, why);
        lines(&keys, &mut out)?;
        keys.finish()?;
        Ok(out)
    }
}

/// Keys that only the other model has.
fn refuse_other_model(keys: &Keys, model: Model) -> Result<(), FormError> {
    let (others, this, other): (&[&str], _, _) = match model {
        Model::Single => (&["sharing", "also", "file", "balance"], "single", "shared"),
        Model::Shared => (&["moment_arm", "moment_arm_m"], "shared", "single"),
    };
    match others.iter().find(|k| keys.has(k)) {
        Some(k) => Err(FormError::Conflict {
            place: keys.place_of(k),
            what: format!(
                "{} belongs to muscles.model = \"{other}\"; the model is \"{this}\"",
                keys.path_of(k)
            ),
            hint: format!("write muscles.model = \"{other}\", or remove the key"),
        }),
        None => Ok(()),
    }
}

/// The single equivalent flexor, and its extensor.
fn single(keys: &Keys) -> Result<Muscles, FormError> {
    let constant = keys.positive("moment_arm_m", LONGEST_ARM_M, "m")?;
    let choices: Vec<&str> = ["flexors"].iter().chain(FLEXORS).copied().collect();
    let chosen = match keys.text("moment_arm")? {
        None => None,
        Some(name) => {
            let known = choices.iter().find(|c| plain_name(c) == plain_name(&name));
            Some(*known.ok_or_else(|| keys.unknown_choice("moment_arm", &name, &choices))?)
        }
    };
    let mut out = Muscles::default();
    out.list[0].arm = match (constant, chosen) {
        (Some(_), Some(_)) => {
            return Err(FormError::Conflict {
                place: keys.place_of("moment_arm"),
                what: "both muscles.moment_arm (a curve) and muscles.moment_arm_m (a constant) are given"
                    .into(),
                hint: "keep one of them".into(),
            });
        }
        (Some(r), None) => Arm::Constant(r),
        (None, Some(name)) => named(name).arm,
        (None, None) => {
            let why = format!(
                "biceps, brachialis and brachioradialis together, weighted by cross-section ({})",
                CURVE_SOURCE
            );
            keys.note_default("moment_arm", "flexors", &why);
            named("flexors").arm
        }
    };
    Ok(out)
}

/// Several muscles.
fn shared(keys: &Keys, dir: &Path) -> Result<Muscles, FormError> {
    let rule = match keys.text("sharing")? {
        None => {
            keys.note_default(
                "sharing",
                "p = 3",
                "Crowninshield & Brand (1981) J Biomech 14:793-801",
            );
            Sharing::default()
        }
        Some(text) => {
            Sharing::parse(&text).ok_or_else(|| keys.out_of_range("sharing", format!("\"{text}\""), RULES))?
        }
    };
    let pronation = keys.choice_or(
        "balance",
        &[("flexion", false), ("flexion and pronation", true)],
        ("flexion", false),
        "no moment arms about pronation are published here",
    )?;
    let mut out = Muscles {
        pronation,
        ..Muscles::shared(rule)
    };
    let also = keys.or(
        "also",
        keys.texts("also")?,
        Vec::new(),
        "the three flexors of the model",
    );
    if let Some(file) = keys.text("file")? {
        if !also.is_empty() {
            return Err(FormError::Conflict {
                place: keys.place_of("also"),
                what: "both muscles.also and muscles.file are given".into(),
                hint: "add the muscles to the file: curve = \"pronator teres\"".into(),
            });
        }
        out.list = own::read(&dir.join(&file), &keys.place_of("file"))?;
    }
    for name in also {
        out.list.push(minor(keys, &name, &out.list)?);
    }
    if pronation {
        check_pronation(keys, &out)?;
    }
    Ok(out)
}

/// A further flexor of the tables.
fn minor(keys: &Keys, name: &str, known: &[Muscle]) -> Result<Muscle, FormError> {
    let plain = plain_name(name);
    if known.iter().any(|m| plain_name(&m.name) == plain) {
        return Err(keys.out_of_range(
            "also",
            format!("\"{name}\""),
            "muscles that are not in the model already, each once",
        ));
    }
    if let Some(n) = MINOR.iter().find(|n| plain_name(n) == plain) {
        return Ok(named(n));
    }
    let lacking = match (curve(name), plain.as_str()) {
        (Some(c), _) if c.muscles().len() == 1 && cross_section(name).is_none() => {
            Some("a moment-arm curve and no cross-section")
        }
        (None, "ecrb" | "supinator") => Some("a cross-section and no moment-arm curve"),
        _ => None,
    };
    match lacking {
        Some(has) => Err(keys.out_of_range(
            "also",
            format!("\"{name}\", of which the tables have {has}"),
            &format!(
                "one of: {}; others in a file of your own (muscles.file)",
                MINOR.join(", ")
            ),
        )),
        None => Err(keys.unknown_choice("also", name, MINOR)),
    }
}

/// Whether the muscles can balance pronation, too.
fn check_pronation(keys: &Keys, of: &Muscles) -> Result<(), FormError> {
    let conflict = |what: String, hint: &str| FormError::Conflict {
        place: keys.place_of("balance"),
        what,
        hint: hint.into(),
    };
    let without: Vec<&str> = of
        .list
        .iter()
        .filter(|m| m.pronation.is_none())
        .map(|m| m.name.as_str())
        .collect();
    if !without.is_empty() {
        return Err(conflict(
            format!(
                "muscles.balance = \"flexion and pronation\" needs moment arms about both, and there is none about pronation of: {}",
                without.join(", ")
            ),
            "the published curves here are of flexion only; give pronation_arm_cm (or points) for every muscle in muscles.file, or balance flexion alone",
        ));
    }
    if !two_degrees::can(of.rule) {
        return Err(conflict(
            "muscles.sharing = \"equal stress\" beside two moments: one stress does not meet both".into(),
            "write sharing = \"least stress\" or a power like \"p = 3\"",
        ));
    }
    Ok(())
}

/// `[muscles.line.*]`: where muscles pull.
fn lines(keys: &Keys, of: &mut Muscles) -> Result<(), FormError> {
    let Some(all) = keys.table("line")? else {
        return Ok(());
    };
    for name in all.names() {
        let Some(k) = all.table(&name)? else { continue };
        let found = of
            .list
            .iter_mut()
            .find(|m| plain_name(&m.name) == plain_name(&name));
        let line = read_line(&k)?;
        k.finish()?;
        match found {
            Some(m) => m.line = line,
            None => {
                let names: Vec<&str> = of.list.iter().map(|m| m.name.as_str()).collect();
                return Err(all.unknown_choice(&name, &name, &names));
            }
        }
    }
    all.finish()
}

/// Origin and insertion.
pub(super) fn read_line(k: &Keys) -> Result<Line, FormError> {
    let point = |key: &str| {
        let p = k.vector(key)?;
        match p {
            Some(p) if p.norm() > FURTHEST_M => Err(k.out_of_range(
                key,
                format!("a point {:.3} m from the elbow centre", p.norm()),
                &format!("a point within {FURTHEST_M} m of it, in metres"),
            )),
            p => Ok(p),
        }
    };
    match (point("origin_m")?, point("insertion_m")?) {
        (Some(origin), Some(insertion)) => Ok(Line::Points { origin, insertion }),
        (None, None) => Err(k.missing("origin_m", "origin_m and insertion_m, three numbers each")),
        (None, _) => Err(k.missing("origin_m", "the origin beside the insertion, three numbers")),
        (_, None) => Err(k.missing("insertion_m", "the insertion beside the origin, three numbers")),
    }
}

/// Names of muscles that have a published cross-section.
pub fn names_with_area() -> Vec<&'static str> {
    CROSS_SECTIONS.iter().map(|c| c.name).collect()
}

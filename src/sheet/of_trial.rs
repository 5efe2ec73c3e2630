//! What a sheet says of the trial as a whole: `[trial]`, `[agreement]`.

use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;
use crate::ground::names::Side;
use crate::ground::place::Place;
use std::path::{Path, PathBuf};

/// Keys of `[trial]`.
pub const TRIAL_KEYS: &[Key] = &[
    Key {
        key: "trial.id",
        kind: "text",
        unit: "",
        default: "required",
        meaning: "Name of the trial; also the folder that results are written to.",
        example: "\"P03-curl-2\"",
    },
    Key {
        key: "trial.sides",
        kind: "list of \"right\", \"left\"",
        unit: "",
        default: "required",
        meaning: "The arms to compute.",
        example: "[\"right\"]",
    },
    Key {
        key: "trial.from_s",
        kind: "number",
        unit: "s",
        default: "none; from the first frame",
        meaning: "Start of the part of the recording that results are given for.",
        example: "0.5",
    },
    Key {
        key: "trial.to_s",
        kind: "number",
        unit: "s",
        default: "none; to the last frame",
        meaning: "End of that part; later than from_s.",
        example: "12.0",
    },
];

/// Keys of `[agreement]`.
pub const AGREEMENT_KEYS: &[Key] = &[
    Key {
        key: "agreement.problem",
        kind: "text",
        unit: "",
        default: "none; the estimate is made from each hold itself",
        meaning: "File of a problem worked by hand (a sheet of `armload statics`), from the sheet's folder: it is held against the holds recorded in its posture.",
        example: "\"hold.toml\"",
    },
    Key {
        key: "agreement.side",
        kind: "\"right\" or \"left\"",
        unit: "",
        default: "none; every arm of the trial",
        meaning: "The arm that the problem is about.",
        example: "\"right\"",
    },
    Key {
        key: "agreement.posture_deg",
        kind: "number",
        unit: "°",
        default: "10.0",
        meaning: "How far the forearm of a hold may be from the problem's and still be its posture.",
        example: "5.0",
    },
];

/// `[trial]`
#[derive(Clone, Debug)]
pub struct TrialSettings {
    /// Name of the trial; also the default output folder.
    pub id: String,
    /// Arms to compute.
    pub sides: Vec<Side>,
    /// Start of the window of results, s.
    pub from_s: Option<f64>,
    /// End of the window of results, s.
    pub to_s: Option<f64>,
}

/// `[agreement]`
#[derive(Clone, Debug)]
pub struct AgreementSettings {
    /// A hand-worked problem (a sheet of `armload statics`), resolved against the sheet's folder, and where
    /// the key stands.
    pub problem: Option<(PathBuf, Place)>,
    /// The arm the problem is about; `None`: every arm of the trial.
    pub side: Option<Side>,
    /// The problem stands for holds whose forearm angle is its own within this, rad.
    pub posture: f64,
}

/// How far a hold's forearm angle may be from the problem's unless the sheet says otherwise, °: what a
/// goniometer and a good eye reach.
const POSTURE_DEG: f64 = 10.0;

impl AgreementSettings {
    /// Reads `[agreement]`.
    pub fn read(keys: Option<Keys>, dir: &Path, sides: &[Side]) -> Result<Self, FormError> {
        let Some(keys) = keys else {
            return Ok(Self {
                problem: None,
                side: None,
                posture: POSTURE_DEG.to_radians(),
            });
        };
        let problem = keys.text("problem")?;
        if problem.as_ref().is_some_and(|p| p.trim().is_empty()) {
            return Err(keys.out_of_range(
                "problem",
                "an empty text",
                "the file of a problem for `armload statics`, relative to this sheet",
            ));
        }
        let problem = problem.map(|p| (dir.join(p), keys.place_of("problem")));
        let side = keys.choice("side", &[("right", Side::Right), ("left", Side::Left)])?;
        if let Some(s) = side.filter(|s| !sides.contains(s)) {
            return Err(FormError::Conflict {
                place: keys.place_of("side"),
                what: format!("agreement.side is \"{s}\", but trial.sides does not list it"),
                hint: "name an arm of the trial, or leave the key out for every arm".into(),
            });
        }
        let given = keys.positive("posture_deg", 90.0, "°")?;
        let posture = keys.or(
            "posture_deg",
            given,
            POSTURE_DEG,
            "about what a posture is set to by eye",
        );
        keys.finish()?;
        Ok(Self {
            problem,
            side,
            posture: posture.to_radians(),
        })
    }
}

impl TrialSettings {
    /// Reads `[trial]`.
    pub fn read(keys: Keys) -> Result<Self, FormError> {
        let id = keys.required_text("id", "a name for the trial, like \"P03-curl-2\"")?;
        keys.check_folder_name("id", &id)?;
        let names = keys
            .texts("sides")?
            .ok_or_else(|| keys.missing("sides", "the arms to compute: [\"right\"], [\"left\"] or both"))?;
        let mut sides = Vec::new();
        for name in &names {
            let side = Side::ALL
                .into_iter()
                .find(|s| s.name() == name)
                .ok_or_else(|| keys.unknown_choice("sides", name, &["right", "left"]))?;
            if sides.contains(&side) {
                return Err(keys.out_of_range("sides", format!("{names:?}"), "each side once"));
            }
            sides.push(side);
        }
        if sides.is_empty() {
            return Err(keys.out_of_range("sides", "an empty list", "[\"right\"], [\"left\"] or both"));
        }
        let (from_s, to_s) = (keys.number("from_s")?, keys.number("to_s")?);
        if let (Some(a), Some(b)) = (from_s, to_s)
            && b <= a
        {
            return Err(keys.out_of_range("to_s", b, &format!("a time after from_s = {a} s")));
        }
        keys.finish()?;
        Ok(Self {
            id,
            sides,
            from_s,
            to_s,
        })
    }
}

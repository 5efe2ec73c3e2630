//! Keys that change nothing in this trial: refused, since who wrote them believes that they do.
//!
//! A key of an included file is meant for several trials, and one that the recording knows better is a second
//! opinion: these are left out of the settings, and said.

use super::plan::Plan;
use crate::anatomy::settings::HandModel;
use crate::anatomy::tables::Part;
use crate::ground::form::keys::Setting;
use crate::ground::form::{FormError, SourceOfValue};
use crate::ground::place::Place;
use crate::ground::scene::Scene;
use crate::ground::warning::Warning;
use crate::muscles::Model;
use crate::points::clusters::{ClusterReport, cluster_name};
use crate::points::settings::ElbowMethod;
use crate::sheet::TrialSheet;
use crate::smoothing::settings::ForceCutoff;

/// What the keys are held against.
#[derive(Clone, Copy)]
pub(super) struct Look<'a> {
    pub sheet: &'a TrialSheet,
    pub plan: &'a Plan,
    pub hand: HandModel,
    pub clusters: &'a [ClusterReport],
    /// The static trial.
    pub statics: Option<&'a Scene>,
    /// Whether the recording is a text.
    pub is_text: bool,
}

/// Goes through the keys that the sheet gives: paths of those without effect that are let pass.
///
/// # Errors
/// The first one that has no effect and is not.
pub(super) fn refuse(look: &Look<'_>) -> Result<(Vec<String>, Vec<Warning>), FormError> {
    let (mut idle, mut warnings) = (Vec::new(), Vec::new());
    for Idle {
        path,
        why,
        hint,
        place,
        known_better,
    } in without_effect(look)
    {
        let given: Vec<&Setting> = look.sheet.given(&path).collect();
        let own = given
            .iter()
            .find(|s| !matches!(s.source, SourceOfValue::Included(_)));
        // a table without a value inside has a place of its own
        let place = own
            .and_then(|s| s.place.clone())
            .or(place.filter(|_| given.is_empty()));
        if let (Some(place), false) = (place, known_better) {
            return Err(FormError::NoEffect {
                place,
                key: path,
                why,
                hint,
            });
        }
        let file = given.first().map(|s| match &s.source {
            SourceOfValue::Included(file) => file.clone(),
            _ => look.sheet.path.display().to_string(),
        });
        if let Some(file) = file {
            warnings.push(Warning::KeyWithoutEffect {
                key: path.clone(),
                file,
                why,
            });
            idle.push(path);
        }
    }
    Ok((idle, warnings))
}

/// A key, or a table of keys, that changes nothing.
struct Idle {
    path: String,
    why: String,
    hint: String,
    /// Where a table without a value stands.
    place: Option<Place>,
    /// Whether the recording shows the same thing, and better.
    known_better: bool,
}

fn idle(path: impl Into<String>, why: impl Into<String>, hint: impl Into<String>) -> Idle {
    Idle {
        path: path.into(),
        why: why.into(),
        hint: hint.into(),
        place: None,
        known_better: false,
    }
}

fn without_effect(look: &Look<'_>) -> Vec<Idle> {
    let mut out = of_files(look);
    out.extend(of_elbow_and_agreement(look));
    out.extend(of_calibration(look));
    out.extend(of_loads(look));
    out.extend(of_uncertainty(look));
    out
}

/// Sizes of what is not there.
fn of_uncertainty(look: &Look<'_>) -> Vec<Idle> {
    let mut loads = look.plan.loads.iter().flatten();
    let mut out = Vec::new();
    if look.plan.loads.iter().all(Vec::is_empty) {
        for key in ["uncertainty.load_percent", "uncertainty.load_place_mm"] {
            out.push(idle(key, "nothing acts on a hand", "remove it"));
        }
    }
    if !loads.any(|(_, load)| load.has_signal()) {
        let why = "no load brings a recorded file along";
        out.push(idle("uncertainty.force_delay_ms", why, "remove it"));
    }
    if look.sheet.muscles.model == Model::Single {
        let why = "one equivalent muscle bears the whole moment, whatever its cross-section";
        out.push(idle(
            "uncertainty.cross_section_percent",
            why,
            "remove it, or write muscles.model = \"shared\"",
        ));
    }
    out
}

/// Keys of files, filter and hand.
fn of_files(look: &Look<'_>) -> Vec<Idle> {
    let Look {
        sheet, plan, hand, ..
    } = *look;
    let mut out = Vec::new();
    let signals = plan.loads.iter().flatten().any(|(_, load)| load.has_signal());
    // "same" stays true where there is none
    if !signals && matches!(sheet.filter.force_cutoff, ForceCutoff::Own(_)) {
        out.push(idle(
            "filter.force_cutoff_hz",
            "no load brings a recorded file along",
            "remove it; filter.cutoff_hz is that of the markers",
        ));
    }
    let layout = sheet.markers.layout;
    for (key, given) in [
        ("markers.header_rows", layout.header_rows.is_some()),
        ("markers.names_row", layout.names_row.is_some()),
    ] {
        if given && !look.is_text {
            out.push(idle(
                key,
                "the recording is no text: it has no rows above its numbers",
                "remove it",
            ));
        }
    }
    // a forearm + hand row has no values of the hand alone that could be replaced
    let of_one_row = sheet
        .model
        .table
        .row(Part::ForearmAndHand, sheet.participant.sex)
        .is_some();
    if hand == HandModel::Lumped && of_one_row {
        for side in &sheet.trial.sides {
            out.push(idle(
                format!("model.override.{side}.hand"),
                format!("the hand is lumped, and {} has one row for forearm and hand together", sheet.model.table.name),
                format!("put the values of forearm and hand together under [model.override.{side}.forearm], or use the table deleva-1996"),
            ));
        }
    }
    out
}

/// Half widths and hand-worked problems.
fn of_elbow_and_agreement(look: &Look<'_>) -> Vec<Idle> {
    let Look { sheet, plan, .. } = *look;
    let mut out = Vec::new();
    let width_is_measured = |arm: &crate::anatomy::arm::ArmPlan| {
        arm.centres
            .fits
            .iter()
            .any(|f| f.axis_to_epicondyles_deg.is_some())
    };
    if matches!(
        sheet.model.elbow,
        ElbowMethod::Functional {
            half_width_m: Some(_),
            ..
        }
    ) && plan.arms.iter().all(width_is_measured)
    {
        let why = "both epicondyles are known, and the width is theirs";
        let of_width = idle(
            "model.elbow_centre.half_width_m",
            why,
            "remove it; a half-width is for an elbow with one epicondyle",
        );
        out.push(Idle {
            known_better: true,
            ..of_width
        });
    }
    if sheet.agreement.problem.is_none() {
        for key in ["agreement.side", "agreement.posture_deg"] {
            out.push(idle(
                key,
                "agreement.problem names no problem",
                "name the hand-worked problem it is about, or remove it",
            ));
        }
    }
    out
}

/// Clusters that carry nothing, and a static trial that shows nothing.
fn of_calibration(look: &Look<'_>) -> Vec<Idle> {
    let Look {
        sheet,
        plan,
        clusters,
        statics,
        ..
    } = *look;
    let mut out = Vec::new();
    for (i, cluster) in sheet.clusters().iter().enumerate() {
        let name = cluster_name(cluster);
        let carries = |report: &ClusterReport| report.carries.iter().any(|l| plan.names.contains(l));
        let in_a_fit = plan
            .arms
            .iter()
            .flat_map(|p| &p.centres.fits)
            .any(|f| f.bodies.contains(&name));
        if !clusters.get(i).is_some_and(carries) && !in_a_fit {
            let key = cluster_key(sheet, &name);
            out.push(idle(
                key,
                format!("no point in use follows the cluster {name}, in the trial or in the static one"),
                "record its landmarks in the static trial (or name them in markers.rename), or remove the cluster",
            ));
        }
    }
    if let Some(calibration) = &sheet.calibration {
        let shows = |s: &Scene| (0..s.names.len()).any(|i| (0..s.frames()).any(|f| s.has(i, f)));
        if calibration.clusters.is_empty() && !statics.is_some_and(shows) {
            let why = if calibration.file.is_some() {
                "it shows no point that is in use, and no cluster is named"
            } else {
                "no cluster is named"
            };
            let of_table = idle(
                "calibration",
                why,
                "name clusters in [calibration.clusters], or remove [calibration]",
            );
            out.push(Idle {
                place: Some(calibration.file_place.clone()),
                ..of_table
            });
        }
    }
    out
}

/// An empty hand beside a load.
fn of_loads(look: &Look<'_>) -> Vec<Idle> {
    let sheet = look.sheet;
    let mut out = Vec::new();
    for load in sheet.loads.iter().filter(|l| l.kind.is_none()) {
        if let Some(other) = sheet
            .loads
            .iter()
            .find(|l| l.side == load.side && l.kind.is_some())
        {
            out.push(idle(
                format!("load.{}.kind", load.number),
                format!("the {} hand has a load beside it: {}", load.side, other.label),
                "remove the load \"none\", or the other one",
            ));
        }
    }
    out
}

/// The path of a cluster as the sheet writes it: with one arm the side may be left out.
fn cluster_key(sheet: &TrialSheet, name: &str) -> String {
    let full = format!("calibration.clusters.{name}");
    if sheet.given(&full).next().is_some() {
        return full;
    }
    format!("calibration.clusters.{}", name.rsplit('.').next().unwrap_or(name))
}

/// What the sheet says and does not say, as it was used: without what has no effect here, with what the
/// recording decided.
pub(super) fn settings(sheet: &TrialSheet, idle: &[String], warnings: &[Warning]) -> Vec<Setting> {
    let below = |key: &str, path: &String| {
        key.strip_prefix(path.as_str())
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    };
    let mut out: Vec<Setting> = sheet
        .settings
        .iter()
        .filter(|s| !idle.iter().any(|path| below(&s.key, path)))
        .cloned()
        .collect();
    out.extend(warnings.iter().filter_map(|w| match w {
        Warning::HandChosen { chosen, why } => Some(Setting {
            key: "model.hand".into(),
            value: (*chosen).into(),
            source: SourceOfValue::Default((*why).to_owned()),
            place: None,
        }),
        _ => None,
    }));
    out
}

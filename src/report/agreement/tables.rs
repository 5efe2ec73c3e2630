//! agreement.csv, agreement.json, agreement.md

use super::*;

/// A text cell: quoted where it has to be.
pub(super) fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// Columns of `agreement.csv` and what they mean.
pub(super) const COLUMNS: [(&str, &str); 26] = [
    ("participant", "who: participant.id, else what tells people apart"),
    ("arm", "right or left"),
    ("trial", "trial.id"),
    (
        "kind",
        "hold; lift: lift and lower of a whole repetition, without rest; recording: all frames",
    ),
    (
        "number",
        "number of the hold or lift within the arm of the trial, from 1; with trial and arm it names one observation",
    ),
    ("from_s", "start"),
    ("to_s", "end"),
    ("elbow_flexion_deg", "mean elbow flexion"),
    (
        "forearm_deg",
        "mean angle of the forearm to the horizontal; holds only",
    ),
    ("posture", "step of elbow flexion; holds only"),
    ("load", "loads of the arm in words"),
    (
        "load_kg",
        "mass of what hangs in the hand; empty if a load is no weight or acts in a part only",
    ),
    ("estimate", "hand_worked, closed_form or static_part"),
    ("estimate_n_m", "mean of the estimate"),
    (
        "recorded_n_m",
        "mean recorded moment in the frames of the stretch",
    ),
    (
        "difference_n_m",
        "mean of estimate minus recorded, in the frames in which both are known",
    ),
    (
        "difference_percent",
        "the same in % of the mean recorded moment; empty where that is too small to divide by",
    ),
    (
        "rmse_n_m",
        "root mean square of estimate minus recorded over the frames",
    ),
    ("frames", "how many frames both are known in: to pool rmse_n_m"),
    ("recorded_peak_n_m", "largest recorded moment by size"),
    (
        "worst_dynamic_n_m",
        "recorded minus static part where that is largest by size",
    ),
    ("worst_dynamic_at_s", "when that is"),
    ("worst_dynamic_at_deg", "elbow flexion then"),
    (
        "estimate_half_95_n_m",
        "half of the 95 % interval of the estimate; holds of trials with [uncertainty] only",
    ),
    ("recorded_half_95_n_m", "the same of the mean recorded moment"),
    (
        "difference_half_95_n_m",
        "the same of the difference: what estimate and recording share cancels",
    ),
];

/// Name of a step of postures.
pub(super) fn posture_name(elbow_deg: f64) -> String {
    let k = posture_step(elbow_deg) as f64;
    format!(
        "{:.0} to {:.0} deg",
        k * POSTURE_STEP_DEG,
        (k + 1.0) * POSTURE_STEP_DEG
    )
}

/// Long form, for a program of statistics: one row for every hold (lift, recording) and estimate; empty where
/// there is nothing to say.
pub fn csv(found: &Agreement) -> String {
    let mut out = COLUMNS.map(|c| c.0).join(",") + "\n";
    for arm in &found.arms {
        for s in &arm.stretches {
            for (e, c) in Estimate::ALL.iter().zip(&s.estimates) {
                let Some(c) = c else { continue };
                let posture = if s.kind == Kind::Hold && s.elbow_flexion_deg.is_finite() {
                    posture_name(s.elbow_flexion_deg)
                } else {
                    String::new()
                };
                let may = |x: Option<f64>| cell(x.unwrap_or(f64::NAN));
                let cells: [String; COLUMNS.len()] = [
                    quoted(&found.participants[arm.participant].name),
                    arm.side.to_string(),
                    quoted(&arm.trial),
                    s.kind.name().into(),
                    s.number.to_string(),
                    cell(s.from_s),
                    cell(s.to_s),
                    cell(s.elbow_flexion_deg),
                    may(s.forearm_deg),
                    posture,
                    quoted(&arm.loads.join("; ")),
                    may(s.load_kg),
                    e.key().into(),
                    cell(c.static_n_m),
                    cell(s.recorded_n_m),
                    cell(c.difference_n_m),
                    may(c.difference_percent),
                    cell(c.rmse_n_m),
                    c.frames.to_string(),
                    cell(s.recorded_peak_n_m),
                    cell(s.worst_dynamic_n_m),
                    cell(s.worst_dynamic_at_s),
                    cell(s.worst_dynamic_at_deg),
                    may(c.static_half_95_n_m),
                    may(s.recorded_half_95_n_m),
                    may(c.difference_half_95_n_m),
                ];
                out += &cells.join(",");
                out.push('\n');
            }
        }
    }
    out
}

/// Everything, for programs.
pub fn json(found: &Agreement) -> Value {
    tidy(value!({
        "command": "agreement",
        "version": env!("CARGO_PKG_VERSION"),
        "meaning": MEANING,
        "shows": shows(found),
        "method": {
            "source": SOURCE,
            "observation": "one hold; the holds of one participant are repeated measures",
            "bias": "mean of the participants' mean differences: each participant counts the same",
            "limits": "bias ± 1.96 SD; 95 % confidence intervals by recovery of variance estimates; null where the design is too small for them, whatever the spread found",
            "trend": "slope of the difference with elbow flexion, an own height for each participant, N·m for 1°; null where holds differ too little",
            "fewest_holds": FEWEST_HOLDS,
            "fewest_participants_if_several": FEWEST_PARTICIPANTS,
            "least_spread_for_a_trend_deg": LEAST_SPREAD_DEG,
            "smallest_divisor_of_percent_n_m": SMALLEST_DIVISOR_N_M,
            "order_of_estimates": Estimate::ALL.map(Estimate::key),
        },
        "columns_of_csv": COLUMNS.iter().map(|c| (c.0.to_owned(), Value::from(c.1))).collect::<serde_json::Map<_, _>>(),
        "participants": found.participants,
        "estimates": found.estimates,
        "arms": found.arms,
        "verdict": verdict(found),
        "paragraph": paragraph(found),
        "warnings": found.warnings,
        "cautions": CAUTIONS,
    }))
}

/// `agreement.md`: the paragraph, then tables by participant and by posture.
pub fn markdown(found: &Agreement) -> String {
    let mut out = format!(
        "# Static estimates against the recording\n\n{}\n",
        paragraph(found)
    );
    for e in told(found) {
        for (name, first, parts) in tables_of(e) {
            let rows: Vec<Vec<String>> = parts.iter().map(part_cells).collect();
            out += &format!("\n## {name}\n\n");
            let heads = part_heads(first, parts).into_iter().map(|(what, unit)| {
                if unit.is_empty() {
                    what
                } else {
                    format!("{what}, {unit}")
                }
            });
            let heads: Vec<String> = heads.collect();
            out += &format!("| {} |\n|{}\n", heads.join(" | "), "---|".repeat(heads.len()));
            for row in rows {
                out += &format!(
                    "| {} |\n",
                    row.iter()
                        .map(|c| c.replace('|', "\\|"))
                        .collect::<Vec<_>>()
                        .join(" | ")
                );
            }
        }
    }
    out + &format!("\n{CAUTIONS}\n")
}

/// Tables of an estimate: name, head of the first column, rows.
pub(super) fn tables_of(e: &OverAll) -> [(String, &'static str, &[Part]); 2] {
    let name = capital(e.estimate.words());
    [
        (format!("{name} by participant"), "participant", &e.by_participant),
        (
            format!("{name}: holds by elbow angle"),
            "elbow flexion",
            &e.by_posture,
        ),
    ]
}

pub(super) fn part_heads(first: &str, parts: &[Part]) -> Vec<(String, String)> {
    let head = |what: &str, unit: &str| (what.to_owned(), unit.to_owned());
    let mut heads = vec![
        head(first, ""),
        head("people", ""),
        head("arms", ""),
        head("holds", ""),
    ];
    heads.extend([
        head("recorded", "N·m"),
        head("difference", "N·m"),
        head("SD", "N·m"),
        head("furthest", "N·m"),
    ]);
    if parts.iter().any(|p| p.lifts.is_some()) {
        heads.extend([head("repetitions", ""), head("moving, RMS", "N·m")]);
    }
    heads
}

pub(super) fn part_cells(p: &Part) -> Vec<String> {
    let may = |x: Option<f64>, f: fn(f64) -> String| x.map_or("–".to_owned(), f);
    let mut cells = vec![
        p.name.clone(),
        p.participants.to_string(),
        p.arms.to_string(),
        p.holds.to_string(),
    ];
    cells.push(may(p.recorded_n_m, short_moment));
    cells.push(may(p.difference_n_m, signed));
    cells.push(may(p.difference_sd_n_m, short_moment));
    cells.push(may(p.largest_n_m, signed));
    if let Some(lifts) = p.lifts {
        cells.extend([lifts.to_string(), may(p.lifts_rmse_n_m, short_moment)]);
    }
    cells
}

//! `summary.json`, and the same in plain words.

use super::CAUTIONS;
use crate::findings::{ArmFindings, Peak};
use crate::ground::names::Side;
use crate::ground::place::file_name;
use crate::results::{QUANTITIES, TrialResults, Unit, flag};
use crate::sheet::{SourceOfValue, TrialSheet};
use crate::smoothing::residual;
use serde_json::{Map, Value, json};

/// What every output means, stated once (Derrick et al. 2020, J Biomech 99:109533, asks for this statement).
pub const STATEMENT: &str = "Joint forces and moments are net internal loads: they act on the distal segment by the proximal one, moments about the joint centre. \
World axes: X forward, Y up, Z to the right (Wu & Cavanagh 1995). Components along joint axes are dot products.";

/// A number for JSON: six decimals or nine significant digits, missing is null.
fn number(x: f64) -> Value {
    if !x.is_finite() {
        return Value::Null;
    }
    // + 0.0 turns -0 into 0
    let rounded = (x * 1e6).round() / 1e6 + 0.0;
    let nine: f64 = format!("{x:.8e}").parse().unwrap_or(x);
    json!(if (rounded - x).abs() <= (nine - x).abs() { rounded } else { nine })
}

/// Rounds every number of a tree.
pub(super) fn tidy(value: Value) -> Value {
    match value {
        Value::Number(n) if n.is_f64() => number(n.as_f64().unwrap_or(f64::NAN)),
        Value::Array(a) => a.into_iter().map(tidy).collect(),
        Value::Object(o) => Value::Object(o.into_iter().map(|(k, v)| (k, tidy(v))).collect()),
        other => other,
    }
}

/// The whole summary.
pub fn json(sheet: &TrialSheet, results: &TrialResults, findings: &[ArmFindings]) -> Value {
    let settings: Vec<Value> = results
        .settings
        .iter()
        .map(|s| {
            let (source, why) = match &s.source {
                SourceOfValue::Sheet => ("sheet", None),
                SourceOfValue::Included(file) => ("included file", Some(file)),
                SourceOfValue::CommandLine => ("command line", None),
                SourceOfValue::Default(why) => ("default", Some(why)),
            };
            let mut o = json!({ "key": s.key, "value": s.value, "source": source });
            if let Some(why) = why {
                o[if matches!(s.source, SourceOfValue::Included(_)) { "file" } else { "why" }] = json!(why);
            }
            o
        })
        .collect();
    let quantities: Map<String, Value> = QUANTITIES
        .iter()
        .filter(|q| q.written)
        .map(|q| (q.name.to_owned(), json!({ "unit": q.unit.words(), "meaning": q.meaning })))
        .collect();
    let flags: Map<String, Value> = flag::NAMES.iter().map(|(_, name, meaning)| ((*name).to_owned(), json!(meaning))).collect();
    let arms: Vec<Value> = results
        .arms
        .iter()
        .zip(findings)
        .map(|(arm, found)| {
            let mut o = json!(found);
            let segments: Vec<Value> = [Some(&arm.body.upper_arm), Some(&arm.body.forearm), arm.body.hand.as_ref()].into_iter().flatten().map(|s| json!(s)).collect();
            o["shoulder_centre"] = json!(arm.centres.shoulder);
            o["elbow_centre"] = json!(arm.centres.elbow);
            o["wrist_centre"] = json!(arm.centres.wrist);
            o["functional_fits"] = json!(arm.centres.fits);
            o["segments"] = json!(segments);
            let of_side = sheet.loads.iter().filter(|l| l.side == arm.side);
            o["loads"] = arm
                .loads
                .iter()
                .map(|(label, words)| {
                    let kind = of_side.clone().find(|l| l.label == *label).and_then(|l| l.kind.as_ref());
                    let whole_kg = kind.and_then(|k| k.bar().map(|b| b.mass_kg).or(k.weight_kg()));
                    json!({ "label": label, "is": words, "mass_on_hand_kg": kind.and_then(|k| k.weight_kg()), "mass_in_all_kg": whole_kg })
                })
                .collect();
            o["flexor"] = json!(sheet.flexor.words());
            o["energy_audit"] = match &arm.audit {
                Some(a) => json!({
                    "rms_w": a.rms_w, "peak_power_w": a.peak_power_w, "rms_relative_to_peak": a.relative(),
                    "meaning": "rate of kinetic and potential energy of forearm, hand and load against the power put into them by elbow, wrist and other forces"
                }),
                None => Value::Null,
            };
            o
        })
        .collect();
    let mut smoothing = match (results.smoothing.cutoff_hz, &results.smoothing.analysis) {
        (None, _) => json!({ "method": "none" }),
        (Some(hz), analysis) => {
            let mut o = json!({
                "method": "butterworth",
                "what": "zero-lag, second order forward and backward; the cutoff is the effective -3 dB point of both",
                "cutoff_hz": hz,
            });
            if let Some(a) = analysis {
                o["residual_analysis"] = json!({
                    "asked_hz": a.asked_hz,
                    "quantile": residual::QUANTILE,
                    "bounds_hz": [residual::BOUNDS_HZ.0, residual::BOUNDS_HZ.1],
                    "coordinates": a.curves.iter().map(|c| json!({ "name": c.name, "noise_mm": c.noise * 1e3, "cutoff_hz": c.cutoff_hz })).collect::<Vec<_>>(),
                });
            }
            o
        }
    };
    if !results.smoothing.signals.is_empty() {
        smoothing["of_load_files"] = results
            .smoothing
            .signals
            .iter()
            .map(|s| {
                let mut o = json!({ "load": s.load, "file": s.file, "rate_hz": s.rate_hz, "cutoff_hz": s.cutoff_hz });
                if let Some(a) = &s.analysis {
                    o["residual_analysis"] = json!({
                        "asked_hz": a.asked_hz,
                        "series": a.curves.iter().map(|c| json!({ "name": c.name, "noise": c.noise, "cutoff_hz": c.cutoff_hz })).collect::<Vec<_>>(),
                    });
                }
                o
            })
            .collect();
    }
    let points: Vec<Value> = results
        .points
        .iter()
        .map(|p| {
            json!({
                "name": p.name,
                "filled_gaps": p.gaps.filled.len(),
                "filled_frames": p.gaps.filled.iter().map(|g| g.len()).sum::<usize>(),
                "gaps_left": p.gaps.left.len(),
                "missing_frames": p.gaps.left.iter().map(|g| g.len()).sum::<usize>(),
                "frames_too_short_to_smooth": p.short_frames,
            })
        })
        .collect();
    let clusters: Vec<Value> = results
        .clusters
        .iter()
        .map(|c| {
            let (registered_frames, rms_m, max_m) = c.residual();
            json!({
                "name": c.name,
                "registered_frames": registered_frames,
                "frames_with_too_few_markers": c.residual_m.len() - registered_frames,
                "residual_rms_mm": rms_m * 1e3,
                "residual_max_mm": max_m * 1e3,
                "markers_rebuilt": c.markers_rebuilt.iter().map(|(name, frames)| json!({ "point": name, "frames": frames })).collect::<Vec<_>>(),
                "rebuilt": c.rebuilt.iter().map(|(name, frames)| json!({ "point": name, "frames": frames })).collect::<Vec<_>>(),
            })
        })
        .collect();
    tidy(json!({
        "armload": env!("CARGO_PKG_VERSION"),
        "trial": sheet.trial.id,
        "statement": STATEMENT,
        "cautions": CAUTIONS,
        "in_words": in_words(sheet, results, findings),
        "recording": {
            "file": sheet.markers.file.display().to_string(),
            "rate_hz": results.rate_hz,
            "frames": results.time_s.len(),
            "from_s": results.time_s.first(),
            "to_s": results.time_s.last(),
            "largest_time_jitter_s": results.jitter_s,
        },
        "participant": {
            "sex": sheet.participant.sex.map(|s| s.name()),
            "body_mass_kg": sheet.participant.body_mass_kg,
            "stature_m": sheet.participant.stature_m,
        },
        "anthropometry": { "table": sheet.model.table.name, "source": sheet.model.table.source, "status": sheet.model.table.status },
        "gravity_m_s2": sheet.model.gravity_m_s2,
        "smoothing": smoothing,
        "points": points,
        "clusters": clusters,
        "arms": arms,
        "warnings": results.warnings.iter().map(|w| { let mut o = json!(w); o["text"] = json!(w.to_string()); o }).collect::<Vec<_>>(),
        "settings": settings,
        "quantities": quantities,
        "quality_flags": flags,
    }))
}

/// Decimals a value of this size is worth printing with: three significant digits, at most two decimals.
fn digits(x: f64) -> usize {
    match x.abs() {
        a if a >= 99.95 => 0,
        a if a >= 9.995 => 1,
        _ => 2,
    }
}

/// A value with its unit.
fn value(x: f64, unit: Unit) -> String {
    let d = if matches!(unit, Unit::Degrees | Unit::DegreesPerSecond) { 0 } else { digits(x) };
    let space = if unit == Unit::Degrees { "" } else { " " };
    let text = format!("{x:.d$}");
    let text =
        if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') { text.trim_start_matches('-').to_owned() } else { text };
    format!("{text}{space}{}", unit.words())
}

fn moment(x: f64) -> String {
    if x != 0.0 && x.abs() < 0.005 { "less than 0.01 N·m".into() } else { value(x, Unit::NewtonMetres) }
}

/// What a coach reads: a few sentences for each arm.
pub fn in_words(sheet: &TrialSheet, results: &TrialResults, findings: &[ArmFindings]) -> Vec<String> {
    let mut out = Vec::new();
    for (arm, found) in results.arms.iter().zip(findings) {
        let side = capitalized(arm.side);
        let Some(peak) = &found.elbow_peak else {
            out.push(format!("{side} arm: no frame has everything an elbow moment needs; see the warnings."));
            continue;
        };
        let what = if peak.moment_n_m >= 0.0 { "flexion" } else { "extension" };
        let size = peak.moment_n_m.abs();
        out.push(format!(
            "{side} elbow: the largest net {what} moment is {} ({:.2} N·m per kg body mass) at {:.2} s, with the elbow at {}{}.",
            moment(size),
            peak.moment_n_m_per_kg.abs(),
            peak.time_s,
            value(peak.elbow_flexion_deg, Unit::Degrees),
            during(peak.phase),
        ));
        out.push(at_the_peak(peak, !arm.loads.is_empty()));
        if let Some(d) = &found.elbow_dynamic_peak
            && (d.time_s - peak.time_s).abs() > 1e-9
            && d.dynamic_n_m.abs() > 1.1 * peak.dynamic_n_m.abs()
        {
            out.push(format!(
                "Motion counts most at {:.2} s, with the elbow at {}: {} beside a static part of {}.",
                d.time_s,
                value(d.elbow_flexion_deg, Unit::Degrees),
                moment(d.dynamic_n_m),
                moment(d.static_n_m),
            ));
        }
        if let Some(s) = &found.shoulder_peak {
            let direction = if s.moment_n_m >= 0.0 { "forwards" } else { "backwards" };
            out.push(format!(
                "{side} shoulder: the largest net moment about the trunk's side axis is {} ({:.2} N·m per kg), {direction}, at {:.2} s; a static estimate there says {}.",
                moment(s.moment_n_m.abs()),
                s.moment_n_m_per_kg.abs(),
                s.time_s,
                moment(s.static_n_m * s.moment_n_m.signum()),
            ));
        }
        match longest_hold(found) {
            Some(h) => {
                let left = h.elbow_largest_dynamic_in_middle_n_m;
                let agree = left < 0.05 * h.elbow_static_n_m.abs();
                out.push(format!(
                    "In the hold from {:.2} to {:.2} s, with the elbow at {}, total and static {}: {} against {} on average; in its middle half they differ by at most {}, at its ends, where the arm settles, by {}.",
                    h.from_s,
                    h.to_s,
                    value(h.elbow_flexion_deg, Unit::Degrees),
                    if agree { "agree" } else { "are near each other, not the same" },
                    moment(h.elbow_moment_n_m),
                    moment(h.elbow_static_n_m),
                    moment(left).replace("less than ", ""),
                    moment(h.elbow_largest_dynamic_n_m),
                ));
            }
            None => {
                out.push("There is no hold of at least the set length, so no stretch in which a static estimate is the whole truth.".into())
            }
        }
        if let Some(f) = &found.flexor_peak
            && f.force_n > 0.0
        {
            out.push(format!(
                "One equivalent flexor would have to pull with up to {}, at {:.2} s with the elbow at {}, where its moment arm is {:.2} cm against {} (estimate; real muscles share this).",
                value(f.force_n, Unit::Newtons),
                f.time_s,
                value(f.elbow_flexion_deg, Unit::Degrees),
                f.moment_arm_m * 100.0,
                moment(f.force_n * f.moment_arm_m),
            ));
        }
        if found.repetitions.is_empty() {
            out.push(format!(
                "No repetition was found: a lift and the lower after it, each over at least {:.0}°.",
                sheet.phases.range.to_degrees()
            ));
        } else {
            let all = found.repetitions.iter().map(|r| r.elbow_peak_moment_n_m.abs());
            let peaks: Vec<f64> = all.filter(|p| p.is_finite()).collect();
            let (low, high) = (peaks.iter().copied().fold(f64::INFINITY, f64::min), peaks.iter().copied().fold(0.0, f64::max));
            let n = found.repetitions.len();
            let (count, were) = if n == 1 { ("One repetition".to_owned(), "was") } else { (format!("{n} repetitions"), "were") };
            out.push(match peaks.len() {
                0 => format!("{count} {were} found; the elbow moment is not known throughout any of them."),
                1 if n == 1 => format!("{count} {were} found."),
                known => {
                    let of = if known < n { format!(" in the {known} of them with all moments") } else { String::new() };
                    format!("{count} {were} found, with peaks{of} from {} to {}.", moment(low), moment(high))
                }
            });
        }
    }
    if let [a, b] = findings
        && let (Some(pa), Some(pb)) = (&a.elbow_peak, &b.elbow_peak)
    {
        let (x, y) = (pa.moment_n_m.abs(), pb.moment_n_m.abs());
        out.push(format!(
            "{} against {}: {} and {} at the elbow, {:.0} % of their mean apart.",
            capitalized(a.side),
            b.side,
            moment(x),
            moment(y),
            100.0 * (x - y).abs() / (0.5 * (x + y))
        ));
    }
    if let Some(hz) = results.smoothing.cutoff_hz {
        let how = if results.smoothing.analysis.is_some() { "chosen by residual analysis" } else { "as stated" };
        out.push(format!(
            "Markers were smoothed with a zero-lag Butterworth low-pass at {hz:.2} Hz ({how}); segments after {}.",
            sheet.model.table.source
        ));
    } else {
        out.push(format!("Markers were not smoothed; segments after {}.", sheet.model.table.source));
    }
    for arm in results.arms.iter().filter(|a| !a.centres.made.is_empty()) {
        for (joint, words) in arm.centres.each().into_iter().take(2) {
            out.push(format!("{} {joint} centre: {words}.", capitalized(arm.side)));
        }
    }
    for s in &results.smoothing.signals {
        let how = s.cutoff_hz.map_or("not smoothed".to_owned(), |hz| format!("smoothed alike at {hz:.2} Hz"));
        let name = file_name(&s.file);
        out.push(format!(
            "{name} ({}), recorded at {} Hz, was {how} at its own rate, then read at the marker times.",
            s.load,
            (s.rate_hz * 1e3).round() / 1e3
        ));
    }
    out
}

fn capitalized(side: Side) -> &'static str {
    match side {
        Side::Right => "Right",
        Side::Left => "Left",
    }
}

fn during(phase: &str) -> &'static str {
    match phase {
        "lift" => ", during a lift",
        "lower" => ", during a lower",
        "hold" => ", during a hold",
        _ => "",
    }
}

/// What a static estimate says at the peak, and why it differs.
fn at_the_peak(p: &Peak, loaded: bool) -> String {
    let sign = p.moment_n_m.signum();
    let (statics, dynamic) = (p.static_n_m * sign, p.dynamic_n_m * sign);
    let percent = 100.0 * dynamic.abs() / statics.abs();
    let why = if dynamic.abs() < 0.005 * p.moment_n_m.abs() {
        "The two agree: hardly anything is accelerating then.".to_owned()
    } else if dynamic > 0.0 {
        let what = if loaded { "arm and load" } else { "the arm" };
        format!("Accelerating {what} adds {} ({percent:.0} % of the static value).", moment(dynamic))
    } else {
        format!("Motion takes {} off it ({percent:.0} % of the static value).", moment(dynamic.abs()))
    };
    if !loaded {
        return format!("A static estimate at that posture says {}, from the weight of the arm. {why}", moment(statics));
    }
    format!(
        "A static estimate at that posture says {}: {} from the load, {} from the weight of the arm. {why}",
        moment(statics),
        moment(p.static_of_loads_n_m * sign),
        moment(p.static_of_arm_n_m * sign),
    )
}

fn longest_hold(found: &ArmFindings) -> Option<&crate::findings::HoldFinding> {
    let mid = found.flexion_range_deg.map_or(90.0, |[a, b]| 0.5 * (a + b));
    // a hold somewhere in the range says more than the rest at its ends
    let inside = found.flexion_range_deg.map_or(0.0, |[a, b]| 0.35 * (b - a));
    let length = |h: &crate::findings::HoldFinding| h.to_s - h.from_s;
    let known = || found.holds.iter().filter(|h| h.elbow_moment_n_m.is_finite());
    known()
        .filter(|h| (h.elbow_flexion_deg - mid).abs() <= inside)
        .max_by(|a, b| length(a).total_cmp(&length(b)))
        .or_else(|| known().max_by(|a, b| length(a).total_cmp(&length(b))))
}

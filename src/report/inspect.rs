//! An inspection, as text.

use super::text::{Line, columns, number};
use crate::ground::warning::pauses_in_words;
use crate::inspect::{FileLook, Inspection, Role, TrialLook};

/// The whole look.
pub fn lines(i: &Inspection) -> Vec<Line> {
    let mut out = Vec::new();
    for file in &i.files {
        file_lines(file, &mut out);
        out.push(Line::blank());
    }
    if !i.results.is_empty() {
        out.push(Line::Heading("What can be computed".into()));
        let rows: Vec<Vec<String>> = i
            .results
            .iter()
            .map(|r| {
                let needs = match (r.possible, r.needs.is_empty()) {
                    (true, _) => String::new(),
                    (false, true) => "see the verdict".into(),
                    (false, false) => format!("needs {}", r.needs),
                };
                vec![
                    r.side.to_string(),
                    r.result.into(),
                    if r.possible { "yes" } else { "no" }.into(),
                    needs,
                ]
            })
            .collect();
        out.extend(columns("llll", &rows));
        out.extend(i.assumed.iter().map(|a| Line::Fine(a.clone())));
        out.push(Line::blank());
    }
    if let Some(t) = &i.trial {
        trial_lines(t, &mut out);
        out.push(Line::blank());
    }
    verdict(i, &mut out);
    out
}

fn row(cells: &[&str]) -> Vec<String> {
    cells.iter().map(|c| (*c).to_owned()).collect()
}

fn file_lines(f: &FileLook, out: &mut Vec<Line>) {
    let role = match f.role {
        Role::Trial => "",
        Role::Static => " (static trial)",
        Role::Motion => " (motion that shows a joint centre)",
    };
    out.push(Line::Heading(format!("{}{role}", f.file)));
    let time = match f.rate_hz {
        Some(hz) => format!(
            "{} frames from {:.3} to {:.3} s at {} Hz; {}.",
            f.frames,
            f.from_s,
            f.to_s,
            (hz * 1e3).round() / 1e3,
            if f.jitter_s < 5e-8 {
                "printed times lie on the grid".to_owned()
            } else {
                format!("printed times up to {:.4} ms off the grid", f.jitter_s * 1e3)
            }
        ),
        None => format!(
            "{} frames without times; the sheet has to say markers.rate_hz.",
            f.frames
        ),
    };
    out.push(Line::Paragraph(time));
    if !f.pauses.is_empty() {
        out.push(Line::Paragraph(format!(
            "The recording pauses {}.",
            pauses_in_words(&f.pauses)
        )));
    }
    if let Some(axis) = f.lacks_axis {
        out.push(Line::Paragraph(format!("Planar: no {axis} coordinates.")));
    }
    beside_points(f, out);
    let noise = format!("noise {}", f.noise_unit);
    let mut rows = vec![row(&[
        "point",
        "in the file",
        "is a",
        "missing",
        "gaps",
        "longest s",
        &noise,
    ])];
    rows.extend(f.points.iter().map(|p| {
        let gap = if p.gaps > 0 {
            number(p.longest_gap_s, 3)
        } else {
            "-".into()
        };
        vec![
            p.name.clone(),
            if p.file_name == p.name {
                String::new()
            } else {
                p.file_name.clone()
            },
            p.kind.into(),
            p.missing_frames.to_string(),
            p.gaps.to_string(),
            gap,
            number(p.noise.unwrap_or(f64::NAN), 3),
        ]
    }));
    out.extend(columns("lllrrrr", &rows));
    out.push(Line::Fine(
        "Noise: standard deviation of one coordinate by residual analysis; - where a point is too short or does not move.".into(),
    ));
}

/// Force platforms and analog channels, numbered and named as a sheet asks for them.
fn beside_points(f: &FileLook, out: &mut Vec<Line>) {
    if !f.platforms.is_empty() {
        out.push(Line::Paragraph(format!(
            "Force platforms, counted from 1: {}.",
            f.platforms.join("; ")
        )));
    }
    if !f.channels.is_empty() {
        let rate = f
            .analog_rate_hz
            .map_or(String::new(), |hz| format!(" at {} Hz", (hz * 1e3).round() / 1e3));
        let channels: Vec<String> = f.channels.iter().map(ToString::to_string).collect();
        out.push(Line::Paragraph(format!(
            "Analog channels{rate}: {}.",
            channels.join(", ")
        )));
    }
}

fn trial_lines(t: &TrialLook, out: &mut Vec<Line>) {
    out.push(Line::Heading("Segments".into()));
    let mut rows = vec![row(&["", "", "length mm", "SD mm", "reference mm", "off %"])];
    rows.extend(t.lengths.iter().map(|l| {
        vec![
            l.side.to_string(),
            l.segment.into(),
            number(l.length_m * 1e3, 1),
            number(l.sd_m.unwrap_or(f64::NAN) * 1e3, 2),
            number(l.reference_m.unwrap_or(f64::NAN) * 1e3, 1),
            l.off_percent.map_or("-".into(), |o| format!("{o:+.1}")),
        ]
    }));
    out.extend(columns("llrrrr", &rows));
    out.push(Line::Fine(format!(
        "Length: the model's (of the static trial if there is one); SD: over the trial. Reference: {}.",
        t.reference
    )));
    out.push(Line::Heading("Joint centres".into()));
    out.extend(
        t.centres
            .iter()
            .map(|c| Line::Paragraph(format!("{} {}: {}.", c.side, c.joint, c.words))),
    );
    if !t.clusters.is_empty() {
        out.push(Line::blank());
        out.push(Line::Heading("Registration of clusters".into()));
        let mut rows = vec![row(&[
            "cluster",
            "frames",
            "too few",
            "RMS mm",
            "largest mm",
            "markers put back (frames)",
        ])];
        rows.extend(t.clusters.iter().map(|c| {
            let put_back: Vec<String> = c
                .markers_rebuilt
                .iter()
                .map(|(name, frames)| format!("{name} ({frames})"))
                .collect();
            vec![
                c.name.clone(),
                c.registered_frames.to_string(),
                c.too_few_frames.to_string(),
                number(c.residual_rms_mm, 2),
                number(c.residual_max_mm, 2),
                if put_back.is_empty() {
                    "-".into()
                } else {
                    put_back.join(" ")
                },
            ]
        }));
        out.extend(columns("lrrrrl", &rows));
        out.push(Line::Fine("Too few: frames that show fewer than three markers of the cluster; nothing is rebuilt from it there.".into()));
        out.push(Line::blank());
    }
    for (load, file, rate_hz) in &t.load_files {
        out.push(Line::Paragraph(format!(
            "{load}: {file} at {} Hz.",
            (rate_hz * 1e3).round() / 1e3
        )));
    }
    out.push(Line::Paragraph(match (t.splines_hz, t.cutoff_hz) {
        (Some((median, largest)), _) => format!(
            "Markers would be smoothed by splines{}: half power at {median:.1} Hz in the median, {largest:.1} Hz at most.",
            match t.method {
                "rigid" => " of poses and points",
                "linked" => " of the linked arm's joints",
                _ => "",
            }
        ),
        (None, Some(hz)) => format!("Markers would be smoothed at {hz:.2} Hz."),
        (None, None) => "Markers would not be smoothed.".into(),
    }));
}

fn verdict(i: &Inspection, out: &mut Vec<Line>) {
    let v = &i.verdict;
    out.push(Line::Heading(
        match v.is {
            "good" => "Verdict: good. `moments` runs, and nothing stands out.",
            "look" => "Verdict: `moments` runs, but look at this first.",
            "fails" => "Verdict: `moments` fails on this.",
            _ => "Verdict: the file can be read; moments need a trial sheet. `armload sheet FILE` writes a starter.",
        }
        .into(),
    ));
    out.extend(v.remarks.iter().map(|r| Line::Paragraph(format!("- {r}"))));
    let rest: Vec<&String> = i.warnings.iter().filter(|w| !v.remarks.contains(w)).collect();
    if !rest.is_empty() {
        out.push(Line::Paragraph("To know:".into()));
        out.extend(rest.into_iter().map(|w| Line::Paragraph(format!("- {w}"))));
    }
}

//! Ways of smoothing as left-out markers judge them: text and panel.

use super::figure::{At, Axis, Content, Panel, Row, Rule, Series};
use super::style::{Ink, PLOT_HEIGHT, Stroke, fixed};
use super::text::{Line, columns, number};
use crate::inspect::TrialLook;
use crate::results::{ElbowSeenTwice, Smoothing};
use crate::smoothing::judge::{self, JudgedBody, JudgedWay};

/// Correlation of neighbouring values from which residuals are not called noise (METHOD section 12).
const COLOURED: f64 = 0.15;

/// A way in words.
fn words(way: &JudgedWay) -> String {
    match (way.method, way.cutoff_hz) {
        (_, Some(hz)) => format!("low-pass at {hz:.1} Hz"),
        ("rigid", _) => "clusters as rigid bodies".into(),
        ("linked", _) => "arms as linked segments".into(),
        _ => "each coordinate by a spline".into(),
    }
}

/// The section of an inspection.
pub fn lines(look: &TrialLook) -> Vec<Line> {
    let mut out = vec![
        Line::blank(),
        Line::Heading("Ways of smoothing, judged by markers that they have not seen".into()),
    ];
    out.extend(of_bodies(&look.judged));
    out.extend(look.judged.iter().map(off));
    out.extend(look.elbows.iter().map(elbow));
    out
}

fn of_bodies(judged: &[JudgedBody]) -> Vec<Line> {
    let (ways, fixed) = (judge::ways(judged), judge::fixed_cutoffs(judged));
    let (Some(best), Some(best_fixed)) = (judge::best(&ways), judge::best(&fixed)) else {
        return vec![Line::Paragraph(
            "Nothing to judge by: no cluster on an arm shows four markers for long enough, so that three could foretell the fourth.".into(),
        )];
    };
    let mut head = vec![String::new()];
    head.extend(judged.iter().map(|b| b.cluster.clone()));
    head.push("beside the best".into());
    let mut rows = vec![head];
    let row = |name: String, of: &dyn Fn(&JudgedBody) -> f64, way: &JudgedWay| {
        let mut row = vec![name];
        row.extend(judged.iter().map(|b| number(of(b), 3)));
        row.push(if way == best {
            "0".into()
        } else {
            format!("{:+.3}", way.beside(best))
        });
        row
    };
    for (w, way) in ways.iter().enumerate() {
        rows.push(row(words(way), &|b| b.ways[w].error_m_s2, way));
    }
    let at_best = |b: &JudgedBody| {
        let of = b
            .fixed_cutoffs
            .iter()
            .find(|c| c.cutoff_hz == best_fixed.cutoff_hz);
        of.map_or(f64::NAN, |c| c.error_m_s2)
    };
    let hz = best_fixed.cutoff_hz.unwrap_or(f64::NAN);
    rows.push(row(
        format!("best of fixed cutoffs, {hz} Hz"),
        &at_best,
        best_fixed,
    ));
    let align = "r".repeat(rows[0].len() - 1);
    let mut out = columns(&format!("l{align}"), &rows);
    out.push(Line::Fine(
        "RMS of foretold less measured acceleration of a coordinate below 25 Hz, m/s²; each marker is left out in turn, and its own noise is in every error alike. Beside the best: root of the difference of the squares, in which that noise is not.".into(),
    ));
    out.push(Line::Paragraph(verdict(&ways, best, best_fixed)));
    out
}

/// Which is best, and by how much.
fn verdict(ways: &[JudgedWay], best: &JudgedWay, best_fixed: &JudgedWay) -> String {
    let others = ways.iter().filter(|w| w.method != best.method);
    let beside: Vec<String> = others
        .map(|w| {
            if w.is_like(best) {
                format!("{} cannot be told from it by these markers", words(w))
            } else {
                format!("{} would add {:.3} m/s² of error", words(w), w.beside(best))
            }
        })
        .collect();
    let hz = best_fixed.cutoff_hz.unwrap_or(f64::NAN);
    let against = match (best.is_like(best_fixed), best.error_m_s2 < best_fixed.error_m_s2) {
        (true, _) => "As good as",
        (false, true) => "Better than",
        (false, false) => "Worse than",
    };
    let follows = match best.method {
        "linked" => "`filter.method = \"auto\"` does not choose a linked arm: it has to be asked for.",
        _ => "`filter.method = \"auto\"` follows this.",
    };
    format!(
        "Best here: {}. Beside it, {}. {against} the best fixed cutoff ({hz} Hz), which nobody knows beforehand. {follows}",
        words(best),
        beside.join("; ")
    )
}

/// How the markers of a cluster stand off the rigid body.
fn off(b: &JudgedBody) -> Line {
    let off = &b.off;
    let times = off.rms_m / off.noise_m;
    let what = if off.lag_one > COLOURED {
        "skin that moves, not noise"
    } else {
        "as noise does"
    };
    Line::Paragraph(format!(
        "{}: a coordinate of a marker stands off the rigid body by {:.2} mm (RMS), {times:.1} times its white noise of {:.3} mm; each value goes with the one before by a correlation of {:.2}: {what}.",
        b.cluster,
        off.rms_m * 1e3,
        off.noise_m * 1e3,
        off.lag_one
    ))
}

/// How far two clusters agree where an elbow is.
fn elbow(e: &ElbowSeenTwice) -> Line {
    let fitted = e.apart_fitted_m.map_or(String::new(), |m| {
        format!(
            ", {:.1} mm with the two points that fit together best over the trial",
            m * 1e3
        )
    });
    let agree = match (e.agree_up_to_hz, e.coherence.is_empty()) {
        (_, true) => " The trial is too short to say up to which frequency they agree.".to_owned(),
        (Some(hz), _) => format!(
            " Their accelerations agree up to {hz:.1} Hz (squared coherence above one half): what is faster is skin or noise."
        ),
        (None, false) => " The squared coherence of their accelerations does not cross one half.".to_owned(),
    };
    Line::Paragraph(format!(
        "{} elbow: the clusters of upper arm and forearm put its centre {:.1} mm apart (RMS){fitted}.{agree}",
        super::pages::capital(e.side.name()),
        e.apart_m * 1e3
    ))
}

/// What left-out markers say, and how far two clusters agree; no row without clusters.
pub fn panels(done: &Smoothing) -> Option<Row> {
    let both = [errors(done), agreement(done)];
    let there: Vec<Content> = both.into_iter().flatten().map(Content::from).collect();
    (!there.is_empty()).then(|| Row::of(there))
}

/// Error over the cutoff, and that of curves.
fn errors(done: &Smoothing) -> Option<Panel> {
    let (ways, fixed_ways) = (judge::ways(&done.judged), judge::fixed_cutoffs(&done.judged));
    let best = judge::best(&fixed_ways)?;
    let (best_hz, best_m_s2) = (best.cutoff_hz?, best.error_m_s2);
    let curve: Vec<(f64, f64)> = fixed_ways
        .iter()
        .filter_map(|w| Some((w.cutoff_hz?, w.error_m_s2)))
        .collect();
    let top_hz = curve.last()?.0;
    let lowest = ways.iter().map(|w| w.error_m_s2).fold(best_m_s2, f64::min);
    let highest = ways.iter().map(|w| w.error_m_s2).fold(1.6 * best_m_s2, f64::max);
    let mut panel = Panel::new(
        "Left-out markers",
        Axis::with_ticks("cutoff, Hz", (0.0, top_hz), 8),
        Axis::new(
            "error of foretold acceleration (RMS), m/s²",
            (0.9 * lowest, highest),
        ),
    );
    panel
        .series
        .push(Series::through("low-pass", curve, Ink::Strong, Stroke::STRONG));
    for way in &ways {
        let level = vec![(0.0, way.error_m_s2), (top_hz, way.error_m_s2)];
        match (way.cutoff_hz, way.method) {
            (Some(hz), _) => panel.rules.push(Rule {
                at: At::X(hz),
                text: format!("{} Hz", fixed(hz, 1)),
                ink: Ink::Strong,
                stroke: Stroke::HAIR,
            }),
            (None, "rigid") => {
                panel
                    .series
                    .push(Series::through("rigid bodies", level, Ink::Third, Stroke::DOTTED))
            }
            (None, "linked") => {
                panel
                    .series
                    .push(Series::through("linked arm", level, Ink::Fourth, Stroke::DASHED))
            }
            _ => panel
                .series
                .push(Series::through("splines", level, Ink::Second, Stroke::DASHED)),
        }
    }
    let best = if (best_hz - best_hz.round()).abs() < 1e-9 {
        0
    } else {
        1
    };
    panel.notes.push(format!(
        "Least at {} Hz. {}",
        fixed(best_hz, best),
        "Each marker is foretold by the others of its cluster; its own noise is in every error alike."
    ));
    Some(panel)
}

/// Coherence of the accelerations of elbow centres that two clusters see.
fn agreement(done: &Smoothing) -> Option<Panel> {
    let known = || done.elbows.iter().filter(|e| !e.coherence.is_empty());
    let top_hz = known().filter_map(|e| e.agree_up_to_hz).fold(8.0, f64::max) * 2.0;
    known().next()?;
    let mut panel = Panel::new(
        "Agreement at the elbow",
        Axis::with_ticks("frequency, Hz", (0.0, top_hz), 8),
        Axis::new("squared coherence of accelerations, %", (0.0, 100.0)),
    );
    panel.height = 0.9 * PLOT_HEIGHT;
    for (elbow, (ink, stroke)) in known().zip([(Ink::Strong, Stroke::STRONG), (Ink::Second, Stroke::DASHED)])
    {
        let curve = elbow.coherence.iter().map(|c| (c.0, 100.0 * c.1));
        let curve = curve.filter(|c| c.0 <= top_hz).collect::<Vec<_>>();
        panel
            .series
            .push(Series::through(elbow.side.name(), curve, ink, stroke));
        if let Some(hz) = elbow.agree_up_to_hz {
            panel.rules.push(Rule {
                at: At::X(hz),
                text: format!("{} Hz", fixed(hz, 1)),
                ink,
                stroke: Stroke::HAIR,
            });
        }
    }
    let apart = done
        .elbows
        .iter()
        .map(|e| format!("{} {} mm", e.side, fixed(e.apart_m * 1e3, 1)));
    panel.notes.push(format!(
        "The elbow centre as upper arm and forearm clusters see it; apart by (RMS): {}. Below 50 % it is skin or noise.",
        apart.collect::<Vec<_>>().join(", ")
    ));
    Some(panel)
}

//! What is said of agreement: for a coach, for a thesis.

use super::*;

/// What the comparison shows and what not.
pub(super) fn shows(found: &Agreement) -> String {
    let by_hand = found.estimates.iter().any(|e| e.estimate == Estimate::HandWorked);
    let own = if by_hand {
        " The hand-worked problem has weights and distances of its own: their errors are in its differences."
    } else {
        ""
    };
    format!(
        "{} and the recording use the same load masses, segment table and joint centres: errors of these are in both and cancel in the \
         difference. What is compared is what motion and posture add, not whether either moment is right.{own}",
        capital(main_estimate(found).words())
    )
}

/// Closed form, or the static part where a load is no weight.
pub(super) fn main_estimate(found: &Agreement) -> Estimate {
    let closed = found
        .arms
        .iter()
        .all(|a| a.estimates_n_m[Estimate::ClosedForm as usize].is_some());
    if closed {
        Estimate::ClosedForm
    } else {
        Estimate::StaticPart
    }
}

pub(super) fn count(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// With a sign, so that a reader sees which way it is off.
pub(super) fn signed(x: f64) -> String {
    let text = short_moment(x);
    if x > 0.0 && !text.trim_matches(['0', '.']).is_empty() {
        format!("+{text}")
    } else {
        text
    }
}

/// Moments to two decimals; below that as a power of ten is of no use to anyone.
pub(super) fn short_moment(x: f64) -> String {
    if x.abs() < 9.995 { fixed(x, 2) } else { fixed(x, 1) }
}

/// What is said of the holds: bias, spread, trend, and only then the limits.
pub(super) fn holds_in_words(e: &OverAll, s: &Summary) -> String {
    let bias = if s.bias.abs() < 0.005 {
        "is within 0.01 N·m of the recording on average".to_owned()
    } else {
        format!(
            "reads {} N·m {} on average",
            short_moment(s.bias.abs()),
            if s.bias > 0.0 { "high" } else { "low" }
        )
    };
    let mut text = format!(
        "Holds, {}: over {} of {} it {bias}",
        e.estimate.words(),
        count(s.observations, "hold"),
        count(s.participants, "participant")
    );
    if let Some(i) = s.bias_interval {
        text += &format!(" (95 % interval {} N·m)", from_to(i));
    }
    if s.observations > 1 {
        text += &format!(
            "; the hold that is furthest off differs by {} N·m",
            signed(s.largest)
        );
    }
    text += &spread_in_words(s, "; SD");
    text.push('.');
    if s.observations > 1 {
        text += &format!(" {}", trend_in_words(e, s));
    }
    match (&s.limits, &s.why_no_limits) {
        (Some(l), _) => {
            text += &format!(
                " 95 % limits of agreement {} N·m (95 % intervals {} and {})",
                from_to([l.lower, l.upper]),
                from_to(l.lower_interval),
                from_to(l.upper_interval)
            );
            if s.design == Design::OneParticipant {
                text += "; all holds are of one participant, so these limits are that participant's and say nothing of others";
            }
            text.push('.');
        }
        (None, Some(why)) => text += &format!(" No limits of agreement: {why}."),
        _ => {}
    }
    text
}

pub(super) fn from_to([a, b]: [f64; 2]) -> String {
    format!("{} to {}", signed(a), signed(b))
}

pub(super) fn spread_in_words(s: &Summary, lead: &str) -> String {
    let Some(sd) = s.sd else { return String::new() };
    let parts = match (s.between_sd, s.within_sd) {
        (Some(b), Some(w)) => format!(
            " ({} between participants, {} within one)",
            short_moment(b),
            short_moment(w)
        ),
        _ => String::new(),
    };
    format!("{lead} {} N·m{parts}", short_moment(sd))
}

/// A slope for 10°, with a sign.
pub(super) fn for_ten_degrees(slope: f64) -> String {
    let x = 10.0 * slope;
    let text = fixed(x, 3);
    if x > 0.0 && !text.trim_matches(['0', '.']).is_empty() {
        format!("+{text}")
    } else {
        text
    }
}

pub(super) fn slope_in_words(t: &Trend) -> String {
    let within = if t.within_participants {
        ""
    } else {
        ", across participants"
    };
    format!(
        "{} N·m for every 10° more elbow flexion (95 % interval {} to {}{within})",
        for_ten_degrees(t.slope),
        for_ten_degrees(t.interval[0]),
        for_ten_degrees(t.interval[1])
    )
}

pub(super) fn trend_in_words(e: &OverAll, s: &Summary) -> String {
    let Some(t) = &e.trend_per_deg else {
        return format!(
            "Whether the difference changes with posture can't be told: too few holds, or too near to each other (elbow within {LEAST_SPREAD_DEG:.0}°)."
        );
    };
    let mut text = if t.is_told() {
        format!("The difference changes with posture: {}.", slope_in_words(t))
    } else {
        format!("No straight trend with posture is seen: {}.", slope_in_words(t))
    };
    if e.estimate == Estimate::HandWorked {
        text += " Its answer is one number: where the recorded moment changes, the difference changes against it.";
    }
    if t.is_told() && s.limits.is_some() {
        text += " The limits take that change for scatter: they are those of this mixture of postures.";
    }
    text
}

pub(super) fn worst(found: &Agreement, kind: Kind) -> Option<(&ArmComparison, &Stretch)> {
    let all = found.arms.iter().flat_map(|a| a.of(kind).map(move |s| (a, s)));
    all.max_by(|a, b| {
        a.1.worst_dynamic_n_m
            .abs()
            .total_cmp(&b.1.worst_dynamic_n_m.abs())
    })
}

pub(super) fn where_words(found: &Agreement, arm: &ArmComparison, s: &Stretch) -> String {
    let trial = if found.arms.len() > 1 {
        format!("{}, {} arm, ", arm.trial, arm.side)
    } else {
        String::new()
    };
    format!(
        "{trial}{} {}, {} s, elbow at {}°",
        s.kind.name(),
        s.number,
        fixed(s.worst_dynamic_at_s, 2),
        fixed(s.worst_dynamic_at_deg, 0)
    )
}

pub(super) fn lifts_in_words(found: &Agreement) -> Option<String> {
    let lifts = found.estimates.iter().map(|e| e.lifts).max().unwrap_or(0);
    let of = |e: &OverAll| {
        if e.lifts < lifts {
            format!(" ({} of them)", e.lifts)
        } else {
            String::new()
        }
    };
    let parts: Vec<String> = found
        .estimates
        .iter()
        .filter_map(|e| {
            Some(format!(
                "{}{} {} N·m",
                e.estimate.words(),
                of(e),
                short_moment(e.lifts_rmse_n_m?)
            ))
        })
        .collect();
    let (arm, s) = worst(found, Kind::Lift)?;
    let share = 100.0 * s.worst_dynamic_n_m.abs() / s.recorded_peak_n_m.abs();
    // of nearly nothing everything is many percent
    let beside = if s.recorded_peak_n_m.abs() < SMALLEST_DIVISOR_N_M {
        "beside".to_owned()
    } else {
        format!("{} % of", fixed(share, 0))
    };
    Some(format!(
        "Lifts: over the moving parts of {} a static estimate is off by (root mean square): {}. The dynamic part at its worst is {} N·m, {beside} the {} N·m that this lift reaches ({}).",
        count(lifts, "whole repetition"),
        parts.join(", "),
        signed(s.worst_dynamic_n_m),
        short_moment(s.recorded_peak_n_m.abs()),
        where_words(found, arm, s)
    ))
}

/// The estimates worth a line: the static part says what the closed form says, unless there is no closed
/// form.
pub(super) fn told(found: &Agreement) -> impl Iterator<Item = &OverAll> {
    let main = main_estimate(found);
    found
        .estimates
        .iter()
        .filter(move |e| e.estimate == Estimate::HandWorked || e.estimate == main)
}

/// One paragraph for a thesis: what was compared, of whom, bias, limits, what motion adds.
pub fn paragraph(found: &Agreement) -> String {
    let of = |kind: Kind| found.arms.iter().map(|a| a.of(kind).count()).sum::<usize>();
    let mut text = format!(
        "Static estimates of the elbow flexion moment were compared with the net moment computed from recordings of {} ({}, {}, {}).",
        count(found.participants.len(), "participant"),
        count(arms_of_people(found), "arm"),
        count(of(Kind::Hold), "hold"),
        count(of(Kind::Lift), "whole repetition")
    );
    for e in told(found) {
        let Some(s) = &e.holds else { continue };
        text += &format!(
            " In {} of {} the {} differed from the recording by {} N·m on average",
            count(s.observations, "hold"),
            count(s.participants, "participant"),
            e.estimate.words(),
            signed(s.bias)
        );
        if let Some(i) = s.bias_interval {
            text += &format!(" (95 % confidence interval {} N·m", from_to(i));
            text += &spread_in_words(s, "; standard deviation of a difference");
            text.push(')');
        }
        text.push('.');
        if s.observations > 1 {
            text += &format!(" {}", trend_in_words(e, s));
        }
        match (&s.limits, &s.why_no_limits) {
            (Some(l), _) => text += &limits_for_a_thesis(l, s.design),
            (None, Some(why)) => text += &format!(" Limits of agreement are not given: {why}."),
            _ => {}
        }
    }
    if let Some((_, s)) = worst(found, Kind::Hold) {
        text += &format!(
            " Motion added at most {} N·m within a hold.",
            short_moment(s.worst_dynamic_n_m.abs())
        );
    }
    if let Some((_, s)) = worst(found, Kind::Lift) {
        let parts: Vec<String> = told(found)
            .filter_map(|e| {
                Some(format!(
                    "{} N·m ({}, {})",
                    short_moment(e.lifts_rmse_n_m?),
                    e.estimate.words(),
                    count(e.lifts, "repetition")
                ))
            })
            .collect();
        text += &format!(
            " While the arm moved, the root mean square of the difference was {}, and motion added at most {} N·m to a moment that reached {} N·m.",
            parts.join(" and "),
            short_moment(s.worst_dynamic_n_m.abs()),
            short_moment(s.recorded_peak_n_m.abs())
        );
    }
    format!(
        "{text} {} A difference is the estimate minus the recorded moment; a hold is one observation, holds of one participant are repeated measures, \
         and each participant counts the same in the mean. {SOURCE}.",
        shows(found)
    )
}

pub(super) fn limits_for_a_thesis(l: &Limits, design: Design) -> String {
    let whose = if design == Design::OneParticipant {
        ", of this participant alone"
    } else {
        ""
    };
    format!(
        " The 95 % limits of agreement were {} N·m (95 % confidence interval {}) and {} N·m ({}){whose}.",
        signed(l.lower),
        from_to(l.lower_interval),
        signed(l.upper),
        from_to(l.upper_interval)
    )
}

/// Arms of participants, each once however many trials it has.
pub(super) fn arms_of_people(found: &Agreement) -> usize {
    let mut arms: Vec<(usize, bool)> = found
        .arms
        .iter()
        .map(|a| (a.participant, a.side == Side::Right))
        .collect();
    arms.sort_unstable();
    arms.dedup();
    arms.len()
}

/// A hold that an estimate is compared over, and its difference over half of its interval.
type Sure<'a> = (&'a ArmComparison, &'a Stretch, &'a Compared, f64);

/// In how many holds an estimate differs by more than it and the recording are uncertain; nothing where no trial says how
/// sure it is.
fn beyond_in_words(found: &Agreement, estimate: Estimate) -> Option<String> {
    let mut all: Vec<Sure<'_>> = Vec::new();
    for arm in &found.arms {
        for s in arm.of(Kind::Hold) {
            let compared = s.estimates[estimate as usize].as_ref();
            all.extend(compared.and_then(|c| Some((arm, s, c, c.over_interval()?))));
        }
    }
    let (n, beyond) = (all.len(), all.iter().filter(|h| h.3 > 1.0).count());
    let in_holds = match (beyond, n) {
        (1, 1) => "in the only hold".to_owned(),
        (0, n) => format!("in no hold (of {n})"),
        (b, n) => format!("in {b} of {n} holds"),
    };
    if estimate == Estimate::HandWorked {
        let (arm, s, c, _) = all.iter().max_by(|a, b| a.3.total_cmp(&b.3))?;
        return Some(format!(
            "How sure: the {} differs {in_holds} from the recording by more than both are uncertain (95 %; the problem's weights and distances are taken as off by themselves). \
             The largest difference for its interval is {} ± {} N·m (hold {} of {}, {} arm: estimate {} ± {} N·m, recorded {} ± {} N·m).",
            estimate.words(),
            signed(c.difference_n_m),
            short_moment(c.difference_half_95_n_m?),
            s.number,
            arm.trial,
            arm.side,
            short_moment(c.static_n_m),
            short_moment(c.static_half_95_n_m?),
            short_moment(s.recorded_n_m),
            short_moment(s.recorded_half_95_n_m?),
        ));
    }
    let widest = |of: &dyn Fn(&Sure<'_>) -> Option<f64>| all.iter().filter_map(of).reduce(f64::max);
    let (own, shared) = (
        widest(&|h| h.1.recorded_half_95_n_m)?,
        widest(&|h| h.2.difference_half_95_n_m)?,
    );
    let largest = widest(&|h| Some(h.2.difference_n_m.abs()))?;
    Some(format!(
        "How sure: a recorded mean is known to ± {} N·m at worst (95 %), but most of that is in the {} too and cancels, so their difference is known to ± {} N·m. \
         {} it is larger than its interval, {} N·m at most: so much is motion within a hold.",
        short_moment(own),
        estimate.words(),
        short_moment(shared),
        capital(&in_holds),
        short_moment(largest),
    ))
}

/// In plain words.
pub fn verdict(found: &Agreement) -> Vec<String> {
    let mut out = Vec::new();
    let holds: usize = found.arms.iter().map(|a| a.of(Kind::Hold).count()).sum();
    if holds == 0 {
        out.push("No hold was found: nowhere did arm and load rest for long enough (phases.hold_s, phases.slow_deg_s, phases.slow_m_s), so there is nothing to compare at rest.".into());
    }
    for e in told(found) {
        match &e.holds {
            Some(s) => out.push(holds_in_words(e, s)),
            None if holds > 0 => out.push(format!(
                "Holds, {}: none of the holds can be compared with it.",
                e.estimate.words()
            )),
            None => {}
        }
    }
    out.extend(
        Estimate::ALL
            .into_iter()
            .filter_map(|e| beyond_in_words(found, e)),
    );
    out.extend(lifts_in_words(found));
    let in_holds = worst(found, Kind::Hold);
    if let (Some((_, h)), Some((_, l))) = (in_holds, worst(found, Kind::Lift)) {
        let (h, l) = (h.worst_dynamic_n_m.abs(), l.worst_dynamic_n_m.abs());
        out.push(format!(
            "So: motion adds at most {} N·m inside a hold and {} N·m in a lift; that much no static estimate can see, however well it is worked.",
            short_moment(h),
            short_moment(l)
        ));
    }
    out.push(shows(found));
    out.extend(notes(found));
    if found.participants.len() < found.arms.len() || found.participants.len() > 1 {
        let by_id = found.participants.iter().all(|p| p.by_id);
        let how = if by_id {
            "participant.id"
        } else {
            "participant.id where it is given, else by folder, sex, mass and stature"
        };
        out.push(format!(
            "Participants are told apart by {how}: {}.",
            count(found.participants.len(), "participant")
        ));
    }
    out
}

/// What to know, each note once, with the arms it is about unless it is about all.
pub(super) fn notes(found: &Agreement) -> Vec<String> {
    let mut all: Vec<(&String, Vec<String>)> = Vec::new();
    for arm in &found.arms {
        for note in &arm.notes {
            let name = format!("{}, {} arm", arm.trial, arm.side);
            match all.iter_mut().find(|n| n.0 == note) {
                Some(n) => n.1.push(name),
                None => all.push((note, vec![name])),
            }
        }
    }
    let of = |arms: &Vec<String>| {
        if arms.len() == found.arms.len() {
            String::new()
        } else {
            format!(" ({})", arms.join("; "))
        }
    };
    all.iter()
        .map(|(note, arms)| format!("Note{}: {note}.", of(arms)))
        .collect()
}

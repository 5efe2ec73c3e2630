//! A starter sheet for a marker file: what can be seen in the file is filled in, what can be guessed from
//! names is marked as a guess, and what only the user knows is a "?" that is refused until it is stated.

use super::UNSTATED;
use crate::capture::Recording;
use crate::capture::table::{Stated, StatedChannel};
use crate::ground::landmarks::{MIDLINE, SIDED, sided};
use crate::ground::names::Side;
use crate::ground::units::{LENGTH_UNITS, PIXEL};
use std::fmt::Write;

/// What a starter sheet is made from, beside the recording.
pub struct About<'a> {
    /// The marker file as the sheet will name it.
    pub file: &'a str,
    /// Name of the trial.
    pub id: &'a str,
    /// Whether the file has times; if not, the rate has to be stated.
    pub has_time: bool,
    /// Arms, if the user names them.
    pub sides: &'a [Side],
    /// Comment lines on the participant found beside the file.
    pub participant: &'a [String],
}

/// A starter sheet.
pub struct Starter {
    /// The sheet.
    pub text: String,
    /// Points found.
    pub points: Vec<String>,
    /// File's name and the landmark it may be.
    pub guesses: Vec<(String, String)>,
    /// Arms written into the sheet; empty if they have to be stated.
    pub sides: Vec<Side>,
    /// Points that may be landmarks of an arm and do not tell of which.
    pub unsided: Vec<String>,
}

/// Words of a name in lower case: split at anything that is no letter or digit, at changes of case and
/// between letters and digits.
fn words(name: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    let chars: Vec<char> = name.chars().collect();
    for (i, c) in chars.iter().enumerate() {
        let before = i.checked_sub(1).map(|j| chars[j]);
        let starts = before.is_some_and(|b| {
            b.is_lowercase() && c.is_uppercase()
                || b.is_ascii_digit() != c.is_ascii_digit()
                || b.is_uppercase() && c.is_uppercase() && chars.get(i + 1).is_some_and(|n| n.is_lowercase())
        });
        if starts || !c.is_alphanumeric() {
            out.push(String::new());
        }
        if c.is_alphanumeric() {
            out.last_mut().expect("never empty").extend(c.to_lowercase());
        }
    }
    out.retain(|w| !w.is_empty());
    out
}

/// The side a name tells, and the other words.
fn split_side(words: &[String]) -> (Option<Side>, Vec<&str>) {
    let of = |w: &str| match w {
        "r" | "right" => Some(Side::Right),
        "l" | "left" => Some(Side::Left),
        _ => None,
    };
    let side = words.iter().find_map(|w| of(w));
    (
        side,
        words
            .iter()
            .map(String::as_str)
            .filter(|w| of(w).is_none())
            .collect(),
    )
}

/// The landmark that words may name, without its side.
///
/// # Source
/// Plain anatomical words; common practice, no source.
fn landmark_of(words: &[&str]) -> Option<&'static str> {
    let joined = words.concat();
    if let Some(exact) = MIDLINE
        .into_iter()
        .chain(SIDED)
        .find(|l| l.to_lowercase() == joined)
    {
        return Some(exact);
    }
    let has = |starts: &[&str]| words.iter().any(|w| starts.iter().any(|s| w.starts_with(s)));
    let is = |whole: &[&str]| words.iter().any(|w| whole.contains(w));
    let plain = |whole: &[&str]| words.len() == 1 && is(whole);
    let centre = has(&["cent", "joint"]) || is(&["jc"]);
    let outer = has(&["outer", "lat"]) || is(&["out"]);
    let inner = has(&["inner", "med"]) || is(&["in"]);
    if has(&["elbow", "epicond"]) {
        return match (centre, outer, inner) {
            (true, false, false) => Some("EJC"),
            (false, true, false) => Some("EL"),
            (false, false, true) => Some("EM"),
            // a point that is just called elbow stands for the joint
            (false, false, false) if plain(&["elbow"]) => Some("EJC"),
            _ => None,
        };
    }
    if has(&["wrist", "stylo"]) {
        return match (
            centre,
            outer || has(&["thumb", "rad"]),
            inner || has(&["little", "small", "uln"]),
        ) {
            (true, false, false) => Some("WJC"),
            (false, true, false) => Some("RS"),
            (false, false, true) => Some("US"),
            (false, false, false) if plain(&["wrist"]) => Some("WJC"),
            _ => None,
        };
    }
    if has(&["knuckle", "metacarp", "mcp"]) {
        return match (
            is(&["2"]) || has(&["index"]),
            is(&["3"]) || has(&["middle"]),
            is(&["5"]) || has(&["little", "small"]),
        ) {
            (true, false, false) => Some("MCP2"),
            (false, true, false) => Some("MCP3"),
            (false, false, true) => Some("MCP5"),
            _ => None,
        };
    }
    if has(&["glenohum"]) {
        return Some("GH");
    }
    if has(&["acromi"]) {
        return Some("AC");
    }
    if has(&["shoulder"]) && centre || plain(&["shoulder"]) {
        return Some("SJC");
    }
    if has(&["jugul", "suprastern", "incis"]) || has(&["neck"]) && has(&["front"]) {
        return Some("IJ");
    }
    if has(&["xiph"]) {
        return Some("PX");
    }
    if has(&["neck"]) && has(&["back"]) {
        return Some("C7");
    }
    None
}

/// What the names of a file tell.
struct Guessed {
    /// (file's name, landmark with its side), where the file's name is not already that.
    renames: Vec<(String, String)>,
    /// Landmarks under their own names.
    known: Vec<String>,
    /// Landmarks that several points could be.
    contested: Vec<(String, Vec<String>)>,
    /// Everything else.
    others: Vec<String>,
    /// Names that may be landmarks of an arm and do not tell of which.
    unsided: Vec<String>,
    /// Arms named.
    sides: Vec<Side>,
}

fn guess(names: &[&str], stated: &[Side]) -> Guessed {
    let split: Vec<(&str, Option<Side>, Option<&'static str>)> = names
        .iter()
        .map(|n| {
            // a name may carry its subject before a colon
            let w = words(n.rsplit(':').next().unwrap_or(n));
            let (side, rest) = split_side(&w);
            (*n, side, landmark_of(&rest))
        })
        .collect();
    let with_side = |s: Side| split.iter().any(|x| x.1 == Some(s));
    let sides: Vec<Side> = match stated {
        [] => {
            let shown: Vec<Side> = Side::ALL
                .into_iter()
                .filter(|s| split.iter().any(|x| x.1 == Some(*s) && x.2.is_some()))
                .collect();
            match (shown.as_slice(), with_side(Side::Right), with_side(Side::Left)) {
                // no landmark tells the arm, but all names with a side tell the same
                ([], true, false) => vec![Side::Right],
                ([], false, true) => vec![Side::Left],
                _ => shown,
            }
        }
        stated => stated.to_vec(),
    };
    let of_an_arm = |landmark: Option<&str>| landmark.is_some_and(|l| !MIDLINE.contains(&l));
    let unsided = split
        .iter()
        .filter(|x| x.1.is_none() && of_an_arm(x.2))
        .map(|x| x.0.to_owned())
        .collect();
    let mut out = Guessed {
        renames: Vec::new(),
        known: Vec::new(),
        contested: Vec::new(),
        others: Vec::new(),
        unsided,
        sides,
    };
    let mut candidates: Vec<(String, Vec<&str>)> = Vec::new();
    for (name, side, landmark) in split {
        let target = landmark.and_then(|l| match (MIDLINE.contains(&l), side, out.sides.as_slice()) {
            (true, ..) => Some(l.to_owned()),
            (false, Some(side), _) => Some(sided(side, l)),
            // a bare name is the only arm's, or stays bare until the arm is stated
            (false, None, [only]) => Some(sided(*only, l)),
            (false, None, []) => Some(l.to_owned()),
            (false, None, _) => None,
        });
        match target {
            None => out.others.push(name.to_owned()),
            Some(t) => match candidates.iter_mut().find(|c| c.0 == t) {
                Some(c) => c.1.push(name),
                None => candidates.push((t, vec![name])),
            },
        }
    }
    for (target, mut found) in candidates {
        let own = |n: &str| {
            n == target || target.split_once('.').is_some_and(|(_, bare)| n == bare) && out.sides.len() <= 1
        };
        if let Some(i) = found.iter().position(|n| own(n)) {
            found.swap_remove(i);
            out.known.push(target);
            out.others.extend(found.into_iter().map(str::to_owned));
        } else if let [one] = found.as_slice() {
            out.renames.push(((*one).to_owned(), target));
        } else {
            out.contested
                .push((target, found.into_iter().map(str::to_owned).collect()));
        }
    }
    out
}

/// How many markers with one name make a likely cluster: a file that just numbers its points has more (common
/// practice, no source).
const CLUSTER_SIZES: std::ops::RangeInclusive<usize> = 3..=8;

/// Markers whose names differ by a number at the end, three or more of them, with the segment that plain
/// words or initials suggest.
fn clusters(names: &[String]) -> Vec<(String, Vec<String>)> {
    let mut out: Vec<(String, Vec<String>)> = Vec::new();
    for name in names {
        let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
        // knuckles and vertebrae have numbers, too
        if stem.len() == name.len() || stem.is_empty() || landmark_of(&split_side(&words(name)).1).is_some() {
            continue;
        }
        match out.iter_mut().find(|c| c.0 == stem) {
            Some(c) => c.1.push(name.clone()),
            None => out.push((stem.to_owned(), vec![name.clone()])),
        }
    }
    out.retain(|c| CLUSTER_SIZES.contains(&c.1.len()));
    for (stem, _) in &mut out {
        let all = words(stem.rsplit(':').next().unwrap_or(stem));
        let (side, rest) = split_side(&all);
        let segment = match rest.concat().as_str() {
            "ua" | "upperarm" | "arm" | "hum" | "humerus" => "upper_arm",
            "fa" | "forearm" | "lowerarm" => "forearm",
            "ha" | "hand" => "hand",
            "sh" | "sc" | "scap" | "scapula" | "acr" | "acromion" => "scapula",
            "th" | "trunk" | "thorax" | "sternum" => "thorax",
            // two of these must not be one key
            _ => {
                *stem = format!("segment of {stem}");
                continue;
            }
        };
        *stem = match side {
            Some(side) if segment != "thorax" => sided(side, segment),
            _ => segment.to_owned(),
        };
    }
    out
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned())
        .to_string()
        .replace('\n', "\\n")
}

fn list(names: &[String]) -> String {
    names.iter().map(|n| quoted(n)).collect::<Vec<_>>().join(", ")
}

/// Smallest and largest value of each coordinate, in the file's unit.
fn ranges(recording: &Recording) -> String {
    let range = |axis: usize| {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for column in recording.points.iter().filter_map(|p| p.columns[axis]) {
            for x in recording.table.column(column) {
                (low, high) = (low.min(x), high.max(x)); // min and max pass over NaN
            }
        }
        (low <= high).then(|| format!("{} from {low:.3} to {high:.3}", ['x', 'y', 'z'][axis]))
    };
    (0..3).filter_map(range).collect::<Vec<_>>().join(", ")
}

/// Points that are not there in every frame, with the share of frames in which they are.
fn seldom_seen(recording: &Recording) -> Vec<String> {
    let rows = recording.table.frames();
    let of = |p: &crate::capture::PointColumns| {
        let column = recording.table.column(*p.columns.iter().flatten().next()?);
        let seen = column.iter().filter(|x| !x.is_nan()).count();
        (seen < rows).then(|| {
            format!(
                "{} in {:.1} %",
                quoted(&p.file_name),
                100.0 * seen as f64 / rows as f64
            )
        })
    };
    recording.points.iter().filter_map(of).collect()
}

/// Writes the starter sheet for a recording.
pub fn write(recording: &Recording, about: &About<'_>) -> Starter {
    let names: Vec<&str> = recording.points.iter().map(|p| p.file_name.as_str()).collect();
    let guessed = guess(&names, about.sides);
    let mut t = String::new();
    // writing to a String can't fail
    let _ = sections(&mut t, recording, about, &guessed);
    Starter {
        text: t,
        points: names.iter().map(|n| (*n).to_owned()).collect(),
        guesses: guessed.renames,
        sides: guessed.sides,
        unsided: guessed.unsided,
    }
}

fn trial(t: &mut String, recording: &Recording, about: &About<'_>, guessed: &Guessed) -> std::fmt::Result {
    writeln!(
        t,
        "[trial]\nid = {}  # names the folder of the results",
        quoted(about.id)
    )?;
    match guessed.sides.as_slice() {
        [] => writeln!(
            t,
            "sides = {}  # the arms to compute: [\"right\"], [\"left\"] or [\"right\", \"left\"]",
            quoted(UNSTATED)
        )?,
        sides => {
            let why = if about.sides.is_empty() {
                "guess, from the names of the points"
            } else {
                "the arms to compute"
            };
            let sides: Vec<String> = sides.iter().map(|s| s.name().to_owned()).collect();
            writeln!(t, "sides = [{}]  # {why}", list(&sides))?;
        }
    }
    let time = &recording.time;
    if about.has_time {
        writeln!(
            t,
            "# the recording runs from {:.3} to {:.3} s at {:.6} Hz; to look at a part of it:",
            time.start_s,
            time.time(time.frames - 1),
            time.rate_hz
        )?;
        writeln!(
            t,
            "# from_s = {:.3}\n# to_s = {:.3}",
            time.start_s,
            time.time(time.frames - 1)
        )?;
    }
    Ok(())
}

fn calibration(t: &mut String, guessed: &Guessed) -> std::fmt::Result {
    writeln!(
        t,
        "\n# [calibration]  # a static trial with all landmarks, if the moving one has clusters instead of some of them"
    )?;
    writeln!(t, "# file = \"static.csv\"")?;
    let rows = clusters(&guessed.others);
    if rows.is_empty() {
        writeln!(
            t,
            "# clusters = {{ \"right.upper_arm\" = [\"marker 1\", \"marker 2\", \"marker 3\"] }}"
        )?;
    } else {
        writeln!(
            t,
            "# [calibration.clusters]  # guess, from names that differ by their number; the segment is yours to say"
        )?;
        for (segment, markers) in rows {
            writeln!(t, "# {} = [{}]", quoted(&segment), list(&markers))?;
        }
    }
    Ok(())
}

fn sections(t: &mut String, recording: &Recording, about: &About<'_>, guessed: &Guessed) -> std::fmt::Result {
    writeln!(
        t,
        "# Starter sheet, written by armload {}. Every \"?\" is for you to state: the sheet is refused until",
        env!("CARGO_PKG_VERSION")
    )?;
    writeln!(
        t,
        "# none is left. What is marked as a guess comes from the names of the points alone: check each one.\n"
    )?;
    writeln!(
        t,
        "# include = \"participant.toml\"  # a file with tables that several trials share; what stands here wins\n"
    )?;
    trial(t, recording, about, guessed)?;
    participant(t, about)?;
    model(t, guessed)?;
    markers(t, recording, about)?;
    renames(t, guessed, recording)?;
    calibration(t, guessed)?;
    writeln!(
        t,
        "\n[filter]\ncutoff_hz = \"auto\"  # where the least error is expected; or a number in Hz, or \"none\" for clean data"
    )?;
    loads(t, guessed, &recording.table.stated, about.file)
}

fn participant(t: &mut String, about: &About<'_>) -> std::fmt::Result {
    writeln!(t, "\n[participant]")?;
    for line in about.participant {
        writeln!(t, "# {line}")?;
    }
    writeln!(
        t,
        "# id = \"P03\"  # names the person where several trials are compared, and in a BIDS data set"
    )?;
    writeln!(
        t,
        "sex = \"{UNSTATED}\"  # \"female\" or \"male\": the column of the anthropometric table"
    )?;
    writeln!(
        t,
        "body_mass_kg = \"{UNSTATED}\"  # segment masses are fractions of it"
    )?;
    writeln!(
        t,
        "# posture = \"supine\"  # lying on the back; \"prone\" on the belly; \"standing\", \"seated\", \"leaning\", or the trunk's long axis [x, y, z]"
    )?;
    writeln!(
        t,
        "# stature_m = 1.71  # needed where a segment length can't be measured, and for a lumped hand"
    )
}

fn model(t: &mut String, guessed: &Guessed) -> std::fmt::Result {
    let targets = || guessed.known.iter().chain(guessed.renames.iter().map(|r| &r.1));
    let has = |landmarks: &[&str]| targets().any(|n| landmarks.contains(&n.rsplit('.').next().unwrap_or(n)));
    writeln!(
        t,
        "\n[model]\nanthropometry = \"deleva-1996\"  # `armload tables` lists what there is"
    )?;
    writeln!(
        t,
        "# hand = \"segment\"  # or \"lumped\" with the forearm; without the key the markers decide"
    )?;
    if has(&["SJC", "GH"]) {
        writeln!(
            t,
            "shoulder_centre = {{ method = \"given\" }}  # the file seems to have the point itself"
        )?;
    } else if has(&["AC"]) {
        writeln!(
            t,
            "# the file has no shoulder centre, but maybe an acromion: for one below it, by a part of the distance between both"
        )?;
        writeln!(t, "# acromia or by a length (drop_m),")?;
        writeln!(
            t,
            "# shoulder_centre = {{ method = \"below-acromion\", drop_fraction = 0.17 }}"
        )?;
    } else {
        writeln!(
            t,
            "# no point looks like a shoulder centre (SJC or GH): name one under markers.rename, or choose a method,"
        )?;
        writeln!(
            t,
            "# shoulder_centre = {{ method = \"below-acromion\", drop_m = 0.04 }}  # needs AC"
        )?;
        writeln!(
            t,
            "# shoulder_centre = {{ method = \"scapula-regression\" }}  # needs AC, AA, TS, AI, PC"
        )?;
        writeln!(
            t,
            "# shoulder_centre = {{ method = \"functional\", trial = \"circles.csv\" }}  # needs clusters under [calibration]"
        )?;
    }
    if has(&["EL", "EM"]) && !(has(&["EL"]) && has(&["EM"])) && !has(&["EJC"]) {
        writeln!(
            t,
            "# only one epicondyle: the elbow centre half the elbow's width beside it, or on the axis of bending,"
        )?;
        writeln!(
            t,
            "# elbow_centre = {{ method = \"half-width\", half_width_m = 0.034 }}"
        )?;
        writeln!(
            t,
            "# elbow_centre = {{ method = \"functional\", trial = \"bends.csv\", half_width_m = 0.034 }}  # needs clusters under [calibration]"
        )?;
    }
    Ok(())
}

fn markers(t: &mut String, recording: &Recording, about: &About<'_>) -> std::fmt::Result {
    let stated = &recording.table.stated;
    writeln!(
        t,
        "\n[markers]\nfile = {}  # relative to this sheet",
        quoted(about.file)
    )?;
    writeln!(
        t,
        "# coordinates as they stand in the file: {}",
        ranges(recording)
    )?;
    // pixels are for pictures, and a picture has two coordinates
    let planar = recording.absent_axis.is_some();
    let units = LENGTH_UNITS.join(", ");
    match &stated.length_unit {
        Some((unit, _)) => writeln!(t, "length_unit = {}  # as the file says", quoted(unit))?,
        None if planar => writeln!(
            t,
            "length_unit = \"{UNSTATED}\"  # unit of the coordinates, never guessed: {units}, or {PIXEL} with a scale"
        )?,
        None => writeln!(
            t,
            "length_unit = \"{UNSTATED}\"  # unit of the coordinates, never guessed: {units}"
        )?,
    }
    let scale = "something of known length in the plane of the movement, measured in the picture";
    match &stated.length_unit {
        Some((unit, _)) if unit == PIXEL => writeln!(
            t,
            "scale = {{ length_px = \"{UNSTATED}\", length_m = \"{UNSTATED}\" }}  # {scale}"
        )?,
        None if planar => writeln!(
            t,
            "# scale = {{ length_px = 412.0, length_m = 0.50 }}  # of pixels: {scale}"
        )?,
        _ => {}
    }
    let up = "the lab axis against gravity: \"+z\", \"-y\" ...";
    let up = if planar {
        format!("{up} (in most pictures y points down: \"-y\")")
    } else {
        up.to_owned()
    };
    for (key, axis, meaning) in [
        ("up", &stated.up, up.as_str()),
        (
            "forward",
            &stated.forward,
            "the lab axis the participant faces, or a vector [x, y, z]; lying on the back: where the feet point, on the belly: the head",
        ),
    ] {
        match axis {
            Some((axis, _)) => writeln!(t, "{key} = \"{}\"  # as the file says; {meaning}", axis)?,
            None => writeln!(t, "{key} = \"{UNSTATED}\"  # {meaning}")?,
        }
    }
    if !about.has_time {
        writeln!(
            t,
            "rate_hz = \"{UNSTATED}\"  # frames per second: the file has no times"
        )?;
    }
    let seldom = seldom_seen(recording);
    if !seldom.is_empty() {
        writeln!(t, "# not seen in every frame: {}", seldom.join(", "))?;
    }
    Ok(())
}

fn renames(t: &mut String, guessed: &Guessed, recording: &Recording) -> std::fmt::Result {
    writeln!(t, "\n[markers.rename]  # file's name of a point = landmark")?;
    if recording.absent_axis.is_some() {
        writeln!(
            t,
            "# the recording is planar: joint centres SJC, EJC, WJC are enough"
        )?;
    }
    if !guessed.known.is_empty() {
        writeln!(t, "# already under their own names: {}", guessed.known.join(", "))?;
    }
    for (name, landmark) in &guessed.renames {
        writeln!(t, "{} = {}  # guess", quoted(name), quoted(landmark))?;
    }
    for (landmark, names) in &guessed.contested {
        writeln!(t, "# {landmark} could be any of {}", list(names))?;
    }
    if !guessed.others.is_empty() {
        writeln!(
            t,
            "# not recognised (they may be cluster markers, or points of a load): {}",
            list(&guessed.others)
        )?;
    }
    writeln!(
        t,
        "# landmarks: {}; with a side, like \"right.EL\": {}",
        MIDLINE.join(" "),
        SIDED.join(" ")
    )
}

/// Most channels that a sheet lists.
const CHANNELS_LISTED: usize = 24;

/// Labels and units of channels; of many only the first.
fn channels(all: &[StatedChannel]) -> String {
    let named: Vec<String> = all
        .iter()
        .take(CHANNELS_LISTED)
        .map(ToString::to_string)
        .collect();
    let rest = match all.len().saturating_sub(CHANNELS_LISTED) {
        0 => String::new(),
        more => format!(" and {more} more (`armload inspect` lists them)"),
    };
    format!("{}{rest}", one_line(&named.join(", ")))
}

/// A text of the file that stays in its comment.
fn one_line(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

fn loads(t: &mut String, guessed: &Guessed, stated: &Stated, file: &str) -> std::fmt::Result {
    let sides: &[Side] = if guessed.sides.is_empty() {
        &[Side::Right]
    } else {
        &guessed.sides
    };
    for side in sides {
        writeln!(
            t,
            "\n[[load]]  # what acts on the hand; one block for each load, \"none\" for an empty hand"
        )?;
        writeln!(
            t,
            "kind = \"{UNSTATED}\"  # \"free-weight\", \"shared-bar\", \"recorded-force\", \"cable\", \"elastic-band\" or \"none\""
        )?;
        if guessed.sides.is_empty() {
            writeln!(t, "# side = \"right\"  # needed with two arms")?;
        } else {
            writeln!(t, "side = \"{side}\"")?;
        }
        if !stated.platforms.is_empty() {
            writeln!(
                t,
                "# of a recorded-force, force platforms in the file, counted from 1: {}",
                one_line(&stated.platforms.join("; "))
            )?;
            writeln!(
                t,
                "# file = {}\n# platform = 1\n# force_on = \"instrument\"  # what platforms report: what the body does to them",
                quoted(file)
            )?;
        }
        if !stated.channels.is_empty() {
            writeln!(t, "# analog channels in the file: {}", channels(&stated.channels))?;
            writeln!(
                t,
                "# channels = [\"...\", \"...\", \"...\"]  # of a recorded-force in place of a platform: three forces, or with three moments"
            )?;
        }
        writeln!(t, "# mass_kg = 8.0  # of a free weight or a bar")?;
        if sides.len() > 1 {
            writeln!(
                t,
                "# of a bar in both hands one block is enough: leave `side` out; share = 0.5  # the right hand's part"
            )?;
        }
        writeln!(
            t,
            "# at = [\"point 1\", \"point 2\"]  # mean of these points; without the key, the grip"
        )?;
    }
    Ok(())
}

//! Motion-BIDS: a table without a header beside the files that describe it.
//!
//! ```text
//! sub-01_task-curl_tracksys-omc_motion.tsv     numbers, no header
//! sub-01_task-curl_tracksys-omc_channels.tsv   one row a column: name, component, type, tracked_point, units, reference_frame
//! sub-01_task-curl_tracksys-omc_channels.json  what the reference frames are (SpatialAxes)
//! sub-01_task-curl_tracksys-omc_motion.json    SamplingFrequency
//! sub-01_task-curl_physio.tsv.gz, .json        other recordings, such as forces: SamplingFrequency, StartTime, Columns
//! ```
//!
//! A file that describes several recordings may stand in a folder above (inheritance principle): the nearest
//! one whose entities all belong to the recording counts.
//!
//! # Source
//! Brain Imaging Data Structure, motion and physiological recordings (from memory).

use super::c3d::unit_name;
use super::table::{NumberTable, Stated};
use super::text::{self, MISSING, Text};
use super::{CaptureError, Content, unpack};
use crate::ground::axes::SignedAxis;
use crate::ground::place::Place;
use crate::ground::warning::Warning;
use serde_json::Value;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Folders above a recording that are searched for what describes it: subject, session and data type, and one
/// to spare.
const FOLDERS_UP: usize = 4;
/// Stands at the top of a data set.
const TOP: &str = "dataset_description.json";

/// What can be wrong with a Motion-BIDS recording.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum BidsFault {
    /// A file that describes the recording is nowhere.
    #[error("there is no file {expected} for it, here or in the folders above")]
    SidecarMissing {
        /// Its name.
        expected: String,
    },
    /// Not JSON.
    #[error("not valid JSON: {message}")]
    Json {
        /// What the parser says.
        message: String,
    },
    /// A key that has to be there.
    #[error("{key} is {found}; expected {expected}")]
    Key {
        /// The key.
        key: &'static str,
        /// What stands there.
        found: String,
        /// What should.
        expected: &'static str,
    },
    /// A column of the channels table that has to be there.
    #[error("there is no column '{name}'")]
    Column {
        /// Its name.
        name: &'static str,
    },
    /// A row of another length than the header.
    #[error("the row has {found} cells; expected {expected}, as in the header")]
    RowLength {
        /// Cells of the row.
        found: usize,
        /// Cells of the header.
        expected: usize,
    },
    /// Channels that differ in what has to be one.
    #[error("the position channels differ in {what}: '{first}' and '{second}'; expected one for all")]
    Differ {
        /// units or reference_frame.
        what: &'static str,
        /// One value.
        first: String,
        /// Another.
        second: String,
    },
    /// Axes that are no axes.
    #[error(
        "SpatialAxes is \"{found}\"; expected three letters, one of A or P, one of L or R, one of S or I, like \"ALS\""
    )]
    SpatialAxes {
        /// As it stands.
        found: String,
    },
    /// Axes of a left-handed lab.
    #[error("the axes \"{found}\" are left-handed; expected right-handed ones")]
    LeftHanded {
        /// As they stand.
        found: String,
    },
}

impl BidsFault {
    /// What the user can do.
    pub(super) fn hint(&self) -> &'static str {
        match self {
            Self::SidecarMissing { .. } => "keep the recording together with the files that describe it",
            Self::Json { .. } | Self::Key { .. } => "correct the JSON file beside the recording",
            Self::Column { .. } | Self::RowLength { .. } => {
                "channels.tsv has a header row with name, component, type, tracked_point and units, and one row for each column of the recording"
            }
            Self::Differ { .. } => {
                "split the recording, or bring its positions into one unit and one reference frame"
            }
            Self::SpatialAxes { .. } => {
                "A anterior, P posterior, L left, R right, S superior, I inferior, in the order of x, y, z"
            }
            Self::LeftHanded { .. } => {
                "in a mirrored lab a right arm would be computed as a left one: turn the sign of one axis and say so in SpatialAxes"
            }
        }
    }
}

fn fault(place: Place, fault: BidsFault) -> CaptureError {
    CaptureError::Bids { place, fault }
}

/// Kinds of recording, by the end of their names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Motion,
    Physio,
}

impl Kind {
    /// By a file's name; `None` if it is not one of a BIDS data set.
    pub fn of(path: &Path) -> Option<Self> {
        let name = path.file_name()?.to_str()?;
        let stem = name.strip_suffix(".gz").unwrap_or(name).strip_suffix(".tsv")?;
        match stem.strip_prefix("sub-")?.rsplit('_').next()? {
            "motion" => Some(Self::Motion),
            "physio" => Some(Self::Physio),
            _ => None,
        }
    }
}

/// Reads a recording together with what describes it.
///
/// # Errors
/// Missing or faulty descriptions, and everything a text is refused for.
pub(super) fn read(
    path: &Path,
    kind: Kind,
    content: Content,
    place: Place,
) -> Result<NumberTable, CaptureError> {
    let unpacked = if content == Content::Gzip {
        Some(unpack(path, &place)?)
    } else {
        None
    };
    let text = unpacked.as_deref().map_or(Text::File(path), Text::Unpacked);
    match kind {
        Kind::Motion => read_motion(path, text, place),
        Kind::Physio => read_physio(path, text, place),
    }
}

/// Entities of a file's name: `sub-01`, `task-curl` ..., without its suffix.
fn entities(path: &Path) -> Vec<String> {
    let name = path
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    name.split('_')
        .filter(|part| part.contains('-') && !part.contains('.'))
        .map(str::to_owned)
        .collect()
}

/// Keys and labels of a recording's name (`sub`, `01`; `task`, `curl` ...), in its order; `None` if the file
/// is not one of a BIDS data set.
pub fn labels(recording: &Path) -> Option<Vec<(String, String)>> {
    Kind::of(recording)?;
    Some(
        entities(recording)
            .iter()
            .filter_map(|e| e.split_once('-'))
            .map(|(k, v)| (k.to_owned(), v.to_owned()))
            .collect(),
    )
}

/// The nearest file that ends in `suffix` and whose entities all belong to the recording; in one folder the
/// most specific.
fn sidecar(path: &Path, suffix: &str) -> Option<PathBuf> {
    let mine = entities(path);
    let mut folder = match path.parent() {
        Some(p) if !p.as_os_str().is_empty() => p.canonicalize().ok()?,
        _ => Path::new(".").canonicalize().ok()?,
    };
    for _ in 0..=FOLDERS_UP {
        let mut found: Vec<(usize, PathBuf)> = Vec::new();
        for entry in std::fs::read_dir(&folder).ok()?.flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            let fits = name.ends_with(&format!("_{suffix}")) || name == suffix;
            let theirs = entities(Path::new(&name));
            if fits && theirs.iter().all(|e| mine.contains(e)) {
                found.push((theirs.len(), entry.path()));
            }
        }
        found.sort();
        if let Some((_, best)) = found.pop() {
            return Some(best);
        }
        if folder.join(TOP).exists() || !folder.pop() {
            break;
        }
    }
    None
}

fn needed(path: &Path, suffix: &str, place: &Place) -> Result<PathBuf, CaptureError> {
    let expected = entities(path)
        .into_iter()
        .chain([suffix.to_owned()])
        .collect::<Vec<_>>()
        .join("_");
    sidecar(path, suffix).ok_or_else(|| fault(place.clone(), BidsFault::SidecarMissing { expected }))
}

/// Name of a sidecar for messages: as seen from the recording's folder where that is shorter.
fn place_of(sidecar: &Path, recording: &Path) -> Place {
    let beside = sidecar.parent().is_some_and(|p| {
        recording
            .parent()
            .and_then(|r| {
                if r.as_os_str().is_empty() {
                    Path::new(".")
                } else {
                    r
                }
                .canonicalize()
                .ok()
            })
            .as_deref()
            == Some(p)
    });
    match (beside, sidecar.file_name()) {
        (true, Some(name)) => Place::file(recording.with_file_name(name).display().to_string()),
        _ => Place::file(sidecar.display().to_string()),
    }
}

fn read_json(path: &Path, place: &Place) -> Result<Value, CaptureError> {
    let bytes = std::fs::read(path).map_err(|e| text::unreadable(place, e))?;
    serde_json::from_slice(&bytes).map_err(|e| {
        fault(
            place.at_line(e.line()).at_column(e.column(), None),
            BidsFault::Json {
                message: e.to_string(),
            },
        )
    })
}

/// SamplingFrequency, Hz; the effective one if it is given.
fn rate(json: &Value, place: &Place) -> Result<f64, CaptureError> {
    let key = "SamplingFrequency";
    let positive = |v: &Value| v.as_f64().filter(|x| x.is_finite() && *x > 0.0);
    positive(&json["SamplingFrequencyEffective"])
        .or_else(|| positive(&json[key]))
        .ok_or_else(|| {
            let found = json.get(key).map_or("missing".to_owned(), Value::to_string);
            fault(
                place.clone(),
                BidsFault::Key {
                    key,
                    found,
                    expected: "the number of samples a second",
                },
            )
        })
}

/// One row of channels.tsv.
struct Channel {
    name: String,
    component: String,
    kind: String,
    tracked_point: String,
    units: String,
    reference_frame: String,
    bad: bool,
    line: usize,
}

impl Channel {
    /// Which coordinate of which point it carries.
    fn coordinate(&self) -> Option<(&str, usize)> {
        let axis = ["x", "y", "z"]
            .iter()
            .position(|a| self.component.eq_ignore_ascii_case(a))?;
        (self.kind.eq_ignore_ascii_case("POS") && !self.tracked_point.is_empty())
            .then_some((self.tracked_point.as_str(), axis))
    }

    fn is_time(&self) -> bool {
        self.kind.eq_ignore_ascii_case("LATENCY")
    }
}

/// Rows of a TSV of texts, each with its line.
type TextRows = Vec<(usize, Vec<String>)>;

/// Cells of a TSV of texts: the header in lower case, then the rows; missing cells are empty.
fn read_texts(path: &Path, place: &Place) -> Result<(Vec<String>, TextRows), CaptureError> {
    let bytes = std::fs::read(path).map_err(|e| text::unreadable(place, e))?;
    let all = String::from_utf8_lossy(&bytes);
    let mut lines = all
        .trim_start_matches('\u{feff}')
        .lines()
        .enumerate()
        .filter(|(_, l)| !l.trim().is_empty());
    let cells = |l: &str| -> Vec<String> { l.split('\t').map(|c| c.trim().to_owned()).collect() };
    let Some((_, header)) = lines.next() else {
        return Err(CaptureError::Empty { place: place.clone() });
    };
    let names: Vec<String> = cells(header).iter().map(|n| n.to_lowercase()).collect();
    let mut rows = Vec::new();
    for (i, line) in lines {
        let mut row = cells(line);
        if row.len() != names.len() {
            let lengths = BidsFault::RowLength {
                found: row.len(),
                expected: names.len(),
            };
            return Err(fault(place.at_line(i + 1), lengths));
        }
        row.iter_mut()
            .filter(|c| MISSING.contains(&c.as_str()))
            .for_each(String::clear);
        rows.push((i + 1, row));
    }
    Ok((names, rows))
}

fn read_channels(path: &Path, place: &Place) -> Result<Vec<Channel>, CaptureError> {
    let (names, rows) = read_texts(path, place)?;
    let find = |name: &'static str| names.iter().position(|n| n == name);
    let need =
        |name: &'static str| find(name).ok_or_else(|| fault(place.at_line(1), BidsFault::Column { name }));
    let (name, component, kind, point, units) = (
        need("name")?,
        need("component")?,
        need("type")?,
        need("tracked_point")?,
        need("units")?,
    );
    let (frame, status) = (find("reference_frame"), find("status"));
    let of = |(line, row): (usize, Vec<String>)| Channel {
        name: row[name].clone(),
        component: row[component].clone(),
        kind: row[kind].clone(),
        tracked_point: row[point].clone(),
        units: row[units].clone(),
        reference_frame: frame.map_or_else(String::new, |f| row[f].clone()),
        bad: status.is_some_and(|s| row[s].eq_ignore_ascii_case("bad")),
        line,
    };
    Ok(rows.into_iter().map(of).collect())
}

/// The value all position channels share; `None` if none states it.
fn shared(
    channels: &[&Channel],
    what: &'static str,
    of: impl Fn(&Channel) -> String,
    place: &Place,
) -> Result<Option<(String, Place)>, CaptureError> {
    let mut stated = channels.iter().filter(|c| !of(c).is_empty());
    let Some(first) = stated.next() else {
        return Ok(None);
    };
    match stated.find(|c| of(c) != of(first)) {
        Some(other) => Err(fault(
            place.at_line(other.line),
            BidsFault::Differ {
                what,
                first: of(first),
                second: of(other),
            },
        )),
        None => Ok(Some((of(first), place.at_line(first.line)))),
    }
}

/// The name of the column of times.
const TIME: &str = "time_s";

/// Columns that are read, with the names they get (`time_s` for the one that holds the time); the others are noted.
fn columns_kept(
    channels: &[Channel],
    bad: &[String],
    channels_place: &Place,
    ignored: &mut Vec<String>,
) -> Result<Vec<(usize, String)>, CaptureError> {
    let mut kept = Vec::new();
    let mut has_time = false;
    for (i, channel) in channels.iter().enumerate() {
        match channel.coordinate() {
            Some((point, axis)) if !bad.iter().any(|b| b == point) => {
                kept.push((i, format!("{point}_{}", ['x', 'y', 'z'][axis])))
            }
            _ if channel.is_time() && !has_time => {
                if !["s", "second", "seconds", ""].contains(&channel.units.to_lowercase().as_str()) {
                    let wrong = BidsFault::Key {
                        key: "the unit of LATENCY",
                        found: format!("\"{}\"", channel.units),
                        expected: "s",
                    };
                    return Err(fault(channels_place.at_line(channel.line), wrong));
                }
                has_time = true;
                kept.push((i, TIME.into()));
            }
            _ => ignored.push(channel.name.clone()),
        }
    }
    Ok(kept)
}

fn read_motion(path: &Path, text: Text<'_>, place: Place) -> Result<NumberTable, CaptureError> {
    let channels_path = needed(path, "channels.tsv", &place)?;
    let channels_place = place_of(&channels_path, path);
    let channels = read_channels(&channels_path, &channels_place)?;
    let bad: Vec<String> = {
        let mut points: Vec<String> = channels
            .iter()
            .filter(|c| c.bad)
            .filter_map(|c| Some(c.coordinate()?.0.to_owned()))
            .collect();
        points.dedup();
        points
    };
    let positions: Vec<&Channel> = channels
        .iter()
        .filter(|c| c.coordinate().is_some_and(|(p, _)| !bad.iter().any(|b| b == p)))
        .collect();
    let length_unit = shared(
        &positions,
        "units",
        |c| {
            if c.units.is_empty() {
                String::new()
            } else {
                unit_name(&c.units)
            }
        },
        &channels_place,
    )?;
    let frame = shared(
        &positions,
        "reference_frame",
        |c| c.reference_frame.clone(),
        &channels_place,
    )?
    .map(|f| f.0);
    let (up, forward) = match spatial_axes(path, frame.as_deref())? {
        Some((axes, place)) => directions(&axes, &place)?,
        None => (None, None),
    };
    let columns: Vec<String> = (0..channels.len()).map(|i| format!("{}", i + 1)).collect();
    let mut table = text::read_headless(text, columns, place.clone())?;
    let kept = columns_kept(&channels, &bad, &channels_place, &mut table.ignored)?;
    let mut table = table.keep(&kept)?;
    let has_time = kept.iter().any(|k| k.1 == TIME);
    let rate_hz = motion_rate(path, &place, !has_time)?;
    if let (false, Some((hz, _))) = (has_time, &rate_hz) {
        table.add_column(TIME, (0..table.frames()).map(|k| k as f64 / hz).collect());
    }
    if !bad.is_empty() {
        table.notes.push(Warning::BadChannels {
            file: channels_place.file.clone(),
            points: bad,
        });
    }
    table.stated = Stated {
        length_unit,
        up,
        forward,
        rate_hz,
        ..Stated::default()
    };
    Ok(table)
}

/// The rate of a motion recording and where it is said; without need of it, nothing if it is nowhere.
fn motion_rate(path: &Path, place: &Place, is_needed: bool) -> Result<Option<(f64, Place)>, CaptureError> {
    let suffix = "motion.json";
    let json_path = match sidecar(path, suffix) {
        Some(found) => found,
        None if is_needed => needed(path, suffix, place)?,
        None => return Ok(None),
    };
    let json_place = place_of(&json_path, path);
    match rate(&read_json(&json_path, &json_place)?, &json_place) {
        Ok(hz) => Ok(Some((
            hz,
            Place {
                column_name: Some("SamplingFrequency".into()),
                ..json_place
            },
        ))),
        Err(e) if is_needed => Err(e),
        Err(_) => Ok(None),
    }
}

/// SpatialAxes of a reference frame, and where they stand: in channels.json among the levels of
/// reference_frame.
fn spatial_axes(path: &Path, frame: Option<&str>) -> Result<Option<(String, Place)>, CaptureError> {
    let Some(json_path) = sidecar(path, "channels.json") else {
        return Ok(None);
    };
    let place = place_of(&json_path, path);
    let json = read_json(&json_path, &place)?;
    let levels = &json["reference_frame"]["Levels"];
    let level = match (frame, levels.as_object()) {
        (Some(frame), _) => &levels[frame],
        // nobody says which: the only one there is
        (None, Some(all)) if all.len() == 1 => all.values().next().unwrap_or(&Value::Null),
        _ => &Value::Null,
    };
    Ok(level["SpatialAxes"].as_str().map(|s| (s.to_owned(), place)))
}

/// An axis and where it is said.
type StatedAxis = Option<(SignedAxis, Place)>;

/// Up and forward among lab axes, from letters in the order of x, y, z; `_` for an axis that is not used.
fn directions(text: &str, place: &Place) -> Result<(StatedAxis, StatedAxis), CaptureError> {
    let wrong = || {
        fault(
            place.clone(),
            BidsFault::SpatialAxes {
                found: text.to_owned(),
            },
        )
    };
    // world directions: 0 forward, 1 up, 2 right
    let world = |letter: char| match letter.to_ascii_uppercase() {
        'A' => Some((0, false)),
        'P' => Some((0, true)),
        'S' => Some((1, false)),
        'I' => Some((1, true)),
        'R' => Some((2, false)),
        'L' => Some((2, true)),
        _ => None,
    };
    let letters: Vec<char> = text.chars().collect();
    if letters.len() != 3 {
        return Err(wrong());
    }
    let mut lab_of: [Option<SignedAxis>; 3] = [None; 3];
    let mut world_of = nalgebra::Matrix3::<f64>::zeros();
    for (index, letter) in letters.iter().enumerate().filter(|(_, l)| **l != '_') {
        let (direction, negative) = world(*letter).ok_or_else(wrong)?;
        if lab_of[direction]
            .replace(SignedAxis { index, negative })
            .is_some()
        {
            return Err(wrong());
        }
        world_of[(direction, index)] = if negative { -1.0 } else { 1.0 };
    }
    if lab_of.iter().all(Option::is_some) && world_of.determinant() < 0.0 {
        return Err(fault(
            place.clone(),
            BidsFault::LeftHanded {
                found: text.to_owned(),
            },
        ));
    }
    let with_place = |a: Option<SignedAxis>| a.map(|a| (a, place.clone()));
    Ok((with_place(lab_of[1]), with_place(lab_of[0])))
}

fn read_physio(path: &Path, text: Text<'_>, place: Place) -> Result<NumberTable, CaptureError> {
    let json_path = needed(path, "physio.json", &place)?;
    let json_place = place_of(&json_path, path);
    let json = read_json(&json_path, &json_place)?;
    let names: Option<Vec<String>> = json["Columns"].as_array().and_then(|a| {
        a.iter()
            .map(|n| n.as_str().map(|n| n.trim().to_owned()))
            .collect()
    });
    let names = names.filter(|n| !n.is_empty()).ok_or_else(|| {
        let found = json
            .get("Columns")
            .map_or("missing".to_owned(), |c| c.to_string().chars().take(60).collect());
        fault(
            json_place.clone(),
            BidsFault::Key {
                key: "Columns",
                found,
                expected: "a list of column names",
            },
        )
    })?;
    let start_s = json["StartTime"]
        .as_f64()
        .filter(|x| x.is_finite())
        .unwrap_or(0.0);
    let mut table = text::read_headless(text, names, place)?;
    let stated = rate(&json, &json_place);
    if table.time_column().is_none() {
        let rate_hz = stated?;
        table.add_column(
            "time_s",
            (0..table.frames())
                .map(|k| start_s + k as f64 / rate_hz)
                .collect(),
        );
    } else if let Ok(hz) = stated {
        table.stated.rate_hz = Some((
            hz,
            Place {
                column_name: Some("SamplingFrequency".into()),
                ..json_place
            },
        ));
    }
    Ok(table)
}

/// What participants.tsv says of a recording's participant that a sheet may need: lines for a person to read,
/// nothing more, since its columns and units are each data set's own.
pub fn participant_suggestions(path: &Path) -> Vec<String> {
    let Some(id) = entities(path).into_iter().find(|e| e.starts_with("sub-")) else {
        return Vec::new();
    };
    let Some(tsv) = sidecar(path, "participants.tsv") else {
        return Vec::new();
    };
    let Ok((names, rows)) = read_texts(&tsv, &Place::default()) else {
        return Vec::new();
    };
    let Some(id_column) = names.iter().position(|n| n == "participant_id") else {
        return Vec::new();
    };
    let Some((_, row)) = rows.iter().find(|(_, r)| r[id_column] == id) else {
        return Vec::new();
    };
    let json = std::fs::read(tsv.with_extension("json"))
        .ok()
        .and_then(|b| serde_json::from_slice::<Value>(&b).ok())
        .unwrap_or_default();
    let useful = |n: &str| {
        ["sex", "mass", "weight", "stature", "height"]
            .iter()
            .any(|w| n.contains(w))
    };
    let unit_of = |name: &str| {
        json.as_object()
            .and_then(|o| o.iter().find(|(k, _)| k.to_lowercase() == name))
            .and_then(|(_, v)| v["Units"].as_str())
    };
    names
        .iter()
        .zip(row)
        .filter(|(n, cell)| useful(n) && !cell.is_empty())
        .map(|(n, cell)| {
            let unit = unit_of(n).map_or("unit not stated".to_owned(), |u| format!("in {u}"));
            let unit = if n.contains("sex") {
                String::new()
            } else {
                format!(" ({unit})")
            };
            format!("participants.tsv says {n} = {cell}{unit}").replace(['\n', '\r'], " ")
        })
        .collect()
}

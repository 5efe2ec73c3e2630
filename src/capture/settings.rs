//! What a sheet says of the recording: `[markers]`.

use super::header::Layout;
use crate::ground::axes::{AxisMap, Lab, SignedAxis, Vector};
use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;
use crate::ground::form::tree::Value;
use crate::ground::names::Side;
use crate::ground::place::Place;
use crate::ground::{landmarks, units};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// `[markers]`
#[derive(Clone, Debug)]
pub struct MarkerSettings {
    /// File, resolved against the sheet's folder.
    pub file: PathBuf,
    /// Where the key stands.
    pub file_place: Place,
    /// Metres per unit of the file; of a pixel by the sheet's scale.
    pub metres_per_unit: f64,
    /// Name of the unit.
    pub length_unit: String,
    /// Where the unit, or the scale of pixels, stands in the sheet.
    pub length_unit_place: Place,
    /// Lab to world.
    pub axes: AxisMap,
    /// Where the axes stand in the sheet.
    pub axes_place: Place,
    /// Sampling rate for files without a time column, Hz.
    pub rate_hz: Option<f64>,
    /// Rows above the numbers of a text.
    pub layout: Layout,
    /// File's name -> (our name, where that stands).
    pub rename: BTreeMap<String, (String, Place)>,
}

/// What `forward` means, in every posture.
pub const FORWARD: &str = "the way the participant faces; for one who lies, the way they would face on sitting or standing up: on the back where the feet point, on the belly where the head points";

/// Reads a direction: a signed axis or a vector.
fn read_direction(keys: &Keys, key: &str) -> Result<Vector<Lab>, FormError> {
    let expected = "a signed lab axis like \"+z\", or a vector [x, y, z]";
    let Some(node) = keys.node(key) else {
        return Err(keys.missing(key, &format!("which lab axis points {key}: {expected}")));
    };
    match &node.value {
        Value::Text(_) => {
            let t = keys.text(key)?.unwrap_or_default();
            SignedAxis::parse(&t)
                .map(SignedAxis::unit)
                .ok_or_else(|| keys.unknown_choice(key, &t, &["+x", "-x", "+y", "-y", "+z", "-z"]))
        }
        _ => Ok(Vector::from_components(keys.vector(key)?.unwrap_or_default())),
    }
}

/// Largest extent of a picture taken for one, px.
const PICTURE_LIMIT_PX: f64 = 1e5;

/// Longest thing of known length in a picture, m.
const SCALE_LIMIT_M: f64 = 100.0;

/// Metres in the unit, and where that is said: pixels by something of known length in the picture.
///
/// # Equation
/// metres per pixel = length_m / length_px
fn read_unit(keys: &Keys, unit: &str) -> Result<(f64, Place), FormError> {
    let scale = keys
        .table("scale")
        .map_err(|e| e.written_as(|_| "scale = { length_px = 412.0, length_m = 0.50 }".into()))?;
    match (units::metres_per(unit), scale) {
        (Some(metres), None) => Ok((metres, keys.place_of("length_unit"))),
        (Some(_), Some(_)) => Err(FormError::Conflict {
            place: keys.place_of("scale"),
            what: format!("markers.scale is given, but markers.length_unit is \"{unit}\", which needs none"),
            hint: format!("remove the scale, or set length_unit = \"{}\" if the coordinates are pixels", units::PIXEL),
        }),
        (None, None) if unit == units::PIXEL => Err(FormError::Conflict {
            place: keys.place_of("length_unit"),
            what: "markers.length_unit is \"px\", but there is no markers.scale; expected one: how long a pixel is, is never guessed"
                .into(),
            hint: "measure something of known length in the plane of the movement: scale = { length_px = 412.0, length_m = 0.50 }".into(),
        }),
        (None, Some(scale)) if unit == units::PIXEL => {
            let need = |key: &str, limit: f64, unit: &str, expected: &str| {
                scale.positive(key, limit, unit)?.ok_or_else(|| scale.missing(key, expected))
            };
            let length_px =
                need("length_px", PICTURE_LIMIT_PX, "px", "the length in the picture, in pixels, of something of known length")?;
            let length_m = need("length_m", SCALE_LIMIT_M, "m", "its length in m")?;
            let place = keys.place_of("scale");
            scale.finish()?;
            Ok((length_m / length_px, place))
        }
        (None, _) => {
            let choices: Vec<&str> = units::LENGTH_UNITS.into_iter().chain([units::PIXEL]).collect();
            Err(keys.unknown_choice("length_unit", unit, &choices))
        }
    }
}

/// Keys of `[markers]`.
pub const MARKER_KEYS: &[Key] = &[
    Key {
        key: "markers.file",
        kind: "text",
        unit: "",
        default: "required",
        meaning: "Marker file, from the sheet's folder: CSV, TSV (also .gz), C3D, Parquet.",
        example: "\"curl_markers.csv\"",
    },
    Key {
        key: "markers.length_unit",
        kind: "\"mm\", \"cm\", \"m\", \"um\", \"in\", \"ft\" or \"px\"",
        unit: "",
        default: "required",
        meaning: "Unit of the coordinates; never guessed. Pixels need a scale.",
        example: "\"mm\"",
    },
    Key {
        key: "markers.scale.length_px",
        kind: "number",
        unit: "px",
        default: "none; required by \"px\"",
        meaning: "Length in the picture of something of known length in the plane of the movement.",
        example: "412.0",
    },
    Key {
        key: "markers.scale.length_m",
        kind: "number",
        unit: "m",
        default: "none; required by \"px\"",
        meaning: "Its length in the world.",
        example: "0.50",
    },
    Key {
        key: "markers.up",
        kind: "\"+x\" to \"-z\", or a vector",
        unit: "",
        default: "required",
        meaning: "The lab axis that points up, against gravity.",
        example: "\"+z\"",
    },
    Key {
        key: "markers.forward",
        kind: "\"+x\" to \"-z\", or a vector",
        unit: "",
        default: "required",
        meaning: "The lab axis in which the participant faces; for one who lies, the way they would face on sitting or standing up.",
        example: "\"+y\"",
    },
    Key {
        key: "markers.rate_hz",
        kind: "number",
        unit: "Hz",
        default: "none; from the times in the file",
        meaning: "Frames a second, for a file without times.",
        example: "200.0",
    },
    Key {
        key: "markers.header_rows",
        kind: "whole number",
        unit: "",
        default: "none; told from what the rows are",
        meaning: "Lines before the first row of numbers, in a text with several rows of names, axes, units.",
        example: "4",
    },
    Key {
        key: "markers.names_row",
        kind: "whole number",
        unit: "",
        default: "none; told from what the rows are",
        meaning: "The line that has the names, counted from 1.",
        example: "3",
    },
    Key {
        key: "markers.rename.*",
        kind: "text",
        unit: "",
        default: "none",
        meaning: "Landmark that a point of the file is, where the file calls it otherwise.",
        example: "\"EL\"",
    },
];

/// Most lines above the numbers that are taken for a header.
const HEADER_LIMIT: f64 = 60.0;

/// Rows above the numbers, in lines of the file.
fn read_layout(keys: &Keys) -> Result<Layout, FormError> {
    let line = |key: &str| -> Result<Option<usize>, FormError> {
        let found = keys.number_within(key, 1.0, HEADER_LIMIT, "(lines are counted from 1)")?;
        match found.filter(|x| x.fract() != 0.0) {
            Some(x) => Err(keys.out_of_range(key, x, "a whole number of lines")),
            None => Ok(found.map(|x| x as usize)),
        }
    };
    let (header_rows, names_row) = (line("header_rows")?, line("names_row")?);
    if let (Some(rows), Some(names)) = (header_rows, names_row)
        && names > rows
    {
        let expected = format!("a line among the {rows} of markers.header_rows");
        return Err(keys.out_of_range("names_row", names, &expected));
    }
    Ok(Layout {
        header_rows,
        names_row,
    })
}

impl MarkerSettings {
    /// Reads `[markers]`.
    pub fn read(keys: Keys, dir: &Path, sides: &[Side]) -> Result<Self, FormError> {
        let file = dir.join(keys.required_text("file", "the marker file")?);
        let file_place = keys.place_of("file");
        let expected = format!(
            "the unit of the coordinates ({}, or {} with a scale): it is never guessed",
            units::LENGTH_UNITS.join(", "),
            units::PIXEL
        );
        let length_unit = keys.required_text("length_unit", &expected)?;
        let (metres_per_unit, length_unit_place) = read_unit(&keys, &length_unit)?;
        let (up, forward) = (read_direction(&keys, "up")?, read_direction(&keys, "forward")?);
        let axes_place = keys.place_of("forward");
        let axes = AxisMap::from_vectors(up, forward).ok_or_else(|| FormError::Conflict {
            place: axes_place.clone(),
            what: "markers.up and markers.forward lie along the same line (or one of them is zero)".into(),
            hint: format!("`up` is the lab axis against gravity, `forward` {FORWARD}"),
        })?;
        let rate_hz = keys.positive("rate_hz", 1e5, "Hz")?;
        let layout = read_layout(&keys)?;
        let mut rename = BTreeMap::new();
        if let Some(k) = keys.table("rename")? {
            for from in k.names() {
                let to = k.required_text(&from, "a landmark")?;
                let name = landmarks::canonical(&to, sides)
                    .map_err(|e| e.at(k.place_of(&from), &k.path_of(&from)))?;
                rename.insert(from.clone(), (name, k.place_of(&from)));
            }
        }
        keys.finish()?;
        Ok(Self {
            file,
            file_place,
            metres_per_unit,
            length_unit,
            length_unit_place,
            axes,
            axes_place,
            rate_hz,
            layout,
            rename,
        })
    }
}

//! Units at the border. Inside everything is SI: m, kg, s, rad, N, N·m, W, J.

/// Units of length a file may be written in.
pub const LENGTH_UNITS: [&str; 6] = ["mm", "cm", "m", "um", "in", "ft"];

/// A unit of digitised pictures: no length until a scale says how many make one.
pub const PIXEL: &str = "px";

/// Metres in one of the unit; `None` for a unit that is not known.
///
/// # Source
/// International inch and foot: exact by definition (1959 agreement).
pub fn metres_per(unit: &str) -> Option<f64> {
    Some(match unit {
        "m" => 1.0,
        "cm" => 0.01,
        "mm" => 0.001,
        "um" => 1e-6,
        "in" => 0.0254,
        "ft" => 0.3048,
        _ => return None,
    })
}

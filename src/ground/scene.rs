//! Points over time in world axes: what the stages hand to each other.

use nalgebra::Vector3;
use ndarray::Array2;

/// Index of a point in a [`Scene`].
pub type PointId = usize;

/// Points over time.
///
/// # Frames and units
/// World axes (X forward, Y up, Z right), m; missing is NaN in all three coordinates.
///
/// # Shape
/// `xyz`: three rows (x, y, z) a point, one column a frame.
#[derive(Clone, Debug)]
pub struct Scene {
    /// Names, in order of [`PointId`].
    pub names: Vec<String>,
    /// Coordinates.
    pub xyz: Array2<f64>,
    /// Time of the first frame, s.
    pub start_s: f64,
    /// Sampling rate, Hz.
    pub rate_hz: f64,
}

impl Scene {
    /// A scene with every coordinate missing.
    pub fn missing(names: Vec<String>, frames: usize, start_s: f64, rate_hz: f64) -> Self {
        let xyz = Array2::from_elem((3 * names.len(), frames), f64::NAN);
        Self { names, xyz, start_s, rate_hz }
    }

    /// Adds a point.
    ///
    /// # Shape
    /// `positions` is as long as the scene.
    pub fn push(&mut self, name: String, positions: &[Vector3<f64>]) {
        self.names.push(name);
        for axis in 0..3 {
            let row: Vec<f64> = positions.iter().map(|p| p[axis]).collect();
            self.xyz.push_row(ndarray::ArrayView1::from(&row)).expect("as long as the scene");
        }
    }

    /// Number of frames.
    pub fn frames(&self) -> usize {
        self.xyz.ncols()
    }

    /// Time of a frame, s.
    pub fn time(&self, frame: usize) -> f64 {
        self.start_s + frame as f64 / self.rate_hz
    }

    /// Position of a point in a frame.
    #[inline]
    pub fn p(&self, point: PointId, frame: usize) -> Vector3<f64> {
        Vector3::new(self.xyz[(3 * point, frame)], self.xyz[(3 * point + 1, frame)], self.xyz[(3 * point + 2, frame)])
    }

    /// Sets a position.
    pub fn set(&mut self, point: PointId, frame: usize, p: Vector3<f64>) {
        for axis in 0..3 {
            self.xyz[(3 * point + axis, frame)] = p[axis];
        }
    }

    /// Whether a point is there in a frame.
    #[inline]
    pub fn has(&self, point: PointId, frame: usize) -> bool {
        !self.xyz[(3 * point, frame)].is_nan()
    }

    /// Index of a point by name.
    pub fn index(&self, name: &str) -> Option<PointId> {
        self.names.iter().position(|n| n == name)
    }
}

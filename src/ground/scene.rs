//! Points over time in world axes: what the stages hand to each other.

use super::axes::{Mirror, Vector};
use super::names::Side;
use super::pauses::Pauses;
use nalgebra::Vector3;
use ndarray::Array2;
use std::ops::Range;

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
    /// Where the recording pauses.
    pub pauses: Pauses,
}

impl Scene {
    /// A scene with every coordinate missing.
    pub fn missing(names: Vec<String>, frames: usize, start_s: f64, rate_hz: f64) -> Self {
        let xyz = Array2::from_elem((3 * names.len(), frames), f64::NAN);
        Self {
            names,
            xyz,
            start_s,
            rate_hz,
            pauses: Pauses::default(),
        }
    }

    /// Adds a point.
    ///
    /// # Shape
    /// `positions` is as long as the scene.
    pub fn push(&mut self, name: String, positions: &[Vector3<f64>]) {
        self.names.push(name);
        for axis in 0..3 {
            let row: Vec<f64> = positions.iter().map(|p| p[axis]).collect();
            self.xyz
                .push_row(ndarray::ArrayView1::from(&row))
                .expect("as long as the scene");
        }
    }

    /// Number of frames.
    pub fn frames(&self) -> usize {
        self.xyz.ncols()
    }

    /// Time of a frame, s.
    pub fn time(&self, frame: usize) -> f64 {
        self.pauses.time(self.start_s, self.rate_hz, frame)
    }

    /// Whether a frame is one of the recording, not one that stands for a pause.
    #[inline]
    pub fn is_row(&self, frame: usize) -> bool {
        self.pauses.is_row(frame)
    }

    /// Number of frames of the recording: those that stand for pauses left out.
    pub fn recorded_frames(&self) -> usize {
        self.pauses.rows_in(0..self.frames())
    }

    /// The frames from one time to another, both ends among them, s. A frame within a millionth of an
    /// interval of an end counts.
    pub fn frames_within(&self, from_s: Option<f64>, to_s: Option<f64>) -> Range<usize> {
        let slack = 1e-6 / self.rate_hz;
        let first = |is_there: &dyn Fn(f64) -> bool| {
            let (mut low, mut high) = (0, self.frames());
            while low < high {
                let middle = (low + high) / 2;
                if is_there(self.time(middle)) {
                    high = middle
                } else {
                    low = middle + 1
                }
            }
            low
        };
        let from = from_s.map_or(0, |t| first(&|at| at >= t - slack));
        let to = to_s.map_or(self.frames(), |t| first(&|at| at > t + slack));
        from..to.max(from)
    }

    /// The frame of the recording whose time is next to a time, s; `None` if none is within half an interval.
    pub fn frame_at(&self, time_s: f64) -> Option<usize> {
        let half = (0.5 + 1e-9) / self.rate_hz;
        let near = self.frames_within(Some(time_s - half), Some(time_s + half));
        near.filter(|f| self.is_row(*f)).min_by(|a, b| {
            (self.time(*a) - time_s)
                .abs()
                .total_cmp(&(self.time(*b) - time_s).abs())
        })
    }

    /// Position of a point in a frame.
    #[inline]
    pub fn p(&self, point: PointId, frame: usize) -> Vector3<f64> {
        Vector3::new(
            self.xyz[(3 * point, frame)],
            self.xyz[(3 * point + 1, frame)],
            self.xyz[(3 * point + 2, frame)],
        )
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

/// Reads a scene as if every arm were a right one.
#[derive(Clone, Copy)]
pub struct MirroredScene<'a> {
    scene: &'a Scene,
    mirror: Mirror,
}

impl<'a> MirroredScene<'a> {
    /// The scene as a side sees it.
    pub fn new(scene: &'a Scene, side: Side) -> Self {
        Self {
            scene,
            mirror: Mirror::of(side),
        }
    }

    /// Position of a point in the mirrored scene, m.
    #[inline]
    pub fn p(&self, point: PointId, frame: usize) -> Vector3<f64> {
        let in_world = Vector::from_components(self.scene.p(point, frame));
        self.mirror.polar_into(in_world).components()
    }

    /// The mirror it is seen in.
    pub fn mirror(&self) -> Mirror {
        self.mirror
    }

    /// The scene itself.
    pub fn scene(&self) -> &'a Scene {
        self.scene
    }
}

//! Markers of a cluster that vanish for a while are put back where the others and their own last deviation
//! say.

use crate::ground::bodies::register_visible;
use crate::ground::rotation::span_a_plane;
use crate::ground::runs;
use crate::ground::scene::{PointId, Scene};
use nalgebra::Vector3;
use std::ops::Range;

/// How far from a hole a frame that shows the marker's deviation is looked for, s: what skin did longer ago
/// says little, and a search without end would be one through the whole file for every hole.
const REACH_S: f64 = 2.0;
/// Fewest markers that fix a rigid body.
const FEWEST: usize = 3;

/// The scene with the holes of the cluster's markers filled (`None`: nothing to fill), and the number of
/// frames filled of each marker.
///
/// # Equation
/// Skin moves, so a marker stands off the calibrated shape: d = Rᵀ (p - t) - a, with R, t from registering
/// the markers that stay visible throughout the hole (three or more) and a its place in the shape. Over the
/// hole d goes in a straight line from its value in the last frame before to that in the first frame after; p
/// = R (a + d) + t. At an end of the recording (and where none is found within two seconds) the one known
/// value is held. Leaving the marker out instead would make the registration jump by its deviation when it
/// goes and when it comes.
///
/// Nothing is put back in frames that show fewer than three other markers, nor if no three are common to all
/// the other frames.
pub fn fill(shape: &[Vector3<f64>], ids: &[PointId], markers: &Scene) -> (Option<Scene>, Vec<usize>) {
    let mut counts = vec![0; ids.len()];
    let mut out: Option<Scene> = None;
    for (m, id) in ids.iter().enumerate() {
        // a hole ends where the recording pauses
        for hole in runs(markers.frames(), |f| markers.is_row(f) && !markers.has(*id, f)) {
            for (frame, p) in put_back(m, hole, shape, ids, markers) {
                out.get_or_insert_with(|| markers.clone()).set(*id, frame, p);
                counts[m] += 1;
            }
        }
    }
    (out, counts)
}

/// Where a marker is in the frames of one of its holes.
fn put_back(
    m: usize,
    hole: Range<usize>,
    shape: &[Vector3<f64>],
    ids: &[PointId],
    markers: &Scene,
) -> Vec<(usize, Vector3<f64>)> {
    let seen = |k: usize, f: usize| markers.has(ids[k], f);
    let frames: Vec<usize> = hole
        .clone()
        .filter(|f| (0..ids.len()).filter(|k| seen(*k, *f)).count() >= FEWEST)
        .collect();
    let rest: Vec<usize> = (0..ids.len())
        .filter(|k| *k != m && frames.iter().all(|f| seen(*k, *f)))
        .collect();
    let rest_shape: Vec<Vector3<f64>> = rest.iter().map(|k| shape[*k]).collect();
    let rest_ids: Vec<PointId> = rest.iter().map(|k| ids[*k]).collect();
    if frames.is_empty() || !span_a_plane(&rest_shape) {
        return Vec::new();
    }
    let alike = vec![1.0; rest.len()];
    let fit = |f: usize| register_visible(&rest_shape, &rest_ids, markers, f, &alike);
    let whole = |f: &usize| seen(m, *f) && rest.iter().all(|k| seen(*k, *f));
    let deviation = |f: usize| {
        Some((f as f64, {
            let r = fit(f)?;
            r.r.transpose() * (markers.p(ids[m], f) - r.t) - shape[m]
        }))
    };
    let reach = (REACH_S * markers.rate_hz).ceil() as usize;
    let within = |f: &usize| markers.is_row(*f);
    let before = (hole.start.saturating_sub(reach)..hole.start)
        .rev()
        .take_while(within)
        .find(whole)
        .and_then(deviation);
    let after = (hole.end..(hole.end + reach).min(markers.frames()))
        .take_while(within)
        .find(whole)
        .and_then(deviation);
    let between = |f: f64| match (before, after) {
        (Some((t0, d0)), Some((t1, d1))) => Some(d0 + (d1 - d0) * ((f - t0) / (t1 - t0))),
        (known, None) | (None, known) => known.map(|k| k.1),
    };
    frames
        .into_iter()
        .filter_map(|f| Some((f, fit(f)?.apply(shape[m] + between(f as f64)?))))
        .collect()
}

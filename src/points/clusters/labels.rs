//! Markers of a cluster whose names are exchanged: with the right names the registration is as good as
//! elsewhere.
//!
//! Nothing is corrected: a warning names the two.

use super::{CalibratedCluster, POOR_RESIDUAL};
use crate::ground::rotation::register;
use crate::ground::runs;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::{Stretch, Warning};
use rayon::prelude::*;

/// A residual this many times the median of the trial is looked at, m: not below the first, always above the
/// second bound.
const LOOKED_AT: (f64, f64, f64) = (6.0, 0.0015, POOR_RESIDUAL);
/// With the right names at most this part of the residual is left ...
const LEFT: f64 = 0.35;
/// ... and at most this many times the median of the trial, which counts as at least, and at most, so much,
/// m.
const USUAL: (f64, f64, f64) = (3.0, 0.0005, POOR_RESIDUAL);
/// Any other two names exchanged have to leave so many times as much, and so much more, m: in a nearly
/// symmetric cluster two exchanges look alike, and naming one would be a guess.
const OTHERS_LEAVE: (f64, f64) = (2.5, 0.002);
/// Part of the registered frames from which on it is all of them.
const THROUGHOUT: f64 = 0.99;

/// Two markers of a cluster with each other's names.
pub struct Exchange {
    pair: (String, String),
    stretches: Vec<std::ops::Range<usize>>,
    throughout: bool,
    /// RMS residual in these frames as named, and with the names exchanged, m.
    residual_m: (f64, f64),
}

impl Exchange {
    /// Whether it holds in a frame.
    pub fn holds(&self, frame: usize) -> bool {
        let next = self.stretches.partition_point(|s| s.end <= frame);
        self.stretches.get(next).is_some_and(|s| s.contains(&frame))
    }

    /// In words.
    pub fn warning(&self, cluster: &str, scene: &Scene) -> Warning {
        Warning::ClusterLabelsExchanged {
            cluster: cluster.to_owned(),
            a: self.pair.0.clone(),
            b: self.pair.1.clone(),
            throughout: self.throughout,
            stretches: self.stretches.iter().map(|s| Stretch::of(scene, s)).collect(),
            residual_mm: self.residual_m.0 * 1e3,
            exchanged_mm: self.residual_m.1 * 1e3,
        }
    }
}

/// Looks at every frame with a poor registration: does exchanging two names, and only these two, bring it
/// down to what is usual?
pub fn exchanged(
    cluster: &CalibratedCluster,
    residual_m: &[f64],
    ids: &[PointId],
    markers: &Scene,
) -> Vec<Exchange> {
    let mut known: Vec<f64> = residual_m.iter().copied().filter(|r| r.is_finite()).collect();
    if known.is_empty() {
        return Vec::new();
    }
    let middle = known.len() / 2;
    let median = *known.select_nth_unstable_by(middle, f64::total_cmp).1;
    let looked_at = (LOOKED_AT.0 * median).clamp(LOOKED_AT.1, LOOKED_AT.2);
    let usual = USUAL.0 * median.clamp(USUAL.1, USUAL.2);
    let found: Vec<Option<Found>> = (0..residual_m.len())
        .into_par_iter()
        .map(|f| {
            if residual_m[f] > looked_at {
                best_exchange(cluster, ids, markers, f, usual)
            } else {
                None
            }
        })
        .collect();
    let mut pairs: Vec<(usize, usize)> = found.iter().flatten().map(|x| x.pair).collect();
    pairs.sort_unstable();
    pairs.dedup();
    let of_pair = |pair: (usize, usize)| {
        let here = |f: usize| found[f].as_ref().filter(|x| x.pair == pair);
        let frames = || (0..found.len()).filter_map(here);
        let count = frames().count();
        let rms =
            |of: fn(&Found) -> f64| (frames().map(|x| of(x).powi(2)).sum::<f64>() / count as f64).sqrt();
        // a frame without registration does not end a stretch
        let mut stretches = runs(found.len(), |f| here(f).is_some() || residual_m[f].is_nan());
        stretches.retain_mut(|s| {
            let inside = |f: &usize| here(*f).is_some();
            let (Some(first), Some(last)) = (s.clone().find(inside), s.clone().rev().find(inside)) else {
                return false;
            };
            *s = first..last + 1;
            true
        });
        Exchange {
            pair: (cluster.markers[pair.0].clone(), cluster.markers[pair.1].clone()),
            throughout: count as f64 >= THROUGHOUT * known.len() as f64,
            stretches,
            residual_m: (rms(|x| x.as_named), rms(|x| x.exchanged)),
        }
    };
    pairs.into_iter().map(of_pair).collect()
}

/// The exchange that explains one frame.
struct Found {
    pair: (usize, usize),
    as_named: f64,
    exchanged: f64,
}

fn best_exchange(
    cluster: &CalibratedCluster,
    ids: &[PointId],
    markers: &Scene,
    frame: usize,
    usual: f64,
) -> Option<Found> {
    let visible: Vec<usize> = (0..ids.len()).filter(|k| markers.has(ids[*k], frame)).collect();
    let shape: Vec<_> = visible.iter().map(|k| cluster.shape[*k]).collect();
    let mut seen: Vec<_> = visible.iter().map(|k| markers.p(ids[*k], frame)).collect();
    let as_named = register(&shape, &seen)?.residual;
    let mut tried: Vec<(f64, (usize, usize))> = Vec::new();
    for i in 0..visible.len() {
        for j in i + 1..visible.len() {
            seen.swap(i, j);
            tried.push((register(&shape, &seen)?.residual, (visible[i], visible[j])));
            seen.swap(i, j);
        }
    }
    tried.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (exchanged, pair) = *tried.first()?;
    let next = tried.get(1).map_or(f64::INFINITY, |t| t.0);
    let clear = next > (OTHERS_LEAVE.0 * exchanged).max(exchanged + OTHERS_LEAVE.1);
    (exchanged < LEFT * as_named && exchanged <= usual && clear).then_some(Found {
        pair,
        as_named,
        exchanged,
    })
}

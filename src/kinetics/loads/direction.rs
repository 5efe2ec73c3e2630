//! Does a recorded force point where the load that it looks like would pull? A suggestion, never applied.

use nalgebra::{Matrix3, Vector3};

/// Least share of the force's variance that a moving mass has to explain once the force is turned.
const CLEAR_FIT: f64 = 0.9;
/// Most that is explained as stated, for the force to be called turned.
const POOR_FIT: f64 = 0.5;
/// Least standard deviation of the acceleration for anything to be seen, m/s².
const LEAST_MOTION_M_S2: f64 = 0.3;
/// Fewest frames looked at.
const FEWEST: usize = 50;
/// Masses that a hand can hold, kg.
const MASSES_KG: (f64, f64) = (0.2, 200.0);

/// How a force would fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Turned {
    /// What would have to be done, as the end of "would fit ...".
    pub words: String,
    /// Mass that the force looks like then, kg.
    pub mass_kg: f64,
    /// Share of the force's variance explained then.
    pub fit: f64,
    /// And as stated.
    pub fit_as_stated: f64,
}

/// Share of a force's variance that is left unexplained by the best mass that is not negative; and that mass.
///
/// # Equation
/// F = m (g - a), by least squares over m >= 0; left = sum |F - m (g - a)|² / sum |F - mean F|².
fn left(force: &[Vector3<f64>], weight: &[Vector3<f64>], turn: &Matrix3<f64>) -> (f64, f64) {
    let turned = || weight.iter().map(|w| turn * w);
    let mass = (force.iter().zip(turned()).map(|(f, w)| f.dot(&w)).sum::<f64>()
        / weight.iter().map(Vector3::norm_squared).sum::<f64>())
    .max(0.0);
    let mean = force.iter().sum::<Vector3<f64>>() / force.len() as f64;
    let all: f64 = force.iter().map(|f| (f - mean).norm_squared()).sum();
    (
        force
            .iter()
            .zip(turned())
            .map(|(f, w)| (f - w * mass).norm_squared())
            .sum::<f64>()
            / all,
        mass,
    )
}

/// The 48 ways to exchange axes and turn their signs.
fn exchanges() -> impl Iterator<Item = Matrix3<f64>> {
    const ORDERS: [[usize; 3]; 6] = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];
    ORDERS.into_iter().flat_map(|order| {
        (0..8_u8).map(move |signs| {
            let mut m = Matrix3::zeros();
            for (row, column) in order.into_iter().enumerate() {
                m[(row, column)] = if signs >> row & 1 == 0 { 1.0 } else { -1.0 };
            }
            m
        })
    })
}

/// Looks for axes in which a force is that of a mass moving with the hand, where it is not as stated.
///
/// A cable, a band, a hand that leans on something: none of these is a moving mass in any axes, so nothing is
/// said of them.
///
/// # Shape
/// `force` and `weight` (g - a of the grip) in world axes; `other`: the same numbers read in the other axes a
/// sheet can name, and how to say that.
pub fn better_turned(
    force: &[Vector3<f64>],
    (other, axes): (&[Vector3<f64>], &str),
    weight: &[Vector3<f64>],
) -> Option<Turned> {
    let known: Vec<usize> = (0..weight.len())
        .filter(|i| weight[*i].sum().is_finite() && force[*i].sum().is_finite())
        .collect();
    if known.len() < FEWEST {
        return None;
    }
    let pick = |series: &[Vector3<f64>]| {
        known
            .iter()
            .filter_map(|i| series.get(*i).copied())
            .collect::<Vec<_>>()
    };
    let (force, other, weight) = (pick(force), pick(other), pick(weight));
    let mean = weight.iter().sum::<Vector3<f64>>() / weight.len() as f64;
    let moves = (weight.iter().map(|w| (w - mean).norm_squared()).sum::<f64>() / weight.len() as f64).sqrt();
    if moves < LEAST_MOTION_M_S2 {
        return None;
    }
    let (stated, _) = left(&force, &weight, &Matrix3::identity());
    if stated.is_nan() || stated < 1.0 - POOR_FIT {
        return None;
    }
    let reversed = -Matrix3::identity();
    let mut tried: Vec<(f64, f64, String)> = exchanges()
        .map(|m| {
            let words = if m == reversed {
                "with its sign turned"
            } else {
                "with axes exchanged or signs of single axes turned"
            };
            let (left, mass) = left(&force, &weight, &m);
            (left, mass, words.to_owned())
        })
        .collect();
    if other.len() == weight.len() {
        for (m, sign) in [(Matrix3::identity(), ""), (reversed, ", with its sign turned")] {
            let (left, mass) = left(&other, &weight, &m);
            tried.push((left, mass, format!("{axes}{sign}")));
        }
    }
    let (left, mass_kg, words) = tried
        .into_iter()
        .filter(|t| t.0.is_finite())
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    let clear = left <= 1.0 - CLEAR_FIT && (MASSES_KG.0..=MASSES_KG.1).contains(&mass_kg);
    clear.then_some(Turned {
        words,
        mass_kg,
        fit: 1.0 - left,
        fit_as_stated: 1.0 - stated,
    })
}

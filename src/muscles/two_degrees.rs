//! Muscles that balance two moments at once: flexion and pronation.
//!
//! With two moments a muscle may have to pull against one of them: the biceps flexes and turns the palm up, and what it
//! turns too much a pronator takes back. So all muscles take part, whatever their side.

use super::sharing::Sharing;

/// A moment's two parts, or a muscle's two arms: about flexion, about pronation.
pub type Two = [f64; 2];

fn dot(a: Two, b: Two) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn cross(a: Two, b: Two) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

/// Left over of the target that counts as none, part of it.
const BALANCED: f64 = 1e-9;

/// Forces that balance two moments, N; `None` where these muscles can't, whatever their forces. Equal stress is no rule
/// here: one stress does not meet two moments.
///
/// # Equation
/// Least sum of (F/A)^p with sum r F = M, F >= 0. Where F > 0 the derivative of the Lagrangian is zero: F_i = A_i (A_i r_i
/// · λ)^k, k = 1 / (p - 1); where r_i · λ <= 0 the muscle rests. h(λ) = sum r_i F_i is the gradient of a convex function
/// that is homogeneous: only λ's direction decides h's direction, which turns with it one way. So the direction is found by
/// halving within 90° of M's, and the forces scale.
///
/// Least largest stress s: by linear programming duality s is the largest λ · M over all λ with sum A_i (r_i · λ)+ = 1; in
/// the plane it is reached where λ is square to one muscle's arms. Muscles with r · λ > 0 have stress s, those below rest,
/// those square to it give what is left, with the same stress.
///
/// # Source
/// Criteria: Crowninshield RD & Brand RA (1981) J Biomech 14:793-801. Solution derived here; checked against a
/// general-purpose optimiser (fixtures/scipy).
pub fn forces(rule: Sharing, moment: Two, arms: &[Two], areas: &[f64]) -> Option<Vec<f64>> {
    if moment == [0.0, 0.0] {
        return Some(vec![0.0; arms.len()]);
    }
    let found = match rule {
        Sharing::Power(_) => least_sum(rule.exponent(), moment, arms, areas),
        Sharing::LeastStress => least_stress(moment, arms, areas),
        Sharing::EqualStress => None,
    }?;
    let given = sum(arms, &found);
    let off = (given[0] - moment[0]).hypot(given[1] - moment[1]);
    (off <= BALANCED * moment[0].hypot(moment[1])).then_some(found)
}

/// Whether a rule can balance two moments.
pub fn can(rule: Sharing) -> bool {
    rule != Sharing::EqualStress
}

fn sum(arms: &[Two], forces: &[f64]) -> Two {
    arms.iter()
        .zip(forces)
        .fold([0.0, 0.0], |s, (r, f)| [s[0] + r[0] * f, s[1] + r[1] * f])
}

/// A direction of λ: an angle, and a step from it that may be far smaller than the angle can tell.
#[derive(Clone, Copy)]
struct Direction {
    angle: f64,
    step: f64,
}

/// Angles nearer to each other than this are one.
const ONE_ANGLE: f64 = 1e-12;

impl Direction {
    /// Cosine of the angle to a muscle's arms; close to square by the sine of the step alone.
    fn cosine(self, to: f64) -> f64 {
        let (sin, cos) = (self.angle - to).sin_cos();
        if cos.abs() < ONE_ANGLE {
            -self.step.sin() * sin.signum()
        } else {
            (self.angle + self.step - to).cos()
        }
    }
}

/// Muscles in polar form: size of the arms (1 is the largest), their angle, cross-section.
struct Polar(Vec<[f64; 3]>);

impl Polar {
    fn of(arms: &[Two], areas: &[f64]) -> Option<Self> {
        let largest = arms.iter().map(|r| r[0].hypot(r[1])).fold(0.0, f64::max);
        let one = |(r, a): (&Two, &f64)| [r[0].hypot(r[1]) / largest, r[1].atan2(r[0]), *a];
        (largest > 0.0).then(|| Self(arms.iter().zip(areas).map(one).collect()))
    }

    /// Forces that a direction of λ asks for.
    fn forces(&self, k: f64, lambda: Direction) -> Vec<f64> {
        let of = |[size, angle, area]: &[f64; 3]| {
            let x = area * size * lambda.cosine(*angle);
            if x > 0.0 { area * x.powf(k) } else { 0.0 }
        };
        self.0.iter().map(of).collect()
    }
}

/// The direction in which the sum of moments goes the way of the moment asked for, between two of them.
///
/// # Equation
/// Halving of the logarithm of the step from an end: forces go with a small power of it.
fn between(left: f64, right: f64, side: &impl Fn(Direction) -> f64) -> Direction {
    let half = 0.5 * (right - left);
    let turned_too_far = |d: Direction| side(d) > 0.0;
    let (angle, way) = if turned_too_far(Direction {
        angle: left,
        step: half,
    }) {
        (left, 1.0)
    } else {
        (right, -1.0)
    };
    // smaller steps than these are none
    let (mut low, mut high) = (-300.0 * std::f64::consts::LN_10, half.ln());
    let at = |x: f64| Direction {
        angle,
        step: way * x.exp(),
    };
    for _ in 0..64 {
        let middle = 0.5 * (low + high);
        if turned_too_far(at(middle)) == (way > 0.0) {
            high = middle
        } else {
            low = middle
        }
    }
    at(0.5 * (low + high))
}

fn least_sum(k: f64, moment: Two, arms: &[Two], areas: &[f64]) -> Option<Vec<f64>> {
    let muscles = Polar::of(arms, areas)?;
    let side = |d: Direction| cross(moment, sum(arms, &muscles.forces(k, d)));
    let towards = moment[1].atan2(moment[0]);
    let quarter = std::f64::consts::FRAC_PI_2;
    // where a muscle begins or ceases to pull, from 90° before to 90° after the moment
    let mut corners: Vec<f64> = muscles
        .0
        .iter()
        .flat_map(|m| [m[1] - quarter, m[1] + quarter])
        .map(|c| towards + (c - towards + 5.0 * quarter).rem_euclid(4.0 * quarter) - quarter)
        .filter(|c| *c < towards + quarter)
        .chain([towards - quarter, towards + quarter])
        .collect();
    corners.sort_by(f64::total_cmp);
    corners.dedup_by(|b, a| *b - *a < ONE_ANGLE);
    let exact = |angle: f64| Direction { angle, step: 0.0 };
    let after = corners
        .iter()
        .position(|c| side(exact(*c)) > 0.0)
        .unwrap_or(corners.len() - 1);
    let inside = (after > 0).then(|| between(corners[after - 1], corners[after], &side));
    // at the edge of what the muscles can do a corner itself is the direction
    let tried = inside
        .into_iter()
        .chain([after, after.saturating_sub(1)].map(|i| exact(corners[i])));
    tried.into_iter().find_map(|d| {
        let mut found = muscles.forces(k, d);
        let size = dot(sum(arms, &found), moment) / dot(moment, moment);
        if size.is_nan() || size <= 0.0 {
            return None;
        }
        found.iter_mut().for_each(|f| *f /= size);
        close(&mut found, moment, arms)
    })
}

/// Takes up what rounding left over, by those that pull.
///
/// # Equation
/// The smallest change in proportion: dF = W r' (r W r')⁻¹ (M - r F), W the forces on the diagonal.
fn close(forces: &mut [f64], moment: Two, arms: &[Two]) -> Option<Vec<f64>> {
    let given = sum(arms, forces);
    let left = [moment[0] - given[0], moment[1] - given[1]];
    let (mut a, mut b, mut c) = (0.0, 0.0, 0.0);
    for (r, f) in arms.iter().zip(forces.iter()) {
        a += f * r[0] * r[0];
        b += f * r[0] * r[1];
        c += f * r[1] * r[1];
    }
    let determinant = a * c - b * b;
    if determinant > 1e-12 * a * c {
        let by = [
            (c * left[0] - b * left[1]) / determinant,
            (a * left[1] - b * left[0]) / determinant,
        ];
        for (r, f) in arms.iter().zip(forces.iter_mut()) {
            *f = (*f + *f * dot(*r, by)).max(0.0);
        }
    }
    let given = sum(arms, forces);
    let off = (given[0] - moment[0]).hypot(given[1] - moment[1]);
    (off <= BALANCED * moment[0].hypot(moment[1])).then(|| forces.to_vec())
}

fn least_stress(moment: Two, arms: &[Two], areas: &[f64]) -> Option<Vec<f64>> {
    const SQUARE: f64 = 1e-12;
    let candidates = arms.iter().flat_map(|r| {
        let size = r[0].hypot(r[1]);
        [[-r[1] / size, r[0] / size], [r[1] / size, -r[0] / size]]
    });
    // arms that all lie on one line leave λ's other part open
    let candidates = candidates.chain([moment]);
    let mut best: Option<(f64, Two)> = None;
    for lambda in candidates.filter(|l| l[0].is_finite()) {
        let all: f64 = arms
            .iter()
            .zip(areas)
            .map(|(r, a)| {
                let x = dot(*r, lambda);
                if x > SQUARE * r[0].hypot(r[1]) { a * x } else { 0.0 }
            })
            .sum();
        let wanted = dot(lambda, moment);
        if all <= 0.0 {
            // nothing pulls that way, and something is asked for: out of reach
            if wanted > BALANCED * moment[0].hypot(moment[1]) {
                return None;
            }
            continue;
        }
        if best.is_none_or(|(s, _)| wanted / all > s * (1.0 + SQUARE)) {
            best = Some((wanted / all, lambda));
        }
    }
    let (stress, lambda) = best.filter(|b| b.0 > 0.0)?;
    let is_square = |r: &Two| dot(*r, lambda).abs() <= SQUARE * r[0].hypot(r[1]);
    let mut out: Vec<f64> = arms
        .iter()
        .zip(areas)
        .map(|(r, a)| {
            if !is_square(r) && dot(*r, lambda) > 0.0 {
                stress * a
            } else {
                0.0
            }
        })
        .collect();
    let given = sum(arms, &out);
    let left = [moment[0] - given[0], moment[1] - given[1]];
    let helps = |r: &Two| is_square(r) && dot(*r, left) > 0.0;
    let reach: f64 = arms
        .iter()
        .zip(areas)
        .filter(|(r, _)| helps(r))
        .map(|(r, a)| a * r[0].hypot(r[1]))
        .sum();
    if reach > 0.0 {
        let part = left[0].hypot(left[1]) / reach;
        for ((r, a), f) in arms
            .iter()
            .zip(areas)
            .zip(out.iter_mut())
            .filter(|((r, _), _)| helps(r))
        {
            let _ = r;
            *f = part * a;
        }
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn oracle_two_muscles_have_one_answer() {
        // arms (4, -1) and (2, 1) cm, M = (10, 2) N·m: F = solve by Cramer, 6 · F1 = 100 (10 - 4), 6 · F2 = 100 (8 + 10)
        let (arms, areas) = ([[0.04, -0.01], [0.02, 0.01]], [4.6, 7.0]);
        for rule in [Sharing::Power(2.0), Sharing::Power(3.0), Sharing::LeastStress] {
            let f = forces(rule, [10.0, 2.0], &arms, &areas).unwrap();
            assert!(
                (f[0] - 100.0).abs() < 1e-7 && (f[1] - 300.0).abs() < 1e-7,
                "{rule:?} {f:?}"
            );
        }
        // out of reach: the second would have to push
        assert!(forces(Sharing::Power(3.0), [10.0, -20.0], &arms, &areas).is_none());
        assert!(forces(Sharing::LeastStress, [10.0, -20.0], &arms, &areas).is_none());
        assert!(forces(Sharing::EqualStress, [10.0, 2.0], &arms, &areas).is_none());
    }

    #[test]
    fn cross_without_pronation_it_is_one_degree() {
        let (arms, areas) = (
            [[0.047, 0.0], [0.021, 0.0], [0.072, 0.0], [-0.02, 0.0]],
            [4.6, 7.0, 1.5, 14.9],
        );
        for rule in [Sharing::Power(2.0), Sharing::Power(3.0), Sharing::LeastStress] {
            let two = forces(rule, [30.0, 0.0], &arms, &areas).unwrap();
            let one = rule.forces(30.0, &[0.047, 0.021, 0.072, -0.02], &areas);
            for (a, b) in two.iter().zip(&one) {
                assert!((a - b).abs() < 1e-7, "{rule:?} {two:?} {one:?}");
            }
        }
    }

    #[test]
    fn property_large_powers_go_to_the_least_stress() {
        let arms = [
            [0.047, -0.012],
            [0.027, 0.0],
            [0.054, 0.004],
            [0.012, 0.009],
            [0.022, 0.002],
        ];
        let areas = [4.6, 7.0, 1.5, 3.4, 2.4];
        let stress = |rule| -> f64 {
            let f = forces(rule, [30.0, 1.0], &arms, &areas).unwrap();
            f.iter().zip(areas).map(|(f, a)| f / a).fold(0.0, f64::max)
        };
        let least = stress(Sharing::LeastStress);
        let mut before = f64::INFINITY;
        for p in [2.0, 3.0, 10.0, 100.0] {
            let s = stress(Sharing::Power(p));
            assert!(s < before && s > least - 1e-9, "{p} {s} {least}");
            before = s;
        }
        assert!(before / least < 1.02, "{before} {least}");
    }
}

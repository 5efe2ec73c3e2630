//! How several muscles on one side of the elbow share a net moment.

use super::curves::plain_name;

/// Rule by which muscles share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sharing {
    /// The smallest sum of (force / cross-section) to this power, above 1.
    Power(f64),
    /// The same stress in all: each gives a part of the moment in proportion to moment arm times
    /// cross-section.
    EqualStress,
    /// The largest stress of any muscle as small as it can be.
    LeastStress,
}

impl Default for Sharing {
    /// p = 3 (Crowninshield & Brand 1981).
    fn default() -> Self {
        Sharing::Power(3.0)
    }
}

/// What a sheet may write.
pub const RULES: &str = "\"p = 3\" (or another power above 1), \"equal stress\", or \"least stress\"";
/// Largest power that is told from equal stress.
const MOST_POWER: f64 = 100.0;

impl Sharing {
    /// A rule as a sheet writes it: `"p = 3"`, `"equal stress"`, `"least stress"`.
    pub fn parse(text: &str) -> Option<Self> {
        let plain = plain_name(text);
        match plain.as_str() {
            "equal stress" => return Some(Sharing::EqualStress),
            "least stress" => return Some(Sharing::LeastStress),
            _ => {}
        }
        let power = plain
            .trim_start_matches('p')
            .trim_start()
            .trim_start_matches('=')
            .trim();
        let power = power.parse::<f64>().ok()?;
        (power > 1.0 && power <= MOST_POWER).then_some(Sharing::Power(power))
    }

    /// As a sheet writes it.
    pub fn name(self) -> String {
        match self {
            Sharing::Power(p) => format!("p = {p}"),
            Sharing::EqualStress => "equal stress".into(),
            Sharing::LeastStress => "least stress".into(),
        }
    }

    /// The power that stress goes with: stress of each in proportion to (moment arm times cross-section) to it.
    pub fn exponent(self) -> f64 {
        match self {
            Sharing::Power(p) => 1.0 / (p - 1.0),
            Sharing::EqualStress | Sharing::LeastStress => 0.0,
        }
    }

    /// Forces of muscles on one side that together give a moment, in the units of moment over arm; arms and moment
    /// above zero.
    ///
    /// # Equation
    /// Least sum of (F/A)^p with sum r F = M: dL/dF = 0 gives F/A proportional to (r A)^(1/(p-1)), so F_i = M
    /// A_i (r_i A_i)^k / sum r_j A_j (r_j A_j)^k with k = 1/(p - 1); k = 0 is equal stress, the limit of a
    /// large p. Least largest stress: with one moment to give, a muscle below the largest stress could take some from
    /// the others, so all have the same: equal stress again. Muscles of the other side stay at 0: by pulling they
    /// would add to what these have to give, which costs more by every rule.
    ///
    /// # Source
    /// Crowninshield RD & Brand RA (1981) J Biomech 14:793-801 (p = 3); the closed form is derived here.
    pub fn forces(self, moment: f64, arms: &[f64], areas: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; arms.len()];
        self.share(moment, arms, areas, &mut out);
        out
    }

    /// [`Self::forces`] into a slice: muscles whose arm has the sign of the moment share it, the others get 0.
    /// `false` if none has.
    pub fn share(self, moment: f64, arms: &[f64], areas: &[f64], out: &mut [f64]) -> bool {
        let (k, side) = (self.exponent(), moment.signum());
        let mut total = 0.0;
        for ((r, a), f) in arms.iter().zip(areas).zip(out.iter_mut()) {
            let product = side * r * a;
            *f = if product > 0.0 {
                a * raised(product, k)
            } else {
                0.0
            };
            total += side * r * *f;
        }
        if moment == 0.0 {
            out.fill(0.0);
            return true;
        }
        if total.is_nan() || total <= 0.0 {
            return false;
        }
        let scale = moment.abs() / total;
        out.iter_mut().for_each(|f| *f *= scale);
        true
    }

    /// For people.
    pub fn words(self) -> String {
        match self {
            Sharing::EqualStress => {
                "Several muscles share with the same stress in each: the part of the moment that one gives goes with its moment arm times its cross-section.".into()
            }
            Sharing::LeastStress => "Several muscles share so that the largest stress in any of them is as small as it can be: with one moment to give all have the same.".into(),
            Sharing::Power(p) => format!("Several muscles share so that the sum of (force / cross-section) to the power {p} is the smallest."),
        }
    }
}

/// x to a power, by a root where that is exact and quick.
fn raised(x: f64, k: f64) -> f64 {
    if k == 0.5 {
        x.sqrt()
    } else if k == 1.0 {
        x
    } else if k == 0.0 {
        1.0
    } else {
        x.powf(k)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn oracle_shares_by_hand() {
        // r A = 8, 6: equal stress 14 N·cm / 14 = 1 N/cm²; p = 2: F = A (r A) M / sum (r A)²
        let (arms, areas) = ([4.0, 1.5], [2.0, 4.0]);
        assert_eq!(Sharing::EqualStress.forces(14.0, &arms, &areas), [2.0, 4.0]);
        assert_eq!(Sharing::LeastStress.forces(14.0, &arms, &areas), [2.0, 4.0]);
        let f = Sharing::Power(2.0).forces(100.0, &arms, &areas);
        assert!(
            (f[0] - 16.0).abs() < 1e-12 && (f[1] - 24.0).abs() < 1e-12,
            "{f:?}"
        );
        let far = Sharing::Power(1e9).forces(14.0, &arms, &areas);
        assert!((far[0] - 2.0).abs() < 1e-6);
        // p = 3 by hand: F = M A sqrt(rA) / sum rA sqrt(rA), with 2 √8 and 4 √6
        let f = Sharing::Power(3.0).forces(14.0, &arms, &areas);
        let sum = 8.0 * 8_f64.sqrt() + 6.0 * 6_f64.sqrt();
        assert!((f[0] - 14.0 * 2.0 * 8_f64.sqrt() / sum).abs() < 1e-12, "{f:?}");
    }

    #[test]
    fn oracle_limits() {
        for rule in [
            Sharing::Power(2.0),
            Sharing::Power(3.0),
            Sharing::EqualStress,
            Sharing::LeastStress,
        ] {
            // one muscle bears all; equal arms and cross-sections, equal forces
            assert_eq!(rule.forces(12.0, &[3.0], &[5.0]), [4.0]);
            let f = rule.forces(12.0, &[2.0, 2.0, 2.0], &[5.0, 5.0, 5.0]);
            assert!(f.iter().all(|f| (f - 2.0).abs() < 1e-12), "{f:?}");
            // the other side rests, whichever side is at work
            let mut f = [0.0; 3];
            assert!(rule.share(-10.0, &[4.0, -2.0, 3.0], &[1.0, 1.0, 1.0], &mut f));
            assert_eq!(f, [0.0, 5.0, 0.0]);
            assert!(!rule.share(10.0, &[-2.0], &[1.0], &mut [0.0]));
        }
    }

    #[test]
    fn property_rules_are_read_as_people_write_them() {
        for (text, rule) in [
            ("p = 3", Some(Sharing::Power(3.0))),
            ("p=2", Some(Sharing::Power(2.0))),
            ("2.5", Some(Sharing::Power(2.5))),
            ("Equal-Stress", Some(Sharing::EqualStress)),
            ("least stress", Some(Sharing::LeastStress)),
            ("p = 1", None),
            ("p = 101", None),
            ("fair", None),
        ] {
            assert_eq!(Sharing::parse(text), rule, "{text}");
        }
        assert_eq!(
            Sharing::parse(&Sharing::default().name()),
            Some(Sharing::Power(3.0))
        );
    }

    #[test]
    fn property_a_share_is_the_smallest_sum() {
        let (arms, areas) = ([4.7, 2.1, 7.2], [4.6, 7.0, 1.5]);
        for p in [2.0, 3.0] {
            let f = Sharing::Power(p).forces(1000.0, &arms, &areas);
            let cost = |f: &[f64]| f.iter().zip(areas).map(|(f, a)| (f / a).powf(p)).sum::<f64>();
            assert!((f.iter().zip(arms).map(|(f, r)| f * r).sum::<f64>() - 1000.0).abs() < 1e-9);
            // a little more in one and less in another, the moment kept, costs more
            for (i, j) in [(0, 1), (1, 2), (2, 0)] {
                for way in [-1.0, 1.0] {
                    let mut g = f.clone();
                    g[i] += way / arms[i];
                    g[j] -= way / arms[j];
                    assert!(cost(&g) > cost(&f));
                }
            }
        }
    }
}

//! How several muscles on one side of the elbow share a net moment.

/// A physiological cross-section.
#[derive(Clone, Copy, Debug)]
pub struct CrossSection {
    /// As a sheet names the muscle.
    pub name: &'static str,
    /// cm²
    pub area_cm2: f64,
    /// Where it is from, and how sure that is.
    pub source: &'static str,
}

/// Cross-sections of the muscles that a sheet can name.
pub static CROSS_SECTIONS: [CrossSection; 4] = [
    CrossSection {
        name: "biceps",
        area_cm2: 4.6,
        source: "long head 2.5 and short head 2.1, An et al. (1981) J Biomech 14:659-669, from memory",
    },
    CrossSection {
        name: "brachialis",
        area_cm2: 7.0,
        source: "An et al. (1981) J Biomech 14:659-669, from memory",
    },
    CrossSection {
        name: "brachioradialis",
        area_cm2: 1.5,
        source: "An et al. (1981) J Biomech 14:659-669, from memory",
    },
    CrossSection {
        name: "triceps",
        area_cm2: 14.9,
        source: "all heads, Murray, Buchanan & Delp (2000) J Biomech 33:943-952, abstract",
    },
];

/// The cross-section of a muscle by its name.
pub fn cross_section(name: &str) -> Option<&'static CrossSection> {
    CROSS_SECTIONS.iter().find(|c| c.name == name)
}

/// Rule by which muscles share.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Sharing {
    /// The same stress in all: each gives a part of the moment in proportion to moment arm times
    /// cross-section.
    #[default]
    EqualStress,
    /// The smallest sum of (force / cross-section) to this power, above 1.
    Power(f64),
}

impl Sharing {
    /// Forces of muscles that together give a moment, in the units of moment over arm.
    ///
    /// # Equation
    /// Least sum of (F/A)^p with sum r F = M: dL/dF = 0 gives F/A proportional to (r A)^(1/(p-1)), so F_i = M
    /// A_i (r_i A_i)^k / sum r_j A_j (r_j A_j)^k with k = 1/(p - 1); k = 0 is equal stress, the limit of a
    /// large p.
    ///
    /// # Source
    /// Crowninshield RD & Brand RA (1981) J Biomech 14:793-801 (p = 3); equal stress is its limit.
    pub fn forces(self, moment: f64, arms: &[f64], areas: &[f64]) -> Vec<f64> {
        let k = match self {
            Sharing::EqualStress => 0.0,
            Sharing::Power(p) => 1.0 / (p - 1.0),
        };
        let stress: Vec<f64> = arms.iter().zip(areas).map(|(r, a)| (r * a).powf(k)).collect();
        let total: f64 = arms
            .iter()
            .zip(areas)
            .zip(&stress)
            .map(|((r, a), s)| r * a * s)
            .sum();
        areas
            .iter()
            .zip(&stress)
            .map(|(a, s)| moment * a * s / total)
            .collect()
    }

    /// For people.
    pub fn words(self) -> String {
        match self {
            Sharing::EqualStress => {
                "Several muscles share with the same stress in each: the part of the moment that one gives goes with its moment arm times its cross-section.".into()
            }
            Sharing::Power(p) => format!("Several muscles share so that the sum of (force / cross-section) to the power {p} is the smallest."),
        }
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
        let f = Sharing::Power(2.0).forces(100.0, &arms, &areas);
        assert!(
            (f[0] - 16.0).abs() < 1e-12 && (f[1] - 24.0).abs() < 1e-12,
            "{f:?}"
        );
        let far = Sharing::Power(1e9).forces(14.0, &arms, &areas);
        assert!((far[0] - 2.0).abs() < 1e-6);
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

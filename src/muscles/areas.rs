//! Physiological cross-sections, and what muscle can bear a square centimetre.

use super::curves::plain_name;

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

const FROM_MEMORY: &str = "An et al. (1981) J Biomech 14:659-669, from memory";

/// Cross-sections of the muscles that a sheet can name.
pub static CROSS_SECTIONS: [CrossSection; 7] = [
    CrossSection {
        name: "biceps",
        area_cm2: 4.6,
        source: "long head 2.5 and short head 2.1, An et al. (1981) J Biomech 14:659-669, from memory",
    },
    CrossSection {
        name: "brachialis",
        area_cm2: 7.0,
        source: FROM_MEMORY,
    },
    CrossSection {
        name: "brachioradialis",
        area_cm2: 1.5,
        source: "An et al. (1981) J Biomech 14:659-669, from memory; Murray, Buchanan & Delp (2000), abstract: 1.2",
    },
    CrossSection {
        name: "pronator teres",
        area_cm2: 3.4,
        source: FROM_MEMORY,
    },
    CrossSection {
        name: "ECRL",
        area_cm2: 2.4,
        source: FROM_MEMORY,
    },
    CrossSection {
        name: "triceps",
        area_cm2: 14.9,
        source: "all heads, Murray, Buchanan & Delp (2000) J Biomech 33:943-952, abstract",
    },
    CrossSection {
        name: "anconeus",
        area_cm2: 2.5,
        source: FROM_MEMORY,
    },
];

/// The cross-section of a muscle by its name.
pub fn cross_section(name: &str) -> Option<&'static CrossSection> {
    let name = plain_name(name);
    CROSS_SECTIONS.iter().find(|c| plain_name(c.name) == name)
}

/// Specific tension: what conventions and reviews say muscle can pull with for each cm² of cross-section, N/cm².
///
/// # Source
/// 22.5 as a mammalian convention, 26.8 recommended for humans: a systematic review of in-vivo human studies, abstract.
pub const SPECIFIC_TENSION_N_CM2: (f64, f64) = (22.5, 26.8);
/// What single studies of that review report, N/cm².
pub const REPORTED_TENSION_N_CM2: (f64, f64) = (2.0, 73.0);
/// The two in words.
pub const TENSION_SOURCE: &str = "22.5 N/cm² is a mammalian convention, 26.8 recommended for humans; single studies report 2 to 73 (systematic review of in-vivo human studies, abstract)";

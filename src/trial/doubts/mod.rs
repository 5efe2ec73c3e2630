//! Looks at what was stated and at what comes out for what hardly any person, or thing in a hand, has: wrong
//! units, wrong files, wrong columns. Nothing is corrected: a warning names the quantity, its value, the
//! usual range and where that comes from.

pub(super) mod coincidence;
pub(super) mod held;
pub(super) mod person;
pub(super) mod results;
pub(super) mod smoothing;

use crate::ground::warning::Warning;

/// Where a range comes from that nobody has published for this use.
const COMMON_PRACTICE: &str = "common practice, no source";

/// A usual range.
struct Usual {
    unit: &'static str,
    /// The range in words.
    words: String,
    source: &'static str,
    /// What may be wrong.
    ask: &'static str,
    /// Outside of these limits a value is doubted.
    doubted: (f64, f64),
    /// And outside of these no person or thing has it.
    never: (f64, f64),
}

impl Usual {
    /// A doubt about a value outside of the range; none about one that is not known.
    fn doubt(&self, what: impl Into<String>, found: f64) -> Option<Warning> {
        let outside = |(low, high): (f64, f64)| found < low || found > high;
        outside(self.doubted).then(|| Warning::Unusual {
            what: what.into(),
            found,
            unit: self.unit,
            usual: self.words.clone(),
            source_of_range: self.source,
            ask: self.ask,
            never: outside(self.never),
        })
    }
}

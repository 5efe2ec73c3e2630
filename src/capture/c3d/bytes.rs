//! Numbers as three kinds of processor wrote them.

/// Who wrote a file: decides the order of bytes and the form of reals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Processor {
    /// Low byte first, IEEE reals.
    Intel,
    /// Low byte first, VAX F-floating reals.
    Dec,
    /// High byte first, IEEE reals.
    Mips,
}

impl Processor {
    pub fn of(byte: u8) -> Option<Self> {
        match byte {
            84 => Some(Self::Intel),
            85 => Some(Self::Dec),
            86 => Some(Self::Mips),
            _ => None,
        }
    }
}

/// The bytes of a file. Reading beyond the end gives zeros, never a panic: callers check lengths where it
/// matters.
pub(super) struct Bytes {
    bytes: Vec<u8>,
    processor: Processor,
}

impl Bytes {
    pub fn new(bytes: Vec<u8>, processor: Processor) -> Self {
        Self { bytes, processor }
    }

    pub fn len(&self) -> usize {
        self.bytes.len()
    }

    pub fn byte(&self, at: usize) -> u8 {
        self.bytes.get(at).copied().unwrap_or(0)
    }

    /// As much of a range as there is.
    pub fn slice(&self, at: usize, length: usize) -> &[u8] {
        let end = at.saturating_add(length).min(self.bytes.len());
        self.bytes.get(at..end).unwrap_or(&[])
    }

    fn array<const N: usize>(&self, at: usize) -> [u8; N] {
        self.bytes
            .get(at..at.saturating_add(N))
            .and_then(|s| s.try_into().ok())
            .unwrap_or([0; N])
    }

    pub fn unsigned(&self, at: usize) -> u16 {
        match self.processor {
            Processor::Intel | Processor::Dec => u16::from_le_bytes(self.array(at)),
            Processor::Mips => u16::from_be_bytes(self.array(at)),
        }
    }

    pub fn signed(&self, at: usize) -> i16 {
        self.unsigned(at) as i16
    }

    pub fn real(&self, at: usize) -> f64 {
        match self.processor {
            Processor::Intel => f64::from(f32::from_le_bytes(self.array(at))),
            Processor::Mips => f64::from(f32::from_be_bytes(self.array(at))),
            Processor::Dec => vax_real(self.array(at)),
        }
    }
}

/// A VAX F-floating number: two 16-bit words, the one with sign and exponent first, each low byte first.
///
/// # Equation
/// (-1)^s · 2^(e - 128) · (1/2 + m / 2^24); e = 0 is zero, or with the sign set a reserved operand, here not
/// a number.
///
/// # Source
/// VAX Architecture Reference Manual (Digital, 1987), F_floating data; from memory.
fn vax_real(b: [u8; 4]) -> f64 {
    let bits =
        u32::from(u16::from_le_bytes([b[0], b[1]])) << 16 | u32::from(u16::from_le_bytes([b[2], b[3]]));
    let (negative, exponent, fraction) = (bits >> 31 == 1, (bits >> 23 & 0xff) as i32, bits & 0x7f_ffff);
    match (exponent, negative) {
        (0, true) => f64::NAN,
        (0, false) => 0.0,
        _ => {
            let size = (0.5 + f64::from(fraction) / f64::from(1 << 24)) * 2_f64.powi(exponent - 128);
            if negative { -size } else { size }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bytes of worked values: 1.0 is 0x00004080, 3.5 is 0x00004160, -6.125 is 0x0000c1c4 as longwords in
    /// memory order.
    ///
    /// # Source
    /// VAX Architecture Reference Manual, F_floating layout; values worked by hand: 1 = 2^1 · 0.5, 3.5 = 2^2
    /// · 0.875, 6.125 = 2^3 · 0.765625.
    #[test]
    fn oracle_vax_reals() {
        assert_eq!(vax_real([0x80, 0x40, 0, 0]), 1.0);
        assert_eq!(vax_real([0x60, 0x41, 0, 0]), 3.5);
        assert_eq!(vax_real([0xc4, 0xc1, 0, 0]), -6.125);
        assert_eq!(vax_real([0, 0, 0, 0]), 0.0);
        assert!(vax_real([0, 0x80, 0, 0]).is_nan());
    }
}

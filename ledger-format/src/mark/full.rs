//! Full marks: 64 hexadecimal digits, the whole of a BLAKE3 hash.

use crate::line::Mark;

/// A BLAKE3 hash over the bytes before a mark.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FullMark(pub [u8; 32]);

impl FullMark {
    /// The full mark over these bytes.
    pub fn over(bytes: &[u8]) -> Self {
        Self(*blake3::hash(bytes).as_bytes())
    }

    /// Its first 16 digits.
    pub fn mark(&self) -> Mark {
        Mark::of(&self.0)
    }

    /// Reads 64 lower-case hexadecimal digits.
    pub fn read(text: &str) -> Option<Self> {
        let (quarters, []) = text.as_bytes().as_chunks::<16>() else { return None };
        let quarters: &[[u8; 16]; 4] = quarters.try_into().ok()?;
        let mut full = [0; 32];
        for (bytes, quarter) in full.chunks_exact_mut(8).zip(quarters) {
            bytes.copy_from_slice(&Mark::read(quarter)?.0.to_be_bytes());
        }
        Some(Self(full))
    }
}

impl std::fmt::Display for FullMark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl std::fmt::Debug for FullMark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        std::fmt::Display::fmt(self, f)
    }
}

//! The seal of a line: sealed time and mark (`line.md`, `mark.md` §3).

use chrono::NaiveDateTime;

use super::read::read_line;
use super::{Line, Problem, when};
use crate::limits::SEAL_BYTES;
use crate::swar::hexadecimal;

/// The first 16 hexadecimal digits of the BLAKE3 hash over everything before it.
///
/// A name for a line within one device's ledger; what binds the writer is the full 64 digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Mark(pub u64);

impl Mark {
    /// Reads 16 lower-case hexadecimal digits.
    #[inline]
    pub fn read(text: &[u8]) -> Option<Self> {
        let digits: &[u8; 16] = text.try_into().ok()?;
        let (first, last) = (hexadecimal(*digits.first_chunk()?)?, hexadecimal(*digits.last_chunk()?)?);
        Some(Self(u64::from(first) << 32 | u64::from(last)))
    }

    /// The mark of a full hash.
    pub fn of(full: &[u8; 32]) -> Self {
        let [a, b, c, d, e, f, g, h, ..] = *full;
        Self(u64::from_be_bytes([a, b, c, d, e, f, g, h]))
    }
}

impl std::fmt::Display for Mark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:016x}", self.0)
    }
}

impl serde::Serialize for Mark {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for Mark {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let digits = String::deserialize(deserializer)?;
        Self::read(digits.as_bytes()).ok_or_else(|| serde::de::Error::custom("expected 16 digits of a mark"))
    }
}

/// When a line was kept, and its mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seal {
    /// As the device's clock said, UTC.
    pub sealed: NaiveDateTime,
    /// The mark.
    pub mark: Mark,
}

/// A line with its seal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SealedLine<'a> {
    /// The observation.
    pub line: Line<'a>,
    /// When it was kept, and its mark.
    pub seal: Seal,
}

/// Splits a line (without line feed) of sealed shape into body and seal text.
///
/// The seal has a fixed length, so free words may hold ` | ` too. Its digits are checked for shape, not for sense.
#[inline]
pub fn split_seal(line: &[u8]) -> Option<(&[u8], &[u8])> {
    let at = line.len().checked_sub(SEAL_BYTES)?;
    let (body, seal) = line.split_at_checked(at)?;
    (!body.is_empty() && has_seal_shape(seal)).then_some((body, seal))
}

#[inline]
fn has_seal_shape(seal: &[u8]) -> bool {
    const SHAPE: &[u8; SEAL_BYTES] = b" | dddd-dd-ddTdd:dd:ddZ hhhhhhhhhhhhhhhh";
    seal.iter().zip(SHAPE).all(|(byte, shape)| match shape {
        b'd' => byte.is_ascii_digit(),
        b'h' => matches!(byte, b'0'..=b'9' | b'a'..=b'f'),
        literal => byte == literal,
    })
}

/// Reads a sealed line, without its line feed.
///
/// # Errors
/// Says where it leaves the canonical spelling and what was expected there.
pub fn read_sealed(line: &str) -> Result<SealedLine<'_>, Problem> {
    read_sealed_line(line).map_err(|problem| *problem)
}

/// The same, with what is wrong behind a pointer, so that the usual case is small.
#[inline]
pub(crate) fn read_sealed_line(line: &str) -> Result<SealedLine<'_>, Box<Problem>> {
    let Some((body, seal)) = split_sealed(line) else { return Err(Box::new(not_sealed(line))) };
    Ok(SealedLine { line: read_line(body)?, seal })
}

#[inline]
fn split_sealed(line: &str) -> Option<(&str, Seal)> {
    let (body, seal) = line.split_at_checked(line.len().checked_sub(SEAL_BYTES)?)?;
    let seal = seal.as_bytes();
    let sealed = when::read_utc(&seal[3..23])?;
    let mark = Mark::read(&seal[24..])?;
    (seal.starts_with(b" | ") && seal[23] == b' ' && !body.is_empty()).then_some((body, Seal { sealed, mark }))
}

#[cold]
fn not_sealed(line: &str) -> Problem {
    match split_seal(line.as_bytes()) {
        Some((body, _)) => Problem::new(body.len() + 3..body.len() + 23, "a real sealed time, as 2026-03-14T09:20:11Z"),
        None => Problem::new(0..line.len(), "a sealed line: it ends with ` | `, a sealed time and 16 digits"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_may_hold_the_separator() {
        let text = "2026-03-14 417 note by kj: a | b | 2026-03-14T09:20:11Z 3f9c2a7d51be4c08";
        let sealed = read_sealed(text).unwrap();
        assert_eq!(sealed.line.words, Some("a | b"));
        assert_eq!(sealed.seal.mark.to_string(), "3f9c2a7d51be4c08");
    }
}

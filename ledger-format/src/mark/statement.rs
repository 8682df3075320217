//! Statements: a device's signed word for how far its file goes (`mark.md` §15).
//!
//! ```
//! use ed25519_dalek::SigningKey;
//! use ledger_format::mark::{FullMark, Statement};
//! let key = SigningKey::from_bytes(&[7; 32]);
//! let said = Statement {
//!     herd: "quillmere",
//!     device: "crush-laptop",
//!     year: 2026,
//!     length: 18_344,
//!     mark: FullMark::over(b"all before the mark"),
//!     at: ledger_format::line::read_utc(b"2026-03-14T09:20:11Z").unwrap(),
//! };
//! let line = said.signed(&key);
//! let read = Statement::read(&line).unwrap();
//! assert_eq!(read.verified(&FullMark(key.verifying_key().to_bytes())), Some(said));
//! assert_eq!(read.verified(&FullMark([0; 32])), None);
//! ```

use chrono::NaiveDateTime;
use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};

use super::FullMark;
use super::head::read_year;
use crate::line::{is_name, read_utc, utc_text};

const LEAD: &str = "footfold 1 statement herd ";
const SIGNED: &str = " signed ";

/// What a device says of one of its files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Statement<'a> {
    /// The herd.
    pub herd: &'a str,
    /// The device whose file it is, and who says so.
    pub device: &'a str,
    /// The year in the file's name.
    pub year: u16,
    /// Bytes up to the end of a sealed line.
    pub length: u64,
    /// That line's full mark.
    pub mark: FullMark,
    /// When it was said, UTC, as the clock said.
    pub at: NaiveDateTime,
}

/// A statement that was read; nobody has looked at its signature yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unverified<'a> {
    said: Statement<'a>,
    body: &'a str,
    signature: [u8; 64],
}

impl<'a> Statement<'a> {
    /// The line that says so, without a line feed.
    pub fn signed(&self, key: &SigningKey) -> String {
        let body = self.to_string();
        let signature = key.sign(body.as_bytes());
        format!("{body}{SIGNED}{}{}", FullMark(*signature.r_bytes()), FullMark(*signature.s_bytes()))
    }

    /// Reads a line, without its line feed. Nothing but what [`Statement::signed`] writes is one.
    pub fn read(line: &'a str) -> Option<Unverified<'a>> {
        let (body, digits) = line.rsplit_once(SIGNED)?;
        let (first, second) = digits.split_at_checked(64)?;
        let halves = [FullMark::read(first)?.0, FullMark::read(second)?.0];
        let said = Self::read_body(body).filter(|said| said.to_string() == body)?;
        Some(Unverified { said, body, signature: halves.concat().try_into().ok()? })
    }

    fn read_body(body: &'a str) -> Option<Self> {
        let mut words = body.strip_prefix(LEAD)?.split(' ');
        let herd = words.next().filter(|name| is_name(name))?;
        let mut after = |lead: &str| (words.next()? == lead).then(|| words.next()).flatten();
        let device = after("device").filter(|name| is_name(name))?;
        let year = after("year").and_then(read_year)?;
        let length = after("length")?.parse().ok()?;
        let mark = after("mark").and_then(FullMark::read)?;
        let at = after("at").and_then(|time| read_utc(time.as_bytes()))?;
        words.next().is_none().then_some(Self { herd, device, year, length, mark, at })
    }
}

impl<'a> Unverified<'a> {
    /// What it says, if the holder of this key said it.
    pub fn verified(&self, key: &FullMark) -> Option<Statement<'a>> {
        let key = VerifyingKey::from_bytes(&key.0).ok()?;
        let signature = Signature::from_bytes(&self.signature);
        key.verify_strict(self.body.as_bytes(), &signature).ok().map(|()| self.said)
    }

    /// What it says, whoever said it: only for finding the file whose key verifies it.
    pub fn unverified(&self) -> Statement<'a> {
        self.said
    }
}

impl std::fmt::Display for Statement<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { herd, device, year, length, mark, at } = self;
        write!(f, "{LEAD}{herd} device {device} year {year:04} length {length} mark {mark} at {}", utc_text(*at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key() -> SigningKey {
        SigningKey::from_bytes(&[9; 32])
    }

    fn public() -> FullMark {
        FullMark(key().verifying_key().to_bytes())
    }

    fn said() -> Statement<'static> {
        let at = read_utc(b"2026-03-14T09:20:11Z").unwrap();
        let mark = FullMark::over(b"");
        Statement { herd: "quillmere", device: "crush-laptop", year: 2026, length: 18_344, mark, at }
    }

    #[test]
    fn every_changed_byte_is_found() {
        let line = said().signed(&key());
        for at in 0..line.len() {
            for change in [1, 2, 4, 0x20] {
                let mut bytes = line.clone().into_bytes();
                bytes[at] ^= change;
                let Ok(changed) = String::from_utf8(bytes) else { continue };
                let believed = Statement::read(&changed).and_then(|read| read.verified(&public()));
                assert_eq!(believed, None, "{changed}");
            }
        }
    }

    #[test]
    fn there_is_one_spelling() {
        let line = said().signed(&key());
        assert!(Statement::read(&line).is_some());
        for other in [line.replace("length 18344", "length 018344"), format!("{line} "), line.to_uppercase()] {
            assert!(Statement::read(&other).is_none(), "{other}");
        }
        for (of, to) in [("18344", "+18344"), ("crush-laptop", "con"), ("2026-03-14", "2026-02-30")] {
            assert!(Statement::read(&line.replacen(of, to, 1)).is_none(), "{to}");
        }
    }
}

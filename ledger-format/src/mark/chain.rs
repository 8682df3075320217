//! Sealing: appending lines, each with the mark over all before it.

use chrono::NaiveDateTime;

use super::FullMark;
use super::check::MARK_AND_END;
use crate::line::utc_text;

/// The running hash of a file that lines are appended to.
#[derive(Clone, Debug, Default)]
pub struct Chain {
    hasher: blake3::Hasher,
    last: Option<FullMark>,
}

impl Chain {
    /// The chain of a file as it stands: all its accepted bytes.
    pub fn of(accepted: &[u8]) -> Self {
        let mut chain = Self::default();
        chain.pass(accepted);
        chain
    }

    /// Appends one body, sealed, to `out`. The caller vouches that the body is canonical.
    pub fn seal(&mut self, body: &str, sealed: NaiveDateTime, out: &mut Vec<u8>) -> FullMark {
        let start = out.len();
        out.extend_from_slice(body.as_bytes());
        out.extend_from_slice(b" | ");
        out.extend_from_slice(utc_text(sealed).as_bytes());
        out.push(b' ');
        self.hasher.update(&out[start..]);
        let full = self.full();
        self.last = Some(full);
        let mark_at = out.len();
        out.extend_from_slice(full.mark().to_string().as_bytes());
        out.push(b'\n');
        self.hasher.update(&out[mark_at..]);
        full
    }

    /// Takes in bytes that are sealed already: whole lines, or at least the last mark of one.
    pub fn pass(&mut self, sealed: &[u8]) {
        let (before, end) = sealed.split_at(sealed.len().saturating_sub(MARK_AND_END));
        self.hasher.update(before);
        self.last = (!end.is_empty()).then(|| self.full()).or(self.last);
        self.hasher.update(end);
    }

    /// The full mark of the last sealed line, if whole lines were taken in.
    pub fn last(&self) -> Option<FullMark> {
        self.last
    }

    /// The full mark of what is sealed so far.
    pub(super) fn full(&self) -> FullMark {
        FullMark(*self.hasher.finalize().as_bytes())
    }

    /// Bytes so far.
    pub fn length(&self) -> u64 {
        self.hasher.count()
    }
}

//! The keeper's side: a code, for one use, three tries and five minutes (`sync.md` §13).

use super::secret::{Half, MESSAGE_BYTES, Session, Shared, Side};
use super::{Code, Paired, Refusal};

/// How often a code may be tried. A try begins with the first message, whatever becomes of it.
pub const TRIES: u8 = 3;
/// How long it may be used.
pub const VALID_MS: u64 = 5 * 60 * 1000;

/// A code that was shown.
#[derive(Debug)]
pub struct Gate {
    code: Code,
    until: u64,
    tries: u8,
    is_used: bool,
}

/// The keeper has said its message and waits for the newcomer to show that it has the key.
pub struct Hearing(Shared);

impl Gate {
    /// A code shown at this time, in milliseconds of a clock that never goes back.
    pub fn open(code: Code, now: u64) -> Self {
        Self { code, until: now.saturating_add(VALID_MS), tries: 0, is_used: false }
    }

    /// Why nobody can begin any more; none as long as somebody can.
    pub fn closed(&self, now: u64) -> Option<Refusal> {
        let closed = self.void(now);
        closed.or((self.tries >= TRIES).then_some(Refusal::Tried))
    }

    /// Tries that are left.
    pub fn tries_left(&self) -> u8 {
        TRIES.saturating_sub(self.tries)
    }

    fn void(&self, now: u64) -> Option<Refusal> {
        if self.is_used {
            return Some(Refusal::Used);
        }
        (now >= self.until).then_some(Refusal::Late)
    }

    /// Hears a newcomer's message: a try. Gives the keeper's message.
    ///
    /// # Errors
    /// When the code is void, or the message is none.
    pub fn hello(
        &mut self,
        session: Session,
        message: &[u8],
        chance: [u8; 32],
        now: u64,
    ) -> Result<([u8; MESSAGE_BYTES], Hearing), Refusal> {
        if let Some(why) = self.closed(now) {
            return Err(why);
        }
        self.tries += 1;
        let half = Half::begin(self.code, session, chance);
        let said = half.said();
        Ok((said, Hearing(half.hear(message)?)))
    }

    /// Hears what the newcomer shows. If it fits, the code is used, and the keeper shows the same.
    ///
    /// # Errors
    /// When it does not fit, or the code is void by now.
    pub fn proof(&mut self, hearing: Hearing, shown: &[u8], now: u64) -> Result<(blake3::Hash, Paired), Refusal> {
        if let Some(why) = self.void(now) {
            return Err(why);
        }
        let Hearing(shared) = hearing;
        let shown: [u8; 32] = shown.try_into().map_err(|_| Refusal::NoMessage)?;
        if blake3::Hash::from_bytes(shown) != shared.shown_by(Side::Newcomer) {
            return Err(Refusal::WrongCode);
        }
        self.is_used = true;
        let Session { newcomer, keeper, .. } = shared.session;
        Ok((shared.shown_by(Side::Keeper), Paired { newcomer, keeper }))
    }
}

impl std::fmt::Debug for Hearing {
    /// Never the key.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Hearing(…)")
    }
}

//! The newcomer's side: it types the code and shows first that it has it (`sync.md` §12).

use super::secret::{Half, MESSAGE_BYTES, Session, Shared, Side};
use super::{Code, Paired, Refusal};

/// The newcomer has said its message and waits for the keeper's.
pub struct Asking(Half);

/// The newcomer has shown that it has the key and waits for the keeper to show the same.
pub struct Asked(Shared);

impl Asking {
    /// Begins with the code as typed and fresh random bytes. Gives the newcomer's message.
    pub fn begin(code: Code, session: Session, chance: [u8; 32]) -> ([u8; MESSAGE_BYTES], Self) {
        let half = Half::begin(code, session, chance);
        (half.said(), Self(half))
    }

    /// Hears the keeper's message. Gives what the newcomer shows.
    ///
    /// # Errors
    /// When the message is none, or our own.
    pub fn hear(self, message: &[u8]) -> Result<(blake3::Hash, Asked), Refusal> {
        let shared = self.0.hear(message)?;
        Ok((shared.shown_by(Side::Newcomer), Asked(shared)))
    }
}

impl Asked {
    /// Hears what the keeper shows.
    ///
    /// # Errors
    /// When it does not fit: what it says is not to be believed.
    pub fn hear(self, shown: &[u8]) -> Result<Paired, Refusal> {
        let shown: [u8; 32] = shown.try_into().map_err(|_| Refusal::NoMessage)?;
        let shown = blake3::Hash::from_bytes(shown);
        if shown == self.0.shown_by(Side::Newcomer) {
            return Err(Refusal::Reflected);
        }
        if shown != self.0.shown_by(Side::Keeper) {
            return Err(Refusal::WrongCode);
        }
        let Session { newcomer, keeper, .. } = self.0.session;
        Ok(Paired { newcomer, keeper })
    }
}

impl std::fmt::Debug for Asking {
    /// Never the secret.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Asking(…)")
    }
}

impl std::fmt::Debug for Asked {
    /// Never the key.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Asked(…)")
    }
}

//! Pairing: one machine shows a code, another types it, and both know each other (`sync.md` §11-§15).
//!
//! No clock, chance or network of its own: times, random bytes and what the TLS session says come in as values.

mod asking;
mod code;
mod gate;
mod name;
mod secret;
pub mod words;

pub use asking::{Asked, Asking};
pub use code::Code;
pub use gate::{Gate, Hearing, TRIES, VALID_MS};
pub use name::{Names, free_name};
pub use secret::{MESSAGE_BYTES, Session};

/// Why a pairing did not come about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// The other side does not have the same code and the same session.
    #[error("the code does not fit, or another machine stands in between")]
    WrongCode,
    /// What came is no message of a pairing.
    #[error("expected a message of a pairing, found something else")]
    NoMessage,
    /// Our own words came back.
    #[error("our own words came back: another machine stands in between")]
    Reflected,
    /// The code's three tries are over.
    #[error("the code was tried three times and is void")]
    Tried,
    /// The code's five minutes are over.
    #[error("the code is older than five minutes and is void")]
    Late,
    /// Somebody was let in with it already.
    #[error("the code was used already and is void")]
    Used,
}

impl Refusal {
    /// Whether the code is void, whatever is typed.
    pub fn is_void(self) -> bool {
        matches!(self, Self::Tried | Self::Late | Self::Used)
    }
}

/// Both sides have shown that they have the same code in the same session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Paired {
    /// The newcomer's public key.
    pub newcomer: [u8; 32],
    /// The keeper's public key.
    pub keeper: [u8; 32],
}

#[cfg(test)]
mod tests;

//! A key from a short code, and showing that one has it (`sync.md` §12).

use rand_core::{CryptoRng, RngCore};
use spake2::{Ed25519Group, Identity, Password, Spake2};

use super::{Code, Refusal};

/// Length of the one message each way.
pub const MESSAGE_BYTES: usize = 33;

/// The same for everybody: what tells the sides apart is in the password and in what is shown after.
const IDENTITY: &[u8] = b"footfold 2026 pairing";
const NEWCOMER: &str = "footfold 2026 pairing newcomer";
const KEEPER: &str = "footfold 2026 pairing keeper";

/// What one side knows of the TLS session it speaks in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Session {
    /// 32 bytes exported from it: two sessions, one on each side of somebody in between, give others.
    pub exporter: [u8; 32],
    /// The newcomer's public key.
    pub newcomer: [u8; 32],
    /// The keeper's public key.
    pub keeper: [u8; 32],
}

/// Which side shows that it has the key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    Newcomer,
    Keeper,
}

/// One side that has said its message and waits for the other's.
pub(super) struct Half {
    spake: Spake2<Ed25519Group>,
    said: [u8; MESSAGE_BYTES],
    session: Session,
}

impl Half {
    /// `chance` are fresh random bytes, for this once.
    pub(super) fn begin(code: Code, session: Session, chance: [u8; 32]) -> Self {
        let password = [&code.digits()[..], &session.exporter].concat();
        let (spake, message) = Spake2::<Ed25519Group>::start_symmetric_with_rng(
            &Password::new(password),
            &Identity::new(IDENTITY),
            Given(blake3::Hasher::new_keyed(&chance).finalize_xof()),
        );
        let mut said = [0; MESSAGE_BYTES];
        said.copy_from_slice(&message);
        Self { spake, said, session }
    }

    pub(super) fn said(&self) -> [u8; MESSAGE_BYTES] {
        self.said
    }

    pub(super) fn hear(self, message: &[u8]) -> Result<Shared, Refusal> {
        if message == self.said {
            return Err(Refusal::Reflected);
        }
        let key = self.spake.finish(message).map_err(|_| Refusal::NoMessage)?;
        Ok(Shared { key, session: self.session })
    }
}

/// What both sides have, if their codes and sessions are the same.
pub(super) struct Shared {
    key: Vec<u8>,
    pub(super) session: Session,
}

impl Shared {
    /// What a side shows. Comparing two takes the same time wherever they differ.
    pub(super) fn shown_by(&self, side: Side) -> blake3::Hash {
        let context = match side {
            Side::Newcomer => NEWCOMER,
            Side::Keeper => KEEPER,
        };
        let key = blake3::derive_key(context, &self.key);
        blake3::keyed_hash(&key, &[self.session.newcomer, self.session.keeper].concat())
    }
}

/// Random bytes that were given, stretched: the crate asks for a source.
struct Given(blake3::OutputReader);

impl RngCore for Given {
    fn next_u32(&mut self) -> u32 {
        rand_core::impls::next_u32_via_fill(self)
    }

    fn next_u64(&mut self) -> u64 {
        rand_core::impls::next_u64_via_fill(self)
    }

    fn fill_bytes(&mut self, bytes: &mut [u8]) {
        self.0.fill(bytes);
    }

    fn try_fill_bytes(&mut self, bytes: &mut [u8]) -> Result<(), rand_core::Error> {
        self.fill_bytes(bytes);
        Ok(())
    }
}

impl CryptoRng for Given {}

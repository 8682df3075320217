//! Keep: what a save of a ledger says, beside what is accepted (`spec/keep.md`).
//!
//! Nothing sealed may be lost by an editor, and nothing typed by us. Everything here is a comparison of texts; who
//! stores them, and when, is the shell's.

mod align;
mod base;
mod compare;
mod correct;
mod lines;
mod sealed;

pub use base::{Changed, Fate, Remembered, TypedBefore};
pub use compare::{Correction, Saved, Typed, What, compare, take_sealed, without_known, without_reworded};
pub use correct::{Said, as_correction, changed, offer, remarks};
pub use lines::Was;
pub use sealed::{has_changed_blanks, line_numbers, places, plain, seen_through};

//! The invented herd of Quillmere: what three people type over 14 months, made from a seed.
//!
//! Nothing here asks the time, opens a file or draws on the system's chance: the same seed gives the
//! same text for ever, on every machine. Cows, people, products and numbers are invented.
//!
//! Typed text holds *placeholders* for what only its caller can know. Each is replaced before typing:
//!
//! | placeholder | becomes |
//! | --- | --- |
//! | `{KEY:DEVICE}` | the 64 hexadecimal digits of that device's public key; besides the devices of [`CAST`], `old-phone`, which never writes |
//! | `{PROTOCOL}` | the 64 hexadecimal digits that name the protocol the herd adopts |
//! | `{WITNESS:DEVICE}` | `DEVICE YEAR length N mark HEX64` of that device's newest file as held by now; where it has no lines yet, the whole typed line is dropped |
//! | `{LAST:COW:ACT}` | the 16 hexadecimal digits that mark the typing device's newest line about that cow with that act word |
//! | `{LAST:COW:ACT:DEVICE}` | `MARK of DEVICE`: the same of another device's newest such line |
//!
//! The phone is revoked after 64 zeros, since no line of it is to count.
//!
//! ```
//! let story = examples_make::story(examples_make::SEED);
//! assert!(story[0].typed.contains("admit farm-office key {KEY:farm-office} as keeper"));
//! ```

mod bench;
mod calendar;
mod chance;
mod deed;
mod hand;
mod herd;
mod life;
mod story;
#[cfg(test)]
mod tests;
mod work;

pub use bench::ledger_lines;
pub use calendar::{FIRST_DAY, LAST_DAY};
pub use herd::{HerdFiles, herd_of, key_of};
pub use story::{CAST, COWS, Cast, MONTHS, SEED, Sitting, story, story_of};

//! Fold: lines to the state of cows (`spec/fold.md`). It never fails and never drops a line.

mod animal;
mod apart;
mod apply;
mod doubt;
mod feet;
mod herd;
mod life;
pub mod protocol;
mod question;
mod register;
mod rounds;
mod rules;
#[cfg(test)]
pub(crate) mod sample;
mod score;
mod text;
pub(crate) mod words;

pub use animal::{Animal, Held, LactationState, Leaving, Order, Recheck, Referral};
pub use doubt::doubts;
pub use feet::{Block, Case, Closed};
pub use herd::{Herd, View};
pub use life::{Life, Told};
pub use protocol::Protocol;
pub use question::{Question, Why};
pub use rounds::Round;
pub use score::Scored;
pub(crate) use text::facts;
pub use text::state_text;
pub use words::Seen;

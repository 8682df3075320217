//! What two machines that hold a herd tell each other, ask for and take (`spec/sync.md` §4 to §9). No disk, no
//! network, no clock: bytes and lists come in as values, and what is to be done comes out.

mod compare;
mod intake;
mod list;
mod quota;
mod said;
mod tail;

#[cfg(test)]
mod tests;

pub use compare::{Held, Holding, Move, compare};
pub use intake::{Intake, OutOfPlace};
pub use list::{List, tag};
pub use quota::{DAY_BYTES, Quota};
pub use said::Said;
pub use tail::{Asked, Judged, Refusal, Relation, is_end, is_stated, judge, judge_whole, relation};

/// Most bytes of one body (`sync.md` §9).
pub const BODY_BYTES: u64 = 4_000_000;

//! Mark: a seal over everything before it (`spec/mark.md`).
//!
//! ```
//! use ledger_format::mark::{Chain, check};
//! # let sealed = ledger_format::line::read_utc(b"2026-03-14T09:20:11Z").unwrap();
//! let head = format!("footfold 1 herd quillmere device crush-laptop key {} zone Europe/London", "8d".repeat(32));
//! let mut file = Vec::new();
//! let mut chain = Chain::default();
//! chain.seal(&head, sealed, &mut file);
//! chain.seal("2026-03-14 417 score 3 by kj", sealed, &mut file);
//! assert!(check(&file).is_unbroken());
//! file[200] ^= 1;
//! assert!(!check(&file).is_unbroken());
//! ```

mod chain;
mod check;
mod claim;
mod full;
mod head;
mod mend;
mod statement;
mod stream;
mod years;

pub use chain::Chain;
pub(crate) use check::check_along;
pub use check::{Check, broken_marks, check, check_and_go_on, sealed_end};
pub use claim::{Claim, ClaimFinding, complete_up_to};
pub(crate) use claim::{agreeing, showing};
pub use full::FullMark;
pub use head::{Follows, Head};
pub use mend::{Mended, Stretch, mend};
pub use statement::{Statement, Unverified};
pub use stream::{StreamCheck, StreamVerdict};
pub use years::{Newest, YearFile, year_file};

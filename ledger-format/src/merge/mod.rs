//! Merge: many ledgers, one log (`spec/merge.md`). A union: no line is dropped, no file is rewritten.

mod correction;
mod event;
mod ledger;
mod log;
mod usual;

pub use correction::{Standing, Standings};
pub use event::Event;
pub use ledger::{Entry, Held, Ledger, LedgerProblem, Unreadable, Whose};
pub use log::{EntryId, Log};

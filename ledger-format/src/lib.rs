//! Footfold's ledger: one line, one observation, kept as plain text that nobody can quietly rewrite.
//!
//! Each module is a chapter of `spec/`. Nothing here asks the time, opens a file, or prints:
//! bytes, times and people come in as values, and values go out.

pub mod between;
pub mod fold;
pub mod keep;
pub mod limits;
pub mod line;
pub mod mark;
pub mod measures;
pub mod members;
pub mod merge;
mod swar;
pub mod text;
pub mod typing;
pub mod vocabulary;
pub mod work;

//! Work: the plain rows that page, paper and terminal all show (`spec/work.md`).
//!
//! Rows hold words, numbers and dates as text, so that every surface says the same thing. Free words of a
//! ledger are in them as they were written: whoever shows them passes them through [`shown`] first.

pub mod amend;
pub mod card;
pub mod caution;
pub mod charges;
pub mod due;
mod feet;
pub mod overview;
pub mod sheet;
pub mod words;

pub use card::{Card, card};
pub use charges::{Charges, Prices, charges};
pub use due::{Asked, Due, Minutes, due, fits};
pub use feet::OnFoot;
pub use overview::{Overview, overview};
pub use sheet::{Sheet, Visit, sheet};
pub use words::shown;

//! Line: one observation, one spelling (`spec/line.md`).
//!
//! ```
//! let body = "2026-03-14 09:12 417 lesion WLA RH outer zone 3 grade 2 by kj: runs toward the heel";
//! let line = ledger_format::line::read(body).unwrap();
//! assert_eq!(line.to_string(), body);
//! ```

mod act;
mod identity;
mod problem;
mod quantity;
mod read;
mod seal;
mod subject;
mod when;
mod write;

pub use act::{Act, Bath, Finding, Medicine, Reference, Score, Tally, Trim};
pub use identity::{EarTag, Electronic, IdentityProblem};
pub use problem::Problem;
pub(crate) use quantity::read_number;
pub use quantity::{Decimal, Hold};
pub use read::read;
pub(crate) use read::{is_full_mark, may_be_about};
pub(crate) use seal::read_sealed_line;
pub use seal::{Mark, Seal, SealedLine, read_sealed, split_seal};
pub use subject::{CowNumber, Subject, is_name, is_who};
pub(crate) use subject::{is_group, is_of_name};
pub use when::{Minute, Observed, date_text, read_date, read_utc, utc_text};
pub(crate) use when::{read_minute, read_time};

/// One observation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Line<'a> {
    /// When it was seen.
    pub observed: Observed,
    /// What it is about.
    pub subject: Subject<'a>,
    /// What was seen or done.
    pub act: Act<'a>,
    /// The line that it corrects.
    pub replaces: Option<Reference<'a>>,
    /// Who saw it.
    pub by: &'a str,
    /// Free words.
    pub words: Option<&'a str>,
}

//! A statement as it travels: the line, and what it says.

use ledger_format::mark::{FullMark, Statement};

use crate::disk::LedgerName;

/// A statement line that reads; nobody has looked at its signature yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    line: String,
    /// The herd.
    pub herd: String,
    /// The file.
    pub name: LedgerName,
    /// How far it goes.
    pub length: u64,
    /// The full mark of the line that ends there.
    pub mark: FullMark,
}

impl Said {
    /// Reads a line, without its line feed.
    pub fn read(line: &str) -> Option<Self> {
        let said = Statement::read(line)?.unverified();
        let name = LedgerName::new(said.device, said.year)?;
        Some(Self { line: line.to_owned(), herd: said.herd.to_owned(), name, length: said.length, mark: said.mark })
    }

    /// The line, without its line feed.
    pub fn line(&self) -> &str {
        &self.line
    }

    /// Whether the holder of this key said it.
    pub fn is_signed_by(&self, key: &FullMark) -> bool {
        Statement::read(&self.line).and_then(|said| said.verified(key)).is_some()
    }

    /// Whether both say the same of the same file.
    pub fn agrees(&self, other: &Self) -> bool {
        self.name == other.name && self.length == other.length && self.mark == other.mark
    }
}

//! The list of what a machine holds, as it is told: a statement a file, a hash a protocol.

use std::collections::{BTreeMap, BTreeSet};

use ledger_format::mark::FullMark;

use super::Said;
use crate::disk::LedgerName;

const PROTOCOL: &str = "protocol ";

/// What a machine tells that it holds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct List {
    /// Per file how far it goes.
    pub files: BTreeMap<LedgerName, Said>,
    /// The protocols, by the hash of their bytes.
    pub protocols: BTreeSet<FullMark>,
}

impl List {
    /// The text that is sent.
    pub fn text(&self) -> String {
        let statements = self.files.values().map(|said| format!("{}\n", said.line()));
        statements.chain(self.protocols.iter().map(|hash| format!("{PROTOCOL}{hash}\n"))).collect()
    }

    /// Reads what another machine sent of this herd. A line that is not understood says nothing; of two statements
    /// of one file the longer counts.
    pub fn read(text: &str, herd: &str) -> Self {
        let mut list = Self::default();
        for line in text.lines() {
            if let Some(said) = Said::read(line).filter(|said| said.herd == herd) {
                let known = list.files.get(&said.name);
                if known.is_none_or(|known| known.length < said.length) {
                    list.files.insert(said.name.clone(), said);
                }
            } else if let Some(hash) = line.strip_prefix(PROTOCOL).and_then(FullMark::read) {
                list.protocols.insert(hash);
            }
        }
        list
    }
}

/// The `ETag` of a body.
pub fn tag(body: &[u8]) -> String {
    format!("\"{}\"", FullMark::over(body))
}

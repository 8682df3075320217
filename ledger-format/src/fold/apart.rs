//! Lines that are kept apart, as open questions (`members.md` §11).

use std::collections::BTreeMap;

use super::question::{Question, Why};
use crate::line::CowNumber;
use crate::members::{Apart, Members};
use crate::merge::{EntryId, Log, Whose};

/// One question for all lines of a file about one cow, or about no cow, that have no right for one reason.
pub(super) fn questions(log: &Log, members: &Members, is_seen: impl Fn(EntryId) -> bool) -> Vec<Question> {
    let mut alike = BTreeMap::<(u16, Option<CowNumber>, Apart), Vec<EntryId>>::new();
    for id in members.apart(log).into_iter().filter(|id| is_seen(*id)) {
        let Err(apart) = members.right_at(id) else { continue };
        let cow = match log.entry(id).whose {
            Whose::Cow(number) => Some(number),
            _ => None,
        };
        alike.entry((id.ledger, cow, apart)).or_default().push(id);
    }
    let asked = alike.into_iter().map(|((_, cow, apart), mut lines)| {
        lines.sort_by_key(|id| log.key(*id));
        Question { cow, lines, why: Why::Apart(apart) }
    });
    asked.collect()
}

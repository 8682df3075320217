//! Open questions that are new, and those that were settled.

use std::collections::BTreeMap;

use super::change::{Change, Kind};
use crate::fold::{Herd, Why};
use crate::line::CowNumber;

/// By number: a question is about a number, also where no animal has it any more.
pub(super) fn changes(a: &Herd, b: &Herd) -> Vec<(CowNumber, Change)> {
    let (before, after) = (asked(a), asked(b));
    let mut changes = only(&after, &before, Kind::Question);
    changes.extend(only(&before, &after, Kind::Settled));
    changes
}

type Asked<'a> = BTreeMap<(CowNumber, &'static str), Vec<&'a Why>>;

fn asked(herd: &Herd) -> Asked<'_> {
    let mut asked: Asked<'_> = BTreeMap::new();
    for question in herd.questions() {
        if let Some(number) = question.cow {
            asked.entry((number, question.why.word())).or_default().push(&question.why);
        }
    }
    asked
}

/// As many as there are more of; the newest of them.
fn only(these: &Asked<'_>, those: &Asked<'_>, kind: Kind) -> Vec<(CowNumber, Change)> {
    let mut changes = Vec::new();
    for (key, whys) in these {
        let known = those.get(key).map_or(0, Vec::len);
        for why in whys.iter().skip(known) {
            changes.push((key.0, Change { cow: key.0.to_string(), kind, words: why.to_string() }));
        }
    }
    changes
}

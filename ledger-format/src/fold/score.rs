//! Scores: everybody's account of a day, and which one counts (`fold.md` §5).

use crate::line::{Observed, Score};
use crate::merge::{EntryId, Log};

/// The counted score of a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Scored {
    /// When.
    pub observed: Observed,
    /// The score that counts.
    pub score: Score,
    /// Its line.
    pub line: EntryId,
}

/// Adds an account of a day: the first of another day clears the old ones, one by the same person replaces theirs.
pub(super) fn hear(log: &Log, accounts: &mut Vec<Scored>, now: Scored) {
    accounts.retain(|before| before.observed.date == now.observed.date);
    let same_person = |before: &Scored| {
        before.score.scale == now.score.scale
            && !log.devices_differ(before.line, now.line)
            && log.body(before.line).by == log.body(now.line).by
    };
    accounts.retain(|before| !same_person(before));
    accounts.push(now);
}

/// The account that counts on the scale of the newest one: the worst, with the first foot named.
pub(super) fn counted(accounts: &[Scored], newest: Scored) -> Scored {
    let on_scale = || accounts.iter().filter(|account| account.score.scale == newest.score.scale);
    let foot = on_scale().find_map(|account| account.score.foot);
    let badness = |account: &Scored| (account.score.value, account.score.half);
    let worst =
        on_scale().fold(newest, |worst, account| if badness(account) > badness(&worst) { *account } else { worst });
    Scored { score: Score { foot, ..worst.score }, ..worst }
}

/// Whether accounts on the scale of the newest one differ in value.
pub(super) fn differ(accounts: &[Scored], newest: Scored) -> bool {
    accounts
        .iter()
        .any(|account| account.score.scale == newest.score.scale && account.score.value != newest.score.value)
}

//! Between: how a herd changed from one state to another (`spec/between.md`).

mod change;
mod pair;
#[cfg(test)]
mod tests;

use serde::Serialize;
use similar::TextDiff;

use crate::fold::{Herd, Seen, state_text};

pub use change::{Change, Kind};

/// The difference of two states, the worst first.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Between {
    /// The first state.
    pub from: Seen,
    /// The second state.
    pub to: Seen,
    /// What changed, the worst first, then by cow.
    pub changes: Vec<Change>,
    /// Animals of which nothing changed.
    pub unchanged: usize,
}

/// What changed from `a` to `b`. The words come from the two states and nothing else.
pub fn between(a: &Herd, b: &Herd) -> Between {
    let (mut changes, mut unchanged) = (Vec::new(), 0);
    for pair in pair::pairs(a, b) {
        let found = change::changes(a, b, &pair);
        unchanged += usize::from(found.is_empty());
        changes.extend(found.into_iter().map(|change| (pair.number(), change)));
    }
    changes.sort_by(|(x, a), (y, b)| (a.kind, x).cmp(&(b.kind, y)));
    let changes = changes.into_iter().map(|(_, change)| change).collect();
    Between { from: Seen::of(a), to: Seen::of(b), changes, unchanged }
}

/// The same as lines: a unified diff of the two canonical state texts. Applied to the first it gives the second.
pub fn lines(a: &Herd, b: &Herd) -> String {
    let (before, after) = (state_text(a), state_text(b));
    let name = |seen: &Seen| {
        let known = seen.known.as_ref().map_or(String::new(), |known| format!(" known {known}"));
        format!("{} on {}{known}", seen.herd, seen.on)
    };
    let (from, to) = (name(&Seen::of(a)), name(&Seen::of(b)));
    TextDiff::from_lines(&before, &after).unified_diff().context_radius(1).header(&from, &to).to_string()
}

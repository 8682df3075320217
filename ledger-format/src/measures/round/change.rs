//! What changed since the round before: on the same cows, and on all that were seen (`measures.md` §24).

use serde::Serialize;

use crate::line::date_text;
use crate::measures::method::paired;
use crate::measures::rounds::{Basis, Round, Saw};
use crate::measures::{Difference, Figure, History};

/// What changed from one round to the next.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// The last day of the earlier round.
    pub since: String,
    /// On the cows that were seen both times.
    pub same_cows: Figure<SameCows>,
    /// On all that were seen, as if they were different cows.
    pub all_cows: Figure<OtherCows>,
}

/// Cows seen in both rounds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SameCows {
    /// Lame both times.
    pub stayed_lame: u64,
    /// Lame only in the earlier round.
    pub recovered: u64,
    /// Lame only in the later round.
    pub became_lame: u64,
    /// Lame neither time.
    pub stayed_sound: u64,
    /// The difference of the shares, with limits for the same cows seen twice.
    pub difference: Difference,
    /// How likely so uneven a change is by chance alone: the mid-p of `McNemar`'s test.
    pub mid_p: f64,
    /// Cows that became lame, by number.
    pub newly_lame: Vec<String>,
    /// Seen only in the earlier round.
    pub only_then: u64,
    /// Seen only in the later round.
    pub only_now: u64,
}

/// Shares of two rounds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OtherCows {
    /// The difference of the shares, with limits for different cows.
    pub difference: Difference,
}

/// From the round before the last to the last.
pub(super) fn since_last(history: &History<'_>, rounds: &[Round], warnings: &mut Vec<String>) -> Figure<Change> {
    let Some((now, earlier)) = rounds.split_last() else { return Figure::cannot("there is no round") };
    let Some(then) = earlier.iter().rev().find(|round| round.is_of_same(now)) else {
        return Figure::cannot(format!("there is no earlier round of {}", now.of_whom()));
    };
    if then.scale != now.scale {
        warnings.push(format!(
            "the rounds are on different scales, {} and {}: compared only at lame or not lame",
            then.scale, now.scale
        ));
    }
    Figure::Is(Change {
        since: date_text(then.last),
        same_cows: same_cows(history, then, now),
        all_cows: all_cows(then, now),
    })
}

fn all_cows(then: &Round, now: &Round) -> Figure<OtherCows> {
    if !then.adds_up() || !now.adds_up() {
        return Figure::cannot("a tally names more lame cows than walked past");
    }
    let difference = Difference::of_others((then.lame, then.seen), (now.lame, now.seen));
    Figure::of(difference.map(|difference| OtherCows { difference }), "no cow was seen in one of the rounds")
}

/// Whether a round says of single cows that they were not lame: a list, or a tally of the whole herd.
pub(in crate::measures) fn names_the_sound(round: &Round) -> bool {
    round.adds_up() && (round.basis == Basis::Whole || !round.is_tallied)
}

fn same_cows(history: &History<'_>, then: &Round, now: &Round) -> Figure<SameCows> {
    if let Some(part) = [then, now].into_iter().find(|round| !names_the_sound(round)) {
        return Figure::cannot(format!(
            "the round of {} does not say which cows were seen and not lame: only a part of the herd walked past",
            date_text(part.last)
        ));
    }
    let (mut both, mut first, mut second, mut neither) = (0, 0, Vec::new(), 0);
    for (at, before) in &then.cows {
        match (before.is_lame(), now.saw(*at).map(Saw::is_lame)) {
            (_, None) => {}
            (true, Some(true)) => both += 1,
            (true, Some(false)) => first += 1,
            (false, Some(true)) => second.push(history.lives()[*at].name()),
            (false, Some(false)) => neither += 1,
        }
    }
    let seen_twice = both + first + second.len() as u64 + neither;
    let difference = Difference::of_same(both, first, second.len() as u64, neither);
    let same = difference.map(|difference| SameCows {
        stayed_lame: both,
        recovered: first,
        became_lame: second.len() as u64,
        stayed_sound: neither,
        difference,
        mid_p: paired::mcnemar_mid_p(first, second.len() as u64),
        newly_lame: second,
        only_then: then.cows.len() as u64 - seen_twice,
        only_now: now.cows.len() as u64 - seen_twice,
    });
    Figure::of(same, "no cow was seen in both rounds")
}

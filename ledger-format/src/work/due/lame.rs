//! Lame and not lifted since; getting worse; still lame after treatment (classes 1 to 3).

use std::fmt::Write;

use chrono::{NaiveDateTime, TimeDelta};

use super::super::caution::still_lame_days;
use super::super::words::{days, score_words, start};
use super::row::{At, Cause, Class, For};
use crate::fold::{Animal, Protocol, Scored};
use crate::line::Score;

/// These are listed whenever they are so, not only when the deadline has come: it is a limit, not a date to begin.
pub(super) fn causes(at: At<'_>) -> Vec<Cause> {
    let waiting = unlifted(at.animal);
    let mut causes: Vec<Cause> = lame(at, waiting).into_iter().collect();
    causes.extend(waiting.last().and_then(|newest| got_worse(at, newest)));
    causes.extend(waiting.last().and_then(|newest| still_lame(at, newest)));
    causes.extend(worse_at_recheck(at));
    causes
}

/// The scores of the present lame run that she was not lifted since, oldest first. A cow scored again while she waits
/// keeps the deadline of her first score.
fn unlifted(animal: &Animal) -> &[Scored] {
    let waits = |scored: &&Scored| scored.score.is_lame() && !animal.is_lifted_since(scored.observed);
    let run = animal.scores.iter().rev().take_while(waits).count();
    &animal.scores[animal.scores.len() - run..]
}

/// When she must be lifted at the latest. A score without a time of day counts from the start of the day.
pub(super) fn deadline(scored: &Scored, protocol: &Protocol) -> NaiveDateTime {
    let seen = start(scored.observed.date) + TimeDelta::minutes(scored.observed.minute.unwrap_or(0).into());
    seen + TimeDelta::hours(protocol.lifting_hours(scored.score.is_severe()).into())
}

/// Severely lame if any score that waits is severe, even if a later one is milder: nobody has looked at the foot.
fn lame(at: At<'_>, waiting: &[Scored]) -> Option<Cause> {
    let (first, newest) = (waiting.first()?, waiting.last()?);
    let severe = waiting.iter().find(|scored| scored.score.is_severe());
    let worst = severe.unwrap_or(first);
    let mut words = format!("scored {} on {}", score_words(worst.score), at.clock.day(worst.observed.date));
    if let Some(foot) = newest.score.foot.or(worst.score.foot) {
        let _ = write!(words, ", {foot} suspected");
    }
    words += ", not lifted since";
    if newest.line != worst.line && newest.score.value != worst.score.value {
        let _ = write!(words, "; {} on {}", score_words(newest.score), at.clock.day(newest.observed.date));
    }
    if let Some(treated) = at.animal.treated {
        let _ = write!(words, "; treated {}", at.clock.day(treated));
    }
    let class = if severe.is_some() { Class::SeverelyLame } else { Class::Lame };
    let due = waiting.iter().map(|scored| deadline(scored, at.protocol)).min()?;
    Some(cause(at, class, due, words))
}

fn got_worse(at: At<'_>, newest: &Scored) -> Option<Cause> {
    let since = at.herd.lame_since(at.animal)?;
    let before = at.animal.score_before().filter(|before| before.score.is_lame() && before.observed.date >= since)?;
    let is_worse = is_worse(newest.score, before.score);
    let words = format!("got worse: {} to {}", score_words(before.score), score_words(newest.score));
    is_worse.then(|| cause(at, Class::GettingWorse, deadline(newest, at.protocol), words))
}

/// Worse on one scale; halves count where both were given.
pub(crate) fn is_worse(now: Score, before: Score) -> bool {
    let halves = now.half.zip(before.half).is_some_and(|(now, before)| now > before);
    now.scale == before.scale && (now.value > before.value || (now.value == before.value && halves))
}

fn still_lame(at: At<'_>, newest: &Scored) -> Option<Cause> {
    let since = still_lame_days(at.herd, at.animal)?;
    let words = format!("still lame {} after treatment", days(since));
    Some(cause(at, Class::GettingWorse, deadline(newest, at.protocol), words))
}

fn worse_at_recheck(at: At<'_>) -> Option<Cause> {
    let day = at.animal.worse?;
    let due = start(day) + TimeDelta::hours(at.protocol.lifting_hours(false).into());
    Some(cause(at, Class::GettingWorse, due, format!("worse at recheck on {}, not lifted since", at.clock.day(day))))
}

fn cause(at: At<'_>, class: Class, due: NaiveDateTime, words: String) -> Cause {
    Cause { class, for_whom: For::Lifting, words, from: at.clock.on, due, late: None }
}

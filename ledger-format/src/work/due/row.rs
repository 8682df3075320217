//! One cow of the due list: her reasons, put together.

use std::cmp::{Ordering, Reverse};

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use serde::Serialize;

use super::super::caution;
use super::super::feet::{OnFoot, on_feet};
use super::super::words::{Clock, ScoreNow, moment_text, start};
use super::{Asked, Minutes, lame, trims, waits, worn};
use crate::fold::{Animal, Herd, Protocol};
use crate::line::{CowNumber, date_text};
use crate::vocabulary::Level;

/// Why a cow is on the list; the most pressing first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// Severely lame and not lifted since.
    SeverelyLame,
    /// Worse than before, worse at a recheck, or still lame after treatment.
    GettingWorse,
    /// Lame and not lifted since.
    Lame,
    /// A block or dressing over its time.
    OnTooLong,
    /// A recheck due.
    Recheck,
    /// The vet's order due, or waiting for the vet.
    Vet,
    /// A trim due: before drying off, before calving, or in early lactation.
    TrimDue,
    /// The routine interval is over.
    Routine,
}

impl Class {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::SeverelyLame => "severely lame",
            Self::GettingWorse => "getting worse",
            Self::Lame => "lame",
            Self::OnTooLong => "block or dressing over its time",
            Self::Recheck => "recheck",
            Self::Vet => "for the vet",
            Self::TrimDue => "trim due",
            Self::Routine => "routine trim",
        }
    }
}

/// For whom a cow or a reason is listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum For {
    /// To be lifted.
    Lifting,
    /// For the vet, not for lifting by the trimmer.
    Vet,
    /// To be left alone for now, and why.
    Leaving,
}

/// One reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Reason {
    /// Its class.
    pub class: Class,
    /// For whom.
    #[serde(rename = "for")]
    pub for_whom: For,
    /// In words.
    pub words: String,
    /// When it was or is due: a day, with a time where there is one.
    pub due: String,
    /// How late in words.
    pub late: String,
    /// Whole hours late; negative when ahead.
    pub late_hours: i64,
}

/// What to bring.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Bring {
    /// Blocks.
    pub blocks: u16,
    /// Dressings.
    pub dressings: u16,
}

/// One cow.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DueRow {
    /// Her number.
    pub cow: String,
    /// Her group.
    pub group: Option<String>,
    /// Her first class.
    pub class: Class,
    /// For whom she is listed.
    #[serde(rename = "for")]
    pub for_whom: For,
    /// Her newest score.
    pub score: Option<ScoreNow>,
    /// Every reason, the most pressing first.
    pub reasons: Vec<Reason>,
    /// What is on her feet now.
    pub on_feet: Vec<OnFoot>,
    /// What to bring for her.
    pub bring: Bring,
    /// Minutes in the crush.
    pub minutes: u16,
    /// What to be careful about.
    pub cautions: Vec<String>,
}

/// A reason before it is words.
pub(super) struct Cause {
    pub(super) class: Class,
    pub(super) for_whom: For,
    pub(super) words: String,
    /// Listed from this day on.
    pub(super) from: NaiveDate,
    pub(super) due: NaiveDateTime,
    /// How late, where the usual words do not fit.
    pub(super) late: Option<String>,
}

impl Cause {
    /// Due on a day, for lifting.
    pub(super) fn on_day(class: Class, due: NaiveDate, words: String) -> Self {
        Self { class, for_whom: For::Lifting, words, from: due, due: start(due), late: None }
    }

    /// Whether it is counted in hours rather than days.
    fn is_in_hours(&self) -> bool {
        self.class <= Class::Lame
    }

    fn reason(self, clock: Clock) -> Reason {
        let is_timed = self.is_in_hours();
        let usual = if is_timed { clock.late_hours(self.due) } else { clock.late_days(self.due.date()) };
        Reason {
            class: self.class,
            for_whom: self.for_whom,
            words: self.words,
            due: if is_timed { moment_text(self.due) } else { date_text(self.due.date()) },
            late: self.late.unwrap_or(usual),
            late_hours: (clock.moment() - self.due).num_minutes().div_euclid(60),
        }
    }
}

/// Where a cow stands while her causes are looked for.
#[derive(Clone, Copy)]
pub(super) struct At<'a> {
    pub(super) herd: &'a Herd,
    pub(super) animal: &'a Animal,
    pub(super) protocol: &'a Protocol,
    pub(super) clock: Clock,
}

/// A row and what it is ordered by.
pub(super) struct Found {
    pub(super) row: DueRow,
    key: (Class, Reverse<bool>, NaiveDateTime, Reverse<bool>, Reverse<u8>, CowNumber),
}

impl Found {
    pub(super) fn by_urgency(&self, other: &Self) -> Ordering {
        self.key.cmp(&other.key)
    }
}

/// Her row, if she has any reason.
pub(super) fn find(herd: &Herd, animal: &Animal, clock: Clock, asked: &Asked) -> Option<Found> {
    let at = At { herd, animal, protocol: herd.protocol(), clock };
    let until = clock.on + TimeDelta::days(asked.ahead_days.into());
    let mut causes: Vec<Cause> = lame::causes(at);
    causes.extend(worn::causes(at));
    causes.extend(waits::causes(at));
    causes.extend(trims::causes(at));
    causes.retain(|cause| cause.from <= until);
    causes.sort_by_key(|cause| (cause.class, cause.due));
    let is_for_the_vet = |cause: &Cause| cause.class == Class::SeverelyLame && cause.for_whom == For::Vet;
    let severe_for_the_vet = causes.iter().any(is_for_the_vet);
    say_severe_once(&mut causes);
    let first = causes.first()?;
    let (class, due) = (first.class, first.due);
    let score = animal.score().map(|scored| scored.score);
    let key = (
        class,
        Reverse(severe_for_the_vet),
        due,
        Reverse(score.is_some_and(crate::line::Score::is_severe)),
        Reverse(score.map_or(0, |score| score.value)),
        animal.number,
    );
    Some(Found { row: put_together(at, causes, &asked.minutes), key })
}

/// Severely lame and not lifted since says it already.
fn say_severe_once(causes: &mut Vec<Cause>) {
    let is_severe = |cause: &Cause| cause.class == Class::SeverelyLame;
    if causes.iter().any(|cause| is_severe(cause) && cause.for_whom == For::Lifting) {
        causes.retain(|cause| !is_severe(cause) || cause.for_whom == For::Lifting);
    }
}

fn put_together(at: At<'_>, causes: Vec<Cause>, minutes: &Minutes) -> DueRow {
    let for_whom = for_whom(at.animal, &causes);
    let bring = if for_whom == For::Lifting { bring(&causes, at) } else { Bring::default() };
    DueRow {
        cow: at.animal.number.to_string(),
        group: at.herd.group(at.animal).map(str::to_owned),
        class: causes[0].class,
        for_whom,
        score: at.animal.score().map(ScoreNow::of),
        on_feet: on_feet(at.animal, at.clock.on),
        bring,
        minutes: if for_whom == For::Lifting { minutes_for(&causes, bring, minutes) } else { 0 },
        cautions: cautions(at, for_whom, &causes),
        reasons: causes.into_iter().map(|cause| cause.reason(at.clock)).collect(),
    }
}

fn cautions(at: At<'_>, for_whom: For, causes: &[Cause]) -> Vec<String> {
    let is_of_the_vet = for_whom == For::Lifting && causes.iter().any(|cause| cause.for_whom == For::Vet);
    let ask = is_of_the_vet.then(|| "the vet is waited for: ask before lifting".to_owned());
    ask.into_iter().chain(caution::about(at.herd, at.animal)).collect()
}

/// She is lifted if any reason asks for it; but while she waits for the vet, not for a trim that can wait.
fn for_whom(animal: &Animal, causes: &[Cause]) -> For {
    let can_wait = |cause: &Cause| !animal.referrals.is_empty() && cause.class >= Class::TrimDue;
    let whom = causes.iter().filter(|cause| !can_wait(cause)).map(|cause| cause.for_whom).min();
    whom.unwrap_or(For::Vet)
}

/// A lame foot often wants a block on the sound claw, unless all that is known on her feet is of the skin; what is over
/// its time may have to be renewed.
fn bring(causes: &[Cause], at: At<'_>) -> Bring {
    let is_lame = causes.iter().any(|cause| cause.class <= Class::Lame);
    let cases = at.animal.open_cases();
    let is_of_skin = !cases.is_empty() && cases.iter().all(|case| case.lesion.level() == Level::Foot);
    let (blocks, dressings) = worn::over_time(at);
    Bring { blocks: u16::from(is_lame && !is_of_skin).max(blocks), dressings }
}

fn minutes_for(causes: &[Cause], bring: Bring, minutes: &Minutes) -> u16 {
    let base = |cause: &Cause| match cause.class {
        Class::SeverelyLame | Class::GettingWorse | Class::Lame => minutes.lame,
        Class::OnTooLong | Class::Recheck => minutes.check,
        Class::Vet => 0,
        Class::TrimDue | Class::Routine => minutes.trim,
    };
    let lifted = causes.iter().filter(|cause| cause.for_whom == For::Lifting).map(base).max().unwrap_or(0);
    let (blocks, dressings) =
        (bring.blocks.saturating_mul(minutes.block), bring.dressings.saturating_mul(minutes.dressing));
    lifted.saturating_add(blocks).saturating_add(dressings)
}

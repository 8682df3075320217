//! Overview: the herd on one page (`spec/work.md` §4). No rate stands here without its denominator and its day.

use std::collections::BTreeMap;

use serde::Serialize;

use super::card::QuestionRow;
use super::words::{Seen, counted, day_words, days, score_words};
use crate::fold::{Animal, Herd, LactationState, Recheck, Round};
use crate::line::{date_text, utc_text};
use crate::vocabulary::Lesion;

/// The herd.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Overview {
    /// From where it was looked at.
    pub seen: Seen,
    /// Cows in the herd.
    pub present: usize,
    /// Of them, in milk.
    pub in_milk: usize,
    /// Of them, dry.
    pub dry: usize,
    /// Of them, neither calving nor drying off written.
    pub unknown: usize,
    /// Groups, with cows present.
    pub groups: Vec<GroupRow>,
    /// The newest scoring round of the herd, then those of groups since.
    pub rounds: Vec<RoundRow>,
    /// The share lame that is aimed for, in percent.
    pub target_lame_percent: u8,
    /// Lame now (`fold.md` §5), those not lifted since first.
    pub lame: Vec<CowNote>,
    /// Of them, not lifted since they were scored.
    pub lame_not_lifted: usize,
    /// Blocks on now, the oldest first.
    pub blocks: Vec<CowNote>,
    /// Rechecks and the vet's orders that wait, the earliest due first.
    pub rechecks: Vec<CowNote>,
    /// Handed to the vet and not yet seen.
    pub referred: Vec<CowNote>,
    /// Open lesions by code, the most first.
    pub lesions: Vec<LesionRow>,
    /// What does not fit, and what settles it.
    pub questions: Vec<QuestionRow>,
    /// The files it was read from.
    pub ledgers: Vec<LedgerRow>,
}

/// A group.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct GroupRow {
    /// Its name; none for cows without a group.
    pub name: Option<String>,
    /// Cows in it.
    pub present: usize,
    /// Of them, lame.
    pub lame: usize,
}

/// A scoring round.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RoundRow {
    /// The day.
    pub day: String,
    /// The group, if not the whole herd.
    pub group: Option<String>,
    /// The scale.
    pub scale: &'static str,
    /// Cows that walked past: the denominator.
    pub walked: u32,
    /// Lame on that day.
    pub lame: u32,
    /// Of them, severely.
    pub severe: u32,
    /// Share lame of those that walked past, in percent with one decimal.
    pub lame_percent: String,
    /// Over the target.
    pub over_target: bool,
    /// Days since, at the day of the view.
    pub days_ago: i64,
    /// A new round is due by what was agreed.
    pub round_due: bool,
    /// The tally does not add up: 0s, 1s and the lame that were named are not those that walked past, or lame cows of
    /// that day have no group.
    pub doubtful: bool,
}

/// A cow and one thing about her.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CowNote {
    /// Her number.
    pub cow: String,
    /// Her group.
    pub group: Option<String>,
    /// The day it goes by.
    pub day: String,
    /// In words.
    pub words: String,
}

/// Open cases of one lesion.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LesionRow {
    /// Its code.
    pub code: &'static str,
    /// Its name.
    pub name: &'static str,
    /// Open cases.
    pub cases: usize,
    /// On how many cows.
    pub cows: usize,
}

/// A ledger file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LedgerRow {
    /// The device.
    pub device: String,
    /// The year in its name.
    pub year: u16,
    /// Lines that hold, the head not counted.
    pub lines: usize,
    /// When the last of them was kept, UTC.
    pub last_sealed: Option<String>,
    /// The first line that does not hold, from 1, if the file is broken.
    pub first_broken: Option<usize>,
    /// Lines that cannot be read.
    pub unreadable: usize,
}

/// The herd on one page.
pub fn overview(herd: &Herd) -> Overview {
    let present = herd.present();
    let on = herd.view().on;
    let in_state = |is: fn(&LactationState) -> bool| present.iter().filter(|a| is(&a.lactation_state(on))).count();
    let (lame, lame_not_lifted) = lame(herd, &present);
    Overview {
        seen: Seen::of(herd),
        present: present.len(),
        in_milk: in_state(|state| matches!(state, LactationState::InMilk(_))),
        dry: in_state(|state| matches!(state, LactationState::Dry(_))),
        unknown: in_state(|state| matches!(state, LactationState::Unknown)),
        groups: groups(herd, &present),
        rounds: rounds(herd),
        target_lame_percent: herd.protocol().target_lame_percent,
        lame,
        lame_not_lifted,
        blocks: blocks(herd, &present),
        rechecks: rechecks(herd, &present),
        referred: referred(herd, &present),
        lesions: lesions(&present),
        questions: herd.questions().into_iter().map(|question| QuestionRow::of(herd, question)).collect(),
        ledgers: ledgers(herd),
    }
}

fn groups(herd: &Herd, present: &[&Animal]) -> Vec<GroupRow> {
    let mut groups: BTreeMap<Option<&str>, (usize, usize)> = BTreeMap::new();
    for animal in present {
        let (cows, lame) = groups.entry(herd.group(animal)).or_default();
        *cows += 1;
        *lame += usize::from(herd.is_lame(animal));
    }
    let row = |(name, (present, lame)): (Option<&str>, _)| GroupRow { name: name.map(str::to_owned), present, lame };
    groups.into_iter().map(row).collect()
}

/// The newest round of the herd first, then of each group by name, if it is newer than that.
fn rounds(herd: &Herd) -> Vec<RoundRow> {
    let mut newest: BTreeMap<Option<String>, Round> = BTreeMap::new();
    for round in herd.rounds() {
        newest.insert(round.group.clone(), round);
    }
    if let Some(whole) = newest.get(&None).map(|round| round.day) {
        newest.retain(|group, round| group.is_none() || round.day > whole);
    }
    newest.into_values().map(|round| round_row(herd, &round)).collect()
}

fn round_row(herd: &Herd, round: &Round) -> RoundRow {
    let permille = round.lame_permille();
    let days_ago = (herd.view().on - round.day).num_days();
    RoundRow {
        day: date_text(round.day),
        group: round.group.clone(),
        scale: round.tally.scale.word(),
        walked: round.tally.walked,
        lame: round.lame,
        severe: round.severe,
        lame_percent: format!("{}.{}", permille / 10, permille % 10),
        over_target: u64::from(round.lame) * 100
            > u64::from(round.tally.walked) * u64::from(herd.protocol().target_lame_percent),
        days_ago,
        round_due: days_ago >= i64::from(herd.protocol().round_days),
        doubtful: !adds_up(round),
    }
}

/// What the tally leaves after its 0s and 1s are the lame, and they have lines of their own.
fn adds_up(round: &Round) -> bool {
    let tally = &round.tally;
    if round.unplaced > 0 {
        return false;
    }
    match (tally.zeros, tally.ones) {
        (Some(zeros), Some(ones)) => zeros + ones + round.lame == tally.walked,
        _ => tally.zeros.unwrap_or(0) + tally.ones.unwrap_or(0) + round.lame <= tally.walked,
    }
}

fn lame(herd: &Herd, present: &[&Animal]) -> (Vec<CowNote>, usize) {
    let on = herd.view().on;
    let mut lame: Vec<(bool, bool, CowNote)> = Vec::new();
    for animal in present {
        let (Some(scored), Some(since)) = (animal.score(), herd.lame_since(animal)) else { continue };
        let lifted = animal.is_lifted_since(scored.observed);
        let (score, how) = (score_words(scored.score), if lifted { "lifted since" } else { "not lifted since" });
        let (scored_on, since_words) = (day_words(scored.observed.date, on), day_words(since, on));
        let words = format!("scored {score} on {scored_on}, {how}; lame since {since_words}");
        lame.push((lifted, !scored.score.is_severe(), note(herd, animal, since, words)));
    }
    lame.sort_by(|a, b| (a.0, a.1, &a.2.day).cmp(&(b.0, b.1, &b.2.day)));
    let not_lifted = lame.iter().filter(|(lifted, ..)| !lifted).count();
    (lame.into_iter().map(|(.., note)| note).collect(), not_lifted)
}

fn blocks(herd: &Herd, present: &[&Animal]) -> Vec<CowNote> {
    let on = herd.view().on;
    let of = |animal: &&Animal| {
        let row = |block: &crate::fold::Block| {
            let worn = (on - block.since).num_days();
            let allowed = i64::from(herd.protocol().block_days(block.kind));
            let over = if worn >= allowed { format!(", over its {}", days(allowed)) } else { String::new() };
            let words = format!("{} {}{over}", super::feet::block_words(*block), days(worn));
            note(herd, animal, block.since, words)
        };
        animal.blocks.iter().map(row).collect::<Vec<_>>()
    };
    by_day(present.iter().flat_map(of).collect())
}

fn rechecks(herd: &Herd, present: &[&Animal]) -> Vec<CowNote> {
    let on = herd.view().on;
    let of = |animal: &&Animal| {
        let row = |what: &'static str| {
            move |waits: &Recheck| {
                let foot = waits.foot.map_or(String::new(), |foot| format!("{foot} "));
                let late = (on - waits.due).num_days();
                let how = if late > 0 { format!(", {} late", days(late)) } else { String::new() };
                note(herd, animal, waits.due, format!("{foot}{what} due {}{how}", day_words(waits.due, on)))
            }
        };
        let rechecks = animal.rechecks.iter().map(row("recheck"));
        rechecks.chain(animal.orders.iter().map(row("vet to look again"))).collect::<Vec<_>>()
    };
    by_day(present.iter().flat_map(of).collect())
}

fn referred(herd: &Herd, present: &[&Animal]) -> Vec<CowNote> {
    let of = |animal: &&Animal| {
        let row = |referral: &crate::fold::Referral| {
            let foot = referral.foot.map_or(String::new(), |foot| format!("{foot} "));
            let day = day_words(referral.day, herd.view().on);
            note(herd, animal, referral.day, format!("{foot}referred {day}, not yet seen by the vet"))
        };
        animal.referrals.iter().map(row).collect::<Vec<_>>()
    };
    by_day(present.iter().flat_map(of).collect())
}

fn lesions(present: &[&Animal]) -> Vec<LesionRow> {
    let mut open: BTreeMap<Lesion, (usize, usize)> = BTreeMap::new();
    for animal in present {
        let mut before = None;
        let mut codes: Vec<Lesion> = animal.open_cases().iter().map(|case| case.lesion).collect();
        codes.sort();
        for code in codes {
            let (cases, cows) = open.entry(code).or_default();
            *cases += 1;
            *cows += usize::from(before != Some(code));
            before = Some(code);
        }
    }
    let row =
        |(lesion, (cases, cows)): (Lesion, _)| LesionRow { code: lesion.word(), name: lesion.name(), cases, cows };
    let mut rows: Vec<LesionRow> = open.into_iter().map(row).collect();
    rows.sort_by_key(|row| std::cmp::Reverse(row.cases));
    rows
}

fn ledgers(herd: &Herd) -> Vec<LedgerRow> {
    let row = |ledger: &crate::merge::Ledger| LedgerRow {
        device: ledger.device.clone(),
        year: ledger.year,
        lines: ledger.check.lines.saturating_sub(1),
        last_sealed: ledger
            .entries()
            .last()
            .and_then(|entry| chrono::DateTime::from_timestamp(entry.sealed, 0))
            .map(|sealed| utc_text(sealed.naive_utc())),
        first_broken: ledger.check.first_broken,
        unreadable: ledger.unreadable.len(),
    };
    herd.log().ledgers().iter().map(row).collect()
}

fn note(herd: &Herd, animal: &Animal, day: chrono::NaiveDate, words: String) -> CowNote {
    CowNote { cow: animal.number.to_string(), group: herd.group(animal).map(str::to_owned), day: date_text(day), words }
}

/// The present cows come by number, so equal days stay in that order.
fn by_day(mut notes: Vec<CowNote>) -> Vec<CowNote> {
    notes.sort_by(|a, b| a.day.cmp(&b.day));
    notes
}

impl RoundRow {
    /// "14 of 180 lame (7.8 %), 2 severely, on 2026-03-01": never a share without its denominator and day.
    pub fn words(&self) -> String {
        let Self { walked, lame, severe, lame_percent, day, .. } = self;
        let whose = self.group.as_ref().map_or(String::new(), |group| format!(" of group {group}"));
        format!(
            "{lame} of {}{whose} lame ({lame_percent} %), {severe} severely, on {day}",
            counted(i64::from(*walked), "cow")
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fold::sample::herd;

    const LINES: [&str; 9] = [
        "2026-02-20 group high tally walked 10 by ao",
        "2026-02-27 1 moved to high by ao",
        "2026-03-01 herd tally walked 13 zeros 6 ones 5 by ao",
        "2026-03-01 1 score 2 by ao",
        "2026-03-01 2 score 3 by ao",
        "2026-03-02 1 lesion DD M2 LH by kj",
        "2026-03-02 1 lesion DD M2 RH by kj",
        "2026-03-03 3 calved by ao",
        "2026-03-03 4 dried by ao",
    ];

    #[test]
    fn a_share_has_its_denominator_and_its_day() {
        let page = overview(&herd("2026-03-04", &LINES));
        assert_eq!(page.rounds.len(), 1, "a group's round before the herd's is old");
        assert_eq!(page.rounds[0].words(), "2 of 13 cows lame (15.4 %), 1 severely, on 2026-03-01");
        assert!(page.rounds[0].over_target && !page.rounds[0].round_due && !page.rounds[0].doubtful);
        let before = overview(&herd("2026-02-28", &LINES));
        assert_eq!(before.rounds[0].words(), "0 of 10 cows of group high lame (0.0 %), 0 severely, on 2026-02-20");
    }

    #[test]
    fn a_round_is_due_after_a_month_and_more_lame_than_walked_is_doubted() {
        let lines =
            ["2026-03-01 herd tally walked 1 by ao", "2026-03-01 1 score 2 by ao", "2026-03-01 2 score 2 by ao"];
        let round = |on: &str| overview(&herd(on, &lines)).rounds[0].clone();
        assert!(!round("2026-03-31").round_due && round("2026-04-01").round_due && round("2026-03-01").doubtful);
    }

    #[test]
    fn cows_are_counted_by_state_and_lesions_by_case_and_cow() {
        let page = overview(&herd("2026-03-04", &LINES));
        assert_eq!((page.present, page.in_milk, page.dry, page.unknown), (4, 1, 1, 2));
        assert_eq!((page.lesions[0].code, page.lesions[0].cases, page.lesions[0].cows), ("DD", 2, 1));
        assert_eq!((page.lame[0].cow.as_str(), page.lame_not_lifted), ("2", 1));
        assert_eq!(page.ledgers[0].lines, LINES.len());
    }
}

//! The trimmer's visits: who is lifted, in which order, and what is written of each.

use ledger_format::vocabulary::Feet;

use super::farm::{AO, Desk, Farm, KJ};
use crate::calendar::days_between;
use crate::deed::{Deed, Entry};
use crate::life::cow::{Cow, DRY_DAYS};

/// Why a cow is lifted, the most pressing first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Why {
    SeverelyLame,
    Lame,
    Recheck,
    BeforeDrying,
    EarlyLactation,
    Routine,
}

/// Cows a day in the crush.
const FULL_DAY: usize = 44;
/// Cows in a short call for lame ones.
const SHORT_CALL: usize = 16;

impl Farm {
    /// Every fourth Tuesday, Wednesday too if the list is long; short calls for lame cows between.
    pub(crate) fn visit_of_the_trimmer(&mut self) {
        match self.age() % 28 {
            10 => self.visit(FULL_DAY, Why::Routine),
            11 if self.trim_list(Why::BeforeDrying).len() > 9 => self.visit(FULL_DAY / 2, Why::EarlyLactation),
            // At first only when somebody rang; later agreed for good.
            24 if self.age() > 90 || self.chance.permille(500) => self.visit(SHORT_CALL, Why::Recheck),
            3 | 17 if self.age() > 200 && self.trim_list(Why::SeverelyLame).len() > 1 => {
                self.visit(SHORT_CALL / 2, Why::Lame);
            }
            _ => {}
        }
    }

    /// Who should be lifted today, for these reasons or more pressing ones.
    fn trim_list(&self, least: Why) -> Vec<(Why, usize)> {
        let with_reason = |at: usize| why(&self.herd.cows[at], self.day).map(|why| (why, at));
        let mut list: Vec<_> = self.herd.present().into_iter().filter_map(with_reason).collect();
        list.retain(|(why, _)| *why <= least);
        list.sort_unstable();
        list
    }

    fn visit(&mut self, most: usize, least: Why) {
        let mut list = self.trim_list(least);
        // Some are not in the gathering pen when they should be.
        list.retain(|_| !self.chance.permille(70));
        list.truncate(most);
        let mut morning = Vec::new();
        let half = list.len().div_ceil(2);
        for (nth, (why, at)) in list.into_iter().enumerate() {
            if nth == half && nth > 5 {
                let at = self.clock(11, 30);
                self.hand_in(Desk::Crush, at, std::mem::take(&mut morning));
            }
            let entries = self.lift(at, why);
            for entry in entries {
                if self.chance.permille(12) {
                    let release = self.day + self.chance.days(1, 24);
                    self.late.push((release.min(self.last), Desk::Crush, entry));
                } else {
                    morning.push(entry);
                }
            }
        }
        if self.chance.permille(350) {
            let words = self.chance.pick(AFTER_A_DAY);
            morning.push(Entry::new(self.day, KJ, "herd", vec![Deed::Note]).saying(words));
        }
        let at = self.clock(15, 40);
        self.hand_in(Desk::Crush, at, morning);
    }

    fn lift(&mut self, at: usize, why: Why) -> Vec<Entry> {
        let mut entries = Vec::new();
        let lame = why <= Why::Lame;
        if lame && self.chance.permille(130) {
            self.score_by_two(at, &mut entries);
        }
        entries.extend(self.look_again(at));
        let painful = !self.herd.cows[at].cases.is_empty();
        if painful {
            entries.extend(self.treat_all(at));
        } else if lame {
            entries.push(self.find_nothing(at));
        }
        if why >= Why::BeforeDrying {
            entries.extend(self.trim_routinely(at, painful));
        }
        let cow = &mut self.herd.cows[at];
        cow.trimmed = Some(self.day);
        cow.listed = None;
        cow.early_trim |= why == Why::EarlyLactation || cow.days_in_milk(self.day) >= 60;
        entries
    }

    /// The trimmer scores her on the way in; staff, who sent her, may have their own score of that day.
    fn score_by_two(&mut self, at: usize, entries: &mut Vec<Entry>) {
        let number = self.herd.cows[at].number.clone();
        let value = self.seen_score(at).max(1);
        let deed = self.score(at, value);
        entries.push(Entry::new(self.day, KJ, &number, vec![deed]));
        if self.chance.permille(400) {
            let value = self.seen_score(at).max(1);
            let deed = self.score(at, value);
            self.office.push(Entry::new(self.day, AO, &number, vec![deed]));
        }
    }

    /// A cow without trouble, trimmed because it is time.
    fn trim_routinely(&mut self, at: usize, painful: bool) -> Vec<Entry> {
        let feet = if self.herd.cows[at].lactation <= 1 && self.chance.permille(300) { Feet::HINDS } else { Feet::ALL };
        let measured = self.measure().filter(|_| !painful);
        let number = self.herd.cows[at].number.clone();
        let kind = ledger_format::vocabulary::TrimKind::Routine;
        let mut deeds = vec![Deed::Trim { kind, feet, measured }];
        let found = if painful { 0 } else { self.chance.weighted(&[(56, 0), (32, 1), (12, 2)]) };
        for _ in 0..found {
            let foot = self.chance.weighted(&[
                (1, ledger_format::vocabulary::Foot::LF),
                (1, ledger_format::vocabulary::Foot::RF),
                (4, ledger_format::vocabulary::Foot::LH),
                (4, ledger_format::vocabulary::Foot::RH),
            ]);
            let finding = crate::life::case::minor(foot, &mut self.chance);
            let again = |deed: &Deed| matches!(deed, Deed::Lesion(other) if other.lesion == finding.lesion && other.foot == foot);
            if !deeds.iter().any(again) {
                deeds.push(Deed::Lesion(finding));
            }
        }
        if found == 0 && !painful && self.chance.permille(500) {
            deeds.push(Deed::NoLesion(feet));
        }
        let mut entry = Entry::new(self.day, KJ, number, deeds);
        if self.chance.permille(40) {
            entry.words = Some(self.chance.pick(ABOUT_FEET).to_owned());
        }
        vec![entry]
    }
}

fn why(cow: &Cow, day: chrono::NaiveDate) -> Option<Why> {
    if cow.trimmed.is_some_and(|trimmed| days_between(trimmed, day) < 6) {
        return None;
    }
    match cow.listed {
        Some((_, 3)) => return Some(Why::SeverelyLame),
        Some(_) => return Some(Why::Lame),
        None => {}
    }
    if cow.rechecks.iter().any(|due| !due.forgotten && days_between(day, due.day) <= 4) {
        return Some(Why::Recheck);
    }
    let to_drying = cow.due.map(|due| days_between(day, due) - DRY_DAYS as i64);
    if !cow.dry && cow.lactation > 0 && to_drying.is_some_and(|days| (2..=32).contains(&days)) {
        let trimmed_lately = cow.trimmed.is_some_and(|trimmed| days_between(trimmed, day) < 40);
        return (!trimmed_lately).then_some(Why::BeforeDrying);
    }
    let milk = cow.days_in_milk(day);
    if cow.in_milk() && !cow.early_trim && (58..=120).contains(&milk) {
        return Some(Why::EarlyLactation);
    }
    let long_ago = cow.trimmed.is_none_or(|trimmed| days_between(trimmed, day) > 165);
    (cow.in_milk() && milk > 120 && long_ago).then_some(Why::Routine)
}

const AFTER_A_DAY: &[&str] = &[
    "crush washed and knives disinfected before leaving",
    "heels softer than last time, look at the scrapers",
    "two on the list not in the pen",
    "more white line than usual, check the turn by the parlour",
    "thin soles on the heifers, is the new concrete rough?",
    "rope frayed, bring a new one",
    "feet better than in winter",
];

const ABOUT_FEET: &[&str] =
    &["horn soft", "long toes", "good feet", "kicked all the way", "overgrown, do again in 3 months"];

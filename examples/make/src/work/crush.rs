//! The trimmer's visits: who is lifted, in which order, and what is written of each.

use chrono::{Datelike, Days, Weekday};
use ledger_format::vocabulary::Feet;

use super::farm::{AO, Desk, Farm, KJ};
use super::why::{Why, is_long_ago, is_near_calving, why};
use crate::deed::{Deed, Entry};
use crate::life::example;

/// Cows a day in the crush.
const FULL_DAY: usize = 46;
/// Cows on a second day.
const SECOND_DAY: usize = 34;
/// Cows in a call for lame ones, with the clippers still warm from other farms.
const CALL: usize = 16;

impl Farm {
    /// Every fourth Tuesday, Wednesday too if the list is long. On the Tuesdays between, calls for lame cows: a long one
    /// after the round, a short one two weeks after the visit, and once the farm has learnt to ring, the others. The
    /// story ends on the morning of a visit.
    pub(crate) fn visit_of_the_trimmer(&mut self) {
        let christmas = self.day.month() == 12 && (24..=28).contains(&self.day.day());
        if self.day == self.last || christmas {
            return;
        }
        let rings = self.age() > 120 || self.chance.permille(500);
        match self.age() % 28 {
            3 => self.visit(FULL_DAY, Why::Routine),
            4 if self.trim_list(Why::Routine).len() > 5 => self.visit(SECOND_DAY, Why::Routine),
            10 => self.visit(FULL_DAY, Why::EarlyLactation),
            11 if self.trim_list(Why::Lame).len() > 8 => self.visit(SECOND_DAY, Why::Lame),
            17 => self.visit(CALL, Why::EarlyLactation),
            24 if rings => self.visit(CALL, Why::EarlyLactation),
            _ if self.day.weekday() == Weekday::Fri && self.trim_list(Why::SeverelyLame).len() > 1 => {
                self.visit(CALL / 2, Why::SeverelyLame);
            }
            _ => {}
        }
    }

    /// Who should be lifted today, for these reasons or more pressing ones.
    fn trim_list(&self, least: Why) -> Vec<(Why, usize)> {
        let full = least == Why::Routine;
        let with_reason = |at: usize| why(&self.herd.cows[at], self.day, full).map(|why| (why, at));
        let mut list: Vec<_> = self.herd.present().into_iter().filter_map(with_reason).collect();
        list.retain(|(why, _)| *why <= least);
        list.sort_unstable();
        list
    }

    fn visit(&mut self, most: usize, least: Why) {
        let mut list = self.trim_list(least);
        // Some are not in the gathering pen when they should be; the worst are fetched.
        list.retain(|(why, at)| {
            *why == Why::SeverelyLame || example::is(&self.herd.cows[*at]) || !self.chance.permille(90)
        });
        list.truncate(most);
        let mut morning = Vec::new();
        let half = list.len().div_ceil(2);
        for (nth, (why, at)) in list.into_iter().enumerate() {
            if nth == half && nth > 5 {
                let at = self.clock(11, 30);
                self.hand_in(Desk::Crush, at, std::mem::take(&mut morning));
            }
            let entries = self.lift(at, why);
            if self.chance.permille(12) && !example::is(&self.herd.cows[at]) {
                // A wet page, found in a pocket days or weeks later.
                let release = (self.day + self.chance.days(1, 24)).min(self.last);
                self.late.extend(entries.into_iter().map(|entry| (release, Desk::Crush, entry)));
            } else {
                morning.extend(entries);
            }
        }
        morning.extend(self.looks_of_the_day());
        if self.age() % 140 == 59 {
            morning.extend(self.trim_of_another());
        }
        if self.chance.permille(350) {
            let words = self.chance.pick(AFTER_A_DAY);
            morning.push(Entry::new(self.day, KJ, "herd", vec![Deed::Note]).saying(words));
        }
        let at = self.clock(15, 40);
        self.hand_in(Desk::Crush, at, morning);
    }

    /// A trim written under the number of a cow that was dry in the paddock. Staff see it and strike it the next day.
    fn trim_of_another(&mut self) -> Option<Entry> {
        let is_away = |at: &usize| self.herd.cows[*at].dry && is_near_calving(&self.herd.cows[*at], self.day);
        let at = self.herd.present().into_iter().find(is_away)?;
        let number = self.herd.cows[at].number.clone();
        let strike = Deed::Strike(format!("{{LAST:{number}:trim:{}}}", Desk::Crush.device()));
        let entry = Entry::new(self.day + Days::new(1), AO, &number, vec![strike]);
        let words = "wrong cow, she was dry in the paddock that day";
        self.late.push((entry.day, Desk::Office, entry.saying(words)));
        let trim = Deed::Trim { kind: ledger_format::vocabulary::TrimKind::Routine, feet: Feet::ALL, measured: None };
        Some(Entry::new(self.day, KJ, number, vec![trim]))
    }

    fn lift(&mut self, at: usize, why: Why) -> Vec<Entry> {
        let mut entries = Vec::new();
        let lame = why <= Why::Lame;
        if lame && self.chance.permille(90) {
            self.score_by_two(at, &mut entries);
        }
        let long_ago = is_long_ago(&self.herd.cows[at], self.day, if lame { 120 } else { 150 });
        let spare = !is_near_calving(&self.herd.cows[at], self.day);
        let whole = why >= Why::BeforeDrying || long_ago && spare && self.chance.permille(700);
        if whole {
            // Nothing on her feet is forgotten any more once all four have been in the hand.
            self.herd.cows[at].blocks.iter_mut().for_each(|block| block.forgotten = false);
        }
        entries.extend(self.look_again(at));
        entries.extend(self.treat_all(at, KJ));
        if lame && entries.iter().all(|entry| matches!(entry.deeds[..], [Deed::Score { .. }])) {
            entries.push(self.look_at_the_lame(at, KJ));
        }
        if whole {
            let painful = !self.herd.cows[at].cases.is_empty();
            entries.extend(self.trim_routinely(at, painful));
        }
        let cow = &mut self.herd.cows[at];
        cow.lifted = Some(self.day);
        cow.listed = None;
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
        deeds.extend(self.undress(at));
        let cow = &mut self.herd.cows[at];
        (cow.routine, cow.planned) = (Some(self.day), Some(self.day));
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

//! Scoring rounds by exception: everybody walks past, the sound are counted, the lame are named.

use chrono::Days;
use ledger_format::vocabulary::Scale;

use super::farm::{AO, Desk, Farm, TB};
use crate::deed::{Deed, Entry};
use crate::life::cow::{FRESH, HIGH, LOW, STRAW};
use crate::life::example;

impl Farm {
    /// A round every fourth Monday, the day before the long call for lame cows. Every fourth one goes group by group.
    pub(crate) fn round(&mut self) {
        if self.age() % 28 != 9 {
            return;
        }
        let nth = self.age() / 28;
        let by = if nth % 3 == 1 { TB } else { AO };
        let mut entries = Vec::new();
        if nth % 4 == 1 {
            for group in [FRESH, HIGH, LOW, STRAW] {
                entries.extend(self.walk(&[group], format!("group {group}"), by));
            }
        } else {
            entries = self.walk(&[FRESH, HIGH, LOW, STRAW], "herd".to_owned(), by);
        }
        if nth % 4 == 0 {
            entries.extend(self.second_opinion(&entries, by));
        }
        let at = self.clock(8, 40);
        self.hand_in(Desk::Office, at, entries);
    }

    fn walk(&mut self, groups: &[&str], subject: String, by: &'static str) -> Vec<Entry> {
        let (mut counts, mut lame) = ([0_u32; 4], Vec::new());
        for at in self.herd.present() {
            let cow = &self.herd.cows[at];
            // A few slip past the gate, or lie down in the far corner.
            if !cow.in_milk() || !groups.contains(&cow.group) || self.chance.permille(15) {
                continue;
            }
            let value = self.seen_score(at);
            counts[usize::from(value)] += 1;
            if value >= 2 {
                let deed = self.score(at, value);
                lame.push(Entry::new(self.day, by, &self.herd.cows[at].number, vec![deed]));
                self.list(at, value);
            }
        }
        let walked = counts.iter().sum();
        if walked == 0 {
            return Vec::new();
        }
        let tally = Deed::Tally { walked, zeros: counts[0], ones: counts[1] };
        let mut entries = vec![Entry::new(self.day, by, subject, vec![tally])];
        entries.extend(lame);
        entries
    }

    /// What a person sees, which is not always what is.
    pub(crate) fn seen_score(&mut self, at: usize) -> u8 {
        if example::is(&self.herd.cows[at]) {
            return self.herd.cows[at].pain();
        }
        let odds: &[(u32, u8)] = match self.herd.cows[at].pain() {
            0 => &[(800, 0), (185, 1), (15, 2)],
            1 => &[(150, 0), (740, 1), (110, 2)],
            2 => &[(110, 1), (850, 2), (40, 3)],
            _ => &[(110, 2), (890, 3)],
        };
        self.chance.weighted(odds)
    }

    /// That score as it is noted: often with the leg, now and then with the finer half.
    pub(crate) fn score(&mut self, at: usize, value: u8) -> Deed {
        let cow = &self.herd.cows[at];
        let foot = cow.worst().map(|worst| cow.cases[worst].finding.foot);
        let half = (value >= 2 && self.chance.permille(120)).then(|| self.chance.pick(&['a', 'b']));
        let foot = foot.filter(|_| value >= 2 && self.chance.permille(420));
        Deed::Score { value, half, scale: Scale::Mobility, foot }
    }

    /// She is to be lifted.
    pub(crate) fn list(&mut self, at: usize, value: u8) {
        let (since, before) = self.herd.cows[at].listed.unwrap_or((self.day, value));
        self.herd.cows[at].listed = Some((since, value.max(before)));
        // Three times in the story the worst of a round is on everybody's list and in nobody's mind until the next visit.
        if value == 3
            && self.age() % 140 == 121
            && self.herd.cows.iter().all(|cow| cow.overlooked.is_none_or(|until| until <= self.day))
        {
            self.herd.cows[at].overlooked = Some(self.day + Days::new(22));
        }
    }

    /// The other scorer walks along for practice and does not always agree.
    fn second_opinion(&mut self, entries: &[Entry], by: &'static str) -> Vec<Entry> {
        let other = if by == AO { TB } else { AO };
        let mut second = Vec::new();
        for entry in entries.iter().filter(|entry| entry.subject != "herd").take(16) {
            if let [Deed::Score { value, .. }] = entry.deeds[..] {
                let value = if self.chance.permille(550) { value } else { self.chance.pick(&[1, 2, 3]) };
                let deed = Deed::Score { value, half: None, scale: Scale::Mobility, foot: None };
                second.push(Entry::new(self.day, other, &entry.subject, vec![deed]));
            }
        }
        second
    }
}

//! The vet's visits: the referred feet, medicines, and a look at the herd with other scales.

use chrono::{Datelike, NaiveTime, TimeDelta};
use ledger_format::vocabulary::{Lesion, Scale};

use super::farm::{Desk, Farm, MW};
use super::remedy::{MORDELIX, OVELMAR, PEDIREL};
use crate::deed::{Deed, Entry};

impl Farm {
    /// Every second Thursday, but not at Christmas.
    pub(crate) fn visit_of_the_vet(&mut self) {
        let christmas = (self.day.month(), self.day.day()) == (12, 25);
        if self.age() % 14 != 5 || christmas {
            return;
        }
        let mut entries = Vec::new();
        for (nth, (at, foot)) in std::mem::take(&mut self.referrals).into_iter().enumerate() {
            if !self.herd.cows[at].gone {
                entries.extend(self.examine(at, foot, nth as i64));
            }
        }
        if self.age() % 70 == 5 {
            entries.extend(self.walk_with_other_scales());
        }
        if entries.is_empty() || self.chance.permille(250) {
            let words = self.chance.pick(ADVICE);
            entries.push(Entry::new(self.day, MW, "herd", vec![Deed::Note]).saying(words));
        }
        let at = self.clock(13, 10);
        self.hand_in(Desk::Vet, at, entries);
    }

    fn examine(&mut self, at: usize, foot: ledger_format::vocabulary::Foot, nth: i64) -> Vec<Entry> {
        let day = self.day;
        let number = self.herd.cows[at].number.clone();
        // About ten minutes a cow, from nine in the morning.
        let minutes = 9 * 60 + 10 * nth + i64::from(self.chance.below(9));
        let time = NaiveTime::MIN + TimeDelta::minutes(minutes);
        let Some(nth) = self.herd.cows[at].case_on(foot) else {
            let seen = Deed::Seen { foot, due: None };
            self.herd.cows[at].listed = None;
            return vec![Entry::new(day, MW, number, vec![seen]).saying("healed before I came")];
        };
        let again = self.chance.permille(300);
        let due = again.then(|| day + chrono::Days::new(self.chance.pick(&[10, 12, 14])));
        let mut deeds = vec![Deed::Seen { foot, due }];
        let finding = self.herd.cows[at].cases[nth].finding;
        let deep = matches!(finding.lesion, Lesion::TN | Lesion::SW | Lesion::SU | Lesion::WLA);
        let put_right = self.call_by_its_name(at, nth);
        if put_right.is_none() && self.chance.permille(600) {
            deeds.push(Deed::Lesion(finding));
        }
        if !again {
            deeds.extend(self.look_later(at, foot));
        }
        let mut given = Vec::new();
        if deep && self.chance.permille(550) {
            given.push(self.dose(&MORDELIX, "deep infection of the claw"));
        } else if self.chance.permille(350) {
            given.push(self.dose(&PEDIREL, "septic foot"));
        }
        if self.chance.permille(600) {
            given.push(self.dose(&OVELMAR, "pain"));
        }
        let mut entry = Entry::new(day, MW, &number, deeds);
        entry.time = self.chance.permille(450).then_some(time);
        entry.words = self.chance.permille(700).then(|| {
            let says = if self.herd.cows[at].cases[nth].is_of_skin() { OF_SKIN } else { OF_HORN };
            self.chance.pick(says).to_owned()
        });
        let time = entry.time;
        let mut entries = vec![entry];
        entries.extend(put_right);
        for dose in given {
            let mut entry = Entry::new(day, MW, &number, vec![Deed::Medicine(dose)]);
            entry.time = time;
            entries.push(entry);
        }
        self.after_the_vet(at, nth, again);
        let cow = &mut self.herd.cows[at];
        (cow.lifted, cow.listed) = (Some(day), None);
        entries
    }

    /// Some of the worst feet turn; the others stay as they are and show in the culling list.
    fn after_the_vet(&mut self, at: usize, nth: usize, again: bool) {
        let case = &mut self.herd.cows[at].cases[nth];
        case.treated += 1;
        case.last = Some(self.day);
        if self.chance.permille(420) {
            case.turn(self.day, &mut self.chance);
        } else if case.may_last() && self.chance.permille(500) {
            case.chronic = true;
        }
        case.referred = again;
        if again {
            let foot = case.finding.foot;
            self.referrals.push((at, foot));
        }
    }

    /// Students, assurers and papers use other scales; the vet notes a few cows on theirs.
    fn walk_with_other_scales(&mut self) -> Vec<Entry> {
        let scale = [Scale::Five, Scale::Wq, Scale::Nz, Scale::Three][(self.age() / 70) as usize % 4];
        let mut entries = Vec::new();
        let present = self.herd.present();
        for at in present.into_iter().filter(|at| at % 19 == 3).take(7) {
            let pain = self.herd.cows[at].pain();
            let value = match scale {
                Scale::Five => pain + 1,
                Scale::Wq => pain.saturating_sub(1),
                Scale::Three => pain.max(1),
                _ => pain,
            };
            let deed = Deed::Score { value, half: None, scale, foot: None };
            entries.push(Entry::new(self.day, MW, &self.herd.cows[at].number, vec![deed]));
            if pain >= 2 {
                self.list(at, pain);
            }
        }
        entries
    }
}

const OF_SKIN: &[&str] = &[
    "cleaned and sprayed, dry straw please",
    "chronic skin, cut back",
    "more bath than knife for this one",
    "better than it smelled",
];

const OF_HORN: &[&str] = &[
    "flushed, drain in, keep on straw",
    "joint not involved, I think",
    "joint involved, outlook poor",
    "talked about taking the claw off, farmer to decide",
    "cull if not better at the next visit",
    "better than it smelled",
    "opened and left to drain",
];

const ADVICE: &[&str] = &[
    "went through the lameness list with the farm, 48 hours from seen to lifted is the aim",
    "copper is strong enough at 5, change it every 200 cows",
    "heifers have digital dermatitis before they calve, bath them too",
    "pain relief for every new block, please",
    "stand in the collecting yard no longer than 90 minutes",
    "good month, no new deep cases",
];

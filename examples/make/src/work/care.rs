//! Painful feet that are looked at again although nothing else brings the cow into the crush.

use chrono::Days;
use ledger_format::vocabulary::{Feet, Foot, RecheckFinding, TrimKind};

use super::farm::{Farm, KJ};
use crate::calendar::days_between;
use crate::deed::{Deed, Entry};
use crate::life::cow::Due;
use crate::life::example;

impl Farm {
    /// A day for another look at a foot whose lesion alarms, where no other was set: with those, nine in ten.
    pub(crate) fn look_later(&mut self, at: usize, foot: Foot) -> Option<Deed> {
        let alarms = self.herd.cows[at].case_on(foot).is_some_and(|nth| self.herd.cows[at].cases[nth].finding.alarms());
        if !alarms || example::is(&self.herd.cows[at]) || !self.care.permille(820) {
            return None;
        }
        let due = self.day + Days::new(self.care.pick(&[14, 20, 26, 27]));
        let cow = &mut self.herd.cows[at];
        cow.looks.retain(|look| look.foot != foot);
        cow.looks.push(Due { day: due, foot, forgotten: false });
        Some(Deed::RecheckDue { due, foot })
    }

    /// Lifted or looked at otherwise: that was the look.
    pub(crate) fn was_looked_at(&mut self, at: usize, foot: Foot) {
        self.herd.cows[at].looks.retain(|look| look.foot != foot);
    }

    /// The feet that are looked at and nothing else, whatever day of this week they were to be.
    pub(crate) fn looks_of_the_day(&mut self) -> Vec<Entry> {
        let mut entries = Vec::new();
        for at in self.herd.present() {
            let day = self.day;
            let is_due = |look: &&Due| days_between(day, look.day) <= 6;
            let feet: Vec<Foot> = self.herd.cows[at].looks.iter().filter(is_due).map(|look| look.foot).collect();
            for foot in feet {
                entries.push(self.only_look(at, foot));
            }
        }
        entries
    }

    fn only_look(&mut self, at: usize, foot: Foot) -> Entry {
        self.was_looked_at(at, foot);
        let cow = &self.herd.cows[at];
        let found = match cow.case_on(foot).map(|nth| &cow.cases[nth]) {
            None => RecheckFinding::Sound,
            Some(case) if case.heals.is_some() => RecheckFinding::Better,
            Some(_) => RecheckFinding::Same,
        };
        let mut deeds = vec![Deed::RecheckFound { found, foot }];
        if found == RecheckFinding::Better && self.care.permille(700) {
            deeds.push(Deed::Trim { kind: TrimKind::Check, feet: Feet::one(foot), measured: None });
        } else {
            deeds.extend(self.look_later(at, foot));
        }
        Entry::new(self.day, KJ, &self.herd.cows[at].number, deeds)
    }
}

//! Human slips, a handful of each: late entries, reports of what never was, corrections; and witnessing.

use chrono::{Datelike, NaiveDate};
use ledger_format::vocabulary::{Foot, Lesion, Scale, Stage};

use super::farm::{AO, Desk, Farm, MW, Sheet, TB};
use crate::calendar::FIRST_DAY;
use crate::deed::{Deed, Entry, Finding};

/// The lost phone never kept a line, so nothing of it counts.
const NOTHING: &str = "0000000000000000000000000000000000000000000000000000000000000000";

impl Farm {
    /// Today's slips.
    pub(crate) fn slip(&mut self) {
        if self.age() == 75 {
            let text = format!("revoke old-phone after {NOTHING}");
            self.office.push(Entry::new(self.day, AO, "herd", vec![Deed::Charter(text)]));
        }
        if self.is_nth_day(61, 33) {
            self.report_a_block_that_never_was();
        }
        if self.is_nth_day(83, 50) {
            self.score_a_cow_that_left();
        }
        if self.is_nth_day(120, 11) {
            self.forget_a_block();
        }
        self.put_off();
    }

    fn report_a_block_that_never_was(&mut self) {
        let never = self.herd.present().into_iter().filter(|at| self.herd.cows[*at].blocks.is_empty());
        let never: Vec<usize> = never.collect();
        if never.is_empty() {
            return;
        }
        let at = self.chance.pick(&never);
        let foot = self.chance.pick(&[Foot::LH, Foot::RH]);
        let entry = Entry::new(self.day, TB, &self.herd.cows[at].number, vec![Deed::BlockGone { lost: true, foot }]);
        self.office.push(entry.saying("think it was hers"));
    }

    fn score_a_cow_that_left(&mut self) {
        if let Some((number, _)) = self.herd.left.last().cloned() {
            let deed = Deed::Score { value: 2, half: None, scale: Scale::Mobility, foot: None };
            self.office.push(Entry::new(self.day, TB, number, vec![deed]));
        }
    }

    /// Some of what was seen today is only remembered days or weeks later.
    fn put_off(&mut self) {
        let today = self.day;
        let mut kept = Vec::new();
        for entry in std::mem::take(&mut self.office) {
            let may_wait = matches!(
                entry.deeds[0],
                Deed::Score { .. } | Deed::Medicine(_) | Deed::Bath { .. } | Deed::BlockGone { .. } | Deed::Lesion(_)
            );
            if entry.day == today && may_wait && self.chance.permille(22) {
                let release = today + self.chance.days(4, 27);
                self.late.push((release.min(self.last), Desk::Office, entry));
            } else {
                kept.push(entry);
            }
        }
        self.office = kept;
    }

    /// Once a month each device writes how far it has seen the others.
    pub(crate) fn witness(&mut self, desk: Desk, day: NaiveDate) -> Vec<Entry> {
        let month = |day: NaiveDate| (day.year(), day.month());
        let newest = self.sheets.iter().rev().find(|sheet| sheet.desk == desk).map(|sheet| sheet.at.date());
        if day == FIRST_DAY || newest.is_some_and(|newest| month(newest) == month(day)) {
            return Vec::new();
        }
        Desk::ALL
            .into_iter()
            .filter(|other| *other != desk)
            .map(|other| Deed::Charter(format!("witness {{WITNESS:{}}}", other.device())))
            .map(|deed| Entry::new(day, desk.person(), "herd", vec![deed]))
            .collect()
    }

    /// The newest line about that cow with that act on that desk, as it stands there by now: its day and the deed.
    fn newest_of(&self, desk: Desk, number: &str, word: &str) -> Option<(NaiveDate, &Deed)> {
        let about = |sheet: &Sheet| sheet.desk == desk && sheet.entries.iter().any(|entry| says(entry, number, word));
        let sheet = self.sheets.iter().filter(|sheet| about(sheet)).max_by_key(|sheet| sheet.at)?;
        let entry = sheet.entries.iter().rfind(|entry| says(entry, number, word))?;
        let deed = entry.deeds.iter().rfind(|deed| deed.word() == word)?;
        Some((entry.day, deed))
    }

    /// The vet, looking at a foot, calls the lesion by its right name in the trimmer's own line.
    pub(crate) fn call_by_its_name(&mut self, at: usize, nth: usize) -> Option<Entry> {
        let cow = &self.herd.cows[at];
        let wrong = cow.cases[nth].finding;
        let right = renamed(wrong).filter(|_| self.chance.permille(130))?;
        let (day, deed) = self.newest_of(Desk::Crush, &cow.number, "lesion")?;
        if !matches!(deed, Deed::Lesion(typed) if (typed.lesion, typed.foot) == (wrong.lesion, wrong.foot)) {
            return None;
        }
        let mut entry = Entry::new(day, MW, &cow.number, vec![Deed::Lesion(right)]);
        entry.replaces = Some(format!("{{LAST:{}:lesion:{}}}", cow.number, Desk::Crush.device()));
        self.herd.cows[at].cases[nth].finding = right;
        Some(entry)
    }

    /// Puts a mistake into a sitting now and then, and gives the entries that set it right later.
    pub(crate) fn spoil(&mut self, desk: Desk, entries: &mut Vec<Entry>) -> Vec<Entry> {
        if self.day == FIRST_DAY || !self.chance.permille(75) {
            return Vec::new();
        }
        self.corrected += 1;
        if self.corrected.is_multiple_of(4) {
            return self.strike_later(desk, entries);
        }
        let start = self.chance.below(entries.len() as u32) as usize;
        for step in 0..entries.len() {
            let nth = (start + step) % entries.len();
            if let Some(correction) = spoil_one(entries, nth) {
                return vec![correction];
            }
        }
        Vec::new()
    }

    /// A score on the wrong cow: typed, then struck.
    fn strike_later(&mut self, desk: Desk, entries: &mut Vec<Entry>) -> Vec<Entry> {
        let present = self.herd.present();
        if present.is_empty() {
            return Vec::new();
        }
        let at = self.chance.pick(&present);
        let number = self.herd.cows[at].number.clone();
        if entries.iter().any(|entry| entry.subject == number) {
            return Vec::new();
        }
        let day = self.day;
        let deed = Deed::Score { value: 2, half: None, scale: Scale::Mobility, foot: None };
        entries.push(Entry::new(day, desk.person(), &number, vec![deed]));
        let strike = Deed::Strike(format!("{{LAST:{number}:score}}"));
        let words = self.chance.pick(&["wrong cow", "misread the brand", "typed twice"]);
        vec![Entry::new(day, desk.person(), number, vec![strike]).saying(words)]
    }
}

fn says(entry: &Entry, number: &str, word: &str) -> bool {
    entry.subject == number && entry.deeds.iter().any(|deed| deed.word() == word)
}

/// Lesions that look like another from outside, as the vet calls them.
fn renamed(finding: Finding) -> Option<Finding> {
    let lesion = match finding.lesion {
        Lesion::SW => Lesion::IP,
        Lesion::TU => Lesion::TN,
        Lesion::WLF => Lesion::WLA,
        Lesion::SHC | Lesion::U => Lesion::SU,
        Lesion::IH => Lesion::DD,
        _ => return None,
    };
    let stage = (lesion == Lesion::DD).then_some(Stage::M2);
    let zone = match lesion {
        Lesion::SU => Some(4),
        Lesion::IP | Lesion::DD => Some(0),
        _ => finding.zone,
    };
    Some(Finding { lesion, stage, zone, ..finding })
}

/// Makes one deed of this entry wrong, if that can be told apart afterwards, and gives its correction.
fn spoil_one(entries: &mut [Entry], nth: usize) -> Option<Entry> {
    let subject = entries[nth].subject.clone();
    let mut of_cow: Vec<String> = Vec::new();
    for entry in entries.iter().filter(|entry| entry.subject == subject) {
        of_cow.extend(entry.deeds.iter().map(Deed::word));
    }
    let entry = &mut entries[nth];
    for deed in &mut entry.deeds {
        let word = deed.word();
        let Some(wrong) = wrong(deed).filter(|_| of_cow.iter().filter(|other| **other == word).count() == 1) else {
            continue;
        };
        let right = std::mem::replace(deed, wrong);
        let mut correction = Entry::new(entry.day, entry.by, &subject, vec![right]);
        correction.time = entry.time;
        correction.replaces = Some(format!("{{LAST:{subject}:{word}}}"));
        return Some(correction);
    }
    None
}

/// How this deed is easily written wrong.
fn wrong(deed: &Deed) -> Option<Deed> {
    let other = |foot| if foot == Foot::RH { Foot::LH } else { Foot::RH };
    match deed.clone() {
        Deed::Score { value: value @ 2..=3, half, scale: Scale::Mobility, foot } => {
            Some(Deed::Score { value: 5 - value, half, scale: Scale::Mobility, foot })
        }
        Deed::Lesion(mut finding) => {
            finding.claw = Some(finding.claw?.other());
            Some(Deed::Lesion(finding))
        }
        Deed::BlockOn { foot, claw, kind } => Some(Deed::BlockOn { foot, claw: claw.other(), kind }),
        Deed::BlockGone { lost, foot } => Some(Deed::BlockGone { lost, foot: other(foot) }),
        Deed::Medicine(mut dose) => {
            dose.amount *= 2;
            Some(Deed::Medicine(dose))
        }
        _ => None,
    }
}

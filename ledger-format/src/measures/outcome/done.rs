//! What was done at a treatment, as recorded.

use chrono::{NaiveDate, TimeDelta};

use crate::fold::Life;
use crate::merge::Event;

/// What was done on the day of a lifting and the day after.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Done {
    trim: bool,
    block: bool,
    dressing: bool,
    medicine: bool,
}

impl Done {
    /// A trim and nothing else.
    pub(super) const TRIM: Self = Self { trim: true, block: false, dressing: false, medicine: false };

    pub(super) fn of(life: &Life<'_>, day: NaiveDate) -> Self {
        let last = day + TimeDelta::days(1);
        let mut done = Self::default();
        let from = life.told.partition_point(|told| told.entry.observed.date < day);
        for told in life.told[from..].iter().take_while(|told| told.entry.observed.date <= last) {
            match told.entry.event {
                Event::Trim { .. } => done.trim = true,
                Event::BlockOn { .. } => done.block = true,
                Event::DressingOn(_) => done.dressing = true,
                Event::Medicine { .. } => done.medicine = true,
                _ => {}
            }
        }
        done
    }

    /// "trim and block", "trim, dressing and medicine", "looked at".
    pub(super) fn words(self) -> String {
        let all =
            [(self.trim, "trim"), (self.block, "block"), (self.dressing, "dressing"), (self.medicine, "medicine")];
        let done: Vec<&str> = all.into_iter().filter(|(is, _)| *is).map(|(_, word)| word).collect();
        match done.as_slice() {
            [] => "looked at".to_owned(),
            [one] => (*one).to_owned(),
            [first @ .., last] => format!("{} and {last}", first.join(", ")),
        }
    }
}

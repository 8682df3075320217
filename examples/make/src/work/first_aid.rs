//! What staff do with their own hands: dressings cut off, lost blocks picked up, the worst cows lifted.

use super::farm::{AO, Farm, TB};
use crate::calendar::days_between;
use crate::deed::{Deed, Entry};

impl Farm {
    /// A block on the floor of the parlour: half of them are found and told.
    pub(crate) fn find_lost_block(&mut self, at: usize) {
        let day = self.day;
        let cow = &mut self.herd.cows[at];
        let Some(nth) = cow.blocks.iter().position(|block| block.falls <= day && !block.forgotten) else { return };
        if self.chance.permille(60) {
            let foot = cow.blocks.remove(nth).foot;
            let by = if self.chance.permille(400) { TB } else { AO };
            let mut entry = Entry::new(day, by, &cow.number, vec![Deed::BlockGone { lost: true, foot }]);
            entry.words = self.chance.permille(300).then(|| "found in the parlour".to_owned());
            self.office.push(entry);
        }
    }

    /// Dressings come off in the parlour, a few days after they went on.
    pub(crate) fn cut_off_dressings(&mut self, at: usize) {
        let day = self.day;
        let cow = &mut self.herd.cows[at];
        while let Some(nth) = cow.dressings.iter().position(|dressing| dressing.off.is_some_and(|off| off <= day)) {
            let foot = cow.dressings.remove(nth).foot;
            let by = if self.chance.permille(500) { TB } else { AO };
            self.office.push(Entry::new(day, by, &cow.number, vec![Deed::Dressing { on: false, foot }]));
        }
    }

    /// A severely lame cow does not wait a week for the trimmer: staff lift what they dare to.
    pub(crate) fn lift_by_staff(&mut self, at: usize) {
        let day = self.day;
        let cow = &self.herd.cows[at];
        let waits = matches!(cow.listed, Some((since, 3)) if days_between(since, day) >= 1);
        let overlooked = cow.overlooked.is_some_and(|until| until > day);
        let trimmer_comes = matches!(self.age() % 28, 2 | 9 | 16) || day == self.last;
        if !waits || overlooked || trimmer_comes || !self.chance.permille(550) {
            return;
        }
        let by = if self.chance.permille(300) { TB } else { AO };
        let mut entries = self.treat_all(at, by);
        if entries.is_empty() {
            entries.push(self.look_at_the_lame(at, by));
        }
        self.office.extend(entries);
        let cow = &mut self.herd.cows[at];
        (cow.lifted, cow.listed) = (Some(day), None);
    }

    /// Now and then a block is put on and clean forgotten, until all her feet are trimmed again.
    pub(crate) fn forget_a_block(&mut self) {
        let lately = |at: &usize| self.herd.cows[*at].blocks.iter().any(|block| days_between(block.on, self.day) < 14);
        let at = self.herd.present().into_iter().find(lately);
        if let Some(block) = at.and_then(|at| self.herd.cows[at].blocks.last_mut()) {
            block.forgotten = true;
        }
    }
}

//! Handwriting: how each person puts what happened into typed lines (`spec/typing.md`).

pub(crate) mod page;
mod register;
mod say;
mod staff;
mod trimmer;
mod vet;

use ledger_format::vocabulary::{Claw, Feet, Foot, Lesion};

use crate::chance::Chance;
use crate::deed::{Deed, Entry};
use crate::work::farm::Desk;

/// Words that all mean the same to this person.
pub(crate) type Words = &'static [&'static str];

/// One person's way of typing.
pub(crate) struct Hand {
    /// LF RF LH RH.
    feet: [Words; 4],
    /// Inner, outer.
    claws: [Words; 2],
    lesion: fn(Lesion) -> Words,
    trim: Words,
    /// Routine, lame, check.
    kinds: [Words; 3],
    all_feet: Words,
    hinds: Words,
    no_lesion: Words,
    block: Words,
    block_off: Words,
    block_lost: Words,
    dressing: Words,
    recheck: Words,
    /// Sound, better, same, worse.
    found: [Words; 4],
    score: Words,
    tally: Words,
    refer: Words,
    seen: Words,
    medicine: Words,
    bath: Words,
    note: Words,
    strike: Words,
    /// Permille of leaving out what the reader can tell anyway.
    brief: u32,
    /// Permille of several scored cows on one line.
    together: u32,
    /// Permille of sittings typed in an editor with Windows line ends.
    crlf: u32,
}

impl Hand {
    /// Who types at that desk.
    pub(crate) fn of(desk: Desk) -> &'static Self {
        match desk {
            Desk::Crush => &trimmer::HAND,
            Desk::Office => &staff::HAND,
            Desk::Vet => &vet::HAND,
        }
    }

    fn foot(&self, foot: Foot, chance: &mut Chance) -> &'static str {
        chance.pick(self.feet[foot as usize])
    }

    fn claw(&self, claw: Claw, chance: &mut Chance) -> &'static str {
        chance.pick(self.claws[claw as usize])
    }

    /// A whole typed line, without date and person.
    pub(crate) fn line(&self, entry: &Entry, chance: &mut Chance) -> String {
        let mut so_far = SoFar { alone: entry.deeds.len() == 1, ..SoFar::default() };
        let mut parts = Vec::new();
        for deed in &entry.deeds {
            parts.push(self.deed(deed, entry.day, &so_far, chance));
            so_far.add(deed);
        }
        let subject = subject(&entry.subject, chance);
        let replaces = entry.replaces.as_ref().map(|mark| format!(" replaces {mark}")).unwrap_or_default();
        format!("{subject} {}{replaces}", parts.join(", "))
    }

    /// The line's free words with what leads to them.
    pub(crate) fn words(entry: &Entry, chance: &mut Chance) -> String {
        let Some(words) = &entry.words else { return String::new() };
        let may = matches!(entry.deeds.last(), Some(Deed::Strike(_) | Deed::Refer(_)));
        if may && chance.permille(600) { format!(" because {words}") } else { format!(": {words}") }
    }
}

/// What the line has said already, and need not be said again.
#[derive(Default)]
pub(crate) struct SoFar {
    /// Each foot that was named by itself.
    feet: Feet,
    lesion: bool,
    /// The line has one act only.
    alone: bool,
}

impl SoFar {
    fn add(&mut self, deed: &Deed) {
        self.feet = deed.foot().map_or(self.feet, |foot| self.feet.and(Feet::one(foot)));
        self.lesion |= matches!(deed, Deed::Lesion(_));
    }

    /// The foot that goes without saying: the only one named.
    fn foot(&self) -> Option<Foot> {
        if self.feet.count() == 1 { self.feet.iter().next() } else { None }
    }
}

/// A cow's number as people write it.
fn subject(subject: &str, chance: &mut Chance) -> String {
    if !subject.starts_with(|first: char| first.is_ascii_digit()) {
        return subject.to_owned();
    }
    match chance.below(60) {
        0 => format!("#{subject}"),
        1 => format!("cow {subject}"),
        2 => format!("0{subject}"),
        3..=40 => subject.to_lowercase(),
        _ => subject.to_owned(),
    }
}

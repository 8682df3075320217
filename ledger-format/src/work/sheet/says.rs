//! What a visit's lines say of a cow, in words, foot by foot.

use std::fmt::Write;

use chrono::NaiveDate;

use super::super::card::waiting_words;
use super::super::feet::block_words;
use super::super::words::{case_words, day_words, days, score_words};
use super::{FootRow, foot_order};
use crate::fold::{Animal, Herd};
use crate::line::{Act, Finding, Line, Medicine, Trim};
use crate::vocabulary::{Claw, Feet, Foot};

/// A cow's visit in words.
#[derive(Default)]
pub(super) struct Says {
    pub(super) feet: Vec<FootRow>,
    pub(super) cow_words: Vec<String>,
    pub(super) rechecks: Vec<String>,
}

impl Says {
    pub(super) fn of(lines: &[Line<'_>], on: NaiveDate) -> Self {
        let mut says = Self::default();
        for line in lines {
            says.take(line, on);
        }
        says.cow_words.dedup();
        says.feet.sort_by_key(|row| foot_order(row.foot));
        says
    }

    fn take(&mut self, line: &Line<'_>, on: NaiveDate) {
        let more = line.words.map_or(String::new(), |words| format!(": {words}"));
        let claw = |claw: Option<Claw>| claw.map_or(String::new(), |claw| format!("{claw} "));
        match line.act {
            Act::Lesion(finding) => self.found(Feet::one(finding.foot), &(finding_words(finding) + &more)),
            Act::NoLesion(feet) => self.found(feet, &format!("no lesion{more}")),
            Act::Trim(trim) => self.done(trim.feet, &(trim_words(trim) + &more)),
            Act::BlockOn { foot, claw, kind } => {
                let kind = kind.map_or(String::new(), |kind| format!("{kind} "));
                self.done(Feet::one(foot), &format!("{kind}block on {claw}{more}"));
            }
            Act::BlockGone { lost, foot, claw: of } => {
                let how = if lost { "lost" } else { "taken off" };
                self.done(Feet::one(foot), &format!("{}block {how}{more}", claw(of)));
            }
            Act::DressingOn(foot) => self.done(Feet::one(foot), &format!("dressing on{more}")),
            Act::DressingOff(foot) => self.done(Feet::one(foot), &format!("dressing taken off{more}")),
            Act::RecheckDue { due, foot } => self.rechecks.push(recheck_words(due, foot, on) + &more),
            Act::RecheckFound { found, foot: Some(foot) } => {
                self.found(Feet::one(foot), &format!("recheck: {found}{more}"));
            }
            Act::Medicine(medicine) => self.cow_words.push(medicine_words(&medicine) + &more),
            Act::Score(score) => {
                let foot = score.foot.map_or(String::new(), |_| format!("{} suspected", of(score.foot)));
                self.cow_words.push(format!("scored {}{foot}{more}", score_words(score)));
            }
            Act::Refer { foot } => self.cow_words.push(format!("to the vet{}{more}", of(foot))),
            Act::Seen { foot, due } => {
                let due = due.map_or(String::new(), |due| format!(", again {}", day_words(due, on)));
                self.cow_words.push(format!("seen by the vet{}{due}{more}", of(foot)));
            }
            Act::Note => self.cow_words.extend(line.words.map(|words| format!("note: {words}"))),
            ref act => self.cow_words.push(format!("{act}{more}")),
        }
    }

    fn found(&mut self, feet: Feet, words: &str) {
        self.each(feet, |row| row.found.push(words.to_owned()));
    }

    fn done(&mut self, feet: Feet, words: &str) {
        self.each(feet, |row| row.done.push(words.to_owned()));
    }

    fn each(&mut self, feet: Feet, add: impl Fn(&mut FootRow)) {
        for foot in feet.iter() {
            let at = self.feet.iter().position(|row| row.foot == foot.word()).unwrap_or_else(|| {
                self.feet.push(FootRow { foot: foot.word(), ..FootRow::default() });
                self.feet.len() - 1
            });
            add(&mut self.feet[at]);
        }
    }
}

/// What stays to be watched: rechecks and the vet, blocks and dressings with their time, painful lesions, withdrawal.
pub(super) fn watch(herd: &Herd, animal: &Animal) -> Vec<String> {
    let on = herd.view().on;
    let until = |since: NaiveDate, days: u16, what: &str| {
        let due = since + chrono::TimeDelta::days(days.into());
        let how = if due < on { "over its time since" } else { what };
        format!("{how} {}", day_words(due, on))
    };
    let protocol = herd.protocol();
    let mut watch = waiting_words(herd, animal);
    for block in &animal.blocks {
        let due = until(block.since, protocol.block_days(block.kind), "look or take off by");
        watch.push(format!("{}: {due}", block_words(*block)));
    }
    for (foot, since) in &animal.dressings {
        watch.push(format!("{foot} dressing: {}", until(*since, protocol.dressing_days, "take off by")));
    }
    let alone = animal.without_recheck();
    for case in animal.open_cases().into_iter().filter(|case| case.is_alarm()) {
        let proposed = alone.contains(&case).then(|| day_words(protocol.look_again(case), on));
        let proposed = proposed.map_or(String::new(), |day| format!("; no recheck set, look again by {day}"));
        watch.push(format!("painful: {}{proposed}", case_words(case)));
    }
    watch
}

fn of(foot: Option<Foot>) -> String {
    foot.map_or(String::new(), |foot| format!(", {foot}"))
}

fn finding_words(finding: Finding) -> String {
    let mut words = finding.claw.map_or(String::new(), |claw| format!("{claw} "));
    let _ = write!(words, "{} ({})", finding.lesion.name(), finding.lesion);
    let _ = finding.stage.map(|stage| write!(words, " {stage}"));
    let _ = finding.zone.map(|zone| write!(words, ", zone {zone}"));
    let _ = finding.grade.map(|grade| write!(words, ", grade {grade} {}", grade_name(grade)));
    words
}

const fn grade_name(grade: u8) -> &'static str {
    match grade {
        1 => "mild",
        2 => "moderate",
        _ => "severe",
    }
}

fn trim_words(trim: Trim) -> String {
    let mut words = format!("{} trim", trim.kind);
    let _ = trim.claw.map(|claw| write!(words, ", {claw}"));
    let _ = trim.wall_mm.map(|wall| write!(words, " wall {wall} mm"));
    let _ = trim.sole_mm.map(|sole| write!(words, " sole {sole} mm"));
    let _ = trim.angle_deg.map(|angle| write!(words, " angle {angle} degrees"));
    words
}

fn recheck_words(due: NaiveDate, foot: Option<Foot>, on: NaiveDate) -> String {
    let foot = foot.map_or(String::new(), |foot| format!("{foot} "));
    let ahead = (due - on).num_days();
    let when = if ahead >= 0 { format!("in {}", days(ahead)) } else { format!("{} before this visit", days(-ahead)) };
    format!("{foot}recheck {}, {when}", day_words(due, on))
}

fn medicine_words(medicine: &Medicine<'_>) -> String {
    let mut words = format!("medicine {}, {} {}", medicine.product, medicine.dose, medicine.unit);
    let _ = medicine.batch.map(|batch| write!(words, ", batch {batch}"));
    let _ = medicine.route.map(|route| write!(words, ", {route}"));
    let _ = medicine.reason.map(|reason| write!(words, ", for {reason}"));
    let _ = write!(words, "; milk held {}, meat held {}", medicine.milk, medicine.meat);
    words
}

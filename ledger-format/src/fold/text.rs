//! The canonical text of a state, one fact a line (`fold.md`).

use std::collections::BTreeMap;
use std::fmt::Write;

use chrono::NaiveDateTime;

use super::animal::{Animal, LactationState, Recheck};
use super::herd::Herd;
use crate::line::{CowNumber, date_text};
use crate::vocabulary::Scale;

/// The state of the whole herd, by cow.
pub fn state_text(herd: &Herd) -> String {
    let mut by_number: BTreeMap<CowNumber, Vec<String>> = BTreeMap::new();
    for animal in herd.animals() {
        by_number.entry(animal.number).or_default().extend(facts(herd, animal));
    }
    for question in herd.questions() {
        if let Some(number) = question.cow {
            by_number.entry(number).or_default().push(format!("question {}", question.why.word()));
        }
    }
    let mut text = String::new();
    for (number, fact) in by_number.iter().flat_map(|(number, facts)| facts.iter().map(move |fact| (number, fact))) {
        let _ = writeln!(text, "{number} {fact}");
    }
    text
}

/// Her facts, without her number.
pub(crate) fn facts(herd: &Herd, animal: &Animal) -> Vec<String> {
    let mut facts = vec![presence(herd, animal)];
    if !animal.is_present() {
        return facts;
    }
    facts.extend(breeding(herd, animal));
    facts.extend(identity(herd, animal));
    facts.extend(walking(herd, animal));
    facts.extend(on_her_feet(animal));
    facts.extend(waiting(animal));
    facts.extend(done(herd, animal));
    facts
}

fn presence(herd: &Herd, animal: &Animal) -> String {
    let mut fact = String::new();
    if animal.use_of_number > 1 {
        let _ = write!(fact, "use {} ", animal.use_of_number);
    }
    match animal.left {
        None => fact.push_str("present"),
        Some(left) => {
            let _ = write!(fact, "left {} {}", date_text(left.day), left.reason);
            fact.push_str(if left.feet { " feet" } else { "" });
        }
    }
    if let Some(joined) = animal.joined {
        let _ = write!(fact, " joined {}", date_text(joined));
    }
    if let Some(group) = herd.group(animal) {
        let _ = write!(fact, " group {group}");
    }
    fact
}

fn breeding(herd: &Herd, animal: &Animal) -> Vec<String> {
    let mut facts = Vec::new();
    match (animal.lactation_state(herd.view().on), animal.calved, animal.dried) {
        (LactationState::InMilk(_), Some(calved), _) => {
            let lactation = animal.lactation.map_or(String::new(), |number| format!(" lactation {number}"));
            facts.push(format!("milk{lactation} calved {}", date_text(calved)));
        }
        (LactationState::Dry(_), _, Some(dried)) => facts.push(format!("dry since {}", date_text(dried))),
        _ => {}
    }
    facts.extend(animal.calving_due.map(|due| format!("calving due {}", date_text(due))));
    facts.extend(animal.drying_due.map(|due| format!("drying due {}", date_text(due))));
    facts
}

fn identity(herd: &Herd, animal: &Animal) -> impl Iterator<Item = String> {
    let (ear, electronic) = herd.tags(animal);
    let ear = ear.map(|tag| format!("ear {tag}"));
    let electronic = electronic.map(|number| format!("electronic {number}"));
    ear.into_iter().chain(electronic)
}

fn walking(herd: &Herd, animal: &Animal) -> Vec<String> {
    let mut facts = Vec::new();
    if let Some(scored) = animal.score() {
        let half = scored.score.half.map_or("", |half| half.word());
        let scale = match scored.score.scale {
            Scale::Mobility => String::new(),
            scale => format!(" scale {scale}"),
        };
        facts.push(format!("score {}{half}{scale} on {}", scored.score.value, date_text(scored.observed.date)));
    }
    facts.extend(herd.lame_since(animal).map(|since| format!("lame since {}", date_text(since))));
    facts.extend(herd.walked_past(animal).map(|day| format!("walked past on {}", date_text(day))));
    facts
}

fn on_her_feet(animal: &Animal) -> Vec<String> {
    let mut facts = Vec::new();
    for case in animal.open_cases() {
        let mut fact = case.foot.to_string();
        let mut add = |part: Option<String>| part.map(|part| fact.push_str(&part));
        add(case.claw.map(|claw| format!(" {claw}")));
        add(Some(format!(" lesion {}", case.lesion)));
        add(case.stage.map(|stage| format!(" {stage}")));
        add(case.zone.map(|zone| format!(" zone {zone}")));
        add(case.grade.map(|grade| format!(" grade {grade}")));
        add(Some(format!(" first {} last {}", date_text(case.first), date_text(case.last))));
        facts.push(fact);
    }
    for block in &animal.blocks {
        let kind = block.kind.map_or(String::new(), |kind| format!(" {kind}"));
        facts.push(format!("{} {} block{kind} since {}", block.foot, block.claw, date_text(block.since)));
    }
    facts.extend(animal.dressings.iter().map(|(foot, since)| format!("{foot} dressing since {}", date_text(*since))));
    facts
}

fn waiting(animal: &Animal) -> Vec<String> {
    let one = |what: &'static str| {
        move |waits: &Recheck| {
            let foot = waits.foot.map_or(String::new(), |foot| format!("{foot} "));
            format!("{foot}{what} due {} set {}", date_text(waits.due), date_text(waits.set))
        }
    };
    let mut facts: Vec<String> = animal.rechecks.iter().map(one("recheck")).collect();
    facts.extend(animal.orders.iter().map(one("vet")));
    facts.extend(animal.referrals.iter().map(|referral| {
        let foot = referral.foot.map_or(String::new(), |foot| format!("{foot} "));
        format!("{foot}referred {}", date_text(referral.day))
    }));
    facts
}

fn done(herd: &Herd, animal: &Animal) -> Vec<String> {
    let mut facts = Vec::new();
    facts.extend(animal.trimmed.map(|(kind, day)| format!("trimmed {kind} {}", date_text(day))));
    facts.extend(animal.lifted.map(|lifted| format!("lifted {}", date_text(lifted.date))));
    let held = animal.held_after(herd.view().on);
    let until = |what: &'static str| move |to: NaiveDateTime| format!("{what} held to {}", to.format("%Y-%m-%d %H:%M"));
    facts.extend(held.milk.map(until("milk")));
    facts.extend(held.meat.map(until("meat")));
    facts
}

//! Cautions: what this record cannot decide, said where it matters.

use super::words::{case_words, days, moment_words};
use crate::fold::{Animal, Case, Herd, Why};
use crate::vocabulary::Lesion;

/// Shown under every due list, card and sheet.
pub const CAUTIONS: [&str; 4] = [
    "Footfold records and reminds; it does not diagnose.",
    "Deep, swollen or non-healing feet, and severely lame cows that do not improve, go to the vet.",
    "Medicines only as prescribed, with withdrawal kept. A lame cow may be unfit to travel.",
    "Local law, assurance rules and licensed practice come first.",
];

/// The cautions as rows carry them.
pub(crate) fn general() -> Vec<&'static str> {
    CAUTIONS.to_vec()
}

/// What to be careful about with one cow.
pub(crate) fn about(herd: &Herd, animal: &Animal) -> Vec<String> {
    let mut cautions = for_the_vet(herd, animal);
    cautions.extend(withheld(herd, animal));
    cautions.extend(travel(herd, animal));
    cautions.extend(disputed(herd, animal));
    cautions
}

/// Why she belongs to the vet: severe and not improving, worse, deep, swollen, or not healing.
fn for_the_vet(herd: &Herd, animal: &Animal) -> Vec<String> {
    let on = herd.view().on;
    let mut cautions = Vec::new();
    if animal.worse.is_some() {
        cautions.push("to the vet: worse at the last recheck".to_owned());
    }
    match (still_lame_days(herd, animal), is_severely_lame(herd, animal)) {
        (Some(since), _) => cautions.push(format!("to the vet: still lame {} after treatment", days(since))),
        (None, true) if is_severe_in_spite_of_treatment(herd, animal) => {
            cautions.push("to the vet: severely lame and not improving".to_owned());
        }
        (None, true) => cautions.push("to the vet if no better once lifted".to_owned()),
        (None, false) => {}
    }
    let slow = i64::from(herd.protocol().repeat_case_days);
    for case in animal.open_cases() {
        if is_deep(case) {
            cautions.push(format!("to the vet if deep or swollen: {}", case_words(case)));
        } else if case.is_alarm() && (case.last - case.first).num_days() >= slow {
            let open = days((on - case.first).num_days());
            cautions.push(format!("to the vet, not healing: {}, first seen {open} ago", case_words(case)));
        }
    }
    cautions
}

/// Days from treatment to the newest lame score, if they are too many. A cow that went sound meanwhile and is lame again
/// is a new case: her lame run must have begun before the treatment, or within the repeat window after it.
pub(crate) fn still_lame_days(herd: &Herd, animal: &Animal) -> Option<i64> {
    let (scored, lame_since, treated) = (animal.score()?, herd.lame_since(animal)?, animal.treated?);
    if (lame_since - treated).num_days() > i64::from(herd.protocol().repeat_case_days) {
        return None;
    }
    let since = (scored.observed.date - treated).num_days();
    (since >= i64::from(herd.protocol().still_lame_days)).then_some(since)
}

fn is_severely_lame(herd: &Herd, animal: &Animal) -> bool {
    herd.is_lame(animal) && animal.is_scored_severe()
}

/// Scored severe after she was treated for this lameness, which is chronic, and not lifted again since.
fn is_severe_in_spite_of_treatment(herd: &Herd, animal: &Animal) -> bool {
    let long = i64::from(herd.protocol().chronic_days);
    let (Some(scored), Some(since), Some(treated)) = (animal.score(), herd.lame_since(animal), animal.treated) else {
        return false;
    };
    let in_this_run = since <= treated && treated < scored.observed.date;
    in_this_run && (herd.view().on - since).num_days() > long && !animal.is_lifted_since(scored.observed)
}

fn is_deep(case: &Case) -> bool {
    matches!(case.lesion, Lesion::SW | Lesion::TN | Lesion::IP) || (case.is_alarm() && case.grade == Some(3))
}

/// Milk and meat held back after the day of the view.
pub(crate) fn withheld(herd: &Herd, animal: &Animal) -> Vec<String> {
    let on = herd.view().on;
    let held = animal.held_after(on);
    let until = |what: &'static str| move |to| format!("{what} held to {}", moment_words(to, on));
    held.milk.map(until("milk")).into_iter().chain(held.meat.map(until("meat"))).collect()
}

/// Whether the newest score is one that two people saw differently.
fn disputed(herd: &Herd, animal: &Animal) -> Option<String> {
    let newest = animal.score()?.line;
    let is_of_it = |question: &&crate::fold::Question| {
        matches!(question.why, Why::ScoresDiffer) && question.lines.contains(&newest)
    };
    herd.questions_of(animal.number).find(is_of_it).map(|question| question.why.to_string())
}

fn travel(herd: &Herd, animal: &Animal) -> Option<String> {
    let doubts = herd.travel_doubts(animal);
    (!doubts.is_empty()).then(|| format!("may be unfit to travel: {}", doubts.join(", ")))
}

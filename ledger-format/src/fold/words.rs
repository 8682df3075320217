//! Cases, scores and views in words, for whatever shows them.

use std::fmt::Write;

use serde::Serialize;

use super::feet::Case;
use super::herd::Herd;
use crate::line::{Score, date_text, utc_text};
use crate::vocabulary::{Claw, Foot, Scale};

/// From where a state was looked at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Seen {
    /// The herd.
    pub herd: String,
    /// State at the end of this day.
    pub on: String,
    /// As known at this time, UTC; everything that is here, if none.
    pub known: Option<String>,
    /// The name of what was agreed for that day.
    pub protocol: String,
}

impl Seen {
    pub(crate) fn of(herd: &Herd) -> Self {
        Self {
            herd: herd.log().ledgers().first().map_or_else(String::new, |ledger| ledger.herd.clone()),
            on: date_text(herd.view().on),
            known: herd.view().known.map(utc_text),
            protocol: herd.protocol().name.clone(),
        }
    }
}

/// "RH outer".
pub(crate) fn place(foot: Foot, claw: Option<Claw>) -> String {
    claw.map_or_else(|| foot.to_string(), |claw| format!("{foot} {claw}"))
}

/// "RH outer WLA zone 3 grade 2".
pub(crate) fn case_words(case: &Case) -> String {
    let mut words = format!("{} {}", place(case.foot, case.claw), case.lesion);
    let _ = case.stage.map(|stage| write!(words, " {stage}"));
    let _ = case.zone.map(|zone| write!(words, " zone {zone}"));
    let _ = case.grade.map(|grade| write!(words, " grade {grade}"));
    words
}

/// "3", "2b", "4 on scale five".
pub(crate) fn score_words(score: Score) -> String {
    let half = score.half.map_or("", |half| half.word());
    match score.scale {
        Scale::Mobility => format!("{}{half}", score.value),
        scale => format!("{}{half} on scale {scale}", score.value),
    }
}

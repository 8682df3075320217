//! Card: one cow, who she is, how she stands, and all that was written about her (`spec/work.md` §3).

mod history;
mod now;
#[cfg(test)]
mod tests;

use serde::Serialize;

use super::caution;
use super::due::{Asked, Reason};
use super::feet::{OnFoot, on_feet};
use super::words::{ScoreNow, Seen};
use crate::fold::{Animal, Herd, Question};
use crate::line::{CowNumber, date_text};
use crate::merge::EntryId;

pub use history::HistoryRow;
pub(crate) use now::waiting as waiting_words;
pub use now::{Breeding, EarlierUse};

/// A cow's card.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Card {
    /// From where it was looked at.
    pub seen: Seen,
    /// Her number.
    pub cow: String,
    /// Which use of the number she is, from 1.
    pub use_of_number: u32,
    /// Whether she is in the herd.
    pub present: bool,
    /// When and why she left, in words.
    pub left: Option<String>,
    /// First day anything was written of her.
    pub first_seen: String,
    /// When she joined.
    pub joined: Option<String>,
    /// Her group.
    pub group: Option<String>,
    /// Official ear number.
    pub ear: Option<String>,
    /// Electronic number.
    pub electronic: Option<String>,
    /// In milk or dry, and what is planned.
    pub breeding: Breeding,
    /// Her newest score; nothing means never scored, which is not sound.
    pub score: Option<ScoreNow>,
    /// Lame since.
    pub lame_since: Option<String>,
    /// The round since then in which nobody named her lame.
    pub walked_past: Option<String>,
    /// Last lifted, any foot.
    pub lifted: Option<String>,
    /// Last trim in words.
    pub trimmed: Option<String>,
    /// What is on her feet now.
    pub on_feet: Vec<OnFoot>,
    /// Closed lesions, newest first, in words.
    pub healed: Vec<String>,
    /// Rechecks, the vet's orders and referrals that wait, in words.
    pub waiting: Vec<String>,
    /// Why she is on the due list today.
    pub due: Vec<Reason>,
    /// What to be careful about with her.
    pub careful: Vec<String>,
    /// What does not fit, and what settles it.
    pub questions: Vec<QuestionRow>,
    /// Everything written about her up to the day, newest first.
    pub history: Vec<HistoryRow>,
    /// Lines about her that are dated after the day.
    pub later_lines: usize,
    /// Other animals that had her number.
    pub other_uses: Vec<EarlierUse>,
    /// What this card cannot decide.
    pub cautions: Vec<&'static str>,
}

/// An open question.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct QuestionRow {
    /// The cow it is about.
    pub cow: Option<String>,
    /// What does not fit.
    pub words: String,
    /// What settles it.
    pub remedy: &'static str,
    /// The lines concerned: mark and device.
    pub lines: Vec<String>,
}

impl QuestionRow {
    pub(crate) fn of(herd: &Herd, question: &Question) -> Self {
        Self {
            cow: question.cow.map(|cow| cow.to_string()),
            words: question.why.to_string(),
            remedy: question.why.remedy(),
            lines: question.lines.iter().map(|id| line_name(herd, *id)).collect(),
        }
    }
}

/// A line's name everywhere: its mark, and the device whose ledger holds it.
pub(crate) fn line_name(herd: &Herd, id: EntryId) -> String {
    format!("{} of {}", herd.log().entry(id).mark, herd.log().ledger(id).device)
}

/// The card of the animal that a number means now, or the last that it meant.
pub fn card(herd: &Herd, number: CowNumber, asked: &Asked) -> Option<Card> {
    let animal = herd.find(number)?;
    let (history, later_lines) = history::history(herd, animal);
    let (ear, electronic) = herd.tags(animal);
    Some(Card {
        seen: Seen::of(herd),
        cow: number.to_string(),
        use_of_number: animal.use_of_number,
        present: animal.is_present(),
        left: now::left(herd, animal),
        first_seen: date_text(animal.first_seen),
        joined: animal.joined.map(date_text),
        group: herd.group(animal).map(str::to_owned),
        ear: ear.map(str::to_owned),
        electronic: electronic.map(str::to_owned),
        breeding: Breeding::of(herd, animal),
        score: animal.score().map(ScoreNow::of),
        lame_since: herd.lame_since(animal).map(date_text),
        walked_past: herd.walked_past(animal).map(date_text),
        lifted: animal.lifted.map(|lifted| lifted.to_string()),
        trimmed: now::trimmed(herd, animal),
        on_feet: on_feet(animal, herd.view().on),
        healed: now::healed(herd, animal),
        waiting: now::waiting(herd, animal),
        due: reasons(herd, animal, asked),
        careful: caution::about(herd, animal),
        questions: herd.questions_of(number).map(|question| QuestionRow::of(herd, question)).collect(),
        history,
        later_lines,
        other_uses: now::other_uses(herd, animal),
        cautions: caution::general(),
    })
}

/// A cow that left is on no list.
fn reasons(herd: &Herd, animal: &Animal, asked: &Asked) -> Vec<Reason> {
    let row = animal.is_present().then(|| super::due::row_of(herd, animal, asked)).flatten();
    row.map_or_else(Vec::new, |row| row.reasons)
}

//! `footfold cow`: one cow, who she is, how she stands, and all that was written about her.

use ledger_format::fold::Herd;
use ledger_format::line::CowNumber;
use ledger_format::work::card::{Breeding, Card, HistoryRow, QuestionRow, card};
use ledger_format::work::due::Asked;
use ledger_format::work::words::counted;

use crate::fail::{Fail, Outcome};
use crate::look::{Look, Page, Place, page, show_page};
use crate::place::Common;
use crate::show::paper::Paper;

/// One cow: who she is, how she stands, and all that was written about her
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// Her number in the herd, as 417 or 417B
    #[arg(value_parser = number)]
    number: CowNumber,
    #[command(flatten)]
    look: Look,
}

pub(super) fn number(word: &str) -> Result<CowNumber, String> {
    CowNumber::read(&word.to_ascii_uppercase()).ok_or_else(|| "expected a cow's number, as 417 or 417B".to_owned())
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    show_page(common, args)
}

impl Page for Args {
    fn look(&self) -> &Look {
        &self.look
    }

    fn page(&self, place: &Place, herd: &Herd, is_bold: bool) -> Result<String, Fail> {
        let day = place.day(&self.look);
        let asked = Asked { at: place.time_on(day), ..Asked::default() };
        let found = card(herd, self.number, &asked).ok_or_else(|| {
            let message = format!("nothing is written about a cow {} up to {day}", self.number);
            Fail::usage(message, "look at the numbers in the due list or the ledgers; a cow may have been renumbered")
        })?;
        page(&self.look, is_bold, &found, |paper| tell(paper, &found))
    }
}

/// Width of the labels at the left.
const LABEL: usize = 10;

fn label(word: &str) -> String {
    format!("{word:<LABEL$}")
}

fn tell(paper: &mut Paper, card: &Card) {
    let group = card.group.as_ref().map_or(String::new(), |group| format!("group {group}"));
    paper.strong("", &format!("{}: cow {} on {}", card.seen.herd, card.cow, card.seen.on), &group);
    super::due::tell_known(paper, card.seen.known.as_deref());
    tell_who(paper, card);
    paper.gap();
    tell_now(paper, card);
    if !card.questions.is_empty() {
        paper.gap();
        paper.head("OPEN QUESTIONS");
        card.questions.iter().for_each(|question| tell_question(paper, question));
    }
    paper.gap();
    paper.head("HISTORY, newest first");
    card.history.iter().for_each(|row| tell_line(paper, row));
    if card.later_lines > 0 {
        let lines = counted(card.later_lines as i64, "line");
        paper.put("  ", &format!("{lines} dated after {} not shown", card.seen.on));
    }
    paper.gap();
    super::tell_cautions(paper, &card.cautions);
}

fn tell_who(paper: &mut Paper, card: &Card) {
    if let Some(left) = &card.left {
        paper.head(&format!("LEFT THE HERD: {left}"));
    }
    paper.put("", &breeding(&card.breeding));
    let tags = [("ear number", &card.ear), ("electronic number", &card.electronic)];
    let tags: Vec<String> = tags.iter().filter_map(|(what, tag)| Some(format!("{what} {}", tag.as_ref()?))).collect();
    if !tags.is_empty() {
        paper.put("", &tags.join(", "));
    }
    let since = match &card.joined {
        Some(joined) => format!("joined {joined}"),
        None => format!("first written of {}", card.first_seen),
    };
    paper.put("", &since);
    for other in &card.other_uses {
        let left = other.left.as_ref().map_or("still here", String::as_str);
        let words = format!("another animal had this number: first written of {}, {left}", other.first_seen);
        paper.put("", &words);
    }
}

fn breeding(breeding: &Breeding) -> String {
    let mut parts = Vec::new();
    let days = breeding.days.map(|days| counted(days, "day"));
    match (breeding.state, days) {
        ("unknown", _) | (_, None) => parts.push("in milk or dry: not written".to_owned()),
        (state, Some(days)) => parts.push(format!("{days} {state}")),
    }
    parts.extend(breeding.lactation.map(|number| format!("lactation {number}")));
    parts.extend(breeding.calved.as_ref().map(|day| format!("calved {day}")));
    parts.extend(breeding.drying_due.as_ref().map(|day| format!("drying off planned {day}")));
    parts.extend(breeding.calving_due.as_ref().map(|day| format!("calving due {day}")));
    parts.join(", ")
}

fn tell_now(paper: &mut Paper, card: &Card) {
    paper.put(&label("walking"), &walking(card));
    let lifted = card.lifted.as_ref().map_or("never written as lifted".to_owned(), |day| format!("last lifted {day}"));
    let trimmed = card.trimmed.as_ref().map_or("no trim written".to_owned(), |trim| format!("last trim {trim}"));
    paper.put(&label(""), &format!("{lifted}; {trimmed}"));
    for (i, foot) in ["LF", "RF", "LH", "RH"].into_iter().enumerate() {
        let on: Vec<&str> = card.on_feet.iter().filter(|o| o.foot == foot).map(|o| o.words.as_str()).collect();
        let words = if on.is_empty() { format!("{foot} nothing open") } else { on.join("; ") };
        paper.put(&label(if i == 0 { "feet" } else { "" }), &words);
    }
    paper.list(&label("healed"), &card.healed);
    paper.list(&label("waiting"), &card.waiting);
    paper.list(&label("due"), card.due.iter().map(|reason| format!("{}: {}", reason.words, reason.late)));
    paper.list(&label("careful !"), &card.careful);
}

fn walking(card: &Card) -> String {
    let Some(score) = &card.score else { return "never scored, which is not the same as sound".to_owned() };
    let scale = if score.scale == "mobility" { String::new() } else { format!(" on scale {}", score.scale) };
    let lame = match (&card.walked_past, score.lame, score.severe) {
        (Some(day), ..) => &format!(", lame then; lifted, and walked past in the round of {day}"),
        (None, _, true) => ", SEVERELY LAME",
        (None, true, _) => ", LAME",
        _ => ", not lame",
    };
    let foot = score.foot.map_or(String::new(), |foot| format!(", {foot} suspected"));
    let since = card.lame_since.as_ref().map_or(String::new(), |since| format!(", lame since {since}"));
    format!("scored {}{scale} on {}{lame}{foot}{since}", score.value, score.on)
}

pub(super) fn tell_question(paper: &mut Paper, question: &QuestionRow) {
    let cow = question.cow.as_ref().map_or(String::new(), |cow| format!("{cow}: "));
    paper.put("  ? ", &format!("{cow}{}", question.words));
    paper.put("    to do: ", question.remedy);
    paper.list("    line ", &question.lines);
}

fn tell_line(paper: &mut Paper, row: &HistoryRow) {
    let time = row.time.as_deref().unwrap_or("     ");
    let number = row.number.as_ref().map_or(String::new(), |number| format!(" (as {number})"));
    let standing =
        if row.standing == "standing" { String::new() } else { format!("[{}] ", row.standing.to_uppercase()) };
    let words = row.words.as_ref().map_or(String::new(), |words| format!(": {words}"));
    paper.put(&format!("  {} {time}  ", row.day), &format!("{standing}{}{number}{words}", row.says));
    let inner = " ".repeat(20);
    paper.put(&inner, &format!("by {} on {}, mark {}", row.by, row.device, row.mark));
    paper.list(&format!("{inner}- "), &row.remarks);
}

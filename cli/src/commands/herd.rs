//! `footfold herd`: the herd on one page.

use std::collections::BTreeMap;

use ledger_format::fold::Herd;
use ledger_format::work::card::QuestionRow;
use ledger_format::work::overview::{CowNote, LedgerRow, Overview, RoundRow, overview};
use ledger_format::work::words::counted;

use crate::fail::{Fail, Outcome};
use crate::look::{Look, Page, Place, page, show_page};
use crate::place::Common;
use crate::show;
use crate::show::paper::Paper;

/// The herd on one page: numbers, the newest scoring round, who is lame, what waits
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    #[command(flatten)]
    look: Look,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    show_page(common, args)
}

impl Page for Args {
    fn look(&self) -> &Look {
        &self.look
    }

    fn page(&self, _: &Place, herd: &Herd, is_bold: bool) -> Result<String, Fail> {
        let rows = overview(herd);
        page(&self.look, is_bold, &rows, |paper| tell(paper, &rows))
    }
}

fn tell(paper: &mut Paper, page: &Overview) {
    paper.head(&format!("{} on {}", page.seen.herd, page.seen.on));
    super::due::tell_known(paper, page.seen.known.as_deref());
    let Overview { present, in_milk, dry, unknown, .. } = page;
    let unknown = if *unknown > 0 { format!(", {unknown} not written") } else { String::new() };
    paper.put("", &format!("{}: {in_milk} in milk, {dry} dry{unknown}", counted(*present as i64, "cow")));
    for group in page.groups.iter().filter(|group| group.name.is_some() || page.groups.len() > 1) {
        let name = group.name.as_ref().map_or("no group".to_owned(), |name| format!("group {name}"));
        paper.put("  ", &format!("{name}: {}, {} lame", counted(group.present as i64, "cow"), group.lame));
    }
    tell_rounds(paper, page);
    tell_cows(paper, &format!("LAME NOW, {} not lifted since scored", page.lame_not_lifted), &page.lame);
    tell_cows(paper, "REFERRED, not yet seen by the vet", &page.referred);
    tell_cows(paper, "BLOCKS ON, the oldest first", &page.blocks);
    tell_cows(paper, "RECHECKS WAITING", &page.rechecks);
    if !page.lesions.is_empty() {
        paper.gap();
        paper.head("LESIONS OPEN");
    }
    for row in &page.lesions {
        let cases = counted(row.cases as i64, "case");
        paper.put(
            &format!("  {:<5}", row.code),
            &format!("{cases} on {}: {}", counted(row.cows as i64, "cow"), row.name),
        );
    }
    if !page.questions.is_empty() {
        paper.gap();
        paper.head(&format!("OPEN QUESTIONS ({})", page.questions.len()));
        tell_questions(paper, &page.questions);
    }
    paper.gap();
    paper.head("LEDGERS");
    page.ledgers.iter().for_each(|ledger| tell_ledger(paper, ledger));
}

/// Alike questions together; a cow's card names the lines.
fn tell_questions(paper: &mut Paper, questions: &[QuestionRow]) {
    let mut alike: BTreeMap<(&str, &str), Vec<&str>> = BTreeMap::new();
    for question in questions {
        match &question.cow {
            Some(cow) => alike.entry((&question.words, question.remedy)).or_default().push(cow),
            None => super::cow::tell_question(paper, question),
        }
    }
    for ((words, remedy), cows) in alike {
        paper.put("  ? ", &format!("{words}: {}", cows.join(", ")));
        paper.put("    to do: ", remedy);
    }
}

fn tell_rounds(paper: &mut Paper, page: &Overview) {
    paper.gap();
    paper.head("NEWEST SCORING ROUND");
    if page.rounds.is_empty() {
        paper.put("  ", "none was written: the share of lame cows is not known");
    }
    for round in &page.rounds {
        paper.put("  ", &format!("{}; aim is under {} %{}", round.words(), page.target_lame_percent, remarks(round)));
    }
}

fn remarks(round: &RoundRow) -> String {
    let over = if round.over_target { ", OVER THE AIM" } else { "" };
    let doubtful = if round.doubtful {
        "; does not add up to those that walked past, or lame cows of that day have no group: look at the tally"
    } else {
        ""
    };
    let due = if round.round_due { ", a new round is due" } else { "" };
    format!("{over}; {} ago{due}{doubtful}", counted(round.days_ago, "day"))
}

fn tell_cows(paper: &mut Paper, heading: &str, notes: &[CowNote]) {
    if notes.is_empty() {
        return;
    }
    paper.gap();
    paper.head(&format!("{heading} ({})", notes.len()));
    for note in notes {
        let group = note.group.as_ref().map_or(String::new(), |group| format!(" (group {group})"));
        paper.put(&format!("  {:<7} ", note.cow), &format!("{}{group}", note.words));
    }
}

fn tell_ledger(paper: &mut Paper, ledger: &LedgerRow) {
    let lines = show::count(ledger.lines as u64, "line");
    let last = ledger.last_sealed.as_ref().map_or("none sealed".to_owned(), |last| format!("last sealed {last}"));
    let broken = ledger
        .first_broken
        .map_or(String::new(), |line| format!(", BROKEN at line {}: run `footfold check`", show::number(line as u64)));
    let unreadable = match ledger.unreadable {
        0 => String::new(),
        n => format!(", {n} of them cannot be read"),
    };
    paper.put("  ", &format!("{}/{:04}: {lines}{unreadable}, {last}{broken}", ledger.device, ledger.year));
}

//! `footfold due`: which cows to lift, in what order, and why.

use daemon::settings;
use ledger_format::fold::Herd;
use ledger_format::work::charges::Decimal;
use ledger_format::work::due::{Asked, Bring, Class, Due, DueRow, Fits, For, Minutes, due, fits};
use ledger_format::work::words::counted;

use crate::fail::{Fail, Outcome};
use crate::look::{Look, Page, Place, page, show_page};
use crate::place::{self, Common};
use crate::show::paper::Paper;

/// Which cows to lift, in what order, and why
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The hours there are: what fits into them, and what does not
    #[arg(long, value_name = "HOURS", value_parser = hours)]
    hours: Option<u32>,
    /// List what falls due this many days ahead, too
    #[arg(long, value_name = "DAYS", default_value_t = 0, value_parser = clap::value_parser!(u16).range(0..=366))]
    ahead: u16,
    #[command(flatten)]
    look: Look,
}

impl Args {
    /// The list of a day, with what fits into so many minutes.
    pub(super) fn of(look: Look, minutes: u32) -> Self {
        Self { hours: Some(minutes), ahead: 0, look }
    }
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    show_page(common, args)
}

impl Page for Args {
    fn look(&self) -> &Look {
        &self.look
    }

    fn page(&self, place: &Place, herd: &Herd, is_bold: bool) -> Result<String, Fail> {
        let settings = place::settings()?.minutes()?;
        let at = place.time_on(place.day(&self.look));
        let mut list = due(herd, &Asked { at, ahead_days: self.ahead, minutes: minutes(&settings) });
        list.fits = self.hours.map(|given| fits(&list.rows, given.saturating_sub(settings.visit.unwrap_or(0).into())));
        page(&self.look, is_bold, &list, |paper| tell(paper, &list))
    }
}

/// Hours with a decimal or without, in minutes.
fn hours(word: &str) -> Result<u32, String> {
    let wrong = || "expected hours, as 3 or 2.5".to_owned();
    let hours: Decimal = word.parse().map_err(|_| wrong())?;
    let minutes = hours.checked_mul(Decimal::from(60)).ok_or_else(wrong)?.trunc();
    u32::try_from(minutes).ok().filter(|minutes| *minutes <= 24 * 60).ok_or_else(wrong)
}

/// The minutes of the settings, and usual ones for what is not set.
fn minutes(set: &settings::Minutes) -> Minutes {
    let usual = Minutes::default();
    Minutes {
        lame: set.lame.unwrap_or(usual.lame),
        trim: set.routine.unwrap_or(usual.trim),
        check: set.check.unwrap_or(usual.check),
        block: set.block.unwrap_or(usual.block),
        dressing: set.dressing.unwrap_or(usual.dressing),
    }
}

fn tell(paper: &mut Paper, list: &Due) {
    let at = list.at.as_ref().map_or(String::new(), |at| format!(", {at}"));
    paper.head(&format!("{}: due on {}{at}", list.seen.herd, list.seen.on));
    tell_known(paper, list.seen.known.as_deref());
    if list.counts.present == 0 {
        paper.put("", "No cow is written yet. Type a first line, as in: footfold write \"417 score 2\"");
        return;
    }
    paper.put("", &counts(list));
    if list.counts.to_lift > 0 {
        paper.put("", &format!("Bring {}. About {}.", bring(list.bring), time(list.minutes)));
    }
    match &list.fits {
        None => not_left_alone(list).enumerate().for_each(|(i, row)| tell_row(paper, i + 1, row)),
        Some(fits) => tell_fits(paper, list, fits),
    }
    tell_left_alone(paper, &list.rows);
    paper.gap();
    super::tell_cautions(paper, &list.cautions);
}

pub(super) fn tell_known(paper: &mut Paper, known: Option<&str>) {
    if let Some(known) = known {
        paper.put("", &format!("as known at {known}"));
    }
}

fn counts(list: &Due) -> String {
    let counts = &list.counts;
    let mut parts = vec![format!("{} to lift", counts.to_lift)];
    let mut add = |n: usize, what: &str| {
        if n > 0 {
            parts.push(format!("{n} {what}"));
        }
    };
    add(counts.for_the_vet, "for the vet");
    add(counts.to_leave, "to leave alone");
    add(counts.without, "without a reason");
    let never = match counts.never_scored {
        0 => String::new(),
        n => format!(" Never scored: {n}."),
    };
    let questions = match counts.open_questions {
        0 => String::new(),
        n => format!(" {}: see `footfold herd`.", counted(n as i64, "open question")),
    };
    format!("{}: {}.{never}{questions}", counted(counts.present as i64, "cow"), parts.join(", "))
}

/// Rows for the trimmer and the vet; those to leave alone come at the end.
fn not_left_alone(list: &Due) -> impl Iterator<Item = &DueRow> {
    list.rows.iter().filter(|row| row.for_whom != For::Leaving)
}

fn tell_fits(paper: &mut Paper, list: &Due, fits: &Fits) {
    let (stay, left): (Vec<_>, Vec<_>) =
        not_left_alone(list).enumerate().partition(|(_, row)| !fits.left_over.contains(&row.cow));
    paper.gap();
    paper.head(&format!("FITS into {} ({} used)", time(fits.minutes_given), time(fits.minutes_used)));
    for (i, row) in stay {
        tell_row(paper, i + 1, row);
    }
    if fits.left_over_count > 0 {
        paper.gap();
        paper.head(&format!("NO TIME for {}", counted(fits.left_over_count as i64, "cow")));
        for (i, row) in left {
            tell_row(paper, i + 1, row);
        }
    }
}

/// Cows with nothing to do but to leave them: a line or two each, at the end.
fn tell_left_alone(paper: &mut Paper, rows: &[DueRow]) {
    let left: Vec<&DueRow> = rows.iter().filter(|row| row.for_whom == For::Leaving).collect();
    if left.is_empty() {
        return;
    }
    paper.gap();
    paper.head(&format!("LEAVE ALONE FOR NOW ({})", left.len()));
    for row in left {
        let careful = if row.cautions.is_empty() { String::new() } else { format!(" ! {}", row.cautions.join("; ")) };
        paper.put(&format!("     {:<7} ", row.cow), &format!("{}{careful}", row.reasons[0].words));
    }
}

fn tell_row(paper: &mut Paper, number: usize, row: &DueRow) {
    let lead = format!("{number:>3}  {:<7} ", row.cow);
    let inner = " ".repeat(13);
    let first = &row.reasons[0];
    let group = row.group.as_ref().map_or(String::new(), |group| format!("group {group}"));
    paper.gap();
    paper.strong(&lead, &format!("{}: {}", headline(row), first.late), &group);
    paper.put(&inner, &first.words);
    for reason in &row.reasons[1..] {
        paper.put(&format!("{inner}and "), &format!("{}: {}", reason.words, reason.late));
    }
    let on_feet: Vec<&str> = row.on_feet.iter().map(|on_foot| on_foot.words.as_str()).collect();
    if !on_feet.is_empty() {
        paper.put(&format!("{inner}now "), &on_feet.join("; "));
    }
    if row.for_whom == For::Lifting {
        let bring = if row.bring == Bring::default() { String::new() } else { format!("bring {}, ", bring(row.bring)) };
        paper.put(&inner, &format!("{bring}{}", time(row.minutes.into())));
    }
    if !row.cautions.is_empty() {
        paper.put("           ! ", &row.cautions.join("; "));
    }
}

fn headline(row: &DueRow) -> String {
    let class = row.class.words().to_uppercase();
    match (row.for_whom, row.class) {
        (For::Lifting, _) => class,
        (For::Vet, Class::Vet) => "FOR THE VET, NOT FOR LIFTING".to_owned(),
        (For::Vet, _) => format!("{class}, WAITS FOR THE VET"),
        (For::Leaving, _) => format!("{class}: LEAVE"),
    }
}

fn bring(bring: Bring) -> String {
    let (blocks, dressings) = (counted(bring.blocks.into(), "block"), counted(bring.dressings.into(), "dressing"));
    match (bring.blocks, bring.dressings) {
        (0, 0) => "nothing special".to_owned(),
        (_, 0) => blocks,
        (0, _) => dressings,
        _ => format!("{blocks}, {dressings}"),
    }
}

fn time(minutes: u32) -> String {
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

//! `footfold figures herds`: several herds side by side, for the one who trims them all.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use daemon::disk::HerdFolder;
use ledger_format::measures::About;
use ledger_format::measures::herds::{Drawn, HerdRow, HerdsFigures, OfHerd, herds};

use super::words::{figure, percents, share};
use super::{Asked, Shown};
use crate::fail::{Fail, Outcome};
use crate::look::Place;
use crate::place::{now, settings, today};
use crate::show::paper::Paper;
use crate::show::picture::{Picture, Row};

/// Herds side by side by their newest round, for the trimmer alone; small herds drawn to all
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The herds' folders; without them, those under `herds` in the settings
    #[arg(value_name = "FOLDER")]
    folders: Vec<PathBuf>,
    #[command(flatten)]
    asked: Asked,
}

pub(super) fn run(args: &Args) -> Outcome {
    let folders = if args.folders.is_empty() { settings()?.herds } else { args.folders.clone() };
    if folders.is_empty() {
        let hint = "name their folders, or set `herds` in footfold.ron";
        return Err(Fail::usage("no herds are known", hint));
    }
    let folders = each_once(folders);
    let mut on = None;
    let of: Vec<OfHerd> = folders
        .iter()
        .map(|folder| {
            let read = of_folder(args, folder);
            on = on.max(read.as_ref().ok().map(|(_, on)| *on));
            read.map_or_else(|fail| OfHerd::none(folder.display().to_string(), fail.message()), |(of, _)| of)
        })
        .collect();
    let on = match on {
        Some(on) => on,
        None => today(now(), "UTC")?,
    };
    args.asked.print(&herds(on, &of))
}

/// Folders in their order, without those that are another's by another path: a herd counts once.
fn each_once(folders: Vec<PathBuf>) -> Vec<PathBuf> {
    let mut seen = BTreeSet::new();
    let is_new = |folder: &PathBuf| seen.insert(folder.canonicalize().unwrap_or_else(|_| folder.clone()));
    folders.into_iter().filter(is_new).collect()
}

/// One herd's newest round, and the last day asked for there.
fn of_folder(args: &Args, folder: &Path) -> Result<(OfHerd, chrono::NaiveDate), Fail> {
    let place = Place::in_folder(HerdFolder::open(folder)?)?;
    let of = args.asked.of(&place, |history| Ok(OfHerd::of(history)))?;
    Ok((of, args.asked.last_day(&place)))
}

impl Shown for HerdsFigures {
    fn about(&self) -> Option<&About> {
        None
    }

    fn title(&self) -> String {
        format!("{} side by side, up to {}", crate::show::count(self.rows.len() as u64, "herd"), self.on)
    }

    fn tell(&self, paper: &mut Paper) {
        for row in &self.rows {
            tell_row(paper, row);
        }
        for none in &self.without {
            // A folder that could not be read is named by what went wrong.
            let is_named = none.because.starts_with(&none.herd);
            let name = if is_named { "  ".to_owned() } else { format!("  {:<16}", none.herd) };
            paper.put(&name, &none.because);
        }
        if !self.not_told_apart.is_empty() {
            paper.gap();
            let (few, names) = (self.not_told_apart.len(), self.not_told_apart.join(", "));
            let which = if few == self.rows.len() { "all of them" } else { &names };
            paper.put("  ", &format!("chance alone could order them otherwise: {which}"));
        }
        paper.gap();
        paper.put("  all cows of all herds   ", &figure(&self.pooled, share));
        paper.put("  mean of the herds       ", &figure(&self.mean_of_herds, |mean| format!("{mean:.1} %")));
        paper.gap();
        paper.put("", "For the trimmer's own eyes, and not for passing on: no herd is shown another's figures.");
    }

    fn definitions(&self) -> Vec<&str> {
        self.definitions.iter().map(String::as_str).collect()
    }

    fn warnings(&self) -> &[String] {
        &self.warnings
    }

    fn picture(&self) -> Option<Picture> {
        let row = |row: &HerdRow| {
            let limits = row.drawn.value().map(|drawn| drawn.limits).or(row.lame.limits);
            let value = row.drawn.value().map_or(row.lame.percent, |drawn| drawn.percent);
            let numbers = format!("{value:.1} %; counted {} of {}", row.lame.part, row.lame.of);
            Row { label: row.herd.clone(), value, limits, numbers }
        };
        let title = format!("{}; for the trimmer alone", self.title());
        let axis = "percent lame, drawn to what the herds have in common, with 95 % limits".to_owned();
        Picture::of_rows(title, axis, self.rows.iter().map(row).collect())
    }
}

fn tell_row(paper: &mut Paper, row: &HerdRow) {
    let place = row.place.map_or(" - ".to_owned(), |place| format!("{place:>2} "));
    let remarks = [(row.old, "round is old"), (row.part, "part of the herd")];
    let remarks: Vec<&str> = remarks.iter().filter(|(is, _)| *is).map(|(_, what)| *what).collect();
    let remarks = if remarks.is_empty() { String::new() } else { format!("; {}", remarks.join(", ")) };
    paper.put(&format!("{place} {:<16}", row.herd), &format!("{} on {}{remarks}", share(&row.lame), row.on));
    let severe = &row.severe;
    paper.put(&" ".repeat(20), &format!("severely {} of {}, {:.1} %", severe.part, severe.of, severe.percent));
    if let Some(Drawn { percent, limits }) = row.drawn.value() {
        paper.put(&" ".repeat(20), &format!("drawn to all: {percent:.1} % ({})", percents(*limits)));
    }
}

//! `footfold figures`: what herd staff, trimmer and vet decide by, with honest limits.

mod agreement;
mod blocks;
mod care;
mod cost;
mod flow;
mod herds;
mod lesions;
mod outcome;
mod pattern;
mod review;
mod round;
mod table;
mod trend;
mod words;

use std::mem::ManuallyDrop;
use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use clap::{Subcommand, ValueEnum};
use daemon::Trouble;
use ledger_format::measures::{About, History, Period};
use serde::Serialize;

use crate::fail::{Fail, Outcome};
use crate::look::{Day, Format, Look, Place, day, for_program, write};
use crate::place::Common;
use crate::show::paper::{self, Paper};
use crate::show::picture::Picture;

/// Herd figures with their denominators and limits: rounds, flow, lesions, care, outcome
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    #[command(subcommand)]
    which: Which,
}

#[derive(Subcommand, Debug)]
enum Which {
    Round(round::Args),
    Flow(flow::Args),
    Lesions(lesions::Args),
    Pattern(pattern::Args),
    Care(care::Args),
    Outcome(outcome::Args),
    Blocks(blocks::Args),
    Agreement(agreement::Args),
    Trend(trend::Args),
    Herds(herds::Args),
    Cost(cost::Args),
    Review(review::Args),
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    match &args.which {
        Which::Round(args) => round::run(common, args),
        Which::Flow(args) => flow::run(common, args),
        Which::Lesions(args) => lesions::run(common, args),
        Which::Pattern(args) => pattern::run(common, args),
        Which::Care(args) => care::run(common, args),
        Which::Outcome(args) => outcome::run(common, args),
        Which::Blocks(args) => blocks::run(common, args),
        Which::Agreement(args) => agreement::run(common, args),
        Which::Trend(args) => trend::run(common, args),
        Which::Herds(args) => herds::run(args),
        Which::Cost(args) => cost::run(common, args),
        Which::Review(args) => review::run(common, args),
    }
}

/// Over which days, as known when, in which form.
#[derive(clap::Args, Debug, Clone)]
pub(super) struct Asked {
    /// First day of the period; without it, twelve months before its last
    #[arg(long, value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    from: Option<Day>,
    /// Last day of the period; without it, today
    #[arg(long, value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    to: Option<Day>,
    /// As it was known at the end of this day
    #[arg(long, value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    known: Option<Day>,
    /// Text to read, the rows for a program, or one figure a line for a spreadsheet
    #[arg(long, value_name = "FORM", default_value = "text")]
    format: Form,
    /// Draws a picture of them into this file, too
    #[arg(long, value_name = "FILE.svg")]
    picture: Option<PathBuf>,
}

/// In which form figures are shown.
#[derive(ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Text,
    Json,
    Csv,
}

/// Figures that can be shown.
pub(super) trait Shown: Serialize {
    /// Which herd, which days, as known when; none for figures of several herds.
    fn about(&self) -> Option<&About>;
    /// What they are figures of, for the heading.
    fn title(&self) -> String;
    /// The figures in text.
    fn tell(&self, paper: &mut Paper);
    /// What the words mean.
    fn definitions(&self) -> Vec<&str>;
    /// What is to be kept in mind.
    fn warnings(&self) -> &[String];
    /// A picture of them, where one says more than the words.
    fn picture(&self) -> Option<Picture> {
        None
    }
}

/// What all figures of one herd say in the same way: of which herd they are, what their words mean, what is to be kept
/// in mind.
macro_rules! of_one_herd {
    () => {
        fn about(&self) -> Option<&ledger_format::measures::About> {
            Some(&self.about)
        }

        fn definitions(&self) -> Vec<&str> {
            self.definitions.iter().map(AsRef::as_ref).collect()
        }

        fn warnings(&self) -> &[String] {
            &self.warnings
        }
    };
}
use of_one_herd;

impl Asked {
    /// Works figures out and shows them.
    pub(super) fn show<T: Shown>(
        &self,
        common: &Common,
        figures: impl FnOnce(&History<'_>, &Place) -> Result<T, Fail>,
    ) -> Outcome {
        let place = Place::of(common)?;
        let figures = self.of(&place, |history| figures(history, &place))?;
        self.print(&figures)
    }

    /// Works something out of a herd's history.
    pub(super) fn of<T>(&self, place: &Place, of: impl FnOnce(&History<'_>) -> Result<T, Fail>) -> Result<T, Fail> {
        let period = self.period(place)?;
        // The program ends after this; taking a large herd apart first would only take time.
        let herd = ManuallyDrop::new(place.herd(&Look::as_known(self.known), period.to())?);
        of(&History::of(&herd, period))
    }

    /// The last day asked for, as one herd's clock has it.
    pub(super) fn last_day(&self, place: &Place) -> NaiveDate {
        self.to.map_or(place.today, |day| day.seen_from(place.today))
    }

    fn period(&self, place: &Place) -> Result<Period, Fail> {
        let to = self.last_day(place);
        let Some(from) = self.from.map(|day| day.seen_from(place.today)) else { return Ok(Period::year_to(to)) };
        Period::new(from, to)
            .ok_or_else(|| Fail::usage(format!("{to} is before {from}"), "give the earlier day as `--from`"))
    }

    /// Prints figures in the form asked for.
    pub(super) fn print<T: Shown>(&self, figures: &T) -> Outcome {
        if let Some(file) = &self.picture {
            draw(file, figures)?;
        }
        let text = match self.format {
            Form::Json => for_program(Format::Json, figures)?.unwrap_or_default(),
            Form::Csv => table::csv(figures)?,
            Form::Text => {
                let mut paper = Paper::new(paper::bold_on_stdout());
                tell(&mut paper, figures);
                paper.finish()
            }
        };
        write(&text)
    }
}

fn draw<T: Shown>(file: &Path, figures: &T) -> Result<(), Fail> {
    let Some(picture) = figures.picture() else {
        let hint = "leave out `--picture`; all figures but pattern and cost have one where there are enough of them";
        return Err(Fail::usage("there is no picture of these figures", hint));
    };
    save(file, &picture.svg())
}

/// Writes a file that was asked for, in place of what stands there.
fn save(file: &Path, text: &str) -> Result<(), Fail> {
    let failed = |error: std::io::Error| Trouble::io("write the file", file, &error);
    std::fs::write(file, text).map_err(failed)?;
    Ok(())
}

fn tell_about(paper: &mut Paper, about: &About, title: &str) {
    paper.head(&format!("{}: {title}", about.seen.herd));
    super::due::tell_known(paper, about.seen.known.as_deref());
    if let Some(missed) = about.late_lines_missed.filter(|missed| *missed > 0) {
        let lines = crate::show::count(missed, "line");
        paper.put("  ", &format!("{lines} about these days came later and are not in these figures"));
    }
}

/// Heading, figures, what they mean, what to keep in mind.
fn tell<T: Shown>(paper: &mut Paper, figures: &T) {
    match figures.about() {
        Some(about) => tell_about(paper, about, &figures.title()),
        None => paper.head(&figures.title()),
    }
    figures.tell(paper);
    if !figures.warnings().is_empty() {
        paper.gap();
        paper.head("KEEP IN MIND");
        figures.warnings().iter().for_each(|warning| paper.put("  ! ", warning));
    }
    paper.gap();
    paper.head("WHAT THE WORDS MEAN");
    figures.definitions().iter().for_each(|definition| paper.put("  ", definition));
    paper.put("  ", "Footfold records and reminds; it does not diagnose.");
}

//! `footfold figures outcome`: what became of treated cows, and of blocks.

use clap::ValueEnum;
use ledger_format::measures::outcome::{Comparison, OutcomeFigures, OutcomeQuestion, OutcomeRow, Recovered, outcome};

use super::words::{self, days, difference, figure, share, share_row};
use super::{Asked, Shown, of_one_herd};
use crate::fail::Outcome;
use crate::place::Common;
use crate::show::paper::Paper;
use crate::show::picture::Picture;

/// Recovered after treatment, by what was done: always with what recovered means
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// Days after the treatment
    #[arg(long, value_name = "DAYS", default_value_t = 42, value_parser = clap::value_parser!(u16).range(1..=365))]
    day: u16,
    /// Seen within so many days of that day
    #[arg(long, value_name = "DAYS", default_value_t = 7, value_parser = clap::value_parser!(u16).range(0..=60))]
    within: u16,
    /// What counts as recovered: score 0, or 0 and 1
    #[arg(long, value_name = "WHAT", default_value = "not-lame")]
    recovered: What,
    #[command(flatten)]
    asked: Asked,
}

#[derive(ValueEnum, Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    /// Not lame: 0 or 1
    NotLame,
    /// Score 0
    Zero,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let recovered = match args.recovered {
        What::NotLame => Recovered::NotLame,
        What::Zero => Recovered::Soundest,
    };
    let question = OutcomeQuestion { day: args.day, within: args.within, recovered };
    args.asked.show(common, |history, _| Ok(outcome(history, question)))
}

impl Shown for OutcomeFigures {
    of_one_herd!();

    fn title(&self) -> String {
        format!("after treatment, {} to {}", self.about.from, self.about.to)
    }

    fn tell(&self, paper: &mut Paper) {
        paper.put("  recovered: ", &self.recovered_is);
        for row in &self.rows {
            paper.gap();
            tell_row(paper, row);
        }
        if !self.comparisons.is_empty() {
            paper.gap();
            paper.head("BESIDE COWS THAT WERE ONLY TRIMMED; it is not a trial");
            self.comparisons.iter().for_each(|row| tell_comparison(paper, row));
        }
        paper.gap();
        let again = figure(&self.lame_again, |again| {
            format!("{} of {} seen so far; {:.0} % within 90 days", again.lame_again, again.of, again.percent_90_days)
        });
        paper.put("  lame again: ", &again);
    }

    fn picture(&self) -> Option<Picture> {
        let row = |row: &OutcomeRow| Some(share_row(&row.done, row.recovered.value()?));
        let title = format!("{}: {}; not a trial", self.about.seen.herd, self.title());
        Picture::of_rows(title, format!("percent {}", self.recovered_is), self.rows.iter().filter_map(row).collect())
    }
}

fn tell_row(paper: &mut Paper, row: &OutcomeRow) {
    paper.head(&format!("{} ({})", row.done.to_uppercase(), crate::show::count(row.treated, "cow")));
    paper.put("  recovered ", &figure(&row.recovered, share));
    let others = [
        (row.gone_for_feet, "gone for their feet, counted as not recovered"),
        (row.not_known, "not known"),
        (row.not_yet, "their day has not come"),
    ];
    let others: Vec<String> = others.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")).collect();
    if !others.is_empty() {
        paper.put("  beside    ", &others.join("; "));
    }
    paper.put("  days      ", &figure(&row.days, |of| days(of, "seen not lame")));
}

fn tell_comparison(paper: &mut Paper, row: &Comparison) {
    let odds = figure(&row.odds_ratio, |odds| {
        format!("{:.2} ({:.2} to {:.2})", odds.ratio, odds.limits.lower, odds.limits.upper)
    });
    paper.put("  ", &format!("{}: {}", row.done, difference(&row.difference)));
    paper.put("      ", &format!("odds ratio {odds}; p {}", words::p(row.p)));
}

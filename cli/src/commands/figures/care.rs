//! `footfold figures care`: how soon lame cows are lifted.

use ledger_format::measures::care::{CareFigures, CareRow, CurvePoint, care};

use super::words::{days, figure, share};
use super::{Asked, Shown, of_one_herd};
use crate::fail::Outcome;
use crate::place::Common;
use crate::show::count;
use crate::show::paper::Paper;
use crate::show::picture::{Drawn, Picture, Step};

/// How soon lame cows are lifted: days from the first lame score, share within the agreed hours
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    #[command(flatten)]
    asked: Asked,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    args.asked.show(common, |history, _| Ok(care(history)))
}

impl Shown for CareFigures {
    of_one_herd!();

    fn title(&self) -> String {
        format!("from lame to lifted, {} to {}", self.about.from, self.about.to)
    }

    fn tell(&self, paper: &mut Paper) {
        if !self.waiting.is_empty() {
            paper.head(&format!("STILL WAITING on {} ({})", self.about.to, self.waiting.len()));
        }
        for row in &self.waiting {
            let severe = if row.severe { "SEVERELY LAME, " } else { "" };
            let since = format!("{severe}lame since {}, {}", row.since, count(row.days.unsigned_abs(), "day"));
            paper.put(&format!("  {:<8}", row.cow), &since);
        }
        for row in &self.rows {
            paper.gap();
            paper.head(&format!("{} ({})", row.of.to_uppercase(), count(row.spells, "spell")));
            tell_row(paper, row);
        }
    }

    fn picture(&self) -> Option<Picture> {
        let row = self.rows.first().filter(|row| !row.curve.is_empty())?;
        let step = |point: &CurvePoint| Step { day: point.day, value: point.percent, limits: point.limits };
        Some(Picture {
            title: format!("{}: {}", self.about.seen.herd, self.title()),
            axis: format!("percent of {} lame spells not lifted yet", row.spells),
            drawn: Drawn::Curve(row.curve.iter().map(step).collect()),
        })
    }
}

fn tell_row(paper: &mut Paper, row: &CareRow) {
    let not_due = if row.not_yet_due > 0 { format!("; {} not counted", row.not_yet_due) } else { String::new() };
    paper.put("  in time   ", &format!("within {} h: {}{not_due}", row.hours, figure(&row.in_time, share)));
    paper.put("  days      ", &figure(&row.days, |of| days(of, "lifted")));
    let CareRow { lifted, sound_unlifted, left_unlifted, waiting, .. } = row;
    paper.put(
        "  ended     ",
        &format!("{lifted} lifted, {sound_unlifted} walked sound unlifted, {left_unlifted} left, {waiting} wait"),
    );
}

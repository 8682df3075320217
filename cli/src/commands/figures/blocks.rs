//! `footfold figures blocks`: what became of blocks.

use ledger_format::measures::blocks::{BlockFigures, BlockRow, EARLY_DAYS, blocks};

use super::words::{days, figure, share, share_row};
use super::{Asked, Shown, of_one_herd};
use crate::fail::Outcome;
use crate::place::Common;
use crate::show::count;
use crate::show::paper::Paper;
use crate::show::picture::Picture;

/// Blocks: days on, share gone early, share overdue, by kind
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// Gone within so many days is early
    #[arg(long, value_name = "DAYS", default_value_t = EARLY_DAYS)]
    early: u16,
    #[command(flatten)]
    asked: Asked,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    args.asked.show(common, |history, _| Ok(blocks(history, args.early)))
}

impl Shown for BlockFigures {
    of_one_herd!();

    fn title(&self) -> String {
        format!("blocks put on, {} to {}", self.about.from, self.about.to)
    }

    fn tell(&self, paper: &mut Paper) {
        for (nth, row) in self.rows.iter().enumerate() {
            if nth > 0 {
                paper.gap();
            }
            tell_row(paper, row);
        }
    }

    fn picture(&self) -> Option<Picture> {
        let rows = self.rows.iter().flat_map(|row| {
            let BlockRow { kind, early, overdue, .. } = row;
            let shares = [("gone early", early), ("overdue", overdue)];
            shares.map(|(what, share)| Some(share_row(format!("{kind}: {what}"), share.value()?)))
        });
        let title = format!("{}: {}", self.about.seen.herd, self.title());
        Picture::of_rows(title, "percent of the blocks put on, with 95 % limits".to_owned(), rows.flatten().collect())
    }
}

fn tell_row(paper: &mut Paper, row: &BlockRow) {
    paper.head(&format!("{} ({})", row.kind.to_uppercase(), count(row.put_on, "block")));
    paper.put("  gone early ", &figure(&row.early, share));
    paper.put("  overdue    ", &figure(&row.overdue, share));
    paper.put("  days on    ", &figure(&row.days_on, |of| days(of, "off")));
    let BlockRow { taken_off, lost, replaced, still_on, left, .. } = row;
    let ended =
        format!("{taken_off} taken off, {lost} lost, {replaced} replaced, {still_on} still on, {left} left with her");
    paper.put("  ended      ", &ended);
}

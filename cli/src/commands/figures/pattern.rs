//! `footfold figures pattern`: what the lesions point to, as questions to walk the farm with.

use ledger_format::measures::Figure;
use ledger_format::measures::lesions::lesions;
use ledger_format::measures::pattern::{Pattern, Point, pattern};

use super::{Asked, Shown, of_one_herd};
use crate::fail::Outcome;
use crate::place::Common;
use crate::show::paper::Paper;

/// What the lesions point to: questions to walk the farm with, never a diagnosis
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    #[command(flatten)]
    asked: Asked,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    args.asked.show(common, |history, _| Ok(pattern(history, &lesions(history, None))))
}

impl Shown for Pattern {
    of_one_herd!();

    fn title(&self) -> String {
        format!("what the lesions point to, {} to {}", self.about.from, self.about.to)
    }

    fn tell(&self, paper: &mut Paper) {
        match &self.points {
            Figure::Is(points) if points.is_empty() => {
                paper.put(
                    "  ",
                    &format!("nothing stands out beyond chance, of {} patterns looked for", self.looked_for),
                );
            }
            Figure::Is(points) => points.iter().for_each(|point| tell_point(paper, point)),
            Figure::Cannot { cannot_be_computed_because: why } => paper.put("  cannot be said: ", why),
        }
    }
}

fn tell_point(paper: &mut Paper, point: &Point) {
    paper.gap();
    paper.head(&format!("{}{}", point.what[..1].to_uppercase(), &point.what[1..]));
    paper.put("  ", &format!("{}; p {}", point.numbers, super::words::p(point.p)));
    point.questions.iter().for_each(|question| paper.put("  ? ", question));
    paper.put("  from: ", point.source);
}

//! `footfold figures lesions`: how often, where, and when in the lactation.

use ledger_format::measures::lesions::{Fit, LesionFigures, LesionRow, Lifted, Place, Slice, lesions};
use ledger_format::measures::{Figure, Rate};

use super::words::{figure, rate_row, share};
use super::{Asked, Shown, of_one_herd};
use crate::fail::Outcome;
use crate::place::Common;
use crate::show::paper::Paper;
use crate::show::picture::Picture;

/// Lesions: cases per 100 cow-years by code, stage of lactation, month, leg, claw, zone
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// Seen again within so many days it is the same case; without it, as agreed in the protocol
    #[arg(long, value_name = "DAYS", value_parser = clap::value_parser!(u16).range(1..=365))]
    repeat: Option<u16>,
    #[command(flatten)]
    asked: Asked,
}

/// So many rows are pictured; the words have all.
const PICTURED: usize = 16;

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    args.asked.show(common, |history, _| Ok(lesions(history, args.repeat)))
}

impl Shown for LesionFigures {
    of_one_herd!();

    fn title(&self) -> String {
        format!("lesions found, {} to {}", self.about.from, self.about.to)
    }

    fn tell(&self, paper: &mut Paper) {
        let days = self.rows.first().and_then(|row| row.cases.value()).map_or(0, |rate| rate.cow_days);
        paper.put("  ", &format!("{} animals lifted; {} animal-days", self.lifted.animals, crate::show::number(days)));
        paper.line("             cases  per 100 cow-years      animals, of those lifted");
        self.rows.iter().for_each(|row| tell_row(paper, row));
        for (heading, slices) in
            [("STAGE OF LACTATION", &self.stages), ("LACTATION", &self.lactations), ("MONTH", &self.months)]
        {
            tell_slices(paper, heading, slices);
        }
        paper.gap();
        paper.head("WHERE, of the cases that say so");
        for (label, places) in [("  leg     ", &self.legs), ("  claw    ", &self.claws), ("  zone    ", &self.zones)] {
            paper.put(label, &places_words(places));
        }
        paper.gap();
        paper.head("WHAT THE LIFTINGS SAY");
        tell_lifted(paper, self.lifted, &self.fit);
        let after = figure(&self.after_trim, |after| {
            format!("{} had a new case within {} days", share(&after.trims), after.days)
        });
        paper.put("  after routine trims: ", &after);
    }

    fn picture(&self) -> Option<Picture> {
        let row = |row: &LesionRow| Some(rate_row(&row.name, row.cases.value()?));
        let title = format!("{}: {}", self.about.seen.herd, self.title());
        let axis = "cases per 100 cow-years with 95 % limits: groups, and the most frequent codes".to_owned();
        Picture::of_rows(title, axis, self.rows.iter().skip(1).take(PICTURED).filter_map(row).collect())
    }
}

fn tell_row(paper: &mut Paper, row: &LesionRow) {
    let (cases, rate) = match &row.cases {
        Figure::Is(rate) => (rate.cases.to_string(), rate_words(rate)),
        Figure::Cannot { .. } => ("-".to_owned(), "-".to_owned()),
    };
    let animals = match &row.animals {
        Figure::Is(share) => format!("{:>4} of {:<4} {:>5.1} %", share.part, share.of, share.percent),
        Figure::Cannot { .. } => "-".to_owned(),
    };
    paper.line(&format!("  {:<10} {cases:>5}  {rate:<23} {animals}", row.code));
}

/// "31.0 (21.1 to 44.0)".
fn rate_words(rate: &Rate) -> String {
    format!("{:>5.1} ({:.1} to {:.1})", rate.rate, rate.limits.lower, rate.limits.upper)
}

fn tell_slices(paper: &mut Paper, heading: &str, slices: &[Slice]) {
    if slices.is_empty() {
        return;
    }
    paper.gap();
    paper.head(&format!("{heading}, cases per 100 cow-years of it"));
    paper.line(&format!("  {:<22} {:<27} {}", "", "horn", "infectious"));
    let words = |figure: &Figure<Rate>| match figure {
        Figure::Is(rate) => format!("{:>3}: {}", rate.cases, rate_words(rate)),
        Figure::Cannot { .. } => "-".to_owned(),
    };
    for slice in slices {
        paper.line(&format!("  {:<22} {:<27} {}", slice.of, words(&slice.horn), words(&slice.infectious)));
    }
}

fn places_words(places: &[Place]) -> String {
    if places.is_empty() {
        return "not written".to_owned();
    }
    let of = places[0].cases.value().map_or(0, |share| share.of);
    let words = places.iter().filter_map(|place| {
        place.cases.value().map(|share| format!("{} {} ({:.0} %)", place.at, share.part, share.percent))
    });
    format!("of {of}: {}", words.collect::<Vec<_>>().join(", "))
}

fn tell_lifted(paper: &mut Paper, lifted: Lifted, fit: &Fit) {
    let Lifted { times, with_lesion, written_sound, nothing_written, .. } = lifted;
    paper.put(
        "  lifted ",
        &format!("{times} times: {with_lesion} with a lesion, {written_sound} written sound, {nothing_written} with nothing written of it"),
    );
    let trimmed = figure(&fit.trimmed_percent, |percent| {
        format!("{} animals of a mean of {:.0}, {percent:.0} %", fit.trimmed, fit.mean_animals)
    });
    paper.put("  trimmed ", &format!("{trimmed}; {} different codes", fit.diagnoses));
}

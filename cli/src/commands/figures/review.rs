//! `footfold figures review`: the quarterly review that farm, trimmer and vet sit down with, on paper.

use std::path::PathBuf;

use chrono::Months;
use ledger_format::measures::blocks::{EARLY_DAYS, blocks};
use ledger_format::measures::care::care;
use ledger_format::measures::flow::flow;
use ledger_format::measures::lesions::lesions;
use ledger_format::measures::outcome::{OutcomeQuestion, outcome};
use ledger_format::measures::pattern::pattern;
use ledger_format::measures::round::round;
use ledger_format::measures::trend::trend;
use ledger_format::measures::{About, History};
use ledger_format::work::caution::CAUTIONS;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{Asked, Shown, save};
use crate::fail::Outcome;
use crate::look::{Place, write};
use crate::place::Common;
use crate::show::paper::Paper;

/// The foot-health review on one page to print: rounds, flow, care, lesions, outcome, blocks
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The file to write
    #[arg(long, value_name = "FILE")]
    html: PathBuf,
    #[command(flatten)]
    asked: Asked,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let place = Place::of(common)?;
    let page = args.asked.of(&place, |history| Ok(page(history)))?;
    save(&args.html, &page.into_string())?;
    write(&format!("Written: {}\n", args.html.display()))
}

const STYLE: &str = "
@page { size: A4; margin: 16mm }
body { font: 11pt/1.4 sans-serif; color: #000; background: #fff; max-width: 46em; margin: 1em auto; padding: 0 1em }
h1 { font-size: 18pt; margin: 0 }
h2 { font-size: 13pt; margin: 1.4em 0 .3em; border-bottom: 1px solid #555; break-after: avoid }
pre { font: 9pt/1.35 monospace; white-space: pre; margin: .4em 0; overflow-x: auto }
svg { max-width: 100%; height: auto; break-inside: avoid }
.small { font-size: 9pt; color: #333 }
.mind { border-left: 4px solid #D55E00; padding-left: .6em }
section { break-inside: auto }
footer { margin-top: 2em; border-top: 1px solid #555 }
@media print { body { margin: 0; padding: 0; max-width: none } pre { white-space: pre-wrap } }
";

fn page(history: &History<'_>) -> Markup {
    let about = history.about();
    let by = history.period().to().checked_add_months(Months::new(6)).unwrap_or(history.period().to());
    let lesions = lesions(history, None);
    let sections: [Markup; 8] = [
        section("The newest scoring round", &round(history, None)),
        section("Share lame over time", &trend(history)),
        section("From round to round, and where it leads", &flow(history, by)),
        section("From lame to lifted", &care(history)),
        section("Lesions found", &lesions),
        section("What the lesions point to: questions for the walk round the farm", &pattern(history, &lesions)),
        section("After treatment", &outcome(history, OutcomeQuestion::default())),
        section("Blocks", &blocks(history, EARLY_DAYS)),
    ];
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Foot-health review: " (about.seen.herd) ", " (about.from) " to " (about.to) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                h1 { "Foot-health review: " (about.seen.herd) }
                p { (about.from) " to " (about.to) (known(&about)) ". For farm, trimmer and vet to sit down with." }
                @for section in sections { (section) }
                footer {
                    h2 { "Cautions" }
                    @for caution in CAUTIONS { p.small { (caution) } }
                    p { "Agreed at this review, who does it, by when:" }
                    @for _ in 0..4 { p { "______________________________________________________________" } }
                }
            }
        }
    }
}

fn known(about: &About) -> String {
    let known = about.seen.known.as_ref().map(|known| format!(", as known at {known}"));
    let missed = about.late_lines_missed.filter(|missed| *missed > 0);
    let missed = missed.map(|missed| format!(" ({missed} lines came later and are not in it)"));
    known.unwrap_or_default() + &missed.unwrap_or_default()
}

fn section<T: Shown>(heading: &str, figures: &T) -> Markup {
    let mut paper = Paper::new(false);
    figures.tell(&mut paper);
    html! {
        section {
            h2 { (heading) }
            @if let Some(picture) = figures.picture() { (picture.markup()) }
            pre { (paper.finish().trim_matches('\n')) }
            @for warning in figures.warnings() { p.small.mind { (warning) } }
            p.small { (figures.definitions().join("; ")) "." }
        }
    }
}

//! `footfold figures flow`: who became lame, who recovered, and where that leads.

use chrono::{Months, NaiveDate};
use ledger_format::measures::Figure;
use ledger_format::measures::flow::{FlowFigures, Heading, Need, Step, flow};

use super::words::{figure, percents, rate, rate_row, share};
use super::{Asked, Shown, of_one_herd};
use crate::fail::{Fail, Outcome};
use crate::look::read_ahead;
use crate::place::Common;
use crate::show::paper::Paper;
use crate::show::picture::Picture;

/// From round to round: new cases, recoveries, chronic cows, and where the herd is heading
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The day by which the aim is to be reached; without it, half a year after today
    #[arg(long, value_name = "DATE", value_parser = read_ahead)]
    by: Option<NaiveDate>,
    #[command(flatten)]
    asked: Asked,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    args.asked.show(common, |history, _| Ok(flow(history, by(args, history.period().to())?)))
}

/// The day asked for, or half a year after the last day of the period.
fn by(args: &Args, to: NaiveDate) -> Result<NaiveDate, Fail> {
    let by = args.by.or_else(|| to.checked_add_months(Months::new(6))).unwrap_or(to);
    if by <= to {
        return Err(Fail::usage(format!("{by} is not after {to}"), "give a day to come as `--by`"));
    }
    Ok(by)
}

impl Shown for FlowFigures {
    of_one_herd!();

    fn title(&self) -> String {
        format!("flow between rounds, {} to {}", self.about.from, self.about.to)
    }

    fn tell(&self, paper: &mut Paper) {
        paper.put("  new cases   ", &figure(&self.new_cases, rate));
        paper.put("  recoveries  ", &figure(&self.recoveries, rate));
        paper.put("  left lame   ", &figure(&self.left_lame, rate));
        paper.put("  chronic     ", &figure(&self.chronic, share));
        paper.gap();
        paper.head("WHERE THE HERD IS HEADING");
        match &self.heading {
            Figure::Is(heading) => tell_heading(paper, heading),
            Figure::Cannot { cannot_be_computed_because: why } => paper.put("  cannot be said: ", why),
        }
        if !self.steps.is_empty() {
            paper.gap();
            paper.head("STEPS, the newest first");
            paper.line("  from        to          days   new  recov  still  sound   left  unseen  added");
            self.steps.iter().rev().for_each(|step| tell_step(paper, step));
        }
    }

    fn picture(&self) -> Option<Picture> {
        let rates = [("became lame", &self.new_cases), ("recovered", &self.recoveries), ("left lame", &self.left_lame)];
        let rows = rates.iter().filter_map(|(label, rate)| Some(rate_row(*label, rate.value()?)));
        let title = format!("{}: {}", self.about.seen.herd, self.title());
        let axis = "per 100 cow-months with 95 % limits: of cows not lame, and of lame cows".to_owned();
        Picture::of_rows(title, axis, rows.collect())
    }
}

fn tell_heading(paper: &mut Paper, heading: &Heading) {
    paper.put("  now     ", &format!("{:.1} % lame on {}", heading.now_percent, heading.now));
    let level = format!("{:.1} % ({})", heading.level_percent, percents(heading.level_limits));
    paper.put("  level   ", &format!("the present rates lead to {level}"));
    paper.put("  by then ", &format!("{:.1} % on {} if nothing changes", heading.then_percent, heading.by));
    let aim = format!("for under {} % by {}", heading.aim_percent, heading.by);
    paper.put("  to do   ", &format!("{aim}, new cases must fall {}", need(&heading.fall_in_new_cases)));
    paper.put("       or ", &format!("recovery must rise {}", need(&heading.rise_in_recovery)));
}

fn need(needed: &Figure<Need>) -> String {
    let words = |need: &Need| {
        if need.percent <= 0.0 && need.upper == Some(0.0) {
            return "not at all".to_owned();
        }
        let upper = need.upper.map_or("out of reach".to_owned(), |upper| format!("{upper:.0}"));
        format!("by {:.0} % ({:.0} to {upper})", need.percent, need.lower)
    };
    match needed {
        Figure::Is(need) => words(need),
        Figure::Cannot { cannot_be_computed_because: why } => format!("by more than can be: {why}"),
    }
}

fn tell_step(paper: &mut Paper, step: &Step) {
    let Step { days, became_lame, recovered, stayed_lame, stayed_sound, .. } = step;
    let left = step.left_lame + step.left_sound;
    paper.line(&format!(
        "  {:<10}  {:<10}  {days:>4}  {became_lame:>4}  {recovered:>5}  {stayed_lame:>5}  {stayed_sound:>5}  {left:>5}  \
         {:>6}  {:>5}",
        step.from, step.to, step.not_seen_again, step.newly_seen
    ));
}

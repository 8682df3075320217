//! `footfold figures trend`: the share lame round by round.

use ledger_format::measures::trend::{NewCases, TrendFigures, TrendPoint, trend};
use ledger_format::measures::{Figure, Limits};

use super::words::figure;
use super::{Asked, Shown, of_one_herd};
use crate::fail::Outcome;
use crate::place::Common;
use crate::show::paper::Paper;
use crate::show::picture::{Drawn, Picture, Point};

/// The share lame round by round, and what stands out beyond chance, in sentences
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    #[command(flatten)]
    asked: Asked,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    args.asked.show(common, |history, _| Ok(trend(history)))
}

impl Shown for TrendFigures {
    of_one_herd!();

    fn title(&self) -> String {
        format!("share lame of {} over time, {} to {}", self.of, self.about.from, self.about.to)
    }

    fn tell(&self, paper: &mut Paper) {
        match &self.level_percent {
            Figure::Is(_) if self.signals.is_empty() => paper.put("  ", "nothing stands out beyond chance"),
            _ => self.signals.iter().for_each(|signal| paper.put("  ! ", signal)),
        }
        let spread = self.spread.map_or(String::new(), |spread| {
            format!("; from one to the next rounds vary {spread:.1} times as much as counting alone has them")
        });
        let level = figure(&self.level_percent, |level| format!("{level:.1} % of all cows seen{spread}"));
        paper.put("  level ", &level);
        if !self.points.is_empty() {
            paper.gap();
            paper.line("  ROUND         lame   seen       %   chance alone");
            self.points.iter().rev().for_each(|point| tell_point(paper, point));
        }
        if !self.new_cases.is_empty() {
            paper.gap();
            let level = figure(&self.new_cases_level, |level| format!("{level:.1} per 100 cow-months"));
            paper.put("  level of new cases ", &level);
            paper.line("  UP TO      cases   per 100 cow-months     chance alone");
            self.new_cases.iter().rev().for_each(|step| tell_step(paper, step));
        }
    }

    fn picture(&self) -> Option<Picture> {
        let limits = |point: &TrendPoint| Some(Limits { lower: point.lower?, upper: point.upper? });
        let point = |point: &TrendPoint| Point { label: point.on.clone(), value: point.percent, limits: limits(point) };
        (self.points.len() > 1).then(|| Picture {
            title: format!("{}: {}", self.about.seen.herd, self.title()),
            axis: "lame, percent of the cows seen in each round".to_owned(),
            drawn: Drawn::Series {
                points: self.points.iter().map(point).collect(),
                level: self.level_percent.value().copied(),
            },
        })
    }
}

fn tell_point(paper: &mut Paper, point: &TrendPoint) {
    let TrendPoint { on, seen, lame, percent, .. } = point;
    let limits = match (point.lower, point.upper) {
        (Some(lower), Some(upper)) => format!("{lower:>5.1} to {upper:.1} %"),
        _ => String::new(),
    };
    let of = match point.basis {
        "part" => "a part",
        "unknown" => "of how many?",
        _ => "",
    };
    let line = format!("  {on:<10} {lame:>7} {seen:>6} {percent:>7.1}   {limits:<15}  {of}");
    paper.line(line.trim_end());
}

fn tell_step(paper: &mut Paper, step: &NewCases) {
    let limits = match (step.lower, step.upper) {
        (Some(lower), Some(upper)) => format!("{lower:.1} to {upper:.1}"),
        _ => String::new(),
    };
    let words = match &step.rate {
        Figure::Is(rate) => {
            let own = format!("{:.1} ({:.1} to {:.1})", rate.rate, rate.limits.lower, rate.limits.upper);
            format!("{:>5}   {own:<22} {limits}", rate.cases)
        }
        Figure::Cannot { cannot_be_computed_because: why } => format!("cannot be computed because {why}"),
    };
    paper.line(format!("  {:<10} {words}", step.to).trim_end());
}

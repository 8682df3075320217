//! `footfold figures agreement`: two people who scored the same cows.

use std::fmt::Write;

use ledger_format::measures::agreement::{AgreementFigures, AgreementRow, KappaRow, LameAgreement, agreement};
use ledger_format::measures::{Figure, Share};

use super::words::{self, difference, figure, share, share_row};
use super::{Asked, Shown, of_one_herd};
use crate::fail::Outcome;
use crate::place::Common;
use crate::show::count;
use crate::show::paper::Paper;
use crate::show::picture::{Picture, Row};

/// How far two people agree who scored the same cows, and who scores higher
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    #[command(flatten)]
    asked: Asked,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    args.asked.show(common, |history, _| Ok(agreement(history)))
}

impl Shown for AgreementFigures {
    of_one_herd!();

    fn title(&self) -> String {
        format!("agreement of scorers, {} to {}", self.about.from, self.about.to)
    }

    fn tell(&self, paper: &mut Paper) {
        match &self.pairs {
            Figure::Is(pairs) => pairs.iter().for_each(|pair| tell_pair(paper, pair)),
            Figure::Cannot { cannot_be_computed_because: why } => paper.put("  cannot be computed because ", why),
        }
    }

    fn picture(&self) -> Option<Picture> {
        let rows = self.pairs.value()?.iter().flat_map(rows_of).collect();
        let title = format!("{}: {}", self.about.seen.herd, self.title());
        Picture::of_rows(title, "percent of the cows that both scored, with 95 % limits".to_owned(), rows)
    }
}

fn rows_of(pair: &AgreementRow) -> Vec<Row> {
    let AgreementRow { first, second, exact, within_one, lame, .. } = pair;
    let lame = Figure::of(Share::of(lame.both + lame.neither, pair.cows), "");
    let shares = [("same score", exact), ("within one", within_one), ("lame or not", &lame)];
    let row =
        |(what, share): (&str, &Figure<Share>)| Some(share_row(format!("{first}, {second}: {what}"), share.value()?));
    shares.into_iter().filter_map(row).collect()
}

fn tell_pair(paper: &mut Paper, pair: &AgreementRow) {
    let (first, second) = (&pair.first, &pair.second);
    paper.gap();
    let days = count(pair.days, "day");
    paper.head(&format!("{first} AND {second}: {} on {days}, scale {}", count(pair.cows, "cow"), pair.scale));
    paper.put("  same score    ", &figure(&pair.exact, share));
    paper.put("  within one    ", &figure(&pair.within_one, share));
    paper.put("  kappa, linear ", &figure(&pair.kappa, kappa));
    let levels = (u64::from(pair.lowest)..).zip(&pair.by_score);
    let levels: Vec<String> =
        levels.filter_map(|(score, level)| level.map(|level| format!("{score}: {level:.0} %"))).collect();
    paper.put("  by score      ", &levels.join(", "));
    tell_table(paper, pair);
    tell_lame(paper, &pair.lame, first, second);
}

fn kappa(kappa: &KappaRow) -> String {
    let limits = match kappa.limits {
        Some(limits) => format!("{:.2} to {:.2}", limits.lower, limits.upper),
        None => "no limits: its error comes out as 0, which is no certainty".to_owned(),
    };
    format!("{:.2} ({limits}), {}", kappa.value, kappa.word)
}

fn tell_table(paper: &mut Paper, pair: &AgreementRow) {
    let classes = u64::from(pair.lowest)..u64::from(pair.lowest) + pair.table.len() as u64;
    let columns = cells(classes.clone());
    paper.line(&format!("  {:>12}  {columns}   {}", pair.first, pair.second));
    for (score, row) in classes.zip(&pair.table) {
        paper.line(&format!("  {score:>12}  {}", cells(row.iter().copied())));
    }
}

fn cells(numbers: impl Iterator<Item = u64>) -> String {
    let mut cells = String::new();
    for number in numbers {
        let _ = write!(cells, "{number:>6}");
    }
    cells
}

fn tell_lame(paper: &mut Paper, lame: &LameAgreement, first: &str, second: &str) {
    let LameAgreement { both, first_only, second_only, neither, agree_percent, adjusted, .. } = *lame;
    paper.put(
        "  lame or not   ",
        &format!("{agree_percent:.1} % agree, kappa adjusted for how few are lame {adjusted:.2}"),
    );
    let of = format!(
        "{both} lame by both, {first_only} only by {first}, {second_only} only by {second}, {neither} by neither"
    );
    paper.put("                ", &of);
    if let Some(value) = &lame.kappa {
        paper.put("                ", &format!("kappa {}", kappa(value)));
    }
    let who = match lame.difference {
        ref same if !same.is_beyond_chance() => "chance alone can do that".to_owned(),
        ref more if more.points > 0.0 => format!("{second} scores higher"),
        _ => format!("{first} scores higher"),
    };
    paper.put(
        "  who is higher ",
        &format!("{second} less {first}: {}; {who}; p {}", difference(&lame.difference), words::p(lame.mid_p)),
    );
}

//! `footfold figures round`: one scoring round, and what changed since the one before.

use ledger_format::measures::round::{Aim, Change, RoundFigures, RoundRow, SameCows, SchemeSize, round};
use ledger_format::measures::{Figure, Share};

use super::words::{self, difference, figure, percents, share_row};
use super::{Asked, Shown, of_one_herd};
use crate::fail::Outcome;
use crate::look::{Day, day};
use crate::place::Common;
use crate::show::paper::Paper;
use crate::show::picture::Picture;

/// A scoring round: lame and severely lame of those seen, the limits, the aim, the change
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The newest round up to this day; without it, the newest of all
    #[arg(value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    on: Option<Day>,
    #[command(flatten)]
    asked: Asked,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    args.asked.show(common, |history, place| Ok(round(history, args.on.map(|day| day.seen_from(place.today)))))
}

impl Shown for RoundFigures {
    of_one_herd!();

    fn title(&self) -> String {
        match &self.round {
            Figure::Is(row) if row.from != row.on => format!("scoring round of {} to {}", row.from, row.on),
            Figure::Is(row) => format!("scoring round of {}", row.on),
            Figure::Cannot { .. } => format!("scoring rounds up to {}", self.about.to),
        }
    }

    fn tell(&self, paper: &mut Paper) {
        match &self.round {
            Figure::Is(row) => tell_row(paper, row),
            Figure::Cannot { cannot_be_computed_because: why } => paper.put("  ", why),
        }
        if let Some(change) = self.change.value() {
            tell_change(paper, change);
        } else if self.round.value().is_some() {
            paper.gap();
            paper.put("", &format!("No change: {}", self.change.because().unwrap_or_default()));
        }
        if !self.sample.is_empty() {
            paper.gap();
            paper.head("TO SCORE A PART OF THE HERD, at random");
            for size in &self.sample {
                let words = format!("{} of {} cows", size.cows, size.of);
                paper.put("  ", &format!("to {:>2} points either side: {words}", size.points));
            }
            for SchemeSize { scheme, cows, at_least, of } in &self.schemes {
                let least = at_least.filter(|least| least < cows);
                let least = least.map_or(String::new(), |least| format!(", or {least} where so many cannot be"));
                paper.put("  ", &format!("{scheme}: {cows} of {of}{least}"));
            }
        }
    }

    fn picture(&self) -> Option<Picture> {
        picture(self, self.round.value()?)
    }
}

/// A round as it is drawn: of the whole herd with the limits of the level behind it.
fn picture(figures: &RoundFigures, round: &RoundRow) -> Option<Picture> {
    let lame = round.lame.value().map(|lame| Share { limits: lame.limits.or(round.level), ..*lame });
    let before = figures.change.value().and_then(|change| Some((change, change.all_cows.value()?)));
    let rows = [
        lame.map(|lame| share_row("lame", &lame)),
        round.severe.value().map(|severe| share_row("severely lame", severe)),
        before.map(|(change, all)| share_row(format!("lame on {}", change.since), &all.difference.first)),
    ];
    let title = format!("{}: {}", figures.about.seen.herd, figures.title());
    let axis = format!("percent of the cows seen: {}, with 95 % limits", round.of);
    let picture = Picture::of_rows(title, axis, rows.into_iter().flatten().collect())?;
    Some(match round.aim.value() {
        Some(aim) => picture.held_against(f64::from(aim.percent), format!("the aim, under {} % lame", aim.percent)),
        None => picture,
    })
}

fn tell_row(paper: &mut Paper, row: &RoundRow) {
    let seen = match (row.basis, row.could) {
        ("unknown", _) => format!("{} cows seen; how many there are is not written", row.seen),
        (_, could) => format!("{} of {could} cows seen", row.seen),
    };
    let by = if row.by.is_empty() { String::new() } else { format!(", scored by {}", row.by.join(", ")) };
    let scale = if row.scale == "mobility" { String::new() } else { format!(", scale {}", row.scale) };
    paper.put("  ", &format!("{}: {seen}{by}{scale}", row.of));
    paper.put("  lame      ", &figure(&row.lame, words::share));
    if let Some(level) = row.level {
        paper.put("            ", &format!("level behind it, allowing for chance: {}", percents(level)));
    }
    if let Some(herd) = row.lame_in_herd {
        paper.put("            ", &format!("among all {}: {} to {} lame cows", herd.of, herd.lower, herd.upper));
    }
    paper.put("  severely  ", &figure(&row.severe, words::share));
    if let (Some(zeros), Some(ones)) = (row.zeros, row.ones) {
        paper.put("  sound     ", &format!("{zeros} scored 0, {ones} scored 1"));
    }
    paper.put("  aim       ", &figure(&row.aim, aim_words));
}

fn aim_words(aim: &Aim) -> String {
    let under = format!("under {} %", aim.percent);
    match aim.stands {
        "under" => format!("{under}: met"),
        "over" => format!("{under}: OVER, by {}", crate::show::count(aim.fewer_cows, "cow")),
        _ => format!("{under}: so few cows cannot tell"),
    }
}

fn tell_change(paper: &mut Paper, change: &Change) {
    paper.gap();
    paper.head(&format!("SINCE THE ROUND OF {}", change.since));
    match &change.same_cows {
        Figure::Is(same) => tell_same(paper, same),
        Figure::Cannot { cannot_be_computed_because: why } => {
            paper.put("  same cows ", &format!("cannot be computed because {why}"));
        }
    }
    let all = figure(&change.all_cows, |all| difference(&all.difference));
    paper.put("  all seen  ", &format!("share lame {all}"));
}

fn tell_same(paper: &mut Paper, same: &SameCows) {
    let seen = same.difference.first.of;
    let chance = if same.difference.is_beyond_chance() { "" } else { "; chance alone can do that" };
    paper.put("  same cows ", &format!("{seen} seen both times: share lame {}{chance}", difference(&same.difference)));
    let SameCows { became_lame, recovered, stayed_lame, stayed_sound, .. } = same;
    paper.put(
        "            ",
        &format!("{became_lame} became lame, {recovered} recovered, {stayed_lame} stayed lame, {stayed_sound} sound"),
    );
    if !same.newly_lame.is_empty() {
        paper.put("  newly     ", &same.newly_lame.join(", "));
    }
    let others = [(same.only_then, "only then"), (same.only_now, "only now")];
    let others: Vec<String> =
        others.iter().filter(|(n, _)| *n > 0).map(|(n, when)| format!("{n} seen {when}")).collect();
    if !others.is_empty() {
        paper.put("  beside    ", &others.join(", "));
    }
}

//! `footfold between`: what changed from one day to another.

use ledger_format::between::{Between, between, lines};
use ledger_format::work::words::counted;

use crate::fail::{Fail, Outcome};
use crate::look::{Day, Look, Place, day, print};
use crate::place::Common;
use crate::show::paper::Paper;

/// What changed from one day to another, the worst first
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The earlier day
    #[arg(value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    from: Day,
    /// The later day; without it, today or the day of `--on`
    #[arg(value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    to: Option<Day>,
    /// The difference of the states line by line, for `patch`
    #[arg(long)]
    lines: bool,
    #[command(flatten)]
    look: Look,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let place = Place::of(common)?;
    let from = args.from.seen_from(place.today);
    let to = args.to.map_or_else(|| place.day(&args.look), |day| day.seen_from(place.today));
    if to < from {
        return Err(Fail::usage(format!("{to} is before {from}"), "name the earlier day first"));
    }
    let before = place.herd(&args.look, from)?;
    let after = place.herd_again(&args.look, to)?;
    if args.lines {
        use std::io::Write;
        std::io::stdout().lock().write_all(lines(&before, &after).as_bytes())?;
        return Ok(std::process::ExitCode::SUCCESS);
    }
    let found = between(&before, &after);
    print(&args.look, &found, |paper| tell(paper, &found))
}

fn tell(paper: &mut Paper, found: &Between) {
    paper.head(&format!("{}: from {} to {}", found.to.herd, found.from.on, found.to.on));
    super::due::tell_known(paper, found.to.known.as_deref());
    if found.changes.is_empty() {
        paper.put("", "nothing changed");
    }
    let mut kind = None;
    for change in &found.changes {
        if kind != Some(change.kind) {
            let n = found.changes.iter().filter(|other| other.kind == change.kind).count();
            paper.gap();
            paper.head(&format!("{} ({n})", change.kind.words().to_uppercase()));
            kind = Some(change.kind);
        }
        paper.put(&format!("  {:<7} ", change.cow), &change.words);
    }
    paper.gap();
    paper.put("", &format!("{} unchanged", counted(found.unchanged as i64, "animal")));
}

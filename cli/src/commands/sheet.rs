//! `footfold sheet`: what a visit found and did, what to watch, and what it costs.

use daemon::settings::{Charging, Settings};
use ledger_format::vocabulary::BlockKind;
use ledger_format::work::charges::{ChargeLine, Charges, Decimal, Prices, charges};
use ledger_format::work::sheet::{Sheet, SheetRow, Totals, Visit, sheet};
use ledger_format::work::words::counted;
use serde::Serialize;

use crate::fail::{Fail, Outcome};
use crate::look::{Day, Look, Place, day, print};
use crate::place::{self, Common};
use crate::show::paper::Paper;

/// What a visit found and did, cow by cow, what to watch, and what it costs
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The day of the visit
    #[arg(value_name = "DATE", value_parser = day, allow_hyphen_values = true)]
    day: Day,
    /// Only what this person saw
    #[arg(long, value_name = "INITIALS")]
    by: Option<String>,
    /// Only what this device wrote
    #[arg(long, value_name = "NAME")]
    device: Option<String>,
    /// Add what it costs, by the price list in footfold.ron
    #[arg(long)]
    charges: bool,
    /// Hours worked, where they are charged
    #[arg(long, value_name = "HOURS", requires = "charges")]
    hours: Option<Decimal>,
    #[command(flatten)]
    look: Look,
}

/// The sheet, and what it costs if that was asked.
#[derive(Serialize)]
struct Answer {
    sheet: Sheet,
    charges: Option<Charges>,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let place = Place::of(common)?;
    let day = args.day.seen_from(place.today);
    let herd = place.herd(&args.look, place.day_or(&args.look, day))?;
    let visit = Visit { day, by: args.by.as_deref(), device: args.device.as_deref() };
    let sheet = sheet(&herd, &visit);
    let costs = args.charges.then(|| price_list(&place::settings()?).map(|p| charges(&sheet, &p, args.hours)));
    let answer = Answer { charges: costs.transpose()?, sheet };
    print(&args.look, &answer, |paper| {
        tell(paper, &answer.sheet);
        if let Some(charges) = &answer.charges {
            tell_charges(paper, charges);
        }
        paper.gap();
        super::tell_cautions(paper, &answer.sheet.cautions);
    })
}

/// The price list of the settings. A trim costs the same whatever its reason.
fn price_list(settings: &Settings) -> Result<Prices, Fail> {
    let Charging { currency, vat_percent, prices } = settings.charging()?;
    if prices == daemon::settings::Prices::default() {
        let remedy = "write `prices` into footfold.ron; the file that `footfold new` writes shows how";
        return Err(Fail::usage("there is no price list in the settings", remedy));
    }
    Ok(Prices {
        currency: currency.unwrap_or_else(|| "GBP".to_owned()),
        call_out: prices.call_out,
        hour: prices.per_hour,
        lift: prices.lift,
        trim_routine: prices.trim,
        trim_lame: prices.trim,
        trim_check: prices.trim,
        block_wood: prices.block(Some(BlockKind::Wood)),
        block_rubber: prices.block(Some(BlockKind::Rubber)),
        block_bio: prices.block(Some(BlockKind::Bio)),
        block_shoe: prices.block(Some(BlockKind::Shoe)),
        block_not_said: prices.block(None),
        dressing: prices.dressing,
        vat_percent,
    })
}

fn tell(paper: &mut Paper, sheet: &Sheet) {
    paper.head(&format!("{}: visit of {}", sheet.seen.herd, sheet.day));
    super::due::tell_known(paper, sheet.seen.known.as_deref());
    if sheet.cows.is_empty() && sheet.not_lifted.is_empty() && sheet.herd_lines.is_empty() {
        paper.put("", "nothing is written for that day");
        return;
    }
    paper.put("", &format!("seen by {}", sheet.people.join(", ")));
    tell_totals(paper, &sheet.totals);
    paper.list("herd: ", &sheet.herd_lines);
    sheet.cows.iter().for_each(|row| tell_cow(paper, row));
    if !sheet.not_lifted.is_empty() {
        paper.gap();
        paper.head("NOT LIFTED");
        sheet.not_lifted.iter().for_each(|row| tell_cow(paper, row));
    }
}

fn tell_totals(paper: &mut Paper, totals: &Totals) {
    let mut parts = vec![format!("{} lifted", counted(totals.lifted as i64, "cow"))];
    let mut add = |n: usize, one: &str, many: &str| {
        if n > 0 {
            parts.push(format!("{n} {}", if n == 1 { one } else { many }));
        }
    };
    add(totals.trimmed_lame, "lame trim", "lame trims");
    add(totals.trimmed_routine, "routine trim", "routine trims");
    add(totals.trimmed_check, "check trim", "check trims");
    add(totals.with_lesion, "with a lesion", "with lesions");
    add(totals.no_lesion, "without lesion", "without lesion");
    add(totals.not_said, "where nothing was said of lesions", "where nothing was said of lesions");
    for blocks in &totals.blocks {
        match blocks.what {
            "not said" => add(blocks.count, "block of a kind not said", "blocks of a kind not said"),
            "shoe" => add(blocks.count, "shoe", "shoes"),
            kind => add(blocks.count, &format!("{kind} block"), &format!("{kind} blocks")),
        }
    }
    add(totals.blocks_off, "block off", "blocks off");
    add(totals.dressings, "dressing", "dressings");
    add(totals.rechecks_set, "recheck set", "rechecks set");
    add(totals.referred, "to the vet", "to the vet");
    add(totals.medicines, "medicine", "medicines");
    add(totals.scored, "scored", "scored");
    add(totals.scored_lame, "of them lame", "of them lame");
    paper.put("", &parts.join(", "));
    let lesions: Vec<String> = totals.lesions.iter().map(|count| format!("{} {}", count.count, count.what)).collect();
    if !lesions.is_empty() {
        paper.put("lesions: ", &lesions.join(", "));
    }
}

fn tell_cow(paper: &mut Paper, row: &SheetRow) {
    let group = row.group.as_ref().map_or(String::new(), |group| format!("group {group}"));
    paper.gap();
    paper.strong("", &row.cow, &group);
    for feet in row.feet.chunk_by(|a, b| (&a.found, &a.done) == (&b.found, &b.done)) {
        let names: Vec<&str> = feet.iter().map(|foot| foot.foot).collect();
        paper.list(&format!("    {}  ", names.join(" ")), feet[0].found.iter().chain(&feet[0].done));
    }
    paper.list("   cow  ", &row.cow_words);
    paper.list("  next  ", &row.rechecks);
    paper.list("  watch ", &row.watch);
    paper.list("      ! ", &row.careful);
}

fn tell_charges(paper: &mut Paper, charges: &Charges) {
    let Charges { currency, net, vat, vat_percent, total, .. } = charges;
    paper.gap();
    paper.strong("", "CHARGES", currency);
    for ChargeLine { what, count, each, net, .. } in &charges.lines {
        paper.line(&format!("  {what:<28} {count:>6} at {each:>9} {net:>12}"));
    }
    let sum = |paper: &mut Paper, what: &str, sum: &Decimal| paper.line(&format!("  {what:<48} {sum:>12}"));
    sum(paper, "sum", net);
    sum(paper, &format!("VAT {vat_percent} %"), vat);
    sum(paper, "to pay", total);
    if !charges.without_price.is_empty() {
        paper.put("  not charged, no price: ", &charges.without_price.join(", "));
    }
    paper.put("  ", charges.rounding);
}

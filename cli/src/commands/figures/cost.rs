//! `footfold figures cost`: lame days and cases times one's own prices.

use daemon::settings::Costing;
use ledger_format::measures::Figure;
use ledger_format::measures::cost::{Bill, CostFigures, Prices, cost};

use super::{Asked, Shown, of_one_herd};
use crate::fail::{Fail, Outcome};
use crate::place::{Common, settings};
use crate::show::number;
use crate::show::paper::Paper;

/// What lameness costs, by prices of your own in the settings; off until they are set
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    #[command(flatten)]
    asked: Asked,
}

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let prices = prices()?;
    args.asked.show(common, |history, _| Ok(cost(history, &prices)))
}

fn prices() -> Result<Prices, Fail> {
    let Costing { currency, costs } = settings()?.costing()?;
    let currency = currency.unwrap_or_default();
    Ok(Prices { currency, lame_day: costs.lame_day, severe_day: costs.severe_day, cases: costs.case })
}

impl Shown for CostFigures {
    of_one_herd!();

    fn title(&self) -> String {
        format!("what lameness cost, {} to {}", self.about.from, self.about.to)
    }

    fn tell(&self, paper: &mut Paper) {
        for (heading, bill) in [("BY LAME DAYS", &self.days), ("BY CASES", &self.cases)] {
            paper.gap();
            paper.head(heading);
            match bill {
                Figure::Is(bill) => tell_bill(paper, bill, &self.currency),
                Figure::Cannot { cannot_be_computed_because: why } => paper.put("  cannot be computed because ", why),
            }
        }
        paper.gap();
        paper.head("PUBLISHED FIGURES, to set your own beside");
        self.published.iter().for_each(|line| paper.put("  ", line));
    }
}

fn tell_bill(paper: &mut Paper, bill: &Bill, currency: &str) {
    for item in &bill.items {
        let count = number(item.count);
        paper.line(&format!(
            "  {:<22} {count:>8} x {:>8} = {:>12}",
            item.what,
            item.price.to_string(),
            item.amount.to_string()
        ));
    }
    paper.line(&format!("  {:<22} {:>34} {currency}", "together", bill.total.to_string()));
}

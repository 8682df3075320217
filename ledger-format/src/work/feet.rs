//! What is on a cow's feet now.

use chrono::NaiveDate;
use serde::Serialize;

use super::words::{case_words, days, place};
use crate::fold::{Animal, Block};
use crate::line::date_text;
use crate::vocabulary::Claw;

/// An open lesion, a block or a dressing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OnFoot {
    /// `LF`, `RF`, `LH`, `RH`.
    pub foot: &'static str,
    /// `inner`, `outer`.
    pub claw: Option<&'static str>,
    /// `lesion`, `block`, `dressing`.
    pub what: &'static str,
    /// The lesion's code, or what the block is made of.
    pub kind: Option<&'static str>,
    /// First seen, or put on.
    pub since: String,
    /// Days since then.
    pub days: i64,
    /// All of it in words.
    pub words: String,
}

/// Everything on her feet, by foot; lesions, then blocks, then dressings.
pub(crate) fn on_feet(animal: &Animal, on: NaiveDate) -> Vec<OnFoot> {
    let mut feet = lesions(animal, on);
    feet.extend(animal.blocks.iter().map(|block| block_row(*block, on)));
    feet.extend(animal.dressings.iter().map(|(foot, since)| {
        let worn = (on - *since).num_days();
        OnFoot {
            foot: foot.word(),
            claw: None,
            what: "dressing",
            kind: None,
            since: date_text(*since),
            days: worn,
            words: format!("{foot} dressing {}", days(worn)),
        }
    }));
    feet.sort_by_key(|on_foot| super::sheet::foot_order(on_foot.foot));
    feet
}

fn lesions(animal: &Animal, on: NaiveDate) -> Vec<OnFoot> {
    let row = |case: &&crate::fold::Case| OnFoot {
        foot: case.foot.word(),
        claw: case.claw.map(Claw::word),
        what: "lesion",
        kind: Some(case.lesion.word()),
        since: date_text(case.first),
        days: (on - case.first).num_days(),
        words: case_words(case),
    };
    animal.open_cases().iter().map(row).collect()
}

fn block_row(block: Block, on: NaiveDate) -> OnFoot {
    let worn = (on - block.since).num_days();
    OnFoot {
        foot: block.foot.word(),
        claw: Some(block.claw.word()),
        what: "block",
        kind: block.kind.map(crate::vocabulary::BlockKind::word),
        since: date_text(block.since),
        days: worn,
        words: format!("{} {}", block_words(block), days(worn)),
    }
}

/// "RH inner wood block".
pub(crate) fn block_words(block: Block) -> String {
    let kind = block.kind.map_or(String::new(), |kind| format!("{kind} "));
    format!("{} {kind}block", place(block.foot, Some(block.claw)))
}

//! Blocks and dressings over their time (class 4).

use chrono::{NaiveDate, TimeDelta};

use super::super::feet::block_words;
use super::super::words::days;
use super::row::{At, Cause, Class};
use crate::fold::Block;

pub(super) fn causes(at: At<'_>) -> Vec<Cause> {
    let worn = |since: NaiveDate| days((at.clock.on - since).num_days());
    let blocks = at.animal.blocks.iter().map(|block| {
        let words = format!("{} on {}, to look at or take off", block_words(*block), worn(block.since));
        Cause::on_day(Class::OnTooLong, block_due(at, *block), words)
    });
    let dressings = at.animal.dressings.iter().map(|(foot, since)| {
        let words = format!("{foot} dressing on {}, to take off", worn(*since));
        Cause::on_day(Class::OnTooLong, dressing_due(at, *since), words)
    });
    blocks.chain(dressings).collect()
}

fn block_due(at: At<'_>, block: Block) -> NaiveDate {
    block.since + TimeDelta::days(at.protocol.block_days(block.kind).into())
}

fn dressing_due(at: At<'_>, since: NaiveDate) -> NaiveDate {
    since + TimeDelta::days(at.protocol.dressing_days.into())
}

/// How many blocks and dressings are over their time.
pub(super) fn over_time(at: At<'_>) -> (u16, u16) {
    let on = at.clock.on;
    let blocks = at.animal.blocks.iter().filter(|block| block_due(at, **block) <= on).count();
    let dressings = at.animal.dressings.iter().filter(|(_, since)| dressing_due(at, *since) <= on).count();
    (blocks as u16, dressings as u16)
}

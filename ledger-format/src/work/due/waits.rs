//! Rechecks, and what waits for the vet (classes 5 and 6).

use std::fmt::Write;

use super::super::words::days;
use super::row::{At, Cause, Class, For};
use crate::fold::{Recheck, Referral};
use crate::vocabulary::Foot;

pub(super) fn causes(at: At<'_>) -> Vec<Cause> {
    let mut causes: Vec<Cause> = at.animal.rechecks.iter().map(|recheck| recheck_due(at, recheck)).collect();
    causes.extend(at.animal.orders.iter().map(|order| order_due(at, order)));
    causes.extend(at.animal.referral().map(|referral| referred(at, referral)));
    causes
}

fn recheck_due(at: At<'_>, recheck: &Recheck) -> Cause {
    let words = format!("recheck{}, set {}", of(recheck.foot), at.clock.day(recheck.set));
    Cause::on_day(Class::Recheck, recheck.due, words)
}

fn order_due(at: At<'_>, order: &Recheck) -> Cause {
    let set = at.clock.day(order.set);
    let words = format!("the vet wants to look again{}, said {set}", of(order.foot));
    Cause { for_whom: For::Vet, ..Cause::on_day(Class::Vet, order.due, words) }
}

fn referred(at: At<'_>, referral: Referral) -> Cause {
    let waited = (at.clock.on - referral.day).num_days();
    let day = at.clock.day(referral.day);
    let mut words = format!("referred {day}{}, not yet seen by the vet", of(referral.foot));
    if let Some(why) = at.herd.log().body(referral.line).words {
        let _ = write!(words, ": {why}");
    }
    let late = if waited == 0 { "since today".to_owned() } else { format!("waits {}", days(waited)) };
    Cause { for_whom: For::Vet, late: Some(late), ..Cause::on_day(Class::Vet, referral.day, words) }
}

fn of(foot: Option<Foot>) -> String {
    foot.map_or(String::new(), |foot| format!(" {foot}"))
}

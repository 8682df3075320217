//! Rechecks, and what waits for the vet (classes 5 and 6); severely lame and waiting for the vet (class 1).

use std::fmt::Write;

use super::super::words::{case_words, days, score_words};
use super::row::{At, Cause, Class, For};
use crate::fold::{Case, Recheck, Referral};
use crate::vocabulary::Foot;

pub(super) fn causes(at: At<'_>) -> Vec<Cause> {
    let mut causes: Vec<Cause> = at.animal.rechecks.iter().map(|recheck| recheck_due(at, recheck)).collect();
    causes.extend(at.animal.without_recheck().into_iter().map(|case| not_set(at, case)));
    causes.extend(at.animal.orders.iter().map(|order| order_due(at, order)));
    causes.extend(at.animal.referrals.iter().map(|referral| referred(at, *referral)));
    causes.extend(severe(at));
    causes
}

fn recheck_due(at: At<'_>, recheck: &Recheck) -> Cause {
    let words = format!("recheck{}, set {}", of(recheck.foot), at.clock.day(recheck.set));
    Cause::on_day(Class::Recheck, recheck.due, words)
}

/// A painful lesion does not heal by being forgotten.
fn not_set(at: At<'_>, case: &Case) -> Cause {
    let looked = at.clock.day(case.looked);
    let words = format!("no recheck set: {}, last looked at {looked}", case_words(case));
    Cause::on_day(Class::Recheck, at.protocol.look_again(case), words)
}

/// Lifted, or walked past in a round, she is no longer a lame cow to lift: but scored severely lame and waiting for the
/// vet she is as pressing as any.
fn severe(at: At<'_>) -> Option<Cause> {
    let scored = at.animal.score().filter(|scored| scored.score.is_severe())?;
    let referred = at.animal.referrals.iter().map(|referral| referral.day);
    let ordered = at.animal.orders.iter().map(|order| order.due);
    let since = referred.chain(ordered).filter(|day| *day <= at.clock.on).min()?;
    let scored_on = at.clock.day(scored.observed.date);
    let words = format!("severely lame: scored {} on {scored_on}, waits for the vet", score_words(scored.score));
    let late = waits((at.clock.on - since).num_days());
    Some(Cause { for_whom: For::Vet, late: Some(late), ..Cause::on_day(Class::SeverelyLame, since, words) })
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
    Cause { for_whom: For::Vet, late: Some(waits(waited)), ..Cause::on_day(Class::Vet, referral.day, words) }
}

fn waits(waited: i64) -> String {
    if waited == 0 { "since today".to_owned() } else { format!("waits {}", days(waited)) }
}

fn of(foot: Option<Foot>) -> String {
    foot.map_or(String::new(), |foot| format!(" {foot}"))
}

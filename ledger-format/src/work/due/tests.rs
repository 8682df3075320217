//! Who is due, in what order, and for whom. The figures are those of the default protocol, with its sources.

use super::*;
use crate::fold::sample::{day, herd, herd_of, ledger};

fn asked() -> Asked {
    Asked::default()
}

fn list(on: &str, lines: &[&str]) -> Due {
    due(&herd(on, lines), &asked())
}

fn row_of(on: &str, lines: &[&str]) -> DueRow {
    list(on, lines).rows.into_iter().next().expect("one row")
}

fn order(due: &Due) -> Vec<&str> {
    due.rows.iter().map(|row| row.cow.as_str()).collect()
}

fn classes(row: &DueRow) -> Vec<Class> {
    row.reasons.iter().map(|reason| reason.class).collect()
}

#[test]
fn a_lame_cow_is_due_in_48_hours_and_a_severely_lame_one_in_24() {
    // 48 h: NZ dairy lameness poster, Barker 2010; 24 h: a secondary account of the poster.
    let lame = row_of("2026-03-01", &["2026-03-01 07:30 417 score 2 by ao"]);
    assert_eq!((lame.class, lame.reasons[0].due.as_str()), (Class::Lame, "2026-03-03 07:30"));
    let severe = row_of("2026-03-01", &["2026-03-01 07:30 417 score 3 by ao"]);
    assert_eq!((severe.class, severe.reasons[0].due.as_str()), (Class::SeverelyLame, "2026-03-02 07:30"));
    assert_eq!(severe.reasons[0].late, "due tomorrow by 07:30");
}

#[test]
fn lateness_is_counted_in_hours_to_the_time_asked() {
    let herd = herd("2026-03-03", &["2026-03-02 417 score 3 RH by ao"]);
    let due = due(&herd, &Asked { at: Some(22 * 60), ..asked() });
    let reason = &due.rows[0].reasons[0];
    assert_eq!((reason.late.as_str(), reason.late_hours), ("22 h late", 22));
    assert_eq!(reason.words, "scored 3 on 2 Mar, RH suspected, not lifted since");
}

#[test]
fn a_score_without_a_time_counts_from_the_start_of_its_day() {
    let row = row_of("2026-03-02", &["2026-03-02 417 score 3 by ao"]);
    assert_eq!((row.reasons[0].due.as_str(), row.reasons[0].late.as_str()), ("2026-03-03 00:00", "due today"));
}

#[test]
fn scored_again_while_she_waits_she_keeps_her_first_deadline() {
    let row = row_of("2026-03-09", &["2026-03-02 417 score 2 by ao", "2026-03-09 417 score 2 by ao"]);
    assert_eq!(row.reasons[0].due, "2026-03-04 00:00");
}

#[test]
fn severe_and_then_milder_but_never_lifted_is_still_severe() {
    let row = row_of("2026-03-05", &["2026-03-02 417 score 3 by ao", "2026-03-04 417 score 2 by mw"]);
    assert_eq!(row.class, Class::SeverelyLame);
    assert_eq!(row.reasons[0].words, "scored 3 on 2 Mar, not lifted since; 2 on 4 Mar");
}

#[test]
fn lifted_she_is_off_the_list() {
    let due = list("2026-03-04", &["2026-03-02 417 score 3 by ao", "2026-03-03 417 lesion none LF RF LH RH by kj"]);
    assert!(due.rows.is_empty());
    assert_eq!((due.counts.present, due.counts.without), (1, 1));
}

#[test]
fn other_scales_meet_at_their_own_cuts() {
    let scored = |score: &str| row_of("2026-03-02", &[&format!("2026-03-02 417 score {score} by ao")]).class;
    assert_eq!(scored("3 scale five"), Class::Lame);
    assert_eq!(scored("4 scale five"), Class::SeverelyLame);
    assert_eq!(scored("1 scale wq"), Class::Lame);
    assert!(list("2026-03-02", &["2026-03-02 417 score 2 scale five by ao"]).rows.is_empty());
}

#[test]
fn from_2_to_3_is_getting_worse_and_comes_before_any_routine() {
    let lines = ["2026-02-01 417 score 2 by ao", "2026-02-02 417 trim lame RH by kj", "2026-03-01 417 score 3 by ao"];
    let row = row_of("2026-03-02", &lines);
    assert_eq!(row.class, Class::SeverelyLame);
    assert_eq!(row.reasons[1].words, "got worse: 2 to 3");
    assert!(Class::GettingWorse < Class::Lame && Class::GettingWorse < Class::Routine);
}

#[test]
fn a_worse_half_is_worse_only_where_both_were_given() {
    let after = |first: &str, second: &str| {
        let first = format!("2026-03-01 417 score {first} by ao");
        row_of("2026-03-02", &[&first, &format!("2026-03-02 417 score {second} by ao")]).class
    };
    assert_eq!(after("2a", "2b"), Class::GettingWorse);
    assert_eq!(after("2", "2b"), Class::Lame);
    assert_eq!(after("2b", "2a"), Class::Lame);
}

#[test]
fn sound_before_is_newly_lame_not_worse() {
    let row = row_of("2026-03-02", &["2026-02-01 417 score 1 by ao", "2026-03-02 417 score 2 by ao"]);
    assert_eq!(classes(&row), [Class::Lame]);
}

#[test]
fn still_lame_after_treatment_is_for_the_vet_too() {
    let lines = ["2026-03-01 417 score 2 by ao", "2026-03-02 417 trim lame RH by kj", "2026-03-16 417 score 2 by ao"];
    let row = row_of("2026-03-16", &lines);
    assert_eq!(row.reasons[0].words, "still lame 14 days after treatment");
    assert!(row.cautions.iter().any(|caution| caution == "to the vet: still lame 14 days after treatment"));
    let day_before = [lines[0], lines[1], "2026-03-15 417 score 2 by ao"];
    assert_eq!(row_of("2026-03-16", &day_before).class, Class::Lame);
}

#[test]
fn lame_again_long_after_is_a_new_case() {
    let lines = [
        "2026-01-01 417 score 2 by ao",
        "2026-01-02 417 trim lame RH by kj",
        "2026-01-20 417 score 0 by ao",
        "2026-03-16 417 score 2 by ao",
    ];
    assert_eq!(row_of("2026-03-16", &lines).class, Class::Lame);
}

#[test]
fn worse_at_recheck_until_lifted_on_a_later_day() {
    let lines = ["2026-03-01 417 lesion SU RH outer by kj", "2026-03-10 417 recheck found worse RH by kj"];
    let row = row_of("2026-03-12", &lines);
    assert_eq!((row.class, row.reasons[0].due.as_str()), (Class::GettingWorse, "2026-03-12 00:00"));
    assert!(row.cautions[0].starts_with("to the vet: worse"));
    let lifted = [lines[0], lines[1], "2026-03-11 417 trim lame RH by kj"];
    assert!(list("2026-03-12", &lifted).rows.is_empty());
}

#[test]
fn blocks_are_due_by_kind_at_28_or_42_days() {
    // Four weeks: Cramer 2015. Plastic shoes six weeks: AHDB 2021.
    let on = |day: &str, kind: &str| list(day, &[&format!("2026-01-10 417 block on RH inner{kind} by kj")]);
    assert!(on("2026-02-06", " wood").rows.is_empty());
    let due = on("2026-02-07", " wood");
    assert_eq!(due.rows[0].reasons[0].words, "RH inner wood block on 28 days, to look at or take off");
    assert_eq!((due.rows[0].reasons[0].late.as_str(), due.bring.blocks), ("due today", 1));
    assert!(on("2026-02-20", " shoe").rows.is_empty());
    assert_eq!(on("2026-02-21", " shoe").rows[0].reasons[0].due, "2026-02-21");
    assert_eq!(on("2026-02-07", "").rows[0].class, Class::OnTooLong);
}

#[test]
fn a_dressing_is_due_off_after_its_days() {
    let on = |day: &str| list(day, &["2026-03-01 417 dressing on LH by kj"]);
    assert!(on("2026-03-07").rows.is_empty());
    let due = on("2026-03-10");
    assert_eq!((due.rows[0].reasons[0].late.as_str(), due.bring.dressings), ("2 days late", 1));
}

#[test]
fn rechecks_are_due_on_their_day_and_ahead_if_asked() {
    let herd = herd("2026-03-29", &["2026-03-03 417 recheck due 2026-03-31 RH by kj"]);
    assert!(due(&herd, &asked()).rows.is_empty());
    let ahead = due(&herd, &Asked { ahead_days: 2, ..asked() });
    let reason = &ahead.rows[0].reasons[0];
    assert_eq!((reason.class, reason.late.as_str()), (Class::Recheck, "in 2 days"));
    assert_eq!(reason.words, "recheck RH, set 3 Mar");
}

#[test]
fn what_waits_for_the_vet_is_not_for_the_trimmer() {
    let row = row_of("2026-03-05", &["2026-03-03 417 refer RH by kj: probe goes deep"]);
    assert_eq!((row.class, row.for_whom, row.minutes), (Class::Vet, For::Vet, 0));
    assert_eq!(row.reasons[0].words, "referred 3 Mar RH, not yet seen by the vet: probe goes deep");
    assert_eq!(row.reasons[0].late, "waits 2 days");
    let order = row_of("2026-03-12", &["2026-03-03 417 seen RH due 2026-03-10 by mw"]);
    assert_eq!((order.for_whom, order.reasons[0].late.as_str()), (For::Vet, "2 days late"));
}

#[test]
fn referred_and_lame_again_she_is_lifted_but_not_without_asking() {
    let row = row_of("2026-03-05", &["2026-03-03 417 refer RH by kj: deep", "2026-03-04 417 score 3 by ao"]);
    assert_eq!(row.for_whom, For::Lifting);
    assert_eq!(row.cautions[0], "the vet is waited for: ask before lifting");
}

#[test]
fn while_she_waits_for_the_vet_a_routine_trim_waits() {
    let lines = ["2025-01-01 417 joined by ao", "2026-03-03 417 refer RH by kj: deep"];
    let row = row_of("2026-03-05", &lines);
    assert_eq!((row.for_whom, classes(&row)), (For::Vet, vec![Class::Vet, Class::Routine]));
}

#[test]
fn before_calving_from_56_to_28_days() {
    // Calving 30 June: target 5 May, not after 2 June. AHDB trim-list guidance.
    let on = |day: &str| list(day, &["2026-03-01 417 calved due 2026-06-30 by ao"]);
    assert!(on("2026-05-04").rows.is_empty());
    let first = on("2026-05-05");
    assert_eq!((first.rows[0].class, first.rows[0].for_whom), (Class::TrimDue, For::Lifting));
    assert_eq!(first.rows[0].reasons[0].words, "trim before calving on 30 Jun, not after 2 Jun");
    assert_eq!(on("2026-06-02").rows[0].for_whom, For::Lifting);
    let late = on("2026-06-03");
    assert_eq!((late.rows[0].for_whom, late.counts.to_leave), (For::Leaving, 1));
    assert!(late.rows[0].reasons[0].words.ends_with("too near calving (30 Jun), leave"));
}

#[test]
fn before_drying_off_from_10_to_3_days_and_never_on_the_day() {
    // Drying off 5 May: 25 April to 2 May. AHDB trim-list guidance.
    let lines = ["2026-03-01 417 dried due 2026-05-05 by ao"];
    assert!(list("2026-04-24", &lines).rows.is_empty());
    let row = row_of("2026-04-25", &lines);
    assert_eq!(row.reasons[0].words, "trim before drying off on 5 May, by 2 May");
    assert_eq!((row.reasons[0].due.as_str(), row.reasons[0].late.as_str()), ("2026-05-02", "in 7 days"));
    assert_eq!(row_of("2026-05-04", &lines).reasons[0].late, "2 days late");
    let on_the_day = row_of("2026-05-05", &lines);
    assert_eq!(on_the_day.for_whom, For::Leaving);
    assert!(on_the_day.reasons[0].words.ends_with("not on the day itself, leave"));
}

#[test]
fn trimmed_shortly_before_she_is_not_asked_for_again() {
    let lines = ["2026-03-01 417 dried due 2026-05-05 by ao", "2026-04-10 417 trim check LH RH by kj"];
    assert!(list("2026-04-28", &lines).rows.is_empty());
    let lame = [lines[0], "2026-04-10 417 trim lame LH by kj"];
    assert_eq!(row_of("2026-04-28", &lame).class, Class::TrimDue);
}

#[test]
fn early_lactation_from_60_to_100_days() {
    // Calved 1 January: 2 March to 11 April. Griffiths 2018.
    let lines = ["2026-01-01 417 calved by ao"];
    assert!(list("2026-03-01", &lines).rows.is_empty());
    let row = row_of("2026-03-02", &lines);
    assert_eq!(row.reasons[0].words, "60 days in milk, no trim since calving; best by 11 Apr");
    assert_eq!(row_of("2026-04-11", &lines).class, Class::TrimDue);
    assert!(list("2026-04-12", &lines).rows.is_empty());
    let looked = [lines[0], "2026-02-20 417 trim check LH RH by kj"];
    assert!(list("2026-03-02", &looked).rows.is_empty());
}

#[test]
fn the_routine_interval_counts_from_the_last_routine_trim_or_from_joining() {
    let trimmed = ["2025-06-01 417 joined by ao", "2025-09-01 417 trim routine LF RF LH RH by kj"];
    assert!(list("2026-03-02", &trimmed).rows.is_empty());
    let row = row_of("2026-03-03", &trimmed);
    assert_eq!((row.class, row.reasons[0].due.as_str()), (Class::Routine, "2026-03-03"));
    assert_eq!(row_of("2025-12-01", &trimmed[..1]).reasons[0].due, "2025-12-01");
}

#[test]
fn near_calving_a_routine_trim_is_left() {
    let lines = ["2025-01-01 417 joined by ao", "2026-03-01 417 calved due 2026-03-20 by ao"];
    let row = row_of("2026-03-02", &lines);
    assert_eq!((row.for_whom, row.minutes), (For::Leaving, 0));
    assert!(row.reasons.iter().all(|reason| reason.words.contains("leave")));
}

const MANY: [&str; 15] = [
    "2025-01-01 1 joined by ao",
    "2026-01-01 2 calved by ao",
    "2026-03-01 3 refer LH by kj: swollen to the fetlock",
    "2026-02-01 4 recheck due 2026-03-01 by kj",
    "2026-01-20 5 block on RH inner wood by kj",
    "2026-03-08 6 score 2 by ao",
    "2026-02-20 7 score 2a by ao",
    "2026-02-21 7 trim lame RH by kj",
    "2026-03-08 7 score 2b by ao",
    "2026-03-08 8 score 3 by ao",
    "2026-03-07 9 score 3 by ao",
    "2026-03-08 10 score 4 scale five by ao",
    "2026-03-08 11 score 5 scale five by ao",
    "2026-03-08 12 score 3 by ao",
    "2026-03-08 13 score 0 by ao",
];

#[test]
fn classes_in_order_then_the_latest_then_the_worse_score_then_the_number() {
    let due = list("2026-03-09", &MANY);
    assert_eq!(order(&due), ["9", "11", "10", "8", "12", "7", "6", "5", "4", "3", "2", "1"]);
}

#[test]
fn every_cow_is_listed_or_counted() {
    let due = list("2026-03-09", &MANY);
    let counts = due.counts;
    assert_eq!((counts.present, counts.with_reasons, counts.without), (13, 12, 1));
    assert_eq!(counts.to_lift + counts.for_the_vet + counts.to_leave, counts.with_reasons);
    assert_eq!(counts.never_scored, 5);
}

#[test]
fn a_cow_with_several_reasons_appears_once_in_her_first_class() {
    let lines =
        ["2026-01-10 417 block on RH inner wood by kj", "2026-03-01 417 score 2 by ao", "2024-01-01 417 joined by ao"];
    let due = list("2026-03-02", &lines);
    assert_eq!((due.rows.len(), classes(&due.rows[0])), (1, vec![Class::Lame, Class::OnTooLong, Class::Routine]));
    let on_feet: Vec<&str> = due.rows[0].on_feet.iter().map(|on| on.words.as_str()).collect();
    assert_eq!(on_feet, ["RH inner wood block 51 days"]);
}

#[test]
fn a_cow_that_left_is_not_listed() {
    let due = list("2026-03-04", &["2026-03-02 417 score 3 by ao", "2026-03-03 417 left culled feet by ao"]);
    assert_eq!((due.rows.len(), due.counts.present), (0, 0));
}

#[test]
fn withdrawal_travel_and_doubt_are_said() {
    let office = ledger("farm-office", &["2026-03-02 417 score 2 by ao", "2026-03-03 417 moved to straw by ao"]);
    let vet = ledger(
        "vet-tablet",
        &["2026-03-02 417 score 3 by mw", "2026-03-03 08:00 417 medicine \"Ovelmar\" dose 12 ml milk 7d meat 0d by mw"],
    );
    let due = due(&herd_of("2026-03-03", vec![office, vet]), &asked());
    let row = &due.rows[0];
    assert_eq!((row.class, row.group.as_deref()), (Class::SeverelyLame, Some("straw")));
    assert!(row.cautions.contains(&"milk held to 10 Mar 08:00".to_owned()), "{:?}", row.cautions);
    assert!(row.cautions.contains(&"may be unfit to travel: severely lame".to_owned()));
    assert!(row.cautions.contains(&"scores differ on one day; the worse counts".to_owned()));
    assert_eq!(due.counts.open_questions, 1);
}

#[test]
fn what_fits_goes_by_the_order_of_the_list() {
    let due = list("2026-03-09", &MANY);
    let all: u32 = due.minutes;
    assert_eq!(fits(&due.rows, all).left_over_count, 0);
    let some = fits(&due.rows, 30);
    assert_eq!((some.cows, some.minutes_used), (vec!["9".to_owned(), "11".to_owned(), "3".to_owned()], 28));
    assert_eq!((some.left_over_count, some.left_over[0].as_str()), (9, "10"));
    assert_eq!(fits(&due.rows, 0).left_over_count, 11);
}

#[test]
fn what_was_not_known_is_not_listed() {
    let lines = ["2026-03-02 417 score 3 by ao | 2026-03-05T08:00:00Z"];
    let herd = herd("2026-03-04", &lines);
    let known = day("2026-03-04").and_hms_opt(23, 59, 59);
    let herd = herd.seen_from(crate::fold::View { on: day("2026-03-04"), known });
    assert_eq!(due(&herd, &asked()).counts.present, 0);
}

const SEVERE_AND_REFERRED: [&str; 4] = [
    "2026-03-01 417 score 3 RH by ao",
    "2026-03-02 417 lesion SU RH outer grade 3 by kj",
    "2026-03-02 417 refer RH by kj: deep",
    "2026-02-20 9 score 3 by ao",
];

#[test]
fn severe_lifted_and_referred_she_stands_on_top_until_the_vet_has_seen_her() {
    let due = list("2026-03-04", &SEVERE_AND_REFERRED);
    assert_eq!(order(&due), ["417", "9"]);
    let row = &due.rows[0];
    assert_eq!((row.class, row.for_whom, row.minutes), (Class::SeverelyLame, For::Vet, 0));
    assert_eq!(row.reasons[0].words, "severely lame: scored 3 on 1 Mar, waits for the vet");
    assert_eq!((row.reasons[0].late.as_str(), classes(row)), ("waits 2 days", vec![Class::SeverelyLame, Class::Vet]));
    let mut seen = SEVERE_AND_REFERRED.to_vec();
    seen.push("2026-03-03 417 seen RH by mw");
    assert_eq!(order(&list("2026-03-04", &seen)), ["9"]);
}

#[test]
fn walked_past_and_waiting_for_the_vet_she_is_still_severely_lame() {
    let mut lines = SEVERE_AND_REFERRED.to_vec();
    lines.push("2026-03-03 herd tally walked 2 by ao");
    let row = row_of("2026-03-04", &lines);
    assert_eq!((row.cow.as_str(), row.class, row.for_whom), ("417", Class::SeverelyLame, For::Vet));
    assert!(row.cautions.iter().any(|caution| caution.contains("travel: severely lame, waiting for the vet")));
}

#[test]
fn severe_and_not_lifted_says_so_once_and_stands_first_where_the_vet_is_waited_for() {
    let lines = ["2026-02-20 9 score 3 by ao", "2026-03-01 417 score 3 by ao", "2026-03-01 417 refer by ao: no weight"];
    let due = list("2026-03-04", &lines);
    assert_eq!(order(&due), ["417", "9"]);
    assert_eq!((due.rows[0].for_whom, classes(&due.rows[0])), (For::Lifting, vec![Class::SeverelyLame, Class::Vet]));
}

#[test]
fn on_the_day_of_the_vets_order_a_severe_cow_is_severe_again() {
    let lines = ["2026-03-01 417 score 3 by ao", "2026-03-02 417 seen due 2026-03-10 by mw"];
    assert!(list("2026-03-09", &lines).rows.is_empty());
    assert_eq!(row_of("2026-03-10", &lines).class, Class::SeverelyLame);
}

#[test]
fn an_alarm_lesion_without_a_recheck_is_due_after_recheck_days() {
    // About four weeks: Cramer 2015.
    let lines = ["2026-03-01 417 lesion SU RH outer zone 4 by kj"];
    assert!(list("2026-03-28", &lines).rows.is_empty());
    let row = row_of("2026-03-29", &lines);
    assert_eq!((row.class, row.for_whom, row.reasons[0].due.as_str()), (Class::Recheck, For::Lifting, "2026-03-29"));
    assert_eq!(row.reasons[0].words, "no recheck set: RH outer SU zone 4, last looked at 1 Mar");
    let with = |more: &str| list("2026-03-30", &[lines[0], more]).rows;
    assert_eq!(with("2026-03-01 417 recheck due 2026-03-30 RH by kj")[0].reasons[0].words, "recheck RH, set 1 Mar");
    assert_eq!(with("2026-03-01 417 recheck due 2026-03-30 LH by kj").len(), 1, "another foot");
    assert_eq!(with("2026-03-01 417 refer by kj: deep")[0].class, Class::Vet);
    assert!(with("2026-03-20 417 recheck found better RH by kj").is_empty());
    assert!(with("2026-03-20 417 trim routine RH by kj").is_empty());
    assert!(list("2026-03-30", &["2026-03-01 417 lesion SH RH outer by kj"]).rows.is_empty(), "no alarm lesion");
}

#[test]
fn near_calving_a_cow_may_be_unfit_to_travel() {
    // A week after calving, the last tenth of pregnancy before it: Reg. (EC) 1/2005, Annex I.
    let says = |on: &str, more: &str, words: &str| {
        let row = row_of(on, &["2026-03-01 417 score 2 by ao", more]);
        row.cautions.iter().any(|caution| caution.contains("travel") && caution.contains(words))
    };
    let calved = |on: &str| says(on, "2026-03-01 417 calved by ao", "calved within a week");
    assert!(calved("2026-03-08") && !calved("2026-03-09"));
    let before = |on: &str| says(on, "2026-03-01 417 calved due 2026-06-30 by ao", "last tenth of pregnancy");
    assert!(!before("2026-06-01") && before("2026-06-02") && before("2026-06-30"));
}

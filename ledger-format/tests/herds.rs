//! Merge and fold: one state whatever the order of arrival (`spec/merge.md`, `spec/fold.md`).

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use ledger_format::fold::{Herd, View, state_text};
use ledger_format::line::date_text;
use ledger_format::mark::Chain;
use ledger_format::merge::{Ledger, Log};
use proptest::prelude::*;

const DEVICES: [(&str, &str); 3] = [("crush-laptop", "kj"), ("farm-office", "ao"), ("vet-tablet", "mw")];

const ACTS: [&str; 29] = [
    "score 0",
    "score 1",
    "score 2 RH",
    "score 3",
    "score 2 scale five",
    "trim lame RH",
    "trim routine LF RF LH RH",
    "lesion WLA RH outer zone 3",
    "lesion WLA RH outer grade 2",
    "lesion DD M2 LH zone 10",
    "lesion none RH",
    "block on RH inner wood",
    "block on LH outer",
    "block lost RH",
    "block off LH outer",
    "dressing on RH",
    "dressing off RH",
    "recheck due 2026-02-01 RH",
    "recheck found sound RH",
    "recheck found worse",
    "seen RH due 2026-02-03",
    "medicine \"Pedirel\" dose 10 ml milk 0d meat 4d",
    "calved lactation 2",
    "dried",
    "joined lactation 1",
    "left culled feet",
    "moved to high",
    "renumbered to 12",
    "tally walked 40",
];

/// One thing that a person did at a device.
#[derive(Clone, Debug)]
struct Step {
    device: usize,
    cow: u32,
    day: i64,
    minute: Option<u16>,
    act: usize,
    /// Replaces or strikes an earlier line, counted back.
    corrects: Option<(bool, usize)>,
}

fn day(n: i64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 1, 1).unwrap() + TimeDelta::days(n)
}

fn sealed(n: usize) -> NaiveDateTime {
    day(30).and_hms_opt(8, 0, 0).unwrap() + TimeDelta::minutes(n as i64)
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let corrects = prop_oneof![4 => Just(None), 1 => (any::<bool>(), 0usize..6).prop_map(Some)];
    let step = (0usize..3, 9u32..13, 0i64..40, prop::option::of(0u16..1440), 0..ACTS.len(), corrects);
    prop::collection::vec(
        step.prop_map(|(device, cow, day, minute, act, corrects)| Step { device, cow, day, minute, act, corrects }),
        1..60,
    )
}

/// One device's file, and how it grew line by line.
#[derive(Clone, Default)]
struct File {
    bytes: Vec<u8>,
    ends: Vec<usize>,
}

/// Carries the steps out: each at its device, sealed one minute after the other.
fn write(steps: &[Step]) -> Vec<File> {
    let mut chains: Vec<Chain> = vec![Chain::default(); 3];
    let mut files: Vec<File> = vec![File::default(); 3];
    let mut marks: Vec<(usize, String)> = Vec::new();
    for (file, (chain, (device, _))) in files.iter_mut().zip(chains.iter_mut().zip(DEVICES)) {
        let head = format!("footfold 1 herd quillmere device {device} key {} zone Europe/London", "8d".repeat(32));
        chain.seal(&head, sealed(0), &mut file.bytes);
        file.ends.push(file.bytes.len());
    }
    for (n, step) in steps.iter().enumerate() {
        let body = body(step, &marks);
        let full = chains[step.device].seal(&body, sealed(n + 1), &mut files[step.device].bytes);
        let end = files[step.device].bytes.len();
        files[step.device].ends.push(end);
        marks.push((step.device, full.mark().to_string()));
    }
    files
}

fn body(step: &Step, marks: &[(usize, String)]) -> String {
    let by = DEVICES[step.device].1;
    let time = step.minute.map_or(String::new(), |m| format!(" {:02}:{:02}", m / 60, m % 60));
    let subject = if step.act == 28 { "herd".to_owned() } else { step.cow.to_string() };
    let begin = format!("{}{time} {subject}", date_text(day(step.day)));
    let target =
        step.corrects.and_then(|(strikes, back)| Some((strikes, marks.get(marks.len().checked_sub(back + 1)?)?)));
    let reference = |(device, mark): &(usize, String)| {
        if *device == step.device { mark.clone() } else { format!("{mark} of {}", DEVICES[*device].0) }
    };
    match target {
        Some((true, line)) => format!("{begin} strike {} by {by}: wrong", reference(line)),
        Some((false, line)) => format!("{begin} {} replaces {} by {by}", ACTS[step.act], reference(line)),
        None => format!("{begin} {} by {by}", ACTS[step.act]),
    }
}

fn read(device: usize, bytes: &[u8]) -> Ledger {
    Ledger::read(DEVICES[device].0, 2026, bytes.to_vec()).unwrap()
}

fn view(on: i64) -> View {
    View { on: day(on), known: None }
}

fn fold(files: &[File], on: i64) -> Herd {
    let ledgers = files.iter().enumerate().map(|(device, file)| read(device, &file.bytes)).collect();
    Herd::fold(Log::union(ledgers), Vec::new(), view(on))
}

/// All that a person can see of a herd, in words that do not depend on the machine.
fn seen(herd: &Herd) -> String {
    let body = |id| herd.log().text(id).to_owned();
    let questions: Vec<String> = herd
        .questions()
        .iter()
        .map(|question| {
            let lines: Vec<String> = question.lines.iter().map(|id| body(*id)).collect();
            format!("{}: {}", question.why, lines.join(" / "))
        })
        .collect();
    let mut questions = questions;
    questions.sort();
    let twice: Vec<String> = herd.typed_twice().iter().map(|(a, b)| format!("{} = {}", body(*a), body(*b))).collect();
    let histories: Vec<String> = herd
        .animals()
        .iter()
        .flat_map(|animal| {
            herd.lines_of(animal.number).iter().map(|id| format!("{:?} {}", herd.standings().get(*id), body(*id)))
        })
        .collect();
    format!("{}\n{}\n{}\n{}", state_text(herd), questions.join("\n"), twice.join("\n"), histories.join("\n"))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    /// Whatever file comes first, the state is the same.
    #[test]
    fn f54_files_in_any_order_give_one_state(steps in steps(), turn in 0usize..3, on in 0i64..45) {
        let files = write(&steps);
        let mut ledgers: Vec<Ledger> = files.iter().enumerate().map(|(device, file)| read(device, &file.bytes)).collect();
        ledgers.rotate_left(turn);
        let herd = Herd::fold(Log::union(ledgers), Vec::new(), view(on));
        prop_assert_eq!(seen(&herd), seen(&fold(&files, on)));
    }

    /// Lines that arrive one by one, in any order between devices, corrections before what they correct,
    /// give at every step what folding everything from nothing gives.
    #[test]
    fn f54_f55_lines_that_arrive_in_any_order_fold_as_from_nothing(steps in steps(), arrivals in prop::collection::vec(0usize..3, 0..120), on in 0i64..45) {
        let files = write(&steps);
        let mut held: Vec<usize> = vec![0; 3];
        let prefix = |held: &[usize]| -> Vec<File> {
            files.iter().zip(held).map(|(file, n)| File { bytes: file.bytes[..file.ends[*n]].to_vec(), ends: Vec::new() }).collect()
        };
        let mut herd = fold(&prefix(&held), on);
        for (n, device) in arrivals.into_iter().enumerate() {
            let file = &files[device];
            if held[device] + 1 < file.ends.len() {
                let (from, to) = (file.ends[held[device]], file.ends[held[device] + 1]);
                held[device] += 1;
                herd.append(device, &file.bytes[from..to]);
                if n % 7 == 0 {
                    prop_assert_eq!(seen(&herd), seen(&fold(&prefix(&held), on)));
                }
            }
        }
        prop_assert_eq!(seen(&herd), seen(&fold(&prefix(&held), on)));
    }

    /// Lines that come together fold as lines that come one by one.
    #[test]
    fn lines_that_arrive_together_fold_as_from_nothing(steps in steps(), arrivals in prop::collection::vec((0usize..3, 1usize..9), 0..40), on in 0i64..45) {
        let files = write(&steps);
        let mut held: Vec<usize> = vec![0; 3];
        let prefix = |held: &[usize]| -> Vec<File> {
            files.iter().zip(held).map(|(file, n)| File { bytes: file.bytes[..file.ends[*n]].to_vec(), ends: Vec::new() }).collect()
        };
        let mut herd = fold(&prefix(&held), on);
        for (device, more) in arrivals {
            let file = &files[device];
            let to = (held[device] + more).min(file.ends.len() - 1);
            if to > held[device] {
                herd.append(device, &file.bytes[file.ends[held[device]]..file.ends[to]]);
                held[device] = to;
                prop_assert_eq!(seen(&herd), seen(&fold(&prefix(&held), on)));
            }
        }
    }

    /// The same lines on one device or on three, each cow's lines in one hand: the same cows.
    #[test]
    fn the_same_lines_split_over_devices_give_one_state(steps in steps(), on in 0i64..45) {
        let plain: Vec<Step> = steps.iter().filter(|step| step.cow != 12 && step.act != 27).map(|step| Step { corrects: None, ..step.clone() }).collect();
        let together: Vec<Step> = plain.iter().map(|step| Step { device: 0, ..step.clone() }).collect();
        let apart: Vec<Step> = plain.iter().map(|step| Step { device: (step.cow % 3) as usize, ..step.clone() }).collect();
        prop_assert_eq!(state_text(&fold(&write(&together), on)), state_text(&fold(&write(&apart), on)));
    }

    /// What was known at a time is what the files held then.
    #[test]
    fn known_at_is_what_was_held_then(steps in steps(), at in 0usize..60, on in 0i64..45) {
        let files = write(&steps);
        let known = View { known: Some(sealed(at)), ..view(on) };
        let then = fold(&write(&steps[..at.min(steps.len())]), on);
        prop_assert_eq!(seen(&fold(&files, on).seen_from(known)), seen(&then));
    }

    /// A cow's line changes no other cow.
    #[test]
    fn a_line_changes_only_its_cows(steps in steps(), extra in steps()) {
        let (files, mut more) = (write(&steps), steps.clone());
        more.push(Step { corrects: None, act: extra[0].act % 27, ..extra[0].clone() });
        let (before, after) = (fold(&files, 45), fold(&write(&more), 45));
        let others = |herd: &Herd| -> Vec<String> {
            state_text(herd).lines().filter(|line| !line.starts_with(&format!("{} ", extra[0].cow))).map(str::to_owned).collect()
        };
        let renumbers = steps.iter().any(|step| step.act == 27);
        if !renumbers {
            prop_assert_eq!(others(&before), others(&after));
        }
    }
}

fn herd_of(lines: &[(usize, &str)], on: &str) -> Herd {
    let mut chains = vec![Chain::default(); 3];
    let mut files = vec![File::default(); 3];
    let mut marks: Vec<String> = Vec::new();
    for (device, (file, chain)) in files.iter_mut().zip(&mut chains).enumerate() {
        let head = format!("footfold 1 herd quillmere device {} key {} zone UTC", DEVICES[device].0, "8d".repeat(32));
        chain.seal(&head, sealed(0), &mut file.bytes);
    }
    for (n, (device, body)) in lines.iter().enumerate() {
        let mut body = (*body).to_owned();
        for (i, mark) in marks.iter().enumerate() {
            body = body.replace(&format!("{{{}}}", i + 1), mark);
        }
        let full = chains[*device].seal(&body, sealed(n + 1), &mut files[*device].bytes);
        marks.push(full.mark().to_string());
    }
    let on = NaiveDate::parse_from_str(on, "%Y-%m-%d").unwrap();
    let ledgers: Vec<Ledger> = files.iter().enumerate().map(|(device, file)| read(device, &file.bytes)).collect();
    assert!(ledgers.iter().all(|ledger| ledger.unreadable.is_empty()), "{:?}", ledgers[0].unreadable);
    Herd::fold(Log::union(ledgers), Vec::new(), View { on, known: None })
}

#[test]
fn f18_a_lesion_typed_by_two_counts_once_and_names_both() {
    let herd = herd_of(
        &[
            (0, "2026-01-10 417 lesion WLA RH outer zone 3 by kj"),
            (1, "2026-01-10 417 lesion WLA RH outer grade 2 by ao"),
        ],
        "2026-01-10",
    );
    assert!(state_text(&herd).contains("417 RH outer lesion WLA zone 3 grade 2 first 2026-01-10 last 2026-01-10"));
    assert_eq!(herd.typed_twice().len(), 1);
}

#[test]
fn f19_what_does_not_fit_is_kept_and_asked_about() {
    let herd = herd_of(
        &[
            (0, "2026-01-10 417 score 1 by kj"),
            (1, "2026-01-10 417 score 3 by ao"),
            (1, "2026-01-10 418 block lost RH by ao"),
            (1, "2026-01-05 419 left sold by ao"),
            (0, "2026-01-10 419 score 2 by kj"),
            (0, "2026-01-10 420 score 2 by kj"),
            (0, "2026-01-10 420 score 1 replaces {6} by kj"),
            (1, "2026-01-10 420 score 3 replaces {6} of crush-laptop by ao"),
        ],
        "2026-01-12",
    );
    let text = state_text(&herd);
    for fact in [
        "417 score 3 on 2026-01-10",
        "417 question scores differ",
        "418 question nothing to take off",
        "419 left 2026-01-05 sold",
        "420 score 3 on 2026-01-10",
        "420 question corrected more than once",
    ] {
        assert!(text.contains(fact), "{fact}\n{text}");
    }
    assert_eq!(herd.questions().len(), 4);
}

#[test]
fn f45_a_line_ahead_of_its_day_waits() {
    let lines = [(0, "2026-03-14 417 score 3 by kj")];
    let before = herd_of(&lines, "2026-03-13");
    assert_eq!(before.questions().len(), 1);
    assert!(!state_text(&before).contains("score"));
    let after = herd_of(&lines, "2026-03-14");
    assert!(after.questions().is_empty());
    assert!(state_text(&after).contains("score 3"));
}

#[test]
fn f46_the_hour_that_comes_twice_needs_no_zone_table() {
    let lines = [(1, "2025-10-26 01:30 417 score 1 by ao"), (0, "2025-10-26 01:30 417 score 2 by kj")];
    let herd = herd_of(&lines, "2025-10-26");
    assert!(state_text(&herd).contains("417 score 2 on 2025-10-26"));
}

#[test]
fn f55_a_correction_that_comes_first_waits_and_then_counts() {
    let whole = herd_of(
        &[(0, "2026-01-10 417 score 1 by kj"), (1, "2026-01-10 417 strike {1} of crush-laptop by ao: wrong cow")],
        "2026-01-10",
    );
    assert!(!state_text(&whole).contains("score"));
    let alone =
        herd_of(&[(1, "2026-01-10 417 strike 0123456789abcdef of crush-laptop by ao: wrong cow")], "2026-01-10");
    assert_eq!(alone.questions()[0].why.to_string(), "corrects a line that is not here");
}

#[test]
fn a_lame_cow_that_was_lifted_and_not_named_in_the_next_round_is_not_lame_any_more() {
    let lines = [
        (1, "2026-01-05 417 score 3 by ao"),
        (1, "2026-01-05 418 score 3 by ao"),
        (0, "2026-01-07 417 trim lame RH by kj"),
        (1, "2026-02-05 herd tally walked 190 by ao"),
        (1, "2026-03-05 417 score 2 by ao"),
    ];
    let before = state_text(&herd_of(&lines, "2026-02-04"));
    assert!(before.contains("417 lame since 2026-01-05"));
    let after = state_text(&herd_of(&lines, "2026-02-05"));
    assert!(after.contains("417 walked past on 2026-02-05") && !after.contains("417 lame since"));
    assert!(after.contains("418 lame since 2026-01-05"), "nobody looked at her foot");
    assert!(state_text(&herd_of(&lines, "2026-03-05")).contains("417 lame since 2026-03-05"), "another run");
}

#[test]
fn equal_scores_with_and_without_a_half_do_not_differ() {
    let herd = herd_of(&[(0, "2026-01-05 417 score 2 by kj"), (1, "2026-01-05 417 score 2b LH by ao")], "2026-01-05");
    assert!(herd.questions().is_empty());
    assert!(state_text(&herd).contains("417 score 2b on 2026-01-05"));
}

#[test]
fn a_struck_correction_gives_the_first_line_back() {
    let herd = herd_of(
        &[
            (0, "2026-01-10 417 score 3 by kj"),
            (0, "2026-01-10 417 score 1 replaces {1} by kj"),
            (0, "2026-01-11 417 strike {2} by kj: it was 418"),
        ],
        "2026-01-11",
    );
    assert!(state_text(&herd).contains("417 score 3 on 2026-01-10"));
}

#[test]
fn a_number_given_again_is_another_animal() {
    let herd = herd_of(
        &[
            (1, "2026-01-01 417 joined lactation 3 by ao"),
            (0, "2026-01-02 417 lesion SU RH outer by kj"),
            (1, "2026-01-05 417 left culled feet by ao"),
            (1, "2026-01-20 417 joined lactation 1 by ao"),
        ],
        "2026-01-21",
    );
    assert_eq!(
        state_text(&herd),
        "417 left 2026-01-05 culled feet joined 2026-01-01\n417 use 2 present joined 2026-01-20\n"
    );
}

/// Convention: same lesion, same claw, 28 days (27 days later the same case, 29 another); the other claw is another case.
#[test]
fn a_closed_case_reopens_within_the_repeat_window_only() {
    let last = |seen: &str| {
        let again = format!("{seen} 417 lesion SU RH outer by kj");
        let lines = [
            (0, "2026-01-01 417 lesion SU RH outer by kj"),
            (0, "2026-01-10 417 lesion none RH by kj"),
            (0, again.as_str()),
        ];
        state_text(&herd_of(&lines, seen)).lines().find(|line| line.contains("lesion")).unwrap().to_owned()
    };
    assert_eq!(last("2026-01-28"), "417 RH outer lesion SU first 2026-01-01 last 2026-01-28");
    assert_eq!(last("2026-01-30"), "417 RH outer lesion SU first 2026-01-30 last 2026-01-30");
}

#[test]
fn a_recheck_is_not_spared_by_a_lifting_for_something_else() {
    let due = |trim: &str| {
        let trim = format!("{trim} 417 trim check RH by kj");
        let lines = [(0, "2026-01-01 417 recheck due 2026-01-29 RH by kj"), (0, trim.as_str())];
        state_text(&herd_of(&lines, "2026-02-20")).contains("recheck due")
    };
    assert!(due("2026-01-01") && due("2026-01-08") && due("2026-01-21"));
    assert!(!due("2026-01-22") && !due("2026-02-10"));
}

#[test]
fn withdrawal_counts_from_the_dose_on_the_safe_side() {
    let held = |time: &str| {
        let line = format!("2025-03-10{time} 417 medicine \"Pedirel\" dose 10 ml milk 7d meat 0d by mw");
        state_text(&herd_of(&[(2, line.as_str())], "2025-03-11"))
    };
    assert!(held(" 08:00").contains("milk held to 2025-03-17 08:00"));
    assert!(held("").contains("milk held to 2025-03-18 00:00"));
}

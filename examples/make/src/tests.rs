use std::collections::{BTreeMap, BTreeSet};

use ledger_format::line::read;
use ledger_format::vocabulary::ActWord;

use crate::story::told;
use crate::{FIRST_DAY, LAST_DAY, SEED, Sitting, ledger_lines, story, story_of};

fn all_text(story: &[Sitting]) -> String {
    let texts: Vec<String> = story.iter().map(|x| format!("{} {}\n{}", x.device, x.sealed, x.typed)).collect();
    texts.concat()
}

/// The bodies meant, with placeholders filled by what their form asks for.
fn filled(body: &str) -> String {
    let hex = "5a".repeat(32);
    let mut text = String::new();
    let mut rest = body;
    while let Some((before, after)) = rest.split_once('{') {
        let (placeholder, later) = after.split_once('}').unwrap();
        text.push_str(before);
        let value = match placeholder.split(':').collect::<Vec<_>>()[..] {
            ["KEY", _] | ["PROTOCOL"] => hex.clone(),
            ["WITNESS", device] => format!("{device} 2025 length 7 mark {hex}"),
            ["LAST", _, _] => hex[..16].to_owned(),
            ["LAST", _, _, device] => format!("{} of {device}", &hex[..16]),
            _ => panic!("unknown placeholder {placeholder}"),
        };
        text.push_str(&value);
        rest = later;
    }
    text + rest
}

fn meant() -> Vec<String> {
    told(SEED, crate::COWS, crate::MONTHS).into_iter().flat_map(|(_, meant)| meant).map(|body| filled(&body)).collect()
}

#[test]
fn the_same_seed_tells_the_same_story_for_ever() {
    let text = all_text(&story(SEED));
    assert_eq!(text, all_text(&story(SEED)));
    assert_ne!(text, all_text(&story(SEED + 1)));
    assert_eq!(
        blake3::hash(text.as_bytes()).to_hex().as_str(),
        "dd53ce8065f4ca17b8470eac7b48880e37974be31dac643c459568a0f45d71c7"
    );
}

#[test]
fn every_body_meant_is_canonical() {
    for body in meant() {
        let line = read(&body).unwrap_or_else(|problem| panic!("{body}: {problem:?}"));
        assert_eq!(line.to_string(), body);
    }
}

#[test]
fn every_act_occurs_and_the_size_is_as_told() {
    let bodies = meant();
    let acts: BTreeSet<&str> = bodies.iter().map(|body| read(body).unwrap().act.word().word()).collect();
    for act in ActWord::ALL {
        assert!(acts.contains(act.word()), "no {act}");
    }
    assert!((8_000..=13_500).contains(&bodies.len()), "{} lines", bodies.len());
}

#[test]
fn sittings_are_in_order_of_sealing_within_the_story_and_not_empty() {
    let story = story(SEED);
    let mut newest = BTreeMap::new();
    for sitting in &story {
        assert!(!sitting.typed.trim().is_empty());
        assert!((FIRST_DAY..=LAST_DAY).contains(&sitting.today));
        let before = newest.insert(sitting.device, sitting.sealed);
        assert!(before.is_none_or(|before| before < sitting.sealed), "{sitting:?}");
    }
    assert!(story.is_sorted_by_key(|sitting| sitting.sealed));
}

#[test]
fn what_is_observed_lies_within_the_story_and_not_ahead() {
    // The blue book's last trims, typed on the second day, reach back into the summer before.
    let first = FIRST_DAY - chrono::Days::new(230);
    for (sitting, bodies) in told(SEED, crate::COWS, crate::MONTHS) {
        for body in bodies {
            let day = read(&filled(&body)).unwrap().observed.date;
            assert!((first..=sitting.today).contains(&day), "{body}");
        }
    }
}

#[test]
fn corrections_point_to_a_line_that_stands_already_about_that_cow() {
    let mut typed = BTreeSet::new();
    let mut of_others = 0;
    for (sitting, bodies) in told(SEED, crate::COWS, crate::MONTHS) {
        let mut now = BTreeSet::new();
        for body in bodies {
            if let Some((_, mark)) = body.split_once("{LAST:") {
                let parts: Vec<&str> = mark.split('}').next().unwrap().split(':').collect();
                let device = parts.get(2).copied().unwrap_or(sitting.device);
                of_others += u32::from(parts.len() == 3);
                assert!(typed.contains(&(device.to_owned(), parts[..2].join(":"))), "{body}");
            }
            let body = filled(&body);
            let line = read(&body).unwrap();
            now.insert((sitting.device.to_owned(), format!("{}:{}", line.subject, line.act.word())));
        }
        typed.extend(now);
    }
    assert!((3..=12).contains(&of_others), "{of_others} corrections of another's lines");
}

#[test]
fn any_size_of_story_holds() {
    for (cows, months) in [(1, 1), (30, 2), (400, 3)] {
        assert!(!story_of(7, cows, months).is_empty());
    }
}

#[test]
fn bodies_for_benchmarks_are_canonical() {
    let (mut bytes, mut late, mut newest) = (0, 0, String::new());
    for body in ledger_lines(1, 2_000, 20_000) {
        let observed = body[..16].to_owned();
        late += u32::from(observed < newest);
        newest = newest.max(observed);
        assert!(read(&body).is_ok_and(|line| line.to_string() == body), "{body}");
        bytes += body.len();
    }
    assert!((100..=300).contains(&late), "{late} late lines");
    assert!((85..=115).contains(&(bytes / 20_000)), "{} bytes a body", bytes / 20_000);
}

/// Whoever reads the typed text gets exactly the lines that were meant.
#[test]
fn what_is_typed_is_understood_as_meant() {
    use ledger_format::typing::{Context, Outcome, read as read_typed};
    let mut wrong = Vec::new();
    for seed in [SEED, 1, 2] {
        for (sitting, meant) in told(seed, crate::COWS, crate::MONTHS) {
            let text = filled(&sitting.typed);
            let context = Context { today: sitting.today, by: sitting.person, device: sitting.device };
            let mut meant = meant.iter().map(|body| filled(body));
            for typed in read_typed(&text, &context) {
                match typed.outcome {
                    Outcome::Kept(lines) => {
                        for line in lines {
                            let expected = meant.next().unwrap_or_default();
                            if line.body != expected {
                                wrong.push(format!("{}\n  read  {}\n  meant {expected}", typed.text, line.body));
                            }
                        }
                    }
                    Outcome::Blank | Outcome::Heading => {}
                    other => wrong.push(format!("{}\n  {other:?}", typed.text)),
                }
            }
            if meant.next().is_some() {
                wrong.push(format!("too few lines of {} at {}", sitting.device, sitting.sealed));
            }
        }
    }
    assert!(wrong.is_empty(), "{} are read otherwise\n{}", wrong.len(), wrong[..wrong.len().min(40)].join("\n"));
}

#[test]
fn the_excerpts_are_of_this_story() {
    let story = story(SEED);
    for (device, excerpt) in [
        ("crush-laptop", include_str!("../../typed/crush-laptop.txt")),
        ("farm-office", include_str!("../../typed/farm-office.txt")),
        ("vet-tablet", include_str!("../../typed/vet-tablet.txt")),
    ] {
        assert!(story.iter().any(|sitting| sitting.device == device && sitting.typed == excerpt), "{device}");
    }
}

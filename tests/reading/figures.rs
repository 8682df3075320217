//! Herd figures, run as a person runs them.

use std::collections::BTreeSet;
use std::fs;

use serde_json::Value;

use crate::scene::Scene;

const KINDS: [&str; 10] =
    ["round", "flow", "lesions", "pattern", "care", "outcome", "blocks", "agreement", "trend", "cost"];

/// Cows 1 to 20, and a round in which two are lame; a third was found that day and written down in May.
fn late() -> Scene {
    let mut lines: Vec<String> = (1..=20).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
    lines.extend(
        ["2026-03-02 herd tally walked 20 by kj", "2026-03-02 1 score 2 by kj", "2026-03-02 2 score 3 by kj"]
            .map(str::to_owned),
    );
    lines.push("2026-03-02 3 score 2 by kj | 2026-05-04T08:00:00Z".to_owned());
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    Scene::of(&[("office", &lines)])
}

#[test]
fn a_figure_as_known_at_a_past_date_says_what_came_later() {
    let scene = late();
    let now = scene.read(&["figures", "round", "--to", "2026-06-01"]);
    assert!(now.contains("3 of 20, 15.0 %") && !now.contains("came later"), "{now}");
    let then = scene.read(&["figures", "round", "--to", "2026-06-01", "--known", "2026-04-01"]);
    assert!(then.contains("2 of 20, 10.0 %"), "{then}");
    assert!(then.contains("1 line about these days came later"), "{then}");
    let rows: Value = serde_json::from_str(&scene.read(&[
        "figures",
        "round",
        "--to",
        "2026-06-01",
        "--known",
        "2026-04-01",
        "--format",
        "json",
    ]))
    .unwrap();
    assert_eq!(
        (&rows["about"]["late_lines_missed"], &rows["round"]["lame"]["of"]),
        (&Value::from(1), &Value::from(20))
    );
}

#[test]
fn every_kind_prints_all_forms_within_its_width() {
    let scene = Scene::of_story(4, 60, 8);
    for kind in KINDS {
        let text = scene.read(&["figures", kind, "--to", "2025-09-30"]);
        let wide: Vec<&str> = text.lines().filter(|line| line.chars().count() > 80).collect();
        assert!(wide.is_empty(), "{kind}: {wide:#?}");
        assert!(text.contains("WHAT THE WORDS MEAN") && text.contains("it does not diagnose"), "{kind}: {text}");
        assert!(!text.contains("NaN") && !text.contains("inf "), "{kind}: {text}");
        let rows: Value =
            serde_json::from_str(&scene.read(&["figures", kind, "--to", "2025-09-30", "--format", "json"])).unwrap();
        assert!(rows["about"]["to"] == "2025-09-30", "{kind}");
        let lines = scene.read(&["figures", kind, "--to", "2025-09-30", "--format", "csv"]);
        assert!(lines.starts_with("herd,from,to,known,figure,value\n"), "{kind}: {lines}");
        assert!(kind == "cost" || lines.lines().count() > 1, "{kind}: {lines}");
    }
}

#[test]
fn a_herd_of_which_nothing_is_written_has_figures_that_say_so() {
    let scene = Scene::of(&[("office", &[])]);
    for kind in KINDS {
        let text = scene.read(&["figures", kind, "--to", "2026-06-01"]);
        let says =
            ["cannot be computed because", "no scoring round", "cannot be said", "no animal", "0 spells", "0 blocks"];
        assert!(says.iter().any(|says| text.contains(says)), "{kind}: {text}");
    }
}

#[test]
fn a_period_that_ends_before_it_begins_is_refused() {
    let output = late().run(&["figures", "care", "--from", "2026-03-02", "--to", "2026-03-01"]);
    let err = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2));
    assert!(err.contains("2026-03-01 is before 2026-03-02"), "{err}");
}

#[test]
fn pictures_and_the_review_stand_on_their_own() {
    let scene = Scene::of_story(4, 60, 8);
    let to = ["--to", "2025-09-30"];
    for kind in KINDS.into_iter().filter(|kind| !["pattern", "cost"].contains(kind)) {
        let file = scene.root.path().join(format!("{kind}.svg"));
        scene.read(&[&["figures", kind, "--picture", file.to_str().unwrap()], &to[..]].concat());
        let svg = fs::read_to_string(&file).unwrap();
        assert!(svg.starts_with("<?xml") && svg.contains("<text") && svg.contains("<desc>"), "{kind}");
        assert_alone(&svg);
    }
    let file = scene.root.path().join("review.html");
    scene.read(&[&["figures", "review", "--html", file.to_str().unwrap()], &to[..]].concat());
    let page = fs::read_to_string(&file).unwrap();
    assert!(page.matches("<svg").count() == 7 && page.contains("@page") && page.contains("Cautions"));
    assert!(page.contains("not a trial") || !page.contains("BESIDE COWS"));
    assert_alone(&page);
}

/// Nothing is fetched, and nothing runs.
fn assert_alone(text: &str) {
    for part in ["src=", "href=", "<script", "url(", "@import"] {
        assert!(!text.contains(part), "{part}");
    }
    let addresses: BTreeSet<&str> = text.split('"').filter(|part| part.starts_with("http")).collect();
    assert_eq!(addresses, BTreeSet::from(["http://www.w3.org/2000/svg"]));
}

#[test]
fn a_picture_of_nothing_is_refused_and_writes_no_file() {
    let scene = late();
    let file = scene.root.path().join("trend.svg");
    let output = scene.run(&["figures", "trend", "--to", "2026-06-01", "--picture", file.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
    assert!(!file.exists());
}

#[test]
fn herds_stand_side_by_side_and_none_is_written_to() {
    let (one, two) = (late(), Scene::of(&[("office", &["2026-03-02 herd tally walked 50 by kj"])]));
    let before = [files(&one), files(&two)];
    let (first, second) = (one.herd(), two.herd());
    let missing = one.root.path().join("none");
    let folders = [&first, &second, &missing].map(|folder| folder.to_str().unwrap());
    let text = one.read(&[&["figures", "herds"], &folders[..], &["--to", "2026-06-01"]].concat());
    assert!(text.contains("3 of 20, 15.0 %") && text.contains("0 of 50, 0.0 %"), "{text}");
    assert!(text.contains("For the trimmer's own eyes"), "{text}");
    assert!(text.contains("severely 1 of 20, 5.0 %") && text.contains("not for passing on"), "{text}");
    assert_eq!(text.matches(missing.to_str().unwrap()).count(), 1, "{text}");
    // Both folders are of a herd called quillmere, which is told: perhaps they are copies.
    assert!(text.contains("2 folders are of a herd called quillmere"), "{text}");
    assert_eq!([files(&one), files(&two)], before);
}

#[test]
fn a_herd_that_is_named_twice_counts_once() {
    let scene = late();
    let (folder, other) = (scene.herd(), scene.herd().join("../quillmere"));
    let folders = [folder.to_str().unwrap(), other.to_str().unwrap()];
    let text = scene.read(&[&["figures", "herds"], &folders[..], &["--to", "2026-06-01"]].concat());
    assert!(text.starts_with("1 herd side by side") && !text.contains("2 folders"), "{text}");
    assert!(text.contains("all cows of all herds   3 of 20"), "{text}");
}

#[test]
fn a_jump_is_told_in_words_with_its_round_and_its_new_cases() {
    let mut lines: Vec<String> = (1..=100).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
    for (nth, lame) in [20, 22, 19, 21, 20, 23, 21, 19, 20, 45].into_iter().enumerate() {
        let date = format!("2026-{:02}-05", nth + 1);
        lines.push(format!("{date} herd tally walked 100 by kj"));
        lines.extend((1..=lame).map(|cow| format!("{date} {cow} score 2 by kj")));
    }
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    let text = Scene::of(&[("office", &lines)]).read(&["figures", "trend", "--to", "2026-10-31"]);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "! the round of 2026-10-05, 45 of 100 lame, is above what chance alone would give (",
        "! new cases from 2026-09-05 to 2026-10-05, 25 in ",
        "2026-10-05 45 100 45.0 10.4 to 35.6 %",
    ] {
        assert!(words.contains(part), "{part}: {text}");
    }
}

fn files(scene: &Scene) -> Vec<(std::path::PathBuf, Vec<u8>)> {
    let mut all = Vec::new();
    let mut folders = vec![scene.herd()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let bytes = fs::read(&path).unwrap();
                all.push((path, bytes));
            }
        }
    }
    all.sort();
    all
}

#[test]
fn costs_are_off_until_they_are_set() {
    let scene = late();
    let off = scene.read(&["figures", "cost", "--to", "2026-03-31"]);
    assert!(off.contains("no price is set") && off.contains("PUBLISHED FIGURES"), "{off}");
    scene.settings("(currency: \"GBP\", costs: (lame_day: \"2.20\"))");
    let on = scene.read(&["figures", "cost", "--from", "2026-03-01", "--to", "2026-03-11"]);
    // Two lame and one severely lame cow, ten days each.
    assert!(on.contains("together") && on.contains("66.00 GBP"), "{on}");
    scene.settings("(costs: (lame_day: \"-2.20\"))");
    let wrong = scene.run(&["figures", "cost", "--to", "2026-03-11"]);
    assert!(!wrong.status.success() && String::from_utf8_lossy(&wrong.stderr).contains("-2.20 is no"));
    scene.settings(&format!("(costs: (lame_day: \"{}\"))", "9".repeat(28)));
    let much = scene.read(&["figures", "cost", "--to", "2026-03-31"]);
    assert!(much.contains("the amounts are too large to add"), "{much}");
}

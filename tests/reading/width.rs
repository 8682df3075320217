//! Every line of every command keeps to 80 columns, whatever herd it is.

use crate::scene::Scene;

fn check_width(scene: &Scene, arguments: &[&str]) {
    let out = scene.read(arguments);
    for line in out.lines() {
        assert!(line.chars().count() <= 80, "{arguments:?}: {line}");
        assert!(!line.ends_with(' '), "{arguments:?}: blank at the end: {line:?}");
        assert!(!line.contains('\u{1b}'), "{arguments:?}: not plain: {line:?}");
    }
}

#[test]
fn generated_herds_keep_to_the_width() {
    for seed in 0..4 {
        let scene = Scene::of_story(seed, 30 + 20 * seed as u32, 9);
        let days = ["2025-06-15", "2025-10-01", "2026-03-14"];
        for day in days {
            check_width(&scene, &["due", "--on", day, "--ahead", "14", "--hours", "2.5"]);
            check_width(&scene, &["herd", "--on", day]);
            check_width(&scene, &["sheet", day]);
            check_width(&scene, &["between", "2025-05-01", day]);
        }
        let due = scene.json(&["due", "--on", days[1], "--ahead", "60"]);
        for row in due["rows"].as_array().unwrap().iter().take(12) {
            check_width(&scene, &["cow", row["cow"].as_str().unwrap(), "--on", days[1]]);
        }
    }
}

#[test]
fn long_and_wide_words_keep_to_the_width() {
    let long = "x".repeat(300);
    let note = format!("2026-03-02 417 note by kj: {long} {} 牛牛牛牛牛牛牛牛牛牛牛牛牛牛牛牛牛牛牛牛", "é".repeat(90));
    let refer = format!("2026-03-02 417 refer RH by kj: {long}");
    let scene = Scene::of(&[("crush-laptop", &[&note, &refer])]);
    for arguments in
        [&["due", "--on", "2026-03-02"][..], &["cow", "417", "--on", "2026-03-02"], &["sheet", "2026-03-02"]]
    {
        check_width(&scene, arguments);
    }
}

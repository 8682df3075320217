//! What is asked in words of the day, and what stands in the way of an answer.

use std::fs::{self, File};
use std::time::{Duration, Instant};

use chrono::{Datelike, NaiveDate, TimeDelta};

use crate::machine::{Machine, only_file};

/// A machine with a cow scored yesterday and another today, and which day yesterday was.
fn with_yesterday() -> (Machine, NaiveDate) {
    let machine = Machine::new("crush-laptop");
    let said = machine.run(&["write", "yesterday 417 score 3", "418 score 2"]).fine();
    (machine, said.out[..10].parse().unwrap())
}

/// The day before today on the machine's clock, as typing has it.
fn yesterday(machine: &Machine) -> NaiveDate {
    machine.run(&["write", "yesterday herd note: which day is it"]).fine().out[..10].parse().unwrap()
}

#[test]
fn yesterday_is_the_day_before_today() {
    let (machine, day) = with_yesterday();
    let date = day.to_string();
    let asked = [
        machine.run(&["due", "--on", "yesterday"]),
        machine.run(&["herd", "--on", "yesterday"]),
        machine.run(&["sheet", "yesterday"]),
    ];
    let dated =
        [machine.run(&["due", "--on", &date]), machine.run(&["herd", "--on", &date]), machine.run(&["sheet", &date])];
    let due = machine.run(&["due", "--on", "today"]).fine();
    if yesterday(&machine) != day {
        return; // Midnight passed meanwhile: the words mean other days now.
    }
    for (asked, dated) in asked.into_iter().zip(dated) {
        let asked = asked.fine().fits();
        assert!(asked.out.contains("417") || asked.out.contains("1 cow"), "{}", asked.out);
        assert!(!asked.out.contains("418"), "that was scored today: {}", asked.out);
        assert_eq!(asked.out, dated.fine().out);
    }
    due.says("417").says("418");
}

#[test]
fn between_takes_weekdays_as_the_last_such_day() {
    let (machine, day) = with_yesterday();
    let today = day + TimeDelta::days(1);
    let weekday = |day: NaiveDate| day.weekday().to_string();
    // Six days ago is the furthest that a weekday reaches back.
    let from = today - TimeDelta::days(6);
    let asked = machine.run(&["between", &weekday(from), &weekday(day)]).fine().fits();
    let named = machine.run(&["between", &weekday(from), &weekday(today)]).fine();
    let dated = machine.run(&["between", &from.to_string(), &day.to_string()]).fine();
    if yesterday(&machine) != day {
        return;
    }
    assert_eq!(asked.out, dated.out);
    assert!(asked.out.contains("417") && !asked.out.contains("418"), "{}", asked.out);
    named.says("417").says("418");
}

#[test]
fn a_protocol_that_cannot_be_parsed_is_told_with_file_line_column_and_remedy() {
    let machine = Machine::new("crush-laptop");
    let sound = fs::read_to_string(only_file(&machine.herd().join("protocols"))).unwrap();
    let at = sound.lines().position(|line| line.contains("score_2_hours: ")).unwrap() + 1;
    let text = sound.replacen("score_2_hours: ", "score_2_hours: soon ", 1);
    // The parser points behind the colon.
    let column = text.lines().nth(at - 1).unwrap().find(" soon").unwrap() + 1;
    let name = blake3::hash(text.as_bytes()).to_string();
    fs::write(machine.herd().join(format!("protocols/{name}.ron")), text).unwrap();
    machine.run(&["write", &format!("herd adopt {name}")]).fine();
    let herd = machine.run(&["herd"]).fine().fits();
    // A name of 64 digits may be cut where a line ends.
    let flat: String = herd.out.split_whitespace().collect();
    assert!(
        flat.contains(&format!("protocols/{name}.roncannotberead,line{at},column{column}:Expectedinteger;")),
        "{}",
        herd.out
    );
    herd.says("the one before goes on").says("mend a copy, name it by its BLAKE3, adopt the copy, strike this line");
    machine.run(&["write", "417 score 3"]).fine();
    machine.run(&["due"]).fine().says("417");
}

#[test]
fn f34_the_lock_is_waited_for_and_then_its_holder_is_named() {
    let machine = Machine::new("crush-laptop");
    let lock = machine.herd().join(".footfold/lock");
    let held = File::options().append(true).open(&lock).unwrap();
    held.try_lock().unwrap();
    fs::write(&lock, "process 4711 on farm-office, since 2026-03-14T09:20:11Z\n").unwrap();
    let before = Instant::now();
    let refused = machine.run(&["write", "417 score 3"]).ends(1).fits();
    assert!(before.elapsed() >= Duration::from_millis(1_900), "it gave up at once: {refused:?}");
    refused.says("process 4711 on farm-office").says(".footfold/lock").says("wait until it is done, or end it");
    let waiting = machine.command(&["write", "417 score 3"]).current_dir(machine.herd()).spawn().unwrap();
    std::thread::sleep(Duration::from_millis(300));
    drop(held);
    assert!(waiting.wait_with_output().unwrap().status.success(), "it is free in good time");
    assert_eq!(machine.text().matches(" 417 score 3 by kj | ").count(), 1);
}

#[test]
fn a_lost_key_is_told_and_nothing_goes_on_in_its_devices_name() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "417 score 3"]).fine();
    machine.types("418 score 3\n");
    let (text, key) = (machine.text(), machine.config().join("device.key"));
    let away = machine.place().join("backup.key");
    fs::rename(&key, &away).unwrap();
    for args in [&["write", "419 score 3"][..], &["seal"]] {
        let lost = machine.run(args).ends(1).says("the key of crush-laptop is gone from this machine");
        lost.says("config/device.key").says("put device.key back from a backup").says("--device NAME");
        assert!(!key.exists(), "no other key is made in its place");
        assert_eq!(machine.text(), text);
    }
    machine.run(&["due"]).fine().says("417");
    fs::rename(&away, &key).unwrap();
    machine.run(&["seal"]).fine().says("Kept: 1 line");
}

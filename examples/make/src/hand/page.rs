//! A sitting's text: headings, lines, and the little ways of editors.

use chrono::{Datelike, NaiveDate};

use super::Hand;
use crate::calendar::days_between;
use crate::chance::Chance;
use crate::deed::{Deed, Entry};
use crate::work::farm::Sheet;

/// What was typed, and the bodies that are meant by it.
pub(crate) struct Page {
    pub(crate) typed: String,
    #[allow(dead_code, reason = "read by the tests that compare it with what typing understands")]
    pub(crate) meant: Vec<String>,
}

/// What the last heading said.
struct Heading {
    day: NaiveDate,
    by: &'static str,
}

/// Puts one sitting into its person's words.
pub(crate) fn write(sheet: &Sheet, chance: &mut Chance) -> Page {
    let hand = Hand::of(sheet.desk);
    let today = sheet.at.date();
    let mut heading = Heading { day: today, by: sheet.desk.person() };
    let mut lines = Vec::new();
    let mut rest = &sheet.entries[..];
    while let Some(first) = rest.first() {
        let same = |entry: &&Entry| (entry.day, entry.by) == (first.day, first.by);
        let (now, later) = rest.split_at(rest.iter().take_while(same).count());
        let known = (heading.day, heading.by) == (first.day, first.by);
        if !known && now.len() <= 2 && chance.permille(400) {
            lines.extend(now.iter().map(|entry| inline(hand, entry, &heading, chance)));
        } else {
            // The first heading is often written although it says nothing new.
            if !known || lines.is_empty() && chance.permille(450) {
                lines.push(head(&heading, first, today, lines.is_empty(), chance));
                heading = Heading { day: first.day, by: first.by };
            }
            write_group(hand, now, &mut lines, chance);
        }
        rest = later;
    }
    let meant = sheet.entries.iter().flat_map(Entry::bodies).collect();
    Page { typed: finish(hand, lines, chance), meant }
}

/// Lines under one heading; plain scores of several cows may share a line.
fn write_group(hand: &Hand, entries: &[Entry], lines: &mut Vec<String>, chance: &mut Chance) {
    let mut room = 0;
    for entry in entries {
        let text = hand.line(entry, chance) + &Hand::words(entry, chance);
        let plain = is_plain_score(entry) && text.starts_with(|first: char| ('1'..='9').contains(&first));
        if plain && room > 0 {
            let joint = if chance.permille(850) { ", " } else { "; " };
            if let Some(line) = lines.last_mut() {
                line.push_str(joint);
                line.push_str(&text);
            }
            room -= 1;
            continue;
        }
        let begins = plain && chance.permille(hand.together);
        room = if begins { chance.between(1, 5) } else { 0 };
        lines.push(with_time(entry, &text));
        if !plain && chance.permille(12) {
            lines.push(String::new());
        }
    }
}

fn is_plain_score(entry: &Entry) -> bool {
    let score = matches!(entry.deeds[..], [Deed::Score { .. }]);
    // A number with a letter is not taken for the beginning of the next cow.
    let digits = entry.subject.bytes().all(|byte| byte.is_ascii_digit());
    score && digits && entry.words.is_none() && entry.time.is_none() && entry.replaces.is_none()
}

fn with_time(entry: &Entry, text: &str) -> String {
    entry.time.map_or(text.to_owned(), |time| format!("{} {text}", time.format("%H:%M")))
}

/// A line that carries its own date and person.
fn inline(hand: &Hand, entry: &Entry, heading: &Heading, chance: &mut Chance) -> String {
    let text = with_time(entry, &hand.line(entry, chance));
    let date = if entry.day == heading.day { String::new() } else { format!("{} ", entry.day) };
    let by = if entry.by == heading.by { String::new() } else { format!(" by {}", entry.by) };
    format!("{date}{text}{by}{}", Hand::words(entry, chance))
}

fn head(before: &Heading, entry: &Entry, today: NaiveDate, first: bool, chance: &mut Chance) -> String {
    let date = date(entry.day, today, chance);
    let colon = if chance.permille(120) { ":" } else { "" };
    let by = entry.by;
    match (entry.day == before.day, entry.by == before.by) {
        (false, true) => format!("{date}{colon}"),
        (true, false) => format!("by {by}{colon}"),
        (false, false) => format!("{date} by {by}{colon}"),
        _ if !first || chance.permille(600) => format!("{date} by {by}{colon}"),
        _ => format!("{date}{colon}"),
    }
}

/// A date as people write it.
fn date(day: NaiveDate, today: NaiveDate, chance: &mut Chance) -> String {
    let back = days_between(day, today);
    match chance.below(10) {
        0 if back == 0 => "today".to_owned(),
        0 | 1 if back == 1 => "yesterday".to_owned(),
        2 => format!("{} {} {}", day.day(), day.format("%B"), day.year()),
        3 if back < 60 => format!("{} {}", day.day(), day.format("%b")),
        _ => day.to_string(),
    }
}

/// Tabs, Windows line ends, dashes and curly quotes, as editors and tablets put them in.
fn finish(hand: &Hand, mut lines: Vec<String>, chance: &mut Chance) -> String {
    if chance.permille(70) {
        for line in &mut lines {
            if line.starts_with(|first: char| first.is_ascii_digit()) {
                *line = line.replacen(' ', "\t", 1);
            }
        }
    }
    if chance.permille(90) {
        for line in &mut lines {
            *line = curl(line);
        }
    }
    let end = if chance.permille(hand.crlf) { "\r\n" } else { "\n" };
    let mut text = lines.join(end);
    text.push_str(end);
    text
}

/// What a tablet's keyboard makes of quotes and dashes.
fn curl(line: &str) -> String {
    let mut opening = true;
    let mut curled = String::new();
    for letter in line.replace(" - ", " – ").chars() {
        curled.push(match letter {
            '"' => {
                opening = !opening;
                if opening { '”' } else { '“' }
            }
            '\'' => '’',
            other => other,
        });
    }
    curled
}

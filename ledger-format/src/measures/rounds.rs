//! Scoring rounds: who was seen, whom that leaves out, and whether it was the whole herd (`measures.md` §9 to §17).

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, TimeDelta};

use crate::fold::{Herd, Life};
use crate::line::{Act, Score, Subject, Tally};
use crate::merge::EntryId;
use crate::vocabulary::Scale;

/// Parts of one round lie at most so many days apart: scoring is done over a few milkings. Common practice.
const PARTS_WITHIN_DAYS: i64 = 3;

/// A list of scores without a tally is a round from so many cows on: the least sample of the Welfare Quality protocol
/// for dairy cows (from memory), or half of those that could be scored where they are fewer.
const LEAST_LIST: u64 = 30;

/// From this share of those that could be scored on, a round is one of the whole herd: some are always in the
/// straw yard or at the vet's. Common practice.
const WHOLE_PERCENT: u64 = 95;

/// How one cow was seen in a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Saw {
    /// Walked past or scored, not lame.
    NotLame,
    /// Lame, not severely.
    Lame,
    /// Severely lame.
    Severe,
}

impl Saw {
    /// What a score says.
    pub fn of(score: Score) -> Self {
        match (score.is_severe(), score.is_lame()) {
            (true, _) => Self::Severe,
            (false, true) => Self::Lame,
            (false, false) => Self::NotLame,
        }
    }

    /// Lame or severely lame.
    pub const fn is_lame(self) -> bool {
        !matches!(self, Self::NotLame)
    }
}

/// Whom a round stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// All that could be scored, or nearly.
    Whole,
    /// A part of them.
    Part,
    /// Nobody wrote how many there are.
    Unknown,
}

/// A scoring round.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Round {
    /// Its first day.
    pub first: NaiveDate,
    /// Its last day.
    pub last: NaiveDate,
    /// The groups walked past; none is the herd.
    pub groups: Vec<String>,
    /// The scale.
    pub scale: Scale,
    /// Whether somebody counted, or every cow seen has a line.
    pub is_tallied: bool,
    /// How many were seen.
    pub seen: u64,
    /// Lame, severely lame ones with them.
    pub lame: u64,
    /// Severely lame.
    pub severe: u64,
    /// Scored 0, where it was counted or every cow has a line.
    pub zeros: Option<u64>,
    /// Scored 1, likewise.
    pub ones: Option<u64>,
    /// How many could be seen: in the herd and not dry, or in the groups.
    pub could: u64,
    /// Whom it stands for.
    pub basis: Basis,
    /// What is known of single cows, by their place in the history's lives: those with a line, and in a round of the
    /// whole herd all that were walked past.
    pub cows: BTreeMap<usize, Saw>,
    /// What does not fit, in words.
    pub doubts: Vec<String>,
}

impl Round {
    /// Whether more lame cows are named than were seen: then no share can be computed.
    pub const fn adds_up(&self) -> bool {
        self.lame <= self.seen
    }

    /// How a cow was seen, if it is known.
    pub fn saw(&self, life: usize) -> Option<Saw> {
        self.cows.get(&life).copied()
    }

    /// "the herd", "group high".
    pub fn of_whom(&self) -> String {
        match self.groups.as_slice() {
            [] => "the herd".to_owned(),
            [one] => format!("group {one}"),
            more => format!("groups {}", more.join(", ")),
        }
    }

    /// Who tallied on its days, of all tallies by day; a name as often as it stands there.
    pub(super) fn tallied_by<'h>(&self, tallied: &[(NaiveDate, &'h str)]) -> Vec<&'h str> {
        let from = tallied.partition_point(|(day, _)| *day < self.first);
        tallied[from..].iter().take_while(|(day, _)| *day <= self.last).map(|(_, by)| *by).collect()
    }

    /// Whether two rounds saw the same cows: the herd, or the same groups.
    pub fn is_of_same(&self, other: &Self) -> bool {
        self.groups == other.groups
    }
}

/// What was seen on one day, in one scope, on one scale.
struct Part<'a> {
    day: NaiveDate,
    group: Option<&'a str>,
    scale: Scale,
    tally: Option<Tally>,
    /// Life and score.
    scores: Vec<(usize, Score)>,
    /// Cows with a lame score of the day of whom no group is written.
    unplaced: usize,
}

impl Part<'_> {
    fn named_lame(&self) -> u64 {
        self.scores.iter().filter(|(_, score)| score.is_lame()).count() as u64
    }

    fn seen(&self) -> u64 {
        let named = self.scores.len() as u64;
        self.tally.map_or(named, |tally| u64::from(tally.walked))
    }
}

/// All rounds of a herd, oldest first.
pub(super) fn of(herd: &Herd, lives: &[Life<'_>]) -> Vec<Round> {
    let scores = scores_by_day(lives);
    let mut parts = tallied(herd, lives, &scores);
    parts.extend(listed(herd, lives, &scores, &parts));
    parts.sort_by_key(|part| (part.day, part.scale, part.group));
    joined(herd, lives, parts).into_iter().map(|parts| round(herd, lives, &parts)).collect()
}

type ByDay = BTreeMap<(NaiveDate, Scale), Vec<(usize, Score)>>;

fn scores_by_day(lives: &[Life<'_>]) -> ByDay {
    let mut by_day = ByDay::new();
    for (at, life) in lives.iter().enumerate() {
        for scored in &life.animal.scores {
            by_day.entry((scored.observed.date, scored.score.scale)).or_default().push((at, scored.score));
        }
    }
    by_day
}

/// A part for every tally; one that two devices typed alike stands once.
fn tallied<'a>(herd: &'a Herd, lives: &[Life<'_>], scores: &ByDay) -> Vec<Part<'a>> {
    let mut parts: Vec<(EntryId, Part<'a>)> = Vec::new();
    for id in herd.herd_lines() {
        let line = herd.log().body(id);
        let Act::Tally(tally) = line.act else { continue };
        let group = match line.subject {
            Subject::Group(name) => Some(name),
            _ => None,
        };
        let day = line.observed.date;
        let is_again = |(other, part): &(EntryId, Part<'_>)| {
            (part.day, part.group, part.tally) == (day, group, Some(tally)) && herd.log().devices_differ(*other, id)
        };
        if parts.iter().any(is_again) {
            continue;
        }
        let of_day = scores.get(&(day, tally.scale)).map_or(&[][..], Vec::as_slice);
        let is_in = |at: usize| group.is_none() || herd.group_on(lives[at].animal, day) == group;
        let unplaced = of_day.iter().filter(|(at, score)| {
            group.is_some() && score.is_lame() && herd.group_on(lives[*at].animal, day).is_none()
        });
        let unplaced = unplaced.count();
        let scores = of_day.iter().filter(|(at, _)| is_in(*at)).copied().collect();
        parts.push((id, Part { day, group, scale: tally.scale, tally: Some(tally), scores, unplaced }));
    }
    parts.into_iter().map(|(_, part)| part).collect()
}

/// Day and initials of every tally, by day.
pub(super) fn tallied_by(herd: &Herd) -> Vec<(NaiveDate, &str)> {
    let lines = herd.herd_lines().into_iter().map(|id| herd.log().body(id));
    let tallies = lines.filter(|line| matches!(line.act, Act::Tally(_)));
    let mut tallied: Vec<_> = tallies.map(|line| (line.observed.date, line.by)).collect();
    tallied.sort_unstable();
    tallied
}

/// Lists: days with scores of many cows, some of them not lame, and no tally of that scale.
fn listed<'a>(herd: &Herd, lives: &[Life<'_>], scores: &ByDay, tallied: &[Part<'a>]) -> Vec<Part<'a>> {
    let mut parts = Vec::new();
    for ((day, scale), of_day) in scores {
        if tallied.iter().any(|part| (part.day, part.scale) == (*day, *scale)) {
            continue;
        }
        let n = of_day.len() as u64;
        // How many could be scored is asked last: it goes through the whole herd.
        if of_day.iter().any(|(_, score)| !score.is_lame())
            && (n >= LEAST_LIST || n > 1 && n * 2 >= could(herd, lives, *day, None))
        {
            let (day, scale, scores) = (*day, *scale, of_day.clone());
            parts.push(Part { day, group: None, scale, tally: None, scores, unplaced: 0 });
        }
    }
    parts
}

/// Parts that make one round: on one scale, within a few days, and of other cows.
fn joined<'a>(herd: &Herd, lives: &[Life<'_>], parts: Vec<Part<'a>>) -> Vec<Vec<Part<'a>>> {
    let mut rounds: Vec<Vec<Part<'a>>> = Vec::new();
    for part in parts {
        let near = part.day - TimeDelta::days(PARTS_WITHIN_DAYS);
        let fits = |parts: &Vec<Part<'_>>| {
            parts.iter().all(|other| other.scale == part.scale && other.day >= near)
                && match part.group {
                    Some(group) => parts.iter().all(|other| other.group.is_some_and(|other| other != group)),
                    None => {
                        let seen: u64 = parts.iter().map(Part::seen).sum::<u64>() + part.seen();
                        parts.iter().all(|other| other.group.is_none()) && seen <= could(herd, lives, part.day, None)
                    }
                }
        };
        match rounds.iter_mut().rev().find(|parts| fits(parts)) {
            Some(parts) => parts.push(part),
            None => rounds.push(vec![part]),
        }
    }
    rounds
}

/// How many could be seen on a day: in the herd and not dry, or in the group.
fn could(herd: &Herd, lives: &[Life<'_>], day: NaiveDate, group: Option<&str>) -> u64 {
    lives.iter().filter(|life| could_be_seen(herd, life, day, group)).count() as u64
}

fn could_be_seen(herd: &Herd, life: &Life<'_>, day: NaiveDate, group: Option<&str>) -> bool {
    life.is_present_on(day) && life.animal.is_in_round(herd.log(), day, group)
}

fn round(herd: &Herd, lives: &[Life<'_>], parts: &[Part<'_>]) -> Round {
    let (mut cows, mut doubts) = (BTreeMap::new(), Vec::new());
    let mut named = BTreeSet::new();
    for part in parts {
        for (at, score) in &part.scores {
            let saw = cows.entry(*at).or_insert(Saw::NotLame);
            *saw = Saw::of(*score).max(*saw);
            named.insert((part.day, *at));
        }
    }
    if named.len() > cows.len() {
        doubts.push(format!("{} scored twice; the worse score counts", cows_words(named.len() - cows.len())));
    }
    for part in parts {
        doubt_part(part, &mut doubts);
    }
    let tallied_seen: u64 = parts.iter().map(Part::seen).sum();
    let seen = if parts.iter().all(|part| part.tally.is_none()) { cows.len() as u64 } else { tallied_seen };
    let day = parts.iter().map(|part| part.day).max().unwrap_or_default();
    let groups: Vec<String> = parts.iter().filter_map(|part| part.group.map(str::to_owned)).collect();
    let in_scope = |life: &Life<'_>| parts.iter().any(|part| could_be_seen(herd, life, part.day, part.group));
    let scope: Vec<usize> = lives.iter().enumerate().filter(|(_, life)| in_scope(life)).map(|(at, _)| at).collect();
    let could = scope.len() as u64;
    let basis = basis(seen, could, &mut doubts);
    let count = |is: fn(Saw) -> bool| cows.values().filter(|saw| is(**saw)).count() as u64;
    let (lame, severe) = (count(Saw::is_lame), count(|saw| saw == Saw::Severe));
    let is_tallied = parts.iter().any(|part| part.tally.is_some());
    if basis == Basis::Whole && is_tallied {
        for at in &scope {
            cows.entry(*at).or_insert(Saw::NotLame);
        }
    }
    let first = parts.iter().map(|part| part.day).min().unwrap_or(day);
    let scale = parts.first().map_or(Scale::Mobility, |part| part.scale);
    let (zeros, ones) = (counted(parts, 0), counted(parts, 1));
    Round { first, last: day, groups, scale, is_tallied, seen, lame, severe, zeros, ones, could, basis, cows, doubts }
}

fn basis(seen: u64, could: u64, doubts: &mut Vec<String>) -> Basis {
    if could == 0 || seen * 100 > could * (200 - WHOLE_PERCENT) {
        if could > 0 {
            doubts.push(format!("{seen} were seen, but the register says that only {could} could be"));
        }
        return Basis::Unknown;
    }
    if seen * 100 >= could * WHOLE_PERCENT { Basis::Whole } else { Basis::Part }
}

fn doubt_part(part: &Part<'_>, doubts: &mut Vec<String>) {
    let day = crate::line::date_text(part.day);
    if part.unplaced > 0 {
        doubts.push(format!("{} of {day} in no group; not counted here", cows_words(part.unplaced)));
    }
    let Some(tally) = part.tally else { return };
    let lame = part.named_lame();
    if let (Some(zeros), Some(ones)) = (tally.zeros, tally.ones) {
        let says = u64::from(zeros) + u64::from(ones) + lame;
        if says != u64::from(tally.walked) {
            doubts.push(format!(
                "the tally of {day} does not add up: {zeros} scored 0, {ones} scored 1 and {lame} lame make {says}, \
                 not the {} that walked past",
                tally.walked
            ));
        }
    }
}

/// How many were scored a value below lame: as tallied, else of the cows with lines; none where a part does not say.
fn counted(parts: &[Part<'_>], value: u8) -> Option<u64> {
    let of_part = |part: &Part<'_>| match part.tally {
        Some(tally) => if value == 0 { tally.zeros } else { tally.ones }.map(u64::from),
        None => Some(part.scores.iter().filter(|(_, score)| score.value == value).count() as u64),
    };
    parts.iter().map(of_part).sum()
}

/// "1 cow is", "3 cows are".
fn cows_words(n: usize) -> String {
    if n == 1 { "1 cow is".to_owned() } else { format!("{n} cows are") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fold::sample::{day, herd, herd_of, ledger};
    use crate::measures::{History, Period};

    /// A herd of cows 1 to `n`, all in milk, and more lines.
    fn rounds(n: u32, lines: &[&str]) -> Vec<Round> {
        let joined: Vec<String> = (1..=n).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
        let all: Vec<&str> = joined.iter().map(String::as_str).chain(lines.iter().copied()).collect();
        let herd = herd("2026-12-31", &all);
        History::of(&herd, Period::year_to(day("2026-12-31"))).rounds().to_vec()
    }

    fn counts(round: &Round) -> (u64, u64, u64) {
        (round.seen, round.lame, round.severe)
    }

    #[test]
    fn a_tally_by_exception_names_only_the_lame() {
        let rounds = rounds(
            20,
            &["2026-03-01 herd tally walked 20 by kj", "2026-03-01 4 score 2 by kj", "2026-03-01 5 score 3 by kj"],
        );
        let [round] = rounds.as_slice() else { panic!("{rounds:?}") };
        assert_eq!((counts(round), round.basis), ((20, 2, 1), Basis::Whole));
        assert_eq!(
            (round.saw(3), round.saw(4), round.saw(0)),
            (Some(Saw::Lame), Some(Saw::Severe), Some(Saw::NotLame))
        );
    }

    #[test]
    fn of_a_part_of_the_herd_only_those_named_are_known() {
        let rounds = rounds(20, &["2026-03-01 herd tally walked 12 by kj", "2026-03-01 4 score 2 by kj"]);
        let [round] = rounds.as_slice() else { panic!("{rounds:?}") };
        assert_eq!((round.basis, round.could, round.cows.len()), (Basis::Part, 20, 1));
    }

    #[test]
    fn a_list_without_a_tally_is_a_round_of_those_listed() {
        let scores: Vec<String> = (1..=15).map(|cow| format!("2026-03-01 {cow} score {} by kj", cow % 3)).collect();
        let scores: Vec<&str> = scores.iter().map(String::as_str).collect();
        let rounds = rounds(20, &scores);
        let [round] = rounds.as_slice() else { panic!("{rounds:?}") };
        assert_eq!((counts(round), round.basis, round.is_tallied), ((15, 5, 0), Basis::Part, false));
        assert_eq!((round.zeros, round.ones), (Some(5), Some(5)));
    }

    #[test]
    fn lame_cows_alone_are_no_round() {
        let scores = ["2026-03-01 1 score 2 by kj", "2026-03-01 2 score 2 by kj", "2026-03-01 3 score 3 by kj"];
        assert_eq!(rounds(4, &scores), []);
    }

    #[test]
    fn parts_on_two_days_are_one_round() {
        let rounds = rounds(
            20,
            &[
                "2026-03-01 herd tally walked 12 by kj",
                "2026-03-01 4 score 2 by kj",
                "2026-03-02 herd tally walked 8 by kj",
                "2026-03-02 4 score 3 by kj",
                "2026-03-02 5 score 2 by kj",
            ],
        );
        let [round] = rounds.as_slice() else { panic!("{rounds:?}") };
        assert_eq!((counts(round), round.basis), ((20, 2, 1), Basis::Whole));
        assert_eq!(round.doubts, ["1 cow is scored twice; the worse score counts"]);
    }

    #[test]
    fn two_rounds_of_the_whole_herd_are_two_however_near() {
        let rounds = rounds(20, &["2026-03-01 herd tally walked 20 by kj", "2026-03-02 herd tally walked 20 by kj"]);
        assert_eq!(rounds.len(), 2);
    }

    #[test]
    fn groups_walked_past_on_near_days_are_one_round() {
        let moved: Vec<String> = (1..=20)
            .map(|cow| format!("2026-01-02 {cow} moved to {} by kj", if cow <= 10 { "high" } else { "low" }))
            .collect();
        let mut lines: Vec<&str> = moved.iter().map(String::as_str).collect();
        lines.extend(["2026-03-01 group high tally walked 10 by kj", "2026-03-02 group low tally walked 10 by kj"]);
        lines.push("2026-03-02 12 score 2 by kj");
        let rounds = rounds(20, &lines);
        let [round] = rounds.as_slice() else { panic!("{rounds:?}") };
        assert_eq!((round.groups.join(" "), counts(round)), ("high low".to_owned(), (20, 1, 0)));
    }

    #[test]
    fn a_tally_typed_by_two_devices_is_one() {
        let joined: Vec<String> = (1..=4).map(|cow| format!("2026-01-01 {cow} joined by kj")).collect();
        let mut lines: Vec<&str> = joined.iter().map(String::as_str).collect();
        lines.push("2026-03-01 herd tally walked 2 by kj");
        let other = ["2026-03-01 herd tally walked 2 by kj"];
        let herd = herd_of("2026-12-31", vec![ledger("crush-laptop", &lines), ledger("office", &other)]);
        let history = History::of(&herd, Period::year_to(day("2026-12-31")));
        assert_eq!(history.rounds().iter().map(counts).collect::<Vec<_>>(), [(2, 0, 0)]);
    }

    #[test]
    fn what_does_not_fit_is_told() {
        let rounds = rounds(4, &["2026-03-01 herd tally walked 9 zeros 5 ones 2 by kj", "2026-03-01 1 score 2 by kj"]);
        let [round] = rounds.as_slice() else { panic!("{rounds:?}") };
        assert_eq!(round.basis, Basis::Unknown);
        assert_eq!(round.doubts.len(), 2);
    }
}

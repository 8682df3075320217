//! The vectors of members, and their properties: who may do what, by the ledgers alone (`spec/members.md`).

#![allow(clippy::disallowed_methods, reason = "tests read the vectors; the crate itself opens nothing")]

mod cases;
mod villages;

use cases::{Case, check, same};
use ledger_format::fold::{self as folded, Question, View, Why, state_text};
use ledger_format::line::read_utc;
use ledger_format::mark::{Chain, FullMark};
use ledger_format::members::{Apart, Members};
use ledger_format::merge::{EntryId, Ledger, Log};
use ledger_format::vocabulary::Capacity;
use proptest::prelude::*;
use villages::{DEVICES, Deed, Line, Village, Word, key, villages};

/// One device's file of a case.
struct File {
    device: String,
    chain: Chain,
    bytes: Vec<u8>,
    head: FullMark,
    ends: Vec<usize>,
}

/// A row as it was sealed: which file, its full mark, the length of the file then.
struct Row {
    file: usize,
    full: FullMark,
    end: usize,
}

struct Herd {
    founder: Option<String>,
    files: Vec<File>,
    rows: Vec<Row>,
}

fn key_of(case: &Case, device: &str) -> FullMark {
    let name = case.header.get(&format!("key {device}")).map_or(device, String::as_str);
    FullMark::over(name.as_bytes())
}

impl Herd {
    fn of(case: &Case) -> Result<Self, String> {
        let founder = case.header.get("founder").cloned();
        let mut herd = Self { founder, files: Vec::new(), rows: Vec::new() };
        for row in case.needed("lines") {
            let [device, sealed, body] = row.splitn(3, ' ').collect::<Vec<_>>()[..] else { return Err(row.to_owned()) };
            let at = herd.file(case, device);
            let body = herd.filled(case, body)?;
            let sealed = read_utc(sealed.as_bytes()).ok_or(sealed)?;
            let file = &mut herd.files[at];
            let full = file.chain.seal(&body, sealed, &mut file.bytes);
            file.ends.push(file.bytes.len());
            herd.rows.push(Row { file: at, full, end: file.bytes.len() });
        }
        Ok(herd)
    }

    fn file(&mut self, case: &Case, device: &str) -> usize {
        if let Some(at) = self.files.iter().position(|file| file.device == device) {
            return at;
        }
        let key = key_of(case, device);
        let named = self.founder.as_deref().filter(|founder| *founder != device);
        let named = named.map_or(String::new(), |founder| format!(" founder {}", key_of(case, founder)));
        let body = format!("footfold 1 herd quillmere device {device} key {key} zone Europe/London{named}");
        let (mut chain, mut bytes) = (Chain::default(), Vec::new());
        let head = chain.seal(&body, read_utc(b"2026-01-01T08:00:00Z").unwrap(), &mut bytes);
        let ends = vec![bytes.len()];
        self.files.push(File { device: device.to_owned(), chain, bytes, head, ends });
        self.files.len() - 1
    }

    fn filled(&mut self, case: &Case, body: &str) -> Result<String, String> {
        let mut filled = body.to_owned();
        while let Some((before, rest)) = filled.split_once('{') {
            let (what, after) = rest.split_once('}').ok_or(rest)?;
            let (kind, of) = what.split_once(':').unwrap_or(("mark", what));
            let row = |herd: &Self| {
                of.parse::<usize>().ok().and_then(|n| herd.rows.get(n - 1).map(|row| (row.full, row.end)))
            };
            let value = match (kind, row(self)) {
                ("key", _) => key_of(case, of).to_string(),
                ("full", Some((full, _))) => full.to_string(),
                ("full", None) => {
                    let at = self.file(case, of);
                    self.files[at].head.to_string()
                }
                ("length", Some((_, end))) => end.to_string(),
                ("mark", Some((full, _))) => full.mark().to_string(),
                _ => return Err(what.to_owned()),
            };
            filled = format!("{before}{value}{after}");
        }
        Ok(filled)
    }

    /// What is here, without the lines that are lacking.
    fn log(&self, case: &Case) -> Log {
        let read = |file: &File| {
            let lacks = case.header.get(&format!("lacks {}", file.device)).map_or(0, |n| n.parse().unwrap());
            let length = file.ends[file.ends.len() - 1 - lacks];
            let ledger = Ledger::read(&file.device, 2026, file.bytes[..length].to_vec()).unwrap();
            assert!(ledger.unreadable.is_empty(), "{}: {:?}", case.name, ledger.unreadable);
            ledger
        };
        Log::union(self.files.iter().map(read).collect())
    }

    /// The entry of each row; none where it is lacking.
    fn entries(&self, log: &Log) -> Vec<Option<EntryId>> {
        let ids: Vec<EntryId> = log.in_order().collect();
        let find = |row: &Row| {
            let is = |id: &&EntryId| {
                log.ledger(**id).device == self.files[row.file].device && log.entry(**id).mark == row.full.mark()
            };
            ids.iter().find(is).copied()
        };
        self.rows.iter().map(find).collect()
    }
}

fn word(right: Result<Capacity, Apart>) -> String {
    match right {
        Ok(capacity) => capacity.to_string(),
        Err(Apart::NotAdmitted) => "apart not admitted".to_owned(),
        Err(Apart::MayOnlyRead) => "apart may only read".to_owned(),
        Err(Apart::Revoked) => "apart revoked".to_owned(),
    }
}

fn check_members(case: &Case) -> Result<(), String> {
    case.header("comment");
    case.header("rule");
    let herd = Herd::of(case)?;
    let log = herd.log(case);
    let members = Members::of(&log);
    let entries = herd.entries(&log);
    let owned = |rows: Vec<&str>| rows.into_iter().map(str::to_owned).collect::<Vec<_>>();
    let right = |id: &Option<EntryId>| id.map_or("not here".to_owned(), |id| word(members.right_at(id)));
    same("rights", &owned(case.needed("rights")), &entries.iter().map(right).collect())?;
    let now = |row: &str| {
        let device = row.split(' ').next().unwrap_or_default();
        let right = members.right_now(device, key_of(case, device));
        format!("{device} {}", right.map_or("none".to_owned(), |capacity| capacity.to_string()))
    };
    same("now", &owned(case.needed("now")), &case.needed("now").into_iter().map(now).collect())?;
    let number = |id: &EntryId| entries.iter().position(|entry| *entry == Some(*id)).map(|at| at + 1);
    let mut numbers: Vec<usize> = members.not_a_keeper().iter().filter_map(number).collect();
    numbers.sort_unstable();
    let expected: Result<Vec<usize>, _> =
        case.section("not a keeper").unwrap_or_default().join(" ").split_whitespace().map(str::parse).collect();
    same("not a keeper", &expected.map_err(|why| why.to_string())?, &numbers)?;
    let kept_apart: Vec<EntryId> = log.in_order().filter(|id| members.right_at(*id).is_err()).collect();
    let (mut all, mut apart) = (kept_apart, members.apart(&log));
    all.sort();
    apart.sort();
    same("what is apart", &all, &apart)
}

#[test]
fn s4_s5_s6_f25_f55_rights_are_what_the_ledgers_say() {
    check("members", 25, check_members);
}

/// Each line of a village with its entry.
fn entries_of(village: &Village, log: &Log) -> Vec<EntryId> {
    let ids: Vec<EntryId> = log.in_order().collect();
    let mut of_device: Vec<Vec<EntryId>> = vec![Vec::new(); 5];
    for id in ids {
        let device = DEVICES.iter().position(|(name, _)| *name == log.ledger(id).device).unwrap();
        of_device[device].push(id);
    }
    for ids in &mut of_device {
        ids.sort();
    }
    village.lines.iter().map(|line| of_device[line.device][line.place - 1]).collect()
}

/// Everything that the fold says.
fn seen(herd: &folded::Herd) -> String {
    let line = |id: &EntryId| format!("{} {}", herd.log().ledger(*id).device, herd.log().entry(*id).mark);
    let asked =
        |question: &&Question| format!("{}: {:?}", question.why, question.lines.iter().map(line).collect::<Vec<_>>());
    let mut asked: Vec<String> = herd.questions().iter().map(asked).collect();
    asked.sort();
    let mut standing: Vec<String> =
        herd.log().in_order().map(|id| format!("{} {:?}", line(&id), herd.standings().get(id))).collect();
    standing.sort();
    format!("{}\n{}\n{}", state_text(herd), asked.join("\n"), standing.join("\n"))
}

fn fold(log: Log) -> folded::Herd {
    let on = chrono::NaiveDate::from_ymd_opt(2026, 1, 1).unwrap();
    folded::Herd::fold(log, Vec::new(), View { on, known: None })
}

fn here() -> impl Strategy<Value = Vec<usize>> {
    prop::collection::vec(prop_oneof![3 => Just(usize::MAX), 1 => 0usize..12], 5)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    /// What is worked out from places is what the rules say of sets of lines, whatever has arrived.
    #[test]
    fn s4_s5_any_history_is_judged_by_the_word_of_the_rules(village in villages(), here in here(), turn in 0usize..5) {
        let village = village.cut(&here);
        let mut ledgers = village.ledgers();
        ledgers.rotate_left(turn);
        let log = Log::union(ledgers);
        let (members, word) = (Members::of(&log), Word::of(&village));
        let entries = entries_of(&village, &log);
        for (at, line) in village.lines.iter().enumerate() {
            prop_assert_eq!(members.right_at(entries[at]), word.right_at(at), "line {} {:?}", at, line);
            let is_deed = matches!(line.deed, Deed::Admit(..) | Deed::Revoke(..));
            prop_assert_eq!(is_deed && !word.counts(at), members.not_a_keeper().contains(&entries[at]), "counts: {} {:?}", at, line);
        }
        for (device, (name, _)) in DEVICES.iter().enumerate() {
            prop_assert_eq!(members.right_now(name, key(device)), word.right_now(device), "now: {}", name);
        }
    }

    /// A line that is kept apart is folded nowhere: the cows are what they are without it. Not so a revocation that
    /// counts by what its writer knew, and what witness lines let others know (`members.md` §10).
    #[test]
    fn s5_s17_what_is_kept_apart_changes_no_cow(village in villages(), here in here()) {
        let village = village.cut(&here);
        let herd = fold(Log::union(village.ledgers()));
        let is_apart = |line: &&Line, id: &EntryId| line.device > 0 && herd.members().right_at(*id).is_err();
        let counts = |line: &Line, id: &EntryId| matches!(line.deed, Deed::Revoke(..)) && !herd.members().not_a_keeper().contains(id);
        let tells = |line: &Line| matches!(line.deed, Deed::Witness(..));
        let entries = entries_of(&village, herd.log());
        let lines = || village.lines.iter().zip(&entries);
        let mut counted = vec![usize::MAX; DEVICES.len()];
        for (line, _) in lines().filter(|(line, id)| is_apart(line, id)) {
            let is_behind = |other: &Line| other.device == line.device && other.place >= line.place;
            let is_told_of = |other: &Line| matches!(other.deed, Deed::Witness(of, upto, _) if of == line.device && upto >= line.place);
            let stays = |(other, id): (&Line, &EntryId)| {
                is_behind(other) && (counts(other, id) || tells(other)) || is_told_of(other)
            };
            if !lines().any(stays) {
                counted[line.device] = counted[line.device].min(line.place - 1);
            }
        }
        let without = fold(Log::union(village.cut(&counted).ledgers()));
        let facts = |herd: &folded::Herd| state_text(herd).lines().filter(|line| !line.contains(" question ")).map(str::to_owned).collect::<Vec<_>>();
        prop_assert_eq!(facts(&herd), facts(&without));
        let asked = herd.questions().iter().filter(|question| matches!(question.why, Why::Apart(_))).map(|question| question.lines.len()).sum::<usize>();
        prop_assert_eq!(asked, herd.members().apart(herd.log()).len());
    }

    /// Lines that arrive one by one, rights before or after what they are for, fold as all of them from nothing.
    #[test]
    fn f54_s17_rights_that_arrive_fold_as_from_nothing(village in villages(), arrivals in prop::collection::vec(0usize..5, 0..60)) {
        let mut held = vec![0; DEVICES.len()];
        let mut herd = fold(Log::union(village.cut(&held).ledgers()));
        for device in arrivals {
            if let Some(line) = village.lines_of(device).get(held[device] + 1) {
                held[device] += 1;
                herd.append(device, line);
                prop_assert_eq!(seen(&herd), seen(&fold(Log::union(village.cut(&held).ledgers()))));
            }
        }
    }

    /// Nothing but a revocation that names it takes a right from the founder.
    #[test]
    fn s6_the_founder_stays_where_nobody_revokes_it(village in villages(), here in here()) {
        let village = village.cut(&here);
        let log = Log::union(village.ledgers());
        let members = Members::of(&log);
        let revoked = village.lines.iter().any(|line| matches!(line.deed, Deed::Revoke(0, _)));
        for (line, id) in village.lines.iter().zip(entries_of(&village, &log)) {
            prop_assert!(line.device != 0 || revoked || members.right_at(id) == Ok(Capacity::Keeper), "{:?}", line);
        }
    }

    /// A ledger in which nothing counts, and which nobody witnessed, decides nothing about the others.
    #[test]
    fn a_ledger_that_nobody_knows_decides_nothing(village in villages()) {
        let word = Word::of(&village);
        let lines = village.lines.iter().enumerate();
        for device in 1..DEVICES.len() {
            let is_known = lines.clone().any(|(_, line)| matches!(line.deed, Deed::Witness(of, ..) if of == device));
            let decides = lines.clone().any(|(at, line)| line.device == device && word.counts(at));
            if is_known || decides {
                continue;
            }
            let mut without = village.ledgers();
            without.remove(device);
            let log = Log::union(without);
            let members = Members::of(&log);
            let mut ids: Vec<EntryId> = log.in_order().collect();
            ids.sort();
            for (at, line) in lines.clone().filter(|(_, line)| line.device != device) {
                let mut of_it = ids.iter().filter(|id| log.ledger(**id).device == DEVICES[line.device].0);
                let right = members.right_at(*of_it.nth(line.place - 1).unwrap());
                prop_assert_eq!(right, word.right_at(at), "line {} {:?}", at, line);
            }
        }
    }
}

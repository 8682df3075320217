//! A world of three to five machines in one thread, made from a seed: people type, clocks go wrong, disks are set
//! back to a backup, and the network loses, cuts, repeats, delays and parts. Real folders, the real sealing and the
//! real exchange; only the wire between `compare` and `take` is played here.
//!
//! `FOOTFOLD_SEEDS=20000 cargo test --release -p footfold-daemon --lib net::world` runs as many, `FOOTFOLD_SEED=7` one.

mod site;

use std::collections::{BTreeSet, HashSet};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use chrono::{NaiveDateTime, TimeDelta};
use ledger_format::line::read_utc;

use super::caller::next_step;
use super::herds::View;
use super::take::{self, Taken};
use crate::exchange::{List, Move, Refusal, Said, compare};
use site::Site;

/// Seeds that are run by the usual tests.
const SEEDS: u64 = 200;
/// After so many rounds with a whole network all must be quiet.
const HEALING: usize = 40;

/// Numbers that look like chance (`SplitMix64`).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut x = self.0;
        x = (x ^ x >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        x = (x ^ x >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        x ^ x >> 31
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % n as u64).unwrap()
    }

    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}

/// How the wire behaves in one conversation.
struct Wire {
    /// Bodies that still pass.
    bodies: usize,
    /// Bytes of the one at which it is cut.
    cut: usize,
    twice: bool,
    is_late: bool,
}

impl Wire {
    fn whole() -> Self {
        Self { bodies: usize::MAX, cut: 0, twice: false, is_late: false }
    }

    fn any(chance: &mut Chance) -> Self {
        let bodies = if chance.one_in(3) { chance.below(4) } else { usize::MAX };
        Self { bodies, cut: chance.below(400), twice: chance.one_in(4), is_late: chance.one_in(5) }
    }

    /// What of a body comes through.
    fn carries(&mut self, body: Vec<u8>) -> (Vec<u8>, bool) {
        if self.bodies == 0 {
            return (body[..self.cut.min(body.len())].to_vec(), false);
        }
        self.bodies = self.bodies.saturating_sub(1);
        (body, true)
    }
}

struct World {
    sites: Vec<Site>,
    now: NaiveDateTime,
    log: Vec<String>,
    /// Each typed word, with who typed it.
    typed: Vec<(usize, String)>,
    /// Words that went with a disk before anybody else had them.
    gone: HashSet<String>,
    restored: BTreeSet<&'static str>,
    /// Pairs that cannot hear each other now.
    parted: HashSet<(usize, usize)>,
}

impl World {
    fn new(place: &Path, chance: &mut Chance) -> Self {
        let mut sites = vec![Site::founder(place)];
        for number in 1..3 + chance.below(3) {
            let joined = Site::joined(place, number, &sites[0]);
            let capacity = if chance.one_in(4) { "keeper" } else { "writer" };
            sites[0].types(&format!(
                "2026-03-01 herd admit {} key {} as {capacity}",
                joined.device,
                joined.key.public()
            ));
            sites.push(joined);
        }
        Self {
            sites,
            now: read_utc(b"2026-03-02T08:00:00Z").unwrap(),
            log: Vec::new(),
            typed: Vec::new(),
            gone: HashSet::new(),
            restored: BTreeSet::new(),
            parted: HashSet::new(),
        }
    }

    fn say(&mut self, what: String) {
        self.log.push(what);
    }

    fn happens(&mut self, chance: &mut Chance) {
        self.now += TimeDelta::minutes(i64::try_from(chance.below(600)).unwrap());
        let at = chance.below(self.sites.len());
        self.sites[at].at(self.now);
        match chance.below(20) {
            0..=4 => self.types(at, chance),
            5..=8 => self.tends(at),
            9..=15 => {
                let other = chance.below(self.sites.len());
                let wire = Wire::any(chance);
                self.calls(at, other, wire);
            }
            16 => self.sites[at].drift = TimeDelta::minutes(i64::try_from(chance.below(4000)).unwrap() - 2000),
            17 => self.parts(at, chance),
            18 if !self.restored.contains(self.sites[at].device) => {
                self.say(format!("{} is backed up", self.sites[at].device));
                self.sites[at].backs_up();
            }
            _ => self.restores(at),
        }
    }

    fn types(&mut self, at: usize, chance: &mut Chance) {
        for _ in 0..=chance.below(3) {
            let word = format!("word{}x", self.typed.len());
            self.sites[at].types(&format!(
                "2026-03-{:02} {} note: {word}",
                2 + chance.below(20),
                400 + chance.below(9)
            ));
            self.say(format!("{} types {word}", self.sites[at].device));
            self.typed.push((at, word));
        }
    }

    fn tends(&mut self, at: usize) {
        let told = self.sites[at].tends();
        self.say(format!("{} tends: {told}", self.sites[at].device));
    }

    fn parts(&mut self, at: usize, chance: &mut Chance) {
        let pair = (at, chance.below(self.sites.len()));
        if !self.parted.remove(&pair) {
            self.parted.insert(pair);
        }
        self.say(format!("{pair:?} part or meet"));
    }

    /// A disk is set back. What only it had since then is gone with it.
    fn restores(&mut self, at: usize) {
        if !self.sites[at].has_backup() {
            return;
        }
        let device = self.sites[at].device;
        self.sites[at].is_restored();
        self.restored.insert(device);
        let left: Vec<String> = self.sites.iter().map(Site::says).collect();
        let lost = self.typed.iter().filter(|(_, word)| !left.iter().any(|text| text.contains(word.as_str())));
        let lost: Vec<String> = lost.map(|(_, word)| word.clone()).collect();
        self.say(format!("{device} is set back; gone with the disk: {lost:?}"));
        self.gone.extend(lost);
    }

    /// One conversation: `at` calls `other`.
    fn calls(&mut self, at: usize, other: usize, mut wire: Wire) {
        if at == other || self.parted.contains(&(at, other)) || self.parted.contains(&(other, at)) {
            return;
        }
        let names = format!("{} calls {}", self.sites[at].device, self.sites[other].device);
        self.sites[other].at(self.now);
        let there = self.sites[other].view();
        self.sites[at].at(self.now);
        let (Some(here), Some(there)) = (self.sites[at].view(), there) else {
            return self.say(format!("{names}: nobody is there"));
        };
        let key = ledger_format::mark::FullMark::read(self.sites[at].key.public()).unwrap();
        if !there.may_read(key) || here.founder != there.founder {
            return self.say(format!("{names}: not let in"));
        }
        for (site, view) in [(at, &here), (other, &there)] {
            self.is_durable(site, view);
        }
        let told = if wire.is_late { self.sites[other].old_list.clone() } else { there.body.clone() };
        let mut done = Vec::new();
        for step in compare(&here.holding, &List::read(&told, &here.herd)) {
            let (word, goes_on) = match step {
                Move::Ask { from, said } => self.asks((at, &here), (other, &there), from, &said, &mut wire),
                Move::Look(said) => self.looks((at, &here), (other, &there), &said, &mut wire),
                Move::OwnIsLonger(said) => {
                    let from = here.holding.files.get(&said.name).map_or(0, |held| held.length);
                    self.asks((at, &here), (other, &there), from, &said, &mut wire)
                }
                Move::Offer { name, theirs } => {
                    let from = theirs.as_ref().map_or(0, |said| said.length);
                    let Ok(Some((said, tail))) = next_step(&here, &name, from) else { continue };
                    self.offers((other, &there), (from, theirs), &said, tail, &mut wire)
                }
                Move::AskProtocol(_) | Move::OfferProtocol(_) => continue,
            };
            done.push(word);
            if !goes_on {
                break;
            }
        }
        self.sites[other].old_list.clone_from(&there.body);
        self.say(format!("{names}: {}", done.join(", ")));
        self.sites[other].at(self.now);
        self.sites[other].view();
        self.sites[at].at(self.now);
        self.sites[at].view();
    }

    /// Nobody is told of bytes that are not accepted.
    fn is_durable(&self, at: usize, view: &View) {
        let accepted = self.sites[at].accepted();
        for (name, held) in &view.holding.files {
            let Some(told) = &held.told else { continue };
            let length = accepted.get(&name.to_string()).map_or(0, |bytes| bytes.len() as u64);
            assert!(
                told.length <= length,
                "{} tells {} bytes of {name}, {length} are kept",
                self.sites[at].device,
                told.length
            );
        }
    }

    fn asks(
        &mut self,
        (at, here): (usize, &View),
        (other, there): (usize, &View),
        from: u64,
        said: &Said,
        wire: &mut Wire,
    ) -> (String, bool) {
        let Ok(bytes) = take::bytes(there, &said.name, from, said.length) else { return ("not there".into(), true) };
        let (tail, is_whole) = wire.carries(bytes);
        if !is_whole {
            // What came is kept in memory, and counts for nothing.
            return (format!("cut in {}", said.name), false);
        }
        match take::tail(&self.sites[at].herds, here, from, &tail, said) {
            Ok(Taken::Refused(Refusal::DoesNotGoOn)) => self.asks_whole((at, here), (other, there), said, wire),
            taken => (word(&taken), true),
        }
    }

    fn asks_whole(
        &mut self,
        (at, here): (usize, &View),
        (_, there): (usize, &View),
        said: &Said,
        wire: &mut Wire,
    ) -> (String, bool) {
        let Ok(bytes) = take::bytes(there, &said.name, 0, said.length) else { return ("not there".into(), true) };
        let (whole, is_whole) = wire.carries(bytes);
        if !is_whole {
            return (format!("cut in the whole of {}", said.name), false);
        }
        (word(&take::whole(&self.sites[at].herds, here, &whole, said)), true)
    }

    fn looks(
        &mut self,
        (at, here): (usize, &View),
        there: (usize, &View),
        said: &Said,
        wire: &mut Wire,
    ) -> (String, bool) {
        match take::tail(&self.sites[at].herds, here, said.length, &[], said) {
            Ok(Taken::Refused(Refusal::AnotherHistory)) => self.asks_whole((at, here), there, said, wire),
            taken => (word(&taken), true),
        }
    }

    fn offers(
        &mut self,
        (other, there): (usize, &View),
        (from, thought): (u64, Option<Said>),
        said: &Said,
        tail: Vec<u8>,
        wire: &mut Wire,
    ) -> (String, bool) {
        let times = if wire.twice { 2 } else { 1 };
        let (tail, is_whole) = wire.carries(tail);
        if !is_whole {
            return (format!("cut in an offer of {}", said.name), false);
        }
        self.sites[other].at(self.now);
        let mark = thought.map(|thought| thought.mark);
        let took = |_| word(&take::offered(&self.sites[other].herds, there, from, mark, &tail, said));
        ((0..times).map(took).collect::<Vec<_>>().join(" and "), true)
    }

    /// The network is whole and clocks are right, until nothing changes any more.
    fn heals(&mut self) {
        self.parted.clear();
        for _ in 0..HEALING {
            let before: Vec<_> = self.sites.iter().map(Site::visible).collect();
            self.now += TimeDelta::hours(30);
            for at in 0..self.sites.len() {
                self.sites[at].drift = TimeDelta::zero();
                self.sites[at].at(self.now);
                self.tends(at);
                for other in 0..self.sites.len() {
                    self.calls(at, other, Wire::whole());
                }
            }
            if before == self.sites.iter().map(Site::visible).collect::<Vec<_>>() {
                return;
            }
        }
        panic!("not quiet after {HEALING} rounds:\n{}", self.log.join("\n"));
    }

    /// Each file is on all machines as it is on its own, and nothing typed is lost or kept twice.
    fn is_well(&self) {
        let log = || self.log.join("\n");
        let mut all = String::new();
        for owner in &self.sites {
            let name = format!("{}/2026.txt", owner.device);
            let own = &owner.accepted()[&name];
            all.push_str(&String::from_utf8_lossy(own));
            for site in &self.sites {
                let (there, shown) = (&site.accepted()[&name], &site.visible()[&name]);
                assert!(shown.starts_with(there), "{name} is not shown on {}:\n{}", site.device, log());
                assert!(there == own, "{name} differs on {}:\n{}", site.device, log());
            }
        }
        for site in &self.sites {
            let uncaused = site.forked().into_iter().find(|device| !self.restored.contains(device.as_str()));
            assert_eq!(uncaused, None, "two histories without a cause, on {}:\n{}", site.device, log());
        }
        for (at, word) in self.typed.iter().filter(|(_, word)| !self.gone.contains(word)) {
            let times = all.matches(&format!(": {word}")).count();
            // What was typed and not kept yet when a disk was backed up is typed text again when it is set back.
            let most = 1 + usize::from(self.restored.contains(self.sites[*at].device));
            assert!(
                (1..=most).contains(&times),
                "{word}, {times} times, typed on {}:\n{}",
                self.sites[*at].device,
                log()
            );
        }
    }
}

fn word(taken: &Result<Taken, crate::Trouble>) -> String {
    match taken {
        Ok(taken) => format!("{taken:?}"),
        Err(trouble) => trouble.what.clone(),
    }
}

/// On a disk in memory where there is one: a world is many small files.
fn room() -> tempfile::TempDir {
    let memory = PathBuf::from("/dev/shm");
    if memory.is_dir() { tempfile::tempdir_in(memory).unwrap() } else { tempfile::tempdir().unwrap() }
}

fn run(seed: u64) -> Vec<String> {
    let (room, mut chance) = (room(), Chance(seed));
    let mut world = World::new(room.path(), &mut chance);
    for _ in 0..40 + chance.below(40) {
        world.happens(&mut chance);
    }
    world.say("all heals".to_owned());
    world.heals();
    world.is_well();
    world.log
}

#[test]
fn f20_f21_f50_f53_f56_in_any_world_all_come_to_the_same_and_nothing_typed_is_lost() {
    let seeds = std::env::var("FOOTFOLD_SEEDS").ok().and_then(|text| text.parse().ok()).unwrap_or(SEEDS);
    let one = std::env::var("FOOTFOLD_SEED").ok().and_then(|text| text.parse().ok());
    let seeds = one.map_or(0..seeds, |seed: u64| seed..seed + 1);
    let next = AtomicU64::new(seeds.start);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= seeds.end {
                        return;
                    }
                    let log = std::panic::catch_unwind(|| run(seed)).unwrap_or_else(|_| panic!("seed {seed}"));
                    assert_eq!(log, run(seed), "seed {seed} was not the same twice");
                }
            });
        }
    });
}

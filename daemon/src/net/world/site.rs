//! One machine of the world: its folder, its clock, its backup.

use std::cell::Cell;
use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use chrono::{NaiveDateTime, TimeDelta};
use ledger_format::line::read_utc;

use crate::Trouble;
use crate::disk::{HerdFolder, accepted};
use crate::forks;
use crate::keys::DeviceKey;
use crate::net::herds::{Herds, View};
use crate::seal::{Desk, NewHerd, begin_herd, join_herd, tend};

const DEVICES: [&str; 5] = ["crush-laptop", "farm-office", "vet-tablet", "old-phone", "server"];

thread_local! {
    static NOW: Cell<NaiveDateTime> = const { Cell::new(NaiveDateTime::MIN) };
}

fn clock() -> NaiveDateTime {
    NOW.get()
}

pub(super) struct Site {
    pub(super) device: &'static str,
    pub(super) key: DeviceKey,
    pub(super) herds: Herds,
    /// By how much its clock is wrong.
    pub(super) drift: TimeDelta,
    /// The list that it told last, and may be told late.
    pub(super) old_list: String,
    place: PathBuf,
    met: HashSet<String>,
    backup: Option<BTreeMap<PathBuf, Vec<u8>>>,
}

impl Site {
    /// The machine that begins the herd.
    pub(super) fn founder(world: &Path) -> Self {
        let site = Self::bare(world, 0);
        begin_herd(&site.place, &site.new_herd()).unwrap();
        site
    }

    /// Another one, with nothing but the head of its ledger.
    pub(super) fn joined(world: &Path, number: usize, founder: &Self) -> Self {
        let site = Self::bare(world, number);
        join_herd(&site.place, &site.new_herd(), founder.key.public()).unwrap();
        site
    }

    fn bare(world: &Path, number: usize) -> Self {
        let (device, place) = (DEVICES[number], world.join(DEVICES[number]));
        let key = DeviceKey::of_secret(&[u8::try_from(number).unwrap() + 1; 32]);
        let herds = Self::net_of(&place, device, &key);
        let (drift, old_list) = (TimeDelta::zero(), String::new());
        Self { device, key, herds, drift, old_list, place, met: HashSet::new(), backup: None }
    }

    fn net_of(place: &Path, device: &str, key: &DeviceKey) -> Herds {
        Herds::new(&[place.to_owned()], Some(device.to_owned()), key.clone(), clock)
    }

    fn new_herd(&self) -> NewHerd<'_> {
        let now = read_utc(b"2026-03-01T08:00:00Z").unwrap();
        NOW.set(now);
        let (herd, zone, device, key) = ("quillmere", "Europe/London", self.device, &self.key);
        NewHerd { herd, zone, device, key, by: "kj", now, today: now.date(), protocol: None }
    }

    /// What it does next is done at this time by its own clock.
    pub(super) fn at(&self, now: NaiveDateTime) {
        NOW.set(now + self.drift);
    }

    pub(super) fn view(&self) -> Option<Arc<View>> {
        self.herds.refresh(0)
    }

    /// A person types a line at the end of the file.
    pub(super) fn types(&self, line: &str) {
        let file = self.file();
        let text = fs::read_to_string(&file).unwrap_or_default();
        fs::write(file, format!("{text}{line}\n")).unwrap();
    }

    fn file(&self) -> PathBuf {
        self.place.join("ledgers").join(self.device).join("2026.txt")
    }

    /// What a daemon does once all is still.
    pub(super) fn tends(&mut self) -> String {
        let herd = HerdFolder::open(&self.place).unwrap();
        let now = clock();
        let desk = Desk { herd: &herd, device: self.device, by: "kj", key: &self.key, now, today: now.date() };
        let mut told = Vec::new();
        match forks::meet_kept(&desk, &mut self.met) {
            Ok(met) => told.extend(met.iter().filter_map(|(name, met, _)| met.told(name))),
            Err(trouble) => told.push(trouble.what),
        }
        let files = herd.ledgers().unwrap().files;
        match tend(&desk, &files) {
            Ok(sealed) => told.push(format!("{} kept, {} witnessed", sealed.kept.len(), sealed.witnessed.len())),
            Err(Trouble { what, .. }) => told.push(what),
        }
        told.join("; ")
    }

    /// Every file of the herd, by its path: the disk as it is.
    fn disk(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        let mut files = BTreeMap::new();
        let mut folders = vec![self.place.clone()];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
                let path = entry.path();
                if path.is_dir() {
                    folders.push(path);
                } else {
                    let bytes = fs::read(&path).unwrap();
                    files.insert(path.strip_prefix(&self.place).unwrap().to_owned(), bytes);
                }
            }
        }
        files
    }

    pub(super) fn backs_up(&mut self) {
        self.backup = Some(self.disk());
    }

    pub(super) fn has_backup(&self) -> bool {
        self.backup.is_some()
    }

    /// The disk as it was when it was backed up. It is not done twice: a second fork waits for a person.
    pub(super) fn is_restored(&mut self) {
        let Some(files) = self.backup.take() else { return };
        fs::remove_dir_all(&self.place).unwrap();
        for (path, bytes) in files {
            let path = self.place.join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, bytes).unwrap();
        }
        self.met.clear();
        self.herds = Self::net_of(&self.place, self.device, &self.key);
    }

    /// All that stands anywhere on its disk.
    pub(super) fn says(&self) -> String {
        self.disk().values().map(|bytes| String::from_utf8_lossy(bytes).into_owned()).collect::<Vec<_>>().join("\n")
    }

    /// Its accepted files.
    pub(super) fn accepted(&self) -> BTreeMap<String, Vec<u8>> {
        let herd = HerdFolder::open(&self.place).unwrap();
        let names = accepted::names(&herd).unwrap();
        names.iter().map(|name| (name.to_string(), accepted::look(&herd, name).unwrap().unwrap_or_default())).collect()
    }

    /// Its visible files, byte for byte.
    pub(super) fn visible(&self) -> BTreeMap<String, Vec<u8>> {
        let herd = HerdFolder::open(&self.place).unwrap();
        let names = herd.ledgers().unwrap().files;
        names.iter().map(|name| (name.to_string(), herd.read(name).unwrap().unwrap_or_default())).collect()
    }

    /// The devices of which another history is kept here.
    pub(super) fn forked(&self) -> BTreeSet<String> {
        let forks = fs::read_dir(self.place.join(".footfold/forks")).into_iter().flatten().flatten();
        forks.map(|device| device.file_name().to_string_lossy().into_owned()).collect()
    }
}

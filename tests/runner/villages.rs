//! Herds drawn by chance, of devices that let each other in and out, witness each other and sign how far their files
//! go: all of it perhaps false, damaged or not here.

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use daemon::keys::DeviceKey;
use ledger_format::mark::{Chain, Follows, FullMark, Head, Statement};

use crate::TempHerd;
use crate::verifier::Chance;

/// Devices and the number of the key that each begins with: one key goes under two names.
const DEVICES: [(&str, u8); 5] =
    [("crush-laptop", 1), ("farm-office", 2), ("old-phone", 3), ("vet-tablet", 4), ("vet-tablet-2", 4)];
const FOUNDER: u8 = 1;
/// A key that a device goes on with, under its old name.
const NEW_KEY: u8 = 10;

fn key(number: u8) -> DeviceKey {
    DeviceKey::of_secret(&[number; 32])
}

/// One file as it was written; how much of it is here is said by `here`.
pub(crate) struct Written {
    pub(crate) device: &'static str,
    pub(crate) year: u16,
    key: u8,
    chain: Chain,
    bytes: Vec<u8>,
    /// Where each line ends, with its full mark.
    ends: Vec<(usize, FullMark)>,
    /// Lines that are here.
    lines: usize,
    sig: Vec<u8>,
}

impl Written {
    fn seal(&mut self, body: &str, sealed: NaiveDateTime) {
        let full = self.chain.seal(body, sealed, &mut self.bytes);
        self.ends.push((self.bytes.len(), full));
        self.lines += 1;
    }

    /// The bytes that are here.
    pub(crate) fn here(&self) -> &[u8] {
        &self.bytes[..self.ends[self.lines - 1].0]
    }

    /// The number of the line that ends at a length.
    pub(crate) fn line_at(&self, length: u64) -> u64 {
        self.ends.iter().take_while(|(end, _)| *end as u64 <= length).count() as u64
    }
}

/// A herd that was drawn.
pub(crate) struct Village {
    chance: Chance,
    /// No head names a founder.
    is_open: bool,
    pub(crate) files: Vec<Written>,
    minutes: i64,
}

impl Village {
    /// The village of a number.
    pub(crate) fn drawn(number: u64) -> Self {
        let mut village = Self { chance: Chance(number), is_open: false, files: Vec::new(), minutes: 0 };
        village.is_open = village.one_in(12);
        for (device, (_, first)) in DEVICES.iter().enumerate() {
            // The founder's key may go under a second name.
            let number = if device == 2 && village.one_in(3) { FOUNDER } else { *first };
            village.begin(device, 2026, number, None);
        }
        for _ in 0..village.chance.below(70) {
            village.step();
        }
        village.lose();
        for file in 0..village.files.len() {
            village.state(file);
        }
        village
    }

    /// A keeper that goes on with another key, `revoke`s the vet's tablet, and knows that its name is revoked behind a
    /// line of its first file; whether it knows that line is the question.
    pub(crate) fn of_two_keys(knows_its_first_file: bool) -> Self {
        let mut village = Self { chance: Chance(0), is_open: false, files: Vec::new(), minutes: 0 };
        let (crush, office, vet, again) = (0, 1, 2, 3);
        for (device, number) in [(0, FOUNDER), (1, 2), (3, 4)] {
            village.begin(device, 2026, number, None);
        }
        for (device, number, capacity) in
            [("farm-office", 2, "keeper"), ("farm-office", NEW_KEY, "keeper"), ("vet-tablet", 4, "writer")]
        {
            village.write(crush, &format!("herd admit {device} key {} as {capacity} by kj", key(number).public()));
        }
        village.write(office, "417 score 2 by ao");
        village.write(vet, "417 score 2 by mw");
        let (of_office, of_vet) = (village.files[office].ends[1], village.files[vet].ends[0]);
        village.write(crush, &format!("herd revoke farm-office after {} by kj", of_office.1));
        village.begin(1, 2027, NEW_KEY, None);
        let (length, mark) = village.files[crush].ends[4];
        village.write(again, &format!("herd witness crush-laptop 2026 length {length} mark {mark} by ao"));
        if knows_its_first_file {
            let (length, mark) = of_office;
            village.write(again, &format!("herd witness farm-office 2026 length {length} mark {mark} by ao"));
        }
        village.write(again, &format!("herd revoke vet-tablet after {} by ao", of_vet.1));
        village
    }

    fn write(&mut self, file: usize, body: &str) {
        let sealed = self.now();
        self.files[file].seal(&format!("2026-01-01 {body}"), sealed);
    }

    fn one_in(&mut self, most: usize) -> bool {
        self.chance.below(most) == 0
    }

    fn now(&mut self) -> NaiveDateTime {
        self.minutes += 1;
        NaiveDate::from_ymd_opt(2026, 1, 1).unwrap().and_hms_opt(8, 0, 0).unwrap() + TimeDelta::minutes(self.minutes)
    }

    fn begin(&mut self, device: usize, year: u16, number: u8, follows: Option<Follows>) {
        let (device, _) = DEVICES[device];
        let (own, founder) = (key(number), key(FOUNDER));
        let begins_it = number == FOUNDER && (device == DEVICES[0].0 || self.one_in(4));
        let founder = Some(founder.public()).filter(|_| !self.is_open && !begins_it);
        let head = Head { herd: "quillmere", device, key: own.public(), zone: "UTC", founder, follows };
        let (chain, bytes, ends, sig) = (Chain::default(), Vec::new(), Vec::new(), Vec::new());
        let mut file = Written { device, year, key: number, chain, bytes, ends, lines: 0, sig };
        let sealed = self.now();
        file.seal(&head.to_string(), sealed);
        self.files.push(file);
    }

    /// The first devices write more, so that keepers come about.
    fn step(&mut self) {
        let device = self.chance.below(DEVICES.len());
        let device = if self.one_in(3) { device / 2 } else { device };
        let of_it = |file: &Written| file.device == DEVICES[device].0;
        let newest = self.files.iter().rposition(of_it).unwrap();
        let year = self.files[newest].year;
        if year < 2028 && self.one_in(15) {
            self.next_year(device, newest, year + 1);
            return;
        }
        let body = self.body(newest);
        self.write(newest, &body);
    }

    /// Mostly with the same key.
    fn next_year(&mut self, device: usize, newest: usize, year: u16) {
        if self.one_in(2) {
            self.begin(device, year, NEW_KEY + device as u8, None);
        } else {
            let (file, last) = (&self.files[newest], self.files[newest].ends.len() - 1);
            let follows = Follows { year: file.year, mark: file.ends[last].1 };
            self.begin(device, year, file.key, Some(follows));
        }
    }

    fn body(&mut self, writer: usize) -> String {
        let other = self.chance.below(self.files.len());
        match self.chance.below(16) {
            0..=4 => self.admit(other),
            5..=7 => self.revoke(other),
            8..=12 => self.witness(other),
            13 => {
                let (_, full) = self.files[writer].ends[self.files[writer].ends.len() - 1];
                format!("herd strike {} by kj: not so", full.mark())
            }
            14 => "417 score 9 by kj".to_owned(),
            _ => "417 score 2 by kj".to_owned(),
        }
    }

    fn admit(&mut self, other: usize) -> String {
        let capacity = ["keeper", "keeper", "keeper", "writer", "reader"][self.chance.below(5)];
        let of = if self.one_in(8) { self.chance.below(self.files.len()) } else { other };
        format!("herd admit {} key {} as {capacity} by kj", self.files[other].device, key(self.files[of].key).public())
    }

    fn revoke(&mut self, other: usize) -> String {
        let of = if self.one_in(8) { self.chance.below(self.files.len()) } else { other };
        let after = match self.chance.below(8) {
            0 => FullMark([0; 32]),
            1 => FullMark([7; 32]),
            _ => self.some_line(of).1,
        };
        format!("herd revoke {} after {after} by kj", self.files[other].device)
    }

    fn witness(&mut self, other: usize) -> String {
        let (length, mark) = self.some_line(other);
        let mark = if self.one_in(10) { self.some_line(other).1 } else { mark };
        let Written { device, year, .. } = self.files[other];
        format!("herd witness {device} {year} length {length} mark {mark} by kj")
    }

    /// Mostly one of the last.
    fn some_line(&mut self, file: usize) -> (usize, FullMark) {
        let last = self.files[file].ends.len() - 1;
        self.files[file].ends[last - self.chance.below(4).min(last)]
    }

    /// Some files are here in part, or not at all.
    fn lose(&mut self) {
        for file in 0..self.files.len() {
            if self.one_in(4) {
                self.files[file].lines = 1 + self.chance.below(self.files[file].lines);
            }
        }
        for file in (1..self.files.len()).rev() {
            if self.one_in(20) {
                self.files.remove(file);
            }
        }
        if self.one_in(15) {
            self.files.remove(0);
        }
    }

    /// A few statements, and what damage and ill will make of them.
    fn state(&mut self, file: usize) {
        for _ in 0..self.chance.below(4) {
            let whole = self.chance.below(self.files[file].ends.len());
            let within = whole.min(self.files[file].lines - 1);
            let damage = self.chance.below(14);
            // Of those that go beyond the file a check looks at the longest alone, so these are rightly signed.
            let (length, mark) = self.files[file].ends[if damage < 10 { within } else { whole }];
            let line = self.statement(file, length, mark, damage);
            self.files[file].sig.extend(line);
        }
        if self.one_in(6) {
            let length = self.files[file].sig.len();
            self.files[file].sig.truncate(length - self.chance.below(40).min(length));
        }
    }

    fn statement(&mut self, file: usize, length: usize, mark: FullMark, damage: usize) -> Vec<u8> {
        let Written { device, year, key: number, ref ends, .. } = self.files[file];
        let at = NaiveDate::from_ymd_opt(2026, 2, 1).unwrap().and_hms_opt(8, 0, 0).unwrap();
        let length = length as u64;
        let said = Statement { herd: "quillmere", device, year, length, mark, at };
        let said = match damage {
            0 => Statement { mark: ends[0].1, ..said },
            1 => Statement { length: said.length - 1, ..said },
            2 => Statement { year: year + 1, ..said },
            3 => Statement { device: "barn-tablet", ..said },
            4 => Statement { mark: FullMark([7; 32]), ..said },
            _ => said,
        };
        let signer = if damage == 5 { NEW_KEY - 1 } else { number };
        let mut line = format!("{}\n", said.signed(key(signer).signing())).into_bytes();
        match damage {
            6 => {
                let at = self.chance.below(line.len());
                line[at] ^= 1 << self.chance.below(8);
            }
            7 => drop(line.drain(..self.chance.below(line.len() - 1))),
            8 => line.insert(0, b'\n'),
            9 => line.extend(line.clone()),
            _ => {}
        }
        line
    }

    /// All that is here, for a person to read.
    pub(crate) fn told(&self) -> String {
        let of = |file: &Written| format!("{}/{}\n{}", file.device, file.year, String::from_utf8_lossy(file.here()));
        self.files.iter().map(of).collect()
    }

    /// A herd's folder with all that is here.
    pub(crate) fn folder(&self) -> TempHerd {
        let folder = TempHerd::empty();
        for file in &self.files {
            let device = folder.path().join("ledgers").join(file.device);
            std::fs::create_dir_all(&device).unwrap();
            std::fs::write(device.join(format!("{}.txt", file.year)), file.here()).unwrap();
            if !file.sig.is_empty() {
                std::fs::write(device.join(format!("{}.sig", file.year)), &file.sig).unwrap();
            }
        }
        folder
    }
}

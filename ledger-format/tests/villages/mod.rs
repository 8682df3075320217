//! Any history of five devices that admit, revoke and witness each other, and the rules of `members.md` taken at their
//! word: sets of lines and rounds until nothing changes.

use std::collections::BTreeSet;

use chrono::{NaiveDate, TimeDelta};
use ledger_format::mark::{Chain, FullMark};
use ledger_format::members::Apart;
use ledger_format::merge::Ledger;
use ledger_format::vocabulary::Capacity;
use proptest::prelude::*;

/// Device and the name whose BLAKE3 is its key: one key goes under two names.
pub(crate) const DEVICES: [(&str, &str); 5] = [
    ("crush-laptop", "crush-laptop"),
    ("farm-office", "farm-office"),
    ("old-phone", "old-phone"),
    ("vet-tablet", "vet-tablet"),
    ("vet-tablet-2", "vet-tablet"),
];

/// What one line does. Lines of a device are counted from 0, its head.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Deed {
    Admit(usize, Capacity),
    /// After a line; none: 64 zeros.
    Revoke(usize, Option<usize>),
    /// Up to and with a line; whether the mark is right.
    Witness(usize, usize, bool),
    Score,
}

/// One line: its device, its place there, what it does.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    pub(crate) device: usize,
    pub(crate) place: usize,
    pub(crate) deed: Deed,
}

/// What was written in which order, and how much of each file is here.
#[derive(Clone, Debug)]
pub(crate) struct Village {
    pub(crate) lines: Vec<Line>,
    pub(crate) files: Vec<Vec<u8>>,
    ends: Vec<Vec<usize>>,
}

pub(crate) fn key(device: usize) -> FullMark {
    FullMark::over(DEVICES[device].1.as_bytes())
}

type Step = (usize, usize, usize, usize, bool);

pub(crate) fn villages() -> impl Strategy<Value = Village> {
    let step = (0usize..5, 0usize..12, 0usize..5, 0usize..8, prop::bool::weighted(0.9));
    prop::collection::vec(step, 1..40).prop_map(|steps| write(&steps))
}

fn write(steps: &[Step]) -> Village {
    let mut village = Village { lines: Vec::new(), files: vec![Vec::new(); 5], ends: vec![Vec::new(); 5] };
    let mut chains = vec![Chain::default(); 5];
    let mut marks: Vec<Vec<FullMark>> = vec![Vec::new(); 5];
    let begun = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap().and_hms_opt(8, 0, 0).unwrap();
    let mut seal = |village: &mut Village, marks: &mut Vec<Vec<FullMark>>, device: usize, body: &str| {
        let sealed = begun + TimeDelta::minutes(village.lines.len() as i64);
        marks[device].push(chains[device].seal(body, sealed, &mut village.files[device]));
        let end = village.files[device].len();
        village.ends[device].push(end);
    };
    for (at, (device, _)) in DEVICES.iter().enumerate() {
        let founder = if at == 0 { String::new() } else { format!(" founder {}", key(0)) };
        let head = format!("footfold 1 herd quillmere device {device} key {} zone UTC{founder}", key(at));
        seal(&mut village, &mut marks, at, &head);
    }
    for step in steps {
        // The first devices write more, so that keepers come about.
        let device = if step.4 { step.0 } else { step.0 / 2 };
        let deed = deed(step, device, &village.ends);
        let body = body(deed, device, &marks, &village.ends);
        let place = marks[device].len();
        village.lines.push(Line { device, place, deed });
        seal(&mut village, &mut marks, device, &body);
    }
    village
}

fn deed((_, what, other, n, right): &Step, device: usize, ends: &[Vec<usize>]) -> Deed {
    let last = ends[*other].len() - 1;
    let line = last.saturating_sub(n / 2);
    match what {
        0..=2 => Deed::Admit(*other, Capacity::Keeper),
        3 => Deed::Admit(*other, Capacity::Writer),
        4 => Deed::Admit(*other, Capacity::Reader),
        5 | 6 => Deed::Revoke(*other, (*n != 7).then_some(line)),
        7..=10 if *other != device => Deed::Witness(*other, line, *right),
        _ => Deed::Score,
    }
}

fn body(deed: Deed, device: usize, marks: &[Vec<FullMark>], ends: &[Vec<usize>]) -> String {
    let act = match deed {
        Deed::Admit(to, capacity) => format!("herd admit {} key {} as {capacity}", DEVICES[to].0, key(to)),
        Deed::Revoke(of, after) => {
            let mark = after.map_or(FullMark([0; 32]), |line| marks[of][line]);
            format!("herd revoke {} after {mark}", DEVICES[of].0)
        }
        Deed::Witness(of, line, right) => {
            let mark = if right { marks[of][line] } else { FullMark([7; 32]) };
            format!("herd witness {} 2026 length {} mark {mark}", DEVICES[of].0, ends[of][line])
        }
        Deed::Score => format!("{} score {}", 417 + device, marks[device].len() % 4),
    };
    format!("2026-01-01 {act} by kj")
}

impl Village {
    /// With only so many of each file's lines here, besides its head.
    pub(crate) fn cut(&self, here: &[usize]) -> Self {
        let here = |device: usize| here[device].min(self.ends[device].len() - 1);
        let files = self.files.iter().zip(&self.ends).enumerate();
        Self {
            lines: self.lines.iter().filter(|line| line.place <= here(line.device)).copied().collect(),
            files: files.map(|(device, (file, ends))| file[..ends[here(device)]].to_vec()).collect(),
            ends: (0..5).map(|device| self.ends[device][..=here(device)].to_vec()).collect(),
        }
    }

    /// The bytes of each line of a device, its head first.
    pub(crate) fn lines_of(&self, device: usize) -> Vec<&[u8]> {
        let starts = std::iter::once(0).chain(self.ends[device].iter().copied());
        starts.zip(&self.ends[device]).map(|(start, end)| &self.files[device][start..*end]).collect()
    }

    pub(crate) fn ledgers(&self) -> Vec<Ledger> {
        let read = |(at, file): (usize, &Vec<u8>)| Ledger::read(DEVICES[at].0, 2026, file.clone()).unwrap();
        self.files.iter().enumerate().map(read).collect()
    }
}

/// The rules at their word. Lines are numbers in `village.lines`.
pub(crate) struct Word<'a> {
    village: &'a Village,
    knows: Vec<BTreeSet<usize>>,
    /// Which revocations count.
    revoked: BTreeSet<usize>,
    admitted: BTreeSet<usize>,
}

impl<'a> Word<'a> {
    pub(crate) fn of(village: &'a Village) -> Self {
        let mut word = Self { village, knows: knowledge(village), revoked: BTreeSet::new(), admitted: BTreeSet::new() };
        let all: BTreeSet<usize> = (0..village.lines.len()).collect();
        word.revoked = all.iter().copied().filter(|line| word.revocation_counts(*line)).collect();
        word.admitted = word.admissions(&all, &word.revoked);
        word
    }

    /// §7, asked anew of every revocation that it knows.
    fn revocation_counts(&self, line: usize) -> bool {
        if !matches!(self.village.lines[line].deed, Deed::Revoke(..)) {
            return false;
        }
        let world = &self.knows[line];
        let revoked: BTreeSet<usize> = world.iter().copied().filter(|known| self.revocation_counts(*known)).collect();
        let admitted = self.admissions(world, &revoked);
        self.right(line, &admitted, &revoked) == Some(Capacity::Keeper)
    }

    /// §8, in rounds.
    fn admissions(&self, world: &BTreeSet<usize>, revoked: &BTreeSet<usize>) -> BTreeSet<usize> {
        let mut admitted = BTreeSet::new();
        loop {
            let more: BTreeSet<usize> = world
                .iter()
                .copied()
                .filter(|line| matches!(self.village.lines[*line].deed, Deed::Admit(..)))
                .filter(|line| self.right(*line, &admitted, revoked) == Some(Capacity::Keeper))
                .collect();
            if more.is_subset(&admitted) {
                return admitted;
            }
            admitted.extend(more);
        }
    }

    /// The right at a line (§8, §8a).
    fn right(&self, line: usize, admitted: &BTreeSet<usize>, revoked: &BTreeSet<usize>) -> Option<Capacity> {
        let Line { device, place, .. } = self.village.lines[line];
        let cuts = |by: &usize| match self.village.lines[*by].deed {
            Deed::Revoke(of, None) => of == device,
            Deed::Revoke(of, Some(after)) => of == device && after < self.village.ends[of].len() && place > after,
            _ => false,
        };
        let cut: BTreeSet<usize> = revoked.iter().copied().filter(cuts).collect();
        self.greatest(device, &cut, admitted, revoked)
    }

    /// The greatest right that a device is given by those that know these revocations.
    fn greatest(
        &self,
        device: usize,
        cut: &BTreeSet<usize>,
        admitted: &BTreeSet<usize>,
        revoked: &BTreeSet<usize>,
    ) -> Option<Capacity> {
        let admits = admitted.iter().filter_map(|line| match self.village.lines[*line].deed {
            Deed::Admit(to, capacity) => Some((to, capacity, self.knows[*line].clone())),
            _ => None,
        });
        let given: Vec<_> = admits.chain([(0, Capacity::Keeper, BTreeSet::new())]).collect();
        let names: Vec<usize> = given.iter().map(|(to, ..)| *to).filter(|to| key(*to) == key(device)).collect();
        let of_names = |by: &usize| matches!(self.village.lines[*by].deed, Deed::Revoke(of, _) if names.contains(&of));
        let of_key: BTreeSet<usize> = revoked.iter().copied().filter(of_names).collect();
        let gives = |(to, capacity, knows): &(usize, Capacity, BTreeSet<usize>)| {
            if *to == device && cut.is_subset(knows) {
                Some(*capacity)
            } else if key(*to) == key(device) && *to != device && cut.is_subset(knows) && of_key.is_subset(knows) {
                Some(if *capacity == Capacity::Keeper { Capacity::Writer } else { *capacity })
            } else {
                None
            }
        };
        given.iter().filter_map(gives).min()
    }

    pub(crate) fn right_at(&self, line: usize) -> Result<Capacity, Apart> {
        let device = self.village.lines[line].device;
        match self.right(line, &self.admitted, &self.revoked) {
            Some(Capacity::Reader) => Err(Apart::MayOnlyRead),
            Some(right) => Ok(right),
            None if self.greatest(device, &BTreeSet::new(), &self.admitted, &BTreeSet::new()).is_some() => {
                Err(Apart::Revoked)
            }
            None => Err(Apart::NotAdmitted),
        }
    }

    pub(crate) fn right_now(&self, device: usize) -> Option<Capacity> {
        let of_it = |by: &usize| matches!(self.village.lines[*by].deed, Deed::Revoke(of, _) if of == device);
        let cut: BTreeSet<usize> = self.revoked.iter().copied().filter(of_it).collect();
        self.greatest(device, &cut, &self.admitted, &self.revoked)
    }

    pub(crate) fn counts(&self, line: usize) -> bool {
        self.admitted.contains(&line) || self.revoked.contains(&line)
    }
}

/// §5, until nobody learns more.
fn knowledge(village: &Village) -> Vec<BTreeSet<usize>> {
    let upto = |device: usize, place: usize| {
        let each = village.lines.iter().enumerate();
        each.filter(move |(_, line)| line.device == device && line.place <= place).map(|(at, _)| at)
    };
    let mut knows: Vec<BTreeSet<usize>> =
        village.lines.iter().map(|line| upto(line.device, line.place - 1).collect()).collect();
    loop {
        let before = knows.clone();
        for known in &mut knows {
            for line in known.clone() {
                known.extend(&before[line]);
                if let Deed::Witness(of, place, true) = village.lines[line].deed
                    && place < village.ends[of].len()
                {
                    known.extend(upto(of, place));
                }
            }
        }
        if knows == before {
            return knows;
        }
    }
}

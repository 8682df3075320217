//! Network disks. Their locks may let everybody in and their events may never come, so one writer at a time is kept
//! by a file that each of them writes its name and a counter in, and reads back once others had time to do the same.
//!
//! A counter that goes on is a writer that lives; one that stood still for twice the settling time is a writer that
//! went. Whoever wrote its name is sure after the settling time, and so before anybody else can take it for gone.

use std::path::PathBuf;
use std::thread::sleep;
use std::time::{Duration, Instant};

use super::{Folder, HerdFolder, faults, replace};
use crate::Trouble;

/// What a person is told of a folder on such a disk.
pub const ADVICE: &str = "this folder lies on a network disk, where locks and events cannot be relied on: it is looked \
                          at every 2 s, and only one machine can write here; better: a folder on each machine's own \
                          disk, and `footfold gather`";

const FILE: &str = "writer";
/// How long a counter must stand still: longer than its writer waits between two looks.
pub const SETTLE_MS: u64 = 6_000;
/// How often a command that waits looks again.
const BETWEEN: Duration = Duration::from_millis(500);

/// Kinds of file systems that are on other machines: NFS, SMB (three), AFS, Ceph, 9P, and all that run as programs.
const FAR: [i64; 8] = [0x6969, 0x517B, 0xFE53_4D42, 0xFF53_4D42, 0x5346_414F, 0x00C3_6400, 0x0102_1997, 0x6573_5546];

/// Whether a folder lies on a disk of another machine, as far as the system says.
pub fn is_far(folder: &Folder) -> bool {
    faults::disk("network") || folder.system().is_some_and(|kind| FAR.contains(&kind)) || is_mounted_from_afar(folder)
}

/// A file system that runs as a program does not say what it is, but the list of mounts says where it comes from.
fn is_mounted_from_afar(folder: &Folder) -> bool {
    let mounts = std::fs::read_to_string("/proc/self/mountinfo").unwrap_or_default();
    folder.device().is_some_and(|(major, minor)| comes_from_afar(&mounts, &format!("{major}:{minor}")))
}

/// Whether a line of the list speaks of this device and a source on another machine: `host:/folder`, `//host/folder`.
fn comes_from_afar(mounts: &str, device: &str) -> bool {
    let of_device = mounts.lines().filter(|line| line.split(' ').nth(2) == Some(device));
    let source = |line: &str| line.split_once(" - ").and_then(|(_, rest)| Some(rest.split(' ').nth(1)?.to_owned()));
    of_device.filter_map(source).any(|source| source.starts_with("//") || source.contains(":/"))
}

/// One of those who would write here.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Writer {
    machine: String,
    process: u32,
}

impl Writer {
    fn me() -> Self {
        Self { machine: this_machine(), process: std::process::id() }
    }

    /// A writer that another process of this machine was, and that is gone.
    fn is_gone(&self, me: &Self) -> bool {
        let pid = i32::try_from(self.process).ok().and_then(rustix::process::Pid::from_raw);
        self.machine == me.machine && pid.is_none_or(|pid| rustix::process::test_kill_process(pid).is_err())
    }
}

/// The name that a machine has between two starts; its host name, where the system gives none.
fn this_machine() -> String {
    faults::machine().unwrap_or_else(|| {
        let boot = std::fs::read_to_string("/proc/sys/kernel/random/boot_id").unwrap_or_default();
        let host = rustix::system::uname().nodename().to_string_lossy().into_owned();
        format!("{host}/{}", boot.trim())
    })
}

fn written(writer: &Writer, count: u64) -> String {
    format!("{} {} {count}\n", writer.machine, writer.process)
}

fn read(text: &str) -> Option<Writer> {
    let mut words = text.split_whitespace();
    let (machine, process, _count) = (words.next()?, words.next()?, words.next()?);
    Some(Writer { machine: machine.to_owned(), process: process.parse().ok()? })
}

/// Whose turn it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Turn {
    /// Ours: nobody else writes.
    Ours,
    /// Not known before this time.
    Wait(u64),
    /// That of the one named.
    Theirs(String),
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum Stage {
    Began,
    /// Somebody's text, and since when it stands so.
    Watched(String, u64),
    /// Our own name, and since when.
    Written(u64),
    Held,
}

/// One who would write.
#[derive(Debug)]
pub struct Claim {
    me: Writer,
    settle_ms: u64,
    stage: Stage,
    count: u64,
    place: Option<PathBuf>,
}

impl Claim {
    /// A claim that nobody has heard of yet.
    pub(super) fn new() -> Self {
        Self { me: Writer::me(), settle_ms: SETTLE_MS, stage: Stage::Began, count: 0, place: None }
    }

    /// Looks whose turn it is, and says that we are here if it may be ours.
    pub fn look(&mut self, herd: &HerdFolder, at: u64) -> Result<Turn, Trouble> {
        let folder = herd.own(&[])?;
        self.place = Some(folder.join(FILE));
        let text = text_of(&folder)?;
        let (turn, writes) = self.step(&text, at);
        if let Some(text) = writes {
            replace::overwrite(&folder, FILE, text.as_bytes())?;
        }
        Ok(turn)
    }

    /// The same without a disk: whose turn it is, given what stands in the file, and what to write in it.
    fn step(&mut self, text: &str, at: u64) -> (Turn, Option<String>) {
        match read(text) {
            Some(writer) if writer == self.me => self.go_on(at),
            None => self.write(at),
            Some(writer) => match &self.stage {
                Stage::Watched(seen, since) if seen == text && at >= since + 2 * self.settle_ms => self.write(at),
                Stage::Watched(seen, since) if seen == text => (Turn::Wait(since + 2 * self.settle_ms), None),
                // The counter went on, or somebody took our place.
                Stage::Watched(..) | Stage::Written(_) | Stage::Held => {
                    self.stage = Stage::Watched(text.to_owned(), at);
                    (Turn::Theirs(format!("process {} on {}", writer.process, host(&writer.machine))), None)
                }
                Stage::Began => {
                    self.stage = Stage::Watched(text.to_owned(), at);
                    (Turn::Wait(at + 2 * self.settle_ms), None)
                }
            },
        }
    }

    fn go_on(&mut self, at: u64) -> (Turn, Option<String>) {
        match self.stage {
            Stage::Written(since) if at < since + self.settle_ms => (Turn::Wait(since + self.settle_ms), None),
            Stage::Written(_) | Stage::Held => {
                self.stage = Stage::Held;
                self.count += 1;
                (Turn::Ours, Some(written(&self.me, self.count)))
            }
            // Of an earlier process of the same number.
            Stage::Began | Stage::Watched(..) => self.write(at),
        }
    }

    fn write(&mut self, at: u64) -> (Turn, Option<String>) {
        self.stage = Stage::Written(at);
        self.count += 1;
        (Turn::Wait(at + self.settle_ms), Some(written(&self.me, self.count)))
    }
}

impl Drop for Claim {
    /// The next one need not wait.
    fn drop(&mut self) {
        if let Some(place) = self.place.as_ref().filter(|_| matches!(self.stage, Stage::Written(_) | Stage::Held))
            && std::fs::read_to_string(place).is_ok_and(|text| read(&text).as_ref() == Some(&self.me))
        {
            let _ = std::fs::remove_file(place);
        }
    }
}

/// The right of a command to write on a far disk; none needed where a daemon of this machine holds it.
pub(super) fn wait(herd: &HerdFolder) -> Result<Option<Claim>, Trouble> {
    let me = Writer::me();
    let writer = read(&text_of(&herd.own(&[])?)?);
    if writer.is_some_and(|writer| writer.machine == me.machine && !writer.is_gone(&me)) {
        return Ok(None);
    }
    let (mut claim, began) = (Claim::new(), Instant::now());
    loop {
        let at = u64::try_from(began.elapsed().as_millis()).unwrap_or(u64::MAX);
        match claim.look(herd, at)? {
            Turn::Ours => return Ok(Some(claim)),
            Turn::Theirs(who) => return Err(theirs(herd, &who)),
            Turn::Wait(_) => sleep(BETWEEN),
        }
    }
}

/// What is told where another machine writes.
pub fn theirs(herd: &HerdFolder, who: &str) -> Trouble {
    Trouble::new(
        format!("another footfold writes in this folder, on a network disk: {who}; nothing is written here"),
        "let one machine write, and give the others a folder on their own disk, with `footfold gather`",
    )
    .at(herd.path())
}

fn host(machine: &str) -> &str {
    machine.split('/').next().unwrap_or(machine)
}

fn text_of(folder: &Folder) -> Result<String, Trouble> {
    Ok(String::from_utf8_lossy(&folder.read(FILE)?.unwrap_or_default()).into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn claim(machine: &str) -> Claim {
        let mut claim = Claim::new();
        claim.me = Writer { machine: machine.into(), process: 7 };
        claim
    }

    /// Looks, with one file between all.
    fn look(claim: &mut Claim, file: &mut String, at: u64) -> Turn {
        let (turn, writes) = claim.step(file, at);
        if let Some(text) = writes {
            *file = text;
        }
        turn
    }

    #[test]
    fn f35_a_disk_that_is_mounted_from_another_machine_is_known() {
        let mounts = "36 25 0:45 / /mnt/herds rw - fuse.program kj@barn:/herds rw\n\
                      37 25 0:46 / /mnt/share rw shared:9 - cifs //house/share rw\n\
                      38 25 0:47 / /media/stick rw - fuseblk /dev/sdb1 rw\n\
                      25 1 254:0 / / rw,relatime - ext4 /dev/root rw\n";
        let far = ["0:45", "0:46", "0:47", "254:0", "0:4"].map(|device| comes_from_afar(mounts, device));
        assert_eq!(far, [true, true, false, false, false]);
    }

    #[test]
    fn f35_of_two_that_begin_at_once_one_writes() {
        for turns in 0..32_u32 {
            let (mut a, mut b, mut file) = (claim("a"), claim("b"), String::new());
            let mut ours = [0; 2];
            for n in 0..40 {
                let at = n * 1000;
                let first = turns >> (n % 5) & 1 == 0;
                let order = if first { [(0, &mut a), (1, &mut b)] } else { [(1, &mut b), (0, &mut a)] };
                let mut now = Vec::new();
                for (who, claim) in order {
                    if look(claim, &mut file, at) == Turn::Ours {
                        ours[who] += 1;
                        now.push(who);
                    }
                }
                assert!(now.len() < 2, "both write at {at} ({turns})");
            }
            assert!(ours[0] == 0 || ours[1] == 0, "{ours:?} ({turns})");
            assert!(ours[0] + ours[1] > 20, "{ours:?} ({turns})");
        }
    }

    #[test]
    fn f35_one_that_went_is_followed_and_one_that_slept_gives_way() {
        let (mut a, mut b, mut file) = (claim("a"), claim("b"), String::new());
        look(&mut a, &mut file, 0);
        assert_eq!(look(&mut a, &mut file, SETTLE_MS), Turn::Ours);
        // While the first goes on, the second is refused.
        look(&mut b, &mut file, SETTLE_MS + 1);
        look(&mut a, &mut file, SETTLE_MS + 2000);
        assert_eq!(look(&mut b, &mut file, SETTLE_MS + 2001), Turn::Theirs("process 7 on a".into()));
        // It sleeps: the other takes over once the counter stood still, and was read back.
        let late = 3 * SETTLE_MS + 2001;
        assert_eq!(look(&mut b, &mut file, late), Turn::Wait(late + SETTLE_MS));
        assert_eq!(look(&mut b, &mut file, late + SETTLE_MS), Turn::Ours);
        assert_eq!(look(&mut a, &mut file, late + SETTLE_MS + 1), Turn::Theirs("process 7 on b".into()));
    }
}

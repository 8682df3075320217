//! Lines that go to another machine over TLS on the loopback, beside the same bytes over a plain socket.

use std::fs::{self, File};
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::{sleep, spawn};
use std::time::{Duration, Instant};

use daemon::keys::DeviceKey;
use daemon::net::peers::{self, Peer};
use daemon::seal::{NewHerd, join_herd};
use ledger_format::mark::FullMark;

const LINES: u64 = 100_000;
const ONE_BY_ONE: usize = 200;

/// A machine with its configuration, its herd and a port.
struct Site {
    place: PathBuf,
    device: &'static str,
    address: SocketAddr,
    key: DeviceKey,
}

impl Site {
    fn new(room: &Path, device: &'static str) -> Self {
        let (place, address) = (room.join(device), free_port());
        fs::create_dir_all(place.join("config")).unwrap();
        let settings = format!(
            "(device: {device:?}, by: \"kj\", herds: [{:?}], settle_seconds: 1, listen: \"{address}\")",
            place.join("herd").display().to_string()
        );
        fs::write(place.join("config/footfold.ron"), settings).unwrap();
        let key = DeviceKey::open_or_make(&place.join("config")).unwrap();
        Self { place, device, address, key }
    }

    fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_footfold"));
        command.args(words).current_dir(self.place.join("herd")).env("FOOTFOLD_CONFIG", self.place.join("config"));
        command.env("FOOTFOLD_SOCKET", self.place.join("socket")).env("FOOTFOLD_NEARBY", "off");
        command
    }

    fn run(&self, words: &[&str]) {
        let out = self.command(words).output().unwrap();
        assert!(out.status.success(), "{words:?}: {out:?}");
    }

    fn starts(&self) -> Running {
        let log = self.place.join("log");
        let mut command = self.command(&["watch"]);
        let child = command.stdout(Stdio::null()).stderr(File::create(&log).unwrap()).spawn().unwrap();
        while !fs::read_to_string(&log).unwrap().contains("others may call") {
            sleep(Duration::from_millis(2));
        }
        Running(child)
    }

    /// The accepted file of a device, as far as it is here.
    fn held(&self, device: &str) -> u64 {
        let file = self.place.join("herd/.footfold/accepted").join(device).join("2026.txt");
        fs::metadata(file).map_or(0, |facts| facts.len())
    }
}

struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        self.0.kill().unwrap();
        self.0.wait().unwrap();
    }
}

fn free_port() -> SocketAddr {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap()
}

pub(crate) fn to_another_machine() {
    let room = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let (crush, office) = (Site::new(room.path(), "crush-laptop"), Site::new(room.path(), "farm-office"));
    let ledgers = crush.place.join("herd/ledgers/crush-laptop");
    fs::create_dir_all(&ledgers).unwrap();
    fs::write(ledgers.join("2026.txt"), super::ledger_of("crush-laptop", crush.key.public(), 0, LINES)).unwrap();
    crush.run(&["write", &format!("2026-06-01 herd admit farm-office key {} as writer", office.key.public())]);
    let now = chrono::Utc::now().naive_utc();
    let (herd, zone, device, key) = ("quillmere", "Europe/London", office.device, &office.key);
    let new = NewHerd { herd, zone, device, key, by: "kj", now, today: now.date(), protocol: None };
    join_herd(&office.place.join("herd"), &new, crush.key.public()).unwrap();
    let key = FullMark::read(crush.key.public()).unwrap();
    let peer = Peer { address: crush.address.to_string(), key, device: crush.device.to_owned(), herd: key };
    peers::add(&office.place.join("config"), peer).unwrap();

    let _one = crush.starts();
    let whole = crush.held("crush-laptop");
    let began = Instant::now();
    let _other = office.starts();
    until(|| office.held("crush-laptop") >= whole);
    let took = began.elapsed();
    let plain = plainly(&crush, room.path());
    let ratio = took.as_secs_f64() / plain.as_secs_f64();
    println!("{LINES} lines, {} MB, to a fresh machine on the loopback", whole / 1_000_000);
    println!("  a daemon starts there, asks, and has them on its disk: {took:.1?}");
    println!("  a plain socket, synced, and one check: {plain:.1?}; ours x {ratio:.2} (goal 2)");
    until(|| crush.held("farm-office") > 0);
    one_by_one(&crush, &office);
}

fn until(is_so: impl Fn() -> bool) {
    let since = Instant::now();
    while !is_so() {
        assert!(since.elapsed() < Duration::from_secs(120), "waited in vain");
        sleep(Duration::from_micros(500));
    }
}

/// The same file over a plain local socket to a synced file, then one check of it.
fn plainly(site: &Site, room: &Path) -> Duration {
    let file = site.place.join("herd/ledgers/crush-laptop/2026.txt");
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let (there, bytes) = (listener.local_addr().unwrap(), fs::read(&file).unwrap());
    let copy = room.join("copy.txt");
    let began = Instant::now();
    let sends = spawn(move || TcpStream::connect(there).unwrap().write_all(&bytes).unwrap());
    let mut came = Vec::new();
    listener.accept().unwrap().0.read_to_end(&mut came).unwrap();
    let mut written = File::create(&copy).unwrap();
    written.write_all(&came).unwrap();
    written.sync_all().unwrap();
    sends.join().unwrap();
    site.run(&["check", &copy.display().to_string()]);
    began.elapsed()
}

/// From the end of the command that sealed a line to its being on the other machine's disk.
fn one_by_one(crush: &Site, office: &Site) {
    let mut times = Vec::new();
    for n in 0..ONE_BY_ONE {
        crush.run(&["write", &format!("{} note: line {n}", 1000 + n)]);
        let sealed = Instant::now();
        let whole = crush.held("crush-laptop");
        until(|| office.held("crush-laptop") >= whole);
        times.push(sealed.elapsed());
    }
    times.sort();
    let at = |percent: usize| times[(times.len() * percent / 100).min(times.len() - 1)];
    println!(
        "a line sealed is on the other's disk, {ONE_BY_ONE} times: median {:.1?}, p99 {:.1?} (goal 100 ms)\n",
        at(50),
        at(99)
    );
}

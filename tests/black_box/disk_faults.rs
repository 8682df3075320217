//! What a disk, a system or another program does to us: told with path and remedy, nothing lost.

use std::fs::{self, File, Permissions};
use std::os::unix::fs::{PermissionsExt, symlink};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::Command;

use crate::machine::{Machine, copy_folder, only_file, path, said};

#[test]
fn f34_second_writer_is_told_who_has_the_lock() {
    let machine = Machine::new("crush-laptop");
    let lock = machine.herd().join(".footfold/lock");
    let held = File::options().append(true).open(&lock).unwrap();
    held.try_lock().unwrap();
    fs::write(&lock, "process 4711 on farm-office, since 2026-03-14T09:20:11Z\n").unwrap();
    machine.types("417 score 3\n");
    for command in [["seal", "--by"], ["write", "418 3"]] {
        let mut args = command.to_vec();
        if command[1] == "--by" {
            args.push("kj");
        }
        machine.run(&args).ends(1).says("process 4711 on farm-office, since 2026-03-14T09:20:11Z");
    }
    machine.run(&["check"]).fine();
    drop(held);
    machine.run(&["seal"]).fine().says("Kept: 1 line");
}

#[test]
fn f37_read_only_folder_or_file_is_told_with_path_and_remedy() {
    let machine = Machine::new("crush-laptop");
    machine.types("417 score 3\n");
    let before = machine.text();
    fs::set_permissions(machine.ledger(), Permissions::from_mode(0o444)).unwrap();
    machine.run(&["seal"]).ends(1).says("read-only").says("chmod u+w");
    assert_eq!(machine.text(), before);
    fs::set_permissions(machine.ledger(), Permissions::from_mode(0o644)).unwrap();
    as_nobody_in_a_read_only_folder(&machine);
    assert_eq!(machine.text(), before);
    machine.run(&["seal"]).fine().says("Kept: 1 line");
}

/// A user with no rights of its own.
pub(crate) const NOBODY: u32 = 65_534;

/// The superuser writes anywhere, so the command is run as nobody.
fn as_nobody_in_a_read_only_folder(machine: &Machine) {
    let is_root = rustix::process::geteuid().is_root();
    let folder = machine.herd().join("ledgers/crush-laptop");
    open_to_all(machine.place());
    fs::set_permissions(&folder, Permissions::from_mode(0o555)).unwrap();
    let mut command = machine.command(&["seal"]);
    command.current_dir(machine.herd());
    if is_root {
        let key = machine.config().join("device.key");
        std::os::unix::fs::chown(&key, Some(NOBODY), None).unwrap();
        command.uid(NOBODY);
    }
    said(&mut command).ends(1).says("no permission").says("ledgers/crush-laptop");
    fs::set_permissions(&folder, Permissions::from_mode(0o755)).unwrap();
}

pub(crate) fn open_to_all(folder: &Path) {
    fs::set_permissions(folder, Permissions::from_mode(0o777)).unwrap();
    for entry in fs::read_dir(folder).unwrap() {
        let entry = entry.unwrap();
        if entry.file_type().unwrap().is_dir() {
            open_to_all(&entry.path());
        } else if entry.file_name() != "device.key" {
            fs::set_permissions(entry.path(), Permissions::from_mode(0o666)).unwrap();
        }
    }
}

#[test]
fn f38_symlink_pipe_folder_or_huge_file_is_neither_followed_nor_opened() {
    let machine = Machine::new("crush-laptop");
    let secret = machine.place().join("secret.txt");
    fs::write(&secret, "a secret of the house\n").unwrap();
    let vet = machine.herd().join("ledgers/vet-tablet");
    fs::create_dir(&vet).unwrap();
    symlink(&secret, vet.join("2024.txt")).unwrap();
    assert!(Command::new("mkfifo").arg(vet.join("2025.txt")).status().unwrap().success());
    fs::create_dir(vet.join("2026.txt")).unwrap();
    File::create(vet.join("2027.txt")).unwrap().set_len(5_000_000_000).unwrap();
    symlink("/etc", machine.herd().join("ledgers/farm-office")).unwrap();
    let check = machine.run(&["check"]).ends(1).says("found a link").says("found a pipe").says("found a folder");
    assert!(check.out.contains("expected at most 4000000000") && !check.out.contains("secret of"), "{}", check.out);
    let (crush, copy) = (Machine::new("crush-laptop"), machine.herd());
    crush.run(&["gather", path(&copy)]).ends(1);
    fs::remove_file(vet.join("2027.txt")).unwrap();
    machine.run(&["write", "417 score 3"]).fine();
}

#[test]
fn f38_a_link_in_the_place_of_ones_own_ledger_is_never_written_through() {
    for what in ["file", "device", "ledgers", ".footfold"] {
        let machine = Machine::new("crush-laptop");
        let outside = machine.place().join("outside");
        let place = match what {
            "file" => machine.ledger(),
            "device" => machine.herd().join("ledgers/crush-laptop"),
            other => machine.herd().join(other),
        };
        fs::rename(&place, &outside).unwrap();
        symlink(&outside, &place).unwrap();
        let before = fingerprint(&outside);
        machine.run(&["write", "417 score 3"]).ends(1).says("link");
        assert_eq!(fingerprint(&outside), before, "{what}");
    }
}

fn fingerprint(path: &Path) -> Vec<u8> {
    if path.is_file() {
        return fs::read(path).unwrap();
    }
    let mut entries: Vec<_> = fs::read_dir(path).unwrap().map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    entries.iter().flat_map(|entry| fingerprint(entry)).collect()
}

#[test]
fn f29_full_disk_keeps_what_stands_and_says_so() {
    let machine = Machine::new("crush-laptop");
    let small = machine.place().join("small");
    fs::create_dir(&small).unwrap();
    let Some(_mounted) = Tmpfs::mount(&small) else {
        eprintln!("SKIPPED f29_full_disk: a tmpfs cannot be mounted here (run as root)");
        return;
    };
    let herd = small.join("quillmere");
    copy_folder(&machine.herd(), &herd);
    let ledger = only_file(&herd.join("ledgers/crush-laptop"));
    let shadow = only_file(&herd.join(".footfold/accepted/crush-laptop"));
    let typed = format!("{}417 score 3\n", fs::read_to_string(&ledger).unwrap());
    fs::write(&ledger, &typed).unwrap();
    let kept = fs::read(&shadow).unwrap();
    // At each amount of room left, another step is the one that fails.
    for room in [0, 1, 2, 3, 4, 5, 6, 7] {
        let filler = fill_but(&small, room * 4096);
        let run = machine.run_in(&herd, &["seal"]);
        fs::remove_file(filler).unwrap();
        if run.code == 0 {
            break;
        }
        run.ends(1).says("the disk is full").says("free some room");
        assert_eq!(fs::read_to_string(&ledger).unwrap(), typed, "room for {room} pages");
        assert_eq!(fs::read(&shadow).unwrap(), kept, "room for {room} pages");
    }
    machine.run_in(&herd, &["seal"]).fine();
    let text = fs::read_to_string(&ledger).unwrap();
    assert_eq!(text.matches("417 score 3").count(), 1, "{text}");
    machine.run_in(&herd, &["check", "--every-mark"]).fine();
}

/// Fills a disk but for so many bytes.
fn fill_but(disk: &Path, left: usize) -> std::path::PathBuf {
    use std::io::Write;
    let filler = disk.join("filler");
    let mut file = File::create(&filler).unwrap();
    let mut written = 0u64;
    while file.write_all(&[0; 4096]).is_ok() {
        written += 4096;
    }
    file.set_len(written.saturating_sub(left as u64)).unwrap();
    filler
}

struct Tmpfs(std::path::PathBuf);

impl Tmpfs {
    fn mount(place: &Path) -> Option<Self> {
        let mount = ["-t", "tmpfs", "-o", "size=128k,mode=777", "footfold-test", path(place)];
        let done = Command::new("mount").args(mount).output().ok()?;
        done.status.success().then(|| Self(place.to_owned()))
    }
}

impl Drop for Tmpfs {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).status();
    }
}

#[test]
fn f32_whatever_copy_is_lost_is_made_from_the_other() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "417 score 3"]).fine();
    let good = machine.text();
    fs::remove_file(machine.shadow()).unwrap();
    machine.run(&["seal"]).fine().says("made anew");
    assert_eq!(fs::read_to_string(machine.shadow()).unwrap(), good);
    let ledger = machine.ledger();
    fs::remove_file(&ledger).unwrap();
    machine.run(&["check"]).ends(1).says("4 lines missing");
    machine.run(&["seal"]).fine().says("put back");
    assert_eq!(machine.text(), good);
    fs::remove_file(&ledger).unwrap();
    machine.run(&["check", "--mend"]).fine();
    assert_eq!(machine.text(), good);
    fs::remove_dir_all(machine.herd().join(".footfold")).unwrap();
    machine.run(&["write", "418 3"]).fine();
    assert!(machine.text().starts_with(&good));
}

#[test]
fn f28_a_torn_accepted_copy_is_cut_to_its_last_right_line_and_the_rest_kept_aside() {
    for torn in [&b"2026-03-14 417 sco"[..], &[0; 300], b"\n\n"] {
        let machine = Machine::new("crush-laptop");
        let good = machine.text();
        let mut bytes = fs::read(machine.shadow()).unwrap();
        bytes.extend_from_slice(torn);
        fs::write(machine.shadow(), bytes).unwrap();
        machine.types("417 score 3\n");
        machine.run(&["seal"]).fine().says("torn line").says("Kept: 1 line");
        assert!(machine.text().starts_with(&good));
        assert!(machine.aside().windows(torn.len()).any(|bytes| bytes == torn));
        assert_eq!(fs::read_to_string(machine.shadow()).unwrap(), machine.text());
    }
}

#[test]
fn f31_a_rotted_byte_in_the_accepted_copy_is_mended_from_the_visible_file() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "417 score 3", "418 2"]).fine();
    let good = machine.text();
    let mut bytes = good.clone().into_bytes();
    let at = bytes.len() / 2;
    bytes[at] ^= 4;
    fs::write(machine.shadow(), bytes).unwrap();
    machine.run(&["write", "419 1"]).fine().says("damaged: mended");
    assert!(machine.text().starts_with(&good));
    assert_eq!(fs::read_to_string(machine.shadow()).unwrap(), machine.text());
}

#[test]
fn the_torn_last_line_of_a_visible_file_comes_back_whole() {
    let machine = Machine::new("crush-laptop");
    machine.run(&["write", "417 score 3"]).fine();
    let good = machine.text();
    fs::write(machine.ledger(), &good[..good.len() - 30]).unwrap();
    machine.run(&["seal"]).fine().says("put back");
    assert_eq!(machine.text(), good);
    fs::write(machine.ledger(), &good[..good.len() - 30]).unwrap();
    machine.run(&["check", "--mend"]).fine();
    assert_eq!(machine.text(), good);
}

#[test]
fn the_file_keeps_its_permissions() {
    let machine = Machine::new("crush-laptop");
    fs::set_permissions(machine.ledger(), Permissions::from_mode(0o664)).unwrap();
    machine.run(&["write", "417 score 3"]).fine();
    assert_eq!(fs::metadata(machine.ledger()).unwrap().permissions().mode() & 0o777, 0o664);
    fs::set_permissions(machine.config().join("device.key"), Permissions::from_mode(0o644)).unwrap();
    machine.run(&["write", "418 3"]).ends(1).says("chmod 600");
}

//! `tests/run` on a machine that lacks what it needs: stubs stand for the machine's commands.

use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::Path;
use std::process::Command;

use crate::root;

fn stub(bin: &Path, name: &str, script: &str) {
    let path = bin.join(name);
    fs::write(&path, format!("#!/bin/sh\n{script}\n")).unwrap();
    fs::set_permissions(path, fs::Permissions::from_mode(0o755)).unwrap();
}

/// Runs it where only these commands are there; says how it ended, what was called and what it said.
fn run(user: u32, commands: &[&str]) -> (bool, String, String) {
    let place = tempfile::tempdir().unwrap();
    let (bin, calls) = (place.path().join("bin"), place.path().join("calls"));
    fs::create_dir(&bin).unwrap();
    symlink("/usr/bin/dirname", bin.join("dirname")).unwrap();
    stub(&bin, "id", &format!("echo {user}"));
    stub(&bin, "bash", &format!("echo bash \"$@\" >> {}", calls.display()));
    for name in commands {
        let then = if *name == "sudo" { "exec \"$@\"" } else { "" };
        stub(&bin, name, &format!("echo {name} \"$@\" >> {}\n{then}", calls.display()));
    }
    if commands.contains(&"apt-get") {
        // What is installed is there afterwards.
        let made =
            format!("printf '#!/bin/sh\\n' > {0}/python3; PATH=/usr/bin:/bin chmod +x {0}/python3", bin.display());
        stub(&bin, "apt-get", &format!("echo apt-get \"$@\" >> {}\n{made}", calls.display()));
    }
    let out = Command::new("/bin/bash").arg(root().join("tests/run")).env("PATH", &bin).output().unwrap();
    let called = fs::read_to_string(calls).unwrap_or_default();
    (out.status.success(), called, String::from_utf8(out.stderr).unwrap())
}

#[test]
fn what_a_fresh_machine_lacks_is_installed_before_anything_is_built() {
    let install = "apt-get install -y -q --no-install-recommends gcc libc6-dev python3 python3-venv b3sum vim-tiny nano ed emacs-nox";
    let (fine, called, said) = run(0, &["apt-get", "cargo"]);
    assert!(fine, "{said}");
    let calls: Vec<&str> = called.lines().collect();
    assert_eq!(calls[..3], ["apt-get update -q", install, "cargo fmt --all --check"], "{called}");
    assert!(calls.contains(&"bash tests/measures/run"), "{called}");
    assert_eq!(calls.last(), Some(&"cargo test --workspace"), "{called}");
    let (fine, called, said) = run(1000, &["apt-get", "cargo", "sudo"]);
    assert!(fine && called.contains(&format!("sudo {install}")), "{called}{said}");
}

#[test]
fn what_cannot_be_installed_is_told() {
    for (user, commands, lacks) in [(0, &["cargo"][..], "no apt-get"), (1000, &["cargo", "apt-get"], "no sudo")] {
        let (fine, called, said) = run(user, commands);
        assert!(!fine && called.is_empty(), "{called}");
        assert!(
            said.contains("lacks gcc libc6-dev python3 python3-venv b3sum vim-tiny nano ed emacs-nox")
                && said.contains(lacks),
            "{said}"
        );
    }
}

#[test]
fn a_machine_that_has_all_is_left_alone() {
    let (fine, called, said) = run(1000, &["cc", "python3", "b3sum", "vim.tiny", "nano", "ed", "emacs", "cargo"]);
    assert!(fine && !called.contains("apt-get"), "{called}{said}");
}

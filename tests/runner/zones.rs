//! Devices in different time zones, and one herd.

use std::process::Command;

use crate::TempHerd;

fn footfold(herd: &TempHerd, zone: &str, arguments: &[&str]) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_footfold"))
        .args(arguments)
        .current_dir(herd.path())
        .env("FOOTFOLD_CONFIG", herd.config())
        .env("TZ", zone)
        .output()
        .unwrap();
    assert!(out.status.success(), "{}{}", String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

/// The herd's zone says which day it is; the device's own never does. These two are 25 hours apart.
#[test]
fn f48_the_day_is_the_herds_whatever_the_devices_zone() {
    let herd = TempHerd::empty();
    footfold(
        &herd,
        "UTC",
        &["new", ".", "--name", "quillmere", "--device", "crush-laptop", "--by", "kj", "--zone", "Europe/London"],
    );
    let east = footfold(&herd, "Pacific/Kiritimati", &["write", "417 score 2"]);
    let west = footfold(&herd, "Pacific/Pago_Pago", &["write", "418 score 2"]);
    assert_eq!(east.split(' ').next(), west.split(' ').next());
}

//! Faults on purpose, so that tests can show what each failing call, kill or power cut leaves. Only with the
//! feature `faults`; without it everything here is nothing.
//!
//! `FOOTFOLD_FAULT` holds faults with commas between them, each `FATE@PLACE`:
//!
//! - a place is a step (`kill@shadow-synced`), the n-th call (`EIO@call:17`) or the n-th of its kind
//!   (`EACCES@sync:2`); with `+` at its end, that call and all after it;
//! - a fate is `kill`, `short` (half of the bytes), `EINTR`, `EIO`, `EACCES` (where a right is asked for), `ENOSPC`
//!   (where room is needed), `EBUSY` (where a file is named), or a power cut that takes what was not synced: `cut` all of it, `cut-names`, `cut-data`,
//!   or `cut-zeros`, where the data are there as zeros;
//! - `then`, at a step, runs the shell command in `FOOTFOLD_THEN`: somebody saves at this very moment.
//!
//! `FOOTFOLD_CALLS` names a file that gets a line for each call and step. `FOOTFOLD_MUTANT` names a mistake to make.
//! `FOOTFOLD_DISK` makes every disk a `network` disk, or one with `no-locks`, where locks let everybody in, and
//! `FOOTFOLD_HOST` says who writes here, as on a network disk.

#[cfg(feature = "faults")]
mod on;
#[cfg(feature = "faults")]
mod power;
#[cfg(feature = "faults")]
mod spec;

#[cfg(feature = "faults")]
pub(crate) use on::{call, disk, machine, mutant, point, room};
#[cfg(feature = "faults")]
pub(super) use power::{exchanged, folder_synced, made, moved, moving, removing, synced, writing};

#[cfg(not(feature = "faults"))]
mod off;
#[cfg(not(feature = "faults"))]
pub(crate) use off::*;

#[cfg(all(feature = "faults", not(debug_assertions)))]
compile_error!("the feature `faults` breaks things on purpose: it is for tests, never for a release");

/// A kind of call.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Op {
    Look,
    List,
    Open,
    Create,
    MakeFolder,
    Mode,
    Read,
    Write,
    Cut,
    Sync,
    SyncFolder,
    Exchange,
    Rename,
    Remove,
}

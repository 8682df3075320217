//! Nothing is lost: the real binary, built with the feature `faults`, on a real disk, broken at every step.

mod calls_fail;
mod kills;
mod mutants;
mod others;
mod power;
mod races;
mod rig;

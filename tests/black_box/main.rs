//! The `footfold` command as people use it: run as a program, in folders of its own.

mod asking;
mod checking;
mod disk_faults;
mod editors;
mod exchange;
mod forks;
mod gathering;
mod hands;
mod kills;
mod live_answers;
mod machine;
mod members;
mod stating;
mod watching;
mod witness;
mod writing;

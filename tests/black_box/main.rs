//! The `footfold` command as people use it: run as a program, in folders of its own.

mod amending;
mod asking;
mod attacks;
mod checking;
mod copies;
mod disk_faults;
mod editors;
mod gathering;
mod hands;
mod kills;
mod live_answers;
mod machine;
mod watching;
mod writing;

//! Footfold's shells around herd folders: what touches the disk, the keys and the settings.
//!
//! The clock, the person and the device come in as values; nothing here prints.

pub mod audit;
pub mod disk;
pub mod doubt;
pub mod exchange;
pub mod forks;
pub mod gather;
pub mod keys;
pub mod mend;
pub mod nearby;
pub mod net;
pub mod pairing;
pub mod seal;
pub mod settings;
pub mod states;
pub mod trouble;
pub mod watch;

pub use trouble::Trouble;

//! The only room that touches files.

pub mod accepted;
pub(crate) mod append;
pub mod before;
mod calls;
pub mod far;
pub(crate) mod faults;
mod folder;
pub mod lock;
pub mod pass;
pub mod paths;
pub mod read;
pub mod replace;
mod room;

pub use folder::Folder;
pub use lock::Lock;
pub use paths::{HerdFolder, LedgerName, Listing};
pub use room::Room;

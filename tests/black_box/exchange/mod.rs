//! Machines that exchange a herd over a real network, and machines that try what they should not.

mod attacks;
mod faults;
mod meetings;
mod pairing;
mod relay;
mod rig;
mod year;

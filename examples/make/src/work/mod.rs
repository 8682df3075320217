//! What people do about it, and what of that they write down.

mod care;
mod crush;
pub(crate) mod farm;
mod findings;
mod first_aid;
mod office;
mod register;
pub(crate) mod remedy;
mod rounds;
mod slips;
mod surgery;
mod why;

//! What happens to the cows, whether or not anybody sees it.

pub(crate) mod case;
pub(crate) mod cow;
pub(crate) mod example;
pub(crate) mod herd;

//! Measures: what herd staff, trimmer and vet decide by, with honest limits (`spec/measures.md`).

pub mod method;

//! How much memory long work takes. A crate of its own, since it counts all that is allocated.

#[path = "../common/mod.rs"]
mod common;
mod counting;
mod live_memory;
mod sizes;

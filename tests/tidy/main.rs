//! The rules of the house that a compiler does not know: rooms stand in order, no two files import each other, those that decide
//! stay pure, what only one system has stands in one place, maps are maps, files and functions keep their size.

mod journey;
mod map;
mod path;
mod pure;
mod ring;
mod rooms;
mod size;
mod source;
mod token;
mod tree;
mod unix;
mod word;

/// Fails with everything that was found.
fn holds(breaches: Vec<String>) {
    assert!(breaches.is_empty(), "\n{}\n", breaches.join("\n"));
}

//! The terminal: lines in, plain prompts out. Nothing here depends on colour or on moving the cursor back over a result.

pub mod input;
pub mod plain;
#[cfg(feature = "page")]
pub mod square;

//! The one journalled dialogue, of a run and of an identification alike: what is asked, shown, said and written down.

mod letters;
mod bar;
mod prompt;
mod weight;
mod show;
mod said;
mod watch;
mod talk;
mod view;
mod machine;
mod people;

pub use bar::{Bar, BarEdge, Needle};
pub use letters::{LETTERS, is_word};
pub use machine::Dialogue;
pub use people::{Clock, Engineer};
pub use prompt::{Ask, Choice, Last, Prompt, Shared};
pub use said::{LINE_BYTES_MAX, Said, To, What, addressed};
pub use show::Show;
pub use talk::{Heard, Output, Talk};
pub use view::{Live, View};
pub use watch::Watch;
pub use weight::{Weight, is_grave};

//! Tables for people.

use tabled::builder::Builder;
use tabled::settings::peaker::Priority;
use tabled::settings::{Style, Width};

use crate::terminal::input::width;
use crate::terminal::plain::clean;

/// The narrowest line that a table is squeezed into, in characters.
const WIDTH_MIN: usize = 60;

/// A table with a head line, as wide as the terminal; cells are cleaned of control characters and wrap at words.
pub(super) fn table(head: &[&str], rows: &[Vec<String>]) -> String {
    let mut builder = Builder::default();
    builder.push_record(head.iter().map(|cell| (*cell).to_owned()));
    for row in rows {
        builder.push_record(row.iter().map(|cell| clean(cell)));
    }
    let mut table = builder.build();
    table.with(Style::psql());
    table.with(
        Width::wrap(width().max(WIDTH_MIN))
            .keep_words(true)
            .priority(Priority::max(true)),
    );
    let text = table.to_string();
    text.lines().map(str::trim_end).collect::<Vec<_>>().join("\n")
}

//! Tables for people.

use tabled::builder::Builder;
use tabled::settings::object::Columns;
use tabled::settings::width::MinWidth;
use tabled::settings::{Modify, Style, Width};

use crate::terminal::plain::clean;

/// The widest a column may be, in characters; longer cells wrap at words.
const COLUMN_WIDTH_MAX: usize = 44;

/// A table with a head line; cells are cleaned of control characters.
pub fn table(head: &[&str], rows: &[Vec<String>]) -> String {
    let mut builder = Builder::default();
    builder.push_record(head.iter().map(|cell| (*cell).to_owned()));
    for row in rows {
        builder.push_record(row.iter().map(|cell| clean(cell)));
    }
    let mut table = builder.build();
    table.with(Style::psql());
    table.with(Modify::new(Columns::new(..)).with(Width::wrap(COLUMN_WIDTH_MAX).keep_words(true)));
    table.with(MinWidth::new(0));
    let text = table.to_string();
    text.lines().map(str::trim_end).collect::<Vec<_>>().join("\n")
}

//! The lid sheet set in type: for the lid of each box, labels to cut out, and a page for the customer.
//!
//! The rule inside: it carries no record, so it proves nothing by itself; it names the record of each cable by its digest.

use super::error::Error;
use super::lid::Sheet;
use super::render::{Typeset, forget};

const TEMPLATE: &str = include_str!("lid.typ");

/// The PDF of a sheet, the same bytes each time.
///
/// # Errors
/// Those of the typesetter.
pub fn of_sheet(sheet: &Sheet) -> Result<Vec<u8>, Error> {
    let records = sheet.cables.iter().filter_map(|cable| cable.record.as_ref());
    let digests: Vec<&str> = records.map(|record| record.sha256.as_str()).collect();
    let typeset = Typeset {
        template: TEMPLATE,
        data: sheet,
        files: Vec::new(),
        ident: format!("coreproof lid {} {}", sheet.made, digests.join(" ")),
        stamped: sheet.made,
    };
    let result = typeset.pdf();
    forget();
    result
}

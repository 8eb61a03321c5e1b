//! One line that is typed in answer to a question.
//!
//! The rule inside: the end of the input and a wish to end are the same: nothing was answered.

use tokio::sync::mpsc::UnboundedReceiver;

use crate::run::dialogue::Said;
use crate::system::signals;

/// The next line without blanks at its ends; none where nobody answers any more. A line that is too long is an empty one.
pub(super) async fn line(lines: &mut UnboundedReceiver<Said>) -> Option<String> {
    let said = tokio::select! {
        biased;
        () = signals::asked_to_end() => None,
        said = lines.recv() => said,
    };
    said.map(|said| said.into_line().unwrap_or_default().trim().to_owned())
}

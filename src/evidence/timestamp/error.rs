//! Why a time stamp proves nothing, and why a file names no authority. Each kind states one fact.

use std::path::PathBuf;

use crate::explain::Explain;
use crate::system::disk::Unread;

/// What is wrong with a time stamp.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadStamp {
    /// It is larger than any is.
    #[error("the time stamp is too large")]
    TooLarge,
    /// It is neither a response nor a token.
    #[error("the time stamp does not read: {0}")]
    Unreadable(&'static str),
    /// The authority answered that it gives none.
    #[error("the response holds no time stamp: the authority refused")]
    Refused,
    /// It is over other bytes.
    #[error("the time stamp is not over this record")]
    OfAnother,
    /// It does not hold together in itself.
    #[error("the time stamp is not signed as it says: {0}")]
    Signature(&'static str),
    /// No authority that was named vouches for its signer.
    #[error("the signer of the time stamp is not vouched for by the authority named: {0}")]
    Authority(String),
}

/// Why a file names no authority.
#[derive(Debug, thiserror::Error)]
pub enum BadAuthority {
    /// It cannot be read.
    #[error("`{}` cannot be read: {why}", path.display())]
    Unread {
        /// The file.
        path: PathBuf,
        /// Why.
        why: Unread,
    },
    /// It holds none.
    #[error("`{}` holds no certificate of an authority", path.display())]
    None {
        /// The file.
        path: PathBuf,
    },
}

impl Explain for BadAuthority {
    fn hint(&self) -> Option<String> {
        Some(match self {
            BadAuthority::Unread { why, .. } => why.hint().into(),
            BadAuthority::None { .. } => "give the authority's certificates in PEM form".into(),
        })
    }
}

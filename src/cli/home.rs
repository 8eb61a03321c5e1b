//! Where data lives: `$COREPROOF_HOME`, else the platform's data folder.

use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;

use super::error::Failure;
use crate::evidence::log::Heads;
use crate::system::private;

/// The data folder.
#[derive(Debug, Clone)]
pub(super) struct Home {
    root: PathBuf,
}

impl Home {
    /// Finds the folder and makes it where it is missing, for its owner only.
    pub(super) fn open() -> Result<Home, Failure> {
        let root = match std::env::var_os("COREPROOF_HOME") {
            Some(path) if !path.is_empty() => PathBuf::from(path),
            _ => etcetera::choose_base_strategy()
                .map_err(|e| {
                    Failure::equipment(format!("no data folder: {e}")).hint("set COREPROOF_HOME to a folder of yours")
                })?
                .data_dir()
                .join("coreproof"),
        };
        let home = Home { root };
        home.make(&home.root)?;
        Ok(home)
    }

    fn make(&self, folder: &Path) -> Result<(), Failure> {
        private::make_folder(folder).map_err(|error| {
            Failure::equipment(format!("the folder `{}` cannot be made: {error}", folder.display()))
                .hint("set COREPROOF_HOME to a folder that you may write to")
        })
    }

    /// Journals of runs that are not yet sealed.
    pub(super) fn runs(&self) -> Result<PathBuf, Failure> {
        let folder = self.root.join("runs");
        self.make(&folder)?;
        Ok(folder)
    }

    /// What the files of the pictures that are taken on the page of a run begin with.
    pub(super) fn photographs(&self, run: uuid::Uuid) -> PathBuf {
        self.root.join("photographs").join(run.to_string())
    }

    /// The engineer's key pair.
    pub(super) fn keys(&self) -> PathBuf {
        self.root.join("keys")
    }

    /// Whom to believe, in the format of OpenSSH's allowed signers.
    pub(super) fn trusted(&self) -> PathBuf {
        self.root.join("trusted")
    }

    /// The engineer and the instruments, told once.
    pub(super) fn instruments(&self) -> PathBuf {
        self.root.join("instruments.ron")
    }

    /// Profiles that were taught, a file each.
    pub(super) fn profiles(&self) -> Result<PathBuf, Failure> {
        let folder = self.root.join("profiles");
        self.make(&folder)?;
        Ok(folder)
    }

    /// On which cable each instrument was found.
    pub(super) fn cables(&self) -> PathBuf {
        self.root.join("cables.ron")
    }

    /// The certificate that the page shows on a network, with its key.
    #[cfg(feature = "page")]
    pub(super) fn page_certificate(&self) -> PathBuf {
        self.root.join("page.pem")
    }

    /// The answers of a job that was left half-way.
    pub(super) fn draft(&self) -> PathBuf {
        self.root.join("draft.json")
    }

    /// The archive of records.
    pub(super) fn archive(&self) -> PathBuf {
        self.root.join("archive.sqlite")
    }

    /// The newest checkpoint of each archive, outside it.
    pub(super) fn heads(&self) -> Heads {
        Heads::of(self.root.join("checkpoints"))
    }

    /// The log of diagnostics.
    pub(super) fn log(&self) -> PathBuf {
        self.root.join("coreproof.log")
    }
}

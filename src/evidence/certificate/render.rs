//! Setting the page in type: PDF/A-3a and PDF/UA-1, with the record, its signature and the key attached.
//!
//! The rule inside: only the files listed here exist for the template, under fixed names; there is no disk, no network and
//! no clock, so the same record gives the same bytes on every machine. What people wrote reaches the template as data.

use std::sync::LazyLock;

use jiff::tz::TimeZone;
use serde::Serialize;
use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration, Smart};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};

use super::carried::{RECORD_BYTES_MAX, TEXT_BYTES_MAX};
use super::error::{Error, PUBLIC_KEY, RECORD, SIGNATURE};
use super::fonts::{FONTS, fit};
use super::page::Page;
use super::photographs::{PHOTOGRAPH_BYTES_MAX, Shown};
use super::square::picture;
use crate::run::event::PROGRAM;

/// The files that the certificate carries inside, byte for byte.
#[derive(Debug, Clone)]
pub struct Attachments<'a> {
    /// `record.jsonl`
    pub record: &'a [u8],
    /// `record.jsonl.sig`
    pub signature: &'a str,
    /// `signer.pub`
    pub public_key: &'a str,
    /// Whatever else stands beside the record, by its name.
    pub beside: Vec<(&'static str, &'a [u8])>,
    /// The photographs that were chosen.
    pub(super) photographs: Vec<Shown<'a>>,
}

impl<'a> Attachments<'a> {
    /// Each file with its name and the most bytes that it may have.
    fn files(&self) -> impl Iterator<Item = (&'static str, &'a [u8], u64)> + use<'a, '_> {
        let three = [
            (RECORD, self.record, RECORD_BYTES_MAX),
            (SIGNATURE, self.signature.as_bytes(), TEXT_BYTES_MAX),
            (PUBLIC_KEY, self.public_key.as_bytes(), TEXT_BYTES_MAX),
        ];
        let beside = self.beside.iter().map(|(name, bytes)| (*name, *bytes, TEXT_BYTES_MAX));
        let photographs = self.photographs.iter();
        let photographs = photographs.map(|shown| (shown.file, shown.bytes, PHOTOGRAPH_BYTES_MAX));
        three.into_iter().chain(beside).chain(photographs)
    }
}

const TEMPLATE: &str = include_str!("template.typ");
/// What every template uses.
const SHARED: &str = include_str!("shared.typ");
static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(Library::default()));

/// Renders the page as a PDF that carries the attachments.
///
/// The same page and attachments give the same bytes; the time stamped into the file is the run's closing time. Takes a few
/// hundredths of a second in a release build, and some 70 MB of memory.
///
/// # Errors
/// [`Error::TooLargeToAttach`] where an attachment could not be read back (64 MiB for the record, 16 MiB for a photograph, 64 KiB for the others);
/// [`Error::Typesetting`] and [`Error::Export`] where the typesetter refuses the page, which is a fault of this program.
pub fn render(page: &Page, attachments: &Attachments<'_>) -> Result<Vec<u8>, Error> {
    for (name, bytes, bytes_max) in attachments.files() {
        let bytes = bytes.len() as u64;
        if bytes_max < bytes {
            return Err(Error::TooLargeToAttach { name, bytes, bytes_max });
        }
    }
    let result = typeset(page, attachments);
    forget();
    result
}

fn typeset(page: &Page, attachments: &Attachments<'_>) -> Result<Vec<u8>, Error> {
    let mut files = vec![("square.svg", picture(&page.checking.square).into_bytes())];
    files.extend(attachments.files().map(|(name, bytes, _)| (name, bytes.to_vec())));
    let small = attachments.photographs.iter().filter_map(|shown| shown.small.as_ref());
    files.extend(small.map(|(name, small)| (*name, small.pixels.clone())));
    let sheet = Typeset {
        template: TEMPLATE,
        data: page,
        files,
        ident: format!("coreproof {} {}", page.run, page.checking.record_sha256),
        stamped: page.stamped,
    };
    sheet.pdf()
}

/// What is set in type: a template, the data that it shows as `page.json`, and the files that it may use.
pub(super) struct Typeset<'a, D> {
    pub(super) template: &'static str,
    pub(super) data: &'a D,
    pub(super) files: Vec<(&'static str, Vec<u8>)>,
    /// By which the file is told from others.
    pub(super) ident: String,
    /// The time that it bears.
    pub(super) stamped: jiff::Timestamp,
}

impl<D: Serialize> Typeset<'_, D> {
    /// The document as PDF/A-3a (ISO 19005-3) that a screen reader can read out (PDF/UA-1, ISO 14289-1).
    pub(super) fn pdf(mut self) -> Result<Vec<u8>, Error> {
        let mut data = serde_json::to_value(self.data).map_err(|e| Error::Typesetting { detail: e.to_string() })?;
        fit(&mut data);
        self.files.push(("page.json", data.to_string().into_bytes()));
        let source = |name, text: &str| Source::new(file_id(name), text.to_owned());
        let desk = Desk {
            sources: [source("main.typ", self.template), source("shared.typ", SHARED)],
            files: self
                .files
                .into_iter()
                .map(|(name, bytes)| (file_id(name), Bytes::new(bytes)))
                .collect(),
        };
        let document = typst::compile::<PagedDocument>(&desk)
            .output
            .map_err(|e| Error::Typesetting { detail: told(&e) })?;
        let standards = PdfStandards::new(&[PdfStandard::A_3a, PdfStandard::Ua_1]).map_err(|e| Error::Export {
            detail: e.message().to_string(),
        })?;
        let options = PdfOptions {
            ident: Smart::Custom(self.ident),
            creator: Smart::Custom(Some(PROGRAM.into())),
            timestamp: stamp(self.stamped),
            standards,
            ..PdfOptions::default()
        };
        typst_pdf::pdf(&document, &options).map_err(|e| Error::Export { detail: told(&e) })
    }
}

/// The typesetter remembers without end; failed renderings count as well.
pub(super) fn forget() {
    typst::comemo::evict(2);
}

/// The messages of the typesetter with their hints, in one line.
fn told(diagnostics: &[SourceDiagnostic]) -> String {
    let one = |d: &SourceDiagnostic| {
        let hints: Vec<_> = d.hints.iter().map(|hint| format!(" ({})", hint.v)).collect();
        format!("{}{}", d.message, hints.concat())
    };
    diagnostics.iter().map(one).collect::<Vec<_>>().join("; ")
}

fn stamp(at: jiff::Timestamp) -> Option<Timestamp> {
    let at = at.to_zoned_datetime(TimeZone::UTC);
    let small = |n: i8| u8::try_from(n).ok();
    Datetime::from_ymd_hms(
        at.year().into(),
        small(at.month())?,
        small(at.day())?,
        small(at.hour())?,
        small(at.minute())?,
        small(at.second())?,
    )
    .map(Timestamp::new_utc)
}

/// Fixed names only: the typesetter keeps every name for the life of the process, at most 65 535.
fn file_id(name: &'static str) -> FileId {
    let path = VirtualPath::new(name).expect("the fixed names are plain file names");
    RootedPath::new(VirtualRoot::Project, path).intern()
}

/// All that exists for the template.
struct Desk {
    /// The template, and what every template uses.
    sources: [Source; 2],
    files: Vec<(FileId, Bytes)>,
}

impl World for Desk {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        FONTS.book()
    }

    fn main(&self) -> FileId {
        self.sources[0].id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        let known = self.sources.iter().find(|source| source.id() == id);
        known.cloned().ok_or(FileError::AccessDenied)
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let known = self.files.iter().find(|(known, _)| *known == id);
        known.map(|(_, bytes)| bytes.clone()).ok_or(FileError::AccessDenied)
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.font(index)
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::CopyFor;
    use crate::evidence::certificate::page::sample;
    use crate::evidence::certificate::{Carried, PROOF, carried};
    use crate::run::fold::Run;

    fn rendered(run: &Run) -> Vec<u8> {
        let record = sample::record();
        let attachments = Attachments {
            record: &record,
            signature: sample::SIGNATURE_TEXT,
            public_key: sample::PUBLIC_KEY_LINE,
            beside: vec![(PROOF, b"proved")],
            photographs: Vec::new(),
        };
        render(&Page::of(run, &sample::seal(), CopyFor::Engineer), &attachments).unwrap()
    }

    #[test]
    fn what_is_attached_comes_back_byte_for_byte_and_twice_gives_the_same_bytes() {
        let run = sample::passed();
        let pdf = rendered(&run);
        assert_eq!(pdf, rendered(&run));
        let expected = Carried {
            record: sample::record(),
            signature: sample::SIGNATURE_TEXT.into(),
            public_key: sample::PUBLIC_KEY_LINE.into(),
            proof: Some("proved".into()),
            further: Vec::new(),
            further_keys: None,
            superseded: None,
            stamps: Vec::new(),
            photographs: Vec::new(),
            made_by: Some(PROGRAM.into()),
        };
        assert_eq!(carried(&pdf).unwrap(), expected);
    }

    #[test]
    fn what_cannot_be_read_back_is_not_attached() {
        let page = Page::of(&sample::opened(sample::JOB, None), &sample::seal(), CopyFor::Engineer);
        let key = "k".repeat(65_537);
        let attachments = Attachments {
            record: b"{}",
            signature: "",
            public_key: &key,
            beside: Vec::new(),
            photographs: Vec::new(),
        };
        let error = render(&page, &attachments).unwrap_err();
        assert_eq!(
            error.to_string(),
            "`signer.pub` has 65537 bytes, a certificate carries at most 65536"
        );
    }

    #[test]
    fn names_that_read_like_markup_or_have_no_glyph_are_set_in_type() {
        // the outside test reads them back; here the page must be made at all, as PDF/A-3a
        rendered(&sample::hostile());
    }

    #[test]
    fn the_most_that_a_job_may_have_is_set_in_type() {
        // the outside test counts what is on the pages
        rendered(&sample::extreme());
    }

    #[cfg(feature = "outside")]
    mod outside {
        //! poppler-utils and qpdf are installed by .ci/run.
        use super::*;
        use std::process::Command;

        fn rehearsed() -> Run {
            sample::walk(sample::opened(sample::JOB, Some(sample::rehearsal(None))), |_| None)
        }

        fn run(program: &str, arguments: &[&str], folder: &std::path::Path) -> String {
            let out = Command::new(program)
                .args(arguments)
                .current_dir(folder)
                .output()
                .unwrap_or_else(|e| panic!("{program} is installed by .ci/run: {e}"));
            assert!(
                out.status.success(),
                "{program}: {}",
                String::from_utf8_lossy(&out.stderr)
            );
            String::from_utf8(out.stdout).unwrap()
        }

        fn in_folder(pdf: &[u8]) -> tempfile::TempDir {
            let folder = tempfile::tempdir().unwrap();
            std::fs::write(folder.path().join("c.pdf"), pdf).unwrap();
            folder
        }

        fn text(pdf: &[u8]) -> String {
            let text = run("pdftotext", &["-layout", "c.pdf", "-"], in_folder(pdf).path());
            text.replace('\u{200b}', "")
        }

        #[test]
        fn stock_tools_accept_the_file_and_give_the_attachments_back() {
            let folder = in_folder(&rendered(&sample::passed()));
            run("qpdf", &["--check", "c.pdf"], folder.path());
            run("pdfdetach", &["-saveall", "c.pdf"], folder.path());
            let saved = |name: &str| std::fs::read(folder.path().join(name)).unwrap();
            assert_eq!(saved(crate::evidence::certificate::RECORD), sample::record());
            assert_eq!(
                saved(crate::evidence::certificate::SIGNATURE),
                sample::SIGNATURE_TEXT.as_bytes()
            );
            assert_eq!(
                saved(crate::evidence::certificate::PUBLIC_KEY),
                sample::PUBLIC_KEY_LINE.as_bytes()
            );
            let told = run("pdfinfo", &["c.pdf"], folder.path());
            assert!(
                told.lines()
                    .any(|line| line.starts_with("Tagged:") && line.ends_with("yes")),
                "{told}"
            );
        }

        #[test]
        fn what_it_came_to_is_on_every_page_and_what_it_is_on_the_first() {
            for (run, word) in [
                (sample::passed(), "Every step of this proof passed"),
                (sample::failed(), "FAILED, AND ABANDONED"),
            ] {
                let text = text(&rendered(&run));
                for page in text.trim_end_matches('\u{c}').split('\u{c}') {
                    assert!(page.contains(word) && !page.contains("REHEARSAL"), "{page}");
                }
                assert!(
                    text.contains("It is not a certificate under the wiring rules"),
                    "{text}"
                );
            }
        }

        #[test]
        fn a_rehearsal_says_so_on_every_page() {
            let text = text(&rendered(&rehearsed()));
            let pages: Vec<_> = text.trim_end_matches('\u{c}').split('\u{c}').collect();
            assert!(3 <= pages.len());
            for page in pages {
                assert!(page.contains("REHEARSAL - nothing was measured"), "{page}");
            }
        }

        #[test]
        fn names_that_read_like_markup_are_printed_as_they_are() {
            let text = text(&rendered(&sample::hostile()));
            for name in sample::HOSTILE {
                assert!(text.contains(name), "{name} is not in {text}");
            }
            assert!(text.contains("[U+4E2D]"), "{text}");
        }
    }
}

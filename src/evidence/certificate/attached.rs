//! Finding the attachments of a PDF.
//!
//! The rule inside: what readers show is the catalogue's list, so the list decides; whatever else in the file goes by the
//! same name makes the name ambiguous, and an ambiguous name is refused.

use hayro_syntax::Pdf;
use hayro_syntax::object::dict::keys;
use hayro_syntax::object::{Array, Dict, MaybeRef, ObjRef, Object, Stream};

use super::error::Error;

/// A file specification with its number; one written in place has none and equals no other.
struct Spec<'a> {
    number: Option<ObjRef>,
    dict: Dict<'a>,
}

/// Every attachment of a PDF, from wherever it can be reached.
pub(super) struct Attached<'a> {
    /// Names of the catalogue's list, which is what readers show.
    listed: Vec<Spec<'a>>,
    /// Whatever else looks like one: associated files, attachment marks on pages, objects that nothing refers to.
    elsewhere: Vec<Spec<'a>>,
}

impl<'a> Attached<'a> {
    /// Every attachment, in the list and elsewhere.
    pub(super) fn of(pdf: &'a Pdf) -> Result<Attached<'a>, Error> {
        let catalogue: Dict<'a> = pdf.xref().get(pdf.xref().root_id()).ok_or(Error::NotPdf)?;
        let mut listed = Vec::new();
        let tree = catalogue
            .get::<Dict<'_>>(keys::NAMES)
            .and_then(|names| names.get::<Dict<'_>>(keys::EMBEDDED_FILES));
        if let Some(tree) = tree {
            walk(pdf, &tree, 0, &mut listed);
        }
        let mut elsewhere = Vec::new();
        for object in pdf.objects() {
            if let Object::Dict(dict) = object {
                let number = dict.obj_id().map(ObjRef::from);
                // a file specification written in place inside an attachment mark
                let inner = dict.get_raw::<Dict<'_>>(keys::FS);
                if let Some(MaybeRef::NotRef(inner)) = inner {
                    elsewhere.push(Spec {
                        number: None,
                        dict: inner,
                    });
                }
                let files = dict.get::<Array<'_>>(keys::AF);
                for item in files.iter().flat_map(Array::raw_iter) {
                    if let MaybeRef::NotRef(Object::Dict(inner)) = item {
                        elsewhere.push(Spec {
                            number: None,
                            dict: inner,
                        });
                    }
                }
                elsewhere.push(Spec { number, dict });
            }
        }
        elsewhere.retain(|spec| spec.dict.contains_key(keys::EF));
        Ok(Attached { listed, elsewhere })
    }

    /// The one stream that a name stands for.
    pub(super) fn stream(&self, name: &'static str) -> Result<Stream<'a>, Error> {
        let mut listed = self.listed.iter().filter(|spec| spec.is_called(name));
        let spec = listed.next().ok_or(Error::AttachmentMissing { name })?;
        let is_other =
            |other: &&Spec<'_>| other.is_called(name) && (other.number.is_none() || other.number != spec.number);
        if listed.next().is_some() || self.elsewhere.iter().any(|other| is_other(&other)) {
            return Err(Error::AttachmentTwice { name });
        }
        let files: Dict<'a> = spec.dict.get(keys::EF).ok_or(Error::AttachmentMissing { name })?;
        let numbers: Vec<_> = [keys::F, keys::UF]
            .iter()
            .filter_map(|key| files.get_ref(key))
            .collect();
        if numbers.windows(2).any(|pair| pair[0] != pair[1]) {
            return Err(Error::AttachmentTwice { name });
        }
        files.get(keys::F).ok_or(Error::AttachmentMissing { name })
    }
}

impl Spec<'_> {
    fn is_called(&self, name: &str) -> bool {
        [keys::F, keys::UF].iter().any(|key| {
            let text = self.dict.get::<hayro_syntax::object::String<'_>>(*key);
            text.is_some_and(|text| is_name(text.as_bytes(), name))
        })
    }
}

/// Whether a PDF text string spells the name: in plain bytes, or in UTF-16 or UTF-8 behind its mark.
fn is_name(bytes: &[u8], name: &str) -> bool {
    let utf16: Vec<u8> = name.encode_utf16().flat_map(u16::to_be_bytes).collect();
    bytes == name.as_bytes()
        || bytes.strip_prefix(b"\xfe\xff") == Some(&utf16[..])
        || bytes.strip_prefix(b"\xef\xbb\xbf") == Some(name.as_bytes())
}

/// Levels of a name tree that are followed; three attachments need one.
const TREE_LEVELS_MAX: usize = 8;

fn walk<'a>(pdf: &'a Pdf, node: &Dict<'a>, level: usize, found: &mut Vec<Spec<'a>>) {
    if let Some(names) = node.get::<Array<'a>>(keys::NAMES) {
        for item in names.raw_iter() {
            match item {
                MaybeRef::Ref(number) => {
                    if let Some(dict) = pdf.xref().get::<Dict<'a>>(number.into()) {
                        found.push(Spec {
                            number: Some(number),
                            dict,
                        });
                    }
                }
                MaybeRef::NotRef(Object::Dict(dict)) => found.push(Spec { number: None, dict }),
                MaybeRef::NotRef(_) => {}
            }
        }
    }
    if level < TREE_LEVELS_MAX
        && let Some(kids) = node.get::<Array<'a>>(keys::KIDS)
    {
        for kid in kids.iter::<Dict<'a>>() {
            walk(pdf, &kid, level + 1, found);
        }
    }
}

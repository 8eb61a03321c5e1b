//! Photographs that are chosen for a certificate: held against the record, and put in its order.
//!
//! The rule inside: one is attached whole or not at all, and only where its SHA-256 is that of a photograph which the record binds in; nothing
//! is unpacked before that.

use super::error::{Error, PHOTOGRAPHS};
use super::page::{Attached, Small};
use super::thumbnail::{Kind, Thumbnail, thumbnail};
use crate::evidence::archive::sha256_hex;
use crate::run::fold::Run;

/// The most photographs of a certificate.
pub const PHOTOGRAPHS_MAX: usize = PHOTOGRAPHS.len();
/// The largest photograph that is attached, in bytes.
pub const PHOTOGRAPH_BYTES_MAX: u64 = 16 << 20;

/// The names of the small pictures for the template.
const SMALL: [&str; PHOTOGRAPHS_MAX] = [
    "small-1", "small-2", "small-3", "small-4", "small-5", "small-6", "small-7", "small-8",
];

/// A photograph as it is attached and shown.
#[derive(Debug, Clone)]
pub(super) struct Shown<'a> {
    pub(super) file: &'static str,
    pub(super) bytes: &'a [u8],
    /// What the page says of it.
    pub(super) about: Attached,
    /// Its small picture, where there is one, by the name that it has for the template.
    pub(super) small: Option<(&'static str, Thumbnail)>,
}

/// Files by their names, each held against the photographs of a record, in the order in which the record binds them in.
///
/// # Errors
/// [`Error::PhotographsTooMany`]; [`Error::NoPhotographs`] where the record binds none in; [`Error::PhotographOther`] and
/// [`Error::PhotographUnknown`] where one is none of the record's; [`Error::PhotographTwice`].
pub fn chosen<B: AsRef<[u8]>>(run: &Run, files: Vec<(String, B)>) -> Result<Vec<B>, Error> {
    if PHOTOGRAPHS_MAX < files.len() {
        return Err(Error::PhotographsTooMany { most: PHOTOGRAPHS_MAX });
    }
    let mut placed: Vec<(usize, B)> = Vec::new();
    for (file, bytes) in files {
        let at = place(run, &file, bytes.as_ref())?;
        if placed.iter().any(|(other, _)| *other == at) {
            return Err(Error::PhotographTwice { file });
        }
        placed.push((at, bytes));
    }
    placed.sort_by_key(|(at, _)| *at);
    Ok(placed.into_iter().map(|(_, bytes)| bytes).collect())
}

/// Whether photographs that came out of a certificate are the record's.
///
/// # Errors
/// As [`chosen`].
pub fn held(run: &Run, photographs: &[Vec<u8>]) -> Result<(), Error> {
    chosen(run, named(photographs)).map(drop)
}

/// Where the record first binds a file in.
fn place(run: &Run, file: &str, bytes: &[u8]) -> Result<usize, Error> {
    let bound = run.photographs();
    if bound.is_empty() {
        return Err(Error::NoPhotographs { file: file.to_owned() });
    }
    let sha256 = sha256_hex(bytes);
    if let Some(at) = bound.iter().position(|bound| bound.photograph.sha256 == sha256) {
        return Ok(at);
    }
    let file = file.to_owned();
    let name = file.rsplit('/').next().unwrap_or(&file);
    match bound.iter().find(|bound| bound.photograph.file == name) {
        Some(same) => Err(Error::PhotographOther {
            step: same.step.to_owned(),
            recorded: same.photograph.sha256.clone(),
            sha256,
            file,
        }),
        None => {
            let mut known: Vec<String> = Vec::new();
            for bound in bound {
                let told = format!("`{}` of step `{}`", bound.photograph.file, bound.step);
                if !known.contains(&told) && known.len() < PHOTOGRAPHS_MAX {
                    known.push(told);
                }
            }
            Err(Error::PhotographUnknown {
                known: known.join(", "),
                sha256,
                file,
            })
        }
    }
}

/// Under what name a photograph is attached, counted from 0.
pub(super) fn name(number: usize, bytes: &[u8]) -> &'static str {
    let [jpeg, png, heic, other] = PHOTOGRAPHS[number];
    match Kind::of(bytes) {
        Kind::Jpeg => jpeg,
        Kind::Png => png,
        Kind::Heic => heic,
        Kind::Other => other,
    }
}

/// Photographs as they came out of a certificate, by the names under which they were attached.
pub(super) fn named(photographs: &[Vec<u8>]) -> Vec<(String, &[u8])> {
    let named = photographs.iter().take(PHOTOGRAPHS_MAX).enumerate();
    named
        .map(|(number, bytes)| (name(number, bytes).to_owned(), bytes.as_slice()))
        .collect()
}

/// Photographs that were chosen, as they are attached and shown.
pub(super) fn shown(photographs: Vec<&[u8]>) -> Vec<Shown<'_>> {
    let all = photographs.into_iter().zip(SMALL).enumerate();
    all.map(|(number, (bytes, file))| {
        let small = thumbnail(bytes);
        Shown {
            file: name(number, bytes),
            bytes,
            about: Attached {
                sha256: sha256_hex(bytes),
                file: name(number, bytes).to_owned(),
                media_type: Kind::of(bytes).media_type().to_owned(),
                small: small.as_ref().ok().map(|small| Small {
                    file: file.to_owned(),
                    width: small.width,
                    height: small.height,
                }),
                without: small.as_ref().err().map(ToString::to_string),
            },
            small: small.ok().map(|small| (file, small)),
        }
    })
    .collect()
}

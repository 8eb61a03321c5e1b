//! `certificate`: the documents of one record, of several, or of a folder of them.
//!
//! The rule inside: of several, one that cannot be made stops none of the others, is told where it stands, and makes the exit code 1.

use std::path::{Path, PathBuf};

use super::certificate::certificate;
use super::error::{FOUND, Failure, PASSED};
use super::out::{complaint, say};
use super::progress::Progress;
use crate::drafting::slug;
use crate::evidence::{CopyFor, beside};
use crate::run::fold::Run;
use crate::terminal::plain::clean;

/// The most record files of one folder.
const FILES_MAX: usize = 10_000;

/// Writes the certificate of one record to a file, or those of several, each under the name of its cable and run, into a folder.
/// A photograph goes with one record, named alone.
pub(super) fn certificates(
    records: &[String],
    output: &Path,
    copy: CopyFor,
    photographs: &[PathBuf],
) -> Result<u8, Failure> {
    let is_folder = |record: &String| Path::new(record).is_dir();
    if let [record] = records
        && !is_folder(record)
        && !output.is_dir()
    {
        certificate(record, |_| output.to_owned(), copy, photographs)?;
        return Ok(PASSED);
    }
    let one = records.len() == 1 && !records.iter().any(is_folder);
    if !one && !photographs.is_empty() {
        return Err(
            Failure::refused("a photograph is chosen for one record, and several were named")
                .hint("name the record alone that binds it in"),
        );
    }
    let mut all = Vec::new();
    for record in records {
        match is_folder(record) {
            true => all.extend(record_files(Path::new(record))?),
            false => all.push(record.clone()),
        }
    }
    std::fs::create_dir_all(output).map_err(|error| {
        Failure::refused(format!("the folder `{}` cannot be made: {error}", output.display()))
            .hint("of several records certificates go into a folder: name another with `-o`")
    })?;
    let mut progress = Progress::of("certificates", all.len() as u64);
    let mut failed = 0;
    for record in &all {
        if let Err(failure) = certificate(record, |run| output.join(file_name(run)), copy, photographs) {
            failed += 1;
            complaint(format_args!("error: `{record}`: {}", clean(&failure.message)));
            if let Some(hint) = &failure.hint {
                complaint(format_args!("help: {}", clean(hint)));
            }
        }
        progress.one();
    }
    drop(progress);
    say!(
        "{} of {} certificates are in {}",
        all.len() - failed,
        all.len(),
        clean(&output.display().to_string())
    );
    Ok(if 0 < failed { FOUND } else { PASSED })
}

/// The name of a file by the cable, and by the end of the run's id, since one cable has several records.
fn file_name(run: &Run) -> String {
    let id = run.opened.run.to_string();
    format!(
        "{}-{}.pdf",
        slug(&run.plan.job.cable),
        id.rsplit('-').next().unwrap_or(&id)
    )
}

/// The record files of a folder and of the folders in it, each with its signature beside it, by their names.
fn record_files(folder: &Path) -> Result<Vec<String>, Failure> {
    let mut found = in_folder(folder)?;
    let folders: Vec<PathBuf> = found.iter().filter(|path| path.is_dir()).cloned().collect();
    for below in folders {
        found.extend(in_folder(&below)?);
    }
    let is_record = |path: &PathBuf| path.extension().is_some_and(|end| end == "jsonl") && beside(path).is_file();
    found.retain(is_record);
    found.sort();
    let names = found.into_iter().map(|path| path.into_os_string().into_string());
    let names: Result<Vec<String>, _> = names.collect();
    let names = names.map_err(|name| Failure::refused(format!("`{}` is no name that is read", name.display())))?;
    match names.len() {
        0 => Err(
            Failure::refused(format!("no record with its signature is in `{}`", folder.display())).hint(
                "a record lies there as `record.jsonl` with `record.jsonl.sig`, itself or in a folder of its own",
            ),
        ),
        _ => Ok(names),
    }
}

/// What is in a folder.
fn in_folder(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    let failed = |error: std::io::Error| Failure::equipment(format!("`{}` cannot be read: {error}", folder.display()));
    let entries = std::fs::read_dir(folder).map_err(failed)?.take(FILES_MAX + 1);
    let found: Result<Vec<PathBuf>, _> = entries.map(|entry| entry.map(|entry| entry.path())).collect();
    let found = found.map_err(failed)?;
    match FILES_MAX < found.len() {
        true => Err(
            Failure::refused(format!("more than {FILES_MAX} files are in `{}`", folder.display()))
                .hint("name the records that are meant"),
        ),
        false => Ok(found),
    }
}

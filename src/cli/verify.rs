//! `verify`: a record or an identification with its signature, or a certificate that carries a record.

use std::path::{Path, PathBuf};

use super::certificate::{Pages, compare_pages, record_in};
use super::error::{FOUND, Failure, PASSED};
use super::home::Home;
use super::identified;
use super::out::say;
use super::resting;
use crate::evidence::archive::{self, Archive, sha256_hex};
use crate::evidence::audit::{Examined, examine, is_identification};
use crate::evidence::keys::{self, PublicKey, Trust};
use crate::evidence::log::{BadProof, Leaf, Proof, signed_by};
use crate::evidence::statements;
use crate::evidence::supersession::Supersession;
use crate::evidence::timestamp::{Authorities, BadStamp, Proved, Stamp};
use crate::evidence::{Document, Sealed, bounded, bytes, prove, signer_of, trusted_when};
use crate::identify::session::Session;
use crate::run::fold::Run;
use crate::terminal::plain::clean;

/// Verifies a file.
pub(super) fn verify(file: &Path, key: Option<&Path>, authorities: &[PathBuf]) -> Result<u8, Failure> {
    let authorities = Authorities::read(authorities)?;
    let (document, pages) = read(file)?;
    let pinned = key.map(PublicKey::read).transpose()?;
    if is_identification(&document.sealed.record) {
        return identification(file, &document.sealed, pinned.as_ref());
    }
    let tell = &mut |line: String| say!("{line}");
    let verified = verified(file, &document, pages.as_deref(), pinned.as_ref(), &authorities, tell)?;
    Ok(if verified.because.is_some() { FOUND } else { PASSED })
}

/// A record file with what lies beside it, or what a certificate carries and its bytes.
pub(super) fn read(file: &Path) -> Result<(Document, Option<Vec<u8>>), Failure> {
    let content = bytes(file)?;
    Ok(match content.starts_with(b"%PDF") {
        true => (record_in(&content)?, Some(content)),
        false => (Document::read(file)?, None),
    })
}

/// Where lines go, one after the other.
type Tell<'a> = &'a mut dyn FnMut(String);

/// What proving a record came to.
pub(super) struct Verified {
    /// The run; none where what was signed cannot be read.
    #[cfg_attr(not(feature = "certificate"), allow(dead_code))] // the lid sheet is made from it
    pub run: Option<Run>,
    /// Why a script must not take it for a proof; none where it is one.
    pub because: Option<String>,
}

/// Proves a record with everything beside it, and with the pages of its certificate where it came in one; `pinned` is the one key that is
/// believed. What is found is told line by line.
pub(super) fn verified(
    file: &Path,
    document: &Document,
    pages: Option<&[u8]>,
    pinned: Option<&PublicKey>,
    authorities: &Authorities,
    tell: Tell<'_>,
) -> Result<Verified, Failure> {
    let sealed = &document.sealed;
    let trust = Trust::read(&Home::open()?.trusted())?;
    let mut examined = prove(sealed, pinned, &trust, jiff::Timestamp::now());
    if let Some(run) = &examined.folded {
        examined.remarks.extend(resting::at_hand(run)?);
    }
    shown(file, &examined, tell, print_run)?;
    let (signer, run) = (signer_of(&examined)?, examined.folded.as_ref());
    let closed = run.and_then(|run| run.ending.as_ref()).map(|(_, at)| *at);
    say_signer(signer, pinned, closed, tell).map_err(|refused| match run {
        Some(run) if run.opened.rehearsal.is_some() => refused
            .hint("this is a rehearsal, signed with a throw-away key: nothing was measured, nobody is to believe it"),
        _ => refused,
    })?;
    if let Some(remark) = examined.against() {
        let because = Some(format!("{}: {}", remark.concern.word(), remark.what));
        return Ok(Verified {
            run: examined.folded,
            because,
        });
    }
    let run = run.expect("what cannot be read has a remark");
    further(document, signer, &trust, tell)?;
    let unproved = around(pages, document, run, signer, tell)?;
    superseded(document, run, tell)?;
    let contradicted = times(document, run, authorities, tell)?;
    let rehearsed = run.opened.rehearsal.is_some();
    let because = [
        (rehearsed, "it is of a rehearsal, nothing was measured"),
        (unproved, "its pages are not proved by this version"),
        (contradicted, "a time stamp contradicts its times"),
    ];
    let because = because
        .into_iter()
        .find(|(is_so, _)| *is_so)
        .map(|(_, why)| why.to_owned());
    Ok(Verified {
        run: examined.folded,
        because,
    })
}

/// What lies around a record that is good: the proof that it is in an archive, and the pages of a certificate. True where this version cannot
/// prove the pages.
fn around(
    pages: Option<&[u8]>,
    document: &Document,
    run: &Run,
    signer: &PublicKey,
    tell: Tell<'_>,
) -> Result<bool, Failure> {
    let sealed = &document.sealed;
    let proof = document
        .beside
        .proof
        .as_deref()
        .map(Proof::read)
        .transpose()
        .map_err(unproved)?;
    if let Some(proof) = &proof {
        say_proof(proof, run, sealed, signer, tell)?;
    }
    let pages = pages
        .map(|content| compare_pages(content, document, run, signer))
        .transpose()?;
    tell("record       unchanged since it was sealed, every verdict judged again".to_owned());
    match pages {
        Some(Pages::OtherVersion(by)) => {
            tell(format!(
                "pages        record good, pages not proved by this version: check them with {}",
                clean(&by)
            ));
            return Ok(true);
        }
        Some(Pages::Same) => tell("pages        exactly what this record renders to".to_owned()),
        None => {}
    }
    Ok(false)
}

/// Says who signed after the first; each must have signed this record, and once.
fn further(document: &Document, signer: &PublicKey, trust: &Trust, tell: Tell<'_>) -> Result<(), Failure> {
    let refused = |what: String| {
        Failure::refused(format!("the record is good, but {what}"))
            .hint("do not rely on who is said to have signed it as well: ask for it again")
    };
    let mut signers = vec![signer.clone()];
    for further in &document.beside.further {
        let key = keys::verify(&document.sealed.record, &further.signature, None)
            .map_err(|error| refused(format!("a further signature does not hold: {error}")))?;
        if signers.contains(&key) {
            return Err(refused(format!(
                "{} is said to have signed it twice",
                key.fingerprint()
            )));
        }
        let name = trust.listed(&key).map(|signer| signer.names[0].as_str());
        let name = name.unwrap_or("somebody who is not trusted here");
        tell(format!("signed too   {}, {}", clean(name), key.fingerprint()));
        signers.push(key);
    }
    Ok(())
}

/// Says what bounds the times of a record; true where a proved time stamp contradicts them.
fn times(document: &Document, run: &Run, authorities: &Authorities, tell: Tell<'_>) -> Result<bool, Failure> {
    let record = &document.sealed.record;
    let bad = |error: BadStamp| {
        Failure::refused(format!("the record is good, but {error}"))
            .hint("do not rely on its time stamp: ask the engineer for it, or name the authority that made it")
    };
    let mut contradicted = false;
    let mut bound: Option<Proved> = None;
    for stamp in &document.beside.stamps {
        let stamp = Stamp::read(stamp).map_err(bad)?;
        if authorities.is_empty() {
            stamp.fits(record).map_err(bad)?;
            tell(format!(
                "stamped      not after {}, by the word of whoever made the time stamp: name an authority with `--authority`",
                stamp.at
            ));
            continue;
        }
        let proved = authorities.prove(&stamp, record).map_err(bad)?;
        tell(format!(
            "stamped      not after {}, proved: {}",
            proved.at,
            clean(&proved.by)
        ));
        if let Some(remark) = bounded(run, &proved) {
            tell(format!("{:<12} {}", remark.concern.word(), clean(&remark.words())));
            contradicted = true;
        }
        if bound.as_ref().is_none_or(|known| proved.at < known.at) {
            bound = Some(proved);
        }
    }
    match bound {
        Some(proved) => tell(format!("times        the signer's word, and not after {}", proved.at)),
        None => tell(
            "times        the signer's word: only a time stamp or a checkpoint in other hands bounds them".to_owned(),
        ),
    }
    Ok(contradicted)
}

/// Says which later record supersedes this one, as far as the file or the archive here can tell.
fn superseded(document: &Document, run: &Run, tell: Tell<'_>) -> Result<(), Failure> {
    let sha256 = sha256_hex(&document.sealed.record);
    let is_of_this = |later: &Supersession| later.run == run.opened.run && later.sha256 == sha256;
    let known = match Archive::read(&Home::open()?.archive()) {
        Ok(archive) => statements::superseded_by(&archive, run.opened.run, &sha256)?,
        Err(archive::Error::Absent { .. }) => Vec::new(),
        Err(error) => {
            tell(format!("note: {}", clean(&error.to_string())));
            Vec::new()
        }
    };
    let carried = document.beside.superseded.as_deref().map(Supersession::all_in);
    let carried: Vec<_> = carried.unwrap_or_default().into_iter().filter(is_of_this).collect();
    for later in &known {
        tell(format!("superseded   {}", clean(&later.words())));
    }
    for later in carried.iter().filter(|later| !known.contains(later)) {
        let words = later.words();
        tell(format!(
            "superseded   by the word of whoever made this file: {}",
            clean(&words)
        ));
    }
    if known.is_empty() && carried.is_empty() {
        tell("superseded   no later record is known here; this file alone cannot show one".to_owned());
    }
    Ok(())
}

fn unproved(error: BadProof) -> Failure {
    Failure::refused(format!("the record is good, but {error}"))
        .hint("do not rely on what it says of an archive: ask the engineer for it again")
}

/// Says what a proof of inclusion shows.
fn say_proof(proof: &Proof, run: &Run, sealed: &Sealed, signer: &PublicKey, tell: Tell<'_>) -> Result<(), Failure> {
    let head = proof
        .head_over(&Leaf::of_record(run.opened.run, &sealed.record, &sealed.signature))
        .map_err(unproved)?;
    let trust = Trust::read(&Home::open()?.trusted())?;
    let mut known: Vec<PublicKey> = trust.signers().iter().map(|signer| signer.key.clone()).collect();
    known.push(signer.clone());
    let (_, by) = signed_by(&proof.note, &known).map_err(|error| unproved(error.into()))?;
    let among = format!(
        "leaf {} in the log {} of {} leaves",
        proof.index,
        clean(&head.origin),
        head.size
    );
    match by {
        Some(key) if key == *signer => tell(format!("archive      {among}, by the same key")),
        Some(key) => tell(format!("archive      {among}, by {}", key.fingerprint())),
        None => tell(format!(
            "archive      {among}, by a key that nobody here knows: that shows nothing"
        )),
    }
    Ok(())
}

fn identification(file: &Path, sealed: &Sealed, pinned: Option<&PublicKey>) -> Result<u8, Failure> {
    let examined = examine::<Session>(&sealed.record, &sealed.signature, pinned);
    let tell = &mut |line: String| say!("{line}");
    shown(file, &examined, tell, |session, _| identified::print(session))?;
    let signer = signer_of(&examined).map_err(|why| why.of_file(file))?;
    let closed = examined.folded.as_ref().and_then(|session| session.closed.as_ref());
    say_signer(signer, pinned, closed.map(|(_, at)| *at), tell)?;
    if examined.against().is_some() {
        return Ok(FOUND);
    }
    say!("file         unchanged since it was signed, every answer and reading told again");
    Ok(PASSED)
}

/// Says whose key signed: the one given, or one that was trusted when the file was closed.
fn say_signer(
    signer: &PublicKey,
    pinned: Option<&PublicKey>,
    closed: Option<jiff::Timestamp>,
    tell: Tell<'_>,
) -> Result<(), Failure> {
    let name = match pinned {
        Some(_) => "the key given".to_owned(),
        None => trusted_when(&Trust::read(&Home::open()?.trusted())?, signer, closed)?,
    };
    tell(format!("signer       {}", clean(&name)));
    Ok(())
}

/// Prints what a signed journal came to, with every remark.
fn shown<F>(file: &Path, examined: &Examined<F>, tell: Tell<'_>, print: impl Fn(&F, Tell<'_>)) -> Result<(), Failure> {
    let signer = signer_of(examined).map_err(|why| why.of_file(file))?;
    tell(format!("signature    good, {}", signer.fingerprint()));
    if let Some(folded) = &examined.folded {
        print(folded, tell);
    }
    for remark in &examined.remarks {
        tell(format!("{:<12} {}", remark.concern.word(), clean(&remark.words())));
    }
    Ok(())
}

fn print_run(run: &Run, tell: Tell<'_>) {
    let job = &run.plan.job;
    let mut line = |name: &str, text: &str| tell(format!("{name:<12} {}", clean(text)));
    if run.opened.rehearsal.is_some() {
        line("REHEARSAL", "nothing was measured");
    }
    line("run", &run.opened.run.to_string());
    line("place", &format!("{}, {}", job.place.name, job.place.part));
    line("cable", &job.cable);
    if let Some(length) = job.length.as_ref().filter(|length| length.is_corrected()) {
        line("length", &length.to_string());
        run.by_length_words().iter().for_each(|words| line("", words));
    }
    line("engineer", &job.engineer);
    if let Some(earlier) = &run.opened.supersedes {
        line("supersedes", &earlier.words());
    }
    if let Some(rest) = &run.opened.rests_on {
        line("rests on", &rest.words());
    }
    line("opened", &run.opened_at.to_string());
    if let Some((ending, at)) = &run.ending {
        line("closed", &format!("{at}, {}", ending.words()));
    }
    line("verdict", run.outcome().word());
    line("rules", &run.rules_words());
    line("limits", &job.limits.caveat);
}

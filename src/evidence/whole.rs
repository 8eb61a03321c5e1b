//! The archive as a whole: whether anything was taken out of it, put in another place or made anew.
//!
//! The rule inside: the tree is made again from the leaves, and its root at each size is held against every checkpoint of that size: those in
//! the archive, the one kept outside it, and those that certificates carry. What no witness can show is said.

use std::collections::BTreeMap;

use uuid::Uuid;

use super::archive::{Archive, Entry, Error, Row, sha256_hex};
use super::audit::{Concern, Remark};
use super::first_of::FirstOf;
use super::keys::{self, PublicKey, Trust};
use super::log::{Head, Heads, Kind, Leaf, Proof, Tree, signed_by};
use super::refusal::Refusal;
use super::sealed::Sealed;
use super::shelf;
use super::statements;
use super::stored::run_of;
use super::supersession::Supersession;

/// A record as somebody was given it, with the proof that it was in an archive.
#[derive(Debug, Clone)]
pub struct Witness {
    /// The file.
    pub name: String,
    /// The record and its signature.
    pub sealed: Sealed,
    /// The proof that it carries.
    pub proof: Option<Proof>,
}

/// What the whole came to.
#[derive(Debug, Default)]
pub struct Whole {
    /// What speaks against it.
    pub remarks: FirstOf<Remark>,
    /// What is to be said all the same.
    pub told: FirstOf<String>,
}

impl Whole {
    fn against(&mut self, what: impl Into<String>) {
        self.remarks.push(Remark::on_all(Concern::Log, what));
    }
}

/// A head that somebody signed, and where it stands.
struct Claim {
    head: Head,
    by: String,
}

/// Where there is no archive: what was here before, as far as a checkpoint or a witness is left of it.
///
/// # Errors
/// A folder of checkpoints that cannot be read.
pub fn absent(heads: &Heads, witnesses: &[Witness]) -> Result<Whole, Refusal> {
    let mut whole = Whole::default();
    let (kept, none) = shelf::all(heads)?;
    kept.iter().for_each(|kept| whole.against(shelf::of_another(kept)));
    none.iter()
        .for_each(|path| whole.against(format!("`{}` is no checkpoint", path.display())));
    for witness in witnesses {
        whole.against(format!("`{}`: its record is in no archive here", witness.name));
    }
    Ok(whole)
}

/// Examines the log of an archive.
///
/// # Errors
/// An archive or a folder that cannot be read.
pub fn examine_log(archive: &Archive, trust: &Trust, heads: &Heads, witnesses: &[Witness]) -> Result<Whole, Refusal> {
    let mut whole = Whole::default();
    archive
        .faults()
        .iter()
        .for_each(|fault| whole.against(fault.to_string()));
    let known: Vec<PublicKey> = trust.signers().iter().map(|signer| signer.key.clone()).collect();
    let origin = match archive.has_log()? {
        true => Some(archive.origin()?),
        false => None,
    };
    let mut claims = Vec::new();
    kept_outside(heads, origin.as_deref(), &known, &mut claims, &mut whole)?;
    for witness in witnesses {
        claims.extend(witnessed(archive, witness, origin.as_deref(), &known, &mut whole)?);
    }
    let Some(origin) = origin else {
        let what = "the archive has no log yet: nothing shows whether a record was deleted; it gets one when it is next added to";
        whole.told.push(what.into());
        return Ok(whole);
    };
    let signed = Signed {
        archive,
        origin: &origin,
        known: &known,
    };
    let (size, covered) = hold(&signed, claims, &mut whole)?;
    open_end(size, covered, witnesses.is_empty(), &mut whole);
    Ok(whole)
}

/// What nothing here can show.
fn open_end(size: u64, covered: u64, without_witness: bool, whole: &mut Whole) {
    if covered < size {
        let what = format!(
            "{} of the {size} leaves came after the newest signed checkpoint: that one of them is missing can only be shown by a witness",
            size - covered
        );
        whole.told.push(what);
    }
    if without_witness {
        let what = "without a witness (`--against CERTIFICATE.pdf`) an older copy of the archive, put back together with its checkpoint, \
                    looks like this one";
        whole.told.push(what.into());
    }
}

/// The checkpoints outside the archive.
fn kept_outside(
    heads: &Heads,
    origin: Option<&str>,
    known: &[PublicKey],
    claims: &mut Vec<Claim>,
    whole: &mut Whole,
) -> Result<(), Refusal> {
    let (kept, none) = shelf::all(heads)?;
    none.iter()
        .for_each(|path| whole.against(format!("`{}` is no checkpoint", path.display())));
    for kept in kept {
        let by = format!("the checkpoint kept outside the archive, `{}`,", kept.path.display());
        if Some(kept.head.origin.as_str()) != origin {
            whole.against(shelf::of_another(&kept));
        } else if let Some(head) = believed(&kept.note, known, &by, whole) {
            claims.push(Claim { head, by });
        }
    }
    Ok(())
}

/// The head of a checkpoint that somebody signed who is known here.
fn believed(note: &str, known: &[PublicKey], by: &str, whole: &mut Whole) -> Option<Head> {
    match signed_by(note, known) {
        Ok((head, Some(_))) => Some(head),
        Ok((_, None)) => {
            whole.against(format!("{by} is signed by no key that is trusted here"));
            None
        }
        Err(error) => {
            whole.against(format!("{by}: {error}"));
            None
        }
    }
}

/// What a witness says of the archive; its checkpoint is held against the log later.
fn witnessed(
    archive: &Archive,
    witness: &Witness,
    origin: Option<&str>,
    known: &[PublicKey],
    whole: &mut Whole,
) -> Result<Option<Claim>, Refusal> {
    let name = &witness.name;
    let Sealed { record, signature } = &witness.sealed;
    let signer = match keys::verify(record, signature, None) {
        Ok(key) if known.contains(&key) => key,
        Ok(key) => {
            whole.against(format!(
                "`{name}` is no witness: its signer {} is not trusted here",
                key.fingerprint()
            ));
            return Ok(None);
        }
        Err(error) => {
            whole.against(format!("`{name}` is no witness: {error}"));
            return Ok(None);
        }
    };
    let Some(run) = run_in(record) else {
        whole.against(format!("`{name}` is no witness: it names no run"));
        return Ok(None);
    };
    if let Some(what) = lost(archive, run, &witness.sealed)? {
        whole.against(format!("`{name}`: {what}"));
    }
    let Some(proof) = &witness.proof else {
        whole.told.push(format!(
            "`{name}` carries no checkpoint: it witnesses its own record and no other"
        ));
        return Ok(None);
    };
    let by = format!("the checkpoint in `{name}`");
    let head = match proof.head_over(&Leaf::of_record(run, record, signature)) {
        Ok(head) => head,
        Err(error) => {
            whole.against(format!("`{name}`: {error}"));
            return Ok(None);
        }
    };
    let mut keys = known.to_vec();
    keys.push(signer);
    if believed(&proof.note, &keys, &by, whole).is_none() {
        return Ok(None);
    }
    if Some(head.origin.as_str()) != origin {
        whole.against(format!(
            "{by} is of another archive: this one was made anew since, or is somebody else's"
        ));
        return Ok(None);
    }
    Ok(Some(Claim { head, by }))
}

/// The run that a record says it is of.
fn run_in(record: &[u8]) -> Option<Uuid> {
    let first = record.split(|byte| *byte == b'\n').next()?;
    let line: serde_json::Value = serde_json::from_slice(first).ok()?;
    line.pointer("/event/opened/run")?.as_str()?.parse().ok()
}

/// How the archive's row differs from a record that was handed out.
fn lost(archive: &Archive, run: Uuid, sealed: &Sealed) -> Result<Option<String>, Error> {
    if let Some(entry) = archive.of_digest(&sha256_hex(&sealed.record))? {
        let resealed = entry.signature != sealed.signature;
        return Ok(resealed.then(|| format!("the archive holds the record of run {run} under another signature")));
    }
    Ok(Some(match archive.has(&run.to_string())? {
        true => format!("the archive holds another record of run {run}"),
        false => format!("the record of run {run} is not in the archive"),
    }))
}

/// The checkpoints in an archive, which are read one at a time: there may be as many as records.
struct Signed<'a> {
    archive: &'a Archive,
    origin: &'a str,
    known: &'a [PublicKey],
}

impl Signed<'_> {
    /// The claim of the checkpoint that stands under a size.
    fn claim(&self, size: u64, note: &str, whole: &mut Whole) -> Option<Claim> {
        let by = format!("the checkpoint of {size} leaves in the archive");
        let head = believed(note, self.known, &by, whole)?;
        if head.size != size || head.origin != self.origin {
            whole.against(format!("{by} is of another log or size"));
            return None;
        }
        Some(Claim { head, by })
    }
}

/// Makes the tree again and holds its root at each size against what was signed of it; the number of leaves, and up to which of them a
/// checkpoint of the archive goes.
fn hold(signed: &Signed<'_>, claims: Vec<Claim>, whole: &mut Whole) -> Result<(u64, u64), Error> {
    let archive = signed.archive;
    let mut of_size: BTreeMap<u64, Vec<Claim>> = BTreeMap::new();
    for claim in claims {
        of_size.entry(claim.head.size).or_default().push(claim);
    }
    let mut tree = Tree::default();
    let mut covered = 0;
    archive.for_each_leaf(|row, stored| {
        if row.position != tree.size() {
            whole.against(format!("leaf {} is missing from the log", tree.size()));
        }
        leaf(archive, &row, whole)?;
        if stored != Some(row.leaf.hash()) {
            whole.against(format!(
                "the hash stored for leaf {} is not that of the leaf",
                row.position
            ));
        }
        tree.push(row.leaf.hash());
        let size = tree.size();
        let note = archive.checkpoint_of(size)?;
        let own = note.and_then(|note| signed.claim(size, &note, whole));
        covered = own.as_ref().map_or(covered, |own| own.head.size);
        for claim in of_size.remove(&size).into_iter().flatten().chain(own) {
            if claim.head.root != tree.root() {
                whole.against(format!(
                    "{} is of other records: one of the first {size} was rewritten or taken out",
                    claim.by
                ));
            }
        }
        Ok::<(), Error>(())
    })?;
    let leaves = tree.size();
    of_size
        .into_values()
        .flatten()
        .for_each(|claim| beyond(&claim, leaves, whole));
    archive.for_each_checkpoint_beyond(leaves, |size, note| {
        if let Some(claim) = signed.claim(size, &note, whole) {
            covered = size;
            beyond(&claim, leaves, whole);
        }
        Ok::<(), Error>(())
    })?;
    Ok((leaves, covered))
}

/// What a checkpoint of more leaves than are there means.
fn beyond(claim: &Claim, leaves: u64, whole: &mut Whole) {
    let what = format!(
        "{} is of {} leaves, the archive has {leaves}: the newest were deleted, or an older copy was put back",
        claim.by, claim.head.size,
    );
    whole.against(what);
}

/// Whether what a leaf speaks of is there.
fn leaf(archive: &Archive, row: &Row, whole: &mut Whole) -> Result<(), Error> {
    let position = row.position;
    match row.leaf.kind {
        Kind::Record if !archive.has(&row.about)? => {
            whole.against(format!(
                "the record of run {} was deleted: its leaf {position} is in the log",
                row.about
            ));
        }
        Kind::Record => {}
        Kind::Signature | Kind::Supersession | Kind::Retirement => {
            let again = Leaf::of(
                row.leaf.kind,
                &row.about,
                [row.body.as_bytes(), row.signature.as_bytes()],
            );
            if again != row.leaf {
                whole.against(format!(
                    "leaf {position} is not that of the {} beside it",
                    row.leaf.kind.word()
                ));
            } else if let Some(what) = statements::fault(archive, row)? {
                whole.against(format!(
                    "leaf {position}, a {} about {}: {what}",
                    row.leaf.kind.word(),
                    row.about
                ));
            }
        }
    }
    Ok(())
}

/// Whether a stored record has its leaf in the log.
///
/// # Errors
/// Those of the archive.
pub fn leaf_remark(archive: &Archive, entry: &Entry) -> Result<Option<Remark>, Error> {
    if !archive.has_log()? {
        return Ok(None);
    }
    let run = entry.summary.run;
    let leaf = Leaf::of_record(run, &entry.record, &entry.signature);
    let there = archive.statements(Kind::Record, &run.to_string())?;
    let what = match there.as_slice() {
        [row] if row.leaf == leaf => return supersession_remark(archive, entry),
        [] => "it has no leaf in the log: it was put in by something else than this program",
        _ => "its leaf in the log is of another record or signature: it was rewritten or sealed again",
    };
    Ok(Some(Remark::on_all(Concern::Log, what)))
}

/// Whether what a stored record says of an earlier one has its leaf as well.
fn supersession_remark(archive: &Archive, entry: &Entry) -> Result<Option<Remark>, Error> {
    // most records correct none; those need not be read for it
    let names_one = entry.record.split(|byte| *byte == b'\n').next().is_some_and(|line| {
        let mark = b"\"supersedes\":{";
        line.windows(mark.len()).any(|part| part == mark)
    });
    if !names_one {
        return Ok(None);
    }
    let Some(earlier) = run_of(entry).ok().and_then(|run| run.opened.supersedes) else {
        return Ok(None);
    };
    let stated = archive.statements(Kind::Supersession, &earlier.run.to_string())?;
    let by = entry.summary.run;
    let is_there = stated
        .iter()
        .any(|row| Supersession::read(&row.body).is_some_and(|stated| stated.by == by));
    let what = format!(
        "it supersedes the record of run {}, and the log does not hold that",
        earlier.run
    );
    Ok((!is_there).then(|| Remark::on_all(Concern::Log, what)))
}

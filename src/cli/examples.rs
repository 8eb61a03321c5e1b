//! Examples of every command, as its help shows them.
//!
//! The rule inside: each command has two at least, and each of them is one that the command line takes.

use crate::system::devices::EXAMPLE;

/// A command by its words, and its examples: what to type, and what for.
pub(super) type Examples = (&'static str, &'static [(&'static str, &'static str)]);

/// Every command that help shows.
pub(super) const EXAMPLES: &[Examples] = &[
    (
        "",
        &[
            ("coreproof", "where things stand, and what to type next"),
            ("coreproof rehearse --steps", "a whole job with no hardware"),
        ],
    ),
    (
        "rehearse",
        &[
            (
                "coreproof rehearse zone-valve --steps",
                "every prompt, as a run shows it",
            ),
            (
                "coreproof rehearse --fault core-open:grey",
                "the step that finds the fault fails",
            ),
        ],
    ),
    (
        "check",
        &[
            ("coreproof check my-job.ron", "every mistake of a job at once"),
            (
                "coreproof check stat-cable my-job.ron",
                "and that the order of the sequence is proved on it",
            ),
        ],
    ),
    (
        "job",
        &[
            (
                "coreproof job stat-volt-free",
                "asks, and writes a job for that sequence",
            ),
            ("coreproof job stat-cable --from last-year.ron", "as last time, but"),
        ],
    ),
    (
        "plan",
        &[
            (
                "coreproof plan stat-cable --job my-job.ron",
                "every step with its window and source",
            ),
            (
                "coreproof plan stat-cable --job saltmarsh --json",
                "the same for another program",
            ),
        ],
    ),
    (
        "coverage",
        &[
            (
                "coreproof coverage zone-valve --job boathouse-valve",
                "what each step catches",
            ),
            (
                "coreproof coverage stat-cable --job my-job.ron --svg faults.svg",
                "the same as a picture",
            ),
        ],
    ),
    (
        "locate",
        &[
            ("coreproof locate 019ab7c0", "what explains the readings of a run"),
            (
                "coreproof locate --readings readings.txt --job my-job.ron",
                "of readings in a file",
            ),
        ],
    ),
    (
        "run",
        &[
            (
                "coreproof run stat-cable --job my-job.ron",
                "with the meter that was found, or typed",
            ),
            (
                "coreproof run stat-cable --job my-job.ron --meter {port},line-stream",
                "with this one",
            ),
        ],
    ),
    (
        "resume",
        &[
            ("coreproof resume", "the one run that is unfinished"),
            (
                "coreproof resume \"sail loft\"",
                "the one at this place or on this cable",
            ),
        ],
    ),
    (
        "instruments",
        &[
            ("coreproof instruments", "what was told, and what is due"),
            ("coreproof instruments add my-instruments.ron", "tell them, once"),
        ],
    ),
    (
        "instruments list",
        &[
            ("coreproof instruments list", "what was told, and what is due"),
            ("coreproof instruments", "the same"),
        ],
    ),
    (
        "instruments add",
        &[
            ("coreproof instruments add my-instruments.ron", "all of a file"),
            (
                "coreproof instruments add old-job.ron tester --replace",
                "one of a job, in place of the one of that name",
            ),
        ],
    ),
    (
        "instruments calibrated",
        &[
            (
                "coreproof instruments calibrated tester --on 2026-11-25 --due 2027-11-25",
                "it came back",
            ),
            (
                "coreproof instruments calibrated \"two-pole tester\" --on 2026-11-25 --due 2027-11-25",
                "a name of several words",
            ),
        ],
    ),
    (
        "instruments engineer",
        &[
            ("coreproof instruments engineer \"Morgan Teal\"", "who works with them"),
            (
                "coreproof instruments engineer \"Morgan Teal\" --position electrician",
                "what they are, for documents; `--firm` says for whom",
            ),
        ],
    ),
    (
        "instruments check",
        &[
            ("coreproof instruments check", "every error of the file at once"),
            (
                "coreproof instruments check && coreproof run stat-cable --job my-job.ron",
                "only where nothing is past its date",
            ),
        ],
    ),
    (
        "meter",
        &[
            ("coreproof meter find", "which port, which profile, which instrument"),
            ("coreproof meter watch --meter {port},line-stream", "what it shows"),
        ],
    ),
    (
        "meter list",
        &[
            ("coreproof meter list", "ports and profiles; opens nothing"),
            ("coreproof meter list --listen", "what each port sends as well"),
        ],
    ),
    (
        "meter find",
        &[
            ("coreproof meter find", "on every port that is present"),
            (
                "coreproof meter find --port {port} --instrument tester",
                "on this one, which is the tester's",
            ),
        ],
    ),
    (
        "meter watch",
        &[
            (
                "coreproof meter watch --meter {port},segment-14 --raw",
                "with the bytes",
            ),
            (
                "coreproof meter watch --meter {port},line-stream --record mine.txt",
                "kept, to be played again",
            ),
        ],
    ),
    (
        "meter teach",
        &[
            ("coreproof meter teach {port} --out my-meter.ron", "at the usual speeds"),
            (
                "coreproof meter teach {port} --out my-meter.ron --speed 2400",
                "at this one alone",
            ),
        ],
    ),
    (
        "limits",
        &[
            ("coreproof limits insulation minimum", "a table by its name"),
            (
                "coreproof limits --compare 2008 2018+A2:2022",
                "two editions row by row",
            ),
        ],
    ),
    (
        "key",
        &[
            ("coreproof key new --name \"Morgan Teal\"", "once"),
            ("coreproof key show", "its fingerprint, and whom you believe"),
        ],
    ),
    (
        "key new",
        &[
            ("coreproof key new --name \"Morgan Teal\"", "asks for a passphrase"),
            (
                "coreproof key new --name \"M. Teal, Saltmarsh\"",
                "as records shall name the signer",
            ),
        ],
    ),
    (
        "key agent",
        &[
            (
                "coreproof key agent ~/.ssh/id_ed25519.pub --name \"Morgan Teal\"",
                "a key that the agent holds",
            ),
            (
                "coreproof key agent card.pub --name \"Morgan Teal\"",
                "one on a card, through its agent",
            ),
        ],
    ),
    (
        "key show",
        &[
            ("coreproof key show", "the key, and whom you believe"),
            (
                "coreproof key show > mine.txt",
                "to be handed over by another way than a record",
            ),
        ],
    ),
    (
        "key trust",
        &[
            (
                "coreproof key trust signer.pub --as \"Robin Sand\"",
                "believe what it signed",
            ),
            (
                "coreproof key trust signer.pub --as \"Robin Sand\" --until 2027-01-01",
                "up to a day",
            ),
        ],
    ),
    (
        "key passphrase",
        &[
            ("coreproof key passphrase", "asks for the old one and the new one"),
            ("coreproof key passphrase < two-lines.txt", "from a pipe or a file"),
        ],
    ),
    (
        "key retire",
        &[
            ("coreproof key retire --from 2026-11-30", "the own one"),
            (
                "coreproof key retire \"Robin Sand\" --from 2026-11-30",
                "another, by the name it is trusted as",
            ),
        ],
    ),
    (
        "records",
        &[
            ("coreproof records list", "a line a record"),
            ("coreproof records show 019ab7c0", "every step of one"),
        ],
    ),
    (
        "records list",
        &[
            ("coreproof records list", "oldest first"),
            ("coreproof records list --json", "for another program"),
        ],
    ),
    (
        "records places",
        &[
            (
                "coreproof records places",
                "cables proved, failed, and without a record",
            ),
            ("coreproof --plain records places", "the same in whole lines only"),
        ],
    ),
    (
        "records find",
        &[
            (
                "coreproof records find --place clubhouse --verdict fail",
                "what failed there",
            ),
            (
                "coreproof records find --instrument SM-2290 --from 2026-01-01 --csv",
                "what an instrument read since",
            ),
        ],
    ),
    (
        "records instruments",
        &[
            ("coreproof records instruments", "every instrument that judged a record"),
            (
                "coreproof records instruments --due-by 2026-12-31",
                "those that are due by then",
            ),
        ],
    ),
    (
        "records show",
        &[
            ("coreproof records show 019ab7c0", "every step"),
            (
                "coreproof records show 019ab7c0 --edition 2018+A2:2022",
                "what this edition would say",
            ),
        ],
    ),
    (
        "records export",
        &[
            (
                "coreproof records export 019ab7c0 -o out",
                "the record, its signature and the key as files",
            ),
            ("coreproof records export --all -o all.sqlite", "everything as one file"),
        ],
    ),
    (
        "records countersign",
        &[
            ("coreproof records countersign 019ab7c0", "with the own key"),
            (
                "coreproof records countersign 019ab7c0 --signature client.sig",
                "a signature that was made elsewhere",
            ),
        ],
    ),
    (
        "records timestamp",
        &[
            (
                "coreproof records timestamp 019ab7c0 --request stamp.tsq",
                "what an authority is sent",
            ),
            (
                "coreproof records timestamp 019ab7c0 --token stamp.tsr --authority ca.pem",
                "what it answered",
            ),
        ],
    ),
    (
        "records import",
        &[
            ("coreproof records import record.jsonl", "one record"),
            ("coreproof records import all.sqlite", "all of another archive"),
        ],
    ),
    (
        "certificate",
        &[
            ("coreproof certificate 019ab7c0 -o sail-loft.pdf", "with every step"),
            (
                "coreproof certificate 019ab7c0 -o for-client.pdf --copy client",
                "its front pages",
            ),
            (
                "coreproof certificate exported -o certificates",
                "of every record in a folder",
            ),
        ],
    ),
    (
        "lid",
        &[
            (
                "coreproof lid --place \"Saltmarsh Sailing Club\" -o lid.pdf",
                "every cable of the place",
            ),
            (
                "coreproof lid 019ab7c0 019ab7d4 -o lid.pdf",
                "two cables, from these records",
            ),
        ],
    ),
    (
        "verify",
        &[
            ("coreproof verify sail-loft.pdf", "by whom you trust"),
            (
                "coreproof verify record.jsonl --key signer.pub",
                "by this key and no other",
            ),
        ],
    ),
    (
        "audit",
        &[
            ("coreproof audit", "every stored record again"),
            (
                "coreproof audit clubhouse --against sail-loft.pdf",
                "and that none was taken out since",
            ),
        ],
    ),
    (
        "identify",
        &[
            (
                "coreproof identify --cores 5 --plan",
                "how many walks it takes; asks nothing",
            ),
            (
                "coreproof identify --job my-job.ron --out cable.jsonl",
                "kept as it goes, and signed",
            ),
        ],
    ),
    (
        "distance",
        &[
            (
                "coreproof distance --near \"1.2 nF\" --far \"0.8 nF\" --length \"20 m\"",
                "to where a core broke",
            ),
            (
                "coreproof distance --near \"0.43 ohm\" --far \"0.29 ohm\" --loop \"0.72 ohm\" --length \"20 m\"",
                "to where two touch",
            ),
        ],
    ),
];

/// An example as it is typed on this system, which names ports in its own way.
pub(super) fn typed(example: &str) -> String {
    example.replace("{port}", EXAMPLE)
}

/// The examples as help shows them.
pub(super) fn shown(examples: &[(&str, &str)]) -> String {
    let line = |(example, what): &(&str, &str)| format!("\n  {}\n      {what}", typed(example));
    format!("EXAMPLES{}", examples.iter().map(line).collect::<String>())
}

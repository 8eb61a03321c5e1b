//! The reference of the language, made from the types that read it.
//!
//! The rule inside: nothing here names a word of the language that the types do not have; a test reads every example.

use super::check::FORMAT;
use super::raw::{Between, KINDS, RawAct, RawCondition, RawReference, RawThen, RawTime, RawWindow};
use super::say::PLACEHOLDERS;
use crate::job::words::WORDS;
use crate::model::opposite;
use crate::plan::Stage;
use crate::proof::RULES;

/// Groups of steps, with what they do.
const GROUPS: &[(&str, &str)] = &[
    (
        "EachCore([...])",
        "the steps once for every core but the one that dead tests return through",
    ),
    (
        "EachLink([...])",
        "the steps once for every turn of the link at the far end: in each some of those cores are linked to that one, in as few turns as \
         open a reading for every crossing (two for two cores, three for up to six; two for three where the earth core is read at the far end)",
    ),
    ("EachPair([...])", "the steps once for every pair of those cores"),
    ("EachZone([...])", "the steps once for every zone of the job"),
    (
        "EachSupply([...])",
        "the steps once for the supply of the cable and once for every further supply of the job: switching off, lock, key and notice",
    ),
    (
        "Together([...])",
        "labels (`HandOver`), tugs (`Tug`), looks (`Inspect`) and calls off that one answer may stand for where it is so for each; anything else \
         and each is asked by itself. Neighbours with the same words to answer with are one prompt. The record lists what the answer stood for",
    ),
    (
        "AnyOrder([...])",
        "live readings of fault-finding (`Voltage` with `stage: FaultFinding`) that change no wiring and are taken in any order and number: the \
         one that halves the faults that are left comes next, and the record says why; the engineer may choose another or say that it is \
         enough. None that fails asks for a decision, and nothing rests on any of them",
    ),
    ("If(CONDITION, [...])", "the steps only where the condition holds"),
    (
        "Include(\"parts/FILE.ron\")",
        "the steps of another file, beside the sequence or shipped",
    ),
];

/// The names that expressions know.
pub(super) const FIGURES: &[(&str, &str)] = &[
    ("supply.nominal", "nominal voltage"),
    ("supply.ze", "loop impedance up to the near end"),
    ("supply.residual", "rated residual current"),
    ("cable.length", "length of the cable"),
    ("cable.temperature", "temperature of the cable"),
    ("pair.volts", "what stands on the control pair with its contact open"),
    (
        "parameter.NAME",
        "a figure that the job gives under `parameters`, which the sequence names under `needs`",
    ),
];

/// The words of the field.
fn words() -> String {
    let mut text = String::from(
        "\n## Words\n\nOne name for one thing, in sequences, on the screen and on the certificate; the standard's word beside it. Where a purpose is typed, \
             what stands in brackets is understood as well.\n\n",
    );
    for word in WORDS {
        let also: Vec<_> = word.also.iter().map(|also| format!("`{also}`")).collect();
        let also = if also.is_empty() {
            String::new()
        } else {
            format!(" ({})", also.join(", "))
        };
        text += &format!("- {}{also}\n", word.with_iec());
    }
    text
}

/// The whole reference, in Markdown.
pub fn reference() -> String {
    let mut text = format!(
        "# The language of sequences, format {FORMAT}\n\n\
         Made from the types that read it by `coreproof check --language`; do not edit. A sequence sends a person's hands to live \
         parts: local codes and licensed practice come before anything written here.\n\n\
         A file is `(format, name, title, needs, promises, exceptions, steps)`; `needs`, `promises` and `exceptions` may be left out. \
         A part that sequences include has the same shape.\n\n## Stages\n\nIn this order, and never back:\n\n"
    );
    for stage in Stage::ALL {
        text += &format!("- `{stage:?}`: {}\n", stage.words());
    }
    text += &words();
    text += "\n## Groups\n\n";
    text += &list(GROUPS.iter().map(owned));
    text += "\n## Kinds of step\n\nEvery step has `id` (lower-case letters, digits, hyphens) and `say` (what is read aloud); it may have \
             `caution` and `after_failure: [...]`.\n";
    for kind in KINDS {
        let what: Vec<_> = kind.what.iter().map(|line| line.trim()).collect();
        text += &format!("\n### {}\n\n{}\n\n", kind.kind, what.join(" "));
        for (name, of, words) in kind.needs {
            text += &format!("- `{name}` ({}): {words}\n", plain(of));
        }
        for (name, of, words) in kind.may {
            text += &format!("- `{name}` ({}, may be left out): {words}\n", plain(of));
        }
        if !kind.needs.is_empty() || !kind.may.is_empty() {
            text.push('\n');
        }
        text += &format!("```ron\n{}\n```\n", kind.example);
    }
    let sections = [
        ("Acts", RawAct::WORDS),
        ("Windows", RawWindow::WORDS),
        ("Times", RawTime::WORDS),
        ("Insulation between", Between::WORDS),
        ("References", RawReference::WORDS),
        ("Conditions", RawCondition::WORDS),
        ("After a failure", RawThen::WORDS),
    ];
    for (title, words) in sections {
        text += &format!("\n## {title}\n\n");
        text += &list(
            words
                .iter()
                .map(|(word, takes, what)| (format!("{word}{}", plain(takes)), what.trim().to_owned())),
        );
    }
    text += "\n## Expressions\n\nAmounts with units, these names, and `+ - * / ( )`; a sum of different quantities is refused.\n\n";
    text += &list(FIGURES.iter().map(owned));
    text += "\n## Words in braces\n\n";
    text += &list(
        PLACEHOLDERS
            .iter()
            .map(|(word, what)| (format!("{{{word}}}"), (*what).to_owned())),
    );
    text += &shown();
    text += "\n## Rules\n\nKept on every path through a sequence, proved before anybody picks up a probe; the walk keeps them from the same \
             tables.\n\n| rule | what | why | source |\n| --- | --- | --- | --- |\n";
    for rule in RULES {
        text += &format!("| `{}` | {} | {} | {} |\n", rule.name, rule.says, rule.why, rule.source);
    }
    text
}

/// What the model is asked about a step.
fn shown() -> String {
    let mut text = String::from(
        "\n## What a step shows\n\nA step shows something only where it would not have passed had that been false. Each of these is put into \
             a model of the job's wiring when the sequence is bound, and the step's reading predicted: where it would pass all the \
             same, the step does not show it.\n\n| shown | tried with | caught by |\n| --- | --- | --- |\n",
    );
    for there in opposite::all() {
        let plain = |text: &str| text.replace(['{', '}'], "");
        text += &format!(
            "| {} | {} | {} |\n",
            there.is,
            plain(&there.words),
            plain(&there.caught)
        );
    }
    text += "\nNot tried on the model, since hands, plates and the indicator's own proof say them: that the supply is off and locked off, the \
             key kept, the notice posted, the indicator proved, the cores off their terminals and apart, what is electronic taken out, \
             the far end guarded, links and joints off, the cores discharged, what a plate or a terminal's marking says.\n";
    text
}

fn owned((word, what): &(&str, &str)) -> (String, String) {
    ((*word).to_owned(), (*what).to_owned())
}

fn list(rows: impl Iterator<Item = (String, String)>) -> String {
    rows.map(|(word, what)| format!("- `{word}`: {what}\n")).collect()
}

/// A type as a reader of a file knows it.
fn plain(of: &str) -> String {
    let mut text = of.replace([' ', '\n'], "").replace(",)", ")");
    for wrapper in ["Located<", "Option<", "Box<", "Vec<"] {
        text = text.replace(wrapper, "");
    }
    let text = text
        .replace('>', "")
        .replace("Raw", "")
        .replace("String", "text")
        .replace("bool", "true or false");
    text.replace("Amount", "amount")
        .replace(':', ": ")
        .replace(',', ", ")
        .replace("Timing", "(step, Time)")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::located::Text;
    use crate::sequence::read;

    #[test]
    fn every_example_is_read() {
        for kind in KINDS {
            let text = format!(
                "(format: \"{FORMAT}\", name: \"example\", title: \"Example\", steps: [{}])",
                kind.example
            );
            let name = "example.ron";
            let read = read(&[Text::new(name, text)]);
            assert!(read.is_ok(), "{}: {:?}", kind.kind, read.err());
            assert!(kind.example.contains(&format!("{}(", kind.kind)), "{}", kind.kind);
        }
    }

    #[test]
    fn the_written_reference_is_this_one() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sequences/LANGUAGE.md");
        if std::env::var_os("COREPROOF_WRITE_REFERENCE").is_some() {
            std::fs::write(&path, reference()).unwrap();
        }
        let written = std::fs::read_to_string(&path).unwrap();
        assert!(
            written == reference(),
            "sequences/LANGUAGE.md is not what the types say: run `coreproof check --language > sequences/LANGUAGE.md`"
        );
    }
}

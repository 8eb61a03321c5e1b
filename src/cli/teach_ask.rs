//! `meter teach` with a meter that does not send by itself: whether it answers, and to which question.
//!
//! The rule inside: nothing is written to an unknown device before the engineer has said `yes`, for it may change what
//! the device does.

use std::time::Duration;

use tokio::io::AsyncWriteExt;
use tokio::sync::mpsc::UnboundedReceiver;
use tokio::time::Instant;

use super::error::Failure;
use super::out::say;
use super::teach_port::{Asked, LEVELS, read};
use crate::meter::decode::Line;
use crate::meter::port::serial::SerialPath;
use crate::meter::port::{Opener, Port, PortError};
use crate::run::dialogue::Said;
use crate::teach::listen::{Choice, plain_line};
use crate::teach::question::{Answer, ENDS, OPENERS, Question, READINGS, judge};

/// How long what comes late is waited for.
const LATE: Duration = Duration::from_millis(50);

/// The line and the question of a meter that nothing was heard from, or none where it is to be listened to again; the next line that is typed says whether it may be
/// asked.
pub(super) async fn ask(
    asked: &Asked,
    lines: &mut UnboundedReceiver<Said>,
) -> Result<Option<(Choice, Question)>, Failure> {
    let silent = format!("nothing is heard on `{}`", asked.port);
    say!("Nothing is heard. Some meters send only when they are asked, but a question may change what a device does.");
    say!("Others send only when their display changes: for such a one type `again`.");
    say!("Take the probes off the work. If this is a meter's port and it may be asked, type `yes`; else press Enter:");
    let answer = lines.recv().await.and_then(Said::into_line);
    if answer.as_ref().is_some_and(|line| line.trim() == "again") {
        return Ok(None);
    }
    if answer.is_none_or(|line| line.trim() != "yes") {
        return Err(Failure::equipment(silent)
            .hint("switch the meter on and its sending, often a key that is held while switching on, and try again"));
    }
    let Some((line, opener, reply)) = open_line(asked).await? else {
        return Err(Failure::equipment(format!("{silent}, and no question is answered"))
            .hint("switch the meter on, set it to be read over its cable, check the cable, and try again"));
    };
    say!("`{}` is answered with `{reply}`.", opener.ask);
    let proved = is_only_speed(asked, &line, &opener).await?;
    let question = reading(asked, &line, &opener.end).await?;
    let baud = line.baud;
    let why = match proved {
        true => format!("questions are answered at {baud} bits a second, and not at another speed"),
        false => format!("questions are answered at {baud} bits a second, which nothing proves"),
    };
    Ok(Some((Choice { line, proved, why }, question)))
}

/// The first line on which an opening question is answered, with the question and the answer.
async fn open_line(asked: &Asked) -> Result<Option<(Line, Question, String)>, Failure> {
    for opener in OPENERS {
        say!("Asking `{opener}` at each speed.");
        for (dtr, rts) in LEVELS {
            for speed in asked.speeds() {
                let line = plain_line(*speed, dtr, rts);
                let mut port = SerialPath::new(&asked.port, &line).open().await?;
                for end in ENDS {
                    let question = Question::new(opener, end);
                    // an identity is at hand; a reading takes longer
                    if let Some(reply) = exchange(asked, port.as_mut(), &question, asked.listen / 3).await? {
                        return Ok(Some((line, question, reply)));
                    }
                }
            }
        }
    }
    Ok(None)
}

/// Whether another speed gives no answer; a port without a real line answers at any.
async fn is_only_speed(asked: &Asked, line: &Line, opener: &Question) -> Result<bool, Failure> {
    let Some(other) = asked.speeds().iter().find(|speed| **speed != line.baud) else {
        return Ok(false);
    };
    let other = plain_line(*other, line.dtr, line.rts);
    let mut port = SerialPath::new(&asked.port, &other).open().await?;
    Ok(exchange(asked, port.as_mut(), opener, asked.listen / 3)
        .await?
        .is_none())
}

/// The first question that is answered with a number and with words that can name its function.
async fn reading(asked: &Asked, line: &Line, end: &str) -> Result<Question, Failure> {
    let mut port = SerialPath::new(&asked.port, line).open().await?;
    let mut bare = None;
    for ask in READINGS {
        let question = Question::new(ask, end);
        let reply = exchange(asked, port.as_mut(), &question, asked.listen).await?;
        match reply.as_deref().map_or(Answer::Nothing, judge) {
            Answer::Named(reply) => {
                say!("`{ask}` is answered with `{reply}`.");
                return Ok(question);
            }
            Answer::Bare(reply) => bare = bare.or(Some((ask, reply))),
            Answer::Nothing => {}
        }
    }
    Err(match bare {
        Some((ask, reply)) => Failure::equipment(format!(
            "`{ask}` is answered with `{reply}`, which does not name what is measured"
        ))
        .hint("write a profile for each position of the dial by hand: no answer tells where it stands"),
        None => Failure::equipment(format!("no reading is answered on `{}`", asked.port))
            .hint("look up in the meter's manual what it is asked for a reading, and write the profile by hand"),
    })
}

/// Asks once; the answer, or `None` where no line of text came in time.
async fn exchange(
    asked: &Asked,
    port: &mut dyn Port,
    question: &Question,
    patience: Duration,
) -> Result<Option<String>, Failure> {
    // what is left of a question at another speed, or of an answer that came late, ends here
    send(asked, port, question.end.as_bytes()).await?;
    let late = Instant::now() + LATE;
    while read(asked, port, late).await?.is_some() {}
    send(asked, port, &question.bytes()).await?;
    let (end, mut heard) = (Instant::now() + patience, Vec::new());
    while let Some(some) = read(asked, port, end).await? {
        heard.extend(some);
        if let Some(reply) = question.reply(&heard) {
            return Ok(Some(reply));
        }
    }
    Ok(None)
}

async fn send(asked: &Asked, port: &mut dyn Port, bytes: &[u8]) -> Result<(), Failure> {
    let lost = |_| PortError::Lost {
        path: asked.port.clone(),
    };
    Ok(port.write_all(bytes).await.map_err(lost)?)
}

/// Asks again and again, at a pace that gives several answers in the time that a display must have stood.
pub(super) struct Asking {
    question: Question,
    asked_at: Option<Instant>,
    answered: bool,
}

impl Asking {
    /// Nothing was asked yet.
    pub(super) fn new(question: Question) -> Asking {
        Asking {
            question,
            asked_at: None,
            answered: true,
        }
    }

    /// Takes note of what was heard: the end of a line is the end of an answer.
    pub(super) fn hear(&mut self, bytes: &[u8]) {
        self.answered |= bytes.iter().any(|byte| b"\r\n".contains(byte));
    }

    /// When it is time to ask next, which the end of a wait should not pass.
    pub(super) fn next_at(&self, asked: &Asked) -> Instant {
        let pause = if self.answered { asked.listen / 10 } else { asked.listen };
        self.asked_at.map_or_else(Instant::now, |at| at + pause)
    }

    /// Asks where it is time. To be awaited to its end: a write that is dropped half-way would leave half a question.
    pub(super) async fn poll(&mut self, asked: &Asked, port: &mut dyn Port) -> Result<(), Failure> {
        if self.next_at(asked) <= Instant::now() {
            send(asked, port, &self.question.bytes()).await?;
            self.asked_at = Some(Instant::now());
            self.answered = false;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::error::PASSED;
    use crate::cli::teach::teach;
    use crate::meter::decode::{Decoded, decode};
    use crate::meter::decode::{Profile, Talk};
    use crate::meter::profile::find;
    use std::sync::{Arc, Mutex};
    use tokio::io::AsyncReadExt;
    use tokio::sync::mpsc::unbounded_channel;
    use tokio_serial::{SerialPort, SerialStream};

    const LISTEN: Duration = Duration::from_millis(200);

    /// What a meter answers to which question, and every question it was asked.
    #[derive(Default)]
    struct Bench {
        answers: Vec<(String, String)>,
        asked: Vec<String>,
    }

    impl Bench {
        fn answering(answers: &[(&str, &str)]) -> Arc<Mutex<Bench>> {
            let own = |(ask, reply): &(&str, &str)| ((*ask).to_owned(), (*reply).to_owned());
            Arc::new(Mutex::new(Bench {
                answers: answers.iter().map(own).collect(),
                asked: Vec::new(),
            }))
        }

        fn answer(&mut self, line: &str) -> Option<String> {
            self.asked.push(line.to_owned());
            let known = self.answers.iter().find(|(ask, _)| ask == line);
            known.map(|(_, reply)| format!("{reply}\n"))
        }
    }

    /// A meter that sends nothing unless it is asked, whole lines only.
    async fn serve(mut end: SerialStream, bench: Arc<Mutex<Bench>>) {
        let mut line = Vec::new();
        while let Ok(byte) = end.read_u8().await {
            if byte != b'\n' {
                line.push(byte);
                continue;
            }
            let text = String::from_utf8(std::mem::take(&mut line)).unwrap();
            if text.is_empty() {
                continue;
            }
            let reply = bench.lock().unwrap().answer(&text);
            if let Some(reply) = reply {
                end.write_all(reply.as_bytes()).await.unwrap();
            }
        }
    }

    /// What comes of teaching it: the first line typed says whether it may be asked, and each display is typed while its
    /// answer to the last of the questions stands.
    async fn taught(bench: &Arc<Mutex<Bench>>, first: &str, shown: &[(&str, &str)]) -> (Result<u8, Failure>, String) {
        let (end, slave) = SerialStream::pair().unwrap();
        let folder = tempfile::tempdir().unwrap();
        let asked = Asked {
            port: slave.name().unwrap(),
            out: folder.path().join("asked.ron"),
            speeds: vec![9600, 2400],
            listen: LISTEN,
        };
        let meter = tokio::spawn(serve(end, Arc::clone(bench)));
        let (send, mut lines) = unbounded_channel::<Said>();
        send.send(Said::from(first)).unwrap();
        let own = |(reply, display): &(&str, &str)| ((*reply).to_owned(), (*display).to_owned());
        let shown: Vec<(String, String)> = shown.iter().map(own).collect();
        let dial = Arc::clone(bench);
        let engineer = tokio::spawn(async move {
            for (reply, display) in shown {
                let question = dial.lock().unwrap().answers.last().unwrap().0.clone();
                while !dial.lock().unwrap().asked.contains(&question) {
                    tokio::time::sleep(LISTEN / 10).await;
                }
                dial.lock().unwrap().answers.last_mut().unwrap().1 = reply;
                tokio::time::sleep(LISTEN * 3).await;
                send.send(Said::from(&*display)).unwrap();
            }
        });
        let result = teach(&asked, &mut lines).await;
        engineer.abort();
        meter.abort();
        drop(slave);
        (result, std::fs::read_to_string(&asked.out).unwrap_or_default())
    }

    async fn check(answers: &[(&str, &str)], first: &str, message: &str, hint: &str) -> Vec<String> {
        let bench = Bench::answering(answers);
        let (result, text) = taught(&bench, first, &[]).await;
        let failure = result.unwrap_err();
        let said = failure.message.split('`').step_by(2).collect::<Vec<_>>().join("_");
        assert_eq!((said.as_str(), failure.hint.as_deref()), (message, Some(hint)));
        assert_eq!(text, "");
        std::mem::take(&mut bench.lock().unwrap().asked)
    }

    #[tokio::test]
    async fn without_a_yes_nothing_is_written_to_the_device() {
        let asked = check(
            &[("*IDN?", "METER")],
            "y",
            "nothing is heard on _",
            "switch the meter on and its sending, often a key that is held while switching on, and try again",
        )
        .await;
        assert_eq!(asked, [""; 0]);
    }

    #[tokio::test]
    async fn what_answers_nothing_is_to_be_switched_on() {
        let asked = check(
            &[],
            "yes",
            "nothing is heard on _, and no question is answered",
            "switch the meter on, set it to be read over its cable, check the cable, and try again",
        )
        .await;
        assert_eq!(asked.first().map(|line| line.trim()), Some("*IDN?"));
    }

    #[tokio::test]
    async fn what_answers_with_no_reading_leads_to_its_manual() {
        check(
            &[("*IDN?", "METER")],
            "yes",
            "no reading is answered on _",
            "look up in the meter's manual what it is asked for a reading, and write the profile by hand",
        )
        .await;
    }

    #[tokio::test]
    async fn what_does_not_name_its_function_is_described_by_hand() {
        check(
            &[("READ?", "+1.2E+00")],
            "yes",
            "_ is answered with _, which does not name what is measured",
            "write a profile for each position of the dial by hand: no answer tells where it stands",
        )
        .await;
    }

    #[tokio::test]
    async fn a_meter_that_answers_only_when_asked_is_learnt_with_its_question() {
        let bench = Bench::answering(&[("*IDN?", "INSTRUMENT,0"), ("READ?;:FUNC?", "+0.00000000E+00;\"VOLT\"")]);
        let displays = [
            ("+1.23400000E+01;\"VOLT\"", "12.34 V dc"),
            ("-5.67800000E+01;\"VOLT\"", "-56.78 V dc"),
            ("+9.01200000E+03;\"RES\"", "9.012 kohm"),
            ("+2.30100000E+02;\"VOLT:AC\"", "230.1 V ac"),
            ("+2.30100000E+02;\"VOLT:AC\"", "skip"),
            ("+2.34000000E-01;\"VOLT\"", "234.0 mV dc"),
            ("+9.90000000E+37;\"RES\"", "OL Mohm"),
            ("+4.73100000E+01;\"RES\"", "47.31 ohm"),
            ("+2.30100000E+02;\"VOLT:AC\"", "skip"),
            ("+1.15600000E+02;\"VOLT:AC\"", "115.6 V ac"),
            ("+3.30000000E+03;\"RES\"", "3.300 kohm"),
            ("+3.30000000E+03;\"RES\"", ""),
        ];
        let (result, text) = taught(&bench, "yes", &displays).await;
        assert_eq!(result.unwrap(), PASSED);
        let learnt = Profile::read(&text).unwrap();
        let Talk::Query { setup, ask, end } = &learnt.talk else {
            panic!("{text}");
        };
        assert_eq!((setup.len(), ask.as_str(), end.as_str()), (0, "READ?;:FUNC?", "\n"));
        assert!(text.contains("// Read by asking `READ?;:FUNC?`.\n"), "{text}");
        assert!(
            text.contains("// The speed of 9600 bits a second is not proved.\n"),
            "{text}"
        );
        // what was learnt reads as the withheld profile does, or refuses
        let withheld = find("query-488").unwrap();
        let capture = include_str!("../../fixtures/captures/query-488.txt");
        let more = [
            "+7.70000000E+02;\"VOLT:AC\"",
            "-4.20000000E-03;\"VOLT\"",
            "+1.00000000E+06;\"RES\"",
        ];
        let mut read = 0;
        for line in capture.lines().chain(more) {
            if let Decoded::Reading(reading) = decode(&learnt, line.as_bytes()) {
                let Decoded::Reading(right) = decode(withheld, line.as_bytes()) else {
                    panic!("`{line}` was refused by the withheld profile");
                };
                assert_eq!(
                    (reading.display(), reading.function),
                    (right.display(), right.function),
                    "{line}"
                );
                read += 1;
            }
        }
        assert!(8 <= read, "{read} lines were read");
        let strange = decode(&learnt, b"+1.00000000E+00;\"CURR\"");
        assert!(!matches!(strange, Decoded::Reading(_)));
    }
}

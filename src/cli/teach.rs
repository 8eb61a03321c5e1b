//! `meter teach`: an unknown meter on a serial port, an engineer who types what its display shows, and a profile at last.
//!
//! The rule inside: what is taken for a display is what was heard before it was typed; nothing is written until every
//! explanation that is left reads the same, and an existing file is never written over.

use std::io::Write;
use std::path::Path;
use std::time::Duration;

use tokio::sync::mpsc::UnboundedReceiver;
use tokio::time::Instant;

use super::error::{Failure, PASSED};
use super::out::say;
use super::teach_ask::{Asking, ask};
use super::teach_port::{Asked, LEVELS, read};
use crate::explain::Explain;
use crate::meter::decode::Line;
use crate::meter::port::serial::SerialPath;
use crate::meter::port::{Opener, Port};
use crate::run::dialogue::Said;
use crate::teach::display::Display;
use crate::teach::learner::{DISPLAYS_MAX, Learner, Learnt, Progress};
use crate::teach::listen::{Choice, choose, plain_line};

/// How long to listen where nothing else is said: two sendings at least of a meter that sends once in two seconds.
pub(super) const LISTEN: Duration = Duration::from_millis(4500);

/// Learns the meter on a port. Each line is a display as typed, `skip` where the wished one cannot be shown, or empty to
/// end; the end of the lines ends as well.
pub(super) async fn teach(asked: &Asked, lines: &mut UnboundedReceiver<Said>) -> Result<u8, Failure> {
    let name = name_of(&asked.out)?;
    say!(
        "Listening on {}; let the meter send, and leave its display as it is.",
        asked.port
    );
    let (choice, question) = loop {
        if let Some(choice) = listen(asked).await? {
            break (choice, None);
        }
        if let Some((choice, question)) = ask(asked, lines).await? {
            break (choice, Some(question));
        }
        say!("Listening; part the probes and join them again and again, so that the display changes.");
    };
    say!("Heard: {}.", choice.why);
    let mut port = SerialPath::new(&asked.port, &choice.line).open().await?;
    let mut learner = question.clone().map_or_else(Learner::new, Learner::asking);
    let mut asking = question.map(Asking::new);
    while learner.displays().len() < DISPLAYS_MAX {
        let wish = learner.wishes().into_iter().next();
        match &wish {
            _ if learner.is_doubtful() => {
                say!("Look at the display, and type once more what it shows, or press Enter to end:")
            }
            Some(wish) => say!(
                "Make the meter show {wish}. When it stands still, type what it shows, or `skip` if this meter never shows that:"
            ),
            None => say!("Type one more display, or press Enter to write the profile:"),
        }
        let (line, (heard, stood)) = wait(asked, port.as_mut(), asking.as_mut(), lines).await?;
        match (line.as_deref().map(str::trim), wish) {
            (None | Some(""), _) => break,
            (Some("skip"), Some(wish)) if !learner.is_doubtful() => learner.lacks(&wish),
            (Some("skip"), _) => break,
            (Some(typed), _) => match take(&mut learner, typed, &heard) {
                Ok(progress) => {
                    learner.was_silent(!stood);
                    report(&progress, learner.displays().len());
                }
                Err(failure) => say!("{} - {}", failure.message, failure.hint.unwrap_or_default()),
            },
        }
    }
    let learnt = learner.finish(&name, &choice.line, choice.proved)?;
    write(&asked.out, &learnt)?;
    for remark in &learnt.remarks {
        say!("{remark}");
    }
    say!("Written: {}", asked.out.display());
    Ok(PASSED)
}

fn take(learner: &mut Learner, typed: &str, heard: &[u8]) -> Result<Progress, Failure> {
    let display = Display::parse(typed).map_err(|error| {
        let failure = Failure::refused(error.to_string());
        failure.hint(error.hint().unwrap_or_default())
    })?;
    if learner.is_doubtful() {
        return Ok(learner.correct(display)?);
    }
    Ok(learner.show(display, heard)?)
}

fn report(progress: &Progress, displays: usize) {
    say!("{}: {}.", displays, progress.certainty);
    if let Some(differ) = &progress.differ {
        if DISPLAYS_MAX <= displays {
            say!("Ambiguous: {differ}.");
        } else {
            say!("Not settled: {differ}.");
        }
    }
    for open in &progress.open {
        say!("Open: {open}.");
    }
}

/// The name of the profile, from the name of its file.
fn name_of(out: &Path) -> Result<String, Failure> {
    if out.exists() {
        return Err(Failure::refused(format!("`{}` is there already", out.display())).hint("name a file that is not"));
    }
    let stem = out
        .file_stem()
        .map(|stem| stem.to_string_lossy().to_ascii_lowercase())
        .unwrap_or_default();
    let plain = |c: char| {
        if c.is_ascii_lowercase() || c.is_ascii_digit() {
            c
        } else {
            '-'
        }
    };
    let words: String = stem.chars().map(plain).collect();
    let name = words
        .split('-')
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join("-");
    if name.is_empty() || 64 < name.len() {
        return Err(
            Failure::refused(format!("`{}` gives no name for a profile", out.display()))
                .hint("name the file in lower-case words and digits joined by hyphens, for example bench-meter.ron"),
        );
    }
    Ok(name)
}

/// Listens at each speed until something is heard, with each level of the modem lines where nothing is; `None` where
/// nothing is at all.
async fn listen(asked: &Asked) -> Result<Option<Choice>, Failure> {
    for (dtr, rts) in LEVELS {
        let mut heard: Vec<(Line, Vec<u8>)> = Vec::new();
        for speed in asked.speeds() {
            let line = plain_line(*speed, dtr, rts);
            let mut port = SerialPath::new(&asked.port, &line).open().await?;
            let mut bytes = Vec::new();
            let end = Instant::now() + asked.listen;
            while let Some(some) = read(asked, port.as_mut(), end).await? {
                bytes.extend(some);
            }
            heard.push((line, bytes));
        }
        if heard.iter().all(|(_, bytes)| bytes.is_empty()) {
            continue;
        }
        return choose(&heard).map(Some).ok_or_else(|| {
            Failure::equipment(format!("the bytes on `{}` have no structure at any speed", asked.port))
                .hint("leave the display still while the program listens, and check that the cable is the meter's own")
        });
    }
    Ok(None)
}

/// The next line that is typed, what was heard while the display stood before it, and whether that was heard of late.
async fn wait(
    asked: &Asked,
    port: &mut dyn Port,
    mut asking: Option<&mut Asking>,
    lines: &mut UnboundedReceiver<Said>,
) -> Result<(Option<String>, (Vec<u8>, bool)), Failure> {
    let mut heard: Vec<(Instant, Vec<u8>)> = Vec::new();
    // answers may come once a second only
    let stood = if asking.is_some() {
        asked.listen * 2
    } else {
        asked.listen
    };
    loop {
        // a wake-up now and then keeps the window short while nothing comes
        let mut end = Instant::now() + Duration::from_secs(1);
        if let Some(asking) = &mut asking {
            asking.poll(asked, port).await?;
            end = end.min(asking.next_at(asked));
        }
        tokio::select! {
            biased;
            line = lines.recv() => {
                let line = line.map(|said| said.into_line().unwrap_or_default());
                forget(&mut heard, stood, Instant::now());
                let of_late = heard.last().is_some_and(|(at, _)| at.elapsed() <= stood);
                return Ok((line, (heard.into_iter().flat_map(|(_, bytes)| bytes).collect(), of_late)));
            }
            some = read(asked, port, end) => {
                let some = some?;
                if let (Some(asking), Some(bytes)) = (&mut asking, &some) {
                    asking.hear(bytes);
                }
                heard.extend(some.map(|bytes| (Instant::now(), bytes)));
                forget(&mut heard, stood, Instant::now());
            }
        }
    }
}

/// A pause between two sendings.
const PAUSE: Duration = Duration::from_millis(300);

/// Forgets what was heard longer ago than the display must have stood, but for the last sending: a meter that sends only when
/// its display changes has sent nothing since.
fn forget(heard: &mut Vec<(Instant, Vec<u8>)>, stood: Duration, now: Instant) {
    let Some(last) = heard.last().map(|(at, _)| *at) else {
        return;
    };
    heard.retain(|(at, _)| now.duration_since(*at) <= stood || last.duration_since(*at) < PAUSE);
}

fn write(out: &Path, learnt: &Learnt) -> Result<(), Failure> {
    let made = std::fs::OpenOptions::new().write(true).create_new(true).open(out);
    made.and_then(|mut file| {
        file.write_all(learnt.profile.text.as_bytes())?;
        file.sync_all()
    })
    .map_err(|error| {
        Failure::equipment(format!("`{}` cannot be written: {error}", out.display()))
            .hint("name another file, or make room")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::decode::Profile;
    use std::sync::{Arc, Mutex};
    use tokio::io::AsyncWriteExt;
    use tokio::sync::mpsc::unbounded_channel;
    use tokio_serial::{SerialPort, SerialStream};

    /// A meter on a pseudo-terminal that sends its line again and again; an engineer who changes it and types.
    async fn taught(displays: &[(&str, &str)]) -> (Result<u8, Failure>, Option<String>) {
        let (mut end, slave) = SerialStream::pair().unwrap();
        let port = slave.name().unwrap();
        let folder = tempfile::tempdir().unwrap();
        let asked = Asked {
            port,
            out: folder.path().join("Bench meter.ron"),
            speeds: vec![9600, 2400],
            listen: Duration::from_millis(200),
        };
        let shown = Arc::new(Mutex::new(
            displays.first().map_or(String::new(), |one| one.0.to_owned()),
        ));
        let sent = Arc::clone(&shown);
        let meter = tokio::spawn(async move {
            loop {
                let line = sent.lock().unwrap().clone();
                let _ = AsyncWriteExt::write_all(&mut end, line.as_bytes()).await;
                tokio::time::sleep(Duration::from_millis(10)).await;
            }
        });
        let (send, mut lines) = unbounded_channel();
        let typed: Vec<(String, String)> = displays
            .iter()
            .map(|(a, b)| ((*a).to_owned(), (*b).to_owned()))
            .collect();
        let engineer = tokio::spawn(async move {
            tokio::time::sleep(Duration::from_millis(500)).await;
            for (line, display) in typed {
                *shown.lock().unwrap() = line;
                tokio::time::sleep(Duration::from_millis(450)).await;
                send.send(Said::from(&*display)).unwrap();
            }
        });
        let result = teach(&asked, &mut lines).await;
        meter.abort();
        engineer.abort();
        drop(slave);
        (result, std::fs::read_to_string(&asked.out).ok())
    }

    #[tokio::test]
    async fn a_meter_on_a_pseudo_terminal_is_taught_and_its_speed_is_not_proved() {
        let (result, text) = taught(&[
            ("DC 12.34 V\r\n", "12.34 V dc"),
            ("DC -56.78 V\r\n", "-56.78 V dc"),
            ("R 9.012 kOhm\r\n", "9.012 kohm"),
            ("AC 230.1 V\r\n", "230.1 V ac"),
            // continuity, and millivolts
            ("AC 230.1 V\r\n", "skip"),
            ("AC 230.1 V\r\n", "skip"),
            ("R OF MOhm\r\n", "OL Mohm"),
            ("R 47.31 Ohm\r\n", "47.31 ohm"),
            ("AC 230.1 V\r\n", "skip"),
            // examined
            ("AC 115.6 V\r\n", "115.6 V ac"),
            ("R 3.300 kOhm\r\n", "3.300 kohm"),
            ("R 3.300 kOhm\r\n", ""),
        ])
        .await;
        assert_eq!(result.unwrap(), PASSED);
        let profile = Profile::read(&text.unwrap()).unwrap();
        assert_eq!((profile.name.as_str(), profile.line.baud), ("bench-meter", 9600));
        assert!(
            profile
                .text
                .contains("// The speed of 9600 bits a second is not proved.\n")
        );
    }

    #[test]
    fn the_last_sending_is_kept_however_long_the_display_stood_since() {
        let began = Instant::now();
        let after = |ms: u64| began + Duration::from_millis(ms);
        let mut heard = vec![
            (began, b"old".to_vec()),
            (after(5000), b"DC ".to_vec()),
            (after(5020), b"1.5 V".to_vec()),
        ];
        forget(&mut heard, LISTEN, after(65_000));
        let kept: Vec<u8> = heard.into_iter().flat_map(|(_, bytes)| bytes).collect();
        assert_eq!(kept, b"DC 1.5 V");
    }

    #[tokio::test]
    async fn a_silent_port_names_the_next_act() {
        let (result, text) = taught(&[("", "")]).await;
        let failure = result.unwrap_err();
        assert!(
            failure.message.starts_with("nothing is heard on `/dev/"),
            "{}",
            failure.message
        );
        assert_eq!(
            failure.hint.as_deref(),
            Some("switch the meter on and its sending, often a key that is held while switching on, and try again")
        );
        assert_eq!(text, None);
    }

    #[test]
    fn a_file_name_becomes_a_profile_name_or_is_refused() {
        for (out, expected) in [
            ("Bench Meter_2.ron", "bench-meter-2"),
            ("--.ron", "`--.ron` gives no name for a profile"),
            ("Cargo.toml", "`Cargo.toml` is there already"),
        ] {
            let found = name_of(Path::new(out)).unwrap_or_else(|failure| failure.message);
            assert_eq!(found, expected);
        }
    }
}

//! The whole of what a page shows, as it is sent.
//!
//! The rule inside: it is what the engine shows and nothing more; no member says which answer is wanted, or whether what the meter shows
//! now would pass.

use serde::Serialize;

use super::about::About;
use super::chosen::{Typed, takes_several, typed};
use super::picture;
use crate::job::End;
use crate::plan::Point;
use crate::run::dialogue::{Ask, Bar, Prompt, View, Weight};
use crate::run::fold::Circuit;
use crate::terminal::plain::clean;

/// What is known of the circuit.
#[derive(Debug, Serialize)]
struct Known {
    kind: &'static str,
    word: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    at: Option<String>,
}

#[derive(Debug, Serialize)]
struct Chosen<'v> {
    word: &'v str,
    means: &'v str,
    weight: Weight,
    /// It stands apart: it says that something was not done, or ends something.
    refuses: bool,
}

/// One of the two points.
#[derive(Debug, Serialize)]
struct Probe<'v> {
    /// `near`, `far`, or none where it is at neither end.
    end: Option<&'static str>,
    words: &'v str,
}

#[derive(Debug, Serialize)]
struct Asked<'v> {
    number: u64,
    step: &'v str,
    place: (usize, usize),
    stage: Option<&'static str>,
    say: &'v str,
    todo: &'v [String],
    hands: &'v [String],
    cautions: &'v [String],
    stand: Option<&'v str>,
    instrument: Option<&'v str>,
    window: Option<String>,
    bar: Option<Bar>,
    sources: &'v [String],
    probes: Vec<Probe<'v>>,
    together: Vec<(&'v str, &'v str)>,
    choices: Vec<Chosen<'v>>,
    several: bool,
    typed: Option<Typed>,
    /// A picture can be taken.
    photograph: bool,
    typed_weight: Weight,
    free: Option<&'v str>,
    units: Vec<&'static str>,
    reasons: &'static [&'static str],
    from_meter: bool,
}

#[derive(Debug, Serialize)]
struct Before<'v> {
    step: &'v str,
    display: Option<&'v str>,
    outcome: Option<&'static str>,
    because: Option<&'v str>,
    beside: Vec<&'v str>,
}

/// The state of a page.
#[derive(Debug, Serialize)]
pub(super) struct State<'v> {
    now: u64,
    version: u64,
    title: &'v str,
    near: &'v str,
    far: &'v str,
    fresh_ms: u64,
    picture_bytes_max: usize,
    circuit: Known,
    danger: Option<(u64, &'v str)>,
    prompt: Option<Asked<'v>>,
    last: Option<Before<'v>>,
    notes: &'v [String],
    finished: Option<(&'static str, &'v str)>,
    closing: Option<&'v [String]>,
    answers: bool,
    /// The number of its browser, and of the one that answers.
    device: Option<u32>,
    answering: Option<u32>,
    at_laptop: bool,
}

/// What the meter shows now.
#[derive(Debug, Serialize)]
pub(super) struct Moving<'v> {
    now: u64,
    read: u64,
    prompt: u64,
    digits: &'v str,
    state: &'v str,
    place: Option<f64>,
}

/// What is sent beside the view.
#[derive(Debug, Clone, Copy)]
pub(super) struct Beside<'v> {
    pub now: u64,
    pub version: u64,
    pub about: &'v About,
    pub closing: Option<&'v [String]>,
    /// Whether the page that it is sent to may answer.
    pub answers: bool,
    /// The number of the browser that page is in.
    pub device: Option<u32>,
    /// The number of the browser that answers.
    pub answering: Option<u32>,
    /// Whether it has answered since, so that whoever holds it stands where it is asked.
    pub stands_there: bool,
    /// Whether that page is on the laptop.
    pub at_laptop: bool,
}

impl<'v> State<'v> {
    pub(super) fn of(view: &'v View, beside: Beside<'v>) -> State<'v> {
        State {
            now: beside.now,
            version: beside.version,
            title: &beside.about.title,
            near: &beside.about.near,
            far: &beside.about.far,
            fresh_ms: beside.about.fresh_ms,
            picture_bytes_max: picture::BYTES_MAX,
            circuit: known(match view.circuit {
                // it was proved where the person stands who answers; where another page is nobody knows
                Circuit::ProvedDead { .. } if !beside.stands_there => Circuit::NotProved,
                circuit => circuit,
            }),
            danger: view.danger.as_ref().map(|(number, text)| (*number, text.as_str())),
            prompt: view.prompt.as_ref().map(asked),
            last: view.last.as_ref().map(|last| Before {
                step: &last.step,
                display: last.display.as_deref(),
                outcome: last.verdict.as_ref().map(|verdict| verdict.outcome.word()),
                because: last.verdict.as_ref().map(|verdict| verdict.because.as_str()),
                beside: last
                    .verdict
                    .iter()
                    .flat_map(|v| [&v.mark, &v.edge])
                    .flatten()
                    .map(String::as_str)
                    .collect(),
            }),
            notes: &view.notes,
            finished: view
                .finished
                .as_ref()
                .map(|(outcome, ending)| (outcome.word(), ending.as_str())),
            closing: beside.closing,
            answers: beside.answers,
            device: beside.device,
            answering: beside.answering,
            at_laptop: beside.at_laptop,
        }
    }

    /// As one line of JSON without what a display would hide.
    pub(super) fn json(&self) -> String {
        clean(&serde_json::to_string(self).expect("plain data"))
    }
}

impl<'v> Moving<'v> {
    /// Of a view with a live reading that came at this time.
    pub(super) fn of(view: &'v View, now: u64, read: u64) -> Option<Moving<'v>> {
        let live = view.live.as_ref()?;
        let prompt = view.prompt.as_ref()?;
        Some(Moving {
            now,
            read,
            prompt: prompt.number,
            digits: &live.digits,
            state: &live.state,
            place: bar(prompt).map(|bar| bar.place(live.needle)),
        })
    }

    pub(super) fn json(&self) -> String {
        clean(&serde_json::to_string(self).expect("plain data"))
    }
}

fn known(circuit: Circuit) -> Known {
    let (kind, word, at) = match circuit {
        Circuit::NotProved => ("unknown", "NOT PROVED", None),
        Circuit::ProvedDead { at } => ("dead", "PROVED DEAD", Some(at.to_string())),
        Circuit::TestVoltage => ("test", "TEST VOLTAGE", None),
        Circuit::Live => ("live", "LIVE", None),
    };
    Known { kind, word, at }
}

fn bar(prompt: &Prompt) -> Option<Bar> {
    match (&prompt.window, &prompt.ask) {
        (Some(window), Ask::Reading { function, .. }) => Bar::of(window, *function),
        _ => None,
    }
}

fn asked(prompt: &Prompt) -> Asked<'_> {
    let (units, from_meter) = match &prompt.ask {
        Ask::Reading { function, from_meter } => {
            let units: &[&str] = match format!("{}{}", function.prefix().letter(), function.unit()).as_str() {
                "ohm" => &["ohm", "kohm", "Mohm"],
                "kohm" => &["kohm", "ohm", "Mohm"],
                "Mohm" => &["Mohm", "kohm", "ohm"],
                "V" => &["V", "mV"],
                "s" => &["s", "ms"],
                _ => &["ms", "s"],
            };
            (units.to_vec(), *from_meter)
        }
        _ => (Vec::new(), false),
    };
    Asked {
        number: prompt.number,
        step: &prompt.step,
        place: prompt.place,
        stage: prompt.stage.map(crate::plan::Stage::words),
        say: &prompt.say,
        todo: &prompt.todo,
        hands: &prompt.hands,
        cautions: &prompt.cautions,
        stand: prompt.stand.as_deref(),
        instrument: prompt.instrument.as_deref(),
        window: prompt.window.as_ref().map(crate::judge::window::Window::words),
        bar: bar(prompt),
        sources: &prompt.sources,
        probes: probes(prompt),
        together: prompt
            .together
            .iter()
            .map(|one| (one.step.as_str(), one.say.as_str()))
            .collect(),
        choices: prompt
            .choices
            .iter()
            .map(|choice| Chosen {
                word: &choice.word,
                means: &choice.means,
                weight: prompt.weight(&choice.word),
                refuses: ["no", "abandon", "leave", "back"].contains(&choice.word.as_str()),
            })
            .collect(),
        several: takes_several(prompt),
        typed: typed(prompt),
        photograph: prompt.photograph,
        typed_weight: prompt.weight_of_typed(),
        free: prompt.free.as_deref(),
        units,
        reasons: prompt.reasons,
        from_meter,
    }
}

fn probes(prompt: &Prompt) -> Vec<Probe<'_>> {
    let (Some(probes), Some((first, second))) = (&prompt.probes, &prompt.points) else {
        return Vec::new();
    };
    let probe = |point: &Point, words| Probe {
        end: point.end().map(|end| match end {
            End::Near => "near",
            End::Far => "far",
        }),
        words,
    };
    vec![probe(&probes.first, first), probe(&probes.second, second)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::window::Window;
    use crate::run::dialogue::{Needle, Show};
    use crate::value::quantity::{Amount, Unit};
    use crate::value::reading::Function;
    use rust_decimal::Decimal;

    fn about() -> About {
        About {
            title: "a cable".into(),
            near: "wiring centre".into(),
            far: "thermostat".into(),
            fresh_ms: 1000,
            pictures: "run".into(),
        }
    }

    fn view(live: &str, at: i64) -> View {
        let amount = Amount::parse("0.50 ohm").unwrap();
        let prompt = Prompt {
            number: 3,
            window: Some(Window::new(None, Some(amount), Unit::Ohm, Vec::new())),
            ..Prompt::default()
        };
        let ask = Ask::Reading {
            function: Function::Continuity,
            from_meter: true,
        };
        let mut view = View::default();
        view.take(&Show::Prompt(Box::new(prompt.asking(ask))));
        view.take(&Show::Live {
            digits: live.into(),
            state: "steady".into(),
            needle: Needle::At(Decimal::new(at, 2)),
        });
        view
    }

    fn json(view: &View) -> String {
        sent(view, true)
    }

    fn sent(view: &View, stands_there: bool) -> String {
        let about = about();
        let beside = Beside {
            now: 1,
            version: 2,
            about: &about,
            closing: None,
            answers: true,
            device: Some(1),
            answering: Some(1),
            stands_there,
            at_laptop: true,
        };
        State::of(view, beside).json()
    }

    #[test]
    fn nothing_says_beforehand_whether_a_reading_would_pass() {
        // the same state but for the place of the needle, on either side of the edge
        assert_eq!(json(&view("0.42 ohm", 42)), json(&view("0.58 ohm", 58)));
        let moving = |view: &View| Moving::of(view, 5, 4).unwrap().json();
        let inside = moving(&view("0.42 ohm", 42))
            .replace("0.42 ohm", "D")
            .replace("0.42", "P");
        let outside = moving(&view("0.58 ohm", 58))
            .replace("0.58 ohm", "D")
            .replace("0.58", "P");
        assert_eq!(inside, outside);
    }

    #[test]
    fn dead_stands_only_where_whoever_holds_the_page_stands() {
        for (circuit, here, elsewhere) in [
            (Circuit::NotProved, "NOT PROVED", "NOT PROVED"),
            (
                Circuit::ProvedDead {
                    at: "2026-11-25T08:00:00Z".parse().unwrap(),
                },
                "PROVED DEAD",
                "NOT PROVED",
            ),
            (Circuit::TestVoltage, "TEST VOLTAGE", "TEST VOLTAGE"),
            (Circuit::Live, "LIVE", "LIVE"),
        ] {
            let mut view = View::default();
            view.circuit = circuit;
            for (stands_there, expected) in [(true, here), (false, elsewhere)] {
                let read: serde_json::Value = serde_json::from_str(&sent(&view, stands_there)).unwrap();
                assert_eq!(read["circuit"]["word"], expected);
                assert_eq!(read["circuit"]["at"].is_string(), expected == "PROVED DEAD");
            }
        }
    }

    #[test]
    fn the_state_is_data_that_a_page_can_show() {
        let read: serde_json::Value = serde_json::from_str(&json(&view("0.42 ohm", 42))).unwrap();
        assert_eq!(read["circuit"]["word"], "NOT PROVED");
        assert_eq!(read["prompt"]["number"], 3);
        assert_eq!(read["prompt"]["bar"]["high"]["place"], 0.5);
        assert_eq!(read["prompt"]["typed"], "reading");
        assert_eq!(read["prompt"]["choices"][0]["weight"], "plain");
        assert!(read["prompt"].get("circuit").is_none());
    }
}

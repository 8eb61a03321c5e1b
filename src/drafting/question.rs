//! What is asked, in the order in which a person looks at a wiring centre: where, the supply and its protection, the cable, its ends, what
//! hangs on them.
//!
//! The rule inside: a supply, a point of isolation, an earthing, a protective device, a length and what a terminal is for are never taken from
//! anywhere but an answer.

use jiff::civil::Date;

use super::lists::{Entry, Of};
use super::piece::{core, plain};
use crate::job::{End, Job, Purpose};
use crate::located::{listed, nearest};
use crate::value::quantity::{Amount, Unit};

/// What an answer must be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answers {
    /// A plain name.
    Name,
    /// A plain name, or `none`.
    NameOrNone,
    /// An amount of this unit; `none` where it may be left out.
    Amount {
        /// The unit.
        unit: Unit,
        /// Whether `none` is an answer.
        or_none: bool,
    },
    /// One of these words.
    OneOf(Vec<String>),
    /// A colour, and that of a sleeve behind the word `sleeved`; `none` where no core carries it.
    Core,
    /// `none`, or entries with `;` between them.
    Several(Of),
    /// A name, and behind it what they are and for whom they work, each of which may be left out.
    Engineer,
    /// Serial number, the day of its calibration and the day on which that is due.
    Instrument,
}

/// Where an answer goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Goes {
    /// Into the value of a field, as quoted text.
    Field(&'static [&'static str]),
    /// Into a list, as more of it or less.
    List,
    /// Into what is told once: who works.
    Engineer,
    /// Into what is told once: the instrument of this place in the base's list.
    Instrument(usize),
    /// Into what the point of isolation breaks.
    Breaks,
    /// Into the size of every core.
    Sizes,
    /// Into the colour and sleeve of the core of this place in the list.
    Core(usize),
    /// Into the name of a terminal, wherever it is spoken of.
    Terminal(End, String),
    /// Nowhere: it confirms what the base job says.
    Confirms(String),
}

/// One question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// What is asked.
    pub ask: String,
    /// What to look for; empty where the question says it.
    pub look: String,
    /// What an answer must be.
    pub answers: Answers,
    /// Where it goes.
    pub goes: Goes,
    /// What an empty line means; nothing where an answer must be typed.
    pub offered: Option<String>,
}

impl Question {
    /// What the answer must be for the base job to fit, where it confirms one.
    pub fn confirms(&self) -> Option<&str> {
        match &self.goes {
            Goes::Confirms(word) => Some(word),
            _ => None,
        }
    }

    /// Whether an answer itself says that equipment of this name is not there.
    pub fn leaves_out(&self, answer: &str, name: &str) -> bool {
        let Answers::Several(of @ Of::NotThere(_)) = &self.answers else {
            return false;
        };
        let said = of.read(answer).unwrap_or_default();
        said.contains(&Entry::NotThere(name.to_owned()))
    }

    /// The answer as it is kept.
    ///
    /// # Errors
    /// What is wrong with it, and what to type.
    pub fn taken(&self, line: &str) -> Result<String, String> {
        let line = line.trim();
        let line = match (line, &self.offered) {
            ("", Some(offered)) => offered,
            ("", None) => return Err("this is never taken as it was: look, and type what is there".into()),
            (line, _) => line,
        };
        match &self.answers {
            Answers::NameOrNone if line.eq_ignore_ascii_case("none") => Ok("none".into()),
            Answers::Name if line.eq_ignore_ascii_case("none") => Err("it needs a name".into()),
            Answers::Name | Answers::NameOrNone => plain(line),
            Answers::Amount { or_none: true, .. } if line.eq_ignore_ascii_case("none") => Ok("none".into()),
            Answers::Amount { unit, .. } => {
                let amount = Amount::parse(line)?;
                match amount.unit == *unit {
                    true => Ok(amount.to_string()),
                    false => Err(format!("`{line}` is {}: write it in `{unit}`", amount.unit.quantity())),
                }
            }
            Answers::OneOf(words) => {
                let found = words.iter().find(|word| word.eq_ignore_ascii_case(line));
                found
                    .cloned()
                    .ok_or_else(|| match nearest(line, words.iter().map(String::as_str)) {
                        Some(near) => format!("type `{near}`, if that is meant"),
                        None => format!("type one of `{}`", words.join("`, `")),
                    })
            }
            Answers::Core if line.eq_ignore_ascii_case("none") => Ok("none".into()),
            Answers::Core => {
                let (colour, sleeve) = core(line);
                plain(colour)?;
                sleeve.map_or(Ok(String::new()), plain)?;
                Ok(line.to_owned())
            }
            Answers::Several(of) => of.read(line).map(|_| line.to_owned()),
            Answers::Engineer => engineer(line).map(|_| line.to_owned()),
            Answers::Instrument => told(line).map(|_| line.to_owned()),
        }
    }
}

/// Who works, what they are, and for whom.
pub(super) fn engineer(line: &str) -> Result<Vec<String>, String> {
    let parts = line
        .split(',')
        .map(|part| plain(part.trim()))
        .collect::<Result<Vec<_>, _>>()?;
    match parts.len() {
        1..=3 => Ok(parts),
        _ => Err("write `name, position, firm`".into()),
    }
}

/// What was told of an instrument: its serial number, the day of its calibration, the day on which that is due.
pub(super) fn told(line: &str) -> Result<(String, Date, Date), String> {
    let form = "write `serial number, calibrated, due`: `A1234, 2026-09-14, 2027-09-14`";
    let parts: Vec<&str> = line.split(',').map(str::trim).collect();
    let [serial, calibrated, due] = parts.as_slice() else {
        return Err(form.into());
    };
    let day = |text: &str| text.parse::<Date>().map_err(|_| format!("`{text}` is no day: {form}"));
    let (calibrated, due) = (day(calibrated)?, day(due)?);
    if due <= calibrated {
        return Err(format!("due on {due} is not behind calibrated on {calibrated}"));
    }
    Ok((plain(serial)?, calibrated, due))
}

/// Everything that is asked of a base job, by what was answered so far. One of the person's own offers its names; a shipped one is somebody
/// else's place and offers none. Who works and with what is asked where nobody has told it yet.
pub fn questions(base: &Job, is_own: bool, tells: bool, answers: &[String]) -> Vec<Question> {
    let mut asks = Asks {
        base,
        is_own,
        answers,
        all: Vec::new(),
    };
    if tells {
        asks.who();
    }
    asks.place();
    asks.supply();
    asks.protection();
    asks.earthing();
    asks.cable();
    asks.carried();
    asks.ends();
    asks.equipment();
    asks.all
}

fn field(path: &'static [&'static str]) -> Goes {
    Goes::Field(path)
}

struct Asks<'a> {
    base: &'a Job,
    is_own: bool,
    answers: &'a [String],
    all: Vec<Question>,
}

impl Asks<'_> {
    fn ask(&mut self, ask: &str, look: &str, answers: Answers, goes: Goes, offered: Option<&str>) {
        self.all.push(Question {
            ask: ask.into(),
            look: look.into(),
            answers,
            goes,
            offered: offered.map(str::to_owned),
        });
    }

    /// What an earlier job of the person's own has, to be offered.
    fn own(&self, text: &str) -> Option<String> {
        self.is_own.then(|| text.to_owned())
    }

    /// Where it is.
    fn place(&mut self) {
        let base = self.base;
        self.ask(
            "Where is it?",
            "",
            Answers::Name,
            field(&["place", "name"]),
            self.own(&base.place.name).as_deref(),
        );
        self.ask(
            "Which part of it?",
            "`clubhouse, sail loft heating zone`",
            Answers::Name,
            field(&["place", "part"]),
            self.own(&base.place.part).as_deref(),
        );
        self.ask(
            "Who is it done for?",
            "",
            Answers::Name,
            field(&["place", "client"]),
            self.own(&base.place.client).as_deref(),
        );
    }

    /// What feeds it, and where that is switched off.
    fn supply(&mut self) {
        let base = self.base;
        self.ask(
            "Where is its supply switched off and locked?",
            "a fused connection unit, a switch, a breaker",
            Answers::Name,
            field(&["supply", "from"]),
            None,
        );
        let hang_on: Vec<_> = base.supply.further.iter().map(|there| &there.name).collect();
        let looks = "programmer, immersion heater, frost thermostat, another board".to_owned();
        let looks = match hang_on.as_slice() {
            [] => looks,
            names => format!(
                "{looks}; equipment of the base job hangs on {}",
                listed(names, |name| format!("`{name}`"))
            ),
        };
        self.several("Which other supplies reach a place of work?", &looks, Of::Supplies);
        self.ask(
            "Which supply stays live, to prove the indicator?",
            "on another circuit, or a proving unit",
            Answers::Name,
            field(&["supply", "known_source"]),
            None,
        );
        let volts = Answers::Amount {
            unit: Unit::Volt,
            or_none: false,
        };
        self.ask(
            "What is its nominal voltage?",
            "on the board's label: `230 V`",
            volts,
            field(&["supply", "nominal"]),
            None,
        );
        let breaks = Answers::OneOf(["both", "line"].map(str::to_owned).to_vec());
        self.ask(
            "Does it break line and neutral, or the line alone?",
            "a breaker or fuse breaks the line alone",
            breaks,
            Goes::Breaks,
            None,
        );
    }

    /// What protects it.
    fn protection(&mut self) {
        let base = self.base;
        let or_none = |unit| Answers::Amount { unit, or_none: true };
        self.ask(
            "What protects the circuit?",
            "`3 A fuse to BS 1362`",
            Answers::Name,
            field(&["supply", "device"]),
            None,
        );
        if base.supply.protection.is_some() {
            let ampere = Answers::Amount {
                unit: Unit::Ampere,
                or_none: false,
            };
            self.ask(
                "What do the tables call that device?",
                "`BS 1362` a plug fuse, `type B`, `type C` or `type D` a circuit-breaker",
                Answers::Name,
                field(&["supply", "protection", "device"]),
                None,
            );
            self.ask(
                "What is it rated?",
                "",
                ampere,
                field(&["supply", "protection", "rating"]),
                None,
            );
        }
        self.ask(
            "Rated residual current of the residual-current device?",
            "printed on it: `30 mA`; or `none`",
            or_none(Unit::Ampere),
            field(&["supply", "residual"]),
            None,
        );
    }

    /// How it is earthed; behind the device, since what a rod asks of it is judged at once.
    fn earthing(&mut self) {
        let base = self.base;
        let or_none = |unit| Answers::Amount { unit, or_none: true };
        let earthings = ["TN-S", "TN-C-S", "TT", "IT"].map(str::to_owned).to_vec();
        self.ask(
            "How is the installation earthed?",
            "at the origin: sheath TN-S, link to neutral TN-C-S, rod TT",
            Answers::OneOf(earthings),
            field(&["supply", "earthing"]),
            None,
        );
        if base.supply.ze.is_some() {
            self.ask(
                "What is the earth loop impedance at the near end?",
                "or `none`, where not known",
                or_none(Unit::Ohm),
                field(&["supply", "ze"]),
                None,
            );
        }
        if base.supply.upstream.is_some() {
            self.ask(
                "How far is the main earthing terminal from the near end?",
                "paced; or `none`",
                or_none(Unit::Metre),
                field(&["supply", "upstream", "length"]),
                None,
            );
            self.ask(
                "Which size is the earth conductor there?",
                "printed on that cable; or `none`",
                or_none(Unit::SquareMillimetre),
                field(&["supply", "upstream", "earth"]),
                None,
            );
        }
    }

    /// The cable.
    fn cable(&mut self) {
        let base = self.base;
        let or_none = |unit| Answers::Amount { unit, or_none: true };
        self.ask(
            "What is the cable called?",
            "`sail loft thermostat cable`",
            Answers::Name,
            field(&["cable", "name"]),
            self.own(&base.cable).as_deref(),
        );
        let size = Answers::Amount {
            unit: Unit::SquareMillimetre,
            or_none: false,
        };
        self.ask(
            "Which size are its cores?",
            "printed on the sheath: `1.0 mm2`",
            size,
            Goes::Sizes,
            None,
        );
        self.ask(
            "How long is it?",
            "paced; or `none`",
            or_none(Unit::Metre),
            field(&["cable", "length"]),
            None,
        );
        let mut earth_is_missing = base.no_earth.is_some();
        for (n, core) in base.cores.iter().enumerate() {
            let answer = self.answers.get(self.all.len());
            earth_is_missing |= core.carries == Purpose::Earth && answer.is_some_and(|answer| answer == "none");
            let question = format!("Which core carries {}?", core.carries.words());
            self.ask(
                &question,
                "its colour and sleeve: `black sleeved brown`; or `none`",
                Answers::Core,
                Goes::Core(n),
                None,
            );
        }
        if earth_is_missing {
            let looks = "a cable that carries mains without an earth core must say why: `class II throughout`";
            self.ask(
                "Why has the cable no earth core?",
                looks,
                Answers::Name,
                field(&["no_earth"]),
                None,
            );
        }
        if base.stays_connected.is_some() {
            let looks = "what the insulation test could damage and nobody can take off";
            self.ask(
                "What must stay connected to the cable?",
                looks,
                Answers::Name,
                field(&["stays_connected"]),
                None,
            );
        }
    }

    /// What is on it.
    fn carried(&mut self) {
        let base = self.base;
        let (mains, low, free) = ("mains", "extra-low", "volt-free");
        let is = |purpose: Purpose| match purpose {
            Purpose::ExtraLowVoltage => low,
            Purpose::VoltFree => free,
            _ => mains,
        };
        let carried: Vec<Purpose> = base
            .cores
            .iter()
            .map(|core| core.carries)
            .filter(|p| *p != Purpose::Earth)
            .collect();
        let words = [mains, low, free].map(str::to_owned).to_vec();
        let kind = carried
            .iter()
            .map(|purpose| is(*purpose))
            .find(|kind| *kind != mains)
            .unwrap_or(mains);
        self.ask(
            "What is on its control cores?",
            "both makers' sheets say; never guess: mains on a wrong terminal destroys what is behind it",
            Answers::OneOf(words),
            Goes::Confirms(kind.into()),
            None,
        );
    }

    /// What its terminals are for.
    fn ends(&mut self) {
        let base = self.base;
        for end in End::BOTH {
            let there = base.end(end);
            let path: &[&str] = match end {
                End::Near => &["near", "name"],
                End::Far => &["far", "name"],
            };
            let question = format!("What is the {} end called?", side(end).to_lowercase());
            self.ask(&question, "", Answers::Name, field(path), Some(&there.name));
            for terminal in &there.terminals {
                let question = format!("{} end: terminal for {}?", side(end), terminal.takes.words());
                self.ask(
                    &question,
                    "by its marking or the maker's sheet, never the colour in it; or `none`",
                    Answers::NameOrNone,
                    Goes::Terminal(end, terminal.name.clone()),
                    None,
                );
            }
            let question = format!("{} end: which more terminals?", side(end));
            self.several(&question, "", Of::Terminals(end));
            if base.has_earth_conductor(end) {
                self.metalwork(end);
            }
        }
    }

    /// What is in parallel with the earth conductor of an end.
    fn metalwork(&mut self, end: End) {
        let path: &[&str] = match end {
            End::Near => &["near", "metalwork"],
            End::Far => &["far", "metalwork"],
        };
        let question = format!(
            "{} end: which metalwork touches what its earth terminal earths?",
            side(end)
        );
        self.ask(
            &question,
            "a boiler or valve earths itself by its pipe: `copper pipe to the boiler`; or `none`",
            Answers::NameOrNone,
            field(path),
            None,
        );
    }

    /// What hangs on them.
    fn equipment(&mut self) {
        self.several("Which more cores has the cable?", "", Of::Cores);
        let base = self.base;
        let names: Vec<String> = base.equipment.iter().map(|there| there.name.clone()).collect();
        if names.is_empty() {
            return;
        }
        let question = format!(
            "Which of these is not there: {}?",
            listed(&names, |name| format!("`{name}`"))
        );
        let looks = "what hung on a missing terminal is out already";
        self.several(&question, looks, Of::NotThere(names.clone()));
        let looks = "like one of those: `frost thermostat like thermostat: near 1, near 3`";
        self.several("What else hangs on the terminals?", looks, Of::Equipment(names));
        if !base.zones.is_empty() {
            let looks = "a thermostat of that name, and what must open when it calls";
            self.several("Which more zones?", looks, Of::Zones);
        }
    }

    /// A list, of which there may be more or less than the base has.
    fn several(&mut self, ask: &str, look: &str, of: Of) {
        self.ask(ask, look, Answers::Several(of), Goes::List, None);
    }

    /// Who works, and with what; asked once.
    fn who(&mut self) {
        self.ask(
            "Who works?",
            "asked once: `name, position, firm`",
            Answers::Engineer,
            Goes::Engineer,
            None,
        );
        for (n, instrument) in self.base.instruments.iter().enumerate() {
            let question = format!("Your {}: serial number, calibrated, due?", instrument.kind);
            self.ask(
                &question,
                "`A1234, 2026-09-14, 2027-09-14`",
                Answers::Instrument,
                Goes::Instrument(n),
                None,
            );
        }
    }
}

/// An end in a word.
fn side(end: End) -> &'static str {
    match end {
        End::Near => "Near",
        End::Far => "Far",
    }
}

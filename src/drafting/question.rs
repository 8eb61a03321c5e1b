//! What is asked, in the order in which a person looks at a wiring centre: where, the supply and its protection, the cable, its ends, what
//! hangs on them.
//!
//! The rule inside: a supply, a point of isolation, an earthing, a protective device, a length and what a terminal is for are never taken from
//! anywhere but an answer.

use crate::job::{End, Is, Job, Purpose};
use crate::located::{is_unseen, nearest};
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
    /// A colour, and that of a sleeve behind the word `sleeved`.
    Core,
    /// `none`, or supplies as `name = point of isolation` with `;` between them.
    Further,
}

/// Where an answer goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Goes {
    /// Into the value of a field, as quoted text.
    Field(&'static [&'static str]),
    /// Into the further supplies.
    Further,
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
    /// What to look for.
    pub look: String,
    /// What an answer must be.
    pub answers: Answers,
    /// Where it goes.
    pub goes: Goes,
    /// What an empty line means; nothing where an answer must be typed.
    pub offered: Option<String>,
}

/// Longest name, in characters: as long as a job's names may be.
const NAME_MAX: usize = 60;

impl Question {
    /// What the answer must be for the base job to fit, where it confirms one.
    pub fn confirms(&self) -> Option<&str> {
        match &self.goes {
            Goes::Confirms(word) => Some(word),
            _ => None,
        }
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
            Answers::Core => {
                let (colour, sleeve) = core(line);
                plain(colour)?;
                sleeve.map_or(Ok(String::new()), plain)?;
                Ok(line.to_owned())
            }
            Answers::Further if line.eq_ignore_ascii_case("none") => Ok("none".into()),
            Answers::Further => {
                for one in line.split(';') {
                    let (name, from) = one.split_once('=').ok_or("write each as `name = point of isolation`")?;
                    plain(name.trim())?;
                    plain(from.trim())?;
                }
                Ok(line.to_owned())
            }
        }
    }
}

fn plain(name: &str) -> Result<String, String> {
    if name.is_empty() || NAME_MAX < name.chars().count() {
        return Err(format!("a name has 1 to {NAME_MAX} characters"));
    }
    match name.chars().find(|c| is_unseen(*c) || "/{}\"\\".contains(*c)) {
        Some(c) => Err(format!("leave out `{}`", c.escape_debug())),
        None => Ok(name.to_owned()),
    }
}

/// The colour of a core, and that of its sleeve.
pub(super) fn core(line: &str) -> (&str, Option<&str>) {
    match line.split_once(" sleeved ") {
        Some((colour, sleeve)) => (colour.trim(), Some(sleeve.trim())),
        None => (line.trim(), None),
    }
}

/// Everything that is asked of a base job. One of the person's own offers its names; a shipped one is somebody else's place and offers none.
pub fn questions(base: &Job, is_own: bool) -> Vec<Question> {
    let mut asks = Asks {
        base,
        is_own,
        all: Vec::new(),
    };
    asks.place();
    asks.supply();
    asks.protection();
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
            "the name that the record is headed with",
            Answers::Name,
            field(&["place", "name"]),
            self.own(&base.place.name).as_deref(),
        );
        self.ask(
            "Which part of it?",
            "what this cable belongs to: `clubhouse, sail loft heating zone`",
            Answers::Name,
            field(&["place", "part"]),
            self.own(&base.place.part).as_deref(),
        );
        self.ask(
            "Who is it done for?",
            "the client, as the record names them",
            Answers::Name,
            field(&["place", "client"]),
            self.own(&base.place.client).as_deref(),
        );
    }

    /// What feeds it, and where that is switched off.
    fn supply(&mut self) {
        let base = self.base;
        self.ask(
            "Where is the supply of this cable switched off and locked?",
            "follow it back from the wiring centre: a fused connection unit, a switch, a breaker",
            Answers::Name,
            field(&["supply", "from"]),
            None,
        );
        let looks = "programmer, immersion heater, frost thermostat, another board; `none`, or `name = point of isolation`, several with `;` between \
                 them";
        let hang_on: Vec<_> = base
            .supply
            .further
            .iter()
            .map(|there| format!("`{}`", there.name))
            .collect();
        let looks = match hang_on.as_slice() {
            [] => looks.to_owned(),
            names => format!("{looks}; equipment of the base job hangs on {}", names.join(", ")),
        };
        self.ask(
            "Which other supplies reach a place of work?",
            &looks,
            Answers::Further,
            Goes::Further,
            None,
        );
        self.ask(
            "Which supply stays live, to prove the indicator on?",
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
            "What is the nominal voltage of the supply?",
            "on the board's label or the maker's plate: `230 V`",
            volts,
            field(&["supply", "nominal"]),
            None,
        );
        let earthings = ["TN-S", "TN-C-S", "TT", "IT"].map(str::to_owned).to_vec();
        self.ask(
        "How is the installation earthed?",
        "at the origin: a cable sheath is TN-S, a link to the neutral is TN-C-S, a rod is TT; the distributor knows",
        Answers::OneOf(earthings),
        field(&["supply", "earthing"]),
        None,
    );
        let breaks = Answers::OneOf(["both", "line"].map(str::to_owned).to_vec());
        self.ask(
            "Does that point of isolation break line and neutral, or the line alone?",
            "a double-pole switch breaks both; a breaker or a fuse the line alone",
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
            "read it off the device: `3 A fuse to BS 1362 in the fused connection unit`",
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
            "By which name do the tables call that device?",
            "`BS 1362` for a plug fuse, `type B`, `type C` or `type D` for a circuit-breaker; `coreproof limits` shows them",
            Answers::Name,
            field(&["supply", "protection", "device"]),
            None,
        );
            self.ask(
                "What is it rated?",
                "printed on it",
                ampere,
                field(&["supply", "protection", "rating"]),
                None,
            );
        }
        self.ask(
            "What is the rated residual current of the residual-current device before it?",
            "printed on it: `30 mA`; `none` where there is no such device",
            or_none(Unit::Ampere),
            field(&["supply", "residual"]),
            None,
        );
        if base.supply.ze.is_some() {
            self.ask(
                "What is the earth loop impedance at the near end?",
                "measured, or worked out and marked so; `none` where it is not known",
                or_none(Unit::Ohm),
                field(&["supply", "ze"]),
                None,
            );
        }
        if base.supply.upstream.is_some() {
            self.ask(
                "How far is the near end from the main earthing terminal, along the cable?",
                "paced is good enough; `none` where it is not known",
                or_none(Unit::Metre),
                field(&["supply", "upstream", "length"]),
                None,
            );
            self.ask(
                "Which size is the earth conductor on that way?",
                "printed on the cable that feeds the wiring centre; `none` where it is not known",
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
            "as the record names it: `sail loft thermostat cable`",
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
            "pace it along its way; `none` where it cannot be known",
            or_none(Unit::Metre),
            field(&["cable", "length"]),
            None,
        );
        for (n, core) in base.cores.iter().enumerate() {
            let question = format!("Which core carries {}?", core.carries.words());
            self.ask(
                &question,
                "the colour of its insulation, and of a sleeve: `black sleeved brown`",
                Answers::Core,
                Goes::Core(n),
                None,
            );
        }
        if base.no_earth.is_some() {
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
            "What is on its control cores: mains, extra-low voltage, or a volt-free contact?",
            "the maker's sheet of both ends says; never guess: mains on the wrong terminal destroys what is behind it",
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
            let question = format!(
                "What is the {} end called?",
                if end == End::Near { "near" } else { "far" }
            );
            self.ask(
                &question,
                "as prompts shall call it: `wiring centre`, `loft thermostat`",
                Answers::Name,
                field(path),
                Some(&there.name),
            );
            for terminal in &there.terminals {
                let question = format!(
                    "At the {}: which terminal is for {}?",
                    there.name,
                    terminal.takes.words()
                );
                self.ask(
                    &question,
                    "its marking, or the maker's sheet; never by the colour that is in it",
                    Answers::Name,
                    Goes::Terminal(end, terminal.name.clone()),
                    None,
                );
            }
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
            "At the {}: which metalwork touches what its earth terminal earths?",
            self.base.end(end).name
        );
        self.ask(
            &question,
            "a boiler, pump or valve on copper earths itself by the pipe: `copper pipe to the boiler`; `none` where nothing metal touches",
            Answers::NameOrNone,
            field(path),
            None,
        );
    }

    /// What hangs on them.
    fn equipment(&mut self) {
        let base = self.base;
        for there in &base.equipment {
            let what = match &there.is {
                Is::Contact(_) => "a contact",
                Is::Motor(_) => "a motor",
                Is::Load(_) => "a load",
                Is::Supply(_) => "a supply of its own",
            };
            let question = format!("Is `{}` there, {what}, where the base job has it?", there.name);
            self.ask(
                &question,
                "its figures stand on the next page; a job without it is another sequence's",
                Answers::OneOf(vec!["yes".into()]),
                Goes::Confirms("yes".into()),
                None,
            );
        }
    }
}

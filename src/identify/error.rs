//! What can be wrong with a request to tell cores apart or with an answer. A refused answer changes nothing.

use thiserror::Error;

use crate::explain::Explain;

/// Why a request or an answer was refused.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum IdentifyError {
    /// A word of the kit that is none.
    #[error("`{item}` is not in the kit list: links, links=2, earth, resistors, resistors=5, diode")]
    KitWord {
        /// As it is written.
        item: String,
    },
    /// A count in the kit that cannot be.
    #[error("`{item}` is not a count of 1 to 99")]
    KitCount {
        /// As it is written.
        item: String,
    },
    /// A word of the kit that stands in it already.
    #[error("`{word}` is in the kit twice")]
    KitTwice {
        /// The word.
        word: String,
    },
    /// Too few or too many cores.
    #[error("`{cores}` cores cannot be told apart here, 2 to 20 can")]
    CoreCount {
        /// How many were asked for.
        cores: usize,
    },
    /// Two cores and nothing in the kit that tells them apart.
    #[error(
        "two cores cannot be told apart with links: joined or apart, both look the same from the other end, whichever is which"
    )]
    TwoCores,
    /// A label that this end does not have.
    #[error("`{token}` is no label at the {end} end, the labels there are {labels}")]
    NotALabel {
        /// As it was typed.
        token: String,
        /// The end: `near` or `far`.
        end: &'static str,
        /// Those that there are.
        labels: String,
    },
    /// One label where what conducts to what is asked.
    #[error("`{token}` names one core alone")]
    OneCoreAlone {
        /// As it was typed.
        token: String,
    },
    /// Nothing was typed.
    #[error("the answer is empty")]
    Empty,
    /// A reading that is too high for a joint and too low for open.
    #[error("`{token}` is neither joined nor open")]
    BetweenJoinedAndOpen {
        /// As it was typed or displayed.
        token: String,
    },
    /// A line of readings that contradicts itself.
    #[error("`{token}` reads open, but the other readings of this line join the two")]
    OpenYetJoined {
        /// The reading as it was typed.
        token: String,
    },
    /// A reading that is not understood.
    #[error("{what}")]
    Reading {
        /// Why, in words.
        what: String,
    },
    /// More cores of the job than the cable turned out to have.
    #[error("the job has `{job}` cores to be found, the cable `{cores}`")]
    TooFewCores {
        /// Cores known from end to end.
        cores: usize,
        /// Cores of the job that are to be found among them.
        job: usize,
    },
    /// Not a label with a terminal.
    #[error("`{token}` is not a label and a terminal, as `A=1`")]
    NotAPlacing {
        /// As it was typed.
        token: String,
    },
    /// A label whose core is not known from end to end.
    #[error("`{label}` is not known from end to end: {state}")]
    NotOneCore {
        /// The label.
        label: String,
        /// What is known of it.
        state: &'static str,
    },
    /// A terminal that the job does not have at this end.
    #[error("no core of the job goes to a terminal `{terminal}` at the {end}, the terminals are {terminals}")]
    NoSuchTerminal {
        /// As it was typed.
        terminal: String,
        /// What the job calls the end.
        end: String,
        /// Those that there are.
        terminals: String,
    },
    /// A label or a terminal that was placed already.
    #[error("`{what}` is given twice")]
    NamedTwice {
        /// Which one.
        what: String,
    },
    /// A terminal without a label.
    #[error("no core is given to terminal `{terminal}`")]
    TerminalLeft {
        /// Which one.
        terminal: String,
    },
    /// The instrument on the port has no range of ohms.
    #[error("`{instrument}` measures no ohms")]
    MeasuresNoOhms {
        /// By its name in the job.
        instrument: String,
    },
    /// Its range ends before the resistors of the kit.
    #[error("the ohms range of `{instrument}` ends before the {ohms} ohm that the resistors need")]
    RangeBelowResistors {
        /// By its name in the job.
        instrument: String,
        /// The greatest resistance that is read, in ohms.
        ohms: String,
    },
    /// A recorded event that cannot follow the ones before it.
    #[error("{what} cannot come here")]
    OutOfPlace {
        /// What it says.
        what: String,
    },
    /// A recorded conclusion that the recorded answers do not give.
    #[error("the conclusion is not what the answers give")]
    OtherConclusion,
    /// A recorded answer that is told as something else than its line says.
    #[error("the answer `{line}` is recorded as something else than it says")]
    OtherAnswer {
        /// The line as it was typed.
        line: String,
    },
    /// A reading where words are asked for.
    #[error("`{shown}` is not asked for here")]
    TakesNoReading {
        /// What the display said.
        shown: String,
    },
    /// `none` after contacts were taken at the same look.
    #[error("`none` cannot be: contacts were taken at this look")]
    ContactsTaken,
    /// A reading that is no contact where one was to be placed.
    #[error("`{shown}` is no contact")]
    NoContact {
        /// What the display said.
        shown: String,
    },
    /// An over-range that could still be a resistor of the kit.
    #[error("`{shown}` does not say that it is open: the range ends before {ohms} ohm")]
    RangeEndsBefore {
        /// What the display said.
        shown: String,
        /// Up to where the range would have to reach, in ohms.
        ohms: String,
    },
    /// Words that this question does not take.
    #[error("`{line}` is not an answer to this question, the answers are: {answers}")]
    NotAnAnswer {
        /// As they were typed.
        line: String,
        /// Those that it takes.
        answers: String,
    },
    /// `back` before anything was answered.
    #[error("there is no earlier answer to take back")]
    NothingToTakeBack,
    /// Looks that no cable, sound or broken, gives together.
    #[error("no cable explains these answers")]
    Contradiction,
    /// Too few or too many zones or actuators.
    #[error(
        "`{zones}` zones and `{actuators}` actuators cannot be worked on here, 1 to 63 zones and 1 to 99 actuators can"
    )]
    ZoneCount {
        /// How many zones were asked for.
        zones: usize,
        /// How many actuators were asked for.
        actuators: usize,
    },
    /// A length, resistance or capacitance that is zero or below.
    #[error("`{what}` is not above zero")]
    NotAboveZero {
        /// As it is written.
        what: String,
    },
    /// Text that is no amount of its unit.
    #[error("`{text}` is not {quantity}")]
    NotAnAmount {
        /// As it is written.
        text: String,
        /// What is needed: `a length`.
        quantity: &'static str,
    },
    /// Readings that place the fault beyond an end.
    #[error("these readings place the fault at {metres} m, outside the cable of {length} m")]
    OutsideCable {
        /// Where they place it, in metres from the near end.
        metres: String,
        /// Length of the cable, in metres.
        length: String,
    },
    /// Readings that leave the contact no resistance.
    #[error("together the two readings are below the loop of the whole cable: the contact would have {ohms} ohm")]
    ContactBelowZero {
        /// What they leave it, in ohms.
        ohms: String,
    },
}

impl Explain for IdentifyError {
    fn hint(&self) -> Option<String> {
        use IdentifyError::*;
        let hint = match self {
            CoreCount { .. } => "identify the cores of one sheath at a time",
            TwoCores => {
                "bring a diode (`--kit diode`), a conductor known at both ends (`--kit earth`), or a third core of the same cable (`--cores 3`)"
            }
            NotALabel { .. } | OneCoreAlone { .. } | Empty => {
                "type the labels that conduct to each other, as `1-4 2-5`, or `none`"
            }
            BetweenJoinedAndOpen { .. } => "clean the ends, hold the probes still and measure again",
            OpenYetJoined { .. } => "measure those two again",
            TooFewCores { .. } => "count the cores at both ends, and the `cores` of the job",
            NotOneCore { .. } => "give the terminal a core that is, or `skip` and lay another cable",
            NotAPlacing { .. } | NamedTwice { .. } | TerminalLeft { .. } => {
                "type every terminal once with the label that goes to it, or `in order`"
            }
            MeasuresNoOhms { .. } => "put a meter with an ohms range on the port, or type the readings",
            RangeBelowResistors { .. } => "leave the resistors out of the kit, or use another meter",
            ContactsTaken => "`done` when every pair was tried, `back` where a contact was nothing",
            NoContact { .. } => "what conducts to nothing is left out: go on to the next two",
            RangeEndsBefore { .. } => "turn the dial to a range that goes higher and measure again",
            Contradiction => {
                "a joint was loose, or an answer was mistyped: `back` takes the last answer back, then look again"
            }
            NotAnAmount {
                quantity: "a capacitance",
                ..
            } => "write it as `2.1 nF`",
            OutsideCable { .. } => {
                "check the length, that the other cores are apart at both ends, and that both readings are of the same core"
            }
            ContactBelowZero { .. } => "null the leads, measure both ends again, and check the loop of a sound pair",
            _ => return None,
        };
        Some(hint.into())
    }
}

//! What can be wrong with a request to tell cores apart or with an answer. A refused answer changes nothing.

use thiserror::Error;

use crate::explain::Explain;

/// Why a request or an answer was refused.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum IdentifyError {
    #[error("`{item}` is not in the kit list: links, links=2, earth, resistors, resistors=5, diode")]
    KitWord { item: String },
    #[error("`{item}` is not a count of 1 to 99")]
    KitCount { item: String },
    #[error("`{word}` is in the kit twice")]
    KitTwice { word: String },
    #[error("`{cores}` cores cannot be told apart here, 2 to 20 can")]
    CoreCount { cores: usize },
    #[error(
        "two cores cannot be told apart with links: joined or apart, both look the same from the other end, whichever is which"
    )]
    TwoCores,
    #[error("`{token}` is no label at the {end} end, the labels there are {labels}")]
    NotALabel {
        token: String,
        end: &'static str,
        labels: String,
    },
    #[error("`{token}` names one core alone")]
    OneCoreAlone { token: String },
    #[error("the answer is empty")]
    Empty,
    #[error("`{token}` is neither joined nor open")]
    BetweenJoinedAndOpen { token: String },
    #[error("`{token}` reads open, but the other readings of this line join the two")]
    OpenYetJoined { token: String },
    #[error("{what}")]
    Reading { what: String },
    #[error("the job has `{job}` cores to be found, the cable `{cores}`")]
    TooFewCores { cores: usize, job: usize },
    #[error("`{token}` is not a label and a terminal, as `A=1`")]
    NotAPlacing { token: String },
    #[error("`{label}` is not known from end to end: {state}")]
    NotOneCore { label: String, state: &'static str },
    #[error("no core of the job goes to a terminal `{terminal}` at the {end}, the terminals are {terminals}")]
    NoSuchTerminal {
        terminal: String,
        end: String,
        terminals: String,
    },
    #[error("`{what}` is given twice")]
    NamedTwice { what: String },
    #[error("no core is given to terminal `{terminal}`")]
    TerminalLeft { terminal: String },
    #[error("`{instrument}` measures no ohms")]
    MeasuresNoOhms { instrument: String },
    #[error("the ohms range of `{instrument}` ends before the {ohms} ohm that the resistors need")]
    RangeBelowResistors { instrument: String, ohms: String },
    #[error("{what} cannot come here")]
    OutOfPlace { what: String },
    #[error("the conclusion is not what the answers give")]
    OtherConclusion,
    #[error("the answer `{line}` is recorded as something else than it says")]
    OtherAnswer { line: String },
    #[error("`{shown}` is not asked for here")]
    TakesNoReading { shown: String },
    #[error("`none` cannot be: contacts were taken at this look")]
    ContactsTaken,
    #[error("`{shown}` is no contact")]
    NoContact { shown: String },
    #[error("`{shown}` does not say that it is open: the range ends before {ohms} ohm")]
    RangeEndsBefore { shown: String, ohms: String },
    #[error("`{line}` is not an answer to this question, the answers are: {answers}")]
    NotAnAnswer { line: String, answers: String },
    #[error("there is no earlier answer to take back")]
    NothingToTakeBack,
    #[error("no cable explains these answers")]
    Contradiction,
    #[error(
        "`{zones}` zones and `{actuators}` actuators cannot be worked on here, 1 to 63 zones and 1 to 99 actuators can"
    )]
    ZoneCount { zones: usize, actuators: usize },
    #[error("`{what}` is not above zero")]
    NotAboveZero { what: String },
    #[error("`{text}` is not {quantity}")]
    NotAnAmount { text: String, quantity: &'static str },
    #[error("these readings place the fault at {metres} m, outside the cable of {length} m")]
    OutsideCable { metres: String, length: String },
    #[error("together the two readings are below the loop of the whole cable: the contact would have {ohms} ohm")]
    ContactBelowZero { ohms: String },
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

//! The figures that decide what was seen: joined, open, which resistor, how long a wax actuator takes.
//!
//! The rule inside: each is a row of the limit tables with its source, and the rows go into whatever is signed, so that it
//! can be told again by what held then.

use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};

use crate::limits::{Limits, Row, Table, sets};
use crate::value::quantity::{Shown, Unit};
use crate::value::reading::Reading;

const JOINED: (Table, &str) = (Table::Practice, "joined cores");
const OPEN: (Table, &str) = (Table::Practice, "open core");
const RESISTOR: (Table, &str) = (Table::Practice, "resistor as read");
const OPENS: (Table, &str) = (Table::Practice, "wax actuator opens within");
const CLOSES: (Table, &str) = (Table::Practice, "wax actuator closes within");
const LIVE: (Table, &str) = (Table::ExtraLowVoltage, "a.c. upper");
/// The rows that are used here.
const ROWS: [(Table, &str); 6] = [JOINED, OPEN, RESISTOR, OPENS, CLOSES, LIVE];

/// The rows, in the order of their use; none is missing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Vec<Row>", into = "Vec<Row>")]
pub struct Figures {
    rows: [Row; ROWS.len()],
}

impl TryFrom<Vec<Row>> for Figures {
    type Error = String;

    fn try_from(rows: Vec<Row>) -> Result<Figures, String> {
        let is_there =
            |(table, of): &(Table, &str)| rows.iter().any(|row| (row.table, row.of.as_str()) == (*table, *of));
        if let Some((_, of)) = ROWS.iter().find(|wanted| !is_there(wanted)) {
            return Err(format!("the figure `{of}` is missing"));
        }
        let rows = <[Row; ROWS.len()]>::try_from(rows);
        let rows = rows.map_err(|rows| format!("there are {} figures, {} are needed", rows.len(), ROWS.len()))?;
        Ok(Figures { rows })
    }
}

impl From<Figures> for Vec<Row> {
    fn from(figures: Figures) -> Vec<Row> {
        figures.rows.into()
    }
}

impl Figures {
    /// Those of an edition.
    ///
    /// # Errors
    /// A row that the edition lacks.
    pub fn of(limits: &Limits) -> Result<Figures, String> {
        let row = |(table, of): &(Table, &str)| limits.row(*table, of).cloned();
        let rows: Vec<Row> = ROWS.iter().map(row).collect::<Result<_, _>>()?;
        let figures = Figures::try_from(rows)?;
        figures.check()?;
        Ok(figures)
    }

    /// Those of this program.
    pub fn shipped() -> Figures {
        let rows = || sets().iter().flat_map(|set| &set.rows);
        let row = |wanted: &(Table, &str)| rows().find(|row| (row.table, row.of.as_str()) == *wanted).cloned();
        let rows: Vec<Row> = ROWS.iter().filter_map(row).collect();
        Figures::try_from(rows).expect("the shipped tables have every row, as a test holds")
    }

    /// Whether the figures stand as they must to each other.
    ///
    /// # Errors
    /// A row in a unit that is not its table's; joined that is not below open; a share of a resistor that is not between nothing and all.
    pub fn check(&self) -> Result<(), String> {
        if let Some(problem) = self.rows.iter().flat_map(Row::problems).next() {
            return Err(problem);
        }
        let (joined, open) = (self.joined_ohms(), self.open_ohms());
        if !(0.0 < joined && joined < open) {
            return Err(format!(
                "`joined cores` at {joined} ohm is not below `open core` at {open} ohm"
            ));
        }
        let share = self.resistor_share();
        if !(0.0 < share && share < 1.0) {
            return Err(format!(
                "`resistor as read` is {} %, not between 0 and 100",
                share * 100.0
            ));
        }
        Ok(())
    }

    /// A figure as a float: it is compared with a display here and judges no test.
    fn figure(&self, wanted: (Table, &str)) -> f64 {
        let is_it = |row: &&Row| (row.table, row.of.as_str()) == wanted;
        let row = self.rows.iter().find(is_it).expect("none is missing");
        row.value.value().to_f64().expect("every decimal has a nearest float")
    }

    /// Whether a reading shows a voltage above extra-low voltage, at which everything stops.
    pub fn is_live(&self, reading: &Reading) -> bool {
        let bound = self.figure(LIVE);
        reading.unit == Unit::Volt
            && match &reading.shown {
                Shown::Digits(_) => {
                    let volts = reading.amount().and_then(|amount| amount.value().to_f64());
                    volts.is_none_or(|volts| bound < volts.abs())
                }
                Shown::Above(_) | Shown::Over => true,
            }
    }

    /// Up to here two cores conduct to each other, in ohms.
    pub fn joined_ohms(&self) -> f64 {
        self.figure(JOINED)
    }

    /// From here they do not, in ohms.
    pub fn open_ohms(&self) -> f64 {
        self.figure(OPEN)
    }

    /// How far a resistor may read from what is marked on it, as a share of that.
    pub fn resistor_share(&self) -> f64 {
        self.figure(RESISTOR) / 100.0
    }

    /// Minutes after a change of calls until a wax actuator stands where it belongs, open or shut: the slower of the two.
    pub fn wait_minutes(&self) -> u32 {
        let seconds = self.figure(OPENS).max(self.figure(CLOSES));
        // a whole number of minutes, for a person with a watch
        (seconds / 60.0)
            .ceil()
            .clamp(1.0, 1440.0)
            .to_u32()
            .expect("a number from 1 to 1440")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::{edition, shipped};
    use crate::value::reading::Function;

    #[test]
    fn the_shipped_figures_are_there_and_every_edition_has_them() {
        let figures = Figures::shipped();
        assert_eq!(figures.check(), Ok(()));
        assert_eq!(
            (figures.joined_ohms(), figures.open_ohms(), figures.wait_minutes()),
            (50.0, 1000.0, 8)
        );
        assert!((figures.resistor_share() - 0.07).abs() < 1e-12);
        assert!(figures.rows.iter().all(|row| !row.source.is_empty()));
        let live = |volts: &str| figures.is_live(&Reading::typed(volts, Function::VoltageAc).unwrap());
        assert_eq!((live("50 V"), live("51 V"), live("OL")), (false, true, true));
        for limits in shipped() {
            let figures = Figures::of(limits).unwrap();
            assert_eq!(figures.joined_ohms(), 50.0, "{}", limits.edition);
        }
    }

    #[test]
    fn figures_that_cannot_be_are_refused() {
        let limits = edition(shipped(), "2018+A2:2022").unwrap();
        let with = |of: &str, value: &str| {
            let mut limits = (*limits).clone();
            let row = limits.rows.iter_mut().find(|row| row.of == of).unwrap();
            row.value = crate::value::quantity::Amount::parse(value).unwrap();
            Figures::of(&limits).unwrap_err()
        };
        assert_eq!(
            with("joined cores", "2 kohm"),
            "`joined cores` at 2000 ohm is not below `open core` at 1000 ohm"
        );
        assert!(with("a.c. upper", "1 kohm").starts_with("`1 kohm` in the table of "));
        assert_eq!(
            with("resistor as read", "100 %"),
            "`resistor as read` is 100 %, not between 0 and 100"
        );
        let of = |rows: Vec<Row>| Figures::try_from(rows).unwrap_err();
        assert_eq!(of(Vec::new()), "the figure `joined cores` is missing");
        let mut twice = Vec::from(Figures::shipped());
        twice.push(twice[0].clone());
        assert_eq!(of(twice), "there are 7 figures, 6 are needed");
    }
}

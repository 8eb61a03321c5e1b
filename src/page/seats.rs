//! Who gets a seat, and who gives it up.
//!
//! The rule inside: whoever is paired keeps a seat; a stranger gives one up first to the next from the same address, then to the next of all,
//! so that nobody keeps the page shut, be it by silence or from many addresses.

use std::net::IpAddr;

/// Most connections at once.
const SEATS: usize = 32;

/// Most connections of one address whose browsers are not paired: as many as a browser opens to one host.
const STRANGERS_MAX: usize = 6;

/// Who sits there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Sitting {
    /// From where.
    pub from: IpAddr,
    /// Its browser is paired.
    pub known: bool,
    /// It has sent a whole head.
    pub asked: bool,
    /// Another browser of its address is paired.
    pub beside_known: bool,
}

/// What there is for the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Seating {
    /// A free seat.
    Free,
    /// The seat of this one.
    Of(usize),
    /// None.
    Full,
}

/// The seat of the next from an address; those who sit stand in the order in which they came.
pub(super) fn next(sitting: &[Sitting], from: IpAddr) -> Seating {
    let strangers = || sitting.iter().enumerate().filter(|(_, one)| !one.known);
    let first = |of: &mut dyn Iterator<Item = (usize, &Sitting)>| {
        // the silent before those who asked, the earlier before the later
        of.min_by_key(|(at, one)| (one.beside_known, one.asked, *at))
            .map_or(Seating::Full, |(at, _)| Seating::Of(at))
    };
    let mut same = strangers().filter(|(_, one)| one.from == from);
    if STRANGERS_MAX <= same.clone().count() {
        return first(&mut same);
    }
    match sitting.len() {
        ..SEATS => Seating::Free,
        _ => first(&mut strangers()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(last: u8) -> IpAddr {
        IpAddr::from([192, 168, 43, last])
    }

    fn stranger(last: u8) -> Sitting {
        Sitting {
            from: at(last),
            known: false,
            asked: false,
            beside_known: false,
        }
    }

    #[test]
    fn one_address_has_no_more_seats_than_a_browser_needs() {
        let mut sitting = vec![stranger(1); STRANGERS_MAX - 1];
        assert_eq!(next(&sitting, at(1)), Seating::Free);
        sitting.push(stranger(1));
        assert_eq!(next(&sitting, at(1)), Seating::Of(0));
        assert_eq!(next(&sitting, at(2)), Seating::Free, "another address has its own");
        sitting[0].asked = true;
        assert_eq!(next(&sitting, at(1)), Seating::Of(1), "the silent go first");
        sitting[1].known = true;
        assert_eq!(next(&sitting, at(1)), Seating::Free, "who is paired is no stranger");
    }

    #[test]
    fn many_addresses_take_no_seat_from_whoever_is_paired() {
        let known = Sitting {
            known: true,
            ..stranger(0)
        };
        let phone = Sitting {
            beside_known: true,
            ..stranger(0)
        };
        let mut sitting = vec![known, phone];
        sitting.extend((1..).map(stranger).take(SEATS - 2));
        assert_eq!(next(&sitting, at(200)), Seating::Of(2));
        // the phone of whoever is paired comes back
        assert_eq!(next(&sitting, at(0)), Seating::Of(2));
        sitting.truncate(2);
        sitting.extend(vec![known; SEATS - 2]);
        assert_eq!(next(&sitting, at(200)), Seating::Of(1));
        assert_eq!(next(&[known; SEATS], at(200)), Seating::Full);
    }
}

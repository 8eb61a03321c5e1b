//! A voltage on a meter that no checksum guards, through a pseudo-terminal at any rate.

use crate::cable::Cable;
use crate::world::{Walk, World, text};

const LIFTED: &[u8] = b"LOWOHM;OL;ohm;-\r\n";
const VOLTS: &[u8] = b"VAC;231.4;V;-\r\n";

/// A walk at the first dead test, with a meter that sends so often.
fn at_lead_null(per_second: u32) -> (World, Cable, Walk) {
    let (world, cable) = (World::with_key(), Cable::new());
    let mut walk = world.walk(&["--meter", &cable.spec()]);
    assert!(walk.to("lead-null"));
    cable.sends(&[LIFTED]);
    walk.until("live, not taken: OL (ohm)");
    cable.rate(per_second);
    (world, cable, walk)
}

/// How often an event stands in the journal.
fn events(world: &World, name: &str) -> usize {
    let journal = text(&std::fs::read(&world.journals()[0]).unwrap());
    let named = format!("\"event\":{{\"{name}\":");
    journal.lines().filter(|line| line.contains(&named)).count()
}

#[test]
fn one_frame_of_voltage_holds_the_run_until_two_show_none() {
    for per_second in [1, 4, 10, 50] {
        let (world, cable, mut walk) = at_lead_null(per_second);
        let mut pieces = vec![VOLTS];
        pieces.resize(1_000, LIFTED);
        cable.sends(&pieces);
        walk.until("231.4 V IN ONE FRAME OF THE METER. Take your hands away.");
        walk.until("two frames without voltage followed: `lead-null` goes on");
        let counted = ["frame_doubted", "frame_cleared", "live_seen"].map(|name| events(&world, name));
        assert_eq!(counted, [1, 2, 0], "{per_second} a second");
        walk.kill();
    }
}

#[test]
fn voltage_again_or_silence_is_a_voltage_that_was_seen() {
    for per_second in [1, 4, 10, 50] {
        for goes_on in [true, false] {
            let (world, cable, mut walk) = at_lead_null(per_second);
            cable.sends(&[VOLTS]);
            walk.until("231.4 V IN ONE FRAME OF THE METER");
            if !goes_on {
                cable.sleeps();
            }
            walk.until("231.4 V WHERE EVERYTHING WAS PROVED DEAD.");
            let counted = ["frame_doubted", "frame_cleared", "live_seen"].map(|name| events(&world, name));
            assert_eq!(counted, [1, 0, 1], "{per_second} a second");
            walk.kill();
        }
    }
}

//! The table of settling, reduced to what runs in seconds without optimisation; `tests/bench/settle.rs` has all of it.
//!
//! The rule inside: with few runs a cell no rate of 0.1 % can be shown, so not one run may be wrong. Times are judged as
//! in the bench.

use super::simulation::{
    Cell, Display, Informed, InformedOfNoise, Noise, Row, SLOW, Said, bounds, flat, flat_at, measure,
};
use super::{Motion, Settling};

fn takes(digit: f64) -> impl FnMut(f64, f64) -> bool {
    let mut settling = Settling::new(Some(1.0));
    move |t, value| settling.push(t, Some(value), digit) == Motion::Settled
}

#[test]
fn tails_are_taken_in_time_and_never_while_off() {
    println!("{}", Row::HEAD);
    for (tau, height, sigma, digit, runs) in [
        (0.1, 10.0, 0.0, 0.5, 20),
        (0.1, 100.0, 0.5, 0.1, 40),
        (0.5, 1000.0, 0.5, 0.5, 40),
        (1.0, 10.0, 0.25, 0.1, 40),
        (2.0, 10.0, 0.5, 0.1, 30),
        (5.0, 100.0, 0.1, 0.5, 15),
        (10.0, 10.0, 0.0, 0.1, 10),
        (20.0, 10.0, 0.25, 0.5, 10),
    ] {
        let display = Display { sigma, digit };
        let cell = Cell { tau, height, display };
        let row = measure(&cell, runs, 20_260_202, || takes(digit));
        println!("{}", row.line(&cell));
        assert_eq!(row.wrong, 0, "{}", row.line(&cell));
        assert!(row.taken_s <= row.granted_s(), "{}", row.line(&cell));
    }
}

#[test]
fn the_informed_judge_takes_at_the_known_time() {
    // without noise: 10 * exp(-t/2 s) is below 1 from 4.605 s on
    let display = Display {
        sigma: 0.0,
        digit: 1e-9,
    };
    let mut informed = Informed::new(2.0, display);
    let mut noise = Noise(1);
    let value = |t: f64| 300.0 + 10.0 * (-t / 2.0).exp();
    let taken = super::simulation::walk(
        60.0,
        |t| display.show(value(t), &mut noise),
        |t, y| informed.takes(t, y),
    );
    assert_eq!(taken, Some(4.75));
}

#[test]
fn a_flat_display_is_taken_soon_and_a_noisy_one_is_not() {
    for (sigma, digit, taken_min, taken_max, median_s_max) in [
        (0.0, 0.1, 20, 20, 3.0),
        (0.0, 0.5, 20, 20, 5.0),
        (0.25, 0.5, 20, 20, 7.0),
        (1.0, 0.1, 0, 0, f64::INFINITY),
        (2.0, 0.5, 0, 0, f64::INFINITY),
    ] {
        let (taken, median_s) = flat(Display { sigma, digit }, 20, 20.0, 20_260_203, || takes(digit));
        println!("flat, sigma {sigma}, digit {digit}: {taken} of 20 taken, median {median_s} s");
        assert!(taken_min <= taken && taken <= taken_max, "{taken} at sigma {sigma}");
        assert!(median_s <= median_s_max, "{median_s} s at sigma {sigma}");
    }
}

#[test]
fn near_the_noise_bound_no_more_is_taken_than_by_a_judge_who_knows_all_but_the_noise() {
    // half of what is as quiet as promised at its first look, after a dozen readings
    let quiet = Display { sigma: 0.5, digit: 0.1 };
    let knows = |display: Display| {
        move || {
            let mut knows = InformedOfNoise::new(300.5, Display { sigma: 0.75, ..display });
            move |_: f64, y: f64| knows.takes(y)
        }
    };
    let (first, _) = flat_at(300.5, quiet, 2000, 3.0, 20_260_206, knows(quiet));
    assert!(940 < first && first < 1060, "{first} of 2000");
    for digit in [0.1, 0.5] {
        let noisy = Display { sigma: 0.75, digit };
        let (knew, _) = flat_at(300.5, noisy, 60, 20.0, 20_260_207, knows(noisy));
        let (taken, _) = flat(noisy, 60, 20.0, 20_260_207, || takes(digit));
        println!("noise of 0.75, digit {digit}: {taken} of 60 taken, by the judge who knows {knew}");
        assert!(taken <= knew, "{taken} of 60, {knew}");
    }
}

#[test]
fn what_charges_slowly_drifts_within_its_bound() {
    for slow in &SLOW {
        let display = Display { sigma: 0.1, digit: 0.1 };
        let found = bounds(slow, display, 2, 60.0, 20_260_204, || {
            let mut settling = Settling::new(Some(1.0));
            move |t, value| match settling.push(t, Some(value), display.digit) {
                Motion::Moving => Said::Nothing,
                Motion::Drifting { bound } => Said::ToGo(bound),
                Motion::Settled => Said::Takes,
            }
        });
        let hides = if slow.hides { " (hides in more noise)" } else { "" };
        println!(
            "{}{hides}: {} of {} bounds hold in {} runs",
            slow.name, found.covered, found.drifting, found.runs
        );
        assert!(
            50 < found.drifting && found.covered == found.drifting,
            "{}: {found:?}",
            slow.name
        );
        assert_eq!(found.wrong, 0, "{}", slow.name);
    }
}

#[test]
fn noise_beyond_half_the_tolerance_is_drifting_by_at_least_the_noise() {
    for sigma in [1.0, 2.0, 10.0] {
        let display = Display { sigma, digit: 0.1 };
        let mut noise = Noise(20_260_205);
        let mut settling = Settling::new(Some(1.0));
        let motions: Vec<Motion> = (0..160)
            .map(|n| settling.push(f64::from(n) * 0.25, Some(display.show(300.0, &mut noise)), 0.1))
            .collect();
        let holds = |motion: &Motion| matches!(motion, Motion::Drifting { bound } if 2.0 * sigma < *bound);
        assert!(motions[60..].iter().all(holds), "{sigma}: {:?}", &motions[60..]);
    }
}

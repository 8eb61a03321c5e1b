//! The whole table of settling, in release: `cargo bench --no-default-features --bench settle [-- RUNS SEED]`.
//!
//! The rule inside: every promise is asserted, after everything was printed. Default 3000 runs a cell. The seeds that the
//! constants of `approach` were chosen on were 1, 7, 11 and 21 of another generator; the default here is none of them.

#[path = "../../src/meter/settle/simulation.rs"]
mod simulation;

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use coreproof::meter::settle::{Motion, Settling};
use simulation::{
    Bounds, Cell, Display, Informed, InformedOfNoise, Row, SLOW, Said, bounds, flat, flat_at, granted_s, measure,
};

/// Of displays a little noisier than promised, so many times the share that the informed judge takes may be taken, as with time.
const SHARE_TIMES: f64 = 1.3;

fn takes(display: Display) -> impl FnMut(f64, f64) -> bool {
    let mut settling = Settling::new(Some(1.0));
    move |t, value| settling.push(t, Some(value), display.digit) == Motion::Settled
}

fn says(display: Display) -> impl FnMut(f64, f64) -> Said {
    let mut settling = Settling::new(Some(1.0));
    move |t, value| match settling.push(t, Some(value), display.digit) {
        Motion::Moving => Said::Nothing,
        Motion::Drifting { bound } => Said::ToGo(bound),
        Motion::Settled => Said::Takes,
    }
}

fn displays(sigmas: &[f64]) -> Vec<Display> {
    let of = |sigma: &f64| [0.1, 0.5].map(|digit| Display { sigma: *sigma, digit });
    sigmas.iter().flat_map(of).collect()
}

fn cells() -> Vec<Cell> {
    let mut cells = Vec::new();
    for tau in [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0] {
        for height in [10.0, 100.0, 1000.0] {
            for display in displays(&[0.0, 0.1, 0.25, 0.5]) {
                cells.push(Cell { tau, height, display });
            }
        }
    }
    cells
}

/// Works on both cores; results come in the order of the cells.
fn spread<C: Sync, R: Send>(cells: &[C], work: impl Fn(usize, &C) -> R + Sync) -> Vec<R> {
    let (next, done) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed);
                    let Some(cell) = cells.get(n) else { return };
                    let result = work(n, cell);
                    done.lock().expect("no thread panics").push((n, result));
                }
            });
        }
    });
    let mut done = done.into_inner().expect("no thread panics");
    done.sort_by_key(|(n, _)| *n);
    done.into_iter().map(|(_, result)| result).collect()
}

fn tails(runs: usize, seed: u64, broken: &mut Vec<String>) {
    println!("{}", Row::HEAD);
    let cells = cells();
    let rows = spread(&cells, |n, cell| {
        let row = measure(cell, runs, seed + ((n as u64) << 32), || takes(cell.display));
        eprintln!("{}", row.line(cell));
        row
    });
    let (mut wrong, mut all, mut latest) = (0, 0, f64::NEG_INFINITY);
    for (cell, row) in cells.iter().zip(&rows) {
        println!("{}", row.line(cell));
        (wrong, all) = (wrong + row.wrong, all + row.runs);
        latest = latest.max(row.taken_s / row.granted_s());
        if row.granted_s() < row.taken_s {
            broken.push(format!("late: {}", row.line(cell)));
        }
        if row.runs < 1000 * row.wrong {
            broken.push(format!("wrong: {}", row.line(cell)));
        }
    }
    println!("{wrong} of {all} wrong; the latest median is {latest:.3} of what is granted");
}

/// Flat displays. As quiet as promised, they are taken as soon as the informed judge would exclude a tail of 20 s, plus what is
/// granted: no judge can call a display flat sooner. Noisier ones are not to be taken; near the bound no judge can tell so few
/// readings apart, so the share that is taken is held against the judge who knows all but the noise.
fn noisy(runs: usize, seed: u64, broken: &mut Vec<String>) {
    println!(
        "\nflat displays: sigma, digit, taken within 60 s of {runs}, median s, granted s | informed: taken, median s"
    );
    let displays = displays(&[0.0, 0.1, 0.25, 0.5, 0.55, 0.6, 0.75, 1.0, 1.5, 2.0]);
    let found = spread(&displays, |_, display| {
        let ours = flat(*display, runs, 60.0, seed, || takes(*display));
        let tail = || {
            let mut knows = Informed::new(20.0, *display);
            move |t: f64, y: f64| knows.takes(t, y)
        };
        let (_, tail_s) = flat(*display, runs, 60.0, seed, tail);
        let noise = || {
            let mut knows = InformedOfNoise::new(300.5, *display);
            move |_: f64, y: f64| knows.takes(y)
        };
        (
            ours,
            granted_s(tail_s),
            flat_at(300.5, *display, runs, 60.0, seed, noise),
        )
    });
    for (display, ((taken, median_s), granted_s, (knew, knew_s))) in displays.iter().zip(found) {
        println!(
            "{:5} {:5} {taken:6} {median_s:8.2} {granted_s:8.2} | {knew:6} {knew_s:8.2}",
            display.sigma, display.digit
        );
        if display.sigma <= 0.5 && granted_s < median_s {
            broken.push(format!("flat {display:?} taken after {median_s} s"));
        }
        if 1.0 <= display.sigma && (runs as f64) < 1000.0 * taken as f64 {
            broken.push(format!("noisy {display:?} taken {taken} of {runs}"));
        }
        if 0.5 < display.sigma && display.sigma < 1.0 && SHARE_TIMES * (knew as f64) < taken as f64 {
            broken.push(format!(
                "noisy {display:?} taken {taken} of {runs}, by the informed judge {knew}"
            ));
        }
    }
}

/// Whether a judge who knows both time constants could tell a quick tail alone from one with a slow part behind it, in the time
/// that is granted for the quick one alone: from when that is within a tenth of its end, it must exclude the slow one.
fn can_be_told(display: &Display, seed: u64) -> bool {
    let quick = Cell {
        tau: 0.2,
        height: 990.0,
        display: *display,
    };
    let granted_s = measure(&quick, 101, seed, || takes(*display)).granted_s();
    let tail = || {
        let mut knows = Informed::new(20.0, *display);
        move |t: f64, y: f64| knows.takes(t, y)
    };
    let (_, excluded_s) = flat(*display, 101, 60.0, seed, tail);
    let quick_s = quick.tau * (10.0 * quick.height).ln();
    println!(
        "{:5} {:5} a slow part is excluded after {:.2} s at best, {granted_s:.2} s are granted",
        display.sigma,
        display.digit,
        quick_s + excluded_s
    );
    quick_s + excluded_s <= granted_s
}

fn slow(runs: usize, seed: u64, broken: &mut Vec<String>) {
    println!(
        "\nslow approaches: sigma, digit, bounds given, % that cover, mean of bound over truth, wrong, never, last s"
    );
    for approach in &SLOW {
        println!("{}", approach.name);
        let displays = displays(&[0.0, 0.1, 0.5]);
        let found: Vec<Bounds> = spread(&displays, |_, display| {
            bounds(approach, *display, runs, 400.0, seed, || says(*display))
        });
        for (display, found) in displays.iter().zip(found) {
            let covered = 100.0 * found.covered as f64 / found.drifting.max(1) as f64;
            println!(
                "{:5} {:5} {:8} {covered:8.3} {:8.2} {:6} {:6} {:8.2} of {}",
                display.sigma,
                display.digit,
                found.drifting,
                found.times / found.drifting.max(1) as f64,
                found.wrong,
                found.never,
                found.last_taken_s,
                found.runs,
            );
            let covered_min = if approach.hides { 98.0 } else { 99.9 };
            if covered < covered_min {
                broken.push(format!("{}, {display:?}: bounds cover {covered} %", approach.name));
            }
            let asked = !approach.hides || can_be_told(display, seed);
            if asked && found.runs < 100 * found.wrong {
                broken.push(format!("{}, {display:?}: {} wrong", approach.name, found.wrong));
            }
        }
    }
}

fn cost() {
    let mut settling = Settling::new(Some(1.0));
    let mut noise = simulation::Noise(5);
    let display = Display { sigma: 0.5, digit: 0.1 };
    let began = Instant::now();
    let pushes = 100_000u32;
    for n in 0..pushes {
        settling.push(f64::from(n) / 4.0, Some(display.show(300.0, &mut noise)), display.digit);
    }
    let micros = began.elapsed().as_secs_f64() * 1e6 / f64::from(pushes);
    println!(
        "\n{micros:.1} us a push: {:.4} % of one core at ten readings a second",
        micros * 1e-3
    );
    assert!(micros < 1000.0, "under 1 % of one core at ten readings a second");
}

fn main() {
    let mut numbers = std::env::args().filter_map(|argument| argument.parse::<u64>().ok());
    let runs = numbers.next().unwrap_or(3000) as usize;
    let seed = numbers.next().unwrap_or(20_260_401);
    let mut broken = Vec::new();
    cost();
    noisy(runs / 3 + 1, seed, &mut broken);
    slow(runs / 50 + 1, seed, &mut broken);
    tails(runs, seed, &mut broken);
    assert!(
        broken.is_empty(),
        "{} promises broken:\n{}",
        broken.len(),
        broken.join("\n")
    );
}

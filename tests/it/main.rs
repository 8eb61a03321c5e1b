//! Whole-program tests: the shipped binary in a home of its own, with typed answers and meters on pseudo-terminals.

#[cfg(feature = "outside")]
mod agent;
mod asked;
mod beside;
mod beside_answers;
mod bounded;
mod by_eye;
mod broken;
#[cfg(all(feature = "outside", feature = "page"))]
mod axe;
#[cfg(all(feature = "outside", feature = "page"))]
mod browser;
mod cable;
#[cfg(feature = "certificate")]
mod certificates;
mod check;
mod clones;
mod closing;
mod counts;
mod coming_back;
mod dated;
mod earlier;
mod every_fault;
mod fault_commands;
#[cfg(feature = "outside")]
mod foreign;
mod forged;
mod found;
mod hall;
mod hidden;
mod identified;
mod identified_cuts;
mod identified_meter;
mod identified_run;
mod identify;
mod keys;
mod language;
mod lengths;
#[cfg(feature = "certificate")]
mod lid;
mod lies;
mod limits;
mod many;
mod members;
#[cfg(feature = "outside")]
mod merkle;
mod meter;
mod meter_found;
mod newcomer;
mod older;
mod outputs;
#[cfg(feature = "outside")]
mod outside;
#[cfg(feature = "page")]
mod page;
#[cfg(all(feature = "outside", feature = "page"))]
mod page_tls;
#[cfg(feature = "page")]
mod paged;
#[cfg(all(feature = "outside", feature = "certificate"))]
mod paper;
#[cfg(feature = "outside")]
mod peers;
#[cfg(feature = "certificate")]
mod photographs;
mod pinned;
mod rates;
mod reference;
mod rehearse;
mod rested;
mod screen;
mod several;
#[cfg(feature = "outside")]
mod spice;
#[cfg(feature = "outside")]
mod stamped;
mod taken_out;
#[cfg(all(feature = "outside", feature = "page"))]
mod tapped;
mod terminal;
mod told_apart;
mod told_by_readings;
mod told_once;
mod typed;
mod unseen;
#[cfg(all(feature = "outside", feature = "page"))]
mod webdriver;
mod world;
mod zones;

//! Sequences as people write them: what a tired author gets wrong is refused, what an odd and careful one does is accepted.

mod acts;
mod as_found;
mod braces;
mod by_eye;
mod case;
mod cases;
mod conditions;
mod dead_tests;
mod earth;
mod editor;
mod isolating;
mod live;
mod metal;
mod neutral;
mod order;
mod partial;
mod sane;
mod volts;

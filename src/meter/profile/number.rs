//! The checks of codes, numbers and the steps they count in.
//!
//! The rule inside: a code stands once and fits its bits, and every number has a step that can be worked out exactly.

use std::ops::Range;

use super::check::{Check, ENTRIES_MAX};
use super::owners::{Owner, Owners};
use super::raw::{Map, RawStep};
use crate::located::Located;
use crate::meter::decode::bits::Bits;
use crate::meter::decode::fields::Field;
use crate::meter::decode::number::{Form, Number, Step, Steps};

/// Most entries of one map of codes.
const CODES_MAX: usize = 256;

impl Check {
    pub(super) fn codes(&mut self, words: Map<String, u64>, bits: &Bits, span: &Range<usize>) -> Vec<(u64, String)> {
        if CODES_MAX < words.0.len() {
            self.add(
                span,
                format!("{} entries, at most {CODES_MAX} are allowed", words.0.len()),
            );
        }
        let mut known: Vec<(u64, String)> = Vec::new();
        for (code, word) in words.0 {
            self.code_fits(&code, bits);
            if known.iter().any(|(earlier, _)| *earlier == code.value) {
                self.add(&code.span, format!("code {:#x} stands twice", code.value));
            }
            known.push((code.value, word.value));
        }
        known
    }

    pub(super) fn a_number(
        &mut self,
        bits: Bits,
        form: Form,
        step: Option<RawStep>,
        special: Map<String, u64>,
        map: &mut Owners,
        span: &Range<usize>,
    ) -> Option<Field> {
        for (_, word) in &special.0 {
            self.length(word, 1, 32);
        }
        let special = self.codes(special, &bits, span);
        let steps = match step {
            None if form == Form::Float => Steps::Shortest,
            None => Steps::Always(Step::ONE),
            Some(RawStep::Always(step)) => Steps::Always(self.step(&step, form)?),
            Some(RawStep::By { bits: range, steps }) => {
                let range = self.place(&range, Owner::Step, map, |width| width <= 16, "1 to 16 bits")?;
                self.entries(span, steps.0.len().min(ENTRIES_MAX + 1));
                let mut known = Vec::new();
                for (code, text) in &steps.0 {
                    self.code_fits(code, &range);
                    if known.iter().any(|(earlier, _)| *earlier == code.value) {
                        self.add(&code.span, format!("code {:#x} stands twice", code.value));
                    }
                    known.extend(self.step(text, form).map(|step| (code.value, step)));
                }
                Steps::By(range, known)
            }
        };
        Some(Field::Number(Number {
            bits,
            form,
            steps,
            special,
        }))
    }

    fn step(&mut self, text: &Located<String>, form: Form) -> Option<Step> {
        match Step::parse(text) {
            Some(step) if form != Form::Float || step.factor == 1 => Some(step),
            Some(_) => {
                self.add(
                    &text.span,
                    format!("`{}` is not the weight of a digit, as a float needs", text.value),
                );
                None
            }
            None => {
                self.add_with_hint(
                    &text.span,
                    format!("`{}` is not a step", text.value),
                    "for example `0.01`, `1` or `0.05`: at most nine decimals, above 0, and six figures",
                );
                None
            }
        }
    }
}

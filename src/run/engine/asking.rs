//! From what is asked to the prompt that is shown.

use super::machine::{Asking, Engine};
use crate::job::End;
use crate::plan::{Act, Kind, Measure, Point, Probes, SetUp, Stage, Step, Timing, charges, of_covers};
use crate::run::dialogue::{Ask, Choice, Prompt, is_grave};
use crate::run::fold::Further;

impl Engine {
    pub(super) fn prompt(&self, asking: &Asking) -> Prompt {
        match asking {
            Asking::Step(step) => return self.step_prompt(*step),
            Asking::Together(steps) => return self.together_prompt(steps),
            Asking::Other(step) => return self.other_prompt(*step),
            Asking::Doubted(step, line, reading) => return self.doubt_prompt(*step, line, reading.as_ref()),
            Asking::SeenNow { .. } | Asking::VoltsOrMegohm { .. } => return self.voltage_prompt(asking),
            _ => {}
        }
        let (say, ask) = self.words(asking);
        let about = step_of(asking);
        let stage = about.map_or(Stage::Isolate, |step| self.run.plan.steps[step].stage);
        let prompt = Prompt {
            step: about.map_or_else(String::new, |step| self.step_id(step)),
            place: (about.map_or(0, |step| step + 1), self.run.plan.steps.len()),
            stage: Some(stage),
            say,
            at_laptop: match asking {
                Asking::Further(_) | Asking::MakeSafe => true,
                Asking::Arrange(_) => self.run.hands.charged,
                _ => false,
            },
            reasons: reasons(asking),
            acts: match asking {
                Asking::MakeSafe => vec![Act::MakeSafe],
                Asking::Arrange(step) => self.arrange_acts(*step),
                _ => Vec::new(),
            },
            ..Prompt::default()
        };
        let mut prompt = self.by_eye_prompt(asking, prompt.asking(ask));
        // what must be so before anything goes on cannot be left
        if let Asking::Arrange(_) | Asking::MakeSafe | Asking::Further(_) | Asking::Locked(_) = asking {
            prompt.choices.retain(|choice| choice.word != "no");
        }
        if let Asking::Arrange(_) | Asking::Further(_) | Asking::Locked(_) = asking {
            prompt.choices.push(Choice::new("abandon", "when it cannot be"));
        }
        match asking {
            Asking::Decision(step) => self.offering_length(*step, prompt),
            _ => prompt,
        }
    }

    /// What is asked, in words, and the kind of answer.
    fn words(&self, asking: &Asking) -> (String, Ask) {
        match asking {
            Asking::Step(_) | Asking::Together(_) | Asking::Other(_) | Asking::Doubted(..) | Asking::SeenNow { .. } | Asking::VoltsOrMegohm { .. } => {
                unreachable!("these have prompts of their own")
            }
            Asking::Held(_) => (
                "HANDS AWAY. Leave the meter as it is: two readings without voltage let the run go on, anything else is a voltage."
                    .to_owned(),
                Ask::Held,
            ),
            Asking::Arrange(step) => (self.arrange_words(*step), Ask::Done { word: "done" }),
            Asking::WhyNotDone(_) => ("Why can it not be done?".to_owned(), Ask::Text),
            Asking::Decision(step) => {
                let offers = self.offers(*step);
                (format!("`{}` did not pass. What now?", self.step_id(*step)), Ask::Decision { offers })
            }
            Asking::FurtherWhat(_) => (
                "Hands away. Which supply lit it, and where is it switched off? Name both on one line.".to_owned(),
                Ask::Text,
            ),
            Asking::Further(Further { supply, next, .. }) => {
                (format!("For the supply that lit it, {}.", next.words(supply)), Ask::Done { word: "done" })
            }
            Asking::RepairWhat(step) => (self.repair_words(*step), Ask::Text),
            Asking::RepairTouched(..) => ("Which cores did the repair touch or move?".to_owned(), Ask::Touched),
            Asking::Beside(step) => {
                let id = self.step_id(*step);
                let say = format!("What was said at `{id}` stays. What is to stand beside it?");
                (say, Ask::Text)
            }
            Asking::WhyLeft(_) => ("Why is it left?".to_owned(), Ask::Text),
            Asking::NewLength => (self.new_length_words(), Ask::Text),
            Asking::WhyLength(length) => (format!("Why is the length corrected to {length}?"), Ask::Text),
            Asking::Blocked { by } => {
                let by_id = self.step_id(*by);
                let verdict = self.run.verdict(*by);
                let say = format!("The walk cannot go on: `{by_id}` has not passed ({}).", verdict.because);
                (say, Ask::Blocked { by: by_id })
            }
            Asking::Locked(step) => (self.locked_words(*step), Ask::Done { word: "again" }),
            Asking::WhyAbandon => ("Why is the run abandoned?".to_owned(), Ask::Text),
            Asking::MakeSafe => {
                let todo = self.run.to_make_safe().join("; ");
                (format!("Before you leave: {todo}."), Ask::Done { word: "done" })
            }
            Asking::ResumeTouched { .. } => (
                "The run goes on after a break. Isolation is proved again. Which cores may have been touched meanwhile?".to_owned(),
                Ask::Touched,
            ),
        }
    }

    fn arrange_words(&self, step: usize) -> String {
        let job = &self.run.plan.job;
        let wanted = self.run.to_arrange(step).unwrap_or_default();
        let links: Vec<_> = wanted.links.iter().map(String::as_str).collect();
        let linked = match links.as_slice() {
            [] => "no core is linked to anything".to_owned(),
            [one] => format!(
                "core {one} is linked to {} and nothing else is linked",
                job.return_words()
            ),
            [all @ .., last] => format!(
                "cores {} and {last} are linked to {} and nothing else is linked",
                all.join(", "),
                job.return_words()
            ),
        };
        // only what a plan puts on, and what may be on, is spoken of
        let may_be =
            |is: &dyn Fn(&SetUp) -> bool, act: Act| self.run.hands.set_up.as_ref().map_or(self.run.does(&act), is);
        let joined = match &wanted.rest {
            Some(core) => format!("every core but {core} is joined to the others"),
            None if wanted.joined => "all live cores are joined together".to_owned(),
            None if wanted.terminals => "every live terminal is joined to the others".to_owned(),
            None if may_be(&|there| there.terminals, Act::JoinTerminals) => {
                "no cores and no terminals are joined".to_owned()
            }
            None => "no cores are joined".to_owned(),
        };
        let neutral = match wanted.neutral_off {
            true => "; the supply's neutral is off its terminal and insulated".to_owned(),
            false if may_be(&|there| there.neutral_off, Act::PartNeutral) => {
                "; the supply's neutral is in its terminal".to_owned()
            }
            false => String::new(),
        };
        let conductors = End::BOTH.map(|end| {
            let conductor = || Point::earth_conductor(job, end).words(job);
            match wanted.earths_off.contains(&end) {
                true => format!("; {} is off its terminal, and no other conductor", conductor()),
                false if may_be(&|there| there.earths_off.contains(&end), Act::EarthOff(end)) => {
                    format!("; {} is in its terminal, tightened and tugged", conductor())
                }
                false => String::new(),
            }
        });
        let earthed = match wanted.earthed {
            true => format!(
                "; {} is clipped to {}",
                job.return_words(),
                Point::building_earth(job).words(job)
            ),
            // only a plan that clips it has a clip to take off
            false if self.run.does(&Act::JoinEarth) => format!("; no clip is on {}", job.return_words()),
            false => String::new(),
        };
        let id = &self.run.plan.steps[step].id;
        let charge = if self.run.hands.charged {
            "let the tester discharge every core; then "
        } else {
            ""
        };
        format!(
            "Before `{id}`: {charge}see that at the {} {linked}, and that at the {} {joined}{earthed}{neutral}{}.",
            job.far.name,
            job.near.name,
            conductors.concat()
        )
    }

    fn arrange_acts(&self, step: usize) -> Vec<Act> {
        let wanted = self.run.to_arrange(step).unwrap_or_default();
        let mut acts = vec![
            Act::RemoveEveryLink,
            Act::PartLiveCores,
            Act::PartRest,
            Act::PartTerminals,
            if wanted.neutral_off {
                Act::PartNeutral
            } else {
                Act::RestoreNeutral
            },
            if wanted.earthed { Act::JoinEarth } else { Act::PartEarth },
        ];
        for end in End::BOTH.into_iter().filter(|end| self.run.does(&Act::EarthOff(*end))) {
            acts.push(match wanted.earths_off.contains(&end) {
                true => Act::EarthOff(end),
                false => Act::EarthBack(end),
            });
        }
        acts.extend(wanted.joined.then_some(Act::JoinLiveCores));
        acts.extend(wanted.rest.map(Act::JoinRest));
        acts.extend(wanted.terminals.then_some(Act::JoinTerminals));
        acts.extend(wanted.links.into_iter().map(Act::LinkToEarth));
        acts
    }

    pub(super) fn step_prompt(&self, index: usize) -> Prompt {
        let step = &self.run.plan.steps[index];
        let (stage, caution) = self.stage_now(index);
        let mut cautions = vec![caution.to_owned()];
        cautions.extend(self.charge_caution(step).map(str::to_owned));
        cautions.extend(of_covers(&self.run.plan, index));
        cautions.extend(step.caution.clone());
        let prompt = Prompt {
            step: step.id.clone(),
            place: (index + 1, self.run.plan.steps.len()),
            stage: Some(stage),
            say: match self.run.looks_again(index) {
                true => format!("Again, as left. {}", step.say),
                false => step.say.clone(),
            },
            cautions,
            hands: step.acts.iter().map(|act| act.words(&self.run.plan.job)).collect(),
            acts: step.acts.clone(),
            at_laptop: step.acts.iter().any(is_grave),
            stand: self.stand(step),
            ..Prompt::default()
        };
        let word = if step.acts.contains(&Act::Energise) {
            "energise"
        } else {
            "done"
        };
        match &step.kind {
            Kind::Do | Kind::Gate => prompt.asking(Ask::Done { word }),
            Kind::Look(look) => prompt.asking(Ask::Look { look: (**look).clone() }),
            Kind::Note { photograph, reason } => {
                let mut prompt = prompt.asking(Ask::Note {
                    photograph: *photograph,
                });
                if reason.is_some() {
                    prompt.choices = vec![Choice::new("no", "when it is not so: then nothing is read live")];
                }
                prompt
            }
            Kind::Indicator { probes, lit } => {
                let mut prompt = self.probing(prompt, probes).asking(Ask::Indicator);
                if *lit {
                    // what only lies beside live conductors lights a weaker lamp
                    let words =
                        "(or `l`) when the lamp for the supply's own voltage lights; a weaker one alone is dark";
                    prompt.choices[0] = Choice::new("lit", words);
                }
                prompt
            }
            Kind::Connect { terminal, .. } => prompt.asking(Ask::Purpose {
                terminal: terminal.clone(),
            }),
            Kind::Measure(m) => {
                let prompt = self.measure_prompt(index, m, prompt);
                self.any_order_prompt(index, prompt)
            }
        }
    }

    /// What the test voltage asks of hands at a step: nobody near while it is on, and none on the cores before it is let go.
    fn charge_caution(&self, step: &Step) -> Option<&'static str> {
        match charges(step) {
            true => Some("test voltage on the cores: nobody touches them"),
            false if self.run.hands.charged => Some(
                "a charged cable bites: leave the tester on until its own voltage display is at zero, then hands on the cores",
            ),
            false => None,
        }
    }

    /// Where the person stands, and whether somebody else there could do it instead.
    pub(super) fn stand(&self, step: &Step) -> Option<String> {
        let job = &self.run.plan.job;
        let stand = step.stand(job)?.words(job);
        Some(match step.can_be_called_out(job) {
            true => format!("{stand}, or call to a second person there"),
            false => stand,
        })
    }

    fn probing(&self, prompt: Prompt, probes: &Probes) -> Prompt {
        let job = &self.run.plan.job;
        Prompt {
            points: Some((probes.first.words(job), probes.second.words(job))),
            probes: Some(probes.clone()),
            ..prompt
        }
    }

    /// What a measurement adds to its prompt: instrument, window, sources, probes.
    fn measure_prompt(&self, index: usize, m: &Measure, prompt: Prompt) -> Prompt {
        let mut prompt = self.probing(prompt, &m.probes);
        let job = &self.run.plan.job;
        let serial = job
            .instruments
            .iter()
            .find(|i| i.name == m.used.instrument)
            .map_or("", |i| i.serial.as_str());
        prompt.instrument = Some(format!(
            "{} (serial {serial}), dial on {}",
            m.used.instrument,
            m.used.function.dial()
        ));
        if let Ok(window) = self.run.window(m) {
            prompt.sources = window.basis.iter().map(|b| b.words()).collect();
            prompt.window = Some(window);
        }
        match &m.timing {
            Timing::Any => {}
            Timing::Within { limit, basis, .. } => {
                prompt.sources.push(format!("within {limit}: {}", basis.words()));
            }
            Timing::After { wait, basis, .. } => {
                prompt.sources.push(format!("after {wait}: {}", basis.words()));
            }
        }
        let function = m.used.function;
        prompt.scale = Some((function.prefix(), function.unit()));
        let from_meter = self.metered(index).is_some();
        let mut prompt = prompt.asking(Ask::Reading { function, from_meter });
        if from_meter && self.is_on_change() {
            prompt.choices.retain(|choice| choice.word != "on");
            prompt.free = Some("the meter sends when its display changes: type the digits that it shows".into());
        }
        prompt
    }
}

/// Reasons that are often given.
fn reasons(asking: &Asking) -> &'static [&'static str] {
    match asking {
        Asking::WhyNotDone(_) => &[
            "cannot be reached",
            "nothing there to do it at",
            "a part is missing",
            "it would not be safe",
        ],
        Asking::WhyLength(_) => &[
            "measured along its run",
            "it goes another way",
            "a piece was cut off or added",
        ],
        Asking::WhyLeft(_) => &["to be repaired later", "the client was told", "outside this job"],
        Asking::WhyAbandon => &[
            "called away",
            "a part is missing",
            "the supply is needed",
            "it would not be safe",
        ],
        Asking::RepairWhat(_) => &[
            "clamp tightened",
            "core put into its terminal",
            "core replaced",
            "part replaced",
        ],
        _ => &[],
    }
}

/// The step that is asked about, where it is one.
fn step_of(asking: &Asking) -> Option<usize> {
    match asking {
        Asking::Step(step)
        | Asking::Locked(step)
        | Asking::Held(step)
        | Asking::Doubted(step, ..)
        | Asking::WhyNotDone(step)
        | Asking::Decision(step)
        | Asking::RepairWhat(step) => Some(*step),
        Asking::FurtherWhat(step) | Asking::Further(Further { step, .. }) => Some(*step),
        Asking::Beside(step)
        | Asking::RepairTouched(step, _)
        | Asking::WhyLeft(step)
        | Asking::Blocked { by: step } => Some(*step),
        _ => None,
    }
}

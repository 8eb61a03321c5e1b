//! A breach in words: the rule, why, and the path that leads into it, with the line of each step.
//!
//! The rule inside: a finding stands at the line of the step that it is about, in the file that the step comes from.

use super::rules::Rule;
use crate::located::{Finding, Problem};
use crate::plan::Plan;

/// One stop of a path: what happened at a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stop {
    /// `None` for what is about the whole run.
    pub step: Option<usize>,
    /// What came of it, in words.
    pub happened: String,
}

/// One rule that some path breaks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Breach {
    /// The rule that is broken.
    pub rule: Rule,
    /// The step it is broken at; `None` at the end of the run.
    pub step: Option<usize>,
    /// What is not shown there, or what is wrong, in words.
    pub missing: Vec<String>,
    /// From the beginning to the breach.
    pub path: Vec<Stop>,
}

impl Breach {
    /// The path in words, one line a stop; stops of one line of the file and one outcome stand together.
    pub fn path_words(&self, plan: &Plan) -> Vec<String> {
        let line = |stop: &Stop| stop.step.map(|i| (plan.steps[i].text, plan.steps[i].line));
        let mut words = Vec::new();
        let mut at = 0;
        while let Some(first) = self.path.get(at) {
            let mut last = at;
            while let Some(next) = self.path.get(last + 1)
                && first.step.is_some()
                && line(next) == line(first)
                && next.happened == first.happened
            {
                last += 1;
            }
            words.push(match first.step {
                None => first.happened.clone(),
                Some(i) => {
                    let name = |stop: &Stop| stop.step.map_or("", |i| plan.steps[i].id.as_str());
                    let range = match last - at {
                        0 => format!("`{}`", name(first)),
                        more => format!("`{}` to `{}` ({} steps)", name(first), name(&self.path[last]), more + 1),
                    };
                    format!("{} {range}: {}", place(plan, i), first.happened)
                }
            });
            at = last + 1;
        }
        words
    }

    /// The fact, in one line.
    pub fn what(&self, plan: &Plan) -> String {
        let place = match self.step {
            Some(i) => format!("at `{}`", plan.steps[i].id),
            None => "at the end".into(),
        };
        let missing = self.missing.join("; ");
        let told = if self.rule.of_facts {
            "not shown on every path: "
        } else {
            ""
        };
        format!("rule `{}` {place}: {told}{missing}", self.rule.name)
    }

    /// The rule, why, the source and the path, one line each.
    pub fn explained(&self, plan: &Plan) -> String {
        let rule = &self.rule;
        let mut text = format!("the rule: {}\nwhy: {}\nsource: {}", rule.says, rule.why, rule.source);
        if !self.path.is_empty() {
            text.push_str("\nthe shortest path into it:");
        }
        for (i, stop) in self.path_words(plan).iter().enumerate() {
            text.push_str(&format!("\n{:>4}. {stop}", i + 1));
        }
        text
    }

    /// The finding at the line of the step, in the file it comes from.
    pub fn finding(&self, plan: &Plan) -> Finding {
        let (text, span) = match self.step {
            Some(step) => plan.span(step),
            None => (&plan.texts[0], 0..plan.texts[0].text.lines().next().map_or(0, str::len)),
        };
        Finding {
            text: text.clone(),
            problem: Problem::new(&span, self.what(plan)).hint(self.explained(plan)),
        }
    }
}

/// `line 12`, with the file where it is not the sequence's own.
fn place(plan: &Plan, step: usize) -> String {
    let step = &plan.steps[step];
    match step.text {
        0 => format!("line {}", step.line),
        text => format!("{} line {}", plan.texts[text].name, step.line),
    }
}

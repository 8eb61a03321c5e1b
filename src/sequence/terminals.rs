//! Cores and terminals as a sequence names them, found in the job.
//!
//! The rule inside: what the job lacks is a finding that lists what it has.

use super::binder::Binder;
use crate::job::{At, Core, End, Purpose};
use crate::located::Located;
use crate::plan::Point;

impl<'a> Binder<'a> {
    /// A core by its name or by what it carries.
    pub(super) fn core_called(&mut self, name: &Located<String>) -> Option<&'a Core> {
        let job = self.job;
        let found = job
            .core(name)
            .or_else(|| Purpose::parse(name).and_then(|purpose| job.core_for(purpose)));
        if found.is_none() {
            let known: Vec<_> = job
                .cores
                .iter()
                .map(|c| format!("`{}` ({})", c.name, c.carries.words()))
                .collect();
            let what = format!("the job has no core `{}`", name.value);
            self.problem(
                name,
                what,
                Some(format!("the cable in `{}` has {}", job.text.name, known.join(", "))),
            );
        }
        found
    }

    /// A terminal of an end by what it is for, by its name, or the one that the zone's actuators hang on.
    pub(super) fn terminal(&mut self, wanted: &Located<String>, end: End) -> Option<Point> {
        let at = self.job.end(end);
        let text = match wanted.as_str() {
            "{zone terminal}" => self.zone_terminal(end),
            "{pair first}" => self.pair_terminal(end, false),
            "{pair second}" => self.pair_terminal(end, true),
            text => text.to_owned(),
        };
        let by_purpose = Purpose::parse(&text).and_then(|p| at.terminal_for(p));
        let by_name = || at.terminals.iter().find(|terminal| terminal.name == text);
        let found = by_purpose.or_else(by_name).map(|t| t.name.clone());
        let job_name = &self.job.text.name;
        if found.is_none() {
            let known: Vec<_> = at
                .terminals
                .iter()
                .map(|t| format!("`{}` ({})", t.name, t.takes.words()))
                .collect();
            let what = format!("the {} has no terminal for `{}`", at.name, wanted.value);
            let hint = format!("the job `{job_name}` lists {}", known.join(", "));
            self.problem(wanted, what, Some(hint));
        }
        // what neither a core of the cable nor equipment goes to cannot be measured; the supply itself comes in at the near end
        let comes_in = |terminal: &String| {
            let takes = at.terminals.iter().find(|there| there.name == *terminal);
            let incoming = [Purpose::PermanentLive, Purpose::Neutral, Purpose::Earth];
            end == End::Near && takes.is_some_and(|there| incoming.contains(&there.takes))
        };
        if let Some(terminal) = &found
            && !comes_in(terminal)
            && !self.job.cores.iter().any(|core| core.terminal(end) == terminal)
            && !self.has_equipment(terminal, end)
        {
            let what = format!("no core of the cable goes to terminal `{terminal}` at the {}", at.name);
            let hint = format!("give a core that carries `{}` in the job `{job_name}`", wanted.value);
            self.problem(wanted, what, Some(hint));
        }
        found.map(|terminal| Point::Terminal { terminal, end })
    }

    /// The terminal of an end on which the actuators of the zone hang.
    fn zone_terminal(&self, end: End) -> String {
        let first = self.around.zone.and_then(|zone| zone.actuators.first());
        let motor = first.and_then(|name| self.job.equipment.iter().find(|there| there.name == *name));
        let at = motor.map(|motor| {
            let between = motor.is.between();
            [&between.0, &between.1]
        });
        let ours = |at: &&At| match at {
            At::Near(_) => end == End::Near,
            At::Far(_) => end == End::Far,
            _ => false,
        };
        match at.and_then(|both| both.into_iter().find(ours)) {
            Some(At::Near(name) | At::Far(name)) => name.clone(),
            // the cable's core may end at the other end of the one that the motors hang on
            _ => self.across(at, end).unwrap_or_default(),
        }
    }

    /// A terminal of the control pair at an end.
    fn pair_terminal(&self, end: End, second: bool) -> String {
        let pair = self.job.control_pair.as_ref();
        let at = pair.map(|pair| if second { &pair.between.1 } else { &pair.between.0 });
        match at {
            Some(At::Near(name)) if end == End::Near => name.clone(),
            Some(At::Far(name)) if end == End::Far => name.clone(),
            // the pair is read at one end, its cores lead to the other
            Some(at) => self.across(Some([at, at]), end).unwrap_or_default(),
            None => String::new(),
        }
    }

    /// The terminal at this end of the core that goes to a terminal at the other.
    pub(super) fn across(&self, at: Option<[&At; 2]>, end: End) -> Option<String> {
        let there = at?.into_iter().find_map(|at| match at {
            At::Near(name) => Some((End::Near, name)),
            At::Far(name) => Some((End::Far, name)),
            _ => None,
        })?;
        let core = self.job.cores.iter().find(|core| core.terminal(there.0) == there.1)?;
        Some(core.terminal(end).to_owned())
    }

    /// Whether equipment of the job hangs on a terminal.
    fn has_equipment(&self, terminal: &str, end: End) -> bool {
        let here = match end {
            End::Near => At::Near(terminal.into()),
            End::Far => At::Far(terminal.into()),
        };
        self.job.equipment.iter().any(|there| {
            let between = there.is.between();
            between.0 == here || between.1 == here
        })
    }
}

//! Which steps of a case stand on what has changed since: a forecast of an
//! older profile is no forecast of this one.

use benchbook::HistoryEvent;
use study::Step;

/// What is behind the changes before it, by the last event of each record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Standing {
    /// The profile changed after the forecast.
    pub forecast: bool,
    /// Profile or forecast changed after the method.
    pub method: bool,
    /// Profile or forecast changed after the plan.
    pub plan: bool,
    /// Profile, method or runs changed after the results.
    pub results: bool,
}

impl Standing {
    /// From the history of a case, oldest event first or last.
    pub fn of(events: &[HistoryEvent]) -> Self {
        let last = |record: &str| {
            let of_record = events.iter().filter(|one| one.record.as_deref() == Some(record));
            of_record.map(|one| one.number).max()
        };
        let behind = |record: &str, before: &[&str]| {
            let own = last(record);
            own.is_some() && before.iter().any(|one| last(one) > own)
        };
        Self {
            forecast: behind("forecast", &["input"]),
            method: behind("method", &["input", "forecast"]),
            plan: behind("plan", &["input", "forecast"]),
            results: behind("results", &["input", "method", "run"]),
        }
    }

    /// What is said on the page of a step; none where it stands.
    pub const fn sentence(self, step: Step) -> Option<&'static str> {
        match step {
            Step::Forecast if self.forecast => {
                Some("The profile, the rig or the cycle changed after this forecast was made.")
            }
            Step::Method if self.method => {
                Some("The profile or the forecast changed after this method was drawn up.")
            }
            Step::Results | Step::Report if self.results => Some(
                "The profile, the method or the runs changed after these results were worked out.",
            ),
            Step::Report if self.forecast => {
                Some("The profile, the rig or the cycle changed after the forecast was made.")
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(number: u64, record: &str) -> HistoryEvent {
        HistoryEvent {
            number,
            at: String::new(),
            actor: String::new(),
            what: String::new(),
            case_id: None,
            detail: String::new(),
            old_sha256: None,
            new_sha256: None,
            record: Some(record.to_owned()),
            subject: None,
            version: None,
            account: None,
            reason: None,
        }
    }

    #[test]
    fn a_step_is_behind_what_changed_after_it() {
        let walked = ["input", "forecast", "method", "plan", "run", "results"];
        let mut events: Vec<HistoryEvent> =
            (1..).zip(walked).map(|(number, record)| event(number, record)).collect();
        assert_eq!(Standing::of(&events), Standing::default());
        events.push(event(7, "run"));
        let more_runs = Standing { results: true, ..Standing::default() };
        assert_eq!(Standing::of(&events), more_runs);
        events.push(event(8, "input"));
        let all = Standing { forecast: true, method: true, plan: true, results: true };
        assert_eq!(Standing::of(&events), all);
        events.push(event(9, "forecast"));
        assert_eq!(Standing::of(&events), Standing { forecast: false, ..all });
        assert!(Standing::of(&events).sentence(Step::Method).is_some());
        assert!(Standing::of(&events).sentence(Step::Forecast).is_none());
        // What was never made is not behind.
        assert_eq!(Standing::of(&[event(1, "input")]), Standing::default());
    }
}

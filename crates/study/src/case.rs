//! A case: one container on its way from a question to an answer.

pub use crate::case_input::CaseInput;
use crate::forecast::Forecast;
use crate::method::Method;
use crate::notes::Note;
use crate::plan::Plan;
use crate::results::Results;
use crate::runs::Run;

/// A case with all that has been done for it so far.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// What it began with.
    pub input: CaseInput,
    /// What vacuum decay is predicted to see.
    pub forecast: Option<Forecast>,
    /// The method in force.
    pub method: Option<Method>,
    /// Which units, how many, in which order.
    pub plan: Option<Plan>,
    /// What happened.
    pub runs: Vec<Run>,
    /// What the runs prove.
    pub results: Option<Results>,
}

/// Where a case stands on its path.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// The question and the container.
    Profile,
    /// What the test can see.
    Forecast,
    /// Which cycle.
    Method,
    /// Which units, and what happened.
    Runs,
    /// What the runs prove.
    Results,
    /// What may be claimed.
    Report,
    /// Whether it is still true.
    Upkeep,
}

impl Step {
    /// Every step in the order of the work.
    pub const ALL: [Self; 7] = [
        Self::Profile,
        Self::Forecast,
        Self::Method,
        Self::Runs,
        Self::Results,
        Self::Report,
        Self::Upkeep,
    ];

    /// Name of the step as people read it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Profile => "Profile",
            Self::Forecast => "Forecast",
            Self::Method => "Method",
            Self::Runs => "Runs",
            Self::Results => "Results",
            Self::Report => "Report",
            Self::Upkeep => "Upkeep",
        }
    }

    /// The question that the step answers.
    #[must_use]
    pub const fn question(self) -> &'static str {
        match self {
            Self::Profile => "What is this container, what is in it, and which leak matters?",
            Self::Forecast => "Can vacuum decay see it, from how small to how large, and why not?",
            Self::Method => "Which chamber volume, vacuum, times and limits?",
            Self::Runs => "Which units, how many, in which order, and what happened?",
            Self::Results => "What do the runs prove?",
            Self::Report => "What may we claim?",
            Self::Upkeep => "Is it still true today, here and elsewhere?",
        }
    }
}

impl Case {
    /// A case of which nothing but the question is known yet.
    #[must_use]
    pub fn begin(input: CaseInput) -> Self {
        Self { input, forecast: None, method: None, plan: None, runs: Vec::new(), results: None }
    }

    /// The first step that still lacks its outcome.
    #[must_use]
    pub fn next_step(&self) -> Step {
        if self.input.profile.mall.is_none() {
            Step::Profile
        } else if self.forecast.is_none() {
            Step::Forecast
        } else if self.method.is_none() {
            Step::Method
        } else if self.runs.is_empty() {
            Step::Runs
        } else if self.results.is_none() {
            Step::Results
        } else {
            Step::Report
        }
    }

    /// Every note of the case, in the order of the steps.
    #[must_use]
    pub fn notes(&self) -> Vec<Note> {
        let method = self.method.iter().flat_map(|method| method.notes.iter());
        let results = self.results.iter().flat_map(|results| results.notes.iter());
        let mut notes = self.forecast_notes();
        notes.extend(method.chain(results).cloned());
        notes
    }

    /// The notes of the forecast, and before them what the storage budgets ask
    /// beyond the limit it was held against, and what a vacuum sealed in means.
    #[must_use]
    pub fn forecast_notes(&self) -> Vec<Note> {
        let Some(forecast) = &self.forecast else { return Vec::new() };
        let beyond = crate::mall::asked_beyond_stated(&self.input);
        let vacuum = crate::mall::vacuum_note(&self.input);
        beyond.into_iter().chain(vacuum).chain(forecast.notes.iter().cloned()).collect()
    }
}

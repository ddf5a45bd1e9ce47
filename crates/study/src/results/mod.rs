//! Results: what the runs prove.

mod ageing;
mod by_kind;
mod detection;
mod flow_calibration;
mod limit;
mod signal;
pub(crate) mod signal_line;
mod units;

use physics::quantities::Probability;

use crate::case_input::CaseInput;
use crate::method::Method;
use crate::notes::Note;
use crate::runs::{Ended, Run, RunClass};
use crate::wording::percent;

pub use statistics::detection::Link;

pub use ageing::AgeRow;
pub use by_kind::KindRow;
pub(crate) use flow_calibration::limit_and_fit;
pub use flow_calibration::{FlowCalibration, FlowLevel, Interval};
pub use signal::SignalDetection;
pub use signal_line::NetRise;

/// What the runs prove, with everything that was counted.
#[derive(Debug, Clone, PartialEq)]
pub struct Results {
    /// Version of the method under which the runs were done.
    pub method_version: u32,
    /// Every run accounted for.
    pub accounting: Accounting,
    /// Reject limit from negative controls; absent where it cannot be said.
    pub reject_limit: Option<RejectLimit>,
    /// Detection from positive controls; absent where there are none.
    pub detection: Option<Detection>,
    /// Detection from the readings of positive controls against their size;
    /// absent where no line can be said.
    pub signal: Option<SignalDetection>,
    /// Positive controls by side and type of their leak; empty where all are of
    /// one kind.
    pub by_kind: Vec<KindRow>,
    /// Flow calibration from flow challenges; absent where there are none.
    pub flow_calibration: Option<FlowCalibration>,
    /// Aged controls by age, the youngest first; empty where there are none.
    pub ageing: Vec<AgeRow>,
    /// What the reader should know.
    pub notes: Vec<Note>,
}

impl Results {
    /// Short name of the bound on the size found with probability 0.9, with the
    /// confidence at which it was taken: `a90/95` at 95 %.
    #[must_use]
    pub fn bound_name(&self) -> String {
        format!("a90/{}", self.confidence_words())
    }

    /// The same in words.
    #[must_use]
    pub fn bound_words(&self) -> String {
        let confidence = self.confidence_words();
        format!("Upper {confidence} % bound on a90 (a90/{confidence})")
    }

    /// The confidence in percent: that of the reject limit, without which there is
    /// no bound.
    fn confidence_words(&self) -> String {
        let of = |limit: &RejectLimit| Probability::new(limit.confidence).map(percent);
        self.reject_limit.as_ref().and_then(of).unwrap_or_else(|| "?".to_owned())
    }
}

/// Every run accounted for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Accounting {
    /// All runs.
    pub runs: usize,
    /// Blanks.
    pub blanks: usize,
    /// Negative controls.
    pub negative_controls: usize,
    /// Positive controls.
    pub positive_controls: usize,
    /// Flow challenges.
    pub flow_challenges: usize,
    /// Runs of aged controls.
    pub aged_controls: usize,
    /// Runs ended by a reach limit.
    pub ended_by_limit: usize,
    /// Runs aborted for another cause.
    pub aborted: usize,
}

/// Reject limit from the rises of negative controls.
#[derive(Debug, Clone, PartialEq)]
pub struct RejectLimit {
    /// The limit, Pa.
    pub limit_pa: f64,
    /// Name of the statistical method.
    pub method: String,
    /// Units behind it.
    pub n: usize,
    /// Mean rise, Pa.
    pub mean_pa: f64,
    /// Standard deviation, Pa.
    pub standard_deviation_pa: f64,
    /// Tolerance factor.
    pub factor: f64,
    /// Share of good units below the limit.
    pub content: f64,
    /// Confidence in that share.
    pub confidence: f64,
    /// Mean, standard deviation and number by day.
    pub by_day: Vec<DayFigures>,
    /// The same by lot; empty where no run says its lot.
    pub by_lot: Vec<LotFigures>,
}

/// Negative controls of one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayFigures {
    /// Day, counted from 1.
    pub day: u32,
    /// Mean rise, Pa.
    pub mean_pa: f64,
    /// Standard deviation, Pa; `None` for one unit.
    pub standard_deviation_pa: Option<f64>,
    /// Units.
    pub n: usize,
}

/// Negative controls of one lot.
#[derive(Debug, Clone, PartialEq)]
pub struct LotFigures {
    /// Name or mark of the lot.
    pub lot: String,
    /// Mean rise, Pa.
    pub mean_pa: f64,
    /// Standard deviation, Pa; `None` for one unit.
    pub standard_deviation_pa: Option<f64>,
    /// Units.
    pub n: usize,
}

/// Probability of detection from positive controls.
#[derive(Debug, Clone, PartialEq)]
pub struct Detection {
    /// Limit against which a unit counts as found, Pa.
    pub limit_pa: f64,
    /// `none`, `quasi` or `complete`.
    pub separation: String,
    /// Link of the fitted curve.
    pub link: String,
    /// Intercept of the linear predictor in ln µm; `None` where undefined.
    pub intercept: Option<f64>,
    /// Slope of it; `None` where undefined.
    pub slope: Option<f64>,
    /// Size found with probability one half, flow-equivalent µm.
    pub a50_um: Option<f64>,
    /// Size found with probability 0.9, flow-equivalent µm.
    pub a90_um: Option<f64>,
    /// Upper 95 % bound on the size found with probability 0.9.
    pub a90_95_um: Option<f64>,
    /// Method of that bound with its settings, enough to compute it again;
    /// `None` in records of versions that did not say it (they took the
    /// profile likelihood).
    pub a90_95_method: Option<String>,
    /// Largest missed and smallest found size.
    pub bracket_um: Option<(f64, f64)>,
    /// Units behind it.
    pub n_units: usize,
    /// Hits by nominal size, with exact bounds.
    pub by_size: Vec<SizeRow>,
    /// The fitted curve: (µm, probability, lower bound where there is one).
    pub curve: Vec<(f64, f64, Option<f64>)>,
}

/// Hits at one nominal size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SizeRow {
    /// Nominal size, flow-equivalent µm.
    pub nominal_um: f64,
    /// Units found.
    pub hits: u64,
    /// Units tested.
    pub of: u64,
    /// One-sided exact lower bound of the probability at the confidence of
    /// the purpose.
    pub lower: f64,
}

/// Evaluates the runs of a case; the curve of detection is a logistic one.
#[must_use]
pub fn evaluate(input: &CaseInput, method: &Method, runs: &[Run]) -> Results {
    evaluate_with(input, method, runs, Link::Logit)
}

/// Evaluates the runs of a case with a curve of detection of this link.
#[must_use]
pub fn evaluate_with(input: &CaseInput, method: &Method, runs: &[Run], link: Link) -> Results {
    let mut notes = Vec::new();
    let accounting = account(runs);
    let reject_limit = limit::from_negative_controls(input, runs, &mut notes);
    let in_force = reject_limit.as_ref().map(|limit| limit.limit_pa).or_else(|| {
        let limit = method.cycle.deciding_tier()?.tier.rise_limit?;
        notes.push(Note::caution(
            "forecast-limit-used",
            "detection is judged with the limit of the method, because the negative controls give \
             none",
            "run enough negative controls for a limit of their own",
        ));
        Some(limit.pa())
    });
    let detection = in_force
        .and_then(|limit| detection::from_positive_controls(input, runs, limit, link, &mut notes));
    // The blank that is taken off comes with the limit of the negative controls.
    let signal = reject_limit
        .as_ref()
        .and_then(|limit| signal::from_positive_controls(input, runs, limit, &mut notes));
    if let (Some(signal), Some(detection)) = (&signal, &detection) {
        notes.extend(signal::contradiction(signal, detection.bracket_um));
    }
    let by_kind =
        in_force.map_or_else(Vec::new, |limit| by_kind::by_kind(input, runs, limit, &mut notes));
    let flow_calibration =
        flow_calibration::from_flow_challenges(input, runs, in_force, &mut notes);
    let ageing = in_force
        .map_or_else(Vec::new, |limit| ageing::from_aged_controls(input, runs, limit, &mut notes));
    if accounting.aborted > 0 {
        notes.push(Note::caution(
            "aborted-runs",
            format!("{} runs were aborted and are missing, not passed", accounting.aborted),
            "read the cause of each in the list of runs",
        ));
    }
    notes.extend(in_force.and_then(|limit| gauge_full(runs, limit)));
    Results {
        method_version: method.version,
        accounting,
        reject_limit,
        detection,
        signal,
        by_kind,
        flow_calibration,
        ageing,
        notes,
    }
}

impl Results {
    /// The limit with which hits and misses were told, Pa: that of the negative
    /// controls, else that of the method; `None` where there is neither.
    #[must_use]
    pub fn limit_in_force_pa(&self) -> Option<f64> {
        let own = self.reject_limit.as_ref().map(|limit| limit.limit_pa);
        own.or_else(|| self.detection.as_ref().map(|detection| detection.limit_pa))
    }
}

/// Marks that a note names.
const NAMED: usize = 5;

/// Says which runs stood at the end of the gauge and tell of no side.
fn gauge_full(runs: &[Run], limit_pa: f64) -> Option<Note> {
    let open: Vec<&Run> = runs
        .iter()
        .filter(|run| matches!(run.ended, Ended::GaugeFull { .. }) && run.found(limit_pa).is_none())
        .collect();
    let first = open.first()?;
    let mut names: Vec<String> =
        open.iter().take(NAMED).map(|run| format!("run {} ({})", run.number, run.unit)).collect();
    if open.len() > NAMED {
        names.push(format!("{} more", open.len() - NAMED));
    }
    let rounded = crate::wording::rounded;
    let known = match first.ended {
        Ended::GaugeFull { at_least_pa } => rounded(at_least_pa),
        _ => rounded(0.0),
    };
    Some(Note::caution(
        "gauge-full",
        format!(
            "the gauge stood at the end of its range before the rise was known to exceed {} Pa \
             (the first: at least {known} Pa): {} counts neither as found nor as tight",
            rounded(limit_pa),
            names.join(", ")
        ),
        "a gross leak fills a gauge: look at the trace, and test again with a wider gauge or a \
         reach limit that ends such runs",
    ))
}

fn account(runs: &[Run]) -> Accounting {
    let mut accounting = Accounting { runs: runs.len(), ..Accounting::default() };
    for run in runs {
        match run.class {
            RunClass::Blank => accounting.blanks += 1,
            RunClass::NegativeControl => accounting.negative_controls += 1,
            RunClass::PositiveControl { .. } => accounting.positive_controls += 1,
            RunClass::FlowChallenge { .. } => accounting.flow_challenges += 1,
            RunClass::AgedControl { .. } => accounting.aged_controls += 1,
        }
        match run.ended {
            Ended::Completed | Ended::GaugeFull { .. } => {}
            Ended::ReachLimit { .. } | Ended::RiseLimit { .. } => accounting.ended_by_limit += 1,
            Ended::Aborted { .. } => accounting.aborted += 1,
        }
    }
    accounting
}

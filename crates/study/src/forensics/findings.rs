//! What was found.

use super::term::Cause;
use crate::notes::Note;

/// What the record says of a leak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// A leak is needed to explain the record.
    Leak,
    /// A leak or something else explains it; the record cannot tell which.
    LeakOrOther,
    /// No leak is needed; a leak up to the stated size is not excluded.
    NoLeakSeen,
    /// The gauge stood at its end: at least a gross inflow, never tight.
    AtFullScale,
    /// The gauge did not move, or nothing can be said for another reason.
    CannotSay,
}

impl Verdict {
    /// Words that are printed.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Leak => "leak",
            Self::LeakOrOther => "leak or another cause",
            Self::NoLeakSeen => "no leak seen",
            Self::AtFullScale => "gauge at full scale",
            Self::CannotSay => "cannot say",
        }
    }
}

/// A term of the sum that was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundTerm {
    /// What it is named.
    pub cause: Cause,
    /// What it may be as well, on this record alone.
    pub could_also_be: Vec<Cause>,
    /// What it adds to the rise of the measure stage, Pa.
    pub rise_pa: f64,
    /// Its share of the rise of the measure stage; `None` where there is no
    /// rise to share.
    pub share: Option<f64>,
    /// Time constant or moment, s, where it has one.
    pub time_s: Option<f64>,
    /// Exponent of outgassing.
    pub exponent: Option<f64>,
    /// How much worse (AICc) the best sum without this term is; `None` where
    /// no other sum came near.
    pub evidence: Option<f64>,
    /// What it adds to the pressure since isolation, Pa, at the times of
    /// [`Residuals::times_s`].
    pub curve_pa: Vec<f64>,
}

/// Rate of the steady or emptying leak, averaged over the measure stage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeakRate {
    /// Estimate, Pa/s; not below zero.
    pub estimate_pa_per_s: f64,
    /// Lower end of the interval, Pa/s; zero where no leak is not excluded, or
    /// where only the upper end is said.
    pub lower_pa_per_s: f64,
    /// Upper end, Pa/s.
    pub upper_pa_per_s: f64,
    /// Confidence of the interval: two-sided, or of the upper end alone.
    pub confidence: f64,
    /// Only the upper end is said: the drift of the gauge is not known, and all
    /// of the rise may be drift.
    pub one_sided: bool,
    /// Lower end, at 95 % two-sided, of leak and drift together, Pa/s; below
    /// zero where the reading may fall.
    pub rise_lower_pa_per_s: f64,
    /// Its upper end, Pa/s.
    pub rise_upper_pa_per_s: f64,
}

/// A size with its interval, flow-equivalent diameter in µm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SizeInterval {
    /// Estimate.
    pub estimate_um: f64,
    /// Lower end.
    pub lower_um: f64,
    /// Upper end; `None` where there is none.
    pub upper_um: Option<f64>,
}

/// What a pass excludes: leaks between the two sizes, flow-equivalent, µm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoSided {
    /// Smaller leaks are not excluded: their signal is too small.
    pub smallest_um: f64,
    /// Larger ones are not either: they empty the headspace before measuring.
    /// `None` where no size could empty it in the time.
    pub largest_um: Option<f64>,
}

/// What the fit leaves.
#[derive(Debug, Clone, PartialEq)]
pub struct Residuals {
    /// Times from isolation, s.
    pub times_s: Vec<f64>,
    /// Residuals, Pa.
    pub values_pa: Vec<f64>,
    /// Pressures of the fitted sum, Pa.
    pub fitted_pa: Vec<f64>,
    /// Standard deviation, Pa.
    pub sd_pa: f64,
    /// Autocorrelation of neighbours that was allowed for.
    pub autocorrelation: f64,
    /// True where what is left after that looks like chance.
    pub look_random: bool,
}

/// What a trace says of its causes.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// What the record says of a leak.
    pub verdict: Verdict,
    /// Rise over the measure stage as fitted, Pa; up to the moment at which
    /// the gauge stood at its end, where it did.
    pub rise_pa: f64,
    /// The terms, the largest first.
    pub terms: Vec<FoundTerm>,
    /// Leak rate; `None` where the gauge stood at its end, nothing can be fitted
    /// or a headspace that emptied may stand behind the record.
    pub leak_rate: Option<LeakRate>,
    /// Size of the leak; `None` where volume, temperature or headspace are not
    /// known, or no leak was found.
    pub leak_size: Option<SizeInterval>,
    /// What a pass excludes; `None` as above.
    pub excludes: Option<TwoSided>,
    /// What the fit leaves.
    pub residuals: Option<Residuals>,
    /// One or two sentences in plain words.
    pub sentence: String,
    /// One thing to do next.
    pub next_step: String,
    /// What the reader should know.
    pub notes: Vec<Note>,
}

/// Why a trace cannot be examined for causes.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Unexplained {
    /// Too few samples between isolation and the end of measuring.
    #[error("only {n} samples lie between isolation and the end of measuring; {needed} are needed")]
    TooFewSamples {
        /// Samples there.
        n: usize,
        /// Samples needed.
        needed: usize,
    },
    /// Times or pressures are not numbers, or times fall.
    #[error("sample {place} is not a finite number, or its time falls")]
    BadSample {
        /// Which one, counted from 1.
        place: usize,
    },
    /// No sum of causes could be fitted.
    #[error("no sum of causes could be fitted to the {n} points")]
    NoFit {
        /// Points.
        n: usize,
    },
}

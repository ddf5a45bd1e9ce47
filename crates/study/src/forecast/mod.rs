//! Forecast: can vacuum decay see the leak, from how small to how large, and
//! what limits it.
//!
//! A leak of each size is run through the cycle simulator on this rig with
//! this headspace. The rise is compared with the spread of tight units, and
//! the whole is repeated over the uncertain inputs, so that the window comes
//! with an interval.

mod compute;
mod correlated;
mod false_rejects;
mod leak_size;
mod liquid_side;
mod other_principles;
mod pass;
mod trials;
pub(crate) mod response;
pub(crate) mod uncertain;
mod unknowns;
mod verdict;
pub(crate) mod window;

pub use compute::{ForecastError, ForecastSettings, forecast};
pub(crate) use compute::{LARGEST_SIZE_UM, SMALLEST_SIZE_UM, log_grid};
pub use correlated::CorrelationError;
pub(crate) use leak_size::simulated_bore;
pub use leak_size::{LeakSize, mall_at_reference};
pub use liquid_side::{LiquidPoint, LiquidSide, LiquidSpread};
pub(crate) use liquid_side::{UnderLiquid, under_liquid};
pub use pass::PassStatement;
pub use trials::{SimulatedTrials, TrialSettings, simulated_trials};
pub use unknowns::Unknown;

use physics::PressureTrace;

use crate::notes::Note;

/// What is predicted before a unit is tested.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Seed of the draws over the uncertain inputs.
    pub seed: u64,
    /// Number of draws.
    pub n_draws: usize,
    /// Rise of a tight unit in the measure stage that decides, Pa.
    pub tight_rise_pa: f64,
    /// Spread of that rise over tight units, standard deviation, Pa.
    pub tight_rise_sd_pa: f64,
    /// Pressure that a tight unit reaches in the first tier, Pa.
    pub tight_reach_pa: f64,
    /// Time a tight unit takes to reach the pressure to evacuate to; `None`
    /// where it does not within the limit.
    pub tight_reach_s: Option<f64>,
    /// Thermal recovery time of the chamber gas, s.
    pub thermal_recovery_s: f64,
    /// Rise limit given with the case, or set from the tight units, Pa.
    pub rise_limit_pa: f64,
    /// Reach limit given with the case, or set from the tight units, Pa.
    pub reach_limit_pa: f64,
    /// What a tight unit does in each tier, with the limits, in order.
    pub tiers: Vec<TierForecast>,
    /// Detection against leak size, by increasing size.
    pub detection: Vec<DetectionPoint>,
    /// Smallest and largest detectable leak.
    pub window: Window,
    /// Stretch of sizes that neither the reach nor the rise limit finds.
    pub blind_gap_um: Option<(f64, f64)>,
    /// How often the limits reject a tight unit; `None` in records of versions that
    /// did not forecast it.
    pub false_rejects: Option<FalseRejects>,
    /// What makes up the rise of a tight unit and its noise.
    pub limited_by: Vec<Share>,
    /// Which unknown widens the window most, the weightiest first.
    pub unknowns: Vec<Unknown>,
    /// Example traces: tight, at the window's edges, at the MALL.
    pub traces: Vec<ForecastTrace>,
    /// What the headspace allows.
    pub headspace: HeadspaceFigures,
    /// Leaks under the liquid; `None` for a dry product.
    pub liquid_side: Option<LiquidSide>,
    /// The answer in plain words.
    pub verdict: Verdict,
    /// What the reader should know.
    pub notes: Vec<Note>,
}

/// What a tight unit does in one tier, and the limits of that tier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TierForecast {
    /// Rise in the measure stage, Pa.
    pub tight_rise_pa: f64,
    /// Its spread over tight units, standard deviation, Pa.
    pub tight_rise_sd_pa: f64,
    /// Rise limit given with the case, or set from the tight units, Pa; `None`
    /// where the tier does not measure.
    pub rise_limit_pa: Option<f64>,
    /// Pressure at the end of its evacuation, Pa.
    pub tight_reach_pa: f64,
    /// Reach limit given with the case, or set from the tight units, Pa.
    pub reach_limit_pa: f64,
}

/// How often tight units are rejected.
#[derive(Debug, Clone, PartialEq)]
pub struct FalseRejects {
    /// Probability that any limit rejects a tight unit, at the stated inputs.
    pub probability: f64,
    /// Lower end of its 90 % interval over the uncertain inputs.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// What the profile tolerates.
    pub tolerable: f64,
    /// By tier, in order.
    pub tiers: Vec<TierRejects>,
}

/// Probability that the limits of one tier reject a tight unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TierRejects {
    /// By the pressure that must be reached.
    pub by_reach: f64,
    /// By the rise; zero where the tier does not measure.
    pub by_rise: f64,
}

/// What is predicted for one size of leak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DetectionPoint {
    /// Flow-equivalent diameter, µm.
    pub flow_equivalent_um: f64,
    /// Flow of air at the reference state, Pa·m³/s at 20 °C.
    pub reference_throughput_pa_m3_per_s: f64,
    /// Rise in the deciding measure stage, Pa; `None` where the cycle ended
    /// before it.
    pub rise_pa: Option<f64>,
    /// Constant flow that gives the same reading in the deciding measure stage,
    /// Pa·m³/s at 20 °C: the flow challenge that stands for this leak in this
    /// cycle. `None` where the cycle ended before, or where the leak reads no more
    /// than a tight unit.
    pub challenge_pa_m3_per_s: Option<f64>,
    /// Pressure reached at the end of the first evacuation, Pa.
    pub reach_pa: f64,
    /// Probability that the rise limit finds it.
    pub by_rise: f64,
    /// Probability that the reach limit finds it.
    pub by_reach: f64,
    /// Probability that any limit finds it.
    pub probability: f64,
}

impl Forecast {
    /// Constant flow that stands for the smallest detectable leak in this
    /// cycle, Pa·m³/s at 20 °C, read between the sizes on logarithmic axes.
    #[must_use]
    pub fn challenge_at_smallest(&self) -> Option<f64> {
        self.challenge_at(self.window.smallest?.um)
    }

    /// The same for a leak of any size, flow-equivalent µm.
    #[must_use]
    pub fn challenge_at(&self, um: f64) -> Option<f64> {
        let mut known = self
            .detection
            .iter()
            .filter_map(|point| Some((point.flow_equivalent_um, point.challenge_pa_m3_per_s?)))
            .filter(|(_, flow)| *flow > 0.0);
        let mut below = known.next()?;
        for above in known {
            if above.0 >= um {
                let ln = digits::scalar::ln;
                let share = (ln(um / below.0) / ln(above.0 / below.0)).clamp(0.0, 1.0);
                return Some(below.1 * digits::scalar::pow(above.1 / below.1, share));
            }
            below = above;
        }
        Some(below.1)
    }
}

/// An edge of the window with the interval from the uncertain inputs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// At the stated inputs, flow-equivalent µm.
    pub um: f64,
    /// Lower end of the 90 % interval, µm.
    pub low_um: f64,
    /// Upper end of the 90 % interval, µm.
    pub high_um: f64,
    /// True where the forecast range ends before the window does: the edge
    /// is then 'at least this'.
    pub beyond_range: bool,
}

/// Smallest and largest detectable leak, where there are any.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Smallest leak found with the required probability.
    pub smallest: Option<Edge>,
    /// Largest leak up to which that holds without a gap.
    pub largest: Option<Edge>,
    /// Share of the draws in which there is a window at all.
    pub share_of_draws_with_window: f64,
}

/// A cause and its share of what a tight unit shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// The cause in plain words.
    pub cause: String,
    /// Its size, Pa; may be negative.
    pub pa: f64,
    /// Its share of the sum of absolute sizes, 0 to 1.
    pub share: f64,
}

/// A predicted trace with its label.
#[derive(Debug, Clone, PartialEq)]
pub struct ForecastTrace {
    /// What it is the trace of.
    pub label: String,
    /// Flow-equivalent diameter, µm; 0 for a tight unit.
    pub flow_equivalent_um: f64,
    /// The noise-free trace.
    pub trace: PressureTrace,
}

/// What the headspace allows.
#[derive(Debug, Clone, PartialEq)]
pub struct HeadspaceFigures {
    /// Rise if the whole headspace emptied into the chamber, Pa.
    pub ceiling_pa: f64,
    /// Time constant of emptying by size: (µm, s).
    pub emptying: Vec<(f64, f64)>,
}

/// The plain answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verdict {
    /// Yes, yes if, or no.
    pub answer: Answer,
    /// Why, in one or two sentences.
    pub because: String,
}

/// Yes, yes if, or no.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// The window holds the leak that matters, with its interval.
    Yes,
    /// It does under a condition that is named.
    YesIf,
    /// It does not.
    No,
    /// The leak that matters has not been stated.
    NotAsked,
}

impl Answer {
    /// The words that are printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::YesIf => "yes, if",
            Self::No => "no",
            Self::NotAsked => "no leak limit stated",
        }
    }

    /// The answer of these words, if they are one.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Yes, Self::YesIf, Self::No, Self::NotAsked]
            .into_iter()
            .find(|answer| answer.word() == word)
    }
}

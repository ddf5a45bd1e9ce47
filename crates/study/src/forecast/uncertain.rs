//! Draws over the uncertain inputs of a forecast.

use digits::RandomStream;
use digits::normal;
use digits::sobol::Sobol;
use physics::quantities::{AbsolutePressure, Conductance, Duration, Temperature, Volume};

use super::correlated::{Correlated, CorrelationError};
use crate::case_input::CaseInput;
use crate::provenance::{Origin, Sourced};
use crate::uncertain_input::{LiquidInput, UncertainInput};

/// Relative standard uncertainty that is taken where none was stated.
/// Working values: drawings give volumes to a few percent, fills vary more,
/// published outgassing of one material varies by a factor, and pumps and
/// lines of one type differ by a tenth.
const UNSTATED_FREE_VOLUME: f64 = 0.05;
const UNSTATED_HEADSPACE_VOLUME: f64 = 0.10;
const UNSTATED_HEADSPACE_PRESSURE: f64 = 0.05;
const BACKGROUND_LOG_SD: f64 = 0.30;
const WALL_TEMPERATURE_K: f64 = 1.0;
const THERMAL_RECOVERY: f64 = 0.30;
const PUMP: f64 = 0.10;
const LOWEST_PRESSURE: f64 = 0.20;
/// Standard uncertainty of the flow law for a thin hole. The law was compared
/// with particle simulations to a tolerance of 5 %, taken here as two
/// standard uncertainties.
const FLOW_LAW: f64 = 0.025;

/// Number of uncertain inputs.
pub(crate) const INPUTS: usize = UncertainInput::ALL.len();
/// Number of further ones that only a leak under the liquid knows.
pub(crate) const LIQUID_INPUTS: usize = LiquidInput::ALL.len();

/// What is known of one uncertain input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Known {
    /// The input in plain words.
    pub input: &'static str,
    /// Relative standard uncertainty that is drawn.
    pub relative_sd: f64,
    /// Where its value comes from.
    pub origin: Origin,
    /// The uncertainty was stated with the value.
    pub stated: bool,
}

/// The uncertain inputs, in the order of their list.
pub(crate) fn inputs(input: &CaseInput) -> [Known; INPUTS] {
    let free = &input.rig.free_volume;
    let headspace = &input.profile.headspace;
    let rig = input.rig.provenance.origin;
    core::array::from_fn(|place| {
        let which = UncertainInput::ALL[place];
        let (origin, (relative_sd, stated)) = match which {
            UncertainInput::FreeVolume => {
                (free.provenance.origin, stated(free, free.value.m3(), UNSTATED_FREE_VOLUME))
            }
            UncertainInput::HeadspaceVolume => {
                let volume = &headspace.volume;
                let known = stated(volume, volume.value.m3(), UNSTATED_HEADSPACE_VOLUME);
                (volume.provenance.origin, known)
            }
            UncertainInput::HeadspacePressure => {
                let pressure = &headspace.pressure;
                let known = stated(pressure, pressure.value.pa(), UNSTATED_HEADSPACE_PRESSURE);
                (pressure.provenance.origin, known)
            }
            UncertainInput::FlowLaw => (Origin::Computed, (FLOW_LAW, true)),
            UncertainInput::FallingOutgassing | UncertainInput::SteadyOutgassing => {
                (rig, (BACKGROUND_LOG_SD, false))
            }
            UncertainInput::WallTemperature => {
                (rig, (WALL_TEMPERATURE_K / input.rig.wall_temperature.k(), false))
            }
            UncertainInput::ThermalRecovery => (rig, (THERMAL_RECOVERY, false)),
            UncertainInput::PumpSpeed | UncertainInput::LineConductance => (rig, (PUMP, false)),
            UncertainInput::LowestPressure => (rig, (LOWEST_PRESSURE, false)),
        };
        Known { input: which.word(), relative_sd, origin, stated }
    })
}

/// A case with its uncertain inputs drawn once.
pub(crate) struct Varied {
    pub input: CaseInput,
    pub relative_flow_error: f64,
    /// The standard normal draws behind it, in the order of [`inputs`].
    pub scores: [f64; INPUTS],
}

/// Draws of the uncertain inputs, which go together as stated: evenly, by the
/// points of Sobol' with a random shift through the normal distribution, or at
/// random. A draw depends on its number alone, and so not on threads.
pub(crate) struct Draws {
    seed: u64,
    points: Sobol,
    correlated: Correlated,
}

impl Draws {
    pub fn new(input: &CaseInput, seed: u64) -> Result<Self, CorrelationError> {
        // One dimension more than inputs, for the size of a leak.
        let points = Sobol::new(INPUTS + 1 + LIQUID_INPUTS, seed)
            .unwrap_or_else(|| unreachable!("the sequence has more dimensions than inputs"));
        Ok(Self { seed, points, correlated: Correlated::of(&input.correlations)? })
    }

    /// Correlations of the scores.
    pub fn matrix(&self) -> &[[f64; INPUTS]; INPUTS] {
        &self.correlated.matrix
    }

    /// The even draw of this number.
    pub fn even(&self, input: &CaseInput, number: usize) -> Varied {
        vary(input, self.even_scores(number))
    }

    /// The scores of the even draw of this number.
    pub fn even_scores(&self, number: usize) -> [f64; INPUTS] {
        let index = place_of(number);
        self.correlated
            .scores(&core::array::from_fn(|place| normal::quantile(self.points.at(index, place))))
    }

    /// A part from 0 to 1 that goes with the even draw of this number, and
    /// fills its range with the inputs.
    pub fn even_part(&self, number: usize) -> f64 {
        self.points.at(place_of(number), INPUTS)
    }

    /// The scores of what only a leak under the liquid knows, in the even draw of
    /// this number: independent of the others.
    pub fn even_liquid_scores(&self, number: usize) -> [f64; LIQUID_INPUTS] {
        let index = place_of(number);
        core::array::from_fn(|place| normal::quantile(self.points.at(index, INPUTS + 1 + place)))
    }

    /// The random draw of this number.
    pub fn random(&self, input: &CaseInput, number: u64) -> Varied {
        let mut stream = RandomStream::new(self.seed, number);
        vary(input, self.correlated.scores(&core::array::from_fn(|_| stream.normal())))
    }
}

/// Place of a draw in the sequence.
fn place_of(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

/// The case with every input moved by its score.
fn vary(input: &CaseInput, scores: [f64; INPUTS]) -> Varied {
    let mut varied = input.clone();
    let relative_flow_error = move_inputs(input, &mut varied, &inputs(input), &scores);
    Varied { input: varied, relative_flow_error, scores }
}

/// Writes every input, moved from its value in one case by its score, into a
/// copy of that case; gives the relative error of the flow law.
pub(crate) fn move_inputs(
    from: &CaseInput,
    copy: &mut CaseInput,
    known: &[Known; INPUTS],
    scores: &[f64; INPUTS],
) -> f64 {
    let (stated, moved) = (&from.rig, &mut copy.rig);
    let (gas, moved_gas) = (&from.profile.headspace, &mut copy.profile.headspace);
    let mut relative_flow_error = 0.0;
    for (place, which) in UncertainInput::ALL.iter().enumerate() {
        let step = known[place].relative_sd * scores[place];
        let factor = (1.0 + step).max(0.05);
        let log_factor = || digits::scalar::exp(step);
        match which {
            UncertainInput::FreeVolume => {
                moved.free_volume.value = Volume::from_m3(stated.free_volume.value.m3() * factor);
            }
            UncertainInput::HeadspaceVolume => {
                moved_gas.volume.value = Volume::from_m3(gas.volume.value.m3() * factor);
            }
            UncertainInput::HeadspacePressure => {
                moved_gas.pressure.value =
                    AbsolutePressure::from_pa(gas.pressure.value.pa() * factor);
            }
            UncertainInput::FlowLaw => relative_flow_error = factor - 1.0,
            UncertainInput::FallingOutgassing => {
                moved.background.one_over_t = stated.background.one_over_t * log_factor();
            }
            UncertainInput::SteadyOutgassing => {
                moved.background.constant = stated.background.constant * log_factor();
            }
            UncertainInput::WallTemperature => {
                moved.wall_temperature = Temperature::from_k(stated.wall_temperature.k() * factor);
            }
            UncertainInput::ThermalRecovery => {
                moved.thermal_recovery =
                    Duration::from_s(stated.thermal_recovery.s() * log_factor());
            }
            UncertainInput::PumpSpeed => {
                moved.pump.speed =
                    Conductance::from_m3_per_s(stated.pump.speed.m3_per_s() * factor);
            }
            UncertainInput::LineConductance => {
                let molecular = stated.pump.line_molecular.m3_per_s() * factor;
                moved.pump.line_molecular = Conductance::from_m3_per_s(molecular);
                moved.pump.line_viscous_m3_per_s_pa = stated.pump.line_viscous_m3_per_s_pa * factor;
            }
            UncertainInput::LowestPressure => {
                moved.pump.ultimate =
                    AbsolutePressure::from_pa(stated.pump.ultimate.pa() * log_factor());
            }
        }
    }
    relative_flow_error
}

/// Relative standard uncertainty, and whether it was stated.
fn stated<T>(sourced: &Sourced<T>, value_si: f64, unstated: f64) -> (f64, bool) {
    match sourced.standard_uncertainty_si {
        Some(uncertainty) if value_si > 0.0 => (uncertainty / value_si, true),
        _ => (unstated, false),
    }
}

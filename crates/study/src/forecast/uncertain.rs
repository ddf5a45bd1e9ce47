//! Draws over the uncertain inputs of a forecast.

use digits::RandomStream;
use digits::normal;
use digits::sobol::Sobol;
use physics::quantities::{AbsolutePressure, Conductance, Duration, Temperature, Volume};

use super::correlated::{Correlated, CorrelationError};
use crate::case_input::CaseInput;
use crate::provenance::{Origin, Sourced};
use crate::uncertain_input::UncertainInput;

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

/// Draws that fill the range of the inputs evenly: the points of Sobol' with a
/// random shift, through the normal distribution, going together as stated.
pub(crate) struct EvenDraws {
    points: Sobol,
    correlated: Correlated,
}

impl EvenDraws {
    pub fn new(input: &CaseInput, seed: u64) -> Result<Self, CorrelationError> {
        let points = Sobol::new(INPUTS, seed)
            .unwrap_or_else(|| unreachable!("the sequence has as many dimensions as inputs"));
        Ok(Self { points, correlated: Correlated::of(&input.correlations)? })
    }

    /// Correlations of the scores.
    pub fn matrix(&self) -> &[[f64; INPUTS]; INPUTS] {
        &self.correlated.matrix
    }

    /// The draw of this number.
    pub fn draw(&self, input: &CaseInput, number: usize) -> Varied {
        vary(input, self.scores(number))
    }

    /// The scores of this number.
    pub fn scores(&self, number: usize) -> [f64; INPUTS] {
        let index = u32::try_from(number).unwrap_or(u32::MAX);
        self.correlated
            .scores(&core::array::from_fn(|place| normal::quantile(self.points.at(index, place))))
    }
}

/// Draws the uncertain inputs at random; each draw has its own random stream,
/// so the result does not depend on threads.
pub(crate) fn draw(input: &CaseInput, seed: u64, number: u64) -> Result<Varied, CorrelationError> {
    let mut stream = RandomStream::new(seed, number);
    let correlated = Correlated::of(&input.correlations)?;
    Ok(vary(input, correlated.scores(&core::array::from_fn(|_| stream.normal()))))
}

/// The case with every input moved by its score.
pub(crate) fn vary(input: &CaseInput, scores: [f64; INPUTS]) -> Varied {
    let known = inputs(input);
    let mut varied = input.clone();
    let relative_flow_error = move_inputs(&mut varied, &known, &scores);
    Varied { input: varied, relative_flow_error, scores }
}

/// Moves the inputs in place; gives the relative error of the flow law.
pub(crate) fn move_inputs(
    input: &mut CaseInput,
    known: &[Known; INPUTS],
    scores: &[f64; INPUTS],
) -> f64 {
    let factor = |place: usize| (1.0 + known[place].relative_sd * scores[place]).max(0.05);
    let log_factor = |place: usize| digits::scalar::exp(known[place].relative_sd * scores[place]);
    let rig = &mut input.rig;
    let headspace = &mut input.profile.headspace;
    let mut relative_flow_error = 0.0;
    for (place, which) in UncertainInput::ALL.iter().enumerate() {
        match which {
            UncertainInput::FreeVolume => {
                let free = &mut rig.free_volume.value;
                *free = Volume::from_m3(free.m3() * factor(place));
            }
            UncertainInput::HeadspaceVolume => {
                let volume = &mut headspace.volume.value;
                *volume = Volume::from_m3(volume.m3() * factor(place));
            }
            UncertainInput::HeadspacePressure => {
                let pressure = &mut headspace.pressure.value;
                *pressure = AbsolutePressure::from_pa(pressure.pa() * factor(place));
            }
            UncertainInput::FlowLaw => relative_flow_error = factor(place) - 1.0,
            UncertainInput::FallingOutgassing => rig.background.one_over_t *= log_factor(place),
            UncertainInput::SteadyOutgassing => rig.background.constant *= log_factor(place),
            UncertainInput::WallTemperature => {
                rig.wall_temperature =
                    Temperature::from_k(rig.wall_temperature.k() * factor(place));
            }
            UncertainInput::ThermalRecovery => {
                rig.thermal_recovery =
                    Duration::from_s(rig.thermal_recovery.s() * log_factor(place));
            }
            UncertainInput::PumpSpeed => {
                let speed = rig.pump.speed.m3_per_s() * factor(place);
                rig.pump.speed = Conductance::from_m3_per_s(speed);
            }
            UncertainInput::LineConductance => {
                let molecular = rig.pump.line_molecular.m3_per_s() * factor(place);
                rig.pump.line_molecular = Conductance::from_m3_per_s(molecular);
                rig.pump.line_viscous_m3_per_s_pa *= factor(place);
            }
            UncertainInput::LowestPressure => {
                let lowest = rig.pump.ultimate.pa() * log_factor(place);
                rig.pump.ultimate = AbsolutePressure::from_pa(lowest);
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

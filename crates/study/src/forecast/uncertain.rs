//! Draws over the uncertain inputs of a forecast.

use digits::RandomStream;
use physics::quantities::{AbsolutePressure, Volume};

use crate::case_input::CaseInput;
use crate::provenance::{Origin, Sourced};

/// Relative standard uncertainty that is taken where none was stated.
/// Working values: drawings give volumes to a few percent, fills vary more,
/// and published outgassing of one material varies by a factor.
const UNSTATED_FREE_VOLUME: f64 = 0.05;
const UNSTATED_HEADSPACE_VOLUME: f64 = 0.10;
const UNSTATED_HEADSPACE_PRESSURE: f64 = 0.05;
const BACKGROUND_LOG_SD: f64 = 0.30;
/// Standard uncertainty of the flow law for a thin hole. The law was compared
/// with particle simulations to a tolerance of 5 %, taken here as two
/// standard uncertainties.
const FLOW_LAW: f64 = 0.025;

/// Number of uncertain inputs.
pub(crate) const INPUTS: usize = 5;

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

/// The uncertain inputs, in the order in which they are drawn.
pub(crate) fn inputs(input: &CaseInput) -> [Known; INPUTS] {
    let free = &input.rig.free_volume;
    let headspace = &input.profile.headspace;
    let known =
        |what, origin, (relative_sd, stated)| Known { input: what, relative_sd, origin, stated };
    [
        known(
            "free volume of the chamber",
            free.provenance.origin,
            stated(free, free.value.m3(), UNSTATED_FREE_VOLUME),
        ),
        known(
            "headspace volume",
            headspace.volume.provenance.origin,
            stated(&headspace.volume, headspace.volume.value.m3(), UNSTATED_HEADSPACE_VOLUME),
        ),
        known(
            "headspace pressure",
            headspace.pressure.provenance.origin,
            stated(&headspace.pressure, headspace.pressure.value.pa(), UNSTATED_HEADSPACE_PRESSURE),
        ),
        known("flow law of the leak", Origin::Computed, (FLOW_LAW, true)),
        known("background of the rig", input.rig.provenance.origin, (BACKGROUND_LOG_SD, false)),
    ]
}

/// A case with its uncertain inputs drawn once.
pub(crate) struct Varied {
    pub input: CaseInput,
    pub relative_flow_error: f64,
    /// The standard normal draws behind it, in the order of [`inputs`].
    pub scores: [f64; INPUTS],
}

/// Draws the uncertain inputs; each draw has its own random stream, so the
/// result does not depend on threads.
pub(crate) fn draw(input: &CaseInput, seed: u64, number: u64) -> Varied {
    let mut stream = RandomStream::new(seed, number);
    let mut varied = input.clone();
    let scores: [f64; INPUTS] = core::array::from_fn(|_| stream.normal());
    let known = inputs(input);
    let factor = |place: usize| (1.0 + known[place].relative_sd * scores[place]).max(0.05);

    let free = &mut varied.rig.free_volume.value;
    *free = Volume::from_m3(free.m3() * factor(0));
    let volume = &mut varied.profile.headspace.volume.value;
    *volume = Volume::from_m3(volume.m3() * factor(1));
    let pressure = &mut varied.profile.headspace.pressure.value;
    *pressure = AbsolutePressure::from_pa(pressure.pa() * factor(2));

    let relative_flow_error = factor(3) - 1.0;
    let background = digits::scalar::exp(BACKGROUND_LOG_SD * scores[4]);
    varied.rig.background.one_over_t *= background;
    varied.rig.background.constant *= background;
    Varied { input: varied, relative_flow_error, scores }
}

/// Relative standard uncertainty, and whether it was stated.
fn stated<T>(sourced: &Sourced<T>, value_si: f64, unstated: f64) -> (f64, bool) {
    match sourced.standard_uncertainty_si {
        Some(uncertainty) if value_si > 0.0 => (uncertainty / value_si, true),
        _ => (unstated, false),
    }
}

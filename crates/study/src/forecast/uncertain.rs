//! Draws over the uncertain inputs of a forecast.

use digits::RandomStream;
use physics::quantities::{AbsolutePressure, Volume};

use crate::case_input::CaseInput;
use crate::provenance::Sourced;

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

/// A case with its uncertain inputs drawn once.
pub(crate) struct Varied {
    pub input: CaseInput,
    pub relative_flow_error: f64,
}

/// Draws the uncertain inputs; each draw has its own random stream, so the
/// result does not depend on threads.
pub(crate) fn draw(input: &CaseInput, seed: u64, number: u64) -> Varied {
    let mut stream = RandomStream::new(seed, number);
    let mut varied = input.clone();
    let mut factor = |relative: f64| (1.0 + relative * stream.normal()).max(0.05);

    let free = &input.rig.free_volume;
    let relative = stated(free, free.value.m3(), UNSTATED_FREE_VOLUME);
    varied.rig.free_volume.value = Volume::from_m3(free.value.m3() * factor(relative));

    let volume = &input.profile.headspace.volume;
    let relative = stated(volume, volume.value.m3(), UNSTATED_HEADSPACE_VOLUME);
    varied.profile.headspace.volume.value = Volume::from_m3(volume.value.m3() * factor(relative));

    let pressure = &input.profile.headspace.pressure;
    let relative = stated(pressure, pressure.value.pa(), UNSTATED_HEADSPACE_PRESSURE);
    varied.profile.headspace.pressure.value =
        AbsolutePressure::from_pa(pressure.value.pa() * factor(relative));

    let relative_flow_error = factor(FLOW_LAW) - 1.0;
    let background = digits::scalar::exp(BACKGROUND_LOG_SD * stream.normal());
    varied.rig.background.one_over_t *= background;
    varied.rig.background.constant *= background;
    Varied { input: varied, relative_flow_error }
}

fn stated<T>(sourced: &Sourced<T>, value_si: f64, unstated: f64) -> f64 {
    match sourced.standard_uncertainty_si {
        Some(uncertainty) if value_si > 0.0 => uncertainty / value_si,
        _ => unstated,
    }
}

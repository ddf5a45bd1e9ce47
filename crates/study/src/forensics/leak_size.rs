//! From a leak rate to a flow-equivalent diameter, given the headspace.

use physics::leak_paths::{FlowConditions, LeakPath, orifice_bore_for_flow, reference_conditions};
use physics::quantities::{AbsolutePressure, Length, MolarFlow, Temperature, Volume};

use super::choice::Choice;
use super::circumstances::{Circumstances, HeadspaceState};
use super::findings::{LeakRate, SizeInterval, TwoSided};
use super::leak::{GAS_CONSTANT, emptying_at};
use super::leak_rate::{constant_error, mean_rate};
use super::term::{Cause, TREND, logarithmic_grid};
use super::window::Window;
use crate::forecast::LeakSize;

/// What is needed to turn a rate into a size.
struct Known {
    headspace: HeadspaceState,
    free_volume: Volume,
    temperature: Temperature,
}

fn known(window: &Window, about: &Circumstances) -> Option<Known> {
    let measured = window.temperatures_k.first().map(|&k| Temperature::from_k(k));
    Some(Known {
        headspace: about.headspace?,
        free_volume: about.free_volume?,
        temperature: measured.or(about.temperature)?,
    })
}

/// Size of the thin hole that gives a rate, as the ladder has it: the bore is
/// found under the pressures of the test, and its air flow at the reference
/// state gives the flow-equivalent diameter.
fn size_um(known: &Known, window: &Window, rate_pa_per_s: f64) -> Option<f64> {
    if !(rate_pa_per_s > 0.0) {
        return Some(0.0);
    }
    let (from, to) = window.measure_s;
    let moved_pa_m3 = rate_pa_per_s * 0.5 * (from + to) * known.free_volume.m3();
    // What has left the headspace by the middle of the stage, as far as the
    // isolated chamber saw it.
    let upstream = known.headspace.pressure.pa() - moved_pa_m3 / known.headspace.volume.m3();
    let middle =
        super::leak_rate::value_at(&window.times_s, &window.pressures_pa, 0.5 * (from + to));
    let conditions = FlowConditions {
        gas: known.headspace.gas,
        upstream: AbsolutePressure::from_pa(upstream),
        downstream: AbsolutePressure::from_pa(middle.max(0.0)),
        temperature: known.temperature,
    };
    let flow = MolarFlow::from_mol_per_s(
        rate_pa_per_s * known.free_volume.m3() / (GAS_CONSTANT * known.temperature.k()),
    );
    of_bore_um(orifice_bore_for_flow(flow, &conditions).ok()?.m())
}

/// Flow-equivalent diameter of a thin hole, µm.
fn of_bore_um(bore_m: f64) -> Option<f64> {
    let path = LeakPath::Orifice { bore_diameter: Length::from_m(bore_m) };
    let flow = path.flow(&reference_conditions()).ok()?.molar_flow;
    LeakSize::from_reference_flow(flow).ok().map(|size| size.flow_equivalent_diameter.um())
}

/// The size of a leak with its interval: from the bore of the emptying leak
/// where that was taken, because a rate then belongs to two sizes; otherwise
/// from the rate.
pub(super) fn size_of(
    rate: &LeakRate,
    choice: &Choice,
    window: &Window,
    about: &Circumstances,
) -> Option<SizeInterval> {
    let known = known(window, about)?;
    if let Some((shape, _)) = choice.taken.at(TREND)
        && shape.cause == Cause::EmptyingLeak
        && let Some(bore_m) = shape.constant
    {
        // Twice the error of the logarithm, and what the headspace is off by.
        let error = constant_error(&choice.taken, window, about, choice.noise)?;
        let law = law_error(&known, window);
        let factor = digits::scalar::exp((2.0 * (error * error + law * law).sqrt()).min(3.0));
        return Some(SizeInterval {
            estimate_um: of_bore_um(bore_m)?,
            lower_um: of_bore_um(bore_m / factor)?,
            upper_um: of_bore_um(bore_m * factor),
        });
    }
    Some(SizeInterval {
        estimate_um: size_um(&known, window, rate.estimate_pa_per_s)?,
        lower_um: size_um(&known, window, rate.lower_pa_per_s)?,
        upper_um: size_um(&known, window, rate.upper_pa_per_s),
    })
}

/// Error of the flow law as one of size, relative: half that of the flow,
/// because the flow goes with the square of the size.
fn law_error(known: &Known, window: &Window) -> f64 {
    let path = LeakPath::Orifice { bore_diameter: Length::from_um(5.0) };
    let conditions = FlowConditions {
        gas: known.headspace.gas,
        upstream: known.headspace.pressure,
        downstream: AbsolutePressure::from_pa(
            window.pressures_pa.first().copied().unwrap_or(0.0).max(0.0),
        ),
        temperature: known.temperature,
    };
    path.flow(&conditions).map_or(0.02, |flow| 0.5 * flow.relative_law_uncertainty)
}

/// Largest bore that is looked at, m, and the safety that the large side
/// keeps from its edge: the laws of emptying are believed to a tenth.
const LARGEST_BORE_M: f64 = 1e-3;
const SAFETY: f64 = 0.9;

/// What a pass excludes: from the size whose rate is the upper end of the
/// interval to the size that empties the headspace so far before measuring
/// that it would show no more than `unclear_pa`, the rise that is not told
/// from what an emptying headspace leaves.
pub(super) fn excluded(
    rate: &LeakRate,
    unclear_pa: f64,
    window: &Window,
    about: &Circumstances,
) -> Option<TwoSided> {
    let known = known(window, about)?;
    let smallest_um = size_um(&known, window, rate.upper_pa_per_s)?;
    let (from, to) = window.measure_s;
    window.age_s?;
    let threshold_pa = unclear_pa.max(rate.upper_pa_per_s * (to - from));
    let signal = |bore_m: f64| {
        emptying_at(window, about, bore_m)
            .map_or(0.0, |shape| mean_rate(window, &shape.column) * (to - from))
    };
    // The signal rises to its ceiling and falls beyond it.
    let grid = logarithmic_grid(smallest_um.max(0.5) * 1e-6, LARGEST_BORE_M, 48);
    let last_seen = grid.iter().rposition(|&bore| signal(bore) > threshold_pa);
    let largest_um = match last_seen {
        // Seen up to the end of the grid: no emptied unit hides.
        Some(place) if place + 1 == grid.len() => None,
        Some(place) => Some(of_bore_um(grid[place])? * SAFETY),
        // Nothing on the grid shows: nothing is excluded beyond the smallest.
        None => Some(smallest_um),
    };
    Some(TwoSided { smallest_um, largest_um })
}

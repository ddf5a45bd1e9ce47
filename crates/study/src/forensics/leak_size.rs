//! From a leak rate to a flow-equivalent diameter, given the headspace.

use physics::leak_paths::{FlowConditions, LeakPath, orifice_bore_for_flow, reference_conditions};
use physics::quantities::{AbsolutePressure, Length, MolarFlow, Temperature, Volume};

use super::circumstances::{Circumstances, HeadspaceState};
use super::findings::{LeakRate, SizeInterval, TwoSided};
use super::leak::{GAS_CONSTANT, emptying_at};
use super::leak_rate::{TAIL, mean_rate};
use super::mixture::Part;
use super::term::logarithmic_grid;
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

/// Points that stand for the spread of one sum.
const POINTS: usize = 21;
/// Sums lighter than this move no end of the interval.
const LIGHTEST: f64 = 2e-3;
/// A headspace is stated to so much (pressure or volume, relative; working
/// value, as half of an error of size: flows go with the square of the size).
const HEADSPACE_ERROR: f64 = 0.5 * 0.03;

/// The size of a leak with its interval: every sum's rate, or the bore of its
/// emptying leak where it has one (a rate then belongs to two sizes), mixed
/// with the weights of the sums. The errors of the flow law and of the
/// headspace are added in quadrature, of the logarithm.
pub(super) fn size_of(
    rate: &LeakRate,
    parts: &[Part],
    window: &Window,
    about: &Circumstances,
) -> Option<SizeInterval> {
    let known = known(window, about)?;
    let drift = about.gauge_drift.map_or(0.0, |rate| rate.pa_per_s().abs());
    let middle = mixed(parts, &known, window, 0.0);
    let estimate_um = quantile_of(&middle, 0.5)?;
    let lower = quantile_of(&mixed(parts, &known, window, -drift), TAIL)?;
    let upper = quantile_of(&mixed(parts, &known, window, drift), 1.0 - TAIL)?;
    let of_law = law_error(&known, window);
    let law_square = 4.0 * (of_law * of_law + HEADSPACE_ERROR * HEADSPACE_ERROR);
    let widened = |ratio: f64| {
        let half_width = digits::scalar::ln(ratio);
        digits::scalar::exp((half_width * half_width + law_square).sqrt())
    };
    let nothing = rate.one_sided || !(lower > 0.0) || !(estimate_um > 0.0);
    Some(SizeInterval {
        estimate_um,
        lower_um: if nothing { 0.0 } else { estimate_um / widened(estimate_um / lower) },
        upper_um: if !upper.is_finite() {
            None
        } else if estimate_um > 0.0 {
            Some(estimate_um * widened((upper / estimate_um).max(1.0)))
        } else {
            Some(upper * digits::scalar::exp(law_square.sqrt()))
        },
    })
}

/// Sizes with their weights, ascending; a size that no bore gives is infinite.
fn mixed(parts: &[Part], known: &Known, window: &Window, drift: f64) -> Vec<(f64, f64)> {
    let mut sizes: Vec<(f64, f64)> = Vec::new();
    for part in parts.iter().filter(|part| part.weight > LIGHTEST) {
        for point in 0..POINTS {
            let share = (point as f64 + 0.5) / POINTS as f64;
            let z = statistics::distributions::normal::quantile(share);
            let size = match part.bore {
                Some((bore_m, error)) => {
                    of_bore_um(bore_m * digits::scalar::exp((z * error).clamp(-3.0, 3.0)))
                }
                None => size_um(known, window, part.rate + drift + z * part.standard_error),
            };
            sizes.push((size.unwrap_or(f64::INFINITY), part.weight / POINTS as f64));
        }
    }
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    sizes
}

/// The size below which a share of the weight lies.
fn quantile_of(sizes: &[(f64, f64)], share: f64) -> Option<f64> {
    let total: f64 = sizes.iter().map(|(_, weight)| weight).sum();
    let mut below = 0.0;
    sizes
        .iter()
        .find(|(_, weight)| {
            below += weight;
            below >= share * total
        })
        .map(|(size, _)| *size)
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

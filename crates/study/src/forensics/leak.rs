//! Leak: steady, or from a headspace that empties.

use physics::leak_paths::{FlowConditions, LeakPath};
use physics::quantities::{AbsolutePressure, Length};

use super::circumstances::Circumstances;
use super::term::{Cause, Shape, TREND, logarithmic_grid};
use super::window::Window;
use digits::scalar::exp;

/// A flow that does not change: `f = t`. Its coefficient is the rate in Pa/s.
/// Either sign is let in; one below zero is no leak, and named drift.
pub(super) fn steady(window: &Window) -> Shape {
    Shape {
        cause: Cause::Leak,
        place: TREND,
        column: window.times_s.clone(),
        lowest: f64::NEG_INFINITY,
        highest: f64::INFINITY,
        constant: None,
        age_s: 0.0,
        n_searched: 0,
    }
}

/// Bores of a thin hole that are tried, µm.
const BORES_UM: (f64, f64, usize) = (1.0, 400.0, 26);
/// The headspace is known to this factor: volume, pressure and the flow law
/// have errors.
const SLACK: f64 = 1.4;
/// Below this share of its gas a headspace does not empty noticeably: the
/// steady shape says it already.
const LEAST_EMPTIED: f64 = 0.02;

/// Gas constant, J/(mol K); exact in the SI since 2019.
pub(super) const GAS_CONSTANT: f64 = 8.314_462_618_153_24;

/// The flow of a thin hole from a headspace that empties, by the flow law for
/// all regimes; the constant is the bore in metres, the coefficient how the
/// headspace differs from what was stated. Nothing where headspace, volume or
/// temperature is not known: the shape is then one of the slow ones.
///
/// `V_h dp_h/dt = -q(p_h, p_c) R T`, `V_c dp_c/dt = +q R T`; while the chamber
/// was pumped only the first. `least_pa` is the smallest rise that the record
/// can show.
pub(super) fn emptying(window: &Window, about: &Circumstances, least_pa: f64) -> Vec<Shape> {
    let (low, high, n) = BORES_UM;
    logarithmic_grid(low * 1e-6, high * 1e-6, n)
        .into_iter()
        .filter_map(|bore| emptying_at(window, about, bore))
        .filter(|shape| {
            let rise = shape.column.last().copied().unwrap_or(0.0);
            rise > least_pa
        })
        .collect()
}

/// Steps while the chamber is pumped, and while it is isolated.
const STEPS_PUMPED: usize = 10;
const STEPS_ISOLATED: usize = 40;

/// The same at one bore, m.
pub(super) fn emptying_at(window: &Window, about: &Circumstances, bore_m: f64) -> Option<Shape> {
    let headspace = about.headspace?;
    let free_m3 = about.free_volume?.m3();
    let temperature = about.temperature?;
    let start_pa = window.pressures_pa.first()?.max(0.0);
    let path = LeakPath::Orifice { bore_diameter: Length::from_m(bore_m) };
    let volume_m3 = headspace.volume.m3();
    // Fall of the headspace per second.
    let fall = |upstream: f64, downstream: f64| -> Option<f64> {
        if upstream <= downstream {
            return Some(0.0);
        }
        let conditions = FlowConditions {
            gas: headspace.gas,
            upstream: AbsolutePressure::from_pa(upstream),
            downstream: AbsolutePressure::from_pa(downstream),
            temperature,
        };
        let flow = path.flow(&conditions).ok()?.molar_flow.mol_per_s();
        Some(flow * GAS_CONSTANT * temperature.k() / volume_m3)
    };
    // In the logarithm, where a choked flow is nearly a straight line.
    let mut upstream = headspace.pressure.pa();
    let pumped_s = window.age_s.unwrap_or(0.0) / STEPS_PUMPED as f64;
    for _ in 0..STEPS_PUMPED {
        let first = fall(upstream, start_pa)? / upstream;
        let middle = upstream * exp(-0.5 * pumped_s * first);
        upstream *= exp(-pumped_s * fall(middle, start_pa)? / middle);
    }
    let common = (volume_m3 * upstream + free_m3 * start_pa) / (volume_m3 + free_m3);
    let emptied = 1.0 - upstream / headspace.pressure.pa();
    let ratio = volume_m3 / free_m3;
    let step_s = window.length_s() / STEPS_ISOLATED as f64;
    let mut above = upstream - common;
    if !(above > 0.0) || !(step_s > 0.0) {
        return None;
    }
    // Chamber pressure above the start, and its rate, at the steps.
    let begin = above;
    let chamber = |above: f64| start_pa + ratio * (begin - above);
    let mut rises = Vec::with_capacity(STEPS_ISOLATED + 1);
    let mut rates = Vec::with_capacity(STEPS_ISOLATED + 1);
    for step in 0..=STEPS_ISOLATED {
        let rate = fall(common + above, chamber(above))?;
        rises.push(ratio * (begin - above));
        rates.push(ratio * rate);
        if step == STEPS_ISOLATED || above <= 0.0 {
            continue;
        }
        let middle = above * exp(-0.5 * step_s * rate / above);
        let rate = fall(common + middle, chamber(middle))?;
        above *= exp(-step_s * rate / middle);
    }
    let gone = emptied + (begin - above) / headspace.pressure.pa();
    if gone < LEAST_EMPTIED {
        return None;
    }
    let column = window.times_s.iter().map(|&time| hermite(&rises, &rates, step_s, time)).collect();
    Some(Shape {
        cause: Cause::EmptyingLeak,
        place: TREND,
        column,
        lowest: 1.0 / SLACK,
        highest: SLACK,
        constant: Some(bore_m),
        age_s: 0.0,
        // Its size follows from its bore: one constant in all, which the
        // coefficient counts for.
        n_searched: 0,
    })
}

/// Cubic through values and rates at even steps from zero on.
fn hermite(values: &[f64], rates: &[f64], step: f64, at: f64) -> f64 {
    let cell = ((at / step).max(0.0) as usize).min(values.len() - 2);
    let x = at / step - cell as f64;
    let (v0, v1) = (values[cell], values[cell + 1]);
    let (r0, r1) = (rates[cell] * step, rates[cell + 1] * step);
    let (x2, x3) = (x * x, x * x * x);
    v0 * (2.0 * x3 - 3.0 * x2 + 1.0)
        + r0 * (x3 - 2.0 * x2 + x)
        + v1 * (3.0 * x2 - 2.0 * x3)
        + r1 * (x3 - x2)
}

/// Time in which the headspace falls to 1/e at the start of measuring, s.
pub(super) fn emptying_time_s(about: &Circumstances, bore_m: f64) -> Option<f64> {
    let headspace = about.headspace?;
    let conditions = FlowConditions {
        gas: headspace.gas,
        upstream: headspace.pressure,
        downstream: AbsolutePressure::from_pa(0.0),
        temperature: about.temperature?,
    };
    let path = LeakPath::Orifice { bore_diameter: Length::from_m(bore_m) };
    let flow = path.flow(&conditions).ok()?.molar_flow.mol_per_s();
    let gas = headspace.pressure.pa() * headspace.volume.m3()
        / (GAS_CONSTANT * conditions.temperature.k());
    (flow > 0.0).then(|| gas / flow)
}

#[cfg(test)]
mod tests {
    use super::super::circumstances::HeadspaceState;
    use super::*;
    use physics::gases::Gas;
    use physics::headspace::TwoVolumes;
    use physics::quantities::{Conductance, Duration, Temperature, Volume};

    #[test]
    fn a_choked_hole_empties_as_the_closed_form_says() {
        let window = Window {
            times_s: (0..100).map(|i| f64::from(i) * 0.2).collect(),
            pressures_pa: vec![100.0; 100],
            temperatures_k: Vec::new(),
            age_s: Some(0.0),
            measure_s: (0.0, 20.0),
            floor_variance: 0.0,
            stride: 1,
            interval_s: 0.2,
        };
        let about = Circumstances {
            free_volume: Some(Volume::from_ml(50.0)),
            temperature: Some(Temperature::from_celsius(20.0)),
            headspace: Some(HeadspaceState {
                gas: Gas::Air,
                volume: Volume::from_ml(2.0),
                pressure: AbsolutePressure::from_atm(1.0),
            }),
            ..Circumstances::default()
        };
        // Wide enough to be choked continuum flow throughout; the conductance
        // is taken at the mean headspace pressure of the record.
        let shape = emptying_at(&window, &about, 30e-6).unwrap();
        let path = LeakPath::Orifice { bore_diameter: Length::from_um(30.0) };
        let conductance = |pa: f64| {
            let conditions = FlowConditions {
                gas: Gas::Air,
                upstream: AbsolutePressure::from_pa(pa),
                downstream: AbsolutePressure::from_pa(100.0),
                temperature: Temperature::from_celsius(20.0),
            };
            let flow = path.flow(&conditions).unwrap().molar_flow.mol_per_s();
            flow * GAS_CONSTANT * 293.15 / (pa - 100.0)
        };
        let pair = TwoVolumes {
            headspace_volume: Volume::from_ml(2.0),
            chamber_volume: Volume::from_ml(50.0),
            headspace_pressure: AbsolutePressure::from_atm(1.0),
            chamber_pressure: AbsolutePressure::from_pa(100.0),
        };
        let c = conductance(80_000.0);
        let after = pair.after_molecular(Conductance::from_m3_per_s(c), Duration::from_s(19.8));
        let rise = after.chamber.pa() - 100.0;
        let found = shape.column[99];
        assert!((found / rise - 1.0).abs() < 0.02, "{found} {rise}");
        let tau = emptying_time_s(&about, 30e-6).unwrap();
        assert!((tau / (2.0e-6 / conductance(101_325.0)) - 1.0).abs() < 0.01);
    }

    #[test]
    fn a_hole_too_small_to_empty_is_left_to_the_steady_shape() {
        let values = [0.0, 1.0, 8.0];
        assert!((hermite(&values, &[0.0, 3.0, 12.0], 1.0, 1.5) - 3.375).abs() < 1e-12);
    }
}

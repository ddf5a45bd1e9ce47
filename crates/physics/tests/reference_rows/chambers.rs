//! Rows on the background of a chamber, and on the least of a coefficient.

use physics::container::pressure_at_temperature;
use physics::ingress::{air_conductance_from_helium, pressure_after_effusion};
use physics::leak_paths::{
    FlowConditions, channel_conductance_coefficient, sharp_edged_continuum_flow,
    slit_conductance_coefficient,
};
use physics::liquids::Liquid;
use physics::pump_down;
use physics::quantities::*;

use super::flows::{celsius, gas};
use super::{Inputs, ReferenceRow};

/// Where a coefficient is smallest, and how small; on a fine grid.
fn minimum(inputs: &Inputs, coefficient: impl Fn(f64) -> f64) -> (f64, f64) {
    let (from, to) = (inputs.number("from"), inputs.number("to"));
    (0..=3000)
        .map(|k| from + (to - from) * f64::from(k) / 3000.0)
        .map(|x| (x, coefficient(x)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .expect("a grid")
}

pub fn chambers(row: &ReferenceRow) -> Option<f64> {
    let i = row.inputs();
    let pa = AbsolutePressure::from_pa;
    Some(match row.quantity.as_str() {
        "long_tube_minimum" => minimum(&i, channel_conductance_coefficient).1,
        "long_tube_minimum_at" => minimum(&i, channel_conductance_coefficient).0,
        "long_slit_minimum" => minimum(&i, slit_conductance_coefficient).1,
        "long_slit_minimum_at" => minimum(&i, slit_conductance_coefficient).0,
        "thermal_conductivity" => {
            gas(&i, "gas").thermal_conductivity_w_per_m_k(celsius(&i, "temperature_c"))? * 1e3
        }
        "gas_recovery_time" => {
            let gap = Length::from_mm(i.number("gap_mm"));
            let pressure = pa(i.number("pressure_pa"));
            let temperature = celsius(&i, "temperature_c");
            pump_down::gas_recovery_time(gap, gas(&i, "gas"), pressure, temperature)?.s() * 1e3
        }
        "pressure_of_warming" => {
            let (cold, sealed) = (i.number("temperature_k"), i.number("pressure_pa"));
            let warm = Temperature::from_k(cold + i.number("by_k"));
            pressure_at_temperature(pa(sealed), Temperature::from_k(cold), warm).pa() - sealed
        }
        "rise_of_helium_limit" => {
            let room = pa(i.number("pressure_pa"));
            air_conductance_from_helium(i.number("pa_m3_per_s"), room).m3_per_s()
                * room.pa()
                * i.number("seconds")
                / (i.number("volume_ml") * 1e-6)
        }
        "virtual_leak_time_constant" | "virtual_leak_throughput" => {
            let conductance = Conductance::from_m3_per_s(i.number("conductance"));
            let volume = Volume::from_ul(i.number("volume_ul"));
            let after = |seconds| {
                let time = Duration::from_s(seconds);
                pressure_after_effusion(
                    pa(0.0),
                    pa(i.number_or("pressure_pa", 1.0)),
                    conductance,
                    volume,
                    time,
                )
                .pa()
            };
            if row.quantity == "virtual_leak_time_constant" {
                // From the pressure left after one second.
                -1.0 / digits::scalar::ln(after(1.0))
            } else {
                conductance.m3_per_s() * after(i.number("seconds"))
            }
        }
        "choked_bore_of_conductance" => {
            let conditions = FlowConditions {
                gas: gas(&i, "gas"),
                upstream: pa(1e5),
                downstream: pa(0.0),
                temperature: celsius(&i, "temperature_c"),
            };
            let one = Length::from_um(1.0);
            let flow = sharp_edged_continuum_flow(one, &conditions).ok()?;
            let of_one = flow.throughput_at(conditions.temperature).pa_m3_per_s() / 1e5;
            (i.number("conductance") / of_one).sqrt()
        }
        "throughput_of_atm_cm3_per_s" => i.number("value") * units::unit_named("atm.cm3/s")?.factor,
        "vapour_rise_rate" => {
            let temperature = celsius(&i, "temperature_c");
            let liquid = Liquid::from_name(i.text("liquid"))?.at(temperature).ok()?;
            let molar = i.number("ug_per_s") * 1e-9 / liquid.molar_mass_kg_per_mol;
            let vapour = MolarFlow::from_mol_per_s(molar).throughput_at(temperature);
            pressure_rise_rate(vapour, Volume::from_ml(i.number("volume_ml"))).pa_per_s()
        }
        _ => return None,
    })
}

//! Rows on liquids, evaporation and storage.

use physics::ingress::{
    ChannelDiffusion, air_conductance_from_helium, pressure_after_effusion,
    pressure_after_viscous_inflow, viscous_channel_coefficient,
};
use physics::leak_paths::{LeakPath, slit_conductance_coefficient};
use physics::liquids::{
    Liquid, LiquidState, evaporated_share_to_cool, evaporation_flux, holding_pressure,
    ice_vapour_pressure, liquid_flow, recessed_meniscus_flow, whole_opening_bore,
};
use physics::quantities::*;

use super::flows::{bore, celsius, conditions, gas, path_flow};
use super::{Inputs, ReferenceRow};

const R: f64 = MOLAR_GAS_CONSTANT_J_PER_MOL_K;
const JULIAN_YEAR_S: f64 = 365.25 * 86_400.0;

fn liquid(inputs: &Inputs) -> LiquidState {
    Liquid::from_name(inputs.text("liquid"))
        .expect("a liquid")
        .at(celsius(inputs, "temperature_c"))
        .expect("within the table")
}

fn helium_leak(inputs: &Inputs) -> Conductance {
    air_conductance_from_helium(
        inputs.number("pa_m3_per_s"),
        AbsolutePressure::from_pa(inputs.number("pressure_pa")),
    )
}

fn diffusion(inputs: &Inputs) -> ChannelDiffusion {
    ChannelDiffusion {
        bore: bore(inputs),
        wall: Length::from_mm(inputs.number("wall_mm")),
        gas: gas(inputs, "gas"),
        mutual_m2_per_s: inputs.number("mutual_m2_per_s"),
        temperature: celsius(inputs, "temperature_c"),
    }
}

/// Poiseuille's law alone, from the crate's own flow and its end losses.
fn poiseuille_m3_per_s(inputs: &Inputs) -> f64 {
    let flow = liquid_flow(
        &liquid(inputs),
        bore(inputs),
        Length::from_mm(inputs.number("wall_mm")),
        PressureDifference::from_pa(inputs.number("drive_pa")),
    )
    .expect("flow");
    flow.volume_m3_per_s / flow.share_of_poiseuille
}

pub fn liquids(row: &ReferenceRow) -> Option<f64> {
    let i = row.inputs();
    let pa = AbsolutePressure::from_pa;
    let volume = || Volume::from_ml(i.number("volume_ml"));
    Some(match row.quantity.as_str() {
        "vapour_pressure" => liquid(&i).vapour_pressure.pa(),
        "surface_tension" => liquid(&i).surface_tension_n_per_m * 1e3,
        "liquid_viscosity" => liquid(&i).viscosity_pa_s * 1e3,
        "heat_of_evaporation" => liquid(&i).heat_of_evaporation_j_per_kg * 1e-3,
        "density" => liquid(&i).density_kg_per_m3,
        "ice_vapour_pressure" => ice_vapour_pressure(celsius(&i, "temperature_c"))?.pa(),
        "holding_pressure" => {
            holding_pressure(&liquid(&i), bore(&i), i.number("angle")).ok()?.pa() * 1e-3
        }
        "bore_held_by_pressure" => {
            let difference = PressureDifference::from_pa(i.number("difference_pa"));
            whole_opening_bore(&liquid(&i), difference, i.number("angle")).ok()?.um()
        }
        "poiseuille_flow" => poiseuille_m3_per_s(&i) * 1e12,
        "poiseuille_mass_flow" => poiseuille_m3_per_s(&i) * liquid(&i).density_kg_per_m3 * 1e9,
        "evaporation_flux" => evaporation_flux(&liquid(&i), pa(0.0)).ok()?.mass_flux_kg_per_m2_s,
        "flush_meniscus_evaporation" => {
            evaporation_flux(&liquid(&i), pa(0.0)).ok()?.mass_flux_kg_per_m2_s
                * bore(&i).circle_area().m2()
                * 1e9
        }
        "recessed_meniscus_flow" | "recessed_meniscus_throughput" => {
            let water = liquid(&i);
            let recess = Length::from_um(i.number("recess_um"));
            let flow = recessed_meniscus_flow(&water, bore(&i), recess, pa(0.0)).ok()?;
            if row.quantity == "recessed_meniscus_flow" {
                flow.mol_per_s() * water.molar_mass_kg_per_mol * 1e9
            } else {
                flow.throughput_at(water.temperature).mbar_l_per_s()
            }
        }
        "mass_to_fill" => {
            let water = liquid(&i);
            water.vapour_pressure.pa() * volume().m3() * water.molar_mass_kg_per_mol
                / (R * water.temperature.k())
                * 1e6
        }
        "evaporated_share_to_cool" => evaporated_share_to_cool(&liquid(&i), i.number("kelvin")),
        "air_conductance_from_helium" => helium_leak(&i).m3_per_s(),
        "effusion_time_constant" => volume().m3() / helium_leak(&i).m3_per_s() / 86_400.0,
        "pressure_after_effusion" => {
            pressure_after_effusion(
                pa(101_325.0),
                pa(0.0),
                helium_leak(&i),
                volume(),
                Duration::from_days(i.number("days")),
            )
            .pa()
                / 100.0
        }
        "knudsen_diffusion" => diffusion(&i).knudsen_m2_per_s(),
        "effective_diffusion" => diffusion(&i).effective_m2_per_s(),
        "diffusive_conductance" => diffusion(&i).conductance().m3_per_s(),
        "diffusion_time_constant" => {
            volume().m3() / diffusion(&i).conductance().m3_per_s() / JULIAN_YEAR_S
        }
        "oxygen_after_diffusion" => {
            let time = Duration::from_s(i.number("years") * JULIAN_YEAR_S);
            diffusion(&i).fraction_after(i.number("outside"), 0.0, volume(), time) * 100.0
        }
        "viscous_channel_coefficient" | "pressure_after_viscous_inflow" => {
            let k = viscous_channel_coefficient(
                bore(&i),
                Length::from_mm(i.number("wall_mm")),
                i.number("viscosity_upa_s") * 1e-6,
            );
            if row.quantity == "viscous_channel_coefficient" {
                k
            } else {
                let time = Duration::from_s(i.number("years") * JULIAN_YEAR_S);
                pressure_after_viscous_inflow(pa(101_325.0), k, volume(), time).pa()
            }
        }
        "inflow_pressure_rate" => {
            let wall = Length::from_mm(i.number("wall_mm"));
            let path = LeakPath::Channel { bore_diameter: bore(&i), wall };
            let flow = path_flow(path, &conditions(&i)).mol_per_s();
            flow * R * celsius(&i, "temperature_c").k() / volume().m3() * 86_400.0
        }
        "long_slit_coefficient" => slit_conductance_coefficient(i.number("rarefaction")),
        "annulus_eccentric_over_concentric" => {
            let flow = |eccentricity| {
                let path = LeakPath::Annulus {
                    mean_diameter: Length::from_mm(i.number("mean_diameter_mm")),
                    gap: Length::from_um(i.number("gap_um")),
                    depth: Length::from_mm(i.number("depth_mm")),
                    eccentricity,
                };
                let conditions = physics::leak_paths::FlowConditions {
                    gas: physics::gases::Gas::Air,
                    upstream: pa(i.number("upstream_pa")),
                    downstream: pa(i.number("downstream_pa")),
                    temperature: celsius(&i, "temperature_c"),
                };
                path_flow(path, &conditions).mol_per_s()
            };
            flow(1.0) / flow(0.0)
        }
        _ => return None,
    })
}

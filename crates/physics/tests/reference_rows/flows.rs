//! Computes the quantity that a reference row names.

use physics::gases::Gas;
use physics::headspace::{SignalCeiling, TwoVolumes};
use physics::leak_paths::{
    FlowConditions, LeakPath, channel_conductance_coefficient, channel_conductance_fit,
    critical_pressure_ratio, ideal_nozzle_flow, molecular_effusion_flow,
    sharp_edged_continuum_flow,
};
use physics::outgassing::OutgassingLaw;
use physics::pump_down;
use physics::quantities::*;

use super::{Inputs, ReferenceRow};

const R: f64 = MOLAR_GAS_CONSTANT_J_PER_MOL_K;
const JULIAN_YEAR_S: f64 = 365.25 * 86_400.0;

pub(super) fn gas(inputs: &Inputs, key: &str) -> Gas {
    let name = inputs.text(key);
    Gas::from_name(name).unwrap_or_else(|| panic!("gas {name}"))
}

pub(super) fn celsius(inputs: &Inputs, key: &str) -> Temperature {
    Temperature::from_celsius(inputs.number(key))
}

pub(super) fn conditions(inputs: &Inputs) -> FlowConditions {
    FlowConditions {
        gas: gas(inputs, "gas"),
        upstream: AbsolutePressure::from_pa(inputs.number("upstream_pa")),
        downstream: AbsolutePressure::from_pa(inputs.number("downstream_pa")),
        temperature: celsius(inputs, "temperature_c"),
    }
}

pub(super) fn bore(inputs: &Inputs) -> Length {
    Length::from_um(inputs.number("bore_um"))
}

pub(super) fn path_flow(path: LeakPath, conditions: &FlowConditions) -> MolarFlow {
    path.flow(conditions).expect("a sensible row").molar_flow
}

/// A flow in the unit of the row.
pub(super) fn in_unit(flow: MolarFlow, unit: &str) -> f64 {
    let atmosphere = AbsolutePressure::from_atm(1.0);
    let standard =
        |celsius: f64| StandardFlow::of(flow, Temperature::from_celsius(celsius), atmosphere);
    match unit {
        "mol/s" => flow.mol_per_s(),
        "std cm3/s at 0 C" => standard(0.0).cm3_per_s(),
        "sccm at 0 C" => standard(0.0).sccm(),
        "sccm at 20 C" => standard(20.0).sccm(),
        "mbar.L/s at 20 C" => flow.throughput_at(Temperature::from_celsius(20.0)).mbar_l_per_s(),
        "Pa.m3/s at 20 C" => flow.throughput_at(Temperature::from_celsius(20.0)).pa_m3_per_s(),
        other => panic!("unit {other}"),
    }
}

/// Flow over free-molecular efflux into vacuum for a path of 1 um radius (or
/// height) at a given rarefaction.
fn relative_flow(inputs: &Inputs, path: LeakPath, area_m2: f64) -> f64 {
    let gas = gas(inputs, "gas");
    let temperature = Temperature::from_celsius(20.0);
    let radius_m = 1e-6;
    let upstream_pa = inputs.number("rarefaction")
        * gas.viscosity_pa_s(temperature)
        * gas.most_probable_speed_m_per_s(temperature)
        / radius_m;
    let conditions = FlowConditions {
        gas,
        upstream: AbsolutePressure::from_pa(upstream_pa),
        downstream: AbsolutePressure::from_pa(upstream_pa * inputs.number("pressure_ratio")),
        temperature,
    };
    let efflux = area_m2 * upstream_pa
        / (2.0 * std::f64::consts::PI * gas.molar_mass_kg_per_mol() * R * temperature.k()).sqrt();
    path_flow(path, &conditions).mol_per_s() / efflux
}

fn two_volumes(inputs: &Inputs) -> TwoVolumes {
    TwoVolumes {
        headspace_volume: Volume::from_ml(inputs.number("headspace_ml")),
        chamber_volume: Volume::from_ml(inputs.number("chamber_ml")),
        headspace_pressure: AbsolutePressure::from_pa(inputs.number("headspace_pa")),
        chamber_pressure: AbsolutePressure::from_pa(inputs.number("chamber_pa")),
    }
}

fn ceiling(inputs: &Inputs) -> SignalCeiling {
    SignalCeiling {
        headspace_volume: Volume::from_ml(inputs.number("headspace_ml")),
        chamber_volume: Volume::from_ml(inputs.number("chamber_ml")),
        headspace_pressure: AbsolutePressure::from_pa(inputs.number("headspace_pa")),
        evacuate: Duration::from_s(inputs.number("evacuate_s")),
        measure: Duration::from_s(inputs.number("measure_s")),
    }
}

/// Value of the row's quantity, in the row's unit; `None` for an unknown name.
pub fn flows(row: &ReferenceRow) -> Option<f64> {
    let i = row.inputs();
    let standard_flow = || {
        StandardFlow::from_cm3_per_s(
            i.number("std_cm3_per_s"),
            celsius(&i, "reference_temperature_c"),
            AbsolutePressure::from_atm(1.0),
        )
    };
    let one_sccm = |celsius: f64| {
        StandardFlow::from_sccm(
            1.0,
            Temperature::from_celsius(celsius),
            AbsolutePressure::from_atm(1.0),
        )
        .molar_flow()
    };
    let pa = AbsolutePressure::from_pa;
    Some(match row.quantity.as_str() {
        "quarter_mean_speed" => {
            gas(&i, "gas").mean_speed_m_per_s(celsius(&i, "temperature_c")) / 4.0
        }
        "molecular_effusion_flow" => {
            in_unit(molecular_effusion_flow(bore(&i), &conditions(&i)).ok()?, &row.unit)
        }
        "ideal_nozzle_flow" => {
            in_unit(ideal_nozzle_flow(bore(&i), &conditions(&i)).ok()?, &row.unit)
        }
        "sharp_edged_continuum_flow" => {
            in_unit(sharp_edged_continuum_flow(bore(&i), &conditions(&i)).ok()?, &row.unit)
        }
        "choked_flow_function" => {
            let gamma = i.number("gamma");
            let same = Gas::ALL
                .iter()
                .copied()
                .find(|gas| (gas.heat_capacity_ratio() - gamma).abs() < 0.002)?;
            // Through the crate's own nozzle: N sqrt(M R T)/(A p).
            let temperature = Temperature::from_celsius(20.0);
            let conditions =
                FlowConditions { gas: same, upstream: pa(1e5), downstream: pa(0.0), temperature };
            let flow = ideal_nozzle_flow(Length::from_um(10.0), &conditions).ok()?.mol_per_s();
            let own = flow * (same.molar_mass_kg_per_mol() * R * temperature.k()).sqrt()
                / (Length::from_um(10.0).circle_area().m2() * 1e5);
            let of = |g: f64| {
                g.sqrt() * digits::scalar::pow(2.0 / (g + 1.0), (g + 1.0) / (2.0 * (g - 1.0)))
            };
            own * of(gamma) / of(same.heat_capacity_ratio())
        }
        "critical_pressure_ratio" => critical_pressure_ratio(i.number("gamma")),
        "choked_volumetric_flow_per_area" => {
            let conditions = FlowConditions {
                gas: gas(&i, "gas"),
                upstream: pa(i.number("upstream_pa")),
                downstream: pa(0.0),
                temperature: celsius(&i, "temperature_c"),
            };
            let flow = sharp_edged_continuum_flow(bore(&i), &conditions).ok()?;
            flow.throughput_at(conditions.temperature).pa_m3_per_s()
                / (bore(&i).circle_area().m2() * conditions.upstream.pa())
        }
        "orifice_relative_flow" => {
            let bore_diameter = Length::from_um(2.0);
            relative_flow(&i, LeakPath::Orifice { bore_diameter }, bore_diameter.circle_area().m2())
        }
        "channel_relative_flow" => {
            let bore_diameter = Length::from_um(2.0);
            let wall = Length::from_um(i.number("length_over_radius"));
            relative_flow(
                &i,
                LeakPath::Channel { bore_diameter, wall },
                bore_diameter.circle_area().m2(),
            )
        }
        "slit_relative_flow" => {
            let path = LeakPath::Slit {
                height: Length::from_um(1.0),
                width: Length::from_um(1000.0),
                depth: Length::from_um(i.number("depth_over_height")),
            };
            relative_flow(&i, path, 1e-6 * 1000e-6)
        }
        "orifice_flow" => {
            let path = LeakPath::Orifice { bore_diameter: bore(&i) };
            in_unit(path_flow(path, &conditions(&i)), &row.unit)
        }
        "channel_flow" => {
            let wall = Length::from_mm(i.number("wall_mm"));
            let path = LeakPath::Channel { bore_diameter: bore(&i), wall };
            in_unit(path_flow(path, &conditions(&i)), &row.unit)
        }
        "slit_flow" => {
            let path = LeakPath::Slit {
                height: Length::from_um(i.number("height_um")),
                width: Length::from_mm(i.number("width_mm")),
                depth: Length::from_mm(i.number("depth_mm")),
            };
            in_unit(path_flow(path, &conditions(&i)), &row.unit)
        }
        "helium_over_air_channel_flow" => {
            let wall = Length::from_mm(i.number("wall_mm"));
            let path = LeakPath::Channel { bore_diameter: bore(&i), wall };
            let with = |gas| {
                let conditions = FlowConditions {
                    gas,
                    upstream: pa(i.number("upstream_pa")),
                    downstream: pa(i.number("downstream_pa")),
                    temperature: celsius(&i, "temperature_c"),
                };
                path_flow(path, &conditions).mol_per_s()
            };
            with(Gas::Helium) / with(Gas::Air)
        }
        "long_tube_coefficient" => channel_conductance_fit(i.number("rarefaction")),
        "long_tube_coefficient_of_table" => {
            channel_conductance_coefficient(i.number("rarefaction"))
        }
        "sccm_as_molar_flow" => one_sccm(i.number("reference_temperature_c")).mol_per_s(),
        "sccm_as_throughput_at_20_c" => one_sccm(i.number("reference_temperature_c"))
            .throughput_at(Temperature::from_celsius(20.0))
            .pa_m3_per_s(),
        "sccm_over_sccm_at_0_c" => {
            one_sccm(i.number("reference_temperature_c")).mol_per_s() / one_sccm(0.0).mol_per_s()
        }
        "throughput_as_molar_flow" => {
            Throughput::from_pa_m3_per_s(i.number("pa_m3_per_s"), celsius(&i, "temperature_c"))
                .molar_flow()
                .mol_per_s()
        }
        "standard_flow_as_molar_flow" => standard_flow().molar_flow().mol_per_s(),
        "standard_flow_as_mbar_l_per_s" => {
            standard_flow().molar_flow().throughput_at(celsius(&i, "temperature_c")).mbar_l_per_s()
        }
        "standard_flow_as_mass" => {
            let flow = standard_flow().molar_flow();
            flow.mass_flow(gas(&i, "gas").molar_mass_kg_per_mol()).kg_per_s() * 1e3 * JULIAN_YEAR_S
        }
        "molecular_flow_ratio" | "choked_flow_ratio" | "viscous_flow_ratio" => {
            let room = Temperature::from_celsius(20.0);
            let with = |gas: Gas| {
                let conditions = FlowConditions {
                    gas,
                    upstream: pa(101_325.0),
                    downstream: pa(0.0),
                    temperature: room,
                };
                let bore = Length::from_um(10.0);
                match row.quantity.as_str() {
                    "molecular_flow_ratio" => {
                        molecular_effusion_flow(bore, &conditions).expect("flow").mol_per_s()
                    }
                    "choked_flow_ratio" => {
                        ideal_nozzle_flow(bore, &conditions).expect("flow").mol_per_s()
                    }
                    _ => 1.0 / gas.viscosity_pa_s(room),
                }
            };
            with(gas(&i, "gas")) / with(gas(&i, "over"))
        }
        "molar_flow_from_rise" => flow_from_rise(
            Volume::from_l(i.number("volume_l")),
            PressureDifference::from_pa(i.number("to_pa") - i.number("from_pa")),
            Temperature::from_k(i.number("temperature_k")),
            Duration::from_s(i.number("seconds")),
        )
        .mol_per_s(),
        "leak_rate_from_loss" => {
            let room = Temperature::from_celsius(20.0);
            flow_from_rise(
                Volume::from_l(i.number("volume_l")),
                PressureDifference::from_pa(i.number("loss_pa")),
                room,
                Duration::from_days(i.number("days")),
            )
            .throughput_at(room)
            .pa_m3_per_s()
        }
        "leak_rate_from_amount" => i.number("amount_pa_m3") / (i.number("years") * JULIAN_YEAR_S),
        "molar_mass" => gas(&i, "gas").molar_mass_kg_per_mol() * 1e3,
        "viscosity" => gas(&i, "gas").viscosity_pa_s(celsius(&i, "temperature_c")) * 1e6,
        "heat_capacity_ratio" => gas(&i, "gas").heat_capacity_ratio(),
        "mean_free_path" => {
            gas(&i, "gas")
                .mean_free_path(pa(i.number("pressure_pa")), celsius(&i, "temperature_c"))
                .m()
                * 1e9
        }
        "mean_speed" => gas(&i, "gas").mean_speed_m_per_s(celsius(&i, "temperature_c")),
        "pump_down_time" => {
            let pump = Conductance::from_l_per_s(i.number("speed_l_per_s"));
            let line = i.number_or("line_l_per_s", f64::MAX);
            let speed = if line < f64::MAX {
                pump_down::effective_speed(pump, Conductance::from_l_per_s(line))
            } else {
                pump
            };
            pump_down::time_at_constant_speed(
                pa(i.number("from_pa")),
                pa(i.number("to_pa")),
                pa(i.number("ultimate_pa")),
                speed,
                Volume::from_l(i.number("volume_l")),
            )?
            .s()
        }
        "laminar_line_coefficient" => pump_down::laminar_line_coefficient(
            i.number("diameter_mm") * 1e-3,
            i.number("length_m"),
            i.number("viscosity_upa_s") * 1e-6,
        ),
        "line_molecular_conductance" => pump_down::molecular_line_conductance(
            i.number("diameter_mm") * 1e-3,
            i.number("length_m"),
            i.number("mean_speed_m_per_s"),
        )
        .m3_per_s(),
        "pump_down_time_through_line" => pump_down::time_through_line(
            pa(i.number("from_pa")),
            pa(i.number("to_pa")),
            i.number("viscous"),
            Conductance::from_m3_per_s(i.number("molecular")),
            Volume::from_l(i.number("volume_l")),
        )?
        .s(),
        "pressure_rise_rate" => pressure_rise_rate(
            Throughput::from_mbar_l_per_s(
                i.number("mbar_l_per_s"),
                Temperature::from_celsius(20.0),
            ),
            Volume::from_ml(i.number("volume_ml")),
        )
        .pa_per_s(),
        "orifice_rise_rate" => {
            let path = LeakPath::Orifice { bore_diameter: bore(&i) };
            let flow = path_flow(path, &conditions(&i));
            pressure_rise_rate(
                flow.throughput_at(celsius(&i, "temperature_c")),
                Volume::from_ml(i.number("volume_ml")),
            )
            .pa_per_s()
        }
        "outgassing_rise" => {
            let at_one_hour = i.number("at_1h_mbar_l_per_s_cm2") * 0.1 * i.number("area_cm2");
            let offset = Duration::from_s(0.0);
            let law = match i.text("law") {
                "1/t" => OutgassingLaw::OneOverTime { amount_pa_m3: at_one_hour * 3600.0, offset },
                _ => OutgassingLaw::OneOverRootTime {
                    amount_pa_m3_per_root_s: at_one_hour * 60.0,
                    offset,
                },
            };
            law.released_pa_m3(
                Duration::from_s(i.number("from_s")),
                Duration::from_s(i.number("to_s")),
            ) / (i.number("volume_ml") * 1e-6)
        }
        "isentropic_temperature" => {
            let gamma = i.number("gamma");
            let ratio = i.number("to_pa") / i.number("from_pa");
            physics::pump_down::isentropic_temperature(
                Temperature::from_k(i.number("temperature_k")),
                ratio,
                gamma,
            )
            .k()
        }
        "two_volume_time_constant" => {
            two_volumes(&i).time_constant(Conductance::from_m3_per_s(i.number("conductance"))).s()
        }
        "two_volume_final_pressure" => two_volumes(&i).final_pressure().pa(),
        "two_volume_chamber_molecular" => two_volumes(&i)
            .after_molecular(
                Conductance::from_m3_per_s(i.number("conductance")),
                Duration::from_s(i.number("seconds")),
            )
            .chamber
            .pa(),
        "two_volume_chamber_viscous" => two_volumes(&i)
            .after_viscous(i.number("coefficient"), Duration::from_s(i.number("seconds")))
            .chamber
            .pa(),
        "two_volume_headspace_viscous" => two_volumes(&i)
            .after_viscous(i.number("coefficient"), Duration::from_s(i.number("seconds")))
            .headspace
            .pa(),
        "best_conductance" => ceiling(&i).best_conductance()?.m3_per_s(),
        "largest_signal" => ceiling(&i).signal(ceiling(&i).best_conductance()?).pa(),
        "smallest_detectable_conductance" => ceiling(&i)
            .detectable_band(PressureDifference::from_pa(i.number("threshold_pa")))?
            .smallest
            .m3_per_s(),
        "largest_detectable_conductance" => ceiling(&i)
            .detectable_band(PressureDifference::from_pa(i.number("threshold_pa")))?
            .largest
            .m3_per_s(),
        _ => return None,
    })
}

//! Flow of gas: as amount, as throughput at a temperature, as standard flow
//! with its reference state, as mass; and what flow does to a chamber.

use super::declare::{additive, quantity};
use super::{
    AbsolutePressure, Duration, MOLAR_GAS_CONSTANT_J_PER_MOL_K, PressureDifference, Temperature,
    Volume,
};

/// The standard atmosphere, by definition.
pub const STANDARD_ATMOSPHERE_PA: f64 = 101_325.0;

quantity! {
    /// Amount of gas per time.
    MolarFlow, mol_per_second, "mol/s", {
        from_mol_per_s, mol_per_s, 1.0;
    }
}

quantity! {
    /// Mass per time.
    MassFlow, kilogram_per_second, "kg/s", {
        from_kg_per_s, kg_per_s, 1.0;
    }
}

quantity! {
    /// Volume swept per time, or the conductance of a line; not an amount.
    Conductance, cubic_metre_per_second, "m3/s", {
        from_m3_per_s, m3_per_s, 1.0;
        from_l_per_s, l_per_s, 1.0e-3;
    }
}

quantity! {
    /// Change of pressure per time; a rise is positive.
    PressureRate, pascal_per_second, "Pa/s", {
        from_pa_per_s, pa_per_s, 1.0;
    }
}

additive!(MolarFlow, mol_per_second);
additive!(Conductance, cubic_metre_per_second);
additive!(PressureRate, pascal_per_second);

/// Pressure times volume per time, with the gas temperature that makes it an
/// amount. Without its temperature a throughput is ambiguous by several
/// percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Throughput {
    pa_m3_per_s: f64,
    temperature: Temperature,
}

impl Throughput {
    /// From Pa·m³/s of gas at `temperature`.
    #[must_use]
    pub const fn from_pa_m3_per_s(value: f64, temperature: Temperature) -> Self {
        Self { pa_m3_per_s: value, temperature }
    }

    /// From mbar·L/s of gas at `temperature`; 1 Pa·m³/s is 10 mbar·L/s.
    #[must_use]
    pub const fn from_mbar_l_per_s(value: f64, temperature: Temperature) -> Self {
        Self { pa_m3_per_s: value / 10.0, temperature }
    }

    /// Value in Pa·m³/s at its own temperature.
    #[must_use]
    pub const fn pa_m3_per_s(self) -> f64 {
        self.pa_m3_per_s
    }

    /// Value in mbar·L/s at its own temperature.
    #[must_use]
    pub const fn mbar_l_per_s(self) -> f64 {
        self.pa_m3_per_s * 10.0
    }

    /// The gas temperature at which the value holds.
    #[must_use]
    pub const fn temperature(self) -> Temperature {
        self.temperature
    }

    /// Amount of gas carried: `n = q / (R T)`.
    #[must_use]
    pub fn molar_flow(self) -> MolarFlow {
        MolarFlow::from_mol_per_s(
            self.pa_m3_per_s / (MOLAR_GAS_CONSTANT_J_PER_MOL_K * self.temperature.k()),
        )
    }
}

impl MolarFlow {
    /// Throughput of this amount of gas at `temperature`: `q = n R T`.
    #[must_use]
    pub fn throughput_at(self, temperature: Temperature) -> Throughput {
        Throughput {
            pa_m3_per_s: self.mol_per_second * MOLAR_GAS_CONSTANT_J_PER_MOL_K * temperature.k(),
            temperature,
        }
    }

    /// Mass carried by this flow of a gas of the given molar mass in kg/mol.
    #[must_use]
    pub fn mass_flow(self, molar_mass_kg_per_mol: f64) -> MassFlow {
        MassFlow::from_kg_per_s(self.mol_per_second * molar_mass_kg_per_mol)
    }
}

/// A flow in "standard" volume, which means nothing without its reference
/// state. There is no default temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandardFlow {
    cm3_per_s: f64,
    reference_temperature: Temperature,
    reference_pressure: AbsolutePressure,
}

impl StandardFlow {
    /// From standard cm³ per second at the stated reference state.
    #[must_use]
    pub const fn from_cm3_per_s(
        value: f64,
        reference_temperature: Temperature,
        reference_pressure: AbsolutePressure,
    ) -> Self {
        Self { cm3_per_s: value, reference_temperature, reference_pressure }
    }

    /// From standard cm³ per minute (sccm) at the stated reference state.
    #[must_use]
    pub const fn from_sccm(
        value: f64,
        reference_temperature: Temperature,
        reference_pressure: AbsolutePressure,
    ) -> Self {
        Self { cm3_per_s: value / 60.0, reference_temperature, reference_pressure }
    }

    /// Standard flow of an amount per time, at the stated reference state.
    #[must_use]
    pub fn of(
        flow: MolarFlow,
        reference_temperature: Temperature,
        reference_pressure: AbsolutePressure,
    ) -> Self {
        let m3_per_mol =
            MOLAR_GAS_CONSTANT_J_PER_MOL_K * reference_temperature.k() / reference_pressure.pa();
        Self {
            cm3_per_s: flow.mol_per_s() * m3_per_mol * 1.0e6,
            reference_temperature,
            reference_pressure,
        }
    }

    /// Value in standard cm³ per second.
    #[must_use]
    pub const fn cm3_per_s(self) -> f64 {
        self.cm3_per_s
    }

    /// Value in standard cm³ per minute.
    #[must_use]
    pub const fn sccm(self) -> f64 {
        self.cm3_per_s * 60.0
    }

    /// The temperature that "standard" means here.
    #[must_use]
    pub const fn reference_temperature(self) -> Temperature {
        self.reference_temperature
    }

    /// The pressure that "standard" means here.
    #[must_use]
    pub const fn reference_pressure(self) -> AbsolutePressure {
        self.reference_pressure
    }

    /// Amount of gas carried: `n = p_ref V' / (R T_ref)`.
    #[must_use]
    pub fn molar_flow(self) -> MolarFlow {
        MolarFlow::from_mol_per_s(
            self.cm3_per_s * 1.0e-6 * self.reference_pressure.pa()
                / (MOLAR_GAS_CONSTANT_J_PER_MOL_K * self.reference_temperature.k()),
        )
    }
}

/// Rate of pressure rise that a steady leak causes in a closed chamber.
///
/// `dp/dt = q / V`
///
/// | symbol | argument | unit |
/// |---|---|---|
/// | q | `inflow`, at chamber temperature | Pa·m³/s |
/// | V | `free_volume`: chamber minus container | m³ |
///
/// Holds for constant temperature and volume, and no outgassing.
/// Source: ideal gas law, differentiated. Evidence: hand calculation.
///
/// # Example
/// ```
/// use physics::quantities::*;
/// let q = Throughput::from_pa_m3_per_s(1e-6, Temperature::from_celsius(20.0));
/// let rate = physics::quantities::pressure_rise_rate(q, Volume::from_ml(100.0));
/// assert!((rate.pa_per_s() - 0.01).abs() < 1e-15);
/// ```
#[must_use]
pub fn pressure_rise_rate(inflow: Throughput, free_volume: Volume) -> PressureRate {
    PressureRate::from_pa_per_s(inflow.pa_m3_per_s() / free_volume.m3())
}

/// Flow that raised a closed volume from one pressure to another.
///
/// `n = V (p2 - p1) / (R T t)`
///
/// | symbol | argument | unit |
/// |---|---|---|
/// | V | `volume` | m³ |
/// | p2 - p1 | `rise` | Pa |
/// | T | `temperature`, constant | K |
/// | t | `elapsed` | s |
///
/// Source: 40 CFR 1065.644, vacuum-decay leak rate, with equal temperatures.
#[must_use]
pub fn flow_from_rise(
    volume: Volume,
    rise: PressureDifference,
    temperature: Temperature,
    elapsed: Duration,
) -> MolarFlow {
    MolarFlow::from_mol_per_s(
        volume.m3() * rise.pa() / (MOLAR_GAS_CONSTANT_J_PER_MOL_K * temperature.k() * elapsed.s()),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reference_temperature_of_a_standard_flow_counts() {
        let atmosphere = AbsolutePressure::from_atm(1.0);
        let at_zero = StandardFlow::from_sccm(1.0, Temperature::from_celsius(0.0), atmosphere);
        let at_25 = StandardFlow::from_sccm(1.0, Temperature::from_celsius(25.0), atmosphere);
        let ratio = at_25.molar_flow().mol_per_s() / at_zero.molar_flow().mol_per_s();
        assert!((ratio - 273.15 / 298.15).abs() < 1e-12);
    }

    #[test]
    fn standard_flow_round_trip() {
        let state = (Temperature::from_celsius(20.0), AbsolutePressure::from_bar(1.0));
        let flow = StandardFlow::from_cm3_per_s(0.3, state.0, state.1);
        let back = StandardFlow::of(flow.molar_flow(), state.0, state.1);
        assert!((back.cm3_per_s() - 0.3).abs() < 1e-15);
    }
}

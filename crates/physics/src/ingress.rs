//! Ingress over shelf life: what a leak lets into a container in storage.

use digits::scalar::{exp_m1, tanh};

use crate::gases::{FlowingGas, Gas};
use crate::leak_paths::{FlowConditions, LeakPath, LeakPathError};
use crate::quantities::{
    AbsolutePressure, Conductance, Duration, Length, MOLAR_GAS_CONSTANT_J_PER_MOL_K as R,
    MolarFlow, Temperature, Volume,
};

/// Pressure in an evacuated container after a time, free-molecular or choked
/// inflow: `p = p_a + (p_0 - p_a) e^(-C t/V)`. Source: physics.md 8.
#[must_use]
pub fn pressure_after_effusion(
    ambient: AbsolutePressure,
    start: AbsolutePressure,
    conductance: Conductance,
    volume: Volume,
    time: Duration,
) -> AbsolutePressure {
    let gone = -exp_m1(-conductance.m3_per_s() * time.s() / volume.m3());
    AbsolutePressure::from_pa(start.pa() + (ambient.pa() - start.pa()) * gone)
}

/// Pressure in a container evacuated to nothing after a time, laminar inflow
/// `Q = k (p_a² - p²)`: `p = p_a tanh(k p_a t/V)`. `k` in m³/(s·Pa).
#[must_use]
pub fn pressure_after_viscous_inflow(
    ambient: AbsolutePressure,
    coefficient_m3_per_s_pa: f64,
    volume: Volume,
    time: Duration,
) -> AbsolutePressure {
    let argument = coefficient_m3_per_s_pa * ambient.pa() * time.s() / volume.m3();
    AbsolutePressure::from_pa(ambient.pa() * tanh(argument))
}

/// Molecular conductance for air of a leak whose helium throughput is known,
/// from 1 atm into vacuum: `C = (q_He/p) sqrt(M_He/M_air)`.
///
/// The square-root rule holds for molecular flow only; for any other path run
/// its law with both gases.
#[must_use]
pub fn air_conductance_from_helium(
    helium_throughput_pa_m3_per_s: f64,
    helium_pressure: AbsolutePressure,
) -> Conductance {
    let ratio = (Gas::Helium.molar_mass_kg_per_mol() / Gas::Air.molar_mass_kg_per_mol()).sqrt();
    Conductance::from_m3_per_s(helium_throughput_pa_m3_per_s / helium_pressure.pa() * ratio)
}

/// Coefficient of the laminar part of a round channel, `k = π a⁴/(16 μ L)`,
/// m³/(s·Pa), with `Q = k (p1² - p2²)`.
#[must_use]
pub fn viscous_channel_coefficient(bore: Length, wall: Length, viscosity_pa_s: f64) -> f64 {
    let radius = bore.m() / 2.0;
    let squared = radius * radius;
    core::f64::consts::PI * squared * squared / (16.0 * viscosity_pa_s * wall.m())
}

/// Diffusion of one gas through a channel without a difference of total
/// pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChannelDiffusion {
    /// Bore of the channel.
    pub bore: Length,
    /// Its length.
    pub wall: Length,
    /// The gas that diffuses.
    pub gas: Gas,
    /// Its diffusion coefficient in the other gas, m²/s.
    pub mutual_m2_per_s: f64,
    /// Temperature.
    pub temperature: Temperature,
}

impl ChannelDiffusion {
    /// Knudsen diffusion coefficient, `D c̄/3`, m²/s.
    #[must_use]
    pub fn knudsen_m2_per_s(&self) -> f64 {
        self.bore.m() * self.gas.mean_speed_m_per_s(self.temperature) / 3.0
    }

    /// Both resistances in series, `1/D_eff = 1/D_m + 1/D_K`.
    #[must_use]
    pub fn effective_m2_per_s(&self) -> f64 {
        let knudsen = self.knudsen_m2_per_s();
        self.mutual_m2_per_s * knudsen / (self.mutual_m2_per_s + knudsen)
    }

    /// Volume conductance of the channel, `g = D_eff A/L`.
    ///
    /// For channels shorter than about ten bores an end length of 0.8 bores
    /// would have to be added (from memory); it is not.
    #[must_use]
    pub fn conductance(&self) -> Conductance {
        Conductance::from_m3_per_s(
            self.effective_m2_per_s() * self.bore.circle_area().m2() / self.wall.m(),
        )
    }

    /// Mole fraction inside after a time: `x = x_a + (x_0 - x_a) e^(-g t/V)`.
    #[must_use]
    pub fn fraction_after(&self, outside: f64, start: f64, volume: Volume, time: Duration) -> f64 {
        let gone = -exp_m1(-self.conductance().m3_per_s() * time.s() / volume.m3());
        start + (outside - start) * gone
    }
}

/// Pressure in a container after a time of inflow through a leak path by the
/// law for all regimes.
///
/// `dp/dt = N(p_a, p) R T/V`, integrated in the variable `p` by Gauss quadrature
/// of `V/(N R T)` would diverge at equality, so the time is stepped with the
/// classical fourth-order method in equal parts of the remaining difference.
///
/// # Errors
/// As [`LeakPath::flow`].
///
/// ```
/// use physics::gases::Gas;
/// use physics::ingress::pressure_after_inflow;
/// use physics::leak_paths::{FlowConditions, LeakPath};
/// use physics::quantities::*;
/// let path = LeakPath::Channel {
///     bore_diameter: Length::from_um(1.0), wall: Length::from_mm(1.0),
/// };
/// let store = FlowConditions {
///     gas: Gas::Air, upstream: AbsolutePressure::from_atm(1.0),
///     downstream: AbsolutePressure::from_pa(0.0), temperature: Temperature::from_celsius(25.0),
/// };
/// let day = pressure_after_inflow(&path, &store, Volume::from_ml(10.0), Duration::from_days(1.0));
/// assert!((day.unwrap().pa() / 140.2 - 1.0).abs() < 0.01);
/// ```
pub fn pressure_after_inflow<G: FlowingGas>(
    path: &LeakPath,
    store: &FlowConditions<G>,
    volume: Volume,
    time: Duration,
) -> Result<AbsolutePressure, LeakPathError> {
    path.flow(store)?;
    pressure_after_inflow_of(
        |inside| {
            let conditions = FlowConditions { downstream: inside, ..*store };
            path.flow(&conditions).map(|flow| flow.molar_flow)
        },
        store,
        volume,
        time,
    )
}

/// As [`pressure_after_inflow`], for any leak whose flow into a pressure inside
/// is known: an arrangement of paths, a calibrated leak.
///
/// # Errors
/// Those of the flow, or a volume or time without meaning.
pub fn pressure_after_inflow_of<G: FlowingGas>(
    inflow: impl Fn(AbsolutePressure) -> Result<MolarFlow, LeakPathError>,
    store: &FlowConditions<G>,
    volume: Volume,
    time: Duration,
) -> Result<AbsolutePressure, LeakPathError> {
    /// Steps; the error of the method is then far below that of the law.
    const STEPS: u32 = 400;
    store.check()?;
    if !(volume.m3() > 0.0 && volume.is_finite()) {
        return Err(LeakPathError::NotPositive { what: "volume", value: volume.m3(), unit: "m3" });
    }
    if !(time.s() >= 0.0 && time.is_finite()) {
        return Err(LeakPathError::NotPositive { what: "time", value: time.s(), unit: "s" });
    }
    let ambient = store.upstream.pa();
    let scale = R * store.temperature.k() / volume.m3();
    // Rate of the remaining difference u = ln((p_a - p_0)/(p_a - p)): nearly
    // constant for molecular flow, smooth for all, and never past equality.
    let start_gap = ambient - store.downstream.pa();
    if start_gap <= 0.0 {
        return Ok(store.downstream);
    }
    let rate = |gap_log: f64| -> Result<f64, LeakPathError> {
        let gap = start_gap * digits::scalar::exp(-gap_log);
        if gap <= 1e-9 * ambient {
            return Ok(0.0);
        }
        let flow = inflow(AbsolutePressure::from_pa(ambient - gap))?.mol_per_s();
        Ok(flow * scale / gap)
    };
    let first = rate(0.0)?;
    if first * time.s() > 1e4 {
        // Over long before: the steps below would jump past the end.
        return Ok(store.upstream);
    }
    let h = time.s() / f64::from(STEPS);
    let mut u = 0.0;
    for _ in 0..STEPS {
        let k1 = rate(u)?;
        let k2 = rate(u + 0.5 * h * k1)?;
        let k3 = rate(u + 0.5 * h * k2)?;
        let k4 = rate(u + h * k3)?;
        u += h / 6.0 * (k1 + 2.0 * (k2 + k3) + k4);
        if u > 40.0 {
            return Ok(store.upstream);
        }
    }
    Ok(AbsolutePressure::from_pa(ambient - start_gap * digits::scalar::exp(-u)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_law_in_its_molecular_limit_follows_the_exponential() {
        let path = LeakPath::Orifice { bore_diameter: Length::from_um(0.001) };
        let store = FlowConditions {
            gas: Gas::Air,
            upstream: AbsolutePressure::from_pa(1000.0),
            downstream: AbsolutePressure::from_pa(0.0),
            temperature: Temperature::from_celsius(20.0),
        };
        let volume = Volume::from_ul(1.0);
        let conductance = Conductance::from_m3_per_s(
            Length::from_um(0.001).circle_area().m2()
                * Gas::Air.mean_speed_m_per_s(store.temperature)
                / 4.0,
        );
        let time = Duration::from_s(volume.m3() / conductance.m3_per_s());
        let closed =
            pressure_after_effusion(store.upstream, store.downstream, conductance, volume, time);
        let law = pressure_after_inflow(&path, &store, volume, time).expect("flow");
        assert!((law.pa() / closed.pa() - 1.0).abs() < 1e-4, "{law:?} {closed:?}");
    }
}

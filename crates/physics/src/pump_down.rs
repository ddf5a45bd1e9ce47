//! Pump-down of a chamber, in closed form where one exists.

use digits::scalar::{exp, ln, pow};

use crate::gases::Gas;
use crate::quantities::{AbsolutePressure, Conductance, Duration, Length, Temperature, Volume};

/// Pumping speed behind a line: `1/S_eff = 1/S + 1/C`.
///
/// ```
/// use physics::pump_down::effective_speed;
/// use physics::quantities::Conductance;
/// let s = effective_speed(Conductance::from_l_per_s(1.0), Conductance::from_l_per_s(0.5));
/// assert!((s.l_per_s() - 1.0 / 3.0).abs() < 1e-15);
/// ```
#[must_use]
pub fn effective_speed(speed: Conductance, line: Conductance) -> Conductance {
    let (s, c) = (speed.m3_per_s(), line.m3_per_s());
    if s + c <= 0.0 {
        return Conductance::from_m3_per_s(0.0);
    }
    Conductance::from_m3_per_s(s * (c / (s + c)))
}

/// Pressure after pumping at constant speed:
/// `p = p_u + (p0 - p_u) e^(-S t/V)`. Isothermal. Source: physics.md 6.
#[must_use]
pub fn pressure_at_constant_speed(
    start: AbsolutePressure,
    ultimate: AbsolutePressure,
    speed: Conductance,
    volume: Volume,
    time: Duration,
) -> AbsolutePressure {
    let decay = exp(-speed.m3_per_s() * time.s() / volume.m3());
    AbsolutePressure::from_pa(ultimate.pa() + (start.pa() - ultimate.pa()) * decay)
}

/// Time to reach a pressure at constant speed:
/// `t = (V/S) ln((p0 - p_u)/(p - p_u))`.
///
/// `None` where the target does not lie above the ultimate pressure and at or
/// below the start, or where nothing is pumped.
///
/// ```
/// use physics::pump_down::time_at_constant_speed;
/// use physics::quantities::*;
/// let time = time_at_constant_speed(
///     AbsolutePressure::from_pa(101_325.0), AbsolutePressure::from_pa(100.0),
///     AbsolutePressure::from_pa(10.0), Conductance::from_l_per_s(1.0), Volume::from_l(1.0),
/// ).unwrap();
/// assert!((time.s() - 7.0262).abs() < 1e-4);
/// ```
#[must_use]
pub fn time_at_constant_speed(
    start: AbsolutePressure,
    target: AbsolutePressure,
    ultimate: AbsolutePressure,
    speed: Conductance,
    volume: Volume,
) -> Option<Duration> {
    let (p0, p, pu) = (start.pa(), target.pa(), ultimate.pa());
    (p > pu && p <= p0 && speed.m3_per_s() > 0.0)
        .then(|| Duration::from_s(volume.m3() / speed.m3_per_s() * ln((p0 - pu) / (p - pu))))
}

/// Time to pump through a line to a perfect pump, laminar and molecular flow
/// together: `Q = k p² + C p`,
/// `t = (V/C) ln[p0 (k p + C)/(p (k p0 + C))]`; for `C = 0` the limit
/// `t = (V/k)(1/p - 1/p0)`.
///
/// `k` in m³/(s·Pa), `C` in m³/s. Above a few kPa such a line is turbulent or
/// choked: the laminar form is then an upper bound on flow. Source: physics.md 6.
/// `None` where the target is not between zero and the start, or the line is
/// closed.
#[must_use]
pub fn time_through_line(
    start: AbsolutePressure,
    target: AbsolutePressure,
    line_viscous_m3_per_s_pa: f64,
    line_molecular: Conductance,
    volume: Volume,
) -> Option<Duration> {
    let (p0, p, k, c) =
        (start.pa(), target.pa(), line_viscous_m3_per_s_pa, line_molecular.m3_per_s());
    if !(p > 0.0 && p <= p0 && k >= 0.0 && c >= 0.0 && k + c > 0.0) {
        return None;
    }
    let time = if c == 0.0 {
        volume.m3() / k * (1.0 / p - 1.0 / p0)
    } else {
        volume.m3() / c * ln(p0 * (k * p + c) / (p * (k * p0 + c)))
    };
    Some(Duration::from_s(time))
}

/// Viscous coefficient of a long round line, `k = π D⁴/(256 μ L)`,
/// m³/(s·Pa), such that `Q = k (p1² - p2²)`.
#[must_use]
pub fn laminar_line_coefficient(diameter_m: f64, length_m: f64, viscosity_pa_s: f64) -> f64 {
    let squared = diameter_m * diameter_m;
    core::f64::consts::PI * squared * squared / (256.0 * viscosity_pa_s * length_m)
}

/// Molecular conductance of a long round line, `C = π D³ c̄/(12 L)`.
#[must_use]
pub fn molecular_line_conductance(
    diameter_m: f64,
    length_m: f64,
    mean_speed_m_per_s: f64,
) -> Conductance {
    let cubed = diameter_m * diameter_m * diameter_m;
    Conductance::from_m3_per_s(
        core::f64::consts::PI * cubed * mean_speed_m_per_s / (12.0 * length_m),
    )
}

/// Coldest that gas can become by expansion without heat from the walls:
/// `T = T0 (p/p0)^((γ-1)/γ)`. The walls keep a real chamber far above it.
///
/// `pressure_ratio` is `p/p0`, above zero.
#[must_use]
pub fn isentropic_temperature(
    start: Temperature,
    pressure_ratio: f64,
    heat_capacity_ratio: f64,
) -> Temperature {
    let exponent = (heat_capacity_ratio - 1.0) / heat_capacity_ratio;
    Temperature::from_k(start.k() * pow(pressure_ratio, exponent))
}

/// Time in which gas between two walls comes to their temperature:
/// `τ = (H/π)²/α`, `α = k (γ-1) T/(γ p)`; at constant volume shorter by `γ`.
///
/// | symbol | argument | unit |
/// |---|---|---|
/// | H | `gap` between the walls | m |
/// | p | `pressure` | Pa |
/// | k, γ, T | of `gas` at `temperature` | W/(m K), 1, K |
///
/// Conduction alone, valid while the mean free path is far below the gap. Source:
/// physics.md 6. `None` for a gas whose conductivity is not known.
///
/// ```
/// use physics::gases::Gas;
/// use physics::pump_down::gas_recovery_time;
/// use physics::quantities::{AbsolutePressure, Length, Temperature};
/// let time = gas_recovery_time(
///     Length::from_mm(5.0), Gas::Air, AbsolutePressure::from_pa(1000.0),
///     Temperature::from_celsius(20.0),
/// ).unwrap();
/// assert!((time.s() / 1.17e-3 - 1.0).abs() < 0.01);
/// ```
#[must_use]
pub fn gas_recovery_time(
    gap: Length,
    gas: Gas,
    pressure: AbsolutePressure,
    temperature: Temperature,
) -> Option<Duration> {
    let gamma = gas.heat_capacity_ratio();
    let conductivity = gas.thermal_conductivity_w_per_m_k(temperature)?;
    let diffusivity = conductivity * (gamma - 1.0) * temperature.k() / (gamma * pressure.pa());
    let wave = gap.m() / core::f64::consts::PI;
    Some(Duration::from_s(wave * wave / diffusivity))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_and_pressure_are_inverse() {
        let start = AbsolutePressure::from_pa(1e5);
        let ultimate = AbsolutePressure::from_pa(5.0);
        let speed = Conductance::from_l_per_s(2.0);
        let volume = Volume::from_l(3.0);
        let target = AbsolutePressure::from_pa(50.0);
        let time = time_at_constant_speed(start, target, ultimate, speed, volume);
        let reached = pressure_at_constant_speed(
            start,
            ultimate,
            speed,
            volume,
            time.unwrap_or(Duration::from_s(0.0)),
        );
        assert!((reached.pa() - 50.0).abs() < 1e-10);
    }

    #[test]
    fn a_target_below_the_ultimate_is_never_reached() {
        let p = AbsolutePressure::from_pa;
        assert_eq!(
            time_at_constant_speed(
                p(1e5),
                p(5.0),
                p(5.0),
                Conductance::from_l_per_s(1.0),
                Volume::from_l(1.0)
            ),
            None
        );
    }
}

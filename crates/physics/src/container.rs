//! The container's own answer to vacuum: plunger, flexible wall, warm or cold
//! headspace, altitude.

use digits::scalar::{exp, pow};

use crate::quantities::{
    AbsolutePressure, Area, Duration, PressureDifference, Temperature, Volume,
};

/// Pressure of a closed rigid headspace after a change of temperature:
/// `p = p_0 T/T_0`. Water vapour over liquid is not counted.
#[must_use]
pub fn pressure_at_temperature(
    sealed: AbsolutePressure,
    sealed_at: Temperature,
    now: Temperature,
) -> AbsolutePressure {
    AbsolutePressure::from_pa(sealed.pa() * now.k() / sealed_at.k())
}

/// Temperature of a container on its way to that of the room:
/// `T = T_room + (T_0 - T_room) e^(-t/τ)`: warm from the mould, or out of the
/// cold store.
#[must_use]
pub fn temperature_after(
    start: Temperature,
    room: Temperature,
    time_constant: Duration,
    time: Duration,
) -> Temperature {
    let left = exp(-time.s() / time_constant.s());
    Temperature::from_k(room.k() + (start.k() - room.k()) * left)
}

/// Pressure of the standard atmosphere at an altitude up to 11 km:
/// `p = 101325 Pa (1 - 0.0065 h/288.15)^5.25588`. Source: ISO 2533 (from
/// memory). `None` below -500 m or above 11 km.
///
/// ```
/// use physics::container::pressure_at_altitude;
/// let p = pressure_at_altitude(2000.0).unwrap();
/// assert!((p.pa() / 79_495.0 - 1.0).abs() < 1e-3);
/// ```
#[must_use]
pub fn pressure_at_altitude(metres: f64) -> Option<AbsolutePressure> {
    (-500.0..=11_000.0).contains(&metres).then(|| {
        AbsolutePressure::from_pa(101_325.0 * pow(1.0 - 0.0065 * metres / 288.15, 5.255_88))
    })
}

/// A plunger or stopper held by friction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plunger {
    /// Area on which the pressures act.
    pub area: Area,
    /// Force at which it starts to move, N.
    pub break_loose_n: f64,
    /// Friction while it moves, N; not above the break-loose force.
    pub dynamic_friction_n: f64,
    /// Longest way it can move outwards, as a volume.
    pub stop: Volume,
}

/// Where a plunger comes to rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlungerRest {
    /// It has moved at all.
    pub moved: bool,
    /// It rests on its stop.
    pub on_stop: bool,
    /// Volume gained by the headspace, and lost by the chamber.
    pub displaced: Volume,
    /// Headspace pressure at rest.
    pub headspace: AbsolutePressure,
}

impl Plunger {
    /// Pressure difference at which it starts to move, `F_b/A`.
    #[must_use]
    pub fn break_loose_difference(&self) -> PressureDifference {
        PressureDifference::from_pa(self.break_loose_n / self.area.m2())
    }

    /// Where it comes to rest when the chamber is pumped to a pressure, moving
    /// slowly and isothermally.
    ///
    /// At or below the break-loose force it stays. Beyond, it moves until the
    /// headspace has expanded to `p = p_chamber + F_d/A`:
    /// `V = V_0 p_0/(p_chamber + F_d/A)`, or to its stop.
    #[must_use]
    pub fn rest(
        &self,
        headspace_volume: Volume,
        headspace: AbsolutePressure,
        chamber: AbsolutePressure,
    ) -> PlungerRest {
        let difference = (headspace - chamber).pa();
        if difference <= self.break_loose_difference().pa() {
            return PlungerRest {
                moved: false,
                on_stop: false,
                displaced: Volume::from_m3(0.0),
                headspace,
            };
        }
        let friction = self.dynamic_friction_n.min(self.break_loose_n) / self.area.m2();
        let resting_pa = chamber.pa() + friction.max(0.0);
        let gas = headspace_volume.m3() * headspace.pa();
        // Against perfect vacuum without friction only the stop ends the way.
        let free = if resting_pa > 0.0 { gas / resting_pa } else { f64::INFINITY };
        let wanted = (free - headspace_volume.m3()).max(0.0);
        let on_stop = wanted >= self.stop.m3();
        let displaced = wanted.min(self.stop.m3());
        PlungerRest {
            moved: displaced > 0.0,
            on_stop,
            displaced: Volume::from_m3(displaced),
            headspace: AbsolutePressure::from_pa(gas / (headspace_volume.m3() + displaced)),
        }
    }
}

/// A wall that gives way under a pressure difference, at once and with time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlexibleWall {
    /// Volume gained per pressure difference, m³/Pa.
    pub compliance_m3_per_pa: f64,
    /// Further gain after a long time, as a share of the first.
    pub creep_share: f64,
    /// Time constant of the creep.
    pub creep_time: Duration,
}

impl FlexibleWall {
    /// Volume gained under a constant pressure difference after a time:
    /// `ΔV = c Δp [1 + s (1 - e^(-t/τ))]` (standard linear solid).
    #[must_use]
    pub fn gain(&self, difference: PressureDifference, time: Duration) -> Volume {
        let crept = if self.creep_time.s() > 0.0 {
            -digits::scalar::exp_m1(-time.s() / self.creep_time.s())
        } else {
            1.0
        };
        Volume::from_m3(
            self.compliance_m3_per_pa * difference.pa() * (1.0 + self.creep_share * crept),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plunger() -> Plunger {
        Plunger {
            area: Area::from_m2(3e-5),
            break_loose_n: 2.0,
            dynamic_friction_n: 1.0,
            stop: Volume::from_ml(0.5),
        }
    }

    #[test]
    fn friction_holds_and_then_lets_go() {
        let (volume, atmosphere) = (Volume::from_ml(0.05), AbsolutePressure::from_pa(1e5));
        let held = plunger().rest(volume, atmosphere, AbsolutePressure::from_pa(4e4));
        assert!(!held.moved);
        assert_eq!(held.headspace, atmosphere);
        let loose = plunger().rest(volume, atmosphere, AbsolutePressure::from_pa(1e3));
        assert!(loose.moved && !loose.on_stop);
        // At rest the forces balance: p_h - p_c = F_d/A.
        assert!((loose.headspace.pa() - 1e3 - 1.0 / 3e-5).abs() < 1e-6);
        // The gas is all there.
        let gas = loose.headspace.pa() * (volume.m3() + loose.displaced.m3());
        assert!((gas / 5e-3 - 1.0).abs() < 1e-12);
    }

    #[test]
    fn creep_comes_on_top() {
        let wall = FlexibleWall {
            compliance_m3_per_pa: 1e-12,
            creep_share: 0.2,
            creep_time: Duration::from_s(10.0),
        };
        let gain = |s| wall.gain(PressureDifference::from_pa(1e5), Duration::from_s(s)).m3();
        assert!((gain(0.0) - 1e-7).abs() < 1e-20);
        assert!((gain(1e4) - 1.2e-7).abs() < 1e-20);
    }
}

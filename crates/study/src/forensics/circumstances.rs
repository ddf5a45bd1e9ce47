//! What is known beside the trace.

use physics::gases::Gas;
use physics::quantities::{AbsolutePressure, PressureRate, Temperature, Volume};

use crate::case_input::CaseInput;
use crate::profile::{ContainerKind, Fill};

/// The gas in the container when the test began.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeadspaceState {
    /// Its gas.
    pub gas: Gas,
    /// Its volume.
    pub volume: Volume,
    /// Its pressure before the test.
    pub pressure: AbsolutePressure,
}

/// What is known beside the trace; everything may be left open, and each gap
/// costs something that can then not be said.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Circumstances {
    /// Volume that the gas fills: turns a rate into a flow.
    pub free_volume: Option<Volume>,
    /// Temperature of the gas, where the trace has none.
    pub temperature: Option<Temperature>,
    /// The headspace: turns a flow into a size, and tells what a leak can give
    /// at most.
    pub headspace: Option<HeadspaceState>,
    /// Pressure at which the gauge ends.
    pub full_scale: Option<AbsolutePressure>,
    /// What the gauge drifts by at most, either way; it tells how much of a
    /// steady rise a leak must be.
    pub gauge_drift: Option<PressureRate>,
    /// Whether something in chamber or container can give off vapour.
    pub wet: Option<bool>,
    /// Whether the container can give way.
    pub yielding: Option<bool>,
}

impl Circumstances {
    /// What a case says of its rig and its units.
    #[must_use]
    pub fn of(input: &CaseInput) -> Self {
        let profile = &input.profile;
        Self {
            free_volume: Some(input.rig.free_volume.value),
            temperature: Some(input.rig.wall_temperature),
            headspace: Some(HeadspaceState {
                gas: profile.headspace.gas,
                volume: profile.headspace.volume.value,
                pressure: profile.headspace.pressure.value,
            }),
            full_scale: Some(input.rig.sensor.range),
            // A rig file that says nothing of drift says zero, and no gauge has none.
            gauge_drift: Some(input.rig.sensor.drift).filter(|rate| rate.pa_per_s() != 0.0),
            wet: Some(profile.product.fill == Fill::Liquid),
            yielding: Some(!matches!(
                profile.container.kind,
                ContainerKind::Vial | ContainerKind::Ampoule
            )),
        }
    }
}

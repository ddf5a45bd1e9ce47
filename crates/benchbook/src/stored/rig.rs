//! The rig: chamber, pump, background, sensor.

use study::cycle::{Background, Pump, VirtualLeak};
use study::rig::Rig;
use study::sensor::{PressureSensor, ZeroShift};

use super::quantities::{
    CubicMetres, CubicMetresPerSecond, Kelvins, Pascals, PascalsPerSecond, Seconds,
};
use super::shape::{Real, shape};
use super::sourced::{ProvenanceShape, SourcedShape};

shape! {
    RigShape of Rig {
        name: String,
        free_volume: SourcedShape<CubicMetres>,
        wall_temperature: Kelvins,
        thermal_recovery: Seconds,
        pump: PumpShape,
        background: BackgroundShape,
        background_spread: Real,
        sensor: SensorShape,
        provenance: ProvenanceShape,
    }
}

shape! {
    PumpShape of Pump {
        speed: CubicMetresPerSecond,
        line_molecular: CubicMetresPerSecond,
        line_viscous_m3_per_s_pa: Real,
        ultimate: Pascals,
    }
}

shape! {
    /// `one_over_t` is in Pa·m³, `constant` in Pa·m³/s.
    BackgroundShape of Background {
        one_over_t: Real,
        one_over_t_offset: Seconds,
        constant: Real,
        virtual_leak: Option<VirtualLeakShape>,
    }
}

shape! {
    VirtualLeakShape of VirtualLeak { volume: CubicMetres, conductance: CubicMetresPerSecond }
}

shape! {
    SensorShape of PressureSensor {
        range: Pascals,
        resolution: Pascals,
        white_noise: Pascals,
        flicker_noise: Pascals,
        drift: PascalsPerSecond,
        /// Absent in records written before it was known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        zero_shift: Option<ZeroShiftShape>,
    }
}

shape! {
    ZeroShiftShape of ZeroShift { per_kelvin: Pascals, lag: Seconds }
}

//! What a leak path refuses to compute, and why.

/// Refusal of a leak-path calculation.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LeakPathError {
    /// A value that must be above zero is not.
    #[error("{what} is {value} {unit}; it must be above zero")]
    NotPositive {
        /// Which value.
        what: &'static str,
        /// What was given.
        value: f64,
        /// Its unit.
        unit: &'static str,
    },
    /// A pressure below perfect vacuum.
    #[error(
        "{what} is {value_pa} Pa absolute; nothing lies below perfect vacuum: \
         if this is a gauge pressure, add the barometer reading"
    )]
    BelowVacuum {
        /// Which pressure.
        what: &'static str,
        /// What was given.
        value_pa: f64,
    },
    /// Not a number, or infinite.
    #[error("{what} is not a finite number; check where it was computed")]
    NotFinite {
        /// Which value.
        what: &'static str,
    },
    /// Too many paths one after the other.
    #[error("{paths} paths one after the other are more than {most}; join paths alike into one")]
    ChainTooLong {
        /// Paths given.
        paths: usize,
        /// Most that are solved.
        most: usize,
    },
    /// A slit must be wider than high.
    #[error(
        "the slit is {height_m} m high and {width_m} m wide; give the smaller size as its height"
    )]
    SlitHigherThanWide {
        /// Height, m.
        height_m: f64,
        /// Width, m.
        width_m: f64,
    },
    /// The conditions drive no flow forward, so no size follows from a flow.
    #[error(
        "upstream {upstream_pa} Pa does not exceed downstream {downstream_pa} Pa, \
         so no hole carries this flow; exchange the two or change the pressures"
    )]
    NoDrivingPressure {
        /// Upstream pressure, Pa.
        upstream_pa: f64,
        /// Downstream pressure, Pa.
        downstream_pa: f64,
    },
    /// A critical orifice that is not critical.
    #[error(
        "the pressure ratio {ratio} lies above the critical ratio {critical_ratio}, so the \
         critical orifice does not set its flow; lower the pressure behind it"
    )]
    NotCritical {
        /// Pressure behind over pressure before.
        ratio: f64,
        /// The largest ratio at which it works.
        critical_ratio: f64,
    },
    /// An eccentricity outside its range.
    #[error("an eccentricity of {value} is outside 0 (concentric) to 1 (touching)")]
    Eccentricity {
        /// What was given.
        value: f64,
    },
    /// No size within the range searched carries the flow.
    #[error(
        "no bore between {smallest_m} m and {largest_m} m carries {flow_mol_per_s} mol/s; \
         the flow or its unit is likely wrong"
    )]
    FlowUnreachable {
        /// The flow asked for.
        flow_mol_per_s: f64,
        /// Smallest bore tried, m.
        smallest_m: f64,
        /// Largest bore tried, m.
        largest_m: f64,
    },
}

impl LeakPathError {
    /// Stable code of the refusal.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NotPositive { .. } => "leak_path_not_positive",
            Self::BelowVacuum { .. } => "leak_path_below_vacuum",
            Self::NotFinite { .. } => "leak_path_not_finite",
            Self::ChainTooLong { .. } => "leak_path_chain_too_long",
            Self::SlitHigherThanWide { .. } => "leak_path_slit_higher_than_wide",
            Self::NoDrivingPressure { .. } => "leak_path_no_driving_pressure",
            Self::NotCritical { .. } => "leak_path_not_critical",
            Self::Eccentricity { .. } => "leak_path_eccentricity",
            Self::FlowUnreachable { .. } => "leak_path_flow_unreachable",
        }
    }
}

/// Refuses a value that is not finite and above zero.
pub(super) fn check_positive(
    what: &'static str,
    value: f64,
    unit: &'static str,
) -> Result<(), LeakPathError> {
    if !value.is_finite() {
        return Err(LeakPathError::NotFinite { what });
    }
    if value <= 0.0 {
        return Err(LeakPathError::NotPositive { what, value, unit });
    }
    Ok(())
}

/// Refuses a pressure that is not finite or lies below zero.
pub(super) fn check_pressure(what: &'static str, value_pa: f64) -> Result<(), LeakPathError> {
    if !value_pa.is_finite() {
        return Err(LeakPathError::NotFinite { what });
    }
    if value_pa < 0.0 {
        return Err(LeakPathError::BelowVacuum { what, value_pa });
    }
    Ok(())
}

//! What cannot be said of a liquid, and why.

/// Refusal of a calculation on a liquid.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LiquidError {
    /// Frozen: no liquid law holds.
    #[error("at {celsius} °C the liquid is frozen; a liquid law does not apply to ice")]
    Frozen {
        /// Temperature asked for, °C.
        celsius: f64,
    },
    /// Outside the property table.
    #[error(
        "{celsius} °C lies outside the property table, which spans {from_celsius} to \
         {to_celsius} °C; give the liquid's own figures at this temperature"
    )]
    OutsideTable {
        /// Temperature asked for, °C.
        celsius: f64,
        /// Coldest in the table, °C.
        from_celsius: f64,
        /// Warmest in the table, °C.
        to_celsius: f64,
    },
    /// A value that must be above zero is not.
    #[error("{what} is {value}; it must be above zero")]
    NotPositive {
        /// Which value, with its unit.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// Not a number, or infinite.
    #[error("{what} is not a finite number; check where it was computed")]
    NotFinite {
        /// Which value.
        what: &'static str,
    },
    /// The contact angle has no meaning.
    #[error("a contact angle of {degrees} degrees is outside 0 to 180")]
    ContactAngle {
        /// What was given, degrees.
        degrees: f64,
    },
    /// The flow of vapour cannot be computed.
    #[error("vapour flow: {0}")]
    Vapour(#[from] crate::leak_paths::LeakPathError),
}

impl LiquidError {
    /// Stable code of the refusal.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Frozen { .. } => "liquid_frozen",
            Self::OutsideTable { .. } => "liquid_outside_table",
            Self::NotPositive { .. } => "liquid_not_positive",
            Self::NotFinite { .. } => "liquid_not_finite",
            Self::ContactAngle { .. } => "liquid_contact_angle",
            Self::Vapour(error) => error.code(),
        }
    }
}

/// Refuses a value that is not finite and above zero.
pub(super) fn check_positive(what: &'static str, value: f64) -> Result<(), LiquidError> {
    if !value.is_finite() {
        return Err(LiquidError::NotFinite { what });
    }
    if value <= 0.0 {
        return Err(LiquidError::NotPositive { what, value });
    }
    Ok(())
}

//! One macro declares a kind of quantity: its name, its SI unit, its units.

/// Declares a quantity with its SI field and named constructors and getters.
macro_rules! quantity {
    (
        $(#[$meta:meta])*
        $name:ident, $field:ident, $si:literal,
        { $($(#[$unit_meta:meta])* $from:ident, $to:ident, $factor:expr);+ $(;)? }
    ) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name { $field: f64 }

        impl $name {
            /// The coherent SI unit in which the value is stored.
            pub const SI_UNIT: &'static str = $si;

            $(
                $(#[$unit_meta])*
                #[doc = concat!("From a value; stored in ", $si, ".")]
                #[must_use]
                pub const fn $from(value: f64) -> Self { Self { $field: value * $factor } }

                #[doc = concat!("Value of the quantity, see [`", stringify!($name), "`].")]
                #[must_use]
                pub const fn $to(self) -> f64 { self.$field / $factor }
            )+

            /// True where the value is an ordinary number.
            #[must_use]
            pub const fn is_finite(self) -> bool { self.$field.is_finite() }
        }
    };
}

/// Lets values of one kind be added, subtracted and scaled.
macro_rules! additive {
    ($name:ident, $field:ident) => {
        impl core::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self { $field: self.$field + other.$field }
            }
        }
        impl core::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self { $field: self.$field - other.$field }
            }
        }
        impl core::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self { $field: self.$field * factor }
            }
        }
        impl core::ops::Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self { $field: -self.$field }
            }
        }
    };
}

pub(super) use {additive, quantity};

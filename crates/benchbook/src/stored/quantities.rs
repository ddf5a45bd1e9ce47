//! Quantities as one-key objects, `{"pa": 101325.0}`: the key is the SI unit.

use serde::{Deserialize, Serialize};
use study::quantities::{
    AbsolutePressure, Conductance, Duration, Length, PressureDifference, PressureRate, Probability,
    Temperature, Throughput, Volume,
};

use super::shape::{Real, Shape, Unreadable};

macro_rules! quantity_shape {
    ($($name:ident $key:ident: $($target:ident $from:ident $to:ident),+);+ $(;)?) => { $(
        #[derive(Debug, Serialize, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub(crate) struct $name { $key: Real }
        $(
            impl Shape<$target> for $name {
                fn of(from: &$target) -> Self {
                    Self { $key: Real(from.$to()) }
                }
                fn back(self) -> Result<$target, Unreadable> {
                    Ok($target::$from(self.$key.0))
                }
            }
        )+
    )+ };
}

quantity_shape! {
    Pascals pa: AbsolutePressure from_pa pa, PressureDifference from_pa pa;
    PascalsPerSecond pa_per_s: PressureRate from_pa_per_s pa_per_s;
    Seconds s: Duration from_s s;
    Kelvins k: Temperature from_k k;
    Metres m: Length from_m m;
    CubicMetres m3: Volume from_m3 m3;
    CubicMetresPerSecond m3_per_s: Conductance from_m3_per_s m3_per_s;
}

/// A fraction from 0 to 1.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Fraction {
    fraction: Real,
}

impl Shape<Probability> for Fraction {
    fn of(from: &Probability) -> Self {
        Self { fraction: Real(from.fraction()) }
    }
    fn back(self) -> Result<Probability, Unreadable> {
        let fraction = self.fraction.0;
        Probability::new(fraction)
            .ok_or_else(|| Unreadable(format!("{fraction} is no probability from 0 to 1")))
    }
}

/// A throughput with the temperature that makes it an amount of gas.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ThroughputShape {
    pa_m3_per_s: Real,
    temperature_k: Real,
}

impl Shape<Throughput> for ThroughputShape {
    fn of(from: &Throughput) -> Self {
        Self { pa_m3_per_s: Real(from.pa_m3_per_s()), temperature_k: Real(from.temperature().k()) }
    }
    fn back(self) -> Result<Throughput, Unreadable> {
        Ok(Throughput::from_pa_m3_per_s(
            self.pa_m3_per_s.0,
            Temperature::from_k(self.temperature_k.0),
        ))
    }
}

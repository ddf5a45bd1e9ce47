//! Lengths, areas and volumes.

use super::declare::{additive, quantity};

quantity! {
    /// A length; a diameter of a leak always says which in its name.
    Length, metre, "m", {
        from_m, m, 1.0;
        from_mm, mm, 1.0e-3;
        from_um, um, 1.0e-6;
    }
}

quantity! {
    /// An area.
    Area, square_metre, "m2", {
        from_m2, m2, 1.0;
        from_cm2, cm2, 1.0e-4;
    }
}

quantity! {
    /// A volume; of a chamber always the free volume, container subtracted.
    Volume, cubic_metre, "m3", {
        from_m3, m3, 1.0;
        from_l, l, 1.0e-3;
        from_ml, ml, 1.0e-6;
        from_ul, ul, 1.0e-9;
    }
}

additive!(Length, metre);
additive!(Area, square_metre);
additive!(Volume, cubic_metre);

impl Length {
    /// Area of a circle of this diameter.
    #[must_use]
    pub fn circle_area(self) -> Area {
        Area { square_metre: core::f64::consts::PI * self.metre * self.metre / 4.0 }
    }
}

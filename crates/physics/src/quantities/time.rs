//! Length of time.

use super::declare::{additive, quantity};

quantity! {
    /// A span of time, not a moment.
    Duration, second, "s", {
        from_s, s, 1.0;
        from_minutes, minutes, 60.0;
        from_hours, hours, 3600.0;
        from_days, days, 86_400.0;
    }
}

additive!(Duration, second);

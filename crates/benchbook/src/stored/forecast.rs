//! The forecast with its window and example traces.

use study::PressureTrace;
use study::forecast::{
    Answer, DetectionPoint, Edge, FalseRejects, Forecast, ForecastTrace, HeadspaceFigures,
    LiquidPoint, LiquidSide, LiquidSpread, Share, TierForecast, TierRejects, Unknown, Verdict,
    Window,
};

use super::notes::NoteShape;
use super::run::StageSpanShape;
use super::shape::{Decimal, Real, Word, shape, words};

words!(Answer);

shape! {
    ForecastShape of Forecast {
        seed: Decimal,
        n_draws: u64,
        tight_rise_pa: Real,
        tight_rise_sd_pa: Real,
        tight_reach_pa: Real,
        tight_reach_s: Option<Real>,
        thermal_recovery_s: Real,
        rise_limit_pa: Real,
        reach_limit_pa: Real,
        // Absent in the first shape.
        #[serde(default)]
        tiers: Vec<TierForecastShape>,
        detection: Vec<DetectionPointShape>,
        window: WindowShape,
        blind_gap_um: Option<(Real, Real)>,
        // Absent in records written before it was forecast.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        false_rejects: Option<FalseRejectsShape>,
        limited_by: Vec<ShareShape>,
        // Absent in the first shape.
        #[serde(default)]
        unknowns: Vec<UnknownShape>,
        traces: Vec<ForecastTraceShape>,
        headspace: HeadspaceFiguresShape,
        // Absent in records written before it was forecast.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        liquid_side: Option<LiquidSideShape>,
        verdict: VerdictShape,
        notes: Vec<NoteShape>,
    }
}

shape! {
    TierForecastShape of TierForecast {
        tight_rise_pa: Real,
        tight_rise_sd_pa: Real,
        rise_limit_pa: Option<Real>,
        tight_reach_pa: Real,
        reach_limit_pa: Real,
    }
}

shape! {
    FalseRejectsShape of FalseRejects {
        probability: Real,
        low: Real,
        high: Real,
        tolerable: Real,
        tiers: Vec<TierRejectsShape>,
    }
}

shape! {
    TierRejectsShape of TierRejects { by_reach: Real, by_rise: Real }
}

shape! {
    UnknownShape of Unknown {
        input: String,
        relative_sd: Real,
        origin: Word,
        uncertainty_stated: bool,
        change_of_smallest: Real,
        share: Real,
        width_if_known: Real,
    }
}

shape! {
    DetectionPointShape of DetectionPoint {
        flow_equivalent_um: Real,
        reference_throughput_pa_m3_per_s: Real,
        rise_pa: Option<Real>,
        // Absent in records written before it was forecast.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        challenge_pa_m3_per_s: Option<Real>,
        reach_pa: Real,
        by_rise: Real,
        by_reach: Real,
        probability: Real,
    }
}

shape! {
    LiquidSideShape of LiquidSide {
        liquid: String,
        vapour_pressure_pa: Real,
        chamber_pa: Real,
        opens_um: Real,
        points: Vec<LiquidPointShape>,
        smallest_um: Option<Real>,
        largest_um: Option<Real>,
        largest_is_at_least: bool,
        // Absent in records of versions that did not vary the inputs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        spread: Option<LiquidSpreadShape>,
    }
}

shape! {
    LiquidSpreadShape of LiquidSpread {
        opens_um: (Real, Real),
        smallest_um: Option<(Real, Real)>,
        largest_um: Option<(Real, Real)>,
        chamber_over_vapour: (Real, Real),
        share_that_boils: Real,
        share_with_window: Real,
        unknowns: Vec<UnknownShape>,
    }
}

shape! {
    LiquidPointShape of LiquidPoint {
        bore_um: Real,
        runs: bool,
        rise_pa: Option<Real>,
        probability: Real,
    }
}

shape! {
    EdgeShape of Edge { um: Real, low_um: Real, high_um: Real, beyond_range: bool }
}

shape! {
    WindowShape of Window {
        smallest: Option<EdgeShape>,
        largest: Option<EdgeShape>,
        share_of_draws_with_window: Real,
    }
}

shape! {
    ShareShape of Share { cause: String, pa: Real, share: Real }
}

shape! {
    ForecastTraceShape of ForecastTrace {
        label: String,
        flow_equivalent_um: Real,
        trace: TraceShape,
    }
}

shape! {
    /// A trace with its samples, for the few that illustrate a forecast; runs
    /// keep theirs as columns.
    TraceShape of PressureTrace {
        times_s: Vec<Real>,
        pressures_pa: Vec<Real>,
        temperatures_k: Vec<Real>,
        stages: Vec<StageSpanShape>,
    }
}

shape! {
    /// `emptying` lists (µm, s).
    HeadspaceFiguresShape of HeadspaceFigures { ceiling_pa: Real, emptying: Vec<(Real, Real)> }
}

shape! {
    VerdictShape of Verdict { answer: Word, because: String }
}

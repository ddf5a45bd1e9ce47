//! What the runs prove.

use study::Results;
use study::results::{
    Accounting, AgeRow, DayFigures, Detection, FlowCalibration, FlowLevel, Interval, KindRow,
    LotFigures, RejectLimit, SignalDetection, SizeRow,
};

use super::notes::NoteShape;
use super::shape::{Real, Word, shape};

shape! {
    ResultsShape of Results {
        method_version: u32,
        accounting: AccountingShape,
        reject_limit: Option<RejectLimitShape>,
        detection: Option<DetectionShape>,
        /// Absent in records written before readings were held against sizes.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        signal: Option<SignalDetectionShape>,
        /// Absent where all controls are of one kind, as in records written before.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        by_kind: Vec<KindRowShape>,
        /// Absent in records written before there were flow challenges.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        flow_calibration: Option<FlowCalibrationShape>,
        /// Absent where there are no aged controls, as in records written before.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        ageing: Vec<AgeRowShape>,
        notes: Vec<NoteShape>,
    }
}

shape! {
    AccountingShape of Accounting {
        runs: u64,
        blanks: u64,
        negative_controls: u64,
        positive_controls: u64,
        /// Absent where there are none, as in records written before.
        #[serde(default, skip_serializing_if = "is_zero")]
        flow_challenges: u64,
        /// Absent where there are none, as in records written before.
        #[serde(default, skip_serializing_if = "is_zero")]
        aged_controls: u64,
        ended_by_limit: u64,
        aborted: u64,
    }
}

shape! {
    AgeRowShape of AgeRow {
        age_days: u32,
        hits: u64,
        of: u64,
        lower: Real,
        closed: u64,
        rejected_without_leak: u64,
        without_leak: u64,
    }
}

shape! {
    RejectLimitShape of RejectLimit {
        limit_pa: Real,
        method: String,
        n: u64,
        mean_pa: Real,
        standard_deviation_pa: Real,
        factor: Real,
        content: Real,
        confidence: Real,
        by_day: Vec<DayFiguresShape>,
        /// Absent where no lot is known, as in records written before.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        by_lot: Vec<LotFiguresShape>,
    }
}

shape! {
    LotFiguresShape of LotFigures {
        lot: String,
        mean_pa: Real,
        standard_deviation_pa: Option<Real>,
        n: u64,
    }
}

shape! {
    KindRowShape of KindRow {
        side: Option<Word>,
        defect: String,
        nominal_um: Real,
        hits: u64,
        of: u64,
        lower: Real,
    }
}

shape! {
    DayFiguresShape of DayFigures {
        day: u32,
        mean_pa: Real,
        standard_deviation_pa: Option<Real>,
        n: u64,
    }
}

shape! {
    /// `curve` lists (µm, probability, lower bound).
    DetectionShape of Detection {
        limit_pa: Real,
        separation: String,
        link: String,
        intercept: Option<Real>,
        slope: Option<Real>,
        a50_um: Option<Real>,
        a90_um: Option<Real>,
        a90_95_um: Option<Real>,
        /// Absent in records written before it was said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        a90_95_method: Option<String>,
        bracket_um: Option<(Real, Real)>,
        n_units: u64,
        by_size: Vec<SizeRowShape>,
        curve: Vec<(Real, Real, Option<Real>)>,
    }
}

shape! {
    /// `curve` lists (µm, probability).
    SignalDetectionShape of SignalDetection {
        blank_pa: Real,
        threshold_pa: Real,
        floor_pa: Real,
        intercept: Real,
        slope: Real,
        scatter: Real,
        a50_um: Option<Real>,
        a90_um: Option<Real>,
        a90_95_um: Option<Real>,
        a90_95_method: String,
        units: u64,
        read_below_above: (u64, u64, u64),
        line_holds: bool,
        curve: Vec<(Real, Real)>,
    }
}

/// For a count that older records do not have.
const fn is_zero(count: &u64) -> bool {
    *count == 0
}

shape! {
    /// Flows are Pa·m³/s at 20 °C.
    FlowCalibrationShape of FlowCalibration {
        levels: Vec<FlowLevelShape>,
        n: u64,
        confidence: Real,
        intercept_pa: Real,
        slope: IntervalShape,
        residual_sd_pa: Real,
        lack_of_fit_p: Option<Real>,
        critical_flow: Option<Real>,
        detection_limit: Option<Real>,
        flow_at_limit: Option<IntervalShape>,
        free_volume_m3: Option<IntervalShape>,
        method: String,
    }
}

shape! {
    IntervalShape of Interval { value: Real, lower: Real, upper: Real }
}

shape! {
    FlowLevelShape of FlowLevel {
        flow_pa_m3_per_s: Real,
        n: u64,
        mean_pa: Real,
        standard_deviation_pa: Option<Real>,
    }
}

shape! {
    SizeRowShape of SizeRow { nominal_um: Real, hits: u64, of: u64, lower: Real }
}

//! What the runs prove.

use study::Results;
use study::results::{Accounting, DayFigures, Detection, RejectLimit, SizeRow};

use super::notes::NoteShape;
use super::shape::{Real, shape};

shape! {
    ResultsShape of Results {
        method_version: u32,
        accounting: AccountingShape,
        reject_limit: Option<RejectLimitShape>,
        detection: Option<DetectionShape>,
        notes: Vec<NoteShape>,
    }
}

shape! {
    AccountingShape of Accounting {
        runs: u64,
        blanks: u64,
        negative_controls: u64,
        positive_controls: u64,
        ended_by_limit: u64,
        aborted: u64,
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
    SizeRowShape of SizeRow { nominal_um: Real, hits: u64, of: u64, lower: Real }
}

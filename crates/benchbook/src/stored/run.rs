//! A run. Its samples stand in columns beside it; the record names each
//! column with its hash, so that the hash of the record covers them.

use serde::{Deserialize, Serialize};
use study::Run;
use study::run_factors::{LeakSide, RunFactors};
use study::runs::{Ended, RunClass, RunOrigin};
use study::trace::{PressureTrace, Stage, StageSpan};
use study::trace_features::TraceFeatures;

use super::shape::{Decimal, Real, Shape, Unreadable, Word, shape, words};

/// A column of samples that belongs to a run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChannelEntry {
    /// Name with its unit, such as `pressures_pa`.
    pub(crate) name: String,
    /// Number of samples.
    pub(crate) n: u64,
    /// SHA-256 of the stored bytes, hexadecimal.
    pub(crate) sha256: String,
}

/// A run without its samples.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RunShape {
    number: u32,
    unit: String,
    class: RunClassShape,
    day: u32,
    // Absent where nothing is known of them, as in records written before.
    #[serde(default, skip_serializing_if = "RunFactorsShape::is_empty")]
    factors: RunFactorsShape,
    ended: EndedShape,
    features: Option<FeaturesShape>,
    origin: OriginShape,
    stages: Vec<StageSpanShape>,
    pub(crate) channels: Vec<ChannelEntry>,
}

impl RunShape {
    /// The shape of a run whose samples were stored as `channels`.
    pub(crate) fn of(run: &Run, channels: Vec<ChannelEntry>) -> Self {
        let Run { number, unit, class, day, factors, ended, features, trace, origin } = run;
        // The columns of the trace are stored by `columns`, the stages here.
        let PressureTrace { times_s: _, pressures_pa: _, temperatures_k: _, stages } = trace;
        Self {
            number: *number,
            unit: unit.clone(),
            class: Shape::of(class),
            day: *day,
            factors: Shape::of(factors),
            ended: Shape::of(ended),
            features: Shape::of(features),
            origin: Shape::of(origin),
            stages: Shape::of(stages),
            channels,
        }
    }
}

/// The run of a shape, with its stages and without its samples.
pub(crate) fn run_without_samples(shape: RunShape) -> Result<Run, Unreadable> {
    Ok(Run {
        number: shape.number,
        unit: shape.unit,
        class: shape.class.back()?,
        day: shape.day,
        factors: shape.factors.back()?,
        ended: shape.ended.back()?,
        features: shape.features.back()?,
        trace: PressureTrace { stages: shape.stages.back()?, ..PressureTrace::default() },
        origin: shape.origin.back()?,
    })
}

words!(LeakSide);

shape! {
    #[derive(Default)]
    RunFactorsShape of RunFactors {
        #[serde(default, skip_serializing_if = "String::is_empty")]
        operator: String,
        #[serde(default, skip_serializing_if = "String::is_empty")]
        rig: String,
        #[serde(default, skip_serializing_if = "String::is_empty")]
        lot: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        side: Option<Word>,
        #[serde(default, skip_serializing_if = "String::is_empty")]
        defect: String,
        #[serde(default, skip_serializing_if = "String::is_empty")]
        standard: String,
    }
}

impl RunFactorsShape {
    pub(crate) fn is_empty(&self) -> bool {
        let Self { operator, rig, lot, side, defect, standard } = self;
        [operator, rig, lot, defect, standard].iter().all(|text| text.is_empty()) && side.is_none()
    }
}

/// What a unit is.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(crate) enum RunClassShape {
    Blank,
    NegativeControl,
    PositiveControl { nominal_um: Real, verified_um: Option<Real> },
    FlowChallenge { flow_pa_m3_per_s: Real },
    AgedControl { nominal_um: Option<Real>, age_days: u32 },
}

impl Shape<RunClass> for RunClassShape {
    fn of(from: &RunClass) -> Self {
        match from {
            RunClass::Blank => Self::Blank,
            RunClass::NegativeControl => Self::NegativeControl,
            RunClass::PositiveControl { nominal_um, verified_um } => Self::PositiveControl {
                nominal_um: Real(*nominal_um),
                verified_um: Shape::of(verified_um),
            },
            RunClass::FlowChallenge { flow_pa_m3_per_s } => {
                Self::FlowChallenge { flow_pa_m3_per_s: Real(*flow_pa_m3_per_s) }
            }
            RunClass::AgedControl { nominal_um, age_days } => {
                Self::AgedControl { nominal_um: Shape::of(nominal_um), age_days: *age_days }
            }
        }
    }
    fn back(self) -> Result<RunClass, Unreadable> {
        Ok(match self {
            Self::Blank => RunClass::Blank,
            Self::NegativeControl => RunClass::NegativeControl,
            Self::PositiveControl { nominal_um, verified_um } => RunClass::PositiveControl {
                nominal_um: nominal_um.0,
                verified_um: verified_um.back()?,
            },
            Self::FlowChallenge { flow_pa_m3_per_s } => {
                RunClass::FlowChallenge { flow_pa_m3_per_s: flow_pa_m3_per_s.0 }
            }
            Self::AgedControl { nominal_um, age_days } => {
                RunClass::AgedControl { nominal_um: nominal_um.back()?, age_days }
            }
        })
    }
}

/// How a run ended.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(crate) enum EndedShape {
    Completed,
    ReachLimit { tier: u16 },
    RiseLimit { tier: u16 },
    GaugeFull { at_least_pa: Real },
    Aborted { cause: String },
}

impl Shape<Ended> for EndedShape {
    fn of(from: &Ended) -> Self {
        match from {
            Ended::Completed => Self::Completed,
            Ended::ReachLimit { tier } => Self::ReachLimit { tier: *tier },
            Ended::RiseLimit { tier } => Self::RiseLimit { tier: *tier },
            Ended::GaugeFull { at_least_pa } => Self::GaugeFull { at_least_pa: Real(*at_least_pa) },
            Ended::Aborted { cause } => Self::Aborted { cause: cause.clone() },
        }
    }
    fn back(self) -> Result<Ended, Unreadable> {
        Ok(match self {
            Self::Completed => Ended::Completed,
            Self::ReachLimit { tier } => Ended::ReachLimit { tier },
            Self::RiseLimit { tier } => Ended::RiseLimit { tier },
            Self::GaugeFull { at_least_pa } => Ended::GaugeFull { at_least_pa: at_least_pa.0 },
            Self::Aborted { cause } => Ended::Aborted { cause },
        })
    }
}

/// Where a run came from.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(crate) enum OriginShape {
    Simulated { seed: Decimal },
    Imported { file: String, sha256: String },
}

impl Shape<RunOrigin> for OriginShape {
    fn of(from: &RunOrigin) -> Self {
        match from {
            RunOrigin::Simulated { seed } => Self::Simulated { seed: Shape::of(seed) },
            RunOrigin::Imported { file, sha256 } => {
                Self::Imported { file: file.clone(), sha256: sha256.clone() }
            }
        }
    }
    fn back(self) -> Result<RunOrigin, Unreadable> {
        Ok(match self {
            Self::Simulated { seed } => RunOrigin::Simulated { seed: seed.back()? },
            Self::Imported { file, sha256 } => RunOrigin::Imported { file, sha256 },
        })
    }
}

shape! {
    FeaturesShape of TraceFeatures {
        tier: u16,
        reach_pa: Option<Real>,
        level_start_pa: Real,
        level_end_pa: Real,
        rise_pa: Real,
        slope_pa_per_s: Option<Real>,
        slope_standard_error: Option<Real>,
        noise_pa: Option<Real>,
        n_samples: u64,
    }
}

shape! {
    StageSpanShape of StageSpan { stage: Word, tier: u16, start_s: Real, end_s: Real }
}

impl Shape<Stage> for Word {
    fn of(from: &Stage) -> Self {
        Self(from.word().to_owned())
    }
    fn back(self) -> Result<Stage, Unreadable> {
        [Stage::Evacuate, Stage::Settle, Stage::Measure, Stage::Vent]
            .into_iter()
            .find(|stage| stage.word() == self.0)
            .ok_or_else(|| Unreadable(format!("`{}` is no stage", self.0)))
    }
}

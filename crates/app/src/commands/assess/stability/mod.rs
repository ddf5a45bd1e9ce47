//! `isobar assess stability`: how long averaging helps, and the slope of a
//! record whose noise depends on its neighbours.

mod answer;
mod figure;

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use intake::written_quantity::read_duration;
use statistics::autocorrelation::{
    SlopeEstimate, noise_from_differences, slope_with_autocorrelation,
};
use statistics::uncertainty::allan::{Kind, best_span, deviation};
use statistics::{Assumption, CannotSay};
use study::Note;

use super::figure_option::FigureOption;
use super::{checks, tables};
use crate::answer::{Answer, from_statistics};
use crate::fault::Fault;

/// Stability of a record in time.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar assess stability examples/quiet_record.csv --column pressure_pa --interval 0.1s
  isobar assess stability examples/quiet_record.csv --column pressure_pa --time time_s \\
      --figure stability.svg")]
pub struct Stability {
    /// Table with a row for each reading, evenly spaced in time.
    table: PathBuf,
    /// Column with the readings.
    #[arg(long)]
    column: String,
    /// Time from one reading to the next.
    #[arg(long, conflicts_with = "time", required_unless_present = "time")]
    interval: Option<String>,
    /// Column with the time, in seconds.
    #[arg(long)]
    time: Option<String>,
    /// Kind of deviation.
    #[arg(long, value_enum, default_value = "overlapping")]
    kind: KindName,
    #[command(flatten)]
    pub(super) rows: tables::KeptRows,
    /// Confidence of the interval of the slope.
    #[arg(long, default_value_t = 0.95)]
    confidence: f64,
    #[command(flatten)]
    figure: FigureOption,
}

/// Kinds of deviations (NIST SP 1065).
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum KindName {
    /// Averages side by side.
    Plain,
    /// Overlapping averages: the same meaning, less scatter.
    Overlapping,
    /// Modified: tells white from flicker phase noise.
    Modified,
    /// Third differences, insensitive to linear drift.
    Hadamard,
    /// Record continued by reflection, for long averages.
    Total,
}

impl KindName {
    fn kind(self) -> Kind {
        match self {
            Self::Plain => Kind::Plain,
            Self::Overlapping => Kind::Overlapping,
            Self::Modified => Kind::Modified,
            Self::Hadamard => Kind::Hadamard,
            Self::Total => Kind::Total,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Overlapping => "overlapping",
            Self::Modified => "modified",
            Self::Hadamard => "Hadamard",
            Self::Total => "total",
        }
    }
}

/// Everything that was found.
struct Found {
    times: Vec<f64>,
    readings: Vec<f64>,
    interval_s: f64,
    /// Readings averaged and their deviation.
    deviations: Vec<(usize, f64)>,
    best: Option<(usize, f64)>,
    noise: f64,
    slope: SlopeEstimate,
    slope_interval: (f64, f64),
}

/// Runs the command.
pub fn run(command: &Stability) -> Result<Answer, Fault> {
    let table = command.rows.of(&command.table)?;
    let readings = tables::numbers(&command.table, &table, &command.column)?;
    let times: Vec<f64> = match (&command.time, &command.interval) {
        (Some(column), _) => tables::numbers(&command.table, &table, column)?,
        (None, Some(written)) => {
            let step = read_duration(written)?.s();
            if step <= 0.0 {
                return Err(Fault::users("the interval is not above zero", "write it like 0.1s"));
            }
            (0..readings.len()).map(|i| i as f64 * step).collect()
        }
        (None, None) => return Err(Fault::users("no times", "add --interval or --time")),
    };
    if !(command.confidence > 0.0 && command.confidence < 1.0) {
        return Err(Fault::users("the confidence is not between 0 and 1", "write it like 0.95"));
    }
    let slope = slope_with_autocorrelation(&times, &readings)?;
    if digits::sums::squared_deviations(&readings).unwrap_or(0.0) == 0.0 {
        return Err(CannotSay::NoSpread { what: "the readings".into() }.into());
    }
    let mut notes = from_statistics(slope.notes.clone());
    let interval_s = even_interval(&times)?;
    let most = readings.len() / if command.kind == KindName::Hadamard { 3 } else { 2 };
    let mut deviations = Vec::new();
    let mut span = 1;
    while span <= most {
        // The modified kind needs three spans; it ends earlier.
        match deviation(&readings, span, command.kind.kind()) {
            Ok(value) => deviations.push((span, value)),
            Err(CannotSay::TooFew { .. }) if !deviations.is_empty() => break,
            Err(refusal) => return Err(refusal.into()),
        }
        span *= 2;
    }
    let best = best_span(&readings).ok();
    let longest = deviations.last().map_or(1, |row| row.0);
    if let Some((best, value)) = best {
        notes.push(if 2 * best > readings.len() / 4 {
            Note::remark(
                "record-too-short-for-drift",
                format!("averaging helps up to {best} readings, a quarter of the record"),
                "record longer to see where drift begins",
            )
        } else {
            Note::remark(
                "longest-useful-average",
                format!(
                    "beyond {} s ({best} readings, deviation {value:.3e}) averaging adds drift \
                     instead of removing noise",
                    interval_s * best as f64
                ),
                "average up to there, and take blanks at least as often",
            )
        });
    }
    if let (Some((_, least)), Some((_, last))) = (best, deviations.last())
        && *last > 1.3 * least
    {
        notes.push(Note::caution(
            "slow-drift-not-in-the-error",
            "the deviation rises again at long averages: the record wanders slowly, and the error \
             of the slope, which allows for noise between neighbours only, does not hold that",
            "repeat the record on other days and take the scatter of their slopes",
        ));
    }
    if longest * 4 > readings.len() {
        notes.push(Note::remark(
            "long-spans-uncertain",
            "the deviations at the longest spans rest on two to four averages",
            "do not read a trend from the last two of them",
        ));
    }
    let slope_interval = slope.interval(command.confidence)?;
    let noise = noise_from_differences(&readings)?;
    let assumptions = assumptions(&times, &readings, &slope);
    let found =
        Found { times, readings, interval_s, deviations, best, noise, slope, slope_interval };
    answer::answer(command, &found, assumptions, notes)
}

/// The common distance of times; spans are counted in readings.
fn even_interval(times: &[f64]) -> Result<f64, Fault> {
    let mean = (times[times.len() - 1] - times[0]) / (times.len() - 1) as f64;
    let worst = times.windows(2).map(|w| (w[1] - w[0] - mean).abs()).fold(0.0, f64::max);
    if worst > 0.05 * mean {
        return Err(Fault::users(
            "the readings are not evenly spaced in time: spans cannot be counted in readings",
            "export the record at a constant rate, or keep an even stretch (--where)",
        ));
    }
    Ok(mean)
}

fn assumptions(times: &[f64], readings: &[f64], slope: &SlopeEstimate) -> Vec<Assumption> {
    let residuals: Vec<f64> =
        times.iter().zip(readings).map(|(t, y)| y - slope.intercept - slope.slope * t).collect();
    vec![
        Assumption {
            name: "noise independent from reading to reading",
            test: "lag-1 autocorrelation of residuals",
            p_value: None,
            held: Some(slope.lag_one.abs() <= 0.2),
            finding: format!(
                "Lag-1 {:.2}: the record counts as {:.0} independent values; the larger error is \
                 used.",
                slope.lag_one, slope.effective_n
            ),
        },
        checks::normal("normal residuals", &residuals),
    ]
}

//! Effective volume: how much the chamber takes up for one pascal.

use intake::written_quantity::{read_duration, read_flow, read_temperature};
use statistics::regression::StraightLine;
use statistics::regression::quantitation::reciprocal_slope;
use study::Note;

use super::Flow;
use crate::fault::Fault;

/// Effective volume with its interval, cubic metres.
#[derive(Clone, Copy)]
pub struct EffectiveVolume {
    /// Estimate.
    pub m3: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// `V = throughput of one unit of flow x time / slope`, where the unit of the
/// flow and the time are known.
pub fn effective_volume(
    command: &Flow,
    line: &StraightLine,
    notes: &mut Vec<Note>,
) -> Result<Option<EffectiveVolume>, Fault> {
    let (Some(unit), Some(time)) = (&command.flow_unit, &command.measure_time) else {
        return Ok(None);
    };
    let temperature = read_temperature(&command.temperature)?;
    let molar = read_flow(&format!("1 {unit}"))?.molar_flow(None)?;
    let elapsed = read_duration(time)?;
    let amount = molar.throughput_at(temperature).pa_m3_per_s() * elapsed.s();
    match reciprocal_slope(line, command.confidence) {
        Ok(reciprocal) => {
            notes.push(Note::remark(
                "effective-volume",
                "the effective volume holds what the pressure rise does not show: gas taken up by \
                 a headspace behind the leak or lost to walls makes it larger than the free volume",
                "compare it with the free volume by expansion (isobar assess volume)",
            ));
            Ok(Some(EffectiveVolume {
                m3: amount * reciprocal.value,
                lower: amount * reciprocal.lower,
                upper: amount * reciprocal.upper,
            }))
        }
        Err(refusal) => {
            notes.push(Note::refusal(
                "no-effective-volume",
                refusal.to_string(),
                refusal.next_step(),
            ));
            Ok(None)
        }
    }
}

//! What is decided from what was seen, how sure it is, and the sentence that
//! says so.

use physics::cycle::Tier;
use physics::trace::{Stage, StageSpan};

use super::{FoundStages, NoStages, StageSource, Sureness};
use crate::wording::rounded;

/// What was seen in a record.
pub(super) struct Seen {
    pub(super) onset_s: f64,
    pub(super) isolated_s: f64,
    /// Where the isolation may as well lie.
    pub(super) isolated_within_s: (f64, f64),
    pub(super) rises: bool,
    /// The closed chamber falls as well as rises.
    pub(super) falls_within: bool,
    /// A single sample of the closed chamber that stands far above its neighbours.
    pub(super) peak_s: Option<f64>,
    /// Last sample of the closed chamber.
    pub(super) end_s: f64,
    /// First and last sample of the vent.
    pub(super) vent_s: Option<(f64, f64)>,
    /// The closed chamber ends where it is opened or pumped on, not with the record.
    pub(super) ends_sharply: bool,
    /// Mean interval of the samples.
    pub(super) interval_s: f64,
    pub(super) start_pa: f64,
    pub(super) lowest_pa: f64,
    /// At the end of the closed chamber.
    pub(super) end_pa: f64,
}

/// The place of the isolation may be open by this share of the closed time.
const OPEN_SHARE: f64 = 0.08;
/// And by so many samples.
const OPEN_SAMPLES: f64 = 4.0;
/// The last sample stands up to an interval before the end, and the first after
/// the start.
const LAST_INTERVAL: f64 = 1.5;
/// A chamber that fills by more than this share of the way back may have been
/// vented.
const FILLS: f64 = 0.3;
/// No room where people work stands below this pressure: the standard atmosphere
/// has 54 kPa at 5000 m (ICAO Doc 7488, from memory).
const LOWEST_ROOM_PA: f64 = 5.0e4;
/// A closed time may differ from that of the method by this share.
const AS_TIMED: f64 = 0.05;

/// Stages, with a reason for each doubt.
pub(super) fn decide(seen: &Seen, tier: Option<&Tier>) -> Result<FoundStages, NoStages> {
    let mut doubts = Vec::new();
    let closed_s = seen.end_s - seen.isolated_s;
    let open_s = seen.isolated_within_s.1 - seen.isolated_within_s.0;
    let is_open = open_s > (OPEN_SHARE * closed_s).max(OPEN_SAMPLES * seen.interval_s);
    let timed = tier.map(|tier| Timed::of(seen, tier));
    let counted_back = timed.as_ref().is_some_and(|timed| timed.counts_back(seen, is_open));
    let is_agreed = counted_back && timed.as_ref().is_some_and(|timed| timed.agrees(seen));
    if let Some(timed) = timed.as_ref().filter(|_| counted_back && seen.rises && !seen.ends_sharply)
        && timed.back_s < seen.isolated_within_s.0 - seen.slack_s()
    {
        doubts.push(format!(
            "the record ends {} s too early for the times of the method after the bend: the window is \
             counted back from its end",
            rounded(seen.isolated_s - timed.back_s)
        ));
    }
    // Where coming down, the times of the method and the end tell one story, a weak
    // bend is no doubt.
    if !is_agreed && !seen.rises {
        doubts.push("nothing rises beyond chance, so that the isolation cannot be seen".to_owned());
    } else if !is_agreed && is_open {
        doubts.push(format!(
            "the bend into the rise is weak: the isolation may lie anywhere from {} to {} s",
            rounded(seen.isolated_within_s.0),
            rounded(seen.isolated_within_s.1)
        ));
    }
    if seen.end_pa - seen.lowest_pa > FILLS * (seen.start_pa - seen.lowest_pa) {
        doubts.push(
            "the chamber fills by a large part of the way back: a gross leak, or a vent right after \
             pumping"
                .to_owned(),
        );
    }
    if seen.rises && seen.falls_within {
        doubts.push("the pressure falls within what is taken for the closed chamber".to_owned());
    }
    if let Some(peak_s) = seen.peak_s {
        doubts.push(format!(
            "a single sample at {} s stands far above its neighbours: an odd value, or a vent between \
             two cycles",
            rounded(peak_s)
        ));
    }
    let (isolated_s, from_s, to_s) = match &timed {
        None => (seen.isolated_s, seen.isolated_s, seen.end_s),
        Some(timed) => timed.window(seen, counted_back, &mut doubts)?,
    };
    let mut spans = vec![span(Stage::Evacuate, seen.onset_s, isolated_s)];
    if from_s > isolated_s {
        spans.push(span(Stage::Settle, isolated_s, from_s));
    }
    spans.push(span(Stage::Measure, from_s, to_s));
    spans.extend(seen.vent_s.map(|(from_s, to_s)| span(Stage::Vent, from_s, to_s)));
    let source = if tier.is_some() { StageSource::Method } else { StageSource::Trace };
    Ok(FoundStages {
        spans,
        source,
        sureness: if doubts.is_empty() { Sureness::Likely } else { Sureness::Unsure },
        how: words(seen, isolated_s, counted_back, source),
        pumping_begins: seen.start_pa >= LOWEST_ROOM_PA,
        doubts,
    })
}

impl Seen {
    /// The last sample stands up to so long before the end.
    fn slack_s(&self) -> f64 {
        LAST_INTERVAL * self.interval_s
    }
}

/// The times of a method, held against the end of the closed chamber.
struct Timed {
    settle_s: f64,
    measure_s: f64,
    /// Isolation as counted back from the end.
    back_s: f64,
    /// How far two places of the isolation may lie apart and yet be one.
    tolerance_s: f64,
}

impl Timed {
    fn of(seen: &Seen, tier: &Tier) -> Self {
        let (settle_s, measure_s) = (tier.settle.s(), tier.measure.s());
        let needed_s = settle_s + measure_s;
        Self {
            settle_s,
            measure_s,
            back_s: seen.end_s - needed_s,
            tolerance_s: (AS_TIMED * needed_s).max(OPEN_SAMPLES * seen.interval_s),
        }
    }

    fn needed_s(&self) -> f64 {
        self.settle_s + self.measure_s
    }

    /// Whether the isolation is counted back rather than taken at the bend. A bend
    /// that may lie anywhere tells less than the times of the method; and one that is
    /// placed a little late must not push the window out of the record.
    fn counts_back(&self, seen: &Seen, is_open: bool) -> bool {
        let (from_s, to_s) = seen.isolated_within_s;
        let late_s = seen.isolated_s - self.back_s;
        let is_held = (from_s - seen.slack_s()..=to_s).contains(&self.back_s);
        // What bends slowly is placed a little late; the times of a rig are not.
        let a_little = late_s <= self.tolerance_s;
        !seen.rises || (is_open && is_held) || (late_s > seen.slack_s() && (is_held || a_little))
    }

    /// Whether the isolation counted back falls where the chamber came down, or,
    /// counted from a sharp end, where the bend may lie.
    fn agrees(&self, seen: &Seen) -> bool {
        let (from_s, to_s) = seen.isolated_within_s;
        (self.back_s - from_s).abs() <= self.tolerance_s
            || (seen.rises && seen.ends_sharply && (from_s..=to_s).contains(&self.back_s))
    }

    /// Isolation, start and end of measuring: from the bend where there is one; where
    /// it cannot be placed they are counted back from the vent, or from the end of the
    /// record.
    fn window(
        &self,
        seen: &Seen,
        counted_back: bool,
        doubts: &mut Vec<String>,
    ) -> Result<(f64, f64, f64), NoStages> {
        let needed_s = self.needed_s();
        let closed_from_s = if seen.rises { seen.isolated_s } else { seen.isolated_within_s.0 };
        let there_s = seen.end_s - closed_from_s;
        // Without a rise the chamber may have been closed before it had quite come down.
        let slack_s = if seen.rises { seen.slack_s() } else { self.tolerance_s };
        // Where the bend may lie holds the start of the times counted back.
        let is_there = (counted_back && seen.rises) || there_s >= needed_s - slack_s;
        if !is_there {
            return Err(NoStages::TooShortForMethod { there_s, needed_s });
        }
        let isolated_s = if counted_back { self.back_s } else { seen.isolated_s };
        let from_s = isolated_s + self.settle_s;
        let open_s = (AS_TIMED * needed_s).max(3.0 * seen.interval_s);
        if !counted_back && seen.vent_s.is_some() && there_s - needed_s > open_s {
            doubts.push(format!(
                "from the bend to the vent it takes {} s, where the method settles and measures for {} s",
                rounded(there_s),
                rounded(needed_s)
            ));
        }
        Ok((isolated_s, from_s, (from_s + self.measure_s).min(seen.end_s)))
    }
}

const fn span(stage: Stage, start_s: f64, end_s: f64) -> StageSpan {
    StageSpan { stage, tier: 1, start_s, end_s }
}

/// What was decided, in a sentence.
fn words(seen: &Seen, isolated_s: f64, counted_back: bool, source: StageSource) -> String {
    let isolated = rounded(isolated_s);
    let bend = match (seen.rises, counted_back) {
        (true, false) => {
            format!("isolated at {isolated} s, where the pressure bends into its rise")
        }
        (_, true) => format!(
            "the isolation is taken at {isolated} s, counted back from the {} by the times of the method",
            if seen.vent_s.is_some() { "vent" } else { "end of the record" }
        ),
        (false, false) => {
            format!("the isolation is taken at {isolated} s, where the pressure had come down")
        }
    };
    let rest = match source {
        StageSource::Method => "settle and measure as the method times them",
        _ => "everything after it counts as measured, because nothing tells settling apart",
    };
    let begins = if seen.start_pa < LOWEST_ROOM_PA {
        " (below any room: pumping had begun, or the gauge stood at its end, so that the time to reach \
         is not known)"
    } else {
        ""
    };
    format!(
        "pumped from {}{begins} to {} Pa; {bend}; {rest}",
        rounded(seen.start_pa),
        rounded(seen.lowest_pa)
    )
}

//! The ladder: every leak size of a case on one axis at one printed state.
//! Both scales and every mark are decided here; paper, page and terminal only
//! draw them.

use physics::quantities::{AbsolutePressure, Length, StandardFlow, Temperature};

use crate::case::Case;
use crate::forecast::{Answer, Forecast, LeakSize, mall_at_reference};
use crate::mall::{RouteOutcome, named_sizes, sealed_under_vacuum};
use crate::profile::LeakStatement;
use crate::wording::{percent, rounded};

/// The ladder of a case.
#[derive(Debug, Clone, PartialEq)]
pub struct Ladder {
    /// Whether what is proven reaches what is needed, in one sentence.
    pub headline: String,
    /// The one state at which the axis holds.
    pub reference_state: String,
    /// Marks, smallest first.
    pub marks: Vec<LadderMark>,
    /// Marks without a defined conversion.
    pub off_axis: Vec<OffAxisMark>,
    /// Lower end of the axis, Pa·m³/s.
    pub bottom_pa_m3_per_s: f64,
    /// Upper end of the axis, Pa·m³/s.
    pub top_pa_m3_per_s: f64,
    /// Flow-equivalent diameters on the right scale: (µm, Pa·m³/s).
    pub um_ticks: Vec<(f64, f64)>,
    /// Standard flows on the right scale: (sccm, Pa·m³/s).
    pub sccm_ticks: Vec<(f64, f64)>,
    /// The state that sccm means there.
    pub sccm_reference: String,
}

/// What a mark stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MarkKind {
    /// The leak that matters.
    Needed,
    /// Forecast window.
    ForecastWindow,
    /// Detection limit from a flow challenge.
    FlowDetectionLimit,
    /// Size proven to be found.
    Proven,
    /// Positive controls tested.
    PositiveControl,
    /// A limit that the headspace sets.
    HeadspaceLimit,
    /// The claim.
    Claim,
    /// A figure from the microbial literature.
    Microbial,
    /// What the tightest storage budget allows.
    Storage,
}

impl MarkKind {
    /// The word beside the mark.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Needed => "needed",
            Self::ForecastWindow => "forecast",
            Self::FlowDetectionLimit => "flow detection limit",
            Self::Proven => "proven",
            Self::PositiveControl => "positive controls",
            Self::HeadspaceLimit => "headspace",
            Self::Claim => "claim",
            Self::Microbial => "microbial",
            Self::Storage => "storage",
        }
    }
}

/// Side of the container, or gas, to which a mark belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Track {
    /// Leaks that hold gas.
    GasSide,
    /// Leaks wetted by the product.
    LiquidSide,
    /// Helium figures.
    Helium,
}

impl Track {
    /// The word above the track.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::GasSide => "gas side",
            Self::LiquidSide => "liquid side",
            Self::Helium => "helium",
        }
    }
}

/// A mark on the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct LadderMark {
    /// What it stands for.
    pub kind: MarkKind,
    /// Where it stands.
    pub track: Track,
    /// Label with its figure.
    pub label: String,
    /// Evidence in a few words.
    pub evidence: String,
    /// Lower end of its interval, Pa·m³/s at the reference state.
    pub low: f64,
    /// Its value; `None` for a plain stretch.
    pub value: Option<f64>,
    /// Upper end of its interval.
    pub high: f64,
    /// Step of the case that holds the evidence, as an address part.
    pub link: String,
}

/// A mark that has no defined place on the axis.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OffAxisMark {
    /// Label with its figure.
    pub label: String,
    /// Why it has no place.
    pub reason: String,
}

/// Throughput at the reference state of a flow-equivalent diameter.
fn throughput(um: f64) -> Option<f64> {
    LeakSize::from_flow_equivalent(Length::from_um(um))
        .ok()
        .map(|size| size.reference_throughput_pa_m3_per_s())
}

impl Case {
    /// The ladder of what is needed, forecast and proven so far.
    #[must_use]
    pub fn ladder(&self) -> Ladder {
        build(self)
    }
}

/// Builds the ladder of a case from what is known of it so far.
#[must_use]
pub fn build(case: &Case) -> Ladder {
    let mut marks = Vec::new();
    let mut off_axis = Vec::new();
    needed_mark(case, &mut marks, &mut off_axis);
    storage_mark(case, &mut marks, &mut off_axis);
    forecast_marks(case, &mut marks);
    control_marks(case, &mut marks);
    flow_mark(case, &mut marks);
    proven_marks(case, &mut marks);
    beside_the_axis(case, &mut off_axis);
    marks.sort_by(|a, b| a.low.total_cmp(&b.low).then(a.kind.cmp(&b.kind)));
    let (bottom, top) = axis_ends(&marks);
    let um_ticks = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0]
        .into_iter()
        .filter_map(|um| throughput(um).map(|flow| (um, flow)))
        .filter(|(_, flow)| (bottom..=top).contains(flow))
        .collect();
    let reference = (Temperature::from_celsius(0.0), AbsolutePressure::from_atm(1.0));
    let sccm_ticks = [1e-5, 1e-4, 1e-3, 1e-2, 0.1, 1.0, 10.0, 100.0, 1000.0]
        .into_iter()
        .map(|sccm| {
            let flow = StandardFlow::from_sccm(sccm, reference.0, reference.1).molar_flow();
            (sccm, flow.throughput_at(Temperature::from_celsius(20.0)).pa_m3_per_s())
        })
        .filter(|(_, flow)| (bottom..=top).contains(flow))
        .collect();
    Ladder {
        headline: headline(case),
        reference_state: "air at 20 °C, 1 atm to vacuum; µm are diameters of an ideal nozzle with \
                          the same flow"
            .to_owned(),
        marks,
        off_axis,
        bottom_pa_m3_per_s: bottom,
        top_pa_m3_per_s: top,
        um_ticks,
        sccm_ticks,
        sccm_reference: "0 °C, 101 325 Pa".to_owned(),
    }
}

fn needed_mark(case: &Case, marks: &mut Vec<LadderMark>, off_axis: &mut Vec<OffAxisMark>) {
    let Some(mall) = &case.input.profile.mall else {
        off_axis.push(OffAxisMark {
            label: "leak that matters (MALL)".to_owned(),
            reason: "it has not been stated in the profile".to_owned(),
        });
        return;
    };
    match mall_at_reference(mall) {
        Ok(Some(size)) => {
            let flow = size.reference_throughput_pa_m3_per_s();
            marks.push(LadderMark {
                kind: MarkKind::Needed,
                track: Track::GasSide,
                label: format!("needed: MALL {} µm", rounded(size.flow_equivalent_diameter.um())),
                evidence: mall.provenance.from.clone(),
                low: flow,
                value: Some(flow),
                high: flow,
                link: "profile".to_owned(),
            });
        }
        Ok(None) => {
            if let LeakStatement::HeliumFlow(flow) = mall.stated {
                marks.push(LadderMark {
                    kind: MarkKind::Needed,
                    track: Track::Helium,
                    label: format!("MALL {} Pa·m³/s helium", rounded(flow.pa_m3_per_s())),
                    evidence: mall.provenance.from.clone(),
                    low: flow.pa_m3_per_s(),
                    value: Some(flow.pa_m3_per_s()),
                    high: flow.pa_m3_per_s(),
                    link: "profile".to_owned(),
                });
            }
        }
        Err(error) => off_axis.push(OffAxisMark {
            label: "leak that matters (MALL)".to_owned(),
            reason: error.to_string(),
        }),
    }
}

/// What the storage budgets allow: the tightest as a mark, the others in its words.
fn storage_mark(case: &Case, marks: &mut Vec<LadderMark>, off_axis: &mut Vec<OffAxisMark>) {
    let Some(storage) = &case.input.storage else { return };
    let found = match crate::mall::budget_routes(&case.input, storage) {
        Ok(found) => found,
        Err(error) => {
            return off_axis.push(OffAxisMark {
                label: "storage budgets".to_owned(),
                reason: error.to_string(),
            });
        }
    };
    let mut sized: Vec<(&'static str, f64, f64)> = Vec::new();
    for route in &found {
        match &route.outcome {
            RouteOutcome::Leak(leak) => sized.push((
                route.kind.word(),
                leak.size.flow_equivalent_diameter.um(),
                leak.size.reference_throughput_pa_m3_per_s(),
            )),
            RouteOutcome::AnyLeak => {}
            RouteOutcome::NoLeak(why) => off_axis.push(OffAxisMark {
                label: format!("storage budget: {}", route.kind.word()),
                reason: format!("no leak keeps it: {why}"),
            }),
        }
    }
    sized.sort_by(|a, b| a.2.total_cmp(&b.2));
    let Some(&(word, um, flow)) = sized.first() else { return };
    let others: Vec<String> =
        sized[1..].iter().map(|(word, um, _)| format!("{word} {} µm", rounded(*um))).collect();
    marks.push(LadderMark {
        kind: MarkKind::Storage,
        track: Track::GasSide,
        label: format!("storage allows {} µm ({word})", rounded(um)),
        evidence: format!(
            "one channel through the wall over {} d{}{}",
            rounded(storage.shelf_life.s() / 86_400.0),
            if others.is_empty() { "" } else { "; " },
            others.join(", ")
        ),
        low: flow,
        value: Some(flow),
        high: flow,
        link: "profile".to_owned(),
    });
}

/// What has to be said beside the axis: a vacuum sealed in, and microbes, whose
/// published figures are bores and no flows.
fn beside_the_axis(case: &Case, off_axis: &mut Vec<OffAxisMark>) {
    off_axis.extend(sealed_under_vacuum(&case.input).map(|vacuum| OffAxisMark {
        label: "sealed under vacuum".to_owned(),
        reason: vacuum.short(),
    }));
    if case.input.profile.mall.is_some() {
        off_axis.push(OffAxisMark {
            label: "microbes".to_owned(),
            reason: format!("published {}: bores, no flows, and they disagree", named_sizes()),
        });
    }
}

fn forecast_marks(case: &Case, marks: &mut Vec<LadderMark>) {
    let Some(forecast) = &case.forecast else { return };
    if let (Some(smallest), Some(largest)) = (forecast.window.smallest, forecast.window.largest)
        && let (Some(low), Some(high)) = (throughput(smallest.um), throughput(largest.um))
    {
        marks.push(LadderMark {
            kind: MarkKind::ForecastWindow,
            track: Track::GasSide,
            label: format!(
                "forecast window {} to {}{} µm",
                rounded(smallest.um),
                if largest.beyond_range { "at least " } else { "" },
                rounded(largest.um)
            ),
            evidence: format!(
                "lower edge {} to {} µm (90 % interval, {} draws)",
                rounded(smallest.low_um),
                rounded(smallest.high_um),
                forecast.n_draws
            ),
            low,
            value: None,
            high,
            link: "forecast".to_owned(),
        });
    }
    if let Some((from, to)) = forecast.blind_gap_um
        && let (Some(low), Some(high)) = (throughput(from), throughput(to))
    {
        marks.push(LadderMark {
            kind: MarkKind::HeadspaceLimit,
            track: Track::GasSide,
            label: format!("missed: {} to {} µm", rounded(from), rounded(to)),
            evidence: "headspace empties before the measure stage".to_owned(),
            low,
            value: None,
            high,
            link: "forecast".to_owned(),
        });
    }
}

fn control_marks(case: &Case, marks: &mut Vec<LadderMark>) {
    let sizes: Vec<f64> =
        case.runs.iter().filter_map(crate::runs::Run::detection_size_um).collect();
    let low = sizes.iter().copied().fold(f64::INFINITY, f64::min);
    let high = sizes.iter().copied().fold(0.0, f64::max);
    if let (Some(from), Some(to)) = (throughput(low), throughput(high)) {
        marks.push(LadderMark {
            kind: MarkKind::PositiveControl,
            track: Track::GasSide,
            label: format!("positive controls {} to {} µm", rounded(low), rounded(high)),
            evidence: format!("{} units tested", sizes.len()),
            low: from,
            value: None,
            high: to,
            link: "runs".to_owned(),
        });
    }
}

/// The flow that a single reading tells from none.
fn flow_mark(case: &Case, marks: &mut Vec<LadderMark>) {
    let calibration = case.results.as_ref().and_then(|results| results.flow_calibration.as_ref());
    let Some(calibration) = calibration else { return };
    let (Some(critical), Some(limit)) = (calibration.critical_flow, calibration.detection_limit)
    else {
        return;
    };
    marks.push(LadderMark {
        kind: MarkKind::FlowDetectionLimit,
        track: Track::GasSide,
        label: format!("flow detection limit {} Pa·m³/s", rounded(limit)),
        evidence: format!(
            "{} flow challenges; a constant flow into the chamber, not a leak",
            calibration.n
        ),
        low: critical,
        value: Some(limit),
        high: limit,
        link: "results".to_owned(),
    });
}

fn proven_marks(case: &Case, marks: &mut Vec<LadderMark>) {
    let Some(results) = case.results.as_ref() else { return };
    let Some(detection) = results.detection.as_ref() else { return };
    if let (Some(a90), Some(bound)) = (detection.a90_um, detection.a90_95_um)
        && let (Some(value), Some(high)) = (throughput(a90), throughput(bound))
    {
        marks.push(LadderMark {
            kind: MarkKind::Proven,
            track: Track::GasSide,
            label: format!("proven {} {} µm", results.bound_name(), rounded(bound)),
            evidence: format!("a90 {} µm, {} units", rounded(a90), detection.n_units),
            low: value,
            value: Some(high),
            high,
            link: "results".to_owned(),
        });
    }
    let claim = case.claim();
    if let Some(size) = claim.size_um
        && let Some(flow) = throughput(size)
    {
        let with = claim.probability.map_or_else(String::new, |probability| {
            format!("probability {}; ", rounded(probability))
        });
        marks.push(LadderMark {
            kind: MarkKind::Claim,
            track: Track::GasSide,
            label: format!("claim from {} µm", rounded(size)),
            evidence: format!("{with}compiled from results, up to the largest tested size"),
            low: flow,
            value: Some(flow),
            high: claim.tested_to_um.and_then(throughput).unwrap_or(flow),
            link: "report".to_owned(),
        });
    }
}

/// Whole decades that hold every mark with room, at least three of them.
fn axis_ends(marks: &[LadderMark]) -> (f64, f64) {
    let low = marks.iter().map(|mark| mark.low).fold(1e-5, f64::min);
    let high = marks.iter().map(|mark| mark.high).fold(1e-3, f64::max);
    let decade = |value: f64| digits::scalar::log10(value);
    let bottom = (decade(low) - 0.3).floor();
    let top = (decade(high) + 0.3).ceil();
    (digits::scalar::pow(10.0, bottom), digits::scalar::pow(10.0, top))
}

/// Whether what is proven, or else what is forecast, reaches what is needed.
#[must_use]
pub fn headline(case: &Case) -> String {
    let needed = case
        .input
        .profile
        .mall
        .as_ref()
        .and_then(|mall| mall_at_reference(mall).ok().flatten())
        .map(|size| size.flow_equivalent_diameter.um());
    let Some(needed) = needed else {
        return "What is needed has not been stated for air, so nothing can be compared with it."
            .to_owned();
    };
    let gap = case
        .forecast
        .as_ref()
        .and_then(|forecast| forecast.blind_gap_um)
        .map_or_else(String::new, |(from, _)| {
            format!(", but leaks from {} µm on are missed", rounded(from))
        });
    let claim = case.claim();
    if let (Some(size), Some(probability)) = (claim.size_um, claim.probability) {
        return proven(case, (size, probability), needed, &gap);
    }
    let words = rounded(needed);
    let Some(forecast) = &case.forecast else {
        return "No forecast yet; nothing is proven.".to_owned();
    };
    match (forecast.verdict.answer, forecast.window.smallest) {
        (Answer::No, _) => {
            format!(
                "Forecast not to reach what is needed ({words} µm): {}.",
                why_not(forecast, needed)
            )
        }
        (_, Some(edge)) if edge.high_um <= needed => {
            format!("Forecast to reach what is needed ({words} µm){gap}; nothing is proven yet.")
        }
        _ => format!("Not certain to reach what is needed ({words} µm); nothing is proven yet."),
    }
}

/// The headline of what is proven: the size, and the probability where it is less
/// than the profile asks.
fn proven(case: &Case, (size, probability): (f64, f64), needed: f64, gap: &str) -> String {
    let (size_um, needed_um) = (rounded(size), rounded(needed));
    if size > needed {
        return format!(
            "What is proven ({size_um} µm) does not reach what is needed ({needed_um} µm)."
        );
    }
    let asked = case.input.profile.purpose.required_detection;
    if asked.fraction() > probability {
        return format!(
            "What is proven ({size_um} µm) reaches the size that is needed ({needed_um} µm) with {} % \
             detection, not with the {} % asked for{gap}.",
            rounded(100.0 * probability),
            percent(asked)
        );
    }
    format!("What is proven ({size_um} µm) reaches what is needed ({needed_um} µm){gap}.")
}

/// Why a forecast says no, in a few words.
fn why_not(forecast: &Forecast, needed_um: f64) -> String {
    let in_gap = |(from, to): (f64, f64)| (from..=to).contains(&needed_um);
    match forecast.window.smallest {
        None => "no size of leak is found often enough".to_owned(),
        Some(edge) if edge.low_um > needed_um => {
            format!("leaks are found from {} µm on only", rounded(edge.um))
        }
        Some(_) if forecast.blind_gap_um.is_some_and(in_gap) => {
            "it lies in the blind gap of this cycle".to_owned()
        }
        Some(_) => "the container does not stand this cycle".to_owned(),
    }
}

//! The ladder as a drawing: places, labels and edges.

use study::ladder::{OffAxisMark, Track};

use super::*;

/// An invented ladder with a mark of every kind.
pub(crate) fn every_kind() -> Ladder {
    let mark = |kind, track, label: &str, low: f64, value, high| LadderMark {
        kind,
        track,
        label: label.to_string(),
        evidence: "results 7, 60 defects, 3 lots".to_string(),
        low,
        value,
        high,
        link: "results".to_string(),
    };
    let gas = Track::GasSide;
    Ladder {
        headline: "What is proven (3.1 µm) reaches what is needed (5 µm).".to_string(),
        reference_state: "air at 20 °C, 1 atm to vacuum".to_string(),
        marks: vec![
            mark(
                MarkKind::Needed,
                Track::Helium,
                "inherent tightness 6e-6 mbar·L/s helium",
                6e-7,
                Some(6e-7),
                6e-7,
            ),
            mark(
                MarkKind::Microbial,
                Track::LiquidSide,
                "microbial ingress from 0.2 µm",
                1e-6,
                Some(3e-6),
                8e-6,
            ),
            mark(MarkKind::ForecastWindow, gas, "forecast window 1.6 to 70 µm", 4e-5, None, 7.8e-2),
            mark(
                MarkKind::FlowDetectionLimit,
                gas,
                "flow detection limit 0.031 sccm",
                4e-5,
                Some(5.2e-5),
                7e-5,
            ),
            mark(
                MarkKind::PositiveControl,
                gas,
                "positive controls 2 to 20 µm",
                6.3e-5,
                None,
                6.3e-3,
            ),
            mark(MarkKind::Proven, gas, "proven a90/95 3.1 µm", 1.1e-4, Some(1.5e-4), 1.5e-4),
            mark(MarkKind::Claim, gas, "claim 3.1 µm", 1.5e-4, Some(1.5e-4), 1.5e-4),
            mark(MarkKind::Needed, gas, "needed: MALL 5 µm", 4e-4, Some(4e-4), 4e-4),
            mark(MarkKind::HeadspaceLimit, gas, "missed: 70 to 110 µm", 7.8e-2, None, 0.2),
        ],
        off_axis: vec![OffAxisMark {
            label: "dye ingress, 10 µm wire".to_string(),
            reason: "the size of a wire defines no flow".to_string(),
        }],
        bottom_pa_m3_per_s: 1e-8,
        top_pa_m3_per_s: 1.0,
        um_ticks: [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0]
            .map(|um| (um, 1.58e-5 * um * um))
            .to_vec(),
        sccm_ticks: [1e-5, 1e-4, 1e-3, 0.01, 0.1, 1.0, 10.0, 100.0]
            .map(|sccm| (sccm, 1.8125e-3 * sccm))
            .to_vec(),
        sccm_reference: "0 °C, 101 325 Pa".to_string(),
    }
}

#[test]
fn every_mark_and_its_words_are_drawn() {
    let ladder = every_kind();
    let svg = ladder_svg(&ladder, "ladder", 390.0);
    for word in [
        "needed: MALL 5 µm",
        "proven",
        "helium",
        "liquid side",
        "gas side",
        "Off the axis: dye ingress",
    ] {
        assert!(svg.contains(word), "{word}");
    }
    assert!(svg.contains("url(#ladder-hatch)"));
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
}

#[test]
fn user_text_in_the_ladder_is_literal() {
    let mut ladder = every_kind();
    ladder.marks[2].label = "<script>alert(1)</script> & \u{202e}evil".to_string();
    let svg = ladder_svg(&ladder, "ladder", 390.0);
    assert!(!svg.contains("<script"));
    assert!(svg.contains("&lt;script&gt;") && svg.contains("[U+202E]"));
}

#[test]
fn an_empty_ladder_is_still_a_ladder() {
    let mut ladder = every_kind();
    ladder.marks.clear();
    let svg = ladder_svg(&ladder, "ladder", 390.0);
    assert!(svg.contains("Pa·m³/s") && !svg.contains("NaN"));
}

#[test]
fn a_mark_off_the_drawn_range_stays_inside_the_drawing() {
    let mut ladder = every_kind();
    ladder.marks[2].low = 0.0;
    ladder.marks[2].high = 1e9;
    assert!(!ladder_svg(&ladder, "ladder", 390.0).contains("NaN"));
}

#[test]
fn the_description_names_every_mark() {
    let ladder = every_kind();
    let text = alt_text(&ladder);
    assert!(ladder.marks.iter().all(|mark| text.contains(&mark.label)));
    assert!(ladder.off_axis.iter().all(|mark| text.contains(&mark.reason)));
}

#[test]
fn every_mark_has_its_place_within_the_drawing() {
    let ladder = every_kind();
    let places = mark_places(&ladder, 400.0);
    assert_eq!(places.marks.len(), ladder.marks.len());
    let svg = ladder_svg(&ladder, "ladder", 400.0);
    let height = format!("{:.2}", places.height);
    let height = height.trim_end_matches('0').trim_end_matches('.');
    assert!(svg.contains(&format!("height=\"{height}\"")), "{height}");
    for (mark, [left, top, width, height]) in ladder.marks.iter().zip(&places.marks) {
        assert!(*left >= 0.0 && left + width <= WIDTH_PT, "{}", mark.label);
        assert!(*top >= 0.0 && top + height <= places.height && *height >= 17.0, "{}", mark.label);
    }
    // The larger leak stands higher.
    let at = |kind| ladder.marks.iter().position(|mark| mark.kind == kind).unwrap();
    let (missed, proven) = (at(MarkKind::HeadspaceLimit), at(MarkKind::Proven));
    assert!(places.marks[missed][1] < places.marks[proven][1]);
}

//! Labels of the units of a study: a code, and nothing that tells what the unit
//! is. A page to be printed; 24 labels on a sheet of A4.

use maud::{DOCTYPE, Markup, html};
use study::plan::Plan;

/// Sheets of 3 by 8 labels, 70 mm by 36 mm each, without margins between.
const STYLE: &str = "@page { size: A4; margin: 4.5mm 0; } \
    body { margin: 0; font-family: sans-serif; color: #000; background: #fff; } \
    main { display: grid; grid-template-columns: repeat(3, 70mm); } \
    .label { box-sizing: border-box; height: 36mm; padding: 4mm 6mm; break-inside: avoid; \
      border: 0.2mm dotted #767676; overflow: hidden; } \
    .code { font-family: monospace; font-size: 24pt; letter-spacing: 0.1em; margin: 0; } \
    .small { font-size: 8pt; margin: 0.8mm 0 0; } \
    h1 { font-size: 11pt; margin: 0 6mm 2mm; } \
    @media print { h1 { display: none; } }";

/// A label for every unit, by code, so that the order tells nothing either. Blanks
/// and flow challenges are no units.
pub fn page(case_id: &str, invented: bool, plan: &Plan, codes: &[String]) -> String {
    let mut labels: Vec<(&str, u32, String)> = plan
        .runs
        .iter()
        .zip(codes)
        .filter(|(run, _)| !run.class.is_of_rig())
        .map(|(run, code)| {
            let factors = &run.factors;
            let marks =
                [("rig", &factors.rig), ("operator", &factors.operator), ("lot", &factors.lot)];
            let marks = marks.iter().filter(|(_, mark)| !mark.is_empty());
            let marks: Vec<String> =
                marks.map(|(name, mark)| format!(" · {name} {mark}")).collect();
            (code.as_str(), run.day, marks.concat())
        })
        .collect();
    labels.sort_unstable();
    let made_up = if invented { "invented data" } else { "" };
    let page: Markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Labels of the study of " (case_id) }
                style { (maud::PreEscaped(STYLE)) }
            }
            body {
                h1 { (labels.len()) " labels of the study of " (case_id) ": print without scaling." }
                main {
                    @for (code, day, marks) in &labels {
                        div.label {
                            p.code { (code) }
                            p.small { (case_id) " · day " (day) (marks) }
                            p.small { "tested by, on: ______________ " (made_up) }
                        }
                    }
                }
            }
        }
    };
    page.into_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use study::plan::PlannedRun;
    use study::run_factors::{LeakSide, RunFactors};
    use study::runs::RunClass;

    #[test]
    fn a_label_tells_the_code_and_nothing_of_the_unit() {
        let run = |number, unit: &str, class| PlannedRun {
            number,
            unit: unit.to_owned(),
            class,
            day: 1,
            factors: RunFactors {
                operator: "O2".to_owned(),
                rig: "R1".to_owned(),
                lot: "L3".to_owned(),
                side: Some(LeakSide::Liquid),
                defect: "capillary".to_owned(),
                standard: "FS-1".to_owned(),
            },
        };
        let positive = RunClass::PositiveControl { nominal_um: 7.25, verified_um: None };
        let plan = Plan {
            seed: 1,
            runs: vec![
                run(1, "B1-1", RunClass::Blank),
                run(2, "P03-01", positive),
                run(3, "N001", RunClass::NegativeControl),
            ],
            criteria: Vec::new(),
            notes: Vec::new(),
        };
        let codes = ["ZZZZ", "QRST", "ABCD"].map(str::to_owned);
        let text = page("case <b>", true, &plan, &codes);
        for hidden in [
            "P03",
            "N001",
            "B1-1",
            "7.25",
            "control",
            "positive",
            "negative",
            "liquid",
            "capillary",
            "ZZZZ",
        ] {
            assert!(!text.contains(hidden), "{hidden}");
        }
        // By code, so that the positive control does not stand first.
        assert!(text.find("ABCD").expect("a label") < text.find("QRST").expect("a label"));
        assert!(text.contains("day 1 · rig R1 · operator O2 · lot L3"), "{text}");
        assert!(text.contains("case &lt;b&gt;") && !text.contains("<b>"));
    }
}

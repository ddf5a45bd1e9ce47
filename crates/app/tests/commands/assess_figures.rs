//! `--figure`: a drawing that stands by itself, or one clear refusal.

use super::{fault, isobar};

/// Commands that draw, one of each kind.
const DRAWN: &[&str] = &[
    "limit examples/negative_controls.csv --column rise_pa --lot day --leak-mean 60 --leak-sd 6 \
     --leak-n 20",
    "limit --mean 13 --sd 4.3 --n 135",
    "detection examples/positive_controls.csv --size verified_um --hit found --samples 100",
    "detection examples/positive_controls.csv --size verified_um --reading rise_pa --threshold 24 \
     --blank 16.2",
    "flow examples/flow_challenge.csv --flow flow_sccm_at_0c --reading rise_pa --invert 40",
    "precision examples/interlaboratory.csv --laboratory laboratory --level level --reading reading",
    "precision examples/gauge_study.csv --part part --operator operator --reading reading",
    "precision examples/gauge_study.csv --part part --operator operator --verdict verdict",
    "precision examples/days_and_runs.csv --nested day,run --reading reading",
    "size-exponent examples/three_site_study.csv --summary --abort-code 599",
    "rise --volume 1L --from 1kPa --to 2kPa --temperature 20C --seconds 10",
    "proportion --hits 45 --of 45",
    "proportion --reliability 0.95",
    "routine examples/routine_control.csv --column reading_pa --sample day --chart means \
     --first-phase 25 --rules all",
    "routine examples/routine_control.csv --column reading_pa --sample day --chart cusum \
     --first-phase 25",
    "routine examples/routine_control.csv --column reading_pa --chart ewma --target 30 --sd 1.4",
    "proportion --sample 52 --accept 3 --lot-size 10000",
];

#[test]
fn every_kind_draws_a_whole_sheet() {
    let scratch = tempfile::tempdir().unwrap();
    for (index, line) in DRAWN.iter().enumerate() {
        let file = scratch.path().join(format!("{index}.svg"));
        let mut words = vec!["assess"];
        words.extend(line.split_whitespace());
        words.extend(["--figure", file.to_str().unwrap()]);
        let output = isobar(&words);
        assert!(output.status.success(), "{line}: {}", String::from_utf8_lossy(&output.stderr));
        let drawing = std::fs::read_to_string(&file).unwrap();
        assert!(drawing.starts_with("<svg ") && drawing.ends_with("</svg>\n"), "{line}");
        assert!(drawing.contains("<title"), "{line}");
        assert!(!drawing.contains("NaN") && !drawing.contains("inf"), "{line}");
        assert_eq!(drawing.matches("<svg ").count(), drawing.matches("</svg>").count(), "{line}");
    }
}

#[test]
fn a_figure_that_is_no_svg_is_refused() {
    let (code, text) =
        fault(&["assess", "proportion", "--hits", "1", "--of", "2", "--figure", "x.png"]);
    assert_eq!(code, 2, "{text}");
    assert!(text.contains("x.png") && text.contains(".svg"), "{text}");
}

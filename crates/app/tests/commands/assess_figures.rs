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
    "detection examples/repeated_controls.csv --size verified_um --reading rise_pa --threshold 24 \
     --blank 16.2 --unit unit --spread size",
    "detection examples/blanks_and_leaks.csv --size verified_um --hit found --of tested \
     --false-calls estimate",
    "precision examples/sites_days_runs.csv --nested site,day,run --reading rise_pa",
    "precision examples/unequal_gauge.csv --random part,operator,part:operator --reading reading",
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
    "compare examples/two_rigs.csv --first old_pa --second new_pa --margin 2",
    "compare examples/gauge_study.csv --reading reading --group operator --groups A,B --margin 3",
    "compare --margin 2 --sd 1.7",
    "compare --sd 1.2 --second-sd 2 --true-difference 1.5",
    "uncertainty examples/volume_budget.toml --draws 20000",
    "stability examples/quiet_record.csv --column pressure_pa --time time_s",
    "robustness examples/half_fraction.csv --factor settle_s --factor pump_s --factor room_c \
     --factor load --response rise_pa",
    "robustness examples/settings.csv --factor settle_s --factor pump_s --response rise_pa",
    "robustness --design definitive-screening --factor a=1,2 --factor b=1,2 --factor c=1,2",
    "next-size examples/positive_controls.csv --size nominal_um --hit found --available \
     1.5,2,3,4,5,6,8,10 --critical 6 --studies 5",
    "volume --reference 50mL --reference-uncertainty 0.2% --reference-pressure 101.3kPa --from \
     0.1kPa --to 34.5kPa --pressure-uncertainty 30Pa --draws 20000",
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

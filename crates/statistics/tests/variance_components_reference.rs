//! Variance components against two programs, certified values and public data.

// A test may stop at the first surprise and say what it skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod evidence;

use evidence::{data, numbers, rows, table};
use statistics::variance_components::{
    Crossed, crossed, gauge, nested, one_way, restricted_likelihood::restricted_likelihood,
};
use std::collections::BTreeMap;

type Columns = BTreeMap<String, Vec<String>>;

/// Groups in order of first appearance.
fn grouped(values: &[f64], names: &[String]) -> Vec<Vec<f64>> {
    let mut seen: Vec<&String> = Vec::new();
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for (value, name) in values.iter().zip(names) {
        match seen.iter().position(|s| *s == name) {
            Some(i) => groups[i].push(*value),
            None => {
                seen.push(name);
                groups.push(vec![*value]);
            }
        }
    }
    groups
}

fn two_levels(columns: &Columns, value: &str, outer: &str, inner: &str) -> Vec<Vec<Vec<f64>>> {
    let values = numbers(columns, value);
    let mut seen: Vec<&String> = Vec::new();
    let mut parts: Vec<(Vec<f64>, Vec<String>)> = Vec::new();
    for (i, v) in values.iter().enumerate() {
        let name = &columns[outer][i];
        let place = seen.iter().position(|s| *s == name).unwrap_or_else(|| {
            seen.push(name);
            parts.push((Vec::new(), Vec::new()));
            seen.len() - 1
        });
        parts[place].0.push(*v);
        parts[place].1.push(columns[inner][i].clone());
    }
    parts.iter().map(|(v, names)| grouped(v, names)).collect()
}

fn aiag(columns: &Columns) -> (Vec<Vec<Vec<f64>>>, Crossed) {
    let values = two_levels(columns, "value", "part", "appraiser");
    let table = crossed(&values).unwrap();
    (values, table)
}

#[test]
fn values_of_the_method_notes() {
    let (Some(dye), Some(pastes), Some(penicillin), Some(study)) =
        (data("dyestuff"), data("pastes"), data("penicillin"), data("aiag_msa_grr"))
    else {
        return;
    };
    let groups = grouped(&numbers(&dye, "Yield"), &dye["Batch"]);
    let dye_table = one_way(&groups).unwrap();
    let dye_reml =
        restricted_likelihood(&groups.iter().map(|g| vec![g.clone()]).collect::<Vec<_>>()).unwrap();
    let paste_values = two_levels(&pastes, "strength", "batch", "cask");
    let paste = nested(&paste_values).unwrap();
    let plates = crossed(&two_levels(&penicillin, "diameter", "plate", "sample")).unwrap();
    let (parts, study_table) = aiag(&study);
    let ranges = gauge::average_and_range(&parts).unwrap();
    let pooled = gauge::from_crossed(&study_table, true).unwrap();
    for row in rows("statistics_variance_components.csv") {
        let span = |list: Vec<f64>| {
            list.iter().fold(f64::MIN, |m, v| m.max(*v))
                - list.iter().fold(f64::MAX, |m, v| m.min(*v))
        };
        let computed = match row.quantity.as_str() {
            "dye_batch_var" => dye_table.between,
            "dye_resid_var" => dye_table.within,
            "dye_total_var" => dye_table.total(),
            "dye_satt_df" => dye_table.total_df().unwrap(),
            "dye_satt_lo" => dye_table.total_interval_satterthwaite(0.95).unwrap().0,
            "dye_satt_hi" => dye_table.total_interval_satterthwaite(0.95).unwrap().1,
            "dye_mls_lo" => dye_table.total_interval(0.95).unwrap().0,
            "dye_mls_hi" => dye_table.total_interval(0.95).unwrap().1,
            "dye_icc" => dye_table.intraclass(0.95).unwrap().0,
            "dye_icc_lo" => dye_table.intraclass(0.95).unwrap().1,
            "dye_icc_hi" => dye_table.intraclass(0.95).unwrap().2,
            "dye_reml" => dye_reml.criterion,
            "pastes_Residual" => paste.residual,
            "pastes_cask:batch" => paste.inner,
            "pastes_batch" => paste.outer,
            "pen_Residual" => plates.kept.3,
            "pen_plate" => plates.kept.0,
            "pen_sample" => plates.kept.1,
            "aiag_SSA" => study_table.sums_of_squares.1,
            "aiag_SSP" => study_table.sums_of_squares.0,
            "aiag_SSAP" => study_table.sums_of_squares.2,
            "aiag_SSE" => study_table.sums_of_squares.3.unwrap(),
            "aiag_reml_sd_Residual" => study_table.pooled.2.sqrt(),
            "aiag_reml_sd_appraiser" => study_table.pooled.1.sqrt(),
            "aiag_reml_sd_part" => study_table.pooled.0.sqrt(),
            "aiag_anova_GRR" => pooled.gauge,
            "aiag_anova_TV" => pooled.total,
            "aiag_anova_pctGRR" => pooled.percent_gauge,
            "aiag_anova_ndc" => pooled.distinct_categories,
            "aiag_range_Rbar" => ranges.repeatability / 0.5908,
            "aiag_range_Xdiff" => span(
                (0..3)
                    .map(|j| parts.iter().flat_map(|p| p[j].iter()).sum::<f64>() / 30.0)
                    .collect(),
            ),
            "aiag_range_Rp" => ranges.part / 0.3146,
            "aiag_range_EV" => ranges.repeatability,
            "aiag_range_AV" => ranges.reproducibility,
            "aiag_range_GRR" => ranges.gauge,
            "aiag_range_PV" => ranges.part,
            "aiag_range_TV" => ranges.total,
            "aiag_range_pctGRR" => ranges.percent_gauge,
            "aiag_range_ndc" => ranges.distinct_categories,
            "bbm_gauge_var_raw" => gauge::gauge_variance(&study_table, 0.95).unwrap().0,
            "bbm_gauge_mls95_lo" => gauge::gauge_variance(&study_table, 0.95).unwrap().1,
            "bbm_gauge_mls95_hi" => gauge::gauge_variance(&study_table, 0.95).unwrap().2,
            other => panic!("{other} is not computed by this test"),
        };
        row.check(computed);
    }
}

#[test]
fn negative_components_are_shown() {
    // Data notes: interaction -1.877e-4 and -2.194e-3 in two public sets.
    let Some(study) = table("data/statistics/SixSigma__ss.data.rr.csv") else { return };
    let values = two_levels(&study, "time1", "prototype", "operator");
    {
        let result = crossed(&values).unwrap();
        assert!((result.kept.2 + 1.877e-4).abs() < 5e-7, "{}", result.kept.2);
        assert!((result.mean_squares.0 - 0.600_359_3).abs() < 5e-7);
        assert!((result.mean_squares.1 - 0.026_470_4).abs() < 5e-7);
        assert!(result.notes.iter().any(|note| note.code == "negative-component"));
    }
}

#[test]
fn days_and_runs_of_a_public_set() {
    let Some(columns) = table("data/statistics/VCA__dataEP05A2_1.csv") else { return };
    let values = two_levels(&columns, "y", "day", "run");
    let result = nested(&values).unwrap();
    // Data notes: mean squares 4.6468, 4.6424, 1.9534.
    for (own, noted) in result.mean_squares.iter().zip([4.6468, 4.6424, 1.9534]) {
        assert!((own - noted).abs() < 5e-5, "{own} {noted}");
    }
    assert!((result.mean - 24.994_21).abs() < 5e-6);
    let fit = restricted_likelihood(&values).unwrap();
    // lme4, data notes: 0.00119, 1.34447, 1.95336 (optimiser tolerance).
    assert!((fit.inner - 1.344_47).abs() < 2e-4 && (fit.residual - 1.953_36).abs() < 1e-4);
    assert!((fit.outer - 0.0011).abs() < 2e-4, "{fit:?}");
}

/// Decimal digits of agreement.
fn digits_of_agreement(own: f64, certified: f64) -> f64 {
    if own == certified {
        16.0
    } else {
        -digits::scalar::log10(((own - certified) / certified).abs())
    }
}

#[test]
fn certified_analyses_of_variance() {
    // NIST StRD. The last two sets carry 13 constant leading digits: their
    // values are rounded on input, which leaves 4 digits to any program.
    for row in rows("statistics_strd_anova.csv") {
        let name = row.text("data");
        let Some(columns) = data(name) else { return };
        let groups = grouped(&numbers(&columns, "y"), &columns["group"]);
        let result = one_way(&groups).unwrap();
        let least = row.number("digits");
        let own = digits_of_agreement(result.f, row.value);
        assert!(
            own >= least,
            "{name}: {own:.1} digits, {least} wanted ({} {})",
            result.f,
            row.value
        );
    }
}

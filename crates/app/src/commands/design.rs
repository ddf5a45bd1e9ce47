//! `isobar design`: the cycle that finds the leak that matters in the least
//! time.

use std::path::PathBuf;

use benchbook::Benchbook;
use clap::Args;
use physics::quantities::Volume;
use serde_json::{Value, json};
use study::cycle::Cycle;
use study::design::{Candidate, Design, DesignSettings, FixtureSearch, design_fixtures};
use study::method_choice::{Choice, ChoiceError, choose};
use study::{CaseInput, Method};

use super::case_source::CaseSource;
use super::files;
use super::records::acting::Acting;
use crate::answer::{Answer, number, optional};
use crate::clock;
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs, table};

/// The cycle that finds the leak that matters in the least time.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar design examples/lyophilised_vial.toml
  isobar design examples/lyophilised_vial.toml --free-volumes-ml 10,20
  isobar design --benchbook demo/demo.benchbook --case lyo-2r --adopt

With --adopt the chosen method, or the one of the front that --take names, becomes the next version
of the method of the case, with the case's cycle and forecast that belong to it, and with the free
volume where several were tried.")]
pub struct DesignCase {
    #[command(flatten)]
    source: CaseSource,
    /// Record the chosen method as the next version of the case's method.
    #[arg(long, requires = "benchbook")]
    adopt: bool,
    /// Adopt this one of the front, counted from 1, instead of the chosen one.
    #[arg(long, requires = "adopt", value_name = "N")]
    take: Option<usize>,
    /// Write the case with the chosen cycle to this file (TOML).
    #[arg(long, short, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Leaks up to this flow-equivalent diameter must be found without a gap, in µm.
    #[arg(long, default_value_t = 500.0, value_name = "UM")]
    up_to_um: f64,
    /// Longest cycle that is worth considering, in seconds.
    #[arg(long, default_value_t = 120.0, value_name = "SECONDS")]
    longest_s: f64,
    /// Free volumes of the chamber to choose from, in mL, up to eight of them; without it, the
    /// one of the case.
    #[arg(long, value_delimiter = ',', value_name = "ML,...")]
    free_volumes_ml: Vec<f64>,
    /// Share of the draws over the uncertain inputs in which the method must work.
    #[arg(long, default_value_t = 0.95, value_name = "SHARE")]
    share: f64,
    /// Seed of the draws over the uncertain inputs.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Number of draws over the uncertain inputs.
    #[arg(long, default_value_t = 64)]
    draws: usize,
    #[command(flatten)]
    acting: Acting,
}

/// Runs the command.
pub fn run(command: &DesignCase) -> Result<Answer, Fault> {
    let source = command.source.find(command.adopt.then_some(&command.acting))?;
    let stated = source.input();
    let settings = DesignSettings {
        seed: command.seed,
        n_draws: command.draws,
        up_to_um: command.up_to_um,
        longest_s: command.longest_s,
        required_share: command.share,
        ..DesignSettings::default()
    };
    let volumes: Vec<Volume> =
        command.free_volumes_ml.iter().map(|ml| Volume::from_m3(ml * 1.0e-6)).collect();
    let bar = crate::progress::bar(&format!("design {}", stated.id), 1);
    let searched = design_fixtures(stated, &settings, &volumes, &|done, total| {
        bar.set_length(total as u64);
        bar.set_position(done as u64);
    });
    bar.finish_and_clear();
    let searched = searched.map_err(|error| {
        Fault::users(
            format!("case `{}`: {error}", stated.id),
            "check the rig, the headspace and the options of the search",
        )
    })?;
    let (input, found) = (&searched.best().input, &searched.best().design);
    let in_force = source.stored().and_then(|stored| stored.case.method.as_ref());
    let mut text = text(input, &searched);
    if let (Some(path), Some(chosen)) = (&command.output, found.chosen_candidate()) {
        let mut designed = input.clone();
        designed.cycle = chosen.cycle.clone();
        files::write_whole(path, intake::case_file::write_case(&designed).as_bytes())?;
        text.push_str(&format!("\nCase with the chosen cycle: {}\n", path.display()));
    }
    let mut answer = design_json(&searched);
    answer["version_in_force"] = json!(in_force.map(|method| method.version));
    answer["adopted_version"] = Value::Null;
    if let Some(stored) = source.stored().filter(|_| command.adopt) {
        let place = command.take.map(|number| number.wrapping_sub(1)).or(found.chosen);
        let choice = taken(input, in_force, found, place)?;
        stored.wait(adopt(&stored.book, &choice))?;
        let version = choice.method.version;
        text.push_str(&format!("\nMethod version {version} is in force from now on.\n"));
        answer["adopted_version"] = json!(version);
    }
    source.close();
    Ok(Answer::new(text, answer, found.notes.clone()))
}

/// The candidate at this place as the next version.
pub fn taken(
    input: &CaseInput,
    in_force: Option<&Method>,
    found: &Design,
    place: Option<usize>,
) -> Result<Choice, Fault> {
    let Some(place) = place else {
        return Err(Fault::users(
            "the search chose no method, so there is none to adopt",
            "read its notes; --take N adopts one of the front all the same",
        ));
    };
    choose(input, in_force, found, place).map_err(|error| {
        let next = match &error {
            ChoiceError::InForce { .. } => "nothing is recorded; adopt another cycle",
            ChoiceError::NoCandidate { .. } => "count the rows of the front from 1",
            ChoiceError::TooWeak { .. } => {
                "evacuate less, support the container or hold its plunger, and search again"
            }
            ChoiceError::Forecast(_) => "check the rig, the headspace and the cycle of the case",
        };
        Fault::users(error.to_string(), next)
    })
}

/// Records the case with its new cycle, the forecast and the method.
pub async fn adopt(book: &Benchbook, choice: &Choice) -> Result<(), benchbook::BenchbookError> {
    let id = &choice.input.id;
    book.record_input(&choice.input, &clock::moment()).await?;
    book.record_forecast(id, &choice.forecast, &clock::moment()).await?;
    book.record_method(id, &choice.method, &clock::moment()).await
}

/// The settings of a cycle in a few words.
pub fn in_words(cycle: &Cycle) -> String {
    cycle
        .tiers
        .iter()
        .map(|purposed| {
            let tier = &purposed.tier;
            format!(
                "{} Pa {}+{}+{} s",
                digits(tier.evacuate_to.pa(), 3),
                digits(tier.evacuate_limit.s(), 3),
                digits(tier.settle.s(), 3),
                digits(tier.measure.s(), 3)
            )
        })
        .collect::<Vec<_>>()
        .join(", then ")
}

fn row(index: usize, one: &Candidate, found: &Design) -> Vec<String> {
    let largest = one.largest_um.map_or_else(
        || "-".to_owned(),
        |um| format!("{}{}", if one.largest_beyond { "over " } else { "" }, digits(um, 3)),
    );
    vec![
        if found.chosen == Some(index) { "chosen".to_owned() } else { String::new() },
        digits(one.tight_time_s, 3),
        digits_or_dash(one.smallest_um, 3),
        largest,
        one.share_of_draws
            .map_or_else(|| "-".to_owned(), |share| format!("{:.0} %", 100.0 * share)),
        in_words(&one.cycle),
    ]
}

/// Free volumes that were tried, each with its quickest cycle; the chosen one
/// first named.
pub fn fixture_rows(searched: &FixtureSearch) -> Vec<Vec<String>> {
    let rows = searched.tried.iter().enumerate().map(|(place, one)| {
        let chosen = one.design.chosen_candidate();
        let finest = one.design.front.iter().filter_map(|one| one.smallest_um);
        vec![
            if place == searched.best { "chosen".to_owned() } else { String::new() },
            digits(one.input.rig.free_volume.value.ml(), 3),
            digits_or_dash(chosen.map(|one| one.tight_time_s), 3),
            digits_or_dash(chosen.and_then(|one| one.smallest_um), 3),
            digits_or_dash(finest.reduce(f64::min), 3),
        ]
    });
    rows.collect()
}

/// Free volumes with which the chosen cycle works, in words.
pub fn fixture_words(input: &CaseInput, found: &Design) -> Option<String> {
    let fixture = found.fixture.as_ref()?;
    let ml = |m3: f64| digits(m3 * 1.0e6, 3);
    Some(match fixture.range_m3(input.rig.free_volume.value.m3()) {
        None => "only about as stated".to_owned(),
        Some((low, high)) => {
            let end = if fixture.reaches_the_end() { " at least" } else { "" };
            format!("{} to{end} {} mL", ml(low), ml(high))
        }
    })
}

fn text(input: &CaseInput, searched: &FixtureSearch) -> String {
    let found = &searched.best().design;
    let mut text = format!("{} ({})\n{}\n\n", input.title, input.id, input.question);
    if input.invented {
        text.push_str("Invented scenario: no figure is of a real product.\n\n");
    }
    if searched.tried.len() > 1 {
        text.push_str("Free volumes tried; what follows is for the chosen one:\n");
        text.push_str(&table(
            &["", "free volume mL", "time s", "smallest µm", "finest possible µm"],
            &fixture_rows(searched),
        ));
        text.push('\n');
    }
    text.push_str(&format!(
        "{} cycles considered. Time of a tight unit against smallest detectable leak; none of the \
         others is both quicker and finer:\n",
        found.n_considered
    ));
    let rows: Vec<Vec<String>> =
        found.front.iter().enumerate().map(|(index, one)| row(index, one, found)).collect();
    text.push_str(&table(
        &["", "time s", "smallest µm", "to µm", "of draws", "tiers: to, evacuate+settle+measure"],
        &rows,
    ));
    let Some(chosen) = found.chosen_candidate() else { return text };
    text.push_str("\nChosen method:\n");
    if let (Some(forecast), Some(method)) = (&found.forecast, chosen_method(input, found)) {
        for reason in method.reasons {
            text.push_str(&format!(
                "  {:<30} {}; {}\n",
                reason.parameter, reason.value, reason.reason
            ));
        }
        text.push_str(&format!(
            "\nForecast: {}: {}.\n",
            forecast.verdict.answer.word(),
            forecast.verdict.because
        ));
    }
    if let (Some(ranges), Some(last)) = (&found.ranges, chosen.cycle.tiers.last()) {
        let (settle, measure) = (last.tier.settle.s(), last.tier.measure.s());
        let range = |range: Option<(f64, f64)>| {
            range.map_or_else(
                || "only as chosen".to_owned(),
                |(low, high)| format!("{} to {} s", digits(low, 3), digits(high, 3)),
            )
        };
        text.push_str("\nAcceptable ranges of the last tier, one at a time:\n");
        text.push_str(&pairs(&[
            ("settle", range(ranges.settle_range_s(settle, measure))),
            ("measure", range(ranges.measure_range_s(settle, measure))),
            ("free volume", fixture_words(input, found).unwrap_or_default()),
        ]));
    }
    text.push_str("\nChecks:\n");
    for check in &found.checks {
        let outcome = check.outcome.word();
        text.push_str(&format!("  {outcome:<8} {}: {}\n", check.subject, check.finding));
    }
    text
}

/// The chosen method, as it would be without one in force.
pub fn chosen_method(input: &CaseInput, found: &Design) -> Option<Method> {
    choose(input, None, found, found.chosen?).ok().map(|choice| choice.method)
}

fn candidate_json(one: &Candidate) -> Value {
    json!({
        "time_s": number(one.tight_time_s),
        "smallest_flow_equivalent_um": optional(one.smallest_um),
        "largest_flow_equivalent_um": optional(one.largest_um),
        "largest_is_at_least": one.largest_beyond,
        "share_of_draws": optional(one.share_of_draws),
        "tiers": one.cycle.tiers.iter().map(|purposed| json!({
            "purpose": purposed.purpose,
            "evacuate_to_pa": number(purposed.tier.evacuate_to.pa()),
            "evacuate_limit_s": number(purposed.tier.evacuate_limit.s()),
            "settle_s": number(purposed.tier.settle.s()),
            "measure_s": number(purposed.tier.measure.s()),
        })).collect::<Value>(),
    })
}

/// The design as JSON, the same for the command line and for the page.
pub fn design_json(searched: &FixtureSearch) -> Value {
    let (input, found) = (&searched.best().input, &searched.best().design);
    let chosen = found.chosen_candidate().map_or(Value::Null, candidate_json);
    let reasons = chosen_method(input, found).map(|method| {
        method
            .reasons
            .into_iter()
            .map(|reason| {
                json!({
                    "parameter": reason.parameter,
                    "value": reason.value,
                    "reason": reason.reason,
                })
            })
            .collect::<Value>()
    });
    json!({
        "case": input.id,
        "title": input.title,
        "invented": input.invented,
        "target_flow_equivalent_um": optional(found.target_um),
        "considered": found.n_considered,
        "seed": found.seed,
        "draws": found.n_draws,
        "methods": found.front.iter().map(candidate_json).collect::<Value>(),
        "chosen": chosen,
        "reasons": reasons.unwrap_or(Value::Null),
        "ranges": found.ranges.as_ref().map_or(Value::Null, |ranges| json!({
            "settles_s": ranges.settles_s.iter().map(|s| number(*s)).collect::<Value>(),
            "measures_s": ranges.measures_s.iter().map(|s| number(*s)).collect::<Value>(),
            "share_of_draws": ranges.share.iter().map(|row| {
                row.iter().map(|share| number(*share)).collect::<Value>()
            }).collect::<Value>(),
            "required_share": number(ranges.required_share),
        })),
        "free_volume_ml": number(input.rig.free_volume.value.ml()),
        "fixture": found.fixture.as_ref().map_or(Value::Null, |fixture| json!({
            "free_volumes_ml":
                fixture.volumes_m3.iter().map(|m3| number(m3 * 1.0e6)).collect::<Value>(),
            "share_of_draws": fixture.share.iter().map(|share| number(*share)).collect::<Value>(),
            "required_share": number(fixture.required_share),
        })),
        "fixtures": searched.tried.iter().map(|one| {
            let chosen = one.design.chosen_candidate();
            let finest = one.design.front.iter().filter_map(|one| one.smallest_um);
            json!({
                "free_volume_ml": number(one.input.rig.free_volume.value.ml()),
                "time_s": optional(chosen.map(|one| one.tight_time_s)),
                "smallest_flow_equivalent_um": optional(chosen.and_then(|one| one.smallest_um)),
                "finest_flow_equivalent_um": optional(finest.reduce(f64::min)),
            })
        }).collect::<Value>(),
        "checks": found.checks.iter().map(|check| json!({
            "subject": check.subject,
            "outcome": check.outcome.word(),
            "finding": check.finding,
        })).collect::<Value>(),
        "verdict": found.forecast.as_ref().map(|forecast| forecast.verdict.answer.word()),
        "because": found.forecast.as_ref().map(|forecast| forecast.verdict.because.clone()),
    })
}

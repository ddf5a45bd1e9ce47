//! A filled design as text, JSON and words.

use std::path::Path;

use serde_json::{Value, json};
use statistics::distributions::student_t;
use statistics::{Assumption, CannotSay};
use study::Note;

use super::factor::{self, Factor};
use super::models::{self, Model};
use super::success::{self, Success};
use super::two_levels::{self, Effect, TwoLevels};
use super::{Robustness, coding, figure, fractions};
use crate::answer::{Answer, number, optional};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::{Told, told};
use crate::commands::assess::{checks, tables};
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs, plain, table};

/// What one result says.
pub struct Response {
    /// Name of its column.
    pub name: String,
    /// Effects with their margin, largest first.
    pub effects: Vec<Effect>,
    /// Two-level design.
    pub two_levels: Option<TwoLevels>,
    /// Fitted model of a design at more levels.
    pub model: Option<Model>,
}

impl Response {
    fn method(&self) -> &str {
        match (&self.two_levels, &self.model) {
            (Some(found), _) => &found.method,
            (None, Some(model)) => model.method,
            (None, None) => "",
        }
    }

    fn accounts(&self) -> Vec<Told> {
        let mut list = Vec::new();
        if let Some(found) = &self.two_levels {
            let mut account = told(self.name.as_str(), &found.found).by(found.method.as_str());
            if found.own_error.is_some() {
                account = account.without_note("sparse-effects-assumed");
                account.assumptions.retain(|a| a.name != "most effects are nothing");
                for open in &mut account.assumptions {
                    if open.name == "equal scatter of all runs" {
                        "Not checked: so few repeats show a gross difference only."
                            .clone_into(&mut open.finding);
                    }
                }
            }
            list.push(account);
            list.extend(found.aliases.as_ref().map(|aliases| told("aliases", aliases)));
        } else if let Some(model) = &self.model {
            let account = match &model.surface {
                Some(surface) => told(self.name.as_str(), surface),
                None => told(self.name.as_str(), &model.fit),
            };
            list.push(account.by(model.method));
        }
        list
    }

    /// Standard deviation of one run and its degrees of freedom, where the runs
    /// leave some: about the model, or between runs of one setting.
    fn scatter(&self) -> Option<(f64, f64)> {
        match (&self.two_levels, &self.model) {
            (Some(found), _) => {
                found.own_error.map(|own| (own.standard_deviation, own.degrees_of_freedom as f64))
            }
            (None, Some(model)) => Some((model.fit.residual_sd, model.fit.degrees_of_freedom)),
            (None, None) => None,
        }
    }

    /// Names of the effects that stand out.
    fn standing_out(&self) -> Vec<&str> {
        let out = self.effects.iter().filter(|effect| effect.effect.abs() > effect.margin);
        out.map(|effect| effect.name.as_str()).collect()
    }
}

/// Analyses a filled table.
pub fn run(command: &Robustness, path: &Path) -> Result<Answer, Fault> {
    let table = command.rows.of(path)?;
    if command.responses.is_empty() {
        return Err(Fault::users(
            "no result was named",
            format!("add --response; the table has: {}", table.columns.join(", ")),
        ));
    }
    let criteria = success::read(&command.criteria, &command.responses)?;
    let mut factors = factor::read(&command.factors)?;
    let runs = coding::coded(path, &table, &mut factors)?;
    let blocks = match &command.block {
        None => None,
        Some(column) => {
            let words = tables::words(path, &table, column)?;
            let mut names: Vec<&str> = Vec::new();
            let mut places = Vec::with_capacity(words.len());
            for word in words {
                let known = names.iter().position(|name| *name == word);
                places.push(known.unwrap_or(names.len()));
                if known.is_none() {
                    names.push(word);
                }
            }
            Some(places)
        }
    };
    let mut notes = Vec::new();
    let mut assumptions = Vec::new();
    let mut responses = Vec::new();
    for name in &command.responses {
        let results = tables::numbers(path, &table, name)?;
        if digits::sums::squared_deviations(&results).unwrap_or(0.0) == 0.0 {
            return Err(CannotSay::NoSpread { what: format!("the results of {name}") }.into());
        }
        let found = one(command, name, &factors, &runs, &results, blocks.as_deref(), &mut notes)?;
        assumptions.extend(checked(&found));
        responses.push(found);
    }
    let mut seen: Vec<String> = Vec::new();
    notes.retain(|note: &Note| {
        let new = !seen.contains(&note.text);
        seen.push(note.text.clone());
        new
    });
    let success = success_of(&factors, &responses, &criteria, &mut notes)?;
    let mut accounts: Vec<Told> = responses.iter().flat_map(Response::accounts).collect();
    accounts.extend(success.as_ref().map(|found| told("chance of success", &found.at_centre)));
    let statement = Statement {
        told: accounts,
        text: text(&factors, runs.len(), &responses, success.as_ref()),
        json: json(&factors, runs.len(), &responses, success.as_ref()),
        assumptions,
        wording: wording(&factors, runs.len(), &responses, success.as_ref()),
        notes,
    };
    statement.finish(&command.figure, || figure::panels(&factors, &responses))
}

fn one(
    command: &Robustness,
    name: &str,
    factors: &[Factor],
    runs: &[Vec<f64>],
    results: &[f64],
    blocks: Option<&[usize]>,
    notes: &mut Vec<Note>,
) -> Result<Response, Fault> {
    if !(command.confidence > 0.0 && command.confidence < 1.0) {
        return Err(Fault::users("the confidence is not between 0 and 1", "write it like 0.95"));
    }
    if two_levels::fits(runs) && blocks.is_none() {
        let found = two_levels::analyse(factors, runs, results, command.confidence, notes)?;
        let effects = ranked(found.effects.clone());
        return Ok(Response {
            name: name.to_owned(),
            effects,
            two_levels: Some(found),
            model: None,
        });
    }
    let model = models::fit(factors, runs, results, blocks, notes)?;
    let t = student_t::quantile(0.5 + 0.5 * command.confidence, model.fit.degrees_of_freedom);
    let effects = model.names.iter().zip(&model.coefficients).enumerate();
    let effects = effects.map(|(place, (name, (coefficient, error)))| {
        // From low to high a straight term changes the result by twice its
        // coefficient; squares and products are told as coefficients.
        let twice = if place < factors.len() { 2.0 } else { 1.0 };
        Effect {
            name: name.clone(),
            effect: twice * coefficient,
            standard_error: twice * error,
            margin: twice * t * error,
        }
    });
    Ok(Response {
        name: name.to_owned(),
        effects: ranked(effects.collect()),
        two_levels: None,
        model: Some(model),
    })
}

/// The clearest first.
fn ranked(mut effects: Vec<Effect>) -> Vec<Effect> {
    let clear = |effect: &Effect| effect.effect.abs() / effect.margin;
    effects.sort_by(|a, b| clear(b).total_cmp(&clear(a)));
    effects
}

fn checked(response: &Response) -> Vec<Assumption> {
    match (&response.two_levels, &response.model) {
        (Some(found), _) => {
            let curvature = found.curvature.as_ref();
            vec![Assumption {
                name: "straight over the range",
                test: "centre runs against corners",
                p_value: curvature.and_then(|c| c.p_value),
                held: curvature.and_then(|c| c.p_value).map(|p| p >= 0.05),
                finding: match curvature {
                    None => "Not checked: there are no centre runs.".to_owned(),
                    Some(c) => format!(
                        "{} centre runs differ from the corners by {}.",
                        c.centres,
                        digits(c.difference, 3)
                    ),
                },
            }]
        }
        (None, Some(model)) => vec![checks::normal("normal residuals", &model.fit.residuals)],
        (None, None) => Vec::new(),
    }
}

fn success_of(
    factors: &[Factor],
    responses: &[Response],
    criteria: &[success::Written],
    notes: &mut Vec<Note>,
) -> Result<Option<Success>, Fault> {
    if criteria.is_empty() {
        return Ok(None);
    }
    let surfaces: Vec<_> = responses
        .iter()
        .filter_map(|response| {
            let surface = response.model.as_ref()?.surface.clone()?;
            Some((response.name.clone(), surface))
        })
        .collect();
    let covered =
        |criterion: &success::Written| surfaces.iter().any(|(name, _)| *name == criterion.response);
    if !criteria.iter().all(covered) {
        notes.push(Note::refusal(
            "no-chance-of-success",
            "the chance of meeting the criteria needs a second-order surface, and these runs do not \
             give one",
            "run a central composite design of the factors that stand out",
        ));
        return Ok(None);
    }
    success::over(factors, &surfaces, criteria, notes).map(Some)
}

fn at(factors: &[Factor], levels: &[f64]) -> String {
    let parts: Vec<String> = factors
        .iter()
        .zip(levels)
        .map(|(factor, level)| format!("{} {}", factor.name, plain(*level, 4)))
        .collect();
    parts.join(", ")
}

fn text(factors: &[Factor], n: usize, responses: &[Response], success: Option<&Success>) -> String {
    let ranges: Vec<String> = factors
        .iter()
        .filter_map(|factor| {
            let (low, high) = factor.levels?;
            Some(format!("{} {} to {}", factor.name, plain(low, 5), plain(high, 5)))
        })
        .collect();
    let mut text = pairs(&[("runs", n.to_string()), ("factors", ranges.join(", "))]);
    for response in responses {
        text.push_str(&response_text(factors, response));
    }
    if let Some(success) = success {
        let share = format!("{:.1} % of {} points", success.share * 100.0, success.points);
        text.push_str("\nchance that one more run meets all criteria:\n");
        let mut rows = vec![("at the centre", digits(success.centre, 3))];
        if let Some(r) = success.at_centre.largest_correlation() {
            rows.push(("largest correlation of two results", digits(r, 2)));
            let apart = digits(success.at_centre.if_independent, 3);
            rows.push(("at the centre, if they were independent", apart));
        }
        rows.extend([
            ("best", format!("{} at {}", digits(success.best.0, 3), at(factors, &success.best.1))),
            (
                "worst",
                format!("{} at {}", digits(success.worst.0, 3), at(factors, &success.worst.1)),
            ),
            ("at least 0.95 in", share),
        ]);
        text.push_str(&pairs(&rows));
    }
    text
}

fn response_text(factors: &[Factor], response: &Response) -> String {
    const SHOWN: usize = 15;
    let mut text = format!("\n{} ({}):\n", response.name, response.method());
    let rows: Vec<Vec<String>> = response
        .effects
        .iter()
        .take(SHOWN)
        .map(|effect| {
            let out = if effect.effect.abs() > effect.margin { "stands out" } else { "" };
            vec![
                effect.name.clone(),
                digits(effect.effect, 4),
                digits(effect.margin, 3),
                out.to_owned(),
            ]
        })
        .collect();
    text.push_str(&table(&["effect", "low to high", "margin", ""], &rows));
    if let Some(found) = &response.two_levels {
        if let Some(aliased) = &found.aliases {
            text.push_str(&fractions::text(aliased, factors));
        }
        if let Some(curvature) = &found.curvature {
            text.push_str(&format!(
                "corners less centre: {}, p = {}\n",
                digits(curvature.difference, 3),
                digits_or_dash(curvature.p_value, 2)
            ));
        }
    }
    if let Some(surface) = response.model.as_ref().and_then(|model| model.surface.as_ref()) {
        let shape = match (surface.eigenvalues.first(), surface.eigenvalues.last()) {
            (Some(first), Some(last)) if *first < 0.0 && *last < 0.0 => "a maximum",
            (Some(first), Some(last)) if *first > 0.0 && *last > 0.0 => "a minimum",
            _ => "a saddle or a ridge",
        };
        if let Some(point) = &surface.stationary_point {
            let levels: Vec<f64> =
                point.iter().zip(factors).map(|(coded, factor)| factor.level(*coded)).collect();
            let place = at(factors, &levels);
            text.push_str(&format!("level point, {shape}: {place}\n"));
        }
    }
    if let Some((sd, degrees_of_freedom)) = response.scatter() {
        let about =
            if response.model.is_some() { "about the model" } else { "of runs of one setting" };
        text.push_str(&format!(
            "scatter {about}: {} with {} degrees of freedom\n",
            digits(sd, 3),
            plain(degrees_of_freedom, 4)
        ));
    }
    text
}

fn json(factors: &[Factor], n: usize, responses: &[Response], success: Option<&Success>) -> Value {
    let numbers = |values: &[f64]| values.iter().map(|v| number(*v)).collect::<Value>();
    json!({
        "n": n,
        "factors": factors.iter().map(|factor| json!({
            "name": factor.name,
            "low": optional(factor.levels.map(|levels| levels.0)),
            "high": optional(factor.levels.map(|levels| levels.1)),
        })).collect::<Value>(),
        "responses": responses.iter().map(|response| {
            let surface = response.model.as_ref().and_then(|model| model.surface.as_ref());
            let two = response.two_levels.as_ref();
            json!({
                "response": response.name,
                "method": response.method(),
                "effects": response.effects.iter().map(|effect| json!({
                    "effect": effect.name,
                    "value": number(effect.effect),
                    "standard_error": number(effect.standard_error),
                    "margin": number(effect.margin),
                    "stands_out": effect.effect.abs() > effect.margin,
                })).collect::<Value>(),
                "aliasing": two
                    .and_then(|found| found.aliases.as_ref())
                    .map(|aliased| fractions::json(aliased, factors)),
                "curvature": two.and_then(|found| found.curvature.as_ref()).map(|c| json!({
                    "difference": number(c.difference),
                    "p_value": optional(c.p_value),
                    "centres": c.centres,
                })),
                "surface": surface.map(|surface| json!({
                    "constant": number(surface.constant),
                    "linear": numbers(&surface.linear),
                    "quadratic": surface.quadratic.iter().map(|r| numbers(r)).collect::<Value>(),
                    "eigenvalues": numbers(&surface.eigenvalues),
                    "level_point": surface.stationary_point.as_ref().map(|p| numbers(p)),
                })),
                "corners": two.map(|found| found.corners),
                "residual_sd": optional(response.scatter().map(|(sd, _)| sd)),
                "residual_df": optional(response.scatter().map(|(_, df)| df)),
            })
        }).collect::<Value>(),
        "success": success.map(|success| json!({
            "centre": number(success.centre),
            "centre_if_independent": number(success.at_centre.if_independent),
            "correlation": success.at_centre.correlation.as_ref()
                .map_or(Value::Null, |rows| rows.iter().map(|row| numbers(row)).collect()),
            "best": number(success.best.0),
            "best_at": numbers(&success.best.1),
            "worst": number(success.worst.0),
            "worst_at": numbers(&success.worst.1),
            "share_above_95": number(success.share),
            "points": success.points,
        })),
    })
}

fn wording(
    factors: &[Factor],
    n: usize,
    responses: &[Response],
    success: Option<&Success>,
) -> String {
    let ranges: Vec<String> = factors
        .iter()
        .filter_map(|factor| {
            let (low, high) = factor.levels?;
            Some(format!("{} from {} to {}", factor.name, plain(low, 4), plain(high, 4)))
        })
        .collect();
    let mut words = format!("{n} runs varied {}.", ranges.join(", "));
    for response in responses {
        let out = response.standing_out();
        let verdict = if out.is_empty() {
            "no effect stood out".to_owned()
        } else {
            let shown = out.iter().take(6).copied().collect::<Vec<_>>().join(", ");
            format!("the effects that stood out were {shown}")
        };
        words.push_str(&format!(" For {} {verdict} ({}).", response.name, response.method()));
    }
    if let Some(success) = success {
        words.push_str(&format!(
            " One more run meets all criteria with a chance of {} at the centre and {} at the worst \
             settings of the region{}.",
            digits(success.centre, 2),
            digits(success.worst.0, 2),
            success.at_centre.largest_correlation().map_or_else(String::new, |r| format!(
                "; the results scatter together (correlation of the residuals up to {}), which is \
                 taken into account",
                digits(r, 2)
            ))
        ));
    }
    words
}

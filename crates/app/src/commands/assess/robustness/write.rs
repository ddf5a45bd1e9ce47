//! A design as a table to be filled.

use serde_json::{Value, json};
use statistics::experiments::aliasing::{Aliases, aliases};
use statistics::experiments::designs::{
    Design, central_composite, definitive_screening, fractional_factorial, full_factorial,
    largest_overlap, plackett_burman,
};
use statistics::{Assumption, Counted};
use study::Note;

use super::factor::{self, Factor};
use super::{DesignName, Robustness, figure, fractions};
use crate::answer::{Answer, number};
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::Told;
use crate::commands::files;
use crate::fault::Fault;
use crate::table_text::{pairs, plain};

/// Writes a design.
pub fn run(command: &Robustness, kind: DesignName) -> Result<Answer, Fault> {
    let factors = factor::read(&command.factors)?;
    if let Some(factor) = factors.iter().find(|factor| factor.levels.is_none()) {
        return Err(Fault::users(
            format!("the factor {} has no levels", factor.name),
            format!("write --factor {}=LOW,HIGH", factor.name),
        ));
    }
    let mut notes = Vec::new();
    let (mut design, method, aliased) = design(command, kind, factors.len(), &mut notes)?;
    let overlap = largest_overlap(&design);
    if kind != DesignName::CentralComposite {
        if command.centres > 1000 {
            return Err(Fault::users("more than 1000 centre runs", "give --centres of a few"));
        }
        design.extend(std::iter::repeat_n(vec![0.0; factors.len()], command.centres));
    }
    if command.centres < 3 {
        notes.push(Note::caution(
            "few-centre-runs",
            "without three or more runs at the centre the design has no error of its own and does \
             not show curvature",
            "add --centres 3",
        ));
    }
    let mut order: Vec<usize> = (0..design.len()).collect();
    digits::RandomStream::new(command.seed, 0).shuffle(&mut order);
    let responses = match command.responses.is_empty() {
        true => vec!["result".to_owned()],
        false => command.responses.clone(),
    };
    let table = table(&factors, &design, &order, &responses);
    if let Some(path) = &command.output {
        files::write_whole(path, table.as_bytes())?;
    }
    let mut text = pairs(&[
        ("runs", design.len().to_string()),
        ("factors", factors.len().to_string()),
        ("method", method.clone()),
        ("seed of the order", command.seed.to_string()),
        ("largest overlap of two columns", plain(overlap, 3)),
    ]);
    if let Some(aliased) = &aliased {
        text.push_str(&fractions::text(aliased, &factors));
    }
    match &command.output {
        Some(path) => text.push_str(&format!("\ndesign: {}\n", path.display())),
        None => text.push_str(&format!("\n{table}")),
    }
    let json = json!({
        "design": word(kind),
        "method": method,
        "n": design.len(),
        "factors": factors.iter().map(|factor| factor.name.clone()).collect::<Vec<_>>(),
        "seed": command.seed,
        "largest_overlap": number(overlap),
        "aliasing": aliased.as_ref().map(|aliased| fractions::json(aliased, &factors)),
        "file": command.output.as_ref().map(|path| path.display().to_string()),
        "runs": order.iter().enumerate().map(|(place, row)| json!({
            "run": place + 1,
            "standard_order": row + 1,
            "levels": design[*row]
                .iter()
                .zip(&factors)
                .map(|(coded, factor)| number(factor.level(*coded)))
                .collect::<Value>(),
        })).collect::<Value>(),
    });
    let names: Vec<&str> = factors.iter().map(|factor| factor.name.as_str()).collect();
    let wording = format!(
        "{} factors ({}) are varied in {} runs ({method}), run in random order (seed {}).{}",
        factors.len(),
        names.join(", "),
        design.len(),
        command.seed,
        aliased.map_or_else(String::new, |a| format!(" Resolution {}.", a.resolution))
    );
    let statement = Statement {
        told: vec![Told::own(
            "design",
            &method,
            Counted::stated(format!("{} runs to make; no results yet", design.len())),
            vec![Assumption::unchecked(
                "runs made in the order given",
                "from the plan",
                "note where the order could not be kept",
            )],
        )],
        text,
        json,
        assumptions: Vec::new(),
        wording,
        notes,
    };
    statement.finish(&command.figure, || vec![figure::design(&factors, &design, &order)])
}

fn word(kind: DesignName) -> &'static str {
    match kind {
        DesignName::Full => "full",
        DesignName::Fractional => "fractional",
        DesignName::Screening => "screening",
        DesignName::CentralComposite => "central-composite",
        DesignName::DefinitiveScreening => "definitive-screening",
    }
}

fn design(
    command: &Robustness,
    kind: DesignName,
    factors: usize,
    notes: &mut Vec<Note>,
) -> Result<(Design, String, Option<Aliases>), Fault> {
    if kind != DesignName::Fractional && !command.generators.is_empty() {
        return Err(Fault::users(
            "generators belong to a fraction",
            "write --design fractional, or leave out --generator",
        ));
    }
    Ok(match kind {
        DesignName::Full => (full_factorial(factors)?, "full factorial, two levels".into(), None),
        DesignName::Fractional => {
            let generators = generators(&command.generators, factors)?;
            let base = factors - generators.len();
            let found = aliases(base, &generators)?;
            if found.resolution < 4 {
                notes.push(Note::caution(
                    "main-effects-aliased",
                    "main effects share their columns with interactions of two factors: resolution \
                     III",
                    "take generators with three letters or more, or more runs",
                ));
            }
            let method = format!("fractional factorial, {}", command.generators.join(", "));
            (fractional_factorial(base, &generators)?, method, Some(found))
        }
        DesignName::Screening => {
            notes.push(Note::caution(
                "interactions-spread",
                "each interaction of two factors is spread in part over the main effects of the \
                 others",
                "confirm what stands out in a full factorial of those factors",
            ));
            let method = format!("Plackett and Burman, {} runs", command.runs);
            (plackett_burman(command.runs, factors)?, method, None)
        }
        DesignName::CentralComposite => {
            // The fourth root of the factorial runs makes it rotatable.
            let corners = digits::scalar::pow(2.0, factors.min(15) as f64 / 4.0);
            let axial = command.axial.unwrap_or(corners);
            let design = central_composite(factors, axial, command.centres.min(1000))?;
            let method = format!("central composite, axial runs at {}", plain(axial, 4));
            (design, method, None)
        }
        DesignName::DefinitiveScreening => {
            (definitive_screening(factors)?, "definitive screening, three levels".into(), None)
        }
    })
}

/// Reads generators `D=ABC` or `D=-ABC`; the generated factors come last.
fn generators(written: &[String], factors: usize) -> Result<Vec<(bool, Vec<usize>)>, Fault> {
    let wrong = |text: &str| {
        Fault::users(
            format!("`{text}` is not a generator of {factors} factors"),
            "factors are A, B, C ... in the order given; write the last ones as products of the \
             first, such as --generator D=ABC or E=-BC",
        )
    };
    if written.is_empty() || written.len() >= factors {
        return Err(wrong(&written.join(" ")));
    }
    let base = factors - written.len();
    let place = |letter: char| (letter as usize).checked_sub('A' as usize);
    let mut list = vec![None; written.len()];
    for text in written {
        let (left, right) = text.split_once('=').ok_or_else(|| wrong(text))?;
        let mut letters = left.trim().chars();
        let made = match (letters.next().and_then(place), letters.next()) {
            (Some(made), None) if (base..factors).contains(&made) => made,
            _ => return Err(wrong(text)),
        };
        let right = right.trim();
        let product = right.trim_start_matches(['-', '+']);
        let places: Vec<usize> = product
            .chars()
            .map(|letter| place(letter).filter(|p| *p < base).ok_or_else(|| wrong(text)))
            .collect::<Result<_, _>>()?;
        let repeated = (0..places.len()).any(|i| places[..i].contains(&places[i]));
        if repeated || places.len() < 2 || list[made - base].is_some() {
            return Err(wrong(text));
        }
        list[made - base] = Some((right.starts_with('-'), places));
    }
    list.into_iter().collect::<Option<Vec<_>>>().ok_or_else(|| wrong(&written.join(" ")))
}

/// The table in the order of running, with empty cells for the results.
fn table(factors: &[Factor], design: &Design, order: &[usize], responses: &[String]) -> String {
    let names: Vec<&str> = factors.iter().map(|factor| factor.name.as_str()).collect();
    let mut text = format!("run,standard_order,{},{}\n", names.join(","), responses.join(","));
    for (place, row) in order.iter().enumerate() {
        let levels: Vec<String> = design[*row]
            .iter()
            .zip(factors)
            .map(|(coded, factor)| plain(factor.level(*coded), 9))
            .collect();
        let empty = ",".repeat(responses.len());
        text.push_str(&format!("{},{},{}{empty}\n", place + 1, row + 1, levels.join(",")));
    }
    text
}

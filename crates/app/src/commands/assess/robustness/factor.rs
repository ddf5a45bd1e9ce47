//! Factors as they are written on the command line.

use crate::fault::Fault;

/// A factor with its levels, where they were given.
#[derive(Debug, Clone)]
pub struct Factor {
    /// Name of its column.
    pub name: String,
    /// Low and high level.
    pub levels: Option<(f64, f64)>,
}

impl Factor {
    /// Level at a coded value, -1 for low and 1 for high.
    pub fn level(&self, coded: f64) -> f64 {
        let (low, high) = self.levels.unwrap_or((-1.0, 1.0));
        0.5 * (low + high) + 0.5 * (high - low) * coded
    }
}

/// Reads factors; their names must differ.
pub fn read(written: &[String]) -> Result<Vec<Factor>, Fault> {
    let factors: Vec<Factor> = written.iter().map(|text| one(text)).collect::<Result<_, _>>()?;
    for (i, factor) in factors.iter().enumerate() {
        if factors[..i].iter().any(|other| other.name == factor.name) {
            return Err(Fault::users(
                format!("the factor {} is named twice", factor.name),
                "give each factor once",
            ));
        }
    }
    Ok(factors)
}

fn one(text: &str) -> Result<Factor, Fault> {
    let wrong = || {
        Fault::users(
            format!("`{text}` is not a factor"),
            "write NAME=LOW,HIGH with two different numbers, such as settle_s=1,3",
        )
    };
    let Some((name, levels)) = text.split_once('=') else {
        return match text.trim() {
            "" => Err(wrong()),
            name => Ok(Factor { name: name.to_owned(), levels: None }),
        };
    };
    let (low, high) = levels.split_once(',').ok_or_else(wrong)?;
    let number = |text: &str| text.trim().parse::<f64>().map_err(|_| wrong());
    let (low, high) = (number(low)?, number(high)?);
    if name.trim().is_empty() || !(low < high && (high - low).is_finite()) {
        return Err(wrong());
    }
    Ok(Factor { name: name.trim().to_owned(), levels: Some((low, high)) })
}

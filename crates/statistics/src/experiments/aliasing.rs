//! Which effects a fraction cannot tell apart.

use crate::account::{Account, Counted};
use crate::cannot_say::CannotSay;
use crate::note::{Assumption, Note};

/// A set of factors as bits; the empty set is the mean.
type Word = u32;

/// Aliases of a two-level fraction.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Aliases {
    /// Words of the defining relation, with factor letters.
    pub defining_relation: Vec<String>,
    /// Length of its shortest word.
    pub resolution: usize,
    /// For each main effect and two-factor interaction, the others of those
    /// that share its column.
    pub table: Vec<(String, Vec<String>)>,
}

impl Account for Aliases {
    fn method(&self) -> &str {
        "products of the words of the defining relation"
    }

    fn counted(&self) -> Counted {
        Counted::stated("the generators of the design; no data")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::unchecked(
            "interactions of three and more factors are nothing",
            "runs of the opposite fraction",
            "a design cannot show it",
        )]
    }

    fn notes(&self) -> Vec<Note> {
        if self.resolution < 5 {
            vec![Note::new(
                "aliased",
                format!(
                    "Resolution {}: {}.",
                    self.resolution,
                    if self.resolution < 4 {
                        "main effects share a column with interactions of two factors"
                    } else {
                        "interactions of two factors share columns with each other"
                    }
                ),
                "Say so beside every effect; run the opposite fraction where an alias matters.",
            )]
        } else {
            Vec::new()
        }
    }
}

fn letters(word: Word) -> String {
    (0..26_u8).filter(|bit| word >> bit & 1 == 1).map(|bit| char::from(b'A' + bit)).collect()
}

/// Aliases of a fraction of `base` factors with generators by place, as in
/// [`super::designs::fractional_factorial`].
///
/// # Errors
/// More than 26 factors, no generator, an unknown base factor.
pub fn aliases(base: usize, generators: &[(bool, Vec<usize>)]) -> Result<Aliases, CannotSay> {
    let factors = base + generators.len();
    if factors > 26 || generators.len() > 12 || base == 0 {
        return Err(CannotSay::OutOfRange {
            what: "the number of factors".into(),
            value: factors as f64,
            allowed: "1 to 26 factors with at most 12 generators".into(),
        });
    }
    crate::cannot_say::at_least("generators", 1, generators.len())?;
    let mut words: Vec<Word> = Vec::new();
    for (i, (_, list)) in generators.iter().enumerate() {
        let mut word: Word = 1 << (base + i);
        for factor in list {
            if *factor >= base {
                return Err(CannotSay::OutOfRange {
                    what: format!("a factor of generator {}", i + 1),
                    value: *factor as f64,
                    allowed: format!("a place from 0 to {}", base - 1),
                });
            }
            word ^= 1 << factor;
        }
        words.push(word);
    }
    // All products of the generator words.
    let relation: Vec<Word> = (1..1_u32 << words.len())
        .map(|set| {
            words
                .iter()
                .enumerate()
                .filter(|(i, _)| set >> i & 1 == 1)
                .fold(0, |product, (_, word)| product ^ word)
        })
        .collect();
    let mut low: Vec<Word> = (0..factors).map(|i| 1 << i).collect();
    for i in 0..factors {
        for j in i + 1..factors {
            low.push(1 << i | 1 << j);
        }
    }
    let table = low
        .iter()
        .map(|effect| {
            let others = relation
                .iter()
                .map(|word| effect ^ word)
                .filter(|alias| low.contains(alias))
                .map(letters)
                .collect();
            (letters(*effect), others)
        })
        .collect();
    let mut defining: Vec<String> = relation.iter().map(|word| letters(*word)).collect();
    defining.sort_by_key(|word| (word.len(), word.clone()));
    Ok(Aliases {
        resolution: defining.iter().map(String::len).min().unwrap_or(0),
        defining_relation: defining,
        table,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_eight_run_fraction_of_five() {
        // D = AB, E = AC: I = ABD = ACE = BCDE, resolution III.
        let result = aliases(3, &[(false, vec![0, 1]), (false, vec![0, 2])]).unwrap();
        assert_eq!(result.defining_relation, ["ABD", "ACE", "BCDE"]);
        assert_eq!(result.resolution, 3);
        let (_, of_a) = &result.table[0];
        assert_eq!(of_a, &["BD", "CE"]);
        assert!(aliases(3, &[]).is_err());
    }
}

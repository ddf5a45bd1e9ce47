//! A model written as a formula: numbers, names of inputs, `+ - * / ^`,
//! brackets, and the functions sqrt, exp, ln, log10, sin, cos, tan, abs.

use crate::fault::Fault;

/// A formula ready to be worked out; names are places in the list of inputs.
#[derive(Debug, Clone)]
pub enum Formula {
    /// A number.
    Number(f64),
    /// An input by its place.
    Input(usize),
    /// The negative of a part.
    Negative(Box<Formula>),
    /// Two parts with a sign between.
    Pair(char, Box<Formula>, Box<Formula>),
    /// A function of a part.
    Function(OfOne, Box<Formula>),
}

/// A function of one number.
type OfOne = fn(f64) -> f64;

/// Functions by name.
const FUNCTIONS: [(&str, OfOne); 8] = [
    ("sqrt", f64::sqrt),
    ("exp", digits::scalar::exp),
    ("ln", digits::scalar::ln),
    ("log10", digits::scalar::log10),
    ("sin", digits::scalar::sin),
    ("cos", digits::scalar::cos),
    ("tan", digits::scalar::tan),
    ("abs", f64::abs),
];

/// Brackets and powers within each other, at most.
const DEEPEST: usize = 60;

impl Formula {
    /// Value at the inputs.
    pub fn value(&self, inputs: &[f64]) -> f64 {
        match self {
            Self::Number(number) => *number,
            Self::Input(place) => inputs.get(*place).copied().unwrap_or(f64::NAN),
            Self::Negative(part) => -part.value(inputs),
            Self::Function(function, part) => function(part.value(inputs)),
            Self::Pair(sign, left, right) => {
                let (a, b) = (left.value(inputs), right.value(inputs));
                match sign {
                    '+' => a + b,
                    '-' => a - b,
                    '*' => a * b,
                    '/' => a / b,
                    _ => power(a, b),
                }
            }
        }
    }
}

/// Whole powers of any number, other powers of positive numbers.
fn power(base: f64, exponent: f64) -> f64 {
    if exponent.fract() == 0.0 && exponent.abs() <= 64.0 {
        digits::scalar::powi(base, exponent as i32)
    } else {
        digits::scalar::pow(base, exponent)
    }
}

/// Reads a formula in which the names of inputs may occur.
pub fn read(text: &str, names: &[String]) -> Result<Formula, Fault> {
    let mut reader = Reader { letters: text.chars().collect(), at: 0, names, depth: 0 };
    let formula = reader.sum()?;
    reader.skip();
    if reader.at < reader.letters.len() {
        return Err(reader.refuse(&format!("`{}` does not belong here", reader.letters[reader.at])));
    }
    Ok(formula)
}

struct Reader<'a> {
    letters: Vec<char>,
    at: usize,
    names: &'a [String],
    depth: usize,
}

impl Reader<'_> {
    fn refuse(&self, what: &str) -> Fault {
        let before: String = self.letters[..self.at.min(self.letters.len())].iter().collect();
        Fault::users(
            format!("the model cannot be read after `{before}`: {what}"),
            format!(
                "write it with + - * / ^, brackets, {}, and the inputs {}",
                FUNCTIONS.map(|function| function.0).join(", "),
                self.names.join(", ")
            ),
        )
    }

    fn skip(&mut self) {
        while self.letters.get(self.at).is_some_and(|letter| letter.is_whitespace()) {
            self.at += 1;
        }
    }

    fn next_is(&mut self, signs: &[char]) -> Option<char> {
        self.skip();
        let sign = self.letters.get(self.at).copied().filter(|letter| signs.contains(letter))?;
        self.at += 1;
        Some(sign)
    }

    fn sum(&mut self) -> Result<Formula, Fault> {
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(self.refuse("brackets stand too deep within each other"));
        }
        let mut left = self.product()?;
        while let Some(sign) = self.next_is(&['+', '-']) {
            left = Formula::Pair(sign, Box::new(left), Box::new(self.product()?));
        }
        self.depth -= 1;
        Ok(left)
    }

    fn product(&mut self) -> Result<Formula, Fault> {
        let mut left = self.signed()?;
        while let Some(sign) = self.next_is(&['*', '/']) {
            left = Formula::Pair(sign, Box::new(left), Box::new(self.signed()?));
        }
        Ok(left)
    }

    /// A sign binds weaker than a power: `-x^2` is `-(x^2)`.
    fn signed(&mut self) -> Result<Formula, Fault> {
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(self.refuse("signs stand too deep within each other"));
        }
        let formula = match self.next_is(&['-', '+']) {
            Some('-') => Formula::Negative(Box::new(self.signed()?)),
            Some(_) => self.signed()?,
            None => self.power()?,
        };
        self.depth -= 1;
        Ok(formula)
    }

    fn power(&mut self) -> Result<Formula, Fault> {
        let base = self.part()?;
        match self.next_is(&['^']) {
            Some(sign) => Ok(Formula::Pair(sign, Box::new(base), Box::new(self.signed()?))),
            None => Ok(base),
        }
    }

    fn part(&mut self) -> Result<Formula, Fault> {
        if self.next_is(&['(']).is_some() {
            let inner = self.sum()?;
            return match self.next_is(&[')']) {
                Some(_) => Ok(inner),
                None => Err(self.refuse("a bracket is not closed")),
            };
        }
        match self.letters.get(self.at) {
            Some(letter) if letter.is_ascii_digit() || *letter == '.' => self.number(),
            Some(letter) if letter.is_alphabetic() || *letter == '_' => self.word(),
            Some(letter) => {
                let what = format!("`{letter}` is no number, input or bracket");
                Err(self.refuse(&what))
            }
            None => Err(self.refuse("something is missing at the end")),
        }
    }

    fn number(&mut self) -> Result<Formula, Fault> {
        let from = self.at;
        while let Some(letter) = self.letters.get(self.at) {
            let exponent_sign = matches!(letter, '-' | '+')
                && self.at > from
                && matches!(self.letters[self.at - 1], 'e' | 'E');
            if !(letter.is_ascii_digit() || matches!(letter, '.' | 'e' | 'E') || exponent_sign) {
                break;
            }
            self.at += 1;
        }
        let text: String = self.letters[from..self.at].iter().collect();
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(Formula::Number(number)),
            _ => Err(self.refuse(&format!("`{text}` is not a number"))),
        }
    }

    fn word(&mut self) -> Result<Formula, Fault> {
        let from = self.at;
        while self.letters.get(self.at).is_some_and(|l| l.is_alphanumeric() || *l == '_') {
            self.at += 1;
        }
        let word: String = self.letters[from..self.at].iter().collect();
        if let Some(place) = self.names.iter().position(|name| *name == word) {
            return Ok(Formula::Input(place));
        }
        let function = FUNCTIONS.iter().find(|(name, _)| *name == word);
        match (function, self.next_is(&['('])) {
            (Some((_, function)), Some(_)) => {
                let inner = self.sum()?;
                match self.next_is(&[')']) {
                    Some(_) => Ok(Formula::Function(*function, Box::new(inner))),
                    None => Err(self.refuse("a bracket is not closed")),
                }
            }
            (Some(_), None) => Err(self.refuse(&format!("`{word}` needs a bracket"))),
            (None, _) => Err(self.refuse(&format!("`{word}` is no input and no function"))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str, inputs: &[f64]) -> f64 {
        let names: Vec<String> = ["a", "b_1"].iter().map(|name| (*name).to_owned()).collect();
        read(text, &names).unwrap().value(inputs)
    }

    #[test]
    fn by_hand() {
        assert_eq!(at("1 + 2 * 3 - 4 / 2", &[]), 5.0);
        assert_eq!(at("-a^2", &[3.0]), -9.0);
        assert_eq!(at("2^-1 * (a + b_1)", &[1.0, 3.0]), 2.0);
        assert_eq!(at("2^3^2", &[]), 512.0);
        assert_eq!(at("sqrt(a) - -1", &[16.0]), 5.0);
        assert_eq!(at("1.5e-3*a", &[2.0]), 3e-3);
        assert_eq!(at("cos(0) + ln(exp(a))", &[0.0]), 1.0);
    }

    #[test]
    fn refusals() {
        let names = ["a".to_owned()];
        for text in ["", "a +", "(a", "a b", "sqrt a", "q", "1..2", "a)", "sin(a", "a ** 2"] {
            assert!(read(text, &names).is_err(), "{text}");
        }
        assert!(read(&"(".repeat(100_000), &names).is_err());
        assert!(read(&"-".repeat(100_000), &names).is_err());
    }
}

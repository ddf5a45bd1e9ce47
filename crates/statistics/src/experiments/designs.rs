//! Designs in coded units, -1 to 1, row by row in standard order.
//!
//! The order of running is not the order of the rows: shuffle it.

use crate::cannot_say::{self, CannotSay};

/// A design: runs as rows, factors as columns.
pub type Design = Vec<Vec<f64>>;

fn count(what: &str, value: usize, low: usize, high: usize) -> Result<(), CannotSay> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(CannotSay::OutOfRange {
        what: what.into(),
        value: value as f64,
        allowed: format!("a whole number from {low} to {high}"),
    })
}

/// All combinations of two levels of `factors` factors.
///
/// # Errors
/// No factor or more than 15.
pub fn full_factorial(factors: usize) -> Result<Design, CannotSay> {
    count("the number of factors", factors, 1, 15)?;
    Ok((0..1_usize << factors)
        .map(|run| (0..factors).map(|j| if run >> j & 1 == 1 { 1.0 } else { -1.0 }).collect())
        .collect())
}

/// Fraction of a factorial: base factors, then generated ones, each the
/// product of the base factors named by their places (and a sign).
///
/// # Errors
/// No base factor, a generator without or with unknown base factors.
pub fn fractional_factorial(
    base: usize,
    generators: &[(bool, Vec<usize>)],
) -> Result<Design, CannotSay> {
    let mut design = full_factorial(base)?;
    for (i, (_, factors)) in generators.iter().enumerate() {
        cannot_say::at_least(&format!("factors of generator {}", i + 1), 2, factors.len())?;
        if let Some(unknown) = factors.iter().find(|f| **f >= base) {
            return Err(CannotSay::OutOfRange {
                what: format!("a factor of generator {}", i + 1),
                value: *unknown as f64,
                allowed: format!("a place from 0 to {}", base - 1),
            });
        }
    }
    for run in &mut design {
        for (negative, factors) in generators {
            let product: f64 = factors.iter().map(|f| run[*f]).product();
            run.push(if *negative { -product } else { product });
        }
    }
    Ok(design)
}

/// Plackett-Burman design of 8, 12, 20 or 24 runs for up to one factor less.
///
/// Cyclic shifts of the printed first row, then a row of low levels. Source:
/// R. L. Plackett and J. P. Burman, Biometrika 33 (1946) 305.
///
/// # Errors
/// Another number of runs, or too many factors.
pub fn plackett_burman(runs: usize, factors: usize) -> Result<Design, CannotSay> {
    let first = match runs {
        8 => "+++-+--",
        12 => "++-+++---+-",
        20 => "++--++++-+-+----++-",
        24 => "+++++-+-++--++--+-+----",
        _ => {
            return Err(CannotSay::OutOfRange {
                what: "the number of runs".into(),
                value: runs as f64,
                allowed: "8, 12, 20 or 24 runs".into(),
            });
        }
    };
    count("the number of factors", factors, 1, runs - 1)?;
    let row: Vec<f64> = first.chars().map(|c| if c == '+' { 1.0 } else { -1.0 }).collect();
    let n = row.len();
    let mut design: Design =
        (0..n).map(|shift| (0..factors).map(|j| row[(j + n - shift) % n]).collect()).collect();
    design.push(vec![-1.0; factors]);
    Ok(design)
}

/// Central composite design: factorial, axial points at `axial`, centres.
///
/// # Errors
/// Fewer than two or more than eight factors, an axial distance not above
/// zero.
pub fn central_composite(factors: usize, axial: f64, centres: usize) -> Result<Design, CannotSay> {
    count("the number of factors", factors, 2, 8)?;
    cannot_say::positive("the axial distance", axial)?;
    let mut design = full_factorial(factors)?;
    for j in 0..factors {
        for sign in [-1.0, 1.0] {
            let mut run = vec![0.0; factors];
            run[j] = sign * axial;
            design.push(run);
        }
    }
    design.extend(std::iter::repeat_n(vec![0.0; factors], centres));
    Ok(design)
}

/// Whether a number is a square modulo a prime: 1, -1, or 0 for zero.
fn residue(a: i64, prime: i64) -> f64 {
    let a = a.rem_euclid(prime);
    if a == 0 {
        return 0.0;
    }
    if (1..prime).any(|x| x * x % prime == a) { 1.0 } else { -1.0 }
}

/// Conference matrix of order `prime + 1`, by squares modulo the prime.
fn conference(prime: i64) -> Design {
    let n = usize::try_from(prime + 1).unwrap_or(0);
    // Symmetric for primes of 1 modulo 4, skew for those of 3.
    let corner = if prime % 4 == 1 { 1.0 } else { -1.0 };
    (0..n)
        .map(|i| {
            (0..n)
                .map(|j| match (i, j) {
                    (0, 0) => 0.0,
                    (0, _) => 1.0,
                    (_, 0) => corner,
                    _ => residue(j as i64 - i as i64, prime),
                })
                .collect()
        })
        .collect()
}

/// Definitive screening design: each factor at three levels, main effects
/// free of two-factor interactions and of curvature.
///
/// A conference matrix, its mirror image and a centre run. Source: B. Jones
/// and C. J. Nachtsheim, J. Qual. Technol. 43 (2011) 1; L. Xiao, D. K. J. Lin
/// and F. Bai, J. Qual. Technol. 44 (2012) 2.
///
/// # Errors
/// Fewer than three or more than 24 factors.
pub fn definitive_screening(factors: usize) -> Result<Design, CannotSay> {
    count("the number of factors", factors, 3, 24)?;
    let prime = [3_i64, 5, 7, 11, 13, 17, 19, 23]
        .into_iter()
        .find(|p| *p as usize + 1 >= factors)
        .unwrap_or(23);
    let matrix = conference(prime);
    let mut design = Design::new();
    for row in &matrix {
        design.push(row[..factors].to_vec());
        design.push(row[..factors].iter().map(|v| -v).collect());
    }
    design.push(vec![0.0; factors]);
    Ok(design)
}

/// Largest product of two different columns, in absolute value: 0 for
/// independent main effects.
#[must_use]
pub fn largest_overlap(design: &Design) -> f64 {
    let k = design.first().map_or(0, Vec::len);
    let mut worst = 0.0_f64;
    for i in 0..k {
        for j in i + 1..k {
            worst = worst.max(design.iter().map(|run| run[i] * run[j]).sum::<f64>().abs());
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_independent() {
        for runs in [8, 12, 20, 24] {
            let design = plackett_burman(runs, runs - 1).unwrap();
            assert_eq!((design.len(), largest_overlap(&design)), (runs, 0.0), "{runs}");
        }
        assert_eq!(largest_overlap(&central_composite(3, 1.68, 4).unwrap()), 0.0);
        for factors in [4, 5, 6, 8, 11] {
            assert_eq!(largest_overlap(&definitive_screening(factors).unwrap()), 0.0, "{factors}");
        }
        assert!(plackett_burman(13, 3).is_err());
        assert!(fractional_factorial(3, &[(false, vec![0, 7])]).is_err());
    }

    #[test]
    fn screening_keeps_main_effects_free_of_second_order() {
        let design = definitive_screening(6).unwrap();
        for i in 0..6 {
            for j in 0..6 {
                for k in 0..6 {
                    let overlap: f64 = design.iter().map(|run| run[i] * run[j] * run[k]).sum();
                    assert_eq!(overlap, 0.0, "{i} {j} {k}");
                }
            }
        }
    }
}

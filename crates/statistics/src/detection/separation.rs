//! Whether hits and misses can be told apart by size alone.

/// Separation of hits and misses along the size axis.
///
/// With separation the likelihood has no maximum: the fitted slope runs to
/// infinity, and any number printed for it is an accident of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Separation {
    /// Hits and misses overlap; a fit exists.
    None,
    /// They meet in one size only; the slope is infinite.
    Quasi,
    /// A gap lies between them, or there are only hits or only misses.
    Complete,
}

impl Separation {
    /// The word for a report.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Quasi => "quasi-complete",
            Self::Complete => "complete",
        }
    }
}

/// Extremes of hit and missed sizes on the axis of the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Extremes {
    pub smallest_hit: Option<f64>,
    pub largest_hit: Option<f64>,
    pub smallest_miss: Option<f64>,
    pub largest_miss: Option<f64>,
}

impl Extremes {
    /// Extremes of rows of size, hits and misses.
    pub(crate) fn of(rows: impl Iterator<Item = (f64, u64, u64)>) -> Self {
        let mut all =
            Self { smallest_hit: None, largest_hit: None, smallest_miss: None, largest_miss: None };
        let lower = |old: Option<f64>, x: f64| Some(old.map_or(x, |o| o.min(x)));
        let upper = |old: Option<f64>, x: f64| Some(old.map_or(x, |o| o.max(x)));
        for (size, hits, misses) in rows {
            if hits > 0 {
                all.smallest_hit = lower(all.smallest_hit, size);
                all.largest_hit = upper(all.largest_hit, size);
            }
            if misses > 0 {
                all.smallest_miss = lower(all.smallest_miss, size);
                all.largest_miss = upper(all.largest_miss, size);
            }
        }
        all
    }

    /// With an intercept and one size, the linear program of separation has
    /// this closed answer: compare the extremes, in both directions.
    pub(crate) fn separation(&self) -> Separation {
        let (Some(smallest_hit), Some(largest_hit), Some(smallest_miss), Some(largest_miss)) =
            (self.smallest_hit, self.largest_hit, self.smallest_miss, self.largest_miss)
        else {
            return Separation::Complete;
        };
        if largest_miss < smallest_hit || largest_hit < smallest_miss {
            Separation::Complete
        } else if largest_miss == smallest_hit || largest_hit == smallest_miss {
            Separation::Quasi
        } else {
            Separation::None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn separation(rows: &[(f64, u64, u64)]) -> Separation {
        Extremes::of(rows.iter().copied()).separation()
    }

    #[test]
    fn the_three_cases() {
        assert_eq!(separation(&[(1.0, 0, 2), (2.0, 2, 0)]), Separation::Complete);
        assert_eq!(separation(&[(1.0, 0, 2), (2.0, 1, 1), (3.0, 2, 0)]), Separation::Quasi);
        assert_eq!(separation(&[(1.0, 1, 1), (2.0, 1, 1)]), Separation::None);
        assert_eq!(separation(&[(1.0, 3, 0), (2.0, 3, 0)]), Separation::Complete);
        // A curve that falls with size separates as well.
        assert_eq!(separation(&[(1.0, 2, 0), (2.0, 0, 2)]), Separation::Complete);
    }
}

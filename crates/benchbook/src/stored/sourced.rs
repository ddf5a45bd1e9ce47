//! Provenance, and values that carry it.

use serde::{Deserialize, Serialize};
use study::provenance::{Origin, Provenance, Sourced};

use super::shape::{Real, Shape, Unreadable, Word, shape, words};

words!(Origin);

shape! {
    ProvenanceShape of Provenance { origin: Word, by: String, on: String, from: String }
}

/// A value with its standard uncertainty and its provenance.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SourcedShape<S> {
    value: S,
    standard_uncertainty_si: Option<Real>,
    provenance: ProvenanceShape,
}

impl<T, S: Shape<T>> Shape<Sourced<T>> for SourcedShape<S> {
    fn of(from: &Sourced<T>) -> Self {
        let Sourced { value, standard_uncertainty_si, provenance } = from;
        Self {
            value: S::of(value),
            standard_uncertainty_si: Shape::of(standard_uncertainty_si),
            provenance: Shape::of(provenance),
        }
    }
    fn back(self) -> Result<Sourced<T>, Unreadable> {
        Ok(Sourced {
            value: self.value.back()?,
            standard_uncertainty_si: self.standard_uncertainty_si.back()?,
            provenance: self.provenance.back()?,
        })
    }
}

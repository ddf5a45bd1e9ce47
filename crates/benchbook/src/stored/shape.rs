//! How a shape and a type of `study` become each other.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Why a stored text cannot be read, or a record not be stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Unreadable(pub(crate) String);

/// A stored shape of `T`.
pub(crate) trait Shape<T>: Sized {
    /// The shape of a value.
    fn of(from: &T) -> Self;
    /// The value of a shape.
    fn back(self) -> Result<T, Unreadable>;
}

/// A finite number. JSON writes others as `null`, and a `null` that comes
/// back as "absent" would be a silent wrong value; so they are refused.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Real(pub(crate) f64);

impl Serialize for Real {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if self.0.is_finite() {
            serializer.serialize_f64(self.0)
        } else {
            Err(serde::ser::Error::custom(format!("{} is not a finite number", self.0)))
        }
    }
}

impl<'de> Deserialize<'de> for Real {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        f64::deserialize(deserializer).map(Self)
    }
}

impl Shape<f64> for Real {
    fn of(from: &f64) -> Self {
        Self(*from)
    }
    fn back(self) -> Result<f64, Unreadable> {
        Ok(self.0)
    }
}

/// A whole number of up to 64 bits as decimal text: readers of JSON in other
/// languages lose digits above 2^53.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub(crate) struct Decimal(String);

impl Shape<u64> for Decimal {
    fn of(from: &u64) -> Self {
        Self(from.to_string())
    }
    fn back(self) -> Result<u64, Unreadable> {
        self.0.parse().map_err(|_| Unreadable(format!("`{}` is not a whole number", self.0)))
    }
}

impl Shape<usize> for u64 {
    fn of(from: &usize) -> Self {
        *from as u64
    }
    fn back(self) -> Result<usize, Unreadable> {
        usize::try_from(self).map_err(|_| Unreadable(format!("{self} is too large here")))
    }
}

macro_rules! as_it_is {
    ($($name:ty),+) => { $(
        impl Shape<$name> for $name {
            fn of(from: &$name) -> Self {
                from.clone()
            }
            fn back(self) -> Result<$name, Unreadable> {
                Ok(self)
            }
        }
    )+ };
}
as_it_is!(bool, u16, u32, u64, String);

impl<T, S: Shape<T>> Shape<Option<T>> for Option<S> {
    fn of(from: &Option<T>) -> Self {
        from.as_ref().map(S::of)
    }
    fn back(self) -> Result<Option<T>, Unreadable> {
        self.map(S::back).transpose()
    }
}

impl<T, S: Shape<T>> Shape<Vec<T>> for Vec<S> {
    fn of(from: &Vec<T>) -> Self {
        from.iter().map(S::of).collect()
    }
    fn back(self) -> Result<Vec<T>, Unreadable> {
        self.into_iter().map(S::back).collect()
    }
}

impl<A, B, SA: Shape<A>, SB: Shape<B>> Shape<(A, B)> for (SA, SB) {
    fn of(from: &(A, B)) -> Self {
        (SA::of(&from.0), SB::of(&from.1))
    }
    fn back(self) -> Result<(A, B), Unreadable> {
        Ok((self.0.back()?, self.1.back()?))
    }
}

impl<A, B, C, SA: Shape<A>, SB: Shape<B>, SC: Shape<C>> Shape<(A, B, C)> for (SA, SB, SC) {
    fn of(from: &(A, B, C)) -> Self {
        (SA::of(&from.0), SB::of(&from.1), SC::of(&from.2))
    }
    fn back(self) -> Result<(A, B, C), Unreadable> {
        Ok((self.0.back()?, self.1.back()?, self.2.back()?))
    }
}

/// Declares a stored shape. Its keys are listed one by one, and a field that
/// the type in `study` gains or loses stops the build here, so that nothing is
/// dropped on the way to the file.
macro_rules! shape {
    (
        $(#[$meta:meta])*
        $name:ident of $target:ident { $($(#[$note:meta])* $field:ident: $stored:ty),+ $(,)? }
    ) => {
        $(#[$meta])*
        #[derive(Debug, serde::Serialize, serde::Deserialize)]
        #[serde(deny_unknown_fields)]
        pub(crate) struct $name { $($(#[$note])* pub(crate) $field: $stored),+ }

        impl crate::stored::shape::Shape<$target> for $name {
            fn of(from: &$target) -> Self {
                let $target { $($field),+ } = from;
                Self { $($field: crate::stored::shape::Shape::of($field)),+ }
            }
            fn back(self) -> Result<$target, crate::stored::shape::Unreadable> {
                Ok($target { $($field: crate::stored::shape::Shape::back(self.$field)?),+ })
            }
        }
    };
}
pub(crate) use shape;

/// A value of a short list, kept as the word that people read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub(crate) struct Word(pub(crate) String);

/// Declares that a list of `study` is kept by its words.
macro_rules! words {
    ($($target:path),+ $(,)?) => { $(
        impl crate::stored::shape::Shape<$target> for crate::stored::shape::Word {
            fn of(from: &$target) -> Self {
                Self(from.word().to_owned())
            }
            fn back(self) -> Result<$target, crate::stored::shape::Unreadable> {
                <$target>::from_word(&self.0).ok_or_else(|| {
                    crate::stored::shape::Unreadable(format!(
                        "`{}` is no word of {}", self.0, stringify!($target)
                    ))
                })
            }
        }
    )+ };
}
pub(crate) use words;

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_finite_number_comes_back_to_the_bit(bits in any::<u64>()) {
            let number = f64::from_bits(bits);
            let text = serde_json::to_string(&Real(number));
            if number.is_finite() {
                let back: Real = serde_json::from_str(&text.unwrap()).unwrap();
                prop_assert_eq!(back.0.to_bits(), bits);
            } else {
                prop_assert!(text.is_err());
            }
        }

        #[test]
        fn every_seed_comes_back(seed in any::<u64>()) {
            prop_assert_eq!(<Decimal as Shape<u64>>::of(&seed).back().unwrap(), seed);
        }
    }

    #[test]
    fn a_null_is_not_a_number() {
        assert!(serde_json::from_str::<Real>("null").is_err());
    }
}

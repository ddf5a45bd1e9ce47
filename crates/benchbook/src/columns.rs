//! Columns of samples as bytes: little-endian binary64, one after the other.

use crate::stored::Unreadable;

/// Bytes of a column; every sample must be a finite number.
pub(crate) fn to_bytes(samples: &[f64]) -> Result<Vec<u8>, Unreadable> {
    if let Some(at) = samples.iter().position(|sample| !sample.is_finite()) {
        return Err(Unreadable(format!(
            "sample {} is {}, not a finite number",
            at + 1,
            samples[at]
        )));
    }
    Ok(samples.iter().flat_map(|sample| sample.to_le_bytes()).collect())
}

/// Column of `n` samples from its bytes.
pub(crate) fn from_bytes(bytes: &[u8], n: u64) -> Result<Vec<f64>, Unreadable> {
    if u64::try_from(bytes.len()) != Ok(n.saturating_mul(8)) {
        return Err(Unreadable(format!("{} bytes where {n} samples need 8 each", bytes.len())));
    }
    let (samples, _) = bytes.as_chunks::<8>();
    Ok(samples.iter().map(|&sample| f64::from_le_bytes(sample)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn columns_come_back_to_the_bit(samples in prop::collection::vec(-1e300..1e300, 0..50)) {
            let bytes = to_bytes(&samples).unwrap();
            let back = from_bytes(&bytes, samples.len() as u64).unwrap();
            prop_assert!(samples.iter().zip(&back).all(|(a, b)| a.to_bits() == b.to_bits()));
            prop_assert_eq!(back.len(), samples.len());
        }
    }

    #[test]
    fn known_bytes() {
        // 1.5 is 0x3ff8000000000000 (IEEE 754 binary64, hand calculation).
        assert_eq!(to_bytes(&[1.5]).unwrap(), [0, 0, 0, 0, 0, 0, 0xf8, 0x3f]);
    }

    #[test]
    fn a_gap_and_a_wrong_length_are_refused() {
        assert!(to_bytes(&[1.0, f64::NAN]).unwrap_err().0.contains("sample 2"));
        assert!(from_bytes(&[0; 12], 1).unwrap_err().0.contains("12 bytes"));
    }
}

//! Columns of samples as bytes: little-endian binary64, one after the other;
//! and the columns of a run packed into one block without loss.
//!
//! Packed, version 1: a byte 0, or 1 where the rest is a zlib stream (RFC
//! 1950). Then for each column a byte with its predictor and eight planes of
//! `n` bytes. Plane `k` holds byte `k`, lowest first, of the residuals. A
//! residual is the bit pattern of a sample as an unsigned number less its
//! prediction, modulo 2^64, folded so that small negative ones are small:
//! `2 r` where `r >= 0`, `-2 r - 1` below, as a signed number. Predictor 0 says
//! 0, predictor 1 the pattern before, predictor 2 goes on in a straight line
//! through the two before; patterns before the first are 0.

use std::io::{Read, Write};

use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;

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

/// Shortest block that is worth a zlib stream.
const WORTH_ZLIB: usize = 256;

/// Patterns that a predictor says from the two before.
fn prediction(predictor: u8, before: u64, before_that: u64) -> u64 {
    match predictor {
        0 => 0,
        1 => before,
        _ => before.wrapping_mul(2).wrapping_sub(before_that),
    }
}

fn fold(residual: u64) -> u64 {
    let sign = if residual >> 63 == 1 { u64::MAX } else { 0 };
    (residual << 1) ^ sign
}

fn unfold(folded: u64) -> u64 {
    let sign = if folded & 1 == 1 { u64::MAX } else { 0 };
    (folded >> 1) ^ sign
}

/// Residuals of a column under a predictor.
fn residuals(samples: &[f64], predictor: u8) -> impl Iterator<Item = u64> {
    let (mut before, mut before_that) = (0_u64, 0_u64);
    samples.iter().map(move |sample| {
        let bits = sample.to_bits();
        let residual = fold(bits.wrapping_sub(prediction(predictor, before, before_that)));
        before_that = before;
        before = bits;
        residual
    })
}

/// The predictor that leaves the fewest bits.
fn best_predictor(samples: &[f64]) -> u8 {
    let bits = |predictor: u8| -> u64 {
        residuals(samples, predictor).map(|one| u64::from(64 - one.leading_zeros())).sum()
    };
    (0..3).min_by_key(|&predictor| bits(predictor)).unwrap_or(0)
}

/// Packs columns of finite samples.
pub(crate) fn pack(columns: &[&[f64]]) -> std::io::Result<Vec<u8>> {
    let length: usize = columns.iter().map(|column| 1 + 8 * column.len()).sum();
    let mut plain = Vec::with_capacity(1 + length);
    plain.push(0);
    for samples in columns {
        let predictor = best_predictor(samples);
        plain.push(predictor);
        let start = plain.len();
        let n = samples.len();
        plain.resize(start + 8 * n, 0);
        for (index, residual) in residuals(samples, predictor).enumerate() {
            for (plane, byte) in residual.to_le_bytes().into_iter().enumerate() {
                plain[start + plane * n + index] = byte;
            }
        }
    }
    if plain.len() < WORTH_ZLIB {
        return Ok(plain);
    }
    let mut encoder = ZlibEncoder::new(vec![1], Compression::fast());
    encoder.write_all(&plain[1..])?;
    let packed = encoder.finish()?;
    Ok(if packed.len() < plain.len() { packed } else { plain })
}

/// Columns of `ns` samples from their packed block, each as little-endian
/// binary64.
pub(crate) fn unpack(packed: &[u8], ns: &[u64]) -> Result<Vec<Vec<u8>>, Unreadable> {
    let wrong = |what: &str| Unreadable(format!("the packed samples {what}"));
    let mut length = 0_u64;
    for n in ns {
        length = n
            .checked_mul(8)
            .and_then(|bytes| bytes.checked_add(1)?.checked_add(length))
            .ok_or_else(|| wrong("are too many"))?;
    }
    let (kind, rest) = packed.split_first().ok_or_else(|| wrong("are missing"))?;
    let inflated;
    let plain = match kind {
        0 => rest,
        1 => {
            let mut bytes = Vec::new();
            // One byte more than expected shows a block that is too long.
            ZlibDecoder::new(rest)
                .take(length.saturating_add(1))
                .read_to_end(&mut bytes)
                .map_err(|error| wrong(&format!("cannot be inflated: {error}")))?;
            inflated = bytes;
            inflated.as_slice()
        }
        _ => return Err(wrong("are of an unknown kind")),
    };
    if plain.len() as u64 != length {
        return Err(wrong("do not have the length that the run says"));
    }
    let mut rest = plain;
    let mut columns = Vec::with_capacity(ns.len());
    for n in ns {
        let n = usize::try_from(*n).map_err(|_| wrong("are too many"))?;
        let (predictor, planes) = rest.split_first().ok_or_else(|| wrong("end too early"))?;
        if *predictor > 2 {
            return Err(wrong("name an unknown predictor"));
        }
        let (planes, next) = planes.split_at(8 * n);
        rest = next;
        let (mut before, mut before_that) = (0_u64, 0_u64);
        let mut bytes = Vec::with_capacity(8 * n);
        for index in 0..n {
            let mut folded = [0; 8];
            for (plane, byte) in folded.iter_mut().enumerate() {
                *byte = planes[plane * n + index];
            }
            let said = prediction(*predictor, before, before_that);
            let bits = unfold(u64::from_le_bytes(folded)).wrapping_add(said);
            before_that = before;
            before = bits;
            bytes.extend_from_slice(&bits.to_le_bytes());
        }
        columns.push(bytes);
    }
    Ok(columns)
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

    proptest! {
        #[test]
        fn packed_columns_come_back_to_the_bit(
            bits in prop::collection::vec(any::<u64>(), 0..80),
            walk in prop::collection::vec(-1.0..1.0_f64, 0..400),
            step in 1e-6..10.0_f64,
        ) {
            let any: Vec<f64> = bits.iter().map(|&bits| f64::from_bits(bits)).collect();
            let even: Vec<f64> = (0..walk.len()).map(|i| step * i as f64).collect();
            let columns = [any.as_slice(), walk.as_slice(), even.as_slice()];
            let packed = pack(&columns).unwrap();
            let ns: Vec<u64> = columns.iter().map(|column| column.len() as u64).collect();
            let back = unpack(&packed, &ns).unwrap();
            for (column, bytes) in columns.iter().zip(back) {
                let expected: Vec<u8> = column.iter().flat_map(|x| x.to_le_bytes()).collect();
                prop_assert_eq!(bytes, expected);
            }
        }

        #[test]
        fn hostile_blocks_never_panic(
            bytes in prop::collection::vec(any::<u8>(), 0..60),
            ns in prop::collection::vec(any::<u64>(), 0..3),
        ) {
            let _ = unpack(&bytes, &ns);
        }
    }

    #[test]
    fn even_times_and_quiet_readings_pack_well() {
        let times: Vec<f64> = (0..1_501).map(|i| f64::from(i) * 0.02).collect();
        let readings: Vec<f64> = times.iter().map(|t| 100.0 + 0.3 * t).collect();
        let packed = pack(&[&times, &readings]).unwrap();
        assert!(packed.len() * 5 < 16 * 1_501, "{} bytes", packed.len());
    }

    #[test]
    fn a_bomb_is_refused() {
        let mut encoder = ZlibEncoder::new(vec![1], Compression::fast());
        encoder.write_all(&vec![0; 10_000_000]).unwrap();
        let bomb = encoder.finish().unwrap();
        assert!(unpack(&bomb, &[4]).is_err());
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

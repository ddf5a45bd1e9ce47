//! Base64 with padding, RFC 4648 section 4.

const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// Text of bytes.
pub(crate) fn encode(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let at = |index: usize| u32::from(chunk.get(index).copied().unwrap_or(0));
        let group = at(0) << 16 | at(1) << 8 | at(2);
        for place in 0..4 {
            if place <= chunk.len() {
                let index = (group >> (18 - 6 * place)) & 63;
                text.push(char::from(ALPHABET[index as usize]));
            } else {
                text.push('=');
            }
        }
    }
    text
}

/// Bytes of a text; `None` where it is not exactly what [`encode`] writes.
pub(crate) fn decode(text: &str) -> Option<Vec<u8>> {
    if !text.len().is_multiple_of(4) {
        return None;
    }
    let body = text.trim_end_matches('=');
    let mut bytes = Vec::with_capacity(text.len() / 4 * 3);
    let (mut group, mut bits) = (0_u32, 0);
    for letter in body.bytes() {
        let index = ALPHABET.iter().position(|&known| known == letter)?;
        group = group << 6 | u32::try_from(index).ok()?;
        bits += 6;
        if bits >= 8 {
            bits -= 8;
            bytes.push(u8::try_from(group >> bits & 255).ok()?);
        }
    }
    // One text for one value: no stray bits, no other padding.
    (encode(&bytes) == text).then_some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn published_examples() {
        // RFC 4648 section 10.
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(encode(plain.as_bytes()), coded);
            assert_eq!(decode(coded).unwrap(), plain.as_bytes());
        }
        for wrong in ["Zg=", "Zg", "Zh==", "Z===", "====", "Zm9v\n", "Zm9*"] {
            assert_eq!(decode(wrong), None, "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn bytes_come_back(bytes in prop::collection::vec(any::<u8>(), 0..80)) {
            prop_assert_eq!(decode(&encode(&bytes)), Some(bytes));
        }
    }
}

//! Rows read many at once: SQLite joins a page of them into one row, because
//! handing over each by itself takes longer than hashing it.
//!
//! Joined texts are told apart by line feeds, which no stored text of ours
//! holds. Where a page does not fall into as many pieces as it has rows,
//! somebody put one in, and that is a finding by itself.

/// The last row of a page, after the one before it. In a damaged file a search for
/// later rows may give earlier ones, and reading would never end.
pub(super) fn later(after: i64, last: i64) -> Result<i64, sqlx::Error> {
    if last > after {
        return Ok(last);
    }
    Err(sqlx::Error::Protocol(format!(
        "the file is damaged: row {last} stands after row {after}, so that its rows cannot be read \
         in order"
    )))
}

/// Pieces of a joined column; `None` where they are not `n`.
pub(super) fn pieces(joined: &str, n: usize) -> Option<Vec<&str>> {
    let pieces: Vec<&str> = joined.split('\n').collect();
    (pieces.len() == n).then_some(pieces)
}

/// Whole numbers of a joined column.
pub(super) fn numbers(joined: &str, n: usize) -> Option<Vec<i64>> {
    pieces(joined, n)?.into_iter().map(|piece| piece.parse().ok()).collect()
}

/// Hashes of a column of hexadecimal digits joined without a mark.
pub(super) fn hashes(joined: &str, n: usize) -> Option<Vec<[u8; 32]>> {
    let bytes = joined.as_bytes();
    if bytes.len() != 64 * n {
        return None;
    }
    bytes
        .chunks_exact(64)
        .map(|digits| {
            let mut hash = [0; 32];
            for (byte, pair) in hash.iter_mut().zip(digits.chunks_exact(2)) {
                *byte = digit(pair[0])? << 4 | digit(pair[1])?;
            }
            Some(hash)
        })
        .collect()
}

/// Bytes of hexadecimal digits.
pub(super) fn bytes(digits: &str) -> Option<Vec<u8>> {
    let digits = digits.as_bytes();
    if !digits.len().is_multiple_of(2) {
        return None;
    }
    digits.chunks_exact(2).map(|pair| Some(digit(pair[0])? << 4 | digit(pair[1])?)).collect()
}

/// A hash of hexadecimal digits as they stand in an event: lower case only.
pub(super) fn hash(digits: &str) -> Option<[u8; 32]> {
    if digits.bytes().any(|byte| byte.is_ascii_uppercase()) {
        return None;
    }
    hashes(digits, 1)?.pop()
}

fn digit(byte: u8) -> Option<u8> {
    match byte {
        b'0'..=b'9' => Some(byte - b'0'),
        b'A'..=b'F' => Some(byte - b'A' + 10),
        b'a'..=b'f' => Some(byte - b'a' + 10),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_that_do_not_move_on_are_no_page() {
        assert_eq!(later(7, 8).ok(), Some(8));
        assert!(later(7, 7).is_err() && later(7, 2).is_err());
        assert!(later(i64::MIN, 1).is_ok());
    }
}

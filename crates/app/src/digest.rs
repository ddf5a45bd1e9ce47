//! Digests as text.

use sha2::{Digest, Sha256};

/// SHA-256 of some bytes, hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

/// Bytes as hexadecimal text.
pub fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

//! Merkle tree of RFC 6962 (section 2.1; the same in RFC 9162): the root over
//! the events, proofs that an event is in it, proofs that a later tree only
//! appends to an earlier one.
//!
//! leaf = SHA-256(0x00 || event), node = SHA-256(0x01 || left || right); the
//! left subtree takes the largest power of two that is less than the size.

use crate::digest::sha256;

/// A hash in the tree.
pub(crate) type Hash = [u8; 32];

/// Hash of an event as a leaf.
pub(crate) fn leaf_hash(event: &[u8]) -> Hash {
    let mut bytes = Vec::with_capacity(event.len() + 1);
    bytes.push(0);
    bytes.extend_from_slice(event);
    sha256(&bytes)
}

fn node_hash(left: &Hash, right: &Hash) -> Hash {
    let mut bytes = [1; 65];
    bytes[1..33].copy_from_slice(left);
    bytes[33..].copy_from_slice(right);
    sha256(&bytes)
}

/// The tree as it grows: roots of the complete subtrees, largest first, as the
/// binary digits of the size say.
#[derive(Debug, Clone, Default)]
pub(crate) struct GrowingTree {
    size: u64,
    complete: Vec<Hash>,
}

impl GrowingTree {
    /// Appends a leaf.
    pub(crate) fn push(&mut self, leaf: Hash) {
        let mut hash = leaf;
        // Each trailing one of the size is a complete subtree to join with.
        let mut rest = self.size;
        while rest & 1 == 1 {
            if let Some(left) = self.complete.pop() {
                hash = node_hash(&left, &hash);
            }
            rest >>= 1;
        }
        self.complete.push(hash);
        self.size += 1;
    }

    /// Number of leaves.
    pub(crate) const fn size(&self) -> u64 {
        self.size
    }

    /// Root of the tree; of the empty one the SHA-256 of nothing.
    pub(crate) fn root(&self) -> Hash {
        let mut subtrees = self.complete.iter().rev();
        let Some(last) = subtrees.next() else { return sha256(b"") };
        subtrees.fold(*last, |right, left| node_hash(left, &right))
    }
}

/// Root over leaves.
pub(crate) fn root(leaves: &[Hash]) -> Hash {
    let mut tree = GrowingTree::default();
    for leaf in leaves {
        tree.push(*leaf);
    }
    tree.root()
}

/// Where a tree of `n > 1` leaves is divided.
fn split(n: usize) -> usize {
    let power = n.next_power_of_two();
    power / 2
}

/// Hashes that lead from leaf `index` to the root, lowest first (RFC 6962,
/// 2.1.1). Empty where the tree has no such leaf.
pub(crate) fn inclusion_proof(leaves: &[Hash], index: usize) -> Vec<Hash> {
    let n = leaves.len();
    if index >= n || n == 1 {
        return Vec::new();
    }
    let k = split(n);
    let (mut proof, other) = if index < k {
        (inclusion_proof(&leaves[..k], index), root(&leaves[k..]))
    } else {
        (inclusion_proof(&leaves[k..], index - k), root(&leaves[..k]))
    };
    proof.push(other);
    proof
}

/// Root to which a leaf and its proof lead; `None` where the proof has the
/// wrong length for the size.
pub(crate) fn root_from_inclusion(
    leaf: Hash,
    index: u64,
    size: u64,
    proof: &[Hash],
) -> Option<Hash> {
    if index >= size {
        return None;
    }
    // `node` and `last` are positions on the present level (RFC 9162, 2.1.3.2).
    let (mut node, mut last, mut hash) = (index, size - 1, leaf);
    for sibling in proof {
        if last == 0 {
            return None;
        }
        if node & 1 == 1 || node == last {
            hash = node_hash(sibling, &hash);
            while node & 1 == 0 && node != 0 {
                node >>= 1;
                last >>= 1;
            }
        } else {
            hash = node_hash(&hash, sibling);
        }
        node >>= 1;
        last >>= 1;
    }
    (last == 0).then_some(hash)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::digest::hex;
    use proptest::prelude::*;

    /// Leaf inputs and roots of the first 0 to 8 leaves, as published with the
    /// Certificate Transparency reference implementation; recomputed with a
    /// short independent program (Python, hashlib) after the definition in
    /// RFC 6962 section 2.1.
    const ENTRIES: [&[u8]; 8] = [
        b"",
        b"\x00",
        b"\x10",
        b"\x20\x21",
        b"\x30\x31",
        b"\x40\x41\x42\x43",
        b"\x50\x51\x52\x53\x54\x55\x56\x57",
        b"\x60\x61\x62\x63\x64\x65\x66\x67\x68\x69\x6a\x6b\x6c\x6d\x6e\x6f",
    ];
    const ROOTS: [&str; 9] = [
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
        "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
        "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
        "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
        "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
    ];

    #[test]
    fn published_roots() {
        let leaves: Vec<Hash> = ENTRIES.iter().map(|entry| leaf_hash(entry)).collect();
        for (n, expected) in ROOTS.iter().enumerate() {
            assert_eq!(hex(&root(&leaves[..n])), *expected, "{n} leaves");
        }
    }

    fn some_leaves(n: usize) -> Vec<Hash> {
        (0..n).map(|i| leaf_hash(&i.to_be_bytes())).collect()
    }

    #[test]
    fn every_leaf_of_every_small_tree_is_proven() {
        for n in 1..=40 {
            let leaves = some_leaves(n);
            let expected = root(&leaves);
            for index in 0..n {
                let proof = inclusion_proof(&leaves, index);
                let led = |leaf, index, size| root_from_inclusion(leaf, index, size, &proof);
                let (i, size) = (index as u64, n as u64);
                assert_eq!(led(leaves[index], i, size), Some(expected), "{index} of {n}");
                // Controls: another leaf, another place, another length fail.
                assert_ne!(led(leaf_hash(b"other"), i, size), Some(expected));
                if n > 1 {
                    assert_ne!(led(leaves[index], (i + 1) % size, size), Some(expected));
                    let short = &proof[1..];
                    assert_ne!(root_from_inclusion(leaves[index], i, size, short), Some(expected));
                }
            }
        }
    }

    /// SHA-256 over the roots of `n` logs of up to 96 events, here and in the
    /// second verifier; `None` without Python.
    fn roots_here_and_there(n: usize) -> Option<(String, String)> {
        let mut roots = Vec::with_capacity(32 * n);
        for log in 0..n {
            let leaves: Vec<Hash> =
                (0..log % 97).map(|i| leaf_hash(format!("{log}:{i}").as_bytes())).collect();
            roots.extend_from_slice(&root(&leaves));
        }
        let tools = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tools");
        let program = format!(
            "import hashlib, verify_benchbook as v\n\
             total = hashlib.sha256()\n\
             for log in range({n}):\n    \
                 total.update(v.tree_root([v.sha256(b'\\0' + f'{{log}}:{{i}}'.encode())\n        \
                     for i in range(log % 97)]))\n\
             print(total.hexdigest())"
        );
        let output = std::process::Command::new("python3")
            .args(["-B", "-c", &program])
            .env("PYTHONPATH", tools)
            .output()
            .ok()?;
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let there = String::from_utf8_lossy(&output.stdout).trim().to_owned();
        Some((hex(&sha256(&roots)), there))
    }

    #[test]
    fn two_programs_agree_on_many_logs() {
        match roots_here_and_there(2_000) {
            Some((here, there)) => assert_eq!(here, there),
            None => println!("skipped: no python3 here"),
        }
    }

    #[test]
    #[ignore = "half a minute; run by name"]
    fn two_programs_agree_on_a_hundred_thousand_logs() {
        if let Some((here, there)) = roots_here_and_there(100_000) {
            assert_eq!(here, there);
        }
    }

    /// The definition of RFC 6962, word for word.
    fn root_by_definition(leaves: &[Hash]) -> Hash {
        match leaves {
            [] => sha256(b""),
            [only] => *only,
            many => {
                let mut k = 1;
                while k * 2 < many.len() {
                    k *= 2;
                }
                node_hash(&root_by_definition(&many[..k]), &root_by_definition(&many[k..]))
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn growing_is_the_definition(n in 0_usize..300) {
            let leaves = some_leaves(n);
            prop_assert_eq!(root(&leaves), root_by_definition(&leaves));
        }
    }
}

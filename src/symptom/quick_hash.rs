//! A fast hash for the tables of an index.
//!
//! Takes the bytes of short words and small numbers. Not proof against keys chosen to collide: the tables hold the words
//! of the knowledge, never typed text.

use std::hash::{BuildHasherDefault, Hasher};

/// A map with the fast hash.
pub(super) type Map<K, V> = std::collections::HashMap<K, V, BuildHasherDefault<QuickHasher>>;
/// A set with the fast hash.
pub(super) type Set<K> = std::collections::HashSet<K, BuildHasherDefault<QuickHasher>>;

/// Multiplies and folds the two halves of the product, eight bytes at a time.
#[derive(Default)]
pub(super) struct QuickHasher(u64);

/// An odd number without pattern: 2^64 divided by the golden ratio.
const MULTIPLIER: u64 = 0x9e37_79b9_7f4a_7c15;

impl QuickHasher {
    fn add(&mut self, value: u64) {
        let product = u128::from(self.0 ^ value) * u128::from(MULTIPLIER);
        self.0 = (product as u64) ^ ((product >> 64) as u64);
    }
}

impl Hasher for QuickHasher {
    fn write(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(8) {
            let mut eight = [0u8; 8];
            eight[..chunk.len()].copy_from_slice(chunk);
            self.add(u64::from_le_bytes(eight));
        }
    }

    fn write_u8(&mut self, value: u8) {
        self.add(u64::from(value));
    }

    fn write_u32(&mut self, value: u32) {
        self.add(u64::from(value));
    }

    fn finish(&self) -> u64 {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn like_words_spread_over_the_table() {
        let mut seen: Set<u64> = Set::default();
        let mut hash = |word: String| {
            let mut hasher = QuickHasher::default();
            hasher.write(word.as_bytes());
            hasher.write_u8(0xff);
            seen.insert(hasher.finish() & 0xffff)
        };
        let fresh = (0..2000).filter(|n| hash(format!("lamp{n}"))).count();
        assert!(fresh > 1900, "{fresh} of 2000 differ in the low bits");
    }
}

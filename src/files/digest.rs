//! A digest of texts: whether a file is still what it was.

use std::fmt::Write;

use sha2::{Digest, Sha256};

/// The SHA-256 (FIPS 180-4) of texts one after the other, in hexadecimal digits.
pub fn digest(texts: &[&str]) -> String {
    let mut hash = Sha256::new();
    for text in texts {
        hash.update(text.as_bytes());
    }
    let mut digits = String::new();
    for byte in hash.finalize() {
        // Writing into a `String` cannot fail.
        let _ = write!(digits, "{byte:02x}");
    }
    digits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_digest_is_that_of_the_standard() {
        // FIPS 180-2, appendix B.1: the message "abc" (from memory).
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(digest(&["a", "bc"]), abc);
    }
}

//! The form of a token: `subimago_`, 32 random bytes in base 62, and a CRC-32 of what precedes. The keys of
//! secret feed addresses and of sessions have the same form behind other beginnings, so that none is ever taken for another.

use sha2::{Digest, Sha256};

use super::AppError;

const PREFIX: &str = "subimago_";
const FEED_PREFIX: &str = "feed_";
const SESSION_PREFIX: &str = "desk_";
const ALPHABET: &[u8; 62] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";
const BODY_LENGTH: usize = 43;
const CHECK_LENGTH: usize = 6;

/// A new secret.
///
/// # Errors
/// [`AppError::Internal`] when the system gives no random bytes.
pub fn make() -> Result<String, AppError> {
    make_behind(PREFIX)
}

/// A new key of a secret feed address.
///
/// # Errors
/// [`AppError::Internal`] when the system gives no random bytes.
pub fn make_feed_key() -> Result<String, AppError> {
    make_behind(FEED_PREFIX)
}

/// A new key of a keeper's session at the desk.
///
/// # Errors
/// [`AppError::Internal`] when the system gives no random bytes.
pub(super) fn make_session_key() -> Result<String, AppError> {
    make_behind(SESSION_PREFIX)
}

/// SHA-256 of a session's key whose form and checksum are right; `None` otherwise.
pub(super) fn hash_session_key(key: &str) -> Option<[u8; 32]> {
    hash_behind(SESSION_PREFIX, key)
}

fn make_behind(prefix: &str) -> Result<String, AppError> {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).map_err(|error| AppError::Internal(format!("no random bytes: {error}")))?;
    let head = format!("{prefix}{}", base62(&bytes, BODY_LENGTH));
    let check = base62(&crc32fast::hash(head.as_bytes()).to_be_bytes(), CHECK_LENGTH);
    Ok(head + &check)
}

/// SHA-256 of a secret whose form and checksum are right; `None` otherwise.
#[must_use]
pub fn hash(secret: &str) -> Option<[u8; 32]> {
    hash_behind(PREFIX, secret)
}

/// SHA-256 of a key of a feed address whose form and checksum are right; `None` otherwise.
#[must_use]
pub fn hash_feed_key(key: &str) -> Option<[u8; 32]> {
    hash_behind(FEED_PREFIX, key)
}

fn hash_behind(prefix: &str, secret: &str) -> Option<[u8; 32]> {
    let whole = secret.len() == prefix.len() + BODY_LENGTH + CHECK_LENGTH && secret.is_ascii();
    let (head, check) = secret.split_at_checked(prefix.len() + BODY_LENGTH).filter(|_| whole)?;
    let right =
        head.starts_with(prefix) && base62(&crc32fast::hash(head.as_bytes()).to_be_bytes(), CHECK_LENGTH) == check;
    right.then(|| Sha256::digest(secret).into())
}

fn base62(bytes: &[u8], width: usize) -> String {
    let mut digits = vec![0_u8; width];
    for byte in bytes {
        let mut carry = u32::from(*byte);
        for digit in digits.iter_mut().rev() {
            carry += u32::from(*digit) * 256;
            *digit = (carry % 62) as u8;
            carry /= 62;
        }
    }
    digits.iter().map(|digit| char::from(ALPHABET[usize::from(*digit)])).collect()
}

#[cfg(test)]
mod tests;

//! Access tokens: making, listing, revoking and checking them.
//!
//! A token is `subimago_`, 32 random bytes in base 62 (43 characters), and the CRC-32 of all that
//! in base 62 (6 characters). The fixed beginning lets scanners find a leaked token, the checksum
//! lets us refuse a mistyped one without asking the database, and 256 random bits are why a plain
//! SHA-256 is enough to keep.

use std::fmt;

use chrono::{DateTime, TimeDelta, Utc};
use sha2::{Digest as _, Sha256};
use thiserror::Error;
use uuid::Uuid;

use crate::domain::token::{Role, Token};
use crate::domain::{Invalid, Slug};
use crate::store::token::{find_token, find_token_by_hash, insert_token, revoke_token, tokens, touch_token};
use crate::store::{Db, StoreError, Tx};

/// How every token begins.
const PREFIX: &str = "subimago_";
/// Random bytes in a token.
const RANDOM_BYTES: usize = 32;
/// Their characters: 62^43 is the first power of 62 above 2^256.
const RANDOM_CHARS: usize = 43;
/// Characters of the checksum: 62^6 is the first power of 62 above 2^32.
const CHECK_CHARS: usize = 6;
/// The digits of base 62.
const DIGITS: &[u8; 62] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";

/// Days that a token holds unless said otherwise.
pub const DEFAULT_DAYS: u32 = 365;
/// Most days that a token can be asked to hold.
pub const MOST_DAYS: u32 = 3650;
/// Longest name.
pub const NAME_MAX: usize = 100;

/// Why a token use case failed.
#[derive(Debug, Error)]
pub enum TokenError {
    /// The text is no token that holds now. The caller learns no more than this.
    #[error("the token is not valid")]
    Refused(#[source] Refusal),
    /// What was asked for breaks a rule.
    #[error("the token cannot be made")]
    Invalid(#[source] Invalid),
    /// The issuer may not act for that watershed.
    #[error("not a keeper of watershed {0:?}")]
    NotKeeper(String),
    /// No token of that id that the issuer may see.
    #[error("there is no token {0}")]
    NotFound(Uuid),
    /// The machine gave no random bytes.
    #[error("no random bytes to be had")]
    Random(#[source] getrandom::Error),
    /// The store failed.
    #[error("tokens could not be read or written")]
    Store(#[from] StoreError),
}

/// Why a token was refused; for the log, not for the caller.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum Refusal {
    /// Not of the form of a token, or its checksum is wrong. The database was not asked.
    #[error("not of the form of a token")]
    Malformed,
    /// Nobody was given it.
    #[error("unknown")]
    Unknown,
    /// It was revoked.
    #[error("revoked")]
    Revoked,
    /// Its time is over.
    #[error("expired")]
    Expired,
}

/// The secret text of a token: shown once, never stored. `Debug` hides it and there is no `Display`.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    /// The text, to be handed to its owner.
    #[must_use]
    pub fn expose(&self) -> &str {
        &self.0
    }

    fn of_bytes(bytes: &[u8; RANDOM_BYTES]) -> Self {
        let mut text = String::from(PREFIX);
        text.push_str(&base62(bytes, RANDOM_CHARS));
        let check = checksum(&text);
        text.push_str(&check);
        Self(text)
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(hidden)")
    }
}

/// Who makes, lists or revokes tokens.
#[derive(Debug, Clone, Copy)]
pub enum Issuer<'a> {
    /// At the command line: everything.
    Operator,
    /// A keeper: tokens bound to nothing but watersheds of their own.
    Keeper(&'a Token),
}

impl Issuer<'_> {
    /// The first of `watersheds` that is not the issuer's.
    fn stranger(self, watersheds: &[Slug]) -> Option<&Slug> {
        match self {
            Self::Operator => None,
            Self::Keeper(token) if token.role == Role::Keeper => {
                watersheds.iter().find(|watershed| !token.watersheds.contains(watershed))
            }
            Self::Keeper(_) => watersheds.first(),
        }
    }
}

/// A token to be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewToken {
    /// Who or what it is for, 1 to [`NAME_MAX`] characters, no control characters.
    pub name: String,
    /// Role.
    pub role: Role,
    /// Watersheds to bind it to, at least one.
    pub watersheds: Vec<Slug>,
    /// Days it holds, 1 to [`MOST_DAYS`].
    pub days: u32,
}

/// Makes a token. The secret is told here and never again.
///
/// # Errors
/// [`TokenError::Invalid`], [`TokenError::NotKeeper`], [`TokenError::Random`], or
/// [`TokenError::Store`] with [`StoreError::UnknownReference`] for a watershed.
pub async fn create(
    tx: &mut Tx,
    issuer: Issuer<'_>,
    new: &NewToken,
    now: DateTime<Utc>,
) -> Result<(Token, Secret), TokenError> {
    check(new).map_err(TokenError::Invalid)?;
    if let Some(stranger) = issuer.stranger(&new.watersheds) {
        return Err(TokenError::NotKeeper(stranger.to_string()));
    }
    let mut bytes = [0; RANDOM_BYTES];
    getrandom::fill(&mut bytes).map_err(TokenError::Random)?;
    let secret = Secret::of_bytes(&bytes);
    let token = Token {
        id: Uuid::new_v4(),
        name: new.name.trim().to_owned(),
        role: new.role,
        watersheds: new.watersheds.clone(),
        created_at: now,
        expires_at: now + TimeDelta::days(i64::from(new.days)),
        revoked_at: None,
        last_used_date: None,
    };
    insert_token(tx, &token, &hash(secret.expose())).await?;
    let stored = find_token(tx, token.id).await?.ok_or(TokenError::NotFound(token.id))?;
    Ok((stored, secret))
}

fn check(new: &NewToken) -> Result<(), Invalid> {
    let name = new.name.trim();
    if name.is_empty() || name.chars().count() > NAME_MAX || name.chars().any(char::is_control) {
        return Err(Invalid::new("name", &new.name, "use 1 to 100 characters on one line"));
    }
    if new.watersheds.is_empty() {
        return Err(Invalid::new("watersheds", "", "name at least one watershed"));
    }
    if !(1..=MOST_DAYS).contains(&new.days) {
        return Err(Invalid::new("days", new.days, "a token holds 1 to 3650 days"));
    }
    Ok(())
}

/// The tokens that the issuer may see, oldest first, ended ones included; without secrets.
///
/// # Errors
/// [`TokenError::Store`].
pub async fn list(tx: &mut Tx, issuer: Issuer<'_>) -> Result<Vec<Token>, TokenError> {
    let mut all = tokens(tx, None).await?;
    all.retain(|token| issuer.stranger(&token.watersheds).is_none());
    Ok(all)
}

/// Revokes a token: it is refused from the next request on. Revoking twice is no error.
///
/// # Errors
/// [`TokenError::NotFound`] also for a token that the issuer may not see; [`TokenError::Store`].
pub async fn revoke(tx: &mut Tx, issuer: Issuer<'_>, id: Uuid, now: DateTime<Utc>) -> Result<(), TokenError> {
    let token = find_token(tx, id).await?.ok_or(TokenError::NotFound(id))?;
    if issuer.stranger(&token.watersheds).is_some() {
        return Err(TokenError::NotFound(id));
    }
    revoke_token(tx, id, now).await?;
    Ok(())
}

/// The token that `text` is the secret of, if it holds at `now`. Notes the day of use.
///
/// # Errors
/// [`TokenError::Refused`]; a text of the wrong form or checksum is refused without asking the
/// database. [`TokenError::Store`].
pub async fn verify(db: &Db, text: &str, now: DateTime<Utc>) -> Result<Token, TokenError> {
    let refuse = |refusal| Err(TokenError::Refused(refusal));
    if !well_formed(text) {
        return refuse(Refusal::Malformed);
    }
    let mut tx = db.read().await?;
    let found = find_token_by_hash(&mut tx, &hash(text)).await?;
    drop(tx);
    let Some(token) = found else { return refuse(Refusal::Unknown) };
    if token.revoked_at.is_some() {
        return refuse(Refusal::Revoked);
    }
    if now >= token.expires_at {
        return refuse(Refusal::Expired);
    }
    let today = now.date_naive();
    if token.last_used_date.is_none_or(|date| date < today)
        && let Err(error) = note_use(db, token.id, today).await
    {
        // A busy or full database must not lock readers out.
        tracing::warn!(token = %token.id, error = &error as &dyn std::error::Error, "day of use not noted");
    }
    Ok(token)
}

async fn note_use(db: &Db, id: Uuid, today: chrono::NaiveDate) -> Result<(), StoreError> {
    let mut tx = db.write().await?;
    touch_token(&mut tx, id, today).await?;
    tx.commit().await
}

/// Whether `text` has the form of a token and its checksum is right.
#[must_use]
pub fn well_formed(text: &str) -> bool {
    let body = PREFIX.len() + RANDOM_CHARS;
    text.len() == body + CHECK_CHARS
        && text.starts_with(PREFIX)
        && text.bytes().skip(PREFIX.len()).all(|byte| byte.is_ascii_alphanumeric())
        && text.split_at_checked(body).is_some_and(|(start, check)| checksum(start) == check)
}

fn hash(text: &str) -> [u8; 32] {
    Sha256::digest(text.as_bytes()).into()
}

fn checksum(text: &str) -> String {
    base62(&crc32fast::hash(text.as_bytes()).to_be_bytes(), CHECK_CHARS)
}

/// The big-endian number `bytes` in base 62, padded with `0` to `width` characters, which must hold it.
fn base62(bytes: &[u8], width: usize) -> String {
    let mut number = bytes.to_vec();
    let mut digits = vec![DIGITS[0]; width];
    for digit in digits.iter_mut().rev() {
        // Long division by 62 leaves the last digit.
        let mut remainder = 0_u32;
        for byte in &mut number {
            let part = remainder << 8 | u32::from(*byte);
            *byte = (part / 62) as u8;
            remainder = part % 62;
        }
        *digit = DIGITS[remainder as usize];
    }
    digits.into_iter().map(char::from).collect()
}

#[cfg(test)]
#[path = "token_tests.rs"]
mod tests;

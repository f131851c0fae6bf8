//! The form of a join code: 15 random letters of base 32 and a check letter, read aloud and typed by people, so in the
//! alphabet of Crockford (digits and capitals without I, L, O and U; form from memory), in groups of four. 75 random
//! bits, few uses and few tries are more than anyone guesses.

use sha2::{Digest, Sha256};

use super::AppError;

const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const LETTERS: usize = 15;
const GROUP: usize = 4;

/// A new code, as it is shown.
///
/// # Errors
/// [`AppError::Internal`] when the system gives no random bytes.
pub(super) fn make() -> Result<String, AppError> {
    let mut bytes = [0; LETTERS];
    getrandom::fill(&mut bytes).map_err(|error| AppError::Internal(format!("no random bytes: {error}")))?;
    let mut code: String = bytes.iter().map(|byte| letter(u32::from(*byte))).collect();
    code.push(check(&code));
    let groups: Vec<&str> = (0..code.len()).step_by(GROUP).map(|at| &code[at..at + GROUP]).collect();
    Ok(groups.join("-"))
}

/// SHA-256 of a code whose form and check letter are right, however it was typed; `None` otherwise.
pub(super) fn hash(typed: &str) -> Option<[u8; 32]> {
    let code: String = typed
        .chars()
        .filter(|letter| !letter.is_whitespace() && *letter != '-')
        .map(|letter| match letter.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            other => other,
        })
        .collect();
    let known = code.len() == LETTERS + 1 && code.bytes().all(|byte| ALPHABET.contains(&byte));
    let (head, last) = code.split_at_checked(LETTERS).filter(|_| known)?;
    last.starts_with(check(head)).then(|| Sha256::digest(&code).into())
}

fn check(head: &str) -> char {
    letter(crc32fast::hash(head.as_bytes()))
}

fn letter(number: u32) -> char {
    char::from(ALPHABET[(number % 32) as usize])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_known_however_it_is_typed_and_no_letter_may_be_wrong() {
        let code = make().expect("random bytes");
        assert_eq!(code.len(), 19);
        assert_ne!(code, make().expect("random bytes"));
        let whole = hash(&code).expect("a code");
        let typed = code.to_lowercase().replace('-', " ").replace('0', "o").replace('1', "l");
        assert_eq!(hash(&typed), Some(whole));
        for at in (0..code.len()).filter(|at| at % 5 != 4) {
            let other = if &code[at..=at] == "7" { "8" } else { "7" };
            let wrong = format!("{}{other}{}", &code[..at], &code[at + 1..]);
            assert_ne!(hash(&wrong), Some(whole), "{wrong}");
        }
        for wrong in ["", "7", &code[..18], "UUUU-UUUU-UUUU-UUUU", "ÄÄÄÄÄÄÄÄ"] {
            assert_eq!(hash(wrong), None, "{wrong}");
        }
    }
}

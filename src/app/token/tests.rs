use proptest::prelude::*;

use super::*;

/// Computed with Python's `zlib.crc32`, `int.from_bytes` and repeated `divmod` by 62, from the bytes
/// 0 to 31, 32 times 255, and 32 times 0.
const TOKENS: [&str; 3] = [
    "subimago_003aUlTJC7tjlCTQj2uNU3MFagCXG9LRKRcwGkBIDlf0IiyWS",
    "subimago_yhjskwdA6OZ1AL1YmHWZWm8LLG7HjnuCA2j5rOw8Xp12lQMRw",
    "subimago_000000000000000000000000000000000000000000017m30m",
];

#[test]
fn tokens_of_another_program_are_read() {
    let counting: [u8; 32] = std::array::from_fn(|n| n as u8);
    for (bytes, text) in [counting, [0xff; 32], [0; 32]].iter().zip(TOKENS) {
        assert_eq!(text[PREFIX.len()..][..BODY_LENGTH], base62(bytes, BODY_LENGTH));
        assert!(hash(text).is_some(), "{text}");
    }
    // From Python's `hashlib.sha256`.
    assert_eq!(hash(TOKENS[2]).map(|sha256| sha256[..4].to_vec()), Some(vec![0x28, 0xcf, 0x8b, 0x71]));
}

/// CRC-32 of "123456789" is cbf43926: the check value of CRC-32/ISO-HDLC in the catalogue of
/// parametrised CRC algorithms.
#[test]
fn the_checksum_is_the_common_crc_32() {
    assert_eq!(crc32fast::hash(b"123456789"), 0xcbf4_3926);
}

#[test]
fn base_62_is_padded_and_holds_the_largest() {
    assert_eq!(base62(&[0; 4], 6), "000000");
    assert_eq!(base62(&61_u32.to_be_bytes(), 6), "00000z");
    assert_eq!(base62(&62_u32.to_be_bytes(), 6), "000010");
    // 4294967295 = ((((4*62 + 42)*62 + 41)*62 + 15)*62 + 12)*62 + 3
    assert_eq!(base62(&u32::MAX.to_be_bytes(), 6), "4gfFC3");
}

#[test]
fn new_secrets_are_well_formed_and_differ() {
    let (a, b) = (make().expect("random bytes"), make().expect("random bytes"));
    assert_ne!(a, b);
    for secret in [a, b] {
        assert_eq!(secret.len(), 58);
        assert!(hash(&secret).is_some(), "{secret}");
    }
}

#[test]
fn parts_of_a_token_are_none() {
    for text in
        ["", PREFIX, &TOKENS[0][..57], &TOKENS[0][9..], &format!("{} ", TOKENS[0]), &format!("Bearer {}", TOKENS[0])]
    {
        assert_eq!(hash(text), None, "{text}");
    }
}

proptest! {
    #[test]
    fn any_changed_character_is_noticed(token in 0_usize..3, place in 0_usize..58, other in 0_usize..62) {
        let mut changed = TOKENS[token].as_bytes().to_vec();
        changed[place] = ALPHABET[other];
        let changed = String::from_utf8(changed).expect("ASCII");
        prop_assert_eq!(hash(&changed).is_some(), changed == TOKENS[token]);
    }

    #[test]
    fn any_other_text_is_refused_without_panic(text in "\\PC{0,70}", tail in "[0-9A-Za-z\u{e9}]{40,52}") {
        prop_assert_eq!(hash(&text), None);
        let near = format!("{PREFIX}{tail}");
        // One in 2^32 would be right by chance.
        prop_assert_eq!(hash(&near), None);
    }
}

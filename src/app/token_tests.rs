use proptest::prelude::*;

use super::*;
use crate::domain::Watershed;
use crate::store::place::upsert_watershed;

fn slug(text: &str) -> Slug {
    Slug::new(text).expect("valid")
}

fn now() -> DateTime<Utc> {
    DateTime::from_timestamp(1_800_000_000, 0).expect("valid")
}

fn new_token(role: Role, watersheds: &[&str]) -> NewToken {
    NewToken {
        name: "Club desk".to_owned(),
        role,
        watersheds: watersheds.iter().map(|name| slug(name)).collect(),
        days: DEFAULT_DAYS,
    }
}

/// A database with the watersheds `ostrey` and `bourne`, in a folder that lasts as long as the value.
async fn database() -> (Db, tempfile::TempDir) {
    let folder = tempfile::tempdir().expect("temporary folder");
    let db = Db::connect(&format!("sqlite://{}", folder.path().join("t.db").display())).await.expect("connects");
    db.migrate().await.expect("migrates");
    let mut tx = db.write().await.expect("begins");
    for name in ["ostrey", "bourne"] {
        let watershed = Watershed { slug: slug(name), name: name.to_owned(), time_zone: chrono_tz::UTC };
        upsert_watershed(&mut tx, &watershed).await.expect("stores");
    }
    tx.commit().await.expect("commits");
    (db, folder)
}

async fn made(db: &Db, issuer: Issuer<'_>, new: &NewToken) -> (Token, Secret) {
    let mut tx = db.write().await.expect("begins");
    let made = create(&mut tx, issuer, new, now()).await.expect("makes");
    tx.commit().await.expect("commits");
    made
}

/// Computed with Python's `zlib.crc32`, `int.from_bytes` and repeated `divmod` by 62.
#[test]
fn tokens_equal_those_of_another_program() {
    let counting: [u8; 32] = std::array::from_fn(|n| n as u8);
    for (bytes, text) in [
        (counting, "subimago_003aUlTJC7tjlCTQj2uNU3MFagCXG9LRKRcwGkBIDlf0IiyWS"),
        ([0xff; 32], "subimago_yhjskwdA6OZ1AL1YmHWZWm8LLG7HjnuCA2j5rOw8Xp12lQMRw"),
        ([0; 32], "subimago_000000000000000000000000000000000000000000017m30m"),
    ] {
        assert_eq!(Secret::of_bytes(&bytes).expose(), text);
        assert!(well_formed(text));
    }
    let sha256 = hash("subimago_000000000000000000000000000000000000000000017m30m");
    assert_eq!(sha256[..4], [0x28, 0xcf, 0x8b, 0x71]);
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

proptest! {
    #[test]
    fn any_changed_character_is_noticed(bytes: [u8; 32], place in 0_usize..58, other in 0_usize..62) {
        let secret = Secret::of_bytes(&bytes);
        prop_assert!(well_formed(secret.expose()));
        let mut changed = secret.expose().as_bytes().to_vec();
        changed[place] = DIGITS[other];
        let changed = String::from_utf8(changed).expect("ASCII");
        prop_assert_eq!(well_formed(&changed), changed == secret.expose());
    }

    #[test]
    fn any_text_is_looked_at_without_panic(text in "\\PC{0,70}", tail in "\\PC{0,60}") {
        prop_assert!(!well_formed(&text));
        let body = format!("{PREFIX}{tail}");
        prop_assert!(!well_formed(&body) || body.len() == 58);
    }
}

#[test]
fn a_secret_is_hidden_in_debug_output() {
    let secret = Secret::of_bytes(&[7; 32]);
    assert_eq!(format!("{secret:?} {secret:#?}"), "Secret(hidden) Secret(hidden)");
}

#[tokio::test]
async fn a_token_is_made_and_verified() {
    let (db, _folder) = database().await;
    let (token, secret) = made(&db, Issuer::Operator, &new_token(Role::Keeper, &["OSTREY"])).await;
    assert_eq!((token.created_at, token.expires_at), (now(), now() + TimeDelta::days(365)));
    let later = now() + TimeDelta::days(3);
    assert_eq!(verify(&db, secret.expose(), later).await.expect("holds"), token);
    let mut tx = db.read().await.expect("begins");
    let noted = find_token(&mut tx, token.id).await.expect("reads").expect("is there");
    assert_eq!(noted.last_used_date, Some(later.date_naive()));
}

#[tokio::test]
async fn two_tokens_differ() {
    let (db, _folder) = database().await;
    let (_, a) = made(&db, Issuer::Operator, &new_token(Role::Member, &["ostrey"])).await;
    let (_, b) = made(&db, Issuer::Operator, &new_token(Role::Member, &["ostrey"])).await;
    assert_ne!(a, b);
}

#[tokio::test]
async fn what_does_not_hold_is_refused() {
    let (db, _folder) = database().await;
    let (token, secret) = made(&db, Issuer::Operator, &new_token(Role::Member, &["ostrey"])).await;
    let refusal = async |text: &str, at| match verify(&db, text, at).await {
        Err(TokenError::Refused(refusal)) => refusal,
        other => panic!("{other:?}"),
    };
    assert_eq!(refusal(Secret::of_bytes(&[1; 32]).expose(), now()).await, Refusal::Unknown);
    assert_eq!(refusal(secret.expose(), token.expires_at).await, Refusal::Expired);
    let just_before = token.expires_at - TimeDelta::microseconds(1);
    verify(&db, secret.expose(), just_before).await.expect("holds to the end");
    let mut tx = db.write().await.expect("begins");
    revoke(&mut tx, Issuer::Operator, token.id, now()).await.expect("revokes");
    revoke(&mut tx, Issuer::Operator, token.id, now()).await.expect("again");
    tx.commit().await.expect("commits");
    assert_eq!(refusal(secret.expose(), now()).await, Refusal::Revoked);
}

#[tokio::test]
async fn a_wrong_checksum_is_refused_without_asking_the_database() {
    let (db, _folder) = database().await;
    let (_, secret) = made(&db, Issuer::Operator, &new_token(Role::Member, &["ostrey"])).await;
    db.close().await;
    let mut wrong = secret.expose().to_owned();
    let last = if wrong.pop() == Some('0') { '1' } else { '0' };
    wrong.push(last);
    for text in [wrong.as_str(), "", "subimago_", "Bearer x", secret.expose().trim_end_matches(char::is_alphanumeric)] {
        let refused = verify(&db, text, now()).await;
        assert!(matches!(refused, Err(TokenError::Refused(Refusal::Malformed))), "{refused:?}");
    }
    let asked = verify(&db, secret.expose(), now()).await;
    assert!(matches!(asked, Err(TokenError::Store(_))), "a right one is asked for, and the database is closed");
}

#[tokio::test]
async fn the_secret_is_not_in_the_database() {
    let (db, folder) = database().await;
    let (_, secret) = made(&db, Issuer::Operator, &new_token(Role::Member, &["ostrey"])).await;
    db.close().await;
    let file = std::fs::read(folder.path().join("t.db")).expect("reads");
    let holds = |part: &str| file.windows(part.len()).any(|window| window == part.as_bytes());
    assert!(holds("Club desk"), "the token is in the file");
    assert!(!holds(&secret.expose()[PREFIX.len()..]) && !holds(PREFIX));
}

#[tokio::test]
async fn a_keeper_acts_only_for_watersheds_of_their_own() {
    let (db, _folder) = database().await;
    let (keeper, _) = made(&db, Issuer::Operator, &new_token(Role::Keeper, &["ostrey"])).await;
    let (both, _) = made(&db, Issuer::Operator, &new_token(Role::Keeper, &["ostrey", "bourne"])).await;
    let (member, _) = made(&db, Issuer::Keeper(&keeper), &new_token(Role::Member, &["Ostrey"])).await;
    let mut tx = db.write().await.expect("begins");
    for (issuer, watersheds) in [(&keeper, ["ostrey", "bourne"]), (&member, ["ostrey", "ostrey"])] {
        let new = new_token(Role::Member, &watersheds);
        let refused = create(&mut tx, Issuer::Keeper(issuer), &new, now()).await;
        assert!(matches!(refused, Err(TokenError::NotKeeper(_))), "{refused:?}");
    }
    let ids = |tokens: Vec<Token>| tokens.iter().map(|token| token.id).collect::<Vec<_>>();
    let mut seen = ids(list(&mut tx, Issuer::Keeper(&keeper)).await.expect("reads"));
    let mut own = vec![keeper.id, member.id];
    seen.sort();
    own.sort();
    assert_eq!(seen, own);
    assert_eq!(list(&mut tx, Issuer::Operator).await.expect("reads").len(), 3);
    assert!(list(&mut tx, Issuer::Keeper(&member)).await.expect("reads").is_empty());
    let hidden = revoke(&mut tx, Issuer::Keeper(&keeper), both.id, now()).await;
    assert!(matches!(hidden, Err(TokenError::NotFound(id)) if id == both.id));
    revoke(&mut tx, Issuer::Keeper(&keeper), member.id, now()).await.expect("revokes");
}

#[tokio::test]
async fn rules_are_held() {
    let (db, _folder) = database().await;
    let mut tx = db.write().await.expect("begins");
    let good = new_token(Role::Member, &["ostrey"]);
    for (field, new) in [
        ("name", NewToken { name: "  ".to_owned(), ..good.clone() }),
        ("name", NewToken { name: "a\nb".to_owned(), ..good.clone() }),
        ("name", NewToken { name: "x".repeat(101), ..good.clone() }),
        ("watersheds", NewToken { watersheds: Vec::new(), ..good.clone() }),
        ("days", NewToken { days: 0, ..good.clone() }),
        ("days", NewToken { days: 3651, ..good.clone() }),
    ] {
        let refused = create(&mut tx, Issuer::Operator, &new, now()).await;
        assert!(matches!(&refused, Err(TokenError::Invalid(fault)) if fault.field == field), "{refused:?}");
    }
    let unknown = create(&mut tx, Issuer::Operator, &new_token(Role::Member, &["gone"]), now()).await;
    assert!(matches!(unknown, Err(TokenError::Store(StoreError::UnknownReference { what: "watershed", .. }))));
}

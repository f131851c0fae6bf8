//! Tokens.

use subimago::domain::Watershed;
use subimago::domain::token::{Role, Token};
use subimago::store::{StoreError, place, token};
use uuid::Uuid;

use crate::support::{at, contract, date, lay_out, member, ostrey, slug};

contract! {
    async fn a_token_is_found_by_the_hash_of_its_secret(db) {
        let mut tx = db.write().await.expect("begins");
        lay_out(&mut tx).await;
        place::upsert_watershed(&mut tx, &Watershed { slug: slug("Bourne"), ..ostrey() }).await.expect("stores");
        let keeper = Token {
            role: Role::Keeper,
            watersheds: vec![slug("bourne"), slug("ostrey")],
            revoked_at: Some(at(7)),
            last_used_date: Some(date(2027, 5, 6)),
            ..member("keeper")
        };
        let plain = Token { created_at: at(1), ..member("plain") };
        token::insert_token(&mut tx, &keeper, &[0xff; 32]).await.expect("stores");
        token::insert_token(&mut tx, &plain, &[0x0a; 32]).await.expect("stores");
        let found = token::find_token_by_hash(&mut tx, &[0xff; 32]).await.expect("reads");
        assert_eq!(found.as_ref(), Some(&keeper));
        assert_eq!(token::find_token_by_hash(&mut tx, &[0; 32]).await.expect("reads"), None);
        assert_eq!(token::find_token(&mut tx, plain.id).await.expect("reads"), Some(plain.clone()));
        assert_eq!(token::tokens(&mut tx, None).await.expect("reads"), [keeper.clone(), plain]);
        assert_eq!(token::tokens(&mut tx, Some(&slug("BOURNE"))).await.expect("reads"), [keeper]);
    }
}

contract! {
    async fn revoking_ends_a_token_once(db) {
        let mut tx = db.write().await.expect("begins");
        lay_out(&mut tx).await;
        let stored = member("a");
        token::insert_token(&mut tx, &stored, &[1; 32]).await.expect("stores");
        assert!(token::revoke_token(&mut tx, stored.id, at(4)).await.expect("revokes"));
        assert!(!token::revoke_token(&mut tx, stored.id, at(9)).await.expect("asks"));
        assert!(!token::revoke_token(&mut tx, Uuid::new_v4(), at(9)).await.expect("asks"));
        let found = token::find_token(&mut tx, stored.id).await.expect("reads").expect("is there");
        assert_eq!(found.revoked_at, Some(at(4)));
    }
}

contract! {
    async fn the_day_of_use_only_goes_forward(db) {
        let mut tx = db.write().await.expect("begins");
        lay_out(&mut tx).await;
        let stored = member("a");
        token::insert_token(&mut tx, &stored, &[1; 32]).await.expect("stores");
        assert!(token::touch_token(&mut tx, stored.id, date(2027, 5, 9)).await.expect("notes"));
        assert!(!token::touch_token(&mut tx, stored.id, date(2027, 5, 9)).await.expect("notes"));
        assert!(!token::touch_token(&mut tx, stored.id, date(2027, 5, 8)).await.expect("notes"));
        assert!(token::touch_token(&mut tx, stored.id, date(2027, 5, 10)).await.expect("notes"));
        let found = token::find_token(&mut tx, stored.id).await.expect("reads").expect("is there");
        assert_eq!(found.last_used_date, Some(date(2027, 5, 10)));
    }
}

contract! {
    async fn a_secret_is_one_tokens_alone(db) {
        let mut tx = db.write().await.expect("begins");
        lay_out(&mut tx).await;
        let stray = Token { watersheds: vec![slug("gone")], ..member("stray") };
        let error = token::insert_token(&mut tx, &stray, &[2; 32]).await.expect_err("unknown");
        assert!(matches!(error, StoreError::UnknownReference { what: "watershed", .. }));
        token::insert_token(&mut tx, &member("a"), &[1; 32]).await.expect("stores");
        let error = token::insert_token(&mut tx, &member("b"), &[1; 32]).await.expect_err("is there");
        assert!(matches!(error, StoreError::Conflict { .. }));
    }
}

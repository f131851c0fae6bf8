//! Stored skill.

use subimago::store::skill::{StoredSkill, put_skill, skills};
use subimago::store::{Db, StoreError};

use crate::support::{at, lay_out, on_both, slug};

on_both! {
    skill_is_replaced_and_comes_in_order_of_taxon_and_brood,
}

async fn skill_is_replaced_and_comes_in_order_of_taxon_and_brood(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let ostrey = slug("ostrey");
    let one = |taxon: &str, brood: u8, hour: i64, scores: &str| StoredSkill {
        taxon: slug(taxon),
        brood,
        computed_at: at(hour),
        scores_json: scores.to_owned(),
    };
    assert_eq!(skills(&mut tx, &ostrey).await.expect("reads"), []);
    let (second, first, other) = (one("rhodani", 2, 1, "[]"), one("rhodani", 1, 2, "[1]"), one("danica", 1, 3, "[2]"));
    for skill in [&second, &first, &other] {
        put_skill(&mut tx, &ostrey, skill).await.expect("stores");
    }
    assert_eq!(skills(&mut tx, &ostrey).await.expect("reads"), [other.clone(), first, second.clone()]);
    let newer = one("rhodani", 1, 4, "[3]");
    put_skill(&mut tx, &ostrey, &newer).await.expect("stores again");
    assert_eq!(skills(&mut tx, &ostrey).await.expect("reads"), [other, newer, second]);
    let error = put_skill(&mut tx, &ostrey, &one("gone", 1, 1, "[]")).await.expect_err("unknown");
    assert!(matches!(error, StoreError::UnknownReference { what: "taxon", .. }));
}

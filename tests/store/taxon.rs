//! Taxa, broods, residents.

use subimago::domain::taxon::{EmergenceMode, MonthDay, Provenance};
use subimago::domain::{Brood, Colour, Looks, Taxon, VernacularName, WindowReference};
use subimago::store::{Db, StoreError, Upsert, place, taxon};

use crate::support::{bare_taxon, lay_out, on_both, ostrey, slug};

on_both! {
    every_trait_comes_back_as_it_went_in,
    traits_and_broods_can_be_taken_away,
    residents_come_and_go,
    an_unknown_taxon_is_named,
}

/// A taxon with every trait set, each to another value.
fn full_taxon() -> Taxon {
    let brood = |number, median_day_of_year| Brood {
        number,
        median_day_of_year,
        sd_days: 12.25,
        provenance: format!("brood {number}"),
    };
    let name = |language: &str, name: &str| VernacularName {
        language: language.to_owned(),
        name: name.to_owned(),
        provenance: format!("of {name}"),
    };
    Taxon {
        slug: slug("Rhodani-Full"),
        scientific_name: "Baetis rhodani".to_owned(),
        names: vec![name("en", "Large dark olive"), name("de", "z"), name("en", "A second name")],
        rank: "species".to_owned(),
        order: Some("Ephemeroptera".to_owned()),
        region: Some("Palaearctic".to_owned()),
        base_temp_c: Some(0.1 + 0.2),
        base_temp_sd: Some(1.5),
        window: Some((MonthDay { month: 3, day: 9 }, MonthDay { month: 11, day: 30 })),
        window_reference: Some(WindowReference::NorthernEurope),
        peak_hour: Some(13.5),
        peak_hour_sd: Some(1.75),
        spinner_time: Some("dusk".to_owned()),
        emergence_mode: Some(EmergenceMode::CrawlOut),
        oviposition_mode: Some("dive".to_owned()),
        nymph_habit: Some("swimmer".to_owned()),
        voltinism: Some("two".to_owned()),
        body_mm: Some((5.5, 9.25)),
        looks: Looks { tails: vec![2, 3], body: vec![Colour::Olive, Colour::Brown], wings: vec![Colour::Grey] },
        hooks: Some((14, 18)),
        water_type: Some("riffle".to_owned()),
        emergence_water_c: Some((6.0, 12.0)),
        provenance: Provenance {
            thermal: "t".to_owned(),
            window: "w".to_owned(),
            behaviour: "b".to_owned(),
            size: "s".to_owned(),
            looks: "l".to_owned(),
        },
        note: Some("a note; with 'quotes' and \u{fc}ml\u{e4}uts".to_owned()),
        broods: vec![brood(1, 95.5), brood(2, 250.0)],
    }
}

async fn every_trait_comes_back_as_it_went_in(db: Db) {
    let mut tx = db.write().await.expect("begins");
    assert_eq!(taxon::find_taxon(&mut tx, &slug("rhodani-full")).await.expect("reads"), None);
    assert_eq!(taxon::upsert_taxon(&mut tx, &full_taxon()).await.expect("stores"), Upsert::Created);
    let found = taxon::find_taxon(&mut tx, &slug("RHODANI-FULL")).await.expect("reads").expect("is there");
    assert_eq!(found, full_taxon());
    assert_eq!(found.slug.as_str(), "Rhodani-Full");
    assert_eq!(taxon::upsert_taxon(&mut tx, &full_taxon()).await.expect("stores"), Upsert::Unchanged);
}

async fn traits_and_broods_can_be_taken_away(db: Db) {
    let mut tx = db.write().await.expect("begins");
    taxon::upsert_taxon(&mut tx, &full_taxon()).await.expect("stores");
    let bare = bare_taxon("rhodani-full");
    assert_eq!(taxon::upsert_taxon(&mut tx, &bare).await.expect("stores"), Upsert::Updated);
    assert_eq!(taxon::find_taxon(&mut tx, &bare.slug).await.expect("reads"), Some(bare.clone()));
    let mut one_brood = bare.clone();
    one_brood.broods = vec![full_taxon().broods[1].clone()];
    assert_eq!(taxon::upsert_taxon(&mut tx, &one_brood).await.expect("stores"), Upsert::Updated);
    assert_eq!(taxon::taxa(&mut tx).await.expect("reads"), [one_brood]);
}

async fn residents_come_and_go(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    taxon::upsert_taxon(&mut tx, &full_taxon()).await.expect("stores");
    let ostrey = slug("ostrey");
    let full = slug("rhodani-full");
    assert_eq!(taxon::set_resident(&mut tx, &ostrey, &full, true).await.expect("stores"), Upsert::Created);
    assert_eq!(taxon::set_resident(&mut tx, &ostrey, &full, true).await.expect("stores"), Upsert::Unchanged);
    let all = taxon::residents(&mut tx, &ostrey).await.expect("reads");
    assert_eq!(all, [bare_taxon("danica"), bare_taxon("rhodani"), full_taxon()]);
    let gone = slug("danica");
    assert_eq!(taxon::set_resident(&mut tx, &ostrey, &gone, false).await.expect("stores"), Upsert::Updated);
    assert_eq!(taxon::set_resident(&mut tx, &ostrey, &gone, false).await.expect("stores"), Upsert::Unchanged);
    let all = taxon::residents(&mut tx, &ostrey).await.expect("reads");
    assert_eq!(all, [bare_taxon("rhodani"), full_taxon()]);
    assert_eq!(taxon::taxa(&mut tx).await.expect("reads").len(), 3, "the taxon itself stays");
}

async fn an_unknown_taxon_is_named(db: Db) {
    let mut tx = db.write().await.expect("begins");
    place::upsert_watershed(&mut tx, &ostrey()).await.expect("stores");
    let error = taxon::set_resident(&mut tx, &slug("ostrey"), &slug("X"), true).await.expect_err("unknown");
    assert!(matches!(&error, StoreError::UnknownReference { what: "taxon", slug } if slug == "X"));
}

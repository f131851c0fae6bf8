//! What insects are called: the usual name beside the scientific one, wherever people read.

use subimago::app::publish;
use subimago::domain::{Brood, VernacularName, WindowReference};
use subimago::ingest::seed_taxa::seed_taxa;
use subimago::store::taxon::{find_taxon, upsert_taxon};

use crate::support::{TestApp, now, on_both, slug};
use crate::water;

/// Names for the insect that is about, and `broods` for it.
async fn named(app: &TestApp, broods: u8) {
    let mut tx = app.service.db().write().await.expect("writes");
    let mut known = find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
    let name = |language: &str, name: &str| VernacularName {
        language: language.to_owned(),
        name: name.to_owned(),
        provenance: "common practice, no source".to_owned(),
    };
    known.names = vec![name("de", "Maifliege"), name("en-GB", "Green <drake>")];
    let brood = |number| Brood { number, median_day_of_year: 140.0, sd_days: 9.0, provenance: "invented".to_owned() };
    known.broods = (1..=broods).map(brood).collect();
    upsert_taxon(&mut tx, &known).await.expect("stores");
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
}

async fn text(app: &TestApp, path: &str) -> String {
    app.get(path).send().await.expect(200).text()
}

on_both! {
    async fn both_names_stand_on_every_page(app) {
        named(&app, 1).await;
        let marked = "Green &lt;drake&gt; (<i>Ephemera danica</i>)";
        for path in ["/w/ostrey", "/w/ostrey/season", "/w/ostrey/print", "/w/ostrey/taxa/ephemera-danica",
            "/w/ostrey/reaches/mill-meadow", "/w/ostrey/reaches/mill-meadow/seen", "/embed/ostrey"] {
            let html = text(&app, path).await;
            assert!(html.contains(marked), "{path}: {html}");
            assert!(!html.contains("Green <drake>"), "{path}");
            assert!(!html.contains("brood 1") && !html.contains("first generation"), "{path}: one brood is not told apart");
        }
        let plain = "Green <drake> (Ephemera danica)";
        assert!(text(&app, "/w/ostrey/digest.txt").await.contains(plain));
        assert!(text(&app, "/report?w=ostrey").await.contains("Green &lt;drake&gt; (Ephemera danica)</option>"));
        assert!(text(&app, "/embed/ostrey.svg").await.contains("Green &lt;drake&gt; (Ephemera"));
        // What has no name of its own is called by the scientific one alone.
        let all = text(&app, "/w/ostrey").await;
        assert!(all.contains("<i>Serratella ignita</i>") && !all.contains("(<i>Serratella"), "{all}");
    }
}

on_both! {
    async fn the_insects_page_tells_its_other_names_and_their_source(app) {
        named(&app, 1).await;
        let html = text(&app, "/w/ostrey/taxa/ephemera-danica").await;
        assert!(html.contains("Also called <span lang=\"de\">Maifliege</span> (de). "), "{html}");
        assert!(html.contains("Everyday names: common practice, no source."));
        assert!(!text(&app, "/w/ostrey/taxa/baetis-rhodani").await.contains("Everyday names"));
    }
}

on_both! {
    async fn generations_are_told_in_words_where_there_are_several(app) {
        named(&app, 2).await;
        let html = text(&app, "/embed/ostrey").await;
        assert!(html.contains("(<i>Ephemera danica</i>), first generation") && !html.contains("brood"), "{html}");
        assert!(text(&app, "/w/ostrey/digest.txt").await.replace('\n', " ").contains("first"), "in the digest too");
    }
}

on_both! {
    async fn calendars_have_the_usual_name_in_front_and_both_within(app) {
        named(&app, 2).await;
        // The entries are planned anew with the next publication.
        let mut tx = app.service.db().write().await.expect("writes");
        let fit_id = water::store_fit(&mut tx, "ephemera-danica").await;
        let known = find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
        let forecasts: Vec<_> = water::reaches().iter().map(|reach| water::forecast(reach, "ephemera-danica", fit_id, 0)).collect();
        publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, now()).await.expect("publishes");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        let calendar = text(&app, "/calendars/ostrey.ics").await.replace("\r\n ", "");
        let summaries: Vec<&str> = calendar.lines().filter(|line| line.starts_with("SUMMARY:Green <drake>")).collect();
        assert!(summaries.iter().any(|line| line.contains("first generation")), "{calendar}");
        assert!(!summaries.is_empty(), "{calendar}");
        for summary in &summaries {
            let text = summary.trim_start_matches("SUMMARY:").replace('\\', "");
            assert!(text.chars().count() <= 60, "{text}");
            let told = [", first generation, starts ", " (1 of 2) starts ", ", first generation, peaks ", " (1 of 2) peaks "];
            assert!(told.iter().any(|words| text.contains(words)), "{text}");
            assert!(text.ends_with("Alder Fold") || text.ends_with("Mill Meadow"), "no reach is cut off: {text}");
        }
        assert!(calendar.contains("DESCRIPTION:Green <drake> (Ephemera danica)\\, first generation.\\n"), "{calendar}");
    }
}

on_both! {
    async fn names_that_came_later_are_added_once_and_never_over_a_keepers_own(app) {
        let read = async |name: &str| {
            let mut tx = app.service.db().read().await.expect("reads");
            find_taxon(&mut tx, &slug(name)).await.expect("reads").expect("known")
        };
        let put = async |taxon: &subimago::domain::Taxon| {
            let mut tx = app.service.db().write().await.expect("writes");
            upsert_taxon(&mut tx, taxon).await.expect("stores");
            tx.commit().await.expect("commits");
        };
        let own = |language: &str, name: &str| VernacularName {
            language: language.to_owned(), name: name.to_owned(), provenance: "the keeper".to_owned(),
        };
        // As a database from before there were names: nothing of one, and a keeper's own word for another.
        let mut danica = read("ephemera-danica").await;
        danica.names.clear();
        // Its season as it came, of which nobody had said where.
        let ours = seed_taxa().expect("sound tables").into_iter().find(|taxon| taxon.slug == danica.slug).expect("ours");
        (danica.broods, danica.window) = (ours.broods.clone(), ours.window);
        put(&danica).await;
        let mut baetis = read("baetis-rhodani").await;
        baetis.names = vec![own("en", "Early olive")];
        put(&baetis).await;
        // The same short name for something else.
        let mut other = read("serratella-ignita").await;
        (other.scientific_name, other.names) = ("Something else".to_owned(), Vec::new());
        put(&other).await;
        assert!(subimago::app::seed_names::add_missing(app.service.db(), app.service.now()).await.expect("adds") >= 2);
        let danica = read("ephemera-danica").await;
        assert!(danica.usual_name("en").is_some() && danica.usual_name("de").is_some(), "{:?}", danica.names);
        let baetis = read("baetis-rhodani").await;
        assert_eq!(danica.window_reference, Some(WindowReference::NorthernEurope));
        assert_eq!(baetis.window_reference, None, "a keeper's season is one of the own water");
        assert_eq!(baetis.usual_name("en"), Some("Early olive"), "the keeper's own stays the usual one");
        assert!(baetis.usual_name("de").is_some(), "and what was missing is added");
        assert_eq!(baetis.names.iter().filter(|name| name.language == "en").count(), 1);
        assert_eq!(read("serratella-ignita").await.names, []);
        // A keeper takes a name away: it does not come back.
        let mut bare = danica.clone();
        bare.names.clear();
        put(&bare).await;
        assert_eq!(subimago::app::seed_names::add_missing(app.service.db(), app.service.now()).await.expect("adds"), 0);
        assert_eq!(read("ephemera-danica").await.names, []);
    }
}

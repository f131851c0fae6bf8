//! Setup files.

use subimago::app::import::ImportOptions;
use subimago::domain::taxon::EmergenceMode;
use subimago::domain::{Colour, Taxon, WaterType, WindowReference};
use subimago::store::{place, taxon};

use crate::support::{Club, WATER, counts, options, said, slug};

async fn taxon_of(club: &Club, name: &str) -> Taxon {
    let mut tx = club.db.read().await.unwrap();
    taxon::find_taxon(&mut tx, &slug(name)).await.unwrap().expect("declared")
}

#[tokio::test]
async fn a_setup_is_stored_whole_and_comes_again_unchanged() {
    let club = Club::empty().await;
    assert_eq!(counts(&club.setup(WATER).await), [7, 0, 0, 0]);
    assert_eq!(counts(&club.setup(WATER).await), [0, 0, 7, 0]);
    let mut tx = club.db.read().await.unwrap();
    let reaches = place::reaches(&mut tx, &slug("ostrey")).await.unwrap();
    assert_eq!(reaches[0].gauges, [slug("bridge")], "the gauge of the same name serves");
    assert_eq!(reaches[1].gauges, [slug("weir"), slug("bridge")]);
    assert_eq!(taxon::residents(&mut tx, &slug("ostrey")).await.unwrap().len(), 2);
}

#[tokio::test]
async fn taxa_without_traits_are_bare_unless_they_come_with_the_program() {
    let club = Club::new().await;
    assert_eq!(taxon_of(&club, "olives").await, Taxon::bare(slug("olives"), "Baetidae", "family"));
    let danica = taxon_of(&club, "ephemera-danica").await;
    assert_eq!((danica.base_temp_c, danica.broods.len()), (Some(2.85), 1));
}

#[tokio::test]
async fn every_key_is_read_and_a_later_file_changes_only_what_it_says() {
    let club = Club::new().await;
    let text = r#"
[watershed]
slug = "Ostrey"
name = "The Ostrey"
time_zone = "Europe/London"
colour = "brown"
[[reach]]
slug = "mill-meadow"
name = "Mill Meadow"
latitude = 52
longitude = -2.9
elevation_m = 61.5
water_type = "slow_margin"
gauges = ["WEIR"]
[[taxon]]
slug = "olives"
scientific_name = "Baetidae"
rank = "family"
order = "Ephemeroptera"
window_early = "04-01"
window_late = "09-30"
base_temp_c = 3
base_temp_sd = 1.5
peak_hour = 13.5
spinner_time = "evening to dusk"
emergence_mode = "surface"
oviposition_mode = "dive"
nymph_habit = "swimmer"
body_mm_min = 4
body_mm_max = 9.5
hook_large = 14
hook_small = 20
broods = 2
"#;
    let document = club.setup(text).await;
    assert_eq!(counts(&document), [0, 3, 0, 0], "{:?}", said(&document));
    assert_eq!(document.unknown_columns, ["watershed.colour"]);
    let olives = taxon_of(&club, "olives").await;
    assert_eq!((olives.base_temp_c, olives.base_temp_sd, olives.peak_hour), (Some(3.0), Some(1.5), Some(13.5)));
    assert_eq!(olives.spinner_time.as_deref(), Some("evening to dusk"));
    assert_eq!((olives.emergence_mode, olives.hooks), (Some(EmergenceMode::Surface), Some((14, 20))));
    assert_eq!(olives.provenance.thermal, "from the setup file");
    // 1 April to 30 September are days 91 to 273: two parts of 91 days.
    let medians: Vec<f64> = olives.broods.iter().map(|brood| brood.median_day_of_year).collect();
    assert_eq!(medians, [136.5, 227.5]);
    let mut tx = club.db.read().await.unwrap();
    let reach = place::find_reach(&mut tx, &slug("ostrey"), &slug("mill-meadow")).await.unwrap().expect("known");
    assert_eq!((reach.water_type, reach.elevation_m), (Some(WaterType::SlowMargin), Some(61.5)));
    assert_eq!(reach.gauges, [slug("weir")]);
    drop(tx);
    let note = WATER.replace("rank = \"family\"", "rank = \"family\"\nnote = \"small\"");
    club.setup(&note).await;
    let olives = taxon_of(&club, "olives").await;
    assert_eq!((olives.base_temp_c, olives.note.as_deref(), olives.broods.len()), (Some(3.0), Some("small"), 2));
}

#[tokio::test]
async fn broods_may_be_given_one_by_one() {
    let club = Club::new().await;
    let text = WATER.to_owned()
        + "window_early = \"04-01\"\nwindow_late = \"09-30\"\n\
           [[taxon.broods]]\nmedian_day_of_year = 130\nsd_days = 10\n[[taxon.broods]]\nmedian_day_of_year = 250\nsd_days = 12.5\n";
    let document = club.setup(&text).await;
    assert!(document.accepted, "{:?}", said(&document));
    let broods = taxon_of(&club, "olives").await.broods;
    let told: Vec<(u8, f64, f64)> = broods.iter().map(|b| (b.number, b.median_day_of_year, b.sd_days)).collect();
    assert_eq!(told, [(1, 130.0, 10.0), (2, 250.0, 12.5)]);
}

#[tokio::test]
async fn a_season_that_the_file_tells_is_one_of_its_own_water_unless_it_says_more() {
    let club = Club::new().await;
    let danica =
        |more: &str| WATER.replace("slug = \"ephemera-danica\"", &format!("slug = \"ephemera-danica\"\n{more}"));
    let window = "window_early = \"05-01\"\nwindow_late = \"06-20\"";
    for (more, expected) in [
        ("", Some(WindowReference::NorthernEurope)),
        ("broods = 1", None),
        ("window_reference = \"mid latitudes 41-45 N\"", Some(WindowReference::MidLatitudes)),
        (window, None),
        (
            &format!("{window}\nwindow_reference = \"southeastern-plain-30-34-n\""),
            Some(WindowReference::SoutheasternPlain),
        ),
    ] {
        let document = club.setup(&danica(more)).await;
        assert!(document.accepted, "{:?}", said(&document));
        assert_eq!(taxon_of(&club, "ephemera-danica").await.window_reference, expected, "{more}");
    }
    assert!(!club.setup(&danica("window_reference = \"my river\"")).await.accepted);
}

#[tokio::test]
async fn all_faults_are_named_by_line_and_key_and_nothing_is_stored() {
    let club = Club::new().await;
    let before = club.content().await;
    let text = r#"[watershed]
slug = "ostrey"
time_zone = "Europe/Londn"
[[reach]]
slug = "upper water"
name = "Upper"
latitude = 152.0
longitude = "west"
gauges = ["nowhere"]
[[reach]]
slug = "bridge"
latitude = 52.1
longitude = -2.9
[[reach]]
slug = "Bridge"
latitude = 52.1
longitude = -2.9
[[taxon]]
slug = "x"
scientific_name = "X"
rank = "genus"
window_early = "02-30"
body_mm_min = 9
body_mm_max = 4
hook_large = 20
emergence_mode = "jump"
spinner_time = "by day"
broods = 2
"#;
    let document = club.setup(text).await;
    assert!(!document.accepted);
    let at: Vec<(u64, &str)> = document.faults.iter().map(|fault| (fault.line, fault.column.as_str())).collect();
    let expected = [
        (1, "watershed.name"),
        (3, "watershed.time_zone"),
        (5, "reach.slug"),
        (7, "reach.latitude"),
        (8, "reach.longitude"),
        (9, "reach.gauges"),
        (14, "reach.slug"),
        (18, "taxon.window_late"),
        (18, "taxon.hook_small"),
        (22, "taxon.window_early"),
        (23, "taxon.body_mm_min"),
        (26, "taxon.emergence_mode"),
        (27, "taxon.spinner_time"),
        (28, "taxon.broods"),
    ];
    assert_eq!(at, expected, "{:?}", said(&document));
    assert_eq!(club.content().await, before);
}

#[tokio::test]
async fn what_is_not_a_setup_is_said() {
    let club = Club::new().await;
    for (text, line, code) in
        [("", 1, "empty"), ("[watershed]\nslug = \n", 2, "syntax"), ("x = 1\n", 1, "missing-value")]
    {
        let document = club.setup(text).await;
        assert_eq!((document.faults[0].line, document.faults[0].code.as_str()), (line, code), "{text:?}");
    }
}

fn best_effort() -> ImportOptions {
    ImportOptions { best_effort: true, ..options() }
}

/// Slugs of what a club has: reaches, gauges, residents.
async fn declared(club: &Club) -> [Vec<String>; 3] {
    let mut tx = club.db.read().await.unwrap();
    let water = slug("ostrey");
    [
        place::reaches(&mut tx, &water).await.unwrap().iter().map(|reach| reach.slug.to_string()).collect(),
        place::gauges(&mut tx, &water).await.unwrap().iter().map(|gauge| gauge.slug.to_string()).collect(),
        taxon::residents(&mut tx, &water).await.unwrap().iter().map(|taxon| taxon.slug.to_string()).collect(),
    ]
}

#[tokio::test]
async fn best_effort_takes_good_tables_and_leaves_out_what_names_a_faulty_one() {
    // The table of the weir is faulty; the mill meadow names it, the bridge does not.
    let text = WATER.replace("slug = \"weir\"", "slug = \"weir\"\nlatitude = 152.0\nlongitude = -2.9")
        + "\n[[taxon]]\nslug = \"sedges\"\nscientific_name = \"Trichoptera\"\n";
    let club = Club::empty().await;
    let refused = club.setup(&text).await;
    assert!(!refused.accepted);
    assert_eq!(
        said(&refused),
        [
            "line 13, column gauge.latitude: must be degrees north between -90 and 90 (found \"152\")",
            "line 40, column taxon.rank: is missing",
        ],
        "a file that is refused is not told twice of one fault"
    );
    let trial = club.setup_with(&text, &ImportOptions { dry_run: true, ..best_effort() }).await;
    assert_eq!((trial.accepted, counts(&trial)), (true, [5, 0, 0, 3]));
    let mut tx = club.db.read().await.unwrap();
    assert!(place::find_watershed(&mut tx, &slug("ostrey")).await.unwrap().is_none(), "a trial stores nothing");
    drop(tx);

    let document = club.setup_with(&text, &best_effort()).await;
    assert_eq!((document.accepted, document.best_effort, document.total), (true, true, 8));
    assert_eq!(counts(&document), [5, 0, 0, 3]);
    let mill = "line 28, column reach.gauges: is the gauge of this reach and is left out, so the reach is left out too \
                (found \"weir\")";
    assert_eq!((document.fault_count, said(&document)[1].as_str()), (3, mill));
    assert_eq!(declared(&club).await, [vec!["bridge"], vec!["bridge"], vec!["ephemera-danica", "olives"]]);
    assert_eq!(counts(&club.setup_with(&text, &best_effort()).await), [0, 0, 5, 3]);
}

#[tokio::test]
async fn best_effort_leaves_out_a_reach_whose_gauge_of_the_same_name_is_left_out() {
    let text = WATER.replace("name = \"Bridge\"", "name = \"\"").replace(", \"bridge\"]", "]");
    let club = Club::empty().await;
    let document = club.setup_with(&text, &best_effort()).await;
    assert_eq!(counts(&document), [5, 0, 0, 2], "{:?}", said(&document));
    assert_eq!(declared(&club).await[..2], [vec!["mill-meadow"], vec!["weir"]]);
    // Once the gauge is known a faulty table of it only leaves it as it is.
    let club = Club::new().await;
    let before = club.content().await;
    let document = club.setup_with(&text.replace("[\"weir\"]", "[\"weir\", \"bridge\"]"), &best_effort()).await;
    assert_eq!(counts(&document), [0, 0, 6, 1], "{:?}", said(&document));
    assert_eq!(club.content().await, before);
}

#[tokio::test]
async fn best_effort_leaves_out_both_tables_of_one_slug_and_what_names_them() {
    let text = WATER.to_owned()
        + "\n[[gauge]]\nslug = \"Weir\"\n[[taxon]]\nslug = \"Olives\"\nscientific_name = \"Baetis\"\nrank = \"genus\"\n";
    let club = Club::empty().await;
    let document = club.setup_with(&text, &best_effort()).await;
    assert_eq!(counts(&document), [4, 0, 0, 5], "{:?}", said(&document));
    assert_eq!(declared(&club).await, [vec!["bridge"], vec!["bridge"], vec!["ephemera-danica"]]);
}

#[tokio::test]
async fn best_effort_refuses_all_for_a_faulty_watershed_or_broken_text() {
    let club = Club::empty().await;
    for text in [
        WATER.replace("Europe/London", "Europe/Londn"),
        WATER.replace("[watershed]", "[waters]"),
        WATER.replace("[watershed]", "[watershed"),
        String::new(),
    ] {
        let document = club.setup_with(&text, &best_effort()).await;
        assert!(!document.accepted && document.fault_count > 0, "{:?}", said(&document));
        assert_eq!(counts(&document), [0; 4]);
        assert!(place::watersheds(&mut club.db.read().await.unwrap()).await.unwrap().is_empty());
    }
}

#[tokio::test]
async fn best_effort_counts_lists_that_are_no_tables() {
    let club = Club::empty().await;
    let text = format!("taxon = [3, \"olives\"]\n{}", WATER.split("[[taxon]]").next().unwrap());
    let document = club.setup_with(&text, &best_effort()).await;
    assert_eq!(counts(&document), [5, 0, 0, 2], "{:?}", said(&document));
}

#[tokio::test]
async fn looks_and_names_are_read_and_their_faults_told() {
    let club = Club::new().await;
    let looks = "tails = [3, 2, 3]\nbody_colours = [\"olive\", \"Brown\"]\nwing_colours = []\n\
        [[taxon.names]]\nlanguage = \"en\"\nname = \"Olives\"\nprovenance = \"the club\"\n\
        [[taxon.names]]\nlanguage = \"cy\"\nname = \"Olewydd\"\n";
    let document = club.setup(&(WATER.to_owned() + looks)).await;
    assert!(document.accepted && document.unknown_columns.is_empty(), "{:?}", said(&document));
    let olives = taxon_of(&club, "olives").await;
    assert_eq!((&olives.looks.tails, &olives.looks.body), (&vec![3, 2], &vec![Colour::Olive, Colour::Brown]));
    assert_eq!(olives.provenance.looks, "from the setup file");
    let names: Vec<_> = olives.names.iter().map(|n| (&*n.language, &*n.name, &*n.provenance)).collect();
    assert_eq!(names, [("en", "Olives", "the club"), ("cy", "Olewydd", "from the setup file")]);
    // A file that says nothing of them leaves them; one that says something replaces them.
    club.setup(WATER).await;
    assert_eq!(taxon_of(&club, "olives").await.names.len(), 2);
    club.setup(&(WATER.to_owned() + "names = []\n")).await;
    assert_eq!(taxon_of(&club, "olives").await.names, []);
    let wrong = "tails = [1]\nbody_colours = [\"mauve\"]\nwing_colours = \"grey\"\n\
        [[taxon.names]]\nlanguage = \"English\"\nname = \"x\"\n[[taxon.names]]\nlanguage = \"en\"\n\
        [[taxon.names]]\nlanguage = \"en\"\nname = \"y\"\n[[taxon.names]]\nlanguage = \"en\"\nname = \"y\"\n";
    let document = club.setup(&(WATER.to_owned() + wrong)).await;
    assert!(!document.accepted);
    let told = said(&document).join("\n");
    for key in [
        "taxon.tails",
        "taxon.body_colours",
        "taxon.wing_colours",
        "taxon.names.language",
        "taxon.names.name",
        "stands twice",
    ] {
        assert!(told.contains(key), "{key} in {told}");
    }
}

#[tokio::test]
async fn the_scale_of_a_water_is_read_and_stays_when_a_later_file_does_not_say_it() {
    let club = Club::new().await;
    let units = async || {
        let mut tx = club.db.read().await.unwrap();
        place::find_watershed(&mut tx, &slug("ostrey")).await.unwrap().expect("known").units.as_str()
    };
    assert_eq!(units().await, "c");
    let said_so = |word: &str| WATER.replacen("time_zone =", &format!("units = \"{word}\"\ntime_zone ="), 1);
    let document = club.setup(&said_so("f")).await;
    assert_eq!((counts(&document)[1], units().await), (1, "f"), "{:?}", said(&document));
    club.setup(WATER).await;
    assert_eq!(units().await, "f");
    let refused = club.setup(&said_so("kelvin")).await;
    assert!(!refused.accepted && said(&refused).iter().any(|fault| fault.contains("units")), "{:?}", said(&refused));
    club.setup(&said_so("c")).await;
    assert_eq!(units().await, "c");
}

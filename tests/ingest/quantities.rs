//! Readings of other quantities than the water's temperature.

use std::io::Cursor;

use subimago::app::import::ImportOptions;
use subimago::domain::{Quality, Quantity, ReadingTime};
use subimago::store::{Span, reading};

use crate::support::{Club, at, day, options, slug};

fn of(quantity: Quantity) -> ImportOptions {
    ImportOptions { quantity, ..options() }
}

impl Club {
    async fn quantity(&self, quantity: Quantity, text: &str) -> subimago::app::document::ImportDocument {
        self.readings_from(Box::new(Cursor::new(text.to_owned())), &of(quantity)).await
    }
}

#[tokio::test]
async fn quantities_stand_beside_each_other_and_water_is_read_alone() {
    let club = Club::new().await;
    assert!(club.readings("site,date,tmean_c\nbridge,2024-05-01,9.5\n").await.accepted);
    let air = club
        .quantity(Quantity::AirTemperature, "site,date,tmean_c,tmin_c,tmax_c\nbridge,2024-05-01,-12.5,-20,3\n")
        .await;
    assert_eq!((air.accepted, air.created, air.flagged_count), (true, 1, 0), "{:?}", air.faults);
    assert_eq!(air.quantity.as_deref(), Some("air_temperature"));
    let flow = club
        .quantity(
            Quantity::Discharge,
            "site,at,value_m3_s\nbridge,2024-05-01T10:00:00Z,3.25\nbridge,2024-05-01T11:00:00Z,-1\n",
        )
        .await;
    assert_eq!((flow.created, flow.flagged_count), (2, 1));
    assert!(flow.flagged[0].reason.contains("0 to 20000 cubic metres per second"), "{:?}", flow.flagged);
    assert_eq!((flow.flagged[0].value, flow.flagged[0].value_c), (-1.0, None));

    let water = club.daily("bridge").await;
    assert_eq!(water.len(), 1);
    assert_eq!(
        (water[0].quantity, water[0].time),
        (Quantity::WaterTemperature, ReadingTime::day(day("2024-05-01"), 9.5, None, None).unwrap())
    );
    assert!(club.instants("bridge").await.is_empty(), "a discharge is no water temperature");
    let mut tx = club.db.read().await.unwrap();
    let (ostrey, bridge) = (slug("ostrey"), slug("bridge"));
    let stored = reading::instant_readings_of(&mut tx, &ostrey, &bridge, Quantity::Discharge, None, Span::all());
    let stored = stored.await.unwrap();
    assert_eq!(stored[0].time, ReadingTime::Instant { at: at("2024-05-01T10:00:00Z"), value: 3.25 });
    assert_eq!((stored[0].quality, stored[1].quality), (Quality::Good, Quality::Suspect));
    let newest = reading::newest_by_quantity(&mut tx, &ostrey, &bridge).await.unwrap();
    let kinds: Vec<Quantity> = newest.iter().map(|(quantity, _)| *quantity).collect();
    assert_eq!(kinds, [Quantity::WaterTemperature, Quantity::AirTemperature, Quantity::Discharge]);
}

#[tokio::test]
async fn the_same_file_again_changes_nothing_and_another_value_is_a_version() {
    let club = Club::new().await;
    let file = "site,date,mean_m\nweir,2024-05-01,0.82\nweir,2024-05-02,-60\n";
    assert_eq!(club.quantity(Quantity::Level, file).await.created, 2);
    let again = club.quantity(Quantity::Level, file).await;
    assert_eq!((again.created, again.updated, again.unchanged), (0, 0, 2));
    assert_eq!(club.quantity(Quantity::Level, &file.replace("0.82", "0.84")).await.updated, 1);
    assert_eq!(club.quantity(Quantity::Clarity, "site,date,mean_m\nweir,2024-05-01,1.5\n").await.created, 1);
}

#[tokio::test]
async fn values_of_another_unit_or_form_are_told() {
    let club = Club::new().await;
    for (quantity, text, said) in [
        (Quantity::AirTemperature, "site,date,tmean_c\nweir,2024-05-01,75\n", "between -90 and 60"),
        (Quantity::AirTemperature, "site,date,tmean_f\nweir,2024-05-01,75\n", "Fahrenheit"),
        (Quantity::Discharge, "site,date,tmean_c\nweir,2024-05-01,7\n", "mean_m3_s"),
        (Quantity::Discharge, "site,date,mean_cfs\nweir,2024-05-01,7\n", "mean_m3_s"),
        (Quantity::Ice, "site,date,mean_share\nweir,2024-05-01,80\n", "between 0 and 1"),
        (Quantity::Clarity, "site,at,value_m\nweir,2024-05-01T10:00:00Z,-1\n", "between 0 and 100"),
        (Quantity::Level, "site,date,mean_m,min_m,max_m\nweir,2024-05-01,1,2,3\n", "min_m..max_m"),
        (Quantity::WaterTemperature, "site,date,mean_m\nweir,2024-05-01,7\n", "tmean_c"),
    ] {
        let refused = club.quantity(quantity, text).await;
        assert!(!refused.accepted && refused.created == 0, "{quantity:?}: {text}");
        assert!(refused.faults.iter().any(|fault| fault.to_string().contains(said)), "{text}: {:?}", refused.faults);
    }
}

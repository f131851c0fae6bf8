//! The usual season of a taxon, as it is placed on a watershed before any record of it, and what is told of that.

use std::borrow::Cow;

use crate::domain::place::{is_in_europe, mean_elevation_m, mean_latitude_deg};
use crate::domain::season::Cycle;
use crate::domain::taxon::half_a_year_from;
use crate::domain::{Reach, Slug, Taxon};
use crate::model::clock::Drivers;
use crate::model::emergence::window::{Here, MovedBy, PlacedWindow, Window, placed};
use crate::say;
use crate::store::{StoreError, Tx, place, taxon};
use crate::words::Language;

/// Broods of one taxon stay apart: their records are told from each other by their usual days. Each moves by this part
/// of the way to the next at most.
const PART_OF_GAP: f64 = 0.25;
/// Days of a northern year that lie before a southern one begins, on 2 July.
const SOUTHERN_START: usize = 182;
/// Days before 1 July, when the year of a winter taxon begins.
const WINTER_START: usize = 181;

/// Where the reaches of a watershed lie on the whole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lie {
    latitude_deg: f64,
    in_europe: bool,
    elevation_m: Option<f64>,
}

impl Lie {
    /// That of `reaches`; `None` without any.
    #[must_use]
    pub fn of<'r>(reaches: impl IntoIterator<Item = &'r Reach> + Clone) -> Option<Self> {
        let latitude_deg = mean_latitude_deg(reaches.clone())?;
        let in_europe = reaches.clone().into_iter().all(is_in_europe);
        Some(Self { latitude_deg, in_europe, elevation_m: mean_elevation_m(reaches) })
    }
}

/// `taxon` as it lives where a watershed lies; nobody knows where one without reaches does.
#[must_use]
pub fn living_here(lie: Option<Lie>, taxon: &Taxon) -> Cow<'_, Taxon> {
    match lie {
        Some(lie) if taxon.is_turned_at(lie.latitude_deg) => Cow::Owned(taxon.living_at(lie.latitude_deg)),
        _ => Cow::Borrowed(taxon),
    }
}

/// The taxa that live in `watershed`, by slug, each as it lives there.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn residents(tx: &mut Tx, watershed: &Slug) -> Result<Vec<Taxon>, StoreError> {
    let lie = Lie::of(&place::reaches(tx, watershed).await?);
    let residents = taxon::residents(tx, watershed).await?;
    Ok(residents.iter().map(|taxon| living_here(lie, taxon).into_owned()).collect())
}

/// The middle of the season of `brood` of `taxon`, which is as it lives here, with `usual` day of the year and sd, on
/// the water whose usual year is `climate` where that is known. `None` where nobody said which waters `usual` was told
/// of. Its day is one of the local year.
#[must_use]
pub(super) fn season(
    taxon: &Taxon,
    brood: u8,
    usual: (f64, f64),
    base_temp_c: f64,
    climate: Option<&Drivers>,
    lie: Lie,
) -> Option<PlacedWindow> {
    let (day, sd_days) = usual;
    let turned = taxon.is_turned_at(lie.latitude_deg);
    let turn = |day| if turned { half_a_year_from(day) } else { day };
    let window = Window {
        day: turn(day),
        sd_days,
        reference: taxon.window_reference?,
        base_temp_c,
        room_days: room_days(taxon, brood),
    };
    let year_c = climate.map(|climate| from_midwinter(climate, Cycle::of(taxon), turned));
    let here = Here {
        latitude_deg: lie.latitude_deg,
        in_europe: lie.in_europe,
        elevation_m: lie.elevation_m,
        usual_year_c: year_c.as_deref(),
    };
    let placed = placed(&window, &here);
    Some(PlacedWindow { day: turn(placed.day), ..placed })
}

/// Daily means of a year that begins as the clocks of `cycle` do, from midwinter on.
fn from_midwinter(climate: &Drivers, cycle: Cycle, south: bool) -> Vec<f64> {
    let mut days: Vec<f64> = climate.tmin_c.iter().zip(&climate.tmax_c).map(|(low, high)| 0.5 * (low + high)).collect();
    let start = if south { SOUTHERN_START } else { 0 };
    let begun = if cycle == Cycle::Winter { WINTER_START } else { 0 };
    if !days.is_empty() {
        let length = days.len();
        days.rotate_left((start + length - begun) % length);
    }
    days
}

/// Days that a brood may move earlier and later.
fn room_days(taxon: &Taxon, brood: u8) -> (f64, f64) {
    let cycle = Cycle::of(taxon);
    let day =
        |number: u8| taxon.broods.iter().find(|b| b.number == number).map(|b| cycle.day_number(b.median_day_of_year));
    let Some(own) = day(brood) else { return (f64::INFINITY, f64::INFINITY) };
    let gaps = taxon.broods.iter().filter(|b| b.number != brood).map(|b| cycle.day_number(b.median_day_of_year) - own);
    gaps.fold((f64::INFINITY, f64::INFINITY), |(earlier, later), gap| {
        let room = PART_OF_GAP * gap.abs();
        if gap < 0.0 { (room.min(earlier), later) } else { (earlier, room.min(later)) }
    })
}

/// In words, what was done to the usual season of `taxon`.
#[must_use]
pub(super) fn told(taxon: &Taxon, placed: &PlacedWindow, lie: Lie) -> Vec<String> {
    // As stored; other languages know the sentence again (`http/pages/doubts`).
    let language = Language::English;
    let moved = match placed.by {
        MovedBy::Warmth => say!(language, "doubt-season-warmth"),
        MovedBy::Latitude => say!(language, "doubt-season-latitude"),
        MovedBy::LatitudeAndAltitude => say!(language, "doubt-season-altitude"),
        MovedBy::Nothing => say!(language, "doubt-season-kept"),
    };
    let turned = taxon.is_turned_at(lie.latitude_deg).then(|| say!(language, "doubt-season-south"));
    std::iter::once(moved).chain(turned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Brood, WindowReference};
    use crate::model::emergence::window::RegionYear;

    const NORTH: Lie = Lie { latitude_deg: 45.0, in_europe: false, elevation_m: None };
    const SOUTH: Lie = Lie { latitude_deg: -45.0, in_europe: false, elevation_m: None };

    fn taxon(middles: &[f64]) -> Taxon {
        let mut taxon = Taxon::bare(Slug::new("x").expect("a slug"), "Baetis", "genus");
        taxon.window_reference = Some(WindowReference::MidLatitudes);
        taxon.broods = (1..)
            .zip(middles)
            .map(|(number, day)| Brood { number, median_day_of_year: *day, sd_days: 10.0, provenance: String::new() })
            .collect();
        taxon
    }

    /// Two degrees colder than the region, as a year of `taxon` where it lies.
    fn colder(taxon: &Taxon, south: bool) -> Drivers {
        let region = RegionYear::of(WindowReference::MidLatitudes);
        let mut days = RegionYear { mean_c: region.mean_c - 2.0, ..region }.days_c();
        if south {
            days.rotate_left(183);
        }
        if Cycle::of(taxon) == Cycle::Winter {
            days.rotate_left(181);
        }
        let widened = |by: f64| days.iter().map(|mean| mean + by).collect();
        Drivers { tmin_c: widened(-1.0), tmax_c: widened(1.0), day_length_hours: vec![12.0; 365], idle_days: 0 }
    }

    fn placed_at(middle: f64, lie: Lie) -> (PlacedWindow, Taxon) {
        let here = living_here(Some(lie), &taxon(&[middle])).into_owned();
        let usual = (here.broods[0].median_day_of_year, 20.0);
        let climate = colder(&here, lie == SOUTH);
        (season(&here, 1, usual, 0.0, Some(&climate), lie).expect("told of a region"), here)
    }

    #[test]
    fn the_south_is_the_north_half_a_year_later() {
        // In the south these are of a year from July, of one with clocks from July, and of a winter's.
        for middle in [100.0, 140.0, 170.0, 200.0] {
            let ((north, _), (south, here)) = (placed_at(middle, NORTH), placed_at(middle, SOUTH));
            assert!(north.day > middle + 3.0 && north.by == MovedBy::Warmth, "{north:?}");
            let moved = half_a_year_from(south.day);
            assert!((moved - north.day).abs() < 1.0, "{moved} and {}", north.day);
            assert_ne!(Cycle::of(&here), Cycle::Calendar, "its clocks do not run from the summer before");
            let (told_north, told_south) = (told(&here, &north, NORTH), told(&here, &south, SOUTH));
            assert_eq!((told_north.len(), told_south.len()), (1, 2), "{told_south:?}");
        }
    }

    #[test]
    fn a_season_of_the_water_itself_stays() {
        let mut own = taxon(&[140.0]);
        own.window_reference = None;
        assert_eq!(living_here(Some(SOUTH), &own).as_ref(), &own);
        assert_eq!(season(&own, 1, (140.0, 20.0), 0.0, Some(&colder(&own, true)), SOUTH), None);
    }

    #[test]
    fn broods_keep_their_order_on_any_water() {
        let three = taxon(&[115.0, 190.0, 270.0]);
        assert_eq!(room_days(&three, 1), (f64::INFINITY, 18.75));
        assert_eq!(room_days(&three, 2), (18.75, 20.0));
        assert_eq!(room_days(&three, 3), (20.0, f64::INFINITY));
        assert_eq!(room_days(&taxon(&[]), 1), (f64::INFINITY, f64::INFINITY));
        // Over New Year, as the year of the taxon is cut.
        let winter = taxon(&[340.0, 30.0]);
        assert_eq!((Cycle::of(&winter), room_days(&winter, 2)), (Cycle::Winter, (13.75, f64::INFINITY)));
    }
}

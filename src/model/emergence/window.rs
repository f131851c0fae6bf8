//! The usual season of a region, placed on another water.
//!
//! Season windows were told of one region each. A brood of spring and summer comes on the day on which the usual year
//! here has collected the warmth that the region's has by the middle of the window. Where no water is known, Hopkins'
//! bioclimatic law moves it (A. D. Hopkins, "Periodical events and natural law as guides to agricultural research and
//! practice", Monthly Weather Review Supplement 9, 1918; figures from memory): 4 days for a degree of latitude and for
//! 400 feet of altitude, later poleward and upward in spring and early summer. It is a law of North America; Europe is as
//! mild as America is 9 degrees further south, by the two regions' own water below, and its rivers count as lying there.
//!
//! Warmth alone moves too far: in mid-May, by a degree of latitude (about 0.7 C of the yearly mean, from memory) it
//! moves 7.7 days, where the law has 4, since insects of cold waters are adapted to them. [`HEAT_KEPT`] is what makes
//! both agree, and a test holds it.
//!
//! Broods of autumn and winter stay on their day: cooling water, which comes earlier poleward (Hopkins turns the sign of
//! his law in autumn), and shorter days, which about the equinox are alike on a date at all latitudes, lead them, and no
//! figure for water insects is at hand that would part the two. They are only less sure the further they are carried.
//!
//! Days are counted as in the north, from 1 January; south of the equator the caller turns the year by half.

use std::f64::consts::TAU;

use crate::domain::WindowReference;

/// Days of an ordinary year.
const YEAR_DAYS: f64 = 365.0;
/// Hopkins' law: days for a degree of latitude, days for a metre of altitude (400 feet are 122 m).
const DAYS_PER_DEGREE: f64 = 4.0;
const DAYS_PER_M: f64 = 4.0 / 121.92;
/// So much nearer the equator rivers of North America lie that are as warm as those of Europe, degrees.
const EUROPE_IS_MILD_BY_DEG: f64 = 9.0;
/// Share of the move by warmth that is kept, by Hopkins' law.
pub const HEAT_KEPT: f64 = 0.5;
/// No season is moved further, days.
pub const FURTHEST_DAYS: f64 = 60.0;
/// Sd of a move as a share of it (no source).
const SD_OF_MOVE: f64 = 0.5;
/// Least sd of a window anywhere, days (no source).
pub const LEAST_SD_DAYS: f64 = 20.0;
/// Days of the year between which a brood is wholly one of spring and summer, 1 April and 1 August, and those at which
/// it is wholly one of winter and of autumn, 1 March and 1 September: between, the move fades, so that a day more or
/// less in the table is never a leap.
const SPRING_AND_SUMMER: (f64, f64) = (91.0, 213.0);
const WINTER_AND_AUTUMN: (f64, f64) = (60.0, 244.0);

/// The usual year of a region's rivers: a yearly wave, frozen at 0 C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RegionYear {
    /// Mean of the wave, degrees Celsius.
    pub mean_c: f64,
    /// Half of its height, degrees Celsius.
    pub amplitude_c: f64,
    /// Day of the year of its top.
    pub warmest_day: f64,
    /// Usual altitude of its rivers, metres (our choice).
    pub elevation_m: f64,
}

impl RegionYear {
    /// That of the waters which a window speaks of.
    ///
    /// Mid-latitudes: the mean of waves fitted to daily means of four trout waters between 41.4 and 45.4 N that no dam
    /// or spring levels: USGS gauges 01544500, 01420500 and 14211010 (U.S. Geological Survey, public domain, water years
    /// 2017 to 2019) and three sites of West Brook, averaged (USGS Conte laboratory, 1997 to 2010, doi
    /// 10.7717/peerj.1727). They lie at 8.5 to 11.2 C, 7.6 to 11.3 C high, warmest on days 208 to 211; the Mentue in
    /// Switzerland (46.7 N; FOEN) with 9.7, 7.7 and day 203 is of the kind. The other two regions: from memory, no
    /// source at hand.
    #[must_use]
    pub fn of(reference: WindowReference) -> Self {
        let (mean_c, amplitude_c, warmest_day, elevation_m) = match reference {
            WindowReference::MidLatitudes => (9.7, 9.1, 210.0, 300.0),
            WindowReference::NorthernEurope => (10.0, 6.5, 207.0, 150.0),
            WindowReference::SoutheasternPlain => (19.5, 8.0, 205.0, 50.0),
        };
        Self { mean_c, amplitude_c, warmest_day, elevation_m }
    }

    /// Daily means from 1 January, degrees Celsius.
    #[must_use]
    pub fn days_c(&self) -> Vec<f64> {
        let wave = |day: f64| self.mean_c + self.amplitude_c * (TAU * (day - self.warmest_day) / YEAR_DAYS).cos();
        (1..=365_u32).map(|day| wave(f64::from(day)).max(0.0)).collect()
    }
}

/// The usual season of one brood where it was told of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Its middle, day of the northern year.
    pub day: f64,
    /// Sd of it, days.
    pub sd_days: f64,
    /// Of which waters.
    pub reference: WindowReference,
    /// Temperature from which warmth counts, degrees Celsius.
    pub base_temp_c: f64,
    /// Days that it may move earlier and later, for the broods beside it.
    pub room_days: (f64, f64),
}

/// The water it is placed on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Here<'a> {
    /// Degrees north; below 0 in the south.
    pub latitude_deg: f64,
    /// Whether it lies in Europe.
    pub in_europe: bool,
    /// Metres above the sea, where known.
    pub elevation_m: Option<f64>,
    /// Daily means of its usual year, degrees Celsius, where known: from 1 January, in the south from 2 July.
    pub usual_year_c: Option<&'a [f64]>,
}

/// What moved a season.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MovedBy {
    /// The warmth of the water's usual year.
    Warmth,
    /// Latitude alone.
    Latitude,
    /// Latitude and altitude.
    LatitudeAndAltitude,
    /// Nothing: it is of autumn or winter.
    Nothing,
}

/// A season as placed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedWindow {
    /// Its middle, day of the northern year.
    pub day: f64,
    /// Sd of it, days.
    pub sd_days: f64,
    /// What moved it.
    pub by: MovedBy,
}

/// Places `window` on the water of `here`.
#[must_use]
pub fn placed(window: &Window, here: &Here<'_>) -> PlacedWindow {
    let share = share_of_spring(window.day);
    let (by_place, place) = by_hopkins(window.reference, here);
    let by_warmth = here.usual_year_c.and_then(|year_c| by_warmth(window, year_c));
    let (whole, by) = by_warmth.map_or((by_place, place), |days| (days, MovedBy::Warmth));
    let (earlier, later) = window.room_days;
    let days = (share * whole).clamp(-FURTHEST_DAYS, FURTHEST_DAYS).clamp(-earlier, later);
    // As far as it would be carried, whether or not it may go there.
    let carried = (share * whole).abs().max((1.0 - share) * by_place.abs()).min(2.0 * FURTHEST_DAYS);
    PlacedWindow {
        day: window.day + days,
        sd_days: window.sd_days.max(LEAST_SD_DAYS).hypot(SD_OF_MOVE * carried),
        by: if share > 0.0 { by } else { MovedBy::Nothing },
    }
}

/// 1 for a brood of spring and summer, 0 for one of autumn and winter.
fn share_of_spring(day: f64) -> f64 {
    let rise = (day - WINTER_AND_AUTUMN.0) / (SPRING_AND_SUMMER.0 - WINTER_AND_AUTUMN.0);
    let fall = (WINTER_AND_AUTUMN.1 - day) / (WINTER_AND_AUTUMN.1 - SPRING_AND_SUMMER.1);
    rise.min(fall).clamp(0.0, 1.0)
}

/// Days later by Hopkins' law.
fn by_hopkins(reference: WindowReference, here: &Here<'_>) -> (f64, MovedBy) {
    let in_america =
        |latitude_deg: f64, in_europe: bool| latitude_deg - if in_europe { EUROPE_IS_MILD_BY_DEG } else { 0.0 };
    let there = in_america(reference.latitude_deg(), reference == WindowReference::NorthernEurope);
    let by_latitude = DAYS_PER_DEGREE * (in_america(here.latitude_deg.abs(), here.in_europe) - there);
    let above = here.elevation_m.map(|elevation_m| elevation_m - RegionYear::of(reference).elevation_m);
    match above {
        Some(above_m) => (by_latitude + DAYS_PER_M * above_m, MovedBy::LatitudeAndAltitude),
        None => (by_latitude, MovedBy::Latitude),
    }
}

/// Days later until `year_c` has collected what the region has by the middle of the window, so far as is kept; `None`
/// where it never does.
fn by_warmth(window: &Window, year_c: &[f64]) -> Option<f64> {
    let collected = |year_c: &[f64]| -> Vec<f64> {
        let sums = year_c.iter().scan(0.0, |sum, mean_c| {
            *sum += (mean_c - window.base_temp_c).max(0.0);
            Some(*sum)
        });
        std::iter::once(0.0).chain(sums).collect()
    };
    let needed = crate::model::clock::reading(&collected(&RegionYear::of(window.reference).days_c()), window.day);
    let here = collected(year_c);
    let after = here.partition_point(|sum| *sum < needed);
    let (low, high) = (here.get(after.checked_sub(1)?)?, here.get(after)?);
    let day = (after - 1) as f64 + (needed - low) / (high - low);
    Some(HEAT_KEPT * (day - window.day))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window(day: f64, reference: WindowReference) -> Window {
        Window { day, sd_days: 12.0, reference, base_temp_c: 0.0, room_days: (f64::INFINITY, f64::INFINITY) }
    }

    fn year(reference: WindowReference, warmer_c: f64) -> Vec<f64> {
        let region = RegionYear::of(reference);
        RegionYear { mean_c: region.mean_c + warmer_c, ..region }.days_c()
    }

    fn on(day: f64, year_c: &[f64]) -> PlacedWindow {
        let here = Here { latitude_deg: 43.0, in_europe: false, elevation_m: None, usual_year_c: Some(year_c) };
        placed(&window(day, WindowReference::MidLatitudes), &here)
    }

    fn at(day: f64, latitude_deg: f64, elevation_m: Option<f64>) -> PlacedWindow {
        placed(
            &window(day, WindowReference::MidLatitudes),
            &Here { latitude_deg, in_europe: false, elevation_m, usual_year_c: None },
        )
    }

    const MAY: f64 = 135.0;

    #[test]
    fn the_regions_own_water_moves_nothing() {
        for (reference, _) in WindowReference::WORDS {
            let year_c = year(reference, 0.0);
            let in_europe = reference == WindowReference::NorthernEurope;
            for day in [100.0, MAY, 153.5, 200.0, 243.0] {
                let here = Here { latitude_deg: 60.0, in_europe, elevation_m: None, usual_year_c: Some(&year_c) };
                let own = placed(&window(day, reference), &here);
                assert!((own.day - day).abs() < 1e-9, "{reference:?}: {own:?}");
                assert_eq!(own.by, MovedBy::Warmth);
            }
            assert!(
                (placed(
                    &window(MAY, reference),
                    &Here { latitude_deg: -reference.latitude_deg(), in_europe, elevation_m: None, usual_year_c: None }
                )
                .day - MAY)
                    .abs()
                    < 1e-9,
                "as far from the equator in the south"
            );
        }
        assert_eq!(on(MAY, &year(WindowReference::MidLatitudes, 0.0)).sd_days, LEAST_SD_DAYS);
    }

    #[test]
    fn warmer_water_is_earlier_and_colder_later_and_both_are_less_sure() {
        let of = |warmer_c: f64| on(MAY, &year(WindowReference::MidLatitudes, warmer_c));
        let days = [3.0, 1.0, 0.0, -1.0, -3.0].map(|warmer_c| of(warmer_c).day);
        assert!(days.windows(2).all(|pair| pair[0] < pair[1]), "{days:?}");
        assert!(of(3.0).sd_days > of(1.0).sd_days && of(1.0).sd_days > LEAST_SD_DAYS);
        assert!(of(-3.0).sd_days > of(-1.0).sd_days);
        // A spring is warm in winter, which tells most in spring.
        let spring = [9.7; 365];
        let earlier = |day: f64| day - on(day, &spring).day;
        assert!(earlier(100.0) > earlier(210.0) && earlier(210.0) > 0.0, "{} {}", earlier(100.0), earlier(210.0));
    }

    #[test]
    fn a_degree_of_latitude_moves_may_as_hopkins_law_has_it() {
        // 4 days a degree; about 0.7 C of the yearly mean a degree (both from memory).
        for warmer_c in [-0.7, 0.7] {
            let days = (on(MAY, &year(WindowReference::MidLatitudes, warmer_c)).day - MAY).abs();
            assert!((3.0..5.0).contains(&days), "{days}");
        }
        assert!((at(MAY, 44.0, None).day - MAY - 4.0).abs() < 1e-9);
        // 400 feet above the region's rivers.
        assert!((at(MAY, 43.0, Some(300.0 + 121.92)).day - MAY - 4.0).abs() < 1e-9);
        assert_eq!(
            (at(MAY, 44.0, None).by, at(MAY, 44.0, Some(1.0)).by),
            (MovedBy::Latitude, MovedBy::LatitudeAndAltitude)
        );
    }

    #[test]
    fn europe_counts_as_america_further_south() {
        let of = |reference, latitude_deg, in_europe| {
            let here = Here { latitude_deg, in_europe, elevation_m: None, usual_year_c: None };
            placed(&window(MAY, reference), &here).day - MAY
        };
        let (american, european) = (WindowReference::MidLatitudes, WindowReference::NorthernEurope);
        assert_eq!((of(american, 52.0, true), of(european, 43.0, false)), (0.0, 0.0), "water as warm");
        assert_eq!((of(american, 52.0, false), of(european, 54.0, true)), (36.0, 8.0));
        // By their water the two regions lie within a fortnight in mid-May: winters are milder.
        let warmth = on(MAY, &year(european, 0.0)).day - MAY;
        assert!(warmth < 0.0 && warmth > -14.0, "{warmth}");
    }

    #[test]
    fn water_that_never_collects_the_warmth_gives_way_to_latitude() {
        for cold in [vec![0.0; 365], vec![1.0; 365], Vec::new()] {
            let placed = on(MAY, &cold);
            assert_eq!((placed.day, placed.by), (MAY, MovedBy::Latitude), "at the region's own latitude");
        }
    }

    #[test]
    fn autumn_and_winter_stay_and_nothing_leaps() {
        let cold = year(WindowReference::MidLatitudes, -4.0);
        for day in [20.0, 44.0, 60.0, 244.0, 278.0, 350.0] {
            let (warmth, latitude) = (on(day, &cold), at(day, 55.0, None));
            assert_eq!((warmth.day, warmth.by, latitude.day), (day, MovedBy::Nothing, day));
            assert!(latitude.sd_days > warmth.sd_days, "carried far");
        }
        let cool = year(WindowReference::MidLatitudes, -2.0);
        let moved: Vec<f64> = (1..=365).map(|day| on(f64::from(day), &cool).day - f64::from(day)).collect();
        assert!(moved.windows(2).all(|pair| (pair[1] - pair[0]).abs() < 2.5), "{moved:?}");
    }

    #[test]
    fn no_season_is_moved_beyond_the_bound_or_into_the_next_brood() {
        assert_eq!(at(MAY, 69.0, None).day, MAY + FURTHEST_DAYS);
        assert_eq!(at(MAY, 20.0, None).day, MAY - FURTHEST_DAYS);
        assert!(at(MAY, 69.0, None).sd_days > at(MAY, 50.0, None).sd_days);
        let narrow = Window { room_days: (10.0, 15.0), ..window(MAY, WindowReference::MidLatitudes) };
        let of = |latitude_deg| {
            placed(&narrow, &Here { latitude_deg, in_europe: false, elevation_m: None, usual_year_c: None }).day
        };
        assert_eq!((of(60.0), of(30.0)), (MAY + 15.0, MAY - 10.0));
    }
}

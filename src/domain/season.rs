//! Which days belong to a season, how they are counted, and from when a clock collects warmth.

use chrono::{Datelike, Days, Months, NaiveDate};

use super::place::{word_for, word_of};
use super::{Invalid, Taxon};

/// Day of an ordinary year on which autumn is taken to begin, 1 September, and the last day of winter,
/// 28 February.
const AUTUMN_FROM: f64 = 244.0;
const WINTER_TO: f64 = 59.0;
/// Day of an ordinary year from which emergence belongs to the winter that follows, 1 December.
const WINTER_FROM: f64 = 335.0;
/// Days of an ordinary year before 1 July.
const DAYS_BEFORE_JULY: f64 = 181.0;
/// Days of an ordinary year.
const YEAR_DAYS: f64 = 365.0;

/// How the year of a taxon is cut ([`Cycle::of`]), so that no emergence is cut in two, and from when the clocks of each
/// of its broods run ([`Cycle::of_brood`]), so that none collects the warmth of a spring that lies before the insect's
/// growth.
///
/// That autumn species need another start than the first of January, midsummer for example, came out of
/// trials on long records; that it is the first of July here is our choice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Cycle {
    /// From 1 January; clocks run from then on.
    #[default]
    Calendar,
    /// The same days; clocks run from 1 July.
    Autumn,
    /// From 1 July to the end of June, named after the year in which it begins; clocks run from then on.
    Winter,
}

impl Cycle {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 3] =
        [(Self::Calendar, "calendar"), (Self::Autumn, "autumn"), (Self::Winter, "winter")];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "cycle", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }

    /// That of `taxon`: by the usual middles of its broods, of its window without them. A taxon that also
    /// emerges in spring or summer keeps to the calendar. It says how days are numbered and seasons named; from when
    /// the clocks of a brood run, [`Cycle::of_brood`] does.
    #[must_use]
    pub fn of(taxon: &Taxon) -> Self {
        let mut middles: Vec<f64> = taxon.broods.iter().map(|b| b.median_day_of_year).collect();
        if middles.is_empty() {
            middles.extend(taxon.window_middle());
        }
        let in_winter = |day: &f64| *day <= WINTER_TO || *day >= WINTER_FROM;
        let late = |day: &f64| *day >= AUTUMN_FROM || in_winter(day);
        match () {
            () if middles.is_empty() || !middles.iter().all(late) => Self::Calendar,
            () if middles.iter().any(in_winter) => Self::Winter,
            () => Self::Autumn,
        }
    }

    /// That of brood `number` of `taxon`: what its clocks run by. Days are numbered and seasons named as by
    /// [`Cycle::of`], so that broods of one taxon share a year, whose windows and blank visits are told from each other
    /// by day number.
    ///
    /// An autumn brood of a taxon that also emerges in spring has grown in the summer between: its clocks run from
    /// 1 July. So do those of a brood of December. One of January or February keeps to 1 January: the summer that it
    /// grew in belongs to the year before, and a year of its own would part it from its taxon. Little heat tells its
    /// days then, and the calendar carries it. What a winter brood has of both sides of New Year stays cut there.
    #[must_use]
    pub fn of_brood(taxon: &Taxon, number: u8) -> Self {
        let whole = Self::of(taxon);
        let brood = taxon.broods.iter().find(|brood| brood.number == number);
        match brood {
            Some(brood) if whole == Self::Calendar && brood.median_day_of_year >= AUTUMN_FROM => Self::Autumn,
            _ => whole,
        }
    }

    /// The season named after `year`.
    #[must_use]
    pub fn season(self, year: i32) -> Season {
        Season { year, cycle: self }
    }

    /// The season that `date` belongs to.
    #[must_use]
    pub fn containing(self, date: NaiveDate) -> Season {
        let before = self == Self::Winter && date.month() < 7;
        self.season(date.year() - i32::from(before))
    }

    /// Day number of the real-valued `day_of_year` (1 is 1 January) in an ordinary season.
    #[must_use]
    pub fn day_number(self, day_of_year: f64) -> f64 {
        match self {
            Self::Calendar | Self::Autumn => day_of_year,
            Self::Winter => (day_of_year - DAYS_BEFORE_JULY - 1.0).rem_euclid(YEAR_DAYS) + 1.0,
        }
    }
}

/// Which season of each taxon is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhichSeason {
    /// The one named after a year.
    Named(i32),
    /// The one that a day belongs to; a winter's may be named after the year before.
    On(NaiveDate),
}

impl WhichSeason {
    /// The season meant of a taxon with `cycle`.
    #[must_use]
    pub fn of(self, cycle: Cycle) -> Season {
        match self {
            Self::Named(year) => cycle.season(year),
            Self::On(date) => cycle.containing(date),
        }
    }
}

/// The days of one season.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Season {
    /// The year the season is named after.
    pub year: i32,
    /// Where it begins, and from when clocks run.
    pub cycle: Cycle,
}

impl Season {
    /// The season of calendar year `year`, from 1 January.
    #[must_use]
    pub fn of_year(year: i32) -> Self {
        Cycle::Calendar.season(year)
    }

    /// The calendar year's season that `date` belongs to.
    #[must_use]
    pub fn containing(date: NaiveDate) -> Self {
        Cycle::Calendar.containing(date)
    }

    /// The season of the same cycle named after `year`.
    #[must_use]
    pub fn another(self, year: i32) -> Self {
        Self { year, ..self }
    }

    /// Number of days: 365 or 366.
    #[must_use]
    pub fn len(self) -> usize {
        (self.another(self.year + 1).first_day() - self.first_day()).num_days() as usize
    }

    /// Never true; a season has days.
    #[must_use]
    pub fn is_empty(self) -> bool {
        false
    }

    /// First day.
    #[must_use]
    pub fn first_day(self) -> NaiveDate {
        let new_year = NaiveDate::from_ymd_opt(self.year, 1, 1).unwrap_or(NaiveDate::MIN);
        match self.cycle {
            Cycle::Calendar | Cycle::Autumn => new_year,
            Cycle::Winter => new_year + Months::new(6),
        }
    }

    /// What it is called: `2026`, or `2026/27` where it holds a New Year.
    #[must_use]
    pub fn label(self) -> String {
        match self.cycle {
            Cycle::Calendar | Cycle::Autumn => self.year.to_string(),
            Cycle::Winter => format!("{}/{:02}", self.year, (self.year + 1).rem_euclid(100)),
        }
    }

    /// Days before the clocks begin to run.
    #[must_use]
    pub fn idle_days(self) -> usize {
        match self.cycle {
            Cycle::Calendar | Cycle::Winter => 0,
            Cycle::Autumn => (self.first_day() + Months::new(6) - self.first_day()).num_days() as usize,
        }
    }

    /// Day number of `date` in this season: 1 on the first day; 0 or less before, above `len` after.
    #[must_use]
    pub fn day_number(self, date: NaiveDate) -> i64 {
        (date - self.first_day()).num_days() + 1
    }

    /// The date of day number `day` (1-based).
    #[must_use]
    pub fn date(self, day: usize) -> NaiveDate {
        self.first_day() + Days::new(day.max(1) as u64 - 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::taxon::MonthDay;
    use crate::domain::{Brood, Slug};

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a date")
    }

    #[test]
    fn a_winter_has_one_season_and_every_day_belongs_to_one() {
        let winter = Cycle::Winter.containing(day("2027-01-15"));
        assert_eq!((winter.year, winter.first_day()), (2026, day("2026-07-01")));
        assert_eq!((winter.label().as_str(), Season::of_year(2026).label().as_str()), ("2026/27", "2026"));
        assert_eq!(Cycle::Winter.season(1999).label(), "1999/00");
        assert_eq!(Cycle::Winter.containing(day("2026-12-20")), winter);
        assert_eq!(winter.date(winter.len()), day("2027-06-30"));
        // The leap day of 2028 lies in the winter of 2027.
        assert_eq!((winter.another(2027).len(), winter.len()), (366, 365));
        for cycle in [Cycle::Calendar, Cycle::Autumn, Cycle::Winter] {
            for date in day("2023-12-01").iter_days().take(1000) {
                let season = cycle.containing(date);
                let number = season.day_number(date);
                assert!(number >= 1 && number as usize <= season.len(), "{cycle:?} {date}");
                assert_eq!(season.date(number as usize), date);
            }
        }
    }

    #[test]
    fn clocks_of_autumn_begin_on_the_first_of_july() {
        for year in [2023, 2024] {
            let autumn = Cycle::Autumn.season(year);
            assert_eq!(autumn.date(autumn.idle_days() + 1), day(&format!("{year}-07-01")));
            assert_eq!(autumn.first_day(), day(&format!("{year}-01-01")));
        }
        assert_eq!((Cycle::Winter.season(2024).idle_days(), Season::of_year(2024).idle_days()), (0, 0));
    }

    fn with_broods(middles: &[f64]) -> Taxon {
        let brood = |(index, middle): (usize, &f64)| Brood {
            number: index as u8 + 1,
            median_day_of_year: *middle,
            sd_days: 15.0,
            provenance: String::new(),
        };
        let mut taxon = Taxon::bare(Slug::new("x").expect("a slug"), "Baetis", "genus");
        taxon.broods = middles.iter().enumerate().map(brood).collect();
        taxon
    }

    fn of_each(middles: &[f64]) -> Vec<Cycle> {
        let taxon = with_broods(middles);
        taxon.broods.iter().map(|brood| Cycle::of_brood(&taxon, brood.number)).collect()
    }

    #[test]
    fn an_autumn_brood_of_a_spring_insect_has_clocks_of_its_own() {
        use Cycle::{Autumn, Calendar, Winter};
        assert_eq!(of_each(&[115.0, 190.0, 270.0]), [Calendar, Calendar, Autumn]);
        assert_eq!(of_each(&[150.0, 243.9, 244.0]), [Calendar, Calendar, Autumn]);
        // December grew in the summer before it; January's summer belongs to another year.
        assert_eq!(of_each(&[20.0, 115.0, 334.9, 350.0]), [Calendar, Calendar, Autumn, Autumn]);
        // A taxon of one half of the year is of one piece.
        assert_eq!(of_each(&[250.0, 290.0]), [Autumn, Autumn]);
        assert_eq!(of_each(&[270.0, 20.0]), [Winter, Winter]);
        assert_eq!(Cycle::of_brood(&with_broods(&[115.0, 270.0]), 3), Calendar, "a brood that nobody told of");
        assert_eq!(Cycle::of_brood(&with_broods(&[]), 1), Calendar);
        let mut late = with_broods(&[]);
        late.window = Some((MonthDay { month: 9, day: 10 }, MonthDay { month: 10, day: 20 }));
        assert_eq!(Cycle::of_brood(&late, 1), Autumn, "by its window");
    }

    #[test]
    fn broods_of_a_taxon_number_their_days_alike() {
        for middles in [&[115.0, 190.0, 270.0][..], &[250.0, 290.0], &[270.0, 20.0], &[20.0, 115.0, 350.0], &[]] {
            let taxon = with_broods(middles);
            let whole = Cycle::of(&taxon);
            for number in 1..=4 {
                let own = Cycle::of_brood(&taxon, number);
                for date in day("2023-12-01").iter_days().take(800) {
                    let (season, common) = (own.containing(date), whole.containing(date));
                    assert_eq!((season.year, season.label()), (common.year, common.label()), "{middles:?} {date}");
                    assert_eq!(season.day_number(date), common.day_number(date), "{middles:?} {date}");
                }
                assert_eq!(own.day_number(300.0), whole.day_number(300.0));
            }
        }
    }

    #[test]
    fn days_of_the_year_become_days_of_the_season() {
        assert_eq!(Cycle::Winter.day_number(182.0), 1.0);
        assert_eq!(Cycle::Winter.day_number(181.5), 365.5);
        let new_year = Cycle::Winter.season(2025).day_number(day("2026-01-01"));
        assert_eq!(Cycle::Winter.day_number(1.0), new_year as f64);
        assert_eq!(Cycle::Autumn.day_number(266.0), 266.0);
    }
}

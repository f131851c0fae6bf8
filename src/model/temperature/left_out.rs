//! What a past season's water could have become, seen from one of its days, when that season is
//! left out of everything else: measured to the day of issue, then the anomalies of every other
//! season from the same time of year, blended from that day's anomaly x0 as in [`super::ensemble`],
//! a(h) + phi^h (x0 - a(0)). Other seasons are those before and after it, since the fits that it is
//! used with know them too.

use super::WATER_FLOOR_C;
use super::climatology::Climatology;
use super::ensemble::central_season;
use super::gaps::Completed;
use super::series::DayTemp;
use crate::domain::season::Season;

/// Moves against the calendar under which each other season is used, days; half the largest move of
/// the ensemble.
const MOVES: [isize; 3] = [0, -5, 5];

/// A season left out, with the others that stand in for its future.
#[derive(Debug, Clone)]
pub struct LeftOutSeason {
    season: Season,
    own: Vec<DayTemp>,
    others: Vec<Vec<f64>>,
    phi: f64,
    usual: Vec<DayTemp>,
}

impl LeftOutSeason {
    /// Prepares `season`; `others` are seasons that were measured.
    #[must_use]
    pub fn new(completed: &Completed, climatology: &Climatology, season: Season, others: &[i32]) -> Self {
        let days = |season| central_season(completed, climatology, season);
        let anomalies = |year: i32| {
            let other = season.another(year);
            let known = days(other);
            // A season of which little is known would stand for no weather at all.
            (known.iter().filter(|d| d.known).count() * 5 >= known.len() * 4).then(|| {
                let usual = |index: usize| climatology.usual_day(other.date(index + 1)).tmean_c;
                known.iter().enumerate().map(|(index, day)| day.temp.tmean_c - usual(index)).collect()
            })
        };
        Self {
            season,
            own: days(season).into_iter().map(|day| day.temp).collect(),
            others: others.iter().filter(|year| **year != season.year).filter_map(|year| anomalies(*year)).collect(),
            phi: climatology.phi(),
            usual: (1..=season.len()).map(|day| climatology.usual_day(season.date(day))).collect(),
        }
    }

    /// The seasons that were possible at the end of day `issue` (may lie before 1); the usual one
    /// alone when no other season is known.
    #[must_use]
    pub fn members(&self, issue: i64) -> Vec<Vec<DayTemp>> {
        let known = usize::try_from(issue).unwrap_or(0).min(self.season.len());
        let start = known.checked_sub(1).map(|last| self.own[last].tmean_c - self.usual[last].tmean_c);
        let nothing = [vec![0.0; self.season.len()]];
        let others: &[Vec<f64>] = if self.others.is_empty() { &nothing } else { &self.others };
        let moves = others.iter().flat_map(|other| MOVES.iter().map(move |by| (other, *by)));
        moves.map(|(other, by)| self.member(other, by, known, start)).collect()
    }

    fn member(&self, other: &[f64], by: isize, known: usize, start: Option<f64>) -> Vec<DayTemp> {
        let anomaly = |index: usize| other[index.saturating_add_signed(by).min(other.len() - 1)];
        // A season that has not begun continues nothing.
        let gap = start.map_or(0.0, |x0| x0 - anomaly(known - 1));
        let ahead = |index: usize| {
            let faded = self.phi.powf((index + 1 - known) as f64) * gap;
            let usual = self.usual[index];
            let a = anomaly(index) + faded;
            DayTemp { tmean_c: usual.tmean_c + a, tmin_c: usual.tmin_c + a, tmax_c: usual.tmax_c + a }
                .floored(WATER_FLOOR_C)
        };
        (0..self.season.len()).map(|index| if index < known { self.own[index] } else { ahead(index) }).collect()
    }
}

#[cfg(test)]
mod tests {
    use chrono::NaiveDate;

    use super::*;
    use crate::model::temperature::Series;

    /// Five years of a plain wave, with what `own` adds to the days of 2023.
    fn season(own: impl Fn(usize) -> f64) -> LeftOutSeason {
        let mut series = Series::new();
        for year in 2020..=2024 {
            for day in 1..=Season::of_year(year).len() {
                let date = Season::of_year(year).date(day);
                let wave = 10.0 - 6.0 * (std::f64::consts::TAU * day as f64 / 365.25).cos();
                let weather = (day as f64 / 9.0 + f64::from(year)).sin();
                let added = if year == 2023 { own(day) } else { 0.0 };
                series.insert(date, DayTemp::of_mean(wave + weather + added));
            }
        }
        let through = NaiveDate::from_ymd_opt(2024, 12, 31).expect("a date");
        // One usual year for both, so that only the season itself differs.
        let plain: Series =
            series.iter().filter(|(d, _)| Season::containing(**d).year != 2023).map(|(d, t)| (*d, *t)).collect();
        let climatology = Climatology::fit(&plain, through).expect("a cycle");
        let completed = Completed::from_measured(&series, &climatology, through);
        LeftOutSeason::new(&completed, &climatology, Season::of_year(2023), &[2020, 2021, 2022, 2023, 2024])
    }

    #[test]
    fn days_to_the_issue_are_as_measured_and_later_ones_are_not_seen() {
        let plain = season(|_| 0.0).members(100);
        let warm_later = season(|day| if day > 100 { 4.0 } else { 0.0 }).members(100);
        assert_eq!(plain.len(), 12, "four other seasons, three moves");
        assert_eq!(plain, warm_later);
        let own = season(|_| 0.0).own;
        assert!(plain.iter().all(|member| member[..100] == own[..100] && member[150] != own[150]));
        let before = season(|_| 0.0).members(-20);
        assert!(before.iter().all(|member| member[0] != own[0]));
    }

    #[test]
    fn a_warm_day_of_issue_fades() {
        let plain = season(|_| 0.0).members(100);
        let warm = season(|day| if day == 100 { 3.0 } else { 0.0 }).members(100);
        let gain = |h: usize| warm[0][99 + h].tmean_c - plain[0][99 + h].tmean_c;
        assert!((gain(0) - 3.0).abs() < 1e-9 && gain(1) > gain(5) && gain(5) > gain(120));
    }
}

//! The date rule: when do records show a share of the season's emergence?
//!
//! The running sum of catch per effort over the visits, divided by the season's sum, read linearly
//! between the two visits around the share. At the first visit the sum jumps from nothing, so a
//! share reached there has that visit's day.

/// Day on which the running sum of `catches` (day of visit, catch per effort, in order of day)
/// reaches `share` of its total; `None` without any catch.
#[must_use]
pub fn day_of_share(catches: &[(f64, f64)], share: f64) -> Option<f64> {
    let total: f64 = catches.iter().map(|(_, c)| c).sum();
    if total <= 0.0 {
        return None;
    }
    let target = share * total;
    let mut sum = 0.0;
    let mut previous: Option<f64> = None;
    for &(day, catch) in catches {
        let next = sum + catch;
        if next >= target && catch > 0.0 {
            return Some(match previous {
                None => day,
                Some(before) => before + (day - before) * (target - sum) / catch,
            });
        }
        sum = next;
        previous = Some(day);
    }
    catches.last().map(|(day, _)| *day)
}

#[cfg(test)]
mod tests {
    use super::day_of_share;

    #[test]
    fn reads_between_visits() {
        let catches = [(100.0, 0.0), (110.0, 2.0), (120.0, 6.0), (130.0, 2.0)];
        assert_eq!(day_of_share(&catches, 0.1), Some(105.0));
        assert_eq!(day_of_share(&catches, 0.5), Some(115.0));
        assert_eq!(day_of_share(&catches, 0.9), Some(125.0));
        assert_eq!(day_of_share(&[(100.0, 3.0), (110.0, 1.0)], 0.1), Some(100.0));
        assert_eq!(day_of_share(&[(100.0, 0.0)], 0.1), None);
    }
}

//! What is told of real orders. A trial on the same counts found year effects of 0.10 to 0.14 on the
//! log of the heat clock (0.04 to 0.09 as fitted here), as large as where warmth drives nothing; in
//! days they are smaller than on the calendar, so that warmth must not be doubted for them.

use subimago::app::fit::input;
use subimago::domain::fit::ClockKind;
use subimago::model::clock::ClockRun;
use subimago::model::emergence::prior::log_slope_per_day;
use subimago::model::emergence::{Candidates, doubts};
use subimago::model::posterior::layout::{D50, DC, TB};

use super::brook::file;
use super::skill::known;

#[test]
fn effects_usual_among_orders_do_not_speak_against_warmth() {
    if file("emergence.csv").is_none() {
        return;
    }
    let known = known();
    for taxon in ["dipteran", "caddisfly", "stonefly"] {
        let subject = known.taxa.iter().find(|t| t.slug.as_str() == taxon).unwrap();
        let input = input(&known, subject, 1);
        let candidates = Candidates::fit(&input).unwrap();
        let told = doubts(&candidates, &input, &candidates.choice(None));
        let days = |clock: ClockKind| {
            let fit = candidates.fits.iter().find(|f| f.clock == clock).unwrap();
            let mean = &fit.mean;
            let run = ClockRun::new(clock, &candidates.data.climate, mean[TB], mean[DC], 365);
            let slope = log_slope_per_day(&run, mean[D50]).unwrap();
            let sds = [fit.effects.site_shift, fit.effects.year_shift, fit.effects.unit_shift];
            println!("{taxon} {clock:?}: sites, years, site-years {sds:.3?}, days {:.1?}", sds.map(|sd| sd / slope));
            sds.iter().map(|sd| (sd / slope).powi(2)).sum::<f64>().sqrt()
        };
        let quotient = days(ClockKind::Thermal) / days(ClockKind::Calendar);
        println!("{taxon}: {quotient:.2} of the calendar's days; told {told:?}");
        assert!((0.4..1.2).contains(&quotient), "{taxon}: {quotient}");
        assert!(!told.iter().any(|text| text.starts_with("warmth does not explain")), "{taxon}: {told:?}");
    }
}

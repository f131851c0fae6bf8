//! What is told of real orders. Their year effects on the log of the heat clock, 0.10 to 0.14, would
//! be a doubt by their size alone; degree-days date them as well as a calendar does or better (the
//! simple predictors of [`super::dates`]), so that warmth must not be doubted for those effects.

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
        for fit in &candidates.fits {
            let mode = &fit.laplace.mode;
            let run = ClockRun::new(fit.clock, &candidates.data.climate, mode[TB], mode[DC], 365);
            let slope = log_slope_per_day(&run, mode[D50]).unwrap();
            let sds = [fit.effects.site_shift, fit.effects.year_shift, fit.effects.unit_shift];
            println!(
                "{taxon} {:?}: sites, years, site-years {sds:.3?}, days {:.1?}",
                fit.clock,
                sds.map(|sd| sd / slope)
            );
        }
        println!("{taxon}: {told:?}");
        let heat = candidates.fits.iter().find(|f| f.clock == ClockKind::Thermal).unwrap();
        println!("{}", heat.effects.year_shift);
        assert!(!told.iter().any(|text| text.starts_with("warmth does not explain")), "{taxon}: {told:?}");
    }
}

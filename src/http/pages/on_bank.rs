//! "What to put on", asked on the bank: an hour, what fish and insects show, what weather and water are like; the advice
//! for it below the form. Works without scripts.

use axum::body::Body;
use axum::extract::{Path, RawQuery, State};
use axum::http::{HeaderMap, Response};
use maud::{Markup, html};

use super::given::{Given, Moment, carried, dated, refused, tied, wrong, wrong_elsewhere};
use super::handlers::{PAGE_CACHE, sent};
use super::put_on::put_on;
use super::units::{LANGUAGE_RULE, Shown, UNITS_RULE, Units};
use super::words::cautions_told;
use super::{layout, report};
use crate::app::WatershedView;
use crate::app::document::GuidanceDocument;
use crate::app::guidance::{self, GuidanceQuery};
use crate::app::seen;
use crate::domain::{Condition, Reach, Sign};
use crate::http::api::guidance::read_bank;
use crate::http::extract::path_slug;
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, QueryReader, parse_form};
use crate::http::state::AppState;
use crate::say;
use crate::words::Language;

/// Fields that tell what is wrong with them.
const FIELDS: [&str; 4] = ["date", "time", "signs", "conditions"];

/// The form as it is sent.
#[derive(Debug)]
struct Form {
    moment: Moment,
    signs: Vec<Sign>,
    conditions: Vec<Condition>,
}

impl FromQuery for Form {
    fn read(reader: &mut QueryReader) -> Self {
        // Read with the page (see `Shown`), which carries it on.
        reader.parsed("units", UNITS_RULE, Units::of_word);
        reader.parsed("lang", LANGUAGE_RULE, Language::parse);
        let moment = Moment::read(reader);
        let (signs, conditions) = read_bank(reader);
        Self { moment, signs, conditions }
    }
}

/// `/w/{w}/reaches/{r}/guidance`
pub(crate) async fn bank_page(
    State(state): State<AppState>,
    Path((w, r)): Path<(String, String)>,
    RawQuery(query): RawQuery,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    let reach = view.reach(&path_slug("reach", &r)?)?;
    let zone = view.watershed.time_zone;
    let now = seen::now(&state.service, &view);
    let (pairs, form) = parse_form::<Form>(query.as_deref().unwrap_or_default())?;
    let mut given = Given { pairs, now: now.with_timezone(&zone), language: shown.language, faults: Vec::new() };
    match form {
        Ok(Form { moment, signs, conditions }) => {
            let at = Some(moment.at(now, zone).unwrap_or(now));
            let question =
                GuidanceQuery { at, signs, conditions, language: shown.language, ..GuidanceQuery::default() };
            let advice = guidance::guidance(&state.service, &view, &reach, &question).await?;
            Ok(sent(&headers, &shown, page(&shown, &view, &reach, &given, Some(&advice)), PAGE_CACHE))
        }
        Err(problem) => {
            given.faults = problem.faults().to_vec();
            Ok(refused(sent(&headers, &shown, page(&shown, &view, &reach, &given, None), "no-store")))
        }
    }
}

/// The form for `reach`, with `advice` where what was given can be read.
fn page(
    shown: &Shown,
    view: &WatershedView,
    reach: &Reach,
    given: &Given,
    advice: Option<&GuidanceDocument>,
) -> Markup {
    let (language, slug) = (shown.language, &view.watershed.slug);
    let path = format!("/w/{slug}/reaches/{}", reach.slug);
    let signs = Sign::WORDS.map(|(_, word)| word);
    let conditions = Condition::WORDS.map(|(_, word)| word);
    let taxon = |slug: &str| view.taxa.iter().find(|taxon| taxon.slug.as_str() == slug).map(|taxon| &**taxon);
    let body = html! {
        (layout::trail(language, &[
            (&view.watershed.name, format!("/w/{slug}")), (&reach.name, path.clone()),
        ]))
        h1 { (say!(language, "bank-title")) }
        p { (say!(language, "bank-lead", reach = &reach.name)) }
        form.asked method="get" action=(format!("{path}/guidance")) {
            div.pair {
                (dated(given, "date", &say!(language, "seen-date"), &given.now.format("%Y-%m-%d").to_string()))
                (dated(given, "time", &say!(language, "seen-time"), &given.now.format("%H:%M").to_string()))
            }
            (boxes(language, given, "signs", &say!(language, "bank-signs"), "sign", &signs))
            (boxes(language, given, "conditions", &say!(language, "bank-conditions"), "condition", &conditions))
            (wrong_elsewhere(given, &FIELDS))
            (carried(given))
            button.send type="submit" { (say!(language, "bank-send")) }
        }
        @if let Some(advice) = advice {
            @if advice.taxa.is_empty() { p { (say!(language, "bank-nothing")) } }
            (put_on(language, advice, view.watershed.time_zone, None, taxon))
            (cautions_told(language, &advice.cautions, shown.units))
        }
        p.links {
            a href=(format!("/report?w={slug}&r={}", reach.slug)) { (say!(language, "seen-report")) }
            a href=(path) { (say!(language, "seen-back", reach = &reach.name)) }
        }
    };
    let title = format!("{} {}, {}", say!(language, "bank-title"), reach.name, view.watershed.name);
    let extras = layout::Extras { style: Some(report::style_path()), ..layout::Extras::default() };
    layout::page_with(
        language,
        &say!(language, "layout-title", what = title),
        &say!(language, "bank-about"),
        &body,
        &extras,
    )
}

/// Several of `options` may hold, each in the words of `family`.
fn boxes(language: Language, given: &Given, name: &str, label: &str, family: &str, options: &[&str]) -> Markup {
    html! {
        fieldset.checks aria-describedby=[tied(given, name)] {
            legend { (label) }
            @for value in options {
                label { input type="checkbox" name=(name) value=(value) checked[given.is(name, value)]; " " (language.word(family, value)) }
            }
            (wrong(given, name))
        }
    }
}

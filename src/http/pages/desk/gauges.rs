//! Gauges: how old their readings are, how fetching goes, what was flagged, and the keeper's word on it.

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::Response;
use chrono::{Days, NaiveDate};
use maud::{Markup, html};

use super::form::{Fields, Refused};
use super::frame::{Said, answered, at, clock, mark, page_at, saying, see_other, sent};
use super::overrule::{by_hand, chosen, key_of};
use super::session::{AtWater, Sent};
use super::{chart, overrule};
use crate::app::document::{FetchingDocument, GaugeDetailDocument};
use crate::app::gauge_detail::gauge_detail;
use crate::app::reading::Step;
use crate::app::sync::source_of;
use crate::app::{AppError, jobs, reading};
use crate::domain::{Gauge, Quality, Quantity, Reading, ReadingTime};
use crate::http::extract::path_slug;
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, Query, QueryReader};
use crate::http::state::AppState;

/// Days shown unless asked otherwise, and at most.
const DAYS: u64 = 60;
const MOST_DAYS: i64 = 400;
/// The same of single readings, of which a day may hold hundreds.
const MOST_DAYS_OF_INSTANTS: i64 = 3;

/// `/desk/{w}/gauges`
pub(crate) async fn list_page(
    State(state): State<AppState>,
    who: AtWater,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    let view = &who.view;
    let mut details = Vec::new();
    for gauge in &view.gauges {
        details.push(gauge_detail(&state.service, &view.watershed, gauge).await?);
    }
    let zone = view.watershed.time_zone;
    let body = html! {
        @if details.is_empty() {
            p { "This water has no gauges yet." }
        } @else {
            div.scroll tabindex="0" role="region" aria-label="Gauges" {
                table {
                    caption { "Age of the newest reading of each quantity, of any quality." }
                    thead { tr { th scope="col" { "Gauge" } th scope="col" { "Newest readings" } th scope="col" { "Source" } th scope="col" { "Fetching" } } }
                    tbody {
                        @for detail in &details {
                            tr {
                                th scope="row" { a href=(at(view, &format!("/gauges/{}", detail.gauge.slug))) { (detail.gauge.name) } }
                                td { (ages(detail)) }
                                td { (detail.gauge.source.as_deref().unwrap_or("\u{2013}")) }
                                td {
                                    @match &detail.fetching {
                                        None => "\u{2013}",
                                        Some(FetchingDocument { failure: Some(failure), done_at, .. }) => {
                                            strong { "Fails: " (failure) }
                                            @match done_at { Some(done) => { " Last well " (clock(*done, zone)) "." } None => " Never well." }
                                        }
                                        Some(fetching) => { "Well, last tried " (clock(fetching.tried_at, zone)) }
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    };
    Ok(sent(page_at(&who, "/gauges", "Gauges", said, &body)))
}

fn words(quantity: &str) -> String {
    quantity.replace('_', " ")
}

fn ages(detail: &GaugeDetailDocument) -> Markup {
    html! {
        @if detail.readings.is_empty() { "None" }
        @for series in &detail.readings {
            (words(series.quantity)) ": " (series.newest.format("%-d %B %Y")) ", "
            @match series.age_days { 0 => "today", 1 => "1 day old", days => { (days) " days old" } }
            br;
        }
    }
}

/// What of a gauge is shown.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ShownQuery {
    quantity: Quantity,
    from: Option<NaiveDate>,
    to: Option<NaiveDate>,
    step: Step,
    said: Said,
}

impl FromQuery for ShownQuery {
    fn read(reader: &mut QueryReader) -> Self {
        let quantity = reader.parsed("quantity", "must be a quantity", |text| Quantity::parse(text).ok());
        let step = reader.parsed("step", "must be day or instant", |text| match text {
            "day" => Some(Step::Day),
            "instant" => Some(Step::Instant),
            _ => None,
        });
        // A form sends fields that were left empty too.
        let mut date = |name| reader.one(name).filter(|text| !text.is_empty()).map(|text| (name, text));
        let (from, to) = (date("from"), date("to"));
        let mut read = |field: Option<(&str, String)>| {
            let (name, text) = field?;
            let read = text.parse::<NaiveDate>().ok();
            if read.is_none() {
                reader.fault(name, "invalid_value", "must be a date as YYYY-MM-DD");
            }
            read
        };
        let (from, to) = (read(from), read(to));
        Self {
            quantity: quantity.unwrap_or_default(),
            from,
            to,
            step: step.unwrap_or(Step::Day),
            said: Said::take(reader),
        }
    }
}

/// What is shown, settled.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shown {
    pub(super) quantity: Quantity,
    pub(super) from: NaiveDate,
    pub(super) to: NaiveDate,
    pub(super) step: Step,
}

impl Shown {
    fn of(query: ShownQuery, today: NaiveDate) -> Self {
        let most = if query.step == Step::Instant { MOST_DAYS_OF_INSTANTS } else { MOST_DAYS };
        let usual = if query.step == Step::Instant { 0 } else { DAYS };
        let to =
            query.to.unwrap_or_else(|| query.from.map_or(today, |from| (from + Days::new(usual)).min(today.max(from))));
        let from = query.from.unwrap_or(to - Days::new(usual)).min(to);
        Self { quantity: query.quantity, from: from.max(to - chrono::TimeDelta::days(most)), to, step: query.step }
    }

    fn address(&self, who: &AtWater, gauge: &Gauge) -> String {
        let step = if self.step == Step::Day { "day" } else { "instant" };
        let (quantity, from, to) = (self.quantity.as_str(), self.from, self.to);
        at(&who.view, &format!("/gauges/{}?quantity={quantity}&step={step}&from={from}&to={to}", gauge.slug))
    }
}

/// `/desk/{w}/gauges/{g}`
pub(crate) async fn gauge_page(
    State(state): State<AppState>,
    who: AtWater,
    Path((_, g)): Path<(String, String)>,
    Query(query): Query<ShownQuery>,
) -> Result<Response<Body>, Problem> {
    let gauge = who.view.gauge(&path_slug("gauge", &g)?)?;
    let shown = Shown::of(query, state.service.today(who.view.watershed.time_zone));
    Ok(sent(page(&state, &who, &gauge, shown, query.said, None).await?))
}

/// Asks the source, overrules flags, or takes a day that was read by hand.
pub(crate) async fn change(
    State(state): State<AppState>,
    Path((_, g)): Path<(String, String)>,
    Query(query): Query<ShownQuery>,
    Sent { at: who, form }: Sent<AtWater>,
) -> Result<Response<Body>, Problem> {
    let (service, slug) = (&state.service, &who.view.watershed.slug);
    let gauge = who.view.gauge(&path_slug("gauge", &g)?)?;
    let shown = Shown::of(query, service.today(who.view.watershed.time_zone));
    let of = form.text("form").to_owned();
    let outcome: Result<&'static str, AppError> = match of.as_str() {
        "sync" => jobs::request_sync(service, slug, &gauge).await.map(|_| "asked"),
        "overrule" => chosen(service, &who, &gauge, shown, &form).await,
        "hand" => by_hand(service, &who, &gauge, shown.quantity, &form).await,
        _ => return Err(Problem::not_found("form")),
    };
    match outcome {
        Ok(word) => Ok(see_other(&saying(&shown.address(&who, &gauge), word))),
        Err(error) => {
            let refused = Refused::new(&of, form, error)?;
            Ok(answered(Some(&refused), page(&state, &who, &gauge, shown, Said(None), Some(&refused)).await?))
        }
    }
}

async fn page(
    state: &AppState,
    who: &AtWater,
    gauge: &Gauge,
    shown: Shown,
    said: Said,
    refused: Option<&Refused>,
) -> Result<Markup, Problem> {
    let view = &who.view;
    let detail = gauge_detail(&state.service, &view.watershed, gauge).await?;
    let span = (shown.from, shown.to);
    let readings =
        reading::list(&state.service, &view.watershed, &gauge.slug, shown.quantity, span, shown.step).await?;
    let single = overrule::days_of_instants(&state.service, who, gauge, shown).await?;
    let day = |date: NaiveDate| date.format("%-d %B %Y").to_string();
    let title = format!("{}, {} to {}", words(shown.quantity.as_str()), day(shown.from), day(shown.to));
    let action = shown.address(who, gauge);
    let body = html! {
        p { a href=(at(view, "/gauges")) { "All gauges" } }
        h2 { (gauge.name) }
        p { (ages(&detail)) }
        (fetching(who, &detail, &action, refused))
        h2 { "Readings" }
        (which(who, gauge, shown, &detail))
        @if readings.is_empty() { p { "No readings in these days." } }
        (chart::chart(&readings, shown.quantity, view.watershed.time_zone, &title))
        @if !readings.is_empty() { (table(who, gauge, shown, &readings, &single, &action, refused)) }
        @if shown.step == Step::Day {
            h2 { "Enter a day read by hand" }
            (hand_form(who, shown, &action, Fields::new("hand", refused)))
        }
    };
    Ok(page_at(who, "/gauges", "Gauge", said, &body))
}

fn fetching(who: &AtWater, detail: &GaugeDetailDocument, action: &str, refused: Option<&Refused>) -> Markup {
    let zone = who.view.watershed.time_zone;
    let fields = Fields::new("sync", refused);
    html! {
        @match &detail.gauge.source { None => p { "It names no source." }, Some(source) => p { "Source: " (source) "." } }
        @if let Some(fetching) = &detail.fetching {
            @if let Some(failure) = &fetching.failure { p.banner { strong { "Fetching fails: " } (failure) } }
            p {
                "Last tried " (clock(fetching.tried_at, zone)) ". "
                @match fetching.done_at { Some(done) => { "Last well " (clock(done, zone)) "." } None => "It has never gone well." }
                @if let Some(until) = fetching.nothing_new_until { " Nothing new until " (clock(until, zone)) "." }
            }
            @for note in &fetching.notes { p.quiet { (note) } }
            @if !fetching.missing.is_empty() { p.quiet { "Not read so far: " (fetching.missing.join(", ")) "." } }
        }
        (fields.complaint(&[]))
        @if source_of(detail.gauge.source.as_deref()).is_some() {
            form method="post" action=(action) {
                (mark(&who.signed))
                input type="hidden" name="form" value="sync";
                button type="submit" { "Ask the source now" }
            }
        } @else if detail.gauge.source.is_some() {
            p.quiet { "This source is no service that can be asked." }
        }
    }
}

fn which(who: &AtWater, gauge: &Gauge, shown: Shown, detail: &GaugeDetailDocument) -> Markup {
    let fields = Fields::new("which", None);
    let measured = |word: &str| detail.readings.iter().any(|series| series.quantity == word);
    let quantities: Vec<(String, String)> = Quantity::WORDS
        .iter()
        .filter(|(quantity, word)| *quantity == Quantity::default() || *quantity == shown.quantity || measured(word))
        .map(|(_, word)| ((*word).to_owned(), words(word)))
        .collect();
    let steps = [("day", "Days"), ("instant", "Single readings, three days at most")]
        .map(|(w, s)| (w.to_owned(), s.to_owned()));
    let step = if shown.step == Step::Day { "day" } else { "instant" };
    html! {
        form.filled action=(at(&who.view, &format!("/gauges/{}", gauge.slug))) {
            div.pair {
                (fields.choice("quantity", "Quantity", shown.quantity.as_str(), "", &quantities))
                (fields.choice("step", "Step", step, "", &steps))
            }
            div.pair {
                (fields.line("date", "from", "From", &shown.from.to_string(), ""))
                (fields.line("date", "to", "To", &shown.to.to_string(), ""))
            }
            button type="submit" { "Show" }
        }
    }
}

fn table(
    who: &AtWater,
    gauge: &Gauge,
    shown: Shown,
    readings: &[Reading],
    single: &std::collections::BTreeSet<NaiveDate>,
    action: &str,
    refused: Option<&Refused>,
) -> Markup {
    let (fields, zone) = (Fields::new("overrule", refused), who.view.watershed.time_zone);
    let flags = [("good", "Good: used"), ("suspect", "Suspect: kept, not used"), ("bad", "Bad: kept, not used")];
    let flags = flags.map(|(word, words)| (word.to_owned(), words.to_owned()));
    let daily = shown.step == Step::Day;
    html! {
        (fields.complaint(&["flag"]))
        form method="post" action=(action) {
            (mark(&who.signed))
            input type="hidden" name="form" value="overrule";
            div.scroll tabindex="0" role="region" aria-label="Readings in numbers" {
                table {
                    caption {
                        "Newest first, in " (shown.quantity.unit_in_words()) ". Tick readings to overrule their flag below."
                        @if !single.is_empty() { " Days made of single readings are judged by those." }
                    }
                    thead {
                        tr {
                            th scope="col" { @if daily { "Day" } @else { "When" } }
                            th scope="col" { @if daily { "Mean (least to greatest)" } @else { "Value" } }
                            th scope="col" { "Flag" } th scope="col" { "Why" } th scope="col" { "From" }
                        }
                    }
                    tbody {
                        @for (index, reading) in readings.iter().enumerate().rev() {
                            tr {
                                th scope="row" {
                                    @match reading.time {
                                        ReadingTime::Day { date, .. } if single.contains(&date) => {
                                            (date.format("%-d %B %Y")) br;
                                            a href=(Shown { from: date, to: date, step: Step::Instant, ..shown }.address(who, gauge)) {
                                                "Its readings" span.unseen { " of " (date.format("%-d %B %Y")) }
                                            }
                                        }
                                        ReadingTime::Day { date, .. } => (tick(index, reading, &date.format("%-d %B %Y").to_string())),
                                        ReadingTime::Instant { at, .. } => (tick(index, reading, &clock(at, zone))),
                                    }
                                }
                                td {
                                    @match reading.time {
                                        ReadingTime::Day { mean, low, high, .. } => (format!("{mean:.2} ({low:.2} to {high:.2})")),
                                        ReadingTime::Instant { value, .. } => (format!("{value:.2}")),
                                    }
                                }
                                td { @if reading.quality == Quality::Good { "good" } @else { strong { (reading.quality.as_str()) } } }
                                td { (reading.reasons.join("; ")) @if !reading.qualifiers.is_empty() { " (" (reading.qualifiers.join(", ")) ")" } }
                                td { (reading.source) }
                            }
                        }
                    }
                }
            }
            div.buttons {
                (fields.choice("flag", "The ticked readings are", "good", "", &flags))
                p { button.main type="submit" { "Overrule" } }
            }
        }
    }
}

fn tick(index: usize, reading: &Reading, words: &str) -> Markup {
    let id = format!("row-{index}");
    html! {
        label.check for=(id) { input id=(id) type="checkbox" name="row" value=(key_of(reading)); span { (words) } }
    }
}

fn hand_form(who: &AtWater, shown: Shown, action: &str, fields: Fields<'_>) -> Markup {
    html! {
        (fields.complaint(&["date", "mean", "low", "high"]))
        form.filled method="post" action=(action) {
            (mark(&who.signed))
            input type="hidden" name="form" value="hand";
            (fields.line("date", "date", "Day", "", ""))
            p.quiet { (words(shown.quantity.as_str())) ", in " (shown.quantity.unit_in_words()) ":" }
            div.pair {
                (fields.line("decimal", "mean", "Mean", "", ""))
                (fields.line("decimal", "low", "Least", "", "May be left out."))
                (fields.line("decimal", "high", "Greatest", "", "May be left out."))
            }
            button.main type="submit" { "Keep" }
        }
    }
}

//! Places and insects of a water: named, changed, added.

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::Response;
use maud::{Markup, html};
use serde_json::Value;

use super::called::called;
use super::editor::{self, Field, document_of, drawn, held, names, version_of};
use super::form::{Fields, Form, Refused};
use super::frame::{Said, answered, at, mark, page_at, saying, see_other, sent};
use super::session::{AtWater, Sent};
use crate::app::document::{
    GaugeDocument, GaugeInput, ReachDocument, ReachInput, TaxonDocument, TaxonInput, WatershedDocument, read,
};
use crate::app::once::Once;
use crate::app::{AppError, Service, place};
use crate::domain::Slug;
use crate::http::extract::path_slug;
use crate::http::problem::Problem;
use crate::http::query::Query;
use crate::http::state::AppState;

/// What can be edited.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Thing {
    Water,
    Reach,
    Gauge,
    Taxon,
}

impl Thing {
    /// All with the word in the address and the name.
    const WORDS: [(Self, &'static str, &'static str); 4] = [
        (Self::Water, "water", "Water"),
        (Self::Reach, "reaches", "Reach"),
        (Self::Gauge, "gauges", "Gauge"),
        (Self::Taxon, "taxa", "Insect"),
    ];

    fn of(word: &str) -> Result<Self, Problem> {
        let known = Self::WORDS.iter().find(|(_, known, _)| *known == word);
        known.map(|(thing, _, _)| *thing).ok_or_else(|| Problem::not_found("kind of place"))
    }

    fn row(self) -> (Self, &'static str, &'static str) {
        Self::WORDS.into_iter().find(|(thing, _, _)| *thing == self).unwrap_or(Self::WORDS[0])
    }

    fn fields(self) -> &'static [Field] {
        match self {
            Self::Water => editor::WATER,
            Self::Reach => editor::REACH,
            Self::Gauge => editor::GAUGE,
            Self::Taxon => editor::TAXON,
        }
    }
}

/// `/desk/{w}/places`
pub(crate) async fn places_page(
    State(state): State<AppState>,
    who: AtWater,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    Ok(sent(places(&state, &who, said, None)))
}

/// Makes what the form names, or says that an insect lives here.
pub(crate) async fn make(
    State(state): State<AppState>,
    Sent { at: who, form }: Sent<AtWater>,
) -> Result<Response<Body>, Problem> {
    let of = form.text("form").to_owned();
    match made(&state, &who, &of, &form).await? {
        Ok(word) => Ok(see_other(&saying(&at(&who.view, "/places"), word))),
        Err(error) => {
            let refused = Refused::new(&of, form, error)?;
            Ok(answered(Some(&refused), places(&state, &who, Said(None), Some(&refused))))
        }
    }
}

async fn made(
    state: &AppState,
    who: &AtWater,
    of: &str,
    form: &Form,
) -> Result<Result<&'static str, AppError>, Problem> {
    let (service, slug) = (&state.service, &who.view.watershed.slug);
    // A short name is given once: a form that comes again is a conflict, not a second thing.
    let once =
        Once { token_id: who.signed.token.id, route: format!("desk {of}"), key: None, fingerprint: String::new() };
    let wish = |thing: Thing| document_of(thing.fields(), form, false);
    let outcome = match of {
        "reaches" => match read::<ReachInput>(wish(Thing::Reach)) {
            Ok(reach) => place::create_reach(service, slug, &reach, &once).await,
            Err(faults) => Err(AppError::Faults(faults)),
        },
        "gauges" => match read::<GaugeInput>(wish(Thing::Gauge)) {
            Ok(gauge) => place::create_gauge(service, slug, &gauge, &once).await,
            Err(faults) => Err(AppError::Faults(faults)),
        },
        "taxa" => match read::<TaxonInput>(wish(Thing::Taxon)) {
            Ok(taxon) => match place::create_taxon(service, &taxon, &once).await {
                Ok(_) => place::add_resident(service, slug, &taxon.slug, &once).await,
                Err(error) => Err(error),
            },
            Err(faults) => Err(AppError::Faults(faults)),
        },
        "resident" => match Slug::new(form.text("taxon")) {
            Ok(taxon) => return Ok(place::add_resident(service, slug, &taxon, &once).await.map(|_| "added")),
            Err(_) => Err(AppError::fault("#/taxon", "missing", "must be chosen")),
        },
        _ => return Err(Problem::not_found("form")),
    };
    Ok(outcome.map(|_| "made"))
}

fn places(state: &AppState, who: &AtWater, said: Said, refused: Option<&Refused>) -> Markup {
    let view = &who.view;
    let edit = |word: &str, slug: &Slug| at(view, &format!("/places/{word}/{slug}"));
    let snapshot = state.service.snapshot();
    let mut elsewhere = vec![(String::new(), "Choose".to_owned())];
    let lives_here = |slug: &Slug| view.taxa.iter().any(|taxon| taxon.slug == *slug);
    let others = snapshot.taxa().iter().filter(|taxon| !lives_here(&taxon.slug));
    elsewhere.extend(others.map(|taxon| (taxon.slug.to_string(), called(taxon).to_string())));
    let resident = Fields::new("resident", refused);
    let body = html! {
        p { a href=(edit("water", &view.watershed.slug)) { "Name, time zone and units of " (view.watershed.name) } }
        h2 { "Reaches" }
        ul.contents { @for reach in &view.reaches { li { a href=(edit("reaches", &reach.slug)) { (reach.name) } } } }
        (new_form(who, Thing::Reach, refused))
        h2 { "Gauges" }
        ul.contents { @for gauge in &view.gauges { li { a href=(edit("gauges", &gauge.slug)) { (gauge.name) } } } }
        (new_form(who, Thing::Gauge, refused))
        h2 { "Insects" }
        ul.contents { @for taxon in &view.taxa { li { a href=(edit("taxa", &taxon.slug)) { (called(taxon)) } } } }
        @if elsewhere.len() > 1 {
            (resident.complaint(&["taxon"]))
            form.filled method="post" action=(at(view, "/places")) {
                (mark(&who.signed))
                input type="hidden" name="form" value="resident";
                (resident.choice("taxon", "An insect that is known here and lives in this water too", "", "", &elsewhere))
                button type="submit" { "Add it to this water" }
            }
        }
        (new_form(who, Thing::Taxon, refused))
    };
    page_at(who, "/places", "Places and insects", said, &body)
}

fn new_form(who: &AtWater, thing: Thing, refused: Option<&Refused>) -> Markup {
    let (_, word, name) = thing.row();
    let fields = Fields::new(word, refused);
    let name = name.to_lowercase();
    html! {
        details open[refused.is_some_and(|refused| refused.of == word)] {
            summary { "A new " (name) }
            (fields.complaint(&names(thing.fields())))
            form.filled method="post" action=(at(&who.view, "/places")) {
                (mark(&who.signed))
                input type="hidden" name="form" value=(word);
                (drawn(thing.fields(), fields, &Value::Null))
                button.main type="submit" { "Make the " (name) }
            }
        }
    }
}

/// What of a thing is stored: its document, with the version that a form is held to, and its name.
fn stored(service: &Service, who: &AtWater, thing: Thing, slug: &Slug) -> Result<(Value, String, String), Problem> {
    fn of(document: impl serde::Serialize, name: &str) -> Result<(Value, String, String), AppError> {
        let version = version_of(&document)?;
        let value = serde_json::to_value(document).map_err(|error| AppError::Internal(error.to_string()))?;
        Ok((value, version, name.to_owned()))
    }
    let view = &who.view;
    Ok(match thing {
        Thing::Water if *slug == view.watershed.slug => of(place::watershed_document(view), &view.watershed.name)?,
        Thing::Water => return Err(Problem::not_found("water")),
        Thing::Reach => {
            let reach = view.reach(slug)?;
            of(ReachDocument::from(&*reach), &reach.name)?
        }
        Thing::Gauge => {
            let gauge = view.gauge(slug)?;
            of(GaugeDocument::from(&*gauge), &gauge.name)?
        }
        Thing::Taxon => {
            if !view.taxa.iter().any(|taxon| taxon.slug == *slug) {
                return Err(Problem::not_found("taxon"));
            }
            // As it is told for every water, not as it lives at this one.
            let taxon = service.snapshot().taxon(slug)?;
            of(TaxonDocument::from(&*taxon), &taxon.scientific_name)?
        }
    })
}

/// `/desk/{w}/places/{kind}/{slug}`
pub(crate) async fn thing_page(
    State(state): State<AppState>,
    who: AtWater,
    Path((_, kind, slug)): Path<(String, String, String)>,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    let thing = Thing::of(&kind)?;
    Ok(sent(edit_page(&state.service, &who, thing, &path_slug("place", &slug)?, said, None)?))
}

fn edit_page(
    service: &Service,
    who: &AtWater,
    thing: Thing,
    slug: &Slug,
    said: Said,
    refused: Option<&Refused>,
) -> Result<Markup, Problem> {
    let (_, word, kind) = thing.row();
    let (document, version, name) = stored(service, who, thing, slug)?;
    let fields = Fields::new("thing", refused);
    let body = html! {
        p { a href=(at(&who.view, "/places")) { "All places and insects" } }
        h2 { (name) }
        @if thing == Thing::Taxon { p.quiet { "Insects are shared: a change holds for every water of yours that it lives in." } }
        (fields.complaint(&names(thing.fields())))
        form.filled method="post" action=(at(&who.view, &format!("/places/{word}/{slug}"))) {
            (mark(&who.signed))
            input type="hidden" name="version" value=(version);
            (drawn(thing.fields(), fields, &document))
            button.main type="submit" { "Save" }
        }
    };
    Ok(page_at(who, "/places", kind, said, &body))
}

/// Changes a thing.
pub(crate) async fn change(
    State(state): State<AppState>,
    Path((_, kind, slug)): Path<(String, String, String)>,
    Sent { at: who, form }: Sent<AtWater>,
) -> Result<Response<Body>, Problem> {
    let (thing, slug) = (Thing::of(&kind)?, path_slug("place", &slug)?);
    stored(&state.service, &who, thing, &slug)?;
    let (service, water) = (&state.service, &who.view.watershed.slug);
    let (patch, version) = (document_of(thing.fields(), &form, true), form.text("version").to_owned());
    let changed = match thing {
        Thing::Water => place::change_watershed(service, water, patch, held::<WatershedDocument>(version)).await,
        Thing::Reach => place::change_reach(service, water, &slug, patch, held::<ReachDocument>(version)).await,
        Thing::Gauge => place::change_gauge(service, water, &slug, patch, held::<GaugeDocument>(version)).await,
        Thing::Taxon => {
            place::change_taxon(service, &who.signed.token, &slug, patch, held::<TaxonDocument>(version)).await
        }
    };
    match changed {
        Ok(()) => Ok(see_other(&saying(&at(&who.view, &format!("/places/{kind}/{slug}")), "saved"))),
        Err(error) => {
            let refused = Refused::new("thing", form, error)?;
            // As it is stored now, which may be newer than what the form was made for.
            let view = service.watershed(water)?;
            let who = AtWater { view, ..who };
            Ok(answered(Some(&refused), edit_page(service, &who, thing, &slug, Said(None), Some(&refused))?))
        }
    }
}

//! Tables that are sent as they are and imported by a job.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{Response, StatusCode};
use utoipa::IntoParams;

use super::KeyParams;
use crate::app::document::JobDocument;
use crate::app::import_job::{FileOf, ImportArguments, request_import};
use crate::app::{AppError, jobs};
use crate::domain::{Quantity, Slug};
use crate::http::docs::{TokenErrors, WriteErrors};
use crate::http::extract::{Keeper, path_uuid};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, NoQuery, Query, QueryReader};
use crate::http::respond;
use crate::http::state::AppState;
use crate::http::upload::Upload;

/// Longest name of a file, characters.
const MAX_NAME: usize = 200;

/// What a table is, and how it is to be taken.
#[derive(Debug, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ImportQuery {
    /// The watershed that it speaks of.
    #[param(value_type = String, example = "ostrey")]
    watershed: Option<Slug>,
    /// What it holds: `readings` or `records`.
    #[param(value_type = String, pattern = "^(readings|records)$", example = "records")]
    kind: Option<FileOf>,
    /// What readings state; `water_temperature` when left out.
    #[param(value_type = Option<String>,
        pattern = "^(water_temperature|air_temperature|discharge|level|clarity|ice)$", example = "water_temperature")]
    quantity: Quantity,
    /// Do everything but store.
    #[param(value_type = Option<bool>)]
    dry_run: bool,
    /// `all_or_nothing` (default), or `best_effort`: store the good rows when some are wrong.
    #[param(value_type = Option<String>, pattern = "^(all_or_nothing|best_effort)$", example = "all_or_nothing")]
    mode: bool,
    /// Rows of records without an id that speak of the same record are visits of their own, in the order of the
    /// table. Not with `best_effort`.
    #[param(value_type = Option<bool>)]
    separate_visits: bool,
    /// Names of columns where the table has others: `ours=theirs,...`.
    #[param(value_type = Option<String>, example = "site=station")]
    columns: String,
    /// A row `column,from,to` of a table of codes; may stand often.
    #[param(value_type = Option<Vec<String>>, example = json!(["abundance_class,A,sparse"]))]
    map: Vec<String>,
    /// Name of the table, kept with each row.
    #[param(value_type = Option<String>, max_length = 200, example = "notebook.csv")]
    file: String,
    /// Licence under which its records may be passed on; of readings the gauge says so.
    #[param(value_type = Option<String>, max_length = 200, example = "CC BY 4.0")]
    licence: Option<String>,
    /// How to cite its records.
    #[param(value_type = Option<String>, max_length = 1000)]
    citation: Option<String>,
}

impl FromQuery for ImportQuery {
    fn read(reader: &mut QueryReader) -> Self {
        let watershed = reader.parsed("watershed", "must be the slug of a watershed", |text| Slug::new(text).ok());
        let kind = reader.parsed("kind", "must be readings or records", |text| {
            FileOf::WORDS.iter().find(|(_, word)| *word == text).map(|(of, _)| *of)
        });
        let words: Vec<&str> = Quantity::WORDS.iter().map(|(_, word)| *word).collect();
        let rule = format!("must be one of {}", words.join(", "));
        let quantity = reader.parsed("quantity", rule, |text| Quantity::parse(text).ok()).unwrap_or_default();
        let (dry_run, separate_visits) = (reader.yes("dry_run"), reader.yes("separate_visits"));
        let mode = reader.parsed("mode", "must be all_or_nothing or best_effort", |text| match text {
            "all_or_nothing" => Some(false),
            "best_effort" => Some(true),
            _ => None,
        });
        let mode = mode.unwrap_or(false);
        if mode && separate_visits {
            reader.fault(
                "separate_visits",
                "contradiction",
                "cannot go with best_effort: numbers of visits would move",
            );
        }
        let columns = reader.one("columns").unwrap_or_default();
        let map = reader.each("map");
        let rule = format!("must be 1 to {MAX_NAME} characters without control characters");
        let file = reader.parsed("file", rule, |text| {
            let fine = !text.is_empty() && text.chars().count() <= MAX_NAME && !text.chars().any(char::is_control);
            fine.then(|| text.to_owned())
        });
        let (licence, citation) = (reader.one("licence"), reader.one("citation"));
        if kind == Some(FileOf::Readings) && (licence.is_some() || citation.is_some()) {
            let name = if licence.is_some() { "licence" } else { "citation" };
            reader.fault(name, "contradiction", "is said of records here; the gauge says it of readings");
        }
        Self {
            watershed,
            kind,
            quantity,
            dry_run,
            mode,
            separate_visits,
            columns,
            map,
            file: file.unwrap_or_else(|| "sent.csv".to_owned()),
            licence,
            citation,
        }
    }
}

impl ImportQuery {
    /// Watershed and arguments.
    pub(crate) fn checked(self) -> Result<(Slug, ImportArguments), AppError> {
        let mut faults = crate::app::document::Faults::default();
        if self.watershed.is_none() {
            faults.add_parameter("watershed", "missing", "must name a watershed");
        }
        if self.kind.is_none() {
            faults.add_parameter("kind", "missing", "must be readings or records");
        }
        let arguments = ImportArguments {
            of: self.kind.unwrap_or(FileOf::Records),
            quantity: self.quantity.as_str().to_owned(),
            dry_run: self.dry_run,
            best_effort: self.mode,
            separate_visits: self.separate_visits,
            columns: self.columns,
            map: self.map,
            file: self.file,
            licence: self.licence,
            citation: self.citation,
        };
        if let Err((parameter, reason)) = arguments.options() {
            faults.add_parameter(parameter, "invalid_value", reason);
        }
        match self.watershed {
            Some(watershed) if faults.is_empty() => Ok((watershed, arguments)),
            _ => Err(AppError::Query(faults)),
        }
    }
}

/// Takes a table of readings or records in the form of the files that imports read, and queues its import. A table is
/// kept whole or not at all, unless `mode=best_effort`; sent again it changes nothing. At most 50 MiB, and 1000000 rows
/// of readings or 250000 of records.
#[utoipa::path(post, path = "/v1/imports", operation_id = "createImport", tag = "imports",
    security(("token" = [])), params(ImportQuery, KeyParams),
    request_body(content = String, content_type = "text/csv", description = "The table, UTF-8, with a header row"),
    responses((status = 202, description = "Queued.", body = JobDocument,
        headers(("Location" = String, description = "Address of the import"))), WriteErrors))]
pub(crate) async fn create(
    State(state): State<AppState>,
    Keeper(token): Keeper,
    Query(query): Query<ImportQuery>,
    upload: Upload,
) -> Result<Response<Bytes>, Problem> {
    let (watershed, arguments) = query.checked()?;
    let view = state.service.watershed(&watershed)?;
    if !token.watersheds.contains(&view.watershed.slug) {
        return Err(AppError::Forbidden { detail: "The token is not bound to this watershed." }.into());
    }
    let once = upload.once(token.id);
    let answer = request_import(&state.service, &view.watershed.slug, &arguments, upload.file, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// Stops an import that has not ended. Nothing of it is stored; one that has ended is a conflict.
#[utoipa::path(delete, path = "/v1/imports/{id}", operation_id = "cancelImport", tag = "imports",
    security(("token" = [])), params(("id" = uuid::Uuid, Path, description = "Import id")),
    responses((status = 200, description = "The job, cancelled.", body = JobDocument), WriteErrors))]
pub(crate) async fn cancel(
    State(state): State<AppState>,
    Keeper(token): Keeper,
    Path(id): Path<String>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    let job = jobs::cancel_import(&state.service, &token, path_uuid("import", &id)?).await?;
    respond::private_json(StatusCode::OK, &JobDocument::from(&job), None)
}

/// Where an import stands: `done` of `total` rows are stored. Once it is done, `result` says what came of every row
/// (`ImportDocument`): also that the table was refused (`accepted` is false), and for which faults.
#[utoipa::path(get, path = "/v1/imports/{id}", operation_id = "getImport", tag = "imports",
    security(("token" = [])), params(("id" = uuid::Uuid, Path, description = "Import id")),
    responses((status = 200, description = "The job that imports.", body = JobDocument), TokenErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Keeper(token): Keeper,
    Path(id): Path<String>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    let job = jobs::find_import(&state.service, &token, path_uuid("import", &id)?).await?;
    respond::private_json(StatusCode::OK, &JobDocument::from(&job), None)
}

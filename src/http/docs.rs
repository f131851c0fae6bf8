//! The OpenAPI document: what all operations share.

use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::openapi::{ContentBuilder, Info, OpenApi, OpenApiBuilder, Ref, RefOr, ResponseBuilder, ServerBuilder};
use utoipa::{IntoResponses, ToSchema};

use super::problem::{PROBLEM_JSON, ProblemDocument};

/// Name of the token scheme.
const TOKEN: &str = "token";

/// The document without its paths.
pub(crate) fn base() -> OpenApi {
    let mut info = Info::new("Subimago", env!("CARGO_PKG_VERSION"));
    info.description = Some(
        "Forecasts of mayfly and other insect emergence. Clients ignore members they do not know; words that look \
         like enumerations may grow. Lists carry `items`, `next` and `prev`; instants are RFC 3339 in UTC, dates \
         are local to the watershed. Writes are counted per token: RateLimit says what is left. Errors \
         are application/problem+json, in English whatever is asked for: go by `type`, `code` and `pointer`. \
         Forecasts are not safety statements."
            .to_owned(),
    );
    info.license = Some(utoipa::openapi::License::new("MIT OR Apache-2.0"));
    let scheme = HttpBuilder::new()
        .scheme(HttpAuthScheme::Bearer)
        .bearer_format("subimago_ followed by 49 letters and digits")
        .description(Some("A member's or keeper's token, bound to watersheds."))
        .build();
    let mut schemas =
        vec![(ProblemDocument::name().into_owned(), <ProblemDocument as utoipa::PartialSchema>::schema())];
    ProblemDocument::schemas(&mut schemas);
    let mut components = utoipa::openapi::ComponentsBuilder::new();
    for (name, schema) in schemas {
        components = components.schema(name, schema);
    }
    OpenApiBuilder::new()
        .info(info)
        .servers(Some([ServerBuilder::new().url("/").build()]))
        .components(Some(components.security_scheme(TOKEN, SecurityScheme::Http(scheme)).build()))
        .build()
}

fn problem(description: &str) -> RefOr<utoipa::openapi::Response> {
    let content = ContentBuilder::new().schema(Some(Ref::from_schema_name(ProblemDocument::name()))).build();
    RefOr::T(ResponseBuilder::new().description(description).content(PROBLEM_JSON, content).build())
}

type Responses = std::collections::BTreeMap<String, RefOr<utoipa::openapi::Response>>;

fn responses(rows: &[(&str, &str)]) -> Responses {
    rows.iter().map(|(status, description)| ((*status).to_owned(), problem(description))).collect()
}

const ALWAYS: &[(&str, &str)] = &[
    ("400", "A query parameter, the address or the body cannot be understood."),
    ("404", "Nothing here, or nothing the caller may see."),
    ("500", "The service failed."),
    ("503", "Not available now; Retry-After says when to try again."),
];
const AS_JSON: &[(&str, &str)] = &[("406", "Accept names nothing that is given here.")];
const WITH_TOKEN: &[(&str, &str)] = &[
    ("401", "No valid token."),
    ("403", "The token does not allow this."),
    ("429", "Too many wrong tokens or writes; Retry-After says when to try again."),
];
const FEW_TRIES: &[(&str, &str)] = &[("429", "Too many wrong codes; Retry-After says when to try again.")];
const AGAINST_STORED: &[(&str, &str)] = &[("409", "Contradicts what is stored.")];
const WITH_BODY: &[(&str, &str)] = &[
    ("413", "The body is too large."),
    ("415", "Not a media type read here; Accept names those that are."),
    ("422", "The document breaks rules; see `errors`."),
];
const WITH_MATCH: &[(&str, &str)] =
    &[("412", "It changed since the version named in If-Match."), ("428", "If-Match is needed.")];

/// Refusals of feeds, whose form goes by their address.
pub(crate) struct FeedErrors;
/// Refusals of public reading.
pub(crate) struct PublicErrors;
/// Refusals where a token is needed.
pub(crate) struct TokenErrors;
/// Refusals where a token is needed and what is stored may speak against it.
pub(crate) struct QueueErrors;
/// Refusals where a token and a body are needed.
pub(crate) struct WriteErrors;
/// Refusals of a code: a body, no token, few tries.
pub(crate) struct JoinErrors;
/// Refusals where a token, a body and If-Match are needed.
pub(crate) struct ChangeErrors;

macro_rules! refusals {
    ($($name:ident: $($rows:ident)+;)*) => {
        $(impl IntoResponses for $name {
            fn responses() -> Responses {
                responses(&[$($rows),+].concat())
            }
        })*
    };
}

refusals! {
    FeedErrors: ALWAYS;
    PublicErrors: ALWAYS AS_JSON;
    TokenErrors: ALWAYS AS_JSON WITH_TOKEN;
    QueueErrors: ALWAYS AS_JSON WITH_TOKEN AGAINST_STORED;
    WriteErrors: ALWAYS AS_JSON WITH_TOKEN AGAINST_STORED WITH_BODY;
    JoinErrors: ALWAYS AS_JSON AGAINST_STORED WITH_BODY FEW_TRIES;
    ChangeErrors: ALWAYS AS_JSON WITH_TOKEN AGAINST_STORED WITH_BODY WITH_MATCH;
}

//! What other sites show of a water: a small page for a frame, and an image for sites that take no
//! frames.

mod ahead;
pub(crate) mod handlers;
mod svg;

use maud::{DOCTYPE, Markup, html};

use super::units::{LANGUAGE_RULE, UNITS_RULE, Units};
use super::{PageView, layout, told, words};
use crate::app::document::Rule;
use crate::app::said::in_language;
use crate::domain::Slug;
use crate::http::query::{FromQuery, QueryReader};
use crate::http::state::Settings;
use crate::words::Language;
use crate::{say, tell};

use svg::picture;
pub(super) use svg::wrapped;

/// The script of the site that shows the frame.
const HOST_SCRIPT: &str = include_str!("host.js");
/// The script of the frame: tells its height.
const FRAME_SCRIPT: &str = include_str!("frame.js");
/// The style of the frame.
const FRAME_STYLE: &str = include_str!("frame.css");

/// Light or dark.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
enum Theme {
    /// As the reader's device is set.
    #[default]
    Auto,
    /// Dark on light.
    Light,
    /// Light on dark.
    Dark,
}

impl Theme {
    fn parse(text: &str) -> Option<Self> {
        match text {
            "auto" => Some(Self::Auto),
            "light" => Some(Self::Light),
            "dark" => Some(Self::Dark),
            _ => None,
        }
    }

    fn as_str(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::Light => "light",
            Self::Dark => "dark",
        }
    }
}

/// What to show, and how.
#[derive(Debug, Clone, Default)]
pub(crate) struct EmbedQuery {
    /// Colours.
    theme: Option<Theme>,
    /// Only these reaches; empty means all.
    reaches: Vec<Slug>,
    /// Only these taxa; empty means all.
    taxa: Vec<Slug>,
}

impl FromQuery for EmbedQuery {
    fn read(reader: &mut QueryReader) -> Self {
        // Read with the page (see `Shown`), which carries it on.
        reader.parsed("units", UNITS_RULE, Units::of_word);
        reader.parsed("lang", LANGUAGE_RULE, Language::parse);
        Self {
            theme: reader.parsed("theme", Rule::OneOf(vec!["light", "dark", "auto"]), Theme::parse),
            reaches: reader.slugs("reach"),
            taxa: reader.slugs("taxon"),
        }
    }
}

/// The page for a frame.
fn frame(page: &PageView, query: &EmbedQuery, public_url: &str) -> Markup {
    let (water, language) = (&page.view.watershed, page.language);
    let ahead = ahead::ahead(page, &query.reaches, &query.taxa);
    let theme = query.theme.unwrap_or_default();
    html! {
        (DOCTYPE)
        html lang=(language.document_tag()) class=(theme.as_str()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (say!(language, "embed-title", water = &water.name)) }
                link rel="icon" href="/assets/favicon.svg" type="image/svg+xml";
                link rel="stylesheet" href=(layout::versioned("/assets/frame.css", FRAME_STYLE));
                script src=(layout::versioned("/assets/frame.js", FRAME_SCRIPT)) defer {}
            }
            body {
                main {
                    h1 {
                        a href=(page_address(page, public_url)) target="_blank" rel="noopener" { (water.name) }
                    }
                    (words::stale(language, &page.forecasts))
                    @for caution in words::warm_water(page) { p.banner { strong { (caution) } } }
                    @for notice in told::lines(page, &query.reaches) { p.banner { (notice) } }
                    @if page.forecasts.is_empty() { p { (say!(language, "no-forecast")) } }
                    @for reach in &ahead {
                        h2 { (reach.name) }
                        ul {
                            @for day in &reach.days {
                                li {
                                    strong { (ahead::day_name(language, day.date, page.today)) ": " }
                                    @if day.insects.is_empty() { (say!(language, "embed-nothing")) }
                                    @for (place, insect) in day.insects.iter().enumerate() {
                                        @if place > 0 { "; " }
                                        @let before = place.checked_sub(1).and_then(|last| day.insects.get(last));
                                        @if let Some(word) = insect.likelihood_after(language, before) { (word) " " }
                                        (insect.name) " (" (insect.figures(language)) ")"
                                    }
                                    "."
                                }
                            }
                        }
                    }
                    p.quiet { (ahead::question(page)) }
                }
            }
        }
    }
}

/// Address of the water's page, in the scale of the frame.
fn page_address(page: &PageView, public_url: &str) -> String {
    let water = &page.view.watershed;
    let units = if page.units == water.units { String::new() } else { format!("?units={}", page.units.as_str()) };
    in_language(page.language, format!("{public_url}/w/{}{units}", water.slug))
}

/// How to put the forecast of the water `slug` on another site.
pub(crate) fn snippet(language: Language, slug: &Slug, name: &str, settings: &Settings) -> Markup {
    let url = &settings.public_url;
    let address = in_language(language, format!("{url}/embed/{slug}"));
    let picture = in_language(language, format!("{url}/embed/{slug}.svg"));
    let (title, alt) = (say!(language, "snippet-frame-title"), say!(language, "snippet-image-title"));
    let frame = format!(
        "<iframe src=\"{address}\" title=\"{title}\" width=\"100%\" height=\"480\" loading=\"lazy\" \
         sandbox=\"allow-scripts allow-popups allow-popups-to-escape-sandbox\"></iframe>\n\
         <script src=\"{url}/assets/embed.js\" async></script>"
    );
    let image = format!("<img src=\"{picture}\" alt=\"{alt}\">");
    let join = if address.contains('?') { '&' } else { '?' };
    let option = |query: &str| html! { code { (join) (query) } };
    let hosts = &settings.embed_hosts;
    html! {
        details {
            summary { (say!(language, "snippet-title", water = name)) }
            @if hosts.is_empty() {
                p { (tell!(language, "snippet-image-alone", setting = html! { code { "server.embed_hosts" } })) }
            } @else {
                p {
                    @if hosts.iter().any(|host| host == "*") { (say!(language, "snippet-frame-anywhere")) }
                    @else { (say!(language, "snippet-frame", sites = hosts.join(", "))) }
                }
                pre { code { (frame) } }
                p { (say!(language, "snippet-image")) }
            }
            pre { code { (image) } }
            p {
                (tell!(
                    language,
                    "snippet-options",
                    light = option("theme=light"),
                    dark = option("theme=dark"),
                    reach = option("reach="),
                    taxon = option("taxon="),
                    units = option("units=f"),
                ))
            }
        }
    }
}

//! What other sites show of a water: a small page for a frame, and an image for sites that take no
//! frames.

mod ahead;
pub(crate) mod handlers;
mod svg;

use maud::{DOCTYPE, Markup, html};

use super::units::Units;
use super::{PageView, layout, told, words};
use crate::domain::Slug;
use crate::http::query::{FromQuery, QueryReader};
use crate::http::state::Settings;

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
        reader.parsed("units", "must be c or f", Units::of_word);
        Self {
            theme: reader.parsed("theme", "must be one of light, dark, auto", Theme::parse),
            reaches: reader.slugs("reach"),
            taxa: reader.slugs("taxon"),
        }
    }
}

/// The page for a frame.
fn frame(page: &PageView, query: &EmbedQuery, public_url: &str) -> Markup {
    let water = &page.view.watershed;
    let ahead = ahead::ahead(page, &query.reaches, &query.taxa);
    let theme = query.theme.unwrap_or_default();
    html! {
        (DOCTYPE)
        html lang="en-GB" class=(theme.as_str()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Insects expected on " (water.name) }
                link rel="icon" href="/assets/favicon.svg" type="image/svg+xml";
                link rel="stylesheet" href=(layout::versioned("/assets/frame.css", FRAME_STYLE));
                script src=(layout::versioned("/assets/frame.js", FRAME_SCRIPT)) defer {}
            }
            body {
                main {
                    h1 {
                        a href=(page_address(page, public_url)) target="_blank" rel="noopener" { (water.name) }
                    }
                    (words::stale(&page.forecasts))
                    @for notice in told::lines(page, &query.reaches) { p.banner { (notice) } }
                    @if page.forecasts.is_empty() { p { (ahead::NO_FORECAST) } }
                    @for reach in &ahead {
                        h2 { (reach.name) }
                        ul {
                            @for day in &reach.days {
                                li {
                                    strong { (ahead::day_name(day.date, page.today)) ": " }
                                    @if day.insects.is_empty() { (ahead::NOTHING) }
                                    @for (place, insect) in day.insects.iter().enumerate() {
                                        @if place > 0 { "; " }
                                        @let before = place.checked_sub(1).and_then(|last| day.insects.get(last));
                                        @if let Some(word) = insect.likelihood_after(before) { (word) " " }
                                        (insect.name) " (" (insect.figures()) ")"
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
    format!("{public_url}/w/{}{units}", water.slug)
}

/// How to put the forecast of the water `slug` on another site.
pub(crate) fn snippet(slug: &Slug, name: &str, settings: &Settings) -> Markup {
    let url = &settings.public_url;
    let frame = format!(
        "<iframe src=\"{url}/embed/{slug}\" title=\"Insects expected\" width=\"100%\" height=\"480\" loading=\"lazy\" \
         sandbox=\"allow-scripts allow-popups allow-popups-to-escape-sandbox\"></iframe>\n\
         <script src=\"{url}/assets/embed.js\" async></script>"
    );
    let image = format!("<img src=\"{url}/embed/{slug}.svg\" alt=\"Insects expected in the coming days\">");
    let hosts = &settings.embed_hosts;
    html! {
        details {
            summary { "Show " (name) " on your own site" }
            @if hosts.is_empty() {
                p {
                    "As an image, which every site may show. (A frame that grows with its text is there as well: ask the "
                    "operator of this service to name your site in " code { "server.embed_hosts" } ".)"
                }
            } @else {
                p {
                    "As a frame that grows with its text, on "
                    @if hosts.iter().any(|host| host == "*") { "any site" } @else { (hosts.join(", ")) }
                    ":"
                }
                pre { code { (frame) } }
                p { "As an image, where frames are not allowed:" }
            }
            pre { code { (image) } }
            p {
                "Add " code { "?theme=light" } " or " code { "?theme=dark" } ", " code { "?reach=" } ", " code { "?taxon=" } " or " code { "?units=f" }
                " to the address. No cookies are set."
            }
        }
    }
}

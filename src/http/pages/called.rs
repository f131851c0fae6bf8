//! Names on pages: the scientific one in italics, as biology writes it.

use std::sync::Arc;

use maud::{Markup, Render, html};

use crate::domain::called::Called;
use crate::domain::{Slug, Taxon};

/// The language of the pages.
pub(crate) const LANGUAGE: &str = "en";

impl Render for Called {
    fn render(&self) -> Markup {
        html! {
            @match &self.usual {
                Some(usual) => { (usual) " (" i { (self.scientific) } ")" },
                None => i { (self.scientific) },
            }
            @if let Some(generation) = &self.generation { ", " (generation) }
        }
    }
}

/// How `taxon` is called on a page.
pub(crate) fn called(taxon: &Taxon) -> Called {
    Called::of(taxon, LANGUAGE)
}

/// How the taxon `slug` among `taxa` is called; by its slug where it is none of them.
pub(crate) fn by_slug<'t>(slug: &str, mut taxa: impl Iterator<Item = &'t Taxon>) -> Called {
    let known = taxa.find(|taxon| taxon.slug.as_str().eq_ignore_ascii_case(slug));
    known.map_or_else(|| Called { usual: None, scientific: slug.to_owned(), generation: None }, called)
}

/// The same for many.
pub(crate) fn all_by_slug(slugs: &[Slug], taxa: &[Arc<Taxon>]) -> Markup {
    html! {
        @for (index, slug) in slugs.iter().enumerate() {
            @if index > 0 { ", " }
            (by_slug(slug.as_str(), taxa.iter().map(|taxon| &**taxon)))
        }
    }
}

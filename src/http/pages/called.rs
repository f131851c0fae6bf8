//! Names on pages: the scientific one in italics, as biology writes it.

use std::sync::Arc;

use maud::{Markup, Render, html};

pub(crate) use crate::app::called::{called, called_brood};
use crate::domain::called::Called;
use crate::domain::{Slug, Taxon};
use crate::words::Language;

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

/// How the taxon `slug` among `taxa` is called; by its slug where it is none of them.
pub(crate) fn by_slug<'t>(language: Language, slug: &str, mut taxa: impl Iterator<Item = &'t Taxon>) -> Called {
    let known = taxa.find(|taxon| taxon.slug.as_str().eq_ignore_ascii_case(slug));
    known.map_or_else(
        || Called { usual: None, scientific: slug.to_owned(), generation: None },
        |taxon| called(language, taxon),
    )
}

/// The same for many.
pub(crate) fn all_by_slug(language: Language, slugs: &[Slug], taxa: &[Arc<Taxon>]) -> Markup {
    html! {
        @for (index, slug) in slugs.iter().enumerate() {
            @if index > 0 { ", " }
            (by_slug(language, slug.as_str(), taxa.iter().map(|taxon| &**taxon)))
        }
    }
}

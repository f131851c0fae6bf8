//! How insects are called at the desk, which speaks English: the usual name with the scientific one.

use crate::app::WatershedView;
use crate::domain::Taxon;
use crate::domain::called::Called;

/// How `taxon` is called.
pub(super) fn called(taxon: &Taxon) -> Called {
    Called::of(taxon, "en")
}

/// How the taxon `slug` of a water is called; by its slug where it is none of them.
pub(super) fn by_slug(view: &WatershedView, slug: &str) -> Called {
    let known = view.taxa.iter().find(|taxon| taxon.slug.as_str().eq_ignore_ascii_case(slug));
    known.map_or_else(|| Called { usual: None, scientific: slug.to_owned(), generation: None }, |taxon| called(taxon))
}

/// The insects of a water to choose from.
pub(super) fn choices(view: &WatershedView) -> impl Iterator<Item = (String, String)> {
    view.taxa.iter().map(|taxon| (taxon.slug.to_string(), called(taxon).to_string()))
}

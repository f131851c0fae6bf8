//! The two descriptions inside an archive: `meta.xml` of its columns (Darwin Core text guide), `eml.xml` of the
//! dataset (Ecological Metadata Language 2.2).

use chrono::NaiveDate;
use quick_xml::escape::escape;

use super::archive::{Dataset, Packed};
use crate::domain::grid::GRID_DEGREES;
use crate::ingest::archive::terms;

/// A file of the archive.
pub(super) struct File {
    /// Its name.
    pub(super) name: &'static str,
    /// What a row is, an address.
    pub(super) row_type: &'static str,
    /// Terms of its columns; the first is the identifier that ties the files together.
    pub(super) terms: Vec<&'static str>,
}

/// Describes the columns; the first of `files` is the core.
pub(super) fn meta(files: &[File]) -> String {
    let described: Vec<String> = files
        .iter()
        .enumerate()
        .map(|(at, file)| {
            let (element, id) = if at == 0 { ("core", "id") } else { ("extension", "coreid") };
            let field = |(index, term): (usize, &&str)| {
                format!("    <field index=\"{index}\" term=\"{}\"/>\n", terms::uri(term))
            };
            let fields: Vec<String> = file.terms.iter().enumerate().map(field).collect();
            format!(
                "  <{element} encoding=\"UTF-8\" fieldsTerminatedBy=\",\" linesTerminatedBy=\"\\n\" \
                 fieldsEnclosedBy=\"&quot;\" ignoreHeaderLines=\"1\" rowType=\"{}\">\n    \
                 <files><location>{}</location></files>\n    <{id} index=\"0\"/>\n{}  </{element}>\n",
                file.row_type,
                file.name,
                fields.concat()
            )
        })
        .collect();
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <archive xmlns=\"http://rs.tdwg.org/dwc/text/\" metadata=\"eml.xml\">\n{}</archive>\n",
        described.concat()
    )
}

/// Describes the dataset. `published` is the day it was made.
pub(super) fn eml(dataset: &Dataset, packed: &Packed, published: NaiveDate) -> String {
    let said = |text: &str| {
        // XML has no place for control characters.
        let text: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        escape(text).into_owned()
    };
    let holder = format!("<organizationName>{}</organizationName>", said(&dataset.rights_holder));
    let license = said(&dataset.license);
    let without_name = match packed.without_name {
        0 => String::new(),
        n => format!(" {n} sightings of insects without a name are left out."),
    };
    let terms = dataset.rights.iter().map(|(source, rights)| {
        let citation = rights.citation.as_deref().map(|text| format!(" {}", said(text))).unwrap_or_default();
        let licence = rights.licence.as_deref().map(|text| format!(" Licence: {}.", said(text))).unwrap_or_default();
        format!("<para>Records of {}:{citation}{licence}</para>", said(source))
    });
    let terms: String = terms.collect();
    let terms = if terms.is_empty() { terms } else { format!("    <additionalInfo>{terms}</additionalInfo>\n") };
    let days = packed.days.map_or_else(String::new, |(first, last)| {
        format!(
            "<temporalCoverage><rangeOfDates><beginDate><calendarDate>{first}</calendarDate></beginDate>\
             <endDate><calendarDate>{last}</calendarDate></endDate></rangeOfDates></temporalCoverage>"
        )
    });
    let coverage = if days.is_empty() { days } else { format!("    <coverage>{days}</coverage>\n") };
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <eml:eml xmlns:eml=\"https://eml.ecoinformatics.org/eml-2.2.0\" \
         xmlns:xsi=\"http://www.w3.org/2001/XMLSchema-instance\" \
         xsi:schemaLocation=\"https://eml.ecoinformatics.org/eml-2.2.0 https://eml.ecoinformatics.org/eml-2.2.0/eml.xsd\" \
         packageId=\"urn:uuid:{id}\" system=\"https://eml.ecoinformatics.org\" scope=\"system\" xml:lang=\"en\">\n\
         \x20 <dataset>\n\
         \x20   <title>{title}</title>\n\
         \x20   <creator>{holder}</creator>\n\
         \x20   <metadataProvider>{holder}</metadataProvider>\n\
         \x20   <pubDate>{published}</pubDate>\n\
         \x20   <language>en</language>\n\
         \x20   <abstract><para>Visits, trap catches and first sightings of emerging aquatic insects of {water}, with \
         what was looked for and not found. Places are the centres of {GRID_DEGREES} degree cells that hold the points \
         of reaches; observers, spots and, of members' reports, hours, watchers, counts and notes are withheld.\
         {without_name}</para></abstract>\n\
         {terms}\
         \x20   <intellectualRights><para>This work is licensed under {license}.</para></intellectualRights>\n\
         \x20   <licensed><licenseName>{license}</licenseName><url>{license}</url></licensed>\n\
         {coverage}\
         \x20   <contact>{holder}</contact>\n\
         \x20 </dataset>\n\
         </eml:eml>\n",
        id = dataset.id,
        title = said(&dataset.name),
        water = said(&dataset.watershed.name),
    )
}

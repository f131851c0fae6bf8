//! The many columns of a taxon.

use super::StoreError;
use super::arg::{Arg, args};
use super::row::Row;
use crate::domain::looks::{check_language, check_tails};
use crate::domain::taxon::{EmergenceMode, MonthDay, Provenance};
use crate::domain::{Brood, Colour, Looks, Taxon, VernacularName, WindowReference};

/// What [`read_taxon`] reads, of a table known as `t`.
macro_rules! COLUMNS {
    () => {
        "t.slug, t.id, t.scientific_name, t.taxon_rank, t.taxon_order, t.region, t.base_temp_c, t.base_temp_sd, \
         t.window_early, t.window_late, t.peak_hour, t.peak_hour_sd, t.spinner_time, t.emergence_mode, \
         t.oviposition_mode, t.nymph_habit, t.voltinism, t.body_mm_min, t.body_mm_max, t.hook_large, t.hook_small, \
         t.water_type, t.emergence_water_low_c, t.emergence_water_high_c, t.provenance_thermal, \
         t.provenance_window, t.provenance_behaviour, t.provenance_size, t.note, t.tails, t.body_colours, \
         t.wing_colours, t.provenance_looks, t.window_reference"
    };
}
pub(super) use COLUMNS;

/// Inserts the values of [`taxon_args`].
pub(super) const INSERT: &str = "INSERT INTO taxon (slug_key, scientific_name, taxon_rank, taxon_order, region, \
    base_temp_c, base_temp_sd, window_early, window_late, peak_hour, peak_hour_sd, spinner_time, emergence_mode, \
    oviposition_mode, nymph_habit, voltinism, body_mm_min, body_mm_max, hook_large, hook_small, water_type, \
    emergence_water_low_c, emergence_water_high_c, provenance_thermal, provenance_window, provenance_behaviour, \
    provenance_size, note, tails, body_colours, wing_colours, provenance_looks, window_reference, slug) \
    VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, \
    $23, $24, $25, $26, $27, $28, $29, $30, $31, $32, $33, $34)";

/// Replaces all but the slug by the values of [`taxon_args`] without the last, the spelling.
pub(super) const UPDATE: &str = "UPDATE taxon SET scientific_name = $2, taxon_rank = $3, taxon_order = $4, \
    region = $5, base_temp_c = $6, base_temp_sd = $7, window_early = $8, window_late = $9, peak_hour = $10, \
    peak_hour_sd = $11, spinner_time = $12, emergence_mode = $13, oviposition_mode = $14, nymph_habit = $15, \
    voltinism = $16, body_mm_min = $17, body_mm_max = $18, hook_large = $19, hook_small = $20, water_type = $21, \
    emergence_water_low_c = $22, emergence_water_high_c = $23, provenance_thermal = $24, provenance_window = $25, \
    provenance_behaviour = $26, provenance_size = $27, note = $28, tails = $29, body_colours = $30, \
    wing_colours = $31, provenance_looks = $32, window_reference = $33 \
    WHERE slug_key = $1";

/// The values of [`INSERT`]; [`UPDATE`] takes all but the last.
pub(super) fn taxon_args(taxon: &Taxon) -> Vec<Arg> {
    let Taxon { slug, scientific_name, rank, order, region, base_temp_c, base_temp_sd, window, .. } = taxon;
    let Taxon { peak_hour, peak_hour_sd, spinner_time, emergence_mode, oviposition_mode, nymph_habit, .. } = taxon;
    let Taxon { voltinism, body_mm, hooks, water_type, emergence_water_c, provenance, note, looks, .. } = taxon;
    let Taxon { window_reference, .. } = taxon;
    args![
        slug.key(),
        scientific_name,
        rank,
        order,
        region,
        base_temp_c,
        base_temp_sd,
        window.map(|(early, _)| early.to_string()),
        window.map(|(_, late)| late.to_string()),
        peak_hour,
        peak_hour_sd,
        spinner_time,
        emergence_mode.map(EmergenceMode::as_str),
        oviposition_mode,
        nymph_habit,
        voltinism,
        body_mm.map(|(smallest, _)| smallest),
        body_mm.map(|(_, largest)| largest),
        hooks.map(|(large, _)| large),
        hooks.map(|(_, small)| small),
        water_type,
        emergence_water_c.map(|(low, _)| low),
        emergence_water_c.map(|(_, high)| high),
        &provenance.thermal,
        &provenance.window,
        &provenance.behaviour,
        &provenance.size,
        note,
        words(looks.tails.iter().map(u8::to_string)),
        words(looks.body.iter().map(|colour| colour.as_str().to_owned())),
        words(looks.wings.iter().map(|colour| colour.as_str().to_owned())),
        &provenance.looks,
        window_reference.map(WindowReference::as_str),
        slug,
    ]
}

/// A list kept as JSON text, as [`Row::words`] reads it; nothing where it is empty.
fn words(list: impl Iterator<Item = String>) -> Option<String> {
    let list: Vec<serde_json::Value> = list.map(serde_json::Value::from).collect();
    (!list.is_empty()).then(|| serde_json::Value::from(list).to_string())
}

/// Reads tails and colours.
fn read_looks(row: &Row) -> Result<Looks, StoreError> {
    let colours = |column| -> Result<Vec<Colour>, StoreError> {
        let words = row.words(column)?;
        words.iter().map(|word| Colour::parse(word).map_err(|error| row.corrupt(column, error.to_string()))).collect()
    };
    let tails = |text: &String| {
        let number = text.parse().ok().and_then(|number| check_tails(number).ok());
        number.ok_or_else(|| row.corrupt("tails", "is not 0, 2 or 3"))
    };
    Ok(Looks {
        tails: row.words("tails")?.iter().map(tails).collect::<Result<_, _>>()?,
        body: colours("body_colours")?,
        wings: colours("wing_colours")?,
    })
}

/// Reads a row of `taxon_name`.
pub(super) fn read_name(row: &Row) -> Result<VernacularName, StoreError> {
    Ok(VernacularName {
        language: row.word("language", check_language)?,
        name: row.text("name")?,
        provenance: row.text("provenance")?,
    })
}

/// Reads [`COLUMNS`].
pub(super) fn read_taxon(row: &Row, broods: Vec<Brood>, names: Vec<VernacularName>) -> Result<Taxon, StoreError> {
    let month_day = |column| row.opt_word(column, |text| MonthDay::parse(column, text));
    Ok(Taxon {
        slug: row.slug("slug")?,
        scientific_name: row.text("scientific_name")?,
        names,
        rank: row.text("taxon_rank")?,
        order: row.opt_text("taxon_order")?,
        region: row.opt_text("region")?,
        base_temp_c: row.opt_real("base_temp_c")?,
        base_temp_sd: row.opt_real("base_temp_sd")?,
        window: month_day("window_early")?.zip(month_day("window_late")?),
        window_reference: row.opt_word("window_reference", WindowReference::parse)?,
        peak_hour: row.opt_real("peak_hour")?,
        peak_hour_sd: row.opt_real("peak_hour_sd")?,
        spinner_time: row.opt_text("spinner_time")?,
        emergence_mode: row.opt_word("emergence_mode", EmergenceMode::parse)?,
        oviposition_mode: row.opt_text("oviposition_mode")?,
        nymph_habit: row.opt_text("nymph_habit")?,
        voltinism: row.opt_text("voltinism")?,
        body_mm: row.opt_real("body_mm_min")?.zip(row.opt_real("body_mm_max")?),
        looks: read_looks(row)?,
        hooks: row.opt_number("hook_large")?.zip(row.opt_number("hook_small")?),
        water_type: row.opt_text("water_type")?,
        emergence_water_c: row.opt_real("emergence_water_low_c")?.zip(row.opt_real("emergence_water_high_c")?),
        provenance: Provenance {
            thermal: row.text("provenance_thermal")?,
            window: row.text("provenance_window")?,
            behaviour: row.text("provenance_behaviour")?,
            size: row.text("provenance_size")?,
            looks: row.text("provenance_looks")?,
        },
        note: row.opt_text("note")?,
        broods,
    })
}

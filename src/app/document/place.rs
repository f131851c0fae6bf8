//! Watersheds, reaches and gauges.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::credit::CreditDocument;
use super::{Faults, Input};
use crate::app::sync::source_of;
use crate::domain::place::{check_latitude, check_longitude, in_range};
use crate::domain::source::Source;
use crate::domain::{Gauge, Invalid, Reach, Rights, Slug, Units, WaterType, Watershed};
use crate::store::sync::GaugeSync;

/// A watershed in a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct WatershedSummary {
    /// Unique short name.
    #[schema(example = "ostrey")]
    pub slug: String,
    /// Display name.
    #[schema(example = "River Ostrey")]
    pub name: String,
    /// IANA time zone in which civil days begin and end.
    #[schema(example = "Europe/London")]
    pub time_zone: String,
}

impl From<&Watershed> for WatershedSummary {
    fn from(watershed: &Watershed) -> Self {
        Self {
            slug: watershed.slug.to_string(),
            name: watershed.name.clone(),
            time_zone: watershed.time_zone.name().to_owned(),
        }
    }
}

/// A watershed with what it holds.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WatershedDocument {
    /// Unique short name.
    #[schema(example = "ostrey")]
    pub slug: String,
    /// Display name.
    pub name: String,
    /// IANA time zone in which civil days begin and end.
    #[schema(example = "Europe/London")]
    pub time_zone: String,
    /// In which its pages tell temperatures to whoever does not choose: `c` or `f`. Documents are always in Celsius.
    #[schema(example = "c")]
    pub units: &'static str,
    /// Its reaches.
    pub reaches: Vec<ReachDocument>,
    /// Its gauges.
    pub gauges: Vec<GaugeDocument>,
    /// Slugs of the taxa that live there.
    pub taxa: Vec<String>,
}

/// A named stretch. The coordinates are those of the stretch, never of a member's spot.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReachDocument {
    /// Short name, unique in its watershed.
    #[schema(example = "mill-meadow")]
    pub slug: String,
    /// Display name.
    #[schema(example = "Mill Meadow")]
    pub name: String,
    /// Degrees north.
    pub latitude: f64,
    /// Degrees east.
    pub longitude: f64,
    /// Metres above sea level.
    #[schema(required)]
    pub elevation_m: Option<f64>,
    /// `riffle`, `run`, `pool`, `slow-margin` or `still-water`.
    #[schema(required, example = "riffle")]
    pub water_type: Option<String>,
    /// Gauges in order of preference.
    pub gauges: Vec<String>,
}

impl From<&Reach> for ReachDocument {
    fn from(reach: &Reach) -> Self {
        Self {
            slug: reach.slug.to_string(),
            name: reach.name.clone(),
            latitude: reach.latitude,
            longitude: reach.longitude,
            elevation_m: reach.elevation_m,
            water_type: reach.water_type.map(|kind| kind.as_str().to_owned()),
            gauges: reach.gauges.iter().map(Slug::to_string).collect(),
        }
    }
}

/// A place where water temperature is measured.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct GaugeDocument {
    /// Short name, unique in its watershed.
    #[schema(example = "ostrey-bridge")]
    pub slug: String,
    /// Display name.
    pub name: String,
    /// Degrees north.
    #[schema(required)]
    pub latitude: Option<f64>,
    /// Degrees east.
    #[schema(required)]
    pub longitude: Option<f64>,
    /// Where its readings come from: words, or a service and station that are asked regularly.
    #[schema(required, example = "usgs:USGS-01420500")]
    pub source: Option<String>,
    /// Whom to thank for its readings, to be shown wherever they are.
    #[schema(required)]
    pub credit: Option<CreditDocument>,
    /// Licence under which its readings may be passed on, where a keeper said so.
    #[schema(required, example = "CC BY 4.0")]
    pub licence: Option<String>,
    /// How to cite them, where a keeper said so.
    #[schema(required)]
    pub citation: Option<String>,
}

/// A gauge with what is known of its readings and of fetching them.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct GaugeDetailDocument {
    /// The gauge.
    #[serde(flatten)]
    pub gauge: GaugeDocument,
    /// What is measured there, and how old the newest reading is.
    pub readings: Vec<SeriesDocument>,
    /// How fetching from its source went; null where its source names no service, or none was asked yet.
    #[schema(required)]
    pub fetching: Option<FetchingDocument>,
}

/// One quantity at a gauge.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct SeriesDocument {
    /// What was measured, or `air_forecast`.
    #[schema(example = "water_temperature")]
    pub quantity: &'static str,
    /// Its unit in a word.
    #[schema(example = "degree_celsius")]
    pub unit: &'static str,
    /// Local day of the newest reading of any quality; of a forecast, the day it was made.
    pub newest: NaiveDate,
    /// Days from then to today.
    pub age_days: i64,
}

/// How fetching went.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct FetchingDocument {
    /// When the source was last asked.
    pub tried_at: DateTime<Utc>,
    /// When that last went well; null when it never did.
    #[schema(required)]
    pub done_at: Option<DateTime<Utc>>,
    /// Until when the source said that there is nothing new.
    #[schema(required)]
    pub nothing_new_until: Option<DateTime<Utc>>,
    /// What went wrong the last time, in words; null when nothing did.
    #[schema(required)]
    pub failure: Option<String>,
    /// What else there was to say the last time.
    pub notes: Vec<String>,
    /// Spans of the history, `from/to`, that could not be read so far.
    pub missing: Vec<String>,
}

impl From<GaugeSync> for FetchingDocument {
    fn from(sync: GaugeSync) -> Self {
        Self {
            tried_at: sync.tried_at,
            done_at: sync.done_at,
            nothing_new_until: sync.fresh_until,
            failure: sync.failure,
            notes: sync.notes,
            missing: sync.missing,
        }
    }
}

impl From<&Gauge> for GaugeDocument {
    fn from(gauge: &Gauge) -> Self {
        Self {
            slug: gauge.slug.to_string(),
            name: gauge.name.clone(),
            latitude: gauge.latitude,
            longitude: gauge.longitude,
            source: gauge.source.clone(),
            credit: source_of(gauge.source.as_deref()).map(|source| source.credit().into()),
            licence: gauge.rights.licence.clone(),
            citation: gauge.rights.citation.clone(),
        }
    }
}

/// A watershed to declare or change.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct WatershedInput {
    /// Unique short name.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^[A-Za-z0-9_-]{1,64}$", example = "ostrey")]
    pub slug: Option<String>,
    /// Display name.
    #[garde(required, length(chars, min = 1, max = 200))]
    #[schema(value_type = String, min_length = 1, max_length = 200, example = "River Ostrey")]
    pub name: Option<String>,
    /// IANA time zone.
    #[garde(required, length(chars, max = 64))]
    #[schema(value_type = String, max_length = 64, example = "Europe/London")]
    pub time_zone: Option<String>,
    /// In which its pages tell temperatures to whoever does not choose: `c` when left out, or `f`.
    #[garde(skip)]
    #[schema(pattern = "^(c|f)$", example = "c")]
    pub units: Option<String>,
}

impl From<&Watershed> for WatershedInput {
    fn from(watershed: &Watershed) -> Self {
        Self {
            slug: Some(watershed.slug.to_string()),
            name: Some(watershed.name.clone()),
            time_zone: Some(watershed.time_zone.name().to_owned()),
            units: Some(watershed.units.as_str().to_owned()),
        }
    }
}

impl Input for WatershedInput {
    type Domain = Watershed;

    fn into_domain(self, faults: &mut Faults) -> Option<Watershed> {
        let slug = self.slug.and_then(|text| faults.check("#/slug", Slug::new(&text)));
        let zone = self.time_zone.and_then(|text| {
            let known = text
                .parse::<Tz>()
                .map_err(|_| Invalid::new("time_zone", &text, "must be an IANA time zone such as Europe/London"));
            faults.check("#/time_zone", known)
        });
        let units = faults.check_optional("#/units", self.units, |text| Units::parse(&text));
        Some(Watershed { slug: slug?, name: self.name?, time_zone: zone?, units: units?.unwrap_or_default() })
    }
}

/// A reach to declare or change.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct ReachInput {
    /// Short name, unique in its watershed.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^[A-Za-z0-9_-]{1,64}$", example = "mill-meadow")]
    pub slug: Option<String>,
    /// Display name.
    #[garde(required, length(chars, min = 1, max = 200))]
    #[schema(value_type = String, min_length = 1, max_length = 200, example = "Mill Meadow")]
    pub name: Option<String>,
    /// Degrees north.
    #[garde(required)]
    #[schema(value_type = f64, minimum = -90, maximum = 90, example = 51.5)]
    pub latitude: Option<f64>,
    /// Degrees east.
    #[garde(required)]
    #[schema(value_type = f64, minimum = -180, maximum = 180, example = -1.5)]
    pub longitude: Option<f64>,
    /// Metres above sea level.
    #[garde(skip)]
    #[schema(minimum = -500, maximum = 9000)]
    pub elevation_m: Option<f64>,
    /// Kind of water.
    #[garde(skip)]
    #[schema(pattern = "^(riffle|run|pool|slow-margin|still-water)$", example = "riffle")]
    pub water_type: Option<String>,
    /// Gauges of this watershed in order of preference.
    #[garde(length(max = 20))]
    #[schema(max_items = 20)]
    pub gauges: Option<Vec<String>>,
}

impl From<&Reach> for ReachInput {
    fn from(reach: &Reach) -> Self {
        Self {
            slug: Some(reach.slug.to_string()),
            name: Some(reach.name.clone()),
            latitude: Some(reach.latitude),
            longitude: Some(reach.longitude),
            elevation_m: reach.elevation_m,
            water_type: reach.water_type.map(|kind| kind.as_str().to_owned()),
            gauges: Some(reach.gauges.iter().map(Slug::to_string).collect()),
        }
    }
}

impl Input for ReachInput {
    type Domain = Reach;

    fn into_domain(self, faults: &mut Faults) -> Option<Reach> {
        let slug = self.slug.and_then(|text| faults.check("#/slug", Slug::new(&text)));
        let latitude = self.latitude.and_then(|value| faults.check("#/latitude", check_latitude(value)));
        let longitude = self.longitude.and_then(|value| faults.check("#/longitude", check_longitude(value)));
        let elevation_m = faults.check_optional("#/elevation_m", self.elevation_m, |value| {
            in_range("elevation_m", value, -500.0, 9000.0, "metres between -500 and 9000")
        });
        let water_type = faults.check_optional("#/water_type", self.water_type, |text| WaterType::parse(&text));
        let mut gauges = Vec::new();
        for (index, text) in self.gauges.unwrap_or_default().iter().enumerate() {
            gauges.extend(faults.check(&format!("#/gauges/{index}"), Slug::new(text)));
        }
        Some(Reach {
            slug: slug?,
            name: self.name?,
            latitude: latitude?,
            longitude: longitude?,
            elevation_m: elevation_m?,
            water_type: water_type?,
            gauges,
        })
    }
}

/// A gauge to declare or change.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct GaugeInput {
    /// Short name, unique in its watershed.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^[A-Za-z0-9_-]{1,64}$", example = "ostrey-bridge")]
    pub slug: Option<String>,
    /// Display name.
    #[garde(required, length(chars, min = 1, max = 200))]
    #[schema(value_type = String, min_length = 1, max_length = 200, example = "Ostrey Bridge")]
    pub name: Option<String>,
    /// Degrees north.
    #[garde(skip)]
    #[schema(minimum = -90, maximum = 90)]
    pub latitude: Option<f64>,
    /// Degrees east.
    #[garde(skip)]
    #[schema(minimum = -180, maximum = 180)]
    pub longitude: Option<f64>,
    /// Where its readings come from: words, or `SERVICE:STATION` with further keys, which is asked.
    #[garde(length(chars, max = 500))]
    #[schema(max_length = 500, example = "usgs:USGS-01420500")]
    pub source: Option<String>,
    /// Licence under which its readings may be passed on.
    #[garde(length(chars, max = 200))]
    #[schema(max_length = 200, example = "CC BY 4.0")]
    pub licence: Option<String>,
    /// How to cite them.
    #[garde(length(chars, max = 1000))]
    #[schema(max_length = 1000)]
    pub citation: Option<String>,
}

impl From<&Gauge> for GaugeInput {
    fn from(gauge: &Gauge) -> Self {
        Self {
            slug: Some(gauge.slug.to_string()),
            name: Some(gauge.name.clone()),
            latitude: gauge.latitude,
            longitude: gauge.longitude,
            source: gauge.source.clone(),
            licence: gauge.rights.licence.clone(),
            citation: gauge.rights.citation.clone(),
        }
    }
}

impl Input for GaugeInput {
    type Domain = Gauge;

    fn into_domain(self, faults: &mut Faults) -> Option<Gauge> {
        let slug = self.slug.and_then(|text| faults.check("#/slug", Slug::new(&text)));
        let latitude = faults.check_optional("#/latitude", self.latitude, check_latitude);
        let longitude = faults.check_optional("#/longitude", self.longitude, check_longitude);
        let source = faults.check_optional("#/source", self.source, |text| Source::parse(&text).map(|_| text));
        let licence = faults.check("#/licence", Rights::new(self.licence, None));
        let citation = faults.check("#/citation", Rights::new(None, self.citation));
        let rights = Rights { licence: licence?.licence, citation: citation?.citation };
        let (latitude, longitude) = (latitude?, longitude?);
        Some(Gauge { slug: slug?, name: self.name?, latitude, longitude, source: source?, rights })
    }
}

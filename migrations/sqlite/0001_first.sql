-- The first schema, SQLite form. migrations/postgres holds the same tables and columns under the
-- same numbers; a test compares the live databases.
--
-- Only three types are used, so that one SQL text serves both databases and nothing is converted
-- on the way:
--   INTEGER (BIGINT)           counts, flags 0/1, and instants as microseconds since 1970-01-01 UTC.
--                              Neither database then interprets a time zone, and order is number order.
--   REAL (DOUBLE PRECISION)    measured values, bit for bit.
--   TEXT (TEXT COLLATE "C")    words, slugs, UUIDs, JSON, and civil dates as YYYY-MM-DD, whose byte
--                              order is date order. "C" makes PostgreSQL compare bytes as SQLite does.
-- Names say the form: *_at is an instant, *_date a civil date, *_s seconds of the day.
-- A slug keeps the spelling of its first import; *_key is its lower-case form and unique.

CREATE TABLE meta (
    key TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;

CREATE TABLE watershed (
    id INTEGER NOT NULL PRIMARY KEY,
    slug TEXT NOT NULL,
    slug_key TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    time_zone TEXT NOT NULL
) STRICT;

CREATE TABLE reach (
    id INTEGER NOT NULL PRIMARY KEY,
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    slug TEXT NOT NULL,
    slug_key TEXT NOT NULL,
    name TEXT NOT NULL,
    latitude REAL NOT NULL,
    longitude REAL NOT NULL,
    elevation_m REAL,
    water_type TEXT,
    UNIQUE (watershed_id, slug_key)
) STRICT;

CREATE TABLE gauge (
    id INTEGER NOT NULL PRIMARY KEY,
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    slug TEXT NOT NULL,
    slug_key TEXT NOT NULL,
    name TEXT NOT NULL,
    latitude REAL,
    longitude REAL,
    source TEXT,
    UNIQUE (watershed_id, slug_key)
) STRICT;

-- Gauges of a reach, most preferred first (preference 0).
CREATE TABLE reach_gauge (
    reach_id INTEGER NOT NULL REFERENCES reach (id),
    preference INTEGER NOT NULL,
    gauge_id INTEGER NOT NULL REFERENCES gauge (id),
    PRIMARY KEY (reach_id, preference)
) STRICT;

-- What is measured at a gauge and how: method is 'daily' or 'instant'.
CREATE TABLE series (
    id INTEGER NOT NULL PRIMARY KEY,
    gauge_id INTEGER NOT NULL REFERENCES gauge (id),
    quantity TEXT NOT NULL,
    unit TEXT NOT NULL,
    method TEXT NOT NULL CHECK (method IN ('daily', 'instant')),
    UNIQUE (gauge_id, quantity, method)
) STRICT;

-- Every version of every reading. time_key is the day number since 1970-01-01 in a daily series and
-- microseconds since then in an instant series: the one table large enough for that to matter.
-- A daily reading fills all three values; an instant fills value alone.
CREATE TABLE reading (
    series_id INTEGER NOT NULL REFERENCES series (id),
    time_key INTEGER NOT NULL,
    version INTEGER NOT NULL,
    value REAL NOT NULL,
    low REAL,
    high REAL,
    quality TEXT NOT NULL,
    reasons TEXT,
    known_at INTEGER NOT NULL,
    known_assumed INTEGER NOT NULL,
    source TEXT NOT NULL,
    stored_at INTEGER NOT NULL,
    PRIMARY KEY (series_id, time_key, version)
) STRICT, WITHOUT ROWID;

CREATE TABLE taxon (
    id INTEGER NOT NULL PRIMARY KEY,
    slug TEXT NOT NULL,
    slug_key TEXT NOT NULL UNIQUE,
    scientific_name TEXT NOT NULL,
    taxon_rank TEXT NOT NULL,
    taxon_order TEXT,
    region TEXT,
    base_temp_c REAL,
    base_temp_sd REAL,
    window_early TEXT,
    window_late TEXT,
    peak_hour REAL,
    peak_hour_sd REAL,
    spinner_time TEXT,
    emergence_mode TEXT,
    oviposition_mode TEXT,
    nymph_habit TEXT,
    voltinism TEXT,
    body_mm_min REAL,
    body_mm_max REAL,
    hook_large INTEGER,
    hook_small INTEGER,
    water_type TEXT,
    emergence_water_low_c REAL,
    emergence_water_high_c REAL,
    provenance_thermal TEXT NOT NULL,
    provenance_window TEXT NOT NULL,
    provenance_behaviour TEXT NOT NULL,
    provenance_size TEXT NOT NULL,
    note TEXT
) STRICT;

CREATE TABLE taxon_brood (
    taxon_id INTEGER NOT NULL REFERENCES taxon (id),
    position INTEGER NOT NULL,
    number INTEGER NOT NULL,
    median_day_of_year REAL NOT NULL,
    sd_days REAL NOT NULL,
    provenance TEXT NOT NULL,
    PRIMARY KEY (taxon_id, position)
) STRICT;

-- Which taxa live in a watershed.
CREATE TABLE watershed_taxon (
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    taxon_id INTEGER NOT NULL REFERENCES taxon (id),
    PRIMARY KEY (watershed_id, taxon_id)
) STRICT;

-- Every version of every emergence record. record_key is the recorder's own identifier, or else
-- the record's place, taxon, kind, days, hours and stage in one text.
CREATE TABLE record (
    id INTEGER NOT NULL PRIMARY KEY,
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    record_key TEXT NOT NULL,
    version INTEGER NOT NULL,
    reach_id INTEGER NOT NULL REFERENCES reach (id),
    taxon_id INTEGER NOT NULL REFERENCES taxon (id),
    brood INTEGER,
    kind TEXT NOT NULL,
    from_date TEXT,
    to_date TEXT NOT NULL,
    count INTEGER,
    abundance_class TEXT,
    effort REAL NOT NULL,
    hour_start_s INTEGER,
    hour_end_s INTEGER,
    stage TEXT,
    cloud REAL,
    wind_kmh REAL,
    air_c REAL,
    external_id TEXT,
    known_at INTEGER NOT NULL,
    known_assumed INTEGER NOT NULL,
    source TEXT NOT NULL,
    doubts TEXT,
    exposure_known INTEGER NOT NULL,
    stored_at INTEGER NOT NULL,
    UNIQUE (watershed_id, record_key, version)
) STRICT;

-- Only the SHA-256 of a token is kept, as 64 hexadecimal digits.
CREATE TABLE token (
    id TEXT NOT NULL PRIMARY KEY,
    sha256 TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    role TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    revoked_at INTEGER,
    last_used_date TEXT
) STRICT;

CREATE TABLE token_watershed (
    token_id TEXT NOT NULL REFERENCES token (id),
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    PRIMARY KEY (token_id, watershed_id)
) STRICT;

-- A withdrawn report keeps its row, so that its identifier is never given twice.
CREATE TABLE report (
    id TEXT NOT NULL PRIMARY KEY,
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    reach_id INTEGER NOT NULL REFERENCES reach (id),
    started_at INTEGER NOT NULL,
    ended_at INTEGER NOT NULL,
    people INTEGER NOT NULL,
    looked_for_all INTEGER NOT NULL,
    water_c REAL,
    sky TEXT,
    note TEXT,
    state TEXT NOT NULL,
    received_at INTEGER NOT NULL,
    token_id TEXT NOT NULL REFERENCES token (id),
    version INTEGER NOT NULL,
    withdrawn_at INTEGER
) STRICT;
CREATE INDEX report_by_time ON report (watershed_id, started_at, id);

CREATE TABLE looked_for (
    report_id TEXT NOT NULL REFERENCES report (id),
    position INTEGER NOT NULL,
    taxon_id INTEGER NOT NULL REFERENCES taxon (id),
    PRIMARY KEY (report_id, position)
) STRICT;

CREATE TABLE sighting (
    report_id TEXT NOT NULL REFERENCES report (id),
    position INTEGER NOT NULL,
    taxon_id INTEGER REFERENCES taxon (id),
    described_length_mm REAL,
    described_colour TEXT,
    stage TEXT NOT NULL,
    abundance_class TEXT,
    count INTEGER,
    wing_pads TEXT,
    behaviour TEXT,
    PRIMARY KEY (report_id, position)
) STRICT;

-- What a report said before each change. Rows are only ever added.
CREATE TABLE report_revision (
    report_id TEXT NOT NULL REFERENCES report (id),
    version INTEGER NOT NULL,
    changed_at INTEGER NOT NULL,
    changed_by TEXT NOT NULL REFERENCES token (id),
    reason TEXT,
    document TEXT NOT NULL,
    PRIMARY KEY (report_id, version)
) STRICT;

CREATE TABLE fit (
    sequence INTEGER NOT NULL PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    taxon_id INTEGER NOT NULL REFERENCES taxon (id),
    brood INTEGER NOT NULL,
    created_at INTEGER NOT NULL,
    through_date TEXT,
    records INTEGER NOT NULL,
    years INTEGER NOT NULL,
    prior_driven INTEGER NOT NULL,
    weight_calendar REAL NOT NULL,
    weight_thermal REAL NOT NULL,
    weight_photothermal REAL NOT NULL,
    weight_gated REAL NOT NULL,
    beats_calendar INTEGER NOT NULL,
    warnings TEXT,
    model TEXT NOT NULL
) STRICT;
CREATE INDEX fit_by_subject ON fit (watershed_id, taxon_id, brood, sequence);

CREATE TABLE forecast (
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    taxon_id INTEGER NOT NULL REFERENCES taxon (id),
    reach_id INTEGER NOT NULL REFERENCES reach (id),
    brood INTEGER NOT NULL,
    season INTEGER NOT NULL,
    fit_id TEXT NOT NULL REFERENCES fit (id),
    issued_at INTEGER NOT NULL,
    data_as_of_date TEXT NOT NULL,
    etag TEXT NOT NULL,
    document TEXT NOT NULL,
    PRIMARY KEY (watershed_id, taxon_id, reach_id, brood, season)
) STRICT;

-- One row per Idempotency-Key of one token on one route; status is empty while the work runs.
CREATE TABLE idempotency (
    token_id TEXT NOT NULL REFERENCES token (id),
    route TEXT NOT NULL,
    idempotency_key TEXT NOT NULL,
    fingerprint TEXT NOT NULL,
    status INTEGER,
    body TEXT,
    location TEXT,
    created_at INTEGER NOT NULL,
    PRIMARY KEY (token_id, route, idempotency_key)
) STRICT;
CREATE INDEX idempotency_by_age ON idempotency (created_at);

CREATE TABLE job (
    sequence INTEGER NOT NULL PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    kind TEXT NOT NULL,
    arguments TEXT NOT NULL,
    state TEXT NOT NULL,
    done INTEGER NOT NULL,
    total INTEGER NOT NULL,
    result TEXT,
    attempts INTEGER NOT NULL,
    fence INTEGER NOT NULL,
    created_at INTEGER NOT NULL,
    updated_at INTEGER NOT NULL,
    not_before_at INTEGER NOT NULL,
    lease_until_at INTEGER
) STRICT;
CREATE INDEX job_by_state ON job (state, not_before_at, sequence);

-- What a calendar entry last said, so that SEQUENCE and DTSTAMP follow the content.
CREATE TABLE feed_event (
    uid TEXT NOT NULL PRIMARY KEY,
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    content_hash TEXT NOT NULL,
    content TEXT NOT NULL,
    sequence INTEGER NOT NULL,
    changed_at INTEGER NOT NULL,
    withdrawn_at INTEGER
) STRICT;
CREATE INDEX feed_event_by_watershed ON feed_event (watershed_id);

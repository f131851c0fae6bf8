-- What kind of change a revision is: 'edit', 'decision', 'undo' or 'withdrawal'; missing in rows older than this.
ALTER TABLE report_revision ADD COLUMN action TEXT COLLATE "C";

-- Codes that members exchange for a token of their own. Only the SHA-256 of a code is kept, as hexadecimal digits.
CREATE TABLE join_code (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    watershed_id BIGINT NOT NULL REFERENCES watershed (id),
    sha256 TEXT COLLATE "C" NOT NULL UNIQUE,
    name TEXT COLLATE "C" NOT NULL,
    most_uses BIGINT NOT NULL,
    uses BIGINT NOT NULL,
    created_at BIGINT NOT NULL,
    expires_at BIGINT NOT NULL,
    revoked_at BIGINT
);
CREATE INDEX join_code_by_watershed ON join_code (watershed_id);

-- By which code a token came.
CREATE TABLE token_join (
    token_id TEXT COLLATE "C" NOT NULL PRIMARY KEY REFERENCES token (id),
    join_code_id TEXT COLLATE "C" NOT NULL REFERENCES join_code (id)
);

-- Keepers who are signed in at the desk. The cookie holds a random key; sha256 is that of the key.
CREATE TABLE desk_session (
    sha256 TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    token_id TEXT COLLATE "C" NOT NULL REFERENCES token (id),
    created_at BIGINT NOT NULL,
    expires_at BIGINT NOT NULL
);

-- What kind of change a revision is: 'edit', 'decision', 'undo' or 'withdrawal'; missing in rows older than this.
ALTER TABLE report_revision ADD COLUMN action TEXT;

-- Codes that members exchange for a token of their own. Only the SHA-256 of a code is kept, as hexadecimal digits.
CREATE TABLE join_code (
    id TEXT NOT NULL PRIMARY KEY,
    watershed_id INTEGER NOT NULL REFERENCES watershed (id),
    sha256 TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    most_uses INTEGER NOT NULL,
    uses INTEGER NOT NULL,
    created_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    revoked_at INTEGER
) STRICT;
CREATE INDEX join_code_by_watershed ON join_code (watershed_id);

-- By which code a token came.
CREATE TABLE token_join (
    token_id TEXT NOT NULL PRIMARY KEY REFERENCES token (id),
    join_code_id TEXT NOT NULL REFERENCES join_code (id)
) STRICT;

-- Keepers who are signed in at the desk. The cookie holds a random key; sha256 is that of the key.
CREATE TABLE desk_session (
    sha256 TEXT NOT NULL PRIMARY KEY,
    token_id TEXT NOT NULL REFERENCES token (id),
    created_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL
) STRICT;

-- A photo that came with a report, written anew without metadata. It goes when the report is withdrawn or its sender
-- forgotten.
CREATE TABLE report_photo (
    report_id TEXT NOT NULL PRIMARY KEY REFERENCES report (id),
    jpeg BLOB NOT NULL,
    width_px INTEGER NOT NULL,
    height_px INTEGER NOT NULL,
    received_at INTEGER NOT NULL
) STRICT;

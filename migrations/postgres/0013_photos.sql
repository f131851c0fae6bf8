-- A photo that came with a report, written anew without metadata. It goes when the report is withdrawn or its sender
-- forgotten.
CREATE TABLE report_photo (
    report_id TEXT COLLATE "C" NOT NULL PRIMARY KEY REFERENCES report (id),
    jpeg BYTEA NOT NULL,
    width_px BIGINT NOT NULL,
    height_px BIGINT NOT NULL,
    received_at BIGINT NOT NULL
);

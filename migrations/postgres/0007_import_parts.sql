-- Files that wait to be imported, in parts of at most a MiB, until their job has ended.
CREATE TABLE import_part (
    job_id TEXT COLLATE "C" NOT NULL REFERENCES job (id),
    part BIGINT NOT NULL,
    content TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (job_id, part)
);

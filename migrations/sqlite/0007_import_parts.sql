-- Files that wait to be imported, in parts of at most a MiB, until their job has ended.
CREATE TABLE import_part (
    job_id TEXT NOT NULL REFERENCES job (id),
    part INTEGER NOT NULL,
    content TEXT NOT NULL,
    PRIMARY KEY (job_id, part)
) STRICT;

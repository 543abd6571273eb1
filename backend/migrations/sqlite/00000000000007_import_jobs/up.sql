-- Files that a centre brought in and that are being looked through or stored. A job is not the
-- record: it is worked on, and gone a day after it was begun, with what it holds.
CREATE TABLE import_job (
    id TEXT NOT NULL PRIMARY KEY,
    centre TEXT NOT NULL REFERENCES centre (code),
    stage TEXT NOT NULL,
    version INTEGER NOT NULL,
    layout TEXT NOT NULL,
    files_hash TEXT NOT NULL,
    wanted TEXT,
    outcome TEXT,
    rows_all INTEGER NOT NULL,
    rows_done INTEGER NOT NULL,
    attempts INTEGER NOT NULL,
    holder TEXT,
    held_until TEXT,
    actor TEXT NOT NULL,
    begun_at TEXT NOT NULL,
    ends_at TEXT NOT NULL
) STRICT;
CREATE INDEX import_job_of_centre ON import_job (centre, id);
CREATE TABLE import_job_file (
    job TEXT NOT NULL REFERENCES import_job (id),
    kind TEXT NOT NULL,
    content TEXT NOT NULL,
    PRIMARY KEY (job, kind)
) STRICT;

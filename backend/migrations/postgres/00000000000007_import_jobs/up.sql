-- Files that a centre brought in and that are being looked through or stored. A job is not the
-- record: it is worked on, and gone a day after it was begun, with what it holds.
CREATE TABLE import_job (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    centre TEXT COLLATE "C" NOT NULL REFERENCES centre (code),
    stage TEXT COLLATE "C" NOT NULL,
    version BIGINT NOT NULL,
    layout TEXT COLLATE "C" NOT NULL,
    files_hash TEXT COLLATE "C" NOT NULL,
    wanted TEXT COLLATE "C",
    outcome TEXT COLLATE "C",
    rows_all BIGINT NOT NULL,
    rows_done BIGINT NOT NULL,
    attempts BIGINT NOT NULL,
    holder TEXT COLLATE "C",
    held_until TEXT COLLATE "C",
    actor TEXT COLLATE "C" NOT NULL,
    begun_at TEXT COLLATE "C" NOT NULL,
    ends_at TEXT COLLATE "C" NOT NULL
);
CREATE INDEX import_job_of_centre ON import_job (centre, id);
CREATE TABLE import_job_file (
    job TEXT COLLATE "C" NOT NULL REFERENCES import_job (id),
    kind TEXT COLLATE "C" NOT NULL,
    content TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (job, kind)
);

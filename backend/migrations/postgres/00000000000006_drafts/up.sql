-- A draft is not the record: it is saved over, and gone once it is sent in or thrown away.
CREATE TABLE case_draft (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    centre TEXT COLLATE "C" NOT NULL REFERENCES centre (code),
    version BIGINT NOT NULL,
    entries TEXT COLLATE "C" NOT NULL,
    begun_at TEXT COLLATE "C" NOT NULL,
    saved_by TEXT COLLATE "C" NOT NULL,
    saved_at TEXT COLLATE "C" NOT NULL
);
CREATE INDEX case_draft_of_centre ON case_draft (centre, id);

-- A draft is not the record: it is saved over, and gone once it is sent in or thrown away.
CREATE TABLE case_draft (
    id TEXT NOT NULL PRIMARY KEY,
    centre TEXT NOT NULL REFERENCES centre (code),
    version INTEGER NOT NULL,
    entries TEXT NOT NULL,
    begun_at TEXT NOT NULL,
    saved_by TEXT NOT NULL,
    saved_at TEXT NOT NULL
) STRICT;
CREATE INDEX case_draft_of_centre ON case_draft (centre, id);

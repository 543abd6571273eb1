CREATE TABLE case_code (
    code TEXT NOT NULL PRIMARY KEY,
    centre TEXT NOT NULL REFERENCES centre (code),
    actor TEXT NOT NULL,
    issued_at TEXT NOT NULL
) STRICT;
CREATE INDEX case_code_of_centre ON case_code (centre);

-- A case is a chain of revisions; the current one is not superseded.
CREATE TABLE case_revision (
    seq INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    code TEXT NOT NULL REFERENCES case_code (code),
    revision INTEGER NOT NULL,
    centre TEXT NOT NULL REFERENCES centre (code),
    superseded_by_seq INTEGER REFERENCES case_revision (seq),
    actor TEXT NOT NULL,
    at TEXT NOT NULL,
    reason TEXT,
    form_version TEXT NOT NULL,
    record TEXT NOT NULL,
    record_hash TEXT NOT NULL,
    period TEXT NOT NULL,
    procedure_group TEXT NOT NULL,
    procedure TEXT NOT NULL,
    strategy_intended TEXT NOT NULL,
    fluoro_used TEXT NOT NULL,
    air_kerma_mgy REAL,
    kap_gycm2 REAL,
    fluoro_time_s REAL,
    UNIQUE (code, revision)
) STRICT;
CREATE INDEX case_revision_current ON case_revision (seq) WHERE superseded_by_seq IS NULL;
CREATE INDEX case_revision_current_of_centre ON case_revision (centre, seq) WHERE superseded_by_seq IS NULL;

CREATE TABLE data_query (
    seq INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    code TEXT NOT NULL REFERENCES case_code (code),
    centre TEXT NOT NULL REFERENCES centre (code),
    field TEXT,
    rule TEXT,
    sentence TEXT NOT NULL,
    raised_by TEXT NOT NULL,
    raised_at TEXT NOT NULL,
    state TEXT NOT NULL,
    stage TEXT NOT NULL
) STRICT;
CREATE INDEX data_query_of_case ON data_query (code);
CREATE INDEX data_query_of_centre ON data_query (centre, state, seq);
-- A rule asks once until its question is settled.
CREATE UNIQUE INDEX data_query_once ON data_query (code, rule, field) WHERE rule IS NOT NULL AND state <> 'closed';

CREATE TABLE import_receipt (
    id TEXT NOT NULL PRIMARY KEY,
    centre TEXT NOT NULL REFERENCES centre (code),
    files_hash TEXT NOT NULL,
    actor TEXT NOT NULL,
    at TEXT NOT NULL,
    content TEXT NOT NULL,
    UNIQUE (centre, files_hash)
) STRICT;

CREATE TRIGGER case_code_deleted BEFORE DELETE ON case_code
BEGIN SELECT RAISE(ABORT, 'case_code is append-only'); END;
CREATE TRIGGER case_code_updated BEFORE UPDATE ON case_code
BEGIN SELECT RAISE(ABORT, 'case_code is append-only'); END;

-- INSERT OR REPLACE would delete the old row without any delete trigger.
CREATE TRIGGER case_revision_replaced BEFORE INSERT ON case_revision
WHEN EXISTS (SELECT 1 FROM case_revision AS known WHERE known.seq = NEW.seq
    OR (known.code = NEW.code AND known.revision = NEW.revision))
BEGIN SELECT RAISE(ABORT, 'case_revision is append-only'); END;
CREATE TRIGGER case_revision_deleted BEFORE DELETE ON case_revision
BEGIN SELECT RAISE(ABORT, 'case_revision is append-only'); END;
CREATE TRIGGER case_revision_updated BEFORE UPDATE ON case_revision
WHEN NOT (OLD.superseded_by_seq IS NULL AND NEW.superseded_by_seq IS NOT NULL
    AND NEW.seq IS OLD.seq AND NEW.code IS OLD.code AND NEW.revision IS OLD.revision
    AND NEW.centre IS OLD.centre AND NEW.actor IS OLD.actor AND NEW.at IS OLD.at
    AND NEW.reason IS OLD.reason AND NEW.form_version IS OLD.form_version
    AND NEW.record IS OLD.record AND NEW.record_hash IS OLD.record_hash
    AND NEW.period IS OLD.period AND NEW.procedure_group IS OLD.procedure_group
    AND NEW.procedure IS OLD.procedure AND NEW.strategy_intended IS OLD.strategy_intended
    AND NEW.fluoro_used IS OLD.fluoro_used AND NEW.air_kerma_mgy IS OLD.air_kerma_mgy
    AND NEW.kap_gycm2 IS OLD.kap_gycm2 AND NEW.fluoro_time_s IS OLD.fluoro_time_s)
BEGIN SELECT RAISE(ABORT, 'case_revision is append-only'); END;

CREATE TRIGGER import_receipt_deleted BEFORE DELETE ON import_receipt
BEGIN SELECT RAISE(ABORT, 'import_receipt is append-only'); END;
CREATE TRIGGER import_receipt_updated BEFORE UPDATE ON import_receipt
BEGIN SELECT RAISE(ABORT, 'import_receipt is append-only'); END;

CREATE TABLE case_code (
    code TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    centre TEXT COLLATE "C" NOT NULL REFERENCES centre (code),
    actor TEXT COLLATE "C" NOT NULL,
    issued_at TEXT COLLATE "C" NOT NULL
);
CREATE INDEX case_code_of_centre ON case_code (centre);

-- A case is a chain of revisions; the current one is not superseded.
CREATE TABLE case_revision (
    seq BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    code TEXT COLLATE "C" NOT NULL REFERENCES case_code (code),
    revision BIGINT NOT NULL,
    centre TEXT COLLATE "C" NOT NULL REFERENCES centre (code),
    superseded_by_seq BIGINT REFERENCES case_revision (seq),
    actor TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL,
    reason TEXT COLLATE "C",
    form_version TEXT COLLATE "C" NOT NULL,
    record TEXT COLLATE "C" NOT NULL,
    record_hash TEXT COLLATE "C" NOT NULL,
    period TEXT COLLATE "C" NOT NULL,
    procedure_group TEXT COLLATE "C" NOT NULL,
    procedure TEXT COLLATE "C" NOT NULL,
    strategy_intended TEXT COLLATE "C" NOT NULL,
    fluoro_used TEXT COLLATE "C" NOT NULL,
    air_kerma_mgy DOUBLE PRECISION,
    kap_gycm2 DOUBLE PRECISION,
    fluoro_time_s DOUBLE PRECISION,
    UNIQUE (code, revision)
);
CREATE INDEX case_revision_current ON case_revision (seq) WHERE superseded_by_seq IS NULL;
CREATE INDEX case_revision_current_of_centre ON case_revision (centre, seq) WHERE superseded_by_seq IS NULL;

CREATE TABLE data_query (
    seq BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    id TEXT COLLATE "C" NOT NULL UNIQUE,
    code TEXT COLLATE "C" NOT NULL REFERENCES case_code (code),
    centre TEXT COLLATE "C" NOT NULL REFERENCES centre (code),
    field TEXT COLLATE "C",
    rule TEXT COLLATE "C",
    sentence TEXT COLLATE "C" NOT NULL,
    raised_by TEXT COLLATE "C" NOT NULL,
    raised_at TEXT COLLATE "C" NOT NULL,
    state TEXT COLLATE "C" NOT NULL,
    stage TEXT COLLATE "C" NOT NULL
);
CREATE INDEX data_query_of_case ON data_query (code);
CREATE INDEX data_query_of_centre ON data_query (centre, state, seq);
-- A rule asks once until its question is settled.
CREATE UNIQUE INDEX data_query_once ON data_query (code, rule, field) WHERE rule IS NOT NULL AND state <> 'closed';

CREATE TABLE import_receipt (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    centre TEXT COLLATE "C" NOT NULL REFERENCES centre (code),
    files_hash TEXT COLLATE "C" NOT NULL,
    actor TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL,
    content TEXT COLLATE "C" NOT NULL,
    UNIQUE (centre, files_hash)
);

CREATE TRIGGER case_code_changed BEFORE UPDATE OR DELETE ON case_code
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER case_code_truncated BEFORE TRUNCATE ON case_code
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();

CREATE TRIGGER case_revision_updated BEFORE UPDATE ON case_revision
    FOR EACH ROW EXECUTE FUNCTION only_supersede_once();
CREATE TRIGGER case_revision_deleted BEFORE DELETE ON case_revision
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER case_revision_truncated BEFORE TRUNCATE ON case_revision
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();

CREATE TRIGGER import_receipt_changed BEFORE UPDATE OR DELETE ON import_receipt
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER import_receipt_truncated BEFORE TRUNCATE ON import_receipt
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();

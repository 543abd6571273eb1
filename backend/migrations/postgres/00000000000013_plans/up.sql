CREATE TABLE analysis_plan (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    number BIGINT NOT NULL,
    version BIGINT NOT NULL,
    title TEXT COLLATE "C" NOT NULL,
    content TEXT COLLATE "C" NOT NULL,
    content_hash TEXT COLLATE "C" NOT NULL,
    reason TEXT COLLATE "C",
    cases_before BIGINT NOT NULL,
    comparisons_before BIGINT NOT NULL,
    actor TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL,
    UNIQUE (number, version)
);

CREATE TRIGGER analysis_plan_changed BEFORE UPDATE OR DELETE ON analysis_plan
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER analysis_plan_truncated BEFORE TRUNCATE ON analysis_plan
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();

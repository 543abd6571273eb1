CREATE TABLE data_cut (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    name TEXT COLLATE "C" NOT NULL UNIQUE,
    boundary_seq BIGINT NOT NULL,
    screening_boundary_seq BIGINT NOT NULL,
    cases BIGINT NOT NULL,
    content_hash TEXT COLLATE "C" NOT NULL,
    actor TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL
);

CREATE TABLE comparison (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    cut TEXT COLLATE "C" NOT NULL REFERENCES data_cut (id),
    request TEXT COLLATE "C" NOT NULL,
    request_hash TEXT COLLATE "C" NOT NULL,
    result TEXT COLLATE "C" NOT NULL,
    result_hash TEXT COLLATE "C" NOT NULL,
    software_version TEXT COLLATE "C" NOT NULL,
    actor TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL
);
CREATE INDEX comparison_of_cut ON comparison (cut, request_hash);

CREATE TABLE safety_summary (
    id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    number BIGINT UNIQUE,
    cut TEXT COLLATE "C" NOT NULL REFERENCES data_cut (id),
    state TEXT COLLATE "C" NOT NULL,
    stage TEXT COLLATE "C" NOT NULL,
    content TEXT COLLATE "C" NOT NULL,
    content_hash TEXT COLLATE "C" NOT NULL,
    drafted_at TEXT COLLATE "C" NOT NULL
);

CREATE TRIGGER data_cut_changed BEFORE UPDATE OR DELETE ON data_cut
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER data_cut_truncated BEFORE TRUNCATE ON data_cut
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();

CREATE TRIGGER comparison_changed BEFORE UPDATE OR DELETE ON comparison
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER comparison_truncated BEFORE TRUNCATE ON comparison
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();

-- What was approved is what is published, and what was published stays as it was.
CREATE FUNCTION freeze_once_approved() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state = 'draft' THEN
        RETURN NEW;
    END IF;
    IF NEW.id = OLD.id AND NEW.cut = OLD.cut AND NEW.content = OLD.content
        AND NEW.content_hash = OLD.content_hash AND NEW.drafted_at = OLD.drafted_at
        AND ((OLD.state = 'approved' AND NEW.state = 'published')
            OR (OLD.state = 'published' AND NEW.state = 'withdrawn'
                AND NEW.number IS NOT DISTINCT FROM OLD.number)) THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'safety_summary is frozen once approved';
END $$;
CREATE TRIGGER safety_summary_updated BEFORE UPDATE ON safety_summary
    FOR EACH ROW EXECUTE FUNCTION freeze_once_approved();
CREATE TRIGGER safety_summary_deleted BEFORE DELETE ON safety_summary
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER safety_summary_truncated BEFORE TRUNCATE ON safety_summary
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();

CREATE TABLE centre (
    code TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    name TEXT COLLATE "C" NOT NULL,
    region TEXT COLLATE "C",
    kind TEXT COLLATE "C" NOT NULL,
    annual_volume TEXT COLLATE "C" NOT NULL,
    zero_fluoroscopy_since TEXT COLLATE "C",
    created_at TEXT COLLATE "C" NOT NULL
);

CREATE TABLE room (
    centre TEXT COLLATE "C" NOT NULL REFERENCES centre (code),
    code TEXT COLLATE "C" NOT NULL,
    definition TEXT COLLATE "C" NOT NULL,
    recorded_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (centre, code)
);

-- A line of the screening log is a chain of revisions; signing adds one.
CREATE TABLE screening_revision (
    seq BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    centre TEXT COLLATE "C" NOT NULL REFERENCES centre (code),
    period TEXT COLLATE "C" NOT NULL,
    procedure_group TEXT COLLATE "C" NOT NULL,
    revision BIGINT NOT NULL,
    superseded_by_seq BIGINT REFERENCES screening_revision (seq),
    counts TEXT COLLATE "C" NOT NULL,
    signed_by TEXT COLLATE "C",
    actor TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL,
    reason TEXT COLLATE "C",
    UNIQUE (centre, period, procedure_group, revision)
);

CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is append-only', TG_TABLE_NAME;
END $$;

-- The one change a revision may see: the pointer to what superseded it, set once.
CREATE FUNCTION only_supersede_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.superseded_by_seq IS NULL AND NEW.superseded_by_seq IS NOT NULL
        AND to_jsonb(NEW) - 'superseded_by_seq' = to_jsonb(OLD) - 'superseded_by_seq' THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION '% is append-only', TG_TABLE_NAME;
END $$;

CREATE TRIGGER screening_revision_updated BEFORE UPDATE ON screening_revision
    FOR EACH ROW EXECUTE FUNCTION only_supersede_once();
CREATE TRIGGER screening_revision_deleted BEFORE DELETE ON screening_revision
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER screening_revision_truncated BEFORE TRUNCATE ON screening_revision
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();

-- How grave events were, by people who did not know how the case was guided: two of them, and a third
-- where they differ. An event is known by a hash of its case and of what was shown of it.
CREATE TABLE judgement (
    seq BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    event TEXT COLLATE "C" NOT NULL,
    code TEXT COLLATE "C" NOT NULL REFERENCES case_code (code),
    place BIGINT NOT NULL CHECK (place BETWEEN 1 AND 3),
    ruling TEXT COLLATE "C" NOT NULL,
    sentence TEXT COLLATE "C" NOT NULL,
    shown TEXT COLLATE "C" NOT NULL,
    actor TEXT COLLATE "C" NOT NULL,
    at TEXT COLLATE "C" NOT NULL,
    UNIQUE (event, place),
    UNIQUE (event, actor)
);

CREATE TRIGGER judgement_changed BEFORE UPDATE OR DELETE ON judgement
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER judgement_truncated BEFORE TRUNCATE ON judgement
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();

-- The last judgement that a cut takes in; earlier cuts took in none.
ALTER TABLE data_cut ADD COLUMN judgement_boundary_seq BIGINT NOT NULL DEFAULT 0;

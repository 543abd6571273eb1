-- How grave events were, by people who did not know how the case was guided: two of them, and a third
-- where they differ. An event is known by a hash of its case and of what was shown of it.
CREATE TABLE judgement (
    seq INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    event TEXT NOT NULL,
    code TEXT NOT NULL REFERENCES case_code (code),
    place INTEGER NOT NULL CHECK (place BETWEEN 1 AND 3),
    ruling TEXT NOT NULL,
    sentence TEXT NOT NULL,
    shown TEXT NOT NULL,
    actor TEXT NOT NULL,
    at TEXT NOT NULL,
    UNIQUE (event, place),
    UNIQUE (event, actor)
) STRICT;

-- INSERT OR REPLACE would delete the old row without any delete trigger.
CREATE TRIGGER judgement_replaced BEFORE INSERT ON judgement
WHEN EXISTS (SELECT 1 FROM judgement AS known
    WHERE known.event = NEW.event AND (known.place = NEW.place OR known.actor = NEW.actor))
BEGIN SELECT RAISE(ABORT, 'judgement is append-only'); END;
CREATE TRIGGER judgement_deleted BEFORE DELETE ON judgement
BEGIN SELECT RAISE(ABORT, 'judgement is append-only'); END;
CREATE TRIGGER judgement_updated BEFORE UPDATE ON judgement
BEGIN SELECT RAISE(ABORT, 'judgement is append-only'); END;

-- The last judgement that a cut takes in; earlier cuts took in none.
ALTER TABLE data_cut ADD COLUMN judgement_boundary_seq INTEGER NOT NULL DEFAULT 0;

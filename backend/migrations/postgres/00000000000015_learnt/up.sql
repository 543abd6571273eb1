-- What every seat could learn from a summary and all before it: read by whoever drafts and approves.
-- It is attacked anew whenever something else was published meanwhile, until it is approved.
ALTER TABLE safety_summary ADD COLUMN learnt TEXT COLLATE "C";

CREATE OR REPLACE FUNCTION freeze_once_approved() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.id = OLD.id AND NEW.cut = OLD.cut AND NEW.content = OLD.content
        AND NEW.content_hash = OLD.content_hash AND NEW.drafted_at = OLD.drafted_at
        AND (OLD.state = 'draft'
            OR NEW.learnt IS NOT DISTINCT FROM OLD.learnt
            AND (OLD.state = 'approved' AND NEW.state = 'published'
                OR OLD.state = 'published' AND NEW.state = 'withdrawn'
                AND NEW.number IS NOT DISTINCT FROM OLD.number)) THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'safety_summary is frozen once approved';
END $$;

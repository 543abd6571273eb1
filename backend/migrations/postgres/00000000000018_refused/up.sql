-- A summary on its way is refused where it would give a count away beside what was published meanwhile,
-- and keeps what could be learnt from it. From there on nothing of it changes.
CREATE OR REPLACE FUNCTION freeze_once_approved() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.id = OLD.id AND NEW.cut = OLD.cut AND NEW.content = OLD.content
        AND NEW.content_hash = OLD.content_hash AND NEW.drafted_at = OLD.drafted_at
        AND (OLD.state = 'draft'
            OR OLD.state = 'approved' AND NEW.state = 'refused' AND NEW.number IS NULL
            OR NEW.learnt IS NOT DISTINCT FROM OLD.learnt
            AND (OLD.state = 'approved' AND NEW.state = 'published'
                OR OLD.state = 'published' AND NEW.state = 'withdrawn'
                AND NEW.number IS NOT DISTINCT FROM OLD.number)) THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'safety_summary is frozen once approved';
END $$;

-- The looks at data under a plan, all its versions together: each data cut on which it was carried
-- out, in the order in which that was first done, with what it told and what it spent. Fixed then, so
-- that the same comparison is the same look for ever.
CREATE TABLE plan_look (
    plan_number INTEGER NOT NULL,
    look INTEGER NOT NULL,
    cut TEXT NOT NULL REFERENCES data_cut (id),
    information REAL NOT NULL,
    spent REAL NOT NULL,
    PRIMARY KEY (plan_number, look),
    UNIQUE (plan_number, cut)
) STRICT;

-- Until now every plan had one look, which spent the whole level; what it told was not kept.
INSERT INTO plan_look (plan_number, look, cut, information, spent)
SELECT taken.number, row_number() OVER (PARTITION BY taken.number ORDER BY taken.at, taken.cut), taken.cut, 0.0,
    (1.0 - CAST(json_extract(planned.content, '$.level') AS REAL)) / 2.0
FROM (
    SELECT analysis_plan.number AS number, comparison.cut AS cut, min(comparison.at) AS at
    FROM comparison JOIN analysis_plan ON analysis_plan.id = json_extract(comparison.request, '$.plan')
    GROUP BY analysis_plan.number, comparison.cut
) AS taken
JOIN analysis_plan AS planned ON planned.number = taken.number AND planned.version = 1;

-- INSERT OR REPLACE would delete the old row without any delete trigger.
CREATE TRIGGER plan_look_replaced BEFORE INSERT ON plan_look
WHEN EXISTS (SELECT 1 FROM plan_look AS known
    WHERE known.plan_number = NEW.plan_number AND (known.look = NEW.look OR known.cut = NEW.cut))
BEGIN SELECT RAISE(ABORT, 'plan_look is append-only'); END;
CREATE TRIGGER plan_look_deleted BEFORE DELETE ON plan_look
BEGIN SELECT RAISE(ABORT, 'plan_look is append-only'); END;
CREATE TRIGGER plan_look_updated BEFORE UPDATE ON plan_look
BEGIN SELECT RAISE(ABORT, 'plan_look is append-only'); END;

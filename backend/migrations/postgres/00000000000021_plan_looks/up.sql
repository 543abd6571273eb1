-- The looks at data under a plan, all its versions together: each data cut on which it was carried
-- out, in the order in which that was first done, with what it told and what it spent. Fixed then, so
-- that the same comparison is the same look for ever.
CREATE TABLE plan_look (
    plan_number BIGINT NOT NULL,
    look BIGINT NOT NULL,
    cut TEXT COLLATE "C" NOT NULL REFERENCES data_cut (id),
    information DOUBLE PRECISION NOT NULL,
    spent DOUBLE PRECISION NOT NULL,
    PRIMARY KEY (plan_number, look),
    UNIQUE (plan_number, cut)
);

-- Until now every plan had one look, which spent the whole level; what it told was not kept.
INSERT INTO plan_look (plan_number, look, cut, information, spent)
SELECT taken.number, row_number() OVER (PARTITION BY taken.number ORDER BY taken.at, taken.cut), taken.cut, 0.0,
    (1.0 - (planned.content::json ->> 'level')::double precision) / 2.0
FROM (
    SELECT analysis_plan.number AS number, comparison.cut AS cut, min(comparison.at) AS at
    FROM comparison JOIN analysis_plan ON analysis_plan.id = comparison.request::json ->> 'plan'
    GROUP BY analysis_plan.number, comparison.cut
) AS taken
JOIN analysis_plan AS planned ON planned.number = taken.number AND planned.version = 1;

CREATE TRIGGER plan_look_changed BEFORE UPDATE OR DELETE ON plan_look
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER plan_look_truncated BEFORE TRUNCATE ON plan_look
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();

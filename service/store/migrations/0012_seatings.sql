-- Who sat where in the last plans of a week, and how each came to be: what a person looked at while somebody else changed it, and what
-- planning again changed. Ids and decisions, no names. Kept by triggers, so that no job can forget it; taking an upload back, and
-- forgetting a child, take it away.

CREATE TABLE seating (
  week      TEXT    NOT NULL REFERENCES week (monday) ON DELETE CASCADE,
  revision  INTEGER NOT NULL CHECK (revision > 0),
  made      TEXT    NOT NULL CHECK (made IN ('planned', 'decided', 'repaired')),
  seats     TEXT    NOT NULL CHECK (json_valid(seats)),          -- [{"id", "name", "target", "members": [ids]}]
  overrules TEXT    NOT NULL CHECK (json_valid(overrules)),
  PRIMARY KEY (week, revision)
) STRICT, WITHOUT ROWID;

INSERT INTO seating (week, revision, made, seats, overrules)
  SELECT week, revision, 'planned',
         (SELECT json_group_array(json_object('id', g.value ->> 'id', 'name', g.value ->> 'name', 'target', g.value ->> 'target_skill',
                                              'members', json(coalesce(g.value -> 'members', '[]'))))
          FROM json_each(plan.published, '$.groups') g),
         overrules
  FROM plan;

-- A plan that comes back after a take-back has its line already.
CREATE TRIGGER seats_planned AFTER INSERT ON plan BEGIN
  INSERT OR IGNORE INTO seating (week, revision, made, seats, overrules)
    SELECT NEW.week, NEW.revision, 'planned',
           (SELECT json_group_array(json_object('id', g.value ->> 'id', 'name', g.value ->> 'name', 'target', g.value ->> 'target_skill',
                                                'members', json(coalesce(g.value -> 'members', '[]'))))
            FROM json_each(NEW.published, '$.groups') g),
           NEW.overrules;
  DELETE FROM seating WHERE week = NEW.week AND revision <= NEW.revision - 20;
END;

CREATE TRIGGER seats_changed AFTER UPDATE OF revision ON plan BEGIN
  INSERT OR IGNORE INTO seating (week, revision, made, seats, overrules)
    SELECT NEW.week, NEW.revision, CASE WHEN NEW.overrules = OLD.overrules THEN 'repaired' ELSE 'decided' END,
           (SELECT json_group_array(json_object('id', g.value ->> 'id', 'name', g.value ->> 'name', 'target', g.value ->> 'target_skill',
                                                'members', json(coalesce(g.value -> 'members', '[]'))))
            FROM json_each(NEW.published, '$.groups') g),
           NEW.overrules;
  DELETE FROM seating WHERE week = NEW.week AND revision <= NEW.revision - 20;
END;

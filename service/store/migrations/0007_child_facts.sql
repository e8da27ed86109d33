-- What each planned week says of each child, worked out once so that looks back over a year do not work it out again. Nothing here is
-- said anywhere else than in plan, uploads and attendance; what of those changes takes the week's facts away, and they are made again.

ALTER TABLE week ADD COLUMN changes INTEGER NOT NULL DEFAULT 0 CHECK (changes >= 0); -- of what facts are made from

CREATE TABLE facts_of_week (
  week  TEXT NOT NULL PRIMARY KEY REFERENCES week (monday) ON DELETE CASCADE,
  basis TEXT NOT NULL CHECK (length(basis) > 0)              -- which way of counting they were made by
) STRICT, WITHOUT ROWID;

CREATE TABLE child_facts (
  week    TEXT NOT NULL REFERENCES facts_of_week (week) ON DELETE CASCADE,
  student TEXT NOT NULL CHECK (length(student) > 0),
  facts   TEXT NOT NULL CHECK (json_valid(facts)),
  PRIMARY KEY (week, student)
) STRICT, WITHOUT ROWID;

CREATE INDEX child_facts_student ON child_facts (student);

CREATE TRIGGER plan_made AFTER INSERT ON plan BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = NEW.week; DELETE FROM facts_of_week WHERE week = NEW.week; END;
CREATE TRIGGER plan_changed AFTER UPDATE ON plan BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = NEW.week; DELETE FROM facts_of_week WHERE week = NEW.week; END;
CREATE TRIGGER plan_gone AFTER DELETE ON plan BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = OLD.week; DELETE FROM facts_of_week WHERE week = OLD.week; END;

CREATE TRIGGER upload_added AFTER INSERT ON upload BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = NEW.week; DELETE FROM facts_of_week WHERE week = NEW.week; END;
CREATE TRIGGER upload_changed AFTER UPDATE ON upload BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = NEW.week; DELETE FROM facts_of_week WHERE week = NEW.week; END;
CREATE TRIGGER upload_gone AFTER DELETE ON upload BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = OLD.week; DELETE FROM facts_of_week WHERE week = OLD.week; END;

CREATE TRIGGER session_noted AFTER INSERT ON attendance_session BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = NEW.week; DELETE FROM facts_of_week WHERE week = NEW.week; END;
CREATE TRIGGER session_changed AFTER UPDATE ON attendance_session BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = NEW.week; DELETE FROM facts_of_week WHERE week = NEW.week; END;
CREATE TRIGGER session_gone AFTER DELETE ON attendance_session BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = OLD.week; DELETE FROM facts_of_week WHERE week = OLD.week; END;

CREATE TRIGGER mark_noted AFTER INSERT ON attendance_mark BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = NEW.week; DELETE FROM facts_of_week WHERE week = NEW.week; END;
CREATE TRIGGER mark_changed AFTER UPDATE ON attendance_mark BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = NEW.week; DELETE FROM facts_of_week WHERE week = NEW.week; END;
CREATE TRIGGER mark_gone AFTER DELETE ON attendance_mark BEGIN
  UPDATE week SET changes = changes + 1 WHERE monday = OLD.week; DELETE FROM facts_of_week WHERE week = OLD.week; END;

-- Facts stand under the id that a child has now, so an answer on ids touches all weeks.
CREATE TRIGGER ids_are_one AFTER UPDATE OF answer ON same_child BEGIN
  UPDATE week SET changes = changes + 1; DELETE FROM facts_of_week; END;
CREATE TRIGGER ids_are_gone AFTER DELETE ON same_child WHEN OLD.answer = 'same' BEGIN
  UPDATE week SET changes = changes + 1; DELETE FROM facts_of_week; END;

-- Who was there: the sessions of a week that somebody noted, and a mark a student and session.

CREATE TABLE attendance_session (
  week     TEXT    NOT NULL REFERENCES week (monday) ON DELETE CASCADE,
  label    TEXT    NOT NULL CHECK (length(label) > 0),       -- the column's heading
  position INTEGER NOT NULL CHECK (position >= 0),           -- order of the headings
  day      TEXT    CHECK (day IN ('Mon', 'Tue', 'Wed', 'Thu', 'Fri')),
  date     TEXT    CHECK (date GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  start    INTEGER CHECK (start BETWEEN 0 AND 1440),         -- minutes since midnight
  PRIMARY KEY (week, label)
) STRICT, WITHOUT ROWID;

CREATE TABLE attendance_mark (
  week    TEXT    NOT NULL,
  label   TEXT    NOT NULL,
  student TEXT    NOT NULL CHECK (length(student) > 0),
  mark    TEXT    NOT NULL CHECK (mark IN ('present', 'late', 'absent', 'minutes')),
  minutes INTEGER CHECK ((mark = 'minutes') = (minutes IS NOT NULL) AND minutes >= 0),
  PRIMARY KEY (week, label, student),
  FOREIGN KEY (week, label) REFERENCES attendance_session (week, label) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

-- What the plan knew of attendance when it was made: a JSON list of [student, sessions, there, minutes planned, minutes received].
ALTER TABLE plan ADD COLUMN attended TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(attended));

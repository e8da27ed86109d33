-- Weeks, what was handed in for each, the list of students, and the plan that was made.
-- Dates are ISO text; a week is known by its Monday.

PRAGMA application_id = 0x53484146;

CREATE TABLE week (
  monday   TEXT    NOT NULL PRIMARY KEY CHECK (monday GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
  revision INTEGER NOT NULL DEFAULT 0 CHECK (revision >= 0)  -- counts plans made; never goes back, so that no tag is used twice
) STRICT;

CREATE TABLE upload (
  id     INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,         -- never used again after a take-back
  week   TEXT    NOT NULL REFERENCES week (monday) ON DELETE CASCADE,
  digest TEXT    NOT NULL CHECK (length(digest) = 64),       -- of the contents of its files, not of their names
  UNIQUE (week, digest)
) STRICT;

CREATE TABLE upload_file (
  upload_id INTEGER NOT NULL REFERENCES upload (id) ON DELETE CASCADE,
  position  INTEGER NOT NULL CHECK (position >= 0),
  kind      TEXT    NOT NULL CHECK (kind IN ('scores', 'items')),
  name      TEXT    NOT NULL,                                -- shown, never used as a path
  sha256    TEXT    NOT NULL CHECK (length(sha256) = 64),
  bytes     BLOB    NOT NULL CHECK (length(bytes) > 0),
  PRIMARY KEY (upload_id, position)
) STRICT, WITHOUT ROWID;

CREATE UNIQUE INDEX one_items_file_an_upload ON upload_file (upload_id) WHERE kind = 'items';

CREATE TABLE plan (
  week      TEXT    NOT NULL PRIMARY KEY REFERENCES week (monday) ON DELETE CASCADE,
  revision  INTEGER NOT NULL CHECK (revision > 0),
  seed      INTEGER NOT NULL,                                -- the 64 bits of the seed, read as signed
  setup     TEXT    NOT NULL,                                -- the school setup it was made with, as TOML
  published TEXT    NOT NULL CHECK (json_valid(published))   -- what was handed out
) STRICT;

-- What a plan was made from. Taking an upload back takes the plan with it: see uploads.rs.
CREATE TABLE plan_source (
  week      TEXT    NOT NULL REFERENCES plan (week) ON DELETE CASCADE,
  upload_id INTEGER NOT NULL REFERENCES upload (id) ON DELETE CASCADE,
  PRIMARY KEY (week, upload_id)
) STRICT, WITHOUT ROWID;

CREATE INDEX plan_source_upload ON plan_source (upload_id);

CREATE TABLE student (
  id       TEXT NOT NULL PRIMARY KEY CHECK (length(id) > 0),
  name     TEXT NOT NULL,
  grade    TEXT NOT NULL,
  homeroom TEXT NOT NULL,
  supports TEXT NOT NULL CHECK (json_valid(supports))        -- a JSON list of texts
) STRICT, WITHOUT ROWID;

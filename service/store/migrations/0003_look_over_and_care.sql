-- The life of an upload: it waits to be looked over, counts, may be replaced, and loses its original after a while.
-- What was read stays beside the original, so that a week can be planned after its originals are gone.

ALTER TABLE upload ADD COLUMN state TEXT NOT NULL DEFAULT 'counted' CHECK (state IN ('waiting', 'counted'));
-- A replaced upload does not count. Taking the replacing one back lets it count again, by itself.
ALTER TABLE upload ADD COLUMN replaced_by INTEGER REFERENCES upload (id) ON DELETE SET NULL;
ALTER TABLE upload ADD COLUMN corrections TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(corrections)); -- made on the page
ALTER TABLE upload ADD COLUMN reading TEXT CHECK (reading IS NULL OR json_valid(reading)); -- NULL: read it from the original

CREATE INDEX upload_replaced_by ON upload (replaced_by);

-- The same as before, but for bytes that may be gone.
CREATE TABLE upload_file_kept (
  upload_id INTEGER NOT NULL REFERENCES upload (id) ON DELETE CASCADE,
  position  INTEGER NOT NULL CHECK (position >= 0),
  kind      TEXT    NOT NULL CHECK (kind IN ('scores', 'items')),
  name      TEXT    NOT NULL,                                -- shown, never used as a path
  sha256    TEXT    NOT NULL CHECK (length(sha256) = 64),
  bytes     BLOB    CHECK (bytes IS NULL OR length(bytes) > 0), -- NULL: removed after the time that the setup names
  PRIMARY KEY (upload_id, position)
) STRICT, WITHOUT ROWID;

INSERT INTO upload_file_kept SELECT upload_id, position, kind, name, sha256, bytes FROM upload_file;
DROP TABLE upload_file;
ALTER TABLE upload_file_kept RENAME TO upload_file;
CREATE UNIQUE INDEX one_items_file_an_upload ON upload_file (upload_id) WHERE kind = 'items';
CREATE INDEX upload_file_sha256 ON upload_file (sha256);

-- Groups of an earlier plan that were kept together, as a JSON list of lists of ids: part of the recipe.
ALTER TABLE plan ADD COLUMN holds TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(holds));

-- A plan that a later one took the place of. It stays while the uploads it was made from are there, and comes back
-- when the later one goes with an upload that is taken back.
CREATE TABLE earlier_plan (
  week      TEXT    NOT NULL REFERENCES week (monday) ON DELETE CASCADE,
  revision  INTEGER NOT NULL CHECK (revision > 0),
  seed      INTEGER NOT NULL,
  setup     TEXT    NOT NULL,
  holds     TEXT    NOT NULL CHECK (json_valid(holds)),
  published TEXT    NOT NULL CHECK (json_valid(published)),
  attended  TEXT    NOT NULL CHECK (json_valid(attended)),
  sources   TEXT    NOT NULL CHECK (json_valid(sources)),    -- a JSON list of upload ids, in order
  PRIMARY KEY (week, revision)
) STRICT, WITHOUT ROWID;

-- How sheets of a layout are to be read, as a person said it on the page.
CREATE TABLE kept_choice (
  layout TEXT NOT NULL PRIMARY KEY CHECK (length(layout) > 0),
  choice TEXT NOT NULL CHECK (json_valid(choice))
) STRICT, WITHOUT ROWID;

-- Item facts typed once: for sheets of a layout that have exactly these items.
CREATE TABLE kept_items (
  layout TEXT NOT NULL CHECK (length(layout) > 0),
  labels TEXT NOT NULL CHECK (json_valid(labels)),           -- a JSON list of the items' labels, in order
  items  TEXT NOT NULL CHECK (json_valid(items)),
  PRIMARY KEY (layout, labels)
) STRICT, WITHOUT ROWID;

-- Two ids that may be one child: asked, and answered by a person; never assumed.
CREATE TABLE same_child (
  old_id TEXT NOT NULL CHECK (length(old_id) > 0),
  new_id TEXT NOT NULL CHECK (length(new_id) > 0 AND new_id <> old_id),
  answer TEXT NOT NULL DEFAULT 'open' CHECK (answer IN ('open', 'same', 'different')),
  PRIMARY KEY (old_id, new_id)
) STRICT, WITHOUT ROWID;

CREATE UNIQUE INDEX one_new_id_a_child ON same_child (old_id) WHERE answer = 'same';

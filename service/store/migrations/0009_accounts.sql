-- Who may sign in from another machine, and as what. A passphrase is kept as the text that Argon2id gives of it (PHC format), never itself.

CREATE TABLE account (
  name       TEXT NOT NULL PRIMARY KEY COLLATE NOCASE CHECK (length(name) > 0),
  role       TEXT NOT NULL CHECK (role IN ('interventionist', 'grade-team', 'coach')),
  passphrase TEXT NOT NULL CHECK (passphrase GLOB '$argon2id$*'),
  created    TEXT NOT NULL DEFAULT (date('now'))
) STRICT, WITHOUT ROWID;

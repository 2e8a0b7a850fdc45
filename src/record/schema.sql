-- The project file: what people entered, append-only, with what they brought in and what was
-- worked out from it. Texts are UTF-8, times ISO 8601, hashes SHA-256 in hexadecimal.

-- Facts about the file itself; what people say about the project is an entry of kind "project".
CREATE TABLE meta(
  id INTEGER PRIMARY KEY, -- row number
  name TEXT NOT NULL UNIQUE CHECK (name <> ''), -- uuid: of the project, kept by all copies; made: when
  value TEXT NOT NULL -- as text
) STRICT;

-- One change: everything a person did in one step. Undone as a whole by a later change.
CREATE TABLE change(
  id INTEGER PRIMARY KEY, -- order in this file
  uuid TEXT NOT NULL UNIQUE CHECK (length(uuid) = 32), -- the same in all copies of the project
  who TEXT NOT NULL CHECK (who <> ''), -- person, by name or role
  made TEXT NOT NULL CHECK (made <> ''), -- when, as the caller's clock had it
  why TEXT NOT NULL, -- reason given, may be empty
  undoes TEXT, -- uuid of the change that this one takes back, or NULL
  first INTEGER NOT NULL CHECK (first > 0), -- id of its first entry
  count INTEGER NOT NULL CHECK (count >= 0), -- entries it holds: first .. first + count - 1
  sha256 TEXT NOT NULL CHECK (length(sha256) IN (0, 64)), -- of all the above and its entries' hashes
  link TEXT NOT NULL CHECK (length(link) IN (0, 64)) -- of the previous link and this hash: a chain
) STRICT;

-- One revision of one thing a person entered. Rows are only added; the latest one of a thing holds.
CREATE TABLE entry(
  id INTEGER PRIMARY KEY, -- the revision number
  change INTEGER NOT NULL CHECK (change > 0), -- id of the change that brought it; verify looks after it
  kind TEXT NOT NULL CHECK (kind <> ''), -- "piece", "measure", ...
  name TEXT NOT NULL CHECK (name <> ''), -- the thing's own id: "A12"
  supersedes INTEGER CHECK (supersedes < id), -- revision of the same thing that it replaces, or NULL
  gone INTEGER NOT NULL CHECK (gone IN (0, 1)), -- 1: withdrawn from here on; the body says what it was
  body TEXT NOT NULL CHECK (body <> ''), -- its fields as canonical JSON (keys sorted, no spaces)
  sha256 TEXT NOT NULL CHECK (length(sha256) = 64) -- of the row, its change and what it supersedes
) STRICT;
CREATE INDEX entry_thing ON entry(kind, name);

-- Bytes brought in from outside, kept as they came. Entries of kind "file" name them by hash.
CREATE TABLE kept(
  id INTEGER PRIMARY KEY, -- row number
  sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64), -- of the bytes
  size INTEGER NOT NULL CHECK (size >= 0), -- their number
  bytes BLOB NOT NULL -- themselves
) STRICT;

-- What was fixed before an outcome was known (a prediction), or handed over (a report).
CREATE TABLE seal(
  id INTEGER PRIMARY KEY, -- row number
  uuid TEXT NOT NULL UNIQUE CHECK (length(uuid) = 32), -- the same in all copies
  kind TEXT NOT NULL CHECK (kind <> ''), -- "prediction", "report", ...
  name TEXT NOT NULL, -- of what: the trial's id, the report's title
  who TEXT NOT NULL CHECK (who <> ''), -- person
  made TEXT NOT NULL CHECK (made <> ''), -- when
  link TEXT NOT NULL, -- hash of the last change then, which must still be there; '' if there was none
  body TEXT NOT NULL, -- what is sealed, as canonical JSON
  sha256 TEXT NOT NULL CHECK (length(sha256) = 64) -- of the row
) STRICT;

-- What a stage worked out; may be thrown away and worked out again.
CREATE TABLE result(
  id INTEGER PRIMARY KEY, -- row number
  stage TEXT NOT NULL CHECK (stage <> ''), -- its name
  key TEXT NOT NULL CHECK (key <> ''), -- hash of version, inputs, seed and number of draws
  made TEXT NOT NULL, -- when
  body TEXT NOT NULL, -- what came out, as JSON
  sha256 TEXT NOT NULL CHECK (length(sha256) = 64), -- of stage, key and body
  UNIQUE (stage, key)
) STRICT;

-- A private thing blotted out on record: what stood there is gone, that it did is not.
CREATE TABLE blot(
  id INTEGER PRIMARY KEY, -- row number
  what TEXT NOT NULL CHECK (what IN ('entry', 'change', 'kept', 'seal')), -- which table
  target TEXT NOT NULL, -- entry: change uuid, colon, place in it; kept: old hash; else the uuid
  before TEXT NOT NULL CHECK (length(before) = 64), -- hash of the row or bytes as they were
  after TEXT NOT NULL CHECK (length(after) = 64), -- hash of what stands there now
  who TEXT NOT NULL CHECK (who <> ''), -- person who asked
  made TEXT NOT NULL CHECK (made <> ''), -- when
  why TEXT NOT NULL CHECK (why <> ''), -- reason
  UNIQUE (what, target, after)
) STRICT;

-- Copies set aside before the file was brought to a newer form; a blotting names them.
CREATE TABLE backup(
  id INTEGER PRIMARY KEY, -- row number
  path TEXT NOT NULL CHECK (path <> ''), -- file name, beside the project file
  version INTEGER NOT NULL, -- form of the file it holds
  made TEXT NOT NULL -- when; empty when no clock was given
) STRICT;

-- Job file, version 1. Never edited once published; see docs/decisions/0003-job-file.md.

CREATE TABLE migrations (
    number   INTEGER PRIMARY KEY,
    name     TEXT NOT NULL,
    checksum TEXT NOT NULL
) STRICT;

-- What the documents hold, each content once.
CREATE TABLE contents (
    id    INTEGER PRIMARY KEY,
    hash  TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
    bytes BLOB NOT NULL
) STRICT;

-- Every version of every name; the one with the largest number is current.
CREATE TABLE documents (
    number     INTEGER PRIMARY KEY,
    kind       TEXT NOT NULL,
    name       TEXT NOT NULL,
    hash       TEXT NOT NULL REFERENCES contents (hash),
    added_at   TEXT NOT NULL,
    added_by   TEXT NOT NULL,
    check_hash TEXT NOT NULL
) STRICT;

CREATE INDEX documents_by_name ON documents (name, number);

-- The chain. Kind to outcome, supersedes and signs stand in the body too, which is what counts;
-- here they are for lists.
CREATE TABLE records (
    seq            INTEGER PRIMARY KEY,
    kind           TEXT NOT NULL,
    title          TEXT NOT NULL,
    program        TEXT NOT NULL,
    outcome        TEXT,
    made_at        TEXT NOT NULL,
    made_by        TEXT NOT NULL,
    body_hash      TEXT NOT NULL CHECK (length(body_hash) = 64),
    prev_link_hash TEXT NOT NULL UNIQUE CHECK (length(prev_link_hash) = 64),
    link_hash      TEXT NOT NULL UNIQUE CHECK (length(link_hash) = 64),
    supersedes     TEXT UNIQUE REFERENCES records (link_hash),
    signs          TEXT REFERENCES records (link_hash),
    body           BLOB NOT NULL
) STRICT;

CREATE TABLE rests_on (
    seq      INTEGER NOT NULL REFERENCES records (seq),
    position INTEGER NOT NULL,
    kind     TEXT NOT NULL,
    name     TEXT NOT NULL,
    hash     TEXT NOT NULL REFERENCES contents (hash),
    PRIMARY KEY (seq, position)
) STRICT;

-- The guards. Nothing is changed, nothing is taken out.
CREATE TRIGGER migrations_kept_1 BEFORE UPDATE ON migrations
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER migrations_kept_2 BEFORE DELETE ON migrations
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER contents_kept_1 BEFORE UPDATE ON contents
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER contents_kept_2 BEFORE DELETE ON contents
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER documents_kept_1 BEFORE UPDATE ON documents
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER documents_kept_2 BEFORE DELETE ON documents
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER records_kept_1 BEFORE UPDATE ON records
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER records_kept_2 BEFORE DELETE ON records
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER rests_on_kept_1 BEFORE UPDATE ON rests_on
BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER rests_on_kept_2 BEFORE DELETE ON rests_on
BEGIN SELECT RAISE(ABORT, 'append-only'); END;

-- INSERT OR REPLACE takes a row out without asking the guards above, so it is stopped on the way in:
-- whatever would collide, and whatever is not the next number, is refused.
CREATE TRIGGER migrations_kept_3 BEFORE INSERT ON migrations
WHEN EXISTS (SELECT 1 FROM migrations WHERE number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'append-only'); END;

CREATE TRIGGER contents_kept_3 BEFORE INSERT ON contents
WHEN EXISTS (SELECT 1 FROM contents WHERE hash = NEW.hash OR id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'append-only'); END;

CREATE TRIGGER documents_kept_3 BEFORE INSERT ON documents
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM documents)
BEGIN SELECT RAISE(ABORT, 'append-only'); END;

CREATE TRIGGER records_kept_3 BEFORE INSERT ON records
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM records)
    OR NEW.prev_link_hash IS NOT coalesce(
        (SELECT link_hash FROM records ORDER BY seq DESC LIMIT 1),
        '0000000000000000000000000000000000000000000000000000000000000000')
    OR EXISTS (SELECT 1 FROM records WHERE link_hash = NEW.link_hash OR supersedes = NEW.supersedes)
BEGIN SELECT RAISE(ABORT, 'append-only'); END;

CREATE TRIGGER rests_on_kept_3 BEFORE INSERT ON rests_on
WHEN NEW.seq IS NOT (SELECT max(seq) FROM records)
    OR EXISTS (SELECT 1 FROM rests_on WHERE seq = NEW.seq AND position = NEW.position)
BEGIN SELECT RAISE(ABORT, 'append-only'); END;

-- Version 1: vehicles, the numbered entries of the logbook, sittings with their answers, notes.

CREATE TABLE vehicle (
    id    INTEGER PRIMARY KEY,
    name  TEXT NOT NULL UNIQUE,
    shown TEXT NOT NULL,
    file  TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE trait (
    vehicle INTEGER NOT NULL REFERENCES vehicle (id) ON DELETE CASCADE,
    name    TEXT NOT NULL,
    value   TEXT NOT NULL,
    PRIMARY KEY (vehicle, name)
) STRICT, WITHOUT ROWID;

-- Everything in the logbook has one number here; the numbers, not the days, give the order.
CREATE TABLE entry (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    mark    TEXT NOT NULL UNIQUE DEFAULT (lower(hex(randomblob(12)))),
    vehicle INTEGER NOT NULL REFERENCES vehicle (id),
    kind    TEXT NOT NULL,
    day     TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]')
) STRICT;

CREATE INDEX entry_by_vehicle ON entry (vehicle, id);
CREATE INDEX entry_by_kind ON entry (kind, id);
CREATE INDEX entry_by_day ON entry (day);

-- A trace or a walk-round. `edits` counts its changes, so that two programs cannot write over one another.
CREATE TABLE sitting (
    entry     INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
    title     TEXT NOT NULL,
    touched   TEXT NOT NULL,
    ended     TEXT,
    ending    TEXT CHECK (ending IN ('proved', 'done', 'aside')),
    knowledge TEXT NOT NULL,
    settings  TEXT NOT NULL DEFAULT '',
    unsettled TEXT NOT NULL DEFAULT '',
    edits     INTEGER NOT NULL DEFAULT 0,
    CHECK ((ended IS NULL) = (ending IS NULL))
) STRICT;

CREATE INDEX sitting_open ON sitting (entry) WHERE ended IS NULL;

-- One answer; `data` is the answer as the session wrote it, the other columns are for reading and sorting out. `sum` is made of what was
-- given, so that damage inside the text is noticed, which the library would not see.
CREATE TABLE answer (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    sitting INTEGER NOT NULL REFERENCES sitting (entry) ON DELETE CASCADE,
    kind    TEXT NOT NULL,
    subject TEXT NOT NULL,
    place   TEXT,
    said    TEXT NOT NULL,
    number  REAL,
    unit    TEXT,
    typed   TEXT NOT NULL,
    day     TEXT NOT NULL,
    data    TEXT NOT NULL,
    sum     INTEGER NOT NULL,
    undone  TEXT
) STRICT;

CREATE INDEX answer_by_sitting ON answer (sitting, id);

CREATE TABLE note (
    entry INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
    of    INTEGER REFERENCES entry (id),
    text  TEXT NOT NULL
) STRICT;

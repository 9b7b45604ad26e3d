-- Version 2: odometer, measurements, findings, parts with their states, repairs with their proof, test results with their lines.

CREATE TABLE odometer (
    entry   INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
    reading REAL NOT NULL CHECK (reading >= 0),
    unit    TEXT NOT NULL CHECK (unit IN ('mi', 'km'))
) STRICT;

CREATE TABLE measurement (
    entry         INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
    what          TEXT NOT NULL,
    place         TEXT,
    value         REAL NOT NULL,
    unit          TEXT NOT NULL,
    odometer      REAL CHECK (odometer >= 0),
    odometer_unit TEXT CHECK (odometer_unit IN ('mi', 'km')),
    CHECK ((odometer IS NULL) = (odometer_unit IS NULL))
) STRICT;

CREATE INDEX measurement_by_what ON measurement (what, entry);

CREATE TABLE repair (
    entry     INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
    of        INTEGER REFERENCES entry (id),
    cause     TEXT NOT NULL,
    place     TEXT,
    remedy    TEXT NOT NULL,
    proved    INTEGER NOT NULL CHECK (proved IN (0, 1)),
    proved_by TEXT NOT NULL DEFAULT '',
    text      TEXT NOT NULL
) STRICT;

CREATE INDEX repair_by_sitting ON repair (of);

CREATE TABLE finding (
    entry     INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
    of        INTEGER REFERENCES entry (id),
    subject   TEXT NOT NULL,
    place     TEXT,
    verdict   TEXT NOT NULL,
    text      TEXT NOT NULL,
    closed    TEXT,
    closed_by INTEGER REFERENCES entry (id) ON DELETE SET NULL
) STRICT;

CREATE TABLE part (
    entry    INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
    of       INTEGER REFERENCES entry (id),
    part     TEXT NOT NULL,
    place    TEXT,
    quantity REAL NOT NULL CHECK (quantity > 0),
    cause    TEXT,
    text     TEXT NOT NULL
) STRICT;

-- What became of a part, in order; the last row is how it stands. Prices are in pence, for the whole quantity.
CREATE TABLE part_state (
    id     INTEGER PRIMARY KEY AUTOINCREMENT,
    part   INTEGER NOT NULL REFERENCES part (entry) ON DELETE CASCADE,
    state  TEXT NOT NULL CHECK (state IN ('wanted', 'ordered', 'back-order', 'arrived', 'fitted', 'dropped')),
    day    TEXT NOT NULL,
    due    TEXT,
    price  INTEGER,
    remark TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX part_state_by_part ON part_state (part, id);

CREATE TABLE result (
    entry   INTEGER PRIMARY KEY REFERENCES entry (id) ON DELETE CASCADE,
    outcome TEXT NOT NULL CHECK (outcome IN ('passed', 'refused')),
    text    TEXT NOT NULL
) STRICT;

CREATE TABLE result_line (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    result   INTEGER NOT NULL REFERENCES result (entry) ON DELETE CASCADE,
    category TEXT NOT NULL CHECK (category IN ('dangerous', 'major', 'minor', 'remark')),
    text     TEXT NOT NULL
) STRICT;

CREATE INDEX result_line_by_result ON result_line (result, id);

-- Version 3: where learning from proved repairs begins anew.

CREATE TABLE learning_reset (
    id    INTEGER PRIMARY KEY AUTOINCREMENT,
    day   TEXT NOT NULL,
    after INTEGER NOT NULL
) STRICT;

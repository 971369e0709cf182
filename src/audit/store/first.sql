-- The store, as of version 1. Tables whose names begin with `_` are the store's own; the views are
-- what a reader counts on.

CREATE TABLE _run (
    id        INTEGER PRIMARY KEY,
    began     TEXT NOT NULL,              -- UTC
    ended     TEXT,                       -- null: it goes on, or was cut off
    version   TEXT NOT NULL,              -- the program's
    whole     INTEGER NOT NULL DEFAULT 0, -- 1: it came to its end
    inspected INTEGER NOT NULL DEFAULT 0,
    known     INTEGER NOT NULL DEFAULT 0,
    copied    INTEGER NOT NULL DEFAULT 0,
    gone      INTEGER NOT NULL DEFAULT 0,
    moved     INTEGER NOT NULL DEFAULT 0
);

CREATE TABLE _file (
    id         INTEGER PRIMARY KEY,
    key        BLOB NOT NULL UNIQUE,      -- the path's bytes
    path       TEXT NOT NULL,
    size       INTEGER,
    modified   INTEGER,                   -- ns since 1970; null: not to be trusted
    month      TEXT,
    digest     TEXT,                      -- BLAKE3 of the bytes as stored
    terms      TEXT NOT NULL,             -- a digest of all that the verdict hangs on besides
    jobs       INTEGER NOT NULL,          -- how many jobs it holds
    first_run  INTEGER NOT NULL,
    run        INTEGER NOT NULL,          -- the last that wrote this row
    gone_run   INTEGER,
    moved_from TEXT
);
CREATE INDEX _file_digest ON _file (digest);
CREATE INDEX _file_size ON _file (size);

CREATE TABLE _job (
    id                    INTEGER PRIMARY KEY,
    file                  INTEGER NOT NULL,
    member                TEXT NOT NULL,  -- within an archive; empty for a file that is a job
    state                 TEXT NOT NULL,
    error                 TEXT,
    material              TEXT,
    material_digest       TEXT,
    material_by           TEXT,
    machine               TEXT,
    machine_digest        TEXT,
    hold_from             TEXT,
    critical              INTEGER NOT NULL,
    major                 INTEGER NOT NULL,
    minor                 INTEGER NOT NULL,
    observations          INTEGER NOT NULL,
    not_held              TEXT NOT NULL,  -- requirements that could not be held, with blanks between
    bytes                 INTEGER,
    lines                 INTEGER,
    packing               TEXT,
    time_ms               INTEGER,
    filament_um           INTEGER,
    filament_mg           INTEGER,
    layers                INTEGER,
    first_layer_mm        REAL,
    first_layer_mm_s      REAL,
    quickest_layer_s      REAL,
    peak_flow_mm3_s       REAL,
    sustained_flow_mm3_s  REAL,
    footprint_x_mm        REAL,
    footprint_y_mm        REAL,
    longest_side_mm       REAL,
    UNIQUE (file, member)
);

CREATE TABLE _finding (
    job         INTEGER NOT NULL,
    number      INTEGER NOT NULL,
    requirement TEXT NOT NULL,
    class       TEXT NOT NULL,
    count       INTEGER NOT NULL,
    counts      TEXT NOT NULL,
    line        INTEGER,                  -- the worst, else the first
    amount      REAL,
    limit_value REAL,
    unit        TEXT,
    whose       TEXT,
    message     TEXT NOT NULL,
    conceded    INTEGER NOT NULL,
    PRIMARY KEY (job, number)
) WITHOUT ROWID;

CREATE TABLE _value (
    job   INTEGER NOT NULL,
    name  TEXT NOT NULL,
    value REAL NOT NULL,
    PRIMARY KEY (job, name)
) WITHOUT ROWID;

CREATE TABLE _total (
    kind         TEXT NOT NULL,           -- all, requirement, material, machine, month
    name         TEXT NOT NULL,
    jobs         INTEGER NOT NULL DEFAULT 0,
    released     INTEGER NOT NULL DEFAULT 0,
    conceded     INTEGER NOT NULL DEFAULT 0,
    held         INTEGER NOT NULL DEFAULT 0,
    failed       INTEGER NOT NULL DEFAULT 0,
    no_rule      INTEGER NOT NULL DEFAULT 0,
    findings     INTEGER NOT NULL DEFAULT 0,
    critical     INTEGER NOT NULL DEFAULT 0,
    major        INTEGER NOT NULL DEFAULT 0,
    minor        INTEGER NOT NULL DEFAULT 0,
    observations INTEGER NOT NULL DEFAULT 0,
    bytes        INTEGER NOT NULL DEFAULT 0,
    time_ms      INTEGER NOT NULL DEFAULT 0,
    filament_um  INTEGER NOT NULL DEFAULT 0,
    filament_mg  INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (kind, name)
) WITHOUT ROWID;

CREATE TABLE _change (
    id     INTEGER PRIMARY KEY,
    run    INTEGER NOT NULL,
    path   TEXT NOT NULL,
    member TEXT NOT NULL,
    what   TEXT NOT NULL,                 -- new, changed, gone, back, moved
    before TEXT,                          -- the state, or for moved the path, before
    after  TEXT
);
CREATE INDEX _change_run ON _change (run);

CREATE TABLE _trouble (
    run     INTEGER NOT NULL,
    path    TEXT NOT NULL,
    message TEXT NOT NULL,
    PRIMARY KEY (run, path)
) WITHOUT ROWID;

CREATE VIEW jobs AS
SELECT _job.id, path, member, digest, size, month, terms,
       state, error, material, material_digest, material_by, machine, machine_digest, hold_from,
       critical, major, minor, observations, not_held, bytes, lines, packing,
       time_ms / 1e3 AS time_s, filament_um / 1e3 AS filament_mm, filament_mg / 1e3 AS filament_g,
       layers, first_layer_mm, first_layer_mm_s, quickest_layer_s, peak_flow_mm3_s,
       sustained_flow_mm3_s, footprint_x_mm, footprint_y_mm, longest_side_mm, moved_from, first_run
FROM _job JOIN _file ON _file.id = _job.file WHERE gone_run IS NULL;

CREATE VIEW gone_jobs AS
SELECT _job.id, path, member, digest, size, state, error, material, machine,
       critical, major, minor, observations, first_run, gone_run
FROM _job JOIN _file ON _file.id = _job.file WHERE gone_run IS NOT NULL;

CREATE VIEW findings AS
SELECT path, member, _finding.*
FROM _finding JOIN _job ON _job.id = _finding.job JOIN _file ON _file.id = _job.file
WHERE gone_run IS NULL;

CREATE VIEW held_values AS
SELECT path, member, _value.*
FROM _value JOIN _job ON _job.id = _value.job JOIN _file ON _file.id = _job.file
WHERE gone_run IS NULL;

CREATE VIEW runs AS SELECT * FROM _run;
CREATE VIEW totals AS SELECT * FROM _total WHERE jobs > 0;
CREATE VIEW troubles AS SELECT * FROM _trouble;
CREATE VIEW changes AS SELECT * FROM _change;

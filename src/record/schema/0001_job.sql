-- SPDX-License-Identifier: Apache-2.0
-- 0001: the first schema of a job file. Released scripts never change; a change is a new script with the next number.
-- What stands here are facts: rows are added, never altered or removed. What is computed stands in derived.sql.

-- What the file says of itself, by name:
--   schema           number of the newest schema script that was run
--   schema-needs     the earliest program version that can read it
--   created-by       version of the program that made the file
--   created-with     options it was made with, canonical JSON
--   job-id           names the job in all its files
--   derived-version  SHA-256 of the derived.sql that the derived tables were made by
--   derived-basis    state of the records that the derived rows were computed from
create table property (
    name  text not null primary key,
    value text not null
) strict;

-- One fact that a person or an instrument stated. A station's records form a chain by sequence and hash.
create table record (
    station        text    not null,                       -- first 12 hex digits of SHA-256 of the station's public key
    sequence       integer not null check (sequence >= 1), -- 1, 2, 3 ... without a gap
    kind           text    not null,                       -- see docs/formats/job-file.md
    time_ms        integer not null,                       -- when it was stated: milliseconds since 1970-01-01T00:00:00Z
    offset_minutes integer not null,                       -- of the wall clock from UTC, for showing
    operator       text    not null,                       -- the person
    program        text    not null,                       -- version of the program that wrote it
    facts          text    not null,                       -- version of its fact tables
    previous       blob    not null check (length(previous) = 32), -- hash of the record before it; 32 zero bytes for the first
    hash           blob    not null check (length(hash) = 32),     -- SHA-256 of the whole record in canonical JSON
    body           text    not null                        -- canonical JSON (RFC 8785), an object
) strict;

create unique index record_chain on record (station, sequence);
create unique index record_hash on record (hash);
create index record_kind on record (kind, time_ms);

-- The end of a station's chain as it stood at a commit, signed by the station.
create table head (
    station   text    not null,
    sequence  integer not null check (sequence >= 1),
    hash      blob    not null check (length(hash) = 32),      -- of the record with that station and sequence
    signature blob    not null check (length(signature) = 64), -- Ed25519, over the statement in docs/formats/job-file.md
    primary key (station, sequence)
) strict, without rowid;

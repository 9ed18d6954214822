-- SPDX-License-Identifier: Apache-2.0
-- Tables computed from the records. They may be dropped and made again at any time, and are when this script changes.
-- Nothing here is evidence. Names and meanings of the columns: src/record/derived.hpp.

-- A link as it stands now.
create table derived_link (
    link                  text    not null primary key,
    zone                  text    not null,
    state                 text    not null,
    scheduled             integer not null,
    category              text    not null,
    family                text    not null,
    fibres                integer not null,
    tests                 integer not null,
    readings              integer not null,
    failed_fibres         integer not null,
    findings              integer not null,
    worst_margin_db       real,
    worst_attenuation_db  real,
    worst_limit_db        real,
    worst_position        integer,
    worst_wavelength_nm   integer,
    conformity            real,
    length_m              real,
    tested_at_ms          integer,
    tested_offset_minutes integer not null,
    day                   text    not null,
    reference             text    not null,
    operator              text    not null,
    reason                text    not null,
    row                   blob    not null,
    search                text    not null  -- lower case
) strict;

create index derived_link_zone on derived_link (zone, link);
create index derived_link_state on derived_link (state, link);
create index derived_link_day on derived_link (day, link);
create index derived_link_reference on derived_link (reference, link);
create index derived_link_margin on derived_link (worst_margin_db, link);
create index derived_link_tested on derived_link (tested_at_ms, link);

-- One measurement of a link; names the record that holds it.
create table derived_test (
    link                  text    not null,
    station               text    not null,
    sequence              integer not null,
    tested_at_ms          integer not null,
    tested_offset_minutes integer not null,
    reference             text    not null,
    operator              text    not null,
    state                 text    not null,
    counts                integer not null,
    worst_margin_db       real,
    primary key (link, station, sequence)
) strict, without rowid;

-- Something that a rule or a pattern says.
create table derived_finding (
    id            text not null primary key,
    rule          text not null,
    severity      text not null,
    subject       text not null,
    name          text not null,
    position      integer,
    wavelength_nm integer,
    message       text not null,
    action        text not null,
    acknowledged  text not null,
    detail        text not null
) strict;

create index derived_finding_subject on derived_finding (subject, name);

-- How many links of a scope stand in a state.
create table derived_progress (
    scope text    not null,
    name  text    not null,
    state text    not null,
    links integer not null,
    primary key (scope, name, state)
) strict, without rowid;

-- Anything else worth keeping ready, by name.
create table derived_text (
    name text not null primary key,
    text text not null
) strict, without rowid;

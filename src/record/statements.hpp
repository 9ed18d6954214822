// SPDX-License-Identifier: Apache-2.0
// The statements that every SQL store uses alike. Parameters are $1, $2 ... in the order of their first
// appearance, which both SQLite and PostgreSQL accept. What differs is with the engine. For this room
// alone.
#pragma once

#include "base/safe_text.hpp"

namespace guidepin::record::statement {

#define GUIDEPIN_RECORD_COLUMNS                                                                              \
    "station, sequence, kind, time_ms, offset_minutes, operator, program, facts, previous, hash, body"

inline constexpr Sql insert_record{"insert into record (" GUIDEPIN_RECORD_COLUMNS
                                   ") values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)"};
inline constexpr Sql insert_head{
    "insert into head (station, sequence, hash, signature) values ($1, $2, $3, $4)"};
inline constexpr Sql head_at{
    "select station, sequence, hash, signature from head where station = $1 and sequence = $2"};
inline constexpr Sql all_heads{
    "select station, sequence, hash, signature from head order by station, sequence"};
inline constexpr Sql latest_heads{
    "select station, sequence, hash, signature from head as h where sequence = "
    "(select max(sequence) from head as later where later.station = h.station) order by station"};
inline constexpr Sql tip{
    "select sequence, hash from record where station = $1 order by sequence desc limit 1"};

inline constexpr Sql records_by_chain{
    "select " GUIDEPIN_RECORD_COLUMNS
    " from record where sequence between $1 and $2 order by station, sequence"};
inline constexpr Sql records_of_station{
    "select " GUIDEPIN_RECORD_COLUMNS
    " from record where station = $1 and sequence between $2 and $3 order by station, sequence"};
// Time is not indexed alone: the kind index serves a query by kind, and a whole reading sorts row numbers,
// not bodies.
inline constexpr Sql keys_by_time{"select station, sequence, kind from record where sequence between $1 and "
                                  "$2 order by time_ms, station, sequence"};
inline constexpr Sql keys_of_kind_by_time{
    "select station, sequence, kind from record where kind = $1 and sequence between $2 and $3 "
    "order by time_ms, station, sequence"};
inline constexpr Sql keys_of_kind_by_chain{"select station, sequence, kind from record where kind = $1 and "
                                           "sequence between $2 and $3 order by station, sequence"};
inline constexpr Sql record_at{"select " GUIDEPIN_RECORD_COLUMNS
                               " from record where station = $1 and sequence = $2"};
inline constexpr Sql record_with_hash{"select " GUIDEPIN_RECORD_COLUMNS " from record where hash = $1"};
inline constexpr Sql count_all{"select count(*) from record"};
inline constexpr Sql count_kind{"select count(*) from record where kind = $1"};

inline constexpr Sql property{"select value from property where name = $1"};
inline constexpr Sql set_property{"insert into property (name, value) values ($1, $2) on conflict (name) do "
                                  "update set value = excluded.value"};

} // namespace guidepin::record::statement

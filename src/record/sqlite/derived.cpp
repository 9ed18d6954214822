// SPDX-License-Identifier: Apache-2.0
// The derived tables of a SQLite job file.
#include "record/derived_columns.hpp"
#include "record/derived_digest.hpp"
#include "record/sqlite/sqlite_store.hpp"

namespace guidepin::record::sqlite {

namespace {

template <class Row>
void bind_row(Statement& statement, Row const& row)
{
    int at = 0;
    detail::each_column(row, [&](auto const& column) {
        using Column = std::remove_cvref_t<decltype(column)>;
        ++at;
        if constexpr (std::is_same_v<Column, bool>) {
            statement.bind(at, std::int64_t{column ? 1 : 0});
        } else if constexpr (std::is_same_v<Column, std::optional<double>> ||
                             std::is_same_v<Column, std::optional<std::int64_t>>) {
            column ? statement.bind(at, *column) : statement.bind_null(at);
        } else if constexpr (std::is_same_v<Column, std::string>) {
            statement.bind(at, std::string_view(column));
        } else if constexpr (std::is_same_v<Column, std::int64_t>) {
            statement.bind(at, column);
        } else {
            statement.bind_bytes(at, column.bytes);
        }
    });
}

template <class Row>
Row read_row(Statement const& statement)
{
    Row row;
    int at = 0;
    detail::each_column(row, [&](auto&& column) {
        using Column = std::remove_cvref_t<decltype(column)>;
        int const here = at++;
        if constexpr (std::is_same_v<Column, std::string>) {
            column = statement.text(here);
        } else if constexpr (std::is_same_v<Column, bool>) {
            column = statement.integer(here) != 0;
        } else if constexpr (std::is_same_v<Column, std::int64_t>) {
            column = statement.integer(here);
        } else if constexpr (std::is_same_v<Column, std::optional<double>>) {
            if (!statement.is_null(here)) column = statement.number(here);
        } else if constexpr (std::is_same_v<Column, std::optional<std::int64_t>>) {
            if (!statement.is_null(here)) column = statement.integer(here);
        } else {
            column.bytes = statement.text(here);
        }
    });
    return row;
}

template <class Row>
Result<std::vector<Row>> read_all(Statement& statement)
{
    std::vector<Row> rows;
    while (true) {
        TRY_ASSIGN(bool const row, statement.step());
        if (!row) return rows;
        rows.push_back(read_row<Row>(statement));
    }
}

template <class Row>
Result<std::vector<Row>> read_table(Database const& database, Sql query)
{
    TRY_ASSIGN(auto statement, database.prepare(query));
    return read_all<Row>(statement);
}

template <class Row>
Outcome put_rows(Database const& database, Sql insert, std::vector<Row> const& rows)
{
    if (rows.empty()) return {};
    TRY_ASSIGN(auto statement, database.prepare(insert));
    for (Row const& row : rows) {
        bind_row(statement, row);
        TRY(statement.run());
    }
    return {};
}

constexpr Sql put_link{
    "insert or replace into derived_link values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, "
    "$14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24, $25, $26)"};
constexpr Sql put_test{
    "insert or replace into derived_test values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)"};
constexpr Sql put_finding{
    "insert or replace into derived_finding values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)"};
constexpr Sql put_progress{"insert or replace into derived_progress values ($1, $2, $3, $4)"};
constexpr Sql put_text{"insert or replace into derived_text values ($1, $2)"};

// The rows with these keys as they are before a change.
constexpr Sql link_at{"select * from derived_link where link = $1"};
constexpr Sql test_at{"select * from derived_test where link = $1 and station = $2 and sequence = $3"};
constexpr Sql finding_at{"select * from derived_finding where id = $1"};
constexpr Sql progress_at{"select * from derived_progress where scope = $1 and name = $2 and state = $3"};
constexpr Sql text_at{"select * from derived_text where name = $1"};

void bind_key(Statement& statement, DerivedLink const& row)
{
    statement.bind(1, row.link);
}
void bind_key(Statement& statement, DerivedTest const& row)
{
    statement.bind(1, row.link);
    statement.bind(2, row.station);
    statement.bind(3, row.sequence);
}
void bind_key(Statement& statement, DerivedFinding const& row)
{
    statement.bind(1, row.id);
}
void bind_key(Statement& statement, DerivedProgress const& row)
{
    statement.bind(1, row.scope);
    statement.bind(2, row.name);
    statement.bind(3, row.state);
}
void bind_key(Statement& statement, DerivedText const& row)
{
    statement.bind(1, row.name);
}

/// Those of `rows` that the table has already, as it has them.
template <class Row>
Result<std::vector<Row>> rows_before(Database const& database, Sql at, std::vector<Row> const& rows)
{
    std::vector<Row> before;
    if (rows.empty()) return before;
    TRY_ASSIGN(auto statement, database.prepare(at));
    for (Row const& row : rows) {
        bind_key(statement, row);
        TRY_ASSIGN(bool const found, statement.step());
        if (found) before.push_back(read_row<Row>(statement));
        statement.reset();
    }
    return before;
}

Outcome put(Database const& database, DerivedTables const& tables)
{
    TRY(put_rows(database, put_link, tables.links));
    TRY(put_rows(database, put_test, tables.tests));
    TRY(put_rows(database, put_finding, tables.findings));
    TRY(put_rows(database, put_progress, tables.progress));
    return put_rows(database, put_text, tables.texts);
}

} // namespace

Outcome upsert_derived(Database const& database, DerivedTables const& tables, DerivedDigest& digest)
{
    DerivedTables before;
    TRY_ASSIGN(before.links, rows_before(database, link_at, tables.links));
    TRY_ASSIGN(before.tests, rows_before(database, test_at, tables.tests));
    TRY_ASSIGN(before.findings, rows_before(database, finding_at, tables.findings));
    TRY_ASSIGN(before.progress, rows_before(database, progress_at, tables.progress));
    TRY_ASSIGN(before.texts, rows_before(database, text_at, tables.texts));
    TRY(digest.remove(before));
    TRY(digest.add(tables));
    return put(database, tables);
}

Outcome replace_derived(Database const& database, DerivedTables const& tables)
{
    TRY(database.run(Sql{"delete from derived_link"}));
    TRY(database.run(Sql{"delete from derived_test"}));
    TRY(database.run(Sql{"delete from derived_finding"}));
    TRY(database.run(Sql{"delete from derived_progress"}));
    TRY(database.run(Sql{"delete from derived_text"}));
    return put(database, tables);
}

Result<std::string> SqliteStore::derived_basis() const
{
    if (!derived_usable_) return std::string();
    TRY_ASSIGN(auto const basis, property("derived-basis"));
    return basis.value_or("");
}

Result<std::string> SqliteStore::derived_digest() const
{
    if (!derived_usable_) return std::string();
    TRY_ASSIGN(auto const digest, property("derived-digest"));
    return digest.value_or("");
}

Result<DerivedTables> SqliteStore::derived_tables() const
{
    DerivedTables tables;
    if (!derived_usable_) return tables;
    TRY_ASSIGN(tables.links,
               read_table<DerivedLink>(database_, Sql{"select * from derived_link order by link"}));
    TRY_ASSIGN(tables.tests,
               read_table<DerivedTest>(database_,
                                       Sql{"select * from derived_test order by link, station, sequence"}));
    TRY_ASSIGN(tables.findings,
               read_table<DerivedFinding>(database_, Sql{"select * from derived_finding order by id"}));
    TRY_ASSIGN(tables.progress,
               read_table<DerivedProgress>(
                   database_, Sql{"select * from derived_progress order by scope, name, state"}));
    TRY_ASSIGN(tables.texts,
               read_table<DerivedText>(database_, Sql{"select * from derived_text order by name"}));
    return tables;
}

} // namespace guidepin::record::sqlite

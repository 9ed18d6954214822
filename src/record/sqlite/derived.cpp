// SPDX-License-Identifier: Apache-2.0
// The derived tables of a SQLite job file.
#include "record/derived_columns.hpp"
#include "record/sqlite/sqlite_store.hpp"

#include "base/text.hpp"

namespace guidepin::record::sqlite {

namespace {

#define GUIDEPIN_LINK_WHERE                                                                                  \
    " from derived_link where ($1 = '' or zone = $1) and ($2 = '' or state = $2) and ($3 = '' or day = $3)"  \
    " and ($4 = '' or reference = $4) and ($5 = '' or operator = $5) and ($6 = '' or instr(search, $6) > 0)" \
    " and ($7 is null or scheduled = $7) and ($8 is null or worst_margin_db < $8)"
#define GUIDEPIN_LINK_PAGE(ORDER)                                                                            \
    Sql                                                                                                      \
    {                                                                                                        \
        "select *" GUIDEPIN_LINK_WHERE " order by " ORDER " limit $9 offset $10"                             \
    }

Sql page_statement(LinkSort sort, bool descending)
{
    switch (sort) {
    case LinkSort::link:
        return descending ? GUIDEPIN_LINK_PAGE("link desc") : GUIDEPIN_LINK_PAGE("link");
    case LinkSort::zone:
        return descending ? GUIDEPIN_LINK_PAGE("zone desc, link") : GUIDEPIN_LINK_PAGE("zone, link");
    case LinkSort::state:
        return descending ? GUIDEPIN_LINK_PAGE("state desc, link") : GUIDEPIN_LINK_PAGE("state, link");
    case LinkSort::margin:
        return descending ? GUIDEPIN_LINK_PAGE("worst_margin_db desc nulls last, link")
                          : GUIDEPIN_LINK_PAGE("worst_margin_db nulls last, link");
    case LinkSort::conformity:
        return descending ? GUIDEPIN_LINK_PAGE("conformity desc nulls last, link")
                          : GUIDEPIN_LINK_PAGE("conformity nulls last, link");
    case LinkSort::tested:
        return descending ? GUIDEPIN_LINK_PAGE("tested_at_ms desc nulls last, link")
                          : GUIDEPIN_LINK_PAGE("tested_at_ms nulls last, link");
    }
    return GUIDEPIN_LINK_PAGE("link");
}

void bind_filters(Statement& statement, LinkQuery const& query, std::string const& needle)
{
    statement.bind(1, query.zone);
    statement.bind(2, query.state);
    statement.bind(3, query.day);
    statement.bind(4, query.reference);
    statement.bind(5, query.operator_name);
    statement.bind(6, needle);
    query.scheduled ? statement.bind(7, std::int64_t{*query.scheduled ? 1 : 0}) : statement.bind_null(7);
    query.margin_below_db ? statement.bind(8, *query.margin_below_db) : statement.bind_null(8);
}

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

/// Search text is kept in lower case, so that it is matched as it stands.
std::vector<DerivedLink> with_lowered_search(std::vector<DerivedLink> links)
{
    for (DerivedLink& link : links) link.search = lowered(link.search);
    return links;
}

} // namespace

Outcome upsert_derived(Database const& database, DerivedTables const& tables)
{
    TRY(put_rows(database, put_link, with_lowered_search(tables.links)));
    TRY(put_rows(database, put_test, tables.tests));
    TRY(put_rows(database, put_finding, tables.findings));
    TRY(put_rows(database, put_progress, tables.progress));
    return put_rows(database, put_text, tables.texts);
}

Outcome replace_derived(Database const& database, DerivedTables const& tables)
{
    TRY(database.run(Sql{"delete from derived_link"}));
    TRY(database.run(Sql{"delete from derived_test"}));
    TRY(database.run(Sql{"delete from derived_finding"}));
    TRY(database.run(Sql{"delete from derived_progress"}));
    TRY(database.run(Sql{"delete from derived_text"}));
    return upsert_derived(database, tables);
}

Result<std::string> SqliteStore::derived_basis() const
{
    if (!derived_usable_) return std::string();
    TRY_ASSIGN(auto const basis, property("derived-basis"));
    return basis.value_or("");
}

Result<LinkPage> SqliteStore::links(LinkQuery const& query) const
{
    LinkPage page;
    if (!derived_usable_) return page;
    std::string const needle = lowered(query.needle);
    TRY_ASSIGN(auto count, database_.prepare(Sql{"select count(*)" GUIDEPIN_LINK_WHERE}));
    bind_filters(count, query, needle);
    TRY_ASSIGN(bool const counted, count.step());
    if (counted) page.total = count.integer(0);
    TRY_ASSIGN(auto rows, database_.prepare(page_statement(query.sort, query.descending)));
    bind_filters(rows, query, needle);
    rows.bind(9, query.limit);
    rows.bind(10, query.offset);
    TRY_ASSIGN(page.rows, read_all<DerivedLink>(rows));
    return page;
}

Result<std::optional<DerivedLink>> SqliteStore::link(std::string_view id) const
{
    if (!derived_usable_) return std::optional<DerivedLink>{};
    TRY_ASSIGN(auto row, database_.prepare(Sql{"select * from derived_link where link = $1"}));
    row.bind(1, id);
    TRY_ASSIGN(bool const found, row.step());
    if (!found) return std::optional<DerivedLink>{};
    return std::optional<DerivedLink>(read_row<DerivedLink>(row));
}

Result<std::vector<DerivedTest>> SqliteStore::tests_of(std::string_view link) const
{
    if (!derived_usable_) return std::vector<DerivedTest>{};
    TRY_ASSIGN(auto rows,
               database_.prepare(Sql{
                   "select * from derived_test where link = $1 order by tested_at_ms, station, sequence"}));
    rows.bind(1, link);
    return read_all<DerivedTest>(rows);
}

Result<std::vector<DerivedFinding>> SqliteStore::findings(FindingQuery const& query) const
{
    if (!derived_usable_) return std::vector<DerivedFinding>{};
    TRY_ASSIGN(
        auto rows,
        database_.prepare(
            Sql{"select * from derived_finding where ($1 = '' or rule = $1) and ($2 = '' or severity = $2) "
                "and ($3 = '' or subject = $3) and ($4 = '' or name = $4) "
                "and ($5 is null or (acknowledged <> '') = $5) order by id"}));
    rows.bind(1, query.rule);
    rows.bind(2, query.severity);
    rows.bind(3, query.subject);
    rows.bind(4, query.name);
    query.acknowledged ? rows.bind(5, std::int64_t{*query.acknowledged ? 1 : 0}) : rows.bind_null(5);
    return read_all<DerivedFinding>(rows);
}

Result<std::vector<DerivedProgress>> SqliteStore::progress(std::string_view scope) const
{
    if (!derived_usable_) return std::vector<DerivedProgress>{};
    TRY_ASSIGN(auto rows, database_.prepare(
                              Sql{"select * from derived_progress where scope = $1 order by name, state"}));
    rows.bind(1, scope);
    return read_all<DerivedProgress>(rows);
}

Result<std::optional<std::string>> SqliteStore::text(std::string_view name) const
{
    if (!derived_usable_) return std::optional<std::string>{};
    TRY_ASSIGN(auto row, database_.prepare(Sql{"select text from derived_text where name = $1"}));
    row.bind(1, name);
    TRY_ASSIGN(bool const found, row.step());
    if (!found) return std::optional<std::string>{};
    return std::optional<std::string>(row.text(0));
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

// SPDX-License-Identifier: Apache-2.0
#include "record/sqlite/schema.hpp"

#include "record/sqlite/sqlite_store.hpp"

#include <map>
#include <tuple>

#include <fmt/format.h>

namespace guidepin::record::sqlite {

namespace {

/// Kind, table and text of each table and index, by name. SQLite keeps the text of a script's statement as it
/// was written, so equal scripts give equal texts.
using Tables = std::map<std::string, std::tuple<std::string, std::string, std::string>>;

Result<Tables> tables_of(Database const& database)
{
    TRY_ASSIGN(auto rows, database.prepare(Sql{"select name, type, tbl_name, sql from sqlite_schema"}));
    Tables tables;
    while (true) {
        TRY_ASSIGN(bool const row, rows.step());
        if (!row) return tables;
        tables[std::string(rows.text(0))] = {std::string(rows.text(1)), std::string(rows.text(2)),
                                             std::string(rows.text(3))};
    }
}

Result<Tables> make_our_tables(bool with_derived)
{
    TRY_ASSIGN(auto const made, Database::open(":memory:", Database::Mode::create));
    for (int number = 1; number <= newest_schema; ++number) TRY(made.run_script(schema_script(number)));
    if (with_derived) TRY(made.run_script(derived_script()));
    return tables_of(made);
}

/// Made once: the scripts are built into the program.
Result<Tables> const& our_tables(bool with_derived)
{
    if (with_derived) {
        static Result<Tables> const all = make_our_tables(true);
        return all;
    }
    static Result<Tables> const facts = make_our_tables(false);
    return facts;
}

} // namespace

Outcome require_our_tables(Database const& database, bool with_derived)
{
    Result<Tables> const& made = our_tables(with_derived);
    if (!made) return made.error();
    Tables const& wanted = *made;
    auto const found = tables_of(database);
    if (!found) {
        // A text that SQLite cannot read any more: it says so with a code of its own, or with a plain error.
        if (found.error().code != Errc::internal) return found.error();
        return Error{Errc::damaged, fmt::format("{} is damaged: {}", database.path(), found.error().message)};
    }
    for (auto const& [name, about] : wanted) {
        auto const here = found->find(name);
        if (here != found->end() && here->second == about) continue;
        return Error{
            Errc::damaged,
            fmt::format("{} is damaged: its table or index \"{}\" {}. Take a copy of the job from before",
                        database.path(), name,
                        here == found->end() ? "is missing" : "is not as this program makes it")};
    }
    return {};
}

} // namespace guidepin::record::sqlite

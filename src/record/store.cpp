// SPDX-License-Identifier: Apache-2.0
#include "record/store.hpp"

#include "record/canonical_json.hpp"
#include "record/derived_columns.hpp"

#include <fmt/format.h>

namespace guidepin::record {

namespace {

/// One row as a line of canonical JSON; bytes as hexadecimal.
template <class Row>
Outcome dump(Sha256& hash, std::string_view table, std::vector<Row> const& rows)
{
    hash.update(table).update("\n");
    for (Row const& row : rows) {
        JsonWriter json;
        json.begin_array();
        detail::each_column(row, [&](auto const& column) {
            using Column = std::remove_cvref_t<decltype(column)>;
            if constexpr (std::is_same_v<Column, std::string>) {
                json.string(column);
            } else if constexpr (std::is_same_v<Column, bool>) {
                json.boolean(column);
            } else if constexpr (std::is_same_v<Column, std::int64_t>) {
                json.integer(column);
            } else if constexpr (std::is_same_v<Column, std::optional<double>>) {
                column ? json.number(*column) : json.null();
            } else if constexpr (std::is_same_v<Column, std::optional<std::int64_t>>) {
                column ? json.integer(*column) : json.null();
            } else {
                json.string(hex_text(reinterpret_cast<std::uint8_t const*>(column.bytes.data()),
                                     column.bytes.size()));
            }
        });
        json.end_array();
        TRY_ASSIGN(auto const line, json.finish());
        hash.update(line).update("\n");
    }
    return {};
}

} // namespace

Result<Appended> append(Store& store, std::span<Draft const> drafts)
{
    TRY_ASSIGN(auto const write, store.begin_write());
    TRY_ASSIGN(auto const appended, write->append(drafts));
    TRY(write->commit());
    return appended;
}

Result<std::vector<Record>> records(Store const& store, RecordQuery const& query)
{
    std::vector<Record> all;
    TRY(store.visit(query, [&](RecordView const& view) -> Outcome {
        all.push_back(Record(view));
        return {};
    }));
    return all;
}

std::string chains_digest(std::vector<Head> const& latest_heads)
{
    Sha256 hash;
    for (Head const& head : latest_heads)
        hash.update(fmt::format("{} {} {}\n", head.station, head.sequence, head.hash.hex()));
    return hash.finish().hex();
}

Result<std::string> chains_digest(Store const& store)
{
    TRY_ASSIGN(auto const heads, store.latest_heads());
    return chains_digest(heads);
}

Result<Digest> derived_digest(Store const& store)
{
    TRY_ASSIGN(auto const tables, store.derived_tables());
    Sha256 hash;
    TRY(dump(hash, "link", tables.links));
    TRY(dump(hash, "test", tables.tests));
    TRY(dump(hash, "finding", tables.findings));
    TRY(dump(hash, "progress", tables.progress));
    TRY(dump(hash, "text", tables.texts));
    return hash.finish();
}

} // namespace guidepin::record

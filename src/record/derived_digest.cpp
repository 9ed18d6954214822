// SPDX-License-Identifier: Apache-2.0
#include "record/derived_digest.hpp"

#include "record/canonical_json.hpp"
#include "record/derived_columns.hpp"

namespace guidepin::record {

namespace {

/// SHA-256 of the table's name and the row as a line of canonical JSON; bytes as hexadecimal.
template <class Row>
Result<Digest> row_digest(std::string_view table, Row const& row)
{
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
            json.string(
                hex_text(reinterpret_cast<std::uint8_t const*>(column.bytes.data()), column.bytes.size()));
        }
    });
    json.end_array();
    TRY_ASSIGN(auto const line, json.finish());
    Sha256 hash;
    hash.update(table).update("\n").update(line).update("\n");
    return hash.finish();
}

void add_to(Digest& sum, Digest const& number)
{
    unsigned carry = 0;
    for (std::size_t i = sum.bytes.size(); i-- > 0;) {
        carry += unsigned{sum.bytes[i]} + unsigned{number.bytes[i]};
        sum.bytes[i] = static_cast<std::uint8_t>(carry & 0xFF);
        carry >>= 8;
    }
}

/// Two's complement: adding it takes `number` away.
Digest negated(Digest number)
{
    for (std::uint8_t& byte : number.bytes) byte = static_cast<std::uint8_t>(~byte);
    Digest one;
    one.bytes.back() = 1;
    add_to(number, one);
    return number;
}

template <class Row>
Outcome add_rows(Digest& sum, std::string_view table, std::vector<Row> const& rows)
{
    for (Row const& row : rows) {
        TRY_ASSIGN(Digest const digest, row_digest(table, row));
        add_to(sum, digest);
    }
    return {};
}

Result<Digest> sum_of(DerivedTables const& rows)
{
    Digest sum;
    TRY(add_rows(sum, "link", rows.links));
    TRY(add_rows(sum, "test", rows.tests));
    TRY(add_rows(sum, "finding", rows.findings));
    TRY(add_rows(sum, "progress", rows.progress));
    TRY(add_rows(sum, "text", rows.texts));
    return sum;
}

} // namespace

Result<DerivedDigest> DerivedDigest::of(DerivedTables const& tables)
{
    DerivedDigest digest;
    TRY(digest.add(tables));
    return digest;
}

DerivedDigest DerivedDigest::from_hex(std::string_view text)
{
    DerivedDigest digest;
    digest.sum_ = Digest::from_hex(text).value_or(Digest{});
    return digest;
}

Outcome DerivedDigest::add(DerivedTables const& rows)
{
    TRY_ASSIGN(Digest const sum, sum_of(rows));
    add_to(sum_, sum);
    return {};
}

Outcome DerivedDigest::remove(DerivedTables const& rows)
{
    TRY_ASSIGN(Digest const sum, sum_of(rows));
    add_to(sum_, negated(sum));
    return {};
}

} // namespace guidepin::record

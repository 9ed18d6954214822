// SPDX-License-Identifier: Apache-2.0
// The columns of each derived table, once, in the order of schema/derived.sql: for binding, reading and
// dumping alike. For this room alone.
#pragma once

#include "record/derived.hpp"

#include <type_traits>

namespace guidepin::record::detail {

/// Bytes that need not be text.
template <class Text>
struct Bytes
{
    Text& bytes;
};

template <class Row, class Visit>
void each_column(Row& row, Visit&& visit)
{
    using Plain = std::remove_const_t<Row>;
    using Text = std::conditional_t<std::is_const_v<Row>, std::string const, std::string>;
    if constexpr (std::is_same_v<Plain, DerivedLink>) {
        visit(row.link);
        visit(row.zone);
        visit(row.state);
        visit(row.scheduled);
        visit(row.category);
        visit(row.family);
        visit(row.fibres);
        visit(row.tests);
        visit(row.readings);
        visit(row.failed_fibres);
        visit(row.findings);
        visit(row.worst_margin_db);
        visit(row.worst_attenuation_db);
        visit(row.worst_limit_db);
        visit(row.worst_position);
        visit(row.worst_wavelength_nm);
        visit(row.conformity);
        visit(row.length_m);
        visit(row.tested_at_ms);
        visit(row.tested_offset_minutes);
        visit(row.day);
        visit(row.reference);
        visit(row.operator_name);
        visit(row.reason);
        visit(Bytes<Text>{row.row});
        visit(row.search);
    } else if constexpr (std::is_same_v<Plain, DerivedTest>) {
        visit(row.link);
        visit(row.station);
        visit(row.sequence);
        visit(row.tested_at_ms);
        visit(row.tested_offset_minutes);
        visit(row.reference);
        visit(row.operator_name);
        visit(row.state);
        visit(row.counts);
        visit(row.worst_margin_db);
    } else if constexpr (std::is_same_v<Plain, DerivedFinding>) {
        visit(row.id);
        visit(row.rule);
        visit(row.severity);
        visit(row.subject);
        visit(row.name);
        visit(row.position);
        visit(row.wavelength_nm);
        visit(row.message);
        visit(row.action);
        visit(row.acknowledged);
        visit(row.detail);
    } else if constexpr (std::is_same_v<Plain, DerivedProgress>) {
        visit(row.scope);
        visit(row.name);
        visit(row.state);
        visit(row.links);
    } else {
        static_assert(std::is_same_v<Plain, DerivedText>);
        visit(row.name);
        visit(row.text);
    }
}

} // namespace guidepin::record::detail

// SPDX-License-Identifier: Apache-2.0
#include "verdict/readings.hpp"

namespace guidepin::verdict {

std::uint32_t Dictionary::index_of(std::string_view text)
{
    if (auto const found = index_.find(text); found != index_.end()) return found->second;
    auto const index = static_cast<std::uint32_t>(texts_.size());
    texts_.emplace_back(text);
    index_.emplace(texts_.back(), index);
    return index;
}

std::uint32_t Dictionary::find(std::string_view text) const
{
    auto const found = index_.find(text);
    return found == index_.end() ? missing : found->second;
}

void ReadingColumns::reserve(std::size_t rows)
{
    link.reserve(rows);
    launch_end.reserve(rows);
    position.reserve(rows);
    far_position.reserve(rows);
    wavelength_nm.reserve(rows);
    value.reserve(rows);
    length_m.reserve(rows);
    taken_ms.reserve(rows);
    offset_minutes.reserve(rows);
    reference.reserve(rows);
    operator_name.reserve(rows);
    line.reserve(rows);
}

void ReadingColumns::append_row_of(ReadingColumns const& other, std::size_t row)
{
    auto const joined = [](Dictionary& into, Dictionary const& from, std::uint32_t index) {
        return index == Dictionary::missing ? index : into.index_of(from.text(index));
    };
    link.push_back(joined(links, other.links, other.link[row]));
    launch_end.push_back(other.launch_end[row]);
    position.push_back(other.position[row]);
    far_position.push_back(other.far_position[row]);
    wavelength_nm.push_back(other.wavelength_nm[row]);
    value.push_back(other.value[row]);
    length_m.push_back(other.length_m[row]);
    taken_ms.push_back(other.taken_ms[row]);
    offset_minutes.push_back(other.offset_minutes[row]);
    reference.push_back(joined(references, other.references, other.reference[row]));
    operator_name.push_back(joined(operators, other.operators, other.operator_name[row]));
    line.push_back(other.line[row]);
}

} // namespace guidepin::verdict

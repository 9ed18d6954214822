// SPDX-License-Identifier: Apache-2.0
#include "cli/print.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::cli {

std::size_t columns_of(std::string_view text)
{
    std::size_t columns = 0;
    bool in_colour = false;
    for (char const letter : text) {
        if (in_colour) {
            in_colour = letter != 'm';
        } else if (letter == '\033') {
            in_colour = true;
        } else if ((static_cast<unsigned char>(letter) & 0xC0U) != 0x80U) {
            ++columns;
        }
    }
    return columns;
}

void Table::add(std::vector<std::string> cells)
{
    assert(cells.size() <= columns_.size());
    cells.resize(columns_.size());
    rows_.push_back(std::move(cells));
}

std::string Table::text(std::size_t indent) const
{
    if (rows_.empty()) return {};
    std::vector<std::size_t> widths;
    for (std::size_t i = 0; i < columns_.size(); ++i) {
        std::size_t width = columns_of(columns_[i].heading);
        for (auto const& row : rows_) width = std::max(width, columns_of(row[i]));
        widths.push_back(width);
    }
    std::string result;
    auto const add_line = [&](auto const& cell_of) {
        std::string line(indent, ' ');
        for (std::size_t i = 0; i < columns_.size(); ++i) {
            std::string const cell = cell_of(i);
            std::string const gap(widths[i] - columns_of(cell), ' ');
            if (i > 0) line += "  ";
            line += columns_[i].align == Align::left ? cell + gap : gap + cell;
        }
        line.erase(line.find_last_not_of(' ') + 1);
        result += line + "\n";
    };
    add_line([&](std::size_t i) { return std::string(columns_[i].heading); });
    for (auto const& row : rows_) add_line([&](std::size_t i) { return row[i]; });
    return result;
}

std::string painted(World const& world, std::string_view text, std::string_view rgb)
{
    if (!world.terminal || !world.variable("NO_COLOR").empty()) return std::string(text);
    unsigned value = 0;
    auto const [end, problem] = std::from_chars(rgb.data() + std::min<std::size_t>(1, rgb.size()),
                                                rgb.data() + rgb.size(), value, 16);
    if (rgb.size() != 7 || problem != std::errc{} || end != rgb.data() + rgb.size()) return std::string(text);
    return fmt::format("\033[38;2;{};{};{}m{}\033[0m", value >> 16U, (value >> 8U) & 255U, value & 255U,
                       text);
}

} // namespace guidepin::cli

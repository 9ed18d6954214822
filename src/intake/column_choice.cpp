// SPDX-License-Identifier: Apache-2.0
#include "intake/column_choice.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <optional>

#include <fmt/format.h>

namespace guidepin::intake {

namespace {

struct Block
{
    std::size_t begin = 0, end = 0; ///< lines; the heading is the first
};

std::vector<std::string> lines_of(std::string_view text)
{
    std::vector<std::string> lines;
    for (std::string_view const line : split(text, '\n')) lines.emplace_back(line);
    return lines;
}

bool is_heading(std::string_view line)
{
    return !trimmed(line).empty() && trimmed(line).front() == '[';
}

/// From the heading to the next heading or empty line.
std::optional<Block> block_of(std::vector<std::string> const& lines, std::string_view heading)
{
    for (std::size_t i = 0; i < lines.size(); ++i) {
        if (trimmed(lines[i]).substr(0, heading.size()) != heading) continue;
        Block block{i, i + 1};
        while (block.end < lines.size() && !is_heading(lines[block.end]) &&
               !trimmed(lines[block.end]).empty())
            ++block.end;
        return block;
    }
    return std::nullopt;
}

/// Returns the text after "KEY =".
std::optional<std::string_view> value_of(std::string_view line, std::string_view key)
{
    line = trimmed(line);
    if (line.substr(0, key.size()) != key) return std::nullopt;
    line = trimmed(line.substr(key.size()));
    if (line.empty() || line.front() != '=') return std::nullopt;
    return trimmed(line.substr(1));
}

/// Returns the text of a basic string that is alone; nothing for anything else.
std::optional<std::string> text_in(std::string_view value)
{
    if (value.empty() || value.front() != '"') return std::nullopt;
    std::string text;
    for (std::size_t i = 1; i < value.size(); ++i) {
        if (value[i] == '"') {
            std::string_view const rest = trimmed(value.substr(i + 1));
            return rest.empty() || rest.front() == '#' ? std::optional{text} : std::nullopt;
        }
        if (value[i] != '\\') {
            text += value[i];
            continue;
        }
        if (++i >= value.size()) return std::nullopt;
        if (value[i] == 't')
            text += '\t';
        else if (value[i] == '"' || value[i] == '\\')
            text += value[i];
        else
            return std::nullopt;
    }
    return std::nullopt;
}

} // namespace

std::string in_quotes(std::string_view text)
{
    std::string result = "\"";
    for (char const letter : text) {
        if (letter == '"' || letter == '\\') {
            result += '\\';
            result += letter;
        } else if (letter == '\t') {
            result += "\\t";
        } else if (static_cast<unsigned char>(letter) < ' ' || letter == 0x7F) {
            result += fmt::format("\\u{:04X}", static_cast<unsigned char>(letter));
        } else {
            result += letter;
        }
    }
    return result + "\"";
}

std::vector<ColumnChoice> column_choices(std::string_view map, LayoutKind layout)
{
    std::vector<std::string> const lines = lines_of(map);
    auto const wide = block_of(lines, "[wide]");
    std::vector<ColumnChoice> choices;
    for (Column const& column : columns_of(layout)) {
        ColumnChoice choice;
        choice.column = std::string(column.name);
        if (auto const block = block_of(lines, fmt::format("[column.{}]", column.name))) {
            for (std::size_t i = block->begin + 1; i < block->end; ++i) {
                if (auto const from = value_of(lines[i], "from")) {
                    auto const header = text_in(*from);
                    choice.header = header.value_or("");
                    choice.as_written = !header;
                } else if (auto const constant = value_of(lines[i], "constant")) {
                    auto const text = text_in(*constant);
                    choice.constant = text.value_or("");
                    choice.as_written = choice.as_written || !text;
                }
            }
        } else if (wide) {
            for (std::size_t i = wide->begin + 1; i < wide->end; ++i) {
                auto const fills = value_of(lines[i], "fills");
                auto const header = value_of(lines[i], "header");
                choice.as_written =
                    choice.as_written || (fills && text_in(*fills) == choice.column) ||
                    (header && header->find("{" + choice.column + "}") != std::string_view::npos);
            }
        }
        choices.push_back(std::move(choice));
    }
    return choices;
}

std::string with_choice(std::string_view map, ColumnChoice const& choice)
{
    std::vector<std::string> lines = lines_of(map);
    std::string const heading = fmt::format("[column.{}]", choice.column);
    std::string const entry = !choice.header.empty() ? "from = " + in_quotes(choice.header)
                                                     : "constant = " + in_quotes(choice.constant);
    bool const none = choice.header.empty() && choice.constant.empty();
    auto const at = [&](std::size_t i) { return lines.begin() + static_cast<std::ptrdiff_t>(i); };
    if (auto const block = block_of(lines, heading)) {
        if (none) {
            lines.erase(at(block->begin), at(block->end));
        } else {
            for (std::size_t i = block->end; i-- > block->begin + 1;) {
                if (value_of(lines[i], "from") || value_of(lines[i], "constant")) lines.erase(at(i));
            }
            lines.insert(at(block->begin + 1), entry);
        }
    } else if (!none) {
        if (!lines.empty() && !trimmed(lines.back()).empty()) lines.emplace_back();
        lines.push_back(heading);
        lines.push_back(entry);
        lines.emplace_back();
    }
    return joined(lines, "\n");
}

} // namespace guidepin::intake

// SPDX-License-Identifier: Apache-2.0
#include "job/assess/link_row.hpp"

#include "base/text.hpp"

#include <array>
#include <iterator>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using verdict::State;

struct StateWord
{
    State state;
    char const* id;
    CellMark mark;
};
constexpr std::array state_words{
    StateWord{State::pass, "pass", CellMark::pass},
    StateWord{State::marginal_pass, "marginal-pass", CellMark::marginal_pass},
    StateWord{State::marginal_fail, "marginal-fail", CellMark::marginal_fail},
    StateWord{State::fail, "fail", CellMark::fail},
    StateWord{State::held, "held", CellMark::held},
    StateWord{State::open, "open", CellMark::open},
};

StateWord const& word_of(State state)
{
    for (StateWord const& word : state_words) {
        if (word.state == state) return word;
    }
    return state_words.back();
}

constexpr char unused_cell = '-';

struct MarkLetter
{
    CellMark mark;
    char letter;
};
constexpr std::array mark_letters{
    MarkLetter{CellMark::pass, 'p'},          MarkLetter{CellMark::marginal_pass, 'q'},
    MarkLetter{CellMark::marginal_fail, 'g'}, MarkLetter{CellMark::fail, 'f'},
    MarkLetter{CellMark::dark, 'd'},          MarkLetter{CellMark::held, 'h'},
    MarkLetter{CellMark::open, 'o'},
};

char letter_of(CellMark mark)
{
    for (MarkLetter const& each : mark_letters) {
        if (each.mark == mark) return each.letter;
    }
    return unused_cell;
}

CellMark mark_of_letter(char letter)
{
    for (MarkLetter const& each : mark_letters) {
        if (each.letter == letter) return each.mark;
    }
    return CellMark::open;
}

RowCell read_cell(std::string_view text)
{
    // A level below zero starts with the sign of an unused cell, so the whole cell is compared.
    if (text.empty() || text == std::string_view{&unused_cell, 1}) return {};
    RowCell cell;
    cell.mark = mark_of_letter(text.back());
    text.remove_suffix(1);
    cell.level = parse_integer(text);
    return cell;
}

/// A part of a row: "850:350p,-".
struct Part
{
    std::optional<std::int64_t> wavelength_nm; ///< nothing if the part has none
    std::string_view cells;
};
Part part_of(std::string_view text)
{
    auto const colon = text.find(':');
    if (colon == std::string_view::npos) return {};
    return {parse_integer(text.substr(0, colon)), text.substr(colon + 1)};
}

} // namespace

char const* state_id(State state)
{
    return word_of(state).id;
}

State state_of_id(std::string_view id)
{
    for (StateWord const& word : state_words) {
        if (word.id == id) return word.state;
    }
    return State::open;
}

CellMark mark_of(State state)
{
    return word_of(state).mark;
}

void RowWriter::wavelength(std::int64_t nm)
{
    fmt::format_to(std::back_inserter(text_), "{}{}:", text_.empty() ? "" : ";", nm);
    first_ = true;
}

void RowWriter::cell(RowCell const& cell)
{
    if (!first_) text_ += ',';
    first_ = false;
    if (cell.mark != CellMark::unused && cell.level)
        fmt::format_to(std::back_inserter(text_), "{}", *cell.level);
    text_ += letter_of(cell.mark);
}

std::vector<WavelengthCells> read_row(std::string_view row)
{
    std::vector<WavelengthCells> read;
    for (std::string_view const text : split(row, ';')) {
        Part const part = part_of(text);
        if (!part.wavelength_nm) continue;
        WavelengthCells& wavelength = read.emplace_back();
        wavelength.wavelength_nm = *part.wavelength_nm;
        for (std::string_view const cell : split(part.cells, ','))
            wavelength.cells.push_back(read_cell(cell));
    }
    return read;
}

bool says_dark(std::string_view row, std::int64_t wavelength_nm, std::int64_t position)
{
    for (std::string_view const text : split(row, ';')) {
        Part const part = part_of(text);
        if (part.wavelength_nm != wavelength_nm) continue;
        auto const cells = split(part.cells, ',');
        if (position >= 1 && position <= static_cast<std::int64_t>(cells.size()))
            return read_cell(cells[static_cast<std::size_t>(position - 1)]).mark == CellMark::dark;
    }
    return false;
}

} // namespace guidepin::job

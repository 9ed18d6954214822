// SPDX-License-Identifier: Apache-2.0
// A first column map by looking: words in headers, values in the first rows. It guesses and says that it
// guesses.
#include "intake/column_choice.hpp"
#include "intake/column_map.hpp"

#include "base/text.hpp"
#include "intake/cells.hpp"
#include "intake/csv.hpp"
#include "intake/moment.hpp"
#include "intake/row_source.hpp"
#include "units/quantity.hpp"

#include <algorithm>
#include <array>
#include <set>

#include <fmt/format.h>

namespace guidepin::intake {

namespace {

struct Sample
{
    std::vector<std::string> headers;
    std::vector<std::vector<std::string>> rows;
    char separator = ',';
    int skip_lines = 0;

    std::vector<std::string> values(std::size_t column) const
    {
        std::vector<std::string> result;
        for (auto const& row : rows) {
            if (column < row.size() && !row[column].empty()) result.push_back(row[column]);
        }
        return result;
    }
};

/// The header is taken to be the first of the longest rows near the top: titles above it have fewer fields.
Sample look(std::string_view text)
{
    Sample sample;
    std::string_view rest = text;
    std::size_t most = 0;
    std::string_view from = text;
    for (int line = 0; line < 30 && !rest.empty(); ++line) {
        char const separator = detect_separator(rest);
        CsvCursor cursor(rest, separator);
        CsvRow row;
        auto const end = rest.find('\n');
        std::string_view const this_line = rest.substr(0, end);
        if (!trimmed(this_line).empty() && cursor.next(row) && row.fields.size() > most) {
            most = row.fields.size();
            sample.separator = separator;
            sample.skip_lines = line;
            from = rest;
        }
        rest.remove_prefix(end == std::string_view::npos ? rest.size() : end + 1);
    }
    CsvCursor cursor(from, sample.separator);
    CsvRow row;
    for (int i = 0; i < 40 && cursor.next(row); ++i) {
        std::vector<std::string> fields;
        for (std::string_view const field : row.fields)
            fields.emplace_back(is_utf8(field) ? tight(field) : std::string_view{});
        if (i == 0) {
            sample.headers = fields;
        } else {
            sample.rows.push_back(fields);
        }
    }
    return sample;
}

std::vector<std::string> words_of(std::string_view header)
{
    std::vector<std::string> words(1);
    for (char const letter : lowered(header)) {
        bool const part = (letter >= 'a' && letter <= 'z') || static_cast<unsigned char>(letter) >= 0x80;
        if (part) {
            words.back() += letter;
        } else if (!words.back().empty()) {
            words.emplace_back();
        }
    }
    if (words.back().empty()) words.pop_back();
    return words;
}

struct Words
{
    std::string_view column;
    std::vector<std::string_view> strong, weak;
};

std::vector<Words> const& trade_words()
{
    static std::vector<Words> const words{
        {"link", {"link", "cable", "circuit", "trunk"}, {"id", "label", "name", "number"}},
        {"zone", {"zone", "area", "room", "hall", "floor"}, {"location"}},
        {"end_a", {}, {"near", "from", "origin", "a"}},
        {"end_b", {}, {"far", "to", "destination", "b"}},
        {"category", {"category", "grade"}, {"fibre", "fiber", "type", "class"}},
        {"family", {"family", "connector"}, {}},
        {"fibres", {"fibres", "fibers", "strands"}, {"count"}},
        {"trunk_type", {"polarity"}, {"type", "method"}},
        {"pins_a", {}, {"pins"}},
        {"pins_b", {}, {"pins"}},
        {"face", {"face", "polish"}, {}},
        {"adapter_a", {}, {"adapter"}},
        {"adapter_b", {}, {"adapter"}},
        {"inner_connections", {"connections", "matings"}, {}},
        {"splices", {"splices", "splice"}, {}},
        {"applications", {"applications", "application"}, {}},
        {"check", {"check", "verification"}, {"id", "name"}},
        {"reference", {"reference", "ref"}, {}},
        {"launch_end", {"launch", "direction", "side"}, {"end", "from", "source"}},
        {"position", {"position", "pos", "fibre", "fiber", "strand", "core"}, {"channel", "no", "number"}},
        {"far_position", {"far", "arrived", "received"}, {"position", "to"}},
        {"wavelength_nm", {"wavelength", "lambda", "wl", "λ"}, {"nm"}},
        {"attenuation_db", {"attenuation", "loss", "il"}, {"db"}},
        {"power_dbm", {"power", "dbm", "level"}, {"mw", "uw", "µw"}},
        {"length_m", {"length"}, {"distance", "m", "ft"}},
        {"taken_at", {"time", "date", "taken", "timestamp", "measured"}, {"when"}},
        {"operator", {"operator", "technician", "tester"}, {"user", "by", "crew"}},
    };
    return words;
}

/// Does what the column holds look like such cells? 0 for values that cannot be.
int value_score(CellKind kind, std::vector<std::string> const& values)
{
    if (values.empty()) return 1;
    int fits = 0;
    for (std::string value : values) {
        std::replace(value.begin(), value.end(), ',', '.');
        auto const number = parse_number(value);
        switch (kind) {
        case CellKind::position:
            fits += number && *number == std::floor(*number) && *number >= 0 && *number <= 64;
            break;
        case CellKind::whole_number:
            fits += number && *number == std::floor(*number) && *number >= 0;
            break;
        case CellKind::wavelength:
            fits += number && ((*number >= 600 && *number <= 1700) || (*number >= 0.6 && *number <= 1.7));
            break;
        case CellKind::attenuation:
        case CellKind::power:
            fits += number.has_value();
            break;
        case CellKind::length:
            fits += number || parse_length(value);
            break;
        case CellKind::moment:
            fits += value.size() >= 6 && value.find_first_of("0123456789") != std::string::npos;
            break;
        case CellKind::end:
            fits += value.size() <= 12 && !number;
            break;
        case CellKind::text:
        case CellKind::choice:
            fits += 1;
            break;
        }
    }
    return fits * 4 >= static_cast<int>(values.size()) * 3 ? 2 : 0;
}

int header_score(Words const& words, std::string_view header)
{
    if (normal_header(header) == words.column) return 20;
    int score = 0;
    for (std::string const& word : words_of(header)) {
        if (std::find(words.strong.begin(), words.strong.end(), word) != words.strong.end()) score += 6;
        if (std::find(words.weak.begin(), words.weak.end(), word) != words.weak.end()) score += 2;
    }
    return score;
}

struct Guess
{
    std::size_t header = 0;
    int score = 0;
};

/// Columns of the layout to headers, the surest pairs first, each header once.
std::map<std::string, Guess> pair_up(LayoutKind layout, Sample const& sample, std::set<std::size_t> taken)
{
    struct Pair
    {
        int score;
        std::size_t column, header;
    };
    std::vector<Pair> pairs;
    auto const columns = columns_of(layout);
    for (std::size_t k = 0; k < columns.size(); ++k) {
        auto const words = std::find_if(trade_words().begin(), trade_words().end(),
                                        [&](Words const& w) { return w.column == columns[k].name; });
        if (words == trade_words().end()) continue;
        for (std::size_t h = 0; h < sample.headers.size(); ++h) {
            if (taken.contains(h)) continue;
            int const score =
                header_score(*words, sample.headers[h]) * value_score(columns[k].kind, sample.values(h));
            if (score > 0) pairs.push_back({score, k, h});
        }
    }
    std::stable_sort(pairs.begin(), pairs.end(),
                     [](Pair const& a, Pair const& b) { return a.score > b.score; });
    std::map<std::string, Guess> result;
    std::set<std::string_view> groups;
    for (Pair const& pair : pairs) {
        Column const& column = columns[pair.column];
        if (taken.contains(pair.header) || result.contains(std::string(column.name))) continue;
        if (!column.group.empty() && !groups.insert(column.group).second) continue;
        taken.insert(pair.header);
        result[std::string(column.name)] = Guess{pair.header, pair.score};
    }
    return result;
}

/// The unit that a header names in words or brackets, of those the column can have.
std::string unit_in(Column const& column, std::string_view header)
{
    auto const words = words_of(header);
    for (std::string const& unit : units_of(column)) {
        if (std::find(words.begin(), words.end(), lowered(unit)) != words.end()) return unit;
    }
    return {};
}

/// Headers of one shape that differ in their numbers only: "F1@850", "F2@850" … become
/// "F{position}@{wavelength_nm}".
struct WideGuess
{
    std::string pattern;
    std::set<std::size_t> headers;
    bool has_wavelength = false;
};

std::optional<WideGuess> find_wide(Sample const& sample)
{
    std::map<std::string, std::vector<std::size_t>> shapes;
    auto const shape_of = [](std::string const& header) {
        std::string shape;
        for (std::size_t i = 0; i < header.size(); ++i) {
            bool const digit = header[i] >= '0' && header[i] <= '9';
            if (!digit) {
                shape += header[i];
            } else if (i == 0 || !(header[i - 1] >= '0' && header[i - 1] <= '9')) {
                shape += '\x01';
            }
        }
        return shape;
    };
    for (std::size_t h = 0; h < sample.headers.size(); ++h) shapes[shape_of(sample.headers[h])].push_back(h);
    for (auto const& [shape, headers] : shapes) {
        auto const numbers = static_cast<std::size_t>(std::count(shape.begin(), shape.end(), '\x01'));
        if (headers.size() < 4 || numbers < 1 || numbers > 3 ||
            shape.find_first_of("{}") != std::string::npos)
            continue;
        // What each number of the shape is, by the values it takes.
        std::vector<std::string> parts(numbers);
        std::vector<std::set<int>> seen(numbers);
        for (std::size_t const h : headers) {
            std::size_t which = 0;
            std::string const& header = sample.headers[h];
            for (std::size_t i = 0; i < header.size();) {
                if (header[i] < '0' || header[i] > '9') {
                    ++i;
                    continue;
                }
                std::size_t const end = std::min(header.find_first_not_of("0123456789", i), header.size());
                seen[which++].insert(detail::few_digits(std::string_view(header).substr(i, end - i)));
                i = end;
            }
        }
        WideGuess guess;
        bool position = false;
        for (std::size_t n = 0; n < numbers; ++n) {
            int const least = *seen[n].begin();
            int const greatest = *seen[n].rbegin();
            if (least >= least_wavelength_nm && greatest <= greatest_wavelength_nm && !guess.has_wavelength) {
                parts[n] = "{wavelength_nm}";
                guess.has_wavelength = true;
            } else if (least >= 1 && greatest <= 64 && seen[n].size() > 1 && !position) {
                parts[n] = "{position}";
                position = true;
            } else if (seen[n].size() == 1 && least >= 0) {
                parts[n] = fmt::format("{}", least);
            } else {
                parts[n].clear();
            }
        }
        if (!position || std::count(parts.begin(), parts.end(), "") > 0) continue;
        std::size_t which = 0;
        for (char const letter : shape)
            guess.pattern += letter == '\x01' ? parts[which++] : std::string(1, letter);
        guess.headers.insert(headers.begin(), headers.end());
        return guess;
    }
    return std::nullopt;
}

std::string moment_lines(std::vector<std::string> const& values)
{
    if (values.empty())
        return "# no value to look at: say pattern = \"DD.MM.YYYY hh:mm:ss\" where it is not RFC 3339\n";
    if (std::all_of(values.begin(), values.end(),
                    [](std::string const& v) { return parse_instant(v).has_value(); }))
        return {};
    // Patterns that fit; of those that read every value alike only the first.
    std::vector<std::string> fitting;
    std::set<std::vector<std::int64_t>> readings;
    for (char const* const date :
         {"DD.MM.YYYY", "D.M.YYYY", "DD/MM/YYYY", "MM/DD/YYYY", "M/D/YYYY", "D/M/YYYY", "YYYY/MM/DD",
          "YYYY-MM-DD", "DD-MM-YYYY", "MM-DD-YYYY", "YYYYMMDD", "DD.MM.YY", "M/D/YY"}) {
        for (char const* const time :
             {" hh:mm:ss", " hh:mm", " h:mm:ss AM", " h:mm AM", "Thh:mm:ss", " h:mm", ""}) {
            std::string const pattern = std::string(date) + time;
            auto const parsed = DatePattern::from(pattern);
            if (!parsed) continue;
            std::vector<std::int64_t> moments;
            for (std::string const& value : values) {
                if (auto const moment = parsed->read(value, 0)) moments.push_back(moment->ms);
            }
            if (moments.size() == values.size() && readings.insert(moments).second)
                fitting.push_back(pattern);
        }
    }
    if (fitting.empty()) {
        return fmt::format("# unsure: '{}' is of no form known here; write its pattern\n# pattern = "
                           "\"DD.MM.YYYY hh:mm:ss\"\n",
                           shown(values.front()));
    }
    std::string lines = fmt::format("pattern = {}\n", in_quotes(fitting.front()));
    if (fitting.size() > 1) {
        lines = fmt::format("# unsure: these also fit: {}\n",
                            joined({fitting.begin() + 1, fitting.end()}, ", ")) +
                lines;
    }
    return lines;
}

std::string end_lines(std::vector<std::string> const& values)
{
    std::set<std::string> different;
    for (std::string const& value : values) {
        if (lowered(value) != "a" && lowered(value) != "b") different.insert(value);
    }
    if (different.empty() || different.size() > 8) return {};
    std::vector<std::string> pairs;
    char next = 'a';
    for (std::string const& value : different) {
        pairs.push_back(fmt::format("{} = \"{}\"", in_quotes(value), next));
        next = next == 'a' ? 'b' : 'a';
    }
    return fmt::format("# unsure which end is which: correct a and b\nvalues = {{ {} }}\n",
                       joined(pairs, ", "));
}

std::string rule_lines(Column const& column, Sample const& sample, Guess const& guess)
{
    std::string const& header = sample.headers[guess.header];
    auto const values = sample.values(guess.header);
    std::string lines = fmt::format("\n[column.{}]", column.name);
    if (!values.empty()) lines += fmt::format("   # first value: {}", shown(values.front()));
    lines += "\n";
    if (guess.score < 12) lines += "# unsure: taken by a weak likeness of the header\n";
    lines += fmt::format("from = {}\n", in_quotes(header));
    std::string unit = unit_in(column, header);
    if (column.kind == CellKind::wavelength && !values.empty()) {
        std::string first = values.front();
        std::replace(first.begin(), first.end(), ',', '.');
        auto const number = parse_number(first);
        if (number && *number < 2) unit = "um";
    }
    auto const units = units_of(column);
    if (!unit.empty() && unit != units.front()) lines += fmt::format("unit = {}\n", in_quotes(unit));
    if (unit.empty() && units.size() > 1 && column.kind != CellKind::wavelength) {
        lines += fmt::format("# unsure: taken as {}; otherwise unit = one of {}\n", units.front(),
                             joined(units, ", "));
    }
    if (column.name == "attenuation_db") {
        auto const negative = std::count_if(values.begin(), values.end(),
                                            [](std::string const& v) { return v.starts_with('-'); });
        if (negative * 2 > static_cast<std::ptrdiff_t>(values.size())) {
            lines += "# most values are negative: taken as gain, so that loss becomes positive\nscale = -1\n";
        }
    }
    if (column.kind == CellKind::position && std::find(values.begin(), values.end(), "0") != values.end() &&
        column.name == "position") {
        lines += "# there is a position 0: taken as counted from 0\nadd = 1\n";
    }
    if (column.kind == CellKind::moment) lines += moment_lines(values);
    if (column.kind == CellKind::end) lines += end_lines(values);
    return lines;
}

} // namespace

Result<std::vector<std::string>> headers_of(std::string_view file)
{
    TRY_ASSIGN(auto const text, text_of_file(file));
    TRY_ASSIGN(auto const beginning, beginning_of(text));
    return look(beginning).headers;
}

Result<std::string> propose_column_map(std::string_view file, LayoutKind layout, std::string const& file_name)
{
    auto text = text_of_file(file);
    if (!text) return text.error().within(file_name);
    auto const beginning = beginning_of(*text);
    if (!beginning) return beginning.error().within(file_name);
    Sample const sample = look(*beginning);
    if (sample.headers.size() < 2) {
        return Error{Errc::invalid_input,
                     fmt::format("{}: no line near its start has two fields, so there is no header to "
                                 "make a column map from.",
                                 file_name)};
    }
    if (sample.headers.size() > most_columns) {
        return Error{Errc::invalid_input, fmt::format("{}: the header has {} columns; at most {} are read.",
                                                      file_name, sample.headers.size(), most_columns)};
    }
    auto const wide = layout == LayoutKind::schedule ? std::nullopt : find_wide(sample);
    auto guesses = pair_up(layout, sample, wide ? wide->headers : std::set<std::size_t>{});
    std::string map =
        fmt::format("# A first column map for {}, made by looking at its header and first rows.\n"
                    "# Check every entry before you use it; what is unsure says so.\n"
                    "layout = \"{}\"\n\n[file]\nseparator = \"{}\"\n",
                    shown(file_name), name_of(layout),
                    sample.separator == '\t' ? "tab" : std::string(1, sample.separator));
    if (sample.skip_lines > 0)
        map += fmt::format("skip_lines = {}   # lines above the header\n", sample.skip_lines);
    map += "# zone = \"+01:00\"   # of times that carry none\n# empty = [\"n/a\", \"-\"]   # texts that "
           "mean: nothing here\n";
    std::set<std::size_t> used;
    std::string missing;
    for (Column const& column : columns_of(layout)) {
        if (column.name == "length_ft" || column.name == "length") continue;
        std::string const name(column.name);
        bool const of_wide = wide && (name == "position" || column.group == "value" ||
                                      (layout == LayoutKind::reference && name == "power_dbm") ||
                                      (wide->has_wavelength && name == "wavelength_nm"));
        if (of_wide) continue;
        if (auto const guess = guesses.find(name); guess != guesses.end()) {
            used.insert(guess->second.header);
            map += rule_lines(column, sample, guess->second);
            continue;
        }
        bool const other_of_group = std::any_of(guesses.begin(), guesses.end(), [&](auto const& entry) {
            return !column.group.empty() && column.group == "value" &&
                   (entry.first == "attenuation_db" || entry.first == "power_dbm");
        });
        if (other_of_group) continue;
        missing +=
            fmt::format("\n# {}: {}\n# [column.{}]\n# from = \"…\"   # or constant = \"…\"\n",
                        column.required ? "NOT FOUND, needed" : "not found, optional", column.meaning, name);
    }
    if (wide) {
        bool const power =
            layout == LayoutKind::reference || lowered(wide->pattern).find("dbm") != std::string::npos;
        map += fmt::format("\n[wide]   # one row holds many readings, a column each\n# unsure whether these "
                           "are attenuation_db or "
                           "power_dbm\nfills = \"{}\"\nheader = {}\n",
                           power ? "power_dbm" : "attenuation_db", in_quotes(wide->pattern));
        used.insert(wide->headers.begin(), wide->headers.end());
    }
    map += missing;
    std::string unused;
    for (std::size_t h = 0; h < sample.headers.size(); ++h) {
        if (!used.contains(h) && !sample.headers[h].empty())
            unused += fmt::format("#   {}\n", shown(sample.headers[h]));
    }
    if (!unused.empty()) map += "\n# Headers that are not used:\n" + unused;
    return map;
}

} // namespace guidepin::intake

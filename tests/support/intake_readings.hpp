// SPDX-License-Identifier: Apache-2.0
// Random readings and random files of readings, good and broken.
#pragma once

#include "intake/readings.hpp"
#include "units/instant.hpp"

#include <cmath>
#include <set>
#include <tuple>

#include <rapidcheck.h>

namespace guidepin::intake {

inline rc::Gen<std::string> arbitrary_name()
{
    return rc::gen::map(rc::gen::container<std::string>(rc::gen::elementOf(std::string("ab1-=+@',;\"\n .é"))),
                        [](std::string text) {
                            // é is two bytes; keep only whole ones, and no space at the ends: readers take
                            // those off.
                            std::string whole;
                            for (std::size_t i = 0; i < text.size(); ++i) {
                                if (static_cast<unsigned char>(text[i]) < 0x80) whole += text[i];
                            }
                            auto const first = whole.find_first_not_of(" \n\t\r");
                            if (first == std::string::npos) return std::string("x");
                            return whole.substr(first, whole.find_last_not_of(" \n\t\r") - first + 1);
                        });
}

/// No two rows about the same thing at the same time.
inline rc::Gen<verdict::ReadingColumns> arbitrary_readings()
{
    return rc::gen::exec([] {
        verdict::ReadingColumns rows;
        rows.is_power = *rc::gen::arbitrary<bool>();
        auto const count = *rc::gen::inRange(0, 40);
        std::set<std::tuple<std::uint32_t, int, int, int, std::int64_t>> seen;
        for (int i = 0; i < count; ++i) {
            std::string const link = *arbitrary_name();
            auto const end = static_cast<verdict::LaunchEnd>(*rc::gen::inRange(0, 2));
            auto const position = static_cast<std::int16_t>(*rc::gen::inRange(1, 65));
            auto const wavelength = static_cast<std::uint16_t>(*rc::gen::inRange(600, 1701));
            bool const timed = *rc::gen::arbitrary<bool>();
            auto const ms = timed ? *rc::gen::inRange<std::int64_t>(0, 4'000'000'000'000)
                                  : verdict::ReadingColumns::no_time;
            if (!seen.emplace(rows.links.index_of(link), static_cast<int>(end), position, wavelength, ms)
                     .second)
                continue;
            rows.link.push_back(rows.links.index_of(link));
            rows.launch_end.push_back(end);
            rows.position.push_back(position);
            rows.far_position.push_back(static_cast<std::int16_t>(*rc::gen::inRange(-1, 65)));
            rows.wavelength_nm.push_back(wavelength);
            rows.value.push_back(*rc::gen::inRange(-5000, 30000) / 1000.0);
            rows.length_m.push_back(*rc::gen::arbitrary<bool>() ? *rc::gen::inRange(0, 1'000'000) / 7.0
                                                                : std::nan(""));
            rows.taken_ms.push_back(ms);
            rows.offset_minutes.push_back(timed ? static_cast<std::int16_t>(*rc::gen::inRange(-720, 840))
                                                : std::int16_t{0});
            rows.reference.push_back(*rc::gen::arbitrary<bool>() ? rows.references.index_of(*arbitrary_name())
                                                                 : verdict::Dictionary::missing);
            rows.operator_name.push_back(*rc::gen::arbitrary<bool>()
                                             ? rows.operators.index_of(*arbitrary_name())
                                             : verdict::Dictionary::missing);
            rows.line.push_back(0);
        }
        return rows;
    });
}

/// All but the line numbers.
inline bool same_readings(verdict::ReadingColumns const& a, verdict::ReadingColumns const& b)
{
    if (a.size() != b.size()) return false;
    auto const same_name = [](verdict::Dictionary const& names, std::uint32_t x,
                              verdict::Dictionary const& others, std::uint32_t y) {
        if (x == verdict::Dictionary::missing || y == verdict::Dictionary::missing) return x == y;
        return names.text(x) == others.text(y);
    };
    for (std::size_t i = 0; i < a.size(); ++i) {
        bool const lengths =
            a.length_m[i] == b.length_m[i] || (std::isnan(a.length_m[i]) && std::isnan(b.length_m[i]));
        if (!lengths || a.launch_end[i] != b.launch_end[i] || a.position[i] != b.position[i] ||
            a.far_position[i] != b.far_position[i] || a.wavelength_nm[i] != b.wavelength_nm[i] ||
            a.value[i] != b.value[i] || a.taken_ms[i] != b.taken_ms[i] ||
            a.offset_minutes[i] != b.offset_minutes[i] ||
            !same_name(a.links, a.link[i], b.links, b.link[i]) ||
            !same_name(a.references, a.reference[i], b.references, b.reference[i]) ||
            !same_name(a.operators, a.operator_name[i], b.operators, b.operator_name[i])) {
            return false;
        }
    }
    return a.size() == 0 || a.is_power == b.is_power;
}

/// A header that holds, then rows of which some do not: few names, so that things are said twice.
inline rc::Gen<std::string> arbitrary_file()
{
    return rc::gen::exec([] {
        char const separator = *rc::gen::element(',', ';', '\t');
        std::string const end_of_line = *rc::gen::element<std::string>("\n", "\r\n");
        bool const quotes = *rc::gen::arbitrary<bool>();
        bool const comma = separator != ',' && *rc::gen::arbitrary<bool>();
        std::string text = *rc::gen::element<std::string>("", "\xEF\xBB\xBF");
        std::vector<std::string> const headers{
            "link",
            "launch_end",
            "position",
            "far_position",
            "wavelength_nm",
            "attenuation_db",
            *rc::gen::element<std::string>("length_m", "length_ft", "length"),
            "taken_at",
            "reference",
            "operator",
            "note"};
        auto const add = [&](std::vector<std::string> const& cells) {
            for (std::size_t i = 0; i < cells.size(); ++i) {
                if (i > 0) text += separator;
                text += cells[i];
            }
            text += end_of_line;
        };
        add(headers);
        auto const word = [&](std::vector<std::string> plain, std::vector<std::string> const& quoted) {
            if (quotes) plain.insert(plain.end(), quoted.begin(), quoted.end());
            return *rc::gen::elementOf(plain);
        };
        auto const number = [&](std::vector<std::string> values) {
            std::string value = *rc::gen::elementOf(values);
            if (comma) {
                for (char& letter : value) letter = letter == '.' ? ',' : letter;
            }
            return value;
        };
        int const count = *rc::gen::inRange(0, 30);
        for (int i = 0; i < count; ++i) {
            std::vector<std::string> cells{
                word({"L1", "L2", "L3", " L1", "'=x", "=x"},
                     {"\"L1\"", "\"L\n4\"", "\"L\"\"5\"", "\"L,6\"", "L\"7", "\"L8\"x", "\"\""}),
                word({"a", "b", "A"}, {"\"a\""}),
                number({"1", "2", "3"}),
                number({"", "1", "dark", "0"}),
                number({"850", "1300"}),
                number({"0.25", "0.25", "0.250", "0.5", "-0.1 dB"}),
                number({"", "30", "30.5 m", "98 ft"}),
                word({"", "2026-03-02T08:15:00Z", "2026-03-02 09:15:00", "2026-03-02T08:15:00+01:00"},
                     {"\"2026-03-02T08:15:00Z\""}),
                word({"", "R1", "R2"}, {"\"R\r\n3\""}),
                word({"", "x"}, {"\"y\"\"\""}),
                word({"", "n", "m m"}, {"\"\n\n\"", "\"\"\"\"\"\"", "\"z", "q\"\""})};
            if (*rc::gen::inRange(0, 12) == 0) {
                cells[*rc::gen::inRange<std::size_t>(0, cells.size())] =
                    *rc::gen::element<std::string>("", "99", "x", "1,5", "1.5", "1e9", "\x80", "\x01");
            }
            if (*rc::gen::inRange(0, 25) == 0) cells.pop_back();
            if (*rc::gen::inRange(0, 25) == 0)
                cells.assign(*rc::gen::inRange<std::size_t>(1, 16), *rc::gen::element<std::string>("", " "));
            if (*rc::gen::inRange(0, 25) == 0) text += end_of_line;
            add(cells);
        }
        if (*rc::gen::arbitrary<bool>() && text.ends_with(end_of_line))
            text.resize(text.size() - end_of_line.size());
        return text;
    });
}

} // namespace guidepin::intake

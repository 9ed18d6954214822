// SPDX-License-Identifier: Apache-2.0
#include "job/sheet/locale.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::job {

report::Locale locale_of(Settings const& settings)
{
    report::Locale locale;
    locale.decimal_mark = settings.decimal == "," ? ',' : '.';
    locale.length_unit = settings.length_unit == "ft" ? report::LengthUnit::feet : report::LengthUnit::metres;
    locale.date_order = settings.date_order == "dmy"   ? report::DateOrder::day_month_year
                        : settings.date_order == "mdy" ? report::DateOrder::month_day_year
                                                       : report::DateOrder::year_month_day;
    return locale;
}

std::string cord_length(Metres length, report::Locale const& locale)
{
    bool const feet = locale.length_unit == report::LengthUnit::feet;
    double const value = feet ? length.value() / metres_per_foot : length.value();
    std::string text = number_text(std::round(value * (feet ? 10 : 100)) / (feet ? 10 : 100));
    if (auto const point = text.find('.'); point != std::string::npos) text[point] = locale.decimal_mark;
    return text + (feet ? " ft" : " m");
}

std::string with_decimals(std::string text, report::Locale const& locale)
{
    if (locale.decimal_mark == '.') return text;
    auto const digit = [&text](std::size_t at) {
        return at < text.size() && text[at] >= '0' && text[at] <= '9';
    };
    for (std::size_t point = 1; point < text.size(); ++point) {
        if (text[point] != '.' || !digit(point - 1)) continue;
        if (!digit(point + 1) || !digit(point + 2) || digit(point + 3)) continue;
        std::size_t start = point;
        while (start > 0 && digit(start - 1)) --start;
        if (start > 0 && text[start - 1] == '-') --start;
        bool const begins = start == 0 || text[start - 1] == ' ' || text[start - 1] == '(';
        std::size_t const after = point + 3;
        bool const ends = after >= text.size() || text[after] == ' ' || text[after] == ')' ||
                          text[after] == ',' || text[after] == ';' || text[after] == '.';
        if (begins && ends) text[point] = locale.decimal_mark;
    }
    return text;
}

std::string date_time(Instant const& at, Settings const& settings)
{
    return locale_of(settings).date_time({at.ms, settings.zone_offset_minutes});
}

std::string with_times(std::string_view sentence, Settings const& settings)
{
    constexpr std::string_view shortest = "2026-03-03T11:27:54Z";
    std::string text;
    std::size_t copied = 0;
    for (std::size_t t = sentence.find('T', 10); t != std::string_view::npos; t = sentence.find('T', t + 1)) {
        std::size_t const from = t - 10;
        std::size_t end = sentence.find_first_not_of("0123456789T:.+-Z", from);
        if (end == std::string_view::npos) end = sentence.size();
        // A full stop that ends the sentence does not belong to the time.
        while (end > from && (sentence[end - 1] == '.' || sentence[end - 1] == ':')) --end;
        if (from < copied || end - from < shortest.size()) continue;
        auto const at = parse_instant(sentence.substr(from, end - from));
        if (!at) continue;
        text += std::string(sentence.substr(copied, from - copied)) + date_time(*at, settings);
        copied = end;
    }
    return text + std::string(sentence.substr(std::min(copied, sentence.size())));
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "report/locale.hpp"

#include "base/text.hpp"

#include <array>
#include <cstdlib>

#include <fmt/format.h>

namespace guidepin::report {

namespace {
constexpr std::string_view minus = "−";
constexpr std::string_view narrow_gap = "\u00A0"; // B612 has no narrower space

std::string with_minus(std::string text)
{
    if (text.starts_with('-')) text.replace(0, 1, minus);
    return text;
}
} // namespace

std::string Locale::number(double value, int decimals) const
{
    std::string text = with_minus(fixed_text(value, decimals));
    if (decimal_mark != '.') {
        auto const point = text.find('.');
        if (point != std::string::npos) text[point] = decimal_mark;
    }
    return text;
}

std::string Locale::whole(long long value) const
{
    std::string digits = fmt::format("{}", value < 0 ? 0ULL - static_cast<unsigned long long>(value)
                                                     : static_cast<unsigned long long>(value));
    if (digits.size() >= 5) {
        for (std::size_t from_end = 3; from_end < digits.size(); from_end += 3 + narrow_gap.size()) {
            digits.insert(digits.size() - from_end, narrow_gap);
        }
    }
    return (value < 0 ? std::string(minus) : std::string()) + digits;
}

std::string Locale::decibel(std::optional<Decibel> value) const
{
    return value ? number(value->value(), 2) : "–";
}

std::string Locale::length(Metres value) const
{
    if (length_unit == LengthUnit::feet) return number(value.value() / metres_per_foot, 0) + " ft";
    return number(value.value(), value.value() < 1000 ? 1 : 0) + " m";
}

std::string Locale::percent(Probability value) const
{
    double const percent = value.value() * 100;
    // "100 %" and "0 %" would claim certainty that no measurement gives.
    if (percent > 99.9) return "> " + number(99.9, 1) + " %";
    if (percent < 0.1) return "< " + number(0.1, 1) + " %";
    return number(percent, 1) + " %";
}

std::string Locale::date(Instant const& instant) const
{
    std::string const iso = date_text(instant);
    if (date_order == DateOrder::year_month_day || iso.size() != 10) return iso;
    std::string const year = iso.substr(0, 4);
    std::string const month = iso.substr(5, 2);
    std::string const day = iso.substr(8, 2);
    if (date_order == DateOrder::month_day_year) return month + "/" + day + "/" + year;
    return decimal_mark == ',' ? day + "." + month + "." + year : day + "/" + month + "/" + year;
}

std::string Locale::date_time(Instant const& instant) const
{
    int const offset = instant.offset_minutes;
    std::string const zone = offset == 0 ? "UTC"
                                         : fmt::format("UTC{}{:02}:{:02}", offset < 0 ? minus : "+",
                                                       std::abs(offset) / 60, std::abs(offset) % 60);
    return date(instant) + " " + time_text(instant) + " " + zone;
}

} // namespace guidepin::report

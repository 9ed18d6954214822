// SPDX-License-Identifier: Apache-2.0
// How numbers, dates and lengths are written for a person. Chosen by that person, never by the machine.
// Files for programs (CSV, JSON) always carry a point and metres.
// Verified by: tests/unit/report/locale.cpp.
#pragma once

#include "units/instant.hpp"
#include "units/quantity.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace guidepin::report {

enum class DateOrder { year_month_day, day_month_year, month_day_year };
enum class LengthUnit { metres, feet };

struct Locale
{
    char decimal_mark = '.';
    DateOrder date_order = DateOrder::year_month_day; ///< "2026-03-02", "02.03.2026", "03/02/2026"
    LengthUnit length_unit = LengthUnit::metres;

    std::string number(double value, int decimals) const; ///< a true minus sign; never "−0.00"
    std::string whole(long long value) const; ///< groups of three with a no-break space from five digits on
    std::string
    decibel(std::optional<Decibel> value) const;  ///< two decimals, no unit; "–" when there is none
    std::string length(Metres value) const;       ///< "98.5 m", "323 ft"
    std::string percent(Probability value) const; ///< "99.7 %"; "> 99.9 %", "< 0.1 %" at the ends
    std::string date(Instant const& instant) const;
    std::string date_time(Instant const& instant) const; ///< date, "08:15", zone as "+01:00"
};

} // namespace guidepin::report

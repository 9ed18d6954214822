// SPDX-License-Identifier: Apache-2.0
// Times of a file. MomentReader is parse_instant() with a memory: rows of one day share their date.
// DatePattern reads times that are written in another order.
// Verified by: tests/oracle/intake/moment.cpp (RFC 3339 section 5.8; parse_instant on random texts).
#pragma once

#include "base/result.hpp"
#include "units/instant.hpp"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::intake {

class MomentReader
{
  public:
    explicit MomentReader(std::int16_t default_offset_minutes)
        : default_offset_(default_offset_minutes)
    {
    }

    /// Exactly what parse_instant(text, default offset) gives.
    std::optional<Instant> read(std::string_view text);

  private:
    std::int16_t default_offset_;
    std::array<char, 10> date_{};
    std::int64_t date_ms_ = 0; ///< of the first millisecond of date_ in UTC
};

/// "DD.MM.YYYY hh:mm:ss", "MM/DD/YYYY hh:mm AM", "YYYYMMDDhhmm". Parts: YYYY, YY (20YY), MM, M, DD, D, hh, h,
/// mm, ss, fff (milliseconds), AM (AM or PM; hh is then 1 to 12), zone ("Z", "+01:00", "+0100"). All else
/// stands for itself.
class DatePattern
{
  public:
    static Result<DatePattern> from(std::string_view pattern);
    std::optional<Instant> read(std::string_view text, std::int16_t default_offset_minutes) const;

  private:
    enum class Part : std::uint8_t {
        year,
        short_year,
        month,
        day,
        hour,
        minute,
        second,
        millisecond,
        half,
        zone,
        letter
    };
    struct Step
    {
        Part part;
        std::uint8_t at_least, at_most; ///< digits
        char letter;
    };
    std::vector<Step> steps_;
};

/// "+01:00", "-0530", "Z" as minutes.
std::optional<std::int16_t> parse_zone(std::string_view text);

} // namespace guidepin::intake

// SPDX-License-Identifier: Apache-2.0
// A moment, with the offset from UTC of the clock on the wall where it was written down.
// Verified by: tests/oracle/intake/moment.cpp (RFC 3339 examples, leap years), tests/unit/units/quantity.cpp.
#pragma once

#include "base/result.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace guidepin {

struct Instant
{
    std::int64_t ms = 0;             ///< milliseconds since 1970-01-01T00:00:00Z
    std::int16_t offset_minutes = 0; ///< of the wall clock, for showing; moments compare without it

    friend bool operator==(Instant const& a, Instant const& b) { return a.ms == b.ms; }
    friend auto operator<=>(Instant const& a, Instant const& b) { return a.ms <=> b.ms; }
};

/// RFC 3339 ("2026-03-02T08:15:00+01:00", "…Z", a space for the T, seconds optional, up to 3 decimals kept).
/// Without a zone the moment is taken at `default_offset_minutes`.
std::optional<Instant> parse_instant(std::string_view text, std::int16_t default_offset_minutes = 0);

/// RFC 3339 in the moment's own zone; milliseconds only where there are any. "no time" outside years 1 to
/// 9999.
std::string instant_text(Instant const& instant);
/// "2026-03-02", and "08:15": the parts of instant_text() that a person reads.
std::string date_text(Instant const& instant);
std::string time_text(Instant const& instant);

} // namespace guidepin

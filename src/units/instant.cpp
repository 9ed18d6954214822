// SPDX-License-Identifier: Apache-2.0
#include "units/instant.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <chrono>

#include <fmt/format.h>

namespace guidepin {

namespace {

/// `digits` digits at the front of `text`, taken away; nothing if they are not all there.
std::optional<int> take_digits(std::string_view& text, std::size_t digits)
{
    if (text.size() < digits) return std::nullopt;
    int value = 0;
    for (std::size_t i = 0; i < digits; ++i) {
        if (text[i] < '0' || text[i] > '9') return std::nullopt;
        value = value * 10 + (text[i] - '0');
    }
    text.remove_prefix(digits);
    return value;
}

bool take(std::string_view& text, char letter)
{
    if (text.empty() || text.front() != letter) return false;
    text.remove_prefix(1);
    return true;
}

struct WallClock
{
    std::chrono::year_month_day date;
    int hour, minute, second, millisecond;
};

WallClock wall_clock(Instant const& instant)
{
    using namespace std::chrono;
    milliseconds const local{instant.ms + std::int64_t{instant.offset_minutes} * 60'000};
    auto const day = floor<days>(sys_time<milliseconds>{local});
    auto const rest = (sys_time<milliseconds>{local} - day).count();
    return {year_month_day{day}, static_cast<int>(rest / 3'600'000), static_cast<int>(rest / 60'000 % 60),
            static_cast<int>(rest / 1000 % 60), static_cast<int>(rest % 1000)};
}

} // namespace

std::optional<Instant> parse_instant(std::string_view text, std::int16_t default_offset_minutes)
{
    using namespace std::chrono;
    text = trimmed(text);
    auto const y = take_digits(text, 4);
    if (!y || !take(text, '-')) return std::nullopt;
    auto const m = take_digits(text, 2);
    if (!m || !take(text, '-')) return std::nullopt;
    auto const d = take_digits(text, 2);
    if (!d || !(take(text, 'T') || take(text, 't') || take(text, ' '))) return std::nullopt;
    auto const hour = take_digits(text, 2);
    if (!hour || !take(text, ':')) return std::nullopt;
    auto const minute = take_digits(text, 2);
    if (!minute) return std::nullopt;
    int second = 0;
    int millisecond = 0;
    if (take(text, ':')) {
        auto const s = take_digits(text, 2);
        if (!s) return std::nullopt;
        second = *s;
        if (take(text, '.')) {
            int scale = 100;
            bool any = false;
            while (!text.empty() && text.front() >= '0' && text.front() <= '9') {
                millisecond += (text.front() - '0') * scale;
                scale /= 10;
                text.remove_prefix(1);
                any = true;
            }
            if (!any) return std::nullopt;
        }
    }
    int offset = default_offset_minutes;
    if (take(text, 'Z') || take(text, 'z')) {
        offset = 0;
    } else if (!text.empty()) {
        int const sign = text.front() == '+' ? 1 : text.front() == '-' ? -1 : 0;
        if (sign == 0) return std::nullopt;
        text.remove_prefix(1);
        auto const oh = take_digits(text, 2);
        if (!oh) return std::nullopt;
        take(text, ':');
        auto const om = take_digits(text, 2);
        if (!om || *oh > 23 || *om > 59) return std::nullopt;
        offset = sign * (*oh * 60 + *om);
    }
    year_month_day const date{year{*y}, month{static_cast<unsigned>(*m)}, day{static_cast<unsigned>(*d)}};
    // A leap second (:60) is folded onto the next second: no instrument of the trade counts them.
    if (!text.empty() || !date.ok() || *hour > 23 || *minute > 59 || second > 60) return std::nullopt;
    std::int64_t const days_ms = sys_days{date}.time_since_epoch().count() * 86'400'000LL;
    std::int64_t const clock_ms = ((*hour * 60LL + *minute) * 60 + second) * 1000 + millisecond;
    return Instant{days_ms + clock_ms - offset * 60'000LL, static_cast<std::int16_t>(offset)};
}

namespace {

/// Years 1 to 9999: what four digits can say. Values beyond mean "no time".
bool has_text(Instant const& instant)
{
    constexpr std::int64_t first = -62'135'596'800'000, last = 253'402'300'799'999;
    std::int64_t const shift = instant.offset_minutes * 60'000LL;
    return instant.ms >= first - std::min<std::int64_t>(shift, 0) &&
           instant.ms <= last - std::max<std::int64_t>(shift, 0);
}

constexpr char const* no_text = "no time";

} // namespace

std::string date_text(Instant const& instant)
{
    if (!has_text(instant)) return no_text;
    auto const w = wall_clock(instant);
    return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(w.date.year()),
                       static_cast<unsigned>(w.date.month()), static_cast<unsigned>(w.date.day()));
}

std::string time_text(Instant const& instant)
{
    if (!has_text(instant)) return no_text;
    auto const w = wall_clock(instant);
    return fmt::format("{:02}:{:02}", w.hour, w.minute);
}

std::string instant_text(Instant const& instant)
{
    if (!has_text(instant)) return no_text;
    auto const w = wall_clock(instant);
    std::string text = fmt::format("{}T{:02}:{:02}:{:02}", date_text(instant), w.hour, w.minute, w.second);
    if (w.millisecond != 0) text += fmt::format(".{:03}", w.millisecond);
    if (instant.offset_minutes == 0) return text + "Z";
    int const size = instant.offset_minutes < 0 ? -instant.offset_minutes : instant.offset_minutes;
    return text + fmt::format("{}{:02}:{:02}", instant.offset_minutes < 0 ? '-' : '+', size / 60, size % 60);
}

} // namespace guidepin

// SPDX-License-Identifier: Apache-2.0
#include "intake/moment.hpp"

#include "base/text.hpp"

#include <cstring>

#include <fmt/format.h>

namespace guidepin::intake {

namespace {

unsigned digit(char letter)
{
    return static_cast<unsigned char>(letter) - unsigned{'0'};
}

/// Two digits at `at`; more than 99 when they are none.
unsigned two(char const* at)
{
    unsigned const tens = digit(at[0]);
    unsigned const ones = digit(at[1]);
    return tens > 9 || ones > 9 ? 100 : tens * 10 + ones;
}

} // namespace

std::optional<Instant> MomentReader::read(std::string_view text)
{
    // Only "YYYY-MM-DDThh:mm:ss" with no zone, "Z" or "+hh:mm" goes the short way.
    if (text.size() != 20 && text.size() != 25 && text.size() != 19)
        return parse_instant(text, default_offset_);
    char const* const t = text.data();
    unsigned const hour = two(t + 11);
    unsigned const minute = two(t + 14);
    unsigned const second = two(t + 17);
    if (!(t[10] == 'T' || t[10] == ' ') || t[13] != ':' || t[16] != ':' || hour > 23 || minute > 59 ||
        second > 59) {
        return parse_instant(text, default_offset_);
    }
    int offset = default_offset_;
    if (text.size() == 20) {
        if (t[19] != 'Z') return parse_instant(text, default_offset_);
        offset = 0;
    } else if (text.size() == 25) {
        unsigned const zone_hour = two(t + 20);
        unsigned const zone_minute = two(t + 23);
        if (!(t[19] == '+' || t[19] == '-') || t[22] != ':' || zone_hour > 23 || zone_minute > 59) {
            return parse_instant(text, default_offset_);
        }
        offset = static_cast<int>(zone_hour * 60 + zone_minute);
        if (t[19] == '-') offset = -offset;
    }
    if (std::memcmp(t, date_.data(), date_.size()) != 0) {
        std::string const midnight = std::string(text.substr(0, date_.size())) + "T00:00:00Z";
        auto const day = parse_instant(midnight);
        if (!day) return std::nullopt;
        std::memcpy(date_.data(), t, date_.size());
        date_ms_ = day->ms;
    }
    std::int64_t const clock_ms = ((std::int64_t{hour} * 60 + minute) * 60 + second) * 1000;
    return Instant{date_ms_ + clock_ms - offset * std::int64_t{60'000}, static_cast<std::int16_t>(offset)};
}

std::optional<std::int16_t> parse_zone(std::string_view text)
{
    text = trimmed(text);
    if (text == "Z" || text == "z" || text == "UTC") return std::int16_t{0};
    if (text.size() < 3 || (text[0] != '+' && text[0] != '-')) return std::nullopt;
    std::string digits;
    for (std::size_t i = 1; i < text.size(); ++i) {
        if (text[i] == ':' && i == 3) continue;
        if (digit(text[i]) > 9) return std::nullopt;
        digits += text[i];
    }
    if (digits.size() == 2) digits += "00";
    if (digits.size() != 4) return std::nullopt;
    unsigned const hours = two(digits.data());
    unsigned const minutes = two(digits.data() + 2);
    if (hours > 23 || minutes > 59) return std::nullopt;
    int const offset = static_cast<int>(hours * 60 + minutes);
    return static_cast<std::int16_t>(text[0] == '-' ? -offset : offset);
}

Result<DatePattern> DatePattern::from(std::string_view pattern)
{
    struct Word
    {
        std::string_view text;
        Part part;
        std::uint8_t at_least, at_most;
    };
    // Longer words first: "YYYY" is not twice "YY".
    constexpr std::array words{Word{"YYYY", Part::year, 4, 4},       Word{"zone", Part::zone, 0, 0},
                               Word{"fff", Part::millisecond, 1, 3}, Word{"YY", Part::short_year, 2, 2},
                               Word{"MM", Part::month, 2, 2},        Word{"DD", Part::day, 2, 2},
                               Word{"hh", Part::hour, 2, 2},         Word{"mm", Part::minute, 2, 2},
                               Word{"ss", Part::second, 2, 2},       Word{"AM", Part::half, 0, 0},
                               Word{"M", Part::month, 1, 2},         Word{"D", Part::day, 1, 2},
                               Word{"h", Part::hour, 1, 2}};
    DatePattern result;
    bool year = false, month = false, day = false;
    while (!pattern.empty()) {
        Step step{Part::letter, 0, 0, pattern.front()};
        std::size_t length = 1;
        for (Word const& word : words) {
            if (pattern.starts_with(word.text)) {
                step = Step{word.part, word.at_least, word.at_most, 0};
                length = word.text.size();
                break;
            }
        }
        year = year || step.part == Part::year || step.part == Part::short_year;
        month = month || step.part == Part::month;
        day = day || step.part == Part::day;
        result.steps_.push_back(step);
        pattern.remove_prefix(length);
    }
    if (!year || !month || !day) {
        return Error{
            Errc::invalid_input,
            "A time pattern needs a year (YYYY or YY), a month (MM or M) and a day (DD or D), such as "
            "\"DD.MM.YYYY hh:mm:ss\"."};
    }
    return result;
}

std::optional<Instant> DatePattern::read(std::string_view text, std::int16_t default_offset_minutes) const
{
    text = trimmed(text);
    unsigned year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0, millisecond = 0;
    std::optional<bool> afternoon;
    std::int16_t offset = default_offset_minutes;
    for (Step const& step : steps_) {
        if (step.part == Part::letter) {
            if (text.empty() || text.front() != step.letter) return std::nullopt;
            text.remove_prefix(1);
            continue;
        }
        if (step.part == Part::half) {
            std::string const half = lowered(text.substr(0, 2));
            if (half != "am" && half != "pm") return std::nullopt;
            afternoon = half == "pm";
            text.remove_prefix(2);
            continue;
        }
        if (step.part == Part::zone) {
            auto const end = text.find_first_not_of("0123456789+-:Zz");
            auto const zone = parse_zone(text.substr(0, end));
            if (!zone) return std::nullopt;
            offset = *zone;
            text.remove_prefix(end == std::string_view::npos ? text.size() : end);
            continue;
        }
        unsigned value = 0;
        std::size_t count = 0;
        while (count < step.at_most && count < text.size() && digit(text[count]) <= 9) {
            value = value * 10 + digit(text[count]);
            ++count;
        }
        if (count < step.at_least) return std::nullopt;
        text.remove_prefix(count);
        switch (step.part) {
        case Part::year:
            year = value;
            break;
        case Part::short_year:
            year = 2000 + value;
            break;
        case Part::month:
            month = value;
            break;
        case Part::day:
            day = value;
            break;
        case Part::hour:
            hour = value;
            break;
        case Part::minute:
            minute = value;
            break;
        case Part::second:
            second = value;
            break;
        case Part::millisecond:
            millisecond = count == 1 ? value * 100 : count == 2 ? value * 10 : value;
            break;
        case Part::half:
        case Part::zone:
        case Part::letter:
            break;
        }
    }
    if (!text.empty()) return std::nullopt;
    if (afternoon) {
        if (hour < 1 || hour > 12) return std::nullopt;
        hour = hour % 12 + (*afternoon ? 12 : 0);
    }
    // The calendar's rules stand in one place only.
    return parse_instant(fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:03}", year, month, day, hour,
                                     minute, second, millisecond),
                         offset);
}

} // namespace guidepin::intake

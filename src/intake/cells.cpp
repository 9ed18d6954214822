// SPDX-License-Identifier: Apache-2.0
#include "intake/cells.hpp"

#include "base/csv_cell.hpp"
#include "base/text.hpp"
#include "units/quantity.hpp"
#include "verdict/readings.hpp"

#include <algorithm>
#include <string>

namespace guidepin::intake {

namespace detail {

char const* other_position(std::string_view text, std::int16_t& position)
{
    auto const number = parse_integer(text.starts_with('+') ? text.substr(1) : text);
    if (!number) return "is no position; write a whole number from 1 to 64";
    if (*number < 1 || *number > 64) return "is outside the positions 1 to 64";
    position = static_cast<std::int16_t>(*number);
    return nullptr;
}

char const* other_far_position(std::string_view text, std::int16_t& position)
{
    if (text.empty()) {
        position = verdict::far_not_stated;
        return nullptr;
    }
    if (lowered(text) == "dark") {
        position = verdict::far_dark;
        return nullptr;
    }
    auto const number = parse_integer(text);
    if (!number)
        return "is no far position; write 1 to 64, 0 or dark when no light arrives, nothing when not stated";
    if (*number < 0 || *number > 64) return "is outside the positions 1 to 64 (0: no light arrives)";
    position = static_cast<std::int16_t>(*number);
    return nullptr;
}

char const* other_wavelength(std::string_view text, std::uint16_t& wavelength_nm)
{
    std::string lower = lowered(text);
    std::string_view number_part = lower;
    if (number_part.ends_with("nm")) number_part = trimmed(number_part.substr(0, number_part.size() - 2));
    auto const number = parse_number(number_part);
    if (!number) return "is no wavelength; write whole nanometres such as 850";
    if (*number < least_wavelength_nm || *number > greatest_wavelength_nm) {
        return "is outside the wavelengths 600 to 1700 nm";
    }
    if (*number != std::floor(*number)) return "is not in whole nanometres";
    wavelength_nm = static_cast<std::uint16_t>(*number);
    return nullptr;
}

char const* other_value(std::string_view text, char decimal, bool is_power, double& value)
{
    std::string const lower = lowered(text);
    std::string_view number_part = lower;
    std::string_view const unit = is_power ? "dbm" : "db";
    if (number_part.ends_with(unit))
        number_part = trimmed(number_part.substr(0, number_part.size() - unit.size()));
    auto const number = parse_decimal(number_part, decimal);
    if (!number) {
        if (decimal == '.' && number_part.find(',') != std::string_view::npos) {
            return "is no number with a decimal point, as the rest of this file has";
        }
        if (decimal == ',' && number_part.find('.') != std::string_view::npos) {
            return "is no number with a decimal comma, as the rest of this file has";
        }
        return is_power ? "is no power in dBm" : "is no attenuation in dB";
    }
    if (!plausible_value(*number, is_power)) {
        return is_power ? "is outside the powers -100 to 30 dBm" : "is outside the attenuations -5 to 80 dB";
    }
    value = *number;
    return nullptr;
}

char const* other_length(std::string_view text, char decimal, LengthUnit unit, double& metres)
{
    std::string lower = lowered(text);
    if (decimal == ',') {
        if (lower.find('.') != std::string::npos)
            return "is no number with a decimal comma, as the rest of this file has";
        std::replace(lower.begin(), lower.end(), ',', '.');
    }
    bool const has_unit =
        !lower.empty() && (lower.back() == 'm' || lower.back() == 't' || lower.back() == '\'');
    if (unit == LengthUnit::in_value && !has_unit) return "has no unit; write m or ft behind the number";
    auto const length = parse_length(lower);
    if (!length) return "is no length; write a number, with m or ft behind it where the header does not say";
    double value = length->value();
    if (!has_unit && unit == LengthUnit::feet) value *= metres_per_foot;
    if (!(value >= 0 && value <= greatest_length_m)) return "is outside the lengths 0 to 200 km";
    metres = value;
    return nullptr;
}

} // namespace detail

char const* read_count(std::string_view text, int& count)
{
    count = 0;
    if (text.empty()) return nullptr;
    auto const number = parse_integer(text);
    if (!number) return "is no whole number";
    if (*number < 0 || *number > 1000) return "is outside 0 to 1000";
    count = static_cast<int>(*number);
    return nullptr;
}

char const* name_fault(std::string_view text)
{
    if (text.size() > 400) return "is longer than 400 bytes";
    for (char const letter : text) {
        auto const byte = static_cast<unsigned char>(letter);
        if ((byte < ' ' && byte != '\n' && byte != '\r' && byte != '\t') || byte == 0x7F) {
            return "has a control character in it";
        }
    }
    if (!is_utf8(text)) return "is not UTF-8; save the file as CSV in UTF-8";
    return nullptr;
}

std::string_view without_guard(std::string_view text, std::string& room)
{
    if (text.find('\'') == std::string_view::npos) return text;
    room = formula_unguarded(text);
    return room;
}

} // namespace guidepin::intake

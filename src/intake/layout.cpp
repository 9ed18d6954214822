// SPDX-License-Identifier: Apache-2.0
#include "intake/layout.hpp"

#include "base/text.hpp"

#include <array>

namespace guidepin::intake {

namespace {

constexpr std::array schedule_columns{
    Column{"link", CellKind::text, true, "name of the link, once in the file"},
    Column{"zone", CellKind::text, false, "part of the site it belongs to"},
    Column{"end_a", CellKind::text, false, "where end A is"},
    Column{"end_b", CellKind::text, false, "where end B is"},
    Column{"category", CellKind::text, true, "fibre category: OM4, OS2"},
    Column{"length_m", CellKind::length, true, "length as drawn, in metres, or with its own unit (\"98 ft\")",
           "length"},
    Column{"length_ft", CellKind::length, true, "in place of length_m: in feet", "length"},
    Column{"length", CellKind::length, true, "in place of length_m: every value with its unit", "length"},
    Column{"family", CellKind::text, true, "mpo-12, mpo-24, mpo-16, mpo-32, duplex-N"},
    Column{"fibres", CellKind::text, true, "occupied positions: 12, 8, 1-4,9-12, all"},
    Column{"trunk_type", CellKind::text, true, "polarity type, or the whole chain of elements"},
    Column{"pins_a", CellKind::choice, false, "pinned or unpinned; pinned when not stated"},
    Column{"pins_b", CellKind::choice, false, "pinned or unpinned; pinned when not stated"},
    Column{"face", CellKind::choice, false, "flat or angled; flat when not stated"},
    Column{"adapter_a", CellKind::choice, false,
           "opposed, aligned or none (a bare plug); opposed when not stated"},
    Column{"adapter_b", CellKind::choice, false,
           "opposed, aligned or none (a bare plug); opposed when not stated"},
    Column{"inner_connections", CellKind::whole_number, false,
           "connections between the two ends; 0 when not stated"},
    Column{"splices", CellKind::whole_number, false, "0 when not stated"},
    Column{"applications", CellKind::text, false, "what the channel must carry, separated by |, ; or ,"},
};

constexpr std::array reference_columns{
    Column{"reference", CellKind::text, true, "name of the reference"},
    Column{"position", CellKind::position, true, "1 to 64"},
    Column{"wavelength_nm", CellKind::wavelength, true, "600 to 1700"},
    Column{"power_dbm", CellKind::power, true, "-100 to 30"},
    Column{"taken_at", CellKind::moment, false, "RFC 3339"},
};

constexpr std::array cord_check_columns{
    Column{"check", CellKind::text, true, "name of the cord check"},
    Column{"reference", CellKind::text, false, "the reference that it checks"},
    Column{"position", CellKind::position, true, "at the launch end, 1 to 64"},
    Column{"far_position", CellKind::position, false, "where the light arrived; 0 or dark: nowhere"},
    Column{"wavelength_nm", CellKind::wavelength, true, "600 to 1700"},
    Column{"attenuation_db", CellKind::attenuation, true, "positive is loss, -5 to 80", "value"},
    Column{"power_dbm", CellKind::power, true, "in place of attenuation_db: received power, -100 to 30",
           "value"},
    Column{"length_m", CellKind::length, false, "measured length in metres, or with its own unit", "length"},
    Column{"length_ft", CellKind::length, false, "in place of length_m: in feet", "length"},
    Column{"length", CellKind::length, false, "in place of length_m: every value with its unit", "length"},
    Column{"taken_at", CellKind::moment, false, "RFC 3339"},
};

constexpr std::array readings_columns{
    Column{"link", CellKind::text, true, "name of the link"},
    Column{"launch_end", CellKind::end, true, "a or b: where the source stood"},
    Column{"position", CellKind::position, true, "at the launch end, 1 to 64"},
    Column{"far_position", CellKind::position, false, "where the light arrived; 0 or dark: nowhere"},
    Column{"wavelength_nm", CellKind::wavelength, true, "600 to 1700"},
    Column{"attenuation_db", CellKind::attenuation, true, "positive is loss, -5 to 80", "value"},
    Column{"power_dbm", CellKind::power, true, "in place of attenuation_db: received power, -100 to 30",
           "value"},
    Column{"length_m", CellKind::length, false, "measured length in metres, or with its own unit", "length"},
    Column{"length_ft", CellKind::length, false, "in place of length_m: in feet", "length"},
    Column{"length", CellKind::length, false, "in place of length_m: every value with its unit", "length"},
    Column{"taken_at", CellKind::moment, false, "RFC 3339"},
    Column{"reference", CellKind::text, false, "the reference it was measured with"},
    Column{"operator", CellKind::text, false, "who measured"},
};

} // namespace

char const* name_of(LayoutKind kind)
{
    switch (kind) {
    case LayoutKind::schedule:
        return "schedule";
    case LayoutKind::reference:
        return "reference";
    case LayoutKind::cord_check:
        return "cord-check";
    case LayoutKind::readings:
        return "readings";
    }
    return "";
}

std::optional<LayoutKind> parse_layout_kind(std::string_view text)
{
    for (LayoutKind const kind :
         {LayoutKind::schedule, LayoutKind::reference, LayoutKind::cord_check, LayoutKind::readings}) {
        if (text == name_of(kind)) return kind;
    }
    return std::nullopt;
}

std::span<Column const> columns_of(LayoutKind kind)
{
    switch (kind) {
    case LayoutKind::schedule:
        return schedule_columns;
    case LayoutKind::reference:
        return reference_columns;
    case LayoutKind::cord_check:
        return cord_check_columns;
    case LayoutKind::readings:
        return readings_columns;
    }
    return {};
}

std::string normal_header(std::string_view header)
{
    std::string result;
    bool gap = false;
    for (char const letter : lowered(trimmed(header))) {
        if (letter == ' ' || letter == '\t' || letter == '\n' || letter == '\r' || letter == '-' ||
            letter == '_') {
            gap = true;
            continue;
        }
        if (gap) result += '_';
        gap = false;
        result += letter;
    }
    return result;
}

} // namespace guidepin::intake

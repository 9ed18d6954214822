// SPDX-License-Identifier: Apache-2.0
// room: intake
// Input: a column map, a zero byte, a file. The map is read; one that holds is used on the file; and a map is
// proposed for the file, which must be TOML that our reader understands or names what is missing in.
#include "intake/column_map.hpp"
#include "intake/readings.hpp"
#include "intake/reference.hpp"
#include "intake/schedule.hpp"

#include <cstdint>
#include <cstdlib>

using namespace guidepin::intake;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    std::string_view const input(reinterpret_cast<char const*>(data), size);
    auto const end = input.find('\0');
    std::string_view const toml = input.substr(0, end);
    std::string_view const file = end == std::string_view::npos ? std::string_view{} : input.substr(end + 1);
    if (auto const map = read_column_map(toml)) {
        ReadOptions options;
        options.map = &*map;
        options.keep_good_rows = true;
        static_cast<void>(read_readings(file, options).has_value());
        static_cast<void>(read_reference(file, options).has_value());
        static_cast<void>(read_cord_check(file, options).has_value());
        static_cast<void>(read_schedule(file, options).has_value());
    }
    for (LayoutKind const kind :
         {LayoutKind::readings, LayoutKind::schedule, LayoutKind::reference, LayoutKind::cord_check}) {
        auto const proposed = propose_column_map(file, kind, "file.csv");
        if (!proposed) continue;
        auto const map = read_column_map(*proposed);
        if (!map && map.error().message.find("does not hold") == std::string::npos)
            std::abort(); // no TOML at all
    }
    return 0;
}

// SPDX-License-Identifier: Apache-2.0
// room: job
// A job sheet of any bytes is settings or an error, and settings survive their record.
#include "job/sheet/settings.hpp"

#include <cstdint>
#include <cstdlib>

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    using namespace guidepin;
    auto const settings =
        job::settings_from_sheet({"sheet", std::string(reinterpret_cast<char const*>(data), size)});
    if (!settings) {
        if (settings.error().message.empty()) std::abort();
        return 0;
    }
    auto const again = job::settings_from_json(job::settings_to_json(*settings));
    if (!again || job::settings_to_json(*again) != job::settings_to_json(*settings)) std::abort();
    return 0;
}

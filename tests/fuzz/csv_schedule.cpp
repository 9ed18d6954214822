// SPDX-License-Identifier: Apache-2.0
// room: intake
// Schedules, references and cord checks from any bytes; an accepted schedule is written and read again.
#include "intake/write.hpp"

#include <cstdint>
#include <cstdlib>

using namespace guidepin::intake;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    std::string_view const text(reinterpret_cast<char const*>(data), size);
    ReadOptions options;
    options.keep_good_rows = true;
    if (auto const found = read_schedule(text, options)) {
        std::string const written = schedule_csv(found->content.links);
        auto const again = read_schedule(written, options);
        if (!again || again->bad.count != 0 || schedule_csv(again->content.links) != written) std::abort();
    }
    if (auto const found = read_reference(text, options)) {
        std::string const written = reference_csv(found->content);
        auto const again = read_reference(written, options);
        if (!again || again->bad.count != 0 || reference_csv(again->content) != written) std::abort();
    }
    if (auto const found = read_cord_check(text, options)) {
        std::string const written = cord_check_csv(found->content);
        auto const again = read_cord_check(written, options);
        if (!again || again->bad.count != 0 || cord_check_csv(again->content) != written) std::abort();
    }
    return 0;
}

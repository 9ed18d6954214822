// SPDX-License-Identifier: Apache-2.0
// room: job
// A kit file of any bytes is a kit or an error; a kit holds what setup asks of one, and its text reads back
// as the same kit.
#include "../support/kit_file_text.hpp"

#include <cstdint>
#include <cstdlib>

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    using namespace guidepin;
    auto const& tables = facts::built_in_tables();
    auto const kit =
        job::kit_from_file({"kit", std::string(reinterpret_cast<char const*>(data), size)}, tables);
    if (!kit) {
        if (kit.error().message.empty()) std::abort();
        return 0;
    }
    if (!setup::check_kit(kit->kit)) std::abort();
    std::string const text = job::kit_file_text(*kit);
    auto const again = job::kit_from_file({"kit", text}, tables);
    if (!again || job::kit_file_text(*again) != text) std::abort();
    return 0;
}

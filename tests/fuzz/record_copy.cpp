// SPDX-License-Identifier: Apache-2.0
// room: record
// Any bytes as a copy of records: no crash, and what is read can be walked and written again.
#include "record/check.hpp"
#include "record/copy.hpp"

#include <cstdlib>

using namespace guidepin::record;

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    std::string_view const text(reinterpret_cast<char const*>(data), size);
    auto const store = read_copy(text, "copy");
    if (!store) return 0;
    auto const report = check(**store);
    if (!report) std::abort();
    auto const heads = (*store)->latest_heads();
    if (!heads) std::abort();
    std::string again;
    auto const written = write_copy(**store, *heads, [&](std::string_view bytes) {
        again += bytes;
        return true;
    });
    if (!written) std::abort();
    // What holds is written back so that it reads and holds again.
    if (!report->first && !heads->empty()) {
        auto const second = read_copy(again, "again");
        if (!second || check(**second)->first) std::abort();
    }
    return 0;
}

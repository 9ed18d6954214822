// SPDX-License-Identifier: Apache-2.0
// room: intake
// The fast reader against the row-by-row reader, on any bytes: same rows, same problems, for any pieces and
// threads. What is accepted is written and read again.
#include "intake/readings_columns.hpp"
#include "intake/write.hpp"

#include <cstdint>
#include <cstdlib>

using namespace guidepin::intake;

namespace {

void require(bool holds)
{
    if (!holds) std::abort();
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    std::string_view const text(reinterpret_cast<char const*>(data), size);
    ReadOptions options;
    options.keep_good_rows = true;
    auto const by_row = read_readings_by_row(text, options);
    options.threads = size % 32 == 0 ? 2 : 1; // threads are slow under the sanitizers
    for (std::size_t const piece : {std::size_t{16}, std::size_t{1'000'000}}) {
        auto const found = read_readings_in_pieces(text, options, piece);
        require(found.has_value() == by_row.has_value());
        if (!found) {
            require(found.error().message == by_row.error().message);
            continue;
        }
        require(problems_text(found->bad) == problems_text(by_row->bad));
        require(problems_text(found->repeated) == problems_text(by_row->repeated));
        require(found->rows == by_row->rows);
        require(found->content.line == by_row->content.line);
        std::string const written = readings_csv(found->content);
        require(written == readings_csv(by_row->content));
        auto const again = read_readings(written, options);
        require(again.has_value());
        require(again->bad.count == 0);
        require(readings_csv(again->content) == written);
    }
    return 0;
}

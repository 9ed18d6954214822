// SPDX-License-Identifier: Apache-2.0
// room: job
// Any bytes as the body of each kind of record that no other fuzzer has: a value or an error with words, and
// what is read is written and read back the same.
#include "job/entry/acknowledgement.hpp"
#include "job/entry/bodies.hpp"
#include "job/entry/entries.hpp"
#include "job/entry/manifest.hpp"
#include "job/plan/set_up_sheet.hpp"
#include "round_trip.hpp"

#include <cstdint>
#include <numeric>
#include <vector>

using namespace guidepin;
using namespace guidepin::job;

namespace {

/// The readings of a link, taken as they are: whatever power stands there, the loss is its negative.
void read_tests(std::string_view text)
{
    auto const to_loss = [](void const*, std::string_view, int, int, double power_dbm) { return -power_dbm; };
    verdict::ReadingColumns readings;
    auto const done = add_link_tested(text, readings, +to_loss, nullptr);
    if (!done) {
        require(!done.error().message.empty());
        return;
    }
    if (readings.size() == 0) return;
    std::vector<std::uint32_t> rows(readings.size());
    std::iota(rows.begin(), rows.end(), 0U);
    auto const written = link_tested_body(readings, rows, "");
    if (!written) return;
    verdict::ReadingColumns again;
    require(add_link_tested(*written, again, +to_loss, nullptr).has_value());
    require(again.size() == readings.size());
    require(link_tested_body(again, rows, "").value() == *written);
}

void read_manifests(std::string_view text)
{
    auto const sealed = read_manifest(text);
    if (!sealed) {
        require(!sealed.error().message.empty());
        return;
    }
    (void)sealed->holds();
    auto const statement = manifest_statement(sealed->manifest);
    if (!statement) return;
    auto const again = read_manifest(manifest_text(*statement, nullptr));
    require(again.has_value() && again->statement == *statement);
    require(manifest_statement(again->manifest).value() == *statement);
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    std::string_view const text(reinterpret_cast<char const*>(data), size);
    round_trip(text, &acknowledgement_of, &acknowledgement_body);
    round_trip(text, &hand_over_of, &hand_over_body);
    round_trip(text, &reference_of, &reference_body);
    round_trip(text, &cord_check_of, &cord_check_body);
    round_trip(text, &reference_event_of, &reference_event_body);
    round_trip(text, &note_of, &note_body);
    round_trip(text, &step_of, &step_body);
    round_trip(text, &person_of, &person_body);
    round_trip(text, &withdrawal_of, &withdrawal_body);
    round_trip(text, &setup_of, &setup_body);
    round_trip(text, &links_of_schedule,
               [](std::vector<plant::LinkSpec> const& links) { return schedule_body(links, SourceFile{}); });
    (void)chosen_setup_of(text);
    read_manifests(text);
    read_tests(text);
    return 0;
}

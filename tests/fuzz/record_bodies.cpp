// SPDX-License-Identifier: Apache-2.0
// room: job
// Any bytes as the body of each kind of record, and as a manifest: a value or an error with words, and what
// is read is written and read back the same. The kinds are the rows of job/state/record_kinds.hpp.
#include "job/entry/manifest.hpp"
#include "job/state/record_kinds.hpp"
#include "job/state/state.hpp"
#include "round_trip.hpp"

#include <cstdint>

using namespace guidepin;
using namespace guidepin::job;

namespace {

/// Into an empty state: taken, or an error with words.
void take_into_state(RecordKind const& kind, std::string_view text)
{
    record::RecordView view;
    view.station = "000000000000";
    view.sequence = 1;
    view.kind = kind.name;
    view.operator_name = "Ines";
    view.body = text;
    JobState state;
    auto const taken = kind.take(state, view);
    require(taken.has_value() || !taken.error().message.empty());
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
    for (RecordKind const& kind : record_kinds()) {
        written_twice(text, kind.rewritten);
        take_into_state(kind, text);
    }
    read_manifests(text);
    return 0;
}

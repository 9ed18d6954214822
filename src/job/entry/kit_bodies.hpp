// SPDX-License-Identifier: Apache-2.0
// The kit in the records of a job: items as they are from now on, pins changed, end faces looked at, limits,
// decisions to use an item despite a refusal. What follows from them: job/kit/kit_register.hpp. Bodies:
// docs/formats/record-bodies.md. Verified by: tests/unit/job/kit_bodies.cpp (round trips as properties),
// tests/fuzz/record_bodies.cpp, tests/fuzz/end_face_finding.cpp.
#pragma once

#include "base/result.hpp"
#include "setup/kit.hpp"
#include "setup/register.hpp"
#include "units/instant.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

enum class KitSort : std::uint8_t { source, meter, cord, adapter, pin_tool };
char const* name_of(KitSort sort); ///< "source", "meter", "cord", "adapter", "pin-tool"
std::optional<KitSort> parse_kit_sort(std::string_view text);

/// End of a cord as people write it: 0 is "near" (the first of its file, at the instrument), 1 is "far". An
/// instrument has one: its port is "near".
char const* end_name(int end);
std::optional<int> parse_end(std::string_view text);

/// One thing of the kit, by its serial number or label. Of the particulars only those of its sort count.
struct KitItem
{
    std::string serial;
    KitSort sort = KitSort::cord;
    std::string name; ///< "LED source, second crew"
    // Instruments.
    setup::Port port;
    std::vector<Nanometres> wavelengths; ///< that it sends or is calibrated at; empty: not stated
    std::optional<setup::Day> calibrated, calibration_due;
    // Cords; `cord.id` is the serial.
    setup::Cord cord;
    // Adapters and pin tools.
    plant::KeyRelation keys = plant::KeyRelation::opposed;
    plant::Family::Key family = plant::Family::Key::mpo12;
    int count = 1;
    // Wear.
    int matings_before = 0, pin_changes_before = 0;      ///< of each end, when it came into this job
    std::optional<int> matings_limit, pin_changes_limit; ///< its own; else those of the job's register
    bool counts_anew = false; ///< new plugs: what the records say of it before this one no longer counts
    // Leaving the kit.
    bool removed = false;
    std::string reason;
    // Of its record, not in the body.
    Instant at = {};
    std::string person = {};

    bool is_instrument() const { return sort == KitSort::source || sort == KitSort::meter; }
};
Result<std::string> kit_item_body(KitItem const& item);
Result<KitItem> kit_item_of(std::string_view body);

/// Pins put in or taken out of one end; with `from` equal to `to` they were only counted again.
struct PinsChanged
{
    std::string item;
    int end = 1;
    plant::Pins from = plant::Pins::unpinned, to = plant::Pins::pinned;
    int pins_counted = 0; ///< after the change: in the hand where they came out, else in the plug
    std::string note, key;
    Instant at = {};
    std::string person = {};
};
Result<std::string> pin_change_body(PinsChanged const& change);
Result<PinsChanged> pin_change_of(std::string_view body);

/// One end face looked at: what was seen, by which edition it is judged.
struct FaceInspected
{
    setup::EndFaceInspection seen;
    std::string edition;  ///< of IEC 61300-3-35, as the tables name it: "2 (2015)"
    bool cleaned = false; ///< just before
    std::string note, key;
    Instant at = {};
    std::string person = {};
};
Result<std::string> inspection_body(FaceInspected const& inspection);
Result<FaceInspected> inspection_of(std::string_view body);

/// Limits of the user for the whole register; the latest record counts whole.
struct KitLimits
{
    setup::RegisterLimits limits;
    Instant at = {};
    std::string person = {};
};
Result<std::string> kit_limits_body(setup::RegisterLimits const& limits);
Result<setup::RegisterLimits> kit_limits_of(std::string_view body);

/// A person uses an item despite the reasons for which it was refused at that moment.
struct KitOverride
{
    std::string item, reason;
    std::vector<setup::FitnessMatter> about;
    std::string key;
    Instant at = {};
    std::string person = {}; ///< who decided: the operator of the record
};
/// Returns what it is about: "calibration, end-face".
std::string about_text(KitOverride const& decision);
Result<std::string> kit_override_body(KitOverride const& decision);
Result<KitOverride> kit_override_of(std::string_view body);

/// All of it, in the order of the records.
struct KitRecords
{
    std::vector<KitItem> items; ///< every word on every item, the latest last
    std::vector<PinsChanged> pin_changes;
    std::vector<FaceInspected> inspections;
    std::vector<KitLimits> limits;
    std::vector<KitOverride> overrides;
};

/// A finding on an end face in words: "3 A scratch 2.5", that is position, zone, scratch or defect, size in
/// um. Sizes of one position and zone are gathered.
/// Errors: invalid_input naming the word and what is wanted.
Outcome add_finding(setup::EndFaceInspection& inspection, std::string_view words);
/// The findings as such words, one each.
std::vector<std::string> finding_words(setup::EndFaceInspection const& inspection);

/// The day on the wall clock of that moment.
setup::Day day_of(Instant const& at);

} // namespace guidepin::job

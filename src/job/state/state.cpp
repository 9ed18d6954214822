// SPDX-License-Identifier: Apache-2.0
#include "job/state/state.hpp"

#include "job/sheet/kit_file.hpp"
#include "job/state/link_limits.hpp"
#include "job/state/record_kinds.hpp"
#include "record/kind.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string_view>
#include <tuple>

#include <fmt/format.h>

namespace guidepin::job {

RecordOrder order_of(record::RecordView const& view)
{
    return {view.time.ms, std::string(view.station), view.sequence};
}

bool is_withdrawn(JobState const& state, std::string_view station, std::int64_t sequence)
{
    return std::any_of(state.withdrawals.begin(), state.withdrawals.end(), [&](Withdrawal const& withdrawal) {
        return withdrawal.station == station && withdrawal.sequence == sequence;
    });
}

void take_record(JobState& state, record::RecordView const& view)
{
    state.newest = std::max(state.newest, order_of(view));
    RecordKind const* const kind = find_record_kind(view.kind);
    if (!kind) return; // of a later program: carried along, not used
    auto const taken = kind->take(state, view);
    if (taken) return;
    bool const is_setting = view.kind == record::kind::setting;
    state.remarks.push_back(
        {is_setting ? "settings-unusable" : "record-unreadable",
         fmt::format("record {} of station {}", view.sequence, view.station),
         fmt::format("Record {} of station {} ({}, made by {} at {}) cannot be used: {}. {}", view.sequence,
                     view.station, view.kind, view.operator_name, instant_text(view.time),
                     taken.error().message,
                     is_setting ? "The settings before it stay in force" : "The job goes on without it"),
         "Open the job with the newest Guidepin. Where that says the same, enter what the record was meant "
         "to say "
         "once more."});
}

namespace {

/// Imports by station, in the order of its chain: which one brought a record in is the last before it.
using Imports = std::map<std::string, std::map<std::int64_t, bool>, std::less<>>;

Imports withdrawn_imports(JobState& state)
{
    Imports imports;
    for (SourceFile& file : state.files) {
        for (Withdrawal const& withdrawal : state.withdrawals) {
            if (withdrawal.station == file.station && withdrawal.sequence == file.sequence)
                file.withdrawn = withdrawal.reason;
        }
        imports[file.station][file.sequence] = !file.withdrawn.empty();
    }
    return imports;
}

bool belongs_to_withdrawn(Imports const& imports, std::string_view station, std::int64_t sequence)
{
    auto const of_station = imports.find(station);
    if (of_station == imports.end()) return false;
    auto after = of_station->second.upper_bound(sequence);
    return after != of_station->second.begin() && std::prev(after)->second;
}

} // namespace

void JobState::add_links(std::vector<plant::LinkSpec> more)
{
    for (plant::LinkSpec& link : more) {
        auto const [place, is_new] = link_index.try_emplace(link.id, links.size());
        if (is_new) {
            links.push_back(std::move(link));
        } else {
            links[place->second] = std::move(link);
        }
    }
    std::map<std::tuple<plant::Family::Key, int, int, plant::Face, std::string_view>, std::uint32_t> glass;
    link_glass.clear();
    for (plant::LinkSpec const& link : links) {
        auto const kind = std::tuple(link.family.key, link.family.rows, link.family.columns, link.face,
                                     std::string_view(link.category));
        auto const number = static_cast<std::uint32_t>(glass.size());
        link_glass.push_back(glass.try_emplace(kind, number).first->second);
    }
    // A link's number is its place in the schedule, also for one that was measured before it was scheduled.
    verdict::Dictionary numbered;
    for (plant::LinkSpec const& link : links) numbered.index_of(link.id);
    std::vector<std::uint32_t> moved;
    for (std::uint32_t i = 0; i < readings.links.size(); ++i)
        moved.push_back(numbered.index_of(readings.links.text(i)));
    for (std::uint32_t& link : readings.link) link = moved[link];
    readings.links = std::move(numbered);
}

void JobState::add_reference(ReferenceEntry reference)
{
    auto const [known, is_new] = reference_index.try_emplace(reference.id, references.size());
    if (is_new) {
        references.push_back(std::move(reference));
        return;
    }
    ReferenceEntry const& used = references[known->second];
    bool const alike = reference_body(used).value_or("") == reference_body(reference).value_or("");
    remarks.push_back({"reference-twice", fmt::format("reference {}", reference.id),
                       fmt::format("Reference {} was recorded twice: record {} of station {} at {}, which is "
                                   "used, and record {} of "
                                   "station {} at {}, which is not. {}",
                                   reference.id, used.sequence, used.station, instant_text(used.recorded),
                                   reference.sequence, reference.station, instant_text(reference.recorded),
                                   alike ? "Both hold the same powers" : "Their powers differ"),
                       alike ? "Nothing is lost. Acknowledge this finding."
                             : "Ask both people what they measured under it. Take a new reference under a "
                               "name of its own and measure "
                               "again what was measured under the one that is not used."});
}

void JobState::add_check(CordCheckEntry check)
{
    for (CordCheckEntry const& other : checks) {
        if (other.id != check.id) continue;
        remarks.push_back(
            {"cord-check-twice", fmt::format("cord check {}", check.id),
             fmt::format("Cord check {} was recorded twice: record {} of station {} and record {} of "
                         "station {}. Both are used: one that fails holds what was measured",
                         check.id, other.sequence, other.station, check.sequence, check.station),
             "Give the next check a name of its own. Acknowledge this finding when both checks are "
             "right."});
        break;
    }
    checks.push_back(std::move(check));
}

void JobState::add_person(Person person)
{
    for (Person& known : people) {
        if (known.name != person.name) continue;
        known = std::move(person);
        return;
    }
    people.push_back(std::move(person));
}

void JobState::add_kit_item(KitItem item)
{
    kit.items.push_back(std::move(item));
    gather_kit();
}

void JobState::gather_kit()
{
    instruments = settings.instruments;
    cords = settings.cords;
    for (KitItem const& item : kit.items) {
        if (item.is_instrument()) {
            Instrument known;
            known.id = item.serial;
            known.role = item.sort == KitSort::meter ? InstrumentRole::meter : InstrumentRole::source;
            known.description = item.name;
            known.family = item.port.face.family.name();
            known.pins = item.port.face.pins;
            known.face = item.port.face.face;
            known.ends_stated = true;
            if (item.calibrated) known.calibrated = day_text(*item.calibrated);
            if (item.calibration_due) known.calibration_due = day_text(*item.calibration_due);
            auto const same =
                std::find_if(instruments.begin(), instruments.end(), [&](Instrument const& other) {
                    return other.id == known.id && other.role == known.role;
                });
            if (same != instruments.end()) {
                *same = std::move(known);
            } else {
                instruments.push_back(std::move(known));
            }
        } else if (item.sort == KitSort::cord) {
            Cord known;
            known.id = item.serial;
            // A cord that may serve as anything has no role of its own.
            if (item.cord.roles != setup::Roles{}) known.role = setup::Role::launch;
            for (int role = 4; role >= 0; --role) {
                if (known.role && item.cord.roles.may(static_cast<setup::Role>(role)))
                    known.role = static_cast<setup::Role>(role);
            }
            known.type = item.cord.type;
            known.family = item.cord.ends[0].plug.family.name();
            known.length = item.cord.length;
            known.grade = item.cord.grade;
            known.pins_near = item.cord.ends[0].plug.pins;
            known.pins_far = item.cord.ends[1].plug.pins;
            known.exchangeable_pins =
                item.cord.ends[0].pins_exchangeable || item.cord.ends[1].pins_exchangeable;
            known.face = item.cord.ends[1].plug.face;
            known.ends_stated = true;
            auto const same = std::find_if(cords.begin(), cords.end(),
                                           [&](Cord const& other) { return other.id == known.id; });
            if (same != cords.end()) {
                *same = std::move(known);
            } else {
                cords.push_back(std::move(known));
            }
        }
    }
}

Instrument const* JobState::instrument(InstrumentRole role, std::string_view id) const
{
    for (Instrument const& known : instruments) {
        if (known.id == id && known.role == role) return &known;
    }
    return nullptr;
}

Cord const* JobState::cord(std::string_view id) const
{
    for (Cord const& known : cords) {
        if (known.id == id) return &known;
    }
    return nullptr;
}

bool JobState::has_file(std::string_view name) const
{
    for (SourceFile const& file : files) {
        if (file.name == name) return true;
    }
    return false;
}

double JobState::reference_power(verdict::ReferenceId const& reference, int position, int wavelength_nm) const
{
    auto const found = reference_index.find(reference);
    if (found == reference_index.end()) return std::numeric_limits<double>::quiet_NaN();
    ReferenceEntry const& entry = references[found->second];
    double sum = 0;
    int count = 0;
    for (std::size_t i = 0; i < entry.size(); ++i) {
        if (entry.position[i] != position || entry.wavelength_nm[i] != wavelength_nm) continue;
        sum += entry.power_dbm[i];
        ++count;
    }
    return count > 0 ? sum / count : std::numeric_limits<double>::quiet_NaN();
}

namespace {

/// Links of a schedule that this program cannot judge: they leave the schedule with a remark, and their
/// readings stay.
void set_impossible_links_aside(JobState& state)
{
    plant::LinkModels models{plant::LinkOptions{}};
    std::vector<plant::LinkSpec> possible;
    possible.reserve(state.links.size());
    for (plant::LinkSpec& link : state.links) {
        auto const fits = link_can_be_judged(state, models, link);
        if (fits) {
            possible.push_back(std::move(link));
            continue;
        }
        state.remarks.push_back({"link-impossible", fmt::format("link {}", link.id),
                                 fmt::format("The schedule's link {} cannot be judged and is left out: {}",
                                             link.id, fits.error().message),
                                 "Bring in a schedule with a corrected row for this link."});
    }
    if (possible.size() == state.links.size()) {
        state.links = std::move(possible);
        return;
    }
    state.links.clear();
    state.link_index.clear();
    state.readings.links = {};
    state.add_links(std::move(possible));
}

} // namespace

Result<JobState> load_state(record::Store const& store)
{
    JobState state;
    // What belongs to an import comes last: by then all withdrawals of imports are known.
    record::RecordQuery first, imported;
    for (RecordKind const& kind : record_kinds())
        (kind.of_import ? imported : first).kinds.emplace_back(kind.name);
    auto const take = [&](record::RecordView const& view) -> Outcome {
        take_record(state, view);
        return {};
    };
    TRY(store.visit(first, take));
    if (!state.has_settings) {
        std::string why;
        for (RecordRemark const& remark : state.remarks) {
            if (remark.rule == "settings-unusable") why = ": " + remark.text;
        }
        return Error{
            Errc::damaged,
            fmt::format(
                "{}: the job has no settings record that can be used{}. Its records do not hold, or a "
                "newer Guidepin made it: check the records",
                store.name(), why)};
    }
    state.tables = facts::with_rule_set(std::move(state.tables), state.rules);
    set_impossible_links_aside(state);
    Imports const imports = withdrawn_imports(state);
    TRY(store.visit(imported, [&](record::RecordView const& view) -> Outcome {
        return belongs_to_withdrawn(imports, view.station, view.sequence) ? Outcome{} : take(view);
    }));
    return state;
}

} // namespace guidepin::job

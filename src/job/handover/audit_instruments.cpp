// SPDX-License-Identifier: Apache-2.0
// The audit's look at instruments: which were used, and whether their calibration held on each day of use.
#include "base/text.hpp"
#include "job/handover/audit_looks.hpp"
#include "job/kit/kit_register.hpp"

#include <algorithm>
#include <limits>
#include <map>

#include <fmt/format.h>

namespace guidepin::job::detail {

namespace {

using verdict::ReadingColumns;

/// Links that an instrument measured, by the day; a day on which it took a reference alone has none.
using LinksByDay = std::map<setup::Day, std::set<std::uint32_t>>;

/// Compares every day of use with the latest calibration on that day that the job sheet or the register
/// knows.
void look_at_calibration(Looking const& looking, std::string const& id, std::string const& named,
                         LinksByDay const& links_by_day)
{
    struct Outside
    {
        std::set<std::uint32_t> links;
        std::string day; ///< of the calibration that does not hold
        bool any = false;
    };
    Outside over, before;
    bool unknown = links_by_day.empty() && !calibrated_until(looking.state, id, setup::Day{0});
    for (auto const& [day, links] : links_by_day) {
        auto const found = calibration_for(looking.state, id, day);
        if (!found) continue;
        if (found->made_later) {
            before.links.insert(links.begin(), links.end());
            before.day = day_text(*found->made);
            before.any = true;
        } else if (!found->due) {
            unknown = true;
        } else if (day > *found->due) {
            over.links.insert(links.begin(), links.end());
            over.day = day_text(*found->due);
            over.any = true;
        }
    }
    if (unknown) {
        add(looking.report, "calibration-unknown", id, {},
            fmt::format("{}: the job does not say until when its calibration holds", named));
    }
    auto const measured = [&](std::vector<std::string> const& names) {
        return names.empty() ? std::string{"a reference"} : links_text(names.size()) + ": " + some_of(names);
    };
    std::string const decision =
        calibration_override(looking.state, id, Instant{std::numeric_limits<std::int64_t>::max(), 0});
    std::string const all_the_same =
        decision.empty() ? std::string{} : fmt::format(" (used anyway by decision of {})", decision);
    if (over.any) {
        auto const names = looking.names_of(over.links);
        add(looking.report, "calibration-over", id, names,
            fmt::format("{} was due on {}; after that day it measured {}{}", named, over.day, measured(names),
                        all_the_same));
    }
    if (before.any) {
        auto const names = looking.names_of(before.links);
        add(looking.report, "calibrated-after-use", id, names,
            fmt::format("{} was calibrated on {}; before that day it measured {}{}", named, before.day,
                        measured(names), all_the_same));
    }
}

} // namespace

void look_at_instruments(Looking const& looking)
{
    JobState const& state = looking.state;
    struct Use
    {
        InstrumentRole role = InstrumentRole::source;
        std::set<verdict::ReferenceId> references;
        LinksByDay links_by_day;
    };
    std::map<std::string, Use> uses;
    std::vector<std::string> nameless;
    for (ReferenceEntry const& reference : state.references) {
        for (auto const& [role, id] :
             {std::pair<InstrumentRole, std::string const&>{InstrumentRole::source, reference.kit.source},
              {InstrumentRole::meter, reference.kit.meter}}) {
            if (id.empty()) {
                nameless.push_back(fmt::format("{} names no {}", reference.id, name_of(role)));
                continue;
            }
            Use& use = uses[id];
            use.role = role;
            use.references.insert(reference.id);
            std::int64_t const taken = reference.taken().ms;
            if (taken != ReadingColumns::no_time)
                use.links_by_day[day_of(Instant{taken, state.settings.zone_offset_minutes})];
        }
    }
    for (std::string const& text : nameless) add(looking.report, "instrument-unknown", text, {}, text);
    for (auto& [id, use] : uses) {
        std::string const named = fmt::format("{} {}", name_of(use.role), id);
        bool const known = std::any_of(state.instruments.begin(), state.instruments.end(),
                                       [&id = id, &use = use](Instrument const& instrument) {
                                           return instrument.id == id && instrument.role == use.role;
                                       });
        if (!known) {
            add(looking.report, "instrument-unknown", id, {},
                fmt::format("{} of {} is not in the job's list of instruments", named,
                            fmt::join(use.references, ", ")));
            continue;
        }
        for (std::uint32_t row = 0; row < state.readings.size(); ++row) {
            std::uint32_t const reference = state.readings.reference[row];
            if (reference == verdict::Dictionary::missing) continue;
            if (!use.references.contains(state.readings.references.id(reference))) continue;
            std::int64_t const taken = state.readings.taken_ms[row];
            if (taken == ReadingColumns::no_time) continue;
            use.links_by_day[day_of(Instant{taken, state.settings.zone_offset_minutes})].insert(
                state.readings.link[row]);
        }
        look_at_calibration(looking, id, named, use.links_by_day);
    }
}

} // namespace guidepin::job::detail

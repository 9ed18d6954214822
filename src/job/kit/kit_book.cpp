// SPDX-License-Identifier: Apache-2.0
#include "job/kit/kit_book.hpp"
#include "base/text.hpp"

#include <algorithm>
#include <iterator>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr int pins_of_a_plug = 2; ///< IEC 61754-7: two guide holes, whatever the number of fibres

setup::RegisterLimits limits_of(KitStanding const& standing, setup::RegisterLimits limits)
{
    limits.matings = standing.matings_limit;
    limits.pin_changes = standing.pin_changes_limit;
    return limits;
}

FaceStanding face_standing(JobState const& state, FaceInspected const& inspected)
{
    FaceStanding standing;
    standing.at = inspected.at;
    standing.person = inspected.person;
    standing.type = inspected.seen.type;
    standing.edition = inspected.edition;
    auto const verdict =
        setup::judge_end_face(inspected.seen, state.tables.end_face_zones, inspected.edition);
    if (!verdict) {
        standing.breaches.push_back(verdict.error().message);
        return standing;
    }
    standing.pass = verdict->pass && !inspected.seen.loose_debris;
    for (auto const& breach : verdict->breaches)
        standing.breaches.push_back(
            fmt::format("position {}, zone {}: {}", breach.position, breach.zone, breach.what));
    standing.note = verdict->note;
    return standing;
}

void read_ends(JobState const& state, EndCounts const& matings, std::int64_t from, KitStanding& standing)
{
    KitItem const& item = standing.item;
    for (EndStanding& end : standing.ends) {
        auto const counted = matings.find(std::pair{item.serial, end.end});
        end.matings = item.matings_before + (counted == matings.end() ? 0 : counted->second);
        end.pin_changes = item.pin_changes_before;
        std::optional<Instant> changed;
        for (PinsChanged const& change : state.kit.pin_changes) {
            if (change.item != item.serial || change.end != end.end) continue;
            // What the item's latest entry says of its pins is valid until a later change.
            if (!(change.at < item.at)) end.pins = change.to;
            if (change.at.ms < from) continue;
            end.pins_counted = change.pins_counted;
            if (change.from == change.to) continue;
            changed = change.at;
            ++end.pin_changes;
        }
        for (FaceInspected const& inspected : state.kit.inspections) {
            if (inspected.seen.item != item.serial || inspected.seen.end != end.end || inspected.at.ms < from)
                continue;
            end.face = face_standing(state, inspected);
            end.face->outdated = changed && inspected.at < *changed;
        }
        standing.matings = std::max(standing.matings, end.matings);
        standing.pin_changes = std::max(standing.pin_changes, end.pin_changes);
    }
}

setup::ItemHistory history_of(KitStanding const& standing)
{
    setup::ItemHistory history;
    history.serial = standing.item.serial;
    history.matings = standing.matings;
    history.pin_changes = standing.pin_changes;
    bool all = !standing.ends.empty(), any_bad = false;
    for (EndStanding const& end : standing.ends) {
        bool const counts = end.face && !end.face->outdated;
        all = all && counts && end.face->pass;
        any_bad = any_bad || (counts && !end.face->pass);
    }
    if (any_bad) {
        history.end_faces_pass = false;
    } else if (all) {
        history.end_faces_pass = true;
    }
    return history;
}

/// Returns the decisions on this item that no later evidence has ended.
std::vector<KitOverride> overrides_in_force(JobState const& state, KitStanding const& standing,
                                            std::vector<KitOverride> const& more)
{
    std::vector<KitOverride> in_force;
    auto const take = [&](KitOverride const& decision, bool fresh) {
        if (decision.item != standing.item.serial) return;
        KitOverride kept = decision;
        std::erase_if(kept.about, [&](setup::FitnessMatter about) {
            if (fresh) return false;
            // A later entry on the item, or a later inspection, is new evidence: a person decides again.
            if (about == setup::FitnessMatter::calibration) return kept.at < standing.item.at;
            bool later = false;
            for (EndStanding const& end : standing.ends)
                later =
                    later || (about == setup::FitnessMatter::end_face && end.face && kept.at < end.face->at);
            for (PinsChanged const& change : state.kit.pin_changes)
                later = later || (about == setup::FitnessMatter::pins && change.item == kept.item &&
                                  kept.at < change.at);
            return later;
        });
        if (!kept.about.empty()) in_force.push_back(std::move(kept));
    };
    for (KitOverride const& decision : state.kit.overrides) take(decision, false);
    for (KitOverride const& decision : more) take(decision, true);
    return in_force;
}

/// Adds the findings that setup::check_fitness() does not know: pins counted, faces older than a pin change.
void own_findings(KitStanding& standing)
{
    std::string const& serial = standing.item.serial;
    auto const refuse = [&](setup::FitnessMatter about, std::string text) {
        for (KitOverride const& decision : standing.overrides) {
            if (std::find(decision.about.begin(), decision.about.end(), about) == decision.about.end())
                continue;
            standing.findings.push_back({serial, setup::Fitness::overridden, std::move(text),
                                         fmt::format("{}: {}", decision.person, decision.reason), about});
            return;
        }
        std::string whole = text + " Override with a reason where it is certain.";
        standing.findings.push_back(
            {serial, setup::Fitness::refused, std::move(whole), "", about, std::move(text)});
    };
    for (EndStanding const& end : standing.ends) {
        if (end.pins_counted && *end.pins_counted != pins_of_a_plug)
            refuse(setup::FitnessMatter::pins,
                   fmt::format("{}: {} pin{} counted after the last change at the {} end, {} belong to a "
                               "plug: a loose pin damages what is mated next. Find it, then count again.",
                               serial, *end.pins_counted, plural_ending(*end.pins_counted), end_name(end.end),
                               pins_of_a_plug));
        if (end.face && end.face->outdated)
            standing.findings.push_back(
                {serial, setup::Fitness::warned,
                 fmt::format(
                     "{}: the pins at the {} end were changed after its last inspection. Inspect it again.",
                     serial, end_name(end.end)),
                 "", setup::FitnessMatter::end_face});
    }
}

} // namespace

setup::RegisterLimits limits_now(JobState const& state)
{
    return state.kit.limits.empty() ? setup::RegisterLimits{} : state.kit.limits.back().limits;
}

KitBook::KitBook(JobState const& state)
    : history_(state)
    , matings_(count_matings(history_))
    , limits_(limits_now(state))
{
}

KitStanding KitBook::standing(std::string_view serial, setup::Day today) const
{
    JobState const& state = history_.state();
    KitStanding standing;
    standing.item = history_.latest(serial);
    standing.registered = history_.is_registered(serial);
    if (standing.item.is_instrument()) {
        Calibration const found = *history_.calibration(serial, today);
        standing.item.calibrated = found.made;
        standing.item.calibration_due = found.due;
    }
    KitItem const& item = standing.item;
    if (item.sort == KitSort::cord) {
        for (int end = 0; end < 2; ++end) {
            EndStanding row;
            row.end = end;
            setup::CordEnd const& plug = item.cord.ends[static_cast<std::size_t>(end)];
            if (plug.plug.family.key != plant::Family::Key::duplex) row.pins = plug.plug.pins;
            row.exchangeable = plug.pins_exchangeable;
            standing.ends.push_back(std::move(row));
        }
    } else if (item.is_instrument()) {
        EndStanding row;
        if (item.port.face.family.key != plant::Family::Key::duplex) row.pins = item.port.face.pins;
        standing.ends.push_back(std::move(row));
    }
    // The limits of the register are for cords. An instrument's port has a limit only if its own entry sets
    // one.
    bool const cord = item.sort == KitSort::cord;
    standing.matings_limit = item.matings_limit ? item.matings_limit
                             : cord             ? limits_.matings
                                                : std::optional<int>{};
    standing.pin_changes_limit = item.pin_changes_limit ? item.pin_changes_limit
                                 : cord                 ? limits_.pin_changes
                                                        : std::optional<int>{};
    read_ends(state, matings_, history_.counts_from(serial), standing);
    return standing;
}

void KitBook::judge(KitStanding& standing, setup::Day today, int wear,
                    std::vector<KitOverride> const& decisions) const
{
    KitItem const& item = standing.item;
    standing.overrides = overrides_in_force(history_.state(), standing, decisions);
    std::vector<setup::Instrument> instruments;
    if (item.is_instrument()) {
        setup::Instrument instrument;
        instrument.serial = item.serial;
        instrument.name = name_of(item.sort);
        instrument.calibrated = item.calibrated;
        instrument.calibration_due = item.calibration_due;
        // A job sheet may leave the date out: the reference then gets a remark.
        if (standing.registered || item.calibration_due) {
            instruments.push_back(std::move(instrument));
        } else {
            standing.findings.push_back(
                {item.serial, setup::Fitness::warned,
                 fmt::format("{} {}: the job sheet does not say until when it is calibrated. Enter the date.",
                             name_of(item.sort), item.serial),
                 "", setup::FitnessMatter::calibration});
        }
    }
    std::vector<setup::Override> overrides;
    for (KitOverride const& decision : standing.overrides)
        overrides.push_back({decision.item, decision.person, decision.reason, decision.about});
    std::vector<setup::ItemHistory> items;
    if (!standing.ends.empty()) {
        items.push_back(history_of(standing));
        items.back().matings += wear;
    }
    setup::RegisterLimits own = limits_of(standing, limits_);
    if (item.is_instrument()) own.end_faces_required = false; // many ports cannot be inspected
    auto found = setup::check_fitness(instruments, items, own, today, overrides);
    std::move(found.begin(), found.end(), std::back_inserter(standing.findings));
    own_findings(standing);
    for (setup::FitnessFinding const& finding : standing.findings) {
        // Refused is worst, then overridden: a person is responsible for it.
        auto const weight = [](setup::Fitness fitness) {
            return fitness == setup::Fitness::refused      ? 3
                   : fitness == setup::Fitness::overridden ? 2
                   : fitness == setup::Fitness::warned     ? 1
                                                           : 0;
        };
        if (weight(finding.fitness) > weight(standing.fitness)) standing.fitness = finding.fitness;
    }
}

} // namespace guidepin::job

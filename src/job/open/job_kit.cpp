// SPDX-License-Identifier: Apache-2.0
// What people do with the kit of a job.
#include "job/kit/kit_register.hpp"
#include "job/open/inside.hpp"

#include <algorithm>

namespace guidepin::job {

namespace {

/// What the file does not say of an item stays as it was said last.
void keep_what_is_known(KitStanding const& known, KitItem& item)
{
    KitItem const& last = known.item;
    if (known.registered) {
        item.matings_before = last.matings_before;
        item.pin_changes_before = last.pin_changes_before;
    }
    item.matings_limit = last.matings_limit;
    item.pin_changes_limit = last.pin_changes_limit;
}

/// Pins that were changed since are part of what is known: the same file brought in again changes nothing.
Result<bool> says_nothing_new(KitStanding const& known, std::string const& body)
{
    if (!known.registered) return false;
    KitItem last = known.item;
    last.counts_anew = false;
    TRY_ASSIGN(std::string const last_body, kit_item_body(last));
    return last_body == body;
}

} // namespace

Outcome Job::Inside::decide_kit(Adding& adding, KitFile const& file, KitOutcome& outcome)
{
    KitRegister const before = kit_register(state, day_of(now_of(actor)));
    for (KitItem& item : items_of(file)) {
        KitStanding const* const known = before.find(item.serial);
        if (known) keep_what_is_known(*known, item);
        TRY_ASSIGN(std::string body, kit_item_body(item));
        if (known) {
            TRY_ASSIGN(bool const same, says_nothing_new(*known, body));
            if (same) {
                ++outcome.unchanged;
                continue;
            }
        }
        ++(known ? outcome.replaced : outcome.added);
        TRY(adding.add(kind::kit_item, std::move(body)));
    }
    if (!file.limits) return {};
    TRY_ASSIGN(std::string body, kit_limits_body(*file.limits));
    TRY_ASSIGN(std::string const last, kit_limits_body(before.limits));
    if (!state.kit.limits.empty() && body == last) return {};
    return adding.add(kind::kit_limits, std::move(body));
}

Result<KitOutcome> Job::register_kit(KitFile const& file)
{
    KitOutcome outcome;
    auto const changed =
        inside_->change([&](Adding& adding) { return inside_->decide_kit(adding, file, outcome); });
    TRY(changed);
    return outcome;
}

Outcome Job::alter_item(std::string const& serial, std::function<Outcome(KitItem&)> const& alter)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        TRY_ASSIGN(KitItem item, known_item(serial));
        TRY(alter(item));
        TRY_ASSIGN(std::string body, kit_item_body(item));
        return adding.add(kind::kit_item, std::move(body));
    });
}

Outcome Job::remove_item(std::string const& serial, std::string const& reason)
{
    return alter_item(serial, [&](KitItem& item) -> Outcome {
        if (item.removed)
            return Error{Errc::conflict, fmt::format("{} left the kit already: {}", serial, item.reason)};
        item.removed = true;
        item.reason = reason;
        item.counts_anew = false;
        return {};
    });
}

Outcome Job::renew_item(std::string const& serial, std::string const& reason)
{
    return alter_item(serial, [&](KitItem& item) -> Outcome {
        if (trimmed(reason).empty())
            return Error{Errc::invalid_input,
                         fmt::format("{}: say what was renewed; the reason stays in the record", serial)};
        item.counts_anew = true;
        item.matings_before = 0;
        item.pin_changes_before = 0;
        item.reason = reason;
        return {};
    });
}

Outcome Job::limit_item(std::string const& serial, std::optional<int> matings, std::optional<int> pin_changes)
{
    return alter_item(serial, [&](KitItem& item) -> Outcome {
        item.matings_limit = matings;
        item.pin_changes_limit = pin_changes;
        item.counts_anew = false;
        return {};
    });
}

/// The latest word on an item, with its pins as they are now. Errors: not_found.
Result<KitItem> Job::known_item(std::string const& serial) const
{
    KitRegister const all = kit_register(inside_->state, day_of(now_of(inside_->actor)));
    KitStanding const* const standing = all.find(serial);
    if (!standing) {
        std::vector<std::string> known;
        for (KitStanding const& each : all.items) known.push_back(each.item.serial);
        return Error{Errc::not_found,
                     fmt::format("The kit has no {}{}", serial,
                                 did_you_mean(serial, known, "; register it from a kit file first"))};
    }
    KitItem item = standing->item;
    for (EndStanding const& end : standing->ends) {
        if (item.sort == KitSort::cord && end.pins)
            item.cord.ends[static_cast<std::size_t>(end.end)].plug.pins = *end.pins;
    }
    return item;
}

Outcome Job::change_pins(PinsChanged change)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        TRY_ASSIGN(bool const kept, kept_before(inside_->state.kit.pin_changes, change.key));
        if (kept) return {};
        TRY_ASSIGN(KitItem const item, known_item(change.item));
        if (item.sort != KitSort::cord)
            return Error{Errc::refused, fmt::format("{} is a {}; only the plugs of cords have pins that are "
                                                    "changed in the field",
                                                    item.serial, name_of(item.sort))};
        setup::CordEnd const& end = item.cord.ends[static_cast<std::size_t>(change.end == 0 ? 0 : 1)];
        change.from = end.plug.pins;
        if (end.plug.family.key == plant::Family::Key::duplex)
            return Error{Errc::refused, fmt::format("{}: the {} end is {}, which has no pins", item.serial,
                                                    end_name(change.end), plant::words_of(end.plug.family))};
        if (change.from != change.to && !end.pins_exchangeable)
            return Error{
                Errc::refused,
                fmt::format(
                    "{}: the {} end is not made for changing pins in the field. Where it is, say so in "
                    "the kit file (pins-exchangeable) and register it again",
                    item.serial, end_name(change.end))};
        TRY_ASSIGN(std::string body, pin_change_body(change));
        return adding.add(kind::pin_change, std::move(body));
    });
}

namespace {

/// Type and edition where they were left out; an instrument has one end.
void complete(FaceInspected& inspection, KitItem const& item, facts::Tables const& tables)
{
    if (item.is_instrument()) inspection.seen.end = 0;
    if (inspection.seen.type.empty()) inspection.seen.type = usual_face_type(item, inspection.seen.end);
    if (inspection.edition.empty()) inspection.edition = usual_edition(tables, inspection.seen.type);
}

Outcome require_fibres(FaceInspected const& inspection, KitItem const& item)
{
    plant::ConnectorEnd const& plug = item.sort == KitSort::cord
                                          ? item.cord.ends[static_cast<std::size_t>(inspection.seen.end)].plug
                                          : item.port.face;
    for (setup::ZoneFinding const& finding : inspection.seen.findings) {
        bool const there = finding.position >= 1 && finding.position <= plug.family.positions() &&
                           plug.occupied.test(static_cast<std::size_t>(finding.position - 1));
        if (!there)
            return Error{Errc::invalid_input,
                         fmt::format("{}, {} end: it has no fibre at position {}; fibres are at {}",
                                     item.serial, end_name(inspection.seen.end), finding.position,
                                     plant::occupancy_text(plug.occupied))};
    }
    return {};
}

} // namespace

Outcome Job::inspect_face(FaceInspected inspection)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        JobState const& state = inside_->state;
        TRY_ASSIGN(bool const kept, kept_before(state.kit.inspections, inspection.key));
        if (kept) return {};
        TRY_ASSIGN(KitItem const item, known_item(inspection.seen.item));
        if (item.sort != KitSort::cord && !item.is_instrument())
            return Error{Errc::refused, fmt::format("{} is a {}; it has no end face of its own", item.serial,
                                                    name_of(item.sort))};
        complete(inspection, item, state.tables);
        TRY(require_fibres(inspection, item));
        TRY(setup::judge_end_face(inspection.seen, state.tables.end_face_zones, inspection.edition));
        TRY_ASSIGN(std::string body, inspection_body(inspection));
        return adding.add(kind::inspection, std::move(body));
    });
}

Outcome Job::limit_kit(setup::RegisterLimits const& limits)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        TRY_ASSIGN(std::string body, kit_limits_body(limits));
        return adding.add(kind::kit_limits, std::move(body));
    });
}

Outcome Job::override_item(std::string const& serial, std::string const& reason, std::string const& key)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        JobState const& state = inside_->state;
        TRY_ASSIGN(bool const kept, kept_before(state.kit.overrides, key));
        if (kept) return {};
        TRY_ASSIGN(KitOverride decision, override_now(state, serial, reason, day_of(now_of(inside_->actor))));
        decision.key = key;
        TRY_ASSIGN(std::string body, kit_override_body(decision));
        return adding.add(kind::kit_override, std::move(body));
    });
}

} // namespace guidepin::job

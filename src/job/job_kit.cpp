// SPDX-License-Identifier: Apache-2.0
// What people do with the kit of a job.
#include "job/inside.hpp"
#include "job/kit_register.hpp"

#include <algorithm>

namespace guidepin::job {

namespace {

/// Has an entry with this key come before?
template <class Entry>
bool kept_before(std::vector<Entry> const& entries, std::string const& key)
{
    return !key.empty() &&
           std::any_of(entries.begin(), entries.end(), [&](Entry const& entry) { return entry.key == key; });
}

} // namespace

Result<KitOutcome> Job::register_kit(KitFile const& file)
{
    Inside& inside = *inside_;
    KitRegister const before = kit_register(inside.state, day_of(now_of(inside.actor)));
    KitOutcome outcome;
    std::vector<record::Draft> drafts;
    std::vector<KitItem> kept;
    for (KitItem& item : items_of(file)) {
        KitStanding const* const known = before.find(item.serial);
        if (known) {
            // What the file does not say of an item stays as it was said last.
            KitItem const& last = known->item;
            if (known->registered) {
                item.matings_before = last.matings_before;
                item.pin_changes_before = last.pin_changes_before;
            }
            item.matings_limit = last.matings_limit;
            item.pin_changes_limit = last.pin_changes_limit;
        }
        TRY_ASSIGN(std::string body, kit_item_body(item));
        if (known && known->registered) {
            // Pins that were changed since count as said: the same file brought in again changes nothing.
            KitItem last = known->item;
            last.counts_anew = false;
            TRY_ASSIGN(std::string const last_body, kit_item_body(last));
            if (last_body == body) {
                ++outcome.unchanged;
                continue;
            }
        }
        ++(known ? outcome.replaced : outcome.added);
        drafts.push_back(inside.draft(kind::kit_item, std::move(body)));
    }
    if (file.limits) {
        TRY_ASSIGN(std::string body, kit_limits_body(*file.limits));
        TRY_ASSIGN(std::string const last, kit_limits_body(before.limits));
        if (inside.state.kit.limits.empty() || body != last)
            drafts.push_back(inside.draft(kind::kit_limits, std::move(body)));
    }
    if (drafts.empty()) return outcome;
    TRY(keep_kit(std::move(drafts)));
    return outcome;
}

/// Items decide what references may rest on: verdicts are made anew in the same change.
Outcome Job::keep_kit(std::vector<record::Draft> drafts)
{
    Inside& inside = *inside_;
    for (record::Draft const& draft : drafts) {
        if (draft.kind == kind::kit_item) {
            TRY_ASSIGN(KitItem item, kit_item_of(draft.body));
            item.at = draft.time;
            item.person = draft.operator_name;
            inside.state.add_kit_item(std::move(item));
        } else if (draft.kind == kind::kit_override) {
            TRY_ASSIGN(KitOverride decision, kit_override_of(draft.body));
            decision.at = draft.time;
            decision.person = draft.operator_name;
            inside.state.kit.overrides.push_back(std::move(decision));
        } else if (draft.kind == kind::pin_change) {
            TRY_ASSIGN(PinsChanged change, pin_change_of(draft.body));
            change.at = draft.time;
            change.person = draft.operator_name;
            inside.state.kit.pin_changes.push_back(std::move(change));
        }
    }
    auto const kept = inside.keep(drafts);
    TRY(inside.reload());
    return kept;
}

Outcome Job::say_of_item(KitItem const& item)
{
    TRY_ASSIGN(std::string body, kit_item_body(item));
    return keep_kit({inside_->draft(kind::kit_item, std::move(body))});
}

Outcome Job::remove_item(std::string const& serial, std::string const& reason)
{
    TRY_ASSIGN(KitItem item, known_item(serial));
    if (item.removed)
        return Error{Errc::conflict, fmt::format("{} left the kit already: {}", serial, item.reason)};
    item.removed = true;
    item.reason = reason;
    item.counts_anew = false;
    return say_of_item(item);
}

Outcome Job::renew_item(std::string const& serial, std::string const& reason)
{
    TRY_ASSIGN(KitItem item, known_item(serial));
    if (trimmed(reason).empty())
        return Error{Errc::invalid_input,
                     fmt::format("{}: say what was renewed; the reason stays in the record", serial)};
    item.counts_anew = true;
    item.matings_before = 0;
    item.pin_changes_before = 0;
    item.reason = reason;
    return say_of_item(item);
}

Outcome Job::limit_item(std::string const& serial, std::optional<int> matings, std::optional<int> pin_changes)
{
    TRY_ASSIGN(KitItem item, known_item(serial));
    item.matings_limit = matings;
    item.pin_changes_limit = pin_changes;
    item.counts_anew = false;
    return say_of_item(item);
}

/// The latest word on an item, with its pins as they are now. Errors: not_found.
Result<KitItem> Job::known_item(std::string const& serial) const
{
    KitRegister const all = kit_register(inside_->state, day_of(now_of(inside_->actor)));
    KitStanding const* const standing = all.find(serial);
    if (!standing) {
        std::vector<std::string> known;
        for (KitStanding const& each : all.items) known.push_back(each.item.serial);
        auto const near = nearest(serial, known);
        return Error{Errc::not_found,
                     fmt::format("The kit has no {}{}", serial,
                                 near.empty() ? "; register it from a kit file first"
                                              : "; did you mean " + joined(near, ", ") + "?")};
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
    Inside& inside = *inside_;
    if (kept_before(inside.state.kit.pin_changes, change.key)) return {};
    TRY_ASSIGN(KitItem const item, known_item(change.item));
    if (item.sort != KitSort::cord)
        return Error{Errc::refused, fmt::format("{} is a {}; only the plugs of cords have pins that are "
                                                "changed in the field",
                                                item.serial, name_of(item.sort))};
    setup::CordEnd const& end = item.cord.ends[static_cast<std::size_t>(change.end == 0 ? 0 : 1)];
    change.from = end.plug.pins;
    if (end.plug.family.key == plant::Family::Key::duplex)
        return Error{Errc::refused, fmt::format("{}: the {} end is {}, which has no pins", item.serial,
                                                end_name(change.end), end.plug.family.name())};
    if (change.from != change.to && !end.pins_exchangeable)
        return Error{
            Errc::refused,
            fmt::format("{}: the {} end is not made for changing pins in the field. Where it is, say so in "
                        "the kit file (pins-exchangeable) and register it again",
                        item.serial, end_name(change.end))};
    TRY_ASSIGN(std::string body, pin_change_body(change));
    return keep_kit({inside.draft(kind::pin_change, std::move(body))});
}

Outcome Job::inspect_face(FaceInspected inspection)
{
    Inside& inside = *inside_;
    if (kept_before(inside.state.kit.inspections, inspection.key)) return {};
    TRY_ASSIGN(KitItem const item, known_item(inspection.seen.item));
    if (item.sort != KitSort::cord && !item.is_instrument())
        return Error{Errc::refused, fmt::format("{} is a {}; it has no end face of its own", item.serial,
                                                name_of(item.sort))};
    if (item.is_instrument()) inspection.seen.end = 0;
    if (inspection.seen.type.empty()) inspection.seen.type = usual_face_type(item, inspection.seen.end);
    if (inspection.edition.empty())
        inspection.edition = usual_edition(inside.state.tables, inspection.seen.type);
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
    TRY(setup::judge_end_face(inspection.seen, inside.state.tables.end_face_zones, inspection.edition));
    TRY_ASSIGN(std::string body, inspection_body(inspection));
    return keep_aside(inside.draft(kind::inspection, std::move(body)));
}

Outcome Job::limit_kit(setup::RegisterLimits const& limits)
{
    TRY_ASSIGN(std::string body, kit_limits_body(limits));
    return keep_aside(inside_->draft(kind::kit_limits, std::move(body)));
}

Outcome Job::override_item(std::string const& serial, std::string const& reason, std::string const& key)
{
    Inside& inside = *inside_;
    if (kept_before(inside.state.kit.overrides, key)) return {};
    TRY_ASSIGN(KitOverride decision,
               override_now(inside.state, serial, reason, day_of(now_of(inside.actor))));
    decision.key = key;
    TRY_ASSIGN(std::string body, kit_override_body(decision));
    return keep_kit({inside.draft(kind::kit_override, std::move(body))});
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "job/kit/reference_kit.hpp"

#include "base/text.hpp"
#include "job/sheet/kit_file.hpp"
#include "setup/kit.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <set>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using plant::Pins;
using verdict::Severity;

/// An end as it may have been at that time.
struct MaybeEnd
{
    plant::ConnectorEnd end;
    std::string pin_change; ///< what would have to be changed first; empty: nothing
};

/// A thing in the light path, and the ends by which light may have gone in and out.
struct Item
{
    std::string name; ///< "launch cord L-1"
    bool known = false;
    bool stated = false;                                    ///< somebody stated its ends
    plant::KeyRelation keys = plant::KeyRelation::aligned;  ///< of a port
    std::vector<std::array<std::vector<MaybeEnd>, 2>> ways; ///< towards the source, towards the meter
};

KitItem const* registered(JobState const& state, KitSort sort, std::string const& serial)
{
    KitItem const* found = nullptr;
    for (KitItem const& item : state.kit.items) {
        if (item.sort == sort && item.serial == serial) found = &item;
    }
    return found;
}

Item instrument_item(JobState const& state, InstrumentRole role, std::string const& serial)
{
    Item item;
    item.name = fmt::format("{} {}", name_of(role), serial);
    KitSort const sort = role == InstrumentRole::meter ? KitSort::meter : KitSort::source;
    setup::Port port;
    if (KitItem const* const known = registered(state, sort, serial)) {
        item.known = item.stated = true;
        port = known->port;
    } else if (Instrument const* const listed = state.instrument(role, serial)) {
        auto const family = plant::parse_family(listed->family);
        if (!family) return item;
        item.known = true;
        item.stated = listed->ends_stated;
        port = setup::port_of(*family, listed->pins, listed->face);
    }
    item.keys = port.keys;
    std::vector<MaybeEnd> const ends{{port.face, ""}};
    item.ways.push_back({ends, ends});
    return item;
}

/// Returns an end with each pin state that the records name, and with the other one if its pins are
/// exchangeable.
std::vector<MaybeEnd> ends_of(JobState const& state, KitItem const& item, int end, std::string const& name)
{
    setup::CordEnd const& registered_end = item.cord.ends[static_cast<std::size_t>(end)];
    std::set<Pins> seen{registered_end.plug.pins};
    for (PinsChanged const& change : state.kit.pin_changes) {
        if (change.item != item.serial || change.end != end) continue;
        seen.insert(change.from);
        seen.insert(change.to);
    }
    std::vector<MaybeEnd> ends;
    for (Pins const pins : seen) {
        ends.push_back({registered_end.plug, ""});
        ends.back().end.pins = pins;
    }
    Pins const other = plant::complement(registered_end.plug.pins);
    if (registered_end.pins_exchangeable && !seen.contains(other)) {
        ends.push_back({registered_end.plug, fmt::format("the {} end of {} {}", end == 0 ? "near" : "far",
                                                         name, plant::name_of(other))});
        ends.back().end.pins = other;
    }
    return ends;
}

Item cord_item(JobState const& state, setup::Role role, std::string const& serial)
{
    Item item;
    item.name = fmt::format("{} cord {}", setup::name_of(role), serial);
    if (KitItem const* const known = registered(state, KitSort::cord, serial)) {
        item.known = item.stated = true;
        auto const near = ends_of(state, *known, 0, item.name), far = ends_of(state, *known, 1, item.name);
        item.ways = {{near, far}, {far, near}};
        return item;
    }
    Cord const* const listed = state.cord(serial);
    if (!listed) return item;
    auto const family = plant::parse_family(listed->family);
    if (!family) return item;
    item.known = true;
    item.stated = listed->ends_stated;
    std::array<std::vector<MaybeEnd>, 2> ends;
    for (std::size_t end = 0; end < 2; ++end) {
        Pins const pins = end == 0 ? listed->pins_near : listed->pins_far;
        ends[end].push_back({setup::plug_of(*family, pins, listed->face), ""});
        if (!listed->exchangeable_pins) continue;
        Pins const other = plant::complement(pins);
        ends[end].push_back({setup::plug_of(*family, other, listed->face),
                             fmt::format("the {} end of {} {}", end == 0 ? "near" : "far", item.name,
                                         plant::name_of(other))});
    }
    // A tail has its near end at the meter; other cords have theirs towards the source.
    if (role == setup::Role::tail) std::swap(ends[0], ends[1]);
    item.ways.push_back(ends);
    return item;
}

/// Returns what is wrong with the joint; empty if it carries light.
std::string fault_of(Item const& left, plant::ConnectorEnd const& a, Item const& right,
                     plant::ConnectorEnd const& b)
{
    bool const at_port = a.kind == plant::EndKind::port || b.kind == plant::EndKind::port;
    if (at_port) {
        // A port that does not touch the plug takes any pins and any face of its family.
        bool const neutral = a.pins == Pins::neutral || b.pins == Pins::neutral;
        if (neutral && a.family.key == b.family.key) return {};
        auto const keys = a.kind == plant::EndKind::port ? left.keys : right.keys;
        auto const verdict = plant::mate(a, b, keys);
        return verdict.valid_optical_joint() ? std::string{} : verdict.text();
    }
    // The adapter between two cords is not recorded: any adapter that fits counts.
    auto const opposed = plant::mate(a, b, plant::KeyRelation::opposed);
    if (opposed.valid_optical_joint() || plant::mate(a, b, plant::KeyRelation::aligned).valid_optical_joint())
        return {};
    return opposed.text();
}

/// Finds the arrangement with the fewest pin changes. None if a joint is impossible.
class Arrangement
{
  public:
    explicit Arrangement(std::vector<Item> const& path)
        : path_(path)
    {
        for (MaybeEnd const& out : path.front().ways.front()[1]) go_on(1, out, {});
    }
    std::optional<std::vector<std::string>> const& pin_changes() const { return best_; }

  private:
    void go_on(std::size_t index, MaybeEnd const& out, std::vector<std::string> changes)
    {
        if (!out.pin_change.empty()) changes.push_back(out.pin_change);
        if (best_ && best_->size() <= changes.size()) return;
        if (index == path_.size()) {
            best_ = std::move(changes);
            return;
        }
        for (auto const& way : path_[index].ways) {
            for (MaybeEnd const& in : way[0]) {
                if (!fault_of(path_[index - 1], out.end, path_[index], in.end).empty()) continue;
                auto further = changes;
                if (!in.pin_change.empty()) further.push_back(in.pin_change);
                if (index + 1 == path_.size()) {
                    if (!best_ || further.size() < best_->size()) best_ = std::move(further);
                    continue;
                }
                for (MaybeEnd const& next : way[1]) go_on(index + 1, next, further);
            }
        }
    }

    std::vector<Item> const& path_;
    std::optional<std::vector<std::string>> best_;
};

/// A joint that is impossible with any orientation and any pins: both things, and why.
struct Fault
{
    Item const* left;
    Item const* right;
    std::string why;
};
std::vector<Fault> faults_of(std::vector<Item> const& path)
{
    std::vector<Fault> faults;
    for (std::size_t i = 1; i < path.size(); ++i) {
        std::string why;
        bool possible = false;
        for (auto const& left : path[i - 1].ways) {
            for (MaybeEnd const& a : left[1]) {
                for (auto const& right : path[i].ways) {
                    for (MaybeEnd const& b : right[0]) {
                        std::string const fault = fault_of(path[i - 1], a.end, path[i], b.end);
                        if (fault.empty()) possible = true;
                        if (why.empty()) why = fault;
                    }
                }
            }
        }
        if (!possible) faults.push_back({&path[i - 1], &path[i], why});
    }
    return faults;
}

void look_at_joints(std::vector<Item> const& path, std::vector<verdict::Reason>& reasons)
{
    Arrangement const arrangement(path);
    if (auto const& changes = arrangement.pin_changes()) {
        if (changes->empty()) return;
        reasons.push_back({"reference.pins-changed", Severity::remark,
                           fmt::format("The kit fits together only with {}; nothing on record says that the "
                                       "pins were changed.",
                                       joined(*changes, " and ")),
                           "Record the pin change, or correct what the kit says of the cord.", "",
                           std::nullopt});
        return;
    }
    auto const faults = faults_of(path);
    for (Fault const& fault : faults) {
        bool const stated = fault.left->stated && fault.right->stated;
        reasons.push_back(
            {stated ? "reference.kit-does-not-mate" : "reference.kit-not-stated",
             stated ? Severity::refuse : Severity::remark,
             stated
                 ? fmt::format("The {} and the {} do not mate: {}.", fault.left->name, fault.right->name,
                               fault.why)
                 : fmt::format("The {} and the {} would not mate with their usual ends ({}); nobody stated "
                               "the ends of both.",
                               fault.left->name, fault.right->name, fault.why),
             stated ? "Correct the kit of the reference, or what the job says of the ends, and take the "
                      "reference again."
                    : "Register both with their ends.",
             "", std::nullopt});
    }
    if (!faults.empty()) return;
    bool const stated = std::all_of(path.begin(), path.end(), [](Item const& item) { return item.stated; });
    std::vector<std::string> names;
    for (Item const& item : path) names.push_back(item.name);
    reasons.push_back({stated ? "reference.kit-does-not-mate" : "reference.kit-not-stated",
                       stated ? Severity::refuse : Severity::remark,
                       fmt::format("{} cannot all be mated in this order, whichever way round the cords are.",
                                   joined(names, ", ")),
                       "Correct the kit of the reference, or what the job says of the ends.", "",
                       std::nullopt});
}

void look_at_cords(TestKit const& kit, setup::ReferenceMethod method, std::vector<verdict::Reason>& reasons)
{
    std::array const cords{std::pair{"launch cord", &kit.launch}, std::pair{"tail cord", &kit.tail},
                           std::pair{"substitution cord", &kit.substitution}};
    for (std::size_t i = 0; i < cords.size(); ++i) {
        for (std::size_t k = i + 1; k < cords.size(); ++k) {
            if (cords[i].second->empty() || *cords[i].second != *cords[k].second) continue;
            reasons.push_back({"reference.same-item", Severity::refuse,
                               fmt::format("{} is named as the {} and as the {}: one cord cannot be both.",
                                           *cords[i].second, cords[i].first, cords[k].first),
                               "Name each cord by its own label.", "", std::nullopt});
        }
    }
    auto const missing = [&](char const* cord) {
        reasons.push_back({"reference.cord-missing", Severity::refuse,
                           fmt::format("A {} uses a {}, and none is named.", setup::words_of(method), cord),
                           fmt::format("Name the {}, or the method that was used.", cord), "", std::nullopt});
    };
    // A cord that fits the launch cord's pins to the meter may replace the tail.
    if (method == setup::ReferenceMethod::two_cord && kit.tail.empty() && kit.substitution.empty())
        missing("tail cord");
    if (method == setup::ReferenceMethod::three_cord) {
        if (kit.substitution.empty()) missing("substitution cord");
        if (kit.tail.empty()) missing("tail cord");
    }
}

void look_at_wavelengths(JobState const& state, ReferenceEntry const& reference,
                         std::vector<verdict::Reason>& reasons)
{
    for (auto const& [sort, serial] : {std::pair{KitSort::source, &reference.kit.source},
                                       std::pair{KitSort::meter, &reference.kit.meter}}) {
        KitItem const* const item = registered(state, sort, *serial);
        if (!item || item->wavelengths.empty()) continue;
        std::set<std::string> others, own;
        for (Nanometres const nm : item->wavelengths) own.insert(fmt::format("{}", nm.value()));
        for (std::uint16_t const nm : reference.wavelength_nm) {
            std::string const text = fmt::format("{}", nm);
            if (!own.contains(text)) others.insert(text);
        }
        if (others.empty()) continue;
        reasons.push_back({"reference.wavelength-not-of-instrument", Severity::refuse,
                           fmt::format("The reference holds {} nm; the {} {} is registered for {} nm.",
                                       joined({others.begin(), others.end()}, ", "), name_of(sort), *serial,
                                       joined({own.begin(), own.end()}, ", ")),
                           "Name the instrument that was used, or correct its wavelengths in the register.",
                           "", std::nullopt});
    }
}

} // namespace

std::vector<verdict::Reason> kit_reasons(JobState const& state, ReferenceEntry const& reference)
{
    std::vector<verdict::Reason> reasons;
    TestKit const& kit = reference.kit;
    auto const method = setup::parse_reference_method(reference.method).value_or(state.settings.method);
    look_at_cords(kit, method, reasons);
    bool const doubled = std::any_of(reasons.begin(), reasons.end(),
                                     [](auto const& r) { return r.severity == Severity::refuse; });
    look_at_wavelengths(state, reference, reasons);
    if (doubled) return reasons;

    std::vector<Item> path;
    path.push_back(instrument_item(state, InstrumentRole::source, kit.source));
    path.push_back(cord_item(state, setup::Role::launch, kit.launch));
    if (method == setup::ReferenceMethod::three_cord)
        path.push_back(cord_item(state, setup::Role::substitution, kit.substitution));
    std::vector<Item> other = path;
    if (method != setup::ReferenceMethod::one_cord && !kit.tail.empty())
        path.push_back(cord_item(state, setup::Role::tail, kit.tail));
    else if (method == setup::ReferenceMethod::two_cord)
        path.push_back(cord_item(state, setup::Role::substitution, kit.substitution));
    path.push_back(instrument_item(state, InstrumentRole::meter, kit.meter));
    // An item that the job does not know has a reason of its own, which refuses.
    auto const known = [](Item const& item) { return item.known && !item.ways.empty(); };
    if (!std::all_of(path.begin(), path.end(), known)) return reasons;
    if (method == setup::ReferenceMethod::two_cord && !kit.tail.empty() && !kit.substitution.empty()) {
        // Either of the two may have been between launch cord and meter.
        other.push_back(cord_item(state, setup::Role::substitution, kit.substitution));
        other.push_back(path.back());
        if (std::all_of(other.begin(), other.end(), known)) {
            auto const changes = Arrangement(other).pin_changes();
            if (changes && changes->empty()) return reasons;
        }
    }
    look_at_joints(path, reasons);
    return reasons;
}

} // namespace guidepin::job

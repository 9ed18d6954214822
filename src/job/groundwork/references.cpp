// SPDX-License-Identifier: Apache-2.0
#include "job/groundwork/references.hpp"

#include "job/entry/set_up_record.hpp"
#include "job/groundwork/reference_cover.hpp"
#include "job/kit/kit_history.hpp"
#include "job/kit/reference_kit.hpp"
#include "job/sheet/kit_file.hpp"
#include "job/state/link_limits.hpp"
#include "plant/presets.hpp"

#include <algorithm>
#include <limits>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

facts::FibreKind kind_of_wavelengths(std::vector<std::uint16_t> const& wavelengths)
{
    // Multimode is measured at 850, 953 and 1300 nm, single-mode from 1310 nm up (IEC 61280-4-1, -4-2).
    bool const multimode =
        std::any_of(wavelengths.begin(), wavelengths.end(), [](int nm) { return nm <= 1300; });
    return multimode ? facts::FibreKind::multimode : facts::FibreKind::single_mode;
}

verdict::ItemUsed instrument_used(KitHistory const& history, InstrumentRole role, std::string const& id,
                                  ReferenceEntry const& reference)
{
    JobState const& state = history.state();
    verdict::ItemUsed item;
    item.role = name_of(role);
    item.id = id;
    item.needs_calibration = true;
    item.known = state.instrument(role, id) != nullptr;
    if (!item.known) return item;
    Instant const used{reference.taken().ms, state.settings.zone_offset_minutes};
    if (auto const until = calibrated_until(history, id, day_of(used)))
        item.calibrated_until =
            parse_instant(day_text(*until) + "T23:59:59", state.settings.zone_offset_minutes);
    item.calibration_override = calibration_override(state, id, reference.recorded);
    return item;
}

verdict::ItemUsed cord_used(JobState const& state, setup::Role role, std::string const& id)
{
    verdict::ItemUsed item;
    item.role = fmt::format("{} cord", setup::name_of(role));
    item.id = id;
    item.known = state.cord(id) != nullptr;
    return item;
}

Cord const* find_cord(JobState const& state, std::string const& id)
{
    return state.cord(id);
}

/// Adds a remark if some links cannot be measured under the reference although others can.
void add_lacking(Coverage const& coverage, char const* of, char const* what, char const* what_to_do,
                 std::vector<verdict::Reason>& reasons)
{
    // A missing position that is needed already has a reason that refuses.
    std::string const refused = fmt::format("{}.incomplete", of);
    bool const is_refused = std::any_of(reasons.begin(), reasons.end(),
                                        [&](verdict::Reason const& reason) { return reason.id == refused; });
    if (is_refused || coverage.lacking.none()) return;
    reasons.push_back({fmt::format("{}.positions-not-covered", of), verdict::Severity::remark,
                       fmt::format("No {} for positions {} of {}: readings there are held.", what,
                                   plant::occupancy_text(coverage.lacking), coverage.lacking_for),
                       what_to_do, "", std::nullopt});
}

Result<verdict::ReferenceAssessment> assess_reference(KitHistory const& history,
                                                      ReferenceEntry const& reference,
                                                      ReferenceCover const& cover,
                                                      std::vector<LinkNeed> const& needs)
{
    JobState const& state = history.state();
    std::vector<verdict::ReferencePower> powers;
    for (std::size_t i = 0; i < reference.size(); ++i) {
        verdict::ReferencePower power;
        power.position = reference.position[i];
        power.wavelength = Nanometres{reference.wavelength_nm[i]};
        power.power = Dbm{reference.power_dbm[i]};
        if (reference.taken_ms[i] != verdict::ReadingColumns::no_time)
            power.taken = Instant{reference.taken_ms[i], reference.offset_minutes};
        powers.push_back(power);
    }
    facts::FibreKind const kind = kind_of_wavelengths(reference.wavelength_nm);
    Coverage const coverage =
        coverage_of(cover, needs, kind, cover.powers.all(), state.settings.directions == 2);
    verdict::ReferenceQuestion question{
        .id = reference.id,
        .powers = powers,
        .wavelengths = required_wavelengths(state.settings.wavelengths, state.rules, kind),
        .occupied = coverage.possible,
        .needed = coverage.needed,
        .kind = kind,
        .source = instrument_used(history, InstrumentRole::source, reference.kit.source, reference),
        .meter = instrument_used(history, InstrumentRole::meter, reference.kit.meter, reference),
        .cords = {cord_used(state, setup::Role::launch, reference.kit.launch)},
        .warm_up_minutes = {},
        .warm_up_by_maker_minutes = {},
        .taken = {},
        .at = {},
        .max_age_hours = state.settings.reference_age_hours,
        .earlier = {},
        .tables = &state.tables};
    if (!reference.kit.tail.empty())
        question.cords.push_back(cord_used(state, setup::Role::tail, reference.kit.tail));
    if (!reference.kit.substitution.empty())
        question.cords.push_back(cord_used(state, setup::Role::substitution, reference.kit.substitution));
    TRY_ASSIGN(auto assessment, verdict::check_reference(question));
    add_lacking(coverage, "reference", "power",
                "Take a reference over all positions before these are measured.", assessment.reasons);
    for (verdict::Reason& reason : kit_reasons(state, reference))
        assessment.reasons.push_back(std::move(reason));
    assessment.state = verdict::acceptance_of(assessment.reasons);
    return assessment;
}

/// Returns the map from launch plug to tail plug through adapters of these keys: one adapter, or two with a
/// known cord between them.
std::optional<plant::PositionMap> joined_map(Cord const& launch, Cord const* known, plant::KeyRelation keys)
{
    auto const family = plant::parse_family(launch.family);
    if (!family) return std::nullopt;
    plant::PositionMap const joint = plant::adapter_map(keys, *family);
    if (!known) return joint;
    auto const cord = plant::cable_map(known->type, *family);
    if (!cord) return std::nullopt;
    return joint.then(*cord).then(joint);
}

/// Returns that map along the line of light that a set-up plans for the check of these cords. None if the
/// plan is for other cords.
std::optional<plant::PositionMap> planned_map(JobState const& state, TestKit const& kit, Cord const& launch,
                                              drawing::LightPath const& path)
{
    auto const family = plant::parse_family(launch.family);
    std::vector<std::size_t> cords;
    for (std::size_t i = 0; i < path.bodies.size(); ++i) {
        if (path.bodies[i].kind == drawing::BodyKind::cord) cords.push_back(i);
    }
    if (!family || cords.size() < 2 || cords.size() > 3 || path.bodies[cords.front()].serial != kit.launch ||
        (!kit.tail.empty() && path.bodies[cords.back()].serial != kit.tail))
        return std::nullopt;
    // A cord between the two has to be the one that the kit names.
    std::string const between = cords.size() == 3 ? path.bodies[cords[1]].serial : std::string{};
    if (!kit.substitution.empty() && between != kit.substitution) return std::nullopt;
    plant::PositionMap map;
    for (std::size_t k = 0; k + 1 < cords.size(); ++k) {
        if (cords[k + 1] != cords[k] + 1 || cords[k] >= path.joints.size()) return std::nullopt;
        plant::PositionMap const joint = plant::adapter_map(path.joints[cords[k]].keys, *family);
        if (k == 0) {
            map = joint;
            continue;
        }
        Cord const* const known = state.cord(between);
        auto const cord = known ? plant::cable_map(known->type, *family)
                                : Result<plant::PositionMap>{Error{Errc::not_found, ""}};
        if (!cord) return std::nullopt;
        map = map.then(*cord).then(joint);
    }
    return map;
}

/// Returns the map that the latest set-up chosen for these cords by then plans. None if none was chosen.
std::optional<plant::PositionMap> planned_check_map(JobState const& state, TestKit const& kit,
                                                    Cord const& launch, Instant by)
{
    for (auto chosen = state.setups.rbegin(); chosen != state.setups.rend(); ++chosen) {
        if (by < chosen->at) continue;
        auto const sheet = setup_of(chosen->body);
        if (!sheet) continue;
        for (SheetPhase const& phase : sheet->phases) {
            if (phase.phase != setup::Phase::check || !phase.path) continue;
            if (auto map = planned_map(state, kit, launch, *phase.path)) return map;
        }
    }
    return std::nullopt;
}

/// Returns where light should arrive. Without a plan, any adapter counts with which the plugs can meet. The
/// aligned adapter counts only if it alone explains what was measured, and then `said` gets a remark.
std::optional<plant::PositionMap> expected_check_map(JobState const& state, TestKit const& kit,
                                                     ReferenceCover const& cover, CordCheckEntry const& check,
                                                     std::vector<verdict::Reason>& said)
{
    Cord const* const launch = find_cord(state, kit.launch);
    if (!launch) return std::nullopt;
    Cord const* const known = find_cord(state, kit.substitution);
    if (auto planned = planned_check_map(state, kit, *launch, check.taken())) return planned;
    auto const opposed = joined_map(*launch, known, plant::KeyRelation::opposed);
    // Ordinary angled plugs do not meet with their keys aligned (IEC 61754-7).
    bool const angled =
        !cover.faces.empty() && std::all_of(cover.faces.begin(), cover.faces.end(),
                                            [](plant::Face face) { return face == plant::Face::angled; });
    auto const aligned = angled ? std::nullopt : joined_map(*launch, known, plant::KeyRelation::aligned);
    auto const says = [&](plant::PositionMap const& map) {
        bool any = false;
        for (std::size_t i = 0; i < check.size(); ++i) {
            if (check.far_position[i] <= 0) continue;
            if (map.at(check.position[i]) != check.far_position[i]) return false;
            any = true;
        }
        return any;
    };
    if (!opposed || !aligned || says(*opposed) || !says(*aligned)) return opposed;
    said.push_back(
        {"cord-check.aligned-adapter", verdict::Severity::remark,
         "The light arrives as through an adapter with aligned keys; no chosen set-up says which adapter "
         "was meant.",
         "Look at the adapter, then choose the set-up that you work by.", "", std::nullopt});
    return aligned;
}

std::vector<verdict::CordReading> readings_of(CordCheckEntry const& check)
{
    std::vector<verdict::CordReading> readings;
    for (std::size_t i = 0; i < check.size(); ++i) {
        readings.push_back({check.position[i], check.far_position[i], Nanometres{check.wavelength_nm[i]},
                            Decibel{check.attenuation_db[i]}, check.length_m[i]});
    }
    return readings;
}

/// Returns the check of the same reference that came before, or nullptr.
CordCheckEntry const* earlier_check(JobState const& state, CordCheckEntry const& check)
{
    CordCheckEntry const* earlier = nullptr;
    for (CordCheckEntry const& other : state.checks) {
        if (&other == &check || other.reference != check.reference || !(other.taken() < check.taken()))
            continue;
        if (!earlier || earlier->taken() < other.taken()) earlier = &other;
    }
    return earlier;
}

/// Returns the needs of a check. If a link needs positions that the reference lacks, the reference has a
/// reason of its own and the check ignores that link.
std::vector<LinkNeed> within(std::vector<LinkNeed> needs, plant::Occupancy const& held)
{
    for (LinkNeed& need : needs) {
        if ((need.near_used & ~held).any()) need.near_used.reset();
        if ((need.far_used & ~held).any()) need.far_used.reset();
    }
    return needs;
}

Result<verdict::CordAssessment> assess_check(JobState const& state, Groundwork const& ground,
                                             CordCheckEntry const& check, std::vector<LinkNeed> const& needs)
{
    auto const readings = readings_of(check);
    plant::Occupancy held;
    for (auto const position : check.position) held.set(static_cast<std::size_t>(position - 1));
    ReferenceEntry const* reference = nullptr;
    ReferenceCover cover;
    if (auto const found = state.reference_index.find(check.reference);
        found != state.reference_index.end()) {
        reference = &state.references[found->second];
        cover = ground.covers[found->second];
    }
    TestKit const kit = reference ? reference->kit : TestKit{};
    Cord const* const launch = find_cord(state, kit.launch);
    std::vector<verdict::Reason> said;
    auto expected = expected_check_map(state, kit, cover, check, said);
    Cord const* const tail = find_cord(state, kit.tail);
    Cord const* const known = find_cord(state, kit.substitution);
    facts::FibreKind const kind = kind_of_wavelengths(check.wavelength_nm);
    plant::Occupancy const referenced = cover.powers.all();
    Coverage coverage = coverage_of(cover, reference ? within(needs, referenced) : std::vector<LinkNeed>{},
                                    kind, held, state.settings.directions == 2);
    if (!reference) coverage.lacking.reset();
    if (referenced.any()) coverage.lacking &= referenced;
    // The fibre of two short cords loses next to nothing; its category only selects the values for the kind.
    TRY_ASSIGN(auto const* const category,
               state.tables.category(kind == facts::FibreKind::multimode ? "OM4" : "OS2"));
    auto const method =
        setup::parse_reference_method(reference ? reference->method : "").value_or(state.settings.method);
    verdict::CordCheckQuestion question{
        .id = check.id,
        .readings = readings,
        .wavelengths = required_wavelengths(state.settings.wavelengths, state.rules, kind),
        .occupied = coverage.possible,
        .needed = coverage.needed,
        .rules = &state.rules,
        .category = category,
        .cords = launch ? launch->grade : state.settings.cord_grade,
        .array = true,
        .method = method,
        .joints = std::max(known ? 2 : 1, setup::joints_in_reference(method)),
        .added_length = Metres{(tail ? tail->length.value() : 0) + (known ? known->length.value() : 0)},
        .joint_mean = {},
        .expected_map = std::move(expected),
        .expected_length = {},
        .tables = &state.tables};
    if (question.added_length > Metres{1000}) question.added_length = Metres{1000};
    TRY_ASSIGN(auto assessment, verdict::check_cords(question));
    add_lacking(coverage, "cord-check", "reading",
                "Check the cords over all positions before these are measured.", assessment.reasons);
    assessment.reasons.insert(assessment.reasons.end(), said.begin(), said.end());
    assessment.state = verdict::acceptance_of(assessment.reasons);
    if (CordCheckEntry const* const earlier = earlier_check(state, check)) {
        TRY_ASSIGN(auto const moved, verdict::disagreement(earlier->id, readings_of(*earlier), check.id,
                                                           readings, state.tables));
        if (moved) {
            assessment.reasons.push_back(*moved);
            assessment.state = verdict::acceptance_of(assessment.reasons);
        }
    }
    return assessment;
}

} // namespace

Outcome stand_references(JobState const& state, Groundwork& ground)
{
    std::vector<LinkNeed> const needs = link_needs(state, ground);
    ground.covers.clear();
    for (ReferenceEntry const& reference : state.references)
        ground.covers.push_back(reference_cover(state, reference));
    KitHistory const history(state);
    std::vector<verdict::ReferenceEntry> entries;
    for (std::size_t i = 0; i < state.references.size(); ++i) {
        ReferenceEntry const& reference = state.references[i];
        TRY_ASSIGN(auto checked, assess_reference(history, reference, ground.covers[i], needs));
        verdict::ReferenceEntry entry;
        entry.id = reference.id;
        entry.taken = reference.taken();
        entry.accepted = checked.state != verdict::Acceptance::refused;
        entry.max_age = Seconds{state.settings.reference_age_hours * 3600};
        entries.push_back(std::move(entry));
        ground.references.push_back({i, std::move(checked), {}});
    }
    std::vector<verdict::CordCheckEntry> checks;
    for (std::size_t i = 0; i < state.checks.size(); ++i) {
        CordCheckEntry const& check = state.checks[i];
        TRY_ASSIGN(auto checked, assess_check(state, ground, check, needs));
        bool const accepted = checked.state != verdict::Acceptance::refused;
        checks.push_back({check.reference, check.taken(), accepted});
        ground.checks.push_back({i, std::move(checked)});
        auto const found = state.reference_index.find(check.reference);
        if (found == state.reference_index.end()) continue;
        ground.references[found->second].checks.push_back(i);
        // A check that is older than its reference has no effect, as in the timeline.
        if (!accepted || check.taken() < state.references[found->second].taken()) continue;
        for (std::size_t k = 0; k < check.size(); ++k)
            ground.covers[found->second].checked.add(check.wavelength_nm[k], check.position[k]);
    }
    std::vector<verdict::VoidEvent> events;
    for (ReferenceEvent const& event : state.events) {
        auto const kind = verdict::parse_void_kind(event.event);
        if (!kind)
            return Error{
                Errc::damaged,
                fmt::format("A reference-event record names \"{}\", which this program does not know",
                            event.event)};
        verdict::VoidEvent voided;
        voided.kind = *kind;
        voided.at = event.at;
        if (!event.reference.empty()) voided.reference = event.reference;
        events.push_back(std::move(voided));
    }
    TRY_ASSIGN(auto timeline, verdict::ReferenceTimeline::build(std::move(entries), checks, events));
    ground.timeline = std::make_unique<verdict::ReferenceTimeline>(std::move(timeline));
    hold_rows(state, ground, 0);
    return {};
}

void hold_rows(JobState const& state, Groundwork& ground, std::size_t first)
{
    // One look-up for each reference, then two searches for each reading.
    std::vector<std::size_t> by_reference;
    for (std::size_t i = 0; i < state.readings.references.size(); ++i) {
        by_reference.push_back(
            ground.timeline->find(state.readings.references.id(static_cast<std::uint32_t>(i))));
    }
    CoverLook look{state, ground};
    ground.hold.resize(state.readings.size());
    for (std::size_t row = first; row < state.readings.size(); ++row) {
        std::uint32_t const reference = state.readings.reference[row];
        std::size_t const index = reference == verdict::Dictionary::missing
                                      ? verdict::ReferenceTimeline::unknown
                                      : by_reference[reference];
        verdict::HoldKind const kind = ground.timeline->hold_kind(index, state.readings.taken_ms[row]);
        ground.hold[row] = static_cast<std::uint8_t>(look.hold_kind(kind, row));
    }
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
// Bringing in references, cord checks and what happened to a reference.
#include "intake/reference.hpp"
#include "job/cord_maps.hpp"
#include "job/inside.hpp"
#include "job/kit_register.hpp"
#include "job/reading_rules.hpp"

#include <cmath>
#include <map>

namespace guidepin::job {

namespace {

/// What people decided about the kit with this reference, and whether it may be used then.
Result<std::vector<KitOverride>> decisions_of(Job const& job, Actor const& actor, ReferenceOptions const& how,
                                              setup::Day used)
{
    std::vector<KitOverride> decisions;
    for (auto const& each : how.overrides) {
        TRY_ASSIGN(KitOverride decision, override_now(job.state(), each.first, each.second, used));
        decision.at = now_of(actor);
        decision.person = actor.name;
        decisions.push_back(std::move(decision));
    }
    TRY(may_be_used(job.state(), how.kit, used, decisions));
    return decisions;
}

/// A reference or a cord check is nothing with rows left out, so one such row refuses the file.
template <class Rows>
Outcome not_later_than_now(std::string const& name, Rows const& rows, std::size_t all, Instant now)
{
    intake::Problems late;
    for (std::size_t row = 0; row < rows.size(); ++row) {
        std::string reason = future_fault(rows.taken_ms[row], now);
        if (reason.empty()) continue;
        ++late.count;
        ++late.rows;
        if (late.listed.size() < intake::ReadOptions{}.listed_at_most)
            late.listed.push_back({rows.line[row], "taken_at",
                                   instant_text({rows.taken_ms[row], rows.offset_minutes[row]}),
                                   std::move(reason)});
    }
    if (late.count == 0) return {};
    return intake::refusal(name, late, all);
}

} // namespace

Result<ReferenceOutcome> Job::take_reference(std::string const& name, std::string_view bytes,
                                             FileOptions const& options, ReferenceOptions const& how)
{
    Inside& inside = *inside_;
    intake::ColumnMap map;
    TRY_ASSIGN(intake::ReadOptions const read, inside.read_options(name, options, map));
    TRY_ASSIGN(auto const file, intake::read_reference(bytes, read));
    if (file.refused) return intake::refusal(read.name, file.bad, file.rows);
    TRY(not_later_than_now(read.name, file.content, file.rows, now_of(inside.actor)));
    intake::ReferencePowers const& powers = file.content;
    SourceFile const source = Inside::source_of(name, bytes, "reference");
    std::vector<ReferenceEntry> entries(powers.references.size());
    for (std::size_t i = 0; i < entries.size(); ++i) {
        ReferenceEntry& entry = entries[i];
        entry.id = powers.references.text(static_cast<std::uint32_t>(i));
        if (inside.state.reference_index.contains(entry.id)) {
            return Error{Errc::conflict,
                         fmt::format("{}: the job has a reference \"{}\" already; a reference is never "
                                     "changed, give the new one a name of its own",
                                     read.name, entry.id)};
        }
        entry.method = how.method.empty() ? setup::name_of(inside.state.settings.method) : how.method;
        entry.kit = how.kit;
        entry.instrument_positions = how.instrument_positions;
        entry.source_sha256 = source.sha256;
    }
    for (std::size_t row = 0; row < powers.size(); ++row) {
        ReferenceEntry& entry = entries[powers.reference[row]];
        entry.position.push_back(powers.position[row]);
        entry.wavelength_nm.push_back(powers.wavelength_nm[row]);
        entry.power_dbm.push_back(powers.power_dbm[row]);
        entry.taken_ms.push_back(powers.taken_ms[row]);
        entry.offset_minutes = powers.offset_minutes[row];
    }
    if (how.instrument_positions) {
        // What the instrument calls position n leaves the launch cord at the position that its map gives.
        TRY_ASSIGN(plant::PositionMap const launch, launch_map_of(inside.state, how.kit.launch));
        for (ReferenceEntry& entry : entries) {
            for (std::int16_t& position : entry.position) {
                int const at_cabling = launch.at(position);
                if (at_cabling == 0) {
                    return Error{Errc::invalid_input,
                                 fmt::format("{}: reference {}: the instrument's port has no position {}",
                                             read.name, entry.id, position)};
                }
                position = static_cast<std::int16_t>(at_cabling);
            }
        }
    }
    Instant used = now_of(inside.actor);
    for (ReferenceEntry const& entry : entries) {
        if (Instant const taken = entry.taken(); taken.ms != 0) used = taken;
    }
    used.offset_minutes = inside.state.settings.zone_offset_minutes;
    TRY_ASSIGN(auto const decisions, decisions_of(*this, inside.actor, how, day_of(used)));
    TRY_ASSIGN(std::string const source_body, source_file_body(source));
    std::vector<record::Draft> drafts;
    for (KitOverride const& decision : decisions) {
        TRY_ASSIGN(std::string body, kit_override_body(decision));
        drafts.push_back(inside.draft(kind::kit_override, std::move(body)));
        inside.state.kit.overrides.push_back(decision);
    }
    drafts.push_back(inside.draft(kind::source_file, source_body));
    ReferenceOutcome outcome;
    for (ReferenceEntry& entry : entries) {
        TRY_ASSIGN(std::string body, reference_body(entry));
        drafts.push_back(inside.draft(kind::reference, std::move(body)));
        entry.recorded = now_of(inside.actor);
        outcome.ids.push_back(entry.id);
        inside.state.add_reference(std::move(entry));
    }
    auto const kept = inside.keep(drafts);
    TRY(inside.reload());
    TRY(kept);
    return outcome;
}

Result<ReferenceOutcome> Job::take_cord_check(std::string const& name, std::string_view bytes,
                                              FileOptions const& options, std::string const& reference,
                                              bool instrument_positions)
{
    Inside& inside = *inside_;
    intake::ColumnMap map;
    TRY_ASSIGN(intake::ReadOptions const read, inside.read_options(name, options, map));
    TRY_ASSIGN(auto const file, intake::read_cord_check(bytes, read));
    if (file.refused) return intake::refusal(read.name, file.bad, file.rows);
    TRY(not_later_than_now(read.name, file.content, file.rows, now_of(inside.actor)));
    intake::CordChecks const& checks = file.content;
    SourceFile const source = Inside::source_of(name, bytes, "cord-check");
    std::vector<CordCheckEntry> entries(checks.checks.size());
    std::map<std::string, std::optional<CordMaps>> cords_of;
    for (std::size_t row = 0; row < checks.size(); ++row) {
        CordCheckEntry& entry = entries[checks.check[row]];
        entry.id = checks.checks.text(checks.check[row]);
        std::string const under = checks.reference[row] == verdict::Dictionary::missing
                                      ? reference
                                      : checks.references.text(checks.reference[row]);
        if (under.empty()) {
            return Error{
                Errc::invalid_input,
                fmt::format(
                    "{} line {}: check \"{}\" names no reference; add a column or give --reference ID",
                    read.name, checks.line[row], entry.id)};
        }
        if (!inside.state.reference_index.contains(under)) {
            std::vector<std::string> known;
            for (auto const& [id, index] : inside.state.reference_index) known.push_back(id);
            auto const near = nearest(under, known);
            return Error{Errc::not_found,
                         fmt::format("{} line {}: the job has no reference \"{}\"{}", read.name,
                                     checks.line[row], under,
                                     near.empty() ? "" : "; did you mean " + joined(near, ", ") + "?")};
        }
        entry.reference = under;
        std::int16_t position = checks.position[row], far = checks.far_position[row];
        if (instrument_positions) {
            auto& cords = cords_of[under];
            if (!cords) {
                TRY_ASSIGN(cords, cord_maps(inside.state, under));
            }
            position = static_cast<std::int16_t>(cords->launch.at(position));
            if (position == 0) {
                return Error{Errc::invalid_input,
                             fmt::format("{} line {}: the instrument's port has no position {}", read.name,
                                         checks.line[row], checks.position[row])};
            }
            if (far > 0) far = static_cast<std::int16_t>(cords->receive_back.at(far));
        }
        entry.position.push_back(position);
        entry.far_position.push_back(far);
        entry.wavelength_nm.push_back(checks.wavelength_nm[row]);
        double loss = checks.value[row];
        if (checks.is_power) {
            double const power = inside.state.reference_power(under, position, checks.wavelength_nm[row]);
            if (std::isnan(power)) {
                return Error{Errc::not_found, fmt::format("{} line {}: reference \"{}\" has no power at "
                                                          "position {}, {} nm, to compare this one with",
                                                          read.name, checks.line[row], under, position,
                                                          checks.wavelength_nm[row])};
            }
            loss = power - loss;
        }
        entry.attenuation_db.push_back(loss);
        entry.length_m.push_back(checks.length_m[row]);
        entry.taken_ms.push_back(checks.taken_ms[row]);
        entry.offset_minutes = checks.offset_minutes[row];
        entry.source_sha256 = source.sha256;
    }
    TRY_ASSIGN(std::string const source_body, source_file_body(source));
    std::vector<record::Draft> drafts{inside.draft(kind::source_file, source_body)};
    ReferenceOutcome outcome;
    for (CordCheckEntry& entry : entries) {
        TRY_ASSIGN(std::string body, cord_check_body(entry));
        drafts.push_back(inside.draft(kind::cord_check, std::move(body)));
        outcome.ids.push_back(entry.id);
        inside.state.checks.push_back(std::move(entry));
    }
    auto const kept = inside.keep(drafts);
    TRY(inside.reload());
    TRY(kept);
    return outcome;
}

Outcome Job::note_event(ReferenceEvent const& event)
{
    Inside& inside = *inside_;
    TRY_ASSIGN(std::string body, reference_event_body(event));
    inside.state.events.push_back(event);
    auto const kept = inside.keep({inside.draft(kind::reference_event, std::move(body))});
    TRY(inside.reload());
    return kept;
}

} // namespace guidepin::job

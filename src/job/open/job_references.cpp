// SPDX-License-Identifier: Apache-2.0
// Bringing in references, cord checks and what happened to a reference.
#include "intake/reference.hpp"
#include "job/groundwork/reading_rules.hpp"
#include "job/kit/cord_maps.hpp"
#include "job/kit/kit_register.hpp"
#include "job/open/inside.hpp"

#include <cmath>
#include <map>

namespace guidepin::job {

namespace {

/// What people decided about the kit with this reference, and whether it may be used then.
Result<std::vector<KitOverride>> decisions_of(JobState const& state, Actor const& actor,
                                              ReferenceOptions const& how, setup::Day used)
{
    std::vector<KitOverride> decisions;
    for (auto const& each : how.overrides) {
        TRY_ASSIGN(KitOverride decision, override_now(state, each.first, each.second, used));
        decision.at = now_of(actor);
        decision.person = actor.name;
        decisions.push_back(std::move(decision));
    }
    TRY(may_be_used(state, how.kit, used, decisions));
    return decisions;
}

/// Refuses a file with a row from the future: a reference or a cord check with rows left out is worth
/// nothing.
template <class Rows>
Outcome not_later_than_now(std::string const& name, Rows const& rows, std::size_t all, Instant now,
                           Settings const& settings)
{
    intake::Problems late;
    for (std::size_t row = 0; row < rows.size(); ++row) {
        std::string reason = future_fault(rows.taken_ms[row], now, settings);
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

/// The references of a file, without those that cannot be: a name is used once in a job.
Result<std::vector<ReferenceEntry>> reference_entries(JobState const& state,
                                                      intake::ReferencePowers const& powers,
                                                      ReferenceOptions const& how, std::string const& file)
{
    std::vector<ReferenceEntry> entries(powers.references.size());
    for (std::size_t i = 0; i < entries.size(); ++i) {
        ReferenceEntry& entry = entries[i];
        entry.id = powers.references.id(static_cast<std::uint32_t>(i));
        if (state.reference_index.contains(entry.id)) {
            return Error{Errc::conflict,
                         fmt::format("{}: the job has a reference \"{}\" already; a reference is never "
                                     "changed, give the new one a name of its own",
                                     file, entry.id)};
        }
        entry.method = setup::name_of(how.method.value_or(state.settings.method));
        entry.kit = how.kit;
        entry.instrument_positions = how.instrument_positions;
    }
    for (std::size_t row = 0; row < powers.size(); ++row) {
        ReferenceEntry& entry = entries[powers.reference[row]];
        entry.position.push_back(powers.position[row]);
        entry.wavelength_nm.push_back(powers.wavelength_nm[row]);
        entry.power_dbm.push_back(powers.power_dbm[row]);
        entry.taken_ms.push_back(powers.taken_ms[row]);
        entry.offset_minutes = powers.offset_minutes[row];
    }
    if (!how.instrument_positions) return entries;
    // What the instrument calls position n leaves the launch cord at the position that its map gives.
    TRY_ASSIGN(plant::PositionMap const launch, launch_map_of(state, how.kit.launch));
    for (ReferenceEntry& entry : entries) {
        for (std::int16_t& position : entry.position) {
            int const at_cabling = launch.at(position);
            if (at_cabling == 0)
                return Error{Errc::invalid_input,
                             fmt::format("{}: reference {}: the instrument's port has no position {}", file,
                                         entry.id, position)};
            position = static_cast<std::int16_t>(at_cabling);
        }
    }
    return entries;
}

} // namespace

template <class Rows>
Result<Rows> Job::Inside::whole_file(
    BroughtFile const& brought,
    Result<intake::Intake<Rows>> (*read_file)(std::string_view, intake::ReadOptions const&)) const
{
    intake::ColumnMap map;
    TRY_ASSIGN(intake::ReadOptions const read, read_options(brought.name, brought.options, map));
    TRY_ASSIGN(auto file, read_file(brought.bytes, read));
    if (file.refused) return intake::refusal(read.name, file.bad, file.rows);
    TRY(not_later_than_now(read.name, file.content, file.rows, now_of(actor), state.settings));
    return std::move(file.content);
}

Outcome Job::Inside::add_references(Adding& adding, SourceFile const& source,
                                    intake::ReferencePowers const& powers, ReferenceOptions const& how,
                                    ReferenceOutcome& outcome)
{
    TRY_ASSIGN(auto entries, reference_entries(state, powers, how, source.name));
    Instant used = now_of(actor);
    for (ReferenceEntry const& entry : entries) {
        if (Instant const taken = entry.taken(); taken.ms != 0) used = taken;
    }
    used.offset_minutes = state.settings.zone_offset_minutes;
    TRY_ASSIGN(auto const decisions, decisions_of(state, actor, how, day_of(used)));
    for (KitOverride const& decision : decisions) {
        TRY_ASSIGN(std::string body, kit_override_body(decision));
        TRY(adding.add(kind::kit_override, std::move(body)));
    }
    TRY_ASSIGN(std::string source_body, source_file_body(source));
    TRY(adding.add(kind::source_file, std::move(source_body)));
    for (ReferenceEntry& entry : entries) {
        entry.source_sha256 = source.sha256;
        TRY_ASSIGN(std::string body, reference_body(entry));
        TRY(adding.add(kind::reference, std::move(body)));
        outcome.ids.push_back(entry.id);
    }
    return {};
}

Outcome Job::Inside::decide_reference(Adding& adding, BroughtFile const& brought, ReferenceOptions const& how,
                                      ReferenceOutcome& outcome)
{
    TRY_ASSIGN(auto const powers, whole_file(brought, &intake::read_reference));
    return add_references(adding, source_file(brought.name, brought.bytes, "reference"), powers, how,
                          outcome);
}

Result<ReferenceOutcome> Job::take_reference(std::string const& name, std::string_view bytes,
                                             FileOptions const& options, ReferenceOptions const& how)
{
    ReferenceOutcome outcome;
    auto const changed = inside_->change([&](Adding& adding) {
        return inside_->decide_reference(adding, {name, bytes, options}, how, outcome);
    });
    TRY(changed);
    return outcome;
}

namespace {

/// Puts the rows of a file of cord checks to their checks.
class CheckGathering
{
  public:
    CheckGathering(JobState const& state, intake::CordChecks const& rows, std::string const& file)
        : entries(rows.checks.size())
        , state_(state)
        , rows_(rows)
        , file_(file)
    {
    }

    Outcome take_row(std::size_t row, verdict::ReferenceId const& reference, bool instrument_positions)
    {
        CordCheckEntry& entry = entries[rows_.check[row]];
        entry.id = rows_.checks.id(rows_.check[row]);
        entry.reference = rows_.reference[row] == verdict::Dictionary::missing
                              ? reference
                              : rows_.references.id(rows_.reference[row]);
        TRY(require_reference(row, entry));
        std::int16_t position = rows_.position[row], far = rows_.far_position[row];
        if (instrument_positions) TRY(take_cords_out(row, entry.reference, position, far));
        TRY_ASSIGN(double const loss, loss_of(row, entry.reference, position));
        entry.position.push_back(position);
        entry.far_position.push_back(far);
        entry.wavelength_nm.push_back(rows_.wavelength_nm[row]);
        entry.attenuation_db.push_back(loss);
        entry.length_m.push_back(rows_.length_m[row]);
        entry.taken_ms.push_back(rows_.taken_ms[row]);
        entry.offset_minutes = rows_.offset_minutes[row];
        return {};
    }

    std::vector<CordCheckEntry> entries;

  private:
    Outcome require_reference(std::size_t row, CordCheckEntry const& entry) const
    {
        if (entry.reference.empty())
            return Error{Errc::invalid_input,
                         fmt::format("{} line {}: check \"{}\" names no reference; add the column "
                                     "\"reference\" or name one for the whole file",
                                     file_, rows_.line[row], entry.id)};
        if (state_.reference_index.contains(entry.reference)) return {};
        std::vector<std::string> known;
        for (auto const& [id, index] : state_.reference_index) known.push_back(id.text());
        return Error{Errc::not_found,
                     fmt::format("{} line {}: the job has no reference \"{}\"{}", file_, rows_.line[row],
                                 entry.reference, did_you_mean(entry.reference.text(), known))};
    }

    Outcome take_cords_out(std::size_t row, verdict::ReferenceId const& reference, std::int16_t& position,
                           std::int16_t& far)
    {
        auto& cords = cords_of_[reference];
        if (!cords) {
            TRY_ASSIGN(cords, cord_maps(state_, reference));
        }
        position = static_cast<std::int16_t>(cords->launch.at(position));
        if (position == 0)
            return Error{Errc::invalid_input,
                         fmt::format("{} line {}: the instrument's port has no position {}", file_,
                                     rows_.line[row], rows_.position[row])};
        if (far > 0) far = static_cast<std::int16_t>(cords->receive_back.at(far));
        return {};
    }

    Result<double> loss_of(std::size_t row, verdict::ReferenceId const& reference,
                           std::int16_t position) const
    {
        if (!rows_.is_power) return rows_.value[row];
        double const power = state_.reference_power(reference, position, rows_.wavelength_nm[row]);
        if (std::isnan(power))
            return Error{Errc::not_found,
                         fmt::format("{} line {}: reference \"{}\" has no power at "
                                     "position {}, {} nm, to compare this one with",
                                     file_, rows_.line[row], reference, position, rows_.wavelength_nm[row])};
        return power - rows_.value[row];
    }

    JobState const& state_;
    intake::CordChecks const& rows_;
    std::string const& file_;
    std::map<verdict::ReferenceId, std::optional<CordMaps>> cords_of_;
};

} // namespace

Outcome Job::Inside::add_checks(Adding& adding, SourceFile const& source, intake::CordChecks const& checks,
                                CheckOptions const& how, CheckOutcome& outcome)
{
    CheckGathering gathering(state, checks, source.name);
    for (std::size_t row = 0; row < checks.size(); ++row)
        TRY(gathering.take_row(row, how.reference, how.instrument_positions));
    TRY_ASSIGN(std::string source_body, source_file_body(source));
    TRY(adding.add(kind::source_file, std::move(source_body)));
    for (CordCheckEntry& entry : gathering.entries) {
        entry.source_sha256 = source.sha256;
        TRY_ASSIGN(std::string body, cord_check_body(entry));
        TRY(adding.add(kind::cord_check, std::move(body)));
        outcome.ids.push_back(entry.id);
    }
    return {};
}

Outcome Job::Inside::decide_check(Adding& adding, BroughtFile const& brought, CheckOptions const& how,
                                  CheckOutcome& outcome)
{
    TRY_ASSIGN(auto const checks, whole_file(brought, &intake::read_cord_check));
    return add_checks(adding, source_file(brought.name, brought.bytes, "cord-check"), checks, how, outcome);
}

Result<CheckOutcome> Job::take_cord_check(std::string const& name, std::string_view bytes,
                                          FileOptions const& options, verdict::ReferenceId const& reference,
                                          bool instrument_positions)
{
    CheckOutcome outcome;
    auto const changed = inside_->change([&](Adding& adding) {
        return inside_->decide_check(adding, {name, bytes, options}, {reference, instrument_positions},
                                     outcome);
    });
    TRY(changed);
    return outcome;
}

Outcome Job::note_event(ReferenceEvent const& event)
{
    return inside_->change([&](Adding& adding) -> Outcome {
        TRY_ASSIGN(std::string body, reference_event_body(event));
        return adding.add(kind::reference_event, std::move(body));
    });
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "job/open/typed.hpp"

#include "base/csv_cell.hpp"
#include "base/text.hpp"
#include "job/open/inside.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

FileOptions plain()
{
    FileOptions options;
    options.separator = ',';
    options.decimal = '.';
    return options;
}

std::string name_of_key(std::string const& key)
{
    return fmt::format("typed-{}.csv", key);
}

Outcome hold(std::string const& key, bool empty)
{
    if (key.empty()) return Error{Errc::usage, "What is typed carries a key, so that it is kept once"};
    if (empty) return Error{Errc::invalid_input, "Nothing was typed: fill in a position"};
    return {};
}

} // namespace

Result<std::string> typed_reference_csv(TypedReference const& reference, Instant taken)
{
    if (reference.id.empty() || reference.id.find_first_of(",\"\n\r") != std::string::npos)
        return Error{Errc::invalid_input, fmt::format("\"{}\" is no name for a reference: use letters, "
                                                      "digits and dashes, no comma and no quotes",
                                                      reference.id)};
    std::string text = "reference,position,wavelength_nm,power_dbm,taken_at\n";
    for (TypedPower const& row : reference.powers)
        text += fmt::format("{},{},{},{},{}\n", csv_cell(reference.id), row.position, row.wavelength_nm,
                            number_text(row.power_dbm), instant_text(taken));
    return text;
}

std::string typed_check_csv(TypedCheck const& check, std::string const& id, Instant taken)
{
    std::string text = "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n";
    for (TypedJoint const& row : check.rows)
        text += fmt::format("{},{},{},{},{},{},{}\n", csv_cell(id), csv_cell(check.reference), row.position,
                            row.far_position ? fmt::format("{}", *row.far_position) : "", row.wavelength_nm,
                            number_text(row.attenuation_db), instant_text(taken));
    return text;
}

std::string free_name(std::string_view prefix, std::vector<std::string> const& taken)
{
    for (int n = 1;; ++n) {
        std::string name = fmt::format("{}{}", prefix, n);
        if (std::find(taken.begin(), taken.end(), name) == taken.end()) return name;
    }
}

namespace {

/// When it was measured: by now, also where the device's clock is ahead.
Instant taken_by(std::optional<Instant> const& stated, Instant now, Settings const& settings)
{
    Instant taken = stated.value_or(now);
    taken.ms = std::min(taken.ms, now.ms);
    taken.offset_minutes = settings.zone_offset_minutes;
    return taken;
}

} // namespace

Result<ReferenceOutcome> Job::enter_reference(TypedReference reference)
{
    TRY(hold(reference.key, reference.powers.empty()));
    ReferenceOutcome outcome;
    auto const changed = inside_->change([&](Adding& adding) -> Outcome {
        JobState const& state = inside_->state;
        std::string const name = name_of_key(reference.key);
        if (state.has_file(name)) return {};
        if (reference.id.empty()) {
            std::vector<std::string> names;
            for (auto const& [id, index] : state.reference_index) names.push_back(id);
            reference.id = free_name("R-", names);
        }
        Instant const taken = taken_by(reference.taken, now_of(inside_->actor), state.settings);
        TRY_ASSIGN(std::string const csv, typed_reference_csv(reference, taken));
        ReferenceOptions how;
        how.kit = reference.kit;
        how.instrument_positions = reference.instrument_positions;
        how.overrides = std::move(reference.overrides);
        FileOptions const options = plain();
        return inside_->decide_reference(adding, {name, csv, options}, how, outcome);
    });
    TRY(changed);
    return outcome;
}

Result<ReferenceOutcome> Job::enter_cord_check(TypedCheck const& check)
{
    TRY(hold(check.key, check.rows.empty()));
    ReferenceOutcome outcome;
    auto const changed = inside_->change([&](Adding& adding) -> Outcome {
        JobState const& state = inside_->state;
        std::string const name = name_of_key(check.key);
        if (state.has_file(name)) return {};
        if (!state.reference_index.contains(check.reference))
            return Error{Errc::not_found, fmt::format("The job has no reference \"{}\"", check.reference)};
        std::vector<std::string> names;
        for (CordCheckEntry const& entry : state.checks) names.push_back(entry.id);
        Instant const taken = taken_by(check.taken, now_of(inside_->actor), state.settings);
        std::string const csv = typed_check_csv(check, free_name("C-", names), taken);
        FileOptions const options = plain();
        return inside_->decide_check(adding, {name, csv, options}, check.reference,
                                     check.instrument_positions, outcome);
    });
    TRY(changed);
    return outcome;
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "job/open/typed.hpp"

#include "base/no_number.hpp"
#include "base/text.hpp"
#include "intake/cells.hpp"
#include "intake/write.hpp"
#include "job/open/inside.hpp"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr std::size_t longest_key = 64;

/// The text that names a typed entry has a header line, which the rows follow.
constexpr std::uint32_t first_typed_line = 2;

/// One row of any form.
struct TypedRow
{
    int wavelength_nm = 0, position = 0;
    std::optional<int> far_position;
    double value = 0;
    bool is_power = false;
};

std::string place_of(TypedRow const& row)
{
    return fmt::format("Position {} at {} nm", row.position, row.wavelength_nm);
}

/// The rules for one row: those that a cell of a file obeys (intake/cells.hpp).
Outcome require_row(TypedRow const& row)
{
    auto const wrong = [&](std::string const& what) {
        return Error{Errc::invalid_input, fmt::format("{} {}", place_of(row), what)};
    };
    if (row.position < 1 || row.position > plant::max_positions)
        return wrong(fmt::format("does not exist: a plug has positions 1 to {}", plant::max_positions));
    if (row.wavelength_nm < intake::least_wavelength_nm || row.wavelength_nm > intake::greatest_wavelength_nm)
        return wrong(fmt::format("cannot be: wavelengths are {} to {} nm", intake::least_wavelength_nm,
                                 intake::greatest_wavelength_nm));
    if (row.far_position && (*row.far_position < 0 || *row.far_position > plant::max_positions))
        return wrong(fmt::format("arrives at {}: write a position from 1 to {}, or 0 if no light arrives",
                                 *row.far_position, plant::max_positions));
    if (!intake::plausible_value(row.value, row.is_power))
        return wrong(fmt::format("has {} {}, which is outside the {}", number_text(row.value),
                                 row.is_power ? "dBm" : "dB",
                                 row.is_power ? "powers -100 to 30 dBm" : "attenuations -5 to 80 dB"));
    return {};
}

/// Two attenuations at one place and moment contradict each other. (Powers of a reference may repeat: they
/// show how well it repeats.)
class TypedPlaces
{
  public:
    Outcome take(TypedRow const& row)
    {
        if (taken_.emplace(row.wavelength_nm, row.position).second) return {};
        return Error{Errc::invalid_input, place_of(row) + " is typed twice: keep the right one"};
    }

  private:
    std::set<std::pair<int, int>> taken_;
};

Outcome require_name(std::string_view what, std::string_view name)
{
    if (char const* const fault = intake::name_fault(name))
        return Error{Errc::invalid_input,
                     fmt::format("The name of the {} {}: give another one", what, fault)};
    if (name.empty()) return Error{Errc::invalid_input, fmt::format("The {} needs a name", what)};
    return {};
}

std::uint32_t index_in(verdict::Dictionary& names, std::string_view name)
{
    return name.empty() ? verdict::Dictionary::missing : names.index_of(name);
}

std::int16_t far_of(std::optional<int> const& typed)
{
    return typed ? static_cast<std::int16_t>(*typed) : verdict::far_not_stated;
}

SourceFile source_with(std::string_view key, std::string const& text, char const* layout)
{
    return source_file(typed_name(key), text, layout);
}

} // namespace

Outcome require_typed_key(std::string_view key)
{
    bool const good =
        !key.empty() && key.size() <= longest_key && std::all_of(key.begin(), key.end(), [](char letter) {
            return letter == '-' || (letter >= '0' && letter <= '9') || (letter >= 'a' && letter <= 'z') ||
                   (letter >= 'A' && letter <= 'Z');
        });
    if (good) return {};
    return Error{Errc::usage,
                 fmt::format("An entry that is typed carries a key of 1 to {} letters, digits and "
                             "dashes, so that it is kept once; this one has {}",
                             longest_key, key.empty() ? "none" : "another")};
}

std::string typed_name(std::string_view key)
{
    return fmt::format("typed-{}.csv", key);
}

Result<verdict::ReadingColumns> columns_of(TypedReadings const& typed, Instant taken)
{
    TRY(require_name("link", trimmed(typed.link)));
    if (!typed.reference.empty()) TRY(require_name("reference", trimmed(typed.reference.text())));
    if (!typed.person.empty()) TRY(require_name("person", trimmed(typed.person)));
    if (typed.length_m && !(*typed.length_m >= 0 && *typed.length_m <= intake::greatest_length_m))
        return Error{Errc::invalid_input, fmt::format("The length {} m is outside the lengths 0 to 200 km",
                                                      number_text(*typed.length_m))};
    verdict::ReadingColumns columns;
    std::uint32_t const link = columns.links.index_of(trimmed(typed.link));
    std::uint32_t const reference = index_in(columns.references, trimmed(typed.reference.text()));
    std::uint32_t const person = index_in(columns.operators, trimmed(typed.person));
    TypedPlaces places;
    for (TypedReading const& each : typed.rows) {
        TypedRow const row{typed.wavelength_nm, each.position, each.far_position, each.attenuation_db};
        TRY(require_row(row));
        TRY(places.take(row));
        columns.line.push_back(first_typed_line + static_cast<std::uint32_t>(columns.size()));
        columns.link.push_back(link);
        columns.launch_end.push_back(typed.from_end_b ? verdict::LaunchEnd::b : verdict::LaunchEnd::a);
        columns.position.push_back(static_cast<std::int16_t>(row.position));
        columns.far_position.push_back(far_of(row.far_position));
        columns.wavelength_nm.push_back(static_cast<std::uint16_t>(row.wavelength_nm));
        columns.value.push_back(row.value);
        columns.length_m.push_back(typed.length_m.value_or(nan));
        columns.taken_ms.push_back(taken.ms);
        columns.offset_minutes.push_back(taken.offset_minutes);
        columns.reference.push_back(reference);
        columns.operator_name.push_back(person);
    }
    return columns;
}

Result<intake::ReferencePowers> columns_of(TypedReference const& typed, Instant taken)
{
    TRY(require_name("reference", trimmed(typed.id.text())));
    intake::ReferencePowers columns;
    std::uint32_t const id = columns.references.index_of(trimmed(typed.id.text()));
    for (TypedPower const& each : typed.powers) {
        TypedRow const row{each.wavelength_nm, each.position, {}, each.power_dbm, true};
        TRY(require_row(row));
        columns.line.push_back(first_typed_line + static_cast<std::uint32_t>(columns.size()));
        columns.reference.push_back(id);
        columns.position.push_back(static_cast<std::int16_t>(row.position));
        columns.wavelength_nm.push_back(static_cast<std::uint16_t>(row.wavelength_nm));
        columns.power_dbm.push_back(row.value);
        columns.taken_ms.push_back(taken.ms);
        columns.offset_minutes.push_back(taken.offset_minutes);
    }
    return columns;
}

Result<intake::CordChecks> columns_of(TypedCheck const& typed, verdict::CheckId const& id, Instant taken)
{
    TRY(require_name("cord check", id.text()));
    TRY(require_name("reference", typed.reference.text()));
    intake::CordChecks columns;
    std::uint32_t const check = columns.checks.index_of(id);
    std::uint32_t const reference = columns.references.index_of(typed.reference);
    TypedPlaces places;
    for (TypedJoint const& each : typed.rows) {
        TypedRow const row{each.wavelength_nm, each.position, each.far_position, each.attenuation_db};
        TRY(require_row(row));
        TRY(places.take(row));
        columns.line.push_back(first_typed_line + static_cast<std::uint32_t>(columns.size()));
        columns.check.push_back(check);
        columns.reference.push_back(reference);
        columns.position.push_back(static_cast<std::int16_t>(row.position));
        columns.far_position.push_back(far_of(row.far_position));
        columns.wavelength_nm.push_back(static_cast<std::uint16_t>(row.wavelength_nm));
        columns.value.push_back(row.value);
        columns.length_m.push_back(nan);
        columns.taken_ms.push_back(taken.ms);
        columns.offset_minutes.push_back(taken.offset_minutes);
    }
    return columns;
}

SourceFile source_of(std::string_view key, verdict::ReadingColumns const& columns)
{
    return source_with(key, intake::readings_csv(columns, {.line_end = "\n"}), "readings");
}

SourceFile source_of(std::string_view key, intake::ReferencePowers const& columns)
{
    return source_with(key, intake::reference_csv(columns, {.line_end = "\n"}), "reference");
}

SourceFile source_of(std::string_view key, intake::CordChecks const& columns)
{
    return source_with(key, intake::cord_check_csv(columns, {.line_end = "\n", .lengths = false}),
                       "cord-check");
}

std::string free_name(std::string_view prefix, std::vector<std::string> const& taken)
{
    for (int n = 1;; ++n) {
        std::string name = fmt::format("{}{}", prefix, n);
        if (std::find(taken.begin(), taken.end(), name) == taken.end()) return name;
    }
}

namespace {

Outcome require_typed(std::string const& key, bool empty)
{
    TRY(require_typed_key(key));
    if (empty) return Error{Errc::invalid_input, "Nothing was typed: fill in a position"};
    return {};
}

/// When it was measured: by now, also if the device's clock is ahead.
Instant taken_by(std::optional<Instant> const& stated, Instant now, Settings const& settings)
{
    Instant taken = stated.value_or(now);
    taken.ms = std::min(taken.ms, now.ms);
    taken.offset_minutes = settings.zone_offset_minutes;
    return taken;
}

} // namespace

Result<ReadingsOutcome> Job::enter_readings(TypedReadings const& readings)
{
    TRY(require_typed(readings.key, readings.rows.empty()));
    ReadingsOptions how;
    how.reference = readings.reference;
    how.operator_name = readings.person;
    how.again = true; // the key shows what was sent twice; the same values with another key are another test
    return inside_->bring_readings(how, [&](BroughtReadings& brought) -> Result<bool> {
        JobState const& state = inside_->state;
        if (state.has_file(typed_name(readings.key))) return false;
        TRY_ASSIGN(brought.file.content,
                   columns_of(readings, taken_by(readings.taken, now_of(inside_->actor), state.settings)));
        brought.file.rows = readings.rows.size();
        brought.source = source_of(readings.key, brought.file.content);
        return true;
    });
}

Result<ReferenceOutcome> Job::enter_reference(TypedReference reference)
{
    TRY(require_typed(reference.key, reference.powers.empty()));
    ReferenceOutcome outcome;
    auto const changed = inside_->change([&](Adding& adding) -> Outcome {
        JobState const& state = inside_->state;
        if (state.has_file(typed_name(reference.key))) return {};
        if (trimmed(reference.id.text()).empty()) {
            std::vector<std::string> names;
            for (auto const& [id, index] : state.reference_index) names.push_back(id.text());
            reference.id = verdict::ReferenceId(free_name("R-", names));
        }
        TRY_ASSIGN(auto const columns,
                   columns_of(reference, taken_by(reference.taken, now_of(inside_->actor), state.settings)));
        ReferenceOptions how;
        how.kit = reference.kit;
        how.instrument_positions = reference.instrument_positions;
        how.overrides = std::move(reference.overrides);
        return inside_->add_references(adding, source_of(reference.key, columns), columns, how, outcome);
    });
    TRY(changed);
    return outcome;
}

Result<CheckOutcome> Job::enter_cord_check(TypedCheck const& check)
{
    TRY(require_typed(check.key, check.rows.empty()));
    CheckOutcome outcome;
    auto const changed = inside_->change([&](Adding& adding) -> Outcome {
        JobState const& state = inside_->state;
        if (state.has_file(typed_name(check.key))) return {};
        if (!state.reference_index.contains(check.reference))
            return Error{Errc::not_found, fmt::format("The job has no reference \"{}\"", check.reference)};
        std::vector<std::string> names;
        for (CordCheckEntry const& entry : state.checks) names.push_back(entry.id.text());
        TRY_ASSIGN(auto const columns,
                   columns_of(check, verdict::CheckId(free_name("C-", names)),
                              taken_by(check.taken, now_of(inside_->actor), state.settings)));
        return inside_->add_checks(adding, source_of(check.key, columns), columns,
                                   {check.reference, check.instrument_positions}, outcome);
    });
    TRY(changed);
    return outcome;
}

} // namespace guidepin::job

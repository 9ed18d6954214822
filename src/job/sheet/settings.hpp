// SPDX-License-Identifier: Apache-2.0
// What a job promises and how it is measured: read once from a job sheet (TOML, docs/formats/job-sheet.md) or
// from options, kept as a record, the same for command line and web.
#pragma once

#include "base/result.hpp"
#include "facts/tables.hpp"
#include "plant/connector.hpp"
#include "setup/kit.hpp"
#include "setup/method.hpp"
#include "units/instant.hpp"
#include "units/quantity.hpp"
#include "verdict/conformity.hpp"
#include "verdict/explain.hpp"
#include "verdict/uncertainty.hpp"

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

enum class InstrumentRole : std::uint8_t { source, meter };
char const* name_of(InstrumentRole role); ///< "source", "meter"
std::optional<InstrumentRole> parse_instrument_role(std::string_view text);

/// A source or a power meter of the kit, as the job sheet names it.
/// The register of the kit is in the records (job/kit).
struct Instrument
{
    std::string id;                     ///< as written on it
    std::optional<InstrumentRole> role; ///< none: the record does not say
    std::string description;
    std::string family = "mpo-12";
    plant::Pins pins = plant::Pins::pinned;
    plant::Face face = plant::Face::flat;
    bool ends_stated = false; ///< somebody stated family, pins or face; else they are only what is usual
    std::string calibrated;   ///< ISO date, empty when not known
    std::string calibration_due;
};

/// A test reference cord of the kit.
struct Cord
{
    std::string id;
    std::optional<setup::Role> role; ///< none: it may serve as anything
    std::string type = "B";
    std::string family = "mpo-12";
    Metres length{2};
    facts::CordGrade grade = facts::CordGrade::reference;
    plant::Pins pins_near = plant::Pins::unpinned; ///< at the instrument
    plant::Pins pins_far = plant::Pins::unpinned;  ///< at the cabling
    bool exchangeable_pins = false;
    plant::Face face = plant::Face::flat;
    bool ends_stated = false; ///< somebody stated family, pins or face; else they are only what is usual
    int matings_limit = 0;    ///< 0: no limit set
    int pin_changes_limit = 0;
};

struct Settings
{
    std::string title, client, site, contractor, contract;
    std::string rule_set = "tia-568.3-e";
    std::string rule_file_name; ///< when the contract brings its own
    std::string rule_text;      ///< its TOML, kept whole
    std::string
        overrides_file_name;    ///< when other values of the tables are replaced (docs/formats/rule-set.md)
    std::string overrides_text; ///< their TOML, kept whole
    setup::ReferenceMethod method = setup::ReferenceMethod::one_cord;
    facts::CordGrade cord_grade = facts::CordGrade::reference;
    verdict::DecisionRule decision_rule = verdict::DecisionRule::simple_acceptance;
    double guard_probability = 0.95;                                 ///< of conformity, at the guarded limit
    std::map<facts::FibreKind, std::vector<Nanometres>> wavelengths; ///< required
    int directions = 1;
    bool used_positions_only = false; ///< judge only the positions that the link's applications use
    bool require_length = true;       ///< a link without a measured length stays open (TIA-568.3-E, Tier 1)
    bool require_polarity = true;     ///< so does one without far positions
    double length_tolerance_fraction = 0.05;
    Metres length_tolerance{2}; ///< the larger of the two counts
    double reference_age_hours = 12;
    bool single_channel = false;                       ///< links were measured as channels, cords included
    std::vector<verdict::UncertaintyEdit> uncertainty; ///< values of the contract in dB
    std::vector<Instrument> instruments;
    std::vector<Cord> cords;
    // How people of this job write and read.
    std::string decimal = ".";
    std::string length_unit = "m";  ///< "m" or "ft", where a person reads one
    std::string date_order = "iso"; ///< "iso", "dmy", "mdy"
    std::string paper = "a4";       ///< "letter"
    std::int16_t zone_offset_minutes = 0;
};

/// Reads a job sheet. Reports all faults at once, by line. `rule_text` is left for the caller to fill
/// from `rule_file_name`.
Result<Settings> settings_from_sheet(facts::NamedText const& sheet);

/// Why no limit can follow from these rules with test cords of that grade, with the way out; empty: they can.
std::string grade_fault(facts::RuleSet const& rules, facts::CordGrade grade);

/// Canonical JSON of the settings (the body of a "setting" record), and back.
std::string settings_to_json(Settings const& settings);
Result<Settings> settings_from_json(std::string_view json);

/// How the job's people read numbers in sentences.
verdict::Writing writing_of(Settings const& settings);

/// The built-in tables with the job's own values in them.
Result<facts::Tables> tables_of(Settings const& settings);

/// The rule set that the job names: built in, or its own text checked against the tables.
Result<facts::RuleSet> rule_set_of(Settings const& settings, facts::Tables const& tables);

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
// Is the kit fit to be used? Calibration dates, counts of matings and pin changes, end-face findings, with
// the limits that the user sets. Pure: the records are the caller's. Sources: IEC 61300-3-35 for end faces
// (edition of the table passed in). No standard found sets a number of pin changes; matings:
// readiness.matings.* of the facts. Verified by: tests/unit/setup/register.cpp,
// tests/oracle/setup/end_face.cpp (the printed criteria).
#pragma once

#include "facts/tables.hpp"
#include "setup/plan.hpp"

#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace guidepin::setup {

/// A calendar day, UTC: days since 1970-01-01.
struct Day
{
    int days = 0;
    friend auto operator<=>(Day const&, Day const&) = default;
};

struct Instrument
{
    std::string serial;
    std::string name; ///< "source 1"
    std::optional<Day> calibrated, calibration_due;
};

/// What one zone of one fibre's end showed; sizes in um as estimated.
struct ZoneFinding
{
    int position = 1;
    std::string zone; ///< "A", "B", …
    std::vector<double> scratches_um, defects_um;
};

/// Findings on one end face, as entered by a person.
struct EndFaceInspection
{
    std::string item; ///< serial of the cord
    int end = 0;
    std::string type;                  ///< row of the table: "multimode-pc"
    std::vector<ZoneFinding> findings; ///< only what was seen; a zone without one is clean
    bool loose_debris = false;
};

struct EndFaceVerdict
{
    bool pass = false;
    struct Breach
    {
        int position = 0;
        std::string zone;
        std::string what; ///< "2 scratches above 3 um, 0 allowed"
        facts::Fact rule;
    };
    std::vector<Breach> breaches;
    std::string edition;
    std::string note; ///< loose debris, or zones without criteria
};
/// Judged by the rows of one edition; on an array only the rows marked for arrays count, on every position.
/// Errors: not_found for a type or edition without rows; invalid_input for a size that is not a positive
/// number.
Result<EndFaceVerdict> judge_end_face(EndFaceInspection const& inspection,
                                      std::span<facts::EndFaceZone const> rows, std::string const& edition,
                                      bool array = true);

/// What the records say of one item.
struct ItemHistory
{
    std::string serial;
    int matings = 0; ///< of the end with more
    int pin_changes = 0;
    std::optional<bool> end_faces_pass; ///< none: not inspected yet
};

/// Limits of the user; none means no limit. A warning comes at `warn_at` of a limit.
struct RegisterLimits
{
    std::optional<int> matings, pin_changes;
    double warn_at = 0.9;
    int calibration_warning_days = 30;
    bool end_faces_required = false; ///< refuse what was not inspected
};

enum class Fitness : std::uint8_t { fit, warned, refused, overridden };
char const* name_of(Fitness fitness); ///< "fit", "warned", "refused", "overridden"

/// What of an item is judged. In the order of their names, as records list them.
enum class FitnessMatter : std::uint8_t {
    calibration,
    end_face,
    matings,
    pin_changes,
    pins,
    other, ///< read from a record of a later program; no finding is about it
};
char const* name_of(FitnessMatter matter); ///< "calibration", "end-face", "matings", "pin-changes", "pins"
FitnessMatter parse_fitness_matter(std::string_view text);

struct FitnessFinding
{
    std::string serial;
    Fitness fitness = Fitness::fit;
    std::string text; ///< thing, value, limit, way out
    std::string override_reason;
    FitnessMatter about = FitnessMatter::other;
    /// If refused: the text without its way out, for a caller that knows a better one.
    std::string refusal = {};
};

/// A person's decision to use an item although it is refused.
struct Override
{
    std::string serial;
    std::string person;
    std::string reason;
    std::vector<FitnessMatter> about = {}; ///< what it covers; empty: whatever is found
};

/// Every item that is not simply fit. An override without person or reason does not count.
std::vector<FitnessFinding> check_fitness(std::span<Instrument const> instruments,
                                          std::span<ItemHistory const> items, RegisterLimits const& limits,
                                          Day today, std::span<Override const> overrides = {});

} // namespace guidepin::setup

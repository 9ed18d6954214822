// SPDX-License-Identifier: Apache-2.0
// The kit file: the instruments, test cords, adapters and pin tools that a crew carries, as TOML that a
// person writes once and brings into any job. Format: docs/formats/kit.md. Verified by:
// tests/unit/job/kit_file.cpp (each message, the document's example, there and back),
// tests/fuzz/kit_file.cpp.
#pragma once

#include "base/result.hpp"
#include "facts/tables.hpp"
#include "job/sheet/settings.hpp"
#include "setup/kit.hpp"
#include "setup/register.hpp"
#include "units/quantity.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

/// Returns the role of an instrument of a job sheet; source if none is stated.
InstrumentRole role_of(Instrument const& instrument);

/// A source or power meter with its port and what the register asks of it.
struct KitInstrument
{
    InstrumentRole role = InstrumentRole::source;
    setup::Instrument entry; ///< serial, name for people, calibration dates
    setup::Port port;
    std::vector<Nanometres> wavelengths; ///< that it sends or is calibrated at; empty: not stated
    /// Does it serve this kind of fibre? An instrument that does not state its wavelengths serves any.
    bool serves(facts::FibreKind kind) const;
};

struct KitFile
{
    setup::Kit kit;
    std::vector<KitInstrument> instruments;
    std::optional<setup::RegisterLimits> limits; ///< none: the file has no [limits]
};

/// Reports all faults at once, by line. `tables` give the fibre of a cord's category. Serials are
/// unique over instruments, cords and pin tools together. Errors: invalid_input.
Result<KitFile> kit_from_file(facts::NamedText const& file, facts::Tables const& tables);

/// "2026-03-02" and back; errors: invalid_input for what is no day of the calendar.
Result<setup::Day> parse_day(std::string_view text);
std::string day_text(setup::Day day);

} // namespace guidepin::job

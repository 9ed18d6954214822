// SPDX-License-Identifier: Apache-2.0
// One published value with where it comes from and how sure that is.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace guidepin::facts {

/// How a value is known. What a value of basis `memory` decides is marked so in every output.
enum class Basis {
    standard,        ///< read in the standard, or in its catalogue entry or a trade body's page
    secondary,       ///< as quoted in other literature; the standard named is the source
    common_practice, ///< a habit of the trade, without a published source
    memory,          ///< recalled, not confirmed against a printed copy
    derived,         ///< worked out from other values of these tables
};

char const* name_of(Basis basis); ///< "standard", "secondary", "common-practice", "memory", "derived"
std::optional<Basis> parse_basis(std::string_view text);

struct Source
{
    std::string document; ///< "TIA-568.3", "IEC 61280-4-1"; "common practice" if there is no document
    std::string edition;  ///< "E (2022)"; empty only for common practice
    std::string clause;   ///< clause or table where known

    std::string text() const; ///< "TIA-568.3-E (2022), 5.2" on one line
};

struct Fact
{
    std::string id;        ///< stable, dotted: "tia-568.3-e.end-connection.reference.multimode"
    std::string quantity;  ///< in words: "End connection, reference-grade cord"
    double value = 0;      ///< in `unit`; 0 with an empty unit when `text` is the value
    std::string text;      ///< for values that are words (a colour, a list of positions)
    std::string unit;      ///< "dB", "dB/km", "m", "nm", "min", "1", ""
    std::string condition; ///< "850 nm, EF launch"
    Source source;
    Basis basis = Basis::memory;
    std::string note;
    bool enabled = true; ///< false: carried, but used only when asked for (low confidence)
};

} // namespace guidepin::facts

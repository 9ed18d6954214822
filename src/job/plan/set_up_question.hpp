// SPDX-License-Identifier: Apache-2.0
// From words that a person gives (pins, adapters, serials, methods) to the question that the solver answers,
// and which instrument of a kit fits a plug. Verified by: tests/unit/job/set_up.cpp (what is refused),
// tests/cli/transcripts/setup.txt.
#pragma once

#include "job/sheet/kit_file.hpp"
#include "setup/search.hpp"

#include <string>
#include <vector>

namespace guidepin::job {

/// One set-up in words. Empty words mean what stands behind them.
struct SetupWords
{
    std::string source;               ///< "pinned", "unpinned", or a serial of the kit; the kit's first fit
    std::string meter;                ///< likewise, and "neutral"
    std::string cabling;              ///< "unpinned,unpinned": must be given
    std::string face;                 ///< "flat"
    std::string adapters;             ///< "opposed,opposed"; "bare" where a plug hangs free
    std::string family;               ///< "mpo-12"
    std::string fibres;               ///< all positions of the family
    std::string category;             ///< "OM4" where the faces are flat, "OS2" where they are angled
    std::string type;                 ///< polarity type of the cabling: "B", or "I-B" for two rows
    std::string names;                ///< "A12,B07": the two ends, for the drawings
    std::vector<std::string> methods; ///< one-cord alone
    bool cord_check = true;
};

/// The question that the words ask. `kit` none: a complete kit is taken for granted, first of cords with
/// fixed pins, and where that does not do, of cords whose pins can be changed. Errors: usage, naming the
/// word.
Result<setup::Question> question_of(SetupWords const& words, KitFile const* kit, facts::Tables const& tables);

/// Returns the arrangements that the words name, each once; one cord if there are no words. Errors: usage for
/// a word that names none.
Result<std::vector<setup::Arrangement>> arrangements_of(std::vector<std::string> const& words);

/// Returns an instrument of this kind whose port fits the plug: same family and fibre, and the same face if
/// the kit has one; nullptr if none fits.
KitInstrument const* fitting_instrument(KitFile const& kit, InstrumentRole role,
                                        plant::ConnectorEnd const& plug, facts::FibreKind kind);

/// Returns the serial of the instrument that `word` means; "" if it means none of the kit.
std::string instrument_serial_of(std::string const& word, InstrumentRole role, KitFile const* kit,
                                 setup::Cabling const& cabling);

} // namespace guidepin::job

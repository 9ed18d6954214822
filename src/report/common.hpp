// SPDX-License-Identifier: Apache-2.0
// What every document needs to know: the job, the paper, the way of writing numbers, the time.
#pragma once

#include "drawing/canvas.hpp"
#include "report/locale.hpp"
#include "report/paper.hpp"
#include "units/instant.hpp"

#include <memory>
#include <string>
#include <vector>

namespace guidepin::report {

struct Setting
{
    std::shared_ptr<drawing::Typeface> typeface;
    Paper paper = Paper::a4;
    Locale locale;
    Instant made;        ///< when the document is made; the only time in it that is not a record's
    std::string program; ///< "guidepin 0.1.0"
    std::string facts_version;
};

struct JobHead
{
    std::string name; ///< "Harbour Hall, phase 2"
    std::string site;
    std::string customer;
    std::string contractor;
};

/// A label and what it says: "Fibre" "OM4, 12 fibres".
struct Said
{
    std::string label;
    std::string text;
    bool mono = false; ///< hashes, serial numbers
};

/// A value of the tables that no one has confirmed against a printed copy, and how to put another in its
/// place.
struct Unconfirmed
{
    std::string quantity; ///< "End connection, reference-grade cord, multimode"
    std::string value;    ///< "0.35 dB"
    std::string source;
    std::string decides;     ///< "limits of 132 links"
    std::string override_by; ///< "a rule set file with [end-connection] …"
};

/// A table row of "Sources": what was taken from where.
struct Cited
{
    std::string source; ///< document, edition, clause
    std::string basis;  ///< "standard", "memory" …
    std::string used_for;
};

} // namespace guidepin::report

// SPDX-License-Identifier: Apache-2.0
// What went wrong, for whoever has to act on it. The code says who that is; the message names the thing, the
// value, the limit and the way out.
#pragma once

#include <string>
#include <utility>

namespace guidepin {

enum class Errc {
    usage,         ///< the words of a command are off: the person who typed acts
    invalid_input, ///< a file or a value that was brought does not hold: whoever made it acts
    not_found,     ///< a named thing (link, reference, rule set, file) does not exist
    conflict,      ///< the thing exists already, or has changed since it was read
    refused,       ///< a rule of the trade forbids it (a void reference, an item out of calibration)
    newer_version, ///< a file made by a later program
    damaged,       ///< records that do not hold together
    busy,          ///< another program holds the file
    environment,   ///< disk full, folder read-only, no permission, no network
    internal,      ///< a bug of ours: please report
};

/// One failure that was expected to be possible. `file` and `line` are where it arose, for a bug report.
struct [[nodiscard]] Error
{
    Errc code = Errc::internal;
    std::string message;
    char const* file = "";
    int line = 0;

    Error(Errc code_, std::string message_, char const* file_ = __builtin_FILE(),
          int line_ = __builtin_LINE())
        : code(code_)
        , message(std::move(message_))
        , file(file_)
        , line(line_)
    {
    }

    /// The same failure with a sentence of context in front: "Schedule floor-2.csv: line 14: ...".
    Error within(std::string const& context) const
    {
        return Error{code, context + ": " + message, file, line};
    }
};

/// Process exit code, by who must act: 0 done, 1 found non-conforming (no error), 2 usage, 3 bad input,
/// 4 environment, 5 our bug.
int exit_code(Errc code);

/// HTTP status for the same failure.
int http_status(Errc code);

/// Stable lower-case name, for JSON.
char const* name_of(Errc code);

} // namespace guidepin

// SPDX-License-Identifier: Apache-2.0
// One registry row for each command. Parsing, --help, the man page, the completions and the tests read the
// registry, so they always agree.
#pragma once

#include "base/clock.hpp"
#include "base/result.hpp"

#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::cli {

/// One word or option of a command. A name in capitals ("JOB") is a positional word; "--rules" is an option.
struct Option
{
    std::string_view name;
    std::string_view value; ///< what follows the name in the help: "ID", "DB"; empty for a switch
    std::string_view help;
    bool required = false;
    bool many = false;              ///< may be given several times, or several words
    std::string_view fallback = {}; ///< used when it is not given; shown in the help
    std::string_view choices = {};  ///< "one-cord,two-cord,three-cord": anything else is refused
};

/// What was typed, after the parser.
class Arguments
{
  public:
    bool has(std::string_view name) const;
    /// The value, or the option's fallback, or "".
    std::string text(std::string_view name) const;
    std::vector<std::string> texts(std::string_view name) const;
    Result<double> number(std::string_view name) const;
    Result<int> integer(std::string_view name) const;

    std::map<std::string, std::vector<std::string>, std::less<>> given;
    std::map<std::string, std::string, std::less<>> fallbacks;
};

/// The world as a command sees it: everything that a test replaces.
struct World
{
    Clock const& clock;
    std::string out = {};  ///< what is to be printed on standard output; written at the end, or by flush()
    bool terminal = false; ///< standard output is a terminal: colour
    bool error_terminal = false; ///< standard error is a terminal: progress bars
    bool json = false;
    std::map<std::string, std::string, std::less<>> environment = {};
    void (*flush)(World&) = nullptr;
    std::string working_folder = {};

    std::string variable(std::string_view name) const;
};

struct Command
{
    std::string_view name;
    std::string_view summary; ///< one line
    std::string_view about;   ///< a paragraph for --help and the man page
    std::string_view example; ///< without the program's name; executed by the tests where it can be
    std::span<Option const> options;
    Result<int> (*run)(Arguments const&, World&);
    bool answers_json = true; ///< has --json and a schema docs/schemas/NAME.json
};

std::span<Command const> commands();

/// Whole program after main(): parse, dispatch, report the failure. Returns the exit code.
int run_program(std::vector<std::string> const& words, World& world);

/// Clears the progress bar from the terminal, if one is shown.
void clear_progress();

/// Texts built from the registry.
std::string help_text(Command const& command);
std::string overview_text();
std::string manual_page();                             ///< roff
std::string completion_script(std::string_view shell); ///< "bash", "zsh", "fish"; empty for another

} // namespace guidepin::cli

// SPDX-License-Identifier: Apache-2.0
// From the registry rows to CLI11 and back: the only place that sees the parser.
#include "base/text.hpp"
#include "cli/command.hpp"
#include "cli/readable.hpp"

#include <algorithm>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

namespace guidepin::cli {

namespace {

bool is_positional(Option const& option)
{
    return !option.name.starts_with("-");
}

Command const* find_command(std::string_view name)
{
    for (Command const& command : commands()) {
        if (command.name == name) return &command;
    }
    return nullptr;
}

/// Refuses a misspelt option and names the one that was probably meant; the parser would only say "not
/// expected".
Outcome know_options(Command const& command, std::vector<std::string> const& words)
{
    std::vector<std::string> known;
    for (Option const& option : command.options) {
        if (!is_positional(option)) known.emplace_back(option.name);
    }
    for (std::string const& word : words) {
        if (word == "--") break;
        if (!word.starts_with("--")) continue;
        std::string const name = word.substr(0, word.find('='));
        if (std::find(known.begin(), known.end(), name) != known.end()) continue;
        auto const near = nearest(name, known);
        return Error{Errc::usage,
                     fmt::format("{} has no option {}{} See: guidepin {} --help", command.name, name,
                                 near.empty() ? "." : fmt::format("; did you mean {}?", joined(near, ", ")),
                                 command.name)};
    }
    return {};
}

Result<Arguments> parse(Command const& command, std::vector<std::string> words)
{
    CLI::App app{std::string(command.summary)};
    app.set_help_flag();
    Arguments arguments;
    std::vector<std::vector<std::string>> values(command.options.size());
    std::vector<CLI::Option*> handles(command.options.size());
    for (std::size_t i = 0; i < command.options.size(); ++i) {
        Option const& option = command.options[i];
        std::string const name(option.name);
        CLI::Option* handle = nullptr;
        if (!is_positional(option) && option.value.empty()) {
            handle = app.add_flag(name);
        } else {
            handle = app.add_option(is_positional(option) ? lowered(name) : name, values[i]);
            if (option.many) {
                handle->expected(1, 1'000'000);
            } else {
                handle->expected(1);
            }
            handle->allow_extra_args(option.many && is_positional(option));
            if (!is_positional(option) && option.many) handle->expected(1)->take_all();
            handle->option_text(name);
        }
        if (!option.fallback.empty()) arguments.fallbacks[name] = std::string(option.fallback);
        handles[i] = handle;
    }
    TRY(know_options(command, words));
    std::reverse(words.begin(), words.end()); // what CLI11 expects of a vector
    try {
        app.parse(words);
    } catch (CLI::ParseError const& error) {
        return Error{Errc::usage, fmt::format("{}. See: guidepin {} --help", error.what(), command.name)};
    }
    for (std::size_t i = 0; i < command.options.size(); ++i) {
        Option const& option = command.options[i];
        if (handles[i]->count() > 0) arguments.given[std::string(option.name)] = values[i];
        if (option.required && handles[i]->count() == 0) {
            return Error{Errc::usage,
                         fmt::format("{} is missing{}. See: guidepin {} --help", option.name,
                                     option.help.empty() ? "" : fmt::format(" ({})", option.help),
                                     command.name)};
        }
        if (option.choices.empty()) continue;
        std::vector<std::string> known;
        for (std::string_view const choice : split(option.choices, ',')) known.emplace_back(choice);
        for (std::string const& value : values[i]) {
            if (std::find(known.begin(), known.end(), value) != known.end()) continue;
            return Error{Errc::usage,
                         fmt::format("{}: \"{}\" is not one of {}", option.name, value, joined(known, ", "))};
        }
    }
    return arguments;
}

std::string error_json(Error const& error)
{
    std::string quoted;
    for (char const letter : readable(error.message)) {
        if (letter == '"' || letter == '\\') quoted += '\\';
        if (static_cast<unsigned char>(letter) < 0x20) {
            quoted += fmt::format("\\u{:04x}", static_cast<unsigned>(letter));
        } else {
            quoted += letter;
        }
    }
    return fmt::format("{{\"error\":{{\"code\":\"{}\",\"message\":\"{}\"}}}}\n", name_of(error.code), quoted);
}

int report(Error const& error, World& world)
{
    if (world.json) world.out += error_json(error);
    if (world.flush) world.flush(world);
    std::string message = error.message;
    if (error.code == Errc::internal) {
        message = fmt::format("This is a bug in guidepin; please report it with this line: {} ({}:{})",
                              message, error.file, error.line);
    }
    fmt::print(stderr, "guidepin: {}\n", readable(message));
    return exit_code(error.code);
}

} // namespace

int run_program(std::vector<std::string> const& words, World& world)
{
    auto const done = [&](int code) {
        if (world.flush) world.flush(world);
        return code;
    };
    if (words.empty() || words[0] == "--help" || words[0] == "-h" || words[0] == "help") {
        if (words.size() > 1 && words[0] == "help") {
            if (Command const* const command = find_command(words[1])) {
                world.out += help_text(*command);
                return done(0);
            }
        }
        world.out += overview_text();
        return done(words.empty() ? 2 : 0);
    }
    if (words[0] == "--version") {
        world.out += "guidepin " GUIDEPIN_VERSION "\n";
        return done(0);
    }
    Command const* const command = find_command(words[0]);
    if (!command) {
        world.json = std::find(words.begin(), words.end(), "--json") != words.end();
        std::vector<std::string> names;
        for (Command const& known : commands()) names.emplace_back(known.name);
        auto const near = nearest(words[0], names);
        return report(
            Error{Errc::usage,
                  fmt::format("There is no command \"{}\"{} See: guidepin --help", words[0],
                              near.empty() ? "." : fmt::format("; did you mean {}?", joined(near, ", ")))},
            world);
    }
    std::vector<std::string> rest(words.begin() + 1, words.end());
    for (auto word = rest.begin(); word != rest.end();) {
        if (*word == "--help" || *word == "-h") {
            world.out += help_text(*command);
            return done(0);
        }
        if (*word == "--json" && command->answers_json) {
            world.json = true;
            word = rest.erase(word);
        } else {
            ++word;
        }
    }
    auto const arguments = parse(*command, std::move(rest));
    if (!arguments) return report(arguments.error(), world);
    auto const outcome = command->run(*arguments, world);
    clear_progress();
    if (!outcome) return report(outcome.error(), world);
    return done(*outcome);
}

} // namespace guidepin::cli

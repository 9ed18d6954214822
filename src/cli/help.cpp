// SPDX-License-Identifier: Apache-2.0
// Help, man page and completions, all from the registry.
#include "base/text.hpp"
#include "cli/command.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::cli {

namespace {

bool is_positional(Option const& option)
{
    return !option.name.starts_with("-");
}

std::string usage_line(Command const& command)
{
    std::string line = fmt::format("guidepin {}", command.name);
    bool options = command.answers_json;
    for (Option const& option : command.options) {
        if (is_positional(option)) {
            std::string word = std::string(option.name) + (option.many ? "…" : "");
            line += option.required ? " " + word : " [" + word + "]";
        } else if (option.required) {
            line += fmt::format(" {} {}", option.name, option.value);
        } else {
            options = true;
        }
    }
    return options ? line + " [options]" : line;
}

std::string label_of(Option const& option)
{
    if (is_positional(option) || option.value.empty()) return std::string(option.name);
    return fmt::format("{} {}", option.name, option.value);
}

std::string help_of(Option const& option)
{
    std::string help(option.help);
    if (!option.choices.empty()) {
        std::string choices;
        for (std::string_view const choice : split(option.choices, ',')) {
            if (!choices.empty()) choices += ", ";
            choices += choice;
        }
        help += fmt::format(" ({})", choices);
    }
    if (!option.fallback.empty()) help += fmt::format(" [default: {}]", option.fallback);
    return help;
}

constexpr Option json_option{"--json", "", "print JSON (its schema: docs/schemas/COMMAND.json)"};

std::vector<Option> all_options(Command const& command)
{
    std::vector<Option> options(command.options.begin(), command.options.end());
    if (command.answers_json) options.push_back(json_option);
    return options;
}

/// Breaks at spaces so that no line is longer than `width` columns (counted in bytes: close enough for
/// English).
std::string wrapped(std::string_view text, std::size_t width, std::string_view indent)
{
    std::string result;
    std::string line;
    for (std::string_view const word : split(text, ' ')) {
        if (!line.empty() && line.size() + 1 + word.size() > width) {
            result += line + "\n" + std::string(indent);
            line.clear();
        }
        if (!line.empty()) line += ' ';
        line += word;
    }
    return result + line;
}

std::string roff(std::string_view text)
{
    std::string result;
    for (char const letter : text) {
        if (letter == '\\') {
            result += "\\e";
        } else if (letter == '-') {
            result += "\\-";
        } else {
            result += letter;
        }
    }
    return result.starts_with('.') || result.starts_with('\'') ? "\\&" + result : result;
}

} // namespace

std::string help_text(Command const& command)
{
    std::string text = fmt::format("{}\n\n  {}\n\n{}\n", command.summary, usage_line(command),
                                   wrapped(command.about, 88, ""));
    auto const options = all_options(command);
    std::size_t width = 0;
    for (Option const& option : options) width = std::max(width, label_of(option).size());
    if (!options.empty()) text += "\n";
    for (Option const& option : options) {
        std::string const indent(width + 5, ' ');
        text += fmt::format("  {:<{}}   {}\n", label_of(option), width,
                            wrapped(help_of(option), 100 - width, indent));
    }
    text += fmt::format("\nExample:\n  guidepin {}\n", command.example);
    text += "\nExit codes: 0 done, 1 something does not conform, 2 wrong usage, 3 bad input, 4 a problem of "
            "the system, 5 a bug in guidepin.\n";
    return text;
}

std::string overview_text()
{
    std::string text = "guidepin: certifies multi-fibre optical cabling, and says why\n\n  guidepin COMMAND "
                       "[arguments and options]\n\n";
    std::size_t width = 0;
    for (Command const& command : commands()) width = std::max(width, command.name.size());
    for (Command const& command : commands())
        text += fmt::format("  {:<{}}   {}\n", command.name, width, command.summary);
    text += "\n  guidepin COMMAND --help shows the options of a command, with an example.\n";
    return text;
}

std::string manual_page()
{
    std::string page = ".TH GUIDEPIN 1\n.SH NAME\nguidepin \\- certifies multi\\-fibre optical cabling\n.SH "
                       "SYNOPSIS\n.B guidepin\nCOMMAND [arguments and options]\n.SH COMMANDS\n";
    for (Command const& command : commands()) {
        page += fmt::format(".SS {}\n.B {}\n.PP\n{}\n", roff(command.name), roff(usage_line(command)),
                            roff(command.about));
        for (Option const& option : all_options(command)) {
            page += fmt::format(".TP\n.B {}\n{}\n", roff(label_of(option)), roff(help_of(option)));
        }
        page += fmt::format(".PP\nExample:\n.RS\nguidepin {}\n.RE\n", roff(command.example));
    }
    page += ".SH EXIT STATUS\n0 done; 1 something does not conform; 2 wrong usage; 3 bad input; 4 a problem "
            "of the system; 5 a bug in guidepin.\n";
    return page;
}

std::string completion_script(std::string_view shell)
{
    std::string names;
    for (Command const& command : commands())
        names += fmt::format("{}{}", names.empty() ? "" : " ", command.name);
    if (shell == "bash") {
        std::string script = "_guidepin() {\n  local word=\"${COMP_WORDS[COMP_CWORD]}\"\n  if [ "
                             "\"$COMP_CWORD\" -eq 1 ]; then\n    COMPREPLY=($(compgen -W \"" +
                             names + "\" -- \"$word\")); return\n  fi\n  case \"${COMP_WORDS[1]}\" in\n";
        for (Command const& command : commands()) {
            std::string words;
            for (Option const& option : all_options(command)) {
                if (!is_positional(option))
                    words += fmt::format("{}{}", words.empty() ? "" : " ", option.name);
            }
            script += fmt::format(
                "    {}) COMPREPLY=($(compgen -W \"{}\" -- \"$word\") $(compgen -f -- \"$word\")) ;;\n",
                command.name, words);
        }
        return script + "  esac\n}\ncomplete -o filenames -F _guidepin guidepin\n";
    }
    if (shell == "zsh") {
        std::string script = "#compdef guidepin\nlocal -a commands\ncommands=(\n";
        for (Command const& command : commands())
            script += fmt::format("  '{}:{}'\n", command.name, command.summary);
        script += ")\nif (( CURRENT == 2 )); then\n  _describe command commands\n  return\nfi\ncase "
                  "\"$words[2]\" in\n";
        for (Command const& command : commands()) {
            std::string words;
            for (Option const& option : all_options(command)) {
                if (!is_positional(option)) words += fmt::format(" '{}'", option.name);
            }
            script += fmt::format("  {}) compadd --{}; _files ;;\n", command.name, words);
        }
        return script + "esac\n";
    }
    if (shell == "fish") {
        std::string script;
        for (Command const& command : commands()) {
            script += fmt::format("complete -c guidepin -n __fish_use_subcommand -a {} -d '{}'\n",
                                  command.name, command.summary);
            for (Option const& option : all_options(command)) {
                if (is_positional(option)) continue;
                script += fmt::format("complete -c guidepin -n '__fish_seen_subcommand_from {}' -l {}{}\n",
                                      command.name, option.name.substr(2), option.value.empty() ? "" : " -r");
            }
        }
        return script;
    }
    return {};
}

} // namespace guidepin::cli

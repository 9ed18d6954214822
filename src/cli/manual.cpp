// SPDX-License-Identifier: Apache-2.0
// The man page and the shells' completions, printed from the registry.
#include "cli/registry.hpp"

#include <array>

namespace guidepin::cli {

namespace {

Result<int> run_manual(Arguments const&, World& world)
{
    world.out += manual_page();
    return 0;
}

Result<int> run_completions(Arguments const& arguments, World& world)
{
    world.out += completion_script(arguments.text("SHELL"));
    return 0;
}

constexpr std::array completion_options{
    Option{"SHELL", "", "the shell", true, false, {}, "bash,zsh,fish"},
};

} // namespace

Command const manual_command{"manual",
                             "Print the man page",
                             "Prints every command with its options as roff: guidepin manual | man -l -",
                             "manual",
                             {},
                             &run_manual,
                             false};
Command const completions_command{
    "completions",
    "Print the completions of a shell",
    "For bash: guidepin completions bash > ~/.local/share/bash-completion/completions/guidepin",
    "completions bash",
    completion_options,
    &run_completions,
    false};

} // namespace guidepin::cli

// SPDX-License-Identifier: Apache-2.0
// Builds the world, dispatches, and catches what nobody expected.
#include "cli/command.hpp"
#include "cli/readable.hpp"

#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <exception>
#include <filesystem>

#include <unistd.h>

extern char** environ;

namespace {

int lost_at = 0; ///< errno of the first output that could not be written

void write_out(guidepin::cli::World& world)
{
    if (world.terminal) world.out = guidepin::cli::readable_in_colour(world.out);
    errno = 0;
    bool const whole = std::fwrite(world.out.data(), 1, world.out.size(), stdout) == world.out.size();
    if ((std::fflush(stdout) != 0 || !whole) && lost_at == 0) lost_at = errno != 0 ? errno : EIO;
    world.out.clear();
}

/// A command whose output could not be written has failed.
int with_output(int code)
{
    if (lost_at == 0) return code;
    std::fprintf(stderr,
                 "guidepin: Standard output could not be written: %s. The output is incomplete; check the "
                 "disk (space, quota, file size limit) and run the command again.\n",
                 std::strerror(lost_at));
    return 4;
}

} // namespace

int main(int count, char** words)
{
    // A file that grows beyond the limit on its size (ulimit -f) is an error of that write, as on a full
    // disk; the signal would end the program without a message.
    std::signal(SIGXFSZ, SIG_IGN);
    guidepin::SystemClock const clock;
    guidepin::cli::World world{clock};
    try {
        world.terminal = ::isatty(STDOUT_FILENO) != 0;
        world.error_terminal = ::isatty(STDERR_FILENO) != 0;
        world.flush = &write_out;
        std::error_code ignored;
        world.working_folder = std::filesystem::current_path(ignored).string();
        for (char** variable = environ; *variable; ++variable) {
            std::string_view const text(*variable);
            auto const equals = text.find('=');
            if (equals != std::string_view::npos)
                world.environment.emplace(text.substr(0, equals), text.substr(equals + 1));
        }
        return with_output(guidepin::cli::run_program({words + 1, words + count}, world));
    } catch (std::exception const& error) {
        write_out(world);
        std::fprintf(stderr, "guidepin: This is a bug in guidepin; please report it with this line: %s\n",
                     error.what());
        return 5;
    }
}

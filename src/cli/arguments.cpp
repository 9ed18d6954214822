// SPDX-License-Identifier: Apache-2.0
#include "base/text.hpp"
#include "cli/command.hpp"

#include <fmt/format.h>

namespace guidepin::cli {

bool Arguments::has(std::string_view name) const
{
    return given.find(name) != given.end();
}

std::string Arguments::text(std::string_view name) const
{
    if (auto const found = given.find(name); found != given.end() && !found->second.empty())
        return found->second.back();
    auto const fallback = fallbacks.find(name);
    return fallback == fallbacks.end() ? std::string{} : fallback->second;
}

std::vector<std::string> Arguments::texts(std::string_view name) const
{
    auto const found = given.find(name);
    return found == given.end() ? std::vector<std::string>{} : found->second;
}

Result<double> Arguments::number(std::string_view name) const
{
    std::string const value = text(name);
    auto const number = parse_number(value);
    if (!number)
        return Error{Errc::usage, fmt::format("{}: \"{}\" is not a number (use a point: 0.35)", name, value)};
    return *number;
}

Result<int> Arguments::integer(std::string_view name) const
{
    std::string const value = text(name);
    auto const number = parse_integer(value);
    if (!number || *number < -1'000'000'000 || *number > 1'000'000'000) {
        return Error{Errc::usage, fmt::format("{}: \"{}\" is not a whole number", name, value)};
    }
    return static_cast<int>(*number);
}

std::string World::variable(std::string_view name) const
{
    auto const found = environment.find(name);
    return found == environment.end() ? std::string{} : found->second;
}

} // namespace guidepin::cli

// SPDX-License-Identifier: Apache-2.0
#include "record/sqlite/holder.hpp"

#include "base/text.hpp"

#include <cerrno>
#include <fstream>
#include <sstream>
#include <vector>

#include <csignal>
#include <fmt/format.h>
#include <unistd.h>

namespace guidepin::record::sqlite {

namespace {

std::string host_name()
{
    char name[256] = "";
    if (::gethostname(name, sizeof name - 1) != 0) return "unknown host";
    return name;
}

struct Entry
{
    std::int64_t process = 0;
    std::string host, program;
};

/// Three lines: process, host, program.
Entry read_entry(std::string const& path)
{
    std::ifstream file(path);
    Entry entry;
    std::string process;
    std::getline(file, process);
    std::getline(file, entry.host);
    std::getline(file, entry.program);
    entry.process = parse_integer(process).value_or(0);
    return entry;
}

bool is_gone(Entry const& entry)
{
    return entry.host == host_name() && ::kill(static_cast<pid_t>(entry.process), 0) != 0 && errno == ESRCH;
}

} // namespace

void Holder::enter(std::string const& program) const
{
    std::ofstream file(path_, std::ios::trunc);
    file << fmt::format("{}\n{}\n{}\n", ::getpid(), host_name(), program);
}

void Holder::leave() const
{
    Entry const entry = read_entry(path_);
    if (entry.process == ::getpid() && entry.host == host_name()) ::unlink(path_.c_str());
}

std::string Holder::who() const
{
    Entry const entry = read_entry(path_);
    if (entry.process <= 0 || is_gone(entry)) return "another program";
    return fmt::format("Guidepin {} (process {} on {})", entry.program, entry.process, entry.host);
}

} // namespace guidepin::record::sqlite

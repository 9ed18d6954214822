// SPDX-License-Identifier: Apache-2.0
// Reads tables of a fact file member by member. All that is wrong is collected, each with file and line;
// members that nobody asked for are wrong too, for a misspelt key must not pass in silence.
//
// Verified by: tests/unit/facts/rule_set.cpp, tests/unit/facts/tables.cpp.
#pragma once

#include "facts/fact.hpp"
#include "facts/tree.hpp"

#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::facts {

/// What is wrong with one file.
class Log
{
  public:
    explicit Log(std::string file)
        : file_(std::move(file))
    {
    }
    void say(int line, std::string const& what);
    bool empty() const { return lines_.empty(); }
    std::vector<std::string> const& lines() const { return lines_; }

  private:
    std::string file_;
    std::vector<std::string> lines_;
};

/// All problems as one error; at most 50 are listed, and how many more there are.
Error error_of(std::vector<std::string> const& problems);

using Sources = std::map<std::string, Source, std::less<>>;

/// One table while it is read. Whatever was not taken by the end is reported by `finish`.
class Section
{
  public:
    Section(Node const& table, std::string what, Log& log);

    int line() const { return table_->line; }
    std::string const& what() const { return what_; }
    Log& log() const { return *log_; }
    void say(std::string const& problem) const { log_->say(line(), what_ + ": " + problem); }
    void say(Node const& at, std::string const& problem) const { log_->say(at.line, what_ + ": " + problem); }

    Node const* take(std::string_view key);
    Node const* required(std::string_view key); ///< reports a missing one

    std::string text(std::string_view key); ///< required and not empty
    std::string optional_text(std::string_view key);
    std::optional<double> number(std::string_view key);                      ///< required, finite
    std::optional<int> whole(std::string_view key, int lowest, int highest); ///< required
    bool optional_flag(std::string_view key, bool otherwise);
    std::vector<int> whole_numbers(std::string_view key, int lowest, int highest); ///< required list
    std::vector<int> optional_whole_numbers(std::string_view key, int lowest, int highest);
    std::vector<std::string> texts(std::string_view key); ///< required list
    std::vector<std::string> optional_texts(std::string_view key);
    std::vector<Section> tables(std::string_view key); ///< of [[key]]; none is not an error

    /// Reports every member that was not taken, with the nearest known key.
    void finish();

  private:
    Node const* table_;
    std::string what_;
    Log* log_;
    std::set<std::string, std::less<>> taken_;
};

/// What a fact may be; outside is an error that names the range.
struct Expected
{
    std::string_view unit; ///< "dB", "dB/km" …; "*" for any, "" for words
    double lowest = -1e9;
    double highest = 1e9;
};

/// The [sources.KEY] tables of a file.
Sources read_sources(Section& file);

/// A value with its unit, condition, source and basis, from the members of `section`; the caller takes its
/// own members (category, wavelength …) before or after, and finishes the section.
std::optional<Fact> read_fact(Section& section, Sources const& sources, std::string id, std::string quantity,
                              Expected const& expected);

/// The same from a member that is a table of its own: loss = { value = 1.9, unit = "dB", … }.
std::optional<Fact> read_fact_member(Section& section, std::string_view key, Sources const& sources,
                                     std::string id, std::string quantity, Expected const& expected);
std::optional<Fact> read_optional_fact_member(Section& section, std::string_view key, Sources const& sources,
                                              std::string id, std::string quantity, Expected const& expected);

/// `source`, `clause` of a row: a key of [sources] or a table { document, edition }.
std::optional<Source> read_source(Section& section, Sources const& sources);
std::optional<Basis> read_basis(Section& section);

} // namespace guidepin::facts

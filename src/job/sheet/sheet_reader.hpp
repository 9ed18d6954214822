// SPDX-License-Identifier: Apache-2.0
// Reading of the TOML files that people write for a job (job sheet, kit): each value with its range, all that
// is wrong reported at once, by line. For the .cpp files of this room only.
// Verified by: tests/unit/job/settings.cpp, tests/unit/job/kit_file.cpp, tests/fuzz/job_sheet.cpp,
// tests/fuzz/kit_file.cpp.
#pragma once

#include "base/text.hpp"
#include "base/toml_guard.hpp"
#include "facts/tables.hpp"
#include "units/quantity.hpp"

#include <algorithm>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "base/toml.hpp"
#include <fmt/format.h>

namespace guidepin::job {

/// Reads values out of one table and remembers everything that is wrong, with its line.
class SheetReader
{
  public:
    SheetReader(toml::table const& table, std::string where, std::string const& file,
                std::vector<std::string>& problems)
        : table_(table)
        , where_(std::move(where))
        , file_(file)
        , problems_(problems)
    {
    }

    void text(std::string const& key, std::string& into, std::vector<std::string> const& choices = {})
    {
        auto const* const node = take(key);
        if (!node) return;
        auto const value = node->value<std::string>();
        if (!node->is_string() || !value) return wrong(*node, key, "a text in quotes");
        if (!choices.empty() && std::find(choices.begin(), choices.end(), *value) == choices.end()) {
            return wrong(*node, key, fmt::format("one of {}, not \"{}\"", joined(choices, ", "), *value));
        }
        into = *value;
    }
    /// One of `choices`, which `parse` turns into the value.
    template <class T, class Parse>
    void chosen(std::string const& key, T& into, std::vector<std::string> const& choices, Parse parse)
    {
        std::string written;
        text(key, written, choices);
        if (auto const value = parse(written)) into = *value;
    }
    void number(std::string const& key, double& into, double low, double high)
    {
        auto const* const node = take(key);
        if (!node) return;
        auto const value = node->value<double>();
        if (!node->is_number() || !value || !(*value >= low && *value <= high)) {
            return wrong(*node, key,
                         fmt::format("a number from {} to {}", number_text(low), number_text(high)));
        }
        into = *value;
    }
    void whole(std::string const& key, int& into, int low, int high)
    {
        double value = into;
        auto const* const node = table_.get(key);
        number(key, value, low, high);
        if (node && value != static_cast<int>(value)) return wrong(*node, key, "a whole number");
        into = static_cast<int>(value);
    }
    void truth(std::string const& key, bool& into)
    {
        auto const* const node = take(key);
        if (!node) return;
        if (!node->is_boolean()) return wrong(*node, key, "true or false");
        into = *node->value<bool>();
    }
    template <class T, class Parse>
    void parsed(std::string const& key, T& into, Parse parse)
    {
        std::string written;
        text(key, written);
        if (written.empty()) return;
        auto result = parse(written);
        if (result) {
            into = std::move(result).value();
        } else {
            wrong(*table_.get(key), key, wanted_instead(result.error().message, written));
        }
    }
    void grade(std::string const& key, facts::CordGrade& into)
    {
        parsed(key, into, [](std::string const& written) -> Result<facts::CordGrade> {
            auto const grade = facts::parse_cord_grade(written);
            if (!grade) return Error{Errc::invalid_input, "reference or standard"};
            return *grade;
        });
    }
    /// Returns a list of wavelengths; empty if it is missing or wrong.
    std::optional<std::vector<Nanometres>> wavelengths(std::string const& key)
    {
        auto const* const node = take(key);
        if (!node) return std::nullopt;
        auto const* const list = node->as_array();
        std::vector<Nanometres> result;
        for (std::size_t i = 0; list && i < list->size(); ++i) {
            auto const value = list->get(i)->value<std::int64_t>();
            if (value && *value >= 600 && *value <= 1700) result.emplace_back(static_cast<int>(*value));
        }
        if (!list || result.empty() || result.size() != list->size()) {
            wrong(*node, key, "a list of wavelengths from 600 to 1700 nm, such as [850] or [1310, 1550]");
            return std::nullopt;
        }
        return result;
    }
    void date(std::string const& key, std::string& into)
    {
        auto const* const node = take(key);
        if (!node) return;
        if (auto const* const value = node->as_date()) {
            toml::date const day = value->get();
            into = fmt::format("{:04}-{:02}-{:02}", day.year, day.month, day.day);
        } else {
            wrong(*node, key, "a date such as 2026-03-02, without quotes");
        }
    }
    void lengths(std::string const& key, Metres& into, double highest)
    {
        auto const* const node = take(key);
        if (!node) return;
        std::optional<Metres> length;
        if (auto const number = node->value<double>(); number && node->is_number()) length = Metres{*number};
        if (auto const written = node->value<std::string>(); written && node->is_string())
            length = parse_length(*written);
        if (!length || !(length->value() >= 0 && length->value() <= highest)) {
            return wrong(
                *node, key,
                fmt::format("a length from 0 to {} m, as 30, \"30 m\" or \"98 ft\"", number_text(highest)));
        }
        into = *length;
    }
    bool has_any(std::vector<std::string> const& keys) const
    {
        return std::any_of(keys.begin(), keys.end(),
                           [&](std::string const& key) { return table_.get(key) != nullptr; });
    }
    toml::node const* take(std::string const& key)
    {
        known_.push_back(key);
        return table_.get(key);
    }
    void wrong(toml::node const& node, std::string const& key, std::string const& wanted)
    {
        problems_.push_back(fmt::format("{} line {}: {}.{}: expected {}", file_, node.source().begin.line,
                                        where_, key, wanted));
    }
    int line() const { return static_cast<int>(table_.source().begin.line); }
    /// A fault of the table as a whole.
    void fault(std::string const& what)
    {
        problems_.push_back(fmt::format("{} line {}: {}: {}", file_, line(), where_, what));
    }
    /// Reports names that nobody asked for: they are typing errors.
    void finish()
    {
        for (auto const& [key, node] : table_) {
            std::string const name(key.str());
            if (std::find(known_.begin(), known_.end(), name) != known_.end()) continue;
            problems_.push_back(fmt::format("{} line {}: {} has no \"{}\"{}", file_, node.source().begin.line,
                                            where_, name,
                                            did_you_mean(name, known_, "; it has " + joined(known_, ", "))));
        }
    }

  private:
    /// "Pins 'male' is not one of pinned, unpinned." as what was expected, and what was read.
    static std::string wanted_instead(std::string const& message, std::string const& written)
    {
        std::string wanted = message;
        constexpr std::string_view known = " is not one of ";
        if (auto const at = wanted.find(known); at != std::string::npos) {
            wanted = "one of " + wanted.substr(at + known.size());
            if (wanted.ends_with('.')) wanted.pop_back();
        }
        return fmt::format("{}, not \"{}\"", wanted, written);
    }
    toml::table const& table_;
    std::string where_;
    std::string const& file_;
    std::vector<std::string>& problems_;
    std::vector<std::string> known_;
};

/// invalid_input with file, line and reason for what is no TOML.
inline Result<toml::table> parse_sheet(facts::NamedText const& sheet)
{
    if (auto const fault = toml_fault(sheet.text)) {
        return Error{Errc::invalid_input,
                     fmt::format("{} line {}: {}", sheet.name, fault->line, fault->reason)};
    }
    try {
        return toml::parse(sheet.text);
    } catch (toml::parse_error const& error) {
        return Error{Errc::invalid_input, fmt::format("{} line {}: {}", sheet.name, error.source().begin.line,
                                                      error.description())};
    }
}

/// Calls `read` for each table of the array `key`.
template <class Read>
void each_table(toml::table const& root, std::string const& key, std::string const& file,
                std::vector<std::string>& problems, Read read)
{
    auto const* const node = root.get(key);
    if (!node) return;
    auto const* const list = node->as_array();
    if (!list || !list->is_array_of_tables()) {
        problems.push_back(fmt::format("{} line {}: write each {} as its own [[{}]]", file,
                                       node->source().begin.line, key, key));
        return;
    }
    for (std::size_t i = 0; i < list->size(); ++i) {
        SheetReader reader(*list->get(i)->as_table(), fmt::format("{} {}", key, i + 1), file, problems);
        read(reader);
    }
}

} // namespace guidepin::job

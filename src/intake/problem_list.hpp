// SPDX-License-Identifier: Apache-2.0
// Problems as they are found: the first few in words, all of them counted. Room-private.
#pragma once

#include "intake/csv.hpp"
#include "intake/file.hpp"

namespace guidepin::intake {

class ProblemList
{
  public:
    explicit ProblemList(std::size_t listed_at_most)
        : listed_at_most_(listed_at_most)
    {
    }

    void add(std::uint32_t line, std::string_view column, std::string_view value, std::string_view reason)
    {
        ++problems_.count;
        if (problems_.listed.size() < listed_at_most_) {
            problems_.listed.push_back(Problem{line, shown(column), shown(value), std::string(reason)});
        }
    }
    void count_row() { ++problems_.rows; }

    /// Adds those of a later part of the file.
    void append(Problems&& later)
    {
        problems_.count += later.count;
        problems_.rows += later.rows;
        for (Problem& problem : later.listed) {
            if (problems_.listed.size() == listed_at_most_) break;
            problems_.listed.push_back(std::move(problem));
        }
    }
    bool empty() const { return problems_.count == 0; }
    Problems const& problems() const { return problems_; }
    Problems take() { return std::move(problems_); }

  private:
    std::size_t listed_at_most_;
    Problems problems_;
};

/// Two lists about one file, in the order of its lines.
Problems merged(Problems first, Problems second, std::size_t listed_at_most);

} // namespace guidepin::intake

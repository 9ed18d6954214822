// SPDX-License-Identifier: Apache-2.0
#include "intake/file.hpp"

#include "intake/problem_list.hpp"

#include <algorithm>
#include <iterator>

#include <fmt/format.h>

namespace guidepin::intake {

std::string problem_text(Problem const& problem)
{
    std::string text = fmt::format("line {}", problem.line);
    if (!problem.column.empty()) text += ", " + problem.column;
    if (!problem.value.empty()) text += fmt::format(": '{}'", problem.value);
    return text + ": " + problem.reason;
}

std::string problems_text(Problems const& problems)
{
    std::string text;
    for (Problem const& problem : problems.listed) text += problem_text(problem) + "\n";
    if (problems.count > problems.listed.size()) {
        text += fmt::format("and {} more\n", problems.count - problems.listed.size());
    }
    return text;
}

Error refusal(std::string_view name, Problems const& bad, std::size_t rows)
{
    std::string message = fmt::format("{}: {} of {} rows {} not hold, so nothing of the file was kept.\n",
                                      name, bad.rows, rows, bad.rows == 1 ? "does" : "do");
    message += problems_text(bad);
    message += "Correct these rows, or ask for the good rows to be kept.";
    return Error{Errc::invalid_input, message};
}

Problems merged(Problems first, Problems second, std::size_t listed_at_most)
{
    Problems result;
    result.count = first.count + second.count;
    result.rows = first.rows + second.rows;
    std::merge(std::make_move_iterator(first.listed.begin()), std::make_move_iterator(first.listed.end()),
               std::make_move_iterator(second.listed.begin()), std::make_move_iterator(second.listed.end()),
               std::back_inserter(result.listed),
               [](Problem const& a, Problem const& b) { return a.line < b.line; });
    if (result.listed.size() > listed_at_most) result.listed.resize(listed_at_most);
    return result;
}

} // namespace guidepin::intake

// SPDX-License-Identifier: Apache-2.0
// Names, positions and wavelengths in a finding's text, and its action.
#include "cause/inside.hpp"

#include <fmt/format.h>

namespace guidepin::cause {

std::string positions_text(std::vector<int> const& positions)
{
    plant::Occupancy set;
    for (int const p : positions) {
        if (p >= 1 && p <= plant::max_positions) set.set(static_cast<std::size_t>(p - 1));
    }
    std::string text;
    for (int p = 1; p <= plant::max_positions; ++p) {
        if (!set.test(static_cast<std::size_t>(p - 1))) continue;
        int last = p;
        while (last < plant::max_positions && set.test(static_cast<std::size_t>(last))) ++last;
        if (!text.empty()) text += ", ";
        text += last == p ? std::to_string(p) : fmt::format("{}{}{}", p, last == p + 1 ? ", " : "-", last);
        p = last;
    }
    return text;
}

std::string Explainer::Site::names_of(std::span<std::uint32_t const> links) const
{
    std::string text;
    std::size_t const shown = links.size() > 4 ? 3 : links.size();
    for (std::size_t i = 0; i < shown; ++i) {
        if (i > 0) text += i + 1 == links.size() ? " and " : ", ";
        text += columns->links[links[i]].id;
    }
    if (shown < links.size()) text += fmt::format(" and {} more", links.size() - shown);
    return text;
}

std::string Explainer::Site::wavelengths_text(LinkKind const& kind,
                                              std::vector<std::size_t> const& which) const
{
    std::string text;
    for (std::size_t i = 0; i < which.size(); ++i) {
        if (i > 0) text += i + 1 == which.size() ? " and " : ", ";
        text += std::to_string(kind.wavelength_nm[which[i]]);
    }
    return text + " nm";
}

void Explainer::Site::finish(Finding& finding, std::string const& where) const
{
    finding.id = identity_of(finding, *columns);
    Cause const first = cause_to_check_first(finding);
    std::string place = where;
    if (first != finding.cause && !finding.links.empty()) place = names_of(finding.links);
    finding.action = action_for(first, place) + ".";
    if (first != finding.cause)
        finding.action += fmt::format(" If that is not it: {}.", action_for(finding.cause, where));
}

} // namespace guidepin::cause

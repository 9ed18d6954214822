// SPDX-License-Identifier: Apache-2.0
#include "job/paper/unconfirmed.hpp"

#include "base/text.hpp"
#include "job/state/link_limits.hpp"

#include <map>
#include <string_view>
#include <tuple>
#include <utility>

#include <fmt/format.h>

namespace guidepin::job {

report::Unconfirmed unconfirmed(loss::LimitLine const& line, std::string decides)
{
    return {line.what, fmt::format("{} {}", number_text(line.each), line.unit), line.source.text(),
            std::move(decides), "a rule set of the contract"};
}

std::vector<report::Unconfirmed> unconfirmed_of(JobState const& state, Groundwork const& ground)
{
    // One limit for each kind of link is enough: the same values decide all links of the kind.
    struct Kind
    {
        std::map<std::string, report::Unconfirmed> facts;
        std::size_t links = 0;
    };
    std::map<std::tuple<std::string_view, int, int, bool>, Kind> kinds;
    for (std::size_t i = 0; i < state.scheduled(); ++i) {
        plant::LinkSpec const& link = state.links[i];
        auto const [place, is_new] =
            kinds.try_emplace({link.category, ground.inner[i], link.splices, link.length.value() > 0});
        Kind& kind = place->second;
        ++kind.links;
        if (!is_new) continue;
        auto const limits = limits_of(state, link);
        if (!limits) continue;
        loss::LimitQuestion question = limit_question(state, link, *limits, ground.inner[i]);
        for (std::size_t w = 0; w < limits->required; ++w) {
            question.wavelength = limits->wavelengths[w];
            auto const limit = loss::limit(question);
            if (!limit) continue;
            for (loss::LimitLine const& line : limit->lines) {
                if (line.basis != facts::Basis::memory || line.count == 0) continue;
                kind.facts[line.fact] = unconfirmed(line, {});
            }
        }
    }
    std::map<std::string, std::pair<report::Unconfirmed, std::size_t>> by_fact;
    for (auto& [key, kind] : kinds) {
        for (auto& [fact, entry] : kind.facts) {
            auto& sum = by_fact[fact];
            sum.first = std::move(entry);
            sum.second += kind.links;
        }
    }
    std::vector<report::Unconfirmed> list;
    for (auto& [fact, pair] : by_fact) {
        pair.first.decides = "limits of " + counted(pair.second, "link");
        list.push_back(std::move(pair.first));
    }
    return list;
}

} // namespace guidepin::job

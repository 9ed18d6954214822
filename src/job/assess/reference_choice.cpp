// SPDX-License-Identifier: Apache-2.0
#include "job/assess/reference_choice.hpp"

#include "job/groundwork/reference_cover.hpp"

#include <algorithm>
#include <tuple>

#include <fmt/format.h>

namespace guidepin::job {

std::optional<std::string> why_unsuited(JobState const& state, Groundwork const& ground,
                                        ReferenceEntry const& reference, std::size_t link)
{
    ReferenceCover const cover = reference_cover(state, reference);
    if (auto const limits = limits_of(state, state.links[link])) {
        for (std::size_t w = 0; w < limits->required; ++w) {
            int const nm = limits->wavelengths[w].value();
            if (!cover.powers.has(static_cast<std::uint16_t>(nm)))
                return fmt::format("{} holds no power at {} nm", reference.id, nm);
        }
    }
    std::string why;
    for (verdict::LaunchEnd const end : {verdict::LaunchEnd::b, verdict::LaunchEnd::a}) {
        why = mismatch_of(state, ground, cover, static_cast<std::uint32_t>(link), end);
        if (why.empty()) return std::nullopt;
    }
    return fmt::format("{} does not fit: {}", reference.id, why);
}

std::vector<ReferenceOffer> references_for(JobState const& state, Assessment const& assessment,
                                           std::size_t link, Instant now)
{
    std::vector<std::size_t> like_it(state.readings.references.size(), 0);
    for (TestEntry const& test : state.tests) {
        std::uint32_t const reference = state.readings.reference[test.first_row];
        std::uint32_t const tested = state.readings.link[test.first_row];
        if (reference != verdict::Dictionary::missing && tested < state.scheduled() &&
            state.link_glass[tested] == state.link_glass[link])
            ++like_it[reference];
    }
    std::vector<ReferenceOffer> offers;
    for (std::size_t i = 0; i < state.references.size(); ++i) {
        ReferenceEntry const& reference = state.references[i];
        if (why_unsuited(state, assessment, reference, link)) continue;
        ReferenceOffer offer{reference.id, reference_now(state, assessment, i, now), 0};
        std::uint32_t const name = state.readings.references.find(reference.id);
        if (name < like_it.size()) offer.like_it = like_it[name];
        offers.push_back(std::move(offer));
    }
    std::stable_sort(offers.begin(), offers.end(), [](ReferenceOffer const& a, ReferenceOffer const& b) {
        auto const rank = [](ReferenceOffer const& offer) {
            return std::tuple(offer.now.condition != ReferenceCondition::in_force, offer.like_it == 0,
                              -offer.now.taken.ms);
        };
        return rank(a) < rank(b);
    });
    return offers;
}

} // namespace guidepin::job

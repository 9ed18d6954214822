// SPDX-License-Identifier: Apache-2.0
#include "job/reference_choice.hpp"

#include <algorithm>
#include <tuple>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

bool alike(plant::LinkSpec const& a, plant::LinkSpec const& b)
{
    return a.family == b.family && a.face == b.face && a.category == b.category;
}

} // namespace

std::optional<std::string> why_unsuited(JobState const& state, ReferenceEntry const& reference,
                                        plant::LinkSpec const& link)
{
    if (auto const limits = limits_of(state, link)) {
        for (std::size_t w = 0; w < limits->required; ++w) {
            int const nm = limits->wavelengths[w].value();
            if (std::find(reference.wavelength_nm.begin(), reference.wavelength_nm.end(), nm) ==
                reference.wavelength_nm.end())
                return fmt::format("{} holds no power at {} nm", reference.id, nm);
        }
    }
    Cord const* const launch = state.cord(reference.kit.launch);
    if (!launch) return std::nullopt;
    auto const family = plant::parse_family(launch->family);
    if (!family) return std::nullopt;
    if (link.family.key != plant::Family::Key::duplex) {
        if (*family != link.family)
            return fmt::format("{} was taken with {}, an {} cord, and the link has {} plugs", reference.id,
                               launch->id, launch->family, link.family.name());
        if (launch->face != link.face)
            return fmt::format("{} was taken with {}, whose end is {}, and the link's is {}", reference.id,
                               launch->id, plant::name_of(launch->face), plant::name_of(link.face));
    } else if (family->positions() < link.family.positions()) {
        return fmt::format("{} was taken with {}, which has {} positions, and the link has {}", reference.id,
                           launch->id, family->positions(), link.family.positions());
    }
    return std::nullopt;
}

std::vector<ReferenceOffer> references_for(JobState const& state, Assessment const& assessment,
                                           plant::LinkSpec const& link, Instant now)
{
    std::vector<std::size_t> like_it(state.readings.references.size(), 0);
    for (TestEntry const& test : state.tests) {
        std::uint32_t const reference = state.readings.reference[test.first_row];
        std::uint32_t const tested = state.readings.link[test.first_row];
        if (reference != verdict::Dictionary::missing && tested < state.scheduled() &&
            alike(state.links[tested], link))
            ++like_it[reference];
    }
    std::vector<ReferenceOffer> offers;
    for (std::size_t i = 0; i < state.references.size(); ++i) {
        ReferenceEntry const& reference = state.references[i];
        if (why_unsuited(state, reference, link)) continue;
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

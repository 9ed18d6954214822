// SPDX-License-Identifier: Apache-2.0
#include "job/kit/kit_register.hpp"

#include <algorithm>

namespace guidepin::job {

namespace {

/// Whether an item was used for a link, by serial and link of the readings.
using LinksOfItems = std::map<std::string, std::vector<bool>, std::less<>>;

LinksOfItems links_of_items(JobState const& state)
{
    Launches const launches(state);
    // Most references are taken with the same items, so links are marked once for each set of items.
    std::vector<std::size_t> items_of_reference;
    std::map<std::vector<std::string>, std::size_t> sets;
    for (TestKit const* const used : launches.kits())
        items_of_reference.push_back(
            sets.emplace(used ? used->serials() : std::vector<std::string>{}, sets.size()).first->second);
    std::vector<std::vector<bool>> under(sets.size());
    for (std::vector<bool>& links : under) links.resize(state.readings.links.size());
    launches.each([&](std::uint32_t reference, std::uint32_t link, std::int64_t) {
        under[items_of_reference[reference]][link] = true;
    });
    LinksOfItems links;
    for (auto const& [serials, at] : sets) {
        for (std::string const& serial : serials) {
            auto const [used, is_first] = links.try_emplace(serial, under[at]);
            if (is_first) continue;
            for (std::size_t link = 0; link < under[at].size(); ++link) {
                if (under[at][link]) used->second[link] = true;
            }
        }
    }
    return links;
}

} // namespace

KitStanding const* KitRegister::find(std::string_view serial) const
{
    auto const at = std::find_if(items.begin(), items.end(),
                                 [&](KitStanding const& standing) { return standing.item.serial == serial; });
    return at == items.end() ? nullptr : &*at;
}

int KitRegister::count(setup::Fitness fitness) const
{
    return static_cast<int>(std::count_if(items.begin(), items.end(), [&](KitStanding const& standing) {
        return !standing.item.removed && standing.fitness == fitness;
    }));
}

KitRegister kit_register(KitBook const& book, setup::Day today)
{
    JobState const& state = book.state();
    KitHistory const& history = book.history();
    KitRegister kit;
    kit.limits = book.limits();
    kit.today = today;
    LinksOfItems const links = links_of_items(state);
    for (bool const removed : {false, true}) {
        for (std::string const& serial : history.serials()) {
            if (history.latest(serial).removed != removed) continue;
            KitStanding standing = book.standing(serial, today);
            for (ReferenceEntry const& reference : state.references)
                standing.references += reference.kit.names(serial) ? 1 : 0;
            if (auto const used = links.find(serial); used != links.end())
                standing.links = static_cast<int>(std::count(used->second.begin(), used->second.end(), true));
            if (!removed) book.judge(standing, today);
            kit.items.push_back(std::move(standing));
        }
    }
    return kit;
}

KitRegister kit_register(JobState const& state, setup::Day today)
{
    return kit_register(KitBook(state), today);
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "job/kit/matings.hpp"

#include <map>

namespace guidepin::job {

namespace {

constexpr int near_end = 0, far_end = 1;

/// Counts by end, from the moment on from which the item's wear counts.
class Matings
{
  public:
    explicit Matings(KitHistory const& history)
        : history_(history)
    {
    }
    void mate(std::string const& serial, int end, Instant const& at)
    {
        if (serial.empty()) return;
        auto [known, is_new] = from_.try_emplace(serial, 0);
        if (is_new) known->second = history_.counts_from(serial);
        if (at.ms >= known->second) ++counts[{serial, end}];
    }
    void reference(TestKit const& kit, std::string const& method, Instant const& at)
    {
        mate(kit.source, near_end, at);
        mate(kit.meter, near_end, at);
        mate(kit.launch, near_end, at);
        mate(kit.launch, far_end, at);
        auto const by = setup::parse_reference_method(method);
        if (!by || *by == setup::ReferenceMethod::one_cord) return;
        mate(kit.tail, far_end, at);
        mate(kit.tail, near_end, at);
        if (*by != setup::ReferenceMethod::three_cord) return;
        mate(kit.substitution, near_end, at);
        mate(kit.substitution, far_end, at);
    }
    void check(TestKit const& kit, std::string const& method, Instant const& at)
    {
        auto const by = setup::parse_reference_method(method);
        mate(kit.launch, far_end, at);
        if (by == setup::ReferenceMethod::three_cord) return mate(kit.substitution, near_end, at);
        mate(kit.tail, far_end, at);
        if (by == setup::ReferenceMethod::two_cord) return;
        // One cord: the launch cord left the meter, the tail cord enters it; a known cord between the two
        // is mated at both ends.
        mate(kit.meter, near_end, at);
        mate(kit.tail, near_end, at);
        mate(kit.substitution, near_end, at);
        mate(kit.substitution, far_end, at);
    }

    EndCounts counts;

  private:
    KitHistory const& history_;
    std::map<std::string, std::int64_t, std::less<>> from_;
};

} // namespace

EndCounts count_matings(KitHistory const& history)
{
    JobState const& state = history.state();
    Matings matings(history);
    for (ReferenceEntry const& reference : state.references)
        matings.reference(reference.kit, reference.method, reference.taken());
    for (CordCheckEntry const& check : state.checks) {
        auto const found = state.reference_index.find(check.reference);
        if (found == state.reference_index.end()) continue;
        ReferenceEntry const& reference = state.references[found->second];
        matings.check(reference.kit, reference.method, check.taken());
    }
    Launches const launches(state);
    struct Mated
    {
        std::int64_t launch_from = 0, tail_from = 0;
        int launch = 0, tail = 0;
    };
    std::vector<Mated> mated(launches.kits().size());
    for (std::size_t i = 0; i < mated.size(); ++i) {
        if (TestKit const* const kit = launches.kits()[i])
            mated[i] = {history.counts_from(kit->launch), history.counts_from(kit->tail)};
    }
    launches.each([&](std::uint32_t reference, std::uint32_t, std::int64_t ms) {
        Mated& here = mated[reference];
        here.launch += ms >= here.launch_from ? 1 : 0;
        here.tail += ms >= here.tail_from ? 1 : 0;
    });
    for (std::size_t i = 0; i < mated.size(); ++i) {
        TestKit const* const kit = launches.kits()[i];
        if (!kit) continue;
        if (mated[i].launch > 0 && !kit->launch.empty())
            matings.counts[{kit->launch, far_end}] += mated[i].launch;
        if (mated[i].tail > 0 && !kit->tail.empty()) matings.counts[{kit->tail, far_end}] += mated[i].tail;
    }
    return std::move(matings.counts);
}

EndCounts count_matings(JobState const& state)
{
    return count_matings(KitHistory(state));
}

} // namespace guidepin::job

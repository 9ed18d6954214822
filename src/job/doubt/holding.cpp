// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/holding.hpp"

#include "job/groundwork/groundwork.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// Returns the latest decision on this reference if it covers this doubt.
std::optional<std::size_t> covering(JobState const& state, verdict::ReferenceId const& reference,
                                    Doubt const& doubt)
{
    std::optional<std::size_t> latest;
    for (std::size_t i = 0; i < state.trust_decisions.size(); ++i) {
        if (state.trust_decisions[i].reference == reference) latest = i;
    }
    if (!latest || !state.trust_decisions[*latest].stands) return std::nullopt;
    for (TrustDecision::Covered const& covered : state.trust_decisions[*latest].covers) {
        if (covered.kind == doubt.kind && covered.position == doubt.position &&
            (covered.size > Decibel{}) == (doubt.size > Decibel{}) &&
            std::abs(doubt.size.value()) <= std::abs(covered.size.value()) + 2 * doubt.size_u.value())
            return latest;
    }
    return std::nullopt;
}

} // namespace

void decide(JobState const& state, WatchedReference& reference)
{
    verdict::ReferenceId const& name = state.references[reference.entry].id;
    for (Doubt& doubt : reference.doubts) {
        doubt.id = fmt::format("watch.{}.{}", name, name_of(doubt.kind));
        if (doubt.position > 0) doubt.id += fmt::format("-{}", doubt.position);
        doubt.held.clear();
        doubt.trusted.reset();
        if (!doubt.material) continue;
        doubt.trusted = covering(state, name, doubt);
        if (doubt.trusted) continue;
        if (doubt.kind == DoubtKind::negative_loss) {
            doubt.held.resize(reference.tests.size());
            std::iota(doubt.held.begin(), doubt.held.end(), std::size_t{0});
        } else {
            doubt.held = doubt.plan.undecided;
            if (!doubt.plan.contradiction)
                doubt.held.insert(doubt.held.end(), doubt.plan.condemned.begin(), doubt.plan.condemned.end());
            std::sort(doubt.held.begin(), doubt.held.end());
        }
    }
    std::stable_sort(reference.doubts.begin(), reference.doubts.end(), [](Doubt const& a, Doubt const& b) {
        auto const weight = [](Doubt const& doubt) {
            return doubt.held.size() * (doubt.position > 0 ? 1 : 1000) + (doubt.material ? 1 : 0);
        };
        if (weight(a) != weight(b)) return weight(a) > weight(b);
        return std::pair(a.kind, a.position) < std::pair(b.kind, b.position);
    });
}

void hold_doubtful(JobState const& state, Watching const& watching, Groundwork& ground)
{
    for (WatchedReference const& reference : watching.references) {
        for (Doubt const& doubt : reference.doubts) {
            for (std::size_t const test : doubt.held) {
                std::uint32_t const link = reference.tests[test].link;
                for (std::uint32_t k = ground.rows->begin(link); k < ground.rows->end(link); ++k) {
                    std::uint32_t const row = ground.rows->row(k);
                    if (state.readings.reference[row] != reference.name || ground.hold[row] != 0 ||
                        (doubt.position > 0 && state.readings.position[row] != doubt.position))
                        continue;
                    ground.hold[row] = static_cast<std::uint8_t>(verdict::HoldKind::reference_doubted);
                }
            }
        }
    }
}

Watching::Holding Watching::holding(verdict::ReadingColumns const& readings, std::uint32_t row) const
{
    for (WatchedReference const& reference : references) {
        if (reference.name != readings.reference[row]) continue;
        for (Doubt const& doubt : reference.doubts) {
            if (doubt.position > 0 && readings.position[row] != doubt.position) continue;
            for (std::size_t const test : doubt.held) {
                if (reference.tests[test].link == readings.link[row]) return {&reference, &doubt};
            }
        }
    }
    return {};
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/witnesses.hpp"

#include "base/no_number.hpp"
#include "job/groundwork/groundwork.hpp"
#include "watch/robust.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// How far readings moved between two measurements of the same places.
struct Moves
{
    std::vector<double> everywhere, at_position, elsewhere;

    void add(int position, int wanted, double by)
    {
        everywhere.push_back(by);
        (position == wanted ? at_position : elsewhere).push_back(by);
    }
    /// Returns the median move, for a doubt of one position against the others; NaN if there are too few.
    double of(Doubt const& doubt)
    {
        if (doubt.kind == DoubtKind::position)
            return at_position.empty() || elsewhere.size() < 3
                       ? nan
                       : watch::median(at_position) - watch::median(elsewhere);
        return everywhere.size() < 3 ? nan : watch::median(everywhere);
    }
};

void add(Doubt& doubt, std::string what, std::size_t test, double by, bool moved)
{
    doubt.witnesses.push_back({std::move(what), test, moved, Decibel{by}});
}

bool has_moved(Doubt const& doubt, double by)
{
    return (doubt.size > Decibel{} ? by : -by) >= std::abs(doubt.size.value()) / 2;
}

bool is_doubtful(WatchedReference const& reference, std::size_t test)
{
    return std::any_of(reference.doubts.begin(), reference.doubts.end(),
                       [&](Doubt const& doubt) { return doubt.material && test >= doubt.change.earliest; });
}

double moved_by(WatchedReference const& first, WatchedTest const& old, WatchedReference const& second,
                WatchedTest const& again, Doubt const& doubt)
{
    // Launched from the other end, the same position is another fibre: only what all fibres share can be
    // compared.
    if (old.directions != again.directions && doubt.kind == DoubtKind::position) return nan;
    Moves moves;
    for (std::size_t w = 0; w < old.wavelengths; ++w) {
        for (std::size_t p = 0; p < old.columns; ++p) {
            float const before = first.excess[old.first_cell + w * old.columns + p];
            float const after = second.excess[again.first_cell + w * again.columns + p];
            if (!std::isnan(before) && !std::isnan(after))
                moves.add(static_cast<int>(p + 1), doubt.position, before - after);
        }
    }
    return moves.of(doubt);
}

} // namespace

Witnesses::Witnesses(JobState const& state, Groundwork const& ground, Watching const& watching)
    : state_(state)
    , ground_(ground)
    , watching_(watching)
{
    for (std::size_t i = 0; i < watching.references.size(); ++i) {
        for (std::size_t t = 0; t < watching.references[i].tests.size(); ++t) {
            WatchedTest const& test = watching.references[i].tests[t];
            tests_of_link_.push_back(
                {test.link, static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(t)});
        }
    }
    std::sort(tests_of_link_.begin(), tests_of_link_.end());
}

void Witnesses::hear(WatchedReference const& reference, Doubt& doubt) const
{
    if (doubt.kind == DoubtKind::common || doubt.kind == DoubtKind::position) {
        // Comparing checks shows when something moved. It cannot show a level that was wrong from the start.
        if (!doubt.level) hear_checks(reference, doubt);
        hear_retests(reference, doubt);
    }
    std::vector<watch::RetestOutcome> outcomes;
    for (WatchWitness const& witness : doubt.witnesses) outcomes.push_back({witness.test, witness.moved});
    doubt.plan = watch::plan_retests(doubt.change, reference.tests.size(), outcomes);
}

// A cord check measures the same cords again. Compared with the first accepted one it shows whether the
// reference had moved by then.
void Witnesses::hear_checks(WatchedReference const& reference, Doubt& doubt) const
{
    std::vector<std::size_t> checks = ground_.references[reference.entry].checks;
    std::erase_if(checks, [&](std::size_t c) { return state_.checks[c].size() == 0; });
    std::sort(checks.begin(), checks.end(), [&](std::size_t a, std::size_t b) {
        return state_.checks[a].taken().ms < state_.checks[b].taken().ms;
    });
    std::size_t first = 0;
    while (first < checks.size() &&
           ground_.checks[checks[first]].assessment.state == verdict::Acceptance::refused)
        ++first;
    if (first == checks.size()) return;
    CordCheckEntry const& base = state_.checks[checks[first]];
    // The first check says something about later links only.
    for (std::size_t c = first + 1; c < checks.size(); ++c) {
        CordCheckEntry const& check = state_.checks[checks[c]];
        Moves moves;
        for (std::size_t i = 0; i < check.size(); ++i) {
            for (std::size_t j = 0; j < base.size(); ++j) {
                if (base.position[j] != check.position[i] || base.wavelength_nm[j] != check.wavelength_nm[i])
                    continue;
                double const by = check.attenuation_db[i] - base.attenuation_db[j];
                if (std::isfinite(by)) moves.add(check.position[i], doubt.position, by);
            }
        }
        double const by = moves.of(doubt);
        if (std::isnan(by)) continue;
        bool const moved = has_moved(doubt, by);
        auto const after = static_cast<std::size_t>(
            std::upper_bound(reference.tests.begin(), reference.tests.end(), check.taken().ms,
                             [](std::int64_t ms, WatchedTest const& test) { return ms < test.at_ms; }) -
            reference.tests.begin());
        std::string const what = fmt::format("cord check {}", check.id);
        if (!moved && after > 0) add(doubt, what, after - 1, by, false);
        if (moved && after < reference.tests.size()) add(doubt, what, after, by, true);
    }
}

// Looks for the same link under a later reference that nothing speaks against.
void Witnesses::hear_retests(WatchedReference const& reference, Doubt& doubt) const
{
    for (std::size_t t = doubt.change.earliest; t < reference.tests.size(); ++t) {
        WatchedTest const& old = reference.tests[t];
        auto at = std::lower_bound(tests_of_link_.begin(), tests_of_link_.end(), TestOfLink{old.link, 0, 0});
        for (; at != tests_of_link_.end() && at->link == old.link; ++at) {
            WatchedReference const& other = watching_.references[at->reference];
            WatchedTest const& again = other.tests[at->test];
            if (&other == &reference || again.otherwise_held || again.at_ms <= old.at_ms ||
                is_doubtful(other, at->test))
                continue;
            double const by = moved_by(reference, old, other, again, doubt);
            if (std::isnan(by)) continue;
            add(doubt,
                fmt::format("{} again under {}", state_.readings.links.text(old.link),
                            state_.references[other.entry].id),
                t, by, has_moved(doubt, by));
        }
    }
}

} // namespace guidepin::job

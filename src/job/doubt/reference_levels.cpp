// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/reference_levels.hpp"

#include "base/no_number.hpp"
#include "watch/robust.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <string>

namespace guidepin::job {

namespace {

/// Returns the median of a link's fibres without the loss of the fibre itself; NaN if all are dark.
double middle_of(WatchedReference const& reference, WatchedTest const& test)
{
    std::vector<double> fibres;
    for (std::size_t p = 0; p < test.columns; ++p) {
        double sum = 0;
        double count = 0;
        for (std::size_t w = 0; w < test.wavelengths; ++w) {
            float const cell = reference.excess[test.first_cell + w * test.columns + p];
            if (std::isnan(cell)) continue;
            sum += cell;
            count += 1;
        }
        if (count > 0) fibres.push_back(sum / count);
    }
    return fibres.empty() ? nan : watch::median(fibres);
}

} // namespace

Doubt const* common_doubt(WatchedReference const& reference)
{
    for (Doubt const& doubt : reference.doubts)
        if (doubt.kind == DoubtKind::common && doubt.material) return &doubt;
    return nullptr;
}

std::vector<watch::Level> levels_of(Watching const& watching, Expectation const& expectation,
                                    cause::Priors const& priors)
{
    // With at least so many links before a change, those alone show the level better than all links.
    constexpr std::size_t least_before = 3;
    std::map<std::uint32_t, std::size_t> kind_index;
    std::map<std::string, std::size_t> groups;
    std::vector<watch::LevelKind> kinds;
    std::vector<watch::LevelSeen> seen;
    struct OfKind
    {
        std::uint32_t link = 0; // any of the kind
        std::vector<double> middles;
    };
    std::map<std::uint32_t, OfKind> middles;
    for (std::size_t r = 0; r < watching.references.size(); ++r) {
        WatchedReference const& reference = watching.references[r];
        Doubt const* const doubt = common_doubt(reference);
        std::size_t const end = doubt && doubt->change.first_after >= least_before ? doubt->change.first_after
                                                                                   : reference.tests.size();
        middles.clear();
        for (std::size_t t = 0; t < end; ++t) {
            double const middle = middle_of(reference, reference.tests[t]);
            if (std::isnan(middle)) continue;
            OfKind& of = middles[expectation.kind(reference.tests[t].link)];
            of.link = reference.tests[t].link;
            of.middles.push_back(middle);
        }
        for (auto const& [kind, of] : middles) {
            std::vector<double> const& values = of.middles;
            auto const [place, is_new] = kind_index.try_emplace(kind, kinds.size());
            ExpectedAt const& expected = *expectation.at(of.link, 0);
            if (is_new) {
                std::size_t const group =
                    groups.try_emplace(expected.key.category, groups.size()).first->second;
                kinds.push_back({group, expectation.natural_db(kind), expected.common_u});
            }
            auto const n = static_cast<double>(values.size());
            double const spread = std::max(0.03, watch::mad_to_sd * watch::median_absolute_deviation(values));
            seen.push_back(
                {r, place->second, watch::median(values), std::hypot(0.012, 1.25 * spread / std::sqrt(n))});
        }
    }
    watch::LevelDesign design;
    design.rate = priors.rate[static_cast<std::size_t>(cause::Cause::reference_fault)];
    return watch::reference_levels(seen, kinds, watching.references.size(), design);
}

std::optional<Doubt> level_doubt(watch::Level const& level, std::size_t tests, double grants_db,
                                 double report_from)
{
    // With fewer links, the links themselves are the likely cause.
    constexpr std::size_t least_links = 4;
    constexpr double least_probability = 0.1;
    if (tests < least_links || level.probability < least_probability ||
        std::abs(level.size.value()) < 2 * grants_db)
        return std::nullopt;
    Doubt doubt;
    doubt.kind = DoubtKind::common;
    doubt.size = level.size;
    doubt.size_u = level.u;
    doubt.at = tests - 1;
    doubt.level = level.probability;
    doubt.compared = level.compared;
    doubt.change.after = level.size.value();
    doubt.change.sd_of_step = level.u.value();
    doubt.change.probability.assign(tests, 0);
    doubt.change.probability.front() = 1;
    doubt.doubt.assign(tests, level.probability);
    doubt.material = level.probability >= report_from;
    return doubt;
}

} // namespace guidepin::job

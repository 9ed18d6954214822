// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/change_charts.hpp"

#include "base/no_number.hpp"
#include "watch/robust.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::job {

namespace {

/// The residuals of one test in the layout of its reference: wavelengths ascending, positions of the launch
/// cord.
struct TestResiduals
{
    std::vector<double> residual;
    std::vector<double> natural_sd;
    double reading_u = 0.05;
    double skewness = 0;
    std::size_t kind = 0;
    double kind_sd = 0;
};

void residuals_of(WatchedReference const& reference, WatchedTest const& test, Expectation const& expectation,
                  TestResiduals& into)
{
    into.residual.assign(reference.positions * reference.wavelengths.size(), nan);
    into.natural_sd.assign(reference.wavelengths.size(), 0);
    into.kind = static_cast<std::size_t>(
        std::lower_bound(reference.kinds.begin(), reference.kinds.end(), expectation.kind(test.link)) -
        reference.kinds.begin());
    std::vector<ExpectedByOthers> const& by_others = reference.expected[into.kind];
    double natural = 0;
    double variance = 0;
    double skewness = 0;
    double level = 0;
    double seen = 0;
    for (std::size_t w = 0; w < test.wavelengths; ++w) {
        ExpectedAt const& expected = *expectation.at(test.link, w);
        auto const nm = static_cast<std::uint16_t>(expected.wavelength_nm);
        auto const at = std::lower_bound(reference.wavelengths.begin(), reference.wavelengths.end(), nm);
        if (at == reference.wavelengths.end() || *at != nm) continue;
        watch::Expected const& now = by_others[w].now;
        auto const row = static_cast<std::size_t>(at - reference.wavelengths.begin());
        for (std::size_t p = 0; p < test.columns; ++p) {
            float const cell = reference.excess[test.first_cell + w * test.columns + p];
            if (!std::isnan(cell)) into.residual[row * reference.positions + p] = cell - now.mean;
        }
        double const u = expected.reading_u;
        into.natural_sd[row] = std::sqrt(std::max(1e-6, now.sd * now.sd - u * u));
        natural += into.natural_sd[row];
        variance += u * u;
        skewness += now.skewness;
        level += by_others[w].kind_u;
        seen += 1;
    }
    // A wavelength at which this link was not measured takes the mean spread of the others.
    for (double& sd : into.natural_sd) {
        if (sd == 0) sd = natural / seen;
    }
    into.kind_sd = level / seen;
    into.skewness = std::clamp(skewness / seen, 0.0, 1.5);
    into.reading_u = std::sqrt(variance / seen / (test.directions == 3 ? 2 : 1));
}

DoubtKind kind_of(watch::Shift shift)
{
    return shift == watch::Shift::common       ? DoubtKind::common
           : shift == watch::Shift::wavelength ? DoubtKind::wavelength
                                               : DoubtKind::position;
}

} // namespace

ChartLimits chart_limits(Watching const& watching)
{
    // Each thread remembers what it solved, for its next run: solving takes most of a short run.
    thread_local watch::LimitSolver solver;
    ChartLimits limits;
    for (WatchedReference const& reference : watching.references)
        if (limits.count(reference.positions) == 0)
            limits[reference.positions] = solver.limits(watching.design, reference.positions);
    return limits;
}

void run_charts(Watching const& watching, WatchedReference& reference, Expectation const& expectation,
                ChartLimits const& limits, KnownBefore const& known)
{
    if (reference.tests.empty()) return;
    reference.kinds.clear();
    for (WatchedTest const& test : reference.tests) reference.kinds.push_back(expectation.kind(test.link));
    std::sort(reference.kinds.begin(), reference.kinds.end());
    reference.kinds.erase(std::unique(reference.kinds.begin(), reference.kinds.end()), reference.kinds.end());
    reference.expected = expectation.by_others(reference.name, reference.kinds, known.left_out);
    reference.position_offset_db.clear();
    reference.position_u_db.clear();
    reference.taken_back = 0;
    std::erase_if(reference.doubts,
                  [](Doubt const& doubt) { return doubt.kind != DoubtKind::negative_loss; });
    watch::WatchDesign design = watching.design;
    double shared = 0;
    for (auto const& kind : reference.expected)
        for (ExpectedByOthers const& expected : kind) shared = std::max(shared, expected.shared_u);
    design.level_sd = known.level_unknown
                          ? std::numeric_limits<double>::infinity()
                          : std::hypot(expectation.at(reference.tests.front().link, 0)->common_u, shared);
    watch::ReferenceWatch charts(reference.positions, reference.wavelengths.size(), design,
                                 limits.at(reference.positions));
    TestResiduals residuals;
    for (WatchedTest const& test : reference.tests) {
        residuals_of(reference, test, expectation, residuals);
        watch::LinkResiduals link;
        link.residual = residuals.residual;
        link.natural_sd = residuals.natural_sd;
        link.reading_u = residuals.reading_u;
        link.skewness = residuals.skewness;
        link.kind = residuals.kind;
        link.kind_sd = residuals.kind_sd;
        charts.add(link);
    }
    reference.chart = charts.chart();
    reference.ewma_limit = charts.ewma_limit();
    reference.cusum_limit = charts.cusum_limit();
    for (std::size_t p = 0; p < reference.positions; ++p) {
        reference.position_offset_db.push_back(charts.position_offset(p));
        reference.position_u_db.push_back(charts.position_offset_u(p));
    }
    for (watch::WatchSignal& signal : charts.signals()) {
        if (signal.change.probability.empty()) continue;
        Doubt doubt;
        doubt.kind = kind_of(signal.shift);
        doubt.position = signal.position;
        doubt.size = signal.size;
        doubt.size_u = signal.size_u;
        doubt.at = signal.at;
        doubt.chart = signal.chart;
        doubt.doubt = std::move(signal.doubt);
        doubt.change = std::move(signal.change);
        // If the later links do not confirm the signal, neighbouring bad links caused it.
        if (!signal.borne_out) {
            ++reference.taken_back;
            continue;
        }
        bool const beyond = std::abs(doubt.size.value()) > watching.grants_db;
        // The positions of a reference differ a little from the start; the budget grants that.
        if (doubt.kind == DoubtKind::position && !beyond) continue;
        // If only the first one or two links differ, they are the likely cause: two links do not show the
        // level well enough to doubt all links after them.
        if (beyond && (doubt.change.first_after == 1 || doubt.change.first_after == 2)) continue;
        doubt.material = beyond;
        reference.doubts.push_back(std::move(doubt));
    }
}

std::vector<double> Watching::track(WatchedReference const& reference, Doubt const& doubt,
                                    Expectation const& expectation) const
{
    std::vector<double> values;
    TestResiduals residuals;
    std::vector<double> steps;
    for (std::size_t t = 0; t < reference.tests.size(); ++t) {
        if (doubt.kind == DoubtKind::common || doubt.kind == DoubtKind::negative_loss) {
            values.push_back(reference.chart[t].offset_db);
            continue;
        }
        residuals_of(reference, reference.tests[t], expectation, residuals);
        std::size_t const wavelengths = reference.wavelengths.size();
        steps.clear();
        if (doubt.kind == DoubtKind::wavelength) {
            for (std::size_t p = 0; p < reference.positions; ++p)
                steps.push_back(residuals.residual[(wavelengths - 1) * reference.positions + p] -
                                residuals.residual[p]);
            values.push_back(watch::median(steps));
        } else {
            double sum = 0;
            double count = 0;
            for (std::size_t w = 0; w < wavelengths; ++w) {
                double const r =
                    residuals
                        .residual[w * reference.positions + static_cast<std::size_t>(doubt.position - 1)];
                if (std::isnan(r)) continue;
                sum += r;
                count += 1;
            }
            values.push_back(count > 0 ? sum / count - reference.chart[t].offset_db : nan);
        }
    }
    return values;
}

} // namespace guidepin::job

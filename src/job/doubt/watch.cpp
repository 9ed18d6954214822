// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/watch.hpp"

#include "base/parallel.hpp"
#include "cause/priors.hpp"
#include "job/doubt/change_charts.hpp"
#include "job/doubt/gathering.hpp"
#include "job/doubt/holding.hpp"
#include "job/doubt/second_look.hpp"
#include "job/doubt/witnesses.hpp"
#include "job/groundwork/groundwork.hpp"
#include "verdict/uncertainty.hpp"

#include <algorithm>
#include <utility>

namespace guidepin::job {

namespace {

/// Returns the half-width that the budget grants the source since its reference. Smaller changes are allowed
/// for already.
Result<double> granted(JobState const& state)
{
    double most = 0;
    for (facts::FibreKind const kind : {facts::FibreKind::multimode, facts::FibreKind::single_mode}) {
        verdict::BudgetQuestion question;
        question.tables = &state.tables;
        question.kind = kind;
        question.wavelength = Nanometres{kind == facts::FibreKind::multimode ? 850 : 1310};
        question.method = state.settings.method;
        question.edits = state.settings.uncertainty;
        TRY_ASSIGN(auto const budget, verdict::budget_for(question));
        for (verdict::Contribution const& contribution : budget.contributions) {
            if (contribution.id == "source-stability") most = std::max(most, contribution.each);
        }
    }
    return most;
}

/// Starting threads takes longer than the work of so few references or doubts.
int threads_for(std::size_t count, int threads)
{
    return count > 8 ? threads : 1;
}

/// Applies retests, cord checks and decisions once all doubts are known.
void settle(JobState const& state, Groundwork const& ground, Watching& watching, int threads)
{
    std::vector<std::pair<WatchedReference*, Doubt*>> heard;
    for (WatchedReference& reference : watching.references) {
        for (Doubt& doubt : reference.doubts)
            if (doubt.kind != DoubtKind::negative_loss) heard.emplace_back(&reference, &doubt);
    }
    Witnesses const witnesses(state, ground, watching);
    run_parallel(threads_for(heard.size(), threads), heard.size(), [&](std::size_t i) {
        heard[i].second->witnesses.clear();
        witnesses.hear(*heard[i].first, *heard[i].second);
    });
    for (WatchedReference& reference : watching.references) decide(state, reference);
}

} // namespace

Result<Watching> watch_references(JobState const& state, Groundwork const& ground,
                                  Expectation const& expectation, int threads)
{
    Watching watching;
    TRY_ASSIGN(watching.grants_db, granted(state));
    gather_tests(state, ground, expectation, nullptr, watching.references);
    std::erase_if(watching.references, [](WatchedReference const& r) { return r.tests.empty(); });
    ChartLimits const limits = chart_limits(watching);
    std::size_t const count = watching.references.size();
    run_parallel(threads_for(count, threads), count,
                 [&](std::size_t i) { run_charts(watching, watching.references[i], expectation, limits); });
    TRY_ASSIGN(cause::Priors const priors, cause::priors_of(state.tables));
    look_again(watching, expectation, limits, priors);
    settle(state, ground, watching, threads);
    return watching;
}

Result<Watching> watch_again(JobState const& state, Groundwork const& ground, Expectation const& expectation,
                             Watching before, std::span<std::uint32_t const> links, int threads)
{
    std::vector<bool> touched(state.readings.references.size(), false);
    for (std::uint32_t const link : links) {
        if (link >= state.scheduled()) continue;
        for (std::uint32_t k = ground.rows->begin(link); k < ground.rows->end(link); ++k) {
            std::uint32_t const name = state.readings.reference[ground.rows->row(k)];
            if (name != verdict::Dictionary::missing) touched[name] = true;
        }
    }
    Watching watching;
    watching.grants_db = before.grants_db;
    gather_tests(state, ground, expectation, &touched, watching.references);
    for (WatchedReference& reference : watching.references) {
        if (touched[reference.name]) continue;
        for (WatchedReference& known : before.references)
            if (known.name == reference.name) reference = std::move(known);
        restore_first_look(reference);
    }
    std::erase_if(watching.references, [](WatchedReference const& r) { return r.tests.empty(); });
    ChartLimits const limits = chart_limits(watching);
    for (WatchedReference& reference : watching.references)
        if (touched[reference.name]) run_charts(watching, reference, expectation, limits);
    TRY_ASSIGN(cause::Priors const priors, cause::priors_of(state.tables));
    look_again(watching, expectation, limits, priors);
    settle(state, ground, watching, threads);
    return watching;
}

WatchedReference const* Watching::find(verdict::ReferenceId const& reference, JobState const& state) const
{
    for (WatchedReference const& watched : references) {
        if (state.references[watched.entry].id == reference) return &watched;
    }
    return nullptr;
}

} // namespace guidepin::job

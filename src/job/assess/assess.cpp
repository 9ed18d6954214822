// SPDX-License-Identifier: Apache-2.0
#include "job/assess/assess.hpp"

#include "base/no_number.hpp"
#include "job/groundwork/references.hpp"
#include "verdict/applications.hpp"
#include "verdict/attenuation.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <thread>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

verdict::JudgeRules rules_of(Settings const& settings, facts::Tables const& tables)
{
    verdict::JudgeRules rules;
    rules.decision = verdict::parse_decision_rule(settings.decision_rule)
                         .value_or(verdict::DecisionRule::simple_acceptance);
    rules.guard = verdict::normal_quantile(settings.guard_probability);
    rules.directions = settings.directions;
    rules.require_length = settings.require_length;
    rules.require_polarity = settings.require_polarity;
    rules.length_tolerance_fraction = settings.length_tolerance_fraction;
    rules.length_tolerance_m = settings.length_tolerance.value();
    rules.negative_tolerance_db = verdict::negative_tolerance(tables, settings.method).value();
    return rules;
}

/// Positions at A that the link's applications use.
plant::Occupancy used_by_applications(JobState const& state, plant::LinkSpec const& link,
                                      plant::LinkModel const& model)
{
    plant::Occupancy used;
    for (std::string const& name : link.applications) {
        auto const application = state.tables.application(name);
        if (application)
            used |= verdict::application_positions(**application, model.near_family, state.tables);
    }
    return used & model.near_occupied;
}

/// By name of the readings' dictionary: all that is said of the doubts about that reference.
std::vector<std::string> words_of_doubts(JobState const& state, Watching const& watching)
{
    std::vector<std::string> words(state.readings.references.size());
    for (WatchedReference const& reference : watching.references) {
        for (Doubt const& doubt : reference.doubts)
            words[reference.name] +=
                doubt_text(state, reference, doubt) + doubt_action(state, reference, doubt);
    }
    return words;
}

struct KindKey
{
    plant::LinkModel const* model;
    std::string category;
    friend auto operator<=>(KindKey const&, KindKey const&) = default;
};

} // namespace

verdict::Hold Assessment::hold_of(JobState const& state, std::uint32_t row) const
{
    verdict::ReadingColumns const& readings = state.readings;
    if (hold[row] == static_cast<std::uint8_t>(verdict::HoldKind::reference_doubted)) {
        Watching::Holding const holding = watching->holding(readings, row);
        if (!holding.doubt) return {};
        return {verdict::HoldKind::reference_doubted, "hold.reference-doubted",
                fmt::format("{}. {}", doubt_text(state, *holding.reference, *holding.doubt),
                            doubt_action(state, *holding.reference, *holding.doubt))};
    }
    if (auto const kind = static_cast<verdict::HoldKind>(hold[row]);
        kind == verdict::HoldKind::reference_mismatch || kind == verdict::HoldKind::position_not_referenced ||
        kind == verdict::HoldKind::position_not_checked)
        return CoverLook{state, *this}.words(kind, row);
    std::uint32_t const reference = readings.reference[row];
    std::string_view const name = reference == verdict::Dictionary::missing
                                      ? std::string_view{}
                                      : std::string_view{readings.references.text(reference)};
    auto why = timeline->hold_reason(name, Instant{readings.taken_ms[row], readings.offset_minutes[row]});
    return why ? *why : verdict::Hold{};
}

Result<Assessment> assess(JobState const& state, int threads)
{
    Assessment assessment;
    auto& tasks = assessment.tasks;
    tasks.rules = rules_of(state.settings, state.tables);
    std::size_t const links = state.readings.links.size();
    assessment.models.resize(links);
    assessment.last_test.assign(links, Assessment::no_test);
    for (std::size_t i = 0; i < state.tests.size(); ++i) {
        std::uint32_t const link = state.readings.links.find(state.tests[i].link);
        if (link < links) assessment.last_test[link] = static_cast<std::uint32_t>(i);
    }
    assessment.inner.resize(state.scheduled(), 0);
    tasks.links.resize(links);

    std::vector<verdict::UncertaintyEdit> edits;
    for (auto const& edit : state.settings.uncertainty) edits.push_back({edit.id, edit.value});

    plant::LinkModels models{plant::LinkOptions{}};
    std::map<KindKey, std::uint32_t> kinds;
    for (std::size_t i = 0; i < state.scheduled(); ++i) {
        plant::LinkSpec const& link = state.links[i];
        TRY_ASSIGN(assessment.models[i], models.model_for(link));
        plant::LinkModel const& model = *assessment.models[i];
        TRY_ASSIGN(assessment.inner[i], inner_connections_of(link, model));
        TRY_ASSIGN(LimitsOf const limits, limits_of(state, link));
        auto const [place, is_new] =
            kinds.try_emplace(KindKey{&model, link.category}, static_cast<std::uint32_t>(tasks.kinds.size()));
        if (is_new) {
            verdict::LinkKind kind = verdict::kind_of(model.positions.value_or(plant::PositionMap{}));
            if (!model.positions) kind.occupied_a = model.near_occupied;
            kind.wavelengths = limits.wavelengths.size();
            kind.required = limits.required;
            for (std::size_t w = 0; w < limits.wavelengths.size(); ++w) {
                kind.wavelength_nm[w] = static_cast<std::uint16_t>(limits.wavelengths[w].value());
                verdict::BudgetQuestion question;
                question.tables = &state.tables;
                question.kind = limits.category->kind;
                question.wavelength = limits.wavelengths[w];
                question.method = state.settings.method;
                question.edits = edits;
                TRY_ASSIGN(auto const budget, verdict::budget_for(question));
                kind.uncertainty[w] = budget.model();
            }
            tasks.kinds.push_back(kind);
        }
        verdict::LinkTask& task = tasks.links[i];
        task.kind = place->second;
        task.length_m = link.length.value();
        if (state.settings.used_positions_only) task.counted = used_by_applications(state, link, model);
        TRY_ASSIGN(task.limit_db, link_limits(state, link, limits, assessment.inner[i]));
    }
    // Links that were measured and are not in the schedule have no promise to be judged by: they stay open.
    if (links > state.scheduled()) {
        verdict::LinkKind unknown;
        unknown.wavelengths = unknown.required = 1;
        unknown.wavelength_nm[0] = 850;
        unknown.uncertainty[0] = verdict::UncertaintyModel::constant(0);
        tasks.kinds.push_back(unknown);
        for (std::size_t i = state.scheduled(); i < links; ++i) {
            tasks.links[i].kind = static_cast<std::uint32_t>(tasks.kinds.size() - 1);
            tasks.links[i].limit_db.fill(nan);
        }
    }

    TRY(stand_references(state, assessment));
    assessment.rows = std::make_unique<verdict::RowsByLink>(state.readings, links);
    TRY_ASSIGN(assessment.verdicts, verdict::prepare_verdicts(state.readings, tasks));
    TRY_ASSIGN(auto expectation, Expectation::learn(state, assessment));
    assessment.expectation = std::make_unique<Expectation>(std::move(expectation));
    TRY_ASSIGN(auto watching, watch_references(state, assessment, *assessment.expectation, threads));
    assessment.watching = std::make_unique<Watching>(std::move(watching));
    hold_doubtful(state, *assessment.watching, assessment);
    auto const run = [&](std::size_t first, std::size_t last) {
        verdict::judge_links({state.readings, *assessment.rows, tasks, assessment.hold}, first, last,
                             assessment.verdicts);
    };
    std::size_t const parts = static_cast<std::size_t>(std::clamp(threads, 1, 64));
    if (parts == 1 || links < 256) {
        run(0, links);
    } else {
        std::vector<std::thread> workers;
        for (std::size_t part = 1; part < parts; ++part)
            workers.emplace_back(run, links * part / parts, links * (part + 1) / parts);
        run(0, links / parts);
        for (std::thread& worker : workers) worker.join();
    }
    return assessment;
}

Result<bool> assess_again(JobState const& state, Assessment& before, std::size_t tests_before,
                          std::vector<std::uint32_t>& moved, int threads)
{
    if (state.readings.links.size() != before.links() || tests_before >= state.tests.size() ||
        learned_from(state.tests.size()) != before.expectation->tests())
        return false;
    constexpr auto doubted = static_cast<std::uint8_t>(verdict::HoldKind::reference_doubted);
    std::vector<std::uint32_t> tested;
    for (std::size_t i = tests_before; i < state.tests.size(); ++i) {
        std::uint32_t const link = state.readings.link[state.tests[i].first_row];
        before.last_test[link] = static_cast<std::uint32_t>(i);
        tested.push_back(link);
    }
    std::sort(tested.begin(), tested.end());
    tested.erase(std::unique(tested.begin(), tested.end()), tested.end());

    // What the watch held is decided anew. A link moves where its hold does, or the words for it.
    std::vector<std::string> const words_before = words_of_doubts(state, *before.watching);
    std::vector<std::uint32_t> held_before;
    for (std::uint32_t row = 0; row < before.hold.size(); ++row) {
        if (before.hold[row] != doubted) continue;
        held_before.push_back(row);
        before.hold[row] = 0;
    }
    hold_rows(state, before, state.tests[tests_before].first_row);
    before.rows = std::make_unique<verdict::RowsByLink>(state.readings, before.links());
    before.verdicts.reading_state.resize(state.readings.size(), verdict::State::open);
    before.verdicts.reading_flags.resize(state.readings.size(), 0);
    TRY_ASSIGN(*before.watching,
               watch_again(state, before, *before.expectation, std::move(*before.watching), tested, threads));
    hold_doubtful(state, *before.watching, before);

    std::vector<bool> touched(before.links(), false);
    for (std::uint32_t const link : tested) touched[link] = true;
    std::vector<std::string> const words_now = words_of_doubts(state, *before.watching);
    auto const is_new = [&](std::uint32_t reference) {
        return reference >= words_before.size() || words_before[reference] != words_now[reference];
    };
    auto was = held_before.begin();
    for (std::uint32_t row = 0; row < before.hold.size(); ++row) {
        bool const held = before.hold[row] == doubted;
        bool const was_held = was != held_before.end() && *was == row;
        if (was_held) ++was;
        if (held != was_held || (held && is_new(state.readings.reference[row])))
            touched[state.readings.link[row]] = true;
    }
    for (std::size_t link = 0; link < touched.size(); ++link) {
        if (!touched[link]) continue;
        moved.push_back(static_cast<std::uint32_t>(link));
        verdict::judge_links({state.readings, *before.rows, before.tasks, before.hold}, link, link + 1,
                             before.verdicts);
    }
    return true;
}

} // namespace guidepin::job

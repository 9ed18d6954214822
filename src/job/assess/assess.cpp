// SPDX-License-Identifier: Apache-2.0
#include "job/assess/assess.hpp"

#include "base/no_number.hpp"
#include "base/parallel.hpp"
#include "job/doubt/doubt_text.hpp"
#include "job/doubt/holding.hpp"
#include "job/groundwork/references.hpp"
#include "verdict/applications.hpp"
#include "verdict/attenuation.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// A row that the watch holds.
constexpr auto doubted = static_cast<std::uint8_t>(verdict::HoldKind::reference_doubted);

verdict::JudgeRules rules_of(Settings const& settings, facts::Tables const& tables)
{
    verdict::JudgeRules rules;
    rules.decision = settings.decision_rule;
    rules.guard = verdict::normal_quantile(settings.guard_probability);
    rules.directions = settings.directions;
    rules.require_length = settings.require_length;
    rules.require_polarity = settings.require_polarity;
    rules.length_tolerance_fraction = settings.length_tolerance_fraction;
    rules.length_tolerance_m = settings.length_tolerance.value();
    rules.negative_tolerance_db = verdict::negative_tolerance(tables, settings.method).value();
    return rules;
}

/// Returns the positions at A that the link's applications use.
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

/// Returns, by name in the readings' dictionary, the text of all doubts about that reference.
std::vector<std::string> texts_of_doubts(JobState const& state, Watching const& watching)
{
    std::vector<std::string> texts(state.readings.references.size());
    for (WatchedReference const& reference : watching.references) {
        for (Doubt const& doubt : reference.doubts)
            texts[reference.name] +=
                doubt_text(state, reference, doubt) + doubt_action(state, reference, doubt);
    }
    return texts;
}

struct KindKey
{
    plant::LinkModel const* model;
    std::string category;
    friend auto operator<=>(KindKey const&, KindKey const&) = default;
};

/// Returns how links of this kind are judged: wavelengths with their uncertainty, and the map that is
/// expected.
Result<verdict::LinkKind> judged_kind(JobState const& state, plant::LinkModel const& model,
                                      LimitsOf const& limits)
{
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
        question.edits = state.settings.uncertainty;
        TRY_ASSIGN(auto const budget, verdict::budget_for(question));
        kind.uncertainty[w] = budget.model();
    }
    return kind;
}

/// Gives each scheduled link its model and its task: what it is judged by.
Outcome add_scheduled_links(JobState const& state, Groundwork& ground)
{
    ground.inner.resize(state.scheduled(), 0);
    plant::LinkModels models{plant::LinkOptions{}};
    std::map<KindKey, std::uint32_t> kinds;
    for (std::size_t i = 0; i < state.scheduled(); ++i) {
        plant::LinkSpec const& link = state.links[i];
        TRY_ASSIGN(ground.models[i], models.model_for(link));
        plant::LinkModel const& model = *ground.models[i];
        TRY_ASSIGN(ground.inner[i], inner_connections_of(link, model));
        TRY_ASSIGN(LimitsOf const limits, limits_of(state, link));
        auto const [place, is_new] = kinds.try_emplace(KindKey{&model, link.category},
                                                       static_cast<std::uint32_t>(ground.tasks.kinds.size()));
        if (is_new) {
            TRY_ASSIGN(verdict::LinkKind kind, judged_kind(state, model, limits));
            ground.tasks.kinds.push_back(kind);
        }
        verdict::LinkTask& task = ground.tasks.links[i];
        task.kind = place->second;
        task.length_m = link.length.value();
        if (state.settings.used_positions_only) task.counted = used_by_applications(state, link, model);
        TRY_ASSIGN(task.limit_db, link_limits(state, link, limits, ground.inner[i]));
    }
    return {};
}

/// Adds links that were measured and are not in the schedule. No promise says how to judge them: they stay
/// open.
void add_unscheduled_links(verdict::JudgeTasks& tasks, std::size_t scheduled)
{
    if (tasks.links.size() <= scheduled) return;
    verdict::LinkKind unknown;
    unknown.wavelengths = unknown.required = 1;
    unknown.wavelength_nm[0] = 850;
    unknown.uncertainty[0] = verdict::UncertaintyModel::constant(0);
    tasks.kinds.push_back(unknown);
    for (std::size_t i = scheduled; i < tasks.links.size(); ++i) {
        tasks.links[i].kind = static_cast<std::uint32_t>(tasks.kinds.size() - 1);
        tasks.links[i].limit_db.fill(nan);
    }
}

/// Returns by link the index of its last test.
std::vector<std::uint32_t> last_tests(JobState const& state)
{
    std::vector<std::uint32_t> last(state.readings.links.size(), Groundwork::no_test);
    for (std::size_t i = 0; i < state.tests.size(); ++i) {
        std::uint32_t const link = state.readings.links.find(state.tests[i].link);
        if (link < last.size()) last[link] = static_cast<std::uint32_t>(i);
    }
    return last;
}

void judge_all_links(JobState const& state, Groundwork& ground, int threads)
{
    std::size_t const links = ground.links();
    auto const run = [&](std::size_t first, std::size_t last) {
        verdict::judge_links({state.readings, *ground.rows, ground.tasks, ground.hold}, first, last,
                             ground.verdicts);
    };
    run_in_ranges(links < 256 ? 1 : threads, links, run);
}

/// Takes away what the watch held, to be decided again. Returns the rows that it held, ascending.
std::vector<std::uint32_t> release_doubted(std::vector<std::uint8_t>& hold)
{
    std::vector<std::uint32_t> released;
    for (std::uint32_t row = 0; row < hold.size(); ++row) {
        if (hold[row] != doubted) continue;
        released.push_back(row);
        hold[row] = 0;
    }
    return released;
}

/// Marks the links of rows that the watch holds now and did not before, or the other way round, or for
/// another reason than before. `texts_*`: texts_of_doubts() before and now; `held_before`: ascending.
void mark_moved(JobState const& state, std::vector<std::uint8_t> const& hold,
                std::vector<std::uint32_t> const& held_before, std::vector<std::string> const& texts_before,
                std::vector<std::string> const& texts_now, std::vector<bool>& moved)
{
    auto const has_new_text = [&](std::uint32_t reference) {
        return reference >= texts_before.size() || texts_before[reference] != texts_now[reference];
    };
    auto was = held_before.begin();
    for (std::uint32_t row = 0; row < hold.size(); ++row) {
        bool const held = hold[row] == doubted;
        bool const was_held = was != held_before.end() && *was == row;
        if (was_held) ++was;
        if (held != was_held || (held && has_new_text(state.readings.reference[row])))
            moved[state.readings.link[row]] = true;
    }
}

} // namespace

verdict::Hold Assessment::hold_of(JobState const& state, std::uint32_t row) const
{
    verdict::ReadingColumns const& readings = state.readings;
    if (hold[row] == doubted) {
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
    verdict::ReferenceId const name = reference == verdict::Dictionary::missing
                                          ? verdict::ReferenceId()
                                          : readings.references.id(reference);
    auto why = timeline->hold_reason(name, Instant{readings.taken_ms[row], readings.offset_minutes[row]});
    return why ? *why : verdict::Hold{};
}

Result<Assessment> assess(JobState const& state, int threads)
{
    Assessment assessment;
    std::size_t const links = state.readings.links.size();
    assessment.tasks.rules = rules_of(state.settings, state.tables);
    assessment.tasks.links.resize(links);
    assessment.models.resize(links);
    assessment.last_test = last_tests(state);
    TRY(add_scheduled_links(state, assessment));
    add_unscheduled_links(assessment.tasks, state.scheduled());

    TRY(stand_references(state, assessment));
    assessment.rows = std::make_unique<verdict::RowsByLink>(state.readings, links);
    TRY_ASSIGN(assessment.verdicts, verdict::prepare_verdicts(state.readings, assessment.tasks));
    TRY_ASSIGN(auto expectation, Expectation::learn(state, assessment));
    assessment.expectation = std::make_unique<Expectation>(std::move(expectation));
    TRY_ASSIGN(auto watching, watch_references(state, assessment, *assessment.expectation, threads));
    assessment.watching = std::make_unique<Watching>(std::move(watching));
    hold_doubtful(state, *assessment.watching, assessment);
    judge_all_links(state, assessment, threads);
    return assessment;
}

Result<bool> assess_again(JobState const& state, Assessment& before, std::size_t tests_before,
                          std::vector<std::uint32_t>& moved, int threads)
{
    if (state.readings.links.size() != before.links() || tests_before >= state.tests.size() ||
        learned_from(state.tests.size()) != before.expectation->tests())
        return false;
    std::vector<std::uint32_t> tested;
    for (std::size_t i = tests_before; i < state.tests.size(); ++i) {
        std::uint32_t const link = state.readings.link[state.tests[i].first_row];
        before.last_test[link] = static_cast<std::uint32_t>(i);
        tested.push_back(link);
    }
    std::sort(tested.begin(), tested.end());
    tested.erase(std::unique(tested.begin(), tested.end()), tested.end());

    std::vector<std::string> const texts_before = texts_of_doubts(state, *before.watching);
    std::vector<std::uint32_t> const held_before = release_doubted(before.hold);
    hold_rows(state, before, state.tests[tests_before].first_row);
    before.rows = std::make_unique<verdict::RowsByLink>(state.readings, before.links());
    before.verdicts.reading_state.resize(state.readings.size(), verdict::State::open);
    before.verdicts.reading_flags.resize(state.readings.size(), 0);
    TRY_ASSIGN(*before.watching,
               watch_again(state, before, *before.expectation, std::move(*before.watching), tested, threads));
    hold_doubtful(state, *before.watching, before);

    std::vector<bool> touched(before.links(), false);
    for (std::uint32_t const link : tested) touched[link] = true;
    mark_moved(state, before.hold, held_before, texts_before, texts_of_doubts(state, *before.watching),
               touched);
    for (std::size_t link = 0; link < touched.size(); ++link) {
        if (!touched[link]) continue;
        moved.push_back(static_cast<std::uint32_t>(link));
        verdict::judge_links({state.readings, *before.rows, before.tasks, before.hold}, link, link + 1,
                             before.verdicts);
    }
    return true;
}

} // namespace guidepin::job

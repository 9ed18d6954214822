// SPDX-License-Identifier: Apache-2.0
#include "job/plan/solved_set_up.hpp"

#include "base/text.hpp"
#include "job/plan/check_arrival.hpp"
#include "job/sheet/locale.hpp"
#include "job/state/link_limits.hpp"
#include "setup/ways_out.hpp"
#include "verdict/attenuation.hpp"
#include "verdict/cord_check.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr std::array all_arrangements{setup::Arrangement::one_cord, setup::Arrangement::changer,
                                      setup::Arrangement::two_cord, setup::Arrangement::three_cord};

facts::FibreCategory const* category_of_cords(setup::Question const& question, setup::Plan const& plan,
                                              facts::Tables const& tables)
{
    std::string const& of_cord = question.kit.cords[static_cast<std::size_t>(plan.tail.cord)].category;
    auto const found = tables.category(of_cord.empty() ? question.cabling.category : of_cord);
    return found ? *found : nullptr;
}

/// Joints in the light path while the check is measured.
int joints_in_check(setup::Plan const& plan)
{
    if (plan.check == setup::CheckKind::direct) return 1;
    if (plan.check == setup::CheckKind::known_cord) return 2;
    return setup::joints_in_reference(setup::method_of(plan.arrangement));
}

Result<std::vector<CheckNumbers>> check_numbers(setup::Question const& question, setup::Plan const& plan,
                                                SetupRules const& rules)
{
    std::vector<CheckNumbers> numbers;
    if (plan.check == setup::CheckKind::none) return numbers;
    TRY_ASSIGN(auto const expectations, setup::check_expectations(question, plan, *rules.rules));
    auto const* const category = category_of_cords(question, plan, *rules.tables);
    if (!category)
        return Error{Errc::not_found,
                     "The fibre category of the test cords is not known; name it in the kit."};
    auto const wavelengths =
        required_wavelengths(rules.wavelengths, *rules.rules, question.cabling.glass.kind);
    verdict::CordCheckQuestion check;
    check.id = verdict::CheckId("of this set-up");
    check.wavelengths = wavelengths;
    check.occupied = question.cabling.first.plug.occupied;
    check.rules = rules.rules;
    check.category = category;
    check.cords = setup::counting(question, plan).grade;
    check.method = setup::method_of(plan.arrangement);
    check.joints = joints_in_check(plan);
    Metres const added = setup::length_added_by_check(question, plan);
    check.added_length = std::max(added, Metres{0}); // a longer changer cord came out: millidecibels
    check.tables = rules.tables;
    TRY_ASSIGN(auto const judged, verdict::check_cords(check));
    for (verdict::CordLimit const& limit : judged.limits) {
        CheckNumbers row;
        row.wavelength = limit.wavelength;
        row.good_up_to = std::min(limit.rules, limit.practice);
        row.refused_above = std::max(limit.rules, limit.practice);
        row.good_from = limit.good_from;
        row.refused_below = limit.refused_below;
        row.rests_on_memory = limit.rests_on_memory;
        for (setup::CheckExpectation const& expected : expectations) {
            if (expected.wavelength != limit.wavelength) continue;
            // Where the same joints are only made again, the drift that voids a reference bounds it closer.
            row.expected_least = std::max(expected.least, row.refused_below);
            row.expected_most = std::min(expected.most, row.refused_above);
            row.arithmetic = expected.arithmetic;
        }
        numbers.push_back(std::move(row));
    }
    return numbers;
}

Result<std::vector<MethodRow>> method_rows(setup::Question const& question, setup::Plan const& plan,
                                           SetupRules const& rules)
{
    setup::Question all = question;
    all.permitted.assign(all_arrangements.begin(), all_arrangements.end());
    all.in_force.reset();
    TRY_ASSIGN(auto const comparisons, setup::compare(all));
    auto const wavelengths =
        required_wavelengths(rules.wavelengths, *rules.rules, question.cabling.glass.kind);
    std::vector<MethodRow> rows;
    for (setup::MethodShadow const& shadow : setup::shadows(plan)) {
        MethodRow row;
        row.shadow = shadow;
        row.chosen = shadow.arrangement == plan.arrangement;
        row.permitted = std::find(question.permitted.begin(), question.permitted.end(), shadow.arrangement) !=
                        question.permitted.end();
        for (setup::Comparison const& each : comparisons) {
            if (each.arrangement != shadow.arrangement) continue;
            if (each.plan) row.cost = each.plan->cost;
            if (each.blocker) row.blocker = each.blocker->text();
        }
        verdict::BudgetQuestion budget{.tables = rules.tables,
                                       .kind = question.cabling.glass.kind,
                                       .wavelength =
                                           wavelengths.empty() ? Nanometres{850} : wavelengths.front(),
                                       .method = setup::method_of(shadow.arrangement),
                                       .ends = 2,
                                       .edits = rules.uncertainty};
        TRY_ASSIGN(verdict::Budget const known, verdict::budget_for(budget));
        // Each joint inside the reference adds the spread of one more end connection.
        double variance = std::pow(known.at(method_row_loss.value()).u, 2);
        for (verdict::Contribution const& each : known.contributions) {
            if (each.id != "connector-repeatability" && each.id != "cord-grade") continue;
            double const u = each.u(method_row_loss.value());
            variance += u * u / each.count * shadow.joint_spreads_added;
        }
        row.expanded_uncertainty = Decibel{2 * std::sqrt(variance)};
        rows.push_back(std::move(row));
    }
    return rows;
}

void add_shown(SolvedSetup& solved, setup::Cabling const& cabling, std::vector<std::string> const& links)
{
    setup::Question one = solved.question;
    one.cabling = cabling;
    auto map = setup::shown_map(one, solved.plan);
    if (!map) {
        solved.shown_missing = map.error().message;
        return;
    }
    for (ShownFor& known : solved.shown) {
        if (known.map.expected != map->expected || known.map.shown != map->shown) continue;
        known.links.insert(known.links.end(), links.begin(), links.end());
        return;
    }
    ShownFor shown;
    shown.map = std::move(map).value();
    shown.links = links;
    solved.shown.push_back(std::move(shown));
}

} // namespace

SetupRules setup_rules_of(JobState const& state)
{
    return {&state.tables, &state.rules, state.settings.wavelengths, state.settings.uncertainty,
            locale_of(state.settings)};
}

std::vector<std::string> cord_serials_of(setup::Question const& question, setup::Plan const& plan)
{
    std::vector<std::string> serials;
    for (auto const& use : {std::optional(plan.launch), std::optional(plan.tail), plan.extra, plan.known}) {
        if (!use || use->cord < 0) continue;
        std::string const& id = question.kit.cords[static_cast<std::size_t>(use->cord)].id;
        if (std::find(serials.begin(), serials.end(), id) == serials.end()) serials.push_back(id);
    }
    return serials;
}

std::vector<std::string> serials_of(SolvedSetup const& solved)
{
    std::vector<std::string> serials = cord_serials_of(solved.question, solved.plan);
    serials.push_back(solved.source_serial);
    if (solved.meter_serial != solved.source_serial) serials.push_back(solved.meter_serial);
    return serials;
}

std::vector<std::string> refusals_of(std::vector<std::string> const& serials, KitRulings const& rulings)
{
    std::vector<std::string> texts;
    for (std::string const& serial : serials) {
        auto const found = rulings.find(serial);
        if (found == rulings.end()) continue;
        texts.insert(texts.end(), found->second.refused.begin(), found->second.refused.end());
    }
    return texts;
}

std::vector<std::string> decisions_of(SolvedSetup const& solved, KitRulings const& rulings)
{
    std::vector<std::string> texts;
    for (std::string const& serial : serials_of(solved)) {
        auto const found = rulings.find(serial);
        if (found == rulings.end()) continue;
        texts.insert(texts.end(), found->second.overridden.begin(), found->second.overridden.end());
    }
    return texts;
}

Result<SolvedSetup> worked_out(setup::Question question, setup::Plan plan, SetupRules const& rules,
                               std::vector<setup::JobLinks> const& links)
{
    SolvedSetup solved;
    solved.question = std::move(question);
    solved.plan = std::move(plan);
    solved.locale = rules.locale;
    if (solved.question.cabling.category.empty() && !links.empty())
        solved.question.cabling.category = links.front().cabling.category; // of one core, so alike in a cord
    solved.counting = setup::counting(solved.question, solved.plan);
    auto const differs = [&](setup::CablingEnd const& end, setup::CablingEnd const& drawn) {
        return end.fitting != drawn.fitting;
    };
    for (setup::JobLinks const& alike : links) {
        if (differs(alike.cabling.first, solved.question.cabling.first) ||
            differs(alike.cabling.second, solved.question.cabling.second))
            solved.other_fittings.insert(solved.other_fittings.end(), alike.ids.begin(), alike.ids.end());
    }
    if (links.empty()) add_shown(solved, solved.question.cabling, {});
    for (setup::JobLinks const& alike : links) add_shown(solved, alike.cabling, alike.ids);
    auto numbers = check_numbers(solved.question, solved.plan, rules);
    if (numbers) {
        solved.checks = std::move(numbers).value();
    } else if (numbers.error().code == Errc::not_found) {
        solved.checks_missing = numbers.error().message;
    } else {
        return numbers.error();
    }
    // The limits in the steps are the ones that the judgement will use.
    std::vector<setup::CheckExpectation> limits;
    for (CheckNumbers const& row : solved.checks) {
        setup::CheckExpectation limit;
        limit.wavelength = row.wavelength;
        limit.least = row.good_from;
        limit.refused_below = row.refused_below;
        limit.most = row.good_up_to;
        limit.refused_above = row.refused_above;
        limits.push_back(std::move(limit));
    }
    solved.check_arrival = arrival_text(solved.question, solved.plan, rules.locale);
    TRY_ASSIGN(solved.steps,
               setup::steps(solved.question, solved.plan, limits, *rules.tables, solved.check_arrival));
    solved.scenes = setup::scenes(solved.question, solved.plan);
    TRY_ASSIGN(solved.methods, method_rows(solved.question, solved.plan, rules));
    return solved;
}

} // namespace guidepin::job

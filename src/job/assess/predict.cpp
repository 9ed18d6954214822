// SPDX-License-Identifier: Apache-2.0
#include "job/assess/predict.hpp"

#include "base/text.hpp"
#include "job/assess/assess.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// Fibre that is sold loses about four fifths of what its category allows (common practice).
constexpr double share_of_limit = 0.8;
/// Mean of a population of which only a value for nearly all is known: half of it, as the grades of
/// connections have it (0.47 to 0.5; common practice).
constexpr double mean_of_p97 = 0.5;
constexpr int most_inside = 1000;
constexpr double longest_m = 200'000;

Result<loss::Gamma> population(std::string const& what, double mean_db, double p97_db)
{
    auto found = loss::gamma_of_grade(Decibel{mean_db}, Decibel{p97_db});
    if (!found) return found.error().within(what);
    return found;
}

Result<Population> of_grade(facts::Tables const& tables, facts::FibreKind kind, std::string const& id,
                            std::string const& what, int count)
{
    facts::ConnectionGrade const* const grade = tables.grade(id);
    if (!grade || grade->kind != kind) {
        std::vector<std::string> known;
        for (facts::ConnectionGrade const& each : tables.grades) {
            if (each.kind == kind) known.push_back(each.id);
        }
        return Error{Errc::not_found, fmt::format("No attenuation grade \"{}\" for {} fibre; there are {}",
                                                  id, facts::name_of(kind), joined(known, ", "))};
    }
    Population joints;
    joints.what = fmt::format("{}, grade {}", what, grade->id);
    joints.count = count;
    joints.mean_db = grade->mean.value;
    joints.p97_db = grade->p97.value;
    TRY_ASSIGN(joints.loss, loss::gamma_of(*grade));
    joints.source = grade->mean.source.text();
    joints.basis = facts::name_of(grade->mean.basis);
    return joints;
}

/// A value that nearly all keep, as the 97 of 100 of a population with half of it as mean.
Result<Population> of_fact(facts::Tables const& tables, std::string const& id, std::string const& what,
                           int count)
{
    facts::Fact const* const fact = tables.fact(id);
    if (!fact) return Error{Errc::not_found, fmt::format("The tables have no value {}", id)};
    Population joints;
    joints.what = what;
    joints.count = count;
    joints.mean_db = mean_of_p97 * fact->value;
    joints.p97_db = fact->value;
    TRY_ASSIGN(joints.loss, population(what, joints.mean_db, joints.p97_db));
    joints.source = fact->source.text();
    joints.basis = facts::name_of(fact->basis);
    return joints;
}

Result<std::vector<Population>> populations_of(PlannedLink const& link, PredictWish const& wish,
                                               facts::Tables const& tables)
{
    facts::FibreKind const kind = link.category->kind;
    bool const multimode = kind == facts::FibreKind::multimode;
    std::string const inside = wish.grade.empty() ? (multimode ? "Bm" : "B") : wish.grade;
    std::string const at_ends = wish.end_grade.empty() ? inside : wish.end_grade;
    std::vector<Population> all;
    TRY_ASSIGN(Population ends, of_grade(tables, kind, at_ends, "end connections", link.ends));
    all.push_back(std::move(ends));
    if (link.inner > 0) {
        TRY_ASSIGN(Population inner, of_grade(tables, kind, inside, "connections inside", link.inner));
        all.push_back(std::move(inner));
    }
    if (link.splices > 0 && wish.splice) {
        Population splices;
        splices.what = "splices";
        splices.count = link.splices;
        splices.mean_db = wish.splice->mean_db;
        splices.p97_db = wish.splice->p97_db;
        TRY_ASSIGN(splices.loss, population("Splices", splices.mean_db, splices.p97_db));
        splices.source = splices.basis = "as given";
        all.push_back(std::move(splices));
    } else if (link.splices > 0) {
        TRY_ASSIGN(Population splices, of_fact(tables,
                                               multimode ? "connection.splice.planning.multimode"
                                                         : "connection.splice.planning.single-mode",
                                               "splices", link.splices));
        all.push_back(std::move(splices));
    }
    int const taken_out = setup::joints_in_reference(link.method);
    if (taken_out > 0) {
        // Between two reference-grade plugs, or two that are like the cabling's own.
        auto joints = link.cords == facts::CordGrade::reference
                          ? of_fact(tables,
                                    multimode ? "cord.reference-to-reference.multimode"
                                              : "cord.reference-to-reference.single-mode",
                                    "joints inside the reference", taken_out)
                          : of_grade(tables, kind, at_ends, "joints inside the reference", taken_out);
        if (!joints) return joints.error();
        joints->in_reference = true;
        all.push_back(std::move(*joints));
    }
    return all;
}

loss::Prediction predicted(loss::LinkConfiguration const& link, loss::Route exact)
{
    auto closed = loss::predict(link);
    // Matched moments are for speed; here the exact route is quick enough.
    if (std::string_view(closed.route()) != "matched moments") return closed;
    return loss::predict(link, {exact, 1, 0});
}

Outcome check(PlannedLink const& link, PredictWish const& wish)
{
    if (!link.category || !wish.rules)
        return Error{Errc::usage, "A prediction needs a fibre category and a rule set"};
    if (link.fibres < 1 || link.fibres > plant::max_positions)
        return Error{Errc::invalid_input,
                     fmt::format("{} fibres: give 1 to {}", link.fibres, plant::max_positions)};
    if (link.ends < 0 || link.ends > 2)
        return Error{Errc::invalid_input, fmt::format("{} end connections: give 0 to 2", link.ends)};
    for (int const count : {link.inner, link.splices}) {
        if (count < 0 || count > most_inside)
            return Error{Errc::invalid_input,
                         fmt::format("{} connections or splices: give 0 to {}", count, most_inside)};
    }
    if (!(link.length.value() >= 0) || link.length.value() > longest_m)
        return Error{Errc::invalid_input,
                     fmt::format("A length of {} m: give 0 to {}", number_text(link.length.value()),
                                 number_text(longest_m))};
    if (wish.fibre_db_per_km && !(*wish.fibre_db_per_km >= 0 && *wish.fibre_db_per_km <= 100))
        return Error{Errc::invalid_input,
                     fmt::format("{} dB/km: give 0 to 100", number_text(*wish.fibre_db_per_km))};
    return {};
}

/// Chance that all fibres keep `limit`.
Result<double> chance_of_all(PlannedLink const& link, PredictWish const& wish, Decibel limit)
{
    PredictWish quick = wish;
    quick.limit = limit;
    quick.draws.reset();
    TRY_ASSIGN(PredictedLink const found, predict_link(link, quick));
    return found.chance_link;
}

/// Largest whole number up to `most` for which `chance(n)`, falling in n, reaches `yield`; -1: none.
template <class Chance>
Result<int> largest(int most, double yield, Chance const& chance)
{
    TRY_ASSIGN(double const at_none, chance(0));
    if (at_none < yield) return -1;
    int good = 0, bad = 1;
    while (bad <= most) {
        TRY_ASSIGN(double const here, chance(bad));
        if (here < yield) break;
        good = bad;
        if (bad == most) return most;
        bad = std::min(most, bad * 2);
    }
    while (bad - good > 1) {
        int const middle = good + (bad - good) / 2;
        TRY_ASSIGN(double const here, chance(middle));
        (here < yield ? bad : good) = middle;
    }
    return good;
}

Outcome check_yield(double yield)
{
    if (yield > 0 && yield < 1) return {};
    return Error{
        Errc::invalid_input,
        fmt::format("A share of {} of the links: give more than 0 and less than 1", number_text(yield))};
}

} // namespace

Result<PredictedLink> predict_link(PlannedLink const& link, PredictWish const& wish)
{
    TRY(check(link, wish));
    facts::Tables const& tables = wish.tables ? *wish.tables : facts::built_in_tables();
    PredictedLink answer;
    answer.link = link;
    TRY_ASSIGN(answer.populations, populations_of(link, wish, tables));
    if (wish.fibre_db_per_km) {
        answer.fibre_db_per_km = *wish.fibre_db_per_km;
        answer.fibre_source = "as given";
    } else {
        facts::Fact const* const allowed = wish.rules->coefficient(link.category->id, link.wavelength);
        if (!allowed)
            return Error{Errc::not_found,
                         fmt::format("{} has no loss for {} at {} nm; give the fibre's own in dB/km",
                                     wish.rules->title, link.category->id, link.wavelength.value())};
        answer.fibre_db_per_km = share_of_limit * allowed->value;
        answer.fibre_source = fmt::format("{} of {} dB/km, {}", number_text(share_of_limit),
                                          number_text(allowed->value), allowed->source.text());
    }
    loss::LinkConfiguration configuration;
    configuration.length = link.length;
    configuration.attenuation = DecibelPerKilometre{answer.fibre_db_per_km};
    configuration.fibres = link.fibres;
    for (Population const& each : answer.populations)
        configuration.joints.push_back({each.what, each.loss, each.count, each.in_reference});

    if (wish.limit) {
        answer.limit = *wish.limit;
        answer.limit_from = wish.limit_from;
    } else {
        loss::LimitQuestion const question{.rules = wish.rules,
                                           .category = link.category,
                                           .wavelength = link.wavelength,
                                           .length = link.length,
                                           .ends = link.ends,
                                           .method = link.method,
                                           .cords = link.cords,
                                           .inner = link.inner,
                                           .splices = link.splices};
        TRY_ASSIGN(answer.limit, loss::limit_value(question));
        answer.limit_from = wish.rules->title;
    }

    loss::Prediction const found = predicted(configuration, loss::Route::convolution);
    answer.fibre_db = found.fibre().value();
    answer.mean_db = found.mean().value();
    answer.sd_db = found.sd().value();
    answer.route = found.route();
    for (double const share : told_shares) {
        answer.fibre_quantiles_db.push_back(found.quantile(share).value());
        answer.worst_quantiles_db.push_back(found.quantile_of_worst(share).value());
    }
    answer.chance_fibre = found.chance_within(answer.limit).value();
    answer.chance_link = found.chance_all_within(answer.limit).value();
    if (!wish.draws) return answer;
    auto const drawn = loss::predict(configuration, {loss::Route::simulation, wish.seed, *wish.draws});
    Drawn check;
    check.draws = *wish.draws;
    check.seed = wish.seed;
    check.mean_db = drawn.mean().value();
    check.sd_db = drawn.sd().value();
    for (double const share : told_shares) check.quantiles_db.push_back(drawn.quantile(share).value());
    check.chance_fibre = drawn.chance_within(answer.limit).value();
    check.chance_fibre_u =
        std::sqrt(answer.chance_fibre * (1 - answer.chance_fibre) / static_cast<double>(check.draws));
    answer.drawn = std::move(check);
    return answer;
}

Result<PlanAnswer> connections_within(PlannedLink link, PredictWish wish, Decibel limit, double yield)
{
    TRY(check_yield(yield));
    auto const chance = [&](int count) {
        link.inner = count;
        return chance_of_all(link, wish, limit);
    };
    PlanAnswer answer;
    TRY_ASSIGN(int const most, largest(most_inside, yield, chance));
    answer.any = most >= 0;
    answer.connections = std::max(most, 0);
    answer.at_the_end = most == most_inside;
    TRY_ASSIGN(answer.yield, chance(answer.connections));
    if (answer.any && !answer.at_the_end) {
        TRY_ASSIGN(answer.yield_beyond, chance(answer.connections + 1));
    }
    return answer;
}

Result<PlanAnswer> length_within(PlannedLink link, PredictWish wish, Decibel limit, double yield)
{
    TRY(check_yield(yield));
    auto const chance = [&](int metres) {
        link.length = Metres{static_cast<double>(metres)};
        return chance_of_all(link, wish, limit);
    };
    PlanAnswer answer;
    TRY_ASSIGN(int const most, largest(static_cast<int>(longest_m), yield, chance));
    answer.any = most >= 0;
    answer.length_m = std::max(most, 0);
    answer.at_the_end = most == static_cast<int>(longest_m);
    TRY_ASSIGN(answer.yield, chance(std::max(most, 0)));
    if (answer.any && !answer.at_the_end) {
        TRY_ASSIGN(answer.yield_beyond, chance(most + 1));
    }
    return answer;
}

Result<std::vector<PlannedLink>> planned_links(JobState const& state, std::vector<std::string> const& names)
{
    std::vector<std::size_t> wanted;
    for (std::string const& name : names) {
        auto const found = state.link_index.find(name);
        if (found == state.link_index.end()) {
            std::vector<std::string> known;
            for (plant::LinkSpec const& link : state.links) known.push_back(link.id);
            return Error{Errc::not_found,
                         fmt::format("The schedule has no link \"{}\"{}", name, did_you_mean(name, known))};
        }
        wanted.push_back(found->second);
    }
    if (names.empty()) {
        for (std::size_t i = 0; i < state.links.size(); ++i) wanted.push_back(i);
    }
    std::vector<PlannedLink> planned;
    plant::LinkModels models{plant::LinkOptions{}};
    for (std::size_t const i : wanted) {
        plant::LinkSpec const& link = state.links[i];
        TRY_ASSIGN(auto const model, models.model_for(link));
        TRY_ASSIGN(LimitsOf const limits, limits_of(state, link));
        PlannedLink one;
        one.name = link.id;
        one.category = limits.category;
        one.length = link.length;
        TRY_ASSIGN(one.inner, inner_connections_of(link, *model));
        one.splices = link.splices;
        one.fibres = std::max(1, static_cast<int>(model->near_occupied.count()));
        one.method = state.settings.method;
        one.cords = state.settings.cord_grade;
        for (std::size_t w = 0; w < limits.required; ++w) {
            one.wavelength = limits.wavelengths[w];
            planned.push_back(one);
        }
    }
    return planned;
}

} // namespace guidepin::job

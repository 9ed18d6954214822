// SPDX-License-Identifier: Apache-2.0
#include "job/state/link_limits.hpp"

#include "base/no_number.hpp"
#include "loss/limit.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::job {

std::vector<Nanometres>
required_wavelengths(std::map<facts::FibreKind, std::vector<Nanometres>> const& of_job,
                     facts::RuleSet const& rules, facts::FibreKind kind)
{
    if (auto const found = of_job.find(kind); found != of_job.end()) return found->second;
    std::vector<Nanometres> wavelengths;
    if (auto const ruled = rules.wavelengths.find(kind); ruled != rules.wavelengths.end()) {
        for (auto const& [fact, required] : ruled->second) {
            if (required) wavelengths.emplace_back(static_cast<int>(fact.value));
        }
    }
    return wavelengths;
}

Result<LimitsOf> limits_of(JobState const& state, plant::LinkSpec const& link)
{
    LimitsOf limits;
    TRY_ASSIGN(limits.category, state.tables.category(link.category));
    facts::FibreKind const kind = limits.category->kind;
    limits.wavelengths = required_wavelengths(state.settings.wavelengths, state.rules, kind);
    limits.required = limits.wavelengths.size();
    auto const ruled = state.rules.wavelengths.find(kind);
    if (ruled != state.rules.wavelengths.end()) {
        for (facts::RuleSet::Wavelength const& each : ruled->second) {
            Nanometres const wavelength{static_cast<int>(each.fact.value)};
            bool const known = std::find(limits.wavelengths.begin(), limits.wavelengths.end(), wavelength) !=
                               limits.wavelengths.end();
            if (!known && limits.wavelengths.size() < verdict::max_wavelengths)
                limits.wavelengths.push_back(wavelength);
        }
    }
    if (limits.wavelengths.empty() || limits.wavelengths.size() > verdict::max_wavelengths) {
        return Error{Errc::invalid_input,
                     fmt::format("Link {}: {} wavelengths are asked for {} fibre; 1 to {} can be judged",
                                 link.id, limits.wavelengths.size(), facts::name_of(limits.category->kind),
                                 verdict::max_wavelengths)};
    }
    return limits;
}

Result<int> inner_connections_of(plant::LinkSpec const& link, plant::LinkModel const& model)
{
    if (link.inner_connections > 0 && model.inner_joints > 0 &&
        link.inner_connections != model.inner_joints) {
        return Error{
            Errc::invalid_input,
            fmt::format("Link {}: inner_connections says {}, its chain \"{}\" names {}; give one of them",
                        link.id, link.inner_connections, link.trunk_type, model.inner_joints)};
    }
    return std::max(link.inner_connections, model.inner_joints);
}

loss::LimitQuestion limit_question(JobState const& state, plant::LinkSpec const& link, LimitsOf const& limits,
                                   int inner)
{
    loss::LimitQuestion question;
    question.rules = &state.rules;
    question.category = limits.category;
    question.length = link.length;
    question.method = state.settings.method;
    question.cords = state.settings.cord_grade;
    question.inner = inner;
    question.splices = link.splices;
    return question;
}

Result<std::array<double, verdict::max_wavelengths>>
link_limits(JobState const& state, plant::LinkSpec const& link, LimitsOf const& limits, int inner)
{
    std::array<double, verdict::max_wavelengths> values;
    values.fill(nan);
    loss::LimitQuestion question = limit_question(state, link, limits, inner);
    for (std::size_t w = 0; w < limits.wavelengths.size(); ++w) {
        question.wavelength = limits.wavelengths[w];
        auto const value = loss::limit_value(question);
        if (value) {
            values[w] = value->value();
        } else if (w < limits.required) {
            return value.error().within(fmt::format("Link {}", link.id));
        }
    }
    return values;
}

Outcome link_can_be_judged(JobState const& state, plant::LinkModels& models, plant::LinkSpec const& link)
{
    TRY_ASSIGN(auto const model, models.model_for(link));
    TRY_ASSIGN(int const inner, inner_connections_of(link, *model));
    TRY_ASSIGN(LimitsOf const limits, limits_of(state, link));
    TRY(link_limits(state, link, limits, inner));
    return {};
}

} // namespace guidepin::job

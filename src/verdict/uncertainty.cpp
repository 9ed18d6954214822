// SPDX-License-Identifier: Apache-2.0
#include "verdict/uncertainty.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <fmt/format.h>
#include <numbers>

namespace guidepin::verdict {
namespace {

constexpr std::array distributions{Distribution::normal, Distribution::rectangular, Distribution::triangular,
                                   Distribution::u_shaped};

/// "multimode@850" before "multimode": the most exact key wins.
facts::Fact const* value_for(std::map<std::string, facts::Fact> const& values, BudgetQuestion const& question)
{
    std::string const kind = name_of(question.kind);
    auto found = values.find(fmt::format("{}@{}", kind, question.wavelength.value()));
    if (found == values.end()) found = values.find(kind);
    return found == values.end() ? nullptr : &found->second;
}

bool applies(facts::UncertaintyContribution const& row, setup::ReferenceMethod method)
{
    return row.methods.empty() ||
           std::find(row.methods.begin(), row.methods.end(), setup::name_of(method)) != row.methods.end();
}

Outcome check_edits(BudgetQuestion const& question)
{
    std::vector<std::string> known;
    for (auto const& row : question.tables->uncertainty) known.push_back(row.id);
    for (UncertaintyEdit const& edit : question.edits) {
        if (std::find(known.begin(), known.end(), edit.id) == known.end()) {
            return Error{Errc::invalid_input,
                         fmt::format("Uncertainty contribution {} is not known{}", edit.id,
                                     did_you_mean(edit.id, known, "; there is " + joined(known, ", ")))};
        }
        if (!(edit.value >= 0) || !std::isfinite(edit.value)) {
            return Error{Errc::invalid_input,
                         fmt::format("Uncertainty contribution {}: {} is not a width; give 0 or above.",
                                     edit.id,
                                     std::isfinite(edit.value) ? number_text(edit.value) : "no number")};
        }
    }
    return {};
}

} // namespace

char const* name_of(Distribution distribution)
{
    switch (distribution) {
    case Distribution::normal:
        return "normal";
    case Distribution::rectangular:
        return "rectangular";
    case Distribution::triangular:
        return "triangular";
    case Distribution::u_shaped:
        return "u-shaped";
    }
    return "";
}

std::optional<Distribution> parse_distribution(std::string_view text)
{
    for (Distribution const distribution : distributions) {
        if (text == name_of(distribution)) return distribution;
    }
    return std::nullopt;
}

double divisor(Distribution distribution)
{
    switch (distribution) {
    case Distribution::normal:
        return 1;
    case Distribution::rectangular:
        return std::numbers::sqrt3;
    case Distribution::triangular:
        return std::numbers::sqrt2 * std::numbers::sqrt3;
    case Distribution::u_shaped:
        return std::numbers::sqrt2;
    }
    return 1;
}

double effective_freedom(std::span<UncertainInput const> inputs)
{
    double variance = 0;
    double spread = 0;
    for (UncertainInput const& input : inputs) {
        double const part = input.sensitivity * input.u * input.sensitivity * input.u;
        variance += part;
        if (std::isfinite(input.freedom)) spread += part * part / input.freedom;
    }
    return spread > 0 ? variance * variance / spread : infinite_freedom;
}

double coverage_factor(double probability, double freedom, bool truncate)
{
    double const upper = (1 + probability) / 2;
    // Beyond this the two quantiles agree to more digits than anything here is known to.
    if (!(freedom < 1e7)) return boost::math::quantile(boost::math::normal{}, upper);
    double const degrees = truncate ? std::max(1.0, std::floor(freedom)) : freedom;
    return boost::math::quantile(boost::math::students_t{degrees}, upper);
}

double Contribution::u(double loss_db) const
{
    double const half = per_loss ? std::max(least, each * std::abs(loss_db)) : each;
    return half * std::sqrt(count) / divisor(distribution);
}

UncertaintyModel UncertaintyModel::constant(double u)
{
    UncertaintyModel model;
    model.own_ = u * u;
    return model;
}

double UncertaintyModel::u_of_mean(double first_db, double second_db) const
{
    double const common = (common_variance(first_db) + common_variance(second_db)) / 2;
    double const own = (own_variance(first_db) + own_variance(second_db)) / 4;
    return std::sqrt(common + own);
}

Budget::Sum Budget::at(double loss_db, double probability) const
{
    Sum sum;
    std::vector<UncertainInput> inputs;
    double common = 0;
    double own = 0;
    for (Contribution const& line : contributions) {
        double const u = line.u(loss_db);
        (line.common ? common : own) += u * u;
        inputs.push_back(UncertainInput{u, 1, line.freedom});
    }
    sum.common = std::sqrt(common);
    sum.own = std::sqrt(own);
    sum.u = std::sqrt(common + own);
    sum.freedom = effective_freedom(inputs);
    sum.k = coverage_factor(probability, sum.freedom);
    sum.expanded = sum.k * sum.u;
    return sum;
}

UncertaintyModel Budget::model() const
{
    UncertaintyModel model;
    for (Contribution const& line : contributions) {
        double const d = divisor(line.distribution);
        if (line.per_loss && model.terms_ < model.loss_terms_.size()) {
            model.loss_terms_[model.terms_++] = {line.each, line.least, line.count / (d * d), line.common};
        } else {
            double const u = line.u(0);
            (line.common ? model.common_ : model.own_) += u * u;
        }
    }
    return model;
}

Result<Budget> budget_for(BudgetQuestion const& question)
{
    if (!question.tables) return Error{Errc::internal, "A budget was asked for without tables."};
    TRY(check_edits(question));
    Budget budget;
    std::size_t per_loss = 0;
    for (facts::UncertaintyContribution const& row : question.tables->uncertainty) {
        facts::Fact const* const fact = value_for(row.value, question);
        auto const distribution = parse_distribution(row.distribution);
        if (!fact || !distribution || !applies(row, question.method)) continue;
        Contribution line;
        line.id = row.id;
        line.name = row.name;
        line.distribution = *distribution;
        line.each = fact->value;
        // A half-width of a normal contribution is taken as two standard deviations (95 %).
        if (*distribution == Distribution::normal && row.half_width_or_sd == "half-width") line.each /= 2;
        line.per_loss = row.per == "loss";
        per_loss += line.per_loss ? 1 : 0;
        if (facts::Fact const* const least = value_for(row.least, question)) line.least = least->value;
        line.count = row.per == "end"               ? question.ends
                     : row.per == "reference-joint" ? setup::joints_in_reference(question.method)
                                                    : 1;
        if (row.degrees_of_freedom > 0) line.freedom = row.degrees_of_freedom;
        line.common = row.common;
        line.source = fact->source;
        line.basis = fact->basis;
        line.note = fact->note;
        for (UncertaintyEdit const& edit : question.edits) {
            if (edit.id != row.id) continue;
            line.each = edit.value;
            line.edited = true;
            line.basis = facts::Basis::derived;
            line.source = facts::Source{"this job", "its own value", ""};
        }
        if (line.count == 0) continue;
        budget.rests_on_memory |= line.basis == facts::Basis::memory && line.each > 0;
        budget.contributions.push_back(std::move(line));
    }
    if (per_loss > 4) {
        return Error{
            Errc::invalid_input,
            fmt::format("{} uncertainty contributions are fractions of the loss; this program takes 4.",
                        per_loss)};
    }
    return budget;
}

} // namespace guidepin::verdict

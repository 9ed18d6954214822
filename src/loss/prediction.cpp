// SPDX-License-Identifier: Apache-2.0
#include "loss/prediction.hpp"

#include "loss/random.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/non_central_t.hpp>

namespace guidepin::loss {

namespace {

std::vector<Term> terms_of(std::span<Joints const> joints)
{
    std::vector<Term> terms;
    terms.reserve(joints.size());
    for (auto const& joint : joints) terms.push_back(Term{joint.loss, joint.count, joint.in_reference});
    return terms;
}

// Adds what is not known of the fibre to a sum of joints; mean and third cumulant stay.
ShiftedGamma widened(ShiftedGamma const& sum, double sd)
{
    if (sd <= 0) return sum;
    double const third = 2 * sum.shape * sum.scale * sum.scale * sum.scale;
    return shifted_gamma_of_cumulants(sum.mean(), sum.variance() + sd * sd, third);
}

} // namespace

Result<Gamma> gamma_of(facts::ConnectionGrade const& grade)
{
    auto found = gamma_of_grade(Decibel{grade.mean.value}, Decibel{grade.p97.value});
    if (!found) return found.error().within("Grade " + grade.id);
    return found;
}

Decibel Prediction::quantile(double p) const
{
    if (grid_) return Decibel{fibre_ + grid_->quantile(p)};
    if (!draws_.empty()) {
        double const place = p * static_cast<double>(draws_.size()) - 0.5;
        auto const last = static_cast<double>(draws_.size() - 1);
        double const low = std::floor(std::clamp(place, 0.0, last));
        auto const i = static_cast<std::size_t>(low);
        std::size_t const j = std::min(i + 1, draws_.size() - 1);
        return Decibel{fibre_ + draws_[i] + (draws_[j] - draws_[i]) * std::clamp(place - low, 0.0, 1.0)};
    }
    return Decibel{shape_.quantile(p)};
}

double Prediction::exceedance(Decibel limit) const
{
    if (grid_) return grid_->survival(limit.value() - fibre_);
    if (!draws_.empty()) {
        auto const above =
            draws_.end() - std::upper_bound(draws_.begin(), draws_.end(), limit.value() - fibre_);
        return static_cast<double>(above) / static_cast<double>(draws_.size());
    }
    return shape_.survival(limit.value());
}

Probability Prediction::chance_within(Decibel limit) const
{
    return Probability::clamped(1 - exceedance(limit));
}

Probability Prediction::chance_all_within(Decibel limit) const
{
    return Probability::clamped(std::exp(fibres_ * std::log1p(-exceedance(limit))));
}

Decibel Prediction::quantile_of_worst(double p) const
{
    return quantile(per_fibre_yield(fibres_, p));
}

ShiftedGamma const& Predictor::joints(std::span<Joints const> joints)
{
    key_.parts.clear();
    for (auto const& joint : joints) {
        assert(joint.count >= 0);
        if (joint.count > 0)
            key_.parts.push_back({joint.loss.shape, joint.loss.scale, static_cast<double>(joint.count),
                                  joint.in_reference ? 1.0 : 0.0});
    }
    if (auto const found = sums_.find(key_); found != sums_.end()) return found->second;
    return sums_.emplace(key_, sum_of(terms_of(joints))).first->second;
}

Prediction Predictor::predict(LinkConfiguration const& link, PredictionOptions const& options)
{
    assert(link.fibres >= 1);
    Prediction prediction;
    prediction.fibres_ = link.fibres;
    prediction.fibre_ = (link.attenuation * link.length).value();
    double const fibre_sd = std::abs(prediction.fibre_) * link.attenuation_relative_u;
    ShiftedGamma const& sum = joints(link.joints);
    prediction.shape_ = widened(sum, fibre_sd);
    prediction.shape_.shift += prediction.fibre_;
    prediction.mean_ = prediction.shape_.mean();
    prediction.sd_ = prediction.shape_.sd();
    switch (options.route) {
    case Route::automatic:
        prediction.route_ =
            fibre_sd <= 0 && closes(terms_of(link.joints)) ? "closed form" : "matched moments";
        break;
    case Route::convolution: {
        GridDensity grid = convolution_of(terms_of(link.joints));
        if (fibre_sd > 0) grid = grid.convolved(GridDensity::normal(fibre_sd, grid.step()));
        prediction.mean_ = prediction.fibre_ + grid.mean();
        prediction.sd_ = std::sqrt(grid.variance());
        prediction.grid_ = std::move(grid);
        prediction.route_ = "convolution";
        break;
    }
    case Route::simulation: {
        auto draws = simulated_sums(terms_of(link.joints), options.draws, options.seed);
        if (fibre_sd > 0) {
            Random random{options.seed + 1};
            for (double& draw : draws) draw += fibre_sd * random.normal();
            std::sort(draws.begin(), draws.end());
        }
        double total = 0;
        for (double const draw : draws) total += draw;
        double const mean = total / static_cast<double>(draws.size());
        double squares = 0;
        for (double const draw : draws) squares += (draw - mean) * (draw - mean);
        prediction.mean_ = prediction.fibre_ + mean;
        prediction.sd_ = std::sqrt(squares / static_cast<double>(draws.size() - 1));
        prediction.draws_ = std::move(draws);
        prediction.route_ = "simulation";
        break;
    }
    }
    return prediction;
}

Prediction predict(LinkConfiguration const& link, PredictionOptions const& options)
{
    Predictor predictor;
    return predictor.predict(link, options);
}

double per_fibre_yield(int fibres, double yield)
{
    assert(fibres >= 1 && yield > 0 && yield < 1);
    return std::pow(yield, 1.0 / fibres);
}

} // namespace guidepin::loss

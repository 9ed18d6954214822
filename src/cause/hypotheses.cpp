// SPDX-License-Identifier: Apache-2.0
// One link by itself: each hypothesis says what every fibre shows in the mean over wavelengths, in the step
// between them and in the turn between directions; sizes are integrated out over their usual range, so that
// an explanation with more freedom has to explain more. The best is taken off, and what is left is looked at
// again.
#include "cause/inside.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace guidepin::cause {

namespace {

constexpr double slope_sd = 0.06; // of the step that a joint's loss of 1 dB brings, between joints
constexpr std::size_t sizes = 14; // of a fault that are tried, even on a logarithmic scale

/// A shifted gamma of mean 0, ready for many densities.
class Density
{
  public:
    Density(double variance, double third)
    {
        double const sd = std::sqrt(variance);
        double const skewness = third / (variance * sd);
        normal_ = skewness < 0.05;
        variance_ = variance;
        if (normal_) {
            constant_ = -0.5 * std::log(2 * 3.14159265358979 * variance);
            return;
        }
        shape_ = 4 / (skewness * skewness);
        scale_ = sd * skewness / 2;
        shift_ = -shape_ * scale_;
        constant_ = -std::lgamma(shape_) - std::log(scale_);
    }
    double log(double x) const
    {
        if (normal_) return constant_ - 0.5 * x * x / variance_;
        double const g = (x - shift_) / scale_;
        // Left of where the gamma begins lies the reading's own error: a steep normal edge.
        double const least = 0.05 * shape_;
        if (g < least) {
            double const below = (x - (shift_ + least * scale_)) / (0.35 * std::sqrt(variance_));
            return constant_ + (shape_ - 1) * std::log(least) - least - 0.5 * below * below;
        }
        return constant_ + (shape_ - 1) * std::log(g) - g;
    }

  private:
    bool normal_ = false;
    double variance_ = 1, shape_ = 1, scale_ = 1, shift_ = 0, constant_ = 0;
};

/// What a hypothesis adds, by position: mean and variance of base, step, turn.
struct Profile
{
    std::vector<double> base, step, turn;
    std::vector<double> base_var, step_var, turn_var;
    explicit Profile(std::size_t n)
        : base(n, 0)
        , step(n, 0)
        , turn(n, 0)
        , base_var(n, 0)
        , step_var(n, 0)
        , turn_var(n, 0)
    {
    }
};

struct View
{
    std::vector<double> base, step, turn;             // residuals, NaN at holes
    std::vector<double> base_var, step_var, turn_var; // of what was already explained
    Population const* population = nullptr;
    LinkKind const* kind = nullptr;
    bool has_step = false, has_turn = false;
    std::vector<int> lit; // positions, from 1
};

double log_likelihood(View const& view, Profile const& profile)
{
    Population const& p = *view.population;
    // The whole link's own offset, on a grid of five.
    static constexpr double nodes[5] = {-2.0, -1.0, 0.0, 1.0, 2.0};
    static constexpr double weights[5] = {-2.911, -1.411, -0.911, -1.411, -2.911}; // log of normal weights
    double const natural = p.fibre_sd * p.fibre_sd;
    double const third = p.skewness * natural * p.fibre_sd;
    Density const plain{natural, third};
    double logs[5] = {weights[0], weights[1], weights[2], weights[3], weights[4]};
    double last_var = -1;
    Density wide = plain;
    for (int const position : view.lit) {
        auto const i = static_cast<std::size_t>(position - 1);
        double const extra = profile.base_var[i] + view.base_var[i];
        Density const* density = &plain;
        if (extra > 0) {
            if (extra != last_var) {
                wide = Density{natural + extra, third};
                last_var = extra;
            }
            density = &wide;
        }
        double const x = view.base[i] - profile.base[i] - p.fibre_mean;
        for (int node = 0; node < 5; ++node) logs[node] += density->log(x - nodes[node] * p.link_sd);
    }
    double total = log_sum(logs);
    // Steps and turns: normal, with a part that all fibres of the link share (closed form).
    auto const shared = [&](std::vector<double> const& value, std::vector<double> const& mean,
                            std::vector<double> const& var, std::vector<double> const& known_var,
                            double own_sd, double common_sd, double slope) {
        double precision = 0;
        double weighted = 0;
        double sum = 0;
        for (int const position : view.lit) {
            auto const i = static_cast<std::size_t>(position - 1);
            if (!std::isfinite(value[i])) continue;
            double natural_part = 0;
            double slope_part = 0;
            if (slope != 0) {
                // A fibre's own joints step with their loss; how much of it is the fault's is not known
                // better than its variance says.
                double const extra = profile.base_var[i] + view.base_var[i];
                double const share = natural / (natural + extra);
                natural_part = slope * share * (view.base[i] - profile.base[i]);
                // Offset, tilt and mode-field mismatch step differently: the slope itself scatters.
                slope_part = slope_sd * share * (view.base[i] - profile.base[i]);
            }
            double const v = own_sd * own_sd + var[i] + known_var[i] + slope_part * slope_part;
            double const x = value[i] - mean[i] - natural_part;
            sum += log_normal(x, v);
            precision += 1 / v;
            weighted += x / v;
        }
        if (precision <= 0) return 0.0;
        double const c = common_sd * common_sd;
        return sum + 0.5 * weighted * weighted * c / (1 + c * precision) - 0.5 * std::log1p(c * precision);
    };
    if (view.has_step)
        total += shared(view.step, profile.step, profile.step_var, view.step_var, p.step_sd, p.step_link_sd,
                        p.step_slope);
    if (view.has_turn)
        total +=
            shared(view.turn, profile.turn, profile.turn_var, view.turn_var, p.turn_sd, p.turn_link_sd, 0);
    return total;
}

double size_at(std::size_t i, double low, double high)
{
    return low * std::pow(high / low, static_cast<double>(i) / static_cast<double>(sizes - 1));
}

struct Scored
{
    Cause cause = Cause::unexplained;
    double log_weight = -1e300; // prior times likelihood, over no fault at all
    double log_best = -1e300;
    double size = 0; // at the best
    double size_mean = 0, size_sd = 0;
    std::vector<int> positions;
    Profile profile{0};
};

/// Integrates over the size.
template <class Make>
Scored integrate(View const& view, Cause cause, double prior, double low, double high, double null,
                 Make const& make)
{
    Scored out;
    out.cause = cause;
    double logs[sizes];
    double values[sizes];
    for (std::size_t i = 0; i < sizes; ++i) {
        values[i] = size_at(i, low, high);
        Profile profile = make(values[i]);
        logs[i] = log_likelihood(view, profile) - null;
        if (logs[i] > out.log_best) {
            out.log_best = logs[i];
            out.size = values[i];
            out.profile = std::move(profile);
        }
    }
    out.log_weight = log_sum(logs) - std::log(static_cast<double>(sizes)) + std::log(prior);
    double sum = 0;
    double mean = 0;
    double square = 0;
    for (std::size_t i = 0; i < sizes; ++i) {
        double const w = std::exp(logs[i] - out.log_best);
        sum += w;
        mean += w * values[i];
        square += w * values[i] * values[i];
    }
    out.size_mean = mean / sum;
    out.size_sd = std::sqrt(std::max(0.0, square / sum - out.size_mean * out.size_mean));
    return out;
}

class Hypotheses
{
  public:
    Hypotheses(View const& view, Priors const& priors)
        : view_(view)
        , priors_(priors)
        , n_(view.base.size())
        , null_(log_likelihood(view, Profile(n_)))
    {
    }

    std::vector<Scored> all() const
    {
        std::vector<Scored> scored;
        single(scored);
        LinkKind const& kind = *view_.kind;
        whole(scored, Cause::extra_connection, rate(Cause::extra_connection), 0.1, 0.75, 0.48, 0);
        whole(scored, Cause::unpinned_joint, rate(Cause::unpinned_joint), 0.8, 8, 0.5, 0);
        if (kind.angled) whole(scored, Cause::face_mismatch, rate(Cause::face_mismatch), 2, 14, 0.07, 0);
        if (kind.multimode) core_size(scored);
        bend(scored);
        misaligned(scored);
        unexplained(scored);
        return scored;
    }

  private:
    double rate(Cause cause) const { return priors_.rate[static_cast<std::size_t>(cause)]; }
    double ratio() const { return view_.kind->multimode ? 0.96 : 0.87; }
    double ratio_sd() const { return view_.kind->multimode ? 0.09 : 0.15; }

    /// Loss `a` at position i in the mean over wavelengths, `r` the last wavelength to the first.
    static void put(Profile& profile, std::size_t i, double a, double r, double relative_sd, double r_sd)
    {
        profile.base[i] += a;
        profile.base_var[i] += relative_sd * relative_sd * a * a;
        double const per = a * 2 / (1 + r); // at the first wavelength
        profile.step[i] += per * (r - 1);
        profile.step_var[i] += per * per * (r_sd * r_sd + (r - 1) * (r - 1) * relative_sd * relative_sd);
    }

    void single(std::vector<Scored>& scored) const
    {
        std::vector<int> order = view_.lit;
        std::sort(order.begin(), order.end(), [&](int a, int b) {
            return view_.base[static_cast<std::size_t>(a - 1)] > view_.base[static_cast<std::size_t>(b - 1)];
        });
        // The others are worse by construction; their share of the weight is lost, which is to the safe side.
        std::size_t const tried = std::min<std::size_t>(2, order.size());
        double const prior = rate(Cause::dirty_end_face) / static_cast<double>(view_.lit.size());
        for (std::size_t k = 0; k < tried; ++k) {
            auto const i = static_cast<std::size_t>(order[k] - 1);
            Scored one = integrate(view_, Cause::dirty_end_face, prior, 0.1, 12, null_, [&](double a) {
                Profile profile(n_);
                put(profile, i, a, ratio(), 0.06, ratio_sd());
                // One end: the other direction sees it a little less, or the same.
                profile.turn_var[i] = 0.02 * a * a;
                return profile;
            });
            one.positions = {order[k]};
            scored.push_back(std::move(one));
        }
        // Two or three at once: neighbours under one particle, or several bad faces. Seen one by one, each
        // would leave the others for a pattern of the whole row to explain.
        for (std::size_t count = 2; count <= 3 && order.size() > count + 1; ++count) {
            std::vector<int> positions(order.begin(), order.begin() + static_cast<std::ptrdiff_t>(count));
            std::sort(positions.begin(), positions.end());
            bool const together = positions.back() - positions.front() == static_cast<int>(count) - 1;
            double const several = together ? prior * std::pow(0.25, static_cast<double>(count) - 1)
                                            : prior * std::pow(0.05 * static_cast<double>(count) /
                                                                   static_cast<double>(view_.lit.size()),
                                                               static_cast<double>(count) - 1);
            Scored more = integrate(view_, Cause::dirty_end_face, several, 0.1, 12, null_, [&](double a) {
                Profile profile(n_);
                for (int const position : positions) {
                    auto const i = static_cast<std::size_t>(position - 1);
                    put(profile, i, position == order[0] ? a : 0.75 * a, ratio(),
                        position == order[0] ? 0.06 : 0.4, ratio_sd());
                    profile.turn_var[i] = 0.02 * a * a;
                }
                return profile;
            });
            more.positions = std::move(positions);
            scored.push_back(std::move(more));
        }
    }

    void whole(std::vector<Scored>& scored, Cause cause, double prior, double low, double high,
               double scatter, double turn) const
    {
        scored.push_back(integrate(view_, cause, prior, low, high, null_, [&](double a) {
            Profile profile(n_);
            for (int const position : view_.lit) {
                auto const i = static_cast<std::size_t>(position - 1);
                put(profile, i, a, cause == Cause::face_mismatch ? 0.92 : ratio(), scatter, 0.05);
                profile.turn[i] = turn * a;
            }
            return profile;
        }));
    }

    void core_size(std::vector<Scored>& scored) const
    {
        double const prior = rate(Cause::core_size_mismatch);
        if (!view_.has_turn) {
            whole(scored, Cause::core_size_mismatch, prior, 0.8, 6, 0.07, 0);
            return;
        }
        for (double const sign : {1.0, -1.0}) {
            scored.push_back(
                integrate(view_, Cause::core_size_mismatch, prior / 2, 0.4, 3, null_, [&](double a) {
                    Profile profile(n_);
                    for (int const position : view_.lit) {
                        auto const i = static_cast<std::size_t>(position - 1);
                        put(profile, i, a, 0.98, 0.07, 0.04);
                        profile.turn[i] = 2 * sign * a; // one direction has all of it
                        profile.turn_var[i] = 0.02 * a * a;
                    }
                    return profile;
                }));
        }
    }

    void bend(std::vector<Scored>& scored) const
    {
        bool const multimode = view_.kind->multimode;
        double const prior = multimode ? priors_.macrobend_multimode : rate(Cause::macrobend);
        std::vector<int> const& lit = view_.lit;
        // The whole cable, or one fibre of it. The ratio between 1550 and 1310 nm is 25 and more.
        double const r = multimode ? 1.0 : 50.0;
        double const share_of_mean = multimode || !view_.has_step ? 1 : 0.5;
        scored.push_back(integrate(view_, Cause::macrobend, prior, 0.12, 8, null_, [&](double at_last) {
            Profile profile(n_);
            for (int const position : lit)
                put(profile, static_cast<std::size_t>(position - 1),
                    at_last * share_of_mean * (1 + 1 / r) / (multimode ? 2 : 1), r, 0.15,
                    multimode ? 0.05 : 0);
            return profile;
        }));
        if (multimode || !view_.has_step) return;
        int const worst = *std::max_element(lit.begin(), lit.end(), [&](int a, int b) {
            return view_.step[static_cast<std::size_t>(a - 1)] < view_.step[static_cast<std::size_t>(b - 1)];
        });
        Scored one = integrate(view_, Cause::macrobend, 0.2 * prior / static_cast<double>(lit.size()), 0.12,
                               8, null_, [&](double at_last) {
                                   Profile profile(n_);
                                   put(profile, static_cast<std::size_t>(worst - 1),
                                       at_last * 0.5 * (1 + 1 / r), r, 0.1, 0);
                                   return profile;
                               });
        one.positions = {worst};
        scored.push_back(std::move(one));
    }

    void misaligned(std::vector<Scored>& scored) const
    {
        // Rotation about a place along the row: loss with the square of the arm (Marcuse), in multimode
        // fibre under encircled flux nearly with its power of 1.4.
        static constexpr double pivots[9] = {-1.1, -0.9, -0.7, -0.25, 0, 0.25, 0.7, 0.9, 1.1};
        int const columns = view_.kind->family.columns;
        double const prior = rate(Cause::misaligned_ferrule) / 9;
        double const power = view_.kind->multimode ? 1.4 : 2;
        std::vector<Scored> forms;
        for (double const pivot : pivots) {
            std::vector<double> shape(n_, 0);
            double most = 0;
            for (int const position : view_.lit) {
                int const column = (position - 1) % columns;
                double const x = (2.0 * column - (columns - 1)) / (columns - 1);
                auto const i = static_cast<std::size_t>(position - 1);
                shape[i] = std::pow(std::abs(x - pivot), power);
                most = std::max(most, shape[i]);
            }
            forms.push_back(integrate(view_, Cause::misaligned_ferrule, prior, 0.15, 8, null_, [&](double a) {
                Profile profile(n_);
                for (int const position : view_.lit) {
                    auto const i = static_cast<std::size_t>(position - 1);
                    put(profile, i, a * shape[i] / most, ratio(), 0.12, 0.05);
                    profile.base_var[i] += 0.0009 * a * a; // the pivot lies between two that are tried
                }
                return profile;
            }));
        }
        // One hypothesis: the sum of its forms, with the profile of the best.
        std::vector<double> logs;
        std::size_t best = 0;
        for (std::size_t i = 0; i < forms.size(); ++i) {
            logs.push_back(forms[i].log_weight);
            if (forms[i].log_weight > forms[best].log_weight) best = i;
        }
        Scored sum = std::move(forms[best]);
        sum.log_weight = log_sum(logs);
        scored.push_back(std::move(sum));
    }

    void unexplained(std::vector<Scored>& scored) const
    {
        scored.push_back(
            integrate(view_, Cause::unexplained, rate(Cause::unexplained), 0.2, 4, null_, [&](double a) {
                Profile profile(n_);
                for (int const position : view_.lit) {
                    auto const i = static_cast<std::size_t>(position - 1);
                    profile.base_var[i] = a * a;
                    profile.step_var[i] = a * a;
                    profile.turn_var[i] = a * a;
                }
                return profile;
            }));
    }

    View const& view_;
    Priors const& priors_;
    std::size_t n_;
    double null_;
};

/// Nothing here is far from what healthy links show.
bool quiet(View const& view)
{
    Population const& p = *view.population;
    double highest = -1e9;
    double lowest = 1e9;
    double sum = 0;
    double slope = 0;
    double slope_scale = 0;
    double bow = 0;
    double bow_scale = 0;
    double step_sum = 0;
    double step_most = 0;
    double step_n = 0;
    double turn_sum = 0;
    double turn_n = 0;
    double const middle = (static_cast<double>(view.base.size()) + 1) / 2;
    double const third = middle * middle / 3;
    for (int const position : view.lit) {
        auto const i = static_cast<std::size_t>(position - 1);
        double const x = view.base[i] - p.fibre_mean;
        double const arm = position - middle;
        highest = std::max(highest, x);
        lowest = std::min(lowest, x);
        sum += x;
        slope += arm * x;
        slope_scale += arm * arm;
        double const curve = arm * arm - third;
        bow += curve * x;
        bow_scale += curve * curve;
        if (view.has_step && std::isfinite(view.step[i])) {
            double const s = view.step[i] - p.step_slope * view.base[i];
            step_sum += s;
            step_most = std::max(step_most, s);
            step_n += 1;
        }
        if (view.has_turn && std::isfinite(view.turn[i])) {
            turn_sum += view.turn[i];
            turn_n += 1;
        }
    }
    auto const n = static_cast<double>(view.lit.size());
    double const mean = sum / n;
    double const mean_sd = std::sqrt(p.link_sd * p.link_sd + p.fibre_sd * p.fibre_sd / n);
    if (highest > 3.2 * p.fibre_sd || lowest < -3.6 * p.fibre_sd) return false;
    if (std::abs(mean) > 2.8 * mean_sd) return false;
    if (std::abs(slope) > 3 * p.fibre_sd * std::sqrt(slope_scale)) return false;
    if (std::abs(bow) > 3 * p.fibre_sd * std::sqrt(bow_scale)) return false;
    if (step_n > 0) {
        double const sd = std::sqrt(p.step_link_sd * p.step_link_sd + p.step_sd * p.step_sd / step_n);
        if (std::abs(step_sum / step_n) > 3 * sd || step_most > 4 * p.step_sd) return false;
    }
    if (turn_n > 0) {
        double const sd = std::sqrt(p.turn_link_sd * p.turn_link_sd + p.turn_sd * p.turn_sd / turn_n);
        if (std::abs(turn_sum / turn_n) > 4 * sd) return false;
    }
    return true;
}

} // namespace

static View view_of(Explainer::Site const& site, std::size_t link)
{
    LinkRow const& row = site.columns->links[link];
    View view;
    site.residuals(link, view.base, view.step, view.turn);
    view.base_var.assign(view.base.size(), 0);
    view.step_var = view.turn_var = view.base_var;
    view.population = &site.populations[row.kind];
    view.kind = &site.columns->kinds[row.kind];
    view.has_step = site.condensed[link].has_step;
    view.has_turn = site.condensed[link].has_turn;
    for (int p = 1; p <= row.positions; ++p) {
        if (std::isfinite(view.base[static_cast<std::size_t>(p - 1)])) view.lit.push_back(p);
    }
    return view;
}

double Explainer::Site::natural_log_density(std::size_t link) const
{
    View const view = view_of(*this, link);
    Profile profile(view.base.size());
    double const sound = log_likelihood(view, profile);
    for (std::size_t i = 0; i < view.base.size(); ++i)
        profile.base_var[i] = profile.step_var[i] = profile.turn_var[i] = 0.25;
    double const both[2] = {sound, log_likelihood(view, profile) - 5};
    return log_sum(both);
}

void Explainer::Site::explain_link(std::size_t link)
{
    found[link].clear();
    LinkRow const& row = columns->links[link];
    if (row.kind == none || !condensed[link].usable) return;
    LinkKind const& kind = columns->kinds[row.kind];
    View view = view_of(*this, link);
    if (view.lit.size() < 2) return;
    for (int round = 0; round < 6 && !quiet(view); ++round) {
        std::vector<Scored> scored = Hypotheses(view, *priors).all();
        std::array<double, cause_count> weight;
        weight.fill(-1e300);
        Scored* best = &scored.front();
        for (Scored& one : scored) {
            double const here[2] = {weight[static_cast<std::size_t>(one.cause)], one.log_weight};
            weight[static_cast<std::size_t>(one.cause)] = log_sum(here);
            if (one.log_weight > best->log_weight) best = &one;
        }
        for (Scored& one : scored) { // best of the best cause, taken together
            if (weight[static_cast<std::size_t>(one.cause)] > weight[static_cast<std::size_t>(best->cause)])
                best = &one;
        }
        for (Scored& one : scored) {
            if (one.cause == best->cause && one.log_weight > best->log_weight) best = &one;
        }
        std::vector<double> logs{0.0};
        for (double const w : weight) logs.push_back(w);
        double const all = log_sum(logs);
        double const own = weight[static_cast<std::size_t>(best->cause)];
        // Odds of this cause against no fault and every other cause together.
        std::vector<double> rest{0.0};
        for (std::size_t c = 0; c < cause_count; ++c) {
            if (c != static_cast<std::size_t>(best->cause)) rest.push_back(weight[c]);
        }
        double const fault_odds = all - 0.0;
        if (own <= 0 || fault_odds <= 0) break;
        LinkFinding finding;
        finding.cause = best->cause;
        finding.positions = best->positions;
        finding.size = best->size_mean;
        finding.u =
            std::max(best->size_sd,
                     view.population->fibre_sd /
                         std::sqrt(best->positions.empty() ? static_cast<double>(view.lit.size()) : 1.0));
        finding.probability = sharpened(own - log_sum(rest));
        for (std::size_t c = 0; c < cause_count; ++c) {
            double const share = std::exp(weight[c] - all);
            if (c != static_cast<std::size_t>(best->cause) && share > 0.01)
                finding.alternatives.push_back({static_cast<Cause>(c), share});
        }
        std::sort(finding.alternatives.begin(), finding.alternatives.end(),
                  [](Alternative const& a, Alternative const& b) { return a.probability > b.probability; });
        // For the words.
        double steps = 0;
        double bases = 0;
        double turns = 0;
        double n = 0;
        for (int const position : view.lit) {
            auto const i = static_cast<std::size_t>(position - 1);
            bool const in =
                best->positions.empty() ||
                std::find(best->positions.begin(), best->positions.end(), position) != best->positions.end();
            if (!in) continue;
            bases += view.base[i];
            if (view.has_step && std::isfinite(view.step[i])) steps += view.step[i];
            if (view.has_turn && std::isfinite(view.turn[i])) turns += view.turn[i];
            n += 1;
        }
        if (view.has_step && n > 0) {
            double const first = (bases - 0.5 * steps) / n;
            double const last = (bases + 0.5 * steps) / n;
            finding.ratio_known = true;
            finding.ratio = first > 0.02 ? last / first : 99;
            if (finding.cause == Cause::macrobend && !kind.multimode) finding.size = last;
        }
        if (view.has_turn && n > 0) {
            finding.turn_known = true;
            finding.turn = turns / n;
        }
        for (std::size_t w = 0; w < kind.wavelengths; ++w) {
            bool const bent = finding.cause == Cause::macrobend && !kind.multimode;
            if (!bent || kind.wavelength_nm[w] >= 1500) finding.wavelengths.push_back(w);
        }
        if (!best->positions.empty() || finding.cause != Cause::unexplained) {
            auto const first = static_cast<std::size_t>(view.lit.front() - 1);
            auto const last = static_cast<std::size_t>(view.lit.back() - 1);
            finding.slope = view.base[last] - view.base[first];
        }
        for (std::size_t i = 0; i < view.base.size(); ++i) {
            view.base[i] -= best->profile.base[i];
            view.step[i] -= best->profile.step[i];
            view.turn[i] -= best->profile.turn[i];
            view.base_var[i] += best->profile.base_var[i];
            view.step_var[i] += best->profile.step_var[i];
            view.turn_var[i] += best->profile.turn_var[i];
        }
        // Neighbours on one face are one particle, one finding.
        bool merged = false;
        if (finding.cause == Cause::dirty_end_face) {
            for (LinkFinding& before : found[link]) {
                if (before.cause != finding.cause) continue;
                for (int const other : before.positions) {
                    if (std::abs(other - finding.positions.front()) != 1) continue;
                    merged = true;
                }
                if (!merged) continue;
                before.positions.push_back(finding.positions.front());
                std::sort(before.positions.begin(), before.positions.end());
                before.size = std::max(before.size, finding.size);
                break;
            }
        }
        if (!merged) found[link].push_back(std::move(finding));
        if (best->cause == Cause::unexplained) break;
        // A position that was explained counts with the variance of its explanation; quiet() must not see it
        // again.
        if (!best->positions.empty()) {
            std::vector<int> left;
            for (int const position : view.lit) {
                if (std::find(best->positions.begin(), best->positions.end(), position) ==
                    best->positions.end())
                    left.push_back(position);
            }
            view.lit = left;
            if (view.lit.size() < 2) break;
        } else {
            // Once a whole row was explained, only single fibres beyond its scatter are looked for.
            bool beyond = false;
            for (int const position : view.lit) {
                auto const i = static_cast<std::size_t>(position - 1);
                double const sd =
                    std::sqrt(view.population->fibre_sd * view.population->fibre_sd + view.base_var[i]);
                beyond = beyond || view.base[i] > 4 * sd;
            }
            if (!beyond) break;
        }
    }
}

} // namespace guidepin::cause

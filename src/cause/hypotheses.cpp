// SPDX-License-Identifier: Apache-2.0
// Each hypothesis says what every fibre shows in the mean over wavelengths, in the step between them and in
// the turn between directions. Sizes are integrated out over their usual range, so that an explanation with
// more freedom has to explain more.
#include "cause/hypotheses.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace guidepin::cause {

namespace {

constexpr std::size_t sizes = 14; // of a fault that are tried, even on a logarithmic scale

/// A row of the catalogue: the usual sizes of a fault, and how it spreads over fibres and wavelengths.
struct Fault
{
    Cause cause;
    double low, high; ///< size in dB: mean over wavelengths and directions
    double scatter;   ///< relative, from fibre to fibre
    double ratio;     ///< loss at the last wavelength over loss at the first
    double ratio_sd;
};

// Last wavelength over first; docs/methods/causes.md says where they come from.
constexpr double joint_ratio_single_mode = 0.87;
constexpr double joint_ratio_multimode = 0.96;
// One face scatters more about it than a whole row.
constexpr double face_ratio_sd_single_mode = 0.15;
constexpr double face_ratio_sd_multimode = 0.09;
// 1550 nm over 1310 nm: 25 and more.
constexpr double bend_ratio_single_mode = 50;

/// The catalogue for one kind of fibre, as docs/methods/causes.md prints it.
struct Catalogue
{
    Fault dirty_face, second_face, extra_connection, unpinned, face_mismatch, core_size_one_way,
        core_size_both_ways, bent_cable, bent_fibre, misaligned, unexplained;
};

constexpr Catalogue catalogue_of(bool multimode)
{
    double const joint = multimode ? joint_ratio_multimode : joint_ratio_single_mode;
    double const face_sd = multimode ? face_ratio_sd_multimode : face_ratio_sd_single_mode;
    double const bend = multimode ? 1.0 : bend_ratio_single_mode;
    double const bend_sd = multimode ? 0.05 : 0;
    // clang-format off
    return {
        //                                               low   high  scatter ratio  its sd
        .dirty_face =          {Cause::dirty_end_face,     0.1,  12,   0.06, joint, face_sd},
        .second_face =         {Cause::dirty_end_face,     0.1,  12,   0.4,  joint, face_sd},
        .extra_connection =    {Cause::extra_connection,   0.1,  0.75, 0.48, joint, 0.05},
        .unpinned =            {Cause::unpinned_joint,     0.8,  8,    0.5,  joint, 0.05},
        .face_mismatch =       {Cause::face_mismatch,      2,    14,   0.07, 0.92,  0.05},
        .core_size_one_way =   {Cause::core_size_mismatch, 0.8,  6,    0.07, joint, 0.05},
        .core_size_both_ways = {Cause::core_size_mismatch, 0.4,  3,    0.07, 0.98,  0.04},
        .bent_cable =          {Cause::macrobend,          0.12, 8,    0.15, bend,  bend_sd},
        .bent_fibre =          {Cause::macrobend,          0.12, 8,    0.1,  bend,  bend_sd},
        .misaligned =          {Cause::misaligned_ferrule, 0.15, 8,    0.12, joint, 0.05},
        .unexplained =         {Cause::unexplained,        0.2,  4,    0,    1,     0},
    };
    // clang-format on
}

constexpr Catalogue single_mode_faults = catalogue_of(false);
constexpr Catalogue multimode_faults = catalogue_of(true);

// Two or three dirty faces, given one: neighbours lie under one particle as often as this, ...
constexpr double next_face_too = 0.25;
// ... any others as often as this, a fibre; and the further ones lose this share of the worst.
constexpr double other_face_too = 0.05;
constexpr double further_face_share = 0.75;
// Of bent links, those where a single fibre is bent.
constexpr double single_fibre_bent = 0.2;
// Variance of the turn of a dirty face or a core's step, in squares of its size: what one direction sees
// more.
constexpr double turn_variance = 0.02;
// The pivot of a turned ferrule lies between two that are tried: variance in squares of the size.
constexpr double pivot_variance = 0.0009;

/// Adds a loss at position i: `a` in the mean over wavelengths.
void add_loss(Profile& profile, std::size_t i, double a, Fault const& fault)
{
    double const r = fault.ratio;
    profile.base[i] += a;
    profile.base_var[i] += fault.scatter * fault.scatter * a * a;
    double const per = a * 2 / (1 + r); // at the first wavelength
    profile.step[i] += per * (r - 1);
    profile.step_var[i] +=
        per * per * (fault.ratio_sd * fault.ratio_sd + (r - 1) * (r - 1) * fault.scatter * fault.scatter);
}

double size_at(std::size_t i, double low, double high)
{
    return low * std::pow(high / low, static_cast<double>(i) / static_cast<double>(sizes - 1));
}

class Hypotheses
{
  public:
    Hypotheses(Residuals const& residuals, Priors const& priors)
        : residuals_(residuals)
        , priors_(priors)
        , faults_(residuals.kind->multimode ? multimode_faults : single_mode_faults)
        , n_(residuals.fibres())
        , no_fault_(log_likelihood(residuals, Profile(n_)))
    {
    }

    std::vector<Hypothesis> all() &&
    {
        dirty_faces();
        whole_row(faults_.extra_connection);
        whole_row(faults_.unpinned);
        if (residuals_.kind->angled) whole_row(faults_.face_mismatch);
        if (residuals_.kind->multimode) core_size();
        bends();
        misaligned_ferrule();
        unexplained();
        return std::move(weighed_);
    }

  private:
    double rate(Cause cause) const { return priors_.rate[static_cast<std::size_t>(cause)]; }

    /// Integrates over the size: `make(size)` returns the profile.
    template <class Make>
    Hypothesis integrated(Fault const& fault, double prior, Make const& make) const
    {
        Hypothesis out;
        out.cause = fault.cause;
        double logs[sizes];
        double values[sizes];
        for (std::size_t i = 0; i < sizes; ++i) {
            values[i] = size_at(i, fault.low, fault.high);
            Profile profile = make(values[i]);
            logs[i] = log_likelihood(residuals_, profile) - no_fault_;
            if (logs[i] > out.log_best) {
                out.log_best = logs[i];
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

    void dirty_faces()
    {
        std::vector<int> order = residuals_.lit; // worst first
        std::sort(order.begin(), order.end(), [&](int a, int b) {
            return residuals_.base[static_cast<std::size_t>(a - 1)] >
                   residuals_.base[static_cast<std::size_t>(b - 1)];
        });
        auto const lit = static_cast<double>(residuals_.lit.size());
        double const prior = rate(Cause::dirty_end_face) / lit;
        // The others are worse by construction; their share of the weight is lost, which is to the safe side.
        std::size_t const tried = std::min<std::size_t>(2, order.size());
        for (std::size_t k = 0; k < tried; ++k) dirty_together({order[k]}, order[k], prior);
        // Two or three at once: neighbours under one particle, or several bad faces. Seen one by one, each
        // would leave the others for a pattern of the whole row to explain.
        for (std::size_t count = 2; count <= 3 && order.size() > count + 1; ++count) {
            std::vector<int> positions(order.begin(), order.begin() + static_cast<std::ptrdiff_t>(count));
            std::sort(positions.begin(), positions.end());
            auto const further = static_cast<double>(count) - 1;
            bool const neighbours = positions.back() - positions.front() == static_cast<int>(count) - 1;
            double const each =
                neighbours ? next_face_too : other_face_too * static_cast<double>(count) / lit;
            dirty_together(std::move(positions), order[0], prior * std::pow(each, further));
        }
    }

    void dirty_together(std::vector<int> positions, int worst, double prior)
    {
        Hypothesis dirty = integrated(faults_.dirty_face, prior, [&](double a) {
            Profile profile(n_);
            for (int const position : positions) {
                auto const i = static_cast<std::size_t>(position - 1);
                if (position == worst)
                    add_loss(profile, i, a, faults_.dirty_face);
                else
                    add_loss(profile, i, further_face_share * a, faults_.second_face);
                // One end: the other direction sees it a little less, or the same.
                profile.turn_var[i] = turn_variance * a * a;
            }
            return profile;
        });
        dirty.positions = std::move(positions);
        weighed_.push_back(std::move(dirty));
    }

    void whole_row(Fault const& fault)
    {
        weighed_.push_back(integrated(fault, rate(fault.cause), [&](double a) {
            Profile profile(n_);
            for (int const position : residuals_.lit)
                add_loss(profile, static_cast<std::size_t>(position - 1), a, fault);
            return profile;
        }));
    }

    void core_size()
    {
        if (!residuals_.has_turn) {
            whole_row(faults_.core_size_one_way);
            return;
        }
        double const prior = rate(Cause::core_size_mismatch);
        for (double const sign : {1.0, -1.0}) {
            weighed_.push_back(integrated(faults_.core_size_both_ways, prior / 2, [&](double a) {
                Profile profile(n_);
                for (int const position : residuals_.lit) {
                    auto const i = static_cast<std::size_t>(position - 1);
                    add_loss(profile, i, a, faults_.core_size_both_ways);
                    profile.turn[i] = 2 * sign * a; // one direction has all of it
                    profile.turn_var[i] = turn_variance * a * a;
                }
                return profile;
            }));
        }
    }

    /// The whole cable, or one fibre of it. The size is the loss at the last wavelength.
    void bends()
    {
        bool const multimode = residuals_.kind->multimode;
        double const prior = multimode ? priors_.macrobend_multimode : rate(Cause::macrobend);
        std::vector<int> const& lit = residuals_.lit;
        double const r = faults_.bent_cable.ratio;
        double const share_of_mean = multimode || !residuals_.has_step ? 1 : 0.5;
        weighed_.push_back(integrated(faults_.bent_cable, prior, [&](double at_last) {
            Profile profile(n_);
            for (int const position : lit)
                add_loss(profile, static_cast<std::size_t>(position - 1),
                         at_last * share_of_mean * (1 + 1 / r) / (multimode ? 2 : 1), faults_.bent_cable);
            return profile;
        }));
        if (multimode || !residuals_.has_step) return;
        int const worst = *std::max_element(lit.begin(), lit.end(), [&](int a, int b) {
            return residuals_.step[static_cast<std::size_t>(a - 1)] <
                   residuals_.step[static_cast<std::size_t>(b - 1)];
        });
        double const prior_of_one = single_fibre_bent * prior / static_cast<double>(lit.size());
        Hypothesis one = integrated(faults_.bent_fibre, prior_of_one, [&](double at_last) {
            Profile profile(n_);
            add_loss(profile, static_cast<std::size_t>(worst - 1), at_last * 0.5 * (1 + 1 / r),
                     faults_.bent_fibre);
            return profile;
        });
        one.positions = {worst};
        weighed_.push_back(std::move(one));
    }

    /// Returns how the loss spreads over the fibres, in any unit, when a ferrule turns about `pivot` (the row
    /// reaches from -1 to 1): it grows with the square of the arm (Marcuse), in multimode fibre under
    /// encircled flux nearly with its power of 1.4.
    std::vector<double> turned_about(double pivot) const
    {
        int const columns = residuals_.kind->family.columns;
        double const power = residuals_.kind->multimode ? 1.4 : 2;
        std::vector<double> shape(n_, 0);
        for (int const position : residuals_.lit) {
            int const column = (position - 1) % columns;
            double const x = (2.0 * column - (columns - 1)) / (columns - 1);
            shape[static_cast<std::size_t>(position - 1)] = std::pow(std::abs(x - pivot), power);
        }
        return shape;
    }

    void misaligned_ferrule()
    {
        static constexpr double pivots[9] = {-1.1, -0.9, -0.7, -0.25, 0, 0.25, 0.7, 0.9, 1.1};
        double const prior = rate(Cause::misaligned_ferrule) / 9;
        std::vector<Hypothesis> forms;
        for (double const pivot : pivots) {
            std::vector<double> const shape = turned_about(pivot);
            double const most = *std::max_element(shape.begin(), shape.end());
            forms.push_back(integrated(faults_.misaligned, prior, [&](double a) {
                Profile profile(n_);
                for (int const position : residuals_.lit) {
                    auto const i = static_cast<std::size_t>(position - 1);
                    add_loss(profile, i, a * shape[i] / most, faults_.misaligned);
                    profile.base_var[i] += pivot_variance * a * a;
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
        Hypothesis sum = std::move(forms[best]);
        sum.log_weight = log_sum(logs);
        weighed_.push_back(std::move(sum));
    }

    void unexplained()
    {
        weighed_.push_back(integrated(faults_.unexplained, rate(Cause::unexplained), [&](double a) {
            Profile profile(n_);
            for (int const position : residuals_.lit) {
                auto const i = static_cast<std::size_t>(position - 1);
                profile.base_var[i] = a * a;
                profile.step_var[i] = a * a;
                profile.turn_var[i] = a * a;
            }
            return profile;
        }));
    }

    Residuals const& residuals_;
    Priors const& priors_;
    Catalogue const& faults_;
    std::size_t n_;
    double no_fault_;
    std::vector<Hypothesis> weighed_;
};

} // namespace

std::vector<Hypothesis> weighed_hypotheses(Residuals const& residuals, Priors const& priors)
{
    return Hypotheses(residuals, priors).all();
}

} // namespace guidepin::cause

// SPDX-License-Identifier: Apache-2.0
// What a link should show: the distribution of its attenuation from fibre, connections, splices and test
// cords, and the planning answers that follow. Mathematics: docs/methods/prediction.md. Verified by:
// tests/oracle/loss/prediction.cpp (worked values, published examples), tests/unit/loss/prediction.cpp (three
// routes against each other, properties).
#pragma once

#include "base/result.hpp"
#include "facts/tables.hpp"
#include "loss/distribution.hpp"
#include "units/quantity.hpp"

#include <array>
#include <compare>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace guidepin::loss {

/// The gamma population of a grade of the tables ("B", "Cm"): both of its figures met exactly.
Result<Gamma> gamma_of(facts::ConnectionGrade const& grade);

/// Joints of one kind along the link.
struct Joints
{
    std::string what; ///< for people: "end connection, grade B", "splice"
    Gamma loss;       ///< of one
    int count = 0;    ///< >= 0
    /// Inside the reference, so that its loss is taken out of the reading (two- and three-cord methods). It
    /// is the same joint for all links under one reference; between references it varies like any other.
    bool in_reference = false;
};

struct LinkConfiguration
{
    Metres length;
    DecibelPerKilometre attenuation; ///< typical of the fibre at the wavelength, not its limit
    double attenuation_relative_u =
        0; ///< relative standard uncertainty of attenuation * length; 0: taken as exact
    std::vector<Joints> joints;
    int fibres = 12; ///< used fibres of the link, at least 1
};

enum class Route {
    automatic,   ///< closed form where the family closes, otherwise matched moments
    convolution, ///< exact, on a grid of 1 mdB
    simulation   ///< seeded Monte Carlo, as a check
};

struct PredictionOptions
{
    Route route = Route::automatic;
    std::uint64_t seed = 1;
    std::size_t draws = 200000;
};

/// The attenuation to expect of one fibre, and of the worst of the link's fibres. Fibres are taken as
/// independent; what they share (guide pins, a reference joint) makes the true chance that all pass a little
/// higher.
class Prediction
{
  public:
    Decibel mean() const { return Decibel{mean_}; }
    Decibel sd() const { return Decibel{sd_}; }
    Decibel fibre() const { return Decibel{fibre_}; }
    /// 0 < p < 1: what a share p of such fibres stays at or below.
    Decibel quantile(double p) const;
    Probability chance_within(Decibel limit) const;
    Probability chance_all_within(Decibel limit) const;
    /// The value that with probability p no fibre of the link exceeds.
    Decibel quantile_of_worst(double p) const;
    int fibres() const { return fibres_; }
    /// "closed form", "matched moments", "convolution", "simulation".
    char const* route() const { return route_; }
    /// Mean, variance and skewness as a shifted gamma, whatever the route: for surprise and evidence.
    ShiftedGamma const& shape() const { return shape_; }
    /// P(attenuation > limit), exact far into the tail.
    double exceedance(Decibel limit) const;

  private:
    friend class Predictor;
    double mean_ = 0;
    double sd_ = 0;
    double fibre_ = 0;
    int fibres_ = 1;
    char const* route_ = "closed form";
    ShiftedGamma shape_;
    std::optional<GridDensity> grid_; // of the joints, without the fibre
    std::vector<double> draws_;       // sorted, without the fibre
};

/// Predicts many links. The sums of joints are kept by distinct set of joints: twenty thousand links of a few
/// layouts cost a look-up each.
class Predictor
{
  public:
    Prediction predict(LinkConfiguration const& link, PredictionOptions const& options = {});
    /// The joints alone (no fibre), from the memory: the hot path. Valid as long as the predictor.
    ShiftedGamma const& joints(std::span<Joints const> joints);
    std::size_t distinct() const { return sums_.size(); }

  private:
    struct Key
    {
        std::vector<std::array<double, 4>> parts;
        auto operator<=>(Key const&) const = default;
    };
    std::map<Key, ShiftedGamma> sums_;
    Key key_; // reused, so that a look-up allocates nothing
};

/// One prediction without a memory.
Prediction predict(LinkConfiguration const& link, PredictionOptions const& options = {});

/// What each fibre must reach so that all n do: yield^(1/n).
double per_fibre_yield(int fibres, double yield);

} // namespace guidepin::loss

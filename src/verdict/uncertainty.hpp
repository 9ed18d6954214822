// SPDX-License-Identifier: Apache-2.0
// How well an attenuation is known: contributions, their combination, effective degrees of freedom and
// coverage, after JCGM 100:2008. The contributions come from the tables and may be edited for a job. Method:
// docs/methods/uncertainty.md. Verified by: tests/oracle/verdict/uncertainty.cpp (JCGM 100 G.4.1 and H.1,
// Student t table, scipy 1.10), tests/unit/verdict/uncertainty.cpp (identities, messages).
#pragma once

#include "facts/tables.hpp"
#include "setup/method.hpp"
#include "units/quantity.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::verdict {

enum class Distribution : std::uint8_t { normal, rectangular, triangular, u_shaped };
char const* name_of(Distribution distribution); ///< "normal", "rectangular", "triangular", "u-shaped"
std::optional<Distribution> parse_distribution(std::string_view text);

/// What a half-width is divided by: sqrt(3), sqrt(6), sqrt(2). A normal contribution is given as its standard
/// deviation, so 1. JCGM 100:2008 4.3.7, 4.3.9; the U shape as for a sine.
double divisor(Distribution distribution);

constexpr double infinite_freedom = std::numeric_limits<double>::infinity();

/// One input of JCGM 100:2008 5.1: sensitivity, standard uncertainty, degrees of freedom.
struct UncertainInput
{
    double u = 0; ///< standard uncertainty, at least 0
    double sensitivity = 1;
    double freedom = infinite_freedom; ///< above 0
};

/// Welch-Satterthwaite, JCGM 100:2008 (G.2b), for independent inputs; infinite when all are. Use the
/// unrounded u_c.
double effective_freedom(std::span<UncertainInput const> inputs);

/// k so that +- k u covers `probability` (0 < p < 1) for Student's t with `freedom` degrees (above 0). By
/// JCGM 100:2008 G.4.2 the freedom is cut down to an integer first when `truncate`; below 1 counts as 1 then.
double coverage_factor(double probability, double freedom, bool truncate = true);

/// One line of a budget.
struct Contribution
{
    std::string id;
    std::string name;
    Distribution distribution = Distribution::rectangular;
    double each = 0;       ///< half-width (or standard deviation if normal) of one, dB, or 1 for per_loss
    bool per_loss = false; ///< `each` is a fraction of the loss
    double least = 0;      ///< dB, where per_loss: the larger counts
    double count = 1;      ///< ends, or joints in the reference
    double freedom = infinite_freedom;
    bool common = false; ///< shared by all readings under one reference
    bool edited = false; ///< a job's own value
    facts::Source source;
    facts::Basis basis = facts::Basis::memory;
    std::string note;

    /// Standard uncertainty in dB at this loss: each * sqrt(count) / divisor.
    double u(double loss_db) const;
};

/// A budget boiled down for a million readings: no allocation, a square root each.
class UncertaintyModel
{
  public:
    /// The same for every loss, all of it independent: for tests and simple jobs.
    static UncertaintyModel constant(double u);

    double u(double loss_db) const { return std::sqrt(common_variance(loss_db) + own_variance(loss_db)); }
    double common_variance(double loss_db) const { return common_ + of_loss(loss_db, true); }
    double own_variance(double loss_db) const { return own_ + of_loss(loss_db, false); }
    /// u of the mean of two directions: what they share stays, the rest is halved in variance.
    double u_of_mean(double first_db, double second_db) const;

  private:
    friend struct Budget;
    struct LossTerm
    {
        double fraction = 0, least = 0, scale = 0; // scale: count / divisor^2
        bool common = false;
    };
    double of_loss(double loss_db, bool common) const
    {
        double sum = 0;
        for (std::size_t i = 0; i < terms_; ++i) {
            LossTerm const& term = loss_terms_[i];
            if (term.common != common) continue;
            double const half = std::max(term.least, term.fraction * std::abs(loss_db));
            sum += half * half * term.scale;
        }
        return sum;
    }
    double common_ = 0, own_ = 0;
    std::array<LossTerm, 4> loss_terms_{};
    std::size_t terms_ = 0;
};

struct Budget
{
    std::vector<Contribution> contributions; ///< in table order
    bool rests_on_memory = false;

    struct Sum
    {
        double u = 0, common = 0, own = 0; ///< standard uncertainties, dB; u^2 = common^2 + own^2
        double freedom = infinite_freedom;
        double k = 2, expanded = 0; ///< for the probability asked for
    };
    Sum at(double loss_db, double probability = 0.9545) const;
    UncertaintyModel model() const;
};

/// A job's own value for a contribution, in the unit of the table (half-width or standard deviation).
struct UncertaintyEdit
{
    std::string id;
    double value = 0;
};

struct BudgetQuestion
{
    facts::Tables const* tables = nullptr;
    facts::FibreKind kind = facts::FibreKind::multimode;
    Nanometres wavelength{850};
    setup::ReferenceMethod method = setup::ReferenceMethod::one_cord;
    int ends = 2; ///< end connections in the light path during the test
    std::span<UncertaintyEdit const> edits = {};
};

/// The budget from the tables. invalid_input for an edit that is negative or names no contribution, with the
/// nearest.
Result<Budget> budget_for(BudgetQuestion const& question);

} // namespace guidepin::verdict

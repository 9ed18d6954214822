// SPDX-License-Identifier: Apache-2.0
#include "watch/levels.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::watch {

namespace {

double log_normal(double x, double variance)
{
    return -0.5 * (x * x / variance + std::log(variance));
}

/// Symmetric, row by row.
class Matrix
{
  public:
    explicit Matrix(std::size_t n)
        : n_(n)
        , cells_(n * n, 0)
    {
    }
    double& at(std::size_t a, std::size_t b) { return cells_[a * n_ + b]; }
    double at(std::size_t a, std::size_t b) const { return cells_[a * n_ + b]; }
    std::size_t size() const { return n_; }

    /// Cholesky's factor in place of a positive matrix.
    void factor()
    {
        for (std::size_t c = 0; c < n_; ++c) {
            for (std::size_t k = 0; k < c; ++k) at(c, c) -= at(c, k) * at(c, k);
            double const pivot = at(c, c) = std::sqrt(std::max(at(c, c), 1e-300));
            for (std::size_t r = c + 1; r < n_; ++r) {
                for (std::size_t k = 0; k < c; ++k) at(r, c) -= at(r, k) * at(c, k);
                at(r, c) /= pivot;
            }
        }
    }
    /// Of a factor: solves for `right` in place.
    void solve(std::vector<double>& right) const
    {
        for (std::size_t r = 0; r < n_; ++r) {
            for (std::size_t k = 0; k < r; ++k) right[r] -= at(r, k) * right[k];
            right[r] /= at(r, r);
        }
        for (std::size_t r = n_; r-- > 0;) {
            for (std::size_t k = r + 1; k < n_; ++k) right[r] -= at(k, r) * right[k];
            right[r] /= at(r, r);
        }
    }

  private:
    std::size_t n_;
    std::vector<double> cells_;
};

/// Estimates the middles of the kinds. The error of each reference is integrated out.
class Fit
{
  public:
    Fit(std::span<LevelSeen const> seen, std::span<LevelKind const> kinds, std::size_t references,
        LevelDesign const& design)
        : kinds_(kinds)
        , design_(design)
        , of_(references)
        , precision_(kinds.size())
        , pulls_(kinds.size(), 0)
        , sound_(design.reference_sd * design.reference_sd)
        , variance_(references, sound_)
    {
        for (LevelSeen const& one : seen) of_[one.reference].push_back(one);
        // Before anything is seen: a share of the grade that the kinds of a group have in common, and one of
        // the kind's own.
        std::size_t const n = kinds.size();
        Matrix spread(n);
        for (std::size_t a = 0; a < n; ++a) {
            for (std::size_t b = 0; b < n; ++b) {
                if (kinds[a].group != kinds[b].group) continue;
                double const product = kinds[a].grade_db * kinds[b].grade_db;
                spread.at(a, b) = product * design.quality_sd * design.quality_sd +
                                  kinds[a].common_u * kinds[b].common_u +
                                  (a == b ? product * design.layout_sd * design.layout_sd + 1e-8 : 0);
            }
        }
        spread.factor();
        std::vector<double> column;
        for (std::size_t a = 0; a < n; ++a) {
            column.assign(n, 0);
            column[a] = 1;
            spread.solve(column);
            for (std::size_t b = 0; b < n; ++b) precision_.at(b, a) = column[b];
        }
        for (std::size_t r = 0; r < of_.size(); ++r) take(precision_, pulls_, r, 1);
    }

    bool is_wrong(std::size_t reference) const { return variance_[reference] > sound_; }
    void set_wrong(std::size_t reference, bool wrong)
    {
        take(precision_, pulls_, reference, -1);
        variance_[reference] = sound_ + (wrong ? design_.fault_sd * design_.fault_sd : 0);
        take(precision_, pulls_, reference, 1);
    }

    /// Compares what all others lead one to expect of this reference's links with what they show. `odds` is a
    /// logarithm.
    struct Judged
    {
        Level level;
        double odds = -1e9;
    };
    Judged judged(std::size_t reference) const
    {
        Judged judged;
        auto const& own = of_[reference];
        if (own.empty()) return judged;
        Matrix others = precision_;
        std::vector<double> middles = pulls_;
        take(others, middles, reference, -1);
        others.factor();
        others.solve(middles);
        std::size_t const n = own.size();
        Matrix spread(n);
        std::vector<double> column;
        for (std::size_t i = 0; i < n; ++i) {
            column.assign(kinds_.size(), 0);
            column[own[i].kind] = 1;
            others.solve(column);
            for (std::size_t j = 0; j < n; ++j) spread.at(i, j) = column[own[j].kind];
            spread.at(i, i) += own[i].u_db * own[i].u_db;
        }
        spread.factor();
        std::vector<double> ones(n, 1);
        spread.solve(ones);
        double weight = 0;
        double sum = 0;
        for (std::size_t i = 0; i < n; ++i) {
            weight += ones[i];
            sum += ones[i] * (own[i].value_db - expected(own[i].kind) - middles[own[i].kind]);
        }
        double const size = sum / weight;
        double const sound = 1 / weight + sound_;
        judged.level.size = Decibel{size};
        judged.level.u = Decibel{std::sqrt(sound)};
        judged.odds = log_normal(size, sound + design_.fault_sd * design_.fault_sd) -
                      log_normal(size, sound) + std::log(design_.rate / (1 - design_.rate)) +
                      std::log(2 * (size < 0 ? design_.low_share : 1 - design_.low_share));
        judged.level.probability = 1 / (1 + std::exp(-judged.odds));
        return judged;
    }

  private:
    double expected(std::size_t kind) const { return design_.quality * kinds_[kind].grade_db; }

    /// Adds (or takes away) what one reference says of its kinds, its own error integrated out.
    void take(Matrix& precision, std::vector<double>& pulls, std::size_t reference, double sign) const
    {
        auto const& own = of_[reference];
        double weight = 1 / variance_[reference];
        double pull = 0;
        for (LevelSeen const& one : own) {
            double const w = 1 / (one.u_db * one.u_db);
            weight += w;
            pull += w * (one.value_db - expected(one.kind));
        }
        for (LevelSeen const& a : own) {
            double const w = 1 / (a.u_db * a.u_db);
            precision.at(a.kind, a.kind) += sign * w;
            pulls[a.kind] += sign * w * (a.value_db - expected(a.kind) - pull / weight);
            for (LevelSeen const& b : own)
                precision.at(a.kind, b.kind) -= sign * w / (b.u_db * b.u_db) / weight;
        }
    }

    std::span<LevelKind const> kinds_;
    LevelDesign design_;
    std::vector<std::vector<LevelSeen>> of_; // by reference
    Matrix precision_;
    std::vector<double> pulls_;
    double sound_;                 // variance of a sound reference's error
    std::vector<double> variance_; // of its error, by reference
};

} // namespace

std::vector<Level> reference_levels(std::span<LevelSeen const> seen, std::span<LevelKind const> kinds,
                                    std::size_t references, LevelDesign const& design)
{
    Fit fit(seen, kinds, references, design);
    std::size_t const n = references;
    std::vector<Fit::Judged> judged(n);
    for (std::size_t r = 0; r < n; ++r) judged[r] = fit.judged(r);
    // A wrong reference makes the links of others look too high (or too low); that ends once it is known. A
    // reference that is far from wrong is judged again only at the end.
    constexpr double far = -6;
    std::vector<std::size_t> suspects;
    for (std::size_t r = 0; r < n; ++r)
        if (judged[r].odds > far) suspects.push_back(r);
    for (std::size_t round = 0; round < suspects.size(); ++round) {
        std::size_t surest = n;
        for (std::size_t const r : suspects)
            if (!fit.is_wrong(r) && judged[r].odds > 0 &&
                (surest == n || judged[r].odds > judged[surest].odds))
                surest = r;
        if (surest == n) break;
        fit.set_wrong(surest, true);
        for (std::size_t const r : suspects) {
            judged[r] = fit.judged(r);
            if (fit.is_wrong(r) && judged[r].odds < 0) fit.set_wrong(r, false);
        }
    }
    std::vector<std::vector<std::size_t>> references_of(kinds.size());
    for (LevelSeen const& one : seen) references_of[one.kind].push_back(one.reference);
    std::vector<Level> levels(n);
    for (std::size_t r = 0; r < n; ++r) levels[r] = fit.judged(r).level;
    for (LevelSeen const& one : seen)
        if (references_of[one.kind].size() > 1) levels[one.reference].compared = true;
    return levels;
}

} // namespace guidepin::watch

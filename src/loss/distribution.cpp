// SPDX-License-Identifier: Apache-2.0
#include "loss/distribution.hpp"

#include "loss/random.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>
#include <numbers>

#include <fmt/format.h>

#include <boost/math/distributions/normal.hpp>
#include <boost/math/special_functions/gamma.hpp>

namespace guidepin::loss {

namespace {

// Plain doubles: long double would be three times slower for digits that no reading has. Overflow ends in
// infinity and not in an exception.
using Plain = boost::math::policies::policy<
    boost::math::policies::promote_double<false>,
    boost::math::policies::overflow_error<boost::math::policies::ignore_error>,
    boost::math::policies::underflow_error<boost::math::policies::ignore_error>>;

constexpr double infinity = std::numeric_limits<double>::infinity();

double lower_gamma(double shape, double x)
{
    return x <= 0 ? 0 : boost::math::gamma_p(shape, x, Plain{});
}
double upper_gamma(double shape, double x)
{
    return x <= 0 ? 1 : boost::math::gamma_q(shape, x, Plain{});
}
double lower_gamma_inverse(double shape, double p)
{
    if (p <= 0) return 0;
    if (p >= 1) return infinity;
    return boost::math::gamma_p_inv(shape, p, Plain{});
}
double upper_gamma_inverse(double shape, double q)
{
    if (q <= 0) return infinity;
    if (q >= 1) return 0;
    return boost::math::gamma_q_inv(shape, q, Plain{});
}

// Nodes and weights of 20-point Gauss-Legendre on (-1, 1), positive half (Abramowitz and Stegun 1964,
// table 25.4).
constexpr std::array<std::array<double, 2>, 10> legendre20{
    {{0.076526521133497333755, 0.152753387130725850698},
     {0.227785851141645078080, 0.149172986472603746788},
     {0.373706088715419560673, 0.142096109318382051329},
     {0.510867001950827098004, 0.131688638449176626898},
     {0.636053680726515025453, 0.118194531961518417312},
     {0.746331906460150792614, 0.101930119817240435037},
     {0.839116971822218823395, 0.083276741576704748725},
     {0.912234428251325905868, 0.062672048334109063570},
     {0.963971927277913791268, 0.040601429800386941331},
     {0.993128599185094924786, 0.017614007139152118312}}};

// The mean of tail(y - u z) over a standard normal z, |z| <= 9, in panels narrow enough for the kink at the
// shift.
template <class Tail>
double averaged_over_noise(Tail tail, double u, double y, double kink)
{
    std::vector<double> edges;
    for (int i = -9; i <= 9; ++i) edges.push_back(i);
    double const at_kink = (y - kink) / u;
    if (at_kink > -9 && at_kink < 9)
        edges.insert(std::upper_bound(edges.begin(), edges.end(), at_kink), at_kink);
    double sum = 0;
    for (std::size_t i = 0; i + 1 < edges.size(); ++i) {
        double const middle = (edges[i] + edges[i + 1]) / 2;
        double const half = (edges[i + 1] - edges[i]) / 2;
        for (auto const& [node, weight] : legendre20)
            for (double const side : {-1.0, 1.0}) {
                double const z = middle + side * half * node;
                sum += half * weight * normal_density(z) * tail(y - u * z);
            }
    }
    return sum;
}

} // namespace

double normal_density(double z)
{
    return std::exp(-0.5 * z * z) / std::sqrt(2 * std::numbers::pi);
}

double normal_cdf(double z)
{
    return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

double normal_quantile(double p)
{
    if (p <= 0) return -infinity;
    if (p >= 1) return infinity;
    return boost::math::quantile(boost::math::normal_distribution<double, Plain>{}, p);
}

double Gamma::sd() const
{
    return std::sqrt(variance());
}
double Gamma::cdf(double x) const
{
    return lower_gamma(shape, x / scale);
}

Result<Gamma> gamma_of_grade(Decibel mean, Decibel p97)
{
    double const ratio = p97 / mean;
    if (!(mean.value() > 0) || !(ratio > 1.4 && ratio < 3.5))
        return Error{
            Errc::invalid_input,
            fmt::format("A grade with mean {} dB and 97 % value {} dB: the mean must be above 0 and the 97 % "
                        "value 1.4 to 3.5 times the mean.",
                        number_text(mean.value()), number_text(p97.value()))};
    // quantile(0.97; k)/k falls from 3.51 at k = 1 to 1.4 at k = 28; halve the bracket until it is one double
    // wide.
    double low = 0.9;
    double high = 40;
    for (int i = 0; i < 200 && high - low > 1e-14 * high; ++i) {
        double const middle = (low + high) / 2;
        (lower_gamma_inverse(middle, 0.97) / middle > ratio ? low : high) = middle;
    }
    double const shape = (low + high) / 2;
    return Gamma{shape, mean.value() / shape};
}

double ShiftedGamma::sd() const
{
    return std::sqrt(variance());
}
double ShiftedGamma::skewness() const
{
    return shape > 0 ? std::copysign(2 / std::sqrt(shape), scale) : 0;
}

double ShiftedGamma::cdf(double x) const
{
    if (shape <= 0 || scale == 0) return x >= shift ? 1 : 0;
    double const t = (x - shift) / scale;
    return scale > 0 ? lower_gamma(shape, t) : upper_gamma(shape, t);
}

double ShiftedGamma::survival(double x) const
{
    if (shape <= 0 || scale == 0) return x >= shift ? 0 : 1;
    double const t = (x - shift) / scale;
    return scale > 0 ? upper_gamma(shape, t) : lower_gamma(shape, t);
}

double ShiftedGamma::quantile(double p) const
{
    if (shape <= 0 || scale == 0) return shift;
    return shift + scale * (scale > 0 ? lower_gamma_inverse(shape, p) : upper_gamma_inverse(shape, p));
}

ShiftedGamma shifted_gamma_of_cumulants(double mean, double variance, double third_cumulant)
{
    if (variance <= 0) return ShiftedGamma{mean, 0, 0};
    double const sd = std::sqrt(variance);
    double const skewness = third_cumulant / (variance * sd);
    double const used = std::copysign(std::max(std::abs(skewness), 0.001), skewness);
    double const shape = 4 / (used * used);
    double const scale = sd * used / 2;
    return ShiftedGamma{mean - shape * scale, shape, scale};
}

double probability_at_most(ShiftedGamma const& loss, double u, double y)
{
    if (u <= 0) return loss.cdf(y);
    if (loss.shape <= 0) return normal_cdf((y - loss.shift) / u);
    return averaged_over_noise([&](double x) { return loss.cdf(x); }, u, y, loss.shift);
}

bool closes(std::span<Term const> terms)
{
    double scale = 0;
    for (auto const& term : terms) {
        if (term.count == 0) continue;
        if (term.subtracted) return false;
        if (scale != 0 && std::abs(term.loss.scale - scale) > 1e-12 * scale) return false;
        scale = term.loss.scale;
    }
    return true;
}

ShiftedGamma sum_of(std::span<Term const> terms)
{
    double mean = 0;
    double variance = 0;
    double third = 0;
    double shape = 0;
    double scale = 0;
    for (auto const& term : terms) {
        assert(term.count >= 0);
        double const sign = term.subtracted ? -1 : 1;
        double const each = term.loss.shape * term.count;
        if (term.count > 0) scale = term.loss.scale;
        shape += each;
        mean += sign * each * term.loss.scale;
        variance += each * term.loss.scale * term.loss.scale;
        third += sign * 2 * each * term.loss.scale * term.loss.scale * term.loss.scale;
    }
    if (closes(terms)) return ShiftedGamma{0, shape, scale};
    return shifted_gamma_of_cumulants(mean, variance, third);
}

GridDensity GridDensity::zero(double step)
{
    GridDensity point;
    point.step_ = step;
    point.mass_ = {1};
    return point;
}

GridDensity GridDensity::normal(double sd, double step)
{
    assert(sd > 0 && step > 0);
    GridDensity grid;
    grid.step_ = step;
    auto const reach = static_cast<std::ptrdiff_t>(std::ceil(7 * sd / step)) + 1;
    grid.origin_ = -step * static_cast<double>(reach);
    for (std::ptrdiff_t i = -reach; i <= reach; ++i) {
        auto const at = static_cast<double>(i);
        // The side nearer to the tail, so that small cells keep their digits.
        double const side = at > 0 ? -1 : 1;
        grid.mass_.push_back(
            std::abs(normal_cdf(side * (at + 0.5) * step / sd) - normal_cdf(side * (at - 0.5) * step / sd)));
    }
    return grid;
}

GridDensity GridDensity::of(Gamma const& loss, double step)
{
    assert(step > 0);
    GridDensity grid;
    grid.step_ = step;
    double const end = loss.scale * upper_gamma_inverse(loss.shape, 1e-12);
    auto const cells = static_cast<std::size_t>(std::ceil(end / step)) + 1;
    grid.mass_.resize(cells);
    double below = 0;
    for (std::size_t i = 0; i < cells; ++i) {
        double const up_to = loss.cdf((static_cast<double>(i) + 0.5) * step);
        grid.mass_[i] = up_to - below;
        below = up_to;
    }
    return grid;
}

GridDensity GridDensity::convolved(GridDensity const& other) const
{
    assert(step_ == other.step_);
    GridDensity sum;
    sum.step_ = step_;
    sum.origin_ = origin_ + other.origin_;
    sum.mass_.assign(mass_.size() + other.mass_.size() - 1, 0);
    for (std::size_t i = 0; i < mass_.size(); ++i)
        for (std::size_t j = 0; j < other.mass_.size(); ++j) sum.mass_[i + j] += mass_[i] * other.mass_[j];
    return sum;
}

GridDensity GridDensity::mirrored() const
{
    GridDensity mirror = *this;
    std::reverse(mirror.mass_.begin(), mirror.mass_.end());
    mirror.origin_ = -(origin_ + step_ * static_cast<double>(mass_.size() - 1));
    return mirror;
}

double GridDensity::mean() const
{
    double sum = 0;
    for (std::size_t i = 0; i < mass_.size(); ++i) sum += mass_[i] * static_cast<double>(i);
    return origin_ + step_ * sum;
}

double GridDensity::variance() const
{
    double const centre = (mean() - origin_) / step_;
    double sum = 0;
    for (std::size_t i = 0; i < mass_.size(); ++i) {
        double const away = static_cast<double>(i) - centre;
        sum += mass_[i] * away * away;
    }
    return step_ * step_ * sum;
}

double GridDensity::cdf(double x) const
{
    return std::max(0.0, 1 - survival(x));
}

double GridDensity::survival(double x) const
{
    // From the far end, so that a small tail is not lost in a sum near one.
    double const place = (x - origin_) / step_ + 0.5;
    double above = 0;
    for (std::size_t i = mass_.size(); i-- > 0;) {
        auto const low = static_cast<double>(i);
        if (place >= low + 1) break;
        above += mass_[i] * (place <= low ? 1 : low + 1 - place);
    }
    return std::min(1.0, above);
}

double GridDensity::quantile(double p) const
{
    double below = 0;
    for (std::size_t i = 0; i < mass_.size(); ++i) {
        if (mass_[i] > 0 && below + mass_[i] >= p)
            return origin_ + step_ * (static_cast<double>(i) - 0.5 + (p - below) / mass_[i]);
        below += mass_[i];
    }
    return origin_ + step_ * (static_cast<double>(mass_.size()) - 0.5);
}

GridDensity convolution_of(std::span<Term const> terms, double step)
{
    GridDensity sum = GridDensity::zero(step);
    for (auto const& term : terms) {
        if (term.count == 0) continue;
        GridDensity one = GridDensity::of(term.loss, step);
        if (term.subtracted) one = one.mirrored();
        for (int i = 0; i < term.count; ++i) sum = sum.convolved(one);
    }
    return sum;
}

std::vector<double> simulated_sums(std::span<Term const> terms, std::size_t draws, std::uint64_t seed)
{
    Random random{seed};
    std::vector<double> sums(draws);
    for (auto& sum : sums)
        for (auto const& term : terms)
            for (int i = 0; i < term.count; ++i) {
                double const one = term.loss.scale * random.gamma(term.loss.shape);
                sum += term.subtracted ? -one : one;
            }
    std::sort(sums.begin(), sums.end());
    return sums;
}

} // namespace guidepin::loss

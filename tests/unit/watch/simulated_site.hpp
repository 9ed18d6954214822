// SPDX-License-Identifier: Apache-2.0
// Simulated links for the tests of the watch: natural spread of grade B and C connections, readings with a
// common part.
#pragma once

#include "loss/distribution.hpp"
#include "loss/random.hpp"

#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

namespace guidepin::watch::test {

/// Links of 2 to 4 connections, each of grade B or C, at 1310 and 1550 nm; a joint's loss at 1550 is 0.78
/// to 1.0 of that at 1310. Reading: u = 0.05 in all, of which 0.02 is common to all readings of one link.
class Site
{
  public:
    static constexpr std::size_t positions = 12;
    static constexpr std::size_t wavelengths = 2;

    explicit Site(std::uint64_t seed)
        : random_(seed)
    {
    }

    struct Link
    {
        std::vector<double> residual;
        std::vector<double> natural_sd;
        std::vector<double> measured; ///< residual + mean of the connections
        int connections = 0;
        loss::Gamma joint;
    };

    /// `shift_db` is added to every reading.
    Link next(double shift_db)
    {
        loss::Gamma const b{4.2828, 0.02802};
        loss::Gamma const c{4.9313, 0.05070};
        Link link;
        link.joint = random_.uniform() < 0.5 ? b : c;
        link.connections = 2 + static_cast<int>(random_.whole(3));
        double const mean = link.connections * link.joint.mean();
        double const sd = std::sqrt(link.connections * link.joint.variance());
        double const common = 0.02 * random_.normal();
        double const own = std::sqrt(0.05 * 0.05 - 0.02 * 0.02);
        link.residual.resize(positions * wavelengths);
        link.measured.resize(positions * wavelengths);
        link.natural_sd = {sd, ratio * sd};
        for (std::size_t p = 0; p < positions; ++p) {
            double at_1310 = 0;
            double at_1550 = 0;
            for (int i = 0; i < link.connections; ++i) {
                double const one = link.joint.scale * random_.gamma(link.joint.shape);
                at_1310 += one;
                at_1550 += one * (0.78 + 0.22 * random_.uniform());
            }
            double const r0 = at_1310 - mean + shift_db + common + own * random_.normal();
            double const r1 = at_1550 - ratio * mean + shift_db + common + own * random_.normal();
            link.residual[p] = r0;
            link.residual[positions + p] = r1;
            link.measured[p] = r0 + mean;
            link.measured[positions + p] = r1 + ratio * mean;
        }
        return link;
    }

    loss::Random& random() { return random_; }

  private:
    static constexpr double ratio = 0.89;
    loss::Random random_;
};

} // namespace guidepin::watch::test

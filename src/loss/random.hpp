// SPDX-License-Identifier: Apache-2.0
// A small seeded source of random numbers: the same seed gives the same sequence on every machine, which the
// distributions of the standard library do not promise.
// Method: xoshiro256** (Blackman and Vigna, ACM Trans. Math. Softw. 47 (2021), 36), seeded through
// SplitMix64; normal by inverting the distribution; gamma by Marsaglia and Tsang, ACM Trans. Math. Softw. 26
// (2000), 363. Verified by: tests/unit/loss/random.cpp (the published first outputs; moments; Kolmogorov
// distance).
#pragma once

#include <array>
#include <cstdint>

namespace guidepin::loss {

class Random
{
  public:
    explicit Random(std::uint64_t seed);

    std::uint64_t bits();
    double uniform(); ///< in (0, 1), never 0 and never 1
    double normal();  ///< mean 0, standard deviation 1
    /// Gamma with this shape (> 0) and scale 1.
    double gamma(double shape);
    /// 0 … below-1, without bias; `below` at least 1.
    std::uint64_t whole(std::uint64_t below);

  private:
    std::array<std::uint64_t, 4> state_{};
};

} // namespace guidepin::loss

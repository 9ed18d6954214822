// SPDX-License-Identifier: Apache-2.0
// Attenuation from powers: A = P_ref - P at the same position and wavelength, both through the same launch
// cord (IEC 61280-4-1, IEC 61280-4-5). Absolute calibration of the meter cancels. The sign is kept: passive
// glass cannot gain, so a value below zero says something about the reference. Method:
// docs/methods/verdict.md. Verified by: tests/oracle/verdict/attenuation.cpp (both forms of the definition),
// tests/unit/verdict/attenuation.cpp.
#pragma once

#include "facts/tables.hpp"
#include "setup/method.hpp"
#include "units/quantity.hpp"

#include <cstdint>

namespace guidepin::verdict {

constexpr Decibel attenuation(Dbm reference, Dbm received)
{
    return reference - received;
}

enum class Sign : std::uint8_t {
    loss,           ///< zero or above
    slight_gain,    ///< below zero by no more than the tolerance: measurement error
    impossible_gain ///< below zero beyond the tolerance: doubt the reference
};
/// `tolerance` is positive, as in the fact readiness.negative-loss.tolerance.
constexpr Sign sign_of(Decibel value, Decibel tolerance)
{
    return value.value() >= 0                    ? Sign::loss
           : value.value() >= -tolerance.value() ? Sign::slight_gain
                                                 : Sign::impossible_gain;
}
/// Loss below zero that still counts as measurement error: 0.05 dB one-cord, 0.10 dB with more cords, unless
/// the tables say otherwise.
Decibel negative_tolerance(facts::Tables const& tables, setup::ReferenceMethod method);

} // namespace guidepin::verdict

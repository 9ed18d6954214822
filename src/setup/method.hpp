// SPDX-License-Identifier: Apache-2.0
// Reference methods, named by the number of cords in the reference: the letters of the standards clash.
// Source: IEC 61280-4-5:2020, TIA-526-14, ISO/IEC 14763-3; which letter meant what: docs/methods/limits.md.
// Verified by: tests/oracle/loss/limits.cpp (the same link under each method).
#pragma once

#include <optional>
#include <string_view>

namespace guidepin::setup {

enum class ReferenceMethod {
    one_cord,   ///< launch cord straight into the meter
    two_cord,   ///< launch and tail cord, one joint
    three_cord, ///< launch, substitution and tail cord, two joints
};

char const* name_of(ReferenceMethod method); ///< "one-cord", "two-cord", "three-cord"
/// "one-cord reference", "two-cord reference", "three-cord reference": as people say it.
char const* words_of(ReferenceMethod method);
std::optional<ReferenceMethod> parse_reference_method(std::string_view text);

/// Joints that were inside the reference: 0, 1, 2.
constexpr int joints_in_reference(ReferenceMethod method)
{
    return method == ReferenceMethod::one_cord ? 0 : method == ReferenceMethod::two_cord ? 1 : 2;
}

} // namespace guidepin::setup

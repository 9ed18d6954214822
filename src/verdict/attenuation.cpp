// SPDX-License-Identifier: Apache-2.0
#include "verdict/attenuation.hpp"

namespace guidepin::verdict {

Decibel negative_tolerance(facts::Tables const& tables, setup::ReferenceMethod method)
{
    bool const one_cord = method == setup::ReferenceMethod::one_cord;
    auto const* const fact = tables.fact(one_cord ? "readiness.negative-loss.tolerance"
                                                  : "readiness.negative-loss.tolerance.more-cords");
    return Decibel{fact ? fact->value : one_cord ? 0.05 : 0.1};
}

} // namespace guidepin::verdict

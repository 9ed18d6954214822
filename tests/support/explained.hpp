// SPDX-License-Identifier: Apache-2.0
// The findings of a whole site in one step, for tests.
#pragma once

#include "cause/explainer.hpp"

#include <vector>

namespace guidepin::support {

/// Returns the findings, worked out by one thread.
inline std::vector<cause::Finding> explained(cause::Columns const& columns, cause::Priors const& priors)
{
    cause::Explainer explainer(columns, priors);
    explainer.measure(0, columns.links.size());
    explainer.learn();
    explainer.explain(0, columns.links.size());
    return explainer.findings();
}

} // namespace guidepin::support

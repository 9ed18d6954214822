// SPDX-License-Identifier: Apache-2.0
// Which finding comes first: what makes many readings worthless, then what the links have.
#include "cause/explainer.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::cause {

namespace {

int urgency(Cause cause)
{
    switch (cause) {
    case Cause::wrong_test_cord:
    case Cause::reference_fault:
    case Cause::reference_drift:
    case Cause::test_cord_position:
        return 0;
    case Cause::copied_measurement:
    case Cause::mislabelled_link:
    case Cause::contradicting_records:
        return 1;
    case Cause::wrong_adapter:
    case Cause::wrong_trunk_type:
    case Cause::crossed_fibres:
    case Cause::shifted_row:
    case Cause::swapped_blocks:
    case Cause::swapped_rows:
    case Cause::broken_fibre:
        return 2;
    case Cause::unexplained:
        return 4;
    default:
        return 3;
    }
}

} // namespace

void order_findings(std::vector<Finding>& findings)
{
    std::stable_sort(findings.begin(), findings.end(), [](Finding const& a, Finding const& b) {
        int const first = urgency(a.cause);
        int const second = urgency(b.cause);
        if (first != second) return first < second;
        auto const weight = [](Finding const& f) {
            return f.probability *
                   (1 + std::log(static_cast<double>(std::max<std::size_t>(1, f.links.size())))) *
                   (f.size ? std::min(3.0, 0.2 + std::abs(f.size->value())) : 1.0);
        };
        double const x = weight(a);
        double const y = weight(b);
        if (std::abs(x - y) > 1e-12) return x > y;
        if (a.links != b.links) return a.links < b.links;
        return a.positions < b.positions;
    });
}

} // namespace guidepin::cause

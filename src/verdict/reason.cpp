// SPDX-License-Identifier: Apache-2.0
#include "verdict/reason.hpp"

namespace guidepin::verdict {

char const* name_of(Acceptance acceptance)
{
    switch (acceptance) {
    case Acceptance::accepted:
        return "accepted";
    case Acceptance::accepted_with_remarks:
        return "accepted with remarks";
    case Acceptance::refused:
        return "refused";
    }
    return "";
}

Acceptance acceptance_of(std::span<Reason const> reasons)
{
    for (auto const& reason : reasons)
        if (reason.severity == Severity::refuse) return Acceptance::refused;
    return reasons.empty() ? Acceptance::accepted : Acceptance::accepted_with_remarks;
}

Result<facts::Fact const*> needed_fact(facts::Tables const& tables, std::string_view id)
{
    if (auto const* const fact = tables.fact(id)) return fact;
    return Error{Errc::not_found, "The tables have no value " + std::string{id} +
                                      "; restore it in the file of readiness values."};
}

} // namespace guidepin::verdict

// SPDX-License-Identifier: Apache-2.0
// What a row of the schedule promises: the map from the launch end A to the far end B, who mates there, and
// what is wrong with the plan itself. Verified by: tests/unit/plant/elements.cpp,
// tests/oracle/plant/chains.cpp (readings between panels).
#pragma once

#include "plant/chain.hpp"
#include "plant/link.hpp"

#include <map>
#include <memory>
#include <string>

namespace guidepin::plant {

struct LinkOptions
{
    Convention convention = Convention::fixed_pinned; ///< for connectors inside a chain that do not say
    TextLookup tables;
};

/// A link worked out. Positions are those on the plug of the test cord at each end (behind the panel's
/// adapter), on the cabling's own plug where that hangs free, or LC ports where the cabling ends in a module.
struct LinkModel
{
    Chain chain;
    FibreMap expected;                    ///< near place -> far place, all lit positions
    std::optional<PositionMap> positions; ///< the same, where each end is one connector
    Family near_family, far_family;
    Occupancy near_occupied,
        far_occupied;               ///< of the first connector at each end, in the numbering of `expected`
    ConnectorEnd near_end, far_end; ///< the cabling's own first connector at each end: pins, face, slope
    int inner_joints = 0;           ///< joints inside the cabling that the chain names
    std::string class_name; ///< "A", "B", …; "" where the ends are not one family of array connector
};

/// `spec.fibres` are the positions of the near-most array connector; none set means all of the family. For a
/// duplex family the chain's array connectors are mpo-12 up to 12 ports, mpo-16 for 16, mpo-24 for 24, unless
/// they say. Errors: invalid_input, with the link's id and the words that do not hold.
Result<LinkModel> build_link(LinkSpec const& spec, LinkOptions const& options = {});

/// Links of one kind share one model: families, fibres, chain, fittings, pins and faces decide; names do not.
class LinkModels
{
  public:
    explicit LinkModels(LinkOptions options)
        : options_(std::move(options))
    {
    }
    Result<std::shared_ptr<LinkModel const>> model_for(LinkSpec const& spec);
    std::size_t size() const { return models_.size(); }

  private:
    LinkOptions options_;
    std::map<std::string, std::shared_ptr<LinkModel const>, std::less<>> models_;
};

} // namespace guidepin::plant

// SPDX-License-Identifier: Apache-2.0
// The search itself, for one arrangement. Private to the room; plan.cpp turns its steps into a Plan.
#pragma once

#include "setup/plan.hpp"

namespace guidepin::setup::detail {

/// Pins of the four or six plug ends that matter, as chosen at one stage.
enum class Stage : std::uint8_t { start, at_source, tail_at_meter, referenced, tail_joined, checked, done };

struct Move
{
    Stage stage = Stage::start; ///< reached by this move
    CordUse launch, tail, extra, known;
    std::vector<PinChange> pin_changes;
    CheckKind check = CheckKind::none;
    /// Keys of the kit's adapters in the joints made by this move, from the source on.
    std::vector<plant::KeyRelation> adapters;
    plant::KeyRelation first_keys = plant::KeyRelation::opposed; ///< launch cord to cabling
    plant::KeyRelation second_keys = plant::KeyRelation::opposed;
};

struct Found
{
    Cost cost;
    std::vector<Move> moves; ///< from the start on
    int opposed = 0, aligned = 0;
    bool pin_tool = false;
};

struct SearchResult
{
    std::optional<Found> found;
    std::optional<Blocker> blocker;
    std::size_t states = 0;
};

/// With a `ceiling`, only plans that cost less are looked for; the blocker then means nothing.
SearchResult search(Question const& question, Arrangement arrangement,
                    std::optional<Cost> const& ceiling = std::nullopt);

} // namespace guidepin::setup::detail

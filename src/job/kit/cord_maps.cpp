// SPDX-License-Identifier: Apache-2.0
#include "job/kit/cord_maps.hpp"

namespace guidepin::job {

namespace {

struct KnownCord
{
    plant::TestCord cord;
    plant::Family family;
};

Result<KnownCord> known_cord(JobState const& state, std::string const& id)
{
    KnownCord known;
    if (Cord const* const cord = state.cord(id)) {
        known.cord.type = cord->type;
        TRY_ASSIGN(known.family, plant::parse_family(cord->family));
    }
    return known;
}

} // namespace

Result<plant::PositionMap> launch_map_of(JobState const& state, std::string const& launch)
{
    TRY_ASSIGN(KnownCord const known, known_cord(state, launch));
    return plant::launch_map(known.cord, known.family);
}

Result<CordMaps> cord_maps(JobState const& state, verdict::ReferenceId const& reference)
{
    TestKit kit;
    if (auto const found = state.reference_index.find(reference); found != state.reference_index.end()) {
        kit = state.references[found->second].kit;
    }
    CordMaps maps;
    TRY_ASSIGN(maps.launch, launch_map_of(state, kit.launch));
    // A tail that is not named has the same family as the launch cord.
    TRY_ASSIGN(KnownCord const launch, known_cord(state, kit.launch));
    TRY_ASSIGN(KnownCord tail, known_cord(state, kit.tail));
    if (kit.tail.empty()) tail.family = launch.family;
    TRY_ASSIGN(plant::PositionMap const receive, plant::receive_map(tail.cord, tail.family));
    maps.receive_back = receive.inverse();
    return maps;
}

} // namespace guidepin::job

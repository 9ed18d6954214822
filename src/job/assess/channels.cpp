// SPDX-License-Identifier: Apache-2.0
#include "job/assess/channels.hpp"

#include <cmath>

namespace guidepin::job {

Result<verdict::Channel> channel_of(JobState const& state, Assessment const& assessment, std::size_t link)
{
    plant::LinkSpec const& spec = state.links[link];
    plant::LinkModel const& model = *assessment.models[link];
    verdict::LinkVerdict const& v = assessment.verdicts.links[link];
    verdict::Channel channel;
    TRY_ASSIGN(channel.category, state.tables.category(spec.category));
    // The measured length decides where there is one: a mislabelled trunk must not pass by its drawing.
    channel.length = std::isnan(v.length_most_m) ? spec.length : Metres{static_cast<double>(v.length_most_m)};
    channel.family = model.near_family;
    channel.face = spec.face;
    channel.occupied = model.near_occupied;
    channel.writing = writing_of(state.settings);
    channel.cords_included = state.settings.single_channel;
    auto const detail = verdict::explain(state.readings, *assessment.rows, assessment.tasks,
                                         assessment.verdicts, link, writing_of(state.settings));
    for (verdict::FibreDetail const& fibre : detail.fibres) {
        for (verdict::PlaceDetail const& place : fibre.places) {
            if (std::isnan(place.counted_db)) continue;
            channel.losses.push_back({fibre.position_a, place.wavelength_nm, place.counted_db,
                                      std::isnan(place.u_db) ? 0 : place.u_db,
                                      fibre.measured_b == verdict::far_dark});
        }
    }
    if (!detail.measured.empty()) channel.map = detail.measured;
    for (std::uint32_t i = assessment.rows->begin(link); v.held > 0 && i < assessment.rows->end(link); ++i) {
        std::uint32_t const row = assessment.rows->row(i);
        if (assessment.hold[row] == 0 || (assessment.verdicts.reading_flags[row] & verdict::superseded))
            continue;
        channel.held = "The readings are held: " + assessment.hold_of(state, row).text;
        break;
    }
    return channel;
}

} // namespace guidepin::job

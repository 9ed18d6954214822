// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/gathering.hpp"

#include "job/groundwork/groundwork.hpp"
#include "job/state/places.hpp"

#include <algorithm>
#include <cmath>

namespace guidepin::job {

namespace {

constexpr std::size_t no_entry = static_cast<std::size_t>(-1);

class Gathering
{
  public:
    Gathering(JobState const& state, Groundwork const& ground, Expectation const& expectation,
              std::vector<WatchedReference>& references)
        : state_(state)
        , ground_(ground)
        , expectation_(expectation)
        , references_(references)
        , latest_(state.readings, *ground.rows)
    {
        std::size_t const names = state.readings.references.size();
        place_of_name_.assign(names, no_entry);
        std::vector<std::uint32_t> name_of_entry(state.references.size(), verdict::Dictionary::missing);
        for (std::uint32_t name = 0; name < names; ++name) {
            auto const found = state.reference_index.find(state.readings.references.id(name));
            if (found != state.reference_index.end()) name_of_entry[found->second] = name;
        }
        for (std::size_t entry = 0; entry < name_of_entry.size(); ++entry) {
            if (name_of_entry[entry] == verdict::Dictionary::missing) continue;
            place_of_name_[name_of_entry[entry]] = references.size();
            WatchedReference reference;
            reference.entry = entry;
            reference.name = name_of_entry[entry];
            references.push_back(std::move(reference));
        }
        low_.resize(references.size());
        negative_.resize(references.size());
    }

    void gather(std::vector<bool> const* only)
    {
        std::vector<std::uint32_t> names;
        for (std::size_t link = 0; link < state_.scheduled(); ++link) {
            names.clear();
            bool wanted = false;
            for (std::uint32_t k = ground_.rows->begin(link); k < ground_.rows->end(link); ++k) {
                std::uint32_t const name = state_.readings.reference[ground_.rows->row(k)];
                if (name == verdict::Dictionary::missing || place_of_name_[name] == no_entry) continue;
                if (std::find(names.rbegin(), names.rend(), name) == names.rend()) names.push_back(name);
                wanted = wanted || !only || (*only)[name];
            }
            if (names.empty() || !wanted) continue;
            current_.clear();
            if (names.size() > 1) {
                for (Place const& place : places(link, LatestPlaces::any_reference))
                    current_.push_back(place.row);
                std::sort(current_.begin(), current_.end());
            }
            for (std::uint32_t const name : names)
                if (!only || (*only)[name]) add_test(link, name, names.size() > 1);
        }
        for (std::size_t i = 0; i < references_.size(); ++i)
            if (!only || (*only)[references_[i].name]) finish(i);
    }

  private:
    std::vector<Place> const& places(std::size_t link, std::uint32_t name)
    {
        return latest_.of(ground_.tasks.kinds[ground_.tasks.links[link].kind], ground_.verdicts.columns[link],
                          link, name);
    }

    void add_test(std::size_t link, std::uint32_t name, bool several)
    {
        verdict::LinkKind const& judged = ground_.tasks.kinds[ground_.tasks.links[link].kind];
        verdict::ReadingColumns const& readings = state_.readings;
        std::size_t const columns = ground_.verdicts.columns[link];
        std::size_t const at = place_of_name_[name];
        WatchedReference& reference = references_[at];
        WatchedTest test;
        test.link = static_cast<std::uint32_t>(link);
        test.at_ms = std::numeric_limits<std::int64_t>::max();
        test.first_row = std::numeric_limits<std::uint32_t>::max();
        test.first_cell = static_cast<std::uint32_t>(reference.excess.size());
        test.wavelengths = static_cast<std::uint8_t>(judged.wavelengths);
        test.columns = static_cast<std::uint8_t>(columns);
        reference.excess.resize(reference.excess.size() + judged.wavelengths * columns,
                                std::numeric_limits<float>::quiet_NaN());
        float* const cells = reference.excess.data() + test.first_cell;
        for (Place const& place : places(link, name)) {
            std::uint32_t const row = place.row;
            test.at_ms = std::min(test.at_ms, readings.taken_ms[row]);
            test.first_row = std::min(test.first_row, row);
            // A hold that an earlier look of the watch set does not count.
            if (ground_.hold[row] != 0 &&
                ground_.hold[row] != static_cast<std::uint8_t>(verdict::HoldKind::reference_doubted))
                test.otherwise_held = true;
            double const value = readings.value[row];
            if (readings.far_position[row] == verdict::far_dark || !std::isfinite(value)) continue;
            test.directions |= static_cast<std::uint8_t>(1U << place.end);
            ExpectedAt const& expected = *expectation_.at(link, place.wavelength);
            double const fibre = expectation_.fibre_db(link, expected);
            float& cell = cells[place.wavelength * columns + static_cast<std::size_t>(place.position - 1)];
            auto const excess = static_cast<float>(value - fibre);
            cell = std::isnan(cell) ? excess : (cell + excess) / 2;
            if (!several || std::binary_search(current_.begin(), current_.end(), row))
                weigh_low(at, value, expected, fibre, row);
        }
        // A test without a single lit fibre says nothing about its reference.
        if (test.directions == 0) {
            reference.excess.resize(test.first_cell);
            return;
        }
        reference.positions = std::max(reference.positions, columns);
        for (std::size_t w = 0; w < judged.wavelengths; ++w) {
            auto const at_nm = std::lower_bound(reference.wavelengths.begin(), reference.wavelengths.end(),
                                                judged.wavelength_nm[w]);
            bool const known = at_nm != reference.wavelengths.end() && *at_nm == judged.wavelength_nm[w];
            bool const lit = std::any_of(cells + w * columns, cells + (w + 1) * columns,
                                         [](float cell) { return !std::isnan(cell); });
            if (lit && !known) reference.wavelengths.insert(at_nm, judged.wavelength_nm[w]);
        }
        reference.tests.push_back(test);
    }

    void weigh_low(std::size_t reference, double value, ExpectedAt const& expected, double fibre,
                   std::uint32_t row)
    {
        double const u = std::hypot(expected.reading_u, expected.common_u);
        if (value < fibre - 2 * u) low_[reference].push_back(row);
        loss::ShiftedGamma loss = expected.joints;
        loss.shift += fibre;
        // The joints in the reference may be worse than those of the link: then a small gain is possible.
        double const least =
            state_.settings.method == setup::ReferenceMethod::one_cord ? fibre : loss.mean() - 3 * loss.sd();
        negative_[reference].add(value, loss, least, u, row);
    }

    void finish(std::size_t at)
    {
        WatchedReference& reference = references_[at];
        std::sort(reference.tests.begin(), reference.tests.end(),
                  [](WatchedTest const& a, WatchedTest const& b) {
                      return a.at_ms != b.at_ms ? a.at_ms < b.at_ms : a.first_row < b.first_row;
                  });
        reference.negative = negative_[at].evidence();
        if (!reference.negative.suspect()) return;
        Doubt doubt;
        doubt.kind = DoubtKind::negative_loss;
        doubt.rows = std::move(low_[at]);
        doubt.size = Decibel{reference.negative.worst_db};
        doubt.size_u = Decibel{expectation_.at(state_.readings.link[doubt.rows.front()], 0)->common_u};
        doubt.material = true;
        int const position = state_.readings.position[doubt.rows.front()];
        bool const one_position = std::all_of(doubt.rows.begin(), doubt.rows.end(), [&](std::uint32_t row) {
            return state_.readings.position[row] == position;
        });
        doubt.position = one_position ? position : 0;
        reference.doubts.push_back(std::move(doubt));
    }

    JobState const& state_;
    Groundwork const& ground_;
    Expectation const& expectation_;
    std::vector<WatchedReference>& references_;
    std::vector<std::size_t> place_of_name_; // by name in the readings: index into references_
    std::vector<std::vector<std::uint32_t>> low_;
    std::vector<watch::NegativeLossWatch> negative_;
    std::vector<std::uint32_t> current_;
    LatestPlaces latest_;
};

} // namespace

void gather_tests(JobState const& state, Groundwork const& ground, Expectation const& expectation,
                  std::vector<bool> const* only, std::vector<WatchedReference>& references)
{
    Gathering(state, ground, expectation, references).gather(only);
}

} // namespace guidepin::job

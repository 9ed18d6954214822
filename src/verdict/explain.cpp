// SPDX-License-Identifier: Apache-2.0
#include "verdict/explain.hpp"

#include "base/text.hpp"
#include "plant/map_view.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

namespace guidepin::verdict {
namespace {

/// Positions for people: "3", "3, 5-8".
std::string position_list(std::vector<int> positions)
{
    std::sort(positions.begin(), positions.end());
    positions.erase(std::unique(positions.begin(), positions.end()), positions.end());
    std::string text;
    for (std::size_t i = 0; i < positions.size();) {
        std::size_t last = i;
        while (last + 1 < positions.size() && positions[last + 1] == positions[last] + 1) ++last;
        if (!text.empty()) text += ", ";
        text +=
            last == i ? fmt::format("{}", positions[i]) : fmt::format("{}-{}", positions[i], positions[last]);
        i = last + 1;
    }
    return text;
}

char const* end_name(LaunchEnd end)
{
    return end == LaunchEnd::a ? "A" : "B";
}

class Explainer
{
  public:
    Explainer(ReadingColumns const& readings, RowsByLink const& rows, JudgeTasks const& tasks,
              Verdicts const& verdicts, std::size_t link, Writing const& writing)
        : readings_(readings)
        , writing_(writing)
        , rules_(tasks.rules)
        , task_(tasks.links[link])
        , kind_(tasks.kinds[task_.kind])
        , verdicts_(verdicts)
        , verdict_(verdicts.links[link])
        , link_(link)
    {
        for (std::uint32_t i = rows.begin(link); i < rows.end(link); ++i) {
            std::uint32_t const row = rows.row(i);
            std::uint8_t const flags = verdicts.reading_flags[row];
            if (flags & not_planned)
                unplanned_.push_back(row);
            else if (!(flags & superseded))
                current_.push_back(row);
        }
    }

    LinkDetail detail()
    {
        fibres();
        findings();
        return std::move(detail_);
    }

  private:
    void fibres()
    {
        bool const has_map = !kind_.a_to_b.empty();
        plant::Occupancy const counted = task_.counted.any() ? task_.counted : kind_.occupied_a;
        for (int const p : plant::positions_of(kind_.occupied_a)) {
            FibreDetail fibre;
            fibre.position_a = p;
            fibre.expected_b = has_map ? kind_.a_to_b.at(p) : 0;
            fibre.counts = counted.test(static_cast<std::size_t>(p - 1));
            fibre.state = State::pass;
            int const q = has_map ? fibre.expected_b : p;
            bool conflict = false;
            for (std::size_t w = 0; w < kind_.wavelengths; ++w) {
                PlaceDetail place = place_of(p, q, w);
                for (auto const& row : {place.row_a, place.row_b}) {
                    if (!row) continue;
                    fibre.polarity_wrong |= (verdicts_.reading_flags[*row] & wrong_far) != 0;
                }
                if (place.row_a && readings_.far_position[*place.row_a] != far_not_stated) {
                    int const far = readings_.far_position[*place.row_a];
                    conflict |= fibre.measured_b != far_not_stated && fibre.measured_b != far;
                    fibre.measured_b = far;
                }
                if (w < kind_.required || place.state != State::open)
                    fibre.state = worse(fibre.state, place.state);
                fibre.places.push_back(place);
            }
            if (fibre.measured_b > 0 && !conflict) detail_.measured.connect(p, fibre.measured_b);
            detail_.fibres.push_back(std::move(fibre));
        }
        // What only the readings from B say.
        for (std::uint32_t const row : current_) {
            if (readings_.launch_end[row] != LaunchEnd::b || readings_.far_position[row] <= 0) continue;
            int const p = readings_.far_position[row];
            if (p > plant::max_positions || detail_.measured.at(p) != 0) continue;
            detail_.measured.connect(p, readings_.position[row]);
            for (FibreDetail& fibre : detail_.fibres) {
                if (fibre.position_a == p && fibre.measured_b == far_not_stated) {
                    fibre.measured_b = readings_.position[row];
                }
            }
        }
    }

    PlaceDetail place_of(int p, int q, std::size_t w) const
    {
        PlaceDetail place;
        place.wavelength_nm = kind_.wavelength_nm[w];
        place.required = w < kind_.required;
        place.limit_db = task_.limit_db[w];
        for (std::uint32_t const row : current_) {
            if (readings_.wavelength_nm[row] != place.wavelength_nm) continue;
            if (readings_.launch_end[row] == LaunchEnd::a && readings_.position[row] == p) {
                place.row_a = row;
                place.from_a_db = readings_.value[row];
            } else if (readings_.launch_end[row] == LaunchEnd::b && readings_.position[row] == q) {
                place.row_b = row;
                place.from_b_db = readings_.value[row];
            }
        }
        bool const a = !std::isnan(place.from_a_db);
        bool const b = !std::isnan(place.from_b_db);
        UncertaintyModel const& model = kind_.uncertainty[w];
        if (a && b) place.mean_db = (place.from_a_db + place.from_b_db) / 2;
        bool const mean = a && b && rules_.two == TwoDirections::mean;
        place.counted_db = mean     ? place.mean_db
                           : a && b ? std::max(place.from_a_db, place.from_b_db)
                           : a      ? place.from_a_db
                                    : place.from_b_db;
        if (a || b) {
            place.margin_db = place.limit_db - place.counted_db;
            place.u_db = mean ? model.u_of_mean(place.from_a_db, place.from_b_db) : model.u(place.counted_db);
            place.guard_db = guard_band(rules_, place.u_db);
            if (!std::isnan(place.limit_db)) {
                place.p_conform =
                    probability_of_conformity(place.counted_db, place.u_db, {-no_bound, place.limit_db})
                        .value();
            }
        }
        place.state = verdicts_.cell_state[verdicts_.cell(link_, w, p)];
        return place;
    }

    void add(LinkFinding bit, char const* id, std::string text, std::string action,
             std::vector<int> positions, bool decides = true)
    {
        if (!(verdict_.findings & bit)) return;
        detail_.findings.push_back(
            Finding{id, std::move(text), std::move(action), std::move(positions), decides});
    }

    template <class Test>
    std::vector<int> positions_where(Test test) const
    {
        std::vector<int> result;
        for (FibreDetail const& fibre : detail_.fibres) {
            if (fibre.counts && test(fibre)) result.push_back(fibre.position_a);
        }
        return result;
    }

    std::vector<int> flagged(std::uint8_t flag) const
    {
        return positions_where([&](FibreDetail const& fibre) {
            return std::any_of(fibre.places.begin(), fibre.places.end(), [&](PlaceDetail const& place) {
                return (place.row_a && verdicts_.reading_flags[*place.row_a] & flag) ||
                       (place.row_b && verdicts_.reading_flags[*place.row_b] & flag);
            });
        });
    }

    std::string worst_text() const
    {
        return fmt::format("Position {} at {} nm, {}: {} against a limit of {}.", verdict_.worst_position,
                           verdict_.worst_wavelength_nm,
                           verdict_.worst_is_mean
                               ? std::string{"mean of both directions"}
                               : fmt::format("launched from {}", end_name(verdict_.worst_end)),
                           dB(verdict_.worst_attenuation_db), dB(verdict_.worst_limit_db));
    }

    void findings()
    {
        auto const state_is = [](std::initializer_list<State> wanted) {
            return [wanted = std::vector<State>(wanted)](FibreDetail const& fibre) {
                return std::find(wanted.begin(), wanted.end(), fibre.state) != wanted.end();
            };
        };
        auto const beyond = positions_where(state_is({State::fail, State::marginal_fail}));
        auto const dark =
            positions_where([](FibreDetail const& fibre) { return fibre.measured_b == far_dark; });
        // A fibre through which nothing comes has no loss worth stating: the sentence says first that it is
        // dark.
        std::string const first =
            dark.empty() ? worst_text()
                         : fmt::format("No light arrives from {} {}.",
                                       dark.size() == 1 ? "position" : "positions", position_list(dark));
        add(loss_beyond, "loss-beyond-limit",
            fmt::format("{} of {} fibres lose more than their limit. {}", beyond.size(), verdict_.fibres,
                        first),
            dark.empty() ? "Inspect and clean both ends of these positions, then measure them again."
                         : "Look for a break, a position without a fibre, or a joint that is not mated.",
            beyond);
        polarity();
        length();
        add(some_held, "held",
            fmt::format("Under a reference now in doubt: {} of {} readings.", verdict_.held,
                        verdict_.current),
            "Settle the reference with a cord check that is accepted, or measure again under a new one.", {});
        missing();
        add(no_limit, "no-limit",
            "The rule set has no limit for a required wavelength of this fibre category.",
            "Take another rule set, or take the wavelength off the job's list.", {});
        if (!(verdict_.findings & loss_beyond) || verdict_.loss == State::marginal_fail) {
            add(loss_marginal, "loss-marginal",
                fmt::format("The result lies closer to the limit than the guard band of {}. {}",
                            dB(guard_band(rules_, verdict_.u_db)), worst_text()),
                "Clean and measure again; the decision rule of the contract says who accepts it.",
                positions_where(state_is({State::marginal_pass, State::marginal_fail})));
        }
        add(gain_impossible, "gain-impossible",
            fmt::format(
                "An attenuation below zero by more than {}: no passive cabling gains. The reference is in "
                "doubt.",
                dB(rules_.negative_tolerance_db)),
            "Set a new reference: inspect and clean, warm up, check the cords; then measure these again.",
            flagged(impossible_gain), false);
        add(gain_seen, "gain-seen",
            fmt::format("An attenuation slightly below zero, within {}: measurement error on a short link.",
                        dB(rules_.negative_tolerance_db)),
            "", flagged(below_zero), false);
        add(some_not_planned, "not-planned",
            fmt::format("Readings of positions or wavelengths that this link does not have: {}.",
                        unplanned_.size()),
            "Check the schedule's fibres and the name of the link.", {}, false);
        add(retested, "retested", "Earlier readings were superseded by later ones; they are kept.", "", {},
            false);
        std::stable_partition(detail_.findings.begin(), detail_.findings.end(),
                              [](Finding const& finding) { return finding.decides; });
    }

    void polarity()
    {
        auto const wrong = positions_where([](FibreDetail const& fibre) { return fibre.polarity_wrong; });
        plant::PositionMap expected = kind_.a_to_b;
        plant::PositionMap measured = detail_.measured;
        for (FibreDetail const& fibre : detail_.fibres) {
            if (fibre.measured_b == far_not_stated) { // not measured is not dark
                expected.disconnect(fibre.position_a);
                measured.disconnect(fibre.position_a);
            }
        }
        add(polarity_wrong, "polarity-wrong",
            fmt::format("{} of {} fibres do not arrive where the plan sends them: {}.", wrong.size(),
                        verdict_.fibres, plant::difference_text(plant::difference(expected, measured))),
            "Compare cords, adapters and trunk with the plan before anything is moved.", wrong);
        std::vector<int> extra;
        for (std::uint32_t const row : unplanned_) {
            if (verdicts_.reading_flags[row] & wrong_far) extra.push_back(readings_.position[row]);
        }
        add(light_where_dark, "light-where-dark",
            fmt::format("Light arrives from positions that should hold no fibre: {}.", position_list(extra)),
            "Check that this is the planned trunk, and its fibre count.", {});
        auto const unknown = positions_where([](FibreDetail const& fibre) {
            return fibre.measured_b == far_not_stated && !fibre.polarity_wrong;
        });
        add(polarity_missing, "polarity-missing",
            fmt::format("No reading says where the light of these positions arrives: {}.",
                        position_list(unknown)),
            "Measure with far positions, or confirm the map in another way and say so in the job.", unknown);
    }

    void length()
    {
        if (verdict_.findings & length_wrong) {
            add(length_wrong, "length-wrong",
                fmt::format("Measured {} to {}, drawn {}, tolerance {}.", metres(verdict_.length_least_m),
                            metres(verdict_.length_most_m), metres(task_.length_m),
                            metres(length_tolerance(rules_, task_.length_m))),
                "Check that the right link was measured, and the drawing. The limit follows the length.",
                flagged(wrong_length));
        }
        add(length_missing, "length-missing", "No length was measured.", "Measure the length.", {});
        if (verdict_.findings & length_scattered) {
            add(length_scattered, "length-scattered",
                fmt::format(
                    "The fibres of this link differ in length: {} to {}. Those of one trunk agree within "
                    "about 1 % or 1 m.",
                    metres(verdict_.length_least_m), metres(verdict_.length_most_m)),
                "A stray length means fibres of another trunk.", {}, false);
        }
    }

    void missing()
    {
        if (!(verdict_.findings & readings_missing)) return;
        auto const positions = positions_where([&](FibreDetail const& fibre) {
            return std::any_of(fibre.places.begin(), fibre.places.end(), [&](PlaceDetail const& place) {
                int const measured = !std::isnan(place.from_a_db) + !std::isnan(place.from_b_db);
                return place.required && measured < rules_.directions;
            });
        });
        add(readings_missing, "readings-missing",
            verdict_.current == 0 ? std::string{"This link has not been measured."}
                                  : fmt::format("Readings missing: {}, at positions {}.", verdict_.missing,
                                                position_list(positions)),
            "Measure what is missing.", positions);
    }

    std::string number(double value, int decimals) const
    {
        std::string text = fixed_text(value, decimals);
        std::replace(text.begin(), text.end(), '.', writing_.decimal);
        return text;
    }
    std::string dB(double value) const { return number(value, 2) + " dB"; }
    std::string metres(double value) const
    {
        return writing_.feet ? number(value / metres_per_foot, 0) + " ft" : number(value, 1) + " m";
    }

    ReadingColumns const& readings_;
    Writing writing_;
    JudgeRules const& rules_;
    LinkTask const& task_;
    LinkKind const& kind_;
    Verdicts const& verdicts_;
    LinkVerdict const& verdict_;
    std::size_t link_;
    std::vector<std::uint32_t> current_, unplanned_;
    LinkDetail detail_;
};

} // namespace

LinkDetail explain(ReadingColumns const& readings, RowsByLink const& rows, JudgeTasks const& tasks,
                   Verdicts const& verdicts, std::size_t link, Writing const& writing)
{
    return Explainer{readings, rows, tasks, verdicts, link, writing}.detail();
}

} // namespace guidepin::verdict

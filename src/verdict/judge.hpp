// SPDX-License-Identifier: Apache-2.0
// From readings to verdicts: of each reading, each fibre, each link. Loss against the limit under the job's
// decision rule, polarity against the expected map, length against the drawing, and whether all that was
// promised has been measured. Retests supersede by (launch end, position, wavelength); nothing is deleted.
//
// Built for a million readings: columns in, columns out, no allocation and no call through a pointer for a
// reading. The room starts no thread: judge_links() works on a range of links and writes to their own places
// only, so that callers run ranges side by side. Rules in words: docs/methods/verdict.md. Verified by:
// tests/unit/verdict/judge.cpp, tests/unit/verdict/judge_properties.cpp (order of rows, directions, rules),
// tests/oracle/verdict/judge.cpp (against a plain model by brute force).
#pragma once

#include "plant/fibre_map.hpp"
#include "units/quantity.hpp"
#include "verdict/conformity.hpp"
#include "verdict/readings.hpp"
#include "verdict/uncertainty.hpp"

#include <array>
#include <cstdint>
#include <limits>
#include <span>
#include <string>
#include <vector>

namespace guidepin::verdict {

constexpr std::size_t max_wavelengths = 4;

/// What links of one kind share. Positions are those of the readings.
struct LinkKind
{
    plant::PositionMap a_to_b; ///< expected; empty where the plan does not say (polarity is then not judged)
    plant::PositionMap b_to_a;
    plant::Occupancy occupied_a, occupied_b;
    /// Wavelengths that have a limit, the required ones first; 1 to max_wavelengths.
    std::array<std::uint16_t, max_wavelengths> wavelength_nm{};
    std::array<UncertaintyModel, max_wavelengths> uncertainty{};
    std::size_t wavelengths = 0;
    std::size_t required = 0; ///< the first so many must be measured
};
/// Where the plan says nothing of the map, set occupied_a and occupied_b alone: a fibre then has one number
/// at both ends. A kind from the expected map: inverse and occupations follow. Wavelengths are added by the
/// caller.
LinkKind kind_of(plant::PositionMap const& a_to_b);

enum class TwoDirections : std::uint8_t {
    each, ///< every direction has to hold by itself
    mean, ///< where both were measured, their mean in dB is what is judged
};

struct JudgeRules
{
    DecisionRule decision = DecisionRule::simple_acceptance;
    /// w = guard * u: normal_quantile(p) for a probability p, or r * k. Not below 0.
    double guard = 1.6448536269514722;
    int directions = 1; ///< 1: any launch end; 2: both
    TwoDirections two = TwoDirections::each;
    bool require_polarity = true; ///< without a far position the link stays open
    bool require_length = false;  ///< without a measured length the link stays open
    double length_tolerance_fraction = 0.05;
    double length_tolerance_m = 2;
    /// Readings below minus this are flagged as an impossible gain.
    double negative_tolerance_db = 0.05;
};

/// One link to judge.
struct LinkTask
{
    std::uint32_t kind = 0;                         ///< index into JudgeTasks::kinds
    std::array<double, max_wavelengths> limit_db{}; ///< in the order of the kind; NaN: no limit, not judged
    double length_m = std::numeric_limits<double>::quiet_NaN(); ///< as drawn; NaN: length is not judged
    plant::Occupancy counted; ///< positions at A that decide; none set: all occupied ones
};

/// What a reading is, beside its State. Bits of Verdicts::reading_flags.
enum ReadingFlag : std::uint8_t {
    superseded = 1,      ///< a later reading of the same place replaces it
    below_zero = 2,      ///< attenuation below zero
    impossible_gain = 4, ///< below zero beyond the tolerance
    wrong_far = 8,       ///< light arrived elsewhere than expected, or nowhere
    wrong_length = 16,   ///< beyond the tolerance
    not_planned = 32,    ///< a position or wavelength that the link does not have
    no_value = 64,       ///< NaN: no attenuation is known
};

/// What was found about a link. Bits of LinkVerdict::findings; find_text() has the words.
enum LinkFinding : std::uint32_t {
    loss_beyond = 1u << 0,
    polarity_wrong = 1u << 1,
    light_where_dark = 1u << 2, ///< light at a position that should have no fibre
    length_wrong = 1u << 3,
    length_scattered = 1u << 4, ///< lengths of the fibres differ by more than 1 % and 1 m: a remark
    readings_missing = 1u << 5,
    polarity_missing = 1u << 6,
    length_missing = 1u << 7,
    gain_seen = 1u << 8,       ///< readings below zero within the tolerance: a remark
    gain_impossible = 1u << 9, ///< beyond it: doubt the reference
    some_held = 1u << 10,
    some_not_planned = 1u << 11, ///< positions or wavelengths that the link does not have: a remark
    retested = 1u << 12,
    loss_marginal = 1u << 13,
    no_limit = 1u << 14, ///< a required wavelength without a limit
};

/// The verdict of a link. Margins and losses in dB; NaN where there is none.
struct LinkVerdict
{
    State state = State::open;
    State loss = State::open;
    State polarity = State::open;
    State length = State::open;
    State completeness = State::open; ///< pass or open
    LaunchEnd worst_end = LaunchEnd::a;
    bool worst_is_mean = false;
    std::uint8_t worst_position = 0; ///< at A; 0: nothing measured
    std::uint8_t fibres = 0;         ///< counted
    std::uint8_t fibres_accepted = 0;
    std::uint8_t fibres_polarity_wrong = 0;
    std::uint16_t worst_wavelength_nm = 0;
    std::uint32_t findings = 0; ///< LinkFinding bits
    std::uint32_t readings = 0; ///< rows of this link
    std::uint32_t current = 0;  ///< of these, not superseded and planned
    std::uint32_t held = 0;     ///< of the current ones
    std::uint32_t missing = 0;  ///< places (fibre, required wavelength, required direction) not measured
    float length_least_m = std::numeric_limits<float>::quiet_NaN();
    float length_most_m = std::numeric_limits<float>::quiet_NaN();
    double worst_attenuation_db = std::numeric_limits<double>::quiet_NaN();
    double worst_limit_db = std::numeric_limits<double>::quiet_NaN();
    double margin_db = std::numeric_limits<double>::quiet_NaN(); ///< of the worst
    double u_db = std::numeric_limits<double>::quiet_NaN();
    double p_conform = std::numeric_limits<double>::quiet_NaN(); ///< of the worst
};

/// All tasks of a run. Task i belongs to index i of readings.links.
struct JudgeTasks
{
    std::vector<LinkKind> kinds;
    std::vector<LinkTask> links;
    JudgeRules rules;
};

/// Rows of each link together. Reads the columns once; no copy where the file has them together already.
class RowsByLink
{
  public:
    /// `links`: at least readings.links.size(); links without readings have no rows.
    RowsByLink(ReadingColumns const& readings, std::size_t links);
    std::size_t links() const { return first_.size() - 1; }
    std::uint32_t begin(std::size_t link) const { return first_[link]; }
    std::uint32_t end(std::size_t link) const { return first_[link + 1]; }
    std::uint32_t row(std::uint32_t index) const { return rows_.empty() ? index : rows_[index]; }

  private:
    std::vector<std::uint32_t> first_;
    std::vector<std::uint32_t> rows_; // empty when in order already
};

/// Results. For the row drawing, cells of a link lie together: cell(link, wavelength, position at A).
struct Verdicts
{
    std::vector<LinkVerdict> links;
    std::vector<State> reading_state;        ///< by row of the readings
    std::vector<std::uint8_t> reading_flags; ///< by row: ReadingFlag bits
    std::vector<std::uint32_t> first_cell;   ///< by link, one more at the end
    std::vector<std::uint8_t> columns;       ///< by link: positions in a row of cells
    /// Attenuation / limit of what counts at that place (the worse direction, or the mean); NaN: not
    /// measured.
    std::vector<float> ratio;
    std::vector<State> cell_state;

    std::size_t cell(std::size_t link, std::size_t wavelength, int position) const
    {
        return first_cell[link] + wavelength * columns[link] + static_cast<std::size_t>(position - 1);
    }
};

/// Returns places for the results of all links. Throws nothing but std::bad_alloc. Error: invalid_input for a
/// task whose kind does not exist, a kind without wavelengths, fewer tasks than links.
Result<Verdicts> prepare_verdicts(ReadingColumns const& readings, JudgeTasks const& tasks);

/// What links are judged by. The parts must outlive it.
struct JudgeInput
{
    ReadingColumns const& readings; ///< attenuations (is_power false)
    RowsByLink const& rows;
    JudgeTasks const& tasks;
    std::span<std::uint8_t const> hold = {}; ///< by row: non-zero if the reading is held; empty: none is
};

/// Judges links first … last-1 into `verdicts`.
void judge_links(JudgeInput const& input, std::size_t first, std::size_t last, Verdicts& verdicts);

/// Guard band of a reading in dB, as judge_links() uses it.
inline double guard_band(JudgeRules const& rules, double u)
{
    return rules.decision == DecisionRule::simple_acceptance ? 0 : rules.guard * u;
}

/// Tolerance of a link's length in metres: the larger of the two.
inline double length_tolerance(JudgeRules const& rules, double drawn_m)
{
    return std::max(rules.length_tolerance_m, rules.length_tolerance_fraction * drawn_m);
}

} // namespace guidepin::verdict

// SPDX-License-Identifier: Apache-2.0
#include "verdict/judge.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>
#include <tuple>

namespace guidepin::verdict {
namespace {

constexpr std::int32_t none = -1;
constexpr std::size_t ends = 2;
constexpr std::size_t places = ends * max_wavelengths * static_cast<std::size_t>(plant::max_positions);
constexpr float nan_f = std::numeric_limits<float>::quiet_NaN();

int columns_of(LinkKind const& kind)
{
    int columns = 0;
    for (int p = 1; p <= plant::max_positions; ++p) {
        auto const bit = static_cast<std::size_t>(p - 1);
        if (kind.occupied_a.test(bit) || kind.occupied_b.test(bit)) columns = p;
    }
    return columns;
}

/// One link's work: where the current readings are, then what they say.
class LinkJudge
{
  public:
    LinkJudge(ReadingColumns const& readings, JudgeTasks const& tasks, std::span<std::uint8_t const> hold,
              Verdicts& verdicts)
        : readings_(readings)
        , tasks_(tasks)
        , rules_(tasks.rules)
        , hold_(hold)
        , verdicts_(verdicts)
    {
    }

    void judge(std::size_t link, RowsByLink const& rows)
    {
        task_ = &tasks_.links[link];
        if (kind_ != &tasks_.kinds[task_->kind]) {
            kind_ = &tasks_.kinds[task_->kind];
            has_map_ = !kind_->a_to_b.empty();
        }
        columns_ = verdicts_.columns[link];
        counted_ = task_->counted.any() ? task_->counted & kind_->occupied_a : kind_->occupied_a;
        out_ = LinkVerdict{};
        out_.readings = rows.end(link) - rows.begin(link);
        std::fill_n(latest_.begin(), ends * kind_->wavelengths * columns_, none);
        least_m_ = std::numeric_limits<double>::infinity();
        most_m_ = -least_m_;
        polarity_sure_ = length_sure_ = false;
        unplanned_.clear();
        for (std::uint32_t i = rows.begin(link); i < rows.end(link); ++i) place(rows.row(i));
        if (!unplanned_.empty()) judge_unplanned();
        judge_readings();
        judge_fibres(link);
        judge_length();
        conclude();
        verdicts_.links[link] = out_;
    }

  private:
    std::size_t slot(std::size_t end, std::size_t wavelength, int position) const
    {
        return (end * kind_->wavelengths + wavelength) * columns_ + static_cast<std::size_t>(position - 1);
    }

    /// The later reading of a place counts; of two at one time the later row.
    void place(std::uint32_t row)
    {
        verdicts_.reading_flags[row] = 0;
        int const position = readings_.position[row];
        std::size_t const end = readings_.launch_end[row] == LaunchEnd::a ? 0 : 1;
        std::size_t wavelength = 0;
        while (wavelength < kind_->wavelengths &&
               kind_->wavelength_nm[wavelength] != readings_.wavelength_nm[row]) {
            ++wavelength;
        }
        plant::Occupancy const& occupied = end == 0 ? kind_->occupied_a : kind_->occupied_b;
        if (position < 1 || position > static_cast<int>(columns_) ||
            !occupied.test(static_cast<std::size_t>(position - 1)) || wavelength == kind_->wavelengths) {
            unplanned_.push_back(row);
            return;
        }
        std::int32_t& latest = latest_[slot(end, wavelength, position)];
        if (latest == none) {
            latest = static_cast<std::int32_t>(row);
            return;
        }
        out_.findings |= retested;
        auto const before = static_cast<std::uint32_t>(latest);
        auto const newer = [this](std::uint32_t a, std::uint32_t b) {
            return readings_.taken_ms[a] != readings_.taken_ms[b]
                       ? readings_.taken_ms[a] > readings_.taken_ms[b]
                       : a > b;
        };
        std::uint32_t const old = newer(row, before) ? before : row;
        latest = static_cast<std::int32_t>(newer(row, before) ? row : before);
        // A superseded reading keeps what it said by itself.
        verdicts_.reading_flags[old] = superseded;
        judge_reading(old, end, wavelength, false);
    }

    /// Places that the link does not have. Rare, so these may be sorted; of each place the latest counts here
    /// too.
    void judge_unplanned()
    {
        auto const place_of = [this](std::uint32_t row) {
            return std::tuple{readings_.launch_end[row], readings_.position[row],
                              readings_.wavelength_nm[row]};
        };
        std::sort(unplanned_.begin(), unplanned_.end(), [&](std::uint32_t a, std::uint32_t b) {
            return std::tuple{place_of(a), readings_.taken_ms[a], a} <
                   std::tuple{place_of(b), readings_.taken_ms[b], b};
        });
        out_.findings |= some_not_planned;
        for (std::size_t i = 0; i < unplanned_.size(); ++i) {
            std::uint32_t const row = unplanned_[i];
            bool const old = i + 1 < unplanned_.size() && place_of(unplanned_[i + 1]) == place_of(row);
            verdicts_.reading_flags[row] =
                static_cast<std::uint8_t>(old ? not_planned | superseded : not_planned);
            verdicts_.reading_state[row] = is_held(row) ? State::held : State::open;
            if (old || !dark_place(row) || readings_.far_position[row] <= 0) continue;
            // Light that lands somewhere from a hole that should be empty: another trunk, or other fibres in
            // it.
            verdicts_.reading_flags[row] |= wrong_far;
            out_.findings |= light_where_dark;
            if (!is_held(row)) polarity_sure_ = true;
        }
    }

    bool dark_place(std::uint32_t row) const
    {
        int const p = readings_.position[row];
        plant::Occupancy const& occupied =
            readings_.launch_end[row] == LaunchEnd::a ? kind_->occupied_a : kind_->occupied_b;
        return has_map_ && p >= 1 && p <= plant::max_positions &&
               !occupied.test(static_cast<std::size_t>(p - 1));
    }

    void judge_readings()
    {
        for (std::size_t end = 0; end < ends; ++end) {
            for (std::size_t w = 0; w < kind_->wavelengths; ++w) {
                for (int p = 1; p <= static_cast<int>(columns_); ++p) {
                    std::int32_t const row = latest_[slot(end, w, p)];
                    if (row == none) continue;
                    ++out_.current;
                    judge_reading(static_cast<std::uint32_t>(row), end, w, true);
                }
            }
        }
    }

    void judge_reading(std::uint32_t row, std::size_t end, std::size_t wavelength, bool current)
    {
        std::uint8_t flags = verdicts_.reading_flags[row];
        double const value = readings_.value[row];
        double const limit = task_->limit_db[wavelength];
        State state = State::open;
        if (std::isnan(value)) {
            flags |= no_value;
        } else {
            if (value < 0) flags |= below_zero;
            if (value < -rules_.negative_tolerance_db) flags |= impossible_gain;
            if (!std::isnan(limit)) {
                double const u = rules_.decision == DecisionRule::simple_acceptance
                                     ? 0
                                     : kind_->uncertainty[wavelength].u(value);
                state = state_of(limit - value, guard_band(rules_, u), rules_.decision);
            }
        }
        if (is_held(row)) state = State::held;
        int const far = readings_.far_position[row];
        plant::PositionMap const& map = end == 0 ? kind_->a_to_b : kind_->b_to_a;
        if (far != far_not_stated && has_map_ && far != map.at(readings_.position[row])) {
            flags |= wrong_far;
        }
        double const length = readings_.length_m[row];
        if (!std::isnan(length)) {
            if (!std::isnan(task_->length_m) &&
                std::abs(length - task_->length_m) > length_tolerance(rules_, task_->length_m)) {
                flags |= wrong_length;
            }
            if (current) {
                least_m_ = std::min(least_m_, length);
                most_m_ = std::max(most_m_, length);
            }
        }
        if (current) {
            if (flags & impossible_gain)
                out_.findings |= gain_impossible;
            else if (flags & below_zero)
                out_.findings |= gain_seen;
            if (flags & wrong_length) {
                out_.findings |= length_wrong;
                length_sure_ |= !is_held(row);
            }
            if (is_held(row)) ++out_.held;
        }
        verdicts_.reading_flags[row] = flags;
        verdicts_.reading_state[row] = state;
    }

    bool is_held(std::uint32_t row) const { return !hold_.empty() && hold_[row] != 0; }

    /// Fibres by their position at A; the place at B is where the plan sends it.
    void judge_fibres(std::size_t link)
    {
        State loss = State::pass;
        bool polarity_known = true;
        for (int p = 1; p <= static_cast<int>(columns_); ++p) {
            if (!kind_->occupied_a.test(static_cast<std::size_t>(p - 1))) continue;
            bool const counts = counted_.test(static_cast<std::size_t>(p - 1));
            State fibre = State::pass;
            bool far_seen = false;
            bool far_wrong = false;
            for (std::size_t w = 0; w < kind_->wavelengths; ++w) {
                State const cell = judge_cell(link, w, p, counts, far_seen, far_wrong);
                bool const needed = w < kind_->required;
                if (needed || cell != State::open) fibre = worse(fibre, cell);
            }
            if (!counts) continue;
            ++out_.fibres;
            loss = worse(loss, fibre);
            if (far_wrong) ++out_.fibres_polarity_wrong;
            if (!far_seen) polarity_known = false;
            if (accepted(fibre, rules_.decision) && !far_wrong) ++out_.fibres_accepted;
        }
        out_.loss = out_.fibres ? loss : State::open;
        if (out_.fibres_polarity_wrong > 0) out_.findings |= polarity_wrong;
        bool const wrong = out_.fibres_polarity_wrong > 0 || (out_.findings & light_where_dark);
        // What only held readings say may be the fault of the test cords: it is held, not failed.
        if (wrong) {
            out_.polarity = polarity_sure_ ? State::fail : State::held;
        } else if (has_map_ && polarity_known && out_.fibres > 0) {
            out_.polarity = State::pass;
        }
    }

    State judge_cell(std::size_t link, std::size_t w, int p, bool counts, bool& far_seen, bool& far_wrong)
    {
        std::array<std::int32_t, ends> row{latest_[slot(0, w, p)], none};
        if (int const q = has_map_ ? kind_->a_to_b.at(p) : p; q >= 1 && q <= static_cast<int>(columns_)) {
            row[1] = latest_[slot(1, w, q)];
        }
        double const limit = task_->limit_db[w];
        bool const required = w < kind_->required;
        State state = State::pass;
        std::array<double, ends> value{};
        int measured = 0;
        for (std::size_t end = 0; end < ends; ++end) {
            if (row[end] == none) continue;
            auto const r = static_cast<std::uint32_t>(row[end]);
            if (readings_.far_position[r] != far_not_stated) far_seen = true;
            if (verdicts_.reading_flags[r] & wrong_far) {
                far_wrong = true;
                polarity_sure_ |= counts && !is_held(r);
            }
            if (verdicts_.reading_flags[r] & no_value) {
                row[end] = none;
                continue;
            }
            ++measured;
            value[end] = readings_.value[r];
            state = worse(state, verdicts_.reading_state[r]);
        }
        if (counts && required) {
            int const lacking = std::max(0, rules_.directions - measured);
            out_.missing += static_cast<std::uint32_t>(lacking);
            if (std::isnan(limit)) out_.findings |= no_limit;
        }
        std::size_t const cell = verdicts_.cell(link, w, p);
        if (measured == 0 || std::isnan(limit)) {
            verdicts_.ratio[cell] = nan_f;
            return verdicts_.cell_state[cell] = State::open;
        }
        bool const mean = measured == 2 && rules_.two == TwoDirections::mean;
        double counted = row[1] == none ? value[0] : row[0] == none ? value[1] : std::max(value[0], value[1]);
        if (mean) {
            counted = (value[0] + value[1]) / 2;
            if (state != State::held) {
                double const u = kind_->uncertainty[w].u_of_mean(value[0], value[1]);
                state = state_of(limit - counted, guard_band(rules_, u), rules_.decision);
            }
        }
        if (counts) note_worst(w, p, {counted, limit, mean}, row, value);
        if (measured < rules_.directions && required) state = worse(state, State::open);
        verdicts_.ratio[cell] = static_cast<float>(limit > 0     ? counted / limit
                                                   : counted > 0 ? std::numeric_limits<double>::infinity()
                                                                 : 0.0);
        return verdicts_.cell_state[cell] = state;
    }

    struct Loss
    {
        double counted, limit;
        bool mean; ///< of both directions
    };
    void note_worst(std::size_t w, int p, Loss const& loss, std::array<std::int32_t, ends> const& row,
                    std::array<double, ends> const& value)
    {
        double const margin = loss.limit - loss.counted;
        if (out_.worst_position != 0 && !(margin < out_.margin_db)) return;
        out_.margin_db = margin;
        out_.worst_attenuation_db = loss.counted;
        out_.worst_limit_db = loss.limit;
        out_.worst_position = static_cast<std::uint8_t>(p);
        out_.worst_wavelength_nm = kind_->wavelength_nm[w];
        out_.worst_is_mean = loss.mean;
        out_.worst_end =
            row[0] == none || (row[1] != none && value[1] > value[0]) ? LaunchEnd::b : LaunchEnd::a;
        worst_w_ = w;
        worst_values_ = value;
    }

    void judge_length()
    {
        bool const measured = most_m_ >= least_m_;
        if (measured) {
            out_.length_least_m = static_cast<float>(least_m_);
            out_.length_most_m = static_cast<float>(most_m_);
            if (most_m_ - least_m_ > std::max(1.0, 0.01 * most_m_)) out_.findings |= length_scattered;
        }
        if (out_.findings & length_wrong) {
            out_.length = length_sure_ ? State::fail : State::held;
        } else if (measured && !std::isnan(task_->length_m)) {
            out_.length = State::pass;
        }
    }

    void conclude()
    {
        if (out_.worst_position != 0) {
            UncertaintyModel const& model = kind_->uncertainty[worst_w_];
            out_.u_db = out_.worst_is_mean ? model.u_of_mean(worst_values_[0], worst_values_[1])
                                           : model.u(out_.worst_attenuation_db);
            out_.p_conform = probability_of_conformity(out_.worst_attenuation_db, out_.u_db,
                                                       Interval{-no_bound, out_.worst_limit_db})
                                 .value();
        }
        if (out_.missing > 0) out_.findings |= readings_missing;
        if (out_.held > 0) out_.findings |= some_held;
        if (out_.loss == State::fail || out_.loss == State::marginal_fail) out_.findings |= loss_beyond;
        if (out_.loss == State::marginal_pass || out_.loss == State::marginal_fail)
            out_.findings |= loss_marginal;
        bool const want_polarity = rules_.require_polarity && has_map_;
        bool const want_length = rules_.require_length && !std::isnan(task_->length_m);
        if (want_polarity && out_.polarity == State::open) out_.findings |= polarity_missing;
        if (want_length && out_.length == State::open) out_.findings |= length_missing;
        bool const complete =
            !(out_.findings & (readings_missing | polarity_missing | length_missing | no_limit));
        out_.completeness = complete && out_.fibres > 0 ? State::pass : State::open;
        State state = worse(out_.loss, out_.completeness);
        if (out_.polarity == State::fail || out_.polarity == State::held) state = worse(state, out_.polarity);
        if (out_.length == State::fail || out_.length == State::held) state = worse(state, out_.length);
        out_.state = state;
    }

    ReadingColumns const& readings_;
    JudgeTasks const& tasks_;
    JudgeRules const& rules_;
    std::span<std::uint8_t const> hold_;
    Verdicts& verdicts_;
    LinkTask const* task_ = nullptr;
    LinkKind const* kind_ = nullptr;
    bool has_map_ = false;
    bool polarity_sure_ = false;
    bool length_sure_ = false;
    std::vector<std::uint32_t> unplanned_;
    std::size_t columns_ = 0;
    plant::Occupancy counted_;
    LinkVerdict out_;
    std::size_t worst_w_ = 0;
    std::array<double, ends> worst_values_{};
    double least_m_ = 0;
    double most_m_ = 0;
    std::array<std::int32_t, places> latest_{};
};

} // namespace

LinkKind kind_of(plant::PositionMap const& a_to_b)
{
    LinkKind kind;
    kind.a_to_b = a_to_b;
    kind.b_to_a = a_to_b.inverse();
    kind.occupied_a = a_to_b.near_positions();
    kind.occupied_b = a_to_b.far_positions();
    return kind;
}

RowsByLink::RowsByLink(ReadingColumns const& readings, std::size_t links)
    : first_(links + 1, 0)
{
    bool in_order = true;
    std::uint32_t before = 0;
    for (std::uint32_t const link : readings.link) {
        ++first_[link + 1];
        in_order &= link >= before;
        before = link;
    }
    for (std::size_t i = 1; i < first_.size(); ++i) first_[i] += first_[i - 1];
    if (in_order) return;
    rows_.resize(readings.size());
    std::vector<std::uint32_t> next(first_.begin(), first_.end() - 1);
    for (std::size_t row = 0; row < readings.size(); ++row) {
        rows_[next[readings.link[row]]++] = static_cast<std::uint32_t>(row);
    }
}

Result<Verdicts> prepare_verdicts(ReadingColumns const& readings, JudgeTasks const& tasks)
{
    if (readings.is_power) {
        return Error{Errc::internal,
                     "Readings are still powers: take the reference off them before judging."};
    }
    if (tasks.links.size() < readings.links.size()) {
        return Error{Errc::internal, fmt::format("{} links have readings, and only {} are to be judged.",
                                                 readings.links.size(), tasks.links.size())};
    }
    std::vector<int> columns;
    for (LinkKind const& kind : tasks.kinds) {
        if (kind.wavelengths < 1 || kind.wavelengths > max_wavelengths || kind.required > kind.wavelengths) {
            return Error{Errc::invalid_input,
                         fmt::format("{} wavelengths, {} of them required: a link has 1 to {}.",
                                     kind.wavelengths, kind.required, max_wavelengths)};
        }
        columns.push_back(columns_of(kind));
    }
    Verdicts verdicts;
    verdicts.first_cell.reserve(tasks.links.size() + 1);
    verdicts.columns.reserve(tasks.links.size());
    std::size_t cells = 0;
    for (LinkTask const& task : tasks.links) {
        if (task.kind >= tasks.kinds.size()) {
            return Error{Errc::internal,
                         fmt::format("A link of kind {}; there are {}.", task.kind, tasks.kinds.size())};
        }
        verdicts.first_cell.push_back(static_cast<std::uint32_t>(cells));
        verdicts.columns.push_back(static_cast<std::uint8_t>(columns[task.kind]));
        cells += tasks.kinds[task.kind].wavelengths * static_cast<std::size_t>(columns[task.kind]);
    }
    verdicts.first_cell.push_back(static_cast<std::uint32_t>(cells));
    verdicts.links.resize(tasks.links.size());
    verdicts.reading_state.resize(readings.size(), State::open);
    verdicts.reading_flags.resize(readings.size(), 0);
    verdicts.ratio.resize(cells, nan_f);
    verdicts.cell_state.resize(cells, State::open);
    return verdicts;
}

void judge_links(JudgeInput const& input, std::size_t first, std::size_t last, Verdicts& verdicts)
{
    LinkJudge judge{input.readings, input.tasks, input.hold, verdicts};
    for (std::size_t link = first; link < last; ++link) judge.judge(link, input.rows);
}

} // namespace guidepin::verdict

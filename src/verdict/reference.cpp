// SPDX-License-Identifier: Apache-2.0
#include "verdict/reference.hpp"

#include "base/text.hpp"
#include "verdict/decibel_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

namespace guidepin::verdict {
namespace {

struct Fibre
{
    int readings = 0;
    double mean = 0;
    double lowest = 0;
    double highest = 0;
    double squares = 0; // of deviations from the mean
};
/// By wavelength, then position: the order of everything that is said.
using Fibres = std::map<int, std::map<int, Fibre>>;

Fibres fibres_of(std::span<ReferencePower const> powers, plant::Occupancy const& occupied)
{
    // Sorted values give one order of summation for any order of input.
    std::map<int, std::map<int, std::vector<double>>> values;
    for (auto const& power : powers)
        if (power.position >= 1 && power.position <= plant::max_positions &&
            occupied[static_cast<std::size_t>(power.position - 1)] && std::isfinite(power.power.value()))
            values[power.wavelength.value()][power.position].push_back(power.power.value());
    Fibres fibres;
    for (auto& [wavelength, row] : values)
        for (auto& [position, readings] : row) {
            std::sort(readings.begin(), readings.end());
            Fibre fibre;
            fibre.readings = static_cast<int>(readings.size());
            fibre.lowest = readings.front();
            fibre.highest = readings.back();
            for (double const value : readings) fibre.mean += value;
            fibre.mean /= fibre.readings;
            for (double const value : readings) fibre.squares += (value - fibre.mean) * (value - fibre.mean);
            fibres[wavelength][position] = fibre;
        }
    return fibres;
}

std::string dbm_text(double value)
{
    return fixed_text(value, 2) + " dBm";
}

class ReferenceJudge
{
  public:
    explicit ReferenceJudge(ReferenceQuestion const& question)
        : question_(question)
        , fibres_(fibres_of(question.powers, question.occupied))
    {
    }

    Result<ReferenceAssessment> run()
    {
        if (question_.tables == nullptr)
            return Error{Errc::usage, fmt::format("Reference {}: say which tables apply.", question_.id)};
        if (question_.wavelengths.empty() || question_.occupied.none())
            return Error{Errc::usage,
                         fmt::format("Reference {}: say which wavelengths and positions it has to "
                                     "cover.",
                                     question_.id)};
        for (auto const wavelength : question_.wavelengths) required_.insert(wavelength.value());
        complete();
        rows();
        TRY(powers());
        TRY(repeats());
        TRY(age());
        items();
        TRY(warm_up());
        TRY(drift());
        result_.state = acceptance_of(result_.reasons);
        return std::move(result_);
    }

  private:
    void add(char const* id, Severity severity, std::string text, std::string what_to_do,
             facts::Fact const* fact = nullptr)
    {
        result_.reasons.push_back(Reason{id, severity, std::move(text), std::move(what_to_do),
                                         fact ? fact->id : std::string{},
                                         fact ? std::optional{fact->basis} : std::nullopt});
    }

    Severity at(ReferenceRow const& row, Severity severity) const
    {
        return row.required ? severity : Severity::remark;
    }

    void complete()
    {
        for (int const wavelength : required_) {
            plant::Occupancy const needed = question_.needed.any() ? question_.needed : question_.occupied;
            plant::Occupancy missing = needed;
            if (auto const row = fibres_.find(wavelength); row != fibres_.end())
                for (auto const& [position, fibre] : row->second)
                    missing.reset(static_cast<std::size_t>(position - 1));
            if (missing.none()) continue;
            add("reference.incomplete", Severity::refuse,
                fmt::format("No power at {} nm for {} of {} positions: {}.", wavelength, missing.count(),
                            needed.count(), plant::occupancy_text(missing)),
                "Take the reference again over all positions.");
        }
        std::set<int> outside;
        for (auto const& power : question_.powers)
            if (power.position < 1 || power.position > plant::max_positions ||
                !question_.occupied[static_cast<std::size_t>(power.position - 1)])
                outside.insert(power.position);
        if (outside.empty()) return;
        std::vector<std::string> texts;
        for (int const position : outside) texts.push_back(std::to_string(position));
        add("reference.position-unexpected", Severity::remark,
            fmt::format("Powers for positions that carry no fibre here: {}. They are not used.",
                        joined(texts, ", ")),
            "Compare the connector with the plan: another cord may have been referenced.");
    }

    void rows()
    {
        for (auto const& [wavelength, fibres] : fibres_) {
            ReferenceRow row;
            row.wavelength = Nanometres{wavelength};
            row.required = required_.contains(wavelength);
            double sum = 0;
            double squares = 0;
            int freedom = 0;
            for (auto const& [position, fibre] : fibres) {
                sum += fibre.mean;
                row.readings += fibre.readings;
                if (row.fibres == 0 || fibre.mean < row.lowest.value()) {
                    row.lowest = Dbm{fibre.mean};
                    row.lowest_position = position;
                }
                if (row.fibres == 0 || fibre.mean > row.highest.value()) {
                    row.highest = Dbm{fibre.mean};
                    row.highest_position = position;
                }
                ++row.fibres;
                squares += fibre.squares;
                freedom += fibre.readings - 1;
                double const width = fibre.highest - fibre.lowest;
                if (fibre.readings > 1 && (row.widest_position == 0 || width > row.widest.value())) {
                    row.widest = Decibel{width};
                    row.widest_position = position;
                }
            }
            row.mean = Dbm{sum / row.fibres};
            row.spread = row.highest - row.lowest;
            if (freedom > 0) row.repeatability = Decibel{std::sqrt(squares / freedom)};
            result_.rows.push_back(row);
        }
    }

    Outcome powers()
    {
        std::string const window = std::string{"readiness.power."} + facts::name_of(question_.kind);
        TRY_ASSIGN(auto const* const lowest, needed_fact(*question_.tables, window + ".lowest"));
        TRY_ASSIGN(auto const* const highest, needed_fact(*question_.tables, window + ".highest"));
        TRY_ASSIGN(auto const* const remark, needed_fact(*question_.tables, "readiness.spread.remark"));
        TRY_ASSIGN(auto const* const refuse, needed_fact(*question_.tables, "readiness.spread.refuse"));
        for (auto const& row : result_.rows) {
            int const nm = row.wavelength.value();
            plant::Occupancy low;
            plant::Occupancy high;
            for (auto const& [position, fibre] : fibres_.at(nm)) {
                auto const bit = static_cast<std::size_t>(position - 1);
                if (fibre.mean < lowest->value - rounding) low.set(bit);
                if (fibre.mean > highest->value + rounding) high.set(bit);
            }
            if (low.any())
                add("reference.power-low", at(row, Severity::refuse),
                    fmt::format(
                        "At {} nm too little light in positions {}: down to {} in {}, {} is the least "
                        "that is plausible.",
                        nm, plant::occupancy_text(low), dbm_text(row.lowest.value()), row.lowest_position,
                        dbm_text(lowest->value)),
                    "With the source off, inspect and clean cord and ports; let the source warm up; repeat.",
                    lowest);
            if (high.any())
                add("reference.power-high", at(row, Severity::refuse),
                    fmt::format(
                        "At {} nm too much light in positions {}: up to {} in {}, {} is the most that "
                        "is plausible.",
                        nm, plant::occupancy_text(high), dbm_text(row.highest.value()), row.highest_position,
                        dbm_text(highest->value)),
                    "Check source, wavelength setting and unit; repeat. Do not look into the cord.", highest);
            if (row.spread.value() > remark->value + rounding) {
                auto const* const fact = row.spread.value() > refuse->value + rounding ? refuse : remark;
                add("reference.spread", at(row, fact == refuse ? Severity::refuse : Severity::remark),
                    fmt::format("At {} nm the positions differ by {}: {} in {}, {} in {}; {} is allowed.", nm,
                                db_text(row.spread.value()), dbm_text(row.lowest.value()),
                                row.lowest_position, dbm_text(row.highest.value()), row.highest_position,
                                db_text(fact->value)),
                    fmt::format(
                        "With the source off, inspect and clean position {} of the launch cord and of "
                        "the ports; repeat.",
                        row.lowest_position),
                    fact);
            }
        }
        return {};
    }

    Outcome repeats()
    {
        TRY_ASSIGN(auto const* const most, needed_fact(*question_.tables, "readiness.drift-check"));
        for (auto const& row : result_.rows) {
            if (row.widest.value() <= most->value + rounding) continue;
            add("reference.not-repeatable", at(row, Severity::refuse),
                fmt::format(
                    "At {} nm repeated powers of position {} differ by {}; {} is what a reference may "
                    "drift.",
                    row.wavelength.value(), row.widest_position, db_text(row.widest.value()),
                    db_text(most->value)),
                "Let the source warm up, keep the cord still, clean, and repeat the reference.", most);
        }
        return {};
    }

    Outcome age()
    {
        TRY_ASSIGN(auto const* const remark,
                   needed_fact(*question_.tables, "readiness.reference.age.remark"));
        TRY_ASSIGN(auto const* const refuse,
                   needed_fact(*question_.tables, "readiness.reference.age.refuse"));
        std::optional<Instant> first = question_.taken;
        std::optional<Instant> last = question_.taken;
        for (auto const& power : question_.powers) {
            if (!power.taken) continue;
            // Equal moments in two zones: the smaller offset, for one text in any order of input.
            auto const earlier = [](Instant const& a, Instant const& b) {
                return std::tie(a.ms, a.offset_minutes) < std::tie(b.ms, b.offset_minutes);
            };
            if (!first || earlier(*power.taken, *first)) first = power.taken;
            if (!last || earlier(*last, *power.taken)) last = power.taken;
        }
        result_.taken = first;
        last_ = last;
        if (!first) {
            add("reference.time-missing", Severity::refuse,
                "Neither the reference nor any of its powers has a time: its age, and what was measured "
                "under "
                "it, cannot be known.",
                "State when it was taken.");
            return {};
        }
        if (!question_.at) return {};
        if (last->ms > question_.at->ms) {
            add("reference.later-than-use", Severity::refuse,
                fmt::format("Taken at {}, after its use at {}.", instant_text(*last),
                            instant_text(*question_.at)),
                "Check the clocks of instrument and computer; use a reference taken before.");
            return {};
        }
        double const hours = static_cast<double>(question_.at->ms - first->ms) / 3'600'000.0;
        double const most = question_.max_age_hours.value_or(refuse->value);
        if (hours > most + rounding)
            add("reference.too-old", Severity::refuse,
                fmt::format("{} h old; {} h is the most{}.", fixed_text(hours, 1), number_text(most),
                            question_.max_age_hours ? " in this job" : ""),
                "Take a new reference.", question_.max_age_hours ? nullptr : refuse);
        else if (hours > remark->value + rounding)
            add("reference.old", Severity::remark,
                fmt::format("{} h old; after {} h a new one is the habit.", fixed_text(hours, 1),
                            number_text(remark->value)),
                "Take a new reference before the next links.", remark);
        return {};
    }

    void item(ItemUsed const& used)
    {
        if (used.id.empty()) {
            add("reference.item-missing", Severity::refuse,
                fmt::format("No {} is named: what voids the reference cannot be known.", used.role),
                fmt::format("Name the {} by its serial number.", used.role));
            return;
        }
        if (!used.known)
            add("reference.item-unknown", Severity::refuse,
                fmt::format("The {} {} is not in the list of this job.", used.role, used.id),
                "Add it with its particulars, or correct its number.");
        if (!used.needs_calibration) return;
        if (!used.calibrated_until) {
            add("reference.calibration-unknown", Severity::remark,
                fmt::format("Until when the calibration of {} {} holds is not stated.", used.role, used.id),
                "Enter the date from its certificate.");
            return;
        }
        // The reference can be older than today's date: what counts is its own time, to its last reading.
        std::optional<Instant> used_at = last_;
        if (!used_at) used_at = question_.at;
        if (!used_at || used_at->ms <= used.calibrated_until->ms) return;
        if (!used.calibration_override.empty())
            add("reference.calibration-overridden", Severity::remark,
                fmt::format("The calibration of {} {} ended {}; the reference was taken {}. Used anyway by "
                            "decision of {}.",
                            used.role, used.id, date_text(*used.calibrated_until), date_text(*used_at),
                            used.calibration_override),
                "Attach the certificate of its next calibration.");
        else
            add("reference.calibration-over", Severity::refuse,
                fmt::format("The calibration of {} {} ended {}; the reference was taken {}.", used.role,
                            used.id, date_text(*used.calibrated_until), date_text(*used_at)),
                "Use one in calibration, or enter the new certificate.");
    }

    void items()
    {
        auto named = [](ItemUsed used, char const* role) {
            if (used.role.empty()) used.role = role;
            return used;
        };
        item(named(question_.source, "source"));
        item(named(question_.meter, "meter"));
        if (question_.cords.empty()) item(ItemUsed{"launch cord", {}, false, false, {}});
        auto cords = question_.cords;
        for (auto& cord : cords) cord = named(cord, "cord");
        std::sort(cords.begin(), cords.end(), [](ItemUsed const& a, ItemUsed const& b) {
            return std::tie(a.role, a.id) < std::tie(b.role, b.id);
        });
        for (auto const& cord : cords) item(cord);
    }

    Outcome warm_up()
    {
        TRY_ASSIGN(auto const* const usual, needed_fact(*question_.tables, "readiness.warm-up"));
        TRY_ASSIGN(auto const* const least, needed_fact(*question_.tables, "readiness.warm-up.common"));
        if (!question_.warm_up_minutes) return {};
        double const minutes = *question_.warm_up_minutes;
        double const maker = question_.warm_up_by_maker_minutes.value_or(0);
        if (minutes < maker - rounding)
            add("reference.warm-up", Severity::refuse,
                fmt::format("The source was on for {} min; its maker asks for {} min.", number_text(minutes),
                            number_text(maker)),
                "Leave the source on, then take the reference again.");
        else if (minutes < usual->value - rounding) {
            auto const* const fact = minutes < least->value - rounding ? least : usual;
            add("reference.warm-up", fact == least ? Severity::refuse : Severity::remark,
                fmt::format("The source was on for {} min; {} min is the least.", number_text(minutes),
                            number_text(fact->value)),
                "Leave the source on, then take the reference again.", fact);
        }
        return {};
    }

    Outcome drift()
    {
        TRY_ASSIGN(auto const* const most, needed_fact(*question_.tables, "readiness.drift-check"));
        if (question_.earlier.empty()) return {};
        auto const earlier = fibres_of(question_.earlier, question_.occupied);
        bool compared = false;
        for (auto& row : result_.rows) {
            auto const before = earlier.find(row.wavelength.value());
            if (before == earlier.end()) continue;
            double sum = 0;
            int count = 0;
            for (auto const& [position, fibre] : fibres_.at(row.wavelength.value())) {
                auto const old = before->second.find(position);
                if (old == before->second.end()) continue;
                double const change = fibre.mean - old->second.mean;
                sum += change;
                if (count == 0 || std::abs(change) > std::abs(row.largest_drift.value())) {
                    row.largest_drift = Decibel{change};
                    row.largest_drift_position = position;
                }
                ++count;
            }
            if (count == 0) continue;
            compared = true;
            row.drift = Decibel{sum / count};
            if (std::abs(row.largest_drift.value()) <= most->value + rounding) continue;
            result_.earlier_has_drifted = true;
            add("reference.drift", Severity::remark,
                fmt::format(
                    "At {} nm position {} changed by {} since the earlier reference, all positions by "
                    "{} on average; {} is allowed.",
                    row.wavelength.value(), row.largest_drift_position, db_text(row.largest_drift.value()),
                    db_text(row.drift->value()), db_text(most->value)),
                "Measure again the links since the last good check of the earlier reference.", most);
        }
        if (!compared)
            add("reference.drift-not-compared", Severity::remark,
                "The earlier reference has no position and wavelength in common with this one.",
                "Compare with a reference of the same cords and wavelengths.");
        return {};
    }

    ReferenceQuestion const& question_;
    Fibres fibres_;
    std::set<int> required_;
    std::optional<Instant> last_; // reading of the reference
    ReferenceAssessment result_;
};

} // namespace

Result<ReferenceAssessment> check_reference(ReferenceQuestion const& question)
{
    return ReferenceJudge{question}.run();
}

} // namespace guidepin::verdict

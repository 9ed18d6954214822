// SPDX-License-Identifier: Apache-2.0
#include "verdict/cord_check.hpp"

#include "base/text.hpp"
#include "verdict/attenuation.hpp"
#include "verdict/decibel_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

namespace guidepin::verdict {
namespace {

using facts::Basis;
using facts::Fact;
using loss::LimitLine;

LimitLine line_of(std::string what, double count, std::string unit, Fact const& fact)
{
    return LimitLine{std::move(what), count,       std::move(unit), fact.value, Decibel{fact.value * count},
                     fact.id,         fact.source, fact.basis,      fact.note};
}

Decibel sum_of(std::vector<LimitLine> const& lines)
{
    Decibel sum{0};
    for (auto const& line : lines) sum += line.loss;
    return sum;
}

class CordCheckJudge
{
  public:
    explicit CordCheckJudge(CordCheckQuestion const& question)
        : question_(question)
    {
    }

    Result<CordAssessment> run()
    {
        TRY(check_question());
        TRY(limits());
        TRY_ASSIGN(auto const* const absolute, needed_fact(*question_.tables, "length.agreement.absolute"));
        TRY_ASSIGN(auto const* const relative, needed_fact(*question_.tables, "length.agreement.relative"));
        fibres(*absolute, *relative);
        losses();
        polarity();
        lengths(*absolute, *relative);
        result_.state = acceptance_of(result_.reasons);
        return std::move(result_);
    }

  private:
    Error usage(std::string const& text) const
    {
        return Error{Errc::usage, fmt::format("Cord check {}: {}", question_.id, text)};
    }

    Outcome check_question() const
    {
        if (question_.rules == nullptr || question_.category == nullptr || question_.tables == nullptr)
            return usage("say which tables, rule set and fibre category apply.");
        if (question_.wavelengths.empty() || question_.occupied.none())
            return usage("say which wavelengths and positions it has to cover.");
        if (question_.joints < 1 || question_.joints > 10)
            return usage(fmt::format("{} joints; 1 to 10 can be.", question_.joints));
        if (!(question_.added_length.value() >= 0 && question_.added_length.value() <= 1000))
            return usage(fmt::format("{} m of added fibre; 0 to 1000 m can be.",
                                     number_text(question_.added_length.value())));
        int const in_reference = setup::joints_in_reference(question_.method);
        if (question_.joints < in_reference)
            return Error{Errc::refused,
                         fmt::format("Cord check {}: {} joints, but the {} already has {}. State the "
                                     "joints in the light path during the check.",
                                     question_.id, question_.joints, setup::words_of(question_.method),
                                     in_reference)};
        return {};
    }

    Outcome limits()
    {
        auto const kind = question_.category->kind;
        auto const joint = question_.rules->reference_joint.find({question_.cords, kind});
        if (joint == question_.rules->reference_joint.end())
            return Error{Errc::not_found,
                         fmt::format("Rule set {} has no value for a joint of {}-grade {} cords inside a "
                                     "reference. Use another rule set or other cords.",
                                     question_.rules->id, facts::name_of(question_.cords),
                                     facts::name_of(kind))};
        std::string const kind_name = facts::name_of(kind);
        bool const reference_grade = question_.cords == facts::CordGrade::reference;
        std::string const habit_id = !reference_grade ? "readiness.cord-check.standard." + kind_name
                                     : question_.array
                                         ? "readiness.cord-check.mpo." + kind_name
                                         : "readiness.cord-check.reference." + kind_name + ".field";
        TRY_ASSIGN(auto const* const habit, needed_fact(*question_.tables, habit_id));
        TRY_ASSIGN(auto const* const remade,
                   needed_fact(*question_.tables, "readiness.cord-check.remade." + kind_name));

        std::set<int> wavelengths;
        for (auto const wavelength : question_.wavelengths) wavelengths.insert(wavelength.value());
        auto const required = wavelengths;
        for (auto const& reading : question_.readings) wavelengths.insert(reading.wavelength.value());

        int const in_reference = setup::joints_in_reference(question_.method);
        int const net = question_.joints - in_reference;
        for (int const nm : wavelengths) {
            auto const* const alpha = question_.rules->coefficient(question_.category->id, Nanometres{nm});
            if (alpha == nullptr) {
                if (!required.contains(nm)) {
                    add("cord-check.no-limit", Severity::remark,
                        fmt::format("Readings at {} nm: rule set {} has no value for {} there. They are not "
                                    "judged.",
                                    nm, question_.rules->id, question_.category->id),
                        "Nothing, unless links are to be judged at this wavelength.");
                    continue;
                }
                return Error{Errc::not_found,
                             fmt::format("Rule set {} has no attenuation coefficient for {} at {} nm.",
                                         question_.rules->id, question_.category->id, nm)};
            }
            auto const fibre = line_of(fmt::format("Fibre added, {} at {} nm", question_.category->id, nm),
                                       question_.added_length.kilometres(), "dB/km", *alpha);
            CordLimit limit;
            limit.wavelength = Nanometres{nm};
            if (net > 0) {
                limit.by_rules.push_back(line_of("Joints", question_.joints, "dB", joint->second));
                if (in_reference > 0)
                    limit.by_rules.push_back(
                        line_of("Joints in the reference", -in_reference, "dB", joint->second));
                limit.by_practice.push_back(
                    line_of("Joints, less those in the reference", net, "dB", *habit));
            } else {
                // The joints of the reference, made once more: nothing is added but how they repeat. Two
                // matings that each lose between nothing and their allowance differ by that at most.
                limit.by_rules.push_back(
                    line_of("A joint of the reference, made again", 1, "dB", joint->second));
                limit.by_practice.push_back(
                    line_of("A joint of the reference, made again", 1, "dB", *remade));
            }
            limit.by_rules.push_back(fibre);
            limit.by_practice.push_back(fibre);
            limit.rules = sum_of(limit.by_rules);
            limit.practice = sum_of(limit.by_practice);
            limit.good_from = limit.refused_below = -negative_tolerance(*question_.tables, question_.method);
            if (net == 0) {
                limit.good_from = -Decibel{std::min(joint->second.value, remade->value)};
                limit.refused_below = -Decibel{std::max(joint->second.value, remade->value)};
            }
            for (auto const* const lines : {&limit.by_rules, &limit.by_practice})
                for (auto const& line : *lines)
                    if (line.count != 0 && line.basis == Basis::memory) limit.rests_on_memory = true;
            if (question_.joint_mean)
                limit.predicted = *question_.joint_mean * static_cast<double>(net) + fibre.loss;
            result_.limits.push_back(std::move(limit));
        }
        return {};
    }

    CordLimit const* limit_at(int nm) const
    {
        for (auto const& limit : result_.limits)
            if (limit.wavelength.value() == nm) return &limit;
        return nullptr;
    }

    bool occupied(int position) const
    {
        return position >= 1 && position <= plant::max_positions &&
               question_.occupied[static_cast<std::size_t>(position - 1)];
    }

    CordResult result_of(CordReading const& reading, CordLimit const& limit) const
    {
        double const value = reading.attenuation.value();
        if (reading.far_position == far_dark) return CordResult::dark;
        if (!std::isfinite(value)) return CordResult::missing;
        if (value < limit.refused_below.value() - rounding) return CordResult::below_zero;
        if (value < limit.good_from.value() - rounding) return CordResult::low;
        double const low = std::min(limit.rules.value(), limit.practice.value());
        double const high = std::max(limit.rules.value(), limit.practice.value());
        return value <= low + rounding    ? CordResult::good
               : value <= high + rounding ? CordResult::high
                                          : CordResult::too_high;
    }

    double length_tolerance(Fact const& absolute, Fact const& relative) const
    {
        return std::max(absolute.value, relative.value / 100.0 * question_.expected_length->value());
    }

    void fibres(Fact const& absolute, Fact const& relative)
    {
        std::set<std::pair<int, int>> seen;
        std::set<int> outside;
        for (auto const& reading : question_.readings) {
            if (!occupied(reading.position)) {
                outside.insert(reading.position);
                continue;
            }
            int const nm = reading.wavelength.value();
            auto const* const limit = limit_at(nm);
            if (limit == nullptr) continue;
            seen.emplace(nm, reading.position);
            CordFibre fibre{reading.position,
                            reading.wavelength,
                            reading.far_position,
                            reading.attenuation,
                            reading.length_m,
                            result_of(reading, *limit),
                            false,
                            false};
            if (fibre.result == CordResult::dark || fibre.result == CordResult::missing)
                fibre.attenuation = Decibel{std::numeric_limits<double>::quiet_NaN()};
            if (question_.expected_map && reading.far_position > 0)
                fibre.wrong_place = question_.expected_map->at(reading.position) != reading.far_position;
            if (question_.expected_length && std::isfinite(reading.length_m))
                fibre.wrong_length = std::abs(reading.length_m - question_.expected_length->value()) >
                                     length_tolerance(absolute, relative) + rounding;
            result_.fibres.push_back(fibre);
        }
        for (auto const wavelength : question_.wavelengths)
            for (int const position :
                 plant::positions_of(question_.needed.any() ? question_.needed : question_.occupied))
                if (seen.emplace(wavelength.value(), position).second) {
                    CordFibre fibre;
                    fibre.position = position;
                    fibre.wavelength = wavelength;
                    fibre.attenuation = Decibel{std::numeric_limits<double>::quiet_NaN()};
                    result_.fibres.push_back(fibre);
                }
        std::sort(result_.fibres.begin(), result_.fibres.end(), [](CordFibre const& a, CordFibre const& b) {
            // NaN has no order of its own: before every number.
            auto const key = [](double value) {
                return std::isfinite(value) ? value : -std::numeric_limits<double>::infinity();
            };
            return std::make_tuple(a.wavelength.value(), a.position, key(a.attenuation.value()),
                                   a.far_position, key(a.length_m), a.result) <
                   std::make_tuple(b.wavelength.value(), b.position, key(b.attenuation.value()),
                                   b.far_position, key(b.length_m), b.result);
        });
        if (outside.empty()) return;
        std::vector<std::string> texts;
        for (int const position : outside) texts.push_back(std::to_string(position));
        add("cord-check.position-unexpected", Severity::remark,
            fmt::format("Readings of positions that carry no fibre here: {}. They are not used.",
                        joined(texts, ", ")),
            "Compare the cords with the plan.");
    }

    void losses()
    {
        struct Group
        {
            plant::Occupancy positions;
            double worst = 0;
            int worst_position = 0;
        };
        for (auto const& limit : result_.limits) {
            std::map<CordResult, Group> groups;
            for (auto const& fibre : result_.fibres) {
                if (fibre.wavelength != limit.wavelength) continue;
                auto& group = groups[fibre.result];
                group.positions.set(static_cast<std::size_t>(fibre.position - 1));
                double const value = fibre.attenuation.value();
                bool const below = fibre.result == CordResult::below_zero || fibre.result == CordResult::low;
                bool const worse = below ? value < group.worst : value > group.worst;
                if (group.worst_position == 0 || worse) {
                    group.worst = value;
                    group.worst_position = fibre.position;
                }
            }
            for (auto const& [result, group] : groups)
                add_finding(limit, result, group.positions, group.worst, group.worst_position);
        }
    }

    void add_finding(CordLimit const& limit, CordResult result, plant::Occupancy const& positions,
                     double worst, int worst_position)
    {
        int const nm = limit.wavelength.value();
        bool const rules_lower = limit.rules.value() <= limit.practice.value();
        auto const& low_line = rules_lower ? limit.by_rules.front() : limit.by_practice.front();
        auto const& high_line = rules_lower ? limit.by_practice.front() : limit.by_rules.front();
        double const low = std::min(limit.rules.value(), limit.practice.value());
        double const high = std::max(limit.rules.value(), limit.practice.value());
        auto const at = [&](char const* what) {
            return fmt::format("At {} nm {} in positions {}", nm, what, plant::occupancy_text(positions));
        };
        switch (result) {
        case CordResult::good:
            break;
        case CordResult::high:
            add("cord-check.high", Severity::remark,
                fmt::format("{}: up to {} in {}; {} is the stricter limit, {} the wider one.",
                            at("more loss than one limit allows"), db_text(worst), worst_position,
                            db_text(low), db_text(high)),
                "With the source off, inspect and clean these positions and check again.", &low_line);
            break;
        case CordResult::low:
            add("cord-check.low", Severity::remark,
                fmt::format("{}: down to {} in {}; {} is the stricter limit, {} the wider one.",
                            at("less loss than when the reference was taken"), db_text(worst), worst_position,
                            db_text(limit.good_from.value()), db_text(limit.refused_below.value())),
                "The joint was worse in the reference: with the source off, inspect and clean, then take the "
                "reference again if you can.",
                &low_line);
            break;
        case CordResult::too_high:
            add("cord-check.too-high", Severity::refuse,
                fmt::format("{}: up to {} in {}; {} is the most.", at("too much loss"), db_text(worst),
                            worst_position, db_text(high)),
                "With the source off, inspect and clean; check again; then replace the cord.", &high_line);
            break;
        case CordResult::below_zero:
            refuse_below_zero(limit, at("a loss below zero"), worst, worst_position);
            break;
        case CordResult::dark:
            add("cord-check.dark", Severity::refuse, at("no light") + ".",
                "Check that both plugs are seated and the cords are the ones of the plan; check "
                "again.");
            break;
        case CordResult::missing:
            add("cord-check.incomplete", Severity::refuse, at("no reading") + ".",
                "Measure all positions at this wavelength.");
            break;
        }
    }

    void refuse_below_zero(CordLimit const& limit, std::string const& what, double worst, int worst_position)
    {
        bool const remade = limit.refused_below < limit.good_from; // as wide below zero as above
        LimitLine const& wider =
            limit.rules > limit.practice ? limit.by_rules.front() : limit.by_practice.front();
        char const* const id = question_.method == setup::ReferenceMethod::one_cord
                                   ? "readiness.negative-loss.tolerance"
                                   : "readiness.negative-loss.tolerance.more-cords";
        auto const* const fact = question_.tables->fact(id);
        result_.reasons.push_back(
            Reason{"cord-check.below-zero", Severity::refuse,
                   fmt::format("{}: down to {} in {}; {} is still {}.", what, db_text(worst), worst_position,
                               db_text(limit.refused_below.value()),
                               remade ? "how a joint repeats" : "error of measurement"),
                   "Clean, reset the reference and repeat.",
                   remade ? wider.fact
                   : fact ? fact->id
                          : std::string{},
                   remade ? std::optional{wider.basis}
                   : fact ? std::optional{fact->basis}
                          : std::nullopt});
    }

    void polarity()
    {
        if (!question_.expected_map) return;
        plant::Occupancy stated;
        std::set<std::pair<int, int>> reported;
        std::vector<std::string> texts;
        for (auto const& fibre : result_.fibres) {
            if (fibre.far_position == far_not_stated) continue;
            stated.set(static_cast<std::size_t>(fibre.position - 1));
            if (!fibre.wrong_place || !reported.emplace(fibre.position, fibre.far_position).second) continue;
            int const expected = question_.expected_map->at(fibre.position);
            texts.push_back(
                expected == 0
                    ? fmt::format("{} at {} instead of nowhere", fibre.position, fibre.far_position)
                    : fmt::format("{} at {} instead of {}", fibre.position, fibre.far_position, expected));
        }
        result_.polarity_compared = stated.any();
        if (!texts.empty())
            add("cord-check.polarity", Severity::refuse,
                fmt::format("Light arrives elsewhere than expected: {}.", joined(texts, ", ")),
                "Check type and direction of the cords and the keys of the adapter; then reset the "
                "reference "
                "and repeat.");
        plant::Occupancy const silent =
            (question_.needed.any() ? question_.needed : question_.occupied) & ~stated;
        if (silent.any())
            add("cord-check.polarity-missing", Severity::remark,
                fmt::format("Where light arrives is not stated for positions {}.",
                            plant::occupancy_text(silent)),
                "Measure polarity with the cord check where the instrument can.");
    }

    void lengths(Fact const& absolute, Fact const& relative)
    {
        if (!question_.expected_length) return;
        double const expected = question_.expected_length->value();
        double const tolerance = length_tolerance(absolute, relative);
        auto const& fact = relative.value / 100.0 * expected > absolute.value ? relative : absolute;
        plant::Occupancy stray;
        double worst = 0;
        for (auto const& fibre : result_.fibres) {
            if (!std::isfinite(fibre.length_m)) continue;
            result_.length_compared = true;
            if (!fibre.wrong_length) continue;
            stray.set(static_cast<std::size_t>(fibre.position - 1));
            if (std::abs(fibre.length_m - expected) > std::abs(worst)) worst = fibre.length_m - expected;
        }
        if (stray.any())
            result_.reasons.push_back(
                Reason{"cord-check.length", Severity::remark,
                       fmt::format("Length of positions {} differs from {} m by up to {} m; {} m is usual.",
                                   plant::occupancy_text(stray), fixed_text(expected, 1),
                                   fixed_text(worst, 1), fixed_text(tolerance, 1)),
                       "See that it is the cord that the record names.", fact.id, fact.basis});
        else if (!result_.length_compared)
            add("cord-check.length-missing", Severity::remark, "No length was measured.",
                "Measure length with the cord check where the instrument can.");
    }

    void add(char const* id, Severity severity, std::string text, std::string what_to_do,
             LimitLine const* line = nullptr)
    {
        result_.reasons.push_back(Reason{id, severity, std::move(text), std::move(what_to_do),
                                         line ? line->fact : std::string{},
                                         line ? std::optional{line->basis} : std::nullopt});
    }

    CordCheckQuestion const& question_;
    CordAssessment result_;
};

} // namespace

Result<CordAssessment> check_cords(CordCheckQuestion const& question)
{
    return CordCheckJudge{question}.run();
}

Result<std::optional<Reason>> disagreement(CheckId const& earlier_id, std::span<CordReading const> earlier,
                                           CheckId const& later_id, std::span<CordReading const> later,
                                           facts::Tables const& tables)
{
    TRY_ASSIGN(facts::Fact const* const limit, needed_fact(tables, "readiness.drift-check"));
    std::map<std::pair<Nanometres, int>, double> before;
    for (CordReading const& reading : earlier) {
        if (std::isfinite(reading.attenuation.value()))
            before[{reading.wavelength, reading.position}] = reading.attenuation.value();
    }
    std::map<Nanometres, std::pair<double, int>> change; // sum and count
    for (CordReading const& reading : later) {
        auto const found = before.find({reading.wavelength, reading.position});
        if (found == before.end() || !std::isfinite(reading.attenuation.value())) continue;
        auto& [sum, count] = change[reading.wavelength];
        sum += reading.attenuation.value() - found->second;
        ++count;
    }
    for (auto const& [wavelength, total] : change) {
        double const mean = total.first / total.second;
        if (std::abs(mean) <= limit->value + rounding) continue;
        Reason reason;
        reason.id = "cord-check.disagrees";
        reason.severity = Severity::refuse;
        reason.text = fmt::format("Check {} differs from check {} by {} dB at {} nm on average over {} "
                                  "fibres; at most {} dB may lie between them.",
                                  later_id, earlier_id, fixed_text(mean, 2), wavelength.value(), total.second,
                                  number_text(limit->value));
        reason.what_to_do = fmt::format(
            "Take a new reference, and measure again what was measured since check {}.", earlier_id);
        reason.fact = limit->id;
        reason.basis = limit->basis;
        return std::optional<Reason>(std::move(reason));
    }
    return std::optional<Reason>{};
}

} // namespace guidepin::verdict

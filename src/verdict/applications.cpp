// SPDX-License-Identifier: Apache-2.0
#include "verdict/applications.hpp"

#include "base/text.hpp"
#include "plant/ports.hpp"
#include "plant/presets.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>
#include <map>

namespace guidepin::verdict {
namespace {

/// Numbers of the sentences, as the job writes them.
class Words
{
  public:
    explicit Words(Writing const& writing)
        : writing_(writing)
    {
    }
    std::string number(std::string text) const
    {
        std::replace(text.begin(), text.end(), '.', writing_.decimal);
        return text;
    }
    std::string number(double value) const { return number(number_text(value)); }
    /// Two decimals as a rule, more where they would hide the difference that decided.
    std::string dB(double value) const
    {
        std::string const two = fixed_text(value, 2);
        return number(std::abs(parse_number(two).value_or(0) - value) < 1e-9
                          ? two
                          : number_text(std::round(value * 1e4) / 1e4)) +
               " dB";
    }
    /// "164 m", "538 ft". A tenth of a foot where whole feet would hide the difference that decided.
    std::string metres(double value) const
    {
        double const shown = writing_.feet ? value / metres_per_foot : value;
        return number(std::round(shown * 10) / 10) + (writing_.feet ? " ft" : " m");
    }

  private:
    Writing writing_;
};

std::string list(std::vector<int> const& numbers)
{
    std::vector<std::string> parts;
    for (int const n : numbers) parts.push_back(fmt::format("{}", n));
    return joined(parts, ", ");
}

bool matches(facts::LaneMap const& map, plant::Family const& family)
{
    return family.key != plant::Family::Key::duplex && map.rows == family.rows &&
           map.columns == family.columns;
}

std::vector<plant::PortUse> uses_of(facts::LaneMap const& map)
{
    std::vector<plant::PortUse> uses;
    for (auto const& place : map.places)
        uses.push_back({plant::Place{0, place.position}, place.use, place.lane});
    return uses;
}

bool lanes_fit(plant::LaneVerdict verdict, facts::Application const& application)
{
    return verdict == plant::LaneVerdict::lane_true ||
           (verdict == plant::LaneVerdict::lanes_permuted && application.lane_order == facts::LaneOrder::any);
}

/// Many applications share an interface: its polarity over one channel is worked out once.
struct PolarityOver
{
    SupportCheck check;
    std::string cord; // near equipment cord; empty where none is needed or none fits
};
using Polarities = std::map<std::pair<facts::LaneMap const*, bool>, PolarityOver>;

class Question
{
  public:
    Question(facts::Application const& application, Channel const& channel, facts::Tables const& tables,
             Polarities& polarities)
        : app_(application)
        , channel_(channel)
        , tables_(tables)
        , polarities_(polarities)
    {
        r_.application = &application;
    }

    ApplicationSupport answer()
    {
        if (!channel_.held.empty()) add("held", Mark::unknown, channel_.held);
        if (app_.family == "duplex") {
            duplex();
        } else {
            parallel();
        }
        conclude();
        return std::move(r_);
    }

  private:
    std::string dB(double value) const { return Words(channel_.writing).dB(value); }
    std::string metres(double value) const { return Words(channel_.writing).metres(value); }
    std::string db_number(double value) const { return Words(channel_.writing).number(value); }

    void add(char const* topic, Mark mark, std::string text)
    {
        r_.checks.push_back(SupportCheck{topic, mark, std::move(text)});
    }

    void parallel()
    {
        facts::LaneMap const* lanes = nullptr;
        for (std::string const& id : app_.lane_maps) {
            facts::LaneMap const* const map = tables_.lane_map(id);
            if (map && matches(*map, channel_.family)) {
                lanes = map;
                break;
            }
        }
        if (!lanes) {
            auto const wanted = plant::parse_family(app_.family);
            add("connector", Mark::fail,
                fmt::format("{} needs {} fibres on {}; this link has {} positions on {}.", app_.name,
                            app_.fibres, wanted ? plant::words_of(*wanted) : app_.family,
                            channel_.occupied.count(), plant::words_of(channel_.family)));
            row_checks(plant::positions_of(channel_.occupied));
            return;
        }
        r_.rests_on_memory |= lanes->fact.basis == facts::Basis::memory;
        auto const uses = uses_of(*lanes);
        auto const [known, fresh] =
            polarities_.try_emplace({lanes, app_.lane_order == facts::LaneOrder::any});
        if (fresh) known->second.check = parallel_polarity(uses, known->second.cord);
        r_.positions = plant::positions_of(used_through(known->second.cord, uses));
        std::vector<int> absent;
        for (int const p : r_.positions) {
            if (!channel_.occupied.test(static_cast<std::size_t>(p - 1))) absent.push_back(p);
        }
        if (!absent.empty()) {
            add("positions", Mark::fail,
                fmt::format("{} uses {} fibres; this link has none at position {}.", app_.name, app_.fibres,
                            list(absent)));
        }
        face();
        row_checks(r_.positions);
        r_.checks.push_back(known->second.check);
        reflectance();
    }

    plant::Occupancy used_through(std::string const& cord, std::vector<plant::PortUse> const& uses) const
    {
        plant::Occupancy used;
        if (channel_.cords_included) {
            for (plant::PortUse const& use : uses) used.set(static_cast<std::size_t>(use.place.position - 1));
            return used;
        }
        std::string const type = cord.empty() ? plant::cable_types(channel_.family).front() : cord;
        return plant::used_positions(type, channel_.family, uses).value_or(plant::Occupancy{});
    }

    SupportCheck parallel_polarity(std::vector<plant::PortUse> const& uses, std::string& cord)
    {
        if (!channel_.map) return {"polarity", Mark::unknown, "Where the light arrives was not measured."};
        if (channel_.cords_included) {
            auto const verdict = plant::judge_lanes(*channel_.map, uses, uses).verdict;
            bool const fits = lanes_fit(verdict, app_);
            return {"polarity", fits ? Mark::pass : Mark::fail,
                    fits ? verdict == plant::LaneVerdict::lane_true
                               ? "Every transmitter reaches the receiver of its own lane."
                               : "Every transmitter reaches a receiver; the lanes are in another order."
                         : fmt::format("The channel does not join transmitters to receivers: {}.",
                                       name_of(verdict))};
        }
        plant::PositionMap const port = plant::adapter_map(plant::KeyRelation::aligned, channel_.family);
        std::vector<std::string> types = plant::cable_types(channel_.family);
        if (channel_.family.rows == 1) types = {"B", "A", "C", "RW"};
        for (bool const equal : {true, false}) {
            for (std::string const& near : types) {
                for (std::string const& far : types) {
                    if ((near == far) != equal) continue;
                    auto const first = plant::cable_map(near, channel_.family);
                    auto const last = plant::cable_map(far, channel_.family);
                    if (!first || !last) continue;
                    auto const whole = port.then(*first).then(*channel_.map).then(*last).then(port);
                    if (!lanes_fit(plant::judge_lanes(whole, uses, uses).verdict, app_)) continue;
                    cord = near;
                    return {"polarity", Mark::pass,
                            fmt::format("With equipment cords of type {} and {} every transmitter reaches a "
                                        "receiver.",
                                        near, far)};
                }
            }
        }
        return {"polarity", Mark::fail,
                "No pair of equipment cords joins transmitters to receivers over this map."};
    }

    void face()
    {
        if (app_.face == "any" || app_.face == name_of(channel_.face)) return;
        add("face", Mark::unknown,
            fmt::format(
                "The interface has an {} face, this link a {} one: change the equipment cords to {} plugs "
                "through matching adapters and measure again. Never mate flat to angled.",
                app_.face, name_of(channel_.face), app_.face));
    }

    struct Worst
    {
        int wavelength_nm = 0;
        double most = -std::numeric_limits<double>::infinity();
        double least = std::numeric_limits<double>::infinity();
        double u = 0;
        int position = 0;
        bool dark = false;
        std::vector<int> missing;
    };

    /// Of these positions at the first of the application's wavelengths at which anything was measured.
    Worst worst_of(std::vector<int> const& positions) const
    {
        for (int const nm : app_.wavelengths_nm) {
            Worst worst;
            worst.wavelength_nm = nm;
            for (int const p : positions) {
                bool found = false;
                for (FibreLoss const& loss : channel_.losses) {
                    if (loss.position != p || loss.wavelength_nm != nm || std::isnan(loss.db)) continue;
                    found = true;
                    worst.least = std::min(worst.least, loss.db);
                    if (!(loss.db > worst.most)) continue;
                    worst.most = loss.db;
                    worst.u = loss.u_db;
                    worst.position = p;
                    worst.dark = loss.dark;
                }
                if (!found) worst.missing.push_back(p);
            }
            if (worst.position != 0) return worst;
        }
        return {};
    }

    std::vector<facts::ApplicationLimit const*> rows() const
    {
        std::vector<facts::ApplicationLimit const*> result;
        std::vector<std::string> categories{channel_.category->id};
        categories.insert(categories.end(), channel_.category->meets.begin(), channel_.category->meets.end());
        for (std::string const& category : categories) {
            for (auto const& limit : app_.limits) {
                if (limit.category == category) result.push_back(&limit);
            }
            if (!channel_.weak_rows) continue;
            for (auto const& limit : app_.weak_limits) {
                if (limit.category == category) result.push_back(&limit);
            }
        }
        return result;
    }

    struct RowAnswer
    {
        SupportCheck length, loss;
        double loss_margin = std::numeric_limits<double>::quiet_NaN();
        double length_margin = 0;
        bool memory = false;
        int rank() const { return score(length.mark) + score(loss.mark); } // the smaller the nearer
        static int score(Mark mark) { return mark == Mark::pass ? 0 : mark == Mark::unknown ? 1 : 4; }
    };

    RowAnswer against(facts::ApplicationLimit const& row, Worst const& worst) const
    {
        RowAnswer answer;
        double const length = channel_.length.value() + added_length();
        double const longest = row.length.value;
        answer.length_margin = longest - length;
        answer.length =
            length <= longest
                ? SupportCheck{"length", Mark::pass,
                               fmt::format("{} row: {} of {}, {} to spare.", row.category, metres(length),
                                           metres(longest), metres(longest - length))}
                : SupportCheck{"length", Mark::fail,
                               fmt::format("{} row: {} is {} more than {}.", row.category, metres(length),
                                           metres(length - longest), metres(longest))};
        answer.memory = row.length.basis == facts::Basis::memory;
        answer.loss = loss_against(row, worst, answer.loss_margin);
        if (row.loss) answer.memory |= row.loss->basis == facts::Basis::memory;
        return answer;
    }

    SupportCheck loss_against(facts::ApplicationLimit const& row, Worst const& worst, double& margin) const
    {
        if (!row.loss) {
            return {"loss", Mark::unknown,
                    fmt::format("{} row: no figure for the loss was found.", row.category)};
        }
        if (worst.position == 0) {
            std::vector<std::string> wavelengths;
            for (int const nm : app_.wavelengths_nm) wavelengths.push_back(fmt::format("{} nm", nm));
            return {"loss", Mark::unknown,
                    fmt::format("The loss was not measured at {}.", joined(wavelengths, " or "))};
        }
        if (worst.dark)
            return {"loss", Mark::fail, fmt::format("No light arrives from position {}.", worst.position)};
        double const loss = worst.most + added_loss();
        double const limit = row.loss->value;
        margin = limit - loss;
        if (loss > limit) {
            return {"loss", Mark::fail,
                    fmt::format("{} row: {} at position {} is {} more than {}.", row.category, dB(loss),
                                worst.position, dB(loss - limit), dB(limit))};
        }
        if (!worst.missing.empty()) {
            return {"loss", Mark::unknown,
                    fmt::format("Position {} was not measured at {} nm.", list(worst.missing),
                                worst.wavelength_nm)};
        }
        return {"loss", Mark::pass,
                fmt::format("{} row: {} at position {} of {}, {} to spare.", row.category, dB(loss),
                            worst.position, dB(limit), dB(limit - loss))};
    }

    double added_loss() const { return channel_.cords_included ? 0 : channel_.added_by_cords.value(); }
    double added_length() const { return channel_.cords_included ? 0 : channel_.added_length.value(); }

    /// Length and loss by the row of the category and those below it; one row has to meet both.
    void row_checks(std::vector<int> const& positions)
    {
        auto const candidates = rows();
        if (candidates.empty()) {
            add("length", Mark::fail, fmt::format("{} has no row for {}.", app_.name, channel_.category->id));
            return;
        }
        Worst const worst = worst_of(positions);
        std::optional<RowAnswer> best;
        std::string category;
        std::vector<RowAnswer> answers;
        for (auto const* const row : candidates) {
            RowAnswer const answer = against(*row, worst);
            answers.push_back(answer);
            if (best && answer.rank() >= best->rank()) continue;
            best = answer;
            category = row->category;
        }
        r_.row = category;
        r_.loss_margin_db = best->loss_margin;
        r_.length_margin_m = best->length_margin;
        r_.rests_on_memory |= best->memory;
        r_.worst_position = worst.position;
        if (worst.position != 0 && !worst.dark) r_.loss_db = worst.most + added_loss();
        r_.checks.push_back(best->length);
        r_.checks.push_back(best->loss);
        // Where no row meets both, the others are part of the reason.
        if (best->rank() >= 4) {
            for (std::size_t i = 0; i < answers.size(); ++i) {
                if (candidates[i]->category == category) continue;
                for (SupportCheck const& check : {answers[i].length, answers[i].loss}) {
                    if (check.mark == Mark::fail) r_.checks.push_back(check);
                }
            }
        }
        r_.marginal = worst.u > 0 && !std::isnan(best->loss_margin) &&
                      std::abs(best->loss_margin) < channel_.guard * worst.u;
        minimum_loss(worst);
    }

    void minimum_loss(Worst const& worst)
    {
        if (!app_.minimum_loss || worst.position == 0) return;
        double const least = worst.least + added_loss();
        double const needed = app_.minimum_loss->value;
        r_.rests_on_memory |= app_.minimum_loss->basis == facts::Basis::memory;
        if (least < needed) {
            add("minimum-loss", Mark::fail,
                fmt::format(
                    "{} is less than the {} that the receiver needs: put in an attenuator of at least {}.",
                    dB(least), dB(needed), dB(needed - least)));
        } else {
            add("minimum-loss", Mark::pass, fmt::format("{} of at least {}.", dB(least), dB(needed)));
        }
    }

    void duplex()
    {
        if (channel_.family.key != plant::Family::Key::duplex) {
            r_.positions = plant::positions_of(channel_.occupied);
            row_checks(r_.positions);
            r_.conditions.push_back(fmt::format("{} takes one pair: modules or harnesses are at both ends, "
                                                "and their loss is in these figures.",
                                                app_.name));
            reflectance();
            return;
        }
        // One application a pair: the answer for the link is that of its worst pair, the pairs are named.
        std::vector<int> all;
        std::vector<int> unfit;
        bool straight = false;
        for (int pair = 1; 2 * pair <= channel_.family.positions(); ++pair) {
            int const a = 2 * pair - 1;
            if (!channel_.occupied.test(static_cast<std::size_t>(a - 1)) ||
                !channel_.occupied.test(static_cast<std::size_t>(a))) {
                continue;
            }
            all.insert(all.end(), {a, a + 1});
            Mark const polarity = duplex_polarity(a, straight);
            ApplicationSupport const kept = r_;
            row_checks({a, a + 1});
            bool const row = std::all_of(r_.checks.begin(), r_.checks.end(),
                                         [](SupportCheck const& check) { return check.mark == Mark::pass; });
            r_ = kept;
            (polarity == Mark::pass && row ? r_.pairs_supported : r_.pairs_other).push_back(pair);
            if (polarity == Mark::fail) unfit.push_back(pair);
        }
        r_.positions = all;
        if (all.empty()) {
            add("positions", Mark::fail, "This link has no complete pair.");
            return;
        }
        row_checks(all);
        if (!channel_.map) {
            add("polarity", Mark::unknown, "Where the light arrives was not measured.");
        } else if (!unfit.empty()) {
            add("polarity", Mark::fail,
                fmt::format("Pair {} does not arrive as a pair, transmitter to receiver.", list(unfit)));
        } else {
            add("polarity", Mark::pass, "Every transmitter reaches a receiver.");
            if (straight) {
                r_.conditions.push_back(
                    "Pairs arrive uncrossed: an A-to-A patch cord at one end, A-to-B at the other.");
            }
        }
        reflectance();
    }

    /// The pair whose half A is `a`: its fibres must arrive as one pair. Crossed is right; uncrossed can be
    /// put right by a cord where cords are still to come.
    Mark duplex_polarity(int a, bool& straight) const
    {
        if (!channel_.map) return Mark::unknown;
        int const first = channel_.map->at(a);
        int const second = channel_.map->at(a + 1);
        if (first == 0 || second == 0) return Mark::fail;
        if (first == second + 1 && first % 2 == 0) return Mark::pass;
        if (second == first + 1 && second % 2 == 0 && !channel_.cords_included) {
            straight = true;
            return Mark::pass;
        }
        return Mark::fail;
    }

    void reflectance()
    {
        facts::ReflectanceRule const* const rule = tables_.reflectance_rule(app_.reflectance_rule);
        if (!rule) return;
        if (rule->each)
            r_.rests_on_memory |= rule->each->basis == facts::Basis::memory && channel_.reflectances_db;
        if (!channel_.reflectances_db) {
            reflectance_not_measured(*rule);
            return;
        }
        int counted = 0;
        double highest = -std::numeric_limits<double>::infinity();
        for (double const value : *channel_.reflectances_db) {
            counted += value > rule->counted_above_db ? 1 : 0;
            highest = std::max(highest, value);
        }
        std::string const count = fmt::format("{} above {} dB", counted, db_number(rule->counted_above_db));
        if (rule->each && highest > rule->each->value) {
            add("reflectance", Mark::fail,
                fmt::format("A reflectance of {} lies above {}.", dB(highest), dB(rule->each->value)));
        } else if (!rule->by_count.empty() && counted > 0) {
            auto const row = rule->by_count.lower_bound(counted);
            if (row == rule->by_count.end()) {
                add("reflectance", Mark::fail,
                    fmt::format("{} reflectances above {} dB: the application allows {} at most.", counted,
                                db_number(rule->counted_above_db), rule->by_count.rbegin()->first));
                return;
            }
            r_.rests_on_memory |= row->second.basis == facts::Basis::memory;
            bool const fits = highest <= row->second.value;
            add("reflectance", fits ? Mark::pass : Mark::fail,
                fmt::format("Reflectances: {}; so many may have {} each, the highest is {}.", count,
                            dB(row->second.value), dB(highest)));
        } else if (!rule->unknown.empty() && counted > 0) {
            add("reflectance", Mark::unknown, fmt::format("Reflectances: {}. {}", count, rule->unknown));
        } else {
            add("reflectance", Mark::pass,
                fmt::format("Reflectances: {}; the application allows them.", count));
        }
    }

    /// What a rule asks for, in words.
    std::string asked_by(facts::ReflectanceRule const& rule) const
    {
        if (!rule.by_count.empty())
            return fmt::format("a reflectance by the number of connections above {} dB",
                               db_number(rule.counted_above_db));
        return rule.each ? fmt::format("{} or lower at every connection", dB(rule.each->value))
                         : std::string{"it"};
    }

    void reflectance_not_measured(facts::ReflectanceRule const& rule)
    {
        if (channel_.category->kind == facts::FibreKind::multimode) {
            r_.conditions.push_back(fmt::format(
                "Reflectance was not measured; the application asks for {}, as conforming connections have.",
                asked_by(rule)));
        } else if (channel_.angled_meets_reflectance && channel_.face == plant::Face::angled) {
            r_.conditions.push_back(fmt::format(
                "Reflectance was not measured; angled connections are taken as below {} dB, which the "
                "application does not count.",
                db_number(rule.counted_above_db)));
        } else {
            add("reflectance", Mark::unknown,
                fmt::format("Reflectance was not measured, and the application asks for {}.",
                            asked_by(rule)));
        }
    }

    void conclude()
    {
        if (!channel_.cords_included) {
            bool const added = channel_.added_by_cords.value() > 0 || channel_.added_length.value() > 0;
            r_.conditions.push_back(
                added
                    ? fmt::format(
                          "Equipment cords were not in the measurement: {} and {} were added for them.",
                          dB(channel_.added_by_cords.value()), metres(channel_.added_length.value()))
                    : std::string{"Equipment cords were not in the measurement: their length and what their "
                                  "connections lose beyond the test cords' come on top."});
        }
        SupportCheck const* decides = nullptr;
        for (SupportCheck const& check : r_.checks) {
            if (check.mark == Mark::fail && (!decides || decides->mark != Mark::fail)) decides = &check;
            if (check.mark == Mark::unknown && !decides) decides = &check;
        }
        r_.support = !decides                      ? Support::supported
                     : decides->mark == Mark::fail ? Support::not_supported
                                                   : Support::cannot_be_said;
        if (!decides) {
            for (SupportCheck const& check : r_.checks) {
                if (check.topic == "loss") decides = &check;
            }
        }
        if (decides) r_.reason = decides->text;
        if (r_.marginal && r_.support == Support::supported) {
            r_.reason += " Within the uncertainty of the measurement: marginal.";
        }
    }

    facts::Application const& app_;
    Channel const& channel_;
    facts::Tables const& tables_;
    Polarities& polarities_;
    ApplicationSupport r_;
};

} // namespace

char const* name_of(Support support)
{
    switch (support) {
    case Support::supported:
        return "supported";
    case Support::not_supported:
        return "not supported";
    case Support::cannot_be_said:
        return "cannot be said";
    }
    return "";
}

char const* name_of(Mark mark)
{
    switch (mark) {
    case Mark::pass:
        return "pass";
    case Mark::fail:
        return "fail";
    case Mark::unknown:
        return "unknown";
    }
    return "";
}

ApplicationSupport application_support(facts::Application const& application, Channel const& channel,
                                       facts::Tables const& tables)
{
    Polarities polarities;
    return Question{application, channel, tables, polarities}.answer();
}

std::vector<ApplicationSupport> application_support(Channel const& channel, facts::Tables const& tables,
                                                    bool with_disabled)
{
    std::vector<ApplicationSupport> result;
    Polarities polarities;
    for (facts::Application const& application : tables.applications) {
        if (!application.enabled && !with_disabled) continue;
        result.push_back(Question{application, channel, tables, polarities}.answer());
    }
    return result;
}

plant::Occupancy application_positions(facts::Application const& application, plant::Family const& family,
                                       facts::Tables const& tables)
{
    if (application.family == "duplex") {
        return family.key == plant::Family::Key::duplex ? plant::all_positions(family) : plant::Occupancy{};
    }
    for (std::string const& id : application.lane_maps) {
        facts::LaneMap const* const map = tables.lane_map(id);
        if (!map || !matches(*map, family)) continue;
        std::string const type = family.rows == 1 ? "B" : plant::cable_types(family).front();
        return plant::used_positions(type, family, uses_of(*map)).value_or(plant::Occupancy{});
    }
    return {};
}

} // namespace guidepin::verdict

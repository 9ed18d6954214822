// SPDX-License-Identifier: Apache-2.0
#include "job/groundwork/reading_rules.hpp"

#include "base/text.hpp"
#include "job/sheet/locale.hpp"
#include "job/state/link_limits.hpp"
#include "plant/link_model.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>
#include <unordered_map>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using verdict::ReadingColumns;

/// The plugs of a scheduled link. None if the link is not scheduled.
struct Plugs
{
    std::optional<plant::Family> a, b;
};

class PlugsOfLinks
{
  public:
    explicit PlugsOfLinks(JobState const& state)
        : state_(state)
    {
    }
    Plugs const& of(std::string const& link)
    {
        auto const [place, is_new] = known_.try_emplace(link);
        if (!is_new) return place->second;
        auto const found = state_.link_index.find(link);
        if (found == state_.link_index.end()) return place->second;
        if (auto const model = models_.model_for(state_.links[found->second]))
            place->second = {(*model)->near_family, (*model)->far_family};
        return place->second;
    }

  private:
    JobState const& state_;
    plant::LinkModels models_{plant::LinkOptions{}};
    std::unordered_map<std::string, Plugs> known_;
};

std::string position_fault(plant::Family const& family, char const* end, int position)
{
    if (position <= family.positions()) return {};
    return fmt::format("end {} of the link ({}) has positions 1 to {}", end, plant::words_of(family),
                       family.positions());
}

/// What a reading is of: launch end, position, wavelength, moment.
using PlaceKey = std::tuple<verdict::LaunchEnd, std::int16_t, std::uint16_t, std::int64_t>;

double loss_of(JobState const& state, ReadingColumns const& readings, std::size_t row)
{
    if (!readings.is_power) return readings.value[row];
    if (readings.reference[row] == verdict::Dictionary::missing)
        return std::numeric_limits<double>::quiet_NaN();
    return state.reference_power(readings.references.id(readings.reference[row]), readings.position[row],
                                 readings.wavelength_nm[row]) -
           readings.value[row];
}

std::string contradictions(JobState const& state, ReadingColumns const& readings)
{
    // Rows of the file by the job's number of their link. Only links of the file are compared.
    std::unordered_map<std::uint32_t, std::map<PlaceKey, std::size_t>> wanted;
    std::set<std::string_view> tested;
    for (TestEntry const& test : state.tests) tested.insert(test.link);
    for (std::size_t row = 0; row < readings.size(); ++row) {
        std::string const& name = readings.links.text(readings.link[row]);
        if (readings.taken_ms[row] == ReadingColumns::no_time || !tested.contains(name)) continue;
        std::uint32_t const link = state.readings.links.find(name);
        wanted[link].try_emplace(PlaceKey{readings.launch_end[row], readings.position[row],
                                          readings.wavelength_nm[row], readings.taken_ms[row]},
                                 row);
    }
    if (wanted.empty()) return {};
    constexpr std::size_t shown = 5;
    std::vector<std::string> texts;
    std::set<std::size_t> contradicting;
    for (std::size_t old = 0; old < state.readings.size(); ++old) {
        auto const link = wanted.find(state.readings.link[old]);
        if (link == wanted.end()) continue;
        auto const place =
            link->second.find(PlaceKey{state.readings.launch_end[old], state.readings.position[old],
                                       state.readings.wavelength_nm[old], state.readings.taken_ms[old]});
        if (place == link->second.end()) continue;
        std::size_t const row = place->second;
        double const loss = loss_of(state, readings, row);
        if (!(std::abs(loss - state.readings.value[old]) > 1e-9) || !contradicting.insert(row).second)
            continue;
        if (texts.size() >= shown) continue;
        texts.push_back(fmt::format("line {}: {} from {}, position {} at {} nm, {}: {} dB here, {} dB before",
                                    readings.line[row], readings.links.text(readings.link[row]),
                                    readings.launch_end[row] == verdict::LaunchEnd::a ? "A" : "B",
                                    readings.position[row], readings.wavelength_nm[row],
                                    date_time({readings.taken_ms[row], 0}, state.settings),
                                    fixed_text(loss, 2), fixed_text(state.readings.value[old], 2)));
    }
    if (contradicting.empty()) return {};
    return fmt::format("{} an earlier reading of the same moment (one of the two is not what was measured): "
                       "{}{}",
                       contradicting.size() == 1
                           ? std::string{"1 reading contradicts"}
                           : fmt::format("{} readings contradict", contradicting.size()),
                       joined(texts, "; "),
                       contradicting.size() > texts.size()
                           ? fmt::format("; and {} more", contradicting.size() - texts.size())
                           : std::string{});
}

void add_unjudged(JobState const& state, ReadingColumns const& readings, std::vector<std::string>& warnings)
{
    struct Unjudged
    {
        std::size_t rows = 0;
        std::vector<std::string> links;
        std::set<std::uint32_t> seen;
    };
    std::map<std::string, std::set<int>> judged; // category -> wavelengths
    std::map<std::pair<std::string, int>, Unjudged> found;
    for (std::size_t row = 0; row < readings.size(); ++row) {
        auto const link = state.link_index.find(readings.links.text(readings.link[row]));
        if (link == state.link_index.end()) continue;
        plant::LinkSpec const& spec = state.links[link->second];
        auto const [place, is_new] = judged.try_emplace(spec.category);
        if (is_new) {
            if (auto const limits = limits_of(state, spec)) {
                for (Nanometres const nm : limits->wavelengths) place->second.insert(nm.value());
            }
        }
        int const nm = readings.wavelength_nm[row];
        if (place->second.empty() || place->second.contains(nm)) continue;
        Unjudged& unjudged = found[{spec.category, nm}];
        ++unjudged.rows;
        if (unjudged.seen.insert(readings.link[row]).second && unjudged.links.size() < 5)
            unjudged.links.push_back(spec.id);
    }
    for (auto const& [what, unjudged] : found) {
        std::vector<std::string> texts;
        for (int const nm : judged[what.first]) texts.push_back(fmt::format("{}", nm));
        std::size_t const links = unjudged.seen.size();
        warnings.push_back(fmt::format(
            "{} at {} nm of {} ({}{}) {} kept and judge nothing: {} is judged at {} nm",
            unjudged.rows == 1 ? std::string{"1 reading"} : fmt::format("{} readings", unjudged.rows),
            what.second, links == 1 ? std::string{"1 link"} : fmt::format("{} links", links),
            joined(unjudged.links, ", "), links > unjudged.links.size() ? " …" : "",
            unjudged.rows == 1 ? "is" : "are", what.first, joined(texts, ", ")));
    }
}

} // namespace

std::string future_fault(std::int64_t ms, Instant now, Settings const& settings)
{
    if (ms == ReadingColumns::no_time || ms <= now.ms + future_tolerance_ms) return {};
    return fmt::format("is later than now, {}; correct the clock or the zone it was written by",
                       date_time(now, settings));
}

void take_out_bad_rows(JobState const& state, Instant now, std::size_t listed_at_most,
                       ReadingColumns& readings, intake::Problems& bad)
{
    PlugsOfLinks plugs(state);
    std::vector<intake::Problem> found;
    std::vector<bool> is_bad(readings.size(), false);
    for (std::size_t row = 0; row < readings.size(); ++row) {
        auto const fault = [&](char const* column, std::string value, std::string reason) {
            if (reason.empty()) return;
            is_bad[row] = true;
            found.push_back({readings.line[row], column, std::move(value), std::move(reason)});
        };
        if (std::string reason = future_fault(readings.taken_ms[row], now, state.settings); !reason.empty())
            fault("taken_at", instant_text({readings.taken_ms[row], readings.offset_minutes[row]}),
                  std::move(reason));
        Plugs const& link = plugs.of(readings.links.text(readings.link[row]));
        if (!link.a || !link.b) continue;
        bool const from_b = readings.launch_end[row] == verdict::LaunchEnd::b;
        fault("position", fmt::format("{}", readings.position[row]),
              position_fault(from_b ? *link.b : *link.a, from_b ? "B" : "A", readings.position[row]));
        if (readings.far_position[row] > 0)
            fault("far_position", fmt::format("{}", readings.far_position[row]),
                  position_fault(from_b ? *link.a : *link.b, from_b ? "A" : "B", readings.far_position[row]));
    }
    if (found.empty()) return;
    ReadingColumns good;
    good.is_power = readings.is_power;
    for (std::size_t row = 0; row < readings.size(); ++row) {
        if (is_bad[row])
            ++bad.rows;
        else
            good.append_row_of(readings, row);
    }
    readings = std::move(good);
    bad.count += found.size();
    bad.listed.insert(bad.listed.end(), found.begin(), found.end());
    std::stable_sort(bad.listed.begin(), bad.listed.end(),
                     [](auto const& a, auto const& b) { return a.line < b.line; });
    if (bad.listed.size() > listed_at_most) bad.listed.resize(listed_at_most);
}

std::vector<std::string> reading_warnings(JobState const& state, ReadingColumns const& readings)
{
    std::vector<std::string> warnings;
    if (readings.size() == 0) {
        warnings.emplace_back("the file holds no reading: nothing came in");
        return warnings;
    }
    if (std::string text = contradictions(state, readings); !text.empty())
        warnings.push_back(std::move(text));
    add_unjudged(state, readings, warnings);
    return warnings;
}

SourceFile const* import_with(JobState const& state, std::string_view layout, std::string_view sha256)
{
    for (SourceFile const& file : state.files) {
        if (file.layout == layout && file.withdrawn.empty() && file.sha256 == sha256) return &file;
    }
    return nullptr;
}

std::string import_text(SourceFile const& file, Settings const& settings)
{
    return fmt::format("{}, brought in{} on {}", file.name,
                       file.person.empty() ? std::string{} : " by " + file.person,
                       date_time(file.recorded, settings));
}

} // namespace guidepin::job

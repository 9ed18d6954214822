// SPDX-License-Identifier: Apache-2.0
#include "setup/register.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

namespace guidepin::setup {

namespace {

/// By FitnessMatter; the name of `other` is in no record of this program.
constexpr std::array matter_names{"calibration", "end-face", "matings", "pin-changes", "pins", "other"};
constexpr std::array fitness_names{"fit", "warned", "refused", "overridden"};

std::string size_text(facts::EndFaceZone::Allowance const& row)
{
    if (row.above_um <= 0 && row.up_to_um <= 0) return "of any size";
    if (row.up_to_um <= 0) return fmt::format("above {} um", number_text(row.above_um));
    if (row.above_um <= 0) return fmt::format("up to {} um", number_text(row.up_to_um));
    return fmt::format("above {} up to {} um", number_text(row.above_um), number_text(row.up_to_um));
}

void judge(std::vector<double> const& sizes, std::vector<facts::EndFaceZone::Allowance> const& rows,
           char const* what, ZoneFinding const& finding, facts::EndFaceZone const& zone,
           EndFaceVerdict& verdict)
{
    for (facts::EndFaceZone::Allowance const& row : rows) {
        if (row.allowed < 0) continue;
        auto const count = std::count_if(sizes.begin(), sizes.end(), [&](double size) {
            return size > row.above_um && (row.up_to_um <= 0 || size <= row.up_to_um);
        });
        if (count <= row.allowed) continue;
        EndFaceVerdict::Breach breach;
        breach.position = finding.position;
        breach.zone = finding.zone;
        breach.what = fmt::format("{} {}{} {}, {} allowed", count, what,
                                  count == 1                           ? ""
                                  : std::string_view(what) == "defect" ? "s"
                                                                       : "es",
                                  size_text(row), row.allowed);
        breach.rule = zone.fact;
        verdict.breaches.push_back(std::move(breach));
    }
}

Override const* override_for(std::string const& serial, FitnessMatter about,
                             std::span<Override const> overrides)
{
    for (Override const& each : overrides) {
        bool const covers =
            each.about.empty() || std::find(each.about.begin(), each.about.end(), about) != each.about.end();
        if (covers && each.serial == serial && !trimmed(each.person).empty() && !trimmed(each.reason).empty())
            return &each;
    }
    return nullptr;
}

class Findings
{
  public:
    explicit Findings(std::span<Override const> overrides)
        : overrides_(overrides)
    {
    }
    void warn(std::string const& serial, FitnessMatter about, std::string text)
    {
        list.push_back({serial, Fitness::warned, std::move(text), "", about});
    }
    void refuse(std::string const& serial, FitnessMatter about, std::string text)
    {
        Override const* const decision = override_for(serial, about, overrides_);
        if (decision == nullptr) {
            std::string whole = text + " Use another, or override with a reason.";
            list.push_back({serial, Fitness::refused, std::move(whole), "", about, std::move(text)});
        } else {
            list.push_back({serial, Fitness::overridden, std::move(text),
                            fmt::format("{}: {}", decision->person, decision->reason), about});
        }
    }
    std::vector<FitnessFinding> list;

  private:
    std::span<Override const> overrides_;
};

struct CountedUse
{
    FitnessMatter about;
    char const* name;
    int count;
    std::optional<int> limit;
};

void judge_use(Findings& findings, std::string const& serial, CountedUse const& use, double warn_at)
{
    if (!use.limit) return;
    if (use.count > *use.limit)
        findings.refuse(
            serial, use.about,
            fmt::format("{}: {} {}, over the limit of {}.", serial, use.count, use.name, *use.limit));
    else if (use.count >= warn_at * *use.limit)
        findings.warn(serial, use.about,
                      fmt::format("{}: {} {}, near the limit of {}. Plan its replacement.", serial, use.count,
                                  use.name, *use.limit));
}

} // namespace

char const* name_of(FitnessMatter matter)
{
    return matter_names[static_cast<std::size_t>(matter)];
}

FitnessMatter parse_fitness_matter(std::string_view text)
{
    for (std::size_t i = 0; i < matter_names.size(); ++i) {
        if (text == matter_names[i]) return static_cast<FitnessMatter>(i);
    }
    return FitnessMatter::other;
}

char const* name_of(Fitness fitness)
{
    return fitness_names[static_cast<std::size_t>(fitness)];
}

Result<EndFaceVerdict> judge_end_face(EndFaceInspection const& inspection,
                                      std::span<facts::EndFaceZone const> rows, std::string const& edition,
                                      bool array)
{
    std::map<std::string, facts::EndFaceZone const*> zones;
    std::set<std::string> without_criteria;
    for (facts::EndFaceZone const& row : rows) {
        if (row.edition != edition || row.type != inspection.type) continue;
        if (array && !row.arrays)
            without_criteria.insert(row.zone);
        else
            zones[row.zone] = &row;
    }
    if (zones.empty()) {
        return Error{Errc::not_found,
                     fmt::format("No criteria for {} ends in edition {} of IEC 61300-3-35{}; the tables "
                                 "hold what was found, name another edition or type.",
                                 inspection.type, edition, array ? " for arrays" : "")};
    }
    EndFaceVerdict verdict;
    verdict.edition = edition;
    for (ZoneFinding const& finding : inspection.findings) {
        for (auto const* sizes : {&finding.scratches_um, &finding.defects_um}) {
            for (double const size : *sizes) {
                if (!(size > 0) || !std::isfinite(size)) {
                    return Error{
                        Errc::invalid_input,
                        fmt::format(
                            "End face of {}, position {}, zone {}: size {} um; give a number above 0.",
                            inspection.item, finding.position, finding.zone, number_text(size))};
                }
            }
        }
        auto const zone = zones.find(finding.zone);
        if (zone == zones.end()) {
            if (without_criteria.count(finding.zone) > 0) continue;
            return Error{Errc::not_found,
                         fmt::format("End face of {}: zone '{}' is not one of the zones of {}, edition {}.",
                                     inspection.item, finding.zone, inspection.type, edition)};
        }
        judge(finding.scratches_um, zone->second->scratches, "scratch", finding, *zone->second, verdict);
        judge(finding.defects_um, zone->second->defects, "defect", finding, *zone->second, verdict);
    }
    verdict.pass = verdict.breaches.empty();
    std::vector<std::string> notes;
    if (inspection.loose_debris)
        notes.emplace_back(
            "Loose debris was seen: clean it off, also where no criterion holds, and inspect again.");
    if (!without_criteria.empty()) {
        notes.push_back(fmt::format("Zones {} carry no criterion on an array in this edition.",
                                    joined({without_criteria.begin(), without_criteria.end()}, ", ")));
    }
    verdict.note = joined(notes, " ");
    return verdict;
}

std::vector<FitnessFinding> check_fitness(std::span<Instrument const> instruments,
                                          std::span<ItemHistory const> items, RegisterLimits const& limits,
                                          Day today, std::span<Override const> overrides)
{
    Findings findings{overrides};
    for (Instrument const& instrument : instruments) {
        if (!instrument.calibration_due) {
            findings.refuse(instrument.serial, FitnessMatter::calibration,
                            fmt::format("{} {}: no date until which it is calibrated.", instrument.name,
                                        instrument.serial));
            continue;
        }
        int const left = instrument.calibration_due->days - today.days;
        if (left < 0) {
            findings.refuse(instrument.serial, FitnessMatter::calibration,
                            fmt::format("{} {}: out of calibration for {} day{}.", instrument.name,
                                        instrument.serial, -left, left == -1 ? "" : "s"));
        } else if (left <= limits.calibration_warning_days) {
            findings.warn(instrument.serial, FitnessMatter::calibration,
                          fmt::format("{} {}: its calibration ends in {} day{}. Send it in time.",
                                      instrument.name, instrument.serial, left, plural_ending(left)));
        }
        if (instrument.calibrated && instrument.calibrated->days > today.days) {
            findings.warn(instrument.serial, FitnessMatter::calibration,
                          fmt::format("{} {}: its calibration date lies in the future. Check the clock "
                                      "or the date.",
                                      instrument.name, instrument.serial));
        }
    }
    for (ItemHistory const& item : items) {
        judge_use(findings, item.serial, {FitnessMatter::matings, "matings", item.matings, limits.matings},
                  limits.warn_at);
        judge_use(findings, item.serial,
                  {FitnessMatter::pin_changes, "pin changes", item.pin_changes, limits.pin_changes},
                  limits.warn_at);
        if (item.end_faces_pass && !*item.end_faces_pass) {
            findings.refuse(item.serial, FitnessMatter::end_face,
                            fmt::format("{}: an end face did not pass its inspection.", item.serial));
        } else if (!item.end_faces_pass && limits.end_faces_required) {
            findings.refuse(item.serial, FitnessMatter::end_face,
                            fmt::format("{}: its end faces were not inspected yet.", item.serial));
        }
    }
    return std::move(findings.list);
}

} // namespace guidepin::setup

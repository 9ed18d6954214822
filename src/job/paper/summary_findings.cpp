// SPDX-License-Identifier: Apache-2.0
// The findings as the summary lists them.
#include "job/findings/findings.hpp"
#include "job/paper/finding_picture.hpp"
#include "job/paper/summary_of.hpp"
#include "job/sheet/locale.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// Pictures take room: of the first findings, which matter most.
constexpr std::size_t most_pictures = 24;
constexpr double picture_width = 720;

std::string acknowledged_text(report::Locale const& locale, JobFinding const& entry)
{
    if (!entry.acknowledged) return {};
    std::string text = fmt::format("by {} on {}: {}", entry.acknowledged->person,
                                   locale.date_time(entry.acknowledged->at), entry.acknowledged->reason);
    if (!entry.changed.empty()) text += fmt::format(" (asks again, for {})", joined(entry.changed, "; "));
    return text;
}

} // namespace

Result<std::vector<report::ListedFinding>> listed_findings(JobState const& state,
                                                           Assessment const& assessment, int threads)
{
    TRY_ASSIGN(auto const findings, findings_of(state, assessment, threads));
    std::vector<report::ListedFinding> list;
    if (findings.empty()) return list;
    TRY_ASSIGN(auto const pictures, FindingPictures::of(state, assessment));
    report::Locale const locale = locale_of(state.settings);
    for (JobFinding const& entry : findings) {
        report::ListedFinding row;
        row.title = heading_of(state, entry.finding);
        row.severity = urgency_of(assessment, entry);
        std::vector<std::string> links;
        for (std::uint32_t const link : entry.finding.links) links.push_back(state.readings.links.text(link));
        row.where = joined(links, ", ");
        row.evidence = entry.finding.evidence;
        std::string const others = alternatives_of(entry.finding);
        if (!others.empty()) row.evidence += fmt::format(" It could also be: {}.", others);
        row.action = entry.finding.action;
        row.acknowledged = acknowledged_text(locale, entry);
        if (list.size() < most_pictures) {
            TRY_ASSIGN(row.picture, pictures.picture(entry.finding, picture_width));
        }
        list.push_back(std::move(row));
    }
    return list;
}

} // namespace guidepin::job

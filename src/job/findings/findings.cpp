// SPDX-License-Identifier: Apache-2.0
#include "job/findings/findings.hpp"

#include "base/text.hpp"
#include "job/findings/doubt_findings.hpp"
#include "job/findings/explain.hpp"
#include "job/findings/record_findings.hpp"
#include "job/sheet/locale.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr std::size_t shortest_id = 4;

std::vector<std::string> link_names(JobState const& state, cause::Finding const& finding)
{
    std::vector<std::string> names;
    for (std::uint32_t const link : finding.links) names.push_back(state.readings.links.text(link));
    return names;
}

std::string percent(double probability)
{
    // Nothing is certain: 100 % is never said.
    return fixed_text(100 * std::min(probability, 0.994), 0) + " %";
}

} // namespace

Evidence evidence_of(JobState const& state, cause::Finding const& finding)
{
    Evidence evidence;
    evidence.cause = cause::id_of(finding.cause);
    evidence.links = link_names(state, finding);
    evidence.positions = finding.positions;
    std::sort(evidence.positions.begin(), evidence.positions.end());
    evidence.size = finding.size;
    evidence.size_u = finding.size_u;
    evidence.likelihood = Evidence::class_of(finding.probability);
    return evidence;
}

void put_acknowledgements(std::vector<JobFinding>& findings, std::vector<Acknowledgement> const& said)
{
    for (JobFinding& entry : findings) {
        entry.acknowledged.reset();
        entry.changed.clear();
        for (Acknowledgement const& acknowledged : said) {
            if (acknowledged.finding == entry.finding.id)
                entry.acknowledged = acknowledged.stands ? std::optional(acknowledged) : std::nullopt;
        }
        if (entry.acknowledged) entry.changed = changes_of(entry.acknowledged->evidence, entry.evidence);
    }
    std::stable_partition(findings.begin(), findings.end(),
                          [](JobFinding const& entry) { return entry.is_open(); });
}

Result<std::vector<JobFinding>> findings_from(JobState const& state, Assessment const& assessment,
                                              std::vector<cause::Finding> explained)
{
    TRY(add_doubts(state, assessment, explained));
    add_record_findings(state, explained);
    std::vector<JobFinding> findings;
    for (cause::Finding& finding : explained) {
        JobFinding entry;
        entry.evidence = evidence_of(state, finding);
        entry.finding = std::move(finding);
        findings.push_back(std::move(entry));
    }
    put_acknowledgements(findings, state.acknowledgements);
    return findings;
}

Result<std::vector<JobFinding>> findings_of(JobState const& state, Assessment const& assessment, int threads,
                                            ProgressSink progress, void* progress_context)
{
    TRY_ASSIGN(auto explained, explain_job(state, assessment, threads, progress, progress_context));
    return findings_from(state, assessment, std::move(explained));
}

char const* urgency_of(Groundwork const& ground, JobFinding const& entry)
{
    using cause::Cause;
    if (!entry.is_open()) return "acknowledged";
    Cause const cause = entry.finding.cause;
    bool const worthless = entry.finding.reference != cause::none || cause == Cause::copied_measurement ||
                           cause == Cause::mislabelled_link || cause == Cause::wrong_test_cord ||
                           cause == Cause::contradicting_records;
    bool const stands_bad =
        std::any_of(entry.finding.links.begin(), entry.finding.links.end(), [&](std::uint32_t link) {
            verdict::State const state = ground.verdicts.links[link].state;
            return state != verdict::State::pass && state != verdict::State::marginal_pass;
        });
    return worthless || stands_bad ? "must settle" : "should settle";
}

Result<JobFinding const*> finding_named(std::vector<JobFinding> const& findings, std::string_view id)
{
    if (id.size() < shortest_id)
        return Error{Errc::usage,
                     fmt::format("\"{}\" is too short for a finding: give {} digits or more of its id, "
                                 "as the list of findings shows it",
                                 id, shortest_id)};
    JobFinding const* found = nullptr;
    for (JobFinding const& entry : findings) {
        if (!entry.finding.id.starts_with(id)) continue;
        if (found)
            return Error{Errc::conflict,
                         fmt::format("Several findings begin with {}: {} and {}; give more digits", id,
                                     found->finding.id, entry.finding.id)};
        found = &entry;
    }
    if (found) return found;
    if (findings.empty()) return Error{Errc::not_found, "The job has no findings"};
    return Error{Errc::not_found, fmt::format("The job has no finding {}; the list of findings shows {}", id,
                                              findings.size() == 1 ? std::string{"the one there is"}
                                                                   : fmt::format("all {}", findings.size()))};
}

std::string place_of(JobState const& state, cause::Finding const& finding)
{
    if (!finding.subject.empty()) return with_times(finding.subject, state.settings);
    auto const names = link_names(state, finding);
    std::string place;
    if (finding.reference != cause::none) {
        place =
            fmt::format("{}, {}", state.readings.references.text(finding.reference),
                        names.size() == 1 ? std::string{"1 link"} : fmt::format("{} links", names.size()));
    } else if (names.size() > 5) {
        place =
            fmt::format("{} and {} more", joined({names.begin(), names.begin() + 4}, ", "), names.size() - 4);
    } else {
        place = joined(names, ", ");
    }
    if (finding.positions.empty() || finding.positions.size() > 4) return place;
    std::vector<std::string> positions;
    for (int const position : finding.positions) positions.push_back(fmt::format("{}", position));
    return fmt::format("{}, position{} {}", place, positions.size() > 1 ? "s" : "", joined(positions, ", "));
}

std::string heading_of(JobState const& state, cause::Finding const& finding)
{
    // What the records say is read, not concluded: it has no probability.
    if (finding.cause == cause::Cause::contradicting_records)
        return fmt::format("{}: {}", place_of(state, finding), cause::name_of(finding.cause));
    std::string const size = finding.size ? fmt::format(", {} dB", fixed_text(finding.size->value(), 2)) : "";
    return fmt::format("{}: {}{}, {}", place_of(state, finding), cause::name_of(finding.cause), size,
                       percent(finding.probability));
}

std::string alternatives_of(cause::Finding const& finding)
{
    std::vector<std::string> others;
    for (cause::Alternative const& other : finding.alternatives) {
        if (other.probability >= 0.015)
            others.push_back(fmt::format("{} {}", cause::name_of(other.cause), percent(other.probability)));
    }
    return joined(others, ", ");
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "cli/finding_text.hpp"

#include "base/text.hpp"
#include "job/sheet/locale.hpp"

#include <cmath>

#include <fmt/format.h>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;

Json rounded(std::optional<double> value, double scale)
{
    return value ? Json(std::round(*value * scale) / scale) : Json(nullptr);
}

std::optional<double> decibels_of(std::optional<Decibel> const& size)
{
    return size ? std::optional(size->value()) : std::nullopt;
}

Json acknowledged_json(job::JobFinding const& entry)
{
    if (!entry.acknowledged) return nullptr;
    return {{"by", entry.acknowledged->person},
            {"at", instant_text(entry.acknowledged->at)},
            {"reason", entry.acknowledged->reason},
            {"changed", entry.changed}};
}

} // namespace

nlohmann::ordered_json finding_json(job::JobState const& state, job::JobFinding const& entry)
{
    cause::Finding const& finding = entry.finding;
    Json links = Json::array();
    for (std::uint32_t const link : finding.links) links.push_back(state.readings.links.text(link));
    Json alternatives = Json::array();
    for (cause::Alternative const& other : finding.alternatives)
        alternatives.push_back(
            {{"cause", cause::id_of(other.cause)}, {"probability", rounded(other.probability, 1e3)}});
    bool const timed = finding.since_ms && *finding.since_ms != verdict::ReadingColumns::no_time;
    return {{"id", finding.id},
            {"cause", cause::id_of(finding.cause)},
            {"links", links},
            {"positions", finding.positions},
            {"wavelengths", finding.wavelengths},
            {"reference", finding.reference == cause::none
                              ? Json(nullptr)
                              : Json(state.readings.references.text(finding.reference))},
            {"since", timed ? Json(instant_text({*finding.since_ms, state.settings.zone_offset_minutes}))
                            : Json(nullptr)},
            {"size_db", rounded(decibels_of(finding.size), 1e3)},
            {"size_u_db", rounded(decibels_of(finding.size_u), 1e3)},
            {"probability", rounded(finding.probability, 1e3)},
            {"evidence", finding.evidence},
            {"alternatives", alternatives},
            {"action", finding.action},
            {"acknowledged", acknowledged_json(entry)}};
}

std::string acknowledged_text(job::JobState const& state, job::JobFinding const& entry)
{
    if (!entry.acknowledged) return {};
    std::string text =
        fmt::format("Acknowledged by {}, {}: {}", entry.acknowledged->person,
                    job::date_time(entry.acknowledged->at, state.settings), entry.acknowledged->reason);
    if (!entry.changed.empty())
        text += fmt::format("\n  Open again, because of {}.", joined(entry.changed, "; "));
    return text;
}

std::string finding_text(job::JobState const& state, job::JobFinding const& entry)
{
    cause::Finding const& finding = entry.finding;
    std::string text = fmt::format("{}\n  {}\n", job::heading_of(state, finding), finding.evidence);
    std::string const others = job::alternatives_of(finding);
    if (!others.empty()) text += fmt::format("  It could also be: {}.\n", others);
    text += fmt::format("  Do first: {}\n", finding.action);
    if (entry.acknowledged) text += fmt::format("  {}\n", acknowledged_text(state, entry));
    return text;
}

} // namespace guidepin::cli

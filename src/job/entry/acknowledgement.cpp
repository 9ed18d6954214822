// SPDX-License-Identifier: Apache-2.0
#include "job/entry/acknowledgement.hpp"

#include "base/text.hpp"
#include "record/canonical_json.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

char const* words_of_class(int likelihood)
{
    return likelihood >= 2 ? "90 % or more" : likelihood == 1 ? "50 to 90 %" : "below 50 %";
}

std::string positions_text(std::vector<int> const& positions)
{
    if (positions.empty()) return "all";
    std::vector<std::string> names;
    for (int const position : positions) names.push_back(fmt::format("{}", position));
    return joined(names, ", ");
}

} // namespace

int Evidence::class_of(double probability)
{
    return probability >= 0.9 ? 2 : probability >= 0.5 ? 1 : 0;
}

std::vector<std::string> changes_of(Evidence const& seen, Evidence const& now)
{
    std::vector<std::string> changes;
    if (seen.cause != now.cause)
        changes.push_back(fmt::format("it was taken for {} and is {}", seen.cause, now.cause));
    auto before = seen.links, after = now.links;
    std::sort(before.begin(), before.end());
    std::sort(after.begin(), after.end());
    std::vector<std::string> joining, leaving;
    std::set_difference(after.begin(), after.end(), before.begin(), before.end(),
                        std::back_inserter(joining));
    std::set_difference(before.begin(), before.end(), after.begin(), after.end(),
                        std::back_inserter(leaving));
    if (!joining.empty()) changes.push_back(fmt::format("it now names {} too", joined(joining, ", ")));
    if (!leaving.empty()) changes.push_back(fmt::format("it no longer names {}", joined(leaving, ", ")));
    if (seen.positions != now.positions)
        changes.push_back(fmt::format("positions were {} and are {}", positions_text(seen.positions),
                                      positions_text(now.positions)));
    if (seen.size && now.size) {
        double const u =
            std::hypot(seen.size_u.value_or(Decibel{}).value(), now.size_u.value_or(Decibel{}).value());
        // Rounded for the record: half a thousandth either side.
        if (std::abs((*now.size - *seen.size).value()) > 2 * u + 0.001)
            changes.push_back(fmt::format("its size was {} dB and is {} dB",
                                          fixed_text(seen.size->value(), 2),
                                          fixed_text(now.size->value(), 2)));
    } else if (seen.size.has_value() != now.size.has_value()) {
        changes.emplace_back(now.size ? "it has a size now" : "it has no size any more");
    }
    if (now.likelihood > seen.likelihood)
        changes.push_back(fmt::format("its probability was {} and is {}", words_of_class(seen.likelihood),
                                      words_of_class(now.likelihood)));
    return changes;
}

Result<std::string> acknowledgement_body(Acknowledgement const& acknowledged)
{
    if (trimmed(acknowledged.reason).empty())
        return Error{Errc::invalid_input, "Say why: a finding is acknowledged with a reason"};
    if (acknowledged.reason.size() > longest_reason)
        return Error{Errc::invalid_input, fmt::format("The reason has {} bytes; at most {} are kept",
                                                      acknowledged.reason.size(), longest_reason)};
    Evidence const& evidence = acknowledged.evidence;
    record::JsonWriter json;
    json.begin_object().key("evidence").begin_object().key("cause").string(evidence.cause);
    json.key("likelihood").integer(evidence.likelihood).key("links").begin_array();
    for (std::string const& link : evidence.links) json.string(link);
    json.end_array().key("positions").begin_array();
    for (int const position : evidence.positions) json.integer(position);
    json.end_array().key("size_db");
    auto const number = [&](std::optional<Decibel> value) {
        value ? json.number(std::round(value->value() * 1000) / 1000) : json.null();
    };
    number(evidence.size);
    json.key("size_u_db");
    number(evidence.size_u);
    json.end_object().key("finding").string(acknowledged.finding);
    json.key("reason").string(acknowledged.reason).key("stands").boolean(acknowledged.stands).end_object();
    return json.finish();
}

Result<Acknowledgement> acknowledgement_of(std::string_view body)
{
    TRY_ASSIGN(auto const json, record::parse_json(body));
    Acknowledgement acknowledged;
    TRY_ASSIGN(acknowledged.finding, json.text_of("finding"));
    acknowledged.stands = json.boolean_or("stands", true);
    acknowledged.reason = json.text_or("reason");
    record::JsonValue const* const evidence = json.find("evidence");
    if (!evidence) return acknowledged;
    acknowledged.evidence.cause = evidence->text_or("cause");
    acknowledged.evidence.likelihood = static_cast<int>(evidence->integer_or("likelihood", 0));
    if (auto const* const links = evidence->find("links"); links && links->array()) {
        for (record::JsonValue const& link : *links->array())
            if (link.string()) acknowledged.evidence.links.push_back(*link.string());
    }
    if (auto const* const positions = evidence->find("positions"); positions && positions->array()) {
        for (record::JsonValue const& position : *positions->array())
            if (position.number() && *position.number() >= 1 && *position.number() <= 1000)
                acknowledged.evidence.positions.push_back(static_cast<int>(*position.number()));
    }
    auto const number = [&](char const* key) -> std::optional<Decibel> {
        record::JsonValue const* const value = evidence->find(key);
        return value && value->number() ? std::optional(Decibel{*value->number()}) : std::nullopt;
    };
    acknowledged.evidence.size = number("size_db");
    acknowledged.evidence.size_u = number("size_u_db");
    return acknowledged;
}

} // namespace guidepin::job

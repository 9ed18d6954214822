// SPDX-License-Identifier: Apache-2.0
// The summary of a job: what was promised, what was tested and how, what came out, what is left, who signs.
// Verified by: tests/golden/report/summary.cpp.
#pragma once

#include "drawing/charts.hpp"
#include "drawing/light_path.hpp"
#include "drawing/row.hpp"
#include "drawing/site_map.hpp"
#include "report/certificate.hpp"
#include "report/common.hpp"

#include <string>
#include <vector>

namespace guidepin::report {

struct ZoneCount
{
    std::string zone;
    int scheduled = 0;
    int pass = 0;
    int marginal = 0;
    int fail = 0;
    int held = 0;
    int open = 0;
    std::optional<Decibel> worst_margin;
};

/// A link in a list, with its row.
struct ListedLink
{
    std::string link;
    std::string zone;
    drawing::Standing standing = drawing::Standing::open;
    std::optional<drawing::Row> row;
    std::string worst; ///< "7 at 850 nm"
    std::optional<Decibel> margin;
    std::optional<Probability> conformity;
    std::string reason;      ///< one sentence
    std::string certificate; ///< file and page: "zone-F2.pdf, page 31"; may be empty
};

struct Instrument
{
    std::string role; ///< "source", "meter"
    std::string name; ///< model as the user named it
    std::string serial;
    std::string calibrated; ///< "2025-11-03, due 2026-11-03"
};

struct TestCord
{
    std::string role; ///< "launch"
    std::string serial;
    std::string kind;    ///< "type B, 2 m, reference grade"
    std::string ends;    ///< "unpinned, flat / pinned, flat"
    std::string matings; ///< of the near and the far end, from the records: "32 / 118"
};

struct ListedReference
{
    std::string id;
    Instant taken;
    std::string by;
    std::string method;
    std::string outcome; ///< "accepted", "accepted with remarks", "refused"
    std::string cord_check;
    int links = 0;
    std::string remark;
    std::optional<drawing::ControlChart> chart;
};

struct ListedFinding
{
    std::string title;    ///< cause or rule in words
    std::string severity; ///< "must settle", "should settle", "acknowledged"
    std::string where;    ///< links and positions
    std::string evidence;
    std::string action;
    std::string acknowledged;                   ///< "by … on …: reason", empty when it is not
    std::optional<drawing::Scene> picture = {}; ///< rows, map or course; shown small
};

struct ApplicationCount
{
    std::string name;
    int supported = 0;
    int not_supported = 0;
    int cannot_say = 0;
    std::string remark;
};

struct Summary
{
    JobHead job;
    std::string verdict_line; ///< "148 of 150 links conform; 1 fails, 1 is open"
    drawing::Standing standing = drawing::Standing::open;
    std::vector<Said> promised; ///< scope, cabling, limits by rule set, applications, length, polarity
    std::vector<Said> tested;   ///< method, wavelengths, directions, dates, crew, rule set, decision rule
    std::string decision_rule_text;
    std::vector<drawing::LightPath> setups; ///< drawn under "how"
    std::vector<Instrument> instruments;
    std::vector<TestCord> cords;
    std::vector<ListedReference> references;
    std::vector<ZoneCount> zones;
    std::vector<ListedLink> worst; ///< least margin first
    std::vector<ListedLink> failing;
    std::vector<ListedLink> held;
    std::vector<ListedLink> open;
    std::vector<ApplicationCount> applications;
    std::vector<ListedFinding> findings;
    std::optional<drawing::SiteMap> site;
    std::vector<Unconfirmed> unconfirmed;
    std::vector<Cited> sources;
    std::vector<Said> evidence; ///< stations, heads of chains, files of the package with their hashes
    std::string record_hash;    ///< head of the records: in the QR code
};

Result<Written> write_summary(Summary const& summary, Setting const& setting, drawing::ByteSink const& sink);

} // namespace guidepin::report

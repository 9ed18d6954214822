// SPDX-License-Identifier: Apache-2.0
// Rows of the tables that are computed from the records (schema/derived.sql) and may be dropped at any time.
// The job room computes them; this room keeps and finds them. Verified by: tests/store/record/store.cpp.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::record {

/// A link of the schedule, or one that was measured without being scheduled, with its state now.
struct DerivedLink
{
    std::string link; ///< key
    std::string zone;
    std::string state; ///< "pass", "fail", "marginal-pass", "marginal-fail", "held", "open"
    bool scheduled = true;
    std::string category, family;
    std::int64_t fibres = 0;   ///< occupied positions
    std::int64_t tests = 0;    ///< link-tested records
    std::int64_t readings = 0; ///< that count now
    std::int64_t failed_fibres = 0;
    std::int64_t findings = 0; ///< open ones
    std::optional<double> worst_margin_db;
    std::optional<double> worst_attenuation_db, worst_limit_db;
    std::optional<std::int64_t> worst_position, worst_wavelength_nm;
    std::optional<double> conformity; ///< probability of conformity of the worst fibre, 0 to 1
    std::optional<double> length_m;
    std::optional<std::int64_t> tested_at_ms;
    std::int64_t tested_offset_minutes = 0;
    std::string day;       ///< "2026-03-02" on the wall clock of the test; empty when open
    std::string reference; ///< the one its counting readings were taken under
    std::string operator_name;
    std::string reason; ///< why it has this state, in one sentence
    std::string row;    ///< bytes for the drawing of the row (the job's own encoding)
    std::string search; ///< what a person may type to find it: id, zone, end names; matched in lower case

    friend bool operator==(DerivedLink const&, DerivedLink const&) = default;
};

struct DerivedTest
{
    std::string link;
    std::string station; ///< with `sequence`: the link-tested record
    std::int64_t sequence = 0;
    std::int64_t tested_at_ms = 0;
    std::int64_t tested_offset_minutes = 0;
    std::string reference, operator_name;
    std::string state;  ///< verdict of this test alone
    bool counts = true; ///< part of the link's verdict now
    std::optional<double> worst_margin_db;

    friend bool operator==(DerivedTest const&, DerivedTest const&) = default;
};

struct DerivedFinding
{
    std::string id; ///< key; stable, so that an acknowledgement stays with it
    std::string rule;
    std::string severity; ///< "hold", "fail", "warn", "note"
    std::string subject;  ///< what it is about: "link", "reference", "cord", "instrument", "job"
    std::string name;     ///< of the subject
    std::optional<std::int64_t> position, wavelength_nm;
    std::string message;
    std::string action;       ///< what to do first
    std::string acknowledged; ///< "STATION:SEQUENCE" of the acknowledgement, empty when open
    std::string detail;       ///< JSON

    friend bool operator==(DerivedFinding const&, DerivedFinding const&) = default;
};

/// How many links of a scope stand in a state.
struct DerivedProgress
{
    std::string scope; ///< "job", "zone", "day", "reference", "operator"
    std::string name;
    std::string state;
    std::int64_t links = 0;

    friend bool operator==(DerivedProgress const&, DerivedProgress const&) = default;
};

/// Anything else worth keeping ready, by name (a chart's points, a summary), as text.
struct DerivedText
{
    std::string name;
    std::string text;

    friend bool operator==(DerivedText const&, DerivedText const&) = default;
};

struct DerivedTables
{
    std::vector<DerivedLink> links;
    std::vector<DerivedTest> tests;
    std::vector<DerivedFinding> findings;
    std::vector<DerivedProgress> progress;
    std::vector<DerivedText> texts;
};

enum class LinkSort { link, zone, state, margin, conformity, tested };

/// Empty means "any". Texts match whole, but `needle`, which matches any part of `search`, capitals or not.
struct LinkQuery
{
    std::string zone, state, day, reference, operator_name, needle;
    std::optional<bool> scheduled;
    std::optional<double> margin_below_db; ///< only links with a worst margin under this
    LinkSort sort = LinkSort::link;        ///< equal ones by link; what has no value comes last
    bool descending = false;
    std::int64_t offset = 0;
    std::int64_t limit = -1; ///< negative: all
};

struct LinkPage
{
    std::vector<DerivedLink> rows;
    std::int64_t total = 0; ///< matching rows, on this page or not
};

/// Empty means "any".
struct FindingQuery
{
    std::string rule, severity, subject, name;
    std::optional<bool> acknowledged;
};

} // namespace guidepin::record

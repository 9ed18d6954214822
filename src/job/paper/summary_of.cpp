// SPDX-License-Identifier: Apache-2.0
#include "job/paper/summary_of.hpp"

#include "base/text.hpp"
#include "job/doubt/doubt_text.hpp"
#include "job/groundwork/trust.hpp"
#include "job/kit/kit_register.hpp"
#include "job/paper/pictures.hpp"
#include "job/paper/row_picture.hpp"
#include "job/paper/unconfirmed.hpp"
#include "job/paper/wording.hpp"
#include "job/sheet/locale.hpp"
#include "report/standing.hpp"

#include <algorithm>
#include <map>
#include <set>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

report::ListedLink listed(JobState const& state, record::DerivedLink const& link)
{
    report::ListedLink row;
    row.link = link.link;
    row.zone = link.zone;
    row.standing = report::standing_of(state_of_id(link.state));
    if (!link.row.empty()) {
        auto const found = state.link_index.find(link.link);
        if (found != state.link_index.end()) {
            auto const& family = state.links[found->second].family;
            row.row = row_of(link.link,
                             family.key == plant::Family::Key::duplex
                                 ? plant::Family{plant::Family::Key::duplex, 1, family.positions()}
                                 : family,
                             link.row);
        }
    }
    if (link.worst_position)
        row.worst = fmt::format("{} at {} nm", *link.worst_position, *link.worst_wavelength_nm);
    if (link.worst_margin_db && !worst_is_dark(link)) row.margin = Decibel{*link.worst_margin_db};
    if (link.conformity) row.conformity = Probability::clamped(*link.conformity);
    row.reason = with_times(link.reason, state.settings);
    return row;
}

/// How many links have which outcome.
struct Outcomes
{
    std::size_t conforming = 0, failing = 0, held = 0, open = 0;

    void add(drawing::Standing standing, report::ZoneCount& zone)
    {
        switch (standing) {
        case drawing::Standing::pass:
            ++zone.pass;
            ++conforming;
            break;
        case drawing::Standing::marginal_pass:
            ++zone.marginal;
            ++conforming;
            break;
        case drawing::Standing::marginal_fail:
            ++zone.marginal;
            ++failing;
            break;
        case drawing::Standing::fail:
            ++zone.fail;
            ++failing;
            break;
        case drawing::Standing::held:
            ++zone.held;
            ++held;
            break;
        default:
            ++zone.open;
            ++open;
        }
    }

    std::string text(std::size_t links) const
    {
        std::string text =
            fmt::format("{} of {}", conforming,
                        counted(static_cast<std::int64_t>(links), "link conforms", "links conform"));
        if (failing > 0) text += fmt::format("; {} {}", failing, failing == 1 ? "fails" : "fail");
        if (held > 0) text += fmt::format("; {} {} held", held, held == 1 ? "is" : "are");
        if (open > 0) text += fmt::format("; {} {} open", open, open == 1 ? "is" : "are");
        return text;
    }

    drawing::Standing standing() const
    {
        return failing > 0 ? drawing::Standing::fail
               : held > 0  ? drawing::Standing::held
               : open > 0  ? drawing::Standing::open
                           : drawing::Standing::pass;
    }
};

/// Counts the links by zone and lists those that do not pass, and the worst of all.
void add_links(report::Summary& summary, JobState const& state, record::DerivedTables const& tables)
{
    constexpr std::size_t most_worst = 12;
    std::map<std::string, report::ZoneCount> zones;
    std::vector<record::DerivedLink const*> by_margin;
    Outcomes outcomes;
    for (record::DerivedLink const& link : tables.links) {
        report::ZoneCount& zone = zones[link.zone];
        zone.zone = link.zone;
        if (link.scheduled) ++zone.scheduled;
        drawing::Standing const standing = report::standing_of(state_of_id(link.state));
        outcomes.add(standing, zone);
        if (link.worst_margin_db) {
            Decibel const margin{*link.worst_margin_db};
            // A fibre without light has no margin to compare.
            if (!worst_is_dark(link) && (!zone.worst_margin || margin < *zone.worst_margin))
                zone.worst_margin = margin;
            by_margin.push_back(&link);
        }
        if (standing == drawing::Standing::fail || standing == drawing::Standing::marginal_fail)
            summary.failing.push_back(listed(state, link));
        if (standing == drawing::Standing::held) summary.held.push_back(listed(state, link));
        if (standing == drawing::Standing::open) summary.open.push_back(listed(state, link));
    }
    for (auto& [name, zone] : zones) summary.zones.push_back(std::move(zone));
    std::stable_sort(by_margin.begin(), by_margin.end(),
                     [](auto const* a, auto const* b) { return *a->worst_margin_db < *b->worst_margin_db; });
    for (std::size_t i = 0; i < by_margin.size() && i < most_worst; ++i)
        summary.worst.push_back(listed(state, *by_margin[i]));
    summary.verdict_line = outcomes.text(tables.links.size());
    summary.standing = outcomes.standing();
}

void add_promises(report::Summary& summary, JobState const& state, record::DerivedTables const& tables)
{
    Settings const& s = state.settings;
    std::size_t fibres = 0;
    for (record::DerivedLink const& link : tables.links) fibres += static_cast<std::size_t>(link.fibres);
    std::set<std::string> categories, applications;
    Metres total;
    for (plant::LinkSpec const& link : state.links) {
        categories.insert(link.category);
        applications.insert(link.applications.begin(), link.applications.end());
        total += link.length;
    }
    std::string names, carried;
    for (std::string const& category : categories) names += (names.empty() ? "" : ", ") + category;
    for (std::string const& id : applications) {
        auto const application = state.tables.application(id);
        carried += (carried.empty() ? "" : ", ") + (application ? (*application)->name : id);
    }
    report::Locale const locale = locale_of(s);
    summary.promised.push_back(
        {"Links",
         fmt::format("{} links, {} fibres, {} of cabling",
                     locale.whole(static_cast<long long>(state.scheduled())),
                     locale.whole(static_cast<long long>(fibres)), locale.length(total)),
         false});
    summary.promised.push_back({"Fibre", names, false});
    if (!s.contract.empty()) summary.promised.push_back({"Contract", s.contract, false});
    summary.promised.push_back({"Limits", state.rules.title, false});
    if (!carried.empty()) summary.promised.push_back({"To carry", carried, false});
}

std::string when_text(report::Locale const& locale, JobState const& state)
{
    std::int64_t first = INT64_MAX, last = INT64_MIN;
    std::int16_t offset = 0;
    for (std::size_t i = 0; i < state.readings.size(); ++i) {
        if (state.readings.taken_ms[i] == verdict::ReadingColumns::no_time) continue;
        first = std::min(first, state.readings.taken_ms[i]);
        last = std::max(last, state.readings.taken_ms[i]);
        offset = state.readings.offset_minutes[i];
    }
    if (first > last) return "not yet";
    return fmt::format("{} to {}", locale.date(Instant{first, offset}), locale.date(Instant{last, offset}));
}

void add_tested(report::Summary& summary, JobState const& state)
{
    Settings const& s = state.settings;
    summary.tested.push_back({"Method", method_text(s, "test cords"), false});
    for (auto const kind : {facts::FibreKind::multimode, facts::FibreKind::single_mode}) {
        auto const found = s.wavelengths.find(kind);
        if (found == s.wavelengths.end()) continue;
        std::string list;
        for (Nanometres const wavelength : found->second)
            list += fmt::format("{}{} nm", list.empty() ? "" : ", ", wavelength.value());
        summary.tested.push_back({fmt::format("Wavelengths, {}", facts::name_of(kind)), list, false});
    }
    summary.tested.push_back({"Directions", s.directions == 2 ? "both" : "one at least", false});
    summary.tested.push_back({"Decision rule", verdict::words_of(s.decision_rule), false});
    summary.decision_rule_text = decision_rule_sentence(s);
    std::set<std::string> crew;
    for (std::size_t i = 0; i < state.readings.operators.size(); ++i)
        crew.insert(state.readings.operators.text(static_cast<std::uint32_t>(i)));
    std::string names;
    for (std::string const& name : crew) names += (names.empty() ? "" : ", ") + name;
    if (!names.empty()) summary.tested.push_back({"Crew", names, false});
    summary.tested.push_back({"Measured", when_text(locale_of(s), state), false});
}

std::string calibration_text(Instrument const& instrument)
{
    if (instrument.calibrated.empty() && instrument.calibration_due.empty()) return "not stated";
    if (instrument.calibrated.empty()) return fmt::format("due {}", instrument.calibration_due);
    if (instrument.calibration_due.empty()) return instrument.calibrated;
    return fmt::format("{}, due {}", instrument.calibrated, instrument.calibration_due);
}

void add_kit(report::Summary& summary, JobState const& state)
{
    report::Locale const locale = locale_of(state.settings);
    for (Instrument const& instrument : state.instruments)
        summary.instruments.push_back({instrument.role ? name_of(*instrument.role) : "",
                                       instrument.description, instrument.id, calibration_text(instrument)});
    EndCounts const matings = count_matings(state);
    auto const mated = [&](std::string const& serial, int end) {
        auto const found = matings.find(std::pair{serial, end});
        return locale.whole(found == matings.end() ? 0 : found->second);
    };
    for (Cord const& cord : state.cords) {
        summary.cords.push_back({cord.role ? setup::name_of(*cord.role) : "any", cord.id,
                                 fmt::format("type {}, {}, {} grade", cord.type, locale.length(cord.length),
                                             facts::name_of(cord.grade)),
                                 fmt::format("{} / {}, {}", plant::name_of(cord.pins_near),
                                             plant::name_of(cord.pins_far), plant::name_of(cord.face)),
                                 fmt::format("{} / {}", mated(cord.id, 0), mated(cord.id, 1))});
    }
}

void add_references(report::Summary& summary, JobState const& state, Assessment const& assessment,
                    record::DerivedTables const& tables)
{
    auto const trusts = reference_trust(state, assessment);
    auto const checks = check_trust(state, assessment);
    for (std::size_t i = 0; i < state.references.size(); ++i) {
        ReferenceEntry const& reference = state.references[i];
        report::ListedReference row;
        row.id = reference.id.text();
        row.taken = reference.taken();
        row.method = method_words(reference.method);
        row.outcome = trusts[i].state;
        for (TrustReason const& reason : trusts[i].reasons)
            row.remark += (row.remark.empty() ? "" : " ") + with_times(reason.text, state.settings);
        for (std::size_t const c : assessment.references[i].checks) {
            row.cord_check +=
                fmt::format("{}{} {}", row.cord_check.empty() ? "" : ", ", checks[c].id, checks[c].state);
        }
        std::set<std::string> links;
        for (record::DerivedLink const& link : tables.links) {
            if (link.reference == reference.id.text()) links.insert(link.link);
        }
        row.links = static_cast<int>(links.size());
        if (WatchedReference const* const watched = assessment.watching->find(reference.id, state)) {
            row.chart = control_chart_of(state, assessment, *watched);
            for (Doubt const& doubt : watched->doubts) {
                row.remark +=
                    fmt::format("{}{}.", row.remark.empty() ? "" : " ", doubt_text(state, *watched, doubt));
                if (!doubt.held.empty())
                    row.remark +=
                        fmt::format(" {} held for it.", counted(doubt.held.size(), "link is", "links are"));
                if (doubt.trusted) row.remark += " " + doubt_action(state, *watched, doubt) + ".";
            }
        }
        summary.references.push_back(std::move(row));
    }
}

void add_sources(report::Summary& summary, facts::RuleSet const& rules)
{
    std::map<std::string, report::Cited> cited;
    for (facts::Fact const* const fact : rules.facts()) {
        report::Cited& row = cited[fact->source.text() + facts::name_of(fact->basis)];
        row.source = fact->source.text();
        row.basis = facts::name_of(fact->basis);
        row.used_for = "limits";
    }
    for (auto& [key, row] : cited) summary.sources.push_back(std::move(row));
}

} // namespace

Result<report::Summary> summary_of(JobState const& state, Assessment const& assessment,
                                   record::DerivedTables const& tables, std::string const& record_hash)
{
    report::Summary summary;
    Settings const& s = state.settings;
    summary.job = {s.title, s.site, s.client, s.contractor};
    summary.record_hash = record_hash;
    add_links(summary, state, tables);
    add_promises(summary, state, tables);
    add_tested(summary, state);
    add_kit(summary, state);
    add_references(summary, state, assessment, tables);
    if (!tables.links.empty()) summary.site = site_map_of(state, tables);
    summary.unconfirmed = unconfirmed_of(state, assessment);
    add_sources(summary, state.rules);
    summary.evidence.push_back({"all records together, in the QR code", record_hash, true});
    for (SourceFile const& file : state.files) summary.evidence.push_back({file.name, file.sha256, true});
    return summary;
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "base/text.hpp"
#include "job/doubt/doubt_text.hpp"
#include "job/groundwork/trust.hpp"
#include "job/kit/kit_register.hpp"
#include "job/paper/certificate_of.hpp"
#include "job/paper/pictures.hpp"
#include "loss/limit.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

drawing::Standing standing_of_text(std::string const& state)
{
    if (state == "pass") return drawing::Standing::pass;
    if (state == "marginal-pass") return drawing::Standing::marginal_pass;
    if (state == "marginal-fail") return drawing::Standing::marginal_fail;
    if (state == "fail") return drawing::Standing::fail;
    if (state == "held") return drawing::Standing::held;
    return drawing::Standing::open;
}

report::ListedLink listed(JobState const& state, record::DerivedLink const& link)
{
    report::ListedLink row;
    row.link = link.link;
    row.zone = link.zone;
    row.standing = standing_of_text(link.state);
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
    row.reason = link.reason;
    return row;
}

void add_promises(report::Summary& summary, JobState const& state, std::size_t fibres)
{
    Settings const& s = state.settings;
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
    summary.tested.push_back({"Method",
                              fmt::format("{} reference, {}-grade test cords", setup::name_of(s.method),
                                          facts::name_of(s.cord_grade)),
                              false});
    for (auto const kind : {facts::FibreKind::multimode, facts::FibreKind::single_mode}) {
        auto const found = s.wavelengths.find(kind);
        if (found == s.wavelengths.end()) continue;
        std::string list;
        for (Nanometres const wavelength : found->second)
            list += fmt::format("{}{} nm", list.empty() ? "" : ", ", wavelength.value());
        summary.tested.push_back({fmt::format("Wavelengths, {}", facts::name_of(kind)), list, false});
    }
    summary.tested.push_back({"Directions", s.directions == 2 ? "both" : "one at least", false});
    summary.tested.push_back({"Decision rule", s.decision_rule, false});
    summary.decision_rule_text = s.decision_rule == "simple-acceptance"
                                     ? "Simple acceptance (JCGM 106:2012, 8.2): a fibre conforms when its "
                                       "attenuation is at or below the limit."
                                 : s.decision_rule == "guarded-acceptance"
                                     ? "Guarded acceptance (JCGM 106:2012, 8.3.2): a fibre is accepted only "
                                       "when it keeps its limit by the guard band."
                                     : "Guarded rejection (JCGM 106:2012, 8.3.3): a fibre is rejected only "
                                       "when it exceeds its limit by the guard band.";
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

std::string calibration_text(Instrument const& instrument)
{
    if (instrument.calibrated.empty() && instrument.calibration_due.empty()) return "not stated";
    if (instrument.calibrated.empty()) return fmt::format("due {}", instrument.calibration_due);
    if (instrument.calibration_due.empty()) return instrument.calibrated;
    return fmt::format("{}, due {}", instrument.calibrated, instrument.calibration_due);
}

} // namespace

namespace {

/// What a reading of this link is held against at a wavelength; NaN where there is no limit.
double limit_at(Assessment const& assessment, std::size_t link, int wavelength_nm)
{
    verdict::LinkTask const& task = assessment.tasks.links[link];
    verdict::LinkKind const& kind = assessment.tasks.kinds[task.kind];
    for (std::size_t w = 0; w < kind.wavelengths; ++w) {
        if (kind.wavelength_nm[w] == wavelength_nm) return task.limit_db[w];
    }
    return std::numeric_limits<double>::quiet_NaN();
}

} // namespace

std::vector<report::Unconfirmed> unconfirmed_of(JobState const& state, Assessment const& assessment)
{
    // One limit for each kind of link is enough: the same values decide all links of the kind.
    struct Kind
    {
        std::map<std::string, report::Unconfirmed> facts;
        std::size_t links = 0;
    };
    std::map<std::tuple<std::string_view, int, int, bool>, Kind> kinds;
    for (std::size_t i = 0; i < state.scheduled(); ++i) {
        plant::LinkSpec const& link = state.links[i];
        auto const [place, is_new] =
            kinds.try_emplace({link.category, assessment.inner[i], link.splices, link.length.value() > 0});
        Kind& kind = place->second;
        ++kind.links;
        if (!is_new) continue;
        auto const limits = limits_of(state, link);
        if (!limits) continue;
        loss::LimitQuestion question;
        question.rules = &state.rules;
        question.category = limits->category;
        question.length = link.length;
        question.method = state.settings.method;
        question.cords = state.settings.cord_grade;
        question.inner = assessment.inner[i];
        question.splices = link.splices;
        for (std::size_t w = 0; w < limits->required; ++w) {
            question.wavelength = limits->wavelengths[w];
            auto const limit = loss::limit(question);
            if (!limit) continue;
            for (loss::LimitLine const& line : limit->lines) {
                if (line.basis != facts::Basis::memory || line.count == 0) continue;
                kind.facts[line.fact] = {line.what,
                                         fmt::format("{} {}", number_text(line.each), line.unit),
                                         line.source.text(),
                                         {},
                                         "a rule file of the contract (docs/formats/rule-set.md)"};
            }
        }
    }
    std::map<std::string, std::pair<report::Unconfirmed, std::size_t>> by_fact;
    for (auto& [key, kind] : kinds) {
        for (auto& [fact, entry] : kind.facts) {
            auto& sum = by_fact[fact];
            sum.first = std::move(entry);
            sum.second += kind.links;
        }
    }
    std::vector<report::Unconfirmed> list;
    for (auto& [fact, pair] : by_fact) {
        pair.first.decides = fmt::format("limits of {} links", pair.second);
        list.push_back(std::move(pair.first));
    }
    return list;
}

Result<report::Summary> summary_of(JobState const& state, Assessment const& assessment,
                                   record::DerivedTables const& tables, std::string const& record_hash)
{
    report::Summary summary;
    Settings const& s = state.settings;
    report::Locale const locale = locale_of(s);
    summary.job = {s.title, s.site, s.client, s.contractor};
    summary.record_hash = record_hash;
    std::map<std::string, report::ZoneCount> zones;
    std::vector<record::DerivedLink const*> by_margin;
    std::size_t fibres = 0, conforming = 0, failing = 0, held = 0, open = 0;
    for (record::DerivedLink const& link : tables.links) {
        report::ZoneCount& zone = zones[link.zone];
        zone.zone = link.zone;
        if (link.scheduled) ++zone.scheduled;
        fibres += static_cast<std::size_t>(link.fibres);
        auto const standing = standing_of_text(link.state);
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
    for (std::size_t i = 0; i < by_margin.size() && i < 12; ++i)
        summary.worst.push_back(listed(state, *by_margin[i]));
    summary.verdict_line = fmt::format("{} of {} links conform", conforming, tables.links.size());
    if (failing > 0) summary.verdict_line += fmt::format("; {} {}", failing, failing == 1 ? "fails" : "fail");
    if (held > 0) summary.verdict_line += fmt::format("; {} {} held", held, held == 1 ? "is" : "are");
    if (open > 0) summary.verdict_line += fmt::format("; {} {} open", open, open == 1 ? "is" : "are");
    summary.standing = failing > 0 ? drawing::Standing::fail
                       : held > 0  ? drawing::Standing::held
                       : open > 0  ? drawing::Standing::open
                                   : drawing::Standing::pass;
    add_promises(summary, state, fibres);
    std::set<std::string> crew;
    for (std::size_t i = 0; i < state.readings.operators.size(); ++i)
        crew.insert(state.readings.operators.text(static_cast<std::uint32_t>(i)));
    std::string names;
    for (std::string const& name : crew) names += (names.empty() ? "" : ", ") + name;
    if (!names.empty()) summary.tested.push_back({"Crew", names, false});
    summary.tested.push_back({"Measured", when_text(locale, state), false});

    for (Instrument const& instrument : state.instruments)
        summary.instruments.push_back(
            {instrument.role, instrument.description, instrument.id, calibration_text(instrument)});
    EndCounts const matings = count_matings(state);
    auto const mated = [&](std::string const& serial, int end) {
        auto const found = matings.find(std::pair{serial, end});
        return locale.whole(found == matings.end() ? 0 : found->second);
    };
    for (Cord const& cord : state.cords) {
        summary.cords.push_back({cord.role.empty() ? "any" : cord.role, cord.id,
                                 fmt::format("type {}, {}, {} grade", cord.type, locale.length(cord.length),
                                             facts::name_of(cord.grade)),
                                 fmt::format("{} / {}, {}", plant::name_of(cord.pins_near),
                                             plant::name_of(cord.pins_far), plant::name_of(cord.face)),
                                 fmt::format("{} / {}", mated(cord.id, 0), mated(cord.id, 1))});
    }
    auto const trusts = reference_trust(state, assessment);
    auto const checks = check_trust(state, assessment);
    for (std::size_t i = 0; i < state.references.size(); ++i) {
        ReferenceEntry const& reference = state.references[i];
        report::ListedReference row;
        row.id = reference.id;
        row.taken = reference.taken();
        row.method = reference.method;
        row.outcome = trusts[i].state;
        for (TrustReason const& reason : trusts[i].reasons)
            row.remark += (row.remark.empty() ? "" : " ") + reason.text;
        for (std::size_t const c : assessment.references[i].checks) {
            row.cord_check +=
                fmt::format("{}{} {}", row.cord_check.empty() ? "" : ", ", checks[c].id, checks[c].state);
        }
        std::set<std::string> links;
        for (record::DerivedLink const& link : tables.links) {
            if (link.reference == reference.id) links.insert(link.link);
        }
        row.links = static_cast<int>(links.size());
        if (WatchedReference const* const watched = assessment.watching->find(reference.id, state)) {
            row.chart = control_chart_of(state, assessment, *watched);
            for (Doubt const& doubt : watched->doubts) {
                row.remark +=
                    fmt::format("{}{}.", row.remark.empty() ? "" : " ", doubt_text(state, *watched, doubt));
                if (!doubt.held.empty())
                    row.remark += fmt::format(" {} links are held for it.", doubt.held.size());
                if (doubt.trusted) row.remark += " " + doubt_action(state, *watched, doubt) + ".";
            }
        }
        summary.references.push_back(std::move(row));
    }
    if (!tables.links.empty()) summary.site = site_map_of(state, tables);
    summary.unconfirmed = unconfirmed_of(state, assessment);
    std::map<std::string, report::Cited> cited;
    for (facts::Fact const* const fact : state.rules.facts()) {
        report::Cited& row = cited[fact->source.text() + facts::name_of(fact->basis)];
        row.source = fact->source.text();
        row.basis = facts::name_of(fact->basis);
        row.used_for = "limits";
    }
    for (auto& [key, row] : cited) summary.sources.push_back(std::move(row));
    summary.evidence.push_back({"all records together, in the QR code", record_hash, true});
    for (SourceFile const& file : state.files) summary.evidence.push_back({file.name, file.sha256, true});
    return summary;
}

std::vector<report::Table> tables_of(JobState const& state, Assessment const& assessment,
                                     record::DerivedTables const& tables)
{
    using report::Cell;
    using report::ColumnType;
    auto const maybe = [](std::optional<double> value) -> Cell { return value ? Cell(*value) : Cell{}; };
    report::Table links;
    links.name = "links";
    links.title = "Links";
    links.columns = {{"link", "Link", ColumnType::text, 0, 16},
                     {"zone", "Zone", ColumnType::text, 0, 16},
                     {"state", "State", ColumnType::text, 0, 12},
                     {"category", "Fibre", ColumnType::text, 0, 8},
                     {"fibres", "Fibres", ColumnType::whole, 0, 8},
                     {"failed_fibres", "Fibres not accepted", ColumnType::whole, 0, 10},
                     {"worst_position", "Worst position", ColumnType::whole, 0, 10},
                     {"worst_wavelength_nm", "at nm", ColumnType::whole, 0, 8},
                     {"worst_attenuation_db", "Attenuation, dB", ColumnType::number, 2, 12},
                     {"worst_limit_db", "Limit, dB", ColumnType::number, 2, 10},
                     {"worst_margin_db", "Margin, dB", ColumnType::number, 2, 10},
                     {"probability_of_conformity", "p_c", ColumnType::number, 4, 8},
                     {"length_m", "Length, m", ColumnType::number, 1, 10},
                     {"reference", "Reference", ColumnType::text, 0, 12},
                     {"operator", "By", ColumnType::text, 0, 12},
                     {"reason", "Reason", ColumnType::text, 0, 60}};
    links.rows = [&tables, maybe](auto const& take) -> Outcome {
        for (record::DerivedLink const& link : tables.links) {
            TRY(take({link.link, link.zone, link.state, link.category, link.fibres, link.failed_fibres,
                      link.worst_position ? Cell(*link.worst_position) : Cell{},
                      link.worst_wavelength_nm ? Cell(*link.worst_wavelength_nm) : Cell{},
                      maybe(link.worst_attenuation_db), maybe(link.worst_limit_db),
                      maybe(link.worst_margin_db), maybe(link.conformity), maybe(link.length_m),
                      link.reference, link.operator_name, link.reason}));
        }
        return {};
    };
    report::Table readings;
    readings.name = "readings";
    readings.title = "Readings";
    readings.columns = {{"link", "Link", ColumnType::text, 0, 16},
                        {"launch_end", "Launch end", ColumnType::text, 0, 8},
                        {"position", "Position", ColumnType::whole, 0, 8},
                        {"far_position", "Far position", ColumnType::whole, 0, 8},
                        {"wavelength_nm", "Wavelength, nm", ColumnType::whole, 0, 8},
                        {"attenuation_db", "Attenuation, dB", ColumnType::number, 2, 12},
                        {"limit_db", "Limit, dB", ColumnType::number, 2, 10},
                        {"length_m", "Length, m", ColumnType::number, 1, 10},
                        {"taken_at", "Taken", ColumnType::moment, 0, 22},
                        {"reference", "Reference", ColumnType::text, 0, 12},
                        {"operator", "By", ColumnType::text, 0, 12},
                        {"state", "State", ColumnType::text, 0, 12},
                        {"superseded", "Superseded", ColumnType::yes_no, 0, 8}};
    readings.rows = [&state, &assessment](auto const& take) -> Outcome {
        auto const& r = state.readings;
        auto const name = [](verdict::Dictionary const& names, std::uint32_t index) -> Cell {
            return index == verdict::Dictionary::missing ? Cell{} : Cell(names.text(index));
        };
        for (std::size_t i = 0; i < r.size(); ++i) {
            double const limit = limit_at(assessment, r.link[i], r.wavelength_nm[i]);
            TRY(take({r.links.text(r.link[i]),
                      std::string(r.launch_end[i] == verdict::LaunchEnd::a ? "a" : "b"),
                      std::int64_t{r.position[i]},
                      r.far_position[i] == verdict::far_not_stated ? Cell{}
                                                                   : Cell(std::int64_t{r.far_position[i]}),
                      std::int64_t{r.wavelength_nm[i]}, std::isnan(r.value[i]) ? Cell{} : Cell(r.value[i]),
                      std::isnan(limit) ? Cell{} : Cell(limit),
                      std::isnan(r.length_m[i]) ? Cell{} : Cell(r.length_m[i]),
                      r.taken_ms[i] == verdict::ReadingColumns::no_time
                          ? Cell{}
                          : Cell(Instant{r.taken_ms[i], r.offset_minutes[i]}),
                      name(r.references, r.reference[i]), name(r.operators, r.operator_name[i]),
                      std::string(verdict::name_of(assessment.verdicts.reading_state[i])),
                      (assessment.verdicts.reading_flags[i] & verdict::superseded) != 0}));
        }
        return {};
    };
    report::Table values;
    values.name = "values";
    values.title = "Values";
    values.columns = {
        {"id", "Value", ColumnType::text, 0, 40},       {"quantity", "What it is", ColumnType::text, 0, 40},
        {"value", "Number", ColumnType::number, 3, 10}, {"unit", "Unit", ColumnType::text, 0, 8},
        {"source", "Source", ColumnType::text, 0, 40},  {"basis", "Known by", ColumnType::text, 0, 16}};
    values.rows = [&state](auto const& take) -> Outcome {
        for (facts::Fact const* const fact : state.rules.facts()) {
            TRY(take({fact->id, fact->quantity, fact->value, fact->unit, fact->source.text(),
                      std::string(facts::name_of(fact->basis))}));
        }
        return {};
    };
    return {std::move(links), std::move(readings), std::move(values)};
}

} // namespace guidepin::job

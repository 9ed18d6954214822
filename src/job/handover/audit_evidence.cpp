// SPDX-License-Identifier: Apache-2.0
// The audit's look at what was measured: the schedule against the evidence, references, causes, values.
#include "base/text.hpp"
#include "job/handover/audit_looks.hpp"
#include "job/paper/unconfirmed.hpp"
#include "job/sheet/locale.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace guidepin::job::detail {

namespace {

using verdict::ReadingColumns;

/// What is missing of a link that was measured at all.
struct Gaps
{
    std::map<int, std::set<std::uint32_t>> wavelengths; ///< required, without a reading
    std::set<std::uint32_t> directions;
    std::map<std::uint32_t, std::size_t> places;
};

void add_gaps(Looking const& looking, std::uint32_t link, Gaps& gaps)
{
    Assessment const& assessment = looking.assessment;
    verdict::LinkVerdict const& verdict = assessment.verdicts.links[link];
    if (verdict.missing == 0) return;
    verdict::LinkKind const& kind = assessment.tasks.kinds[assessment.tasks.links[link].kind];
    ReadingColumns const& readings = looking.state.readings;
    // By required wavelength and launch end: how many places have a reading.
    std::array<std::array<std::set<int>, 2>, verdict::max_wavelengths> seen;
    for (std::uint32_t k = assessment.rows->begin(link); k < assessment.rows->end(link); ++k) {
        std::uint32_t const row = assessment.rows->row(k);
        if (!looking.is_current(row)) continue;
        for (std::size_t w = 0; w < kind.required; ++w) {
            if (kind.wavelength_nm[w] != readings.wavelength_nm[row]) continue;
            seen[w][readings.launch_end[row] == verdict::LaunchEnd::b ? 1 : 0].insert(readings.position[row]);
        }
    }
    bool const both = looking.state.settings.directions == 2;
    bool one_sided = false, partial = false;
    for (std::size_t w = 0; w < kind.required; ++w) {
        std::size_t const a = seen[w][0].size(), b = seen[w][1].size();
        if (a + b == 0) {
            gaps.wavelengths[kind.wavelength_nm[w]].insert(link);
            continue;
        }
        if (both && (a == 0 || b == 0)) one_sided = true;
        std::size_t const all = verdict.fibres;
        if (both ? (a > 0 && a < all) || (b > 0 && b < all) : std::max(a, b) < all) partial = true;
    }
    if (one_sided) gaps.directions.insert(link);
    if (partial) gaps.places[link] = verdict.missing;
}

/// Links whose earlier readings were superseded by later ones, in one file or in several.
void add_retests(Looking const& looking)
{
    std::vector<std::string> again, away;
    for (record::DerivedLink const& link : looking.tables.links) {
        std::uint32_t const index = looking.state.readings.links.find(link.link);
        if (index == verdict::Dictionary::missing) continue;
        bool twice = false, failed = false;
        for (std::uint32_t k = looking.assessment.rows->begin(index); k < looking.assessment.rows->end(index);
             ++k) {
            std::uint32_t const row = looking.assessment.rows->row(k);
            if (!(looking.assessment.verdicts.reading_flags[row] & verdict::superseded)) continue;
            verdict::State const state = looking.assessment.verdicts.reading_state[row];
            twice = true;
            failed = failed || state == verdict::State::fail || state == verdict::State::marginal_fail;
        }
        if (!twice) continue;
        again.push_back(link.link);
        bool const passes = link.state == "pass" || link.state == "marginal-pass";
        bool const has_note =
            std::any_of(looking.state.notes.begin(), looking.state.notes.end(),
                        [&](Note const& note) { return note.subject == "link" && note.name == link.link; });
        if (passes && failed && !has_note) away.push_back(link.link);
    }
    if (!again.empty())
        add(looking.report, "link-tested-again", "", again,
            fmt::format("{} measured more than once: {}",
                        again.size() == 1 ? "1 link was" : links_text(again.size()) + " were",
                        some_of(again)));
    if (!away.empty())
        add(looking.report, "failure-tested-away", "", away,
            fmt::format("{} failed, then passed, and no note says what was done between: {}",
                        links_text(away.size()), some_of(away)));
}

} // namespace

void look_at_schedule(Looking const& looking)
{
    JobState const& state = looking.state;
    AuditReport& report = looking.report;
    std::vector<std::string> open, unknown;
    Gaps gaps;
    for (std::uint32_t link = 0; link < state.readings.links.size(); ++link) {
        bool const measured = looking.assessment.verdicts.links[link].readings > 0;
        if (link >= state.scheduled()) {
            if (measured) unknown.push_back(looking.name_of(link));
        } else if (!measured) {
            open.push_back(looking.name_of(link));
        } else {
            add_gaps(looking, link, gaps);
        }
    }
    if (!open.empty())
        add(report, "link-not-tested", "", open,
            fmt::format("{} of {} in the schedule {} no reading: {}", open.size(),
                        links_text(state.scheduled()), open.size() == 1 ? "has" : "have", some_of(open)));
    for (auto const& [wavelength, links] : gaps.wavelengths) {
        auto const names = looking.names_of(links);
        add(report, "wavelength-not-measured", fmt::format("{} nm", wavelength), names,
            fmt::format("{} required and was not measured on {}: {}", fmt::format("{} nm is", wavelength),
                        links_text(names.size()), some_of(names)));
    }
    if (!gaps.directions.empty()) {
        auto const names = looking.names_of(gaps.directions);
        add(report, "direction-not-measured", "", names,
            fmt::format("the job asks for both directions; from one end alone {} measured: {}",
                        names.size() == 1 ? "1 link was" : links_text(names.size()) + " were",
                        some_of(names)));
    }
    if (!gaps.places.empty()) {
        std::vector<std::string> names;
        std::size_t missing = 0;
        for (auto const& [link, places] : gaps.places) {
            names.push_back(looking.name_of(link));
            missing += places;
        }
        add(report, "position-not-measured", "", names,
            fmt::format("{} of {} missing: {}",
                        missing == 1 ? "1 reading" : fmt::format("{} readings", missing),
                        links_text(names.size()) + (missing == 1 ? " is" : " are"), some_of(names)));
    }
    if (!unknown.empty())
        add(report, "link-not-scheduled", "", unknown,
            fmt::format("{} measured and not in the schedule: {}",
                        unknown.size() == 1 ? "1 link was" : links_text(unknown.size()) + " were",
                        some_of(unknown)));
    add_retests(looking);
    for (SourceFile const& file : state.files) {
        if (file.withdrawn.empty()) continue;
        add(report, "import-withdrawn", fmt::format("{}:{}", file.station, file.sequence), {},
            fmt::format("{}, imported by {} on {}, was withdrawn: {}", file.name, file.person,
                        date_time(file.recorded, state.settings), file.withdrawn));
    }
    for (Acknowledgement const& acknowledged : state.acknowledgements) {
        // The latest decision on a finding counts.
        auto const later =
            std::find_if(&acknowledged + 1, state.acknowledgements.data() + state.acknowledgements.size(),
                         [&](auto const& other) { return other.finding == acknowledged.finding; });
        bool const last = later == state.acknowledgements.data() + state.acknowledgements.size();
        if (!last || !acknowledged.stands) continue;
        add(report, "finding-acknowledged", acknowledged.finding, acknowledged.evidence.links,
            fmt::format("{} on {}: {} acknowledged it on {}: {}", in_words(acknowledged.evidence.cause),
                        some_of(acknowledged.evidence.links), acknowledged.person,
                        date_time(acknowledged.at, state.settings), acknowledged.reason));
    }
}

void look_at_references(Looking const& looking)
{
    JobState const& state = looking.state;
    std::map<std::pair<verdict::HoldKind, std::uint32_t>, std::pair<std::uint32_t, std::set<std::uint32_t>>>
        held;
    for (std::uint32_t row = 0; row < state.readings.size(); ++row) {
        if (looking.assessment.hold.empty() || looking.assessment.hold[row] == 0 || !looking.is_current(row))
            continue;
        auto const kind = static_cast<verdict::HoldKind>(looking.assessment.hold[row]);
        auto& [first, links] =
            held.try_emplace({kind, state.readings.reference[row]}, row, std::set<std::uint32_t>{})
                .first->second;
        links.insert(state.readings.link[row]);
    }
    for (auto const& [key, value] : held) {
        auto const names = looking.names_of(value.second);
        std::string const reference = key.second == verdict::Dictionary::missing
                                          ? std::string{"no reference"}
                                          : state.readings.references.text(key.second);
        verdict::Hold const why = looking.assessment.hold_of(state, value.first);
        add(looking.report, verdict::name_of(key.first), reference, names,
            fmt::format("{} under {} {} held ({}). {}", links_text(names.size()), reference,
                        names.size() == 1 ? "is" : "are", some_of(names),
                        with_times(why.text, state.settings)));
    }
    for (auto at = state.trust_decisions.begin(); at != state.trust_decisions.end(); ++at) {
        // The latest decision on a reference counts.
        bool const last = std::none_of(at + 1, state.trust_decisions.end(),
                                       [&](auto const& other) { return other.reference == at->reference; });
        if (!last || !at->stands) continue;
        add(looking.report, "reference-trusted", at->reference.text(), {},
            fmt::format("{}: {} has relied on it since {}, although the readings under it shifted: {}",
                        at->reference, at->person, date_time(at->at, state.settings), at->reason));
    }
    for (KitOverride const& decision : state.kit.overrides)
        add(looking.report, "kit-overridden", decision.item + " " + instant_text(decision.at), {},
            fmt::format("{} was refused ({}); {} decided on {} to use it: {}", decision.item,
                        in_words(about_text(decision)), decision.person,
                        date_time(decision.at, state.settings), decision.reason));
    for (std::string const& text : looking.assessment.timeline->without_effect())
        add(looking.report, "without-effect", text, {}, with_times(text, state.settings));
}

Outcome look_at_causes(Looking const& looking, Actor const& actor, std::vector<JobFinding> const* known)
{
    std::vector<JobFinding> own;
    if (!known) {
        TRY_ASSIGN(own, findings_of(looking.state, looking.assessment, actor.threads, actor.progress,
                                    actor.progress_context));
        known = &own;
    }
    for (JobFinding const& entry : *known) {
        cause::Finding const& finding = entry.finding;
        std::string_view const id = cause::id_of(finding.cause);
        bool const concerns = id == "copied-measurement" || id == "mislabelled-link" ||
                              id == "reference-drift" || id == "reference-fault" ||
                              id == "test-cord-position" || id == "wrong-test-cord" ||
                              id == "contradicting-records";
        if (!concerns || finding.probability < 0.5) continue;
        std::vector<std::string> names;
        for (std::uint32_t const link : finding.links) names.push_back(looking.name_of(link));
        // What is likely and not sure refutes nothing.
        std::optional<Weight> weight;
        if (finding.probability < 0.95) weight = Weight::weakens;
        if (finding.cause == cause::Cause::contradicting_records) {
            add(looking.report, id, finding.id, names, finding.evidence);
            continue;
        }
        std::string const reference = finding.reference == cause::none
                                          ? ""
                                          : looking.state.readings.references.text(finding.reference) + ", ";
        add(looking.report, id, finding.id, names,
            fmt::format("{}{}: {} ({} %)", reference, some_of(names), finding.evidence,
                        fixed_text(100 * std::min(finding.probability, 0.994), 0)),
            id == "copied-measurement" ? weight : std::nullopt);
    }
    return {};
}

void look_at_values(Looking const& looking)
{
    for (report::Unconfirmed const& value : unconfirmed_of(looking.state, looking.assessment)) {
        add(looking.report, "value-from-memory", value.quantity + value.value, {},
            fmt::format("{}, {} ({}), decides {} and comes from memory", value.quantity, value.value,
                        value.source, value.decides.empty() ? std::string{"something"} : value.decides));
    }
}

} // namespace guidepin::job::detail

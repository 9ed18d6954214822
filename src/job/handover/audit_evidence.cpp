// SPDX-License-Identifier: Apache-2.0
// The audit's look at what was measured: the schedule against the evidence, order in time, instruments,
// causes.
#include "base/text.hpp"
#include "job/handover/audit_inside.hpp"
#include "job/kit/kit_register.hpp"
#include "job/paper/unconfirmed.hpp"
#include "record/kind.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include <fmt/format.h>

namespace guidepin::job::detail {

namespace {

using verdict::ReadingColumns;

/// A station's clock and an instrument's may differ by this much without a word.
constexpr std::int64_t clock_tolerance_ms = 15 * 60 * 1000;

bool is_current(Looking const& looking, std::uint32_t row)
{
    return (looking.assessment.verdicts.reading_flags[row] & (verdict::superseded | verdict::not_planned)) ==
           0;
}

/// Names of links in the order of the schedule, each once.
std::vector<std::string> names_of(Looking const& looking, std::set<std::uint32_t> const& links)
{
    std::vector<std::string> names;
    for (std::uint32_t const link : links) names.push_back(looking.name_of(link));
    return names;
}

std::string moment_text(Looking const& looking, std::int64_t ms)
{
    return instant_text({ms, looking.state.settings.zone_offset_minutes});
}

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
        if (!is_current(looking, row)) continue;
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
        bool const told =
            std::any_of(looking.state.notes.begin(), looking.state.notes.end(),
                        [&](Note const& note) { return note.subject == "link" && note.name == link.link; });
        if (passes && failed && !told) away.push_back(link.link);
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

/// The row is measured by an instrument pair: by its meter, where the job knows it, else by its reference.
std::string instrument_of(JobState const& state, std::uint32_t reference)
{
    if (reference == verdict::Dictionary::missing) return {};
    std::string const& name = state.readings.references.text(reference);
    auto const found = state.reference_index.find(name);
    if (found == state.reference_index.end()) return "under " + name;
    std::string const& meter = state.references[found->second].kit.meter;
    return meter.empty() ? "under " + name : meter;
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
        auto const names = names_of(looking, links);
        add(report, "wavelength-not-measured", fmt::format("{} nm", wavelength), names,
            fmt::format("{} required and was not measured on {}: {}", fmt::format("{} nm is", wavelength),
                        links_text(names.size()), some_of(names)));
    }
    if (!gaps.directions.empty()) {
        auto const names = names_of(looking, gaps.directions);
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
            fmt::format("{}, brought in by {} at {}, was taken back: {}", file.name, file.person,
                        instant_text(file.recorded), file.withdrawn));
    }
    for (Acknowledgement const& acknowledged : state.acknowledgements) {
        // The latest word on a finding counts.
        auto const later =
            std::find_if(&acknowledged + 1, state.acknowledgements.data() + state.acknowledgements.size(),
                         [&](auto const& other) { return other.finding == acknowledged.finding; });
        bool const last = later == state.acknowledgements.data() + state.acknowledgements.size();
        if (!last || !acknowledged.stands) continue;
        add(report, "finding-acknowledged", acknowledged.finding, acknowledged.evidence.links,
            fmt::format("{} on {}: {} let it stand at {}: {}", acknowledged.evidence.cause,
                        some_of(acknowledged.evidence.links), acknowledged.person,
                        instant_text(acknowledged.at), acknowledged.reason));
    }
}

Outcome look_at_order(Looking const& looking)
{
    JobState const& state = looking.state;
    std::map<std::string, std::int64_t> tested; // link -> its first record
    for (TestEntry const& test : state.tests) {
        auto const [place, is_new] = tested.try_emplace(test.link, test.recorded.ms);
        if (!is_new) place->second = std::min(place->second, test.recorded.ms);
    }
    std::map<std::string, std::string> lines; // link -> its line of the schedule
    std::map<std::string, Instant> last;      // station -> time of its last record
    std::vector<std::string> moved;
    Instant moved_at;
    std::string promise;
    record::RecordQuery all;
    all.order = record::RecordQuery::Order::chain;
    std::vector<std::pair<Instant, std::string>> schedules, promises;
    TRY(looking.store.visit(all, [&](record::RecordView const& record) -> Outcome {
        auto const [place, is_new] = last.try_emplace(std::string(record.station), record.time);
        if (!is_new) {
            if (record.time.ms + clock_tolerance_ms < place->second.ms)
                add(looking.report, "clock-went-back", std::string(record.station), {},
                    fmt::format("station {}: record {} is of {}, the one before it of {}", record.station,
                                record.sequence, instant_text(record.time), instant_text(place->second)));
            place->second = record.time;
        }
        if (record.kind == record::kind::schedule)
            schedules.emplace_back(record.time, std::string(record.body));
        if (record.kind == record::kind::setting)
            promises.emplace_back(record.time, std::string(record.body));
        return {};
    }));
    auto const by_time = [](auto const& a, auto const& b) { return a.first < b.first; };
    std::stable_sort(schedules.begin(), schedules.end(), by_time);
    std::stable_sort(promises.begin(), promises.end(), by_time);
    for (auto const& [time, body] : schedules) {
        TRY_ASSIGN(auto const links, links_of_schedule(body));
        for (plant::LinkSpec const& link : links) {
            TRY_ASSIGN(std::string line, schedule_body({link}, SourceFile{}));
            std::string& kept = lines[link.id];
            auto const first = tested.find(link.id);
            if (!kept.empty() && kept != line && first != tested.end() && first->second < time.ms) {
                moved.push_back(link.id);
                moved_at = time;
            }
            kept = std::move(line);
        }
    }
    if (!moved.empty())
        add(looking.report, "schedule-changed-after-test", "", moved,
            fmt::format("the schedule of {} changed {} after {} measured: {}", instant_text(moved_at),
                        links_text(moved.size()), moved.size() == 1 ? "it was" : "they were",
                        some_of(moved)));
    for (auto const& [time, body] : promises) {
        bool const changed = !promise.empty() && promise != body;
        promise = body;
        if (!changed) continue;
        std::size_t before = 0;
        for (auto const& [link, first] : tested) before += first < time.ms;
        if (before > 0)
            add(looking.report, "rules-changed-after-test", instant_text(time), {},
                fmt::format("what the job promises was changed at {}, when {} had been measured",
                            instant_text(time), links_text(before)));
    }
    std::set<std::uint32_t> timeless, early;
    std::int64_t most = 0;
    for (TestEntry const& test : state.tests) {
        for (std::uint32_t row = test.first_row; row < test.first_row + test.rows; ++row) {
            std::int64_t const taken = state.readings.taken_ms[row];
            if (taken == ReadingColumns::no_time) {
                timeless.insert(state.readings.link[row]);
            } else if (taken > test.recorded.ms + clock_tolerance_ms) {
                early.insert(state.readings.link[row]);
                most = std::max(most, taken - test.recorded.ms);
            }
        }
    }
    if (!timeless.empty()) {
        auto const names = names_of(looking, timeless);
        add(looking.report, "no-time", "", names,
            fmt::format("readings of {} have no time: {}", links_text(names.size()), some_of(names)));
    }
    if (!early.empty()) {
        auto const names = names_of(looking, early);
        add(looking.report, "taken-after-recorded", "", names,
            fmt::format("readings of {} say that they were taken up to {} h after they were recorded: {}",
                        links_text(names.size()), fixed_text(static_cast<double>(most) / 3'600'000, 1),
                        some_of(names)));
    }
    return {};
}

void look_at_references(Looking const& looking)
{
    JobState const& state = looking.state;
    std::map<std::pair<verdict::HoldKind, std::uint32_t>, std::pair<std::uint32_t, std::set<std::uint32_t>>>
        held;
    for (std::uint32_t row = 0; row < state.readings.size(); ++row) {
        if (looking.assessment.hold.empty() || looking.assessment.hold[row] == 0 || !is_current(looking, row))
            continue;
        auto const kind = static_cast<verdict::HoldKind>(looking.assessment.hold[row]);
        auto& [first, links] =
            held.try_emplace({kind, state.readings.reference[row]}, row, std::set<std::uint32_t>{})
                .first->second;
        links.insert(state.readings.link[row]);
    }
    for (auto const& [key, value] : held) {
        auto const names = names_of(looking, value.second);
        std::string const reference = key.second == verdict::Dictionary::missing
                                          ? std::string{"no reference"}
                                          : state.readings.references.text(key.second);
        verdict::Hold const why = looking.assessment.hold_of(state, value.first);
        add(looking.report, verdict::name_of(key.first), reference, names,
            fmt::format("{} under {} {} held ({}). {}", links_text(names.size()), reference,
                        names.size() == 1 ? "is" : "are", some_of(names), why.text));
    }
    for (auto at = state.trust_decisions.begin(); at != state.trust_decisions.end(); ++at) {
        // The latest word on a reference counts.
        bool const last = std::none_of(at + 1, state.trust_decisions.end(),
                                       [&](auto const& other) { return other.reference == at->reference; });
        if (!last || !at->stands) continue;
        add(looking.report, "reference-trusted", at->reference, {},
            fmt::format("{}: {} relies on it since {}, though what was measured under it moved: {}",
                        at->reference, at->person, instant_text(at->at), at->reason));
    }
    for (KitOverride const& decision : state.kit.overrides)
        add(looking.report, "kit-overridden", decision.item + " " + instant_text(decision.at), {},
            fmt::format("{} was refused ({}); {} decided at {} to use it: {}", decision.item,
                        joined(decision.about, ", "), decision.person, instant_text(decision.at),
                        decision.reason));
    for (std::string const& text : looking.assessment.timeline->without_effect())
        add(looking.report, "without-effect", text, {}, text);
}

std::optional<Haste> haste_of(std::vector<Visit> const& visits, double most_per_hour,
                              std::int64_t resolution_ms)
{
    std::optional<Haste> worst;
    std::set<std::uint32_t> links;
    for (std::size_t first = 0; first < visits.size(); ++first) {
        for (std::size_t changes = 3; changes <= 6 && first + changes < visits.size(); ++changes) {
            // Rounding may have taken up to its whole step off the time between.
            std::int64_t const span =
                visits[first + changes].first_ms - visits[first].first_ms + resolution_ms;
            double const per_hour = static_cast<double>(changes) * 3'600'000 /
                                    static_cast<double>(std::max<std::int64_t>(span, 1));
            if (per_hour <= most_per_hour) continue;
            for (std::size_t i = first; i <= first + changes; ++i) links.insert(visits[i].link);
            if (!worst || per_hour > worst->per_hour) worst = Haste{first, changes, per_hour, {}};
        }
    }
    if (worst) worst->links.assign(links.begin(), links.end());
    return worst;
}

void look_at_timing(Looking const& looking)
{
    JobState const& state = looking.state;
    facts::Fact const* const most = state.tables.fact("readiness.links-per-hour.most");
    if (!most) return;
    std::map<std::string, std::vector<std::pair<std::int64_t, std::uint32_t>>> by_instrument;
    for (std::uint32_t row = 0; row < state.readings.size(); ++row) {
        if (state.readings.taken_ms[row] == ReadingColumns::no_time) continue;
        std::string const instrument = instrument_of(state, state.readings.reference[row]);
        if (!instrument.empty())
            by_instrument[instrument].emplace_back(state.readings.taken_ms[row], state.readings.link[row]);
    }
    for (auto& [instrument, times] : by_instrument) {
        std::sort(times.begin(), times.end());
        std::int64_t resolution = 60'000;
        for (auto const& [time, link] : times) {
            while (resolution > 1 && time % resolution != 0) resolution = resolution == 60'000 ? 1000 : 1;
        }
        std::vector<Visit> visits;
        for (auto const& [time, link] : times) {
            if (visits.empty() || visits.back().link != link) visits.push_back({time, link});
        }
        auto const haste = haste_of(visits, most->value, resolution);
        if (!haste) continue;
        auto const names = names_of(looking, {haste->links.begin(), haste->links.end()});
        std::int64_t const from = visits[haste->first].first_ms,
                           to = visits[haste->first + haste->changes].first_ms;
        std::string const pace =
            to == from
                ? fmt::format("{} links bear the one time {}", haste->changes + 1, moment_text(looking, from))
                : fmt::format("{} links follow each other within {} s from {} on", haste->changes + 1,
                              fixed_text(static_cast<double>(to - from) / 1000, 0),
                              moment_text(looking, from));
        add(looking.report, "too-fast", instrument, names,
            fmt::format("{}: {}; hands can mate {} links an hour at most (common practice); {} concerned: {}",
                        instrument, pace, number_text(most->value),
                        names.size() == 1 ? "1 link is" : links_text(names.size()) + " are", some_of(names)));
    }
}

/// Links that an instrument measured, by the day; a day on which it took a reference alone has none.
using LinksByDay = std::map<setup::Day, std::set<std::uint32_t>>;

/// Every day of use against the calibration that was the latest on it, of those that job sheet and register
/// tell.
void look_at_calibration(Looking const& looking, std::string const& id, std::string const& named,
                         LinksByDay const& links_by_day)
{
    struct Outside
    {
        std::set<std::uint32_t> links;
        std::string day; ///< of the calibration that does not hold
        bool any = false;
    };
    Outside over, before;
    bool unknown = links_by_day.empty() && !calibrated_until(looking.state, id, setup::Day{0});
    for (auto const& [day, links] : links_by_day) {
        auto const found = calibration_for(looking.state, id, day);
        if (!found) continue;
        if (found->made_later) {
            before.links.insert(links.begin(), links.end());
            before.day = day_text(*found->made);
            before.any = true;
        } else if (!found->due) {
            unknown = true;
        } else if (day > *found->due) {
            over.links.insert(links.begin(), links.end());
            over.day = day_text(*found->due);
            over.any = true;
        }
    }
    if (unknown) {
        add(looking.report, "calibration-unknown", id, {},
            fmt::format("{}: the job does not say until when its calibration holds", named));
    }
    auto const measured = [&](std::vector<std::string> const& names) {
        return names.empty() ? std::string{"a reference"} : links_text(names.size()) + ": " + some_of(names);
    };
    std::string const decision =
        calibration_override(looking.state, id, Instant{std::numeric_limits<std::int64_t>::max(), 0});
    std::string const all_the_same =
        decision.empty() ? std::string{} : fmt::format(" (used all the same by decision of {})", decision);
    if (over.any) {
        auto const names = names_of(looking, over.links);
        add(looking.report, "calibration-over", id, names,
            fmt::format("{} was due on {}; after that day it measured {}{}", named, over.day, measured(names),
                        all_the_same));
    }
    if (before.any) {
        auto const names = names_of(looking, before.links);
        add(looking.report, "calibrated-after-use", id, names,
            fmt::format("{} was calibrated on {}; before that day it measured {}{}", named, before.day,
                        measured(names), all_the_same));
    }
}

void look_at_instruments(Looking const& looking)
{
    JobState const& state = looking.state;
    struct Use
    {
        std::string role;
        std::set<std::string> references;
        LinksByDay links_by_day;
    };
    std::map<std::string, Use> uses;
    std::vector<std::string> nameless;
    for (ReferenceEntry const& reference : state.references) {
        for (auto const& [role, id] :
             {std::pair<char const*, std::string const&>{"source", reference.kit.source},
              {"meter", reference.kit.meter}}) {
            if (id.empty()) {
                nameless.push_back(fmt::format("{} names no {}", reference.id, role));
                continue;
            }
            Use& use = uses[id];
            use.role = role;
            use.references.insert(reference.id);
            std::int64_t const taken = reference.taken().ms;
            if (taken != ReadingColumns::no_time)
                use.links_by_day[day_of(Instant{taken, state.settings.zone_offset_minutes})];
        }
    }
    for (std::string const& text : nameless) add(looking.report, "instrument-unknown", text, {}, text);
    for (auto& [id, use] : uses) {
        std::string const named = fmt::format("{} {}", use.role, id);
        bool const known = std::any_of(state.instruments.begin(), state.instruments.end(),
                                       [&id = id, &use = use](Instrument const& instrument) {
                                           return instrument.id == id && instrument.role == use.role;
                                       });
        if (!known) {
            add(looking.report, "instrument-unknown", id, {},
                fmt::format("{} of {} is not in the job's list of instruments", named,
                            joined({use.references.begin(), use.references.end()}, ", ")));
            continue;
        }
        for (std::uint32_t row = 0; row < state.readings.size(); ++row) {
            std::uint32_t const reference = state.readings.reference[row];
            if (reference == verdict::Dictionary::missing) continue;
            if (!use.references.contains(state.readings.references.text(reference))) continue;
            std::int64_t const taken = state.readings.taken_ms[row];
            if (taken == ReadingColumns::no_time) continue;
            use.links_by_day[day_of(Instant{taken, state.settings.zone_offset_minutes})].insert(
                state.readings.link[row]);
        }
        look_at_calibration(looking, id, named, use.links_by_day);
    }
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
            fmt::format("{}, {} ({}), decides {} and rests on memory", value.quantity, value.value,
                        value.source, value.decides.empty() ? std::string{"something"} : value.decides));
    }
}

} // namespace guidepin::job::detail

// SPDX-License-Identifier: Apache-2.0
// Whether references can still be trusted, and a person's decision to rely on a doubted one.
#include "job/doubt/watch.hpp"

#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"
#include "job/assess/assess.hpp"
#include "job/doubt/doubt_text.hpp"
#include "watch/charts.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;
using job::Doubt;
using job::WatchedReference;

Json rounded(double value, double scale = 1e4)
{
    return std::isfinite(value) ? Json(std::round(value * scale) / scale) : Json(nullptr);
}

struct WatchedJob
{
    job::JobState const& state;
    job::Assessment const& assessment;

    job::Watching const& watching() const { return *assessment.watching; }
    std::string const& link(WatchedReference const& reference, std::size_t test) const
    {
        return state.readings.links.text(reference.tests[test].link);
    }
    verdict::ReferenceId const& name(WatchedReference const& reference) const
    {
        return state.references[reference.entry].id;
    }
    Json links(WatchedReference const& reference, std::vector<std::size_t> const& tests) const
    {
        Json list = Json::array();
        for (std::size_t const test : tests) list.push_back(link(reference, test));
        return list;
    }
    Json time(std::int64_t ms) const
    {
        return ms == verdict::ReadingColumns::no_time
                   ? Json(nullptr)
                   : Json(instant_text({ms, state.settings.zone_offset_minutes}));
    }
};

std::vector<bool> held_tests(WatchedReference const& reference)
{
    std::vector<bool> held(reference.tests.size(), false);
    for (Doubt const& doubt : reference.doubts) {
        for (std::size_t const test : doubt.held) held[test] = true;
    }
    return held;
}

Json doubt_json(WatchedJob const& watched, WatchedReference const& reference, Doubt const& doubt)
{
    bool const timed = !doubt.change.probability.empty();
    auto const at = [&](std::size_t test) {
        return timed ? Json(watched.link(reference, test)) : Json(nullptr);
    };
    Json witnesses = Json::array();
    for (job::WatchWitness const& witness : doubt.witnesses)
        witnesses.push_back({{"what", witness.what},
                             {"link", watched.link(reference, witness.test)},
                             {"moved", witness.moved},
                             {"by_db", rounded(witness.by.value())}});
    Json trusted = nullptr;
    if (doubt.trusted) {
        job::TrustDecision const& decision = watched.state.trust_decisions[*doubt.trusted];
        trusted = {{"by", decision.person}, {"at", instant_text(decision.at)}, {"reason", decision.reason}};
    }
    Json retests = nullptr;
    if (timed && doubt.material && !doubt.trusted) {
        watch::RetestPlan const& plan = doubt.plan;
        retests = {{"next", plan.next ? Json(watched.link(reference, *plan.next)) : Json(nullptr)},
                   {"at_most", plan.at_most},
                   {"expected", rounded(plan.expected, 1e2)},
                   {"cleared", plan.cleared.size()},
                   {"condemned", watched.links(reference, plan.condemned)},
                   {"undecided", watched.links(reference, plan.undecided)},
                   {"contradiction", plan.contradiction}};
    }
    return {{"id", doubt.id},
            {"kind", job::name_of(doubt.kind)},
            {"position", doubt.position > 0 ? Json(doubt.position) : Json(nullptr)},
            {"size_db", rounded(doubt.size.value())},
            {"size_u_db", rounded(doubt.size_u.value())},
            {"chart", doubt.chart.empty() ? Json(nullptr) : Json(doubt.chart)},
            {"signalled_at", at(doubt.at)},
            {"since", at(doubt.change.first_after)},
            {"since_earliest", at(doubt.change.earliest)},
            {"since_latest", at(doubt.change.latest)},
            {"material", doubt.material},
            {"witnesses", witnesses},
            {"retests", retests},
            {"trusted", trusted},
            {"held", watched.links(reference, doubt.held)},
            {"text", job::doubt_text(watched.state, reference, doubt)},
            {"action", job::doubt_action(watched.state, reference, doubt)}};
}

Json reference_json(WatchedJob const& watched, WatchedReference const& reference)
{
    std::vector<bool> const held = held_tests(reference);
    Json points = Json::array();
    for (std::size_t t = 0; t < reference.tests.size(); ++t) {
        watch::ChartPoint const& point = reference.chart[t];
        points.push_back({{"link", watched.link(reference, t)},
                          {"taken", watched.time(reference.tests[t].at_ms)},
                          {"offset_db", rounded(point.offset_db)},
                          {"u_db", rounded(point.u_db)},
                          {"level_db", rounded(point.expected_db)},
                          {"ewma", rounded(point.ewma)},
                          {"cusum_high", rounded(point.cusum_high)},
                          {"cusum_low", rounded(point.cusum_low)},
                          {"held", static_cast<bool>(held[t])}});
    }
    Json positions = Json::array();
    for (std::size_t p = 0; p < reference.positions; ++p) {
        if (!std::isfinite(reference.position_offset_db[p])) continue;
        positions.push_back({{"position", p + 1},
                             {"offset_db", rounded(reference.position_offset_db[p])},
                             {"u_db", rounded(reference.position_u_db[p])}});
    }
    Json doubts = Json::array();
    for (Doubt const& doubt : reference.doubts) doubts.push_back(doubt_json(watched, reference, doubt));
    watch::NegativeLossEvidence const& negative = reference.negative;
    return {{"reference", watched.name(reference).text()},
            {"taken", instant_text(watched.state.references[reference.entry].taken())},
            {"wavelengths", reference.wavelengths},
            {"ewma_limit", rounded(reference.ewma_limit)},
            {"cusum_limit", rounded(reference.cusum_limit)},
            {"points", points},
            {"positions", positions},
            {"too_low",
             {{"readings", negative.readings},
              {"below", negative.below},
              {"lowest_db", negative.below > 0 ? rounded(negative.worst_db) : Json(nullptr)},
              {"chance", negative.below > 0 ? Json(negative.chance()) : Json(nullptr)},
              {"suspect", negative.suspect()}}},
            {"doubts", doubts}};
}

/// Links of a reference in a line: how far their readings are from the level, in eighths of `reach`.
std::string strip(std::vector<double> const& values, double centre, double reach)
{
    static constexpr std::array<char const*, 8> levels{"▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"};
    std::string text;
    for (double const value : values) {
        if (!std::isfinite(value)) {
            text += ' ';
            continue;
        }
        double const place = (value - centre + reach) / (2 * reach) * 8;
        text += levels[static_cast<std::size_t>(std::clamp(place, 0.0, 7.0))];
    }
    return text;
}

/// Long sessions are drawn by groups of links, so that a line fits a terminal.
constexpr std::size_t widest = 72;

std::string chart_text(WatchedJob const& watched, WatchedReference const& reference, Doubt const* doubt)
{
    std::vector<double> offsets;
    if (doubt) {
        offsets = watched.watching().track(reference, *doubt, *watched.assessment.expectation);
    } else {
        for (watch::ChartPoint const& point : reference.chart) offsets.push_back(point.offset_db);
    }
    std::vector<bool> const held = held_tests(reference);
    std::size_t const group = (offsets.size() + widest - 1) / widest;
    std::vector<double> drawn;
    std::string marks;
    for (std::size_t first = 0; first < offsets.size(); first += group) {
        std::size_t const end = std::min(offsets.size(), first + group);
        double sum = 0;
        double count = 0;
        char mark = ' ';
        for (std::size_t t = first; t < end; ++t) {
            if (std::isfinite(offsets[t])) {
                sum += offsets[t];
                count += 1;
            }
            if (held[t] && mark == ' ') mark = 'h';
            if (doubt && !doubt->change.probability.empty() && t == doubt->change.first_after) mark = '^';
        }
        drawn.push_back(count > 0 ? sum / count : std::nan(""));
        marks += mark;
    }
    double const centre = doubt && !doubt->change.probability.empty() ? doubt->change.before
                                                                      : reference.chart.back().expected_db;
    double reach = 0.1;
    for (double const value : drawn) {
        if (std::isfinite(value)) reach = std::max(reach, std::min(0.5, std::abs(value - centre)));
    }
    std::string text = fmt::format("  |{}|  {} to {} dB\n", strip(drawn, centre, reach),
                                   fixed_text(centre - reach, 2), fixed_text(centre + reach, 2));
    marks.erase(marks.find_last_not_of(' ') + 1);
    if (!marks.empty()) text += fmt::format("   {}\n", marks);
    return text;
}

/// Which chart passed its limit, and where the later links confirmed it.
std::string seen_text(WatchedJob const& watched, WatchedReference const& reference, Doubt const& doubt)
{
    char const* const chart = doubt.chart == "ewma" ? "moving average" : "cumulative sum";
    std::size_t passed = doubt.at;
    if (doubt.kind == job::DoubtKind::common) {
        auto const beyond = [&](watch::ChartPoint const& point) {
            return std::abs(point.ewma) > reference.ewma_limit ||
                   std::max(point.cusum_high, point.cusum_low) > reference.cusum_limit;
        };
        while (passed > 0 && beyond(reference.chart[passed - 1])) --passed;
    }
    if (passed == doubt.at)
        return fmt::format("    seen at {} by the {}\n", watched.link(reference, doubt.at), chart);
    return fmt::format("    {} beyond its limit from {} on, confirmed by later links at {}\n", chart,
                       watched.link(reference, passed), watched.link(reference, doubt.at));
}

std::string reference_text(WatchedJob const& watched, WatchedReference const& reference)
{
    std::string text =
        fmt::format("\n{}: {} link{}, {} to {}\n", watched.name(reference), reference.tests.size(),
                    plural_ending(reference.tests.size()), watched.link(reference, 0),
                    watched.link(reference, reference.tests.size() - 1));
    if (reference.doubts.empty()) {
        text += chart_text(watched, reference, nullptr);
        return text + "  nothing casts doubt on it\n";
    }
    for (Doubt const& doubt : reference.doubts) {
        text += chart_text(watched, reference, &doubt);
        text += fmt::format("  {}\n", job::doubt_text(watched.state, reference, doubt));
        if (!doubt.chart.empty()) text += seen_text(watched, reference, doubt);
        for (job::WatchWitness const& witness : doubt.witnesses)
            text += fmt::format("    {}: {} ({}{} dB)\n", witness.what,
                                witness.moved ? "had moved" : "had not moved",
                                witness.by.value() < 0 ? "" : "+", fixed_text(witness.by.value(), 2));
        if (!doubt.held.empty()) {
            std::vector<std::string> names;
            for (std::size_t const test : doubt.held) names.push_back(watched.link(reference, test));
            text +=
                fmt::format("    held: {}{}\n", some_of(names, 8),
                            doubt.position > 0 ? fmt::format(", position {} of each", doubt.position) : "");
        }
        text += fmt::format("    {}\n", job::doubt_action(watched.state, reference, doubt));
        if (job::may_be_accepted(doubt))
            text +=
                fmt::format("    decision: guidepin trust JOB {} --reason TEXT\n", watched.name(reference));
    }
    return text;
}

/// The points of one reference as a table.
std::string points_text(WatchedJob const& watched, WatchedReference const& reference)
{
    Table table({{"link"},
                 {"taken"},
                 {"offset", Align::right},
                 {"u", Align::right},
                 {"average", Align::right},
                 {"sum up", Align::right},
                 {"sum down", Align::right},
                 {""}});
    std::vector<bool> const held = held_tests(reference);
    for (std::size_t t = 0; t < reference.tests.size(); ++t) {
        watch::ChartPoint const& point = reference.chart[t];
        Json const taken = watched.time(reference.tests[t].at_ms);
        table.add({watched.link(reference, t), taken.is_null() ? "" : taken.get<std::string>(),
                   fixed_text(point.offset_db, 3), fixed_text(point.u_db, 3), fixed_text(point.ewma, 2),
                   fixed_text(point.cusum_high, 2), fixed_text(point.cusum_low, 2), held[t] ? "held" : ""});
    }
    return fmt::format("\nOffset: what all fibres of a link share, in dB above what similar links show. "
                       "Average and sums are in\nstandard deviations; they signal above {} and {}.\n{}",
                       fixed_text(reference.ewma_limit, 2), fixed_text(reference.cusum_limit, 2),
                       table.text());
}

Result<WatchedReference const*> wanted_reference(WatchedJob const& watched, verdict::ReferenceId const& name)
{
    if (name.empty()) return nullptr;
    WatchedReference const* const found = watched.watching().find(name, watched.state);
    if (found) return found;
    if (watched.state.reference_index.contains(name))
        return Error{Errc::not_found, fmt::format("No link has been measured under reference {} yet", name)};
    std::vector<std::string> known;
    for (auto const& reference : watched.state.references) known.push_back(reference.id.text());
    return Error{Errc::not_found,
                 fmt::format("The job has no reference {}{}", name, did_you_mean(name.text(), known))};
}

Result<int> run_watch(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), false));
    TRY_ASSIGN(auto const* const assessment, job.assessment());
    WatchedJob const watched{job.state(), *assessment};
    TRY_ASSIGN(WatchedReference const* const wanted,
               wanted_reference(watched, verdict::ReferenceId(arguments.text("--reference"))));
    job::Watching const& watching = watched.watching();
    bool any_held = false;
    std::size_t quiet = 0;
    std::vector<WatchedReference const*> shown;
    for (WatchedReference const& reference : watching.references) {
        if (wanted && wanted != &reference) continue;
        shown.push_back(&reference);
        quiet += reference.doubts.empty() ? 1 : 0;
        for (Doubt const& doubt : reference.doubts) any_held = any_held || !doubt.held.empty();
    }
    if (world.json) {
        Json references = Json::array();
        for (WatchedReference const* const reference : shown)
            references.push_back(reference_json(watched, *reference));
        world.out += Json{{"job", arguments.text("JOB")},
                          {"design",
                           {{"links_between_false_alarms", watching.design.run_length},
                            {"average_weight", watching.design.lambda},
                            {"sum_reference_value", watching.design.k},
                            {"granted_db", rounded(watching.grants_db)}}},
                          {"references", references}}
                         .dump(2, ' ', false, damaged_text) +
                     "\n";
        return any_held ? 1 : 0;
    }
    if (shown.empty()) {
        world.out += "No link has been measured under a reference of this job yet.\n";
        return 0;
    }
    world.out +=
        fmt::format("{} watched, {} without doubt; on average {} links between false alarms\n",
                    counted(shown.size(), "reference"), quiet, fixed_text(watching.design.run_length, 0));
    for (WatchedReference const* const reference : shown) world.out += reference_text(watched, *reference);
    if (wanted) world.out += points_text(watched, *wanted);
    return any_held ? 1 : 0;
}

Result<int> run_trust(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), true));
    verdict::ReferenceId const reference(arguments.text("REFERENCE"));
    bool const relies = !arguments.has("--withdraw");
    TRY_ASSIGN(job::TrustOutcome const outcome,
               job.rely_on_reference(reference, arguments.text("--reason"), relies));
    if (world.json) {
        world.out +=
            Json{{"reference", reference.text()},
                 {"stands", relies},
                 {"doubts", outcome.doubts},
                 {"released", outcome.held_before - std::min(outcome.held_before, outcome.held_after)},
                 {"held_now", outcome.held_after}}
                .dump(2, ' ', false, damaged_text) +
            "\n";
        return 0;
    }
    std::size_t const released = outcome.held_before - std::min(outcome.held_before, outcome.held_after);
    world.out += relies ? fmt::format("You rely on reference {}: {} released\n", reference,
                                      counted(released, "held reading"))
                        : fmt::format("The decision to rely on reference {} is withdrawn: {} held\n",
                                      reference, counted(outcome.held_after, "reading"));
    return 0;
}

constexpr std::array watch_options{
    job_option,
    Option{"--reference", "ID", "show only this reference, with its points"},
};
constexpr std::array trust_options{
    job_option,
    Option{"REFERENCE", "", "the doubted reference", true},
    Option{"--reason", "TEXT", "why you rely on it; the record keeps it", true},
    Option{"--withdraw", "", "withdraw an earlier decision: the readings that it released are held again"},
    operator_option,
    key_option,
};

} // namespace

Command const watch_command{
    "watch",
    "Say whether the references can still be trusted",
    "Follows each reference through the links measured under it. Shows whether all readings, one wavelength "
    "or one position of a test cord moved, since which link, which readings are held for that reason, and "
    "the fewest links to retest to settle it. Exit code 1 when readings are held.",
    "watch hall.guidepin --reference R-3",
    watch_options,
    &run_watch};
Command const trust_command{
    "trust",
    "Decide to rely on a doubted reference",
    "Records that you rely on a reference although the watch doubts it, with name and reason. The readings "
    "that this doubt held are judged again. A doubt that grows or changes holds them again. Readings that a "
    "failed cord check or an event holds stay held.",
    "trust hall.guidepin R-3 --reason \"source had warmed up; second meter agrees\"",
    trust_options,
    &run_trust};

} // namespace guidepin::cli

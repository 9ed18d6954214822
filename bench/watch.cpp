// SPDX-License-Identifier: Apache-2.0
// room: base job simulate
// bench_watch [FIRST_SEED [SITES [LINKS]]]: the watch over references on simulated sites, held against the
// truth: links between false signals while nothing changes, share of healthy links that are held, and for
// drifts of 0.10 and 0.20 dB how many links after the change the watch signals. Tune with seeds below 1000,
// report with seeds from 1000 on.
#include "../tests/support/simulated_job.hpp"
#include "base/clock.hpp"
#include "intake/write.hpp"
#include "job/assess/assess.hpp"
#include "job/findings/doubt_findings.hpp"
#include "job/findings/explain.hpp"
#include "job/open/job.hpp"

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <set>
#include <unistd.h>

#include <fmt/format.h>

using namespace guidepin;

namespace {

[[noreturn]] void stop(std::string const& message)
{
    std::fprintf(stderr, "bench_watch: %s\n", message.c_str());
    std::exit(3);
}

template <class T>
T must(Result<T> result)
{
    if (!result) stop(result.error().message);
    return std::move(*result);
}

simulate::Site site_of(std::uint64_t seed, std::size_t links, std::string const& faults)
{
    simulate::Design design;
    design.seed = seed;
    design.links = links;
    design.faults = must(simulate::parse_wishes(faults));
    return must(simulate::simulate(design));
}

struct Quiet
{
    std::size_t links = 0, signals = 0, held = 0;
    std::map<std::string, std::size_t> by_kind;
};

void add_quiet(Quiet& quiet, job::Assessment const& assessment, bool listing)
{
    for (job::WatchedReference const& reference : assessment.watching->references) {
        quiet.links += reference.tests.size();
        quiet.signals += reference.taken_back;
        if (reference.taken_back > 0) quiet.by_kind["taken back"] += reference.taken_back;
        for (job::Doubt const& doubt : reference.doubts) {
            ++quiet.signals;
            ++quiet.by_kind[job::name_of(doubt.kind)];
            quiet.held += doubt.held.size();
            if (listing)
                fmt::print("  false: {} size {:.3f} u {:.3f} at {} of {}{}\n", doubt.id, doubt.size.value(),
                           doubt.size_u.value(), doubt.at, reference.tests.size(),
                           doubt.material ? "" : ", not held");
        }
    }
}

struct Delays
{
    std::vector<double> links; ///< after the change until the signal, itself counted; infinite: not found
    std::size_t affected = 0, affected_held = 0, sound = 0, sound_held = 0;
    std::vector<double> error; ///< of the size said, dB
    std::size_t within_2u = 0;
};

void add_delays(Delays& delays, simulate::Site const& site, job::JobState const& state,
                job::Assessment const& assessment, std::size_t least_before = 5, std::size_t least_after = 10)
{
    for (simulate::Truth const& truth : site.truths) {
        std::string const& id = site.references[static_cast<std::size_t>(truth.reference)].id;
        job::WatchedReference const* const reference =
            assessment.watching->find(verdict::ReferenceId{id}, state);
        if (!reference) continue;
        std::size_t first = 0;
        while (first < reference->tests.size() && reference->tests[first].link != truth.first) ++first;
        // A change in the last few links has no time to be found; it is no answer about delay.
        bool const enough = first + least_after < reference->tests.size() && first >= least_before;
        double delay = std::numeric_limits<double>::infinity();
        std::vector<bool> held(reference->tests.size(), false);
        for (job::Doubt const& doubt : reference->doubts) {
            bool const right = doubt.kind == job::DoubtKind::common && doubt.at >= first;
            if (right) delay = std::min(delay, static_cast<double>(doubt.at - first + 1));
            if (right && enough && truth.detail == "at once") {
                delays.error.push_back(doubt.size.value() - truth.size_db);
                delays.within_2u += std::abs(delays.error.back()) < 2 * doubt.size_u.value() + 0.01 ? 1 : 0;
            }
            if (doubt.position == 0)
                for (std::size_t const test : doubt.held) held[test] = true;
        }
        if (enough && truth.detail == "at once") delays.links.push_back(delay);
        for (std::size_t t = 0; t < held.size(); ++t) {
            (t >= first ? delays.affected : delays.sound) += 1;
            (t >= first ? delays.affected_held : delays.sound_held) += held[t] ? 1 : 0;
        }
    }
}

void print_delays(char const* what, Delays delays)
{
    std::sort(delays.links.begin(), delays.links.end());
    std::size_t const n = delays.links.size();
    if (n == 0) return;
    auto const at = [&](double p) {
        return delays.links[std::min(n - 1, static_cast<std::size_t>(p * static_cast<double>(n)))];
    };
    std::size_t found = 0;
    while (found < n && delays.links[found] < 1e9) ++found;
    double bias = 0;
    double squares = 0;
    for (double const error : delays.error) {
        bias += error;
        squares += error * error;
    }
    auto const counted = static_cast<double>(std::max<std::size_t>(1, delays.error.size()));
    fmt::print(
        "{}: {} changes, signal after {:.0f} links in the median (9 of 10: {:.0f}), found {}; size off by "
        "{:+.3f} dB on average (root mean square {:.3f}), within 2 u {:.0f} %; affected links "
        "held {:.1f} %, sound ones of the same sessions {:.1f} %\n",
        what, n, at(0.5), at(0.9), found, bias / counted, std::sqrt(squares / counted),
        100.0 * static_cast<double>(delays.within_2u) / counted,
        100.0 * static_cast<double>(delays.affected_held) /
            static_cast<double>(std::max<std::size_t>(1, delays.affected)),
        100.0 * static_cast<double>(delays.sound_held) /
            static_cast<double>(std::max<std::size_t>(1, delays.sound)));
}

/// Sites on which hardly anything is learned: 60 links; and where no cord check is known, so that all is
/// held.
void add_unlearned(std::map<std::string, Delays>& delays, std::uint64_t seed)
{
    for (std::uint64_t k = 0; k < 5; ++k) {
        auto const site = site_of(10 * seed + k, 60, "reference-drift:1@0.25");
        auto state = support::job_of(site);
        add_delays(delays["60 links, 0.25 dB"], site, state, must(job::assess(state, 2)), 4, 4);
        state.checks.clear();
        add_delays(delays["60 links without a cord check, 0.25 dB"], site, state, must(job::assess(state, 2)),
                   4, 4);
    }
}

void demand(Outcome const& outcome)
{
    if (!outcome) stop(outcome.error().message);
}

/// Findings that the watch alone has, and how often they are right: of what was called so probable.
struct Alone
{
    std::size_t findings = 0, right = 0;
    double called = 0;
};

void add_alone(std::map<std::string, Alone>& alone, std::uint64_t seed, std::size_t links, bool listing)
{
    auto const site = site_of(seed, links,
                              "reference-drift:1@0.10,reference-drift:1@0.15,reference-drift:1@0.25,"
                              "reference-fault:1,test-cord-position:2,dirty-or-damaged-end-face:20,"
                              "macrobend:4,misaligned-ferrule:4,broken-fibre:2");
    auto const state = support::job_of(site);
    auto const assessment = must(job::assess(state, 2));
    auto findings = must(job::explain_job(state, assessment, 2));
    std::set<std::string> explained;
    for (cause::Finding const& finding : findings) explained.insert(finding.id);
    demand(job::add_doubts(state, assessment, findings));
    for (cause::Finding const& finding : findings) {
        if (explained.count(finding.id) > 0) continue;
        std::string const& name = state.readings.references.text(finding.reference);
        bool right = false;
        bool near = false;
        for (simulate::Truth const& truth : site.truths) {
            if (truth.reference < 0 || site.references[static_cast<std::size_t>(truth.reference)].id != name)
                continue;
            near = true;
            right = right || std::string_view{simulate::id_of(truth.fault)} == cause::id_of(finding.cause);
        }
        Alone& of = alone[fmt::format("{}", cause::id_of(finding.cause))];
        ++of.findings;
        of.right += right ? 1 : 0;
        of.called += finding.probability;
        if (listing)
            fmt::print("  alone {} {} {:.3f} {}: {}\n",
                       right  ? "right"
                       : near ? "another fault"
                              : "FALSE",
                       cause::id_of(finding.cause), finding.probability, name, finding.evidence);
    }
}

double seconds_of(auto const& work)
{
    auto const start = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

int speed(std::size_t links)
{
    auto const site = site_of(1000, links, "all:4");
    auto const as_state = support::job_of(site);
    std::filesystem::path const folder =
        std::filesystem::temp_directory_path() / fmt::format("guidepin-bench-{}", ::getpid());
    std::filesystem::create_directories(folder);
    std::string const path = folder / "site.guidepin";
    SystemClock const clock;
    job::Actor actor;
    actor.clock = &clock;
    actor.name = "Bench";
    actor.key_path = folder / "key";
    actor.program = "bench";
    actor.threads = 2;
    demand(job::Job::create(path, as_state.settings, actor));
    {
        auto job = must(job::Job::open(path, actor, true));
        must(job.import_schedule("schedule.csv", intake::schedule_csv(site.links), {}));
        must(job.import_readings("readings.csv", intake::readings_csv(as_state.readings), {}, {}));
    }
    double read = 1e9;
    for (int i = 0; i < 3; ++i)
        read = std::min(read, seconds_of([&] { must(job::Job::open(path, actor, false)); }));
    std::filesystem::remove_all(folder);
    // Judged as a state whose references are known, so that all of them are watched.
    double assess = 1e9;
    double learn = 1e9;
    double watch = 1e9;
    double explain = 1e9;
    double again = 0;
    std::size_t findings = 0;
    for (int i = 0; i < 3; ++i) {
        std::optional<job::Assessment> assessment;
        assess = std::min(assess, seconds_of([&] { assessment = must(job::assess(as_state, 2)); }));
        std::optional<job::Expectation> expectation;
        learn = std::min(
            learn, seconds_of([&] { expectation = must(job::Expectation::learn(as_state, *assessment)); }));
        std::optional<job::Watching> watching;
        watch = std::min(watch, seconds_of([&] {
                             watching = must(job::watch_references(as_state, *assessment, *expectation, 2));
                         }));
        for (std::uint32_t k = 0; k < 5; ++k) {
            std::uint32_t const link = static_cast<std::uint32_t>(links * (2 * k + 1) / 10);
            again = std::max(again, seconds_of([&] {
                                 watching = must(job::watch_again(as_state, *assessment, *expectation,
                                                                  *std::move(watching), {&link, 1}, 2));
                             }));
        }
        explain = std::min(
            explain, seconds_of([&] { findings = must(job::explain_job(as_state, *assessment, 2)).size(); }));
    }
    fmt::print("{} links, {} readings, {} references, {} findings; two threads, best of three\n", links,
               as_state.readings.size(), site.references.size(), findings);
    auto const row = [&](char const* what, double seconds) {
        fmt::print("{:<42} {:8.3f} s {:8.2f} x reading the records\n", what, seconds, seconds / read);
    };
    row("reading the records", read);
    row("verdicts, watch and holds in them", assess);
    row("  of these: expectation", learn);
    row("  of these: watch", watch);
    row("explanation", explain);
    row("  the watch again after one link, at most", again);
    row("explanation and watch", explain + learn + watch);
    return 0;
}

} // namespace

int main(int argc, char** argv)
{
    auto const number = [&](int i, long fallback) { return argc > i ? std::atol(argv[i]) : fallback; };
    if (argc > 1 && std::string_view(argv[1]) == "--speed")
        return speed(static_cast<std::size_t>(number(2, 20000)));
    auto const first_seed = static_cast<std::uint64_t>(number(1, 1));
    auto const sites = static_cast<std::uint64_t>(number(2, 10));
    auto const links = static_cast<std::size_t>(number(3, 1000));
    bool const listing = std::getenv("LIST") != nullptr;
    Quiet quiet;
    Quiet spoilt;
    std::map<std::string, Delays> delays;
    std::map<std::string, Delays> unlearned;
    std::map<std::string, Alone> alone;
    std::size_t healthy = 0;
    std::size_t standing_out = 0;
    for (std::uint64_t s = 0; s < sites; ++s) {
        auto const site = site_of(first_seed + s, links, "none");
        auto const state = support::job_of(site);
        auto const assessment = must(job::assess(state, 2));
        add_quiet(quiet, assessment, listing);
        for (std::size_t i = 0; i < state.scheduled(); ++i) {
            auto const standout = assessment.expectation->standout(state, assessment, i);
            ++healthy;
            standing_out += standout && standout->stands_out ? 1 : 0;
            if (listing && standout && standout->stands_out)
                fmt::print("  stands out: {} {} {} whole {} value {:.2f} band {:.2f} {:.2f} {:.2f} offset "
                           "{:.3f} surprise {:.1f}\n",
                           state.links[i].id, state.links[i].category, standout->wavelength_nm,
                           standout->whole_link, standout->value_db, standout->band.low, standout->band.mean,
                           standout->band.high, standout->offset_db, standout->surprise);
        }
        // Links of all other faults must make no reference doubtful.
        auto const ill =
            site_of(first_seed + s, links,
                    "dirty-or-damaged-end-face:40,macrobend:8,misaligned-ferrule:8,unpinned-joint:4,"
                    "broken-fibre:6,extra-connection:6,length-mismatch:6");
        add_quiet(spoilt, must(job::assess(support::job_of(ill), 2)), listing);
        auto const references = std::max<std::size_t>(1, links / 40 / 3);
        for (char const* const size : {"0.10", "0.20"}) {
            auto const drifting =
                site_of(first_seed + s, links, fmt::format("reference-drift:{}@{}", references, size));
            auto const drifted = support::job_of(drifting);
            add_delays(delays[size], drifting, drifted, must(job::assess(drifted, 2)));
        }
        add_unlearned(unlearned, first_seed + s);
        add_alone(alone, first_seed + s, links, listing);
    }
    fmt::print("{} sites of {} links, seeds {} to {}\n", sites, links, first_seed, first_seed + sites - 1);
    auto const run = [](char const* what, Quiet const& q) {
        fmt::print(
            "{}: {} links, {} signals ({}), {} links between them; {} links held ({:.2f} %)\n", what, q.links,
            q.signals,
            [&] {
                std::string parts;
                for (auto const& [kind, count] : q.by_kind)
                    parts += fmt::format("{}{} {}", parts.empty() ? "" : ", ", count, kind);
                return parts;
            }(),
            q.links / std::max<std::size_t>(1, q.signals), q.held,
            100.0 * static_cast<double>(q.held) / static_cast<double>(std::max<std::size_t>(1, q.links)));
    };
    run("nothing wrong", quiet);
    run("faults of links only", spoilt);
    for (auto const& [size, d] : delays) print_delays(fmt::format("drift of {} dB", size).c_str(), d);
    for (auto const& [what, d] : unlearned) print_delays(what.c_str(), d);
    for (auto const& [what, of] : alone)
        fmt::print("reported by the watch alone, {}: {} findings, called {:.3f} on average, right {:.3f}\n",
                   what, of.findings, of.called / static_cast<double>(of.findings),
                   static_cast<double>(of.right) / static_cast<double>(of.findings));
    fmt::print(
        "surprise: {} of {} healthy links stand out, {:.2f} per 1000 (at most 1)\n", standing_out, healthy,
        1000.0 * static_cast<double>(standing_out) / static_cast<double>(std::max<std::size_t>(1, healthy)));
    return 0;
}

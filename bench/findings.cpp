// SPDX-License-Identifier: Apache-2.0
// room: base job simulate
// bench_findings [FIRST_SEED [SITES [LINKS [FAULTS]]]]: findings as a person sees them, held against the
// truth: a job is assessed, explained, and what the watch doubts is added. Per cause: recall, duplicates,
// false ones; calibration, by who reports it (the explanation, or the watch alone by kind of doubt);
// which affected links are held. FAULTS "mixed": five mixtures in turn. LIST=1 lists what was missed or is
// wrong. Tune with seeds below 1000, report with seeds from 1000 on.
#include "job/findings/findings.hpp"
#include "../tests/support/simulated_job.hpp"
#include "job/assess/assess.hpp"
#include "job/doubt/watch.hpp"
#include "job/findings/doubt_findings.hpp"
#include "job/findings/explain.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <set>

#include <fmt/format.h>

using namespace guidepin;

namespace {

constexpr std::array mixtures{
    "dirty-or-damaged-end-face:3,reference-fault,copied-measurement,macrobend",
    "test-cord-position,extra-connection:2,mislabelled-link,reference-drift",
    "reference-drift,misaligned-ferrule:2,crossed-fibres",
    "test-cord-position,reference-fault,length-mismatch",
    "reference-drift,unpinned-joint,face-mismatch",
};

template <class T>
T must(Result<T> result)
{
    if (!result) {
        std::fprintf(stderr, "bench_findings: %s\n", result.error().message.c_str());
        std::exit(3);
    }
    return std::move(*result);
}

struct Tally
{
    int truths = 0, found = 0, clear = 0, clear_found = 0;
    int findings = 0, duplicates = 0, wrong = 0;
};

struct Called
{
    int findings = 0, right = 0;
    double sum = 0;
};

constexpr std::array edges{0.0, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99, 1.01};
using Bins = std::array<Called, edges.size() - 1>;

struct Held
{
    std::size_t changes = 0, with_any = 0, first = 0, affected = 0, affected_held = 0, sound = 0,
                sound_held = 0;
};

/// The position of the truth's cord, at the launch end or where a link of the session takes it to.
bool same_position(cause::Finding const& finding, simulate::Truth const& truth, simulate::Site const& site)
{
    if (finding.positions == truth.positions) return true;
    if (truth.positions.size() != 1 || finding.positions.size() != 1) return false;
    int const columns = site.links[truth.links.front()].family.positions();
    return finding.positions.front() == columns + 1 - truth.positions.front();
}

bool matches(cause::Finding const& finding, simulate::Truth const& truth, simulate::Site const& site,
             job::JobState const& state)
{
    if (std::string_view{simulate::id_of(truth.fault)} != cause::id_of(finding.cause)) return false;
    if (truth.reference >= 0)
        return finding.reference != cause::none &&
               state.readings.references.text(finding.reference) ==
                   site.references[static_cast<std::size_t>(truth.reference)].id &&
               same_position(finding, truth, site);
    return std::any_of(finding.links.begin(), finding.links.end(), [&](std::uint32_t link) {
        return std::find(truth.links.begin(), truth.links.end(), link) != truth.links.end();
    });
}

/// Returns who reports a finding: the explanation, or the watch alone by kind of its doubt.
std::string reporter_of(cause::Finding const& finding, std::set<std::string> const& explained)
{
    if (explained.count(finding.id) > 0) return "explanation";
    if (!finding.positions.empty()) return "watch alone, position";
    return finding.cause == cause::Cause::reference_drift ? "watch alone, change" : "watch alone, level";
}

struct Outcomes
{
    std::map<std::string, Tally> tallies;
    std::map<std::string, Bins> bins;
    std::map<std::string, Held> held;
    double seconds = 0;
    std::size_t healthy = 0, healthy_held = 0;

    void add(simulate::Site const& site, std::uint64_t seed, bool listing);
    void add_held(simulate::Site const& site, job::JobState const& state, job::Assessment const& assessment);
};

void Outcomes::add(simulate::Site const& site, std::uint64_t seed, bool listing)
{
    auto const state = support::job_of(site);
    auto const start = std::chrono::steady_clock::now();
    auto const assessment = must(job::assess(state, 2));
    auto explanation = must(job::explain_job(state, assessment, 2));
    std::set<std::string> explained;
    for (cause::Finding const& finding : explanation) explained.insert(finding.id);
    auto const findings = must(job::findings_from(state, assessment, std::move(explanation)));
    seconds += std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();

    std::vector<bool> used(findings.size(), false);
    for (simulate::Truth const& truth : site.truths) {
        Tally& tally = tallies[simulate::id_of(truth.fault)];
        ++tally.truths;
        bool const clear = truth.size_db == 0 || std::abs(truth.size_db) >= 0.3;
        tally.clear += clear ? 1 : 0;
        bool found = false;
        for (std::size_t i = 0; i < findings.size() && !found; ++i) {
            if (used[i] || !matches(findings[i].finding, truth, site, state)) continue;
            used[i] = true;
            found = true;
        }
        tally.found += found ? 1 : 0;
        tally.clear_found += found && clear ? 1 : 0;
        if (listing)
            fmt::print("seed {} {} {} {} pos {} size {:.2f} from {} ({}), {} links\n", seed,
                       found ? "truth " : "MISSED", simulate::id_of(truth.fault),
                       truth.reference >= 0 ? site.references[static_cast<std::size_t>(truth.reference)].id
                                            : site.links[truth.links.front()].id,
                       truth.positions.empty() ? 0 : truth.positions.front(), truth.size_db,
                       truth.reference >= 0 ? site.links[truth.first].id : "-", truth.detail,
                       truth.links.size());
    }
    for (std::size_t i = 0; i < findings.size(); ++i) {
        cause::Finding const& finding = findings[i].finding;
        Tally& tally = tallies[cause::id_of(finding.cause)];
        ++tally.findings;
        bool const again = !used[i] && std::any_of(site.truths.begin(), site.truths.end(),
                                                   [&](simulate::Truth const& truth) {
                                                       return matches(finding, truth, site, state);
                                                   });
        tally.duplicates += again ? 1 : 0;
        tally.wrong += used[i] || again ? 0 : 1;
        std::string const who = reporter_of(finding, explained);
        for (std::size_t b = 0; b + 1 < edges.size(); ++b) {
            if (finding.probability < edges[b] || finding.probability >= edges[b + 1]) continue;
            Called& of = bins[who][b];
            ++of.findings;
            of.right += used[i] ? 1 : 0;
            of.sum += finding.probability;
        }
        if (!used[i] && listing)
            fmt::print("seed {} {} {} {}\n    {}: {}\n", seed, again ? "AGAIN" : "FALSE", who,
                       finding.probability, job::heading_of(state, finding), finding.evidence);
    }
    add_held(site, state, assessment);
}

void Outcomes::add_held(simulate::Site const& site, job::JobState const& state,
                        job::Assessment const& assessment)
{
    for (job::WatchedReference const& reference : assessment.watching->references) {
        simulate::Truth const* drift = nullptr;
        bool sound = true;
        for (simulate::Truth const& truth : site.truths) {
            if (truth.reference < 0 || site.references[static_cast<std::size_t>(truth.reference)].id !=
                                           state.references[reference.entry].id.text())
                continue;
            sound = false;
            if (truth.fault == simulate::Fault::reference_drift) drift = &truth;
        }
        std::vector<bool> held_tests(reference.tests.size(), false);
        for (job::Doubt const& doubt : reference.doubts)
            if (doubt.position == 0)
                for (std::size_t const test : doubt.held) held_tests[test] = true;
        auto const count = static_cast<std::size_t>(std::count(held_tests.begin(), held_tests.end(), true));
        if (sound) {
            healthy += reference.tests.size();
            healthy_held += count;
        }
        if (!drift || std::abs(drift->size_db) < 0.15) continue;
        Held& of = held[drift->detail];
        std::size_t first = 0;
        while (first < reference.tests.size() && reference.tests[first].link != drift->first) ++first;
        if (first == reference.tests.size()) continue;
        ++of.changes;
        of.with_any += count > 0 ? 1 : 0;
        of.first += count > 0 && held_tests[first] ? 1 : 0;
        for (std::size_t t = 0; t < held_tests.size(); ++t) {
            (t >= first ? of.affected : of.sound) += 1;
            (t >= first ? of.affected_held : of.sound_held) += held_tests[t] ? 1 : 0;
        }
    }
}

std::string percent_of(std::size_t part, std::size_t whole)
{
    return whole == 0
               ? std::string{"-"}
               : fmt::format("{:.1f} %", 100.0 * static_cast<double>(part) / static_cast<double>(whole));
}

} // namespace

int main(int argc, char** argv)
{
    auto const number = [&](int i, long fallback) { return argc > i ? std::atol(argv[i]) : fallback; };
    auto const first_seed = static_cast<std::uint64_t>(number(1, 1));
    auto const sites = static_cast<std::uint64_t>(number(2, 40));
    auto const links = static_cast<std::size_t>(number(3, 200));
    std::string const faults = argc > 4 ? argv[4] : "mixed";
    bool const listing = std::getenv("LIST") != nullptr;
    Outcomes outcomes;
    for (std::uint64_t s = 0; s < sites; ++s) {
        simulate::Design design;
        design.seed = first_seed + s;
        design.links = links;
        design.faults = must(
            simulate::parse_wishes(faults == "mixed" ? mixtures[design.seed % mixtures.size()] : faults));
        outcomes.add(must(simulate::simulate(design)), design.seed, listing);
    }
    fmt::print("{} sites of {} links, seeds {} to {}, faults {}\n\n", sites, links, first_seed,
               first_seed + sites - 1, faults);
    fmt::print("{:<28}{:>7}{:>14}{:>18}{:>10}{:>12}{:>8}\n", "cause", "faults", "found", "clear found",
               "findings", "duplicates", "false");
    for (auto const& [name, t] : outcomes.tallies)
        fmt::print("{:<28}{:>7}{:>14}{:>18}{:>10}{:>12}{:>8}\n", name, t.truths,
                   percent_of(static_cast<std::size_t>(t.found), static_cast<std::size_t>(t.truths)),
                   fmt::format("{} of {}", t.clear_found, t.clear), t.findings, t.duplicates, t.wrong);
    for (auto const& [who, bins] : outcomes.bins) {
        fmt::print("\n{}\ncalled      findings  mean    right\n", who);
        for (std::size_t b = 0; b + 1 < edges.size(); ++b) {
            if (bins[b].findings == 0) continue;
            fmt::print("{:.2f}-{:.2f}  {:>8}  {:.3f}  {:.3f}\n", edges[b], std::min(1.0, edges[b + 1]),
                       bins[b].findings, bins[b].sum / bins[b].findings,
                       static_cast<double>(bins[b].right) / bins[b].findings);
        }
    }
    fmt::print("\n");
    for (auto const& [detail, h] : outcomes.held)
        fmt::print("drifts of 0.15 dB and more, {}: {}; with links held {}; the first affected link held {}; "
                   "affected links held {}, sound ones before them {}\n",
                   detail, h.changes, h.with_any, h.first, percent_of(h.affected_held, h.affected),
                   percent_of(h.sound_held, h.sound));
    fmt::print("links under sound references {}, held by the watch {}\n", outcomes.healthy,
               percent_of(outcomes.healthy_held, outcomes.healthy));
    fmt::print("{:.3f} s a site on two threads\n", outcomes.seconds / static_cast<double>(sites));
    return 0;
}

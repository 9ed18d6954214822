// SPDX-License-Identifier: Apache-2.0
// room: base cause simulate
// bench_explain [FIRST_SEED [SITES [LINKS [FAULTS [DIRECTIONS]]]]]: explains simulated sites and holds the
// findings against the truth: per cause recall, named first, precision; false findings, calibration, time.
// Tune with seeds below 1000, report with seeds from 1000 on.
#include "../tests/support/simulated_columns.hpp"
#include "base/text.hpp"
#include "cause/explainer.hpp"

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <set>
#include <thread>

#include <fmt/format.h>

using namespace guidepin;

namespace {

struct Tally
{
    int truths = 0, found = 0, first = 0, clear = 0, clear_first = 0;
    int findings = 0, right = 0;
    double start_error = 0;
};
struct Bin
{
    int findings = 0, right = 0;
    double sum = 0;
};

bool same(simulate::Fault fault, cause::Cause cause)
{
    return std::string_view{simulate::id_of(fault)} == cause::id_of(cause);
}

bool touches(cause::Finding const& finding, simulate::Truth const& truth)
{
    if (truth.reference >= 0) return finding.reference == static_cast<std::uint32_t>(truth.reference);
    if (finding.reference != cause::none) return false;
    for (std::uint32_t const link : finding.links) {
        if (std::find(truth.links.begin(), truth.links.end(), link) != truth.links.end()) return true;
    }
    return false;
}

std::vector<cause::Finding> explained(cause::Columns const& columns, cause::Priors const& priors,
                                      double& seconds, double& renew_ms)
{
    auto const start = std::chrono::steady_clock::now();
    cause::Explainer explainer(columns, priors);
    std::size_t const n = columns.links.size();
    auto const in_two = [&](auto const& work) {
        std::thread other([&] { work(n / 2, n); });
        work(0, n / 2);
        other.join();
    };
    in_two([&](std::size_t a, std::size_t b) { explainer.measure(a, b); });
    explainer.learn();
    in_two([&](std::size_t a, std::size_t b) { explainer.explain(a, b); });
    auto findings = explainer.findings();
    std::chrono::duration<double> const taken = std::chrono::steady_clock::now() - start;
    seconds = taken.count();
    // A link that comes in, the others known.
    renew_ms = 0;
    for (std::size_t i = 0; i < 5; ++i) {
        auto const begin = std::chrono::steady_clock::now();
        std::size_t const link = n * (2 * i + 1) / 10;
        explainer.renew(link);
        auto const found = explainer.findings();
        std::chrono::duration<double, std::milli> const one = std::chrono::steady_clock::now() - begin;
        if (found.size() > n) std::abort(); // the answer is used
        renew_ms = std::max(renew_ms, one.count());
    }
    return findings;
}

} // namespace

int main(int argc, char** argv)
{
    auto const number = [&](int i, long fallback) { return argc > i ? std::atol(argv[i]) : fallback; };
    auto const first_seed = static_cast<std::uint64_t>(number(1, 1));
    long const sites = number(2, 20);
    long const links = number(3, 1500);
    std::string const faults = argc > 4 ? argv[4] : "all:2";
    bool const both = number(5, 1) == 2;
    bool const listing = std::getenv("LIST") != nullptr;
    auto const priors = cause::priors_of(facts::built_in_tables());
    if (!priors) {
        std::fprintf(stderr, "%s\n", priors.error().message.c_str());
        return 3;
    }
    std::map<std::string, Tally> tallies;
    std::array<Bin, 7> bins{};
    constexpr std::array edges{0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.01};
    double healthy = 0;
    int false_findings = 0;
    int beside = 0;
    double seconds = 0;
    double renew_ms = 0;
    for (long s = 0; s < sites; ++s) {
        simulate::Design design;
        design.seed = first_seed + static_cast<std::uint64_t>(s);
        design.links = static_cast<std::size_t>(links);
        design.both_directions = both;
        auto const wishes = simulate::parse_wishes(faults);
        if (!wishes) {
            std::fprintf(stderr, "%s\n", wishes.error().message.c_str());
            return 2;
        }
        design.faults = *wishes;
        auto const site = simulate::simulate(design);
        if (!site) {
            std::fprintf(stderr, "%s\n", site.error().message.c_str());
            return 3;
        }
        cause::Columns const columns = support::columns_of(*site);
        double taken = 0;
        double renewed = 0;
        auto const findings = explained(columns, *priors, taken, renewed);
        seconds += taken;
        renew_ms = std::max(renew_ms, renewed);
        std::set<std::uint32_t> ill;
        std::set<std::uint32_t> ill_sessions;
        for (auto const& truth : site->truths) {
            if (truth.reference >= 0)
                ill_sessions.insert(static_cast<std::uint32_t>(truth.reference));
            else
                ill.insert(truth.links.begin(), truth.links.end());
        }
        for (auto const& row : columns.links) {
            auto const index = static_cast<std::uint32_t>(&row - columns.links.data());
            if (ill.count(index) == 0 && ill_sessions.count(row.reference) == 0) healthy += 1;
        }
        std::vector<bool> right(findings.size(), false);
        if (listing) {
            for (auto const& truth : site->truths) {
                if (truth.reference >= 0)
                    fmt::print("seed {} truth {} R-{} pos {} size {:.2f} from {} ({}) of {} links\n",
                               design.seed, simulate::id_of(truth.fault), truth.reference + 1,
                               truth.positions.empty() ? 0 : truth.positions.front(), truth.size_db,
                               site->links[truth.first].id, truth.detail,
                               site->references[static_cast<std::size_t>(truth.reference)].links.size());
            }
        }
        for (auto const& truth : site->truths) {
            Tally& tally = tallies[simulate::id_of(truth.fault)];
            ++tally.truths;
            bool const clear = truth.size_db == 0 || std::abs(truth.size_db) >= 0.3;
            tally.clear += clear ? 1 : 0;
            bool seen_any = false;
            bool found = false;
            bool first = false;
            for (std::size_t i = 0; i < findings.size(); ++i) {
                if (!touches(findings[i], truth)) continue;
                bool const match = same(truth.fault, findings[i].cause);
                if (match) {
                    right[i] = true;
                    if (!found && truth.reference >= 0 && !findings[i].links.empty()) {
                        auto const& order = site->references[static_cast<std::size_t>(truth.reference)].links;
                        auto const at = [&](std::uint32_t link) {
                            return static_cast<double>(std::find(order.begin(), order.end(), link) -
                                                       order.begin());
                        };
                        tally.start_error += std::abs(at(findings[i].links.front()) - at(truth.first));
                    }
                    found = true;
                    if (!seen_any) first = true;
                }
                seen_any = true;
            }
            tally.found += found ? 1 : 0;
            tally.first += first ? 1 : 0;
            tally.clear_first += first && clear ? 1 : 0;
            if (!first && listing) {
                fmt::print("seed {} MISSED {} {} {} pos {} size {:.2f} ({})\n", design.seed,
                           simulate::id_of(truth.fault), site->links[truth.links.front()].id,
                           site->links[truth.links.front()].category,
                           truth.positions.empty() ? 0 : truth.positions.front(), truth.size_db,
                           truth.detail);
                for (auto const& finding : findings) {
                    if (touches(finding, truth))
                        fmt::print("      found {} {:.2f}: {}\n", cause::id_of(finding.cause),
                                   finding.probability, finding.evidence);
                }
            }
        }
        for (std::size_t i = 0; i < findings.size(); ++i) {
            Tally& tally = tallies[cause::id_of(findings[i].cause)];
            ++tally.findings;
            tally.right += right[i] ? 1 : 0;
            for (std::size_t b = 0; b + 1 < edges.size(); ++b) {
                if (findings[i].probability >= edges[b] && findings[i].probability < edges[b + 1]) {
                    ++bins[b].findings;
                    bins[b].right += right[i] ? 1 : 0;
                    bins[b].sum += findings[i].probability;
                }
            }
            if (right[i]) continue;
            bool near = false;
            for (std::uint32_t const link : findings[i].links) {
                near = near || ill.count(link) > 0 || ill_sessions.count(columns.links[link].reference) > 0;
            }
            ++(near ? beside : false_findings);
            if (listing)
                fmt::print("seed {} {} {} {:.3f} n={} {}\n", design.seed, near ? "BESIDE" : "FALSE",
                           cause::id_of(findings[i].cause), findings[i].probability, findings[i].links.size(),
                           findings[i].evidence);
        }
    }
    fmt::print("{} sites of {} links, seeds {} to {}, faults {}, {} direction(s)\n\n", sites, links,
               first_seed, first_seed + static_cast<std::uint64_t>(sites) - 1, faults, both ? 2 : 1);
    fmt::print("{:<28}{:>7}{:>8}{:>8}{:>12}{:>10}{:>12}\n", "cause", "faults", "recall", "first",
               "clear first", "findings", "precision");
    Tally all;
    for (auto const& [name, t] : tallies) {
        auto const share = [](int a, int b) {
            return b == 0 ? std::string{"-"} : fmt::format("{:.1f} %", 100.0 * a / b);
        };
        fmt::print("{:<28}{:>7}{:>8}{:>8}{:>12}{:>10}{:>12}", name, t.truths, share(t.found, t.truths),
                   share(t.first, t.truths), share(t.clear_first, t.clear), t.findings,
                   share(t.right, t.findings));
        if (t.start_error > 0) fmt::print("   start off by {:.1f} links", t.start_error / t.found);
        fmt::print("\n");
        all.clear += t.clear;
        all.clear_first += t.clear_first;
    }
    fmt::print("\nclear faults named first: {} of {} = {:.2f} %\n", all.clear_first, all.clear,
               100.0 * all.clear_first / std::max(1, all.clear));
    fmt::print("healthy links {:.0f}, false findings {} = {:.2f} per 1000; beside a fault {}\n", healthy,
               false_findings, 1000.0 * false_findings / std::max(1.0, healthy), beside);
    fmt::print("\ncalled      findings  mean    right\n");
    for (std::size_t b = 0; b + 1 < edges.size(); ++b) {
        if (bins[b].findings == 0) continue;
        fmt::print("{:.2f}-{:.2f}  {:>8}  {:.3f}  {:.3f}\n", edges[b], std::min(1.0, edges[b + 1]),
                   bins[b].findings, bins[b].sum / bins[b].findings,
                   static_cast<double>(bins[b].right) / bins[b].findings);
    }
    fmt::print("\n{:.3f} s a site on two threads; a new link {:.1f} ms at most\n",
               seconds / static_cast<double>(sites), renew_ms);
    return 0;
}

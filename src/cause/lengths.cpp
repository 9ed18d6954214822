// SPDX-License-Identifier: Apache-2.0
// Lengths that are not as drawn: two links that have each other's length, or one link by itself.
#include "cause/inside.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::cause {

namespace {

/// Returns how far a measured length may be from this drawn one and still match it: 2.5 %, and 1 m at least,
/// as drawings round to the metre.
double match_width(double length)
{
    return std::max(1.0, 0.025 * length);
}

// A pair that shares no panel ranks behind every pair that does, and is this much likelier by chance.
constexpr double rank_of_strangers = 1000;
constexpr double chance_of_strangers = 10;

struct WrongLength
{
    double drawn, measured;
    std::uint32_t link;
    bool paired = false;
};

class LengthFindings
{
  public:
    LengthFindings(Explainer::Site const& site, std::vector<Finding>& findings)
        : site_(site)
        , columns_(*site.columns)
        , findings_(findings)
    {
        for (std::uint32_t link = 0; link < columns_.links.size(); ++link) {
            LinkRow const& row = columns_.links[link];
            if (!std::isfinite(row.drawn_m)) continue;
            shortest_ = std::min(shortest_, row.drawn_m);
            longest_ = std::max(longest_, row.drawn_m);
            if (std::isfinite(row.measured_m) && std::abs(row.measured_m - row.drawn_m) > row.tolerance_m)
                wrong_.push_back({row.drawn_m, row.measured_m, link});
        }
        std::sort(wrong_.begin(), wrong_.end(), [](WrongLength const& a, WrongLength const& b) {
            return a.drawn != b.drawn ? a.drawn < b.drawn : a.link < b.link;
        });
    }

    void report()
    {
        for (WrongLength& one : wrong_) {
            if (one.paired) continue;
            auto const [partner, rank] = partner_of(one);
            if (!partner) continue;
            one.paired = partner->paired = true;
            report_exchanged(std::min(one.link, partner->link), std::max(one.link, partner->link), rank);
        }
        for (WrongLength const& one : wrong_) {
            if (!one.paired) report_alone(one.link);
        }
    }

  private:
    void add(Finding finding, std::string const& where)
    {
        finding.since_ms = columns_.links[finding.links.front()].taken_ms;
        site_.finish(finding, where);
        findings_.push_back(std::move(finding));
    }

    static bool matches(double measured, double drawn)
    {
        return std::abs(measured - drawn) <= match_width(drawn);
    }

    struct Partner
    {
        WrongLength* link = nullptr;
        double rank = 1e9; ///< low: the more usual exchange
    };

    /// Returns the likeliest of the links that have this one's length while this one has theirs.
    Partner partner_of(WrongLength const& one)
    {
        double const reach = match_width(one.measured) + 1;
        auto const first = std::lower_bound(wrong_.begin(), wrong_.end(), one.measured - reach,
                                            [](WrongLength const& a, double x) { return a.drawn < x; });
        Partner best;
        for (auto other = first; other != wrong_.end() && other->drawn <= one.measured + reach; ++other) {
            if (&*other == &one || other->paired) continue;
            if (!matches(one.measured, other->drawn) || !matches(other->measured, one.drawn)) continue;
            LinkRow const& a = columns_.links[one.link];
            LinkRow const& b = columns_.links[other->link];
            if (a.positions != b.positions) continue;
            // Labels are exchanged between neighbours.
            double rank = std::abs(static_cast<double>(one.link) - static_cast<double>(other->link));
            if (a.panel_a != b.panel_a && a.panel_b != b.panel_b) rank += rank_of_strangers;
            if (rank < best.rank) best = {&*other, rank};
        }
        return best;
    }

    void report_exchanged(std::uint32_t a, std::uint32_t b, double rank)
    {
        LinkRow const& one = columns_.links[a];
        LinkRow const& two = columns_.links[b];
        // How many other wrong lengths would match by chance, each in both lengths.
        double const window = 2 * match_width(longest_) / std::max(10.0, longest_ - shortest_);
        double const chance = static_cast<double>(wrong_.size()) * window * window *
                              (rank >= rank_of_strangers ? chance_of_strangers : 1.0);
        Finding finding;
        finding.cause = Cause::mislabelled_link;
        finding.links = {a, b};
        finding.probability = std::min(site_.priors->lengths_exchanged_most, 1 / (1 + chance));
        finding.alternatives = {{Cause::length_mismatch, 1 - finding.probability}};
        finding.evidence =
            fmt::format("{} measures {:.1f} m and {} {:.1f} m, where {:.0f} m and {:.0f} m are "
                        "drawn: each has the other's length.",
                        one.id, one.measured_m, two.id, two.measured_m, one.drawn_m, two.drawn_m);
        add(std::move(finding), site_.names_of(std::vector{a, b}));
    }

    void report_alone(std::uint32_t link)
    {
        LinkRow const& row = columns_.links[link];
        Finding finding;
        finding.cause = Cause::length_mismatch;
        finding.links = {link};
        finding.probability = site_.priors->length_wrong;
        finding.alternatives = {{Cause::mislabelled_link, site_.priors->length_mislabelled}};
        finding.evidence = fmt::format(
            "{} measures {:.1f} m where {:.0f} m are drawn, {:.0f} % {}; the tolerance is {:.1f} m "
            "and no other link has the matching length.",
            row.id, row.measured_m, row.drawn_m,
            100 * std::abs(row.measured_m - row.drawn_m) / std::max(1.0, row.drawn_m),
            row.measured_m > row.drawn_m ? "longer" : "shorter", row.tolerance_m);
        add(std::move(finding), row.id);
    }

    Explainer::Site const& site_;
    Columns const& columns_;
    std::vector<Finding>& findings_;
    std::vector<WrongLength> wrong_; // by drawn length
    double shortest_ = 1e9, longest_ = 0;
};

} // namespace

void Explainer::Site::report_lengths(std::vector<Finding>& findings) const
{
    LengthFindings(*this, findings).report();
}

} // namespace guidepin::cause

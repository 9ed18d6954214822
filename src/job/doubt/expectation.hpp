// SPDX-License-Identifier: Apache-2.0
// What each link of a job should show: predicted from its plan, sharpened by the site's own links, and how
// far what was measured lies from it. A bad joint that still passes stands out here. Method:
// docs/methods/watch.md. Verified by: tests/unit/job/watch.cpp (simulated sites: rate of false alarms, a bad
// joint that passes), tests/unit/watch/expectation.cpp (the statistics).
#pragma once

#include "job/state/state.hpp"
#include "verdict/judge.hpp"
#include "watch/expectation.hpp"

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <span>
#include <vector>

namespace guidepin::job {

struct Groundwork;

/// Fibre that is sold loses about four fifths of what its category allows (common practice). A wrong share
/// shifts all links of a kind alike and is learned away; what differs by length stays below 0.05 dB.
constexpr double typical_share_of_limit = 0.8;

/// Of so many tests, in the order of their records, the first so many are learned from. Small jobs learn from
/// all; large ones in steps of a sixteenth to a thirty-second, so that what one test more changes is that
/// test and its reference, not the whole site. A pure function of the number: made anew from the records, a
/// job learns from the same tests.
std::size_t learned_from(std::size_t tests);

/// The grade that connections are taken to have before any was measured: B for single-mode fibre, Bm for
/// multimode. not_found when the tables have no such grade.
Result<loss::Gamma> usual_joint(facts::Tables const& tables, facts::FibreKind kind);

/// What links of one kind should show at one wavelength, in dB. Excess is attenuation less the fibre's own
/// loss.
struct ExpectedAt
{
    int wavelength_nm = 0;
    double db_per_km = 0; ///< of the fibre, as it usually is, then as the site's lengths show it
    watch::PopulationKey key;
    loss::ShiftedGamma
        joints;             ///< natural loss by grade and number of joints, those of the reference taken out
    double reading_u = 0;   ///< standard uncertainty of one reading that it does not share with others
    double common_u = 0;    ///< the part that all readings under a reference share
    watch::Expected before; ///< excess, by the plan alone
    watch::Expected now;    ///< sharpened by the site
    double level_u = 0;     ///< standard uncertainty of `now.mean`, all links of the kind alike
    double low = 0, high = 0; ///< 95 of 100 healthy fibres lie between (2.5 % below, 2.5 % above)
};

struct ExpectedKind
{
    std::vector<ExpectedAt> at; ///< in the order of verdict::LinkKind::wavelength_nm
};

/// Band of attenuation for one link, in dB.
struct ExpectedBand
{
    double low = 0, mean = 0, high = 0;
};

/// How far a link stands from what it should show.
struct LinkStandout
{
    double chance = 1;   ///< of a healthy link that reads as high
    double surprise = 0; ///< -log10 of it, at most 300
    bool stands_out = false;
    bool whole_link = false; ///< all fibres together, rather than the one named
    int position = 0;        ///< at the launch end
    bool from_b = false;
    int wavelength_nm = 0;
    double value_db = 0;  ///< measured there
    double offset_db = 0; ///< of the whole link above the expectation
    ExpectedBand band;    ///< of a fibre there
};

/// What one reference's links should show at one wavelength by all other links.
struct ExpectedByOthers
{
    watch::Expected now;
    double kind_u = 0;   ///< standard uncertainty of `now.mean` that the kind has for itself
    double shared_u = 0; ///< the part that it shares with the other kinds under this reference
};

class Expectation
{
  public:
    static constexpr std::uint32_t none = UINT32_MAX;
    /// One healthy link in so many is told to stand out.
    static constexpr double false_alarm_rate = 1e-3;

    /// Learns from the readings of the first learned_from() tests that stand among these and are not held by
    /// Groundwork::hold.
    static Result<Expectation> learn(JobState const& state, Groundwork const& ground);

    /// Tests that this was learned from.
    std::size_t tests() const { return tests_; }
    /// Null where the link is not scheduled.
    ExpectedAt const* at(std::size_t link, std::size_t wavelength) const
    {
        std::uint32_t const kind = kind_of_link_[link];
        return kind == none ? nullptr : &kinds_[kind].at[wavelength];
    }
    std::uint32_t kind(std::size_t link) const { return kind_of_link_[link]; }
    /// What the joints of a kind lose when they just meet their grade, the mean over its wavelengths.
    double natural_db(std::uint32_t kind) const;
    double fibre_db(std::size_t link, ExpectedAt const& expected) const
    {
        return expected.db_per_km * km_[link];
    }
    /// Links (ascending) whose readings under this reference teach nothing, as it is doubted.
    struct LeftOut
    {
        std::uint32_t reference = 0; ///< of the readings' dictionary
        std::vector<std::uint32_t> links;
    };
    /// By kind (ascending) and wavelength: what the links of `kinds` should show under this reference,
    /// learned without those that were measured under it, and without `left_out` of other references. What a
    /// reference did to its own links is not learned away.
    std::vector<std::vector<ExpectedByOthers>> by_others(std::uint32_t reference,
                                                         std::vector<std::uint32_t> const& kinds,
                                                         std::span<LeftOut const> left_out = {}) const;
    /// None where the link is not scheduled.
    std::optional<ExpectedBand> band(std::size_t link, std::size_t wavelength) const;
    /// None where nothing of the link counts. Fibres without light are left out: they need no surprise.
    std::optional<LinkStandout> standout(JobState const& state, Groundwork const& ground,
                                         std::size_t link) const;

  private:
    /// Readings that stand and are not held, by link and wavelength.
    struct Gathered
    {
        struct Group
        {
            std::size_t link, wavelength, first, end; ///< first … end: in `values`
            std::uint32_t reference;                  ///< of the first of them
        };
        std::vector<Group> groups;
        std::vector<float> values;
    };
    static Gathered gather(JobState const& state, Groundwork const& ground, std::uint32_t rows_end);
    void learn_fibre(Gathered const& gathered);
    void count(watch::SiteExpectation& site, Gathered::Group const& group) const;

    std::size_t tests_ = 0;
    Gathered gathered_;
    watch::SiteExpectation site_;
    std::vector<std::vector<std::uint32_t>> groups_of_reference_;           ///< by name in the readings
    std::map<watch::PopulationKey, std::set<std::uint32_t>> references_of_; ///< all layouts together

    std::vector<ExpectedKind> kinds_;
    std::vector<std::uint32_t> kind_of_link_; ///< by link of the readings
    std::vector<double> km_;
};

} // namespace guidepin::job

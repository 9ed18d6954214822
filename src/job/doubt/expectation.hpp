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

/// Fibre on the market loses about four fifths of what its category allows (common practice). If the share is
/// wrong, all links of a kind shift alike and the site's links correct it; an error that grows with length
/// stays below 0.05 dB.
constexpr double typical_share_of_limit = 0.8;

/// Returns how many of a job's tests, in the order of their records, the expectation learns from. Small jobs
/// learn from all tests. Large jobs learn in steps of a sixteenth to a thirty-second, so that one more test
/// changes only that test and its reference, not the whole site. The result depends on the number alone, so a
/// job that is rebuilt from its records learns from the same tests.
std::size_t learned_from(std::size_t tests);

/// Returns the grade that connections are assumed to have before any was measured: B for single-mode fibre,
/// Bm for multimode. Errors: not_found if the tables have no such grade.
Result<loss::Gamma> usual_joint(facts::Tables const& tables, facts::FibreKind kind);

/// What links of one kind should show at one wavelength, in dB. Excess is attenuation minus the fibre's own
/// loss.
struct ExpectedAt
{
    int wavelength_nm = 0;
    double db_per_km =
        0; ///< of the fibre: the usual loss, then what the site's links of different lengths show
    watch::PopulationKey key;
    loss::ShiftedGamma
        joints;             ///< natural loss by grade and number of joints, those of the reference taken out
    double reading_u = 0;   ///< standard uncertainty that each reading has for itself
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

/// How far a link differs from what it should show.
struct LinkStandout
{
    double chance = 1;   ///< of a healthy link that reads as high
    double surprise = 0; ///< -log10 of it, at most 300
    bool stands_out = false;
    bool whole_link = false; ///< all fibres together, rather than the one named
    int position = 0;        ///< at the launch end
    bool from_b = false;
    int wavelength_nm = 0;
    double value_db = 0;  ///< measured at that place
    double offset_db = 0; ///< of the whole link above the expectation
    ExpectedBand band;    ///< of a fibre at that place
};

/// What one reference's links should show at one wavelength, learned from all other links.
struct ExpectedByOthers
{
    watch::Expected now;
    double kind_u = 0;   ///< standard uncertainty of `now.mean` that the kind has for itself
    double shared_u = 0; ///< the part that all kinds under this reference share
};

class Expectation
{
  public:
    static constexpr std::uint32_t none = UINT32_MAX;
    /// Share of healthy links that are reported to stand out.
    static constexpr double false_alarm_rate = 1e-3;

    /// Learns from the first learned_from() tests: from each place's latest reading that Groundwork::hold
    /// does not hold.
    static Result<Expectation> learn(JobState const& state, Groundwork const& ground);

    /// Returns how many tests this was learned from.
    std::size_t tests() const { return tests_; }
    /// Returns nullptr if the link is not scheduled.
    ExpectedAt const* at(std::size_t link, std::size_t wavelength) const
    {
        std::uint32_t const kind = kind_of_link_[link];
        return kind == none ? nullptr : &kinds_[kind].at[wavelength];
    }
    std::uint32_t kind(std::size_t link) const { return kind_of_link_[link]; }
    /// Returns what the joints of a kind lose if they just meet their grade, the mean over its wavelengths.
    double natural_db(std::uint32_t kind) const;
    double fibre_db(std::size_t link, ExpectedAt const& expected) const
    {
        return expected.db_per_km * km_[link];
    }
    /// Links (ascending) whose readings under this reference teach nothing, because it is doubted.
    struct LeftOut
    {
        std::uint32_t reference = 0; ///< of the readings' dictionary
        std::vector<std::uint32_t> links;
    };
    /// Returns by kind (ascending) and wavelength what the links of `kinds` should show under this reference.
    /// Its own links are left out, so that its errors are not learned as healthy, and so are the `left_out`
    /// links of other references.
    std::vector<std::vector<ExpectedByOthers>> by_others(std::uint32_t reference,
                                                         std::vector<std::uint32_t> const& kinds,
                                                         std::span<LeftOut const> left_out = {}) const;
    /// Returns the band of one link; none if the link is not scheduled.
    std::optional<ExpectedBand> band(std::size_t link, std::size_t wavelength) const;
    /// Returns how far the link stands out; none if no reading of it counts. Fibres without light are left
    /// out: they fail anyway.
    std::optional<LinkStandout> standout(JobState const& state, Groundwork const& ground,
                                         std::size_t link) const;

  private:
    /// The latest readings that are not held, by link and wavelength.
    struct Gathered
    {
        struct Group
        {
            std::size_t link, wavelength, first, end; ///< first … end: in `values`
            std::uint32_t reference;                  ///< of the first value
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

// SPDX-License-Identifier: Apache-2.0
// Learns what healthy links of this site show, so that a joint that is bad and still passes stands out. The
// grade of a connection is an upper limit; real joints are better, and by a different amount at each site.
// Mathematics: docs/methods/watch.md. Verified by: tests/unit/watch/expectation.cpp (simulated sites: rate of
// false alarms, bad joints found, breakdown, order of arrival).
#pragma once

#include "loss/distribution.hpp"

#include <cstddef>
#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <vector>

namespace guidepin::watch {

/// Identifies links that may be compared with each other at one wavelength.
struct PopulationKey
{
    std::string category; ///< of the fibre: "OM4"
    int wavelength_nm = 0;
    int connections = 0; ///< counted in the reading, test cords included
    int splices = 0;
    int layout = 0; ///< the caller's number of plug, map and trunk; 0: all layouts together
    friend auto operator<=>(PopulationKey const&, PopulationKey const&) = default;
};

/// What one reading should show, reading error included, in dB above the fibre's own loss.
struct Expected
{
    double mean = 0;
    double sd = 0;
    double skewness = 0;
    double links = 0;       ///< links of the site that sharpened it
    double site_weight = 0; ///< 0: the prediction alone, near 1: the site alone

    loss::ShiftedGamma distribution() const;
};

/// Returns the prediction before any link was measured: natural loss of the joints (no fibre) and the
/// uncertainty of the reading.
Expected expected_before(loss::ShiftedGamma const& joints, double reading_u);

struct ExpectationDesign
{
    /// The prediction counts as much as so many fibres of the site.
    double prior_fibres = 24;
    /// Fibres of one link share its connectors: a link counts as no more than so many.
    double fibres_per_link = 6;
    /// What all readings of one link share by nature, dB: see LinkResiduals::common_sd.
    double common_sd = 0.02;
};

/// How surprising one link is among its own kind.
struct LinkSurprise
{
    /// By fibre and wavelength as given: chance of a reading as high, if the fibre is like the others. NaN if
    /// it was not measured.
    std::vector<double> chance;
    double worst_fibre =
        1; ///< chance that any fibre of a healthy link reads as improbably high as the worst does
    std::size_t worst = 0;   ///< its index
    double offset_db = 0;    ///< robust offset of the whole link from the expectation
    double whole_link = 1;   ///< chance of an offset as high
    double link = 1;         ///< both together: twice the smaller, at most 1
    double surprise() const; ///< -log10(link): 3 means once in a thousand healthy links
    /// `alpha` is the rate of false alarms for each link.
    bool stands_out(double alpha = 1e-3) const { return link < alpha; }
};

class SiteExpectation
{
  public:
    explicit SiteExpectation(ExpectationDesign const& design = {})
        : design_(design)
    {
    }

    /// Adds a link's readings minus the fibre's loss, at one wavelength; NaN is left out. Order does not
    /// matter.
    void add(PopulationKey const& key, std::span<double const> excess);

    /// Shrinks the site's median and quartiles towards the prediction by weight of numbers. Up to a quarter
    /// of the fibres may be bad without moving it far. `reading_u` as in expected_before().
    Expected expected(PopulationKey const& key, Expected const& before, double reading_u) const
    {
        return expected_without(key, before, reading_u, nullptr);
    }
    /// Does the same without the links of `left_out`, all of which were added here too: what the others lead
    /// one to expect of them.
    Expected expected_without(PopulationKey const& key, Expected const& before, double reading_u,
                              SiteExpectation const* left_out) const;

    std::size_t populations() const { return populations_.size(); }

  private:
    struct Population
    {
        std::vector<std::uint32_t> cells; // counts from lowest on, cell_width apart
        double fibres = 0;
        double worth = 0; // fibres, no more than fibres_per_link of a link
        double links = 0;
        /// Of the cells less those of `left_out`, which may be null.
        double quantile(double p, Population const* left_out) const;
    };

    ExpectationDesign design_;
    std::map<PopulationKey, Population> populations_;
};

/// One wavelength of a link: its readings minus the fibre's loss, and what they should show.
struct LinkPart
{
    std::span<double const> excess;
    Expected expected;
};
/// Judges all wavelengths of a link together; `chance` holds the parts one after the other.
LinkSurprise surprise_of(std::span<LinkPart const> parts, ExpectationDesign const& design = {});

} // namespace guidepin::watch

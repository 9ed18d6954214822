// SPDX-License-Identifier: Apache-2.0
// What the steps of an explanation pass on. Inside this room only.
#pragma once

#include "cause/explainer.hpp"

#include <span>
#include <string>
#include <utility>
#include <vector>

namespace guidepin::cause {

/// What links of one kind show when nothing is wrong. dB.
struct Population
{
    std::size_t links = 0;
    double centre = 0;      ///< of a link's middle, above its fibre
    double link_sd = 0.03;  ///< of that middle, from link to link
    double fibre_sd = 0.05; ///< of a fibre about its link's middle
    double skewness = 1;    ///< of the same
    double fibre_mean = 0;  ///< mean of a fibre less the link's middle (skewed: above 0)
    double step = 0;        ///< last wavelength less first: of a link's middle
    double step_link_sd = 0.03;
    double step_sd = 0.03;      ///< of a fibre about its link's
    double step_slope = 0;      ///< step of a fibre for each dB that it is above its link's middle
    double turn_link_sd = 0.02; ///< launched from A less from B, middle of a link
    double turn_sd = 0.04;
};

/// Condensed readings of one link; arrays of a site, by Columns::first_place.
struct Condensed
{
    bool usable = false;
    double base = 0; ///< middle over its fibres of the mean over wavelengths and directions, above the fibre
    double step = 0;
    double turn = 0;
    int lit = 0;
    bool has_step = false, has_turn = false;
};

struct CordEffect
{
    bool tail = false;
    bool either = false;  ///< launch or tail: the readings fit both
    int position = 0;     ///< of the test cord's plug, which is that of the link at that end
    int other = 0;        ///< where `either`: the position of the other cord's plug that would show the same
    std::size_t from = 0; ///< index in the session
    double size = 0, u = 0;
    double step = 0; ///< last wavelength less the first, of the size
    double probability = 0;
};

/// One reference with its links in order of time.
struct Session
{
    std::vector<std::uint32_t> links;
    double level = 0, level_u = 0; ///< all positions, all links
    bool level_wrong = false;
    double level_probability = 0;
    double step_level = 0;           ///< of the last wavelength less the first
    double change = 0, change_u = 0; ///< a drift's size, and from where
    std::size_t change_from = 0, change_earliest = 0, change_latest = 0;
    bool ramp = false;
    double change_probability = 0; ///< 0: none
    std::vector<CordEffect> cords;

    /// What to take off the base of the i-th link.
    double offset(std::size_t i) const;
};

struct LinkFinding
{
    Cause cause = Cause::unexplained;
    std::vector<int> positions;
    std::vector<std::size_t> wavelengths;
    double size = 0, u = 0;
    double probability = 0;
    double turn = 0; ///< A less B at these positions, where both were measured
    bool turn_known = false;
    double ratio = 1; ///< last wavelength to first
    bool ratio_known = false;
    double slope = 0; ///< along the row, first to last position
    std::vector<Alternative> alternatives;
};

struct Explainer::Site
{
    Columns const* columns = nullptr;
    Priors const* priors = nullptr;
    std::vector<Condensed> condensed;
    std::vector<float> base, step, turn;         ///< by place; NaN: none
    std::vector<Population> populations;         ///< by kind
    std::vector<Session> sessions;               ///< by reference
    std::vector<std::uint32_t> place_in_session; ///< by link
    std::vector<std::uint32_t> session_of;       ///< by link: its reference as of then
    std::vector<std::vector<LinkFinding>> found; ///< by link

    void condense(std::size_t link);
    void learn_populations();
    /// Recomputes the centres without what is known of the references.
    void polish();
    void build_sessions();
    /// Puts one link under its present reference. Returns the references whose links or order changed.
    std::vector<std::uint32_t> regroup(std::uint32_t link);
    void order_session(std::size_t reference);
    KnownChange const* known_change(std::size_t reference) const;
    KnownLevel const* known_level(std::size_t reference) const;
    /// What a known change adds to the i-th link under this reference.
    double known_shift(std::size_t reference, std::size_t i) const;
    /// Base of a link with all that is known of its reference beforehand taken off.
    double base_of(std::size_t link, bool level_too) const;
    void fit_session(std::size_t reference);
    void take_known_change(Session& session, KnownChange const& known) const;
    void fit_cords(Session& session) const;
    void fit_levels();
    void explain_link(std::size_t link);

    void report_links(std::vector<Finding>& findings, std::span<std::uint32_t const> links) const;
    void report_references(std::vector<Finding>& findings) const;
    void report_wiring(std::vector<Finding>& findings) const;
    void report_lengths(std::vector<Finding>& findings) const;
    void report_copies(std::vector<Finding>& findings) const;

    LinkKind const& kind_of(std::size_t link) const { return columns->kinds[columns->links[link].kind]; }
    /// By position - 1: the link's base, step and turn less all that is known of kind, reference and cords.
    void residuals(std::size_t link, std::vector<double>& base, std::vector<double>& step,
                   std::vector<double>& turn) const;
    /// What the test cords' positions lose in this reading, dB.
    struct CordLoss
    {
        double base = 0, step = 0;
    };
    CordLoss cords_at(std::size_t link, std::size_t direction, int position) const;
    struct CordSeries
    {
        std::vector<std::vector<double>> values; ///< by position of the cord's plug
        std::vector<std::vector<double>> steps;
        std::vector<std::vector<std::size_t>> index; ///< in the session
        std::size_t links = 0;
        double sd = 0.1; ///< of one value on healthy links
    };
    CordSeries cord_series(Session const& session, bool tail, int plug) const;
    double sharpened(double log_odds) const;
    /// Logarithm of how probable a link's condensed readings are if nobody copied them.
    double natural_log_density(std::size_t link) const;
    std::string id_of_link(std::uint32_t link) const { return columns->links[link].id; }
    std::string names_of(std::span<std::uint32_t const> links) const; ///< "N-07", "S-01, S-02 and 9 more"
    std::string wavelengths_text(LinkKind const& kind, std::vector<std::size_t> const& which) const;
    void finish(Finding& finding, std::string const& where) const; ///< identity and action
};

double median_of(std::vector<double>& values); ///< reorders; NaN for none
/// Logarithm of a normal density with this variance.
double log_normal(double x, double variance);
double log_sum(std::span<double const> logs);
std::string positions_text(std::vector<int> const& positions); ///< "3 and 4", "1-4, 9-12"
std::string identity_of(Finding const& finding, Columns const& columns);

} // namespace guidepin::cause

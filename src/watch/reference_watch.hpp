// SPDX-License-Identifier: Apache-2.0
// Watches one reference through the links measured under it: does what they have in common move? A reference,
// a test cord or a source that changes shifts every later link by the same amount, in all positions or in
// one; a bad link shifts only itself. Mathematics and design: docs/methods/watch.md. Verified by:
// tests/unit/watch/reference_watch.cpp (simulated sites with known change: run length in control, delay,
// coverage of the interval, bad links and holes), tests/oracle/watch/charts.cpp (the charts).
#pragma once

#include "units/quantity.hpp"
#include "watch/charts.hpp"

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace guidepin::watch {

/// One link's residuals, measured minus expected, in dB. NaN where there is no reading.
struct LinkResiduals
{
    /// residual[w * positions + p], positions of the test cord's own face, from 0.
    std::span<double const> residual;
    /// By wavelength: standard deviation of the natural spread between fibres (the prediction's).
    std::span<double const> natural_sd;
    double reading_u = 0.05; ///< independent standard uncertainty of one reading
    /// What all readings of one link share by nature: common part of the reading, length, trunk, remating of
    /// the cord.
    double common_sd = 0.02;
    /// Skewness of the spread about the expectation: joints that lose much more are commoner than joints that
    /// lose much less. 0 to 1.5.
    double skewness = 0;
    /// Links of one kind share an error of their expectation, of standard deviation `kind_sd`: their number
    /// (any), which the watch learns beside the level of the reference.
    std::size_t kind = 0;
    double kind_sd = 0;
};

struct WatchDesign
{
    double run_length = 500; ///< links between false alarms of all charts together, on average, at least
    double lambda = 0.2;     ///< of the averages
    double k = 0.5;          ///< of the cumulative sums, in standard deviations of one link's offset
    double clip = 2.8;       ///< one link counts for no more than this
    /// A link whose neighbours in time do not stand out with it counts for no more than this: a bad link is
    /// not a drift.
    double lone = 1.4;
    /// How well the level of the residuals is known before the first link. 0: exactly 0 (a learned
    /// expectation); infinite: not at all, so that only changes are seen. The level is learned as links come
    /// in.
    double level_sd = 0.05;
    /// By which the positions of a sound reference differ from the first link on.
    double position_sd = 0.02;
    /// Correlation of one fibre's natural loss between wavelengths, for the chart of their difference.
    double wavelength_correlation = 0.95;
    /// Weight, in links, of the expected spread against the spread that is seen.
    double spread_weight = 40;
};

/// The limits of the charts for a design.
struct WatchLimits
{
    double common_ewma = 0;  ///< L of the common offset's average
    double common_cusum = 0; ///< h
    double wavelength_ewma = 0;
    double position_cusum = 0;
};

/// Solves the limits and remembers each solution: one limit takes longer than the charts of a hundred links,
/// and most references ask for the same ones. Its owner shares it between threads, or does not.
class LimitSolver
{
  public:
    WatchLimits limits(WatchDesign const& design, std::size_t positions);

  private:
    using Key = std::pair<double, double>; ///< parameter of the chart, average run length
    std::map<Key, double> ewma_;
    std::map<Key, double> cusum_;
};

enum class Shift : std::uint8_t {
    common,     ///< all positions, all wavelengths
    wavelength, ///< the last wavelength against the first, all positions: a bend in a cord, one source
    position,   ///< one position against the others: a test cord's end face
};

/// What a chart found, with what is known of it by now. Link indices count the links added, from 0.
struct WatchSignal
{
    Shift shift = Shift::common;
    int position = 0;   ///< 1-based where `shift` is position
    std::size_t at = 0; ///< the link at which the chart signalled
    std::string chart;  ///< "ewma" or "cusum"
    ChangePoint change; ///< change.first_after is the likeliest first link affected
    Decibel size;       ///< level after minus before
    Decibel size_u;     ///< its standard uncertainty
    /// The links up to now bear the change out: three after it at least, most of which moved by as much. So
    /// it was when the chart signalled.
    bool borne_out = false;
    /// By link: probability that it was measured after the change. Held are those from change.earliest on.
    std::vector<double> doubt;
};

/// One point of the control chart, for drawing. The charts step through
/// these numbers link by link, so they stay plain doubles with the unit in their name.
struct ChartPoint
{
    double offset_db = 0;    ///< robust common offset of the link; NaN where it had no reading
    double u_db = 0;         ///< standard uncertainty of the offset, natural spread included
    double expected_db = 0;  ///< level of the links before
    double standardised = 0; ///< clipped; what the charts take
    double ewma = 0;
    double cusum_high = 0;
    double cusum_low = 0;
};

class ReferenceWatch
{
  public:
    /// `positions` 1 to 64, `wavelengths` at least 1. A LimitSolver solves the limits.
    ReferenceWatch(std::size_t positions, std::size_t wavelengths, WatchDesign const& design,
                   WatchLimits const& limits);

    /// The next link in order of time. True when a chart signals at it that had not signalled before.
    /// Time and memory grow with positions * wavelengths, not with the links before.
    bool add(LinkResiduals const& link);

    std::size_t links() const { return points_.size(); }
    std::vector<ChartPoint> const& chart() const { return points_; }
    /// Limits that belong to `chart()`: |ewma| and the cumulative sums.
    double ewma_limit() const { return common_ewma_.chart.limit(); }
    double cusum_limit() const { return limits_.common_cusum; }
    /// Robust offset of a position against the others over all links so far, and its standard uncertainty;
    /// position from 0. NaN before the first reading.
    double position_offset(std::size_t position) const;
    double position_offset_u(std::size_t position) const;

    /// Every signal so far, in order of its chart's alarm, with the change located by all links added up to
    /// now.
    std::vector<WatchSignal> signals(double confidence = 0.95) const;

  private:
    // Levels that are learned from values of known uncertainty, a common one and one of each kind, and the
    // running scale of what remains. Number 0 is the common one.
    struct Learner
    {
        bool unknown = false; // the common level, until the first value
        std::vector<double> mean, covariance;
        double squares = 0; // of forecast errors, clipped
        double count = 0;

        void start(double sd);
        void add_kind(double sd);
        double level(std::size_t kind) const;
        double variance(std::size_t kind) const;
        double scale(double spread_weight) const;
        /// Forecast error by its uncertainty and scale; then takes the value in, a bad one not at all.
        double standardised(std::size_t kind, double x, double u, double clip, double spread_weight);
    };
    // Values of a chart, each bounded by what its neighbours bear out.
    template <class Chart>
    struct Bounded
    {
        Chart chart;
        Chart before; // without the last value
        double last = 0, last_score = 0, last_but_one = 0;
        bool add(double z, double clip, double lone);
    };
    struct Alarm
    {
        Shift shift;
        std::size_t position;
        std::size_t at;
        char const* chart;
    };
    struct Track
    {
        std::vector<double> value;    // offset by link
        std::vector<double> expected; // level of its time
        std::vector<double> reach;    // uncertainty of the difference of both
        std::vector<double> z;        // the difference by it and the scale of its time
        std::vector<double> u;        // of the value
        void add(double value_db, double expected_db, double reach_db, double standardised, double u_db);
    };

    bool note(Shift shift, std::size_t position, char const* chart);
    std::size_t kind_index(LinkResiduals const& link);
    bool watch_common(double offset, double u, std::size_t kind);
    void watch_wavelengths(LinkResiduals const& link, std::size_t kind);
    void watch_positions(double offset, double reading_sd);
    Track const& track_of(Alarm const& alarm) const;
    WatchSignal located(Alarm const& alarm, double confidence) const;

    std::size_t positions_;
    std::size_t wavelengths_;
    WatchDesign design_;
    WatchLimits limits_;
    Bounded<Ewma> common_ewma_;
    Bounded<Cusum> common_cusum_;
    Bounded<Ewma> wavelength_ewma_;
    std::vector<Bounded<Cusum>> position_cusum_;
    Learner common_;
    Learner wavelength_;
    std::vector<Learner> position_;
    std::vector<ChartPoint> points_;
    Track common_track_;
    Track wavelength_track_;
    std::vector<Track> position_track_;
    std::vector<double> position_sum_; // of clipped values by weight, and of the weights
    std::vector<double> position_weight_;
    std::vector<std::size_t> kinds_;   // the caller's numbers
    std::vector<double> kind_sd_;      // by index in kinds_
    std::vector<std::size_t> kind_of_; // by link: index in kinds_
    std::vector<Alarm> alarms_;
    std::vector<double> fibre_; // one link's mean over its wavelengths, by position
    std::vector<double> step_;  // last wavelength minus first, by position
};

} // namespace guidepin::watch

// SPDX-License-Identifier: Apache-2.0
#include "watch/reference_watch.hpp"

#include "watch/robust.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

namespace guidepin::watch {

namespace {

constexpr double hole = std::numeric_limits<double>::quiet_NaN();

// Shares of the false alarms that each kind of chart may make. They add up to 1; what each costs in delay is
// small, since limits grow with the logarithm of the run length. The two common charts mostly alarm together,
// so each gets two thirds of the common share (tests/unit/watch/reference_watch.cpp counts what comes of it).
constexpr double common_share = 0.60;
constexpr double wavelength_share = 0.15;
constexpr double position_share = 0.25;
constexpr double overlap = 2.0 / 3;

// Positions are judged by clipped values of their own, less trusting than the common one: a single bad fibre
// is a residual of 3 to 20.
constexpr double position_clip = 2.5;

// The biweight location with c = 4.685 has 95 % of the mean's efficiency.
constexpr double robust_variance = 1 / 0.95;

// A change is borne out by so many links after it, this share of which lie nearer to the new level than to
// the old one, and a step of so many of its standard uncertainties.
constexpr std::ptrdiff_t least_after = 3;
constexpr double least_share = 0.7;
constexpr double least_share_of_position = 0.6; // one fibre a link: its spread is wider
constexpr double least_step_in_u = 3.5;

// Errors of a kind's expectation are mostly alike at all wavelengths; this share of them differs.
constexpr double kind_step_share = 0.3;

double root_sum(double a, double b)
{
    return std::sqrt(a * a + b * b);
}

/// Standard normal score of a standardised value of a gamma of this skewness (Wilson and Hilferty, Proc.
/// Natl. Acad. Sci. 17 (1931), 684). Far down, where the gamma ends and readings do not, it goes on as a
/// line.
double normal_score(double y, double skewness)
{
    constexpr double curved_from = 0.3;
    double const inside = skewness * y / 2 + 1;
    double const curved = std::max(curved_from, inside);
    double const root = std::cbrt(curved);
    double const score = 6 / skewness * (root - 1) + skewness / 6;
    return inside < curved_from ? score + (inside - curved_from) * 2 / skewness / (root * root) : score;
}

} // namespace

void ReferenceWatch::Learner::start(double sd)
{
    unknown = std::isinf(sd);
    mean.assign(1, 0);
    covariance.assign(1, unknown ? 0 : sd * sd);
}

void ReferenceWatch::Learner::add_kind(double sd)
{
    std::size_t const n = mean.size();
    std::vector<double> wider((n + 1) * (n + 1), 0);
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j < n; ++j) wider[i * (n + 1) + j] = covariance[i * n + j];
    wider.back() = sd * sd;
    covariance = std::move(wider);
    mean.push_back(0);
}

double ReferenceWatch::Learner::level(std::size_t kind) const
{
    return kind == 0 ? mean[0] : mean[0] + mean[kind];
}

double ReferenceWatch::Learner::variance(std::size_t kind) const
{
    std::size_t const n = mean.size();
    if (kind == 0) return covariance[0];
    return std::max(0.0, covariance[0] + 2 * covariance[kind] + covariance[kind * (n + 1)]);
}

double ReferenceWatch::Learner::scale(double spread_weight) const
{
    if (std::isinf(spread_weight)) return 1;
    // Never below 0.7: a lucky run of quiet links must not make the next ordinary one an alarm.
    return std::max(0.7, std::sqrt((spread_weight + squares) / (spread_weight + count)));
}

double ReferenceWatch::Learner::standardised(std::size_t kind, double x, double u, double clip,
                                             double spread_weight)
{
    if (unknown) {
        // The first value sets the level and says nothing else.
        unknown = false;
        mean[0] = x;
        covariance[0] = u * u;
        return 0;
    }
    // The forecast errors of levels learned by least squares are independent: exactly what the charts
    // assume.
    std::size_t const n = mean.size();
    double const total = std::sqrt(variance(kind) + u * u);
    double const error = (x - level(kind)) / total;
    double const spread = scale(spread_weight);
    double const z = error / spread;
    // Squares are clipped at 2 (0.9205 is the mean of min(z^2, 4) for a normal z), so that a drift or a few
    // bad links hardly widen the scale that has to find them.
    squares += std::min(error * error, 4 * spread * spread) / 0.9205;
    count += 1;
    // A value further off than a healthy link ever is says nothing of the level.
    if (std::abs(z) > clip) return z;
    std::vector<double> gain(n);
    for (std::size_t i = 0; i < n; ++i)
        gain[i] = (covariance[i * n] + (kind > 0 ? covariance[i * n + kind] : 0)) / (total * total);
    for (std::size_t i = 0; i < n; ++i) {
        mean[i] += gain[i] * error * total;
        for (std::size_t j = 0; j < n; ++j) covariance[i * n + j] -= gain[i] * gain[j] * total * total;
    }
    return z;
}

namespace {

/// What a value counts for on a chart: no more than `clip`, and beyond `lone` no more than the value before
/// or after it in time on the same side.
double borne_out(double z, double before, double after, double clip, double lone)
{
    double const sign = z < 0 ? -1 : 1;
    double const support = std::max({lone, sign * before, sign * after});
    return sign * std::min({std::abs(z), clip, support});
}

} // namespace

template <class Chart>
bool ReferenceWatch::Bounded<Chart>::add(double z, double clip, double lone)
{
    double const score = borne_out(last, last_but_one, z, clip, lone);
    if (score != last_score) {
        // The value before is borne out by this one: it counts for more than it did.
        chart = before;
        chart.add(score);
    }
    before = chart;
    last_but_one = last;
    last = z;
    last_score = borne_out(z, last_but_one, 0, clip, lone);
    return chart.add(last_score);
}

WatchLimits LimitSolver::limits(WatchDesign const& design, std::size_t positions)
{
    auto const ewma_for = [&](double arl) {
        auto const [place, is_new] = ewma_.try_emplace({design.lambda, arl}, 0);
        if (is_new) place->second = ewma_limit_for(design.lambda, arl);
        return place->second;
    };
    auto const cusum_for = [&](double arl) {
        auto const [place, is_new] = cusum_.try_emplace({design.k, arl}, 0);
        if (is_new) place->second = cusum_limit_for(design.k, arl);
        return place->second;
    };
    double const rate = 1 / design.run_length;
    double const common_arl = 1 / (rate * common_share * overlap);
    return WatchLimits{ewma_for(common_arl), cusum_for(common_arl), ewma_for(1 / (rate * wavelength_share)),
                       cusum_for(static_cast<double>(positions) / (rate * position_share))};
}

ReferenceWatch::ReferenceWatch(std::size_t positions, std::size_t wavelengths, WatchDesign const& design,
                               WatchLimits const& limits)
    : positions_(positions)
    , wavelengths_(wavelengths)
    , design_(design)
    , limits_(limits)
    , common_ewma_{Ewma{design.lambda, limits_.common_ewma}, Ewma{design.lambda, limits_.common_ewma}}
    , common_cusum_{Cusum{design.k, limits_.common_cusum}, Cusum{design.k, limits_.common_cusum}}
    , wavelength_ewma_{Ewma{design.lambda, limits_.wavelength_ewma},
                       Ewma{design.lambda, limits_.wavelength_ewma}}
    , position_cusum_(positions, Bounded<Cusum>{Cusum{design.k, limits_.position_cusum},
                                                Cusum{design.k, limits_.position_cusum}})
    , position_(positions)
    , position_track_(positions)
    , position_sum_(positions, 0)
    , position_weight_(positions, 0)
    , fibre_(positions)
    , step_(positions)
{
    assert(positions >= 1 && positions <= 64 && wavelengths >= 1);
    for (Learner* learner : {&common_, &wavelength_}) learner->start(design.level_sd);
    for (Learner& learner : position_) learner.start(design.position_sd);
}

bool ReferenceWatch::note(Shift shift, std::size_t position, char const* chart)
{
    for (auto const& alarm : alarms_)
        if (alarm.shift == shift && alarm.position == position) return false;
    // A chart that stays out is not asked at every link of a long series: the work must not grow with its
    // square.
    if (points_.size() % (1 + points_.size() / 512) != 0) return false;
    // A chart beyond its limit shows that something moved; bad links near each other move it as well. The
    // step that all links bear out decides, now or at a later link that finds the chart out.
    Alarm const alarm{shift, position, points_.size() - 1, chart};
    if (!located(alarm, 0.95).borne_out) return false;
    alarms_.push_back(alarm);
    return true;
}

ReferenceWatch::Track const& ReferenceWatch::track_of(Alarm const& alarm) const
{
    return alarm.shift == Shift::common       ? common_track_
           : alarm.shift == Shift::wavelength ? wavelength_track_
                                              : position_track_[alarm.position - 1];
}

void ReferenceWatch::Track::add(double value_db, double expected_db, double reach_db, double standardised,
                                double u_db)
{
    value.push_back(value_db);
    expected.push_back(expected_db);
    reach.push_back(reach_db);
    z.push_back(standardised);
    u.push_back(u_db);
}

std::size_t ReferenceWatch::kind_index(LinkResiduals const& link)
{
    for (std::size_t i = 0; i < kinds_.size(); ++i)
        if (kinds_[i] == link.kind) return i;
    kinds_.push_back(link.kind);
    kind_sd_.push_back(link.kind_sd);
    common_.add_kind(link.kind_sd);
    wavelength_.add_kind(kind_step_share * link.kind_sd);
    return kinds_.size() - 1;
}

bool ReferenceWatch::add(LinkResiduals const& link)
{
    assert(link.residual.size() == positions_ * wavelengths_ && link.natural_sd.size() == wavelengths_);
    double natural = 0;
    for (double const sd : link.natural_sd) natural += sd / static_cast<double>(wavelengths_);
    double present = 0;
    double lit = 0;
    for (std::size_t p = 0; p < positions_; ++p) {
        double sum = 0;
        double count = 0;
        for (std::size_t w = 0; w < wavelengths_; ++w)
            if (double const r = link.residual[w * positions_ + p]; !std::isnan(r)) {
                sum += r;
                count += 1;
            }
        fibre_[p] = count > 0 ? sum / count : hole;
        step_[p] =
            wavelengths_ > 1 ? link.residual[(wavelengths_ - 1) * positions_ + p] - link.residual[p] : hole;
        present += count;
        lit += count > 0 ? 1 : 0;
    }
    // One fibre's natural loss is nearly the same at all wavelengths: only the reading's own part averages
    // out.
    double const reading_sd = lit > 0 ? root_sum(natural, link.reading_u / std::sqrt(present / lit)) : hole;
    if (lit > 0 && link.skewness > 0.01) {
        double const middle = huber_location(fibre_, reading_sd);
        for (double& value : fibre_)
            if (!std::isnan(value))
                value = middle + reading_sd * normal_score((value - middle) / reading_sd, link.skewness);
    }
    double const offset = lit > 0 ? biweight_location(fibre_, reading_sd) : hole;
    double const u = lit > 0 ? root_sum(reading_sd * std::sqrt(robust_variance / lit), link.common_sd) : hole;

    std::size_t const before = alarms_.size();
    std::size_t const kind = kind_index(link);
    kind_of_.push_back(kind);
    watch_common(offset, u, kind + 1);
    watch_wavelengths(link, kind + 1);
    watch_positions(offset, lit > 1 ? reading_sd * std::sqrt(1 - 1 / lit) : hole);
    return alarms_.size() > before;
}

bool ReferenceWatch::watch_common(double offset, double u, std::size_t kind)
{
    ChartPoint point;
    point.offset_db = offset;
    point.expected_db = common_.level(kind);
    point.u_db = u;
    double const reach = std::sqrt(common_.variance(kind) + u * u) * common_.scale(design_.spread_weight);
    double z = hole;
    bool by_ewma = false;
    bool by_cusum = false;
    if (!std::isnan(offset)) {
        z = common_.standardised(kind, offset, u, design_.clip, design_.spread_weight);
        by_ewma = common_ewma_.add(z, design_.clip, design_.lone);
        by_cusum = common_cusum_.add(z, design_.clip, design_.lone);
        point.standardised = common_ewma_.last_score;
    }
    point.ewma = common_ewma_.chart.value();
    point.cusum_high = common_cusum_.chart.high();
    point.cusum_low = common_cusum_.chart.low();
    points_.push_back(point);
    common_track_.add(offset, point.expected_db, reach, z, u);
    return (by_ewma || by_cusum) && note(Shift::common, 0, by_ewma ? "ewma" : "cusum");
}

void ReferenceWatch::watch_wavelengths(LinkResiduals const& link, std::size_t kind)
{
    auto const stepped = static_cast<double>(
        std::count_if(step_.begin(), step_.end(), [](double x) { return !std::isnan(x); }));
    if (stepped == 0) {
        wavelength_track_.add(hole, hole, hole, hole, hole);
        return;
    }
    double const first = link.natural_sd.front();
    double const last = link.natural_sd.back();
    double const spread = std::sqrt(
        std::max(0.0, first * first + last * last - 2 * design_.wavelength_correlation * first * last) +
        2 * link.reading_u * link.reading_u);
    double const offset = biweight_location(step_, spread);
    double const u = root_sum(spread * std::sqrt(robust_variance / stepped), link.common_sd);
    double const level = wavelength_.level(kind);
    double const reach =
        std::sqrt(wavelength_.variance(kind) + u * u) * wavelength_.scale(design_.spread_weight);
    double const z = wavelength_.standardised(kind, offset, u, design_.clip, design_.spread_weight);
    wavelength_track_.add(offset, level, reach, z, u);
    if (wavelength_ewma_.add(z, design_.clip, design_.lone)) note(Shift::wavelength, 0, "ewma");
}

void ReferenceWatch::watch_positions(double offset, double reading_sd)
{
    for (std::size_t p = 0; p < positions_; ++p) {
        double const value = fibre_[p] - offset;
        auto& track = position_track_[p];
        if (std::isnan(value) || !(reading_sd > 0)) {
            track.add(hole, hole, hole, hole, hole);
            continue;
        }
        double const weight = 1 / (reading_sd * reading_sd);
        position_sum_[p] +=
            weight * reading_sd * std::clamp(value / reading_sd, -position_clip, position_clip);
        position_weight_[p] += weight;
        Learner& learner = position_[p];
        double const level = learner.mean[0];
        double const reach = std::sqrt(learner.covariance[0] + reading_sd * reading_sd);
        // The spread of one position is that of all: it is not learned by itself.
        double const z = learner.standardised(0, value, reading_sd, position_clip,
                                              std::numeric_limits<double>::infinity());
        track.add(value, level, reach, z, reading_sd);
        if (position_cusum_[p].add(z, position_clip, design_.lone)) note(Shift::position, p + 1, "cusum");
    }
}

double ReferenceWatch::position_offset(std::size_t position) const
{
    return position_weight_[position] > 0 ? position_sum_[position] / position_weight_[position] : hole;
}

double ReferenceWatch::position_offset_u(std::size_t position) const
{
    return position_weight_[position] > 0 ? 1 / std::sqrt(position_weight_[position]) : hole;
}

WatchSignal ReferenceWatch::located(Alarm const& alarm, double confidence) const
{
    WatchSignal signal;
    signal.shift = alarm.shift;
    signal.position = static_cast<int>(alarm.position);
    signal.at = alarm.at;
    signal.chart = alarm.chart;
    Track const& track = track_of(alarm);
    double const scale = alarm.shift == Shift::common       ? common_.scale(design_.spread_weight)
                         : alarm.shift == Shift::wavelength ? wavelength_.scale(design_.spread_weight)
                                                            : 1;
    std::vector<double> sds = track.u;
    for (double& sd : sds) sd *= scale;
    StepNuisance nuisance;
    nuisance.level_sd = alarm.shift == Shift::position ? design_.position_sd : design_.level_sd;
    std::vector<double> kind_sd = kind_sd_;
    if (alarm.shift == Shift::wavelength)
        for (double& sd : kind_sd) sd *= kind_step_share;
    if (alarm.shift != Shift::position) {
        nuisance.kind = kind_of_;
        nuisance.kind_sd = kind_sd;
    }
    // What stood out alone says nothing of when; what did not counts no further from the level of its time
    // than one link may.
    double const clip = alarm.shift == Shift::position ? position_clip : design_.clip;
    std::vector<double> clipped = track.value;
    double before = 0;
    for (std::size_t i = 0; i < clipped.size(); ++i) {
        double const z = track.z[i];
        if (std::isnan(z)) continue;
        std::size_t next = i + 1;
        while (next < clipped.size() && std::isnan(track.z[next])) ++next;
        double const after = next < clipped.size() ? track.z[next] : 0;
        if (std::abs(z) > clip && std::abs(borne_out(z, before, after, clip, design_.lone)) < clip)
            clipped[i] = hole;
        else
            clipped[i] = std::clamp(clipped[i], track.expected[i] - clip * track.reach[i],
                                    track.expected[i] + clip * track.reach[i]);
        before = z;
    }
    auto change = change_point(clipped, sds, nuisance, confidence);
    if (!change) return signal; // no alarm comes without values
    // Whether it came at once or grew shows in values that are not clipped around the level of their time,
    // which follows what it sees: they may lie anywhere from the old level to twice the step, where a ramp of
    // that mean ends.
    RobustStep step = robust_step(track.value, sds, nuisance, change->first_after);
    if (step.u > 0) {
        double const low = std::min(0.0, 2 * step.size);
        double const high = std::max(0.0, 2 * step.size);
        for (std::size_t i = 0; i < clipped.size(); ++i) {
            if (std::isnan(clipped[i])) continue;
            double const own = nuisance.kind.empty() ? 0 : nuisance.kind_sd[nuisance.kind[i]];
            double const reach = clip * root_sum(sds[i], own);
            clipped[i] =
                std::clamp(track.value[i], change->before + low - reach, change->before + high + reach);
        }
        if (auto better = change_point(clipped, sds, nuisance, confidence, 0, Form::step_or_ramp))
            change = std::move(better);
        step = robust_step(track.value, sds, nuisance, change->first_after, change->ramp);
    }
    signal.change = *std::move(change);
    if (step.u > 0) {
        signal.size = Decibel{step.size};
        signal.size_u = Decibel{step.u};
        signal.change.after = signal.change.before + step.size;
    }
    auto const from = track.value.begin() + static_cast<std::ptrdiff_t>(signal.change.first_after);
    auto const after =
        std::count_if(from, track.value.end(), [](double value) { return !std::isnan(value); });
    double const share = alarm.shift == Shift::position ? least_share_of_position : least_share;
    signal.borne_out =
        after >= least_after && step.borne_out >= share && std::abs(step.size) > least_step_in_u * step.u;
    double sum = 0;
    signal.doubt.reserve(signal.change.probability.size());
    for (double const p : signal.change.probability) {
        sum += p;
        signal.doubt.push_back(std::min(1.0, sum));
    }
    return signal;
}

std::vector<WatchSignal> ReferenceWatch::signals(double confidence) const
{
    std::vector<WatchSignal> found;
    found.reserve(alarms_.size());
    for (auto const& alarm : alarms_) found.push_back(located(alarm, confidence));
    return found;
}

} // namespace guidepin::watch

// SPDX-License-Identifier: Apache-2.0
#include "job/paper/finding_picture.hpp"

#include "base/no_number.hpp"
#include "base/text.hpp"
#include "drawing/lengths.hpp"
#include "drawing/polarity_map.hpp"
#include "drawing/row.hpp"
#include "job/findings/doubt_findings.hpp"
#include "job/findings/explain.hpp"
#include "job/paper/certificate_of.hpp"
#include "job/paper/pictures.hpp"
#include "job/paper/row_picture.hpp"
#include "job/sheet/locale.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr std::size_t rows_shown = 3;

double median_of(std::vector<double>& values)
{
    if (values.empty()) return nan;
    auto const middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

bool is_wiring(cause::Cause cause)
{
    using cause::Cause;
    return cause == Cause::crossed_fibres || cause == Cause::shifted_row || cause == Cause::swapped_blocks ||
           cause == Cause::swapped_rows || cause == Cause::wrong_trunk_type ||
           cause == Cause::wrong_adapter || cause == Cause::wrong_test_cord;
}

/// Scenes one below the other.
drawing::Scene stacked(std::vector<std::pair<std::string, drawing::Scene>> const& parts)
{
    constexpr double title = 18, gap = 8;
    drawing::Scene whole;
    for (auto const& [label, scene] : parts) {
        drawing::Text text;
        text.at = {0, whole.height + 13};
        text.text = label;
        text.size = 12;
        text.fill = drawing::paint(drawing::Token::quiet);
        whole.add(std::move(text));
        whole.place(scene, {0, whole.height + title});
        whole.height += title + scene.height + gap;
        whole.width = std::max(whole.width, scene.width);
    }
    whole.height = std::max(0.0, whole.height - gap);
    whole.name = "Links of the finding";
    return whole;
}

} // namespace

FindingPictures::FindingPictures(JobState const& state, Assessment const& assessment, cause::Columns columns)
    : state_(&state)
    , assessment_(&assessment)
    , columns_(std::move(columns))
{
    for (cause::LinkRow const& link : columns_.links) middles_.push_back(middle_of(link));
}

Result<FindingPictures> FindingPictures::of(JobState const& state, Assessment const& assessment)
{
    TRY_ASSIGN(auto columns, cause_columns(state, assessment));
    return FindingPictures(state, assessment, std::move(columns));
}

double FindingPictures::middle_of(cause::LinkRow const& link) const
{
    if (link.kind == cause::none) return nan;
    cause::LinkKind const& kind = columns_.kinds[link.kind];
    double const metres = std::isfinite(link.measured_m) ? link.measured_m
                          : std::isfinite(link.drawn_m)  ? link.drawn_m
                                                         : 0;
    std::vector<double> losses;
    for (std::size_t direction = 0; direction < 2; ++direction) {
        if (!link.measured[direction]) continue;
        for (std::size_t w = 0; w < kind.wavelengths; ++w) {
            for (int position = 1; position <= link.positions; ++position) {
                float const loss = columns_.loss_db[columns_.cell(link, direction, w, position)];
                if (std::isfinite(loss))
                    losses.push_back(static_cast<double>(loss) - link.db_per_km[w] * metres / 1000);
            }
        }
    }
    return median_of(losses);
}

std::optional<drawing::ControlChart> FindingPictures::watched_course(cause::Finding const& finding) const
{
    WatchedReference const* const watched =
        assessment_->watching->find(state_->readings.references.id(finding.reference), *state_);
    if (!watched || watched->tests.size() < 2) return std::nullopt;
    auto const found = std::find_if(watched->doubts.begin(), watched->doubts.end(), [&](Doubt const& doubt) {
        return is_same_fault(*state_, *assessment_, *watched, doubt, finding);
    });
    Doubt const* doubt = found == watched->doubts.end() ? nullptr : &*found;
    // Draw a position also if only the explanation found it, and not the watch.
    Doubt alone;
    if (!doubt && finding.positions.size() == 1 &&
        static_cast<std::size_t>(finding.positions.front()) <= watched->positions) {
        alone.kind = DoubtKind::position;
        alone.position = finding.positions.front();
        auto const first =
            std::find_if(watched->tests.begin(), watched->tests.end(), [&](WatchedTest const& test) {
                return !finding.links.empty() && test.link == finding.links.front();
            });
        if (first != watched->tests.end()) {
            alone.change.first_after = alone.change.earliest = alone.change.latest = alone.at =
                static_cast<std::size_t>(first - watched->tests.begin());
            alone.change.probability.assign(watched->tests.size(), 0);
            doubt = &alone;
        }
    }
    drawing::ControlChart chart = control_chart_of(*state_, *assessment_, *watched, doubt);
    chart.number = [locale = locale_of(state_->settings)](double value, int decimals) {
        return locale.number(value, decimals);
    };
    return chart;
}

std::optional<drawing::Scene> FindingPictures::lengths(cause::Finding const& finding, double width) const
{
    using cause::Cause;
    if (finding.cause != Cause::length_mismatch && finding.cause != Cause::mislabelled_link)
        return std::nullopt;
    char const decimal = writing_of(state_->settings).decimal;
    auto const metres = [decimal](double value, int decimals) {
        std::string text = fixed_text(value, decimals);
        std::replace(text.begin(), text.end(), '.', decimal);
        return text + " m";
    };
    drawing::LengthChart chart;
    chart.name = "Measured and drawn length";
    bool off = false;
    for (std::uint32_t const link : finding.links) {
        if (chart.links.size() == rows_shown) break;
        cause::LinkRow const& row = columns_.links[link];
        if (!std::isfinite(row.measured_m) || !std::isfinite(row.drawn_m)) continue;
        off = off || std::abs(row.measured_m - row.drawn_m) > row.tolerance_m;
        chart.links.push_back({row.id, row.drawn_m, row.measured_m, row.tolerance_m, metres(row.drawn_m, 0),
                               metres(row.measured_m, 1)});
    }
    // Labels that are exchanged between links of one length show in their maps.
    if (!off) return std::nullopt;
    return drawing::length_drawing(chart, width);
}

std::optional<drawing::ControlChart> FindingPictures::course(cause::Finding const& finding) const
{
    if (finding.reference == cause::none) return std::nullopt;
    if (auto watched = watched_course(finding)) return watched;
    std::vector<bool> in_finding(columns_.links.size());
    for (std::uint32_t const link : finding.links) in_finding[link] = true;
    std::map<std::uint32_t, std::vector<double>> elsewhere;
    std::vector<std::uint32_t> order;
    for (std::uint32_t i = 0; i < columns_.links.size(); ++i) {
        cause::LinkRow const& link = columns_.links[i];
        if (!std::isfinite(middles_[i])) continue;
        if (!in_finding[i]) elsewhere[columns_.kinds[link.kind].group].push_back(middles_[i]);
        if (link.reference == finding.reference) order.push_back(i);
    }
    if (order.size() < 2) return std::nullopt;
    std::stable_sort(order.begin(), order.end(), [&](std::uint32_t a, std::uint32_t b) {
        return columns_.links[a].taken_ms < columns_.links[b].taken_ms;
    });
    drawing::ControlChart chart;
    std::vector<double> spread;
    std::map<std::uint32_t, double> centres;
    for (auto& [group, values] : elsewhere) {
        double const centre = median_of(values);
        centres[group] = centre;
        for (double const value : values) spread.push_back(std::abs(value - centre));
    }
    for (std::uint32_t const i : order) {
        auto const centre = centres.find(columns_.kinds[columns_.links[i].kind].group);
        double const value = middles_[i] - (centre == centres.end() ? 0 : centre->second);
        chart.signal.push_back(in_finding[i] && !chart.change_at);
        chart.held.push_back(in_finding[i]);
        if (in_finding[i] && !chart.change_at)
            chart.change_at = static_cast<double>(chart.values.size()) - 0.5;
        chart.values.push_back(value);
        chart.labels.push_back(fmt::format("{}: {} dB", columns_.links[i].id, fixed_text(value, 2)));
    }
    // Three standard deviations of healthy links, from the median absolute deviation.
    double const sd = spread.empty() ? 0.1 : std::max(0.02, 1.4826 * median_of(spread));
    chart.lower = -3 * sd;
    chart.upper = 3 * sd;
    chart.unit = "dB";
    chart.name =
        fmt::format("Links under {} in order of time", state_->readings.references.text(finding.reference));
    chart.description =
        fmt::format("{} links; each link's middle above what its kind shows elsewhere", order.size());
    if (chart.change_at) {
        auto const first = static_cast<std::size_t>(*chart.change_at + 0.5);
        chart.change_label = fmt::format("from {} on", columns_.links[order[first]].id);
    }
    chart.number = [locale = locale_of(state_->settings)](double value, int decimals) {
        return locale.number(value, decimals);
    };
    return chart;
}

Result<std::optional<drawing::Scene>> FindingPictures::picture(cause::Finding const& finding,
                                                               double width) const
{
    using Picture = std::optional<drawing::Scene>;
    if (auto const chart = course(finding)) return Picture(drawing::control_drawing(*chart, width, 200));
    if (auto scene = lengths(finding, width)) return Picture(std::move(*scene));
    if (is_wiring(finding.cause) && !finding.links.empty() && finding.links.front() < state_->scheduled()) {
        TRY_ASSIGN(auto const certificate, certificate_of(*state_, *assessment_, finding.links.front()));
        if (certificate.polarity) return Picture(drawing::polarity_drawing(*certificate.polarity, width));
    }
    std::vector<std::pair<std::string, drawing::Scene>> parts;
    for (std::uint32_t const link : finding.links) {
        if (parts.size() == rows_shown || link >= state_->scheduled()) break;
        std::string const text = row_text(*state_, *assessment_, link);
        if (text.empty()) continue;
        plant::Family const& family = state_->links[link].family;
        drawing::Row row = row_of(state_->links[link].id,
                                  family.key == plant::Family::Key::duplex
                                      ? plant::Family{plant::Family::Key::duplex, 1, family.positions()}
                                      : family,
                                  text);
        // Where the finding shows is what is drawn.
        if (!finding.wavelengths.empty() && row.layers.size() > finding.wavelengths.size()) {
            std::erase_if(row.layers, [&](drawing::RowLayer const& layer) {
                return std::none_of(finding.wavelengths.begin(), finding.wavelengths.end(),
                                    [&](int nm) { return layer.label == fmt::format("{} nm", nm); });
            });
        }
        parts.emplace_back(row.name, drawing::row_drawing(row, drawing::RowSize::normal));
    }
    if (parts.empty()) return Picture{};
    if (parts.size() == 1) return Picture(std::move(parts.front().second));
    return Picture(stacked(parts));
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/expectation.hpp"

#include "job/groundwork/groundwork.hpp"
#include "job/state/places.hpp"
#include "loss/prediction.hpp"
#include "watch/robust.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

namespace guidepin::job {

namespace {

// How far the mean of a site's joints may lie from that of their grade, as a share of it (common practice:
// real populations reach 0.4 to 0.8 of their grade), and that of one layout from the others'.
constexpr double prediction_sd = 0.3;
constexpr double layout_sd = 0.12;
// By which references of one kit differ (our estimate): most of the budget's common part is common to all of
// them.
constexpr double reference_sd = 0.04;
// How far a kind of fibre may lie from the usual share of its limit.
constexpr double usual_share_sd = 0.3;

/// What of the spread between fibres is surely the reading's. The budget's figure is an upper one: taken as
/// the reading's share it would leave the joints no tail, and healthy fibres would stand out.
double spread_u(ExpectedAt const& expected)
{
    return std::min(expected.reading_u, 0.02);
}

watch::PopulationKey together(watch::PopulationKey key)
{
    key.layout = 0;
    return key;
}

/// How far the mean may be off: `nearly` by links of all layouts, `now` by those of this one too.
double level_u(ExpectedAt const& expected, watch::Expected const& nearly, watch::Expected const& now)
{
    double const unsure = (1 - nearly.site_weight) * prediction_sd + nearly.site_weight * layout_sd;
    return (1 - now.site_weight) * unsure * expected.joints.mean();
}

/// Population of the site, prediction and limits of one kind of link at one wavelength.
ExpectedAt expected_at(JobState const& state, plant::LinkSpec const& link, verdict::LinkKind const& judged,
                       std::size_t w, int inner, int layout, loss::Gamma const& joint,
                       loss::Predictor& predictor)
{
    ExpectedAt expected;
    expected.wavelength_nm = judged.wavelength_nm[w];
    facts::Fact const* const limit =
        state.rules.coefficient(link.category, Nanometres{expected.wavelength_nm});
    expected.db_per_km = limit ? typical_share_of_limit * limit->value : 0;
    expected.key = {link.category, expected.wavelength_nm, 2 + inner, link.splices, layout};
    std::vector<loss::Joints> joints{{"connection", joint, 2 + inner, false}};
    int const in_reference = joints_in_reference(state.settings.method);
    if (in_reference > 0) joints.push_back({"joint of the reference", joint, in_reference, true});
    expected.joints = predictor.joints(joints);
    // A reading that is as sure as its last digit still scatters by more than a hundredth.
    verdict::UncertaintyModel const& u = judged.uncertainty[w];
    expected.reading_u = std::sqrt(std::max(1e-4, u.own_variance(expected.joints.mean())));
    expected.common_u = std::sqrt(std::max(4e-4, u.common_variance(expected.joints.mean())));
    expected.before = watch::expected_before(expected.joints, spread_u(expected));
    return expected;
}

} // namespace

std::size_t learned_from(std::size_t tests)
{
    constexpr std::size_t all_of_so_many = 256;
    if (tests <= all_of_so_many) return tests;
    std::size_t step = 1;
    while (tests / step >= 32) step *= 2;
    return tests - tests % step;
}

Expectation::Gathered Expectation::gather(JobState const& state, Groundwork const& ground,
                                          std::uint32_t rows_end)
{
    Gathered gathered;
    gathered.values.reserve(state.readings.size());
    LatestPlaces latest;
    for (std::size_t i = 0; i < state.scheduled(); ++i) {
        if (ground.rows->begin(i) == ground.rows->end(i)) continue;
        verdict::LinkKind const& judged = ground.tasks.kinds[ground.tasks.links[i].kind];
        auto const& places = latest.of(state.readings, *ground.rows, judged, ground.verdicts.columns[i], i,
                                       LatestPlaces::any_reference, rows_end);
        for (std::size_t w = 0; w < judged.wavelengths; ++w) {
            std::size_t const first = gathered.values.size();
            std::uint32_t reference = verdict::Dictionary::missing;
            for (Place const& place : places) {
                if (place.wavelength != w || ground.hold[place.row] != 0 ||
                    state.readings.far_position[place.row] == verdict::far_dark ||
                    !std::isfinite(state.readings.value[place.row]))
                    continue;
                if (gathered.values.size() == first) reference = state.readings.reference[place.row];
                gathered.values.push_back(static_cast<float>(state.readings.value[place.row]));
            }
            if (gathered.values.size() > first)
                gathered.groups.push_back({i, w, first, gathered.values.size(), reference});
        }
    }
    return gathered;
}

Result<loss::Gamma> usual_joint(facts::Tables const& tables, facts::FibreKind kind)
{
    facts::ConnectionGrade const* const grade =
        tables.grade(kind == facts::FibreKind::multimode ? "Bm" : "B");
    if (!grade) return Error{Errc::not_found, "The tables have no connection grade B"};
    return loss::gamma_of(*grade);
}

Result<Expectation> Expectation::learn(JobState const& state, Groundwork const& ground)
{
    Expectation expectation;
    std::size_t const links = state.readings.links.size();
    expectation.kind_of_link_.assign(links, none);
    expectation.km_.assign(links, 0);
    loss::Predictor predictor;
    std::map<std::tuple<std::uint32_t, int, int>, std::uint32_t> kinds;
    for (std::size_t i = 0; i < state.scheduled(); ++i) {
        plant::LinkSpec const& link = state.links[i];
        double const metres = link.length.value();
        expectation.km_[i] = metres > 0 ? metres / 1000 : 0;
        std::uint32_t const judged_index = ground.tasks.links[i].kind;
        int const inner = ground.inner[i];
        auto const [place, is_new] = kinds.try_emplace({judged_index, inner, link.splices},
                                                       static_cast<std::uint32_t>(expectation.kinds_.size()));
        expectation.kind_of_link_[i] = place->second;
        if (!is_new) continue;
        TRY_ASSIGN(auto const* const category, state.tables.category(link.category));
        TRY_ASSIGN(loss::Gamma const joint, usual_joint(state.tables, category->kind));
        verdict::LinkKind const& judged = ground.tasks.kinds[judged_index];
        ExpectedKind kind;
        for (std::size_t w = 0; w < judged.wavelengths; ++w)
            kind.at.push_back(expected_at(state, link, judged, w, inner, static_cast<int>(judged_index) + 1,
                                          joint, predictor));
        expectation.kinds_.push_back(std::move(kind));
    }

    expectation.tests_ = learned_from(state.tests.size());
    expectation.gathered_ = gather(
        state, ground,
        expectation.tests_ < state.tests.size() ? state.tests[expectation.tests_].first_row : UINT32_MAX);
    expectation.learn_fibre(expectation.gathered_);
    expectation.groups_of_reference_.resize(state.readings.references.size());
    auto& site = expectation.site_;
    for (std::size_t g = 0; g < expectation.gathered_.groups.size(); ++g) {
        Gathered::Group const& group = expectation.gathered_.groups[g];
        expectation.count(site, group);
        if (group.reference == verdict::Dictionary::missing) continue;
        auto& groups = expectation.groups_of_reference_[group.reference];
        expectation.references_of_[together(expectation.at(group.link, group.wavelength)->key)].insert(
            group.reference);
        groups.push_back(static_cast<std::uint32_t>(g));
    }
    for (ExpectedKind& kind : expectation.kinds_) {
        for (ExpectedAt& expected : kind.at) {
            // Links of all layouts first, then those of this one: where it has few links the others speak.
            auto const nearly = site.expected(together(expected.key), expected.before, spread_u(expected));
            expected.now = site.expected(expected.key, nearly, spread_u(expected));
            expected.level_u = level_u(expected, nearly, expected.now);
            auto const distribution = expected.now.distribution();
            expected.low = distribution.quantile(0.025);
            expected.high = distribution.quantile(0.975);
        }
    }
    return expectation;
}

double Expectation::natural_db(std::uint32_t kind) const
{
    double sum = 0;
    for (ExpectedAt const& expected : kinds_[kind].at) sum += expected.joints.mean();
    return sum / static_cast<double>(std::max<std::size_t>(1, kinds_[kind].at.size()));
}

void Expectation::count(watch::SiteExpectation& site, Gathered::Group const& group) const
{
    ExpectedAt const& expected = *at(group.link, group.wavelength);
    double const fibre = fibre_db(group.link, expected);
    thread_local std::vector<double> excess;
    excess.clear();
    for (std::size_t i = group.first; i < group.end; ++i) excess.push_back(gathered_.values[i] - fibre);
    site.add(expected.key, excess);
    site.add(together(expected.key), excess);
}

std::vector<std::vector<ExpectedByOthers>> Expectation::by_others(std::uint32_t reference,
                                                                  std::vector<std::uint32_t> const& kinds,
                                                                  std::span<LeftOut const> left_out) const
{
    watch::SiteExpectation own;
    // A reference may have come since.
    if (reference < groups_of_reference_.size()) {
        for (std::uint32_t const group : groups_of_reference_[reference]) count(own, gathered_.groups[group]);
    }
    for (LeftOut const& out : left_out) {
        if (out.reference == reference || out.reference >= groups_of_reference_.size()) continue;
        for (std::uint32_t const group : groups_of_reference_[out.reference])
            if (std::binary_search(out.links.begin(), out.links.end(),
                                   static_cast<std::uint32_t>(gathered_.groups[group].link)))
                count(own, gathered_.groups[group]);
    }
    double least = std::numeric_limits<double>::infinity();
    for (std::uint32_t const kind : kinds)
        for (ExpectedAt const& expected : kinds_[kind].at) least = std::min(least, expected.joints.mean());
    std::vector<std::vector<ExpectedByOthers>> all;
    for (std::uint32_t const kind : kinds) {
        std::vector<ExpectedByOthers> by_wavelength;
        for (ExpectedAt const& expected : kinds_[kind].at) {
            watch::PopulationKey const all_layouts = together(expected.key);
            double const u = spread_u(expected);
            auto const nearly = site_.expected_without(all_layouts, expected.before, u, &own);
            ExpectedByOthers others;
            others.now = site_.expected_without(expected.key, nearly, u, &own);
            // The others' readings lie off by their own references' errors.
            auto const found = references_of_.find(all_layouts);
            std::size_t references = found == references_of_.end() ? 0 : found->second.size();
            if (references > 0 && found->second.count(reference) > 0) --references;
            double const theirs = others.now.site_weight * reference_sd /
                                  std::sqrt(std::max<double>(1, static_cast<double>(references)));
            // Joints that are better than their grade are so in all kinds: that moves kinds apart only as far
            // as they differ in joints.
            double const mean = expected.joints.mean();
            double const unlearned = 1 - others.now.site_weight;
            double const quality = (1 - nearly.site_weight) * prediction_sd;
            others.kind_u =
                std::hypot(unlearned * layout_sd * mean, unlearned * quality * (mean - least), theirs);
            others.shared_u = unlearned * quality * mean;
            by_wavelength.push_back(others);
        }
        all.push_back(std::move(by_wavelength));
    }
    return all;
}

/// The fibre's own loss from links of different lengths: slope of the links' medians within their kinds,
/// pooled over a category and wavelength, weighed against what such fibre usually loses.
void Expectation::learn_fibre(Gathered const& gathered)
{
    struct Point
    {
        double km, db;
        std::uint32_t kind;
    };
    std::map<std::pair<std::string, int>, std::vector<Point>> lines;
    std::vector<double> values;
    for (Gathered::Group const& group : gathered.groups) {
        values.assign(gathered.values.begin() + static_cast<std::ptrdiff_t>(group.first),
                      gathered.values.begin() + static_cast<std::ptrdiff_t>(group.end));
        ExpectedAt const& expected = *at(group.link, group.wavelength);
        lines[{expected.key.category, expected.wavelength_nm}].push_back(
            {km_[group.link], watch::median_in_place(values), kind_of_link_[group.link]});
    }
    std::map<std::pair<std::string, int>, double> learned;
    for (auto& [key, points] : lines) {
        double usual = 0;
        for (ExpectedKind const& kind : kinds_) {
            for (ExpectedAt const& expected : kind.at) {
                if (expected.key.category == key.first && expected.wavelength_nm == key.second)
                    usual = expected.db_per_km;
            }
        }
        double slope = usual;
        double weight = 0;
        // Bad links are drawn back to their line before it is fitted again.
        double reach = std::numeric_limits<double>::infinity();
        for (int round = 0; round < 3; ++round) {
            std::map<std::uint32_t, std::vector<double>> offsets;
            for (Point const& point : points) offsets[point.kind].push_back(point.db - slope * point.km);
            std::map<std::uint32_t, std::pair<double, double>> centre; // km, offset
            std::map<std::uint32_t, std::pair<double, double>> sums;
            for (auto& [kind, list] : offsets) centre[kind].second = watch::median(list);
            for (Point const& point : points) {
                sums[point.kind].first += point.km;
                sums[point.kind].second += 1;
            }
            for (auto const& [kind, sum] : sums) centre[kind].first = sum.first / sum.second;
            std::vector<double> away;
            double xy = 0;
            double xx = 0;
            for (Point const& point : points) {
                auto const& middle = centre[point.kind];
                double const left = point.db - slope * point.km - middle.second;
                away.push_back(left);
                double const x = point.km - middle.first;
                xy += x * std::clamp(left, -reach, reach);
                xx += x * x;
            }
            double const sd = std::max(0.02, watch::mad_to_sd * watch::median_absolute_deviation(away));
            reach = 2 * sd;
            weight = xx / (sd * sd);
            double const usual_sd = usual * usual_share_sd;
            double const prior = usual_sd > 0 ? 1 / (usual_sd * usual_sd) : 0;
            if (round == 0) continue; // the first round only finds the spread
            slope = weight + prior > 0
                        ? ((slope + (xx > 0 ? xy / xx : 0)) * weight + usual * prior) / (weight + prior)
                        : usual;
            slope = std::max(0.0, slope);
        }
        learned[key] = slope;
    }
    for (ExpectedKind& kind : kinds_) {
        for (ExpectedAt& expected : kind.at) {
            auto const found = learned.find({expected.key.category, expected.wavelength_nm});
            if (found != learned.end()) expected.db_per_km = found->second;
        }
    }
}

std::optional<ExpectedBand> Expectation::band(std::size_t link, std::size_t wavelength) const
{
    ExpectedAt const* const expected = at(link, wavelength);
    if (!expected) return std::nullopt;
    double const fibre = fibre_db(link, *expected);
    return ExpectedBand{fibre + expected->low, fibre + expected->now.mean, fibre + expected->high};
}

std::optional<LinkStandout> Expectation::standout(JobState const& state, Groundwork const& ground,
                                                  std::size_t link) const
{
    if (link >= state.scheduled() || kind_of_link_[link] == none) return std::nullopt;
    verdict::LinkKind const& judged = ground.tasks.kinds[ground.tasks.links[link].kind];
    LatestPlaces latest;
    auto const& places = latest.of(state.readings, *ground.rows, judged, ground.verdicts.columns[link], link);
    std::vector<double> excess(places.size());
    std::vector<watch::LinkPart> parts;
    std::vector<std::size_t> order; // of the parts' readings, by place
    std::size_t filled = 0;
    for (std::size_t w = 0; w < judged.wavelengths; ++w) {
        ExpectedAt const& expected = *at(link, w);
        std::size_t const first = filled;
        for (std::size_t i = 0; i < places.size(); ++i) {
            Place const& place = places[i];
            if (place.wavelength != w || state.readings.far_position[place.row] == verdict::far_dark ||
                !std::isfinite(state.readings.value[place.row]))
                continue;
            excess[filled++] = state.readings.value[place.row] - fibre_db(link, expected);
            order.push_back(i);
        }
        if (filled == first) continue;
        parts.push_back({std::span(excess).subspan(first, filled - first), expected.now});
    }
    if (filled == 0) return std::nullopt;
    // Beside what every link has, its reference and the level of its kind may be off.
    watch::ExpectationDesign design;
    ExpectedAt const& first = *at(link, 0);
    design.common_sd = std::hypot(design.common_sd, first.common_u, first.level_u);
    watch::LinkSurprise const told = watch::surprise_of(parts, design);
    LinkStandout standout;
    standout.chance = told.link;
    standout.surprise = std::min(300.0, told.surprise());
    standout.stands_out = told.stands_out(false_alarm_rate);
    standout.whole_link = told.whole_link < told.worst_fibre;
    standout.offset_db = told.offset_db;
    Place const& worst = places[order[told.worst]];
    standout.position = worst.position;
    standout.from_b = worst.end == 1;
    standout.wavelength_nm = judged.wavelength_nm[worst.wavelength];
    standout.value_db = state.readings.value[worst.row];
    standout.band = *band(link, worst.wavelength);
    return standout;
}

} // namespace guidepin::job

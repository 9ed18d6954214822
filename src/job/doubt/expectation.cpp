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
// By how much references of one kit differ (our estimate): most of the budget's common part is common to all
// of them.
constexpr double reference_sd = 0.04;
// How far a kind of fibre may lie from the usual share of its limit.
constexpr double usual_share_sd = 0.3;

/// Returns the part of the spread between fibres that the reading surely causes. The budget gives an upper
/// figure: used here it would leave no spread for the joints, and healthy fibres would stand out.
double spread_u(ExpectedAt const& expected)
{
    return std::min(expected.reading_u, 0.02);
}

watch::PopulationKey together(watch::PopulationKey key)
{
    key.layout = 0;
    return key;
}

/// Returns how far the mean may be off. `nearly` was learned from links of all layouts, `now` also from those
/// of this layout.
double level_u(ExpectedAt const& expected, watch::Expected const& nearly, watch::Expected const& now)
{
    double const unsure = (1 - nearly.site_weight) * prediction_sd + nearly.site_weight * layout_sd;
    return (1 - now.site_weight) * unsure * expected.joints.mean();
}

/// Links that the plan makes alike.
struct LinksAlike
{
    plant::LinkSpec const& link; ///< one of them
    verdict::LinkKind const& judged;
    int inner = 0;     ///< connections inside the link
    int layout = 0;    ///< number of plug, map and trunk
    loss::Gamma joint; ///< of each connection, before anything is measured
};

/// Returns population, prediction and limits of such links at one wavelength.
ExpectedAt expected_at(JobState const& state, LinksAlike const& alike, std::size_t wavelength,
                       loss::Predictor& predictor)
{
    plant::LinkSpec const& link = alike.link;
    int const connections = 2 + alike.inner;
    ExpectedAt expected;
    expected.wavelength_nm = alike.judged.wavelength_nm[wavelength];
    facts::Fact const* const limit =
        state.rules.coefficient(link.category, Nanometres{expected.wavelength_nm});
    expected.db_per_km = limit ? typical_share_of_limit * limit->value : 0;
    expected.key = {link.category, expected.wavelength_nm, connections, link.splices, alike.layout};
    std::vector<loss::Joints> joints{{"connection", alike.joint, connections, false}};
    int const in_reference = joints_in_reference(state.settings.method);
    if (in_reference > 0) joints.push_back({"joint of the reference", alike.joint, in_reference, true});
    expected.joints = predictor.joints(joints);
    // Even a reading with a perfect last digit scatters by more than 0.01 dB.
    verdict::UncertaintyModel const& u = alike.judged.uncertainty[wavelength];
    expected.reading_u = std::sqrt(std::max(1e-4, u.own_variance(expected.joints.mean())));
    expected.common_u = std::sqrt(std::max(4e-4, u.common_variance(expected.joints.mean())));
    expected.before = watch::expected_before(expected.joints, spread_u(expected));
    return expected;
}

/// The median of one link at one wavelength.
struct LinkMedian
{
    double km, db;
    std::uint32_t kind;
};

/// Returns what the fibre loses per km: the common slope of all kinds, drawn towards the `usual` one as far
/// as the links show little.
double learned_slope(std::vector<LinkMedian> const& medians, double usual)
{
    double slope = usual;
    // Bad links count for no more than this distance from their line when it is fitted again.
    double reach = std::numeric_limits<double>::infinity();
    for (int round = 0; round < 3; ++round) {
        std::map<std::uint32_t, std::vector<double>> offsets;
        for (LinkMedian const& point : medians) offsets[point.kind].push_back(point.db - slope * point.km);
        std::map<std::uint32_t, std::pair<double, double>> centre; // km, offset
        std::map<std::uint32_t, std::pair<double, double>> sums;
        for (auto& [kind, list] : offsets) centre[kind].second = watch::median(list);
        for (LinkMedian const& point : medians) {
            sums[point.kind].first += point.km;
            sums[point.kind].second += 1;
        }
        for (auto const& [kind, sum] : sums) centre[kind].first = sum.first / sum.second;
        std::vector<double> away;
        double xy = 0;
        double xx = 0;
        for (LinkMedian const& point : medians) {
            auto const& middle = centre[point.kind];
            double const left = point.db - slope * point.km - middle.second;
            away.push_back(left);
            double const x = point.km - middle.first;
            xy += x * std::clamp(left, -reach, reach);
            xx += x * x;
        }
        double const sd = std::max(0.02, watch::mad_to_sd * watch::median_absolute_deviation(away));
        reach = 2 * sd;
        double const weight = xx / (sd * sd);
        double const usual_sd = usual * usual_share_sd;
        double const prior = usual_sd > 0 ? 1 / (usual_sd * usual_sd) : 0;
        if (round == 0) continue; // the first round only finds the spread
        slope = weight + prior > 0
                    ? ((slope + (xx > 0 ? xy / xx : 0)) * weight + usual * prior) / (weight + prior)
                    : usual;
        slope = std::max(0.0, slope);
    }
    return slope;
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
    LatestPlaces latest(state.readings, *ground.rows);
    for (std::size_t i = 0; i < state.scheduled(); ++i) {
        if (ground.rows->begin(i) == ground.rows->end(i)) continue;
        verdict::LinkKind const& judged = ground.tasks.kinds[ground.tasks.links[i].kind];
        auto const& places =
            latest.of(judged, ground.verdicts.columns[i], i, LatestPlaces::any_reference, rows_end);
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
        LinksAlike const alike{link, ground.tasks.kinds[judged_index], inner,
                               static_cast<int>(judged_index) + 1, joint};
        ExpectedKind kind;
        for (std::size_t w = 0; w < alike.judged.wavelengths; ++w)
            kind.at.push_back(expected_at(state, alike, w, predictor));
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
            // Links of all layouts come first, then those of this one: if it has few links, the others
            // decide.
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
    // The reference may be newer than what was learned.
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
            // The readings of the others carry the errors of their own references.
            auto const found = references_of_.find(all_layouts);
            std::size_t references = found == references_of_.end() ? 0 : found->second.size();
            if (references > 0 && found->second.count(reference) > 0) --references;
            double const theirs = others.now.site_weight * reference_sd /
                                  std::sqrt(std::max<double>(1, static_cast<double>(references)));
            // If joints are better than their grade, they are so in all kinds. That moves kinds apart only as
            // far as they differ in their joints.
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

// The fibre's own loss from links of different lengths: the slope of the links' medians within their kinds,
// pooled over a category and wavelength, weighed against what such fibre usually loses.
void Expectation::learn_fibre(Gathered const& gathered)
{
    using CategoryAt = std::pair<std::string, int>; // wavelength in nm
    std::map<CategoryAt, std::vector<LinkMedian>> lines;
    std::vector<double> values;
    for (Gathered::Group const& group : gathered.groups) {
        values.assign(gathered.values.begin() + static_cast<std::ptrdiff_t>(group.first),
                      gathered.values.begin() + static_cast<std::ptrdiff_t>(group.end));
        ExpectedAt const& expected = *at(group.link, group.wavelength);
        lines[{expected.key.category, expected.wavelength_nm}].push_back(
            {km_[group.link], watch::median_in_place(values), kind_of_link_[group.link]});
    }
    std::map<CategoryAt, double> learned;
    for (auto const& [key, medians] : lines) {
        double usual = 0;
        for (ExpectedKind const& kind : kinds_) {
            for (ExpectedAt const& expected : kind.at) {
                if (expected.key.category == key.first && expected.wavelength_nm == key.second)
                    usual = expected.db_per_km;
            }
        }
        learned[key] = learned_slope(medians, usual);
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
    LatestPlaces latest(state.readings, *ground.rows);
    auto const& places = latest.of(judged, ground.verdicts.columns[link], link);
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
    // Its reference and the level of its kind may be off too.
    watch::ExpectationDesign design;
    ExpectedAt const& first = *at(link, 0);
    design.common_sd = std::hypot(design.common_sd, first.common_u, first.level_u);
    watch::LinkSurprise const surprise = watch::surprise_of(parts, design);
    LinkStandout standout;
    standout.chance = surprise.link;
    standout.surprise = std::min(300.0, surprise.surprise());
    standout.stands_out = surprise.stands_out(false_alarm_rate);
    standout.whole_link = surprise.whole_link < surprise.worst_fibre;
    standout.offset_db = surprise.offset_db;
    Place const& worst = places[order[surprise.worst]];
    standout.position = worst.position;
    standout.from_b = worst.end == 1;
    standout.wavelength_nm = judged.wavelength_nm[worst.wavelength];
    standout.value_db = state.readings.value[worst.row];
    standout.band = *band(link, worst.wavelength);
    return standout;
}

} // namespace guidepin::job

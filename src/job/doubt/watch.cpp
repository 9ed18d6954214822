// SPDX-License-Identifier: Apache-2.0
#include "job/doubt/watch.hpp"

#include "base/no_number.hpp"
#include "base/text.hpp"
#include "cause/priors.hpp"
#include "job/groundwork/groundwork.hpp"
#include "job/state/places.hpp"
#include "verdict/uncertainty.hpp"
#include "watch/levels.hpp"
#include "watch/robust.hpp"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <map>
#include <numeric>
#include <thread>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr std::size_t no_entry = static_cast<std::size_t>(-1);

/// Half-width that the budget grants the source since its reference: a change up to this is no news.
Result<double> granted(JobState const& state)
{
    std::vector<verdict::UncertaintyEdit> edits;
    for (auto const& edit : state.settings.uncertainty) edits.push_back({edit.id, edit.value});
    double most = 0;
    for (facts::FibreKind const kind : {facts::FibreKind::multimode, facts::FibreKind::single_mode}) {
        verdict::BudgetQuestion question;
        question.tables = &state.tables;
        question.kind = kind;
        question.wavelength = Nanometres{kind == facts::FibreKind::multimode ? 850 : 1310};
        question.method = state.settings.method;
        question.edits = edits;
        TRY_ASSIGN(auto const budget, verdict::budget_for(question));
        for (verdict::Contribution const& contribution : budget.contributions) {
            if (contribution.id == "source-stability") most = std::max(most, contribution.each);
        }
    }
    return most;
}

/// Sorts the readings into tests: one link under one reference.
class Gathering
{
  public:
    Gathering(JobState const& state, Groundwork const& ground, Expectation const& expectation,
              Watching& watching)
        : state_(state)
        , ground_(ground)
        , expectation_(expectation)
        , watching_(watching)
    {
        std::size_t const names = state.readings.references.size();
        place_of_name_.assign(names, no_entry);
        std::vector<std::uint32_t> name_of_entry(state.references.size(), verdict::Dictionary::missing);
        for (std::uint32_t name = 0; name < names; ++name) {
            auto const found = state.reference_index.find(state.readings.references.text(name));
            if (found != state.reference_index.end()) name_of_entry[found->second] = name;
        }
        for (std::size_t entry = 0; entry < name_of_entry.size(); ++entry) {
            if (name_of_entry[entry] == verdict::Dictionary::missing) continue;
            place_of_name_[name_of_entry[entry]] = watching.references.size();
            WatchedReference reference;
            reference.entry = entry;
            reference.name = name_of_entry[entry];
            watching.references.push_back(std::move(reference));
        }
        low_.resize(watching.references.size());
        negative_.resize(watching.references.size());
    }

    /// All references, or those whose names are marked.
    void gather(std::vector<bool> const* only)
    {
        std::vector<std::uint32_t> names;
        for (std::size_t link = 0; link < state_.scheduled(); ++link) {
            names.clear();
            bool wanted = false;
            for (std::uint32_t k = ground_.rows->begin(link); k < ground_.rows->end(link); ++k) {
                std::uint32_t const name = state_.readings.reference[ground_.rows->row(k)];
                if (name == verdict::Dictionary::missing || place_of_name_[name] == no_entry) continue;
                if (std::find(names.rbegin(), names.rend(), name) == names.rend()) names.push_back(name);
                wanted = wanted || !only || (*only)[name];
            }
            if (names.empty() || !wanted) continue;
            current_.clear();
            if (names.size() > 1) {
                for (Place const& place : places(link, LatestPlaces::any_reference))
                    current_.push_back(place.row);
                std::sort(current_.begin(), current_.end());
            }
            for (std::uint32_t const name : names)
                if (!only || (*only)[name]) add_test(link, name, names.size() > 1);
        }
        for (std::size_t i = 0; i < watching_.references.size(); ++i)
            if (!only || (*only)[watching_.references[i].name]) finish(i);
    }

  private:
    std::vector<Place> const& places(std::size_t link, std::uint32_t name)
    {
        return latest_.of(state_.readings, *ground_.rows, ground_.tasks.kinds[ground_.tasks.links[link].kind],
                          ground_.verdicts.columns[link], link, name);
    }

    void add_test(std::size_t link, std::uint32_t name, bool several)
    {
        verdict::LinkKind const& judged = ground_.tasks.kinds[ground_.tasks.links[link].kind];
        verdict::ReadingColumns const& readings = state_.readings;
        std::size_t const columns = ground_.verdicts.columns[link];
        std::size_t const at = place_of_name_[name];
        WatchedReference& reference = watching_.references[at];
        WatchedTest test;
        test.link = static_cast<std::uint32_t>(link);
        test.at_ms = std::numeric_limits<std::int64_t>::max();
        test.first_row = std::numeric_limits<std::uint32_t>::max();
        test.first_cell = static_cast<std::uint32_t>(reference.excess.size());
        test.wavelengths = static_cast<std::uint8_t>(judged.wavelengths);
        test.columns = static_cast<std::uint8_t>(columns);
        reference.excess.resize(reference.excess.size() + judged.wavelengths * columns,
                                std::numeric_limits<float>::quiet_NaN());
        float* const cells = reference.excess.data() + test.first_cell;
        for (Place const& place : places(link, name)) {
            std::uint32_t const row = place.row;
            test.at_ms = std::min(test.at_ms, readings.taken_ms[row]);
            test.first_row = std::min(test.first_row, row);
            // What an earlier look held for the watch's own sake is no reason.
            if (ground_.hold[row] != 0 &&
                ground_.hold[row] != static_cast<std::uint8_t>(verdict::HoldKind::reference_doubted))
                test.otherwise_held = true;
            double const value = readings.value[row];
            if (readings.far_position[row] == verdict::far_dark || !std::isfinite(value)) continue;
            test.directions |= static_cast<std::uint8_t>(1U << place.end);
            ExpectedAt const& expected = *expectation_.at(link, place.wavelength);
            double const fibre = expectation_.fibre_db(link, expected);
            float& cell = cells[place.wavelength * columns + static_cast<std::size_t>(place.position - 1)];
            auto const excess = static_cast<float>(value - fibre);
            cell = std::isnan(cell) ? excess : (cell + excess) / 2;
            if (!several || std::binary_search(current_.begin(), current_.end(), row))
                weigh_low(at, value, expected, fibre, row);
        }
        // A test without a single lit fibre says nothing of its reference.
        if (test.directions == 0) {
            reference.excess.resize(test.first_cell);
            return;
        }
        reference.positions = std::max(reference.positions, columns);
        for (std::size_t w = 0; w < judged.wavelengths; ++w) {
            auto const at_nm = std::lower_bound(reference.wavelengths.begin(), reference.wavelengths.end(),
                                                judged.wavelength_nm[w]);
            bool const known = at_nm != reference.wavelengths.end() && *at_nm == judged.wavelength_nm[w];
            bool const lit = std::any_of(cells + w * columns, cells + (w + 1) * columns,
                                         [](float cell) { return !std::isnan(cell); });
            if (lit && !known) reference.wavelengths.insert(at_nm, judged.wavelength_nm[w]);
        }
        reference.tests.push_back(test);
    }

    void weigh_low(std::size_t reference, double value, ExpectedAt const& expected, double fibre,
                   std::uint32_t row)
    {
        double const u = std::hypot(expected.reading_u, expected.common_u);
        if (value < fibre - 2 * u) low_[reference].push_back(row);
        loss::ShiftedGamma loss = expected.joints;
        loss.shift += fibre;
        // Joints that the reference holds may be worse than those of the link: then a little gain is real.
        double const least =
            state_.settings.method == setup::ReferenceMethod::one_cord ? fibre : loss.mean() - 3 * loss.sd();
        negative_[reference].add(value, loss, least, u, row);
    }

    void finish(std::size_t at)
    {
        WatchedReference& reference = watching_.references[at];
        std::sort(reference.tests.begin(), reference.tests.end(),
                  [](WatchedTest const& a, WatchedTest const& b) {
                      return a.at_ms != b.at_ms ? a.at_ms < b.at_ms : a.first_row < b.first_row;
                  });
        reference.negative = negative_[at].evidence();
        if (!reference.negative.suspect()) return;
        Doubt doubt;
        doubt.kind = DoubtKind::negative_loss;
        doubt.rows = std::move(low_[at]);
        doubt.size_db = reference.negative.worst_db;
        doubt.size_u_db = expectation_.at(state_.readings.link[doubt.rows.front()], 0)->common_u;
        doubt.material = true;
        int const position = state_.readings.position[doubt.rows.front()];
        bool const one_position = std::all_of(doubt.rows.begin(), doubt.rows.end(), [&](std::uint32_t row) {
            return state_.readings.position[row] == position;
        });
        doubt.position = one_position ? position : 0;
        reference.doubts.push_back(std::move(doubt));
    }

    JobState const& state_;
    Groundwork const& ground_;
    Expectation const& expectation_;
    Watching& watching_;
    std::vector<std::size_t> place_of_name_; // by name in the readings: index into Watching::references
    std::vector<std::vector<std::uint32_t>> low_;
    std::vector<watch::NegativeLossWatch> negative_;
    std::vector<std::uint32_t> current_;
    LatestPlaces latest_;
};

/// A test's residuals in the layout of its reference: wavelengths ascending, positions of the launch cord.
struct TestResiduals
{
    std::vector<double> residual;
    std::vector<double> natural_sd;
    double reading_u = 0.05;
    double skewness = 0;
    std::size_t kind = 0;
    double kind_sd = 0;
};

void residuals_of(WatchedReference const& reference, WatchedTest const& test, Expectation const& expectation,
                  TestResiduals& into)
{
    into.residual.assign(reference.positions * reference.wavelengths.size(), nan);
    into.natural_sd.assign(reference.wavelengths.size(), 0);
    into.kind = static_cast<std::size_t>(
        std::lower_bound(reference.kinds.begin(), reference.kinds.end(), expectation.kind(test.link)) -
        reference.kinds.begin());
    std::vector<ExpectedByOthers> const& by_others = reference.expected[into.kind];
    double natural = 0;
    double variance = 0;
    double skewness = 0;
    double level = 0;
    double seen = 0;
    for (std::size_t w = 0; w < test.wavelengths; ++w) {
        ExpectedAt const& expected = *expectation.at(test.link, w);
        auto const nm = static_cast<std::uint16_t>(expected.wavelength_nm);
        auto const at = std::lower_bound(reference.wavelengths.begin(), reference.wavelengths.end(), nm);
        if (at == reference.wavelengths.end() || *at != nm) continue;
        watch::Expected const& now = by_others[w].now;
        auto const row = static_cast<std::size_t>(at - reference.wavelengths.begin());
        for (std::size_t p = 0; p < test.columns; ++p) {
            float const cell = reference.excess[test.first_cell + w * test.columns + p];
            if (!std::isnan(cell)) into.residual[row * reference.positions + p] = cell - now.mean;
        }
        double const u = expected.reading_u;
        into.natural_sd[row] = std::sqrt(std::max(1e-6, now.sd * now.sd - u * u));
        natural += into.natural_sd[row];
        variance += u * u;
        skewness += now.skewness;
        level += by_others[w].kind_u;
        seen += 1;
    }
    // A wavelength that this link was not measured at has no spread of its own to weigh.
    for (double& sd : into.natural_sd) {
        if (sd == 0) sd = natural / seen;
    }
    into.kind_sd = level / seen;
    into.skewness = std::clamp(skewness / seen, 0.0, 1.5);
    into.reading_u = std::sqrt(variance / seen / (test.directions == 3 ? 2 : 1));
}

DoubtKind kind_of(watch::Shift shift)
{
    return shift == watch::Shift::common       ? DoubtKind::common
           : shift == watch::Shift::wavelength ? DoubtKind::wavelength
                                               : DoubtKind::position;
}

using Limits = std::map<std::size_t, watch::WatchLimits>; // by positions

/// Solves the limits once; they dominate short runs. Each thread remembers what it solved, for the next run.
Limits limits_of(Watching const& watching)
{
    thread_local watch::LimitSolver solver;
    Limits limits;
    for (WatchedReference const& reference : watching.references)
        if (limits.count(reference.positions) == 0)
            limits[reference.positions] = solver.limits(watching.design, reference.positions);
    return limits;
}

/// What other references' doubts leave out, and whether this one's own level is known to be wrong.
struct Look
{
    std::vector<Expectation::LeftOut> left_out;
    bool level_unknown = false;
};

void run_charts(Watching const& watching, WatchedReference& reference, Expectation const& expectation,
                Limits const& limits, Look const& look = {})
{
    if (reference.tests.empty()) return;
    reference.kinds.clear();
    for (WatchedTest const& test : reference.tests) reference.kinds.push_back(expectation.kind(test.link));
    std::sort(reference.kinds.begin(), reference.kinds.end());
    reference.kinds.erase(std::unique(reference.kinds.begin(), reference.kinds.end()), reference.kinds.end());
    reference.expected = expectation.by_others(reference.name, reference.kinds, look.left_out);
    reference.position_offset_db.clear();
    reference.position_u_db.clear();
    reference.taken_back = 0;
    std::erase_if(reference.doubts,
                  [](Doubt const& doubt) { return doubt.kind != DoubtKind::negative_loss; });
    watch::WatchDesign design = watching.design;
    double shared = 0;
    for (auto const& kind : reference.expected)
        for (ExpectedByOthers const& expected : kind) shared = std::max(shared, expected.shared_u);
    design.level_sd = look.level_unknown
                          ? std::numeric_limits<double>::infinity()
                          : std::hypot(expectation.at(reference.tests.front().link, 0)->common_u, shared);
    watch::ReferenceWatch charts(reference.positions, reference.wavelengths.size(), design,
                                 limits.at(reference.positions));
    TestResiduals residuals;
    for (WatchedTest const& test : reference.tests) {
        residuals_of(reference, test, expectation, residuals);
        watch::LinkResiduals link;
        link.residual = residuals.residual;
        link.natural_sd = residuals.natural_sd;
        link.reading_u = residuals.reading_u;
        link.skewness = residuals.skewness;
        link.kind = residuals.kind;
        link.kind_sd = residuals.kind_sd;
        charts.add(link);
    }
    reference.chart = charts.chart();
    reference.ewma_limit = charts.ewma_limit();
    reference.cusum_limit = charts.cusum_limit();
    for (std::size_t p = 0; p < reference.positions; ++p) {
        reference.position_offset_db.push_back(charts.position_offset(p));
        reference.position_u_db.push_back(charts.position_offset_u(p));
    }
    for (watch::WatchSignal& signal : charts.signals()) {
        if (signal.change.probability.empty()) continue;
        Doubt doubt;
        doubt.kind = kind_of(signal.shift);
        doubt.position = signal.position;
        doubt.size_db = signal.size_db;
        doubt.size_u_db = signal.size_u_db;
        doubt.at = signal.at;
        doubt.chart = signal.chart;
        doubt.doubt = std::move(signal.doubt);
        doubt.change = std::move(signal.change);
        // What all links by now do not bear out is no news: bad links near each other did it.
        if (!signal.borne_out) {
            ++reference.taken_back;
            continue;
        }
        bool const beyond = std::abs(doubt.size_db) > watching.grants_db;
        // Positions of a reference differ a little from the start, which the budget grants: no news.
        if (doubt.kind == DoubtKind::position && !beyond) continue;
        // One or two links before all others are a matter of those links: what they say of the level is too
        // little to doubt all that came after.
        if (beyond && (doubt.change.first_after == 1 || doubt.change.first_after == 2)) continue;
        doubt.material = beyond;
        reference.doubts.push_back(std::move(doubt));
    }
}

/// The doubt that all positions of a reference moved, which spoils what its links teach about others.
Doubt const* common_doubt(WatchedReference const& reference)
{
    for (Doubt const& doubt : reference.doubts)
        if (doubt.kind == DoubtKind::common && doubt.material) return &doubt;
    return nullptr;
}

/// A link's middle, fibre taken out; NaN where dark.
double middle_of(WatchedReference const& reference, WatchedTest const& test)
{
    std::vector<double> fibres;
    for (std::size_t p = 0; p < test.columns; ++p) {
        double sum = 0;
        double count = 0;
        for (std::size_t w = 0; w < test.wavelengths; ++w) {
            float const cell = reference.excess[test.first_cell + w * test.columns + p];
            if (std::isnan(cell)) continue;
            sum += cell;
            count += 1;
        }
        if (count > 0) fibres.push_back(sum / count);
    }
    return fibres.empty() ? nan : watch::median(fibres);
}

/// Levels of all references against each other and the grades of their links.
std::vector<watch::Level> levels_of(Watching const& watching, Expectation const& expectation,
                                    cause::Priors const& priors)
{
    constexpr std::size_t least_before = 3; // links before a change tell the level better than all
    std::map<std::uint32_t, std::size_t> kind_index;
    std::map<std::string, std::size_t> groups;
    std::vector<watch::LevelKind> kinds;
    std::vector<watch::LevelSeen> seen;
    struct OfKind
    {
        std::uint32_t link = 0; // any of the kind
        std::vector<double> middles;
    };
    std::map<std::uint32_t, OfKind> middles;
    for (std::size_t r = 0; r < watching.references.size(); ++r) {
        WatchedReference const& reference = watching.references[r];
        Doubt const* const doubt = common_doubt(reference);
        std::size_t const end = doubt && doubt->change.first_after >= least_before ? doubt->change.first_after
                                                                                   : reference.tests.size();
        middles.clear();
        for (std::size_t t = 0; t < end; ++t) {
            double const middle = middle_of(reference, reference.tests[t]);
            if (std::isnan(middle)) continue;
            OfKind& of = middles[expectation.kind(reference.tests[t].link)];
            of.link = reference.tests[t].link;
            of.middles.push_back(middle);
        }
        for (auto const& [kind, of] : middles) {
            std::vector<double> const& values = of.middles;
            auto const [place, is_new] = kind_index.try_emplace(kind, kinds.size());
            ExpectedAt const& expected = *expectation.at(of.link, 0);
            if (is_new) {
                std::size_t const group =
                    groups.try_emplace(expected.key.category, groups.size()).first->second;
                kinds.push_back({group, expectation.natural_db(kind), expected.common_u});
            }
            auto const n = static_cast<double>(values.size());
            double const spread = std::max(0.03, watch::mad_to_sd * watch::median_absolute_deviation(values));
            seen.push_back(
                {r, place->second, watch::median(values), std::hypot(0.012, 1.25 * spread / std::sqrt(n))});
        }
    }
    watch::LevelDesign design;
    design.rate = priors.rate[static_cast<std::size_t>(cause::Cause::reference_fault)];
    return watch::reference_levels(seen, kinds, watching.references.size(), design);
}

/// A level as a doubt of all links; nothing where there is nothing to tell.
std::optional<Doubt> level_doubt(watch::Level const& level, std::size_t tests, double grants_db,
                                 double report_from)
{
    // Four links or more: fewer are a matter of those links. What is improbable or small is not told.
    constexpr double least_probability = 0.1;
    if (tests < 4 || level.probability < least_probability || std::abs(level.size_db) < 2 * grants_db)
        return std::nullopt;
    Doubt doubt;
    doubt.kind = DoubtKind::common;
    doubt.size_db = level.size_db;
    doubt.size_u_db = level.u_db;
    doubt.at = tests - 1;
    doubt.level = level.probability;
    doubt.compared = level.compared;
    doubt.change.after = level.size_db;
    doubt.change.sd_of_step = level.u_db;
    doubt.change.probability.assign(tests, 0);
    doubt.change.probability.front() = 1;
    doubt.doubt.assign(tests, level.probability);
    doubt.material = level.probability >= report_from;
    return doubt;
}

/// What one reference does shows in what is expected of others, too. References whose level is wrong are
/// told first, then those that moved, the clearest first; the rest are watched again without their links.
void look_again(Watching& watching, Expectation const& expectation, Limits const& limits,
                cause::Priors const& priors)
{
    std::size_t const n = watching.references.size();
    std::vector<std::size_t> suspects;
    for (std::size_t r = 0; r < n; ++r)
        if (common_doubt(watching.references[r])) suspects.push_back(r);
    auto const remember = [](WatchedReference& reference) {
        if (reference.first_look) return;
        WatchedReference first = reference;
        first.tests.clear();
        first.excess.clear();
        reference.first_look = std::make_shared<WatchedReference const>(std::move(first));
    };
    auto const left_out = [&](std::size_t r, std::size_t from) {
        WatchedReference const& reference = watching.references[r];
        Expectation::LeftOut out{reference.name, {}};
        for (std::size_t t = from; t < reference.tests.size(); ++t)
            out.links.push_back(reference.tests[t].link);
        std::sort(out.links.begin(), out.links.end());
        return out;
    };
    auto const levels = levels_of(watching, expectation, priors);
    std::vector<std::optional<Doubt>> level_doubts(n);
    Look look;
    for (std::size_t r = 0; r < n; ++r) {
        level_doubts[r] = level_doubt(levels[r], watching.references[r].tests.size(), watching.grants_db,
                                      priors.report_from);
        if (level_doubts[r] && level_doubts[r]->material) look.left_out.push_back(left_out(r, 0));
    }
    auto const again = [&](std::size_t r) {
        remember(watching.references[r]);
        look.level_unknown = level_doubts[r] && level_doubts[r]->material;
        run_charts(watching, watching.references[r], expectation, limits, look);
    };
    std::vector<bool> done(n, false);
    for (std::size_t r = 0; r < n; ++r) {
        done[r] = level_doubts[r] && level_doubts[r]->material;
        if (done[r]) again(r);
    }
    // The clearest change is told as it is, the others once its links are left out.
    bool changed = !look.left_out.empty();
    while (true) {
        std::size_t clearest = n;
        double most = 0;
        for (std::size_t const r : suspects) {
            if (done[r]) continue;
            if (changed) again(r);
            Doubt const* const doubt = common_doubt(watching.references[r]);
            if (!doubt || doubt->change.first_after == 0) continue;
            double const clear = std::abs(doubt->size_db) / std::max(doubt->size_u_db, 1e-6);
            if (clear <= most) continue;
            most = clear;
            clearest = r;
        }
        if (clearest == n) break;
        done[clearest] = true;
        look.left_out.push_back(
            left_out(clearest, common_doubt(watching.references[clearest])->change.earliest));
        changed = true;
    }
    for (std::size_t r = 0; r < n; ++r) {
        WatchedReference& reference = watching.references[r];
        // How much too low the readings are that lie lower than they can: what they share, not the lowest
        // one.
        for (Doubt& doubt : reference.doubts) {
            if (doubt.kind != DoubtKind::negative_loss) continue;
            remember(reference);
            auto const at = static_cast<std::size_t>(std::max(0, doubt.position - 1));
            double const size = doubt.position > 0 ? reference.position_offset_db[at] : levels[r].size_db;
            if (!(size < 0)) continue;
            doubt.size_db = size;
            doubt.size_u_db = doubt.position > 0 ? reference.position_u_db[at] : levels[r].u_db;
        }
        // From the first link on: that is the level, which is told here with all that is known of it.
        auto const from_the_first = [](Doubt const& doubt) {
            return doubt.kind == DoubtKind::common && doubt.change.first_after == 0;
        };
        if (!level_doubts[r] &&
            std::none_of(reference.doubts.begin(), reference.doubts.end(), from_the_first))
            continue;
        remember(reference);
        std::erase_if(reference.doubts, from_the_first);
        if (level_doubts[r]) reference.doubts.push_back(std::move(*level_doubts[r]));
    }
}

/// Back to what the charts said at first.
void restore_first_look(WatchedReference& reference)
{
    if (!reference.first_look) return;
    auto const first = reference.first_look;
    auto tests = std::move(reference.tests);
    auto excess = std::move(reference.excess);
    reference = *first;
    reference.tests = std::move(tests);
    reference.excess = std::move(excess);
}

/// Median of `values`, and of those at one position less those at the others; NaN for too few.
struct Moves
{
    std::vector<double> everywhere, at_position, elsewhere;

    void add(int position, int wanted, double by)
    {
        everywhere.push_back(by);
        (position == wanted ? at_position : elsewhere).push_back(by);
    }
    double of(Doubt const& doubt)
    {
        if (doubt.kind == DoubtKind::position)
            return at_position.empty() || elsewhere.size() < 3
                       ? nan
                       : watch::median(at_position) - watch::median(elsewhere);
        return everywhere.size() < 3 ? nan : watch::median(everywhere);
    }
};

/// Cord checks and retests that show on which side of the change a test lies.
class Witnesses
{
  public:
    Witnesses(JobState const& state, Groundwork const& ground, Watching const& watching)
        : state_(state)
        , ground_(ground)
        , watching_(watching)
    {
        for (std::size_t i = 0; i < watching.references.size(); ++i) {
            for (std::size_t t = 0; t < watching.references[i].tests.size(); ++t) {
                WatchedTest const& test = watching.references[i].tests[t];
                tests_of_link_.push_back(
                    {test.link, static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(t)});
            }
        }
        std::sort(tests_of_link_.begin(), tests_of_link_.end());
    }

    void hear(WatchedReference const& reference, Doubt& doubt) const
    {
        if (doubt.kind == DoubtKind::common || doubt.kind == DoubtKind::position) {
            // A check against the first one says when something moved, not where it stood from the start.
            if (!doubt.level) hear_checks(reference, doubt);
            hear_retests(reference, doubt);
        }
        std::vector<watch::RetestOutcome> outcomes;
        for (WatchWitness const& witness : doubt.witnesses) outcomes.push_back({witness.test, witness.moved});
        doubt.plan = watch::plan_retests(doubt.change, reference.tests.size(), outcomes);
    }

  private:
    static void add(Doubt& doubt, std::string what, std::size_t test, double by, bool moved)
    {
        doubt.witnesses.push_back({std::move(what), test, moved, by});
    }

    static bool has_moved(Doubt const& doubt, double by)
    {
        return (doubt.size_db > 0 ? by : -by) >= std::abs(doubt.size_db) / 2;
    }

    /// A cord check measures the same cords again: against the first one that was accepted it shows whether
    /// the reference stood still until then.
    void hear_checks(WatchedReference const& reference, Doubt& doubt) const
    {
        std::vector<std::size_t> checks = ground_.references[reference.entry].checks;
        std::erase_if(checks, [&](std::size_t c) { return state_.checks[c].size() == 0; });
        std::sort(checks.begin(), checks.end(), [&](std::size_t a, std::size_t b) {
            return state_.checks[a].taken().ms < state_.checks[b].taken().ms;
        });
        std::size_t first = 0;
        while (first < checks.size() &&
               ground_.checks[checks[first]].assessment.state == verdict::Acceptance::refused)
            ++first;
        if (first == checks.size()) return;
        CordCheckEntry const& base = state_.checks[checks[first]];
        // What the first check says holds for links after it only.
        for (std::size_t c = first + 1; c < checks.size(); ++c) {
            CordCheckEntry const& check = state_.checks[checks[c]];
            Moves moves;
            for (std::size_t i = 0; i < check.size(); ++i) {
                for (std::size_t j = 0; j < base.size(); ++j) {
                    if (base.position[j] != check.position[i] ||
                        base.wavelength_nm[j] != check.wavelength_nm[i])
                        continue;
                    double const by = check.attenuation_db[i] - base.attenuation_db[j];
                    if (std::isfinite(by)) moves.add(check.position[i], doubt.position, by);
                }
            }
            double const by = moves.of(doubt);
            if (std::isnan(by)) continue;
            bool const moved = has_moved(doubt, by);
            auto const after = static_cast<std::size_t>(
                std::upper_bound(reference.tests.begin(), reference.tests.end(), check.taken().ms,
                                 [](std::int64_t ms, WatchedTest const& test) { return ms < test.at_ms; }) -
                reference.tests.begin());
            std::string const what = fmt::format("cord check {}", check.id);
            if (!moved && after > 0) add(doubt, what, after - 1, by, false);
            if (moved && after < reference.tests.size()) add(doubt, what, after, by, true);
        }
    }

    /// The same link under a later reference that nothing speaks against.
    void hear_retests(WatchedReference const& reference, Doubt& doubt) const
    {
        for (std::size_t t = doubt.change.earliest; t < reference.tests.size(); ++t) {
            WatchedTest const& old = reference.tests[t];
            auto at = std::lower_bound(tests_of_link_.begin(), tests_of_link_.end(), Of{old.link, 0, 0});
            for (; at != tests_of_link_.end() && at->link == old.link; ++at) {
                WatchedReference const& other = watching_.references[at->reference];
                WatchedTest const& again = other.tests[at->test];
                if (&other == &reference || again.otherwise_held || again.at_ms <= old.at_ms ||
                    is_doubtful(other, at->test))
                    continue;
                double const by = moved_by(reference, old, other, again, doubt);
                if (std::isnan(by)) continue;
                add(doubt,
                    fmt::format("{} again under {}", state_.readings.links.text(old.link),
                                state_.references[other.entry].id),
                    t, by, has_moved(doubt, by));
            }
        }
    }

    static bool is_doubtful(WatchedReference const& reference, std::size_t test)
    {
        return std::any_of(reference.doubts.begin(), reference.doubts.end(), [&](Doubt const& doubt) {
            return doubt.material && test >= doubt.change.earliest;
        });
    }

    static double moved_by(WatchedReference const& first, WatchedTest const& old,
                           WatchedReference const& second, WatchedTest const& again, Doubt const& doubt)
    {
        // From another end the same launch position is another fibre: then only what all share compares.
        if (old.directions != again.directions && doubt.kind == DoubtKind::position) return nan;
        Moves moves;
        for (std::size_t w = 0; w < old.wavelengths; ++w) {
            for (std::size_t p = 0; p < old.columns; ++p) {
                float const before = first.excess[old.first_cell + w * old.columns + p];
                float const after = second.excess[again.first_cell + w * again.columns + p];
                if (!std::isnan(before) && !std::isnan(after))
                    moves.add(static_cast<int>(p + 1), doubt.position, before - after);
            }
        }
        return moves.of(doubt);
    }

    struct Of
    {
        std::uint32_t link, reference, test;
        friend auto operator<=>(Of const&, Of const&) = default;
    };
    JobState const& state_;
    Groundwork const& ground_;
    Watching const& watching_;
    std::vector<Of> tests_of_link_;
};

/// The latest word on this reference, where it covers this doubt.
std::optional<std::size_t> covering(JobState const& state, std::string const& reference, Doubt const& doubt)
{
    std::optional<std::size_t> latest;
    for (std::size_t i = 0; i < state.trust_decisions.size(); ++i) {
        if (state.trust_decisions[i].reference == reference) latest = i;
    }
    if (!latest || !state.trust_decisions[*latest].stands) return std::nullopt;
    for (TrustDecision::Covered const& covered : state.trust_decisions[*latest].covers) {
        if (covered.kind == doubt.kind && covered.position == doubt.position &&
            (covered.size_db > 0) == (doubt.size_db > 0) &&
            std::abs(doubt.size_db) <= std::abs(covered.size_db) + 2 * doubt.size_u_db)
            return latest;
    }
    return std::nullopt;
}

void decide(JobState const& state, WatchedReference& reference)
{
    std::string const& name = state.references[reference.entry].id;
    for (Doubt& doubt : reference.doubts) {
        doubt.id = fmt::format("watch.{}.{}", name, name_of(doubt.kind));
        if (doubt.position > 0) doubt.id += fmt::format("-{}", doubt.position);
        doubt.held.clear();
        doubt.trusted.reset();
        if (!doubt.material) continue;
        doubt.trusted = covering(state, name, doubt);
        if (doubt.trusted) continue;
        if (doubt.kind == DoubtKind::negative_loss) {
            doubt.held.resize(reference.tests.size());
            std::iota(doubt.held.begin(), doubt.held.end(), std::size_t{0});
        } else {
            doubt.held = doubt.plan.undecided;
            if (!doubt.plan.contradiction)
                doubt.held.insert(doubt.held.end(), doubt.plan.condemned.begin(), doubt.plan.condemned.end());
            std::sort(doubt.held.begin(), doubt.held.end());
        }
    }
    std::stable_sort(reference.doubts.begin(), reference.doubts.end(), [](Doubt const& a, Doubt const& b) {
        auto const weight = [](Doubt const& doubt) {
            return doubt.held.size() * (doubt.position > 0 ? 1 : 1000) + (doubt.material ? 1 : 0);
        };
        if (weight(a) != weight(b)) return weight(a) > weight(b);
        return std::pair(a.kind, a.position) < std::pair(b.kind, b.position);
    });
}

} // namespace

namespace {

/// Calls work(i) for i below count, shared by threads where it is worth while.
template <class Work>
void shared(std::size_t count, int threads, Work const& work)
{
    std::atomic<std::size_t> next{0};
    auto const take = [&] {
        for (std::size_t i = next++; i < count; i = next++) work(i);
    };
    std::vector<std::thread> others;
    if (count > 8)
        for (int i = 1; i < std::clamp(threads, 1, 64); ++i) others.emplace_back(take);
    take();
    for (std::thread& other : others) other.join();
}

/// What retests, checks and people say of the doubts, once all of them are there.
void settle(JobState const& state, Groundwork const& ground, Watching& watching, int threads)
{
    std::vector<std::pair<WatchedReference*, Doubt*>> heard;
    for (WatchedReference& reference : watching.references) {
        for (Doubt& doubt : reference.doubts)
            if (doubt.kind != DoubtKind::negative_loss) heard.emplace_back(&reference, &doubt);
    }
    Witnesses const witnesses(state, ground, watching);
    shared(heard.size(), threads, [&](std::size_t i) {
        heard[i].second->witnesses.clear();
        witnesses.hear(*heard[i].first, *heard[i].second);
    });
    for (WatchedReference& reference : watching.references) decide(state, reference);
}

} // namespace

Result<Watching> watch_references(JobState const& state, Groundwork const& ground,
                                  Expectation const& expectation, int threads)
{
    Watching watching;
    TRY_ASSIGN(watching.grants_db, granted(state));
    Gathering(state, ground, expectation, watching).gather(nullptr);
    std::erase_if(watching.references, [](WatchedReference const& r) { return r.tests.empty(); });
    Limits const limits = limits_of(watching);
    shared(watching.references.size(), threads,
           [&](std::size_t i) { run_charts(watching, watching.references[i], expectation, limits); });
    TRY_ASSIGN(cause::Priors const priors, cause::priors_of(state.tables));
    look_again(watching, expectation, limits, priors);
    settle(state, ground, watching, threads);
    return watching;
}

Result<Watching> watch_again(JobState const& state, Groundwork const& ground, Expectation const& expectation,
                             Watching before, std::span<std::uint32_t const> links, int threads)
{
    std::vector<bool> touched(state.readings.references.size(), false);
    for (std::uint32_t const link : links) {
        if (link >= state.scheduled()) continue;
        for (std::uint32_t k = ground.rows->begin(link); k < ground.rows->end(link); ++k) {
            std::uint32_t const name = state.readings.reference[ground.rows->row(k)];
            if (name != verdict::Dictionary::missing) touched[name] = true;
        }
    }
    Watching watching;
    watching.grants_db = before.grants_db;
    Gathering(state, ground, expectation, watching).gather(&touched);
    for (WatchedReference& reference : watching.references) {
        if (touched[reference.name]) continue;
        for (WatchedReference& known : before.references)
            if (known.name == reference.name) reference = std::move(known);
        restore_first_look(reference);
    }
    std::erase_if(watching.references, [](WatchedReference const& r) { return r.tests.empty(); });
    Limits const limits = limits_of(watching);
    for (WatchedReference& reference : watching.references)
        if (touched[reference.name]) run_charts(watching, reference, expectation, limits);
    TRY_ASSIGN(cause::Priors const priors, cause::priors_of(state.tables));
    look_again(watching, expectation, limits, priors);
    settle(state, ground, watching, threads);
    return watching;
}

void hold_doubtful(JobState const& state, Watching const& watching, Groundwork& ground)
{
    for (WatchedReference const& reference : watching.references) {
        for (Doubt const& doubt : reference.doubts) {
            for (std::size_t const test : doubt.held) {
                std::uint32_t const link = reference.tests[test].link;
                for (std::uint32_t k = ground.rows->begin(link); k < ground.rows->end(link); ++k) {
                    std::uint32_t const row = ground.rows->row(k);
                    if (state.readings.reference[row] != reference.name || ground.hold[row] != 0 ||
                        (doubt.position > 0 && state.readings.position[row] != doubt.position))
                        continue;
                    ground.hold[row] = static_cast<std::uint8_t>(verdict::HoldKind::reference_doubted);
                }
            }
        }
    }
}

WatchedReference const* Watching::find(std::string_view reference, JobState const& state) const
{
    for (WatchedReference const& watched : references) {
        if (state.references[watched.entry].id == reference) return &watched;
    }
    return nullptr;
}

std::vector<double> Watching::track(WatchedReference const& reference, Doubt const& doubt,
                                    Expectation const& expectation) const
{
    std::vector<double> values;
    TestResiduals residuals;
    std::vector<double> steps;
    for (std::size_t t = 0; t < reference.tests.size(); ++t) {
        if (doubt.kind == DoubtKind::common || doubt.kind == DoubtKind::negative_loss) {
            values.push_back(reference.chart[t].offset_db);
            continue;
        }
        residuals_of(reference, reference.tests[t], expectation, residuals);
        std::size_t const wavelengths = reference.wavelengths.size();
        steps.clear();
        if (doubt.kind == DoubtKind::wavelength) {
            for (std::size_t p = 0; p < reference.positions; ++p)
                steps.push_back(residuals.residual[(wavelengths - 1) * reference.positions + p] -
                                residuals.residual[p]);
            values.push_back(watch::median(steps));
        } else {
            double sum = 0;
            double count = 0;
            for (std::size_t w = 0; w < wavelengths; ++w) {
                double const r =
                    residuals
                        .residual[w * reference.positions + static_cast<std::size_t>(doubt.position - 1)];
                if (std::isnan(r)) continue;
                sum += r;
                count += 1;
            }
            values.push_back(count > 0 ? sum / count - reference.chart[t].offset_db : nan);
        }
    }
    return values;
}

Watching::Holding Watching::holding(verdict::ReadingColumns const& readings, std::uint32_t row) const
{
    for (WatchedReference const& reference : references) {
        if (reference.name != readings.reference[row]) continue;
        for (Doubt const& doubt : reference.doubts) {
            if (doubt.position > 0 && readings.position[row] != doubt.position) continue;
            for (std::size_t const test : doubt.held) {
                if (reference.tests[test].link == readings.link[row]) return {&reference, &doubt};
            }
        }
    }
    return {};
}

std::string doubt_text(JobState const& state, WatchedReference const& reference, Doubt const& doubt)
{
    std::string const& name = state.references[reference.entry].id;
    auto const link = [&](std::size_t test) -> std::string const& {
        return state.readings.links.text(reference.tests[test].link);
    };
    if (doubt.kind == DoubtKind::negative_loss) {
        std::uint32_t const row = static_cast<std::uint32_t>(reference.negative.worst_row);
        return fmt::format("{} of {} readings under {} lie lower than the cabling can lose, the lowest {} dB "
                           "at {}, position {}: with a sound reference a chance of {:.1g}",
                           reference.negative.below, reference.negative.readings, name,
                           fixed_text(reference.negative.worst_db, 2),
                           state.readings.links.text(state.readings.link[row]), state.readings.position[row],
                           reference.negative.chance());
    }
    if (doubt.level) {
        std::string const by =
            fmt::format("{} dB {} (u {} dB)", fixed_text(std::abs(doubt.size_db), 2),
                        doubt.size_db > 0 ? "above" : "below", fixed_text(doubt.size_u_db, 2));
        std::string const against =
            doubt.compared ? "what other references and the grade of its connections lead to expect"
                           : "what the grade of its connections leads to expect";
        if (doubt.material)
            return fmt::format("{} stands {} {}, in all positions from its first link, {}, on", name, by,
                               against, link(0));
        return fmt::format("{} stands {} {}; with {} it cannot be told whether the reference or the cabling "
                           "is off",
                           name, by, against,
                           doubt.compared ? "so few links in common" : "one reference of this kind");
    }
    std::string const where =
        doubt.kind == DoubtKind::common ? fmt::format("All positions under {}", name)
        : doubt.kind == DoubtKind::position
            ? fmt::format("Position {} under {}, against the others,", doubt.position, name)
            : fmt::format("{} nm against {} nm under {}", reference.wavelengths.back(),
                          reference.wavelengths.front(), name);
    std::string text = fmt::format(
        "{} {} {} dB {} (u {} dB){}", where, doubt.kind == DoubtKind::common ? "read" : "reads",
        fixed_text(std::abs(doubt.size_db), 2), doubt.size_db > 0 ? "higher" : "lower",
        fixed_text(doubt.size_u_db, 2), doubt.change.ramp ? " at the last link, growing link by link" : "");
    if (doubt.change.first_after == 0 && doubt.change.latest == 0) {
        text += fmt::format(" from the first link, {}, on", link(0));
    } else {
        text += fmt::format(" from {} on", link(doubt.change.first_after));
        if (doubt.change.earliest != doubt.change.latest)
            text += fmt::format(" (95 %: {} to {})", link(doubt.change.earliest), link(doubt.change.latest));
    }
    return text;
}

std::string doubt_action(JobState const& state, WatchedReference const& reference, Doubt const& doubt)
{
    std::string const& name = state.references[reference.entry].id;
    auto const link = [&](std::size_t test) -> std::string const& {
        return state.readings.links.text(reference.tests[test].link);
    };
    if (doubt.trusted) {
        TrustDecision const& decision = state.trust_decisions[*doubt.trusted];
        return fmt::format("Relied on by {} since {}: {}", decision.person, instant_text(decision.at),
                           decision.reason);
    }
    if (!doubt.material && doubt.level)
        return fmt::format("Nothing is held. Take a second reference and measure one of the links under {} "
                           "again, or check the cords",
                           name);
    if (!doubt.material)
        return "Nothing is held: the uncertainty budget grants the source as much. Take a new reference "
               "soon.";
    std::string const decision = fmt::format(
        "Or the test lead relies on it all the same and says why: on the page of {0}, or guidepin "
        "trust JOB {0}",
        name);
    if (doubt.kind == DoubtKind::negative_loss)
        return fmt::format("Take a new reference, check the cords, and measure {} again. {}",
                           link(0) == link(reference.tests.size() - 1)
                               ? link(0)
                               : fmt::format("{} links", reference.tests.size()),
                           decision);
    watch::RetestPlan const& plan = doubt.plan;
    if (plan.contradiction) return plan.why;
    if (plan.next)
        return fmt::format(
            "Take a new reference, check the cords, and measure {} again first: whether it moved "
            "tells most; {} {} at most settle all. {}",
            link(*plan.next), plan.at_most, plan.at_most == 1 ? "retest" : "retests", decision);
    if (doubt.held.empty()) return "Nothing is held: the retests show that no link moved.";
    return fmt::format("Known by retests: links before {} stand; measure {} again under a fresh, checked "
                       "reference. {}",
                       link(doubt.held.front()),
                       doubt.held.size() == 1 ? link(doubt.held.front())
                                              : fmt::format("the {} from it on", doubt.held.size()),
                       decision);
}

} // namespace guidepin::job

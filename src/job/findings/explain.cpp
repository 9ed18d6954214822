// SPDX-License-Identifier: Apache-2.0
#include "job/findings/explain.hpp"

#include "base/no_number.hpp"
#include "base/parallel.hpp"
#include "cause/explainer.hpp"
#include "job/doubt/watch.hpp"
#include "job/findings/doubt_findings.hpp"
#include "loss/prediction.hpp"

#include <algorithm>
#include <bitset>
#include <cmath>
#include <map>
#include <tuple>
#include <utility>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// The columns while they are built.
struct Building
{
    JobState const& state;
    Groundwork const& ground;
    cause::Columns columns;
    std::map<std::string, std::uint32_t> panels;

    std::uint32_t panel(char end, std::string const& name)
    {
        auto const slash = name.rfind('/');
        if (slash == std::string::npos) return cause::none;
        return panels
            .try_emplace(fmt::format("{}:{}", end, name.substr(0, slash)),
                         static_cast<std::uint32_t>(panels.size()))
            .first->second;
    }
};

bool counts(verdict::Verdicts const& verdicts, std::uint32_t row)
{
    return (verdicts.reading_flags[row] & (verdict::superseded | verdict::not_planned)) == 0;
}

/// Returns, by judging kind, the wavelengths at which its links were measured, ascending.
std::vector<std::vector<std::uint16_t>> measured_wavelengths(JobState const& state, Groundwork const& ground)
{
    std::vector<std::bitset<verdict::max_wavelengths>> seen(ground.tasks.kinds.size());
    for (std::uint32_t row = 0; row < state.readings.size(); ++row) {
        if (!counts(ground.verdicts, row)) continue;
        std::uint32_t const kind = ground.tasks.links[state.readings.link[row]].kind;
        verdict::LinkKind const& judged = ground.tasks.kinds[kind];
        for (std::size_t w = 0; w < judged.wavelengths; ++w) {
            if (judged.wavelength_nm[w] == state.readings.wavelength_nm[row]) seen[kind].set(w);
        }
    }
    std::vector<std::vector<std::uint16_t>> wavelengths(seen.size());
    for (std::size_t k = 0; k < seen.size(); ++k) {
        for (std::size_t w = 0; w < verdict::max_wavelengths; ++w) {
            if (seen[k].test(w)) wavelengths[k].push_back(ground.tasks.kinds[k].wavelength_nm[w]);
        }
        std::sort(wavelengths[k].begin(), wavelengths[k].end());
    }
    return wavelengths;
}

Outcome add_kinds_and_links(Building& building)
{
    JobState const& state = building.state;
    Groundwork const& ground = building.ground;
    auto const wavelengths = measured_wavelengths(state, ground);
    std::map<std::tuple<std::uint32_t, int, int>, std::uint32_t> kinds;
    std::map<std::tuple<std::string, int, int>, std::uint32_t> groups;
    int const in_reference = joints_in_reference(state.settings.method);
    for (std::size_t i = 0; i < state.readings.links.size(); ++i) {
        cause::LinkRow row;
        row.id = state.readings.links.text(static_cast<std::uint32_t>(i));
        std::uint32_t const judged_index = ground.tasks.links[i].kind;
        if (i < state.scheduled() && !wavelengths[judged_index].empty()) {
            plant::LinkSpec const& spec = state.links[i];
            plant::LinkModel const& model = *ground.models[i];
            verdict::LinkKind const& judged = ground.tasks.kinds[judged_index];
            int const inner = ground.inner[i];
            TRY_ASSIGN(auto const* const category, state.tables.category(spec.category));
            auto const [place, is_new] = kinds.try_emplace({judged_index, inner, spec.splices},
                                                           static_cast<std::uint32_t>(kinds.size()));
            if (is_new) {
                cause::LinkKind kind;
                kind.family = model.near_family;
                kind.a_to_b = judged.a_to_b;
                kind.occupied = judged.occupied_a;
                kind.multimode = category->kind == facts::FibreKind::multimode;
                kind.angled = spec.face == plant::Face::angled;
                kind.wavelengths = wavelengths[judged_index].size();
                for (std::size_t w = 0; w < kind.wavelengths; ++w)
                    kind.wavelength_nm[w] = wavelengths[judged_index][w];
                TRY_ASSIGN(loss::Gamma const joint, usual_joint(state.tables, category->kind));
                int const joints = 2 + inner;
                kind.natural_mean = std::max(1, joints - in_reference) * joint.mean();
                kind.natural_sd = std::sqrt((joints + in_reference) * joint.variance());
                kind.natural_skewness = 2 / std::sqrt(joints * joint.shape);
                verdict::UncertaintyModel const& u = judged.uncertainty[0];
                kind.own_u = std::sqrt(std::max(1e-4, u.own_variance(kind.natural_mean)));
                kind.common_u = std::sqrt(std::max(4e-4, u.common_variance(kind.natural_mean)));
                kind.group = groups
                                 .try_emplace({spec.category, inner, spec.splices},
                                              static_cast<std::uint32_t>(groups.size()))
                                 .first->second;
                building.columns.kinds.push_back(kind);
            }
            row.kind = place->second;
            cause::LinkKind const& kind = building.columns.kinds[row.kind];
            row.panel_a = building.panel('A', spec.a.name);
            row.panel_b = building.panel('B', spec.b.name);
            row.drawn_m = spec.length.value() > 0 ? spec.length.value() : nan;
            row.tolerance_m = verdict::length_tolerance(ground.tasks.rules, spec.length.value());
            for (std::size_t w = 0; w < kind.wavelengths; ++w) {
                facts::Fact const* const limit =
                    state.rules.coefficient(spec.category, Nanometres{kind.wavelength_nm[w]});
                row.db_per_km[w] = limit ? typical_share_of_limit * limit->value : 0;
            }
            row.positions = static_cast<std::uint8_t>(model.near_family.positions());
            row.first_cell = static_cast<std::uint32_t>(building.columns.loss_db.size());
            row.first_place = static_cast<std::uint32_t>(building.columns.length_m.size());
            building.columns.loss_db.resize(building.columns.loss_db.size() +
                                                2 * kind.wavelengths * row.positions,
                                            std::numeric_limits<float>::quiet_NaN());
            building.columns.length_m.resize(building.columns.length_m.size() + row.positions,
                                             std::numeric_limits<float>::quiet_NaN());
        }
        building.columns.links.push_back(std::move(row));
    }
    return {};
}

/// Fills the row and the cells of one link, which are empty, with its readings that count.
void add_readings_of(JobState const& state, Groundwork const& ground, std::size_t i, cause::Columns& columns)
{
    verdict::ReadingColumns const& readings = state.readings;
    cause::LinkRow& link = columns.links[i];
    if (link.kind == cause::none) return;
    cause::LinkKind const& kind = columns.kinds[link.kind];
    plant::PositionMap const back = kind.a_to_b.inverse();
    plant::PositionMap from_a, from_b;
    std::int64_t newest = std::numeric_limits<std::int64_t>::min();
    bool stated[2] = {false, false};
    for (std::uint32_t k = ground.rows->begin(i); k < ground.rows->end(i); ++k) {
        std::uint32_t const row = ground.rows->row(k);
        if (!counts(ground.verdicts, row)) continue;
        std::size_t const direction = readings.launch_end[row] == verdict::LaunchEnd::b ? 1 : 0;
        int const position = readings.position[row];
        int const far = readings.far_position[row];
        // Without a map in the plan a fibre has one number at both ends.
        int const at_a = direction == 0 ? position : kind.a_to_b.empty() ? position : back.at(position);
        if (at_a < 1 || at_a > link.positions) continue;
        std::size_t w = 0;
        while (w < kind.wavelengths && kind.wavelength_nm[w] != readings.wavelength_nm[row]) ++w;
        if (w == kind.wavelengths) continue;
        link.measured[direction] = true;
        bool const is_dark = far == verdict::far_dark;
        columns.loss_db[columns.cell(link, direction, w, at_a)] =
            is_dark ? cause::dark : static_cast<float>(readings.value[row]);
        if (far != verdict::far_not_stated) {
            stated[direction] = true;
            if (far > 0) (direction == 0 ? from_a : from_b).connect(position, far);
        }
        if (std::isfinite(readings.length_m[row]))
            columns.length_m[link.first_place + static_cast<std::size_t>(at_a - 1)] =
                static_cast<float>(readings.length_m[row]);
        std::int64_t const at = readings.taken_ms[row];
        if (at != verdict::ReadingColumns::no_time &&
            (link.taken_ms == std::numeric_limits<std::int64_t>::min() || at < link.taken_ms))
            link.taken_ms = at;
        if (at >= newest) {
            newest = at;
            std::uint32_t const reference = readings.reference[row];
            link.reference = reference == verdict::Dictionary::missing ? cause::none : reference;
        }
    }
    link.map_known = stated[0] || stated[1];
    link.a_to_b = stated[0] ? from_a : from_b.inverse();
    thread_local std::vector<float> lengths;
    lengths.clear();
    for (std::size_t p = 0; p < link.positions; ++p) {
        float const metres = columns.length_m[link.first_place + p];
        if (std::isfinite(metres)) lengths.push_back(metres);
    }
    if (lengths.empty()) return;
    auto const middle = lengths.begin() + static_cast<std::ptrdiff_t>(lengths.size() / 2);
    std::nth_element(lengths.begin(), middle, lengths.end());
    link.measured_m = *middle;
}

void add_references(JobState const& state, cause::Columns& columns)
{
    for (std::size_t r = columns.references.size(); r < state.readings.references.size(); ++r)
        columns.references.push_back(state.readings.references.id(static_cast<std::uint32_t>(r)));
}

/// Returns what the watch found of references as a whole, so that the explanation reports the same numbers.
/// `watching`: nullptr if nothing was watched.
cause::Known known_of(JobState const& state, Watching const* watching, cause::Columns const& columns,
                      cause::Priors const& priors)
{
    cause::Known known;
    known.changes.resize(state.readings.references.size());
    known.levels.resize(state.readings.references.size());
    if (!watching) return known;
    for (WatchedReference const& reference : watching->references) {
        for (Doubt const& doubt : reference.doubts) {
            if (doubt.kind != DoubtKind::common || !doubt.material || is_cleared(doubt)) continue;
            if (doubt.level) {
                known.levels[reference.name] =
                    cause::KnownLevel{doubt.size, doubt.size_u, doubt_probability(doubt, reference, priors)};
                continue;
            }
            // A link that was measured again under another reference since is no longer one of these.
            std::size_t const n = reference.tests.size();
            auto const here = [&](std::size_t test) {
                return columns.links[reference.tests[test].link].reference == reference.name;
            };
            std::size_t first = doubt.change.first_after;
            while (first < n && !here(first)) ++first;
            if (first == n) continue;
            std::size_t earliest = std::min(doubt.change.earliest, first);
            while (!here(earliest)) ++earliest;
            std::size_t latest = std::max(doubt.change.latest, first);
            while (!here(latest)) --latest;
            known.changes[reference.name] = cause::KnownChange{reference.tests[first].link,
                                                               reference.tests[earliest].link,
                                                               reference.tests[latest].link,
                                                               doubt.size,
                                                               doubt.size_u,
                                                               doubt.change.ramp,
                                                               doubt_probability(doubt, reference, priors)};
        }
    }
    return known;
}

} // namespace

Result<cause::Columns> cause_columns(JobState const& state, Assessment const& assessment)
{
    Building building{state, assessment, {}, {}};
    TRY(add_kinds_and_links(building));
    add_references(state, building.columns);
    for (std::size_t i = 0; i < building.columns.links.size(); ++i)
        add_readings_of(state, assessment, i, building.columns);
    TRY_ASSIGN(cause::Priors const priors, cause::priors_of(state.tables));
    building.columns.known = known_of(state, assessment.watching.get(), building.columns, priors);
    return std::move(building.columns);
}

Result<Explaining> Explaining::of(JobState const& state, Assessment const& assessment, int threads,
                                  ProgressSink progress, void* progress_context)
{
    auto const report = [&](std::size_t done, std::size_t total) {
        if (progress) progress(progress_context, {"explaining", done, total});
    };
    std::size_t const links = state.readings.links.size();
    report(0, links);
    Explaining made;
    TRY_ASSIGN(cause::Priors priors, cause::priors_of(state.tables));
    made.priors_ = std::make_unique<cause::Priors>(std::move(priors));
    TRY_ASSIGN(cause::Columns columns, cause_columns(state, assessment));
    made.columns_ = std::make_unique<cause::Columns>(std::move(columns));
    made.explainer_ = std::make_unique<cause::Explainer>(*made.columns_, *made.priors_);
    cause::Explainer& explainer = *made.explainer_;
    int const workers = links < 256 ? 1 : threads;
    run_in_ranges(workers, links,
                  [&](std::size_t first, std::size_t last) { explainer.measure(first, last); });
    explainer.learn();
    report(links / 2, links);
    run_in_ranges(workers, links,
                  [&](std::size_t first, std::size_t last) { explainer.explain(first, last); });
    return made;
}

bool Explaining::renew(JobState const& state, Assessment const& assessment, std::uint32_t link)
{
    cause::Columns& columns = *columns_;
    if (link >= columns.links.size() || state.readings.links.size() != columns.links.size()) return false;
    cause::LinkRow& row = columns.links[link];
    if (row.kind == cause::none) return false;
    cause::LinkKind const& kind = columns.kinds[row.kind];
    verdict::LinkKind const& judged = assessment.tasks.kinds[assessment.tasks.links[link].kind];
    for (std::uint32_t k = assessment.rows->begin(link); k < assessment.rows->end(link); ++k) {
        std::uint32_t const at = assessment.rows->row(k);
        std::uint16_t const nm = state.readings.wavelength_nm[at];
        auto const has = [nm](auto const& list, std::size_t size) {
            return std::find(list.begin(), list.begin() + static_cast<std::ptrdiff_t>(size), nm) !=
                   list.begin() + static_cast<std::ptrdiff_t>(size);
        };
        if (counts(assessment.verdicts, at) && has(judged.wavelength_nm, judged.wavelengths) &&
            !has(kind.wavelength_nm, kind.wavelengths))
            return false;
    }
    constexpr float empty = std::numeric_limits<float>::quiet_NaN();
    std::fill_n(columns.loss_db.begin() + row.first_cell, 2 * kind.wavelengths * row.positions, empty);
    std::fill_n(columns.length_m.begin() + row.first_place, row.positions, empty);
    cause::LinkRow const fresh;
    row.reference = fresh.reference;
    row.taken_ms = fresh.taken_ms;
    row.measured_m = fresh.measured_m;
    row.measured = fresh.measured;
    add_references(state, columns);
    add_readings_of(state, assessment, link, columns);
    // The link may have changed what the watch finds of other references than its own.
    cause::Known const before =
        std::exchange(columns.known, known_of(state, assessment.watching.get(), columns, *priors_));
    std::vector<std::uint32_t> others;
    for (std::uint32_t r = 0; r < before.changes.size(); ++r)
        if (before.changes[r] != columns.known.changes[r] || before.levels[r] != columns.known.levels[r])
            others.push_back(r);
    explainer_->renew(link, others);
    return true;
}

std::vector<cause::Finding> Explaining::findings() const
{
    return explainer_->findings();
}

Result<std::vector<cause::Finding>> explain_job(JobState const& state, Assessment const& assessment,
                                                int threads, ProgressSink progress, void* progress_context)
{
    TRY_ASSIGN(Explaining const explaining,
               Explaining::of(state, assessment, threads, progress, progress_context));
    auto findings = explaining.findings();
    std::size_t const links = state.readings.links.size();
    if (progress) progress(progress_context, {"explaining", links, links});
    return findings;
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "job/groundwork/reference_cover.hpp"

#include "base/text.hpp"
#include "job/groundwork/groundwork.hpp"

#include <algorithm>
#include <map>
#include <tuple>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

bool is_array(plant::Family const& family)
{
    return family.key != plant::Family::Key::duplex;
}

/// A single-fibre port is reached through a fan-out: any plug with at least as many positions fits.
bool plug_fits(plant::Family const& plug, plant::Family const& cabling)
{
    return is_array(cabling) ? plug == cabling : plug.positions() >= cabling.positions();
}

bool face_fits(std::vector<plant::Face> const& faces, plant::Family const& cabling, plant::Face face)
{
    return !is_array(cabling) || faces.empty() || std::find(faces.begin(), faces.end(), face) != faces.end();
}

KitItem const* registered_cord(JobState const& state, std::string const& serial)
{
    KitItem const* found = nullptr;
    for (KitItem const& item : state.kit.items) {
        if (item.sort == KitSort::cord && item.serial == serial) found = &item;
    }
    return found;
}

plant::Occupancy all_of(plant::Family const& family)
{
    plant::Occupancy all;
    for (int p = 0; p < std::min(family.positions(), plant::max_positions); ++p)
        all.set(static_cast<std::size_t>(p));
    return all;
}

/// A launch from one end of a link: whether the reference fits it, and which positions it uses.
struct Launch
{
    bool fits = false;
    plant::Occupancy used;
};

Launch launch_at(ReferenceCover const& cover, plant::Family const& family, plant::Face face,
                 plant::Occupancy const& used)
{
    bool const fits = (!cover.family || plug_fits(*cover.family, family)) &&
                      face_fits(cover.faces, family, face) && used.any();
    return {fits, used};
}

std::string wavelengths_text(Places const& places)
{
    std::vector<std::string> texts;
    for (auto const nm : places.wavelengths()) texts.push_back(fmt::format("{}", nm));
    return joined(texts, ", ");
}

} // namespace

void Places::add(std::uint16_t wavelength_nm, int position)
{
    if (position < 1 || position > plant::max_positions) return;
    auto at = std::lower_bound(rows_.begin(), rows_.end(), wavelength_nm,
                               [](auto const& row, std::uint16_t nm) { return row.first < nm; });
    if (at == rows_.end() || at->first != wavelength_nm) at = rows_.insert(at, {wavelength_nm, {}});
    at->second.set(static_cast<std::size_t>(position - 1));
}

bool Places::has(std::uint16_t wavelength_nm) const
{
    return std::any_of(rows_.begin(), rows_.end(),
                       [&](auto const& row) { return row.first == wavelength_nm; });
}

bool Places::has(std::uint16_t wavelength_nm, int position) const
{
    if (position < 1 || position > plant::max_positions) return false;
    return std::any_of(rows_.begin(), rows_.end(), [&](auto const& row) {
        return row.first == wavelength_nm && row.second[static_cast<std::size_t>(position - 1)];
    });
}

plant::Occupancy Places::all() const
{
    plant::Occupancy all;
    for (auto const& row : rows_) all |= row.second;
    return all;
}

std::vector<std::uint16_t> Places::wavelengths() const
{
    std::vector<std::uint16_t> wavelengths;
    for (auto const& row : rows_) wavelengths.push_back(row.first);
    return wavelengths;
}

ReferenceCover reference_cover(JobState const& state, ReferenceEntry const& reference)
{
    ReferenceCover cover;
    cover.launch = reference.kit.launch;
    if (Cord const* const launch = state.cord(cover.launch)) {
        if (auto const family = plant::parse_family(launch->family)) cover.family = *family;
        if (launch->ends_stated) cover.faces = {launch->face};
    }
    if (KitItem const* const item = registered_cord(state, cover.launch)) {
        // It may be used either way round.
        cover.faces = {item->cord.ends[0].plug.face, item->cord.ends[1].plug.face};
        // A kit file that does not state the fibre reads as multimode without core and category.
        setup::Glass const& glass = item->cord.glass;
        if (!item->cord.category.empty() || glass.core_um > 0 || glass.kind == facts::FibreKind::single_mode)
            cover.glass = glass.kind;
    }
    for (std::size_t i = 0; i < reference.size(); ++i)
        cover.powers.add(reference.wavelength_nm[i], reference.position[i]);
    return cover;
}

std::vector<LinkNeed> link_needs(JobState const& state, Groundwork const& ground)
{
    using Key = std::tuple<plant::LinkModel const*, std::string, unsigned long long>;
    std::map<Key, std::size_t> known;
    std::vector<LinkNeed> needs;
    for (std::size_t i = 0; i < state.scheduled(); ++i) {
        plant::LinkModel const& model = *ground.models[i];
        plant::Occupancy const counted = ground.tasks.links[i].counted;
        auto const [place, is_new] =
            known.try_emplace(Key{&model, state.links[i].category, counted.to_ullong()}, needs.size());
        if (is_new) {
            LinkNeed need;
            need.near = model.near_family;
            need.far = model.far_family;
            need.near_used = model.near_occupied;
            need.far_used = model.far_occupied;
            if (counted.any()) {
                need.near_used = counted;
                if (model.positions) {
                    need.far_used.reset();
                    for (int const p : plant::positions_of(counted)) {
                        if (int const q = model.positions->at(p); q > 0)
                            need.far_used.set(static_cast<std::size_t>(q - 1));
                    }
                }
            }
            need.near_face = model.near_end.face;
            need.far_face = model.far_end.face;
            if (auto const category = state.tables.category(state.links[i].category))
                need.kind = (*category)->kind;
            needs.push_back(std::move(need));
        }
        LinkNeed& need = needs[place->second];
        if (need.links.size() < 3) need.links.push_back(state.links[i].id);
        ++need.count;
    }
    return needs;
}

Coverage coverage_of(ReferenceCover const& cover, std::vector<LinkNeed> const& needs, facts::FibreKind kind,
                     plant::Occupancy const& held, bool both)
{
    Coverage coverage;
    coverage.possible = cover.family ? all_of(*cover.family) : held;
    bool any = false, whole = false;
    plant::Occupancy covered, closest;
    std::size_t least = plant::max_positions + 1, short_of = 0;
    std::vector<std::string> names;
    for (LinkNeed const& need : needs) {
        if (need.kind != kind || (cover.glass && *cover.glass != need.kind)) continue;
        Launch const near = launch_at(cover, need.near, need.near_face, need.near_used);
        Launch const far = launch_at(cover, need.far, need.far_face, need.far_used);
        if (!near.fits && !far.fits) continue;
        any = true;
        // Both ends if both are launched from under this reference, otherwise the end that lacks less.
        plant::Occupancy used = near.fits ? near.used : far.used;
        if (near.fits && far.fits) {
            if (both)
                used |= far.used;
            else if ((far.used & ~held).count() < (near.used & ~held).count())
                used = far.used;
        }
        plant::Occupancy const missing = used & ~held;
        if (missing.none()) {
            whole = true;
            covered |= used;
            continue;
        }
        coverage.lacking |= missing;
        short_of += need.count;
        for (std::string const& link : need.links) {
            if (names.size() < 3) names.push_back(link);
        }
        if (missing.count() < least) {
            least = missing.count();
            closest = used;
        }
    }
    if (!any) {
        // No link is known yet, so missing positions get a remark and refuse nothing.
        coverage.needed = held & coverage.possible;
        coverage.lacking = coverage.possible & ~held;
        coverage.lacking_for = cover.launch.empty() ? "the launch cord" : "launch cord " + cover.launch;
        if (coverage.needed.none()) coverage.needed = coverage.possible;
        return coverage;
    }
    coverage.needed = whole ? covered : closest;
    coverage.possible |= coverage.needed;
    if (short_of > 0)
        coverage.lacking_for =
            fmt::format("{} of the schedule ({}{})",
                        short_of == 1 ? std::string{"1 link"} : fmt::format("{} links", short_of),
                        joined(names, ", "), short_of > names.size() ? " …" : "");
    return coverage;
}

std::string mismatch_of(JobState const& state, Groundwork const& ground, ReferenceCover const& cover,
                        std::uint32_t link, verdict::LaunchEnd end)
{
    if (link >= state.scheduled()) return {};
    plant::LinkModel const& model = *ground.models[link];
    bool const from_b = end == verdict::LaunchEnd::b;
    plant::Family const& family = from_b ? model.far_family : model.near_family;
    plant::Face const face = from_b ? model.far_end.face : model.near_end.face;
    std::string const at = fmt::format("end {} of the link is", from_b ? "B" : "A");
    if (cover.family && !plug_fits(*cover.family, family))
        return fmt::format("its launch cord {} has {} plugs, {} {}", cover.launch,
                           plant::words_of(*cover.family), at, plant::words_of(family));
    if (!face_fits(cover.faces, family, face))
        return fmt::format("its launch cord {} is {}, {} {}", cover.launch,
                           plant::name_of(cover.faces.front()), at, plant::name_of(face));
    if (!cover.glass) return {};
    auto const category = state.tables.category(state.links[link].category);
    if (category && (*category)->kind != *cover.glass)
        return fmt::format("its launch cord {} is {}, the link {} ({})", cover.launch,
                           facts::name_of(*cover.glass), facts::name_of((*category)->kind),
                           state.links[link].category);
    return {};
}

CoverLook::CoverLook(JobState const& state, Groundwork const& ground)
    : state_(state)
    , ground_(ground)
{
    for (std::uint32_t i = 0; i < state.readings.references.size(); ++i) {
        auto const found = state.reference_index.find(state.readings.references.id(i));
        covers_.push_back(found == state.reference_index.end() ? -1
                                                               : static_cast<std::int64_t>(found->second));
    }
}

ReferenceCover const* CoverLook::cover_of(std::size_t row) const
{
    std::uint32_t const reference = state_.readings.reference[row];
    if (reference >= covers_.size() || covers_[reference] < 0) return nullptr;
    return &ground_.covers[static_cast<std::size_t>(covers_[reference])];
}

verdict::HoldKind CoverLook::hold_kind(verdict::HoldKind kind, std::size_t row)
{
    using verdict::HoldKind;
    ReferenceCover const* const cover = cover_of(row);
    if (!cover || kind == HoldKind::reference_unknown) return kind;
    verdict::ReadingColumns const& readings = state_.readings;
    if (readings.reference[row] != reference_ || readings.link[row] != link_ ||
        readings.launch_end[row] != end_) {
        reference_ = readings.reference[row];
        link_ = readings.link[row];
        end_ = readings.launch_end[row];
        mismatch_ = !mismatch_of(state_, ground_, *cover, link_, end_).empty();
    }
    std::uint16_t const nm = readings.wavelength_nm[row];
    // That the reference cannot be the one used weighs more than what happened to it later.
    if (mismatch_ || !cover->powers.has(nm)) return HoldKind::reference_mismatch;
    if (kind != HoldKind::none) return kind;
    if (!cover->powers.has(nm, readings.position[row])) return HoldKind::position_not_referenced;
    if (!cover->checked.has(nm, readings.position[row])) return HoldKind::position_not_checked;
    return kind;
}

verdict::Hold CoverLook::words(verdict::HoldKind kind, std::size_t row) const
{
    ReferenceCover const* const cover = cover_of(row);
    if (!cover) return {};
    verdict::ReadingColumns const& readings = state_.readings;
    std::string const& id = readings.references.text(readings.reference[row]);
    int const nm = readings.wavelength_nm[row], position = readings.position[row];
    std::string text;
    if (kind == verdict::HoldKind::reference_mismatch) {
        std::string why = mismatch_of(state_, ground_, *cover, readings.link[row], readings.launch_end[row]);
        if (why.empty())
            why = fmt::format("it holds {} nm, the reading is at {} nm", wavelengths_text(cover->powers), nm);
        text = fmt::format("Reference {} is not one for this link: {}. Correct the name of the reference or "
                           "the kit, or measure again under a reference that fits.",
                           id, why);
    } else if (kind == verdict::HoldKind::position_not_referenced) {
        text =
            fmt::format("Reference {} holds no power for position {} at {} nm, so no attenuation follows "
                        "from it there. Take a reference over all positions of the link and measure again.",
                        id, position, nm);
    } else {
        text = fmt::format("No accepted cord check of reference {} covers position {} at {} nm. Check the "
                           "cords over all positions: an accepted check releases the reading.",
                           id, position, nm);
    }
    return {kind, std::string{"hold."} + verdict::name_of(kind), std::move(text)};
}

} // namespace guidepin::job

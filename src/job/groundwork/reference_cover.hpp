// SPDX-License-Identifier: Apache-2.0
// What a reference and its accepted cord checks hold, against what the links under it need: positions,
// wavelengths, plug, fibre and face. Rules: docs/methods/reference.md. Verified by:
// tests/unit/job/reference_cover.cpp (each hold and each remark, by hand), tests/cli/audit.py.
#pragma once

#include "job/state/state.hpp"
#include "plant/link_model.hpp"
#include "verdict/timeline.hpp"

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace guidepin::job {

struct Groundwork;

/// Positions by wavelength, ascending.
class Places
{
  public:
    void add(std::uint16_t wavelength_nm, int position);
    bool has(std::uint16_t wavelength_nm) const;
    bool has(std::uint16_t wavelength_nm, int position) const;
    plant::Occupancy all() const; ///< at any wavelength
    std::vector<std::uint16_t> wavelengths() const;

  private:
    std::vector<std::pair<std::uint16_t, plant::Occupancy>> rows_;
};

/// What decides whether a link fits a reference. An empty member is not known and fits everything.
struct ReferenceCover
{
    std::string launch;                    ///< serial of the launch cord
    std::optional<plant::Family> family;   ///< of its plug
    std::optional<facts::FibreKind> glass; ///< of its fibre, if the register states it
    std::vector<plant::Face> faces;        ///< of its plugs, if somebody stated them
    Places powers;
    Places checked; ///< by accepted cord checks not older than it
};
/// Returns the cover without `checked`, which is known only after the checks are judged.
ReferenceCover reference_cover(JobState const& state, ReferenceEntry const& reference);

/// Returns why this link cannot be measured under the reference from that end: plug, face or fibre. Empty if
/// nothing known prevents it.
std::string mismatch_of(JobState const& state, Groundwork const& ground, ReferenceCover const& cover,
                        std::uint32_t link, verdict::LaunchEnd end);

/// What links of one kind need from a reference, at each end.
struct LinkNeed
{
    plant::Family near, far;
    plant::Occupancy near_used, far_used; ///< positions that count
    facts::FibreKind kind = facts::FibreKind::multimode;
    plant::Face near_face = plant::Face::flat, far_face = plant::Face::flat;
    std::vector<std::string> links; ///< the first of them
    std::size_t count = 0;
};
/// Returns the needs of all scheduled links, one for each kind. Uses models and tasks of the ground.
std::vector<LinkNeed> link_needs(JobState const& state, Groundwork const& ground);

/// How far a set of positions suffices for the links that fit a reference.
struct Coverage
{
    plant::Occupancy possible; ///< the launch cord's positions; if no cord is known, those that it holds
    plant::Occupancy needed;   ///< without them no link can be measured completely
    plant::Occupancy lacking;  ///< that further links need; if no link is known, that the cord has
    std::string lacking_for;   ///< "28 links of the schedule (N-01, N-02, N-03 …)"
};
/// `held`: positions of a reference, or of a cord check of it. `both`: the job asks for both directions.
Coverage coverage_of(ReferenceCover const& cover, std::vector<LinkNeed> const& needs, facts::FibreKind kind,
                     plant::Occupancy const& held, bool both);

/// Judges readings one after another; fast if readings of a link follow each other. `ground` has to outlive
/// it.
class CoverLook
{
  public:
    CoverLook(JobState const& state, Groundwork const& ground);

    /// Returns `kind`, which the timeline gave, or a kind that weighs more.
    verdict::HoldKind hold_kind(verdict::HoldKind kind, std::size_t row);
    /// Returns the hold with its text for one of the kinds that hold_kind() adds.
    verdict::Hold words(verdict::HoldKind kind, std::size_t row) const;

  private:
    ReferenceCover const* cover_of(std::size_t row) const;

    JobState const& state_;
    Groundwork const& ground_;
    std::vector<std::int64_t> covers_; ///< by name of the readings' dictionary; -1: no such reference
    std::uint32_t reference_ = verdict::Dictionary::missing, link_ = verdict::Dictionary::missing;
    verdict::LaunchEnd end_ = verdict::LaunchEnd::a;
    bool mismatch_ = false; ///< of the three above
};

} // namespace guidepin::job

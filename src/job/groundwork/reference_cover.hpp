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

/// A reference as far as a link can tell whether it fits. Empty: not known, and fits everything.
struct ReferenceCover
{
    std::string launch;                    ///< serial of the launch cord
    std::optional<plant::Family> family;   ///< of its plug
    std::optional<facts::FibreKind> glass; ///< of its fibre, where the register states it
    std::vector<plant::Face> faces;        ///< of its plugs, where somebody stated them
    Places powers;
    Places checked; ///< by accepted cord checks not older than it
};
/// Without what is checked: that is only known once the checks were judged.
ReferenceCover reference_cover(JobState const& state, ReferenceEntry const& reference);

/// Why this link is not measured under it from that end, in words: plug, face, fibre; empty where nothing
/// known speaks against it.
std::string mismatch_of(JobState const& state, Groundwork const& ground, ReferenceCover const& cover,
                        std::uint32_t link, verdict::LaunchEnd end);

/// What links of one kind need of a reference, from each end.
struct LinkNeed
{
    plant::Family near, far;
    plant::Occupancy near_used, far_used; ///< positions that count
    facts::FibreKind kind = facts::FibreKind::multimode;
    plant::Face near_face = plant::Face::flat, far_face = plant::Face::flat;
    std::vector<std::string> links; ///< the first of them
    std::size_t count = 0;
};
/// Of all scheduled links, alike ones together. Needs models and tasks of the ground.
std::vector<LinkNeed> link_needs(JobState const& state, Groundwork const& ground);

/// How far positions that are held do for the links that may be measured so.
struct Coverage
{
    plant::Occupancy possible; ///< the launch cord's positions; those held where no cord is known
    plant::Occupancy needed;   ///< that have to be there, or no link can be measured whole
    plant::Occupancy lacking;  ///< that further links need, or the cord has where no link is known
    std::string lacking_for;   ///< "28 links of the schedule (N-01, N-02, N-03 …)"
};
/// `held`: positions of a reference, or of a cord check of it. `both`: the job asks for both directions.
Coverage coverage_of(ReferenceCover const& cover, std::vector<LinkNeed> const& needs, facts::FibreKind kind,
                     plant::Occupancy const& held, bool both);

/// Looks at readings one after another; quick where links follow in runs. `ground` has to outlive it.
class CoverLook
{
  public:
    CoverLook(JobState const& state, Groundwork const& ground);

    /// `kind` as the timeline has it, or what weighs more.
    verdict::HoldKind hold_kind(verdict::HoldKind kind, std::size_t row);
    /// The words for one of the kinds that hold_kind() adds.
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

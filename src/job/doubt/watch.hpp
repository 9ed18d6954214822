// SPDX-License-Identifier: Apache-2.0
// Can the references of a job still be trusted? Each is watched through the links that were measured under
// it; where it moved, what was measured after is held until retests or a person decide. Method and rules:
// docs/methods/watch.md; choice of what is held: docs/decisions/0040. Verified by: tests/unit/job/watch.cpp
// (simulated sites with known drift, delay, retests, cord checks, decisions),
// tests/cli/transcripts/watch.txt.
#pragma once

#include "job/doubt/expectation.hpp"
#include "watch/negative_loss.hpp"
#include "watch/reference_watch.hpp"
#include "watch/retests.hpp"

#include <cstdint>
#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace guidepin::job {

/// One link as it was measured under one reference: the latest reading of each place.
struct WatchedTest
{
    std::uint32_t link = 0; ///< of the readings
    std::int64_t at_ms = 0; ///< of its first reading
    std::uint32_t first_row = 0;
    std::uint32_t first_cell = 0;
    std::uint8_t wavelengths = 0; ///< of the cells: rows
    std::uint8_t columns = 0;     ///< of the cells: positions
    std::uint8_t directions = 0;  ///< bits: 1 from A, 2 from B
    bool otherwise_held = false;  ///< by its cord checks, events, age
};

/// What a cord check or a retest says of the time of a change.
struct WatchWitness
{
    std::string what;     ///< "cord check C-8", "S-04 again under R-6"
    std::size_t test = 0; ///< index into WatchedReference::tests
    bool moved = false;
    double by_db = 0; ///< how far it moved
};

/// A reason to doubt a reference.
struct Doubt
{
    std::string id; ///< "watch.R-3.common", "watch.R-3.position-7": stable
    DoubtKind kind = DoubtKind::common;
    int position = 0;                  ///< of the launch cord's plug at the cabling; 0: all
    double size_db = 0, size_u_db = 0; ///< after less before; negative loss: what its readings share
    std::size_t at = 0;                ///< the test at which the chart signalled
    std::string chart;                 ///< "ewma", "cusum"; empty for negative loss and a level
    /// Of a reference that stands at another level than the others and the grade from its first link on: how
    /// probable it is that it does, rather than its cabling. Kind common, first_after 0.
    std::optional<double> level;
    bool compared = false;     ///< other references measured links of the same kinds
    watch::ChangePoint change; ///< by test; empty probabilities for negative loss
    std::vector<double> doubt; ///< by test: chance that it was measured after the change
    /// False where the change is smaller than what the uncertainty budget grants the source anyway: told, not
    /// held.
    bool material = false;
    std::vector<WatchWitness> witnesses;
    watch::RetestPlan plan;             ///< for kinds with a time of change
    std::optional<std::size_t> trusted; ///< index into JobState::trust_decisions of the one that covers it
    std::vector<std::size_t> held;      ///< tests that are held for this reason, ascending
    std::vector<std::uint32_t> rows;    ///< negative loss: the readings that are too low
};

/// One reference and the links measured under it, in order of time.
struct WatchedReference
{
    static constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    std::size_t entry = 0;                  ///< index into JobState::references
    std::uint32_t name = 0;                 ///< of the readings' dictionary
    std::size_t positions = 0;              ///< of the launch cord's plug
    std::vector<std::uint16_t> wavelengths; ///< nm, ascending
    std::vector<WatchedTest> tests;
    std::vector<float>
        excess; ///< cells of the tests: mean excess by wavelength and launch position; NaN: none
    std::vector<std::uint32_t> kinds; ///< of the expectation, ascending: those of the tests
    std::vector<std::vector<ExpectedByOthers>>
        expected;                         ///< by kind, as in `kinds`, and wavelength of the kind
    std::vector<watch::ChartPoint> chart; ///< one point a test
    double ewma_limit = 0, cusum_limit = 0;
    std::vector<double> position_offset_db, position_u_db; ///< by position, from 0; NaN where never lit
    watch::NegativeLossEvidence negative;
    std::vector<Doubt> doubts; ///< most readings first
    /// Signals of the charts that the links since then do not bear out.
    std::size_t taken_back = 0;
    /// What the charts said before the doubts of other references were known; null where that is what stands.
    /// Its tests and excess are moved away.
    std::shared_ptr<WatchedReference const> first_look;
};

struct Watching
{
    watch::WatchDesign design;
    double grants_db = 0;                     ///< changes up to this are in the uncertainty budget already
    std::vector<WatchedReference> references; ///< in the order of JobState::references, those with links only

    WatchedReference const* find(std::string_view reference, JobState const& state) const;
    /// Residuals of one doubt's track by test: what moved, in dB; NaN where not measured.
    std::vector<double> track(WatchedReference const& reference, Doubt const& doubt,
                              Expectation const& expectation) const;
    /// What holds a reading for the watch's sake.
    struct Holding
    {
        WatchedReference const* reference = nullptr; ///< null: nothing does
        Doubt const* doubt = nullptr;
    };
    Holding holding(verdict::ReadingColumns const& readings, std::uint32_t row) const;
};

/// Watches all references. Uses the ground's rows, holds so far and expectation. `threads` share the
/// references; the result does not depend on their number.
Result<Watching> watch_references(JobState const& state, Groundwork const& ground,
                                  Expectation const& expectation, int threads);

/// The same after readings of these links came in: only the references under which they were measured are
/// looked at anew, and what witnesses say of the doubts of all. `before` was watched with the same
/// expectation; what is healthy here stays as learned.
Result<Watching> watch_again(JobState const& state, Groundwork const& ground, Expectation const& expectation,
                             Watching before, std::span<std::uint32_t const> links, int threads);

/// Marks what the doubts hold in ground.hold, where nothing else holds it.
void hold_doubtful(JobState const& state, Watching const& watching, Groundwork& ground);

/// "R-3 moved by +0.21 ± 0.03 dB in all positions from S-03 on (between S-01 and S-05)".
std::string doubt_text(JobState const& state, WatchedReference const& reference, Doubt const& doubt);
/// What to do about it, as one sentence.
std::string doubt_action(JobState const& state, WatchedReference const& reference, Doubt const& doubt);

} // namespace guidepin::job

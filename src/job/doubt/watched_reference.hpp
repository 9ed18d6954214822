// SPDX-License-Identifier: Apache-2.0
// What the watch knows of each reference: the links measured under it, its charts, and the reasons to doubt
// it. Filled by gather_tests(), run_charts(), look_again(), Witnesses and decide(). Verified by:
// tests/unit/job/watch.cpp.
#pragma once

#include "job/doubt/expectation.hpp"
#include "watch/negative_loss.hpp"
#include "watch/reference_watch.hpp"
#include "watch/retests.hpp"

#include <cstdint>
#include <limits>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

/// One link as it was measured under one reference: the latest reading of each place.
struct WatchedTest
{
    std::uint32_t link = 0; ///< of the readings
    std::int64_t at_ms = 0; ///< when its first reading was taken
    std::uint32_t first_row = 0;
    std::uint32_t first_cell = 0; ///< index into WatchedReference::excess
    std::uint8_t wavelengths = 0; ///< rows of its cells
    std::uint8_t columns = 0;     ///< columns of its cells: positions
    std::uint8_t directions = 0;  ///< bits: 1 from A, 2 from B
    bool otherwise_held = false;  ///< a cord check, an event or its age holds it
};

/// What a cord check or a retest shows about the time of a change.
struct WatchWitness
{
    std::string what;     ///< "cord check C-8", "S-04 again under R-6"
    std::size_t test = 0; ///< index into WatchedReference::tests
    bool moved = false;
    Decibel by; ///< how far it moved
};

/// A reason to doubt a reference.
struct Doubt
{
    std::string id; ///< "watch.R-3.common", "watch.R-3.position-7"; stays the same
    DoubtKind kind = DoubtKind::common;
    int position = 0;   ///< of the launch cord's plug at the cabling; 0: all
    Decibel size;       ///< after minus before; negative loss: what its readings share
    Decibel size_u;     ///< standard uncertainty of the size
    std::size_t at = 0; ///< the test at which the chart signalled
    std::string chart;  ///< "ewma", "cusum"; empty for negative loss and a wrong level
    /// Set if all links of the reference, from the first one on, lie at another level than those of other
    /// references and the grade: the probability that the reference is off and not its cabling. The kind is
    /// then common and first_after is 0.
    std::optional<double> level;
    bool compared = false;     ///< other references measured links of the same kinds
    watch::ChangePoint change; ///< by test; empty probabilities for negative loss
    std::vector<double> doubt; ///< by test: chance that it was measured after the change
    /// False if the uncertainty budget already grants the source a change of this size: such a doubt is
    /// reported and holds nothing.
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
    std::size_t entry = 0;                  ///< index into JobState::references
    std::uint32_t name = 0;                 ///< of the readings' dictionary
    std::size_t positions = 0;              ///< of the launch cord's plug
    std::vector<std::uint16_t> wavelengths; ///< nm, ascending
    std::vector<WatchedTest> tests;
    /// Cells of the tests: mean excess by wavelength and launch position; NaN where nothing was measured.
    std::vector<float> excess;
    std::vector<std::uint32_t> kinds; ///< of the expectation, ascending: those of the tests
    std::vector<std::vector<ExpectedByOthers>>
        expected;                         ///< by kind, as in `kinds`, and wavelength of the kind
    std::vector<watch::ChartPoint> chart; ///< one point for each test
    double ewma_limit = 0, cusum_limit = 0;
    std::vector<double> position_offset_db, position_u_db; ///< by position, from 0; NaN where never lit
    watch::NegativeLossEvidence negative;
    std::vector<Doubt> doubts; ///< the one that holds most comes first
    /// How many signals of the charts the later links do not confirm.
    std::size_t taken_back = 0;
    /// What the charts showed before the doubts of other references were known, without tests and excess;
    /// null if the first look is still valid.
    std::shared_ptr<WatchedReference const> first_look;
};

/// All references of a job.
struct Watching
{
    watch::WatchDesign design;
    double grants_db = 0;                     ///< changes up to this are in the uncertainty budget already
    std::vector<WatchedReference> references; ///< in the order of JobState::references, those with links only

    WatchedReference const* find(verdict::ReferenceId const& reference, JobState const& state) const;
    /// Returns by test what one doubt says has moved, in dB; NaN where it was not measured.
    std::vector<double> track(WatchedReference const& reference, Doubt const& doubt,
                              Expectation const& expectation) const;
    /// The doubt that holds a reading.
    struct Holding
    {
        WatchedReference const* reference = nullptr; ///< null: no doubt holds it
        Doubt const* doubt = nullptr;
    };
    Holding holding(verdict::ReadingColumns const& readings, std::uint32_t row) const;
};

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
// The bodies of a job's records, written and read back: docs/formats/record-bodies.md.
// Verified by: tests/unit/job/bodies.cpp (round trips as properties).
#pragma once

#include "base/result.hpp"
#include "intake/reference.hpp"
#include "job/entry/test_kit.hpp"
#include "plant/link.hpp"
#include "units/instant.hpp"
#include "verdict/check_id.hpp"
#include "verdict/readings.hpp"
#include "verdict/reference_id.hpp"

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

/// The first record of a job, after its station's key.
struct JobOpened
{
    std::string id, title;
};
Result<std::string> job_opened_body(JobOpened const& opened);
Result<JobOpened> job_opened_of(std::string_view body);

/// A file that somebody brought: named and hashed, its contents stay with the person.
struct SourceFile
{
    std::string name;
    std::size_t size = 0;
    std::string sha256;
    std::string layout; ///< "schedule", "reference", "cord-check", "readings"
    // Of its record, not in the body.
    std::string station = {};
    std::int64_t sequence = 0;
    Instant recorded = {};
    std::string person = {};
    std::string withdrawn = {}; ///< why, where a later record takes the import back; empty: it counts
};
Result<std::string> source_file_body(SourceFile const& file);
Result<SourceFile> source_file_of(std::string_view body);

Result<std::string> schedule_body(std::vector<plant::LinkSpec> const& links, SourceFile const& source);
Result<std::vector<plant::LinkSpec>> links_of_schedule(std::string_view body);

/// One reference: powers per position and wavelength, in the numbering of the launch cord's plug at the
/// cabling.
struct ReferenceEntry
{
    verdict::ReferenceId id;
    std::string method; ///< "one-cord"
    TestKit kit;
    bool instrument_positions = false; ///< powers were numbered as the instrument's port shows them
    std::vector<std::int16_t> position;
    std::vector<std::uint16_t> wavelength_nm;
    std::vector<double> power_dbm;
    std::vector<std::int64_t> taken_ms;
    std::int16_t offset_minutes = 0;
    std::string source_sha256;
    std::string station; ///< of its record; with `sequence`
    std::int64_t sequence = 0;
    Instant recorded = {}; ///< when its record was made

    Instant taken() const; ///< the latest of its readings
    std::size_t size() const { return position.size(); }
};
Result<std::string> reference_body(ReferenceEntry const& reference);
Result<ReferenceEntry> reference_of(std::string_view body);

/// One cord check. NaN where not stated; far as in verdict::ReadingColumns.
struct CordCheckEntry
{
    verdict::CheckId id;
    verdict::ReferenceId reference;
    std::vector<std::int16_t> position, far_position;
    std::vector<std::uint16_t> wavelength_nm;
    std::vector<double> attenuation_db, length_m;
    std::vector<std::int64_t> taken_ms;
    std::int16_t offset_minutes = 0;
    std::string source_sha256;
    std::string station;
    std::int64_t sequence = 0;

    Instant taken() const;
    std::size_t size() const { return position.size(); }
};
Result<std::string> cord_check_body(CordCheckEntry const& check);
Result<CordCheckEntry> cord_check_of(std::string_view body);

/// Something that happened to a reference: the launch cord left the source, the power went.
struct ReferenceEvent
{
    std::string event;
    verdict::ReferenceId reference; ///< empty: all in force
    Instant at;
    std::string note;
};
Result<std::string> reference_event_body(ReferenceEvent const& event);
Result<ReferenceEvent> reference_event_of(std::string_view body);

/// One link's readings of one import. `rows` are indices into `readings`, all of the same link.
Result<std::string> link_tested_body(verdict::ReadingColumns const& readings,
                                     std::span<std::uint32_t const> rows, std::string const& source_sha256);
/// Adds the readings of such a record to `into`. Where the record holds powers, `attenuation(reference,
/// position, wavelength, power)` turns them into dB.
using PowerToLoss = double (*)(void const* context, verdict::ReferenceId const& reference, int position,
                               int wavelength_nm, double power_dbm);
Outcome add_link_tested(std::string_view body, verdict::ReadingColumns& into, PowerToLoss to_loss,
                        void const* context);

} // namespace guidepin::job

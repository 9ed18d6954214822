// SPDX-License-Identifier: Apache-2.0
// What people add to a job besides measuring: notes and photos, ticked steps, people and their roles, the
// withdrawal of an import, the decision to rely on a reference. Each is a record; nothing is deleted. Bodies:
// docs/formats/record-bodies.md. Verified by: tests/unit/job/entries.cpp (round trips, withdrawal and what
// follows from it).
#pragma once

#include "base/result.hpp"
#include "units/instant.hpp"
#include "units/quantity.hpp"
#include "verdict/reference_id.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

/// What may be done: a technician enters, a lead also withdraws, names people and hands over, a reviewer
/// reads and writes notes.
enum class Role : std::uint8_t { technician, lead, reviewer };
char const* name_of(Role role); ///< "technician", "lead", "reviewer"
std::optional<Role> parse_role(std::string_view text);

/// Entries made in a browser carry a key of their own: what is sent twice is kept once.
struct Note
{
    std::string subject; ///< "link", "reference", "job"
    std::string name;    ///< of the subject
    std::string text;
    std::string photo_type; ///< "image/jpeg", "image/png", "image/webp"; empty: no photo
    std::string photo;      ///< base64
    std::string key;
    Instant at;         ///< of the record; not in the body
    std::string person; ///< of the record
    std::string hash;   ///< of the record: names it, and so its photo
};
constexpr std::size_t longest_note = 4000;        ///< bytes of text
constexpr std::size_t largest_photo = 600 * 1024; ///< bytes before base64

struct StepDone
{
    std::string setup, step; ///< ids
    std::string key;
    Instant at;
    std::string person;
};

/// A set-up that somebody chose to work by: the record holds its sheet (job/plan/set_up_sheet.hpp).
struct ChosenSetup
{
    std::string hash; ///< of the record: names the set-up for its steps and its card
    std::string title;
    std::vector<std::string> links;
    std::string body; ///< canonical JSON
    Instant at;
    std::string person;
};

struct Person
{
    std::string name;
    Role role = Role::technician;
    Instant at;
    std::string named_by;
};

/// Takes back what one import brought in: the source-file record `station`:`sequence` and the link-tested
/// records that came with it.
struct Withdrawal
{
    std::string station;
    std::int64_t sequence = 0;
    std::string reason;
    Instant at;
    std::string person;
};

enum class DoubtKind : std::uint8_t {
    common,        ///< all positions moved
    wavelength,    ///< one wavelength against the other
    position,      ///< one position of the test cord against the others
    negative_loss, ///< readings lower than the cabling can be
};
char const* name_of(DoubtKind kind); ///< "common", "wavelength", "position", "negative-loss"
std::optional<DoubtKind> parse_doubt_kind(std::string_view text);

/// A person's decision to rely on a reference although the watch doubts it.
struct TrustDecision
{
    struct Covered
    {
        DoubtKind kind = DoubtKind::common;
        int position = 0;
        Decibel size;
    };
    verdict::ReferenceId reference;
    std::vector<Covered> covers; ///< the doubts at that time; one that grew, or another one, is not covered
    std::string reason;
    bool stands = true; ///< false: takes an earlier decision on this reference back
    Instant at;         ///< of its record; not in the body
    std::string person; ///< of its record
};

Result<std::string> note_body(Note const& note);
Result<Note> note_of(std::string_view body);
Result<std::string> step_body(StepDone const& step);
Result<StepDone> step_of(std::string_view body);
/// Title, links and the body itself. Errors: invalid_input for what is no sheet of a set-up.
Result<ChosenSetup> chosen_setup_of(std::string_view body);
Result<std::string> person_body(Person const& person);
Result<Person> person_of(std::string_view body);
Result<std::string> withdrawal_body(Withdrawal const& withdrawal);
Result<Withdrawal> withdrawal_of(std::string_view body);
Result<std::string> trust_decision_body(TrustDecision const& decision);
Result<TrustDecision> trust_decision_of(std::string_view body);

} // namespace guidepin::job

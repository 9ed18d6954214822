// SPDX-License-Identifier: Apache-2.0
// The rules of the audit, and what follows from their list: the weight of a finding and its place in the
// report.
#include "job/handover/audit_looks.hpp"
#include "record/digest.hpp"

#include <algorithm>
#include <array>
#include <cassert>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr std::array rules{
    // The files and the records themselves.
    AuditRule{"records-unreadable", Weight::refutes, "the copy of the records cannot be read",
              "the package again, from whoever made it"},
    AuditRule{"record-changed", Weight::refutes, "a record is not valid: changed, missing, or not signed",
              "the job's own file, or another copy of it, with the same heads"},
    AuditRule{"records-cut", Weight::refutes,
              "the chains do not end where the signed manifest says that they end",
              "the package again, from whoever made it"},
    AuditRule{"manifest-altered", Weight::refutes,
              "the manifest cannot be read, or its signature is not valid",
              "the package again, from whoever made it"},
    AuditRule{"file-changed", Weight::refutes, "a file is not the one that the manifest names",
              "the file again, from whoever made the package"},
    AuditRule{"file-missing", Weight::refutes, "a file that the manifest names is missing",
              "the file, from whoever made the package"},
    AuditRule{"rows-differ", Weight::refutes, "a table has other rows than the records give",
              "a package made again from the job, and why this one was altered"},
    AuditRule{"reading-differs", Weight::refutes, "a table states another measured value than the records",
              "a package made again from the job, and why this one was altered"},
    AuditRule{"limit-differs", Weight::refutes, "a table states another limit than follows from the rule set",
              "the contract's rule set, and a package made again"},
    AuditRule{"verdict-differs", Weight::refutes,
              "a table states another verdict than follows from the records",
              "a package made again from the job, and why this one was altered"},
    AuditRule{"text-differs", Weight::refutes, "a table states something other than the records",
              "a package made again from the job, and why this one was altered"},
    AuditRule{"copied-measurement", Weight::refutes,
              "the values of one link are also recorded for another link",
              "both links measured again in the reviewer's presence"},
    AuditRule{"reference-mismatch", Weight::refutes,
              "readings name a reference of another wavelength, fibre, plug or face",
              "the reference that they were taken under, or new readings"},
    AuditRule{"manifest-missing", Weight::weakens, "no manifest says which files belong to the package",
              "a package made by a later program"},
    AuditRule{"manifest-unsigned", Weight::weakens, "the manifest is not signed: a draft",
              "the package as it was handed over"},
    AuditRule{"signed-by-stranger", Weight::weakens,
              "the manifest was signed by a station that wrote none of the records",
              "the contractor's statement that this station is theirs"},
    AuditRule{"contradicting-records", Weight::weakens,
              "records contradict each other, name something that does not exist, or cannot be read",
              "the people who entered them: which of them is right"},
    AuditRule{"file-unlisted", Weight::weakens, "a file is in the folder that the manifest does not name",
              "removing it, or a statement of what it is"},
    // What was promised against what was measured.
    AuditRule{"link-not-tested", Weight::weakens, "a link of the schedule has no reading", "its readings"},
    AuditRule{"wavelength-not-measured", Weight::weakens, "a required wavelength was not measured on a link",
              "readings at that wavelength"},
    AuditRule{"direction-not-measured", Weight::weakens,
              "a link was measured from one end, both are required", "readings launched from the other end"},
    AuditRule{"position-not-measured", Weight::weakens, "positions of a link have no reading",
              "readings of these positions"},
    AuditRule{"schedule-changed-after-test", Weight::weakens,
              "a link's line in the schedule was changed after it was measured",
              "the drawing that asks for the change, with its date"},
    AuditRule{"rules-changed-after-test", Weight::weakens,
              "what the job promises was changed after links were measured",
              "the client's statement about the change, with its date"},
    AuditRule{"failure-tested-away", Weight::notes,
              "a link failed, was measured again and passes, and no note says what was done",
              "a note on the link: what was found and done between the tests"},
    AuditRule{"link-tested-again", Weight::notes, "a link was measured more than once",
              "nothing: the last counts"},
    AuditRule{"link-not-scheduled", Weight::notes, "a link was measured that is not in the schedule",
              "its line in the schedule, or the name that it should have"},
    AuditRule{"import-withdrawn", Weight::notes, "readings were imported and withdrawn", "the reason given"},
    // References, cord checks, order in time.
    AuditRule{"reference-unknown", Weight::weakens, "readings name no reference that the job has",
              "the reference that they were taken under, or new readings"},
    AuditRule{"reference-refused", Weight::weakens, "readings depend on a reference that was refused",
              "new readings under a reference that is accepted"},
    AuditRule{"before-reference", Weight::weakens, "readings are older than their reference",
              "the right times, or new readings"},
    AuditRule{"reference-voided", Weight::weakens, "readings came after something that voids their reference",
              "new readings under a new reference"},
    AuditRule{"reference-too-old", Weight::weakens, "readings were taken when their reference was too old",
              "new readings under a fresh reference"},
    AuditRule{"position-not-referenced", Weight::weakens,
              "readings of positions that their reference has no power for",
              "new readings under a reference over all positions"},
    AuditRule{"position-not-checked", Weight::weakens,
              "readings of positions that no accepted cord check covers",
              "a cord check over all positions, or new readings"},
    AuditRule{"no-accepted-check", Weight::weakens, "readings have no accepted cord check",
              "the cord check, or new readings"},
    AuditRule{"check-failed", Weight::weakens, "the cord check before readings failed",
              "new readings under a new reference"},
    AuditRule{"later-check-failed", Weight::weakens, "the cord check after readings failed",
              "some of the links measured again: if they agree, the reference moved later"},
    AuditRule{"reference-doubted", Weight::weakens,
              "all readings under a reference moved together, and readings are held for it",
              "the retests that it names"},
    AuditRule{"reference-trusted", Weight::notes, "a person relies on a reference that the watch doubts",
              "the reason given, or some of its links measured again under a fresh reference"},
    AuditRule{"kit-overridden", Weight::notes, "a person used an item of the kit that the register refused",
              "the reason given"},
    AuditRule{"reference-drift", Weight::weakens, "a reference drifted while links were measured under it",
              "its links measured again under a fresh reference"},
    AuditRule{"reference-fault", Weight::weakens, "a reference was taken wrong",
              "its links measured again under a fresh reference"},
    AuditRule{"test-cord-position", Weight::weakens,
              "a position of a test cord was bad while links were measured",
              "that position of these links measured again with another cord"},
    AuditRule{"wrong-test-cord", Weight::weakens, "links were measured with a test cord of another type",
              "these links measured again with the right cord"},
    AuditRule{"mislabelled-link", Weight::weakens, "readings fit another link better than the one they name",
              "these links measured again, labels read at both ends"},
    AuditRule{"no-time", Weight::weakens, "readings have no time: their order cannot be known",
              "the instrument's own export with times"},
    AuditRule{"taken-after-recorded", Weight::weakens, "readings claim to be younger than their record",
              "which clock was wrong: the instrument's or the station's"},
    AuditRule{"clock-went-back", Weight::weakens, "a station's records go back in time",
              "why the station's clock was set back"},
    AuditRule{"too-fast", Weight::weakens, "links follow each other faster than hands can mate",
              "some of them measured again in the reviewer's presence"},
    AuditRule{"without-effect", Weight::notes, "a cord check or an event has no effect",
              "the right name or time"},
    // Instruments.
    AuditRule{"calibration-over", Weight::weakens, "an instrument was used after its calibration was due",
              "a later calibration without adjustment, or new readings"},
    AuditRule{"calibrated-after-use", Weight::weakens, "an instrument was used before it was calibrated",
              "the certificate that was in force at the time"},
    AuditRule{"calibration-unknown", Weight::weakens, "no calibration of an instrument is known",
              "its certificate of calibration"},
    AuditRule{"instrument-unknown", Weight::weakens, "a reference names no instrument that the job knows",
              "which source and meter were used"},
    // What the numbers rest on.
    AuditRule{"value-from-memory", Weight::weakens,
              "a value that decides is from memory, not from a document",
              "the value from the printed standard, in a rule set of the contract"},
    AuditRule{"other-values", Weight::notes,
              "the package was made with other tables of values than this program's",
              "the program that made it, or an examination of what differs"},
    AuditRule{"finding-acknowledged", Weight::notes, "a person accepted a finding as it is",
              "the reason given"},
    AuditRule{"changed-since-handed-over", Weight::notes, "the job changed after its last package",
              "a new package, if it is wanted"},
};

AuditRule const& rule_named(std::string_view id)
{
    for (AuditRule const& rule : rules) {
        if (rule.id == id) return rule;
    }
    assert(false && "a rule that the list lacks");
    return rules.front();
}

} // namespace

char const* name_of(Weight weight)
{
    switch (weight) {
    case Weight::refutes:
        return "refutes";
    case Weight::weakens:
        return "weakens";
    case Weight::notes:
        break;
    }
    return "notes";
}

std::span<AuditRule const> audit_rules()
{
    return rules;
}

namespace detail {

void add(AuditReport& report, std::string_view rule, std::string subject, std::vector<std::string> links,
         std::string text, std::optional<Weight> weight)
{
    AuditRule const& row = rule_named(rule);
    AuditFinding finding;
    finding.id = record::sha256(fmt::format("{}\n{}", rule, subject)).hex().substr(0, 16);
    finding.rule = std::string(row.id);
    finding.weight = weight.value_or(row.weight);
    finding.subject = std::move(subject);
    finding.links = std::move(links);
    finding.text = std::move(text);
    finding.settles = std::string(row.settles);
    report.findings.push_back(std::move(finding));
}

void put_in_order(AuditReport& report)
{
    auto const place = [](AuditFinding const& finding) { return &rule_named(finding.rule) - rules.data(); };
    std::stable_sort(report.findings.begin(), report.findings.end(),
                     [&](AuditFinding const& a, AuditFinding const& b) {
                         if (a.weight != b.weight) return a.weight < b.weight;
                         return place(a) < place(b);
                     });
}

} // namespace detail

} // namespace guidepin::job

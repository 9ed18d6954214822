// SPDX-License-Identifier: Apache-2.0
#include "job/handover/audit.hpp"

#include "base/text.hpp"
#include "intake/csv.hpp"
#include "job/files/files.hpp"
#include "job/handover/audit_inside.hpp"
#include "record/copy.hpp"
#include "record/digest.hpp"
#include "record/kind.hpp"

#include <algorithm>
#include <filesystem>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

using detail::Looking;

constexpr std::array rules{
    // The files and the records themselves.
    AuditRule{"records-unreadable", Weight::refutes, "the copy of the records cannot be read",
              "the package once more, from whoever made it"},
    AuditRule{"record-changed", Weight::refutes, "a record does not hold: changed, missing, or not signed",
              "the job's own file, or another copy of it, with the same heads"},
    AuditRule{"records-cut", Weight::refutes,
              "the chains do not end where the signed manifest says that they end",
              "the package once more, from whoever made it"},
    AuditRule{"manifest-altered", Weight::refutes,
              "the manifest cannot be read, or its signature does not hold",
              "the package once more, from whoever made it"},
    AuditRule{"file-changed", Weight::refutes, "a file is not the one that the manifest names",
              "the file once more, from whoever made the package"},
    AuditRule{"file-missing", Weight::refutes, "a file that the manifest names is not there",
              "the file, from whoever made the package"},
    AuditRule{"rows-differ", Weight::refutes, "a table has other rows than the records give",
              "a package made anew from the job, and why this one was altered"},
    AuditRule{"reading-differs", Weight::refutes, "a table states another measured value than the records",
              "a package made anew from the job, and why this one was altered"},
    AuditRule{"limit-differs", Weight::refutes, "a table states another limit than follows from the rule set",
              "the contract's rule set, and a package made anew"},
    AuditRule{"verdict-differs", Weight::refutes,
              "a table states another verdict than follows from the records",
              "a package made anew from the job, and why this one was altered"},
    AuditRule{"text-differs", Weight::refutes, "a table states something else than the records",
              "a package made anew from the job, and why this one was altered"},
    AuditRule{"copied-measurement", Weight::refutes, "the values of one link stand under another one too",
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
              "word from the contractor that this station is theirs"},
    AuditRule{"contradicting-records", Weight::weakens,
              "records contradict each other, name something that is not there, or cannot be read",
              "the people who entered them: which of them is right"},
    AuditRule{"file-unlisted", Weight::weakens, "a file is in the folder that the manifest does not name",
              "taking it out, or word on what it is"},
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
              "the client's word on the change, with its date"},
    AuditRule{"failure-tested-away", Weight::notes,
              "a link failed, was measured again and passes, and no note says what was done",
              "a note on the link: what was found and done between the tests"},
    AuditRule{"link-tested-again", Weight::notes, "a link was measured more than once",
              "nothing: the last counts"},
    AuditRule{"link-not-scheduled", Weight::notes, "a link was measured that the schedule does not know",
              "its line in the schedule, or the name that it should have"},
    AuditRule{"import-withdrawn", Weight::notes, "readings were brought in and taken back",
              "the reason given"},
    // References, cord checks, order in time.
    AuditRule{"reference-unknown", Weight::weakens, "readings name no reference that the job has",
              "the reference that they were taken under, or new readings"},
    AuditRule{"reference-refused", Weight::weakens, "readings rest on a reference that was refused",
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
    AuditRule{"no-accepted-check", Weight::weakens, "no accepted cord check stands behind readings",
              "the cord check, or new readings"},
    AuditRule{"check-failed", Weight::weakens, "the cord check before readings failed",
              "new readings under a new reference"},
    AuditRule{"later-check-failed", Weight::weakens, "the cord check after readings failed",
              "some of the links measured again: if they agree, the reference moved later"},
    AuditRule{"reference-doubted", Weight::weakens,
              "what was measured under a reference moved as a whole, and readings are held for it",
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
    AuditRule{"without-effect", Weight::notes, "a cord check or an event is of no effect",
              "the right name or time"},
    // Instruments.
    AuditRule{"calibration-over", Weight::weakens, "an instrument was used after its calibration was due",
              "a later calibration without adjustment, or new readings"},
    AuditRule{"calibrated-after-use", Weight::weakens, "an instrument was used before it was calibrated",
              "the certificate that was in force at the time"},
    AuditRule{"calibration-unknown", Weight::weakens, "of an instrument no calibration is known",
              "its certificate of calibration"},
    AuditRule{"instrument-unknown", Weight::weakens, "a reference names no instrument that the job knows",
              "which source and meter were used"},
    // What the numbers rest on.
    AuditRule{"value-from-memory", Weight::weakens, "a value that decides rests on memory, not on a document",
              "the value from the printed standard, in a rule set of the contract"},
    AuditRule{"other-values", Weight::notes,
              "the package was made with other tables of values than this program's",
              "the program that made it, or a look at what differs"},
    AuditRule{"finding-acknowledged", Weight::notes, "a person let a finding stand", "the reason given"},
    AuditRule{"changed-since-handed-over", Weight::notes, "the job went on after its last package",
              "a new package, where it is wanted"},
};

AuditRule const& rule_named(std::string_view id)
{
    for (AuditRule const& rule : rules) {
        if (rule.id == id) return rule;
    }
    assert(false && "a rule that the list lacks");
    return rules.front();
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

/// Everything that the records tell, for job and package alike.
Outcome look_at_records(Looking const& looking, Actor const& actor,
                        std::vector<JobFinding> const* known = nullptr)
{
    AuditReport& report = looking.report;
    report.title = looking.state.settings.title;
    report.facts = looking.state.tables.version;
    report.links = looking.state.scheduled();
    report.readings = looking.state.readings.size();
    for (std::size_t i = 0; i < looking.state.scheduled(); ++i) {
        verdict::State const state = looking.assessment.verdicts.links[i].state;
        if (state == verdict::State::pass || state == verdict::State::marginal_pass) ++report.conforming;
    }
    detail::look_at_schedule(looking);
    TRY(detail::look_at_order(looking));
    detail::look_at_references(looking);
    detail::look_at_timing(looking);
    detail::look_at_instruments(looking);
    TRY(detail::look_at_causes(looking, actor, known));
    detail::look_at_values(looking);
    return {};
}

/// The job's own lists against its records.
Outcome look_at_derived(Looking const& looking)
{
    TRY_ASSIGN(std::string const basis, looking.store.derived_basis());
    TRY_ASSIGN(std::string const chains, record::chains_digest(looking.store));
    if (basis != chains) return {}; // They are behind, and made anew on the next change.
    TRY_ASSIGN(auto const kept, looking.store.derived_tables());
    std::map<std::string, record::DerivedLink const*> by_name;
    for (record::DerivedLink const& link : kept.links) by_name[link.link] = &link;
    std::vector<std::string> differing;
    for (record::DerivedLink const& link : looking.tables.links) {
        auto const found = by_name.find(link.link);
        if (found == by_name.end() || !(*found->second == link)) differing.push_back(link.link);
    }
    if (differing.empty() && kept.links.size() == looking.tables.links.size()) return {};
    std::string text = fmt::format(
        "the job's list states something else than its records for {}; \"guidepin rebuild\" makes it anew",
        differing.empty() ? std::string{"links that are not there"} : detail::some_of(differing));
    detail::add(looking.report, "verdict-differs", "derived tables", differing, std::move(text));
    return {};
}

Outcome look_at_handing_over(Looking const& looking)
{
    if (looking.state.handed_over.empty()) return {};
    HandOver const& last = looking.state.handed_over.back();
    std::int64_t later = 0;
    TRY(looking.store.visit({}, [&](record::RecordView const& record) -> Outcome {
        bool const counts =
            record.kind != record::kind::handed_over && record.kind != record::kind::station_key;
        if (counts && last.at < record.time) ++later;
        return {};
    }));
    if (later > 0)
        detail::add(looking.report, "changed-since-handed-over", "", {},
                    fmt::format("{} record{} came after the package of {}", later, later == 1 ? "" : "s",
                                instant_text(last.at)));
    return {};
}

// The package's files.

struct Folder
{
    std::string path;
    std::set<std::string> present;
};

Result<Folder> folder_of(std::string const& path)
{
    Folder folder{path, {}};
    std::error_code trouble;
    for (auto const& entry : std::filesystem::directory_iterator(path, trouble)) {
        std::error_code ignored;
        std::string const name = entry.path().filename().string();
        folder.present.insert(entry.is_directory(ignored) ? name + "/" : name);
    }
    if (trouble)
        return Error{Errc::not_found,
                     fmt::format("{}: the folder cannot be read: {}", path, trouble.message())};
    if (!folder.present.contains(records_name))
        return Error{Errc::invalid_input,
                     fmt::format("{}: this is no package: it holds no {}; name the folder that \"guidepin "
                                 "report\" wrote",
                                 path, records_name)};
    return folder;
}

void look_at_files(Folder const& folder, Manifest const& manifest, AuditReport& report)
{
    std::set<std::string> listed{manifest_name};
    for (ManifestFile const& file : manifest.files) {
        listed.insert(file.name);
        if (!folder.present.contains(file.name)) {
            detail::add(report, "file-missing", file.name, {},
                        fmt::format("{} is not in the folder; the manifest names it with {} bytes", file.name,
                                    file.size));
            continue;
        }
        auto const mapped = MappedFile::open(folder.path + "/" + file.name);
        if (!mapped) {
            detail::add(report, "file-changed", file.name, {}, mapped.error().message);
            continue;
        }
        auto const size = static_cast<std::int64_t>(mapped->bytes().size());
        if (size != file.size || record::sha256(mapped->bytes()).hex() != file.sha256)
            detail::add(report, "file-changed", file.name, {},
                        size != file.size
                            ? fmt::format("{} has {} bytes, the manifest says {}", file.name, size, file.size)
                            : fmt::format("{} has other contents than the manifest says", file.name));
    }
    std::vector<std::string> more;
    std::set_difference(folder.present.begin(), folder.present.end(), listed.begin(), listed.end(),
                        std::back_inserter(more));
    // A stranger chose these names: none of them may look like a line of ours.
    for (std::string& name : more) name = intake::shown(name);
    if (!more.empty())
        detail::add(report, "file-unlisted", "", {},
                    fmt::format("the manifest does not name {}: nothing says who put {} there",
                                detail::some_of(more), more.size() == 1 ? "it" : "them"));
}

std::optional<SealedManifest> look_at_manifest(Folder const& folder, AuditReport& report)
{
    if (!folder.present.contains(manifest_name)) {
        detail::add(
            report, "manifest-missing", "", {},
            fmt::format("the folder has no {}: nothing says which files belong to the package, and who "
                        "made it",
                        manifest_name));
        return std::nullopt;
    }
    auto const bytes = read_file(folder.path + "/" + manifest_name);
    auto sealed = bytes ? read_manifest(*bytes) : Result<SealedManifest>(bytes.error());
    if (!sealed) {
        detail::add(report, "manifest-altered", "", {},
                    fmt::format("{}: {}", manifest_name, sealed.error().message));
        return std::nullopt;
    }
    report.made = sealed->manifest.made;
    report.program = sealed->manifest.program;
    report.files = sealed->manifest.files.size();
    if (!sealed->seal) {
        detail::add(report, "manifest-unsigned", "", {},
                    fmt::format("{} is not signed: the folder is a draft, anybody may have changed it",
                                manifest_name));
    } else if (!sealed->holds()) {
        detail::add(
            report, "manifest-altered", "", {},
            fmt::format("the signature of {} does not hold with the key of station {}: it was changed "
                        "after it was signed",
                        manifest_name, sealed->seal->station));
    } else {
        report.signed_by = sealed->seal->station;
    }
    look_at_files(folder, sealed->manifest, report);
    return std::move(*sealed);
}

Outcome look_at_ends(record::Store const& store, SealedManifest const& sealed, AuditReport& report)
{
    TRY_ASSIGN(auto const heads, store.latest_heads());
    std::map<std::string, record::Head const*> here;
    for (record::Head const& head : heads) here[head.station] = &head;
    for (record::Head const& end : sealed.manifest.ends) {
        auto const found = here.find(end.station);
        if (found != here.end() && found->second->sequence == end.sequence && found->second->hash == end.hash)
            continue;
        detail::add(
            report, "records-cut", end.station, {},
            found == here.end()
                ? fmt::format("the records of station {} are missing; the manifest has {} of them",
                              end.station, end.sequence)
                : fmt::format("the records of station {} end with {}, hash {}…; the manifest says {}, {}…",
                              end.station, found->second->sequence, found->second->hash.hex().substr(0, 12),
                              end.sequence, end.hash.hex().substr(0, 12)));
    }
    if (heads.size() > sealed.manifest.ends.size())
        detail::add(report, "records-cut", "", {},
                    fmt::format("the records are of {} station{}, the manifest names {}", heads.size(),
                                heads.size() == 1 ? "" : "s", sealed.manifest.ends.size()));
    if (sealed.holds() && !here.contains(sealed.seal->station))
        detail::add(
            report, "signed-by-stranger", sealed.seal->station, {},
            fmt::format("station {} signed the package and wrote none of its records", sealed.seal->station));
    return {};
}

/// What is looked at in a job file beside its records.
Outcome look_at_job(Looking const& looking, Actor const& actor,
                    std::vector<JobFinding> const* known = nullptr)
{
    TRY(look_at_records(looking, actor, known));
    TRY(look_at_derived(looking));
    TRY(look_at_handing_over(looking));
    put_in_order(looking.report);
    return {};
}

/// Records that were read, judged; a finding where they cannot be.
struct Judged
{
    JobState state;
    Assessment assessment;
};
std::optional<Judged> judged(record::Store const& store, Actor const& actor, AuditReport& report)
{
    auto state = load_state(store);
    auto assessment = state ? assess(*state, actor.threads) : Result<Assessment>(state.error());
    if (assessment) return Judged{std::move(*state), std::move(*assessment)};
    detail::add(report, "records-unreadable", "", {}, assessment.error().message);
    put_in_order(report);
    return std::nullopt;
}

Result<AuditReport> audit_package(std::string const& path, Actor const& actor)
{
    TRY_ASSIGN(Folder const folder, folder_of(path));
    AuditReport report;
    report.package = true;
    auto const sealed = look_at_manifest(folder, report);
    TRY_ASSIGN(auto const bytes, MappedFile::open(folder.path + "/" + records_name));
    auto const store = record::read_copy(bytes.bytes(), records_name);
    if (!store) {
        if (store.error().code == Errc::newer_version) return store.error();
        detail::add(report, "records-unreadable", "", {}, store.error().message);
        put_in_order(report);
        return report;
    }
    TRY_ASSIGN(auto const id, (*store)->property("job-id"));
    report.job = id.value_or("");
    TRY(detail::look_at_chains(**store, report));
    if (sealed) TRY(look_at_ends(**store, *sealed, report));
    auto const all = judged(**store, actor, report);
    if (!all) return report;
    auto const tables = derive(all->state, all->assessment);
    Looking const looking{**store, all->state, all->assessment, tables, report};
    TRY(look_at_records(looking, actor));
    TRY(detail::look_at_tables(looking, folder.path, folder.present, sealed ? &sealed->manifest : nullptr));
    put_in_order(report);
    return report;
}

Result<AuditReport> audit_file(std::string const& path, Actor const& actor)
{
    record::OpenOptions open;
    open.maker = {actor.program, facts::built_in_tables().version};
    TRY_ASSIGN(auto const store, record::open_sqlite(path, open));
    AuditReport report;
    report.program = actor.program;
    TRY_ASSIGN(auto const id, store->property("job-id"));
    report.job = id.value_or("");
    TRY(detail::look_at_chains(*store, report));
    auto const all = judged(*store, actor, report);
    if (!all) return report;
    auto const tables = derive(all->state, all->assessment);
    TRY(look_at_job({*store, all->state, all->assessment, tables, report}, actor));
    return report;
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

std::size_t AuditReport::count(Weight weight) const
{
    return static_cast<std::size_t>(
        std::count_if(findings.begin(), findings.end(),
                      [&](AuditFinding const& finding) { return finding.weight == weight; }));
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

std::string some_of(std::vector<std::string> const& names)
{
    constexpr std::size_t shown = 4;
    if (names.size() <= shown + 1) return joined(names, ", ");
    return fmt::format("{} and {} more", joined({names.begin(), names.begin() + shown}, ", "),
                       names.size() - shown);
}

std::string links_text(std::size_t count)
{
    return count == 1 ? std::string{"1 link"} : fmt::format("{} links", count);
}

Outcome look_at_chains(record::Store const& store, AuditReport& report)
{
    TRY_ASSIGN(record::CheckReport const checked, record::check(store));
    report.records = checked.records;
    report.stations = checked.stations;
    if (checked.first) add(report, "record-changed", "", {}, checked.first->text());
    return {};
}

} // namespace detail

Result<AuditReport> audit_job(Job& job, Actor const& actor, std::vector<JobFinding> const* known)
{
    AuditReport report;
    report.program = actor.program;
    TRY_ASSIGN(auto const id, job.store().property("job-id"));
    report.job = id.value_or("");
    TRY(detail::look_at_chains(job.store(), report));
    TRY_ASSIGN(Assessment const* const assessment, job.assessment());
    auto const tables = derive(job.state(), *assessment);
    TRY(look_at_job({job.store(), job.state(), *assessment, tables, report}, actor, known));
    return report;
}

Result<AuditReport> audit(std::string const& path, Actor const& actor)
{
    std::error_code ignored;
    return std::filesystem::is_directory(path, ignored) ? audit_package(path, actor)
                                                        : audit_file(path, actor);
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "job/handover/package.hpp"

#include "base/text.hpp"
#include "job/entry/manifest.hpp"
#include "job/files/files.hpp"
#include "job/files/writing.hpp"
#include "job/paper/certificate_of.hpp"
#include "job/paper/summary_of.hpp"
#include "job/paper/tables_of.hpp"
#include "job/sheet/locale.hpp"
#include "job/state/record_kinds.hpp"
#include "record/check.hpp"
#include "record/copy.hpp"
#include "record/digest.hpp"

#include <algorithm>
#include <filesystem>
#include <map>
#include <memory>
#include <set>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// What is in the folder besides a package; folders with a slash at their end.
Result<std::vector<std::string>> strangers_in(std::string const& folder, bool& has_manifest)
{
    std::set<std::string> present;
    std::error_code trouble;
    for (std::filesystem::directory_iterator entry(folder, trouble), end; !trouble && entry != end;
         entry.increment(trouble)) {
        std::error_code ignored;
        present.insert(entry->path().filename().string() + (entry->is_directory(ignored) ? "/" : ""));
    }
    if (trouble)
        return Error{Errc::environment,
                     fmt::format("{}: cannot look into it: {}", folder, trouble.message())};
    has_manifest = present.contains(manifest_name);
    if (has_manifest) {
        TRY_ASSIGN(std::string const text, read_file(folder + "/" + manifest_name));
        auto const sealed = read_manifest(text);
        has_manifest = sealed.has_value();
        if (sealed) {
            for (ManifestFile const& file : sealed->manifest.files) present.erase(file.name);
            present.erase(manifest_name);
        }
    }
    return std::vector<std::string>(present.begin(), present.end());
}

/// A package takes the place of an older one, or of an empty folder; of nothing else.
Outcome require_replaceable(std::string const& shown, std::string const& folder)
{
    constexpr std::size_t named = 5;
    bool has_manifest = false;
    TRY_ASSIGN(auto strangers, strangers_in(folder, has_manifest));
    if (strangers.empty()) return {};
    std::size_t const more = strangers.size() > named ? strangers.size() - named : 0;
    strangers.resize(strangers.size() - more);
    return Error{
        Errc::conflict,
        fmt::format("{}: {}: {}{}. A new package takes the place of the whole folder, and they would be "
                    "lost. Move them elsewhere, or name another folder",
                    shown,
                    has_manifest ? "the folder holds files that do not belong to the package in it"
                                 : "the folder is there and is no package",
                    joined(strangers, ", "), more > 0 ? fmt::format(" and {} more", more) : "")};
}

/// A zone's name as a file name: letters, digits and dashes.
std::string file_name_of(std::string const& zone)
{
    std::string name;
    for (char const letter : lowered(zone)) {
        bool const plain = (letter >= 'a' && letter <= 'z') || (letter >= '0' && letter <= '9');
        if (plain) {
            name += letter;
        } else if (!name.empty() && name.back() != '-') {
            name += '-';
        }
    }
    while (!name.empty() && name.back() == '-') name.pop_back();
    return name.empty() ? "links" : name;
}

/// What goes into every file.
struct Making
{
    Job& job;
    Actor const& actor;
    PackageOptions const& options;
    JobState const& state;
    Assessment const& assessment;
    FolderBeside& folder;
    /// All that the package holds is of one moment, whatever other programs write meanwhile.
    std::unique_ptr<record::Snapshot> moment;
    record::DerivedTables tables = {};
    std::vector<record::Head> ends = {}; ///< of the chains in the package
    report::Setting setting = {};
    Package package = {};

    std::string in_folder(std::string const& name) const { return folder.path() + "/" + name; }
    /// What people know the file by.
    std::string shown(std::string const& name) const { return options.folder + "/" + name; }
    void report(std::string what, std::size_t done, std::size_t total) const
    {
        if (actor.progress) actor.progress(actor.progress_context, Progress{std::move(what), done, total});
    }
};

/// One file of the package, on the disk when this returns; `fill` gives its bytes to the sink, and the number
/// of its pages back.
template <class Fill>
Outcome add_file(Making& making, std::string const& name, Fill fill)
{
    TRY_ASSIGN(NewFile file, NewFile::make(making.in_folder(name), making.shown(name)));
    Result<int> const pages = fill([&](std::string_view bytes) { return file.write(bytes); });
    if (file.failure()) return *file.failure(); // says more than the writer that found the sink closed
    if (!pages) return pages.error();
    TRY(file.finish());
    making.package.files.push_back({name, *pages});
    return {};
}

/// The same for writers that know no pages.
template <class Fill>
Outcome add_plain_file(Making& making, std::string const& name, Fill fill)
{
    return add_file(making, name, [&](auto const& sink) -> Result<int> {
        TRY(fill(sink));
        return 0;
    });
}

Outcome write_summary_file(Making& making)
{
    TRY_ASSIGN(report::Summary summary, summary_of(making.state, making.assessment, making.tables,
                                                   record::chains_digest(making.ends)));
    TRY_ASSIGN(summary.findings, listed_findings(making.state, making.assessment, making.actor.threads));
    return add_file(making, "summary.pdf", [&](drawing::ByteSink const& sink) -> Result<int> {
        TRY_ASSIGN(report::Written const written, report::write_summary(summary, making.setting, sink));
        return written.pages;
    });
}

Result<std::vector<std::size_t>> wanted_links(JobState const& state, std::vector<std::string> const& ids)
{
    std::vector<std::size_t> wanted;
    if (ids.empty()) {
        for (std::size_t i = 0; i < state.scheduled(); ++i) wanted.push_back(i);
        return wanted;
    }
    for (std::string const& id : ids) {
        auto const found = state.link_index.find(id);
        if (found == state.link_index.end()) {
            std::vector<std::string> known;
            for (plant::LinkSpec const& link : state.links) known.push_back(link.id);
            return Error{Errc::not_found,
                         fmt::format("The schedule has no link \"{}\"{}", id, did_you_mean(id, known))};
        }
        wanted.push_back(found->second);
    }
    return wanted;
}

Outcome write_certificates(Making& making, std::vector<std::size_t> const& wanted)
{
    JobState const& state = making.state;
    std::map<std::string, std::vector<std::size_t>> zones;
    for (std::size_t const link : wanted) zones[state.links[link].zone].push_back(link);
    std::map<std::string, int> used_names;
    std::size_t done = 0;
    for (auto const& [zone, links] : zones) {
        std::string name = "certificates-" + file_name_of(zone);
        if (int const again = used_names[name]++; again > 0) name += fmt::format("-{}", again + 1);
        name += ".pdf";
        report::CertificateFile certificates;
        certificates.job = {state.settings.title, state.settings.site, state.settings.client,
                            state.settings.contractor};
        certificates.zone = zone;
        certificates.links = links.size();
        std::size_t asked = 0;
        certificates.link = [&, &links = links](std::size_t index) {
            // Each link is asked for once to be measured out, which is quick, and once to be drawn.
            if (asked++ >= links.size())
                making.report("Certificates", done + std::min(asked - links.size(), links.size()),
                              wanted.size());
            return certificate_of(state, making.assessment, links[index]);
        };
        TRY(add_file(making, name, [&](drawing::ByteSink const& sink) -> Result<int> {
            TRY_ASSIGN(report::Written const written,
                       report::write_certificate(certificates, making.setting, sink));
            return written.pages;
        }));
        done += links.size();
    }
    return {};
}

Outcome write_tables(Making& making)
{
    auto const sheets = tables_of(making.state, making.assessment, making.tables);
    for (report::Table const& sheet : sheets) {
        TRY(add_plain_file(making, sheet.name + ".csv",
                           [&](report::TextSink const& sink) { return report::write_csv(sheet, sink); }));
        TRY(add_plain_file(making, sheet.name + ".json",
                           [&](report::TextSink const& sink) { return report::write_json(sheet, sink); }));
    }
    TRY(report::write_workbook(making.in_folder("job.xlsx"), sheets, making.state.settings.title,
                               making.options.made));
    TRY(sync_file(making.in_folder("job.xlsx"), making.shown("job.xlsx")));
    making.package.files.push_back({"job.xlsx", 0});
    return {};
}

Outcome write_records(Making& making)
{
    return add_plain_file(making, records_name, [&](record::CopySink const& sink) {
        return record::write_copy(making.job.store(), making.ends, sink);
    });
}

Result<std::vector<ManifestFile>> hashed_files(Making const& making)
{
    std::vector<ManifestFile> files;
    for (PackageFile const& file : making.package.files) {
        TRY_ASSIGN(auto const mapped, MappedFile::open(making.in_folder(file.name)));
        files.push_back({file.name, static_cast<std::int64_t>(mapped.bytes().size()),
                         record::sha256(mapped.bytes()).hex()});
    }
    std::sort(files.begin(), files.end(),
              [](ManifestFile const& a, ManifestFile const& b) { return a.name < b.name; });
    return files;
}

/// The manifest last, over everything else; then the package goes to its place, then the record of it.
Outcome finish_package(Making& making)
{
    making.report("Signing", 0, 1);
    Manifest manifest;
    TRY_ASSIGN(auto const job_id, making.job.store().property("job-id"));
    manifest.job = job_id.value_or("");
    manifest.title = making.state.settings.title;
    manifest.program = making.actor.program;
    manifest.facts = making.state.tables.version;
    manifest.paper = report::name_of(making.options.paper);
    manifest.made = making.options.made;
    manifest.links = making.options.links;
    TRY_ASSIGN(manifest.files, hashed_files(making));
    manifest.ends = making.ends;
    TRY_ASSIGN(std::string const statement, manifest_statement(manifest));
    std::optional<Seal> seal;
    if (!making.options.draft) {
        TRY_ASSIGN(seal, making.job.seal(statement));
    }
    std::string const text = manifest_text(statement, seal ? &*seal : nullptr);
    TRY(add_plain_file(making, manifest_name, [&](auto const& sink) -> Outcome {
        sink(text);
        return {};
    }));
    making.package.manifest_sha256 = record::sha256(text).hex();
    making.package.is_signed = seal.has_value();
    TRY(making.folder.put_in_place());
    making.moment.reset(); // what comes now is a change
    if (making.options.draft) return {};
    HandOver given;
    given.manifest_sha256 = making.package.manifest_sha256;
    given.made = manifest.made;
    given.files = std::move(manifest.files);
    auto const recorded = making.job.hand_over(given);
    if (recorded) return {};
    return recorded.error().within(fmt::format(
        "The package in {} is whole and signed, but the job does not say that it was handed over; "
        "repeat this before you give it away",
        making.options.folder));
}

/// A snapshot of the file at which the job, in memory, is what the file holds.
Result<std::unique_ptr<record::Snapshot>> moment_of(Job& job)
{
    constexpr int tries = 20; // another program would have to write between the two looks each time
    for (int i = 0; i < tries; ++i) {
        TRY(job.refresh());
        TRY_ASSIGN(auto moment, job.store().snapshot());
        TRY_ASSIGN(std::string const version, record::chains_digest(job.store()));
        if (version == job.version()) return moment;
    }
    return Error{Errc::busy,
                 fmt::format("{} changes all the time; wait until the other programs have finished, then "
                             "repeat",
                             job.store().name())};
}

} // namespace

Result<Package> write_package(Job& job, Actor const& actor, PackageOptions const& options)
{
    TRY_ASSIGN(auto moment, moment_of(job));
    // Nobody signs for what may have been changed: all chains first, whatever is asked for.
    TRY_ASSIGN(record::CheckReport const records, record::check(job.store()));
    if (records.first)
        return Error{Errc::damaged,
                     fmt::format("Nothing is written: the records do not hold. {}. Use another "
                                 "copy of the job whose records are intact",
                                 records.first->text())};
    TRY_ASSIGN(Assessment const* const assessment, job.assessment());
    TRY_ASSIGN(auto const wanted, wanted_links(job.state(), options.links));
    TRY_ASSIGN(FolderBeside folder, FolderBeside::make(options.folder, [&options](std::string const& there) {
                   return require_replaceable(options.folder, there);
               }));
    Making making{job, actor, options, job.state(), *assessment, folder, std::move(moment)};
    making.tables = derive(job.state(), *assessment);
    TRY_ASSIGN(making.ends, record::heads_without_last(job.store(), kinds_left_out_at_the_end()));
    report::Setting& setting = making.setting;
    TRY_ASSIGN(setting.typeface, drawing::Typeface::load());
    setting.paper = options.paper;
    setting.locale = locale_of(making.state.settings);
    setting.made = options.made;
    setting.program = "guidepin " + actor.program;
    setting.facts_version = making.state.tables.version;
    TRY(write_summary_file(making));
    TRY(write_certificates(making, wanted));
    TRY(write_tables(making));
    TRY(write_records(making));
    TRY(finish_package(making));
    return std::move(making.package);
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "job/package.hpp"

#include "base/text.hpp"
#include "job/certificate_of.hpp"
#include "job/files.hpp"
#include "job/manifest.hpp"
#include "record/check.hpp"
#include "record/copy.hpp"
#include "record/digest.hpp"
#include "record/kind.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <map>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// A file written piece by piece, moved into place when whole.
class PieceFile
{
  public:
    explicit PieceFile(std::string path)
        : path_(std::move(path))
        , out_(std::fopen((path_ + ".part").c_str(), "wb"))
    {
    }
    PieceFile(PieceFile const&) = delete;
    PieceFile& operator=(PieceFile const&) = delete;
    ~PieceFile()
    {
        if (out_) {
            std::fclose(out_);
            std::remove((path_ + ".part").c_str());
        }
    }
    bool write(std::string_view bytes)
    {
        return out_ && std::fwrite(bytes.data(), 1, bytes.size(), out_) == bytes.size();
    }
    Outcome finish()
    {
        bool const good = out_ && std::fclose(out_) == 0;
        out_ = nullptr;
        if (!good || std::rename((path_ + ".part").c_str(), path_.c_str()) != 0) {
            return Error{Errc::environment,
                         fmt::format("{}: could not be written; is the disk full?", path_)};
        }
        return {};
    }

  private:
    std::string path_;
    std::FILE* out_;
};

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
    record::DerivedTables tables;
    std::vector<record::Head> ends; ///< of the chains in the package
    report::Setting setting;
    Package package;

    std::string in_folder(std::string const& name) const { return options.folder + "/" + name; }
    void report(std::string what, std::size_t done, std::size_t total) const
    {
        if (actor.progress) actor.progress(actor.progress_context, Progress{std::move(what), done, total});
    }
};

Outcome write_summary_file(Making& making)
{
    TRY_ASSIGN(report::Summary summary, summary_of(making.state, making.assessment, making.tables,
                                                   record::chains_digest(making.ends)));
    TRY_ASSIGN(summary.findings, listed_findings(making.state, making.assessment, making.actor.threads));
    PieceFile file(making.in_folder("summary.pdf"));
    TRY_ASSIGN(report::Written const written,
               report::write_summary(summary, making.setting,
                                     [&](std::string_view bytes) { return file.write(bytes); }));
    TRY(file.finish());
    making.package.files.push_back({"summary.pdf", written.pages});
    return {};
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
            auto const near = nearest(id, known);
            return Error{Errc::not_found,
                         fmt::format("The schedule has no link \"{}\"{}", id,
                                     near.empty() ? "" : "; did you mean " + joined(near, ", ") + "?")};
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
        PieceFile file(making.in_folder(name));
        TRY_ASSIGN(report::Written const written,
                   report::write_certificate(certificates, making.setting,
                                             [&](std::string_view bytes) { return file.write(bytes); }));
        TRY(file.finish());
        making.package.files.push_back({name, written.pages});
        done += links.size();
    }
    return {};
}

Outcome write_tables(Making& making)
{
    auto const sheets = tables_of(making.state, making.assessment, making.tables);
    for (report::Table const& sheet : sheets) {
        PieceFile csv(making.in_folder(sheet.name + ".csv"));
        TRY(report::write_csv(sheet, [&](std::string_view bytes) { return csv.write(bytes); }));
        TRY(csv.finish());
        making.package.files.push_back({sheet.name + ".csv", 0});
        PieceFile json(making.in_folder(sheet.name + ".json"));
        TRY(report::write_json(sheet, [&](std::string_view bytes) { return json.write(bytes); }));
        TRY(json.finish());
        making.package.files.push_back({sheet.name + ".json", 0});
    }
    TRY(report::write_workbook(making.in_folder("job.xlsx"), sheets, making.state.settings.title,
                               making.options.made));
    making.package.files.push_back({"job.xlsx", 0});
    return {};
}

Outcome write_records(Making& making)
{
    PieceFile file(making.in_folder(records_name));
    TRY(record::write_copy(making.job.store(), making.ends,
                           [&](std::string_view bytes) { return file.write(bytes); }));
    TRY(file.finish());
    making.package.files.push_back({records_name, 0});
    return {};
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

/// The manifest last, over everything else; then the record of it.
Outcome write_manifest(Making& making)
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
    TRY(write_file(making.in_folder(manifest_name), text));
    making.package.files.push_back({manifest_name, 0});
    making.package.manifest_sha256 = record::sha256(text).hex();
    making.package.is_signed = seal.has_value();
    if (making.options.draft) return {};
    HandOver given;
    given.manifest_sha256 = making.package.manifest_sha256;
    given.made = manifest.made;
    given.files = std::move(manifest.files);
    return making.job.hand_over(given);
}

} // namespace

Result<Package> write_package(Job& job, Actor const& actor, PackageOptions const& options)
{
    // Nobody signs for what may have been changed: all chains first, whatever is asked for.
    TRY_ASSIGN(record::CheckReport const records, record::check(job.store()));
    if (records.first)
        return Error{Errc::damaged,
                     fmt::format("Nothing is written: the records do not hold. {}. Use another "
                                 "copy of the job; \"guidepin check\" says whether it holds",
                                 records.first->text())};
    TRY_ASSIGN(Assessment const* const assessment, job.assessment());
    TRY_ASSIGN(auto const wanted, wanted_links(job.state(), options.links));
    TRY(make_folder(options.folder));
    Making making{job, actor, options, job.state(), *assessment, derive(job.state(), *assessment),
                  {},  {},    {}};
    constexpr std::array last_kinds{record::kind::handed_over};
    TRY_ASSIGN(making.ends, record::heads_without_last(job.store(), last_kinds));
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
    TRY(write_manifest(making));
    return std::move(making.package);
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
// The audit's look at the files of a package: its folder, its manifest, and where its chains of records end.
#include "base/text.hpp"
#include "intake/csv.hpp"
#include "job/files/files.hpp"
#include "job/handover/audit_looks.hpp"
#include "record/digest.hpp"

#include <algorithm>
#include <filesystem>
#include <iterator>
#include <map>

#include <fmt/format.h>

namespace guidepin::job::detail {

namespace {

void look_at_files(Folder const& folder, Manifest const& manifest, AuditReport& report)
{
    std::set<std::string> listed{manifest_name};
    for (ManifestFile const& file : manifest.files) {
        listed.insert(file.name);
        if (!folder.present.contains(file.name)) {
            add(report, "file-missing", file.name, {},
                fmt::format("{} is not in the folder; the manifest names it with {} bytes", file.name,
                            file.size));
            continue;
        }
        auto const mapped = MappedFile::open(folder.path + "/" + file.name);
        if (!mapped) {
            add(report, "file-changed", file.name, {}, mapped.error().message);
            continue;
        }
        auto const size = static_cast<std::int64_t>(mapped->bytes().size());
        if (size != file.size || record::sha256(mapped->bytes()).hex() != file.sha256)
            add(report, "file-changed", file.name, {},
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
        add(report, "file-unlisted", "", {},
            fmt::format("the manifest does not name {}: nothing says who put {} there", some_of(more),
                        more.size() == 1 ? "it" : "them"));
}

} // namespace

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
                     fmt::format("{}: this is no package: it holds no {}; name the folder of a "
                                 "package",
                                 path, records_name)};
    return folder;
}

std::optional<SealedManifest> look_at_manifest(Folder const& folder, AuditReport& report)
{
    if (!folder.present.contains(manifest_name)) {
        add(report, "manifest-missing", "", {},
            fmt::format("the folder has no {}: nothing says which files belong to the package, and who "
                        "made it",
                        manifest_name));
        return std::nullopt;
    }
    auto const bytes = read_file(folder.path + "/" + manifest_name);
    auto sealed = bytes ? read_manifest(*bytes) : Result<SealedManifest>(bytes.error());
    if (!sealed) {
        add(report, "manifest-altered", "", {}, fmt::format("{}: {}", manifest_name, sealed.error().message));
        return std::nullopt;
    }
    report.made = sealed->manifest.made;
    report.program = sealed->manifest.program;
    report.files = sealed->manifest.files.size();
    if (!sealed->seal) {
        add(report, "manifest-unsigned", "", {},
            fmt::format("{} is not signed: the folder is a draft, anybody may have changed it",
                        manifest_name));
    } else if (!sealed->holds()) {
        add(report, "manifest-altered", "", {},
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
        add(report, "records-cut", end.station, {},
            found == here.end()
                ? fmt::format("the records of station {} are missing; the manifest has {} of them",
                              end.station, end.sequence)
                : fmt::format("the records of station {} end with {}, hash {}…; the manifest says {}, {}…",
                              end.station, found->second->sequence, found->second->hash.hex().substr(0, 12),
                              end.sequence, end.hash.hex().substr(0, 12)));
    }
    if (heads.size() > sealed.manifest.ends.size())
        add(report, "records-cut", "", {},
            fmt::format("the records are of {} station{}, the manifest names {}", heads.size(),
                        plural_ending(heads.size()), sealed.manifest.ends.size()));
    if (sealed.holds() && !here.contains(sealed.seal->station))
        add(report, "signed-by-stranger", sealed.seal->station, {},
            fmt::format("station {} signed the package and wrote none of its records", sealed.seal->station));
    return {};
}

} // namespace guidepin::job::detail

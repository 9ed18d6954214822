// SPDX-License-Identifier: Apache-2.0
// room: job
// at least 8 inputs (each is a whole audit)
// A whole package with files changed, exchanged, left out or put in: the audit ends with a report or an error
// in words, and never finds a signed package in order that is not the one that was handed over.
#include "small_job.hpp"

#include "job/entry/manifest.hpp"
#include "job/handover/audit.hpp"
#include "job/handover/package.hpp"

#include <cstdint>
#include <map>
#include <vector>

#include <fuzzer/FuzzedDataProvider.h>

using namespace guidepin;

namespace {

using Files = std::map<std::string, std::string>; ///< by name

struct Start
{
    small_job::Folder folder;
    job::Actor actor = small_job::actor(folder);
    std::string const path = folder.file("changed");
    std::vector<std::string> names;
    Files whole;
    std::string statement;

    Start()
    {
        std::string const made = folder.file("job");
        small_job::make(made, actor);
        auto job = small_job::need(job::Job::open(made, actor, true));
        job::PackageOptions options;
        options.folder = folder.file("package");
        options.made = {small_job::noon().now_ms(), 0};
        small_job::need(job::write_package(job, actor, options));
        for (auto const& entry : std::filesystem::directory_iterator(options.folder)) {
            names.push_back(entry.path().filename());
            whole[names.back()] = small_job::content_of(entry.path());
        }
        std::sort(names.begin(), names.end());
        statement = small_job::need(job::read_manifest(whole[job::manifest_name])).statement;
        auto const sound = small_job::need(job::audit(options.folder, actor));
        if (sound.count(job::Weight::refutes) > 0 || sound.signed_by.empty()) std::abort();
        std::filesystem::create_directories(path);
    }
};

/// Changes to the whole package, as the input says.
Files changed(Start const& start, FuzzedDataProvider& input)
{
    Files files = start.whole;
    while (input.remaining_bytes() > 0) {
        std::string const name =
            start.names[input.ConsumeIntegralInRange<std::size_t>(0, start.names.size() - 1)];
        std::string& file = files[name];
        switch (input.ConsumeIntegralInRange(0, 6)) {
        case 0:
            files.erase(name);
            break;
        case 1:
            file.resize(std::min(file.size(), std::size_t{input.ConsumeIntegral<std::uint32_t>() % 65536}));
            break;
        case 2:
            file = input.ConsumeRandomLengthString(4096);
            break;
        case 3:
            file += input.ConsumeRandomLengthString(256);
            break;
        case 4: {
            std::string const& other =
                start.names[input.ConsumeIntegralInRange<std::size_t>(0, start.names.size() - 1)];
            file = start.whole.at(other);
            break;
        }
        default: {
            std::size_t const at = file.empty() ? 0 : input.ConsumeIntegral<std::uint32_t>() % file.size();
            std::string const bytes = input.ConsumeRandomLengthString(64);
            file.replace(at, std::min(bytes.size(), file.size() - at), bytes);
        }
        }
    }
    return files;
}

bool is_as_handed_over(Start const& start, Files const& files)
{
    for (auto const& [name, bytes] : start.whole) {
        auto const found = files.find(name);
        if (found == files.end()) return false;
        if (name == job::manifest_name) {
            // It may be written in another way as long as it says the same.
            auto const read = job::read_manifest(found->second);
            if (!read || read->statement != start.statement) return false;
        } else if (found->second != bytes) {
            return false;
        }
    }
    return true;
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    static Start const start;
    FuzzedDataProvider input(data, size);
    Files const files = changed(start, input);
    for (auto const& entry : std::filesystem::directory_iterator(start.path))
        std::filesystem::remove(entry.path());
    for (auto const& [name, bytes] : files) small_job::write(start.path + "/" + name, bytes);
    auto const report = job::audit(start.path, start.actor);
    if (!report) {
        if (report.error().code == Errc::internal || report.error().message.empty()) std::abort();
        return 0;
    }
    bool const in_order = report->count(job::Weight::refutes) == 0 && !report->signed_by.empty();
    if (in_order != is_as_handed_over(start, files)) {
        std::fprintf(stderr, "%s\n",
                     in_order ? "A changed package is found in order"
                              : "The package as it was handed over is refuted");
        std::abort();
    }
    return 0;
}

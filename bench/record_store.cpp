// SPDX-License-Identifier: Apache-2.0
// room: record
// What it costs to keep records: 21,000 link-tested records of 48 readings each, written as canonical JSON,
// stored, read back, checked. Usage: bench_record_store [RECORDS] [FOLDER]
#include "record/canonical_json.hpp"
#include "record/check.hpp"
#include "record/kind.hpp"

#include <chrono>
#include <cstdlib>
#include <filesystem>

#include <fmt/format.h>

using namespace guidepin;
using namespace guidepin::record;

namespace {

class Stopwatch
{
  public:
    double lap()
    {
        auto const now = std::chrono::steady_clock::now();
        double const seconds = std::chrono::duration<double>(now - last_).count();
        last_ = now;
        return seconds;
    }

  private:
    std::chrono::steady_clock::time_point last_ = std::chrono::steady_clock::now();
};

std::string body(int number)
{
    JsonWriter json;
    json.begin_object()
        .key("link")
        .string(fmt::format("HDA-3/{:02}/A{:05}", number % 48, number))
        .key("readings")
        .begin_array();
    for (int i = 0; i < 48; ++i) {
        json.begin_object().key("db").number(((number * 48 + i) * 7919 % 900) / 1000.0);
        json.key("far")
            .integer(12 - i % 12)
            .key("nm")
            .integer(i < 24 ? 850 : 1300)
            .key("pos")
            .integer(i % 12 + 1);
        json.key("t").integer(1'772'000'000'000 + number * 60'000 + i).end_object();
    }
    json.end_array().end_object();
    return json.finish().value();
}

int fail(Error const& error)
{
    fmt::print(stderr, "{}\n", error.message);
    return exit_code(error.code);
}

} // namespace

int main(int argc, char** argv)
{
    int const count = argc > 1 ? std::atoi(argv[1]) : 21'000;
    std::string const folder = argc > 2 ? argv[2] : std::filesystem::temp_directory_path().string();
    std::string const path = folder + "/bench_record_store.job";
    std::filesystem::remove(path);
    StationKey const key = StationKey::generate();
    Maker const maker{"0.1.0", "bench"};

    Stopwatch watch;
    std::vector<Draft> drafts;
    std::size_t bytes = 0;
    for (int i = 0; i < count; ++i) {
        drafts.push_back(
            {std::string(kind::link_tested), Instant{1'772'000'000'000 + i, 60}, "bench", body(i)});
        bytes += drafts.back().body.size();
    }
    double const megabytes = static_cast<double>(bytes) / 1e6;
    auto const row = [&](char const* what, double seconds) {
        fmt::print("{:<28}{:8.3f} s {:8.0f} MB/s\n", what, seconds, megabytes / seconds);
    };
    fmt::print("{} records, {:.1f} MB of canonical JSON\n", count, megabytes);
    row("write canonical JSON", watch.lap());

    for (Draft const& draft : drafts) {
        if (auto const good = require_canonical(draft.body); !good) return fail(good.error());
    }
    row("require canonical", watch.lap());
    Sha256 hash;
    for (Draft const& draft : drafts) hash.update(draft.body);
    (void)hash.finish();
    row("SHA-256", watch.lap());

    if (auto const created = create_sqlite(path, CreateOptions{maker, "bench", "{}"}); !created)
        return fail(created.error());
    {
        auto const store = open_sqlite(path, OpenOptions{maker, OpenOptions::Access::write, &key, 1000});
        if (!store) return fail(store.error());
        watch.lap();
        auto const write = (*store)->begin_write();
        if (!write) return fail(write.error());
        if (auto const appended = (*write)->append(drafts); !appended) return fail(appended.error());
        row("append (hash, insert)", watch.lap());
        if (auto const committed = (*write)->commit(); !committed) return fail(committed.error());
        row("commit (verify, sign, sync)", watch.lap());
        std::size_t seen = 0;
        auto const visited = (*store)->visit({}, [&](RecordView const& record) -> Outcome {
            seen += record.body.size();
            return {};
        });
        if (!visited) return fail(visited.error());
        row("read by time", watch.lap());
        std::size_t members = 0;
        for (Draft const& draft : drafts) members += parse_json(draft.body)->object()->size();
        row("parse to values", watch.lap());
        fmt::print(stderr, "({} bytes, {} members)\n", seen, members);
    }
    watch.lap();
    auto const store = open_sqlite(path, OpenOptions{maker, OpenOptions::Access::read, nullptr, 1000});
    auto const report = check(**store);
    if (!report) return fail(report.error());
    row("check", watch.lap());
    if (report->first) return fail(Error{Errc::damaged, report->first->text()});
    std::filesystem::remove(path);
    return 0;
}

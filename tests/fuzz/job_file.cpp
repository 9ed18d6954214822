// SPDX-License-Identifier: Apache-2.0
// room: job
// A whole job file with bytes changed anywhere (its header, pages, records), cut off, or any bytes at all in
// place of it: opening, walking, checking and loading it ends with a value or an error in words, never in a
// crash or in "a bug of ours"; and what still holds by `check` says the same as before.
#include "small_job.hpp"

#include "record/check.hpp"
#include "record/copy.hpp"

#include <cstdint>

#include <fuzzer/FuzzedDataProvider.h>

using namespace guidepin;

namespace {

struct Start
{
    small_job::Folder folder;
    std::string whole, said;
    std::string const path = folder.file("changed");

    Start()
    {
        std::string const made = folder.file("job");
        small_job::make(made, small_job::actor(folder));
        whole = small_job::content_of(made);
        said = words_of(*small_job::need(opened(made)));
    }
    static Result<std::unique_ptr<record::Store>> opened(std::string const& path)
    {
        record::OpenOptions open;
        open.maker = {"0.1.0", "facts"};
        open.wait_ms = 0;
        return record::open_sqlite(path, open);
    }
    static std::string words_of(record::Store const& store)
    {
        auto const heads = store.latest_heads();
        if (!heads) return heads.error().message;
        std::string text;
        auto const written = record::write_copy(store, *heads, [&](std::string_view bytes) {
            text += bytes;
            return true;
        });
        return written ? text : written.error().message;
    }
};

void in_words(Error const& error)
{
    if (error.code != Errc::internal && !error.message.empty()) return;
    std::fprintf(stderr, "An error that says that it is a bug of ours: %s\n", error.message.c_str());
    std::abort();
}

/// A start and changes to it, as the input says.
std::string changed(std::string whole, FuzzedDataProvider& input)
{
    while (input.remaining_bytes() > 0) {
        // Most of what matters stands at the start of a page and in the first two.
        auto const page = std::size_t{input.ConsumeIntegral<std::uint8_t>()} * 16384;
        auto const offset = page + input.ConsumeIntegralInRange<std::size_t>(0, 16383);
        switch (input.ConsumeIntegralInRange(0, 5)) {
        case 0:
            if (offset < whole.size()) whole.resize(offset);
            break;
        case 1:
            whole.append(input.ConsumeRandomLengthString(512));
            break;
        case 2: // two pages change places
            if (std::size_t const other = std::size_t{input.ConsumeIntegral<std::uint8_t>()} * 16384;
                page + 16384 <= whole.size() && other + 16384 <= whole.size()) {
                std::string const kept = whole.substr(page, 16384);
                whole.replace(page, 16384, whole.substr(other, 16384));
                whole.replace(other, 16384, kept);
            }
            break;
        default: {
            std::string const bytes = input.ConsumeRandomLengthString(64);
            if (offset + bytes.size() <= whole.size()) whole.replace(offset, bytes.size(), bytes);
        }
        }
    }
    return whole;
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    static Start const start;
    FuzzedDataProvider input(data, size);
    bool const any_bytes = input.ConsumeBool();
    std::string const bytes = any_bytes ? input.ConsumeRemainingBytesAsString() : changed(start.whole, input);
    for (char const* ending : {"-wal", "-shm"}) ::unlink((start.path + ending).c_str());
    small_job::write(start.path, bytes);
    auto const store = Start::opened(start.path);
    if (!store) {
        in_words(store.error());
        return 0;
    }
    auto const visited = (*store)->visit({}, [](record::RecordView const&) -> Outcome { return {}; });
    if (!visited) in_words(visited.error());
    auto const report = record::check(**store);
    if (!report) in_words(report.error());
    auto const container = (*store)->verify_container();
    if (!container) in_words(container.error());
    auto const state = job::load_state(**store);
    if (!state) in_words(state.error());
    if (report && !report->first && container && Start::words_of(**store) != start.said &&
        report->records > 0) {
        std::fprintf(stderr, "The records hold, and say something else\n");
        std::abort();
    }
    return 0;
}

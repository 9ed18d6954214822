// SPDX-License-Identifier: Apache-2.0
// room: base intake verdict
// bench_intake READINGS.csv [THREADS [TIMES]]: seconds to read a file of readings into columns, the best of
// TIMES.
#include "base/text.hpp"
#include "intake/readings.hpp"

#include <chrono>
#include <cstdio>
#include <fcntl.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <fmt/format.h>

int main(int argc, char** argv)
{
    if (argc < 2) {
        std::fputs("usage: bench_intake READINGS.csv [THREADS [TIMES]]\n", stderr);
        return 2;
    }
    guidepin::intake::ReadOptions options;
    options.name = argv[1];
    options.threads = argc > 2 ? static_cast<int>(guidepin::parse_integer(argv[2]).value_or(2)) : 2;
    auto const times = argc > 3 ? guidepin::parse_integer(argv[3]).value_or(1) : 5;
    double best = 1e9;
    std::size_t rows = 0;
    std::size_t bytes = 0;
    for (int i = 0; i < times; ++i) {
        auto const start = std::chrono::steady_clock::now();
        int const file = ::open(argv[1], O_RDONLY);
        struct stat about
        {
        };
        if (file < 0 || ::fstat(file, &about) != 0 || about.st_size == 0) {
            std::fprintf(stderr, "cannot read %s\n", argv[1]);
            return 4;
        }
        bytes = static_cast<std::size_t>(about.st_size);
        void* const memory = ::mmap(nullptr, bytes, PROT_READ, MAP_PRIVATE | MAP_POPULATE, file, 0);
        if (memory == MAP_FAILED) return 4;
        auto const found =
            guidepin::intake::read_readings({static_cast<char const*>(memory), bytes}, options);
        std::chrono::duration<double> const seconds = std::chrono::steady_clock::now() - start;
        ::munmap(memory, bytes);
        ::close(file);
        if (!found || found->refused) {
            std::fputs((found ? guidepin::intake::refusal(argv[1], found->bad, found->rows) : found.error())
                           .message.c_str(),
                       stderr);
            return 3;
        }
        rows = found->content.size();
        best = std::min(best, seconds.count());
    }
    fmt::print("{} rows, {} bytes, {} threads: {:.4f} s, {:.2f} million rows/s\n", rows, bytes,
               options.threads, best, static_cast<double>(rows) / best / 1e6);
    return 0;
}

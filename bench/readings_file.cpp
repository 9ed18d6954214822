// SPDX-License-Identifier: Apache-2.0
// room: base
// bench_readings_file ROWS READINGS.csv [SCHEDULE.csv]: a file of readings in the plain layout, always the
// same bytes for the same number of rows: links of 12 positions, two wavelengths, both directions, 48 rows a
// link, in the order in which a crew measures. The schedule has one row for each of its links.
#include "base/text.hpp"

#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>

#include <fmt/format.h>

namespace {

/// SplitMix64 (G. Steele and others, 2014): a stream of numbers that needs no library.
struct Stream
{
    std::uint64_t state = 20260302;
    std::uint64_t next()
    {
        std::uint64_t z = (state += 0x9E3779B97F4A7C15ULL);
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
        return z ^ (z >> 31);
    }
    int below(int limit) { return static_cast<int>(next() % static_cast<std::uint64_t>(limit)); }
};

bool write(char const* path, std::string const& text)
{
    std::FILE* const file = std::fopen(path, "wb");
    if (file == nullptr) return false;
    bool const whole = std::fwrite(text.data(), 1, text.size(), file) == text.size();
    return std::fclose(file) == 0 && whole;
}

} // namespace

int main(int argc, char** argv)
{
    auto const rows = argc >= 3 ? guidepin::parse_integer(argv[1]) : std::nullopt;
    if (!rows || *rows < 1) {
        std::fputs("usage: bench_readings_file ROWS READINGS.csv [SCHEDULE.csv]\n", stderr);
        return 2;
    }
    std::string readings = "link,launch_end,position,far_position,wavelength_nm,attenuation_db,length_m,"
                           "taken_at,reference,operator\n";
    std::string schedule = "link,zone,end_a,end_b,category,length_m,family,fibres,trunk_type\n";
    readings.reserve(static_cast<std::size_t>(*rows) * 84 + 200);
    Stream stream;
    std::int64_t written = 0;
    for (int link = 0; written < *rows; ++link) {
        double const length = 20 + stream.below(1300) / 10.0;
        schedule +=
            fmt::format("H{:02}-R{:02}-{:05},Hall {},H{:02}/{:05}/A,H{:02}/{:05}/B,OM4,{},mpo-12,12,B\n",
                        link / 2000 % 100, link / 100 % 20, link, link / 2000, link / 2000, link, link / 2000,
                        link, guidepin::number_text(length));
        for (int end = 0; end < 2; ++end) {
            for (int wavelength : {850, 1300}) {
                // One press of the button measures the row: twelve readings of one second.
                int const second = (link * 4 + end * 2 + (wavelength == 850 ? 0 : 1)) * 9;
                for (int position = 1; position <= 12 && written < *rows; ++position, ++written) {
                    int const hundredths = 10 + stream.below(25) + stream.below(25) +
                                           (stream.below(400) == 0 ? 60 : 0) +
                                           (stream.below(5000) == 0 ? 150 : 0);
                    fmt::format_to(std::back_inserter(readings),
                                   "H{:02}-R{:02}-{:05},{},{},{},{},{}.{:02},{},2026-03-{:02}T{:02}:{:02}:{:"
                                   "02}+01:00,R{:03},Crew {}\n",
                                   link / 2000 % 100, link / 100 % 20, link, end == 0 ? 'a' : 'b', position,
                                   13 - position, wavelength, hundredths / 100, hundredths % 100,
                                   guidepin::number_text(length), 1 + second / 86400 % 28, second / 3600 % 24,
                                   second / 60 % 60, second % 60, link / 60 % 1000, link % 6 + 1);
                }
            }
        }
    }
    if (!write(argv[2], readings) || (argc > 3 && !write(argv[3], schedule))) {
        std::fprintf(stderr, "cannot write %s\n", argv[2]);
        return 4;
    }
    return 0;
}

// SPDX-License-Identifier: Apache-2.0
// What a program of Poppler (pdftotext, pdfinfo, …) says about a PDF file.
#pragma once

#include <cstdio>
#include <fstream>
#include <string>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "scratch_folder.hpp"

namespace guidepin::support {

/// Runs `program` on a file with these bytes; `tail` follows the name of the file on the command line.
inline std::string told_by(std::string const& program, std::string const& bytes, std::string const& tail)
{
    ScratchFolder const folder;
    std::string const path = folder.file("told.pdf");
    std::ofstream(path, std::ios::binary) << bytes;
    std::string out;
    if (FILE* const pipe = popen(fmt::format("{} {} {}", program, path, tail).c_str(), "r")) {
        char buffer[4096];
        while (std::size_t const n = fread(buffer, 1, sizeof buffer, pipe)) out.append(buffer, n);
        EXPECT_EQ(pclose(pipe), 0) << program << ": " << out;
    }
    return out;
}

} // namespace guidepin::support

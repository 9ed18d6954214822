// SPDX-License-Identifier: Apache-2.0
// Oracle: Poppler's pdftotext, pdfinfo and pdffonts read back what was written; ISO 216 and 8.5 x 11 in
// sizes. A guard: the same input gives the same bytes.
#include "report_samples.hpp"

#include "base/text.hpp"

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>

#include <sys/resource.h>
#include <unistd.h>

#include <gtest/gtest.h>

#include "poppler.hpp"

using namespace guidepin;
using namespace guidepin::report;

namespace certificate_test {

std::shared_ptr<drawing::Typeface> typeface()
{
    static std::shared_ptr<drawing::Typeface> const loaded = drawing::Typeface::load().value();
    return loaded;
}

std::string pdf_of(std::vector<LinkCertificate> const& links, Setting const& setting, Written* told = nullptr)
{
    CertificateFile file;
    file.job = samples::job_head();
    file.zone = "Floor 2";
    file.links = links.size();
    file.sources = samples::cited();
    file.link = [&](std::size_t i) -> Result<LinkCertificate> { return links[i]; };
    std::string bytes;
    Result<Written> const written = write_certificate(file, setting, [&](std::string_view part) {
        bytes += part;
        return true;
    });
    EXPECT_TRUE(written) << written.error().message;
    if (written && told) *told = *written;
    return bytes;
}

std::string text_of(std::string const& bytes)
{
    return support::told_by("pdftotext -layout", bytes, "-");
}

#define EXPECT_SAYS(text, wanted)                                                                            \
    EXPECT_NE((text).find(wanted), std::string::npos) << "not found: " << (wanted) << "\nin:\n" << (text)

LinkCertificate fitted_to(LinkCertificate c, std::string const& family, std::string const& fibres,
                          std::size_t wavelengths)
{
    c.link.family = plant::parse_family(family).value();
    c.link.fibres = plant::parse_occupancy(fibres, c.link.family).value();
    c.positions = plant::positions_of(c.link.fibres);
    c.wavelengths.resize(wavelengths);
    for (CertifiedWavelength& w : c.wavelengths) {
        std::vector<CertifiedReading> const before = w.readings;
        w.readings.clear();
        for (std::size_t i = 0; i < c.positions.size(); ++i) w.readings.push_back(before[i % before.size()]);
    }
    return c;
}

TEST(Certificate, SameInputSameBytes)
{
    std::vector<LinkCertificate> const links{samples::certificate(14), samples::certificate(15, false)};
    std::string const first = pdf_of(links, samples::setting(typeface()));
    sleep(1); // the machine's clock moves on
    EXPECT_EQ(first, pdf_of(links, samples::setting(typeface())));
}

TEST(Certificate, SaysNumbersReasonsAndWhoDecides)
{
    std::string const text = text_of(pdf_of({samples::certificate(14)}, samples::setting(typeface())));
    for (char const* const wanted :
         {"F2-014", "fail", "Position 7 at 850 nm loses 0.91 dB; its limit is 0.69 dB.", "\u22120.22",
          "850 nm in dB: limit 0.69 †, u 0.045", "encircled flux", "simple acceptance (JCGM",
          "106:2012, 8.2)", "EXAMPLE-100, edition 2 (2020)", "3 and 4 exchanged", "31.4 m measured",
          "from memory", "Rests on unconfirmed values", "TRC-0412", "not supported", "dark (6)", "Tested by",
          "Accepted by", "Acceptance is the decision of the qualified person who signs"}) {
        EXPECT_SAYS(text, wanted);
    }
    // The hash in print, as sixteen digits a line.
    std::string const hash = samples::hash_of(14);
    for (std::size_t i = 0; i < 64; i += 16) EXPECT_SAYS(text, hash.substr(i, 16));
    EXPECT_SAYS(text, "1 of 3");
}

TEST(Certificate, EveryReadingStandsInTheText)
{
    LinkCertificate const c = samples::certificate(14, false);
    std::string const text = text_of(pdf_of({c}, samples::setting(typeface())));
    Locale const locale;
    for (std::size_t i = 0; i < c.positions.size(); ++i) {
        // One line a position: attenuation and margin of both wavelengths in order.
        std::vector<std::string> wanted;
        for (CertifiedWavelength const& w : c.wavelengths) {
            wanted.push_back(locale.decibel(w.readings[i].attenuation));
            wanted.push_back(locale.decibel(w.readings[i].margin));
        }
        bool found = false;
        for (std::string_view const line : split(text, '\n')) {
            if (parse_integer(trimmed(line).substr(0, trimmed(line).find(' '))) != c.positions[i]) continue;
            std::size_t at = 0;
            bool all = true;
            for (std::string const& number : wanted) {
                at = line.find(number, at);
                if (at == std::string_view::npos) {
                    all = false;
                    break;
                }
                at += number.size();
            }
            found = found || all;
        }
        EXPECT_TRUE(found) << "position " << c.positions[i] << ": " << joined(wanted, " ") << "\n" << text;
    }
}

TEST(Certificate, PagesPaperAndFonts)
{
    for (Paper const paper : {Paper::a4, Paper::letter}) {
        Setting setting = samples::setting(typeface());
        setting.paper = paper;
        Written told;
        std::string const pdf =
            pdf_of({samples::certificate(14), samples::certificate(15, false)}, setting, &told);
        EXPECT_EQ(told.bytes, pdf.size());
        std::string const info = support::told_by("pdfinfo -isodates", pdf, "");
        EXPECT_SAYS(info, fmt::format("Pages:           {}\n", told.pages));
        EXPECT_SAYS(info, paper == Paper::a4 ? "(A4)" : "(letter)");
        EXPECT_SAYS(info, "2026-03-04T17:30:00+01");
        std::string const fonts = support::told_by("pdffonts", pdf, "");
        EXPECT_SAYS(fonts, "B612");
        auto const lines = split(fonts, '\n');
        ASSERT_GT(lines.size(), 3u);
        for (std::size_t i = 2; i < lines.size(); ++i) {
            if (lines[i].empty()) continue;
            EXPECT_NE(lines[i].find("yes yes"), std::string_view::npos) << "not embedded: " << lines[i];
        }
        std::string const text = text_of(pdf);
        EXPECT_SAYS(text, fmt::format("1 of {}", told.pages));
        EXPECT_SAYS(text, fmt::format("{0} of {0}", told.pages));
        EXPECT_SAYS(support::told_by("pdfinfo -dests", pdf, ""), "link-2");
    }
}

TEST(Certificate, FacesOfAllSizesAndOddNames)
{
    struct Case
    {
        char const* family;
        char const* fibres;
        std::size_t wavelengths;
        int most_pages;
    };
    for (Case const& wanted : {Case{"mpo-12", "8-outer", 2, 3}, Case{"mpo-12", "12", 1, 3},
                               Case{"mpo-16", "16", 1, 3}, Case{"mpo-24", "24", 2, 4}}) {
        LinkCertificate c =
            fitted_to(samples::certificate(14), wanted.family, wanted.fibres, wanted.wavelengths);
        c.link.id = "HARBOUR-HALL/ROW-017/RACK-2204/PANEL-B/PORT-0412/" + std::string(120, 'W');
        c.link.a.name = std::string(200, 'x');
        Written told;
        std::string const text = text_of(pdf_of({c}, samples::setting(typeface()), &told));
        EXPECT_LE(told.pages, wanted.most_pages + 1) << wanted.family << " with a sheet of sources";
        EXPECT_SAYS(text, fmt::format("{}, {}", plant::words_of(c.link.family), "flat"));
    }
}

TEST(Certificate, HeldAndOpenAreWords)
{
    LinkCertificate c = samples::certificate(14, false);
    c.state = verdict::State::held;
    c.wavelengths[0].readings[2].state = verdict::State::held;
    c.wavelengths[1].readings[4] = CertifiedReading{};
    std::string const text = text_of(pdf_of({c}, samples::setting(typeface())));
    EXPECT_SAYS(text, "held");
    EXPECT_SAYS(text, "open");
}

TEST(Certificate, AFullDiskStopsAndABrokenProviderIsHeard)
{
    CertificateFile file;
    file.links = 1;
    file.link = [](std::size_t) -> Result<LinkCertificate> { return samples::certificate(14); };
    auto const full =
        write_certificate(file, samples::setting(typeface()), [](std::string_view) { return false; });
    ASSERT_FALSE(full);
    EXPECT_EQ(full.error().code, Errc::environment);
    file.link = [](std::size_t) -> Result<LinkCertificate> {
        return Error{Errc::damaged, "record 12 does not hold"};
    };
    auto const broken =
        write_certificate(file, samples::setting(typeface()), [](std::string_view) { return true; });
    ASSERT_FALSE(broken);
    EXPECT_EQ(broken.error().code, Errc::damaged);
}

TEST(Certificate, MemoryDoesNotGrowWithTheLinks)
{
    auto const write = [](std::size_t links) {
        CertificateFile file;
        file.job = samples::job_head();
        file.links = links;
        file.link = [](std::size_t i) -> Result<LinkCertificate> {
            return samples::certificate(static_cast<int>(i % 900), i % 7 == 0);
        };
        auto const written =
            write_certificate(file, samples::setting(typeface()), [](std::string_view) { return true; });
        EXPECT_TRUE(written);
    };
    auto const peak_kib = [] {
        rusage usage{};
        getrusage(RUSAGE_SELF, &usage);
        return usage.ru_maxrss;
    };
    write(20);
    long const before = peak_kib();
    write(120);
    long const grown = peak_kib() - before;
    // The writer keeps the place of each object and a line of the contents: a few KiB a page, not the pages.
    EXPECT_LT(grown, 100 * 64) << "KiB for a hundred more links";
    RecordProperty("kib_per_link", static_cast<int>(grown / 100));
    fmt::print("{} KiB a link\n", grown / 100);
}

} // namespace certificate_test

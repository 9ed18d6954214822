// SPDX-License-Identifier: Apache-2.0
// The certificate: one link or a zone of links, one PDF. Plain values in, pages out; nothing is judged here.
// Verified by: tests/golden/report/certificate.cpp (text through pdftotext, page count, bytes equal on a
// second run, bounded memory over many links).
#pragma once

#include "drawing/charts.hpp"
#include "drawing/light_path.hpp"
#include "drawing/polarity_map.hpp"
#include "loss/limit.hpp"
#include "plant/link.hpp"
#include "report/common.hpp"
#include "verdict/conformity.hpp"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::report {

/// One position at one wavelength, as judged.
struct CertifiedReading
{
    std::optional<Decibel> attenuation;    ///< what is judged (mean of both directions where both are there)
    std::optional<Decibel> a_to_b, b_to_a; ///< as measured from either end; shown when both are there
    std::optional<Decibel> margin;         ///< limit − attenuation
    std::optional<double> standard_uncertainty;        ///< dB
    std::optional<Probability> conformity;             ///< p_c
    std::optional<double> expected_low, expected_high; ///< prediction band, dB
    verdict::State state = verdict::State::open;
};

struct CertifiedWavelength
{
    Nanometres wavelength;
    loss::Limit limit;
    std::string launch; ///< "encircled flux", may be empty
    std::optional<double> coverage_k;
    std::vector<CertifiedReading> readings; ///< in the order of LinkCertificate::positions
};

struct CertifiedApplication
{
    std::string name;                                 ///< "100GBASE-SR4"
    std::string verdict;                              ///< "supported", "not supported", "cannot be said"
    drawing::Standing sign = drawing::Standing::pass; ///< pass, fail, open
    std::string reason;                               ///< "1.02 dB of 1.50 dB; 62 m of 100 m"
};

struct EarlierTest
{
    Instant taken;
    std::string by;
    verdict::State state = verdict::State::open;
    std::string worst; ///< "position 7, 850 nm: 0.91 dB"
};

struct LinkCertificate
{
    plant::LinkSpec link;
    verdict::State state = verdict::State::open;
    std::string verdict_reason; ///< one sentence: "position 7 at 850 nm loses 0.91 dB of 0.62 dB allowed"
    std::string decision_rule;  ///< "simple acceptance (JCGM 106:2012, 8.2)"
    std::string rule_set;       ///< title with edition
    std::string method;         ///< "one-cord reference"
    std::vector<int> positions; ///< used ones, in order
    std::vector<CertifiedWavelength> wavelengths;

    std::optional<int> worst_position;
    std::optional<Nanometres> worst_wavelength;
    std::optional<Decibel> worst_margin;

    std::optional<Metres> measured_length;
    std::string length_verdict; ///< "31.2 m measured, 30 m drawn: agrees"; may be empty
    drawing::Standing length_sign = drawing::Standing::open;
    std::string polarity_verdict; ///< "class B as expected", "3 and 4 exchanged: crossed fibres"
    drawing::Standing polarity_sign = drawing::Standing::open;
    std::optional<drawing::PolarityMap> polarity;
    std::optional<drawing::LightPath> light_path;
    std::vector<CertifiedApplication> applications;

    std::vector<Said> reference;   ///< id, taken when, method, cords with serials, source, meter, calibration
    std::vector<Said> measurement; ///< operator, station, time, launch ends, program …
    std::vector<EarlierTest> earlier;
    std::vector<std::string> remarks; ///< "position 3 reads −0.02 dB: see the reference"
    std::vector<Unconfirmed> unconfirmed;
    std::string record_hash; ///< SHA-256 in hex: in the QR code and in print
    std::string record_id;
};

/// Gives link `index` when asked; asked more than once for each, in order, so that one at a time is in
/// memory.
using LinkProvider = std::function<Result<LinkCertificate>(std::size_t index)>;

struct CertificateFile
{
    JobHead job;
    std::string zone; ///< of all links, or empty
    std::size_t links = 0;
    LinkProvider link;
    std::vector<Cited> sources;
};

struct Written
{
    int pages = 0;
    std::uint64_t bytes = 0;
};

/// Writes the PDF to `sink`, page by page. With more than one link it begins with contents.
Result<Written> write_certificate(CertificateFile const& file, Setting const& setting,
                                  drawing::ByteSink const& sink);

} // namespace guidepin::report

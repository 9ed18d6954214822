// SPDX-License-Identifier: Apache-2.0
// An invented job for the tests of documents.
#pragma once

#include "drawing_samples.hpp"

#include "report/certificate.hpp"
#include "report/job_card.hpp"
#include "report/summary.hpp"

#include <string>

namespace guidepin::samples {

using namespace guidepin::report;

inline Setting setting(std::shared_ptr<Typeface> typeface)
{
    Setting s;
    s.typeface = std::move(typeface);
    s.made = *parse_instant("2026-03-04T17:30:00+01:00");
    s.program = "guidepin 0.1.0";
    s.facts_version = "0f3a5c7e9b1d2468";
    return s;
}

inline JobHead job_head()
{
    return {"Harbour Hall, phase 2", "Harbour Hall, north wing", "Harbour Hall Operating", "Fibre Crew East"};
}

inline std::string hash_of(int number)
{
    std::string hash;
    for (int i = 0; i < 64; ++i) hash += "0123456789abcdef"[(i * 7 + number * 3 + i * i) % 16];
    return hash;
}

inline loss::Limit limit_of(int wavelength)
{
    loss::Limit limit;
    double const alpha = wavelength == 850 ? 3.0 : 1.5;
    facts::Source const source{"EXAMPLE-100", "2 (2020)", "5.2"};
    limit.lines = {{fmt::format("Cable, OM4 at {} nm", wavelength), 0.031, "dB/km", alpha,
                    Decibel{0.031 * alpha}, "a", source, facts::Basis::standard, ""},
                   {"End connections, reference-grade cords", 2, "dB", 0.35, Decibel{0.70}, "b", source,
                    facts::Basis::memory, ""},
                   {"Joints inside the reference, taken out", -1, "dB", 0.10, Decibel{-0.10}, "c", source,
                    facts::Basis::secondary, ""}};
    limit.total = Decibel{0.031 * alpha + 0.6};
    limit.rests_on_memory = true;
    return limit;
}

inline LinkCertificate certificate(int number = 14, bool fails = true)
{
    LinkCertificate c;
    c.link.id = fmt::format("F2-{:03}", number);
    c.link.zone = "Floor 2";
    c.link.a = {"HDA-3/07/A12", plant::Pins::unpinned, plant::EndFitting::opposed_adapter};
    c.link.b = {"EDA-1/22/B03", plant::Pins::unpinned, plant::EndFitting::opposed_adapter};
    c.link.category = "OM4";
    c.link.length = Metres{31};
    c.link.family = plant::parse_family("mpo-12").value();
    c.link.fibres = plant::parse_occupancy("12", c.link.family).value();
    c.link.trunk_type = "B";
    c.state = fails ? verdict::State::fail : verdict::State::pass;
    c.verdict_reason =
        fails ? "Position 7 at 850 nm loses 0.91 dB; its limit is 0.69 dB."
              : "All 12 positions lie within their limits at both wavelengths; polarity and length agree.";
    c.decision_rule = "simple acceptance (JCGM 106:2012, 8.2)";
    c.rule_set = "EXAMPLE-100, edition 2 (2020)";
    c.method = "one-cord reference, reference-grade cords";
    for (int p = 1; p <= 12; ++p) c.positions.push_back(p);
    for (int const nm : {850, 1300}) {
        CertifiedWavelength w;
        w.wavelength = Nanometres{nm};
        w.limit = limit_of(nm);
        w.launch = "encircled flux";
        w.coverage_k = 2;
        for (int p = 1; p <= 12; ++p) {
            CertifiedReading r;
            double a = 0.2 + 0.017 * ((p * 5 + number) % 12);
            if (fails && p == 7) a = nm == 850 ? 0.91 : 0.74;
            r.attenuation = Decibel{a};
            r.a_to_b = Decibel{a + 0.01};
            r.b_to_a = Decibel{a - 0.01};
            r.margin = w.limit.total - *r.attenuation;
            r.standard_uncertainty = 0.045;
            r.conformity =
                verdict::probability_of_conformity(a, 0.045, {-verdict::no_bound, w.limit.total.value()});
            r.expected_low = 0.12;
            r.expected_high = 0.48;
            r.state = r.margin->value() >= 0 ? verdict::State::pass : verdict::State::fail;
            w.readings.push_back(r);
        }
        c.wavelengths.push_back(w);
    }
    c.worst_position = 7;
    c.worst_wavelength = Nanometres{850};
    c.worst_margin = c.wavelengths[0].readings[6].margin;
    c.measured_length = Metres{31.4};
    c.length_verdict = "31.4 m measured, 31.0 m drawn: agrees within 1.0 m";
    c.length_sign = Standing::pass;
    c.polarity = crossed_map();
    c.polarity_sign = fails ? Standing::fail : Standing::pass;
    if (fails) {
        c.polarity_verdict = "3 and 4 exchanged, 7 dark: crossed fibres, and a broken one";
    } else {
        c.polarity_verdict = "class B as expected";
        c.polarity->panels[1].threads = c.polarity->panels[0].threads;
        c.polarity->difference.clear();
    }
    c.light_path = test_phase();
    c.light_path->heading.clear();
    c.light_path->changes.clear();
    for (LightBody& body : c.light_path->bodies) {
        body.changed = false;
        if (body.right) body.right->changed = false;
    }
    for (LightJoint& joint : c.light_path->joints) joint.changed = joint.stays = false;
    c.applications = {
        {"100GBASE-SR4", "not supported", Standing::fail,
         "position 7 is not used by it; positions 3 and 4 are exchanged"},
        {"40GBASE-SR4", "supported", Standing::pass, "0.38 dB of 1.50 dB; 31 m of 150 m on OM4"},
        {"400GBASE-SR8", "cannot be said", Standing::open,
         "needs 16 positions; reflectance was not measured"}};
    c.reference = {{"Reference", "R-003, taken 2026-03-03 08:12 UTC+01:00"},
                   {"Cords", "TRC-0412 (launch), TRC-0413 (tail)"},
                   {"Source", "SRC-0031, calibrated 2025-11-03, due 2026-11-03"},
                   {"Meter", "PM-0102, calibrated 2025-10-20, due 2026-10-20"},
                   {"Cord check", "accepted: at most 0.14 dB of 0.20 dB"},
                   {"Outcome", "accepted"}};
    c.measurement = {{"Taken", "2026-03-03 10:42 UTC+01:00, from both ends"},
                     {"Operator", "J. Marlow"},
                     {"Station", "aisle-laptop-2"}};
    c.earlier = {{*parse_instant("2026-03-02T15:10:00+01:00"), "J. Marlow", verdict::State::fail,
                  "position 7, 850 nm: 1.04 dB"}};
    c.remarks = {"Position 9 reads within 0.02 dB of the value of its neighbour link in both directions."};
    c.unconfirmed = {{"End connection, reference-grade cord, multimode", "0.35 dB",
                      "EXAMPLE-100, 2 (2020), 5.2", "the limits of this link",
                      "give the value in the job's rule set file under end-connection"}};
    c.record_hash = hash_of(number);
    c.record_id = fmt::format("aisle-laptop-2/{}", 100 + number);
    return c;
}

inline std::vector<Cited> cited()
{
    return {{"EXAMPLE-100, 2 (2020), 5.2", "standard", "coefficients"},
            {"JCGM 106:2012, 8.2", "standard", "decision rule"},
            {"EXAMPLE-100, 2 (2020), table 4", "memory", "end connections"}};
}

} // namespace guidepin::samples

namespace guidepin::samples {

inline ListedLink listed(int number, Standing standing, double margin, std::string reason)
{
    ListedLink link;
    link.link = fmt::format("F2-{:03}", number);
    link.zone = "Floor 2";
    link.standing = standing;
    Row row;
    row.layers = {RowLayer{"850 nm", {}}, RowLayer{"1300 nm", {}}};
    for (RowLayer& layer : row.layers) {
        for (int p = 1; p <= 12; ++p)
            layer.tanks.push_back(tank(standing == Standing::held ? standing : Standing::pass,
                                       0.3 + 0.04 * ((p * number) % 9)));
    }
    if (standing == Standing::fail) row.layers[0].tanks[6] = tank(Standing::fail, 1.3);
    if (standing == Standing::open) {
        for (auto& t : row.layers[1].tanks) t = tank(Standing::open, {});
    }
    link.row = row;
    link.worst = "7 at 850 nm";
    link.margin = Decibel{margin};
    link.conformity = Probability::clamped(margin > 0 ? 0.93 : 0.02);
    link.reason = std::move(reason);
    link.certificate = fmt::format("zone-F2.pdf, page {}", number * 4);
    return link;
}

inline Summary summary()
{
    Summary s;
    s.job = job_head();
    s.verdict_line = "146 of 150 links conform; 1 fails, 2 are held, 1 is open";
    s.standing = Standing::fail;
    s.promised = {{"Scope", "150 links in three zones, 1,856 fibres"},
                  {"Attenuation", "each fibre within the limit of EXAMPLE-100, edition 2 (2020), at 850 nm "
                                  "and 1300 nm (OM4), 1310 nm and 1550 nm (OS2)"},
                  {"Polarity", "method B, duplex over modules in zone Floor 3"},
                  {"Length", "as drawn, within 1.0 m"},
                  {"Applications", "100GBASE-SR4 on every OM4 link, 400GBASE-DR4 on every OS2 link"}};
    s.tested = {{"Method", "one-cord reference with reference-grade cords"},
                {"Directions", "both, judged on the mean in dB"},
                {"When", "2026-03-02 to 2026-03-04, 3 days"},
                {"Crew", "J. Marlow, A. Quill"},
                {"Rule set", "EXAMPLE-100, edition 2 (2020)"},
                {"Decision rule", "guarded acceptance (JCGM 106:2012, 8.3.2)"}};
    s.decision_rule_text = "A reading conforms when it lies below its limit by at least the guard band w = "
                           "1.64 u, so that it conforms in truth with a probability of at least 95 %. "
                           "Between limit and guard band it is a marginal pass.";
    s.setups = {reference_phase(), test_phase()};
    s.instruments = {{"source", "two-wavelength source", "SRC-0031", "2025-11-03, due 2026-11-03"},
                     {"meter", "array power meter", "PM-0102", "2025-10-20, due 2026-10-20"}};
    s.cords = {{"launch", "TRC-0412", "type B, 2 m, reference grade", "unpinned, flat / exchangeable, flat",
                "118 of 500"},
               {"tail", "TRC-0413-LONG-SERIAL-2026-REV-B", "type B, 2 m, reference grade",
                "pinned, flat / unpinned, flat", "74 of 500"}};
    s.references = {{"R-001",
                     *parse_instant("2026-03-02T08:05:00+01:00"),
                     "J. Marlow",
                     "one-cord",
                     "accepted",
                     "0.12 dB of 0.20 dB",
                     52,
                     "",
                     {}},
                    {"R-003", *parse_instant("2026-03-03T08:12:00+01:00"), "J. Marlow", "one-cord",
                     "accepted with remarks", "0.14 dB of 0.20 dB", 40,
                     "moved near F2-027; links after it are held", control()}};
    s.zones = {{"Floor 1", 48, 48, 0, 0, 0, 0, Decibel{0.11}},
               {"Floor 2", 54, 49, 1, 1, 2, 1, Decibel{-0.22}},
               {"Floor 3 with a rather long name of its own", 48, 46, 2, 0, 0, 0, Decibel{0.03}}};
    s.failing = {listed(14, Standing::fail, -0.22, "Position 7 at 850 nm loses 0.91 dB of 0.69 dB")};
    s.held = {listed(27, Standing::held, 0.21, "Reference R-003 moved after F2-026"),
              listed(28, Standing::held, 0.19, "Reference R-003 moved after F2-026")};
    s.open = {listed(51, Standing::open, 0.24, "1300 nm not measured")};
    for (int i = 0; i < 9; ++i)
        s.worst.push_back(listed(30 + i, i == 0 ? Standing::marginal_pass : Standing::pass, 0.03 + 0.01 * i,
                                 "OM4, 31 m, type B"));
    s.worst[3].link = "BUILDING-NORTH/HALL-2/ROW-17/RACK-042/PANEL-A/PORTS-0001-0012";
    s.applications = {{"100GBASE-SR4", 98, 1, 1, ""},
                      {"400GBASE-DR4", 48, 0, 2, "reflectance was not measured on two links"}};
    s.findings = {
        {"Reference drift", "must settle", "R-003, links F2-027 to F2-040, all positions",
         "The common offset rose by 0.075 dB between F2-026 and F2-027 (change at 26.5, interval 25 to 28).",
         "Repeat the reference, then retest F2-027, F2-033 and F2-040: they clear or condemn the rest.", ""},
        {"Dirty or damaged end face", "should settle", "F2-014, position 7, end B",
         "0.91 dB at 850 nm and 0.74 dB at 1300 nm where 0.30 dB is expected; both directions agree.",
         "Inspect and clean position 7 at end B, then test again.",
         "by A. Quill on 2026-03-04: replacement ordered"}};
    s.site = site();
    s.unconfirmed = certificate().unconfirmed;
    s.sources = cited();
    s.evidence = {{"Station", "aisle-laptop-2, key 5d0c 77a1 04be 9f13"},
                  {"Records", "412, head as in the QR code"},
                  {"Head", hash_of(3), true},
                  {"zone-F2.pdf", hash_of(9), true}};
    s.record_hash = hash_of(3);
    return s;
}

inline JobCard job_card(int steps_each = 6)
{
    JobCard card;
    card.job = job_head();
    card.title = "Set-up 1: OM4, unpinned links, pinned ports";
    card.facts = {{"Links", "F2-001 to F2-054, launch from end A"},
                  {"Method", "one-cord reference"},
                  {"Launch cord", "TRC-0412, type B, 2 m"},
                  {"Tail cord", "TRC-0413, type B, 2 m"},
                  {"Limit", "0.69 dB at 850 nm, 0.65 dB at 1300 nm for 31 m"}};
    char const* words[] = {
        "Switch the source on and let it warm up for 20 minutes, off external power.",
        "Inspect and clean the source port and the near end of the launch cord.",
        "Mate the launch cord to the source. It stays there until the last link is tested.",
        "Inspect and clean the far end of the launch cord and the meter port.",
        "Mate the far end to the meter and take the reference at both wavelengths.",
        "Write down the time; open at the meter, never at the source."};
    for (int phase = 0; phase < 3; ++phase) {
        CardPhase p;
        p.title = phase == 0 ? "Reference" : phase == 1 ? "Cord check" : "Test";
        p.path = phase == 0 ? reference_phase() : test_phase();
        p.path.heading.clear();
        if (phase < 2) p.path.changes.clear();
        for (int i = 0; i < steps_each; ++i)
            p.steps.push_back({words[i % 6],
                               i % 2 ? "No scratch or dirt in the core zone of any position" : "",
                               i % 3 == 1 ? "Clean again; after three times take another cord." : "",
                               phase == 2 && i == 0});
        p.numbers = {{"Power, 850 nm, each position", "−21.0 to −18.0 dBm", "outside, or spread over 1.0 dB"},
                     {"Cord check, 850 nm, each position", "at most 0.20 dB",
                      "above: clean, mate again, else refuse"}};
        card.phases.push_back(p);
    }
    card.cautions = standard_cautions();
    card.record_hash = hash_of(5);
    return card;
}

} // namespace guidepin::samples

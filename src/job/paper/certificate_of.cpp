// SPDX-License-Identifier: Apache-2.0
#include "job/paper/certificate_of.hpp"

#include "base/text.hpp"
#include "job/assess/channels.hpp"
#include "job/paper/tested_path.hpp"
#include "job/paper/unconfirmed.hpp"
#include "job/paper/wording.hpp"
#include "job/sheet/locale.hpp"
#include "job/state/link_limits.hpp"
#include "loss/limit.hpp"
#include "plant/map_view.hpp"
#include "plant/signature.hpp"
#include "report/standing.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

std::optional<Decibel> known(double value)
{
    return std::isnan(value) ? std::nullopt : std::optional(Decibel{value});
}

drawing::PolarityPanel panel_of(std::string title, plant::PositionMap const& map,
                                plant::PositionMap const& other)
{
    drawing::PolarityPanel panel;
    panel.title = std::move(title);
    for (int p = 1; p <= plant::max_positions; ++p) {
        if (map.at(p) == 0 && other.at(p) == 0) continue;
        drawing::Thread thread;
        thread.near = p;
        if (map.at(p) != 0) thread.far = map.at(p);
        thread.fibre = (p - 1) % 12 + 1;
        thread.differs = map.at(p) != other.at(p);
        panel.threads.push_back(thread);
    }
    return panel;
}

void add_polarity(report::LinkCertificate& certificate, plant::LinkModel const& model,
                  verdict::LinkDetail const& detail, verdict::LinkVerdict const& v)
{
    certificate.polarity_sign = report::standing_of(v.polarity);
    if (!model.positions) {
        certificate.polarity_verdict = "the plan does not name a single map; polarity is not judged";
        return;
    }
    plant::PositionMap const& expected = *model.positions;
    bool const measured_any = !detail.measured.empty();
    std::string const class_text =
        model.class_name.empty() ? std::string{"by the plan"} : fmt::format("class {}", model.class_name);
    drawing::PolarityMap map;
    map.name = fmt::format("Polarity of {}", certificate.link.id);
    map.near_label = "End A";
    map.far_label = "End B";
    map.rows = model.near_family.rows;
    map.columns = model.near_family.columns;
    map.panels.push_back(panel_of(fmt::format("Expected: {}", class_text), expected,
                                  measured_any ? detail.measured : expected));
    if (measured_any) {
        map.panels.push_back(panel_of("Measured", detail.measured, expected));
        if (detail.measured != expected) {
            auto const signatures = plant::signature_of(model.near_family, expected, detail.measured);
            if (!signatures.empty()) map.difference = signatures.front().cause;
        }
    }
    if (!measured_any) {
        certificate.polarity_verdict = "not measured";
    } else if (detail.measured == expected) {
        certificate.polarity_verdict = model.class_name.empty() ? std::string{"as the plan expects"}
                                                                : fmt::format("{} as expected", class_text);
    } else {
        certificate.polarity_verdict =
            map.difference.empty() ? "differs from what is expected" : map.difference;
    }
    certificate.polarity = std::move(map);
}

void add_length(report::LinkCertificate& certificate, verdict::LinkVerdict const& v,
                report::Locale const& locale)
{
    certificate.length_sign = report::standing_of(v.length);
    std::string const drawn = locale.length(certificate.link.length);
    if (std::isnan(v.length_most_m)) {
        certificate.length_verdict = fmt::format("not measured; {} as drawn", drawn);
        return;
    }
    certificate.measured_length = Metres{static_cast<double>(v.length_most_m)};
    certificate.length_verdict =
        fmt::format("{} measured, {} as drawn: {}", locale.length(*certificate.measured_length), drawn,
                    v.length == verdict::State::fail ? "does not agree" : "agrees");
}

/// The readings that the certificate reports as the measurement: the last of those that count, or of the held
/// ones if none counts.
struct LastReading
{
    ReferenceEntry const* reference = nullptr;
    Instant taken;
    bool has_time = false;
    std::string person;
    bool from_b = false; ///< every reading of the link was launched at end B
};

LastReading last_reading_of(JobState const& state, Groundwork const& ground, std::size_t link)
{
    verdict::ReadingColumns const& readings = state.readings;
    LastReading last;
    std::int64_t latest = verdict::ReadingColumns::no_time;
    bool any_counts = false;
    last.from_b = ground.rows->begin(link) != ground.rows->end(link);
    for (std::uint32_t i = ground.rows->begin(link); i < ground.rows->end(link); ++i) {
        std::uint32_t const row = ground.rows->row(i);
        // A link measured both ways is drawn from end A.
        if (readings.launch_end[row] == verdict::LaunchEnd::a) last.from_b = false;
        // Those that count go before those that are held, and the later before the earlier.
        bool const counts = ground.hold.size() <= row || ground.hold[row] == 0;
        if (counts != any_counts ? !counts : readings.taken_ms[row] < latest) continue;
        any_counts = counts;
        latest = readings.taken_ms[row];
        last.taken = Instant{latest, readings.offset_minutes[row]};
        if (readings.operator_name[row] != verdict::Dictionary::missing)
            last.person = readings.operators.text(readings.operator_name[row]);
        if (readings.reference[row] != verdict::Dictionary::missing) {
            auto const found = state.reference_index.find(readings.references.id(readings.reference[row]));
            last.reference =
                found == state.reference_index.end() ? nullptr : &state.references[found->second];
        }
    }
    last.has_time = latest != verdict::ReadingColumns::no_time;
    return last;
}

/// Returns why the link is held: the reason of its first held reading that has one.
std::string hold_reason_of(JobState const& state, Assessment const& assessment, std::size_t link)
{
    for (std::uint32_t i = assessment.rows->begin(link); i < assessment.rows->end(link); ++i) {
        std::uint32_t const row = assessment.rows->row(i);
        if (assessment.hold.size() <= row || assessment.hold[row] == 0) continue;
        std::string text = assessment.hold_of(state, row).text;
        if (!text.empty()) return text;
    }
    return {};
}

/// Writes the link's promise and the rules that it is judged by.
void add_promise(report::LinkCertificate& certificate, JobState const& state, std::size_t link)
{
    certificate.link = state.links[link];
    certificate.decision_rule = decision_rule_text(state.settings);
    certificate.rule_set = state.rules.title + ", for the length as drawn";
    certificate.method = method_text(state.settings, "cords");
}

report::CertifiedReading certified(verdict::PlaceDetail const& place)
{
    report::CertifiedReading reading;
    reading.attenuation = known(place.counted_db);
    reading.a_to_b = known(place.from_a_db);
    reading.b_to_a = known(place.from_b_db);
    reading.margin = known(place.margin_db);
    if (!std::isnan(place.u_db)) reading.standard_uncertainty = place.u_db;
    if (!std::isnan(place.p_conform)) reading.conformity = Probability::clamped(place.p_conform);
    reading.state = place.state;
    return reading;
}

/// Adds each wavelength that is required or was measured: its limit with the arithmetic, and its readings.
Outcome add_wavelengths(report::LinkCertificate& certificate, JobState const& state,
                        Assessment const& assessment, std::size_t link, verdict::LinkDetail const& detail)
{
    verdict::LinkKind const& kind = assessment.tasks.kinds[assessment.tasks.links[link].kind];
    for (verdict::FibreDetail const& fibre : detail.fibres) certificate.positions.push_back(fibre.position_a);
    TRY_ASSIGN(LimitsOf const limits, limits_of(state, state.links[link]));
    loss::LimitQuestion question = limit_question(state, state.links[link], limits, assessment.inner[link]);
    for (std::size_t w = 0; w < kind.wavelengths; ++w) {
        bool const measured =
            std::any_of(detail.fibres.begin(), detail.fibres.end(), [w](verdict::FibreDetail const& fibre) {
                return !std::isnan(fibre.places[w].counted_db);
            });
        if (w >= kind.required && !measured) continue;
        report::CertifiedWavelength wavelength;
        wavelength.wavelength = Nanometres{kind.wavelength_nm[w]};
        question.wavelength = wavelength.wavelength;
        TRY_ASSIGN(wavelength.limit, loss::limit(question));
        wavelength.coverage_k = 2;
        auto const band = assessment.expectation->band(link, w);
        for (verdict::FibreDetail const& fibre : detail.fibres) {
            report::CertifiedReading reading = certified(fibre.places[w]);
            if (band) {
                reading.expected_low = band->low;
                reading.expected_high = band->high;
            }
            wavelength.readings.push_back(reading);
        }
        certificate.wavelengths.push_back(std::move(wavelength));
    }
    return {};
}

void add_verdict(report::LinkCertificate& certificate, verdict::LinkVerdict const& v)
{
    certificate.state = v.state;
    if (v.worst_position == 0) return;
    certificate.worst_position = v.worst_position;
    certificate.worst_wavelength = Nanometres{v.worst_wavelength_nm};
    certificate.worst_margin = known(v.margin_db);
}

/// Writes the one reason that decides, and everything else worth knowing as a remark.
void add_reasons(report::LinkCertificate& certificate, JobState const& state, Assessment const& assessment,
                 std::size_t link, std::vector<verdict::Finding> const& findings)
{
    verdict::LinkVerdict const& v = assessment.verdicts.links[link];
    if (v.readings == 0) {
        certificate.verdict_reason = "This link has not been measured yet.";
        return;
    }
    for (verdict::Finding const& finding : findings) {
        if (finding.decides && certificate.verdict_reason.empty()) {
            certificate.verdict_reason = finding.text;
        } else {
            certificate.remarks.push_back(finding.text);
        }
    }
    if (auto const standout = assessment.expectation->standout(state, assessment, link);
        standout && standout->stands_out)
        certificate.remarks.push_back(standout_text(*standout, locale_of(state.settings)));
    if (!certificate.verdict_reason.empty()) return;
    if (v.state == verdict::State::held)
        certificate.verdict_reason = with_times(hold_reason_of(state, assessment, link), state.settings);
    else if (v.state == verdict::State::pass)
        certificate.verdict_reason =
            "every fibre keeps its limit, arrives where it should and is as long as drawn";
}

void add_reference(report::LinkCertificate& certificate, JobState const& state,
                   ReferenceEntry const& reference)
{
    report::Locale const locale = locale_of(state.settings);
    certificate.reference.push_back({"Reference", reference.id.text(), false});
    certificate.reference.push_back({"Taken", locale.date_time(reference.taken()), false});
    certificate.reference.push_back({"Method", method_words(reference.method), false});
    auto const add = [&](char const* label, std::string const& id) {
        if (!id.empty()) certificate.reference.push_back({label, id, true});
    };
    add("Source", reference.kit.source);
    add("Meter", reference.kit.meter);
    add("Launch cord", reference.kit.launch);
    add("Tail cord", reference.kit.tail);
    for (CordCheckEntry const& check : state.checks) {
        if (check.reference == reference.id)
            certificate.reference.push_back(
                {"Cord check", fmt::format("{}, {}", check.id, locale.date_time(check.taken())), false});
    }
}

/// Says who measured, when and how often.
void add_measurement(report::LinkCertificate& certificate, report::Locale const& locale,
                     LastReading const& last, verdict::LinkVerdict const& v)
{
    if (last.has_time) certificate.measurement.push_back({"Measured", locale.date_time(last.taken), false});
    if (!last.person.empty()) certificate.measurement.push_back({"By", last.person, false});
    certificate.measurement.push_back({"Readings", locale.whole(v.current), false});
}

TestedWith tested_with(LastReading const& last, verdict::LinkVerdict const& v)
{
    TestedWith with;
    if (last.reference) {
        with.kit = last.reference->kit;
        with.method = setup::parse_reference_method(last.reference->method);
    }
    with.at = !last.has_time && last.reference ? last.reference->taken() : last.taken;
    with.from_b = last.from_b && v.readings > 0;
    return with;
}

/// Adds the promised applications first, then others that the channel would carry.
Outcome add_applications(report::LinkCertificate& certificate, JobState const& state,
                         Assessment const& assessment, std::size_t link)
{
    plant::LinkSpec const& spec = state.links[link];
    if (assessment.verdicts.links[link].readings == 0) return {};
    TRY_ASSIGN(verdict::Channel const channel, channel_of(state, assessment, link));
    auto const add = [&](verdict::ApplicationSupport const& support) {
        report::CertifiedApplication row;
        row.name = support.application->name;
        row.verdict = support.marginal && support.support == verdict::Support::supported
                          ? "supported, marginal"
                          : verdict::name_of(support.support);
        row.sign = support.support == verdict::Support::supported       ? drawing::Standing::pass
                   : support.support == verdict::Support::not_supported ? drawing::Standing::fail
                                                                        : drawing::Standing::open;
        row.reason = with_times(support.reason, state.settings);
        if (support.rests_on_memory) row.reason += " †";
        certificate.applications.push_back(std::move(row));
    };
    std::vector<facts::Application const*> promised;
    for (std::string const& name : spec.applications) {
        TRY_ASSIGN(auto const* const application, state.tables.application(name));
        promised.push_back(application);
        add(verdict::application_support(*application, channel, state.tables));
    }
    for (verdict::ApplicationSupport const& support : verdict::application_support(channel, state.tables)) {
        if (certificate.applications.size() >= 8) break;
        if (support.support != verdict::Support::supported) continue;
        if (std::find(promised.begin(), promised.end(), support.application) == promised.end()) add(support);
    }
    return {};
}

/// Names the record of the link's last test.
void add_record(report::LinkCertificate& certificate, JobState const& state, std::uint32_t last_test)
{
    if (last_test == Groundwork::no_test) return;
    TestEntry const& test = state.tests[last_test];
    certificate.record_hash = test.hash;
    certificate.record_id = fmt::format("{}:{}", test.station, test.sequence);
}

/// Lists the values from memory in the limits, each once.
void add_unconfirmed(report::LinkCertificate& certificate)
{
    for (auto const& wavelength : certificate.wavelengths) {
        for (loss::LimitLine const& line : wavelength.limit.lines) {
            if (line.basis != facts::Basis::memory) continue;
            bool const has_row = std::any_of(certificate.unconfirmed.begin(), certificate.unconfirmed.end(),
                                             [&](auto const& u) { return u.quantity == line.what; });
            if (has_row) continue;
            certificate.unconfirmed.push_back(
                unconfirmed(line, fmt::format("limit at {} nm", wavelength.wavelength.value())));
        }
    }
}

} // namespace

Result<report::LinkCertificate> certificate_of(JobState const& state, Assessment const& assessment,
                                               std::size_t link)
{
    plant::LinkModel const& model = *assessment.models[link];
    verdict::LinkVerdict const& v = assessment.verdicts.links[link];
    auto const detail = verdict::explain(state.readings, *assessment.rows, assessment.tasks,
                                         assessment.verdicts, link, writing_of(state.settings));
    LastReading const last = last_reading_of(state, assessment, link);
    report::Locale const locale = locale_of(state.settings);

    report::LinkCertificate certificate;
    add_promise(certificate, state, link);
    add_verdict(certificate, v);
    TRY(add_wavelengths(certificate, state, assessment, link, detail));
    add_polarity(certificate, model, detail, v);
    add_length(certificate, v, locale);
    add_reasons(certificate, state, assessment, link, detail.findings);
    if (last.reference) add_reference(certificate, state, *last.reference);
    add_measurement(certificate, locale, last, v);
    certificate.light_path =
        tested_path(state, state.links[link], model, tested_with(last, v), certificate.remarks);
    TRY(add_applications(certificate, state, assessment, link));
    add_record(certificate, state, assessment.last_test[link]);
    add_unconfirmed(certificate);
    return certificate;
}

} // namespace guidepin::job

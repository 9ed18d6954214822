// SPDX-License-Identifier: Apache-2.0
#include "job/certificate_of.hpp"

#include "base/text.hpp"
#include "job/channels.hpp"
#include "loss/limit.hpp"
#include "plant/map_view.hpp"
#include "plant/signature.hpp"

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
    certificate.polarity_sign = standing_of(v.polarity);
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
    certificate.length_sign = standing_of(v.length);
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

drawing::LightEnd light_end(plant::ConnectorEnd const& end, bool key_up)
{
    drawing::LightEnd light;
    light.kind = end.kind;
    light.pins = end.pins;
    light.face = end.face;
    light.slope = end.slope;
    light.key_up = key_up;
    return light;
}

std::string type_text(facts::CordGrade grade)
{
    return fmt::format("{} grade", facts::name_of(grade));
}

/// Source, launch cord, cabling, tail cord, meter: as the link was tested.
drawing::LightPath light_path_of(JobState const& state, plant::LinkSpec const& link,
                                 plant::LinkModel const& model, TestKit const* kit)
{
    using namespace drawing;
    LightPath path;
    path.name = fmt::format("Light path of {}", link.id);
    auto const cord_of = [&](std::string const& id) { return state.cord(id); };
    plant::ConnectorEnd near = model.near_end, far = model.far_end;
    auto const opposite = [](plant::ConnectorEnd end) {
        end.kind = plant::EndKind::plug;
        end.pins = plant::complement(end.pins);
        return end;
    };
    auto const test_cord = [&](char const* title, std::string const& id, LightEnd left, LightEnd right) {
        LightBody body;
        body.kind = BodyKind::cord;
        body.title = title;
        body.serial = id;
        if (Cord const* const cord = cord_of(id)) {
            body.detail = fmt::format("type {}, {} m, {}", cord->type, number_text(cord->length.value()),
                                      type_text(cord->grade));
        } else {
            body.detail = type_text(state.settings.cord_grade);
        }
        body.left = left;
        body.right = right;
        return body;
    };
    auto const keys_of = [](plant::EndFitting fitting) {
        return fitting == plant::EndFitting::aligned_adapter ? plant::KeyRelation::aligned
                                                             : plant::KeyRelation::opposed;
    };
    LightEnd port;
    port.kind = plant::EndKind::port;
    port.face = near.face;
    port.slope = near.slope;
    port.pins = plant::Pins::pinned;
    LightEnd cord_end = light_end(opposite(near), true);
    LightEnd at_source = cord_end;
    at_source.pins = plant::complement(port.pins);
    LightBody source;
    source.kind = BodyKind::source;
    source.title = "Source";
    source.serial = kit ? kit->source : "";
    source.right = port;
    LightBody meter;
    meter.kind = BodyKind::meter;
    meter.title = "Meter";
    meter.serial = kit ? kit->meter : "";
    meter.left = port;
    LightBody cabling;
    cabling.kind = BodyKind::cabling;
    cabling.title = link.id;
    cabling.detail =
        fmt::format("{}, {} m, {}", link.category, number_text(link.length.value()), link.trunk_type);
    bool const near_up = keys_of(link.a.fitting) == plant::KeyRelation::aligned;
    bool const far_up = keys_of(link.b.fitting) == plant::KeyRelation::aligned;
    cabling.left = light_end(near, near_up);
    cabling.left->label = link.a.name;
    cabling.right = light_end(far, far_up);
    cabling.right->label = link.b.name;
    LightEnd tail_end = light_end(opposite(far), true);
    LightEnd at_meter = tail_end;
    at_meter.pins = plant::complement(port.pins);
    path.bodies.push_back(source);
    path.bodies.push_back(test_cord("Launch cord", kit ? kit->launch : "", at_source, cord_end));
    path.bodies.push_back(cabling);
    path.bodies.push_back(test_cord("Tail cord", kit ? kit->tail : "", tail_end, at_meter));
    path.bodies.push_back(meter);
    LightJoint at_port;
    at_port.kind = JointKind::port;
    at_port.keys = plant::KeyRelation::aligned;
    at_port.stays = true;
    LightJoint joint_a;
    joint_a.keys = keys_of(link.a.fitting);
    joint_a.label = "End A";
    LightJoint joint_b;
    joint_b.keys = keys_of(link.b.fitting);
    joint_b.label = "End B";
    LightJoint at_meter_port = at_port;
    at_meter_port.stays = false;
    path.joints = {at_port, joint_a, joint_b, at_meter_port};
    return path;
}

/// The promised ones first, then what else the channel would carry.
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
        row.reason = support.reason;
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

} // namespace

drawing::Standing standing_of(verdict::State state)
{
    switch (state) {
    case verdict::State::pass:
        return drawing::Standing::pass;
    case verdict::State::marginal_pass:
        return drawing::Standing::marginal_pass;
    case verdict::State::marginal_fail:
        return drawing::Standing::marginal_fail;
    case verdict::State::fail:
        return drawing::Standing::fail;
    case verdict::State::held:
        return drawing::Standing::held;
    case verdict::State::open:
        break;
    }
    return drawing::Standing::open;
}

report::Locale locale_of(Settings const& settings)
{
    report::Locale locale;
    locale.decimal_mark = settings.decimal == "," ? ',' : '.';
    locale.length_unit = settings.length_unit == "ft" ? report::LengthUnit::feet : report::LengthUnit::metres;
    locale.date_order = settings.date_order == "dmy"   ? report::DateOrder::day_month_year
                        : settings.date_order == "mdy" ? report::DateOrder::month_day_year
                                                       : report::DateOrder::year_month_day;
    return locale;
}

drawing::Row row_of(std::string const& name, plant::Family const& family, std::string const& row)
{
    drawing::Row drawing;
    drawing.name = name;
    drawing.rows = family.rows;
    drawing.columns = family.columns;
    for (std::string_view const layer_text : split(row, ';')) {
        auto const colon = layer_text.find(':');
        if (colon == std::string_view::npos) continue;
        drawing::RowLayer layer;
        layer.label = std::string(layer_text.substr(0, colon)) + " nm";
        for (std::string_view cell : split(layer_text.substr(colon + 1), ',')) {
            drawing::Tank tank;
            tank.standing = drawing::Standing::unused;
            if (!cell.empty() && cell != "-") {
                switch (cell.back()) {
                case 'p':
                    tank.standing = drawing::Standing::pass;
                    break;
                case 'q':
                    tank.standing = drawing::Standing::marginal_pass;
                    break;
                case 'g':
                    tank.standing = drawing::Standing::marginal_fail;
                    break;
                case 'd':
                    tank.told = "no light";
                    [[fallthrough]];
                case 'f':
                    tank.standing = drawing::Standing::fail;
                    break;
                case 'h':
                    tank.standing = drawing::Standing::held;
                    break;
                default:
                    tank.standing = drawing::Standing::open;
                }
                cell.remove_suffix(1);
                if (auto const level = parse_integer(cell)) tank.level = static_cast<double>(*level) / 1000;
            }
            layer.tanks.push_back(tank);
        }
        layer.tanks.resize(static_cast<std::size_t>(family.positions()),
                           drawing::Tank{drawing::Standing::unused, {}, {}});
        drawing.layers.push_back(std::move(layer));
    }
    return drawing;
}

std::string standout_text(LinkStandout const& standout, report::Locale const& locale)
{
    if (standout.whole_link)
        return fmt::format("All fibres together stand {} dB over what links like this show (surprise {})",
                           locale.number(standout.offset_db, 2), locale.number(standout.surprise, 1));
    return fmt::format("{} dB at {}{}, {} nm; links like this show {} to {} dB there (surprise {})",
                       locale.number(standout.value_db, 2), standout.position,
                       standout.from_b ? " from B" : "", standout.wavelength_nm,
                       locale.number(standout.band.low, 2), locale.number(standout.band.high, 2),
                       locale.number(standout.surprise, 1));
}

Result<report::LinkCertificate> certificate_of(JobState const& state, Assessment const& assessment,
                                               std::size_t link)
{
    report::Locale const locale = locale_of(state.settings);
    plant::LinkSpec const& spec = state.links[link];
    plant::LinkModel const& model = *assessment.models[link];
    verdict::LinkVerdict const& v = assessment.verdicts.links[link];
    verdict::LinkKind const& kind = assessment.tasks.kinds[assessment.tasks.links[link].kind];
    auto const detail = verdict::explain(state.readings, *assessment.rows, assessment.tasks,
                                         assessment.verdicts, link, writing_of(state.settings));

    report::LinkCertificate certificate;
    certificate.link = spec;
    certificate.state = v.state;
    certificate.decision_rule =
        state.settings.decision_rule == "simple-acceptance" ? "simple acceptance (JCGM 106:2012, 8.2)"
        : state.settings.decision_rule == "guarded-acceptance"
            ? fmt::format("guarded acceptance (JCGM 106:2012, 8.3.2), p_c at least {} %",
                          number_text(state.settings.guard_probability * 100))
            : fmt::format("guarded rejection (JCGM 106:2012, 8.3.3), p {} %",
                          number_text(state.settings.guard_probability * 100));
    certificate.rule_set = state.rules.title + ", for the length as drawn";
    certificate.method = fmt::format("{} reference, {}-grade cords", setup::name_of(state.settings.method),
                                     facts::name_of(state.settings.cord_grade));
    for (verdict::FibreDetail const& fibre : detail.fibres) certificate.positions.push_back(fibre.position_a);

    TRY_ASSIGN(LimitsOf const limits, limits_of(state, spec));
    loss::LimitQuestion question;
    question.rules = &state.rules;
    question.category = limits.category;
    question.length = spec.length;
    question.method = state.settings.method;
    question.cords = state.settings.cord_grade;
    question.inner = assessment.inner[link];
    question.splices = spec.splices;
    for (std::size_t w = 0; w < kind.wavelengths; ++w) {
        bool measured = false;
        for (verdict::FibreDetail const& fibre : detail.fibres)
            measured = measured || !std::isnan(fibre.places[w].counted_db);
        if (w >= kind.required && !measured) continue;
        report::CertifiedWavelength wavelength;
        wavelength.wavelength = Nanometres{kind.wavelength_nm[w]};
        question.wavelength = wavelength.wavelength;
        TRY_ASSIGN(wavelength.limit, loss::limit(question));
        wavelength.coverage_k = 2;
        auto const band = assessment.expectation->band(link, w);
        for (verdict::FibreDetail const& fibre : detail.fibres) {
            verdict::PlaceDetail const& place = fibre.places[w];
            report::CertifiedReading reading;
            reading.attenuation = known(place.counted_db);
            reading.a_to_b = known(place.from_a_db);
            reading.b_to_a = known(place.from_b_db);
            reading.margin = known(place.margin_db);
            if (!std::isnan(place.u_db)) reading.standard_uncertainty = place.u_db;
            if (!std::isnan(place.p_conform)) reading.conformity = Probability::clamped(place.p_conform);
            reading.state = place.state;
            if (band) {
                reading.expected_low = band->low;
                reading.expected_high = band->high;
            }
            wavelength.readings.push_back(reading);
        }
        certificate.wavelengths.push_back(std::move(wavelength));
    }
    if (v.worst_position != 0) {
        certificate.worst_position = v.worst_position;
        certificate.worst_wavelength = Nanometres{v.worst_wavelength_nm};
        certificate.worst_margin = known(v.margin_db);
    }
    add_polarity(certificate, model, detail, v);
    add_length(certificate, v, locale);
    if (v.readings == 0) certificate.verdict_reason = "This link has not been measured yet.";
    for (verdict::Finding const& finding : detail.findings) {
        if (v.readings == 0) break;
        if (finding.decides && certificate.verdict_reason.empty()) {
            certificate.verdict_reason = finding.text;
        } else {
            certificate.remarks.push_back(finding.text);
        }
    }

    if (auto const standout = assessment.expectation->standout(state, assessment, link);
        standout && standout->stands_out && v.readings > 0)
        certificate.remarks.push_back(standout_text(*standout, locale_of(state.settings)));

    // Who, when, under which reference: of the reading taken last.
    ReferenceEntry const* reference = nullptr;
    std::int64_t latest = verdict::ReadingColumns::no_time;
    std::string person;
    Instant taken;
    for (std::uint32_t i = assessment.rows->begin(link); i < assessment.rows->end(link); ++i) {
        std::uint32_t const row = assessment.rows->row(i);
        if (assessment.hold.size() > row && assessment.hold[row] != 0 && v.state == verdict::State::held &&
            certificate.verdict_reason.empty()) {
            certificate.verdict_reason = assessment.hold_of(state, row).text;
        }
        if (state.readings.taken_ms[row] < latest) continue;
        latest = state.readings.taken_ms[row];
        taken = Instant{latest, state.readings.offset_minutes[row]};
        if (state.readings.operator_name[row] != verdict::Dictionary::missing)
            person = state.readings.operators.text(state.readings.operator_name[row]);
        if (state.readings.reference[row] != verdict::Dictionary::missing) {
            auto const found =
                state.reference_index.find(state.readings.references.text(state.readings.reference[row]));
            reference = found == state.reference_index.end() ? nullptr : &state.references[found->second];
        }
    }
    if (certificate.verdict_reason.empty()) {
        if (v.state == verdict::State::pass)
            certificate.verdict_reason =
                "every fibre keeps its limit, arrives where it should and is as long as drawn";
    }
    if (reference) {
        certificate.reference.push_back({"Reference", reference->id, false});
        certificate.reference.push_back({"Taken", locale.date_time(reference->taken()), false});
        certificate.reference.push_back({"Method", reference->method, false});
        auto const say = [&](char const* label, std::string const& id) {
            if (!id.empty()) certificate.reference.push_back({label, id, true});
        };
        say("Source", reference->kit.source);
        say("Meter", reference->kit.meter);
        say("Launch cord", reference->kit.launch);
        say("Tail cord", reference->kit.tail);
        for (CordCheckEntry const& check : state.checks) {
            if (check.reference == reference->id)
                certificate.reference.push_back(
                    {"Cord check", fmt::format("{}, {}", check.id, locale.date_time(check.taken())), false});
        }
    }
    if (latest != verdict::ReadingColumns::no_time)
        certificate.measurement.push_back({"Measured", locale.date_time(taken), false});
    if (!person.empty()) certificate.measurement.push_back({"By", person, false});
    certificate.measurement.push_back({"Readings", locale.whole(v.current), false});
    certificate.light_path = light_path_of(state, spec, model, reference ? &reference->kit : nullptr);
    TRY(add_applications(certificate, state, assessment, link));
    if (std::uint32_t const last = assessment.last_test[link]; last != Assessment::no_test) {
        certificate.record_hash = state.tests[last].hash;
        certificate.record_id = fmt::format("{}:{}", state.tests[last].station, state.tests[last].sequence);
    }
    for (auto const& wavelength : certificate.wavelengths) {
        for (loss::LimitLine const& line : wavelength.limit.lines) {
            if (line.basis != facts::Basis::memory) continue;
            bool const told = std::any_of(certificate.unconfirmed.begin(), certificate.unconfirmed.end(),
                                          [&](auto const& u) { return u.quantity == line.what; });
            if (told) continue;
            certificate.unconfirmed.push_back(
                {line.what, fmt::format("{} {}", number_text(line.each), line.unit), line.source.text(),
                 fmt::format("limit at {} nm", wavelength.wavelength.value()),
                 "a rule file of the contract (docs/formats/rule-set.md)"});
        }
    }
    return certificate;
}

} // namespace guidepin::job

// SPDX-License-Identifier: Apache-2.0
#include "job/paper/certificate_of.hpp"

#include "base/text.hpp"
#include "job/assess/channels.hpp"
#include "job/kit/kit_register.hpp"
#include "job/plan/set_up_drawings.hpp"
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

std::string type_text(facts::CordGrade grade)
{
    return fmt::format("{} grade", facts::name_of(grade));
}

/// What the counting readings of a link were taken with, as the light path shows it.
struct TestedWith
{
    TestKit kit;                                  ///< of the reference; empty where there is none
    std::optional<setup::ReferenceMethod> method; ///< of the reference
    Instant at;                                   ///< of the last of the readings
    bool from_b = false;                          ///< all of them were launched at end B
};

/// Does a cord of this type, laid out flat, have its keys on different sides? TIA-568.3: A and C do, B does
/// not.

/// Source, launch cord, cabling, tail cord, meter: as the kit register and the job sheet know them at the
/// moment of the test, the launch cord at the end where it was. What nobody registered is drawn as unknown;
/// what cannot be mated as registered is drawn so, and said in `remarks`.
class TestedPath
{
  public:
    TestedPath(JobState const& state, plant::LinkSpec const& link, plant::LinkModel const& model,
               TestedWith const& with, std::vector<std::string>& remarks)
        : state_(state)
        , link_(link)
        , locale_(locale_of(state.settings))
        , with_(with)
        , remarks_(remarks)
        , near_(model.near_end)
        , far_(model.far_end)
        , near_spec_(&link.a)
        , far_spec_(&link.b)
    {
        // A test cord meets a plug, whatever stands behind it.
        for (plant::ConnectorEnd* end : {&near_, &far_}) {
            if (end->family.key != plant::Family::Key::duplex) end->kind = plant::EndKind::plug;
        }
        if (!with.from_b) return;
        std::swap(near_, far_);
        std::swap(near_spec_, far_spec_);
    }

    drawing::LightPath draw()
    {
        path_.name = fmt::format("Light path of {}", link_.id);
        auto const source = item_of(with_.kit.source), meter = item_of(with_.kit.meter);
        auto const launch = item_of(with_.kit.launch), tail = item_of(with_.kit.tail);
        bool const tail_stays = with_.method && *with_.method != setup::ReferenceMethod::one_cord;
        add_instrument(drawing::BodyKind::source, "Source", with_.kit.source, source);
        add_joint(drawing::JointKind::port, port_keys(source), "", true);
        add_cord("Launch cord", with_.kit.launch, launch, port_of(source), near_, keys_of(*near_spec_));
        add_joint(drawing::JointKind::adapter, keys_of(*near_spec_), with_.from_b ? "End B" : "End A", false);
        add_cabling();
        add_joint(drawing::JointKind::adapter, keys_of(*far_spec_), with_.from_b ? "End A" : "End B", false);
        add_cord("Tail cord", with_.kit.tail, tail, port_of(meter), far_, keys_of(*far_spec_), true);
        // With two or three cords the tail cord has been in the meter since the reference.
        add_joint(drawing::JointKind::port, port_keys(meter), "", tail_stays);
        add_instrument(drawing::BodyKind::meter, "Meter", with_.kit.meter, meter);
        judge_joints();
        return std::move(path_);
    }

  private:
    /// An end of the line as far as it is known.
    using Known = std::optional<plant::ConnectorEnd>;

    std::optional<KitItem> item_of(std::string const& serial) const
    {
        return serial.empty() ? std::nullopt : item_at(state_, serial, with_.at);
    }
    static Known port_of(std::optional<KitItem> const& item)
    {
        return item && item->is_instrument() ? Known(item->port.face) : Known();
    }
    static plant::KeyRelation port_keys(std::optional<KitItem> const& item)
    {
        return item && item->is_instrument() ? item->port.keys : plant::KeyRelation::aligned;
    }
    static plant::KeyRelation keys_of(plant::LinkEnd const& end)
    {
        return end.fitting == plant::EndFitting::aligned_adapter ? plant::KeyRelation::aligned
                                                                 : plant::KeyRelation::opposed;
    }

    drawing::LightEnd end_of(Known const& known, plant::EndKind kind)
    {
        drawing::LightEnd end;
        end.kind = kind;
        end.known = known.has_value();
        end.key_up = key_up_;
        if (!known) return end;
        end.pins = known->pins;
        end.face = known->face;
        end.slope = known->slope;
        return end;
    }

    void add_joint(drawing::JointKind kind, plant::KeyRelation keys, std::string label, bool stays)
    {
        drawing::LightJoint joint;
        joint.kind = kind;
        joint.keys = keys;
        joint.label = std::move(label);
        joint.stays = stays;
        if (keys == plant::KeyRelation::opposed) key_up_ = !key_up_;
        path_.joints.push_back(std::move(joint));
    }

    void add_instrument(drawing::BodyKind kind, char const* title, std::string const& serial,
                        std::optional<KitItem> const& item)
    {
        drawing::LightBody body;
        body.kind = kind;
        body.title = title;
        body.serial = serial;
        auto end = end_of(port_of(item), plant::EndKind::port);
        (kind == drawing::BodyKind::source ? body.right : body.left) = end;
        path_.bodies.push_back(std::move(body));
        ends_.push_back({{}, {}});
        (kind == drawing::BodyKind::source ? ends_.back().right : ends_.back().left) = port_of(item);
    }

    /// Can these two be mated? Unknown ones can.
    static bool fits(Known const& a, Known const& b, plant::KeyRelation keys)
    {
        if (!a || !b) return true;
        if (a->pins == plant::Pins::neutral || b->pins == plant::Pins::neutral)
            return a->family.key == b->family.key; // such a port touches no ferrule
        plant::MateVerdict const verdict = plant::mate(*a, *b, keys);
        return verdict.may_be_attempted() && a->pins != b->pins;
    }

    /// The near plug is the one at the instrument; a cord that only fits the other way round was used so.
    void add_cord(char const* title, std::string const& serial, std::optional<KitItem> const& item,
                  Known const& port, plant::ConnectorEnd const& cabling, plant::KeyRelation keys,
                  bool tail = false)
    {
        drawing::LightBody body;
        body.kind = drawing::BodyKind::cord;
        body.title = title;
        body.serial = serial;
        Known at_port, at_cabling;
        std::string type;
        if (item && item->sort == KitSort::cord) {
            setup::Cord const& cord = item->cord;
            type = cord.type;
            body.detail = fmt::format("type {}, {}, {}", cord.type, cord_length(cord.length, locale_),
                                      type_text(cord.grade));
            plant::KeyRelation const at_instrument =
                tail ? port_keys(item_of(with_.kit.meter)) : port_keys(item_of(with_.kit.source));
            auto const good = [&](int near) {
                return fits(cord.ends[static_cast<std::size_t>(near)].plug, port, at_instrument) &&
                       fits(cord.ends[static_cast<std::size_t>(1 - near)].plug, cabling, keys);
            };
            std::size_t const near = !good(0) && good(1) ? 1 : 0;
            at_port = cord.ends[near].plug;
            at_cabling = cord.ends[1 - near].plug;
        } else {
            body.detail = "not recorded";
        }
        body.left = end_of(tail ? at_cabling : at_port, plant::EndKind::plug);
        if (turns_key(type)) key_up_ = !key_up_;
        body.right = end_of(tail ? at_port : at_cabling, plant::EndKind::plug);
        path_.bodies.push_back(std::move(body));
        ends_.push_back(tail ? Ends{at_cabling, at_port} : Ends{at_port, at_cabling});
    }

    void add_cabling()
    {
        drawing::LightBody body;
        body.kind = drawing::BodyKind::cabling;
        body.title = link_.id;
        body.detail =
            fmt::format("{}, {}, {}", link_.category, cord_length(link_.length, locale_), link_.trunk_type);
        body.left = end_of(near_, plant::EndKind::plug);
        body.left->kind = near_.kind;
        body.left->label = near_spec_->name;
        if (turns_key(link_.trunk_type)) key_up_ = !key_up_;
        body.right = end_of(far_, plant::EndKind::plug);
        body.right->kind = far_.kind;
        body.right->label = far_spec_->name;
        path_.bodies.push_back(std::move(body));
        ends_.push_back({near_, far_});
    }

    void judge_joints()
    {
        for (std::size_t i = 0; i < path_.joints.size(); ++i) {
            Known const& left = ends_[i].right;
            Known const& right = ends_[i + 1].left;
            drawing::LightJoint& joint = path_.joints[i];
            if (fits(left, right, joint.keys)) continue;
            plant::MateVerdict const verdict = plant::mate(*left, *right, joint.keys);
            joint.fault = verdict.text();
            auto const named = [](drawing::LightBody const& body) {
                return body.serial.empty() ? body.title
                                           : fmt::format("{} {}", lowered(body.title), body.serial);
            };
            remarks_.push_back(fmt::format(
                "As the kit is registered, {} and {} cannot be mated: {}. The drawing shows what is "
                "registered; see that the register says what was used.",
                named(path_.bodies[i]), named(path_.bodies[i + 1]), joint.fault));
        }
    }

    struct Ends
    {
        Known left, right;
    };
    JobState const& state_;
    plant::LinkSpec const& link_;
    report::Locale const locale_;
    TestedWith const& with_;
    std::vector<std::string>& remarks_;
    plant::ConnectorEnd near_, far_;
    plant::LinkEnd const* near_spec_;
    plant::LinkEnd const* far_spec_;
    drawing::LightPath path_;
    std::vector<Ends> ends_; ///< of each body
    bool key_up_ = true;
};

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
    bool any_counts = false, from_b = true;
    for (std::uint32_t i = assessment.rows->begin(link); i < assessment.rows->end(link); ++i) {
        std::uint32_t const row = assessment.rows->row(i);
        if (assessment.hold.size() > row && assessment.hold[row] != 0 && v.state == verdict::State::held &&
            certificate.verdict_reason.empty()) {
            certificate.verdict_reason = assessment.hold_of(state, row).text;
        }
        // Those that count go before those that are held, and the later before the earlier.
        bool const counts = assessment.hold.size() <= row || assessment.hold[row] == 0;
        if (counts != any_counts ? !counts : state.readings.taken_ms[row] < latest) continue;
        any_counts = counts;
        from_b = state.readings.launch_end[row] == verdict::LaunchEnd::b;
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
    for (std::uint32_t i = assessment.rows->begin(link); i < assessment.rows->end(link); ++i) {
        // A link measured both ways is drawn from end A.
        if (state.readings.launch_end[assessment.rows->row(i)] == verdict::LaunchEnd::a) from_b = false;
    }
    TestedWith with;
    if (reference) {
        with.kit = reference->kit;
        with.method = setup::parse_reference_method(reference->method);
    }
    with.at = latest == verdict::ReadingColumns::no_time && reference ? reference->taken() : taken;
    with.from_b = from_b && v.readings > 0;
    certificate.light_path = TestedPath(state, spec, model, with, certificate.remarks).draw();
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
